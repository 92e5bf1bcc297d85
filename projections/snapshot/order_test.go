package snapshot_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/projections/booktest"
	"traybook/projections/snapshot"
)

// orders are six orders for one picture: paid at once, in parts, in other money, withdrawn, never priced, and a scan.
const orders = booktest.Harbour + `
sheet.exposed 2026-05-02T09:30:00 "picture":"2026-001","box":"box-1","f":8,"time_s":4,"sitter":"sitter-1","session":"mole","camera":"quay-box"
sitter.consented 2026-05-02T09:31:00 "sitter":"sitter-1","to":"keep"
order.taken 2026-05-02T10:00:00 "order":"o-1","sitter":"sitter-1","prints":2,"due":"2026-05-09","price":300,"currency":"NOK","paid":true
order.taken 2026-05-02T10:01:00 "order":"o-2","sitter":"sitter-1","prints":1,"scan":true,"due":"2026-05-05","price":200,"currency":"NOK"
order.taken 2026-05-02T10:02:00 "order":"o-3","sitter":"sitter-1","prints":1,"price":100,"currency":"NOK"
order.taken 2026-05-02T10:03:00 "order":"o-4","sitter":"sitter-1","prints":1,"due":"2026-05-09","price":100,"currency":"NOK"
order.taken 2026-05-02T10:04:00 "order":"o-5","sitter":"sitter-1","prints":1
order.taken 2026-05-02T10:05:00 "order":"o-6","sitter":"sitter-1","scan":true,"paid":true,"due":"2026-05-05"
sheet.reprinted 2026-05-02T10:20:00 "picture":"2026-001","box":"box-1","f":11,"time_s":4,"session":"mole","camera":"quay-box"
sheet.reprinted 2026-05-02T10:21:00 "picture":"2026-001","box":"box-1","f":11,"time_s":4,"session":"mole","camera":"quay-box"
order.paid 2026-05-02T10:30:00 "order":"o-2","price":80,"currency":"NOK"
order.paid 2026-05-02T10:31:00 "order":"o-2","price":30,"currency":"EUR"
sheet.delivered 2026-05-02T10:40:00 "sheet":"2026-001p1","order":"o-1","to":"sitter-1"
sheet.delivered 2026-05-02T10:41:00 "sheet":"2026-001p1","order":"o-1","to":"sitter-1"
sheet.delivered 2026-05-02T10:42:00 "sheet":"2026-001p2","order":"o-2","to":"sitter-1","price":50
sheet.delivered 2026-05-02T10:43:00 "sheet":"2026-001n","order":"o-2","to":"sitter-1","as":"scan"
sheet.delivered 2026-05-02T10:44:00 "sheet":"2026-001n","order":"o-3","to":"sitter-1","as":"scan-print","price":30,"currency":"NOK"
sheet.delivered 2026-05-02T10:45:00 "sheet":"2026-001n","order":"o-3","to":"sitter-1","as":"scan-print","price":90,"currency":"NOK"
order.closed 2026-05-02T10:50:00 "order":"o-4","ended":"withdrawn"`

func TestWhatAnOrderStandsAt(t *testing.T) {
	type figures struct {
		Prints, HandedOver        int
		WantsScan, ScanSent       bool
		Filled, Overdue, AtOnce   bool
		Came, Owed                float64
		Payments, Handed, IsEnded bool
	}
	b := booktest.FromActs(t, orders)
	now := booktest.Oslo(t, "2026-05-06T12:00:00")
	for name, want := range map[string]figures{
		"o-1": {Prints: 2, HandedOver: 1, AtOnce: true, Came: 300, Handed: true}, // a sheet counts once
		"o-2": {Prints: 1, HandedOver: 1, WantsScan: true, ScanSent: true, Filled: true, Overdue: true, Came: 130, Owed: 70, Payments: true, Handed: true},
		"o-3": {Prints: 1, HandedOver: 2, Filled: true, Came: 120, Handed: true}, // more than its price is no debt
		"o-4": {Prints: 1, IsEnded: true},                                        // nothing is owed for what was withdrawn
		"o-5": {Prints: 1},
		"o-6": {WantsScan: true, AtOnce: true, Overdue: true},
	} {
		booktest.Look(t, b, func(snap *snapshot.Snapshot) {
			o, err := snap.Order(name)
			require.NoError(t, err)
			assert.Equal(t, want, figures{
				Prints: o.Prints(), HandedOver: o.HandedOver(), WantsScan: o.WantsScan(), ScanSent: o.ScanSent(), Filled: o.Filled(), Overdue: o.Overdue(now),
				AtOnce: o.PaidAtOnce(), Came: o.Came(), Owed: o.Owed(), Payments: len(o.Paid) > 0, Handed: len(o.Handed) > 0, IsEnded: o.Closed != nil && o.ClosedAt.Equal(booktest.Oslo(t, "2026-05-02T10:50:00")),
			}, name)
		})
	}
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		open, err := snap.OpenOrders()
		require.NoError(t, err)
		var names []string
		for _, o := range open {
			names = append(names, o.Entity.Name)
		}
		assert.Equal(t, []string{"o-2", "o-6", "o-1", "o-3", "o-5"}, names, "what is due first, then as taken; what has no day comes last")
		o, err := snap.Order("o-1")
		require.NoError(t, err)
		more := o.With(&events.SheetDeliveredData{Sheet: "2026-001p2"})
		assert.True(t, more.Filled())
		assert.Equal(t, 1, o.HandedOver(), "the order itself is as it was")
		assert.False(t, o.Overdue(booktest.Oslo(t, "2026-05-09T23:00:00")), "the day itself is still in time")
		assert.True(t, o.Overdue(booktest.Oslo(t, "2026-05-10T00:30:00")))
		_, err = snap.Order("o-9")
		assert.ErrorContains(t, err, "`traybook orders` lists what is wanted")
	})
	booktest.LookAt(t, b, "2026-05-02T10:02:30", func(snap *snapshot.Snapshot) {
		open, err := snap.OpenOrders()
		require.NoError(t, err)
		assert.Len(t, open, 3, "as of then")
	})
}

func TestTheMoneyOfAnAct(t *testing.T) {
	for _, c := range []struct {
		data     events.Data
		price    float64
		currency string
	}{
		{&events.OrderTakenData{Price: new(5.0), Currency: "NOK"}, 0, ""},
		{&events.OrderTakenData{Price: new(5.0), Currency: "NOK", Paid: new(false)}, 0, ""},
		{&events.OrderTakenData{Price: new(5.0), Currency: "NOK", Paid: new(true)}, 5, "NOK"},
		{&events.OrderTakenData{Currency: "NOK", Paid: new(true)}, 0, "NOK"},
		{&events.OrderPaidData{Price: 6, Currency: "EUR"}, 6, "EUR"},
		{&events.SheetDeliveredData{Price: new(7.0)}, 7, ""},
		{&events.SilverRecoveredData{Price: new(8.0), Currency: "NOK"}, 8, "NOK"},
		{&events.SheetJudgedData{}, 0, ""},
	} {
		price, currency := snapshot.PriceOf(c.data)
		assert.Equal(t, c.price, price, "%T", c.data)
		assert.Equal(t, c.currency, currency, "%T", c.data)
	}
}

// When a box was rated counts from the rating that is in force for a generation, a filter and a light.
func TestWhenABoxWasRated(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour+`
paper.received 2026-05-02T09:10:00 "box":"vc","name":"Wharf","base":"rc","width_mm":100,"height_mm":125,"sheets":10,"index":3,"iso_r":105,"contrast":"variable"
paper.rated 2026-05-02T10:00:00 "box":"vc","index":4,"iso_r":90
paper.rated 2026-05-02T10:01:00 "box":"vc","index":5,"generation":"negative"
paper.rated 2026-05-02T10:02:00 "box":"vc","iso_r":80,"filter":"2"
paper.rated 2026-05-02T10:03:00 "box":"vc","index":6,"light":"shade"
paper.rated 2026-05-02T10:00:00 "box":"box-1","iso_r":90`)
	clock := func(at time.Time) string {
		if at.IsZero() {
			return ""
		}
		return at.Format("15:04")
	}
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		for _, c := range []struct{ box, generation, filter, light, at, index, isoR string }{
			{"vc", "positive", "", "", "11:00", "10:00", "10:00"},
			{"vc", "negative", "", "", "11:00", "10:01", "10:00"},
			{"vc", "positive", "2", "", "11:00", "10:00", "10:02"},
			{"vc", "positive", "3", "sun", "11:00", "10:00", ""}, // a range of variable-contrast paper is one of its filter
			{"vc", "positive", "", "shade", "11:00", "10:03", "10:00"},
			{"vc", "negative", "", "", "10:00", "10:00", "10:00"}, // at the moment itself
			{"vc", "negative", "", "", "09:59", "", ""},
			{"box-1", "negative", "2", "", "11:00", "", "10:00"},
		} {
			box, err := snap.Box(c.box)
			require.NoError(t, err)
			index, isoR := box.RatedSince(booktest.Oslo(t, "2026-05-02T"+c.at+":00"), c.generation, c.filter, c.light)
			assert.Equal(t, []string{c.index, c.isoR}, []string{clock(index), clock(isoR)}, "%+v", c)
		}
	})
}

// What came to a box and went, year by year, adds up to all that moved.
func TestWhatMovedInAYear(t *testing.T) {
	b := booktest.FromActs(t, `
book.opened 2025-06-01T08:00:00 "zone":"Europe/Oslo"
camera.described 2025-06-01T08:01:00 "camera":"quay-box","focal_mm":135,"f_widest":5.6,"f_smallest":32,"copy_f":11
paper.received 2025-06-01T08:02:00 "box":"box-1","name":"quay paper","base":"rc","width_mm":100,"height_mm":125,"sheets":100,"index":3
sheet.exposed 2025-06-02T10:00:00 "picture":"2025-001","box":"box-1","f":8,"time_s":4,"camera":"quay-box"
paper.spoiled 2025-06-02T11:00:00 "box":"box-1","sheets":2
sheet.exposed 2026-06-02T10:00:00 "picture":"2026-001","box":"box-1","f":8,"time_s":4,"camera":"quay-box"
strip.exposed 2026-06-02T10:10:00 "strip":"s1","box":"box-1","on":"scene","f":8,"times_s":[1,2]
paper.counted 2026-06-02T11:00:00 "box":"box-1","sheets":90
sheet.exposed 2027-06-02T10:00:00 "picture":"2027-001","box":"box-1","f":8,"time_s":4,"camera":"quay-box"`)
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		box, err := snap.Box("box-1")
		require.NoError(t, err)
		var sum snapshot.Movements
		for year, want := range map[int]snapshot.Movements{
			2024: {},
			2025: {Came: 100, Pictures: 1, Spoiled: 2, Left: 97},
			2026: {Start: 97, Pictures: 1, Strips: 1, Missing: 5, Left: 90},
			2027: {Start: 90, Pictures: 1, Left: 89},
			0:    {Came: 100, Pictures: 3, Strips: 1, Spoiled: 2, Missing: 5, Left: 89},
		} {
			m, err := snap.MovedIn(box, year)
			require.NoError(t, err)
			assert.Equal(t, want, m, "%d", year)
			if year > 0 {
				sum.Add(m)
			}
		}
		assert.Equal(t, snapshot.Movements{Start: 187, Came: 100, Pictures: 3, Strips: 1, Spoiled: 2, Missing: 5, Left: 276}, sum)
	})
}
