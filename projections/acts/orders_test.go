package acts_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/sqlite"
	"traybook/projections/acts"
	"traybook/projections/booktest"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// wanted is a book with two sitters who ordered, and two prints of one picture that are ready.
const wanted = booktest.Harbour + `
sheet.exposed 2026-05-02T10:00:00 "picture":"2026-001","box":"box-1","f":8,"time_s":4,"sitter":"sitter-1","session":"mole","camera":"quay-box"
sheet.reprinted 2026-05-02T10:20:00 "picture":"2026-001","box":"box-1","f":11,"time_s":4,"session":"mole","camera":"quay-box"
sheet.reprinted 2026-05-02T10:21:00 "picture":"2026-001","box":"box-1","f":11,"time_s":4,"session":"mole","camera":"quay-box"
sheet.exposed 2026-05-02T10:30:00 "picture":"2026-002","box":"box-1","f":8,"time_s":4,"sitter":"sitter-2","session":"mole","camera":"quay-box"
sitter.consented 2026-05-02T10:40:00 "sitter":"sitter-1","to":"keep"
sitter.consented 2026-05-02T10:41:00 "sitter":"sitter-2","to":"keep"
order.taken 2026-05-02T11:00:00 "order":"o-1","sitter":"sitter-1","picture":"2026-001","prints":2,"scan":true,"due":"2026-05-20","price":300,"currency":"NOK"
order.taken 2026-05-02T11:01:00 "order":"o-2","sitter":"sitter-2","prints":1,"due":"2026-05-10","price":100,"currency":"NOK","width_mm":100,"height_mm":125
order.taken 2026-05-02T11:02:00 "order":"o-3","sitter":"sitter-1","prints":1,"due":"2026-05-04"
order.closed 2026-05-02T11:03:00 "order":"o-3","ended":"withdrawn"`

func TestAnOrderThatCannotBeIsRefused(t *testing.T) {
	b := booktest.FromActs(t, wanted)
	for _, c := range []struct {
		data events.Data
		text string
	}{
		{&events.OrderTakenData{Sitter: "sitter-1"}, "the order asks for nothing"},
		{&events.OrderTakenData{Sitter: "sitter-1", Scan: new(false)}, "the order asks for nothing"},
		{&events.OrderTakenData{Sitter: "sitter-1", Prints: new(1), WidthMM: new(90.0)}, "a size has a width and a height"},
		{&events.OrderTakenData{Sitter: "sitter-1", Prints: new(1), HeightMM: new(90.0)}, "a size has a width and a height"},
		{&events.OrderTakenData{Sitter: "sitter-1", Scan: new(true), Due: "2026-05-02"}, "2026-05-02 lies before 2026-05-03, on which the order was taken"},
		{&events.OrderTakenData{Sitter: "sitter-1", Prints: new(1), Paid: new(true)}, "the order is paid, and nothing says how much"},
		{&events.OrderPaidData{Order: "o-1", Price: 5, Currency: "EUR"}, "o-1 is priced in NOK, and the book keeps no rate between that and EUR"},
		{&events.OrderClosedData{Order: "o-3", Ended: "delivered"}, "o-3 was withdrawn already at 2026-05-02 11:03"},
	} {
		e := booktest.ByHand(t, 1, c.data)
		_, err := writtenTo(t, b, e)
		text, _ := refused(t, err)
		assert.Equal(t, c.text, text)
	}
	for i, data := range []events.Data{
		&events.OrderTakenData{Sitter: "sitter-1", Prints: new(1), Due: "2026-05-03"}, // the same day
		&events.OrderTakenData{Sitter: "sitter-1", Prints: new(1), Paid: new(false)},
		&events.OrderTakenData{Sitter: "sitter-1", Prints: new(1), Paid: new(true), Price: new(0.0), Currency: "NOK"},
		&events.OrderPaidData{Order: "o-3", Price: 5, Currency: "EUR"}, // nothing was priced
	} {
		e := booktest.ByHand(t, 2+i, data)
		require.NoError(t, b.Write(func(tx *sqlite.Tx) error {
			_, err := acts.Write(tx, &e, acts.WriteOptions{})
			return err
		}), "%+v", data)
	}
}

func TestWhatIsSaidOfAnOrder(t *testing.T) {
	for _, c := range []struct {
		name, more string
		data       events.Data
		says       []string
	}{
		{"of whom the table of names says nothing", "", &events.OrderTakenData{Sitter: "sitter-3", Prints: new(1)}, nil},
		{"a size that no box holds", "", &events.OrderTakenData{Sitter: "sitter-1", Prints: new(1), WidthMM: new(130.0), HeightMM: new(90.0)}, []string{"no box in the book holds paper of 130 × 90 mm, nor larger"}},
		{"a size that is cut out of one, the other way round", "", &events.OrderTakenData{Sitter: "sitter-1", Prints: new(1), WidthMM: new(125.0), HeightMM: new(100.0)}, nil},
		{"as narrow as one, and longer", "", &events.OrderTakenData{Sitter: "sitter-1", Prints: new(1), WidthMM: new(100.0), HeightMM: new(126.0)}, []string{"no box in the book holds paper of 100 × 126 mm, nor larger"}},
		{"paid in full", "", &events.OrderPaidData{Order: "o-2", Price: 100}, nil},
		{"paid beyond its price", "", &events.OrderPaidData{Order: "o-2", Price: 100.5}, []string{"100.50 NOK came in for o-2, and its price is 100 NOK"}},
		{"paid without a price", "", &events.OrderPaidData{Order: "o-3", Price: 5}, nil},
		{"handed to another", "", &events.SheetDeliveredData{Sheet: "2026-001p1", Order: "o-1", To: "sitter-2"}, []string{"o-1 was taken for sitter-1, and this goes to sitter-2"}},
		{"the first of two", "", &events.SheetDeliveredData{Sheet: "2026-001p1", Order: "o-1"}, nil},
		{"all prints, not its scan nor all its money", `
sheet.delivered 2026-05-02T12:00:00 "sheet":"2026-001p1","order":"o-1"
order.paid 2026-05-02T12:01:00 "order":"o-1","price":120,"currency":"NOK"`, &events.SheetDeliveredData{Sheet: "2026-001p2", Order: "o-1", Price: new(80.0)},
			[]string{"o-1: 100 NOK is not paid; when it is: traybook order paid o-1", "o-1 waits for its scan: traybook order close o-1 when it is sent"}},
		{"the scan as well", `
sheet.delivered 2026-05-02T12:00:00 "sheet":"2026-001p1","order":"o-1","price":300
sheet.delivered 2026-05-02T12:01:00 "sheet":"2026-001p1","order":"o-1","as":"scan"`, &events.SheetDeliveredData{Sheet: "2026-001p2", Order: "o-1"}, nil},
		{"for what was withdrawn", "", &events.SheetDeliveredData{Sheet: "2026-001p2", Order: "o-3"}, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := booktest.FromActs(t, wanted+c.more)
			said := map[string]bool{}
			booktest.Look(t, b, func(snap *snapshot.Snapshot) {
				e := booktest.ByHand(t, 1, c.data)
				warnings, err := acts.WarningsOf(snap, &e)
				require.NoError(t, err)
				for _, text := range wording.Texts(warnings) {
					said[text] = true
				}
			})
			for _, text := range c.says {
				assert.True(t, said[text], "%q is not in %v", text, said)
			}
			if c.says == nil {
				assert.Empty(t, said)
			}
		})
	}
}

// For which order a sheet goes, and for whom, is filled in where it is plain; what fills the order closes it.
func TestForWhichOrderASheetGoes(t *testing.T) {
	for _, c := range []struct {
		name, more string
		data       events.SheetDeliveredData
		order, to  string
		closes     bool
	}{
		{"the one that names the picture", "", events.SheetDeliveredData{Sheet: "2026-001p1"}, "o-1", "sitter-1", false},
		{"a negative is no print", "", events.SheetDeliveredData{Sheet: "2026-001n"}, "", "", false},
		{"its scan is wanted", "", events.SheetDeliveredData{Sheet: "2026-001n", As: "scan"}, "o-1", "sitter-1", false},
		{"once", "\n" + `sheet.delivered 2026-05-02T12:00:00 "sheet":"2026-001n","order":"o-1","as":"scan"`, events.SheetDeliveredData{Sheet: "2026-001n", As: "scan"}, "", "", false},
		{"one that names no picture wants its sitter named", "", events.SheetDeliveredData{Sheet: "2026-001p1", To: "sitter-2"}, "o-2", "sitter-2", true},
		{"nobody ordered", "", events.SheetDeliveredData{Sheet: "2026-001p1", To: "sitter-4"}, "", "sitter-4", false},
		{"all prints went", `
sheet.delivered 2026-05-02T12:00:00 "sheet":"2026-001p1","order":"o-1"
sheet.delivered 2026-05-02T12:01:00 "sheet":"2026-001p2","order":"o-1"`, events.SheetDeliveredData{Sheet: "2026-001p1"}, "", "", false},
		{"the last print of it", `
sheet.delivered 2026-05-02T12:00:00 "sheet":"2026-001n","order":"o-1","as":"scan"
sheet.delivered 2026-05-02T12:01:00 "sheet":"2026-001p1","order":"o-1"`, events.SheetDeliveredData{Sheet: "2026-001p2"}, "o-1", "sitter-1", true},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := booktest.FromActs(t, wanted+c.more)
			if c.data.To == "sitter-4" {
				booktest.AddActs(t, b, `sitter.consented 2026-05-02T12:00:00 "sitter":"sitter-4","to":"keep"`)
			}
			e := booktest.ByHand(t, 1, &c.data)
			require.NoError(t, b.Write(func(tx *sqlite.Tx) error {
				_, err := acts.Write(tx, &e, acts.WriteOptions{})
				return err
			}))
			x := e.Data.(*events.SheetDeliveredData)
			assert.Equal(t, []string{c.order, c.to}, []string{x.Order, x.To})
			booktest.Look(t, b, func(snap *snapshot.Snapshot) {
				for _, written := range []bool{true, false} { // a sheet counts once, whether it is in the book already
					closed, err := acts.ClosedBy(snap, x, written)
					require.NoError(t, err)
					assert.Equal(t, c.closes, closed != nil)
				}
			})
		})
	}
}

func TestAPaymentIsSettledByItsOrder(t *testing.T) {
	b := booktest.FromActs(t, wanted+`
order.paid 2026-05-02T12:00:00 "order":"o-1","price":120,"currency":"NOK"
order.taken 2026-05-02T12:01:00 "order":"o-4","sitter":"sitter-1","prints":1,"price":50,"currency":"NOK","paid":true`)
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		for _, c := range []struct {
			pays, want events.OrderPaidData
			refused    string
		}{
			{pays: events.OrderPaidData{Order: "o-1"}, want: events.OrderPaidData{Order: "o-1", Price: 180, Currency: "NOK"}},
			{pays: events.OrderPaidData{Order: "o-1", Price: 20}, want: events.OrderPaidData{Order: "o-1", Price: 20, Currency: "NOK"}},
			{pays: events.OrderPaidData{Order: "o-2", Currency: "EUR"}, want: events.OrderPaidData{Order: "o-2", Price: 100, Currency: "EUR"}},
			{pays: events.OrderPaidData{Order: "o-3"}, refused: `o-3 names no price`},
			{pays: events.OrderPaidData{Order: "o-4"}, refused: `of o-4 nothing is owed`},
			{pays: events.OrderPaidData{Order: "o-9"}, refused: `there is no order "o-9"`},
		} {
			err := acts.Settle(snap, &c.pays)
			if c.refused == "" {
				require.NoError(t, err)
				assert.Equal(t, c.want, c.pays)
				continue
			}
			text, _ := refused(t, err)
			assert.Equal(t, c.refused, text)
		}
	})
}

// A sheet is reversed after its first development and before its fixing, and bleached before it is exposed again; what is
// odd in that order is said, and the answer says what comes next.
func TestASheetIsReversedInItsOrder(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour+`
bath.mixed 2026-05-02T09:03:00 "bath":"bleach-1","role":"bleach","name":"reversal bleach","volume_ml":1000,"time_s":60,"session":"mole"
sheet.exposed 2026-05-02T10:00:00 "picture":"2026-001","box":"box-1","f":8,"time_s":4,"session":"mole","camera":"quay-box"
sheet.exposed 2026-05-02T10:01:00 "picture":"2026-002","box":"box-1","f":8,"time_s":4,"session":"mole","camera":"quay-box"
sheet.developed 2026-05-02T10:02:00 "sheet":"2026-002n","bath":"dev-1","time_s":60,"session":"mole"
sheet.fixed 2026-05-02T10:04:00 "sheet":"2026-002n","bath":"fix-1","time_s":60,"session":"mole"
sheet.exposed 2026-05-02T10:05:00 "picture":"2026-003","box":"box-1","f":8,"time_s":4,"session":"mole","camera":"quay-box"
sheet.developed 2026-05-02T10:06:00 "sheet":"2026-003n","bath":"dev-1","time_s":60,"session":"mole"
sheet.exposed 2026-05-02T10:07:00 "picture":"2026-004","box":"box-1","f":8,"time_s":4,"session":"mole","camera":"quay-box"
sheet.developed 2026-05-02T10:08:00 "sheet":"2026-004n","bath":"dev-1","time_s":60,"session":"mole"`)
	for _, c := range []struct {
		at         string
		data       events.Data
		bath       string // filled in
		says, next string
	}{
		{"10:10", &events.SheetReversedData{Sheet: "2026-001n", Stage: "expose"}, "", "2026-001n is reversed without having been developed", "develop it again: traybook develop 61s 2026-001n"},
		{"10:11", &events.SheetReversedData{Sheet: "2026-002n", Stage: "bleach"}, "bleach-1", "2026-002n was fixed already: no silver salt is left in it of which a positive could come", "wash: traybook wash 4 changes 30s"},
		{"10:20", &events.SheetReversedData{Sheet: "2026-003n", Stage: "bleach"}, "bleach-1", "", "light on: traybook reverse expose 30s"},
		{"10:21", &events.BathMixedData{Bath: "clear-1", Role: "clearing-bath", Name: "clearing bath", VolumeML: 500}, "", "", "-"},
		{"10:22", &events.SheetReversedData{Sheet: "2026-003n", Stage: "bleach", Bath: "fix-1"}, "fix-1", "fix-1 is a fixer, not a bleach", "rinse, and clear it: traybook reverse clear"},
		{"10:23", &events.SheetReversedData{Sheet: "2026-003n", Stage: "clear"}, "clear-1", "", "light on: traybook reverse expose 30s"},
		{"10:24", &events.SheetReversedData{Sheet: "2026-003n", Stage: "expose"}, "", "", "develop it again: traybook develop 61s 2026-003n"},
		{"10:25", &events.SheetDevelopedData{Sheet: "2026-003n", TimeS: 60}, "dev-1", "", "rinse: traybook rinse; then fix: traybook fix 61s"},
		{"10:30", &events.SheetReversedData{Sheet: "2026-004n", Stage: "expose"}, "", "2026-004n is exposed a second time without a bleach: all of it will come out black", "develop it again: traybook develop 61s 2026-004n"},
	} {
		a := answerAt(t, b, "2026-05-02T"+c.at+":00", c.data)
		assert.Equal(t, c.bath, events.PlacesOf(a.Entry.Data).Bath, c.at)
		for _, text := range wording.Texts(a.Warnings) {
			assert.True(t, text == c.says || !strings.Contains(text, "revers") && !strings.Contains(text, "second time") && !strings.Contains(text, "not a bleach"), text)
		}
		if c.says != "" {
			assert.Contains(t, wording.Texts(a.Warnings), c.says, c.at)
		}
		if c.next != "-" {
			assert.Equal(t, c.next, a.Next, c.at)
		}
	}
}

// What stands on a bottle: the cautions of its role, then of what its name says is in it.
func TestTheCautionsOnABottle(t *testing.T) {
	for _, c := range []struct {
		role, name string
		first      string
		n          int
	}{
		{"water", "harbour water", "Gloves and goggles;", 1}, {"developer", "Amber", "Irritates skin", 2}, {"developer", "PYRO soda", "Irritates skin", 3},
		{"toner", "selenium and sulphide", "Gloves and goggles;", 3}, {"bleach", "dichromate with glacial acid", "Burns skin", 4},
	} {
		got := acts.CautionsOn(c.role, c.name)
		assert.Len(t, got, c.n, c.name)
		assert.Contains(t, got[0], c.first, c.name)
	}
}

// A strip that finds more silver than half as much again as the paper brought is read again.
func TestMoreSilverThanThePaperBroughtIsSaid(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour+booktest.Picture(1, 0, "ferry mate"))
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		// One sheet of 0.0125 m² at 1.6 g/m² in a litre brings 0.02 g.
		for grams, says := range map[float64]bool{0.0299: false, 0.0301: true} {
			e := booktest.ByHand(t, 1, &events.BathTestedData{Bath: "fix-1", Test: "silver-strip", Value: grams})
			warnings, err := acts.WarningsOf(snap, &e)
			require.NoError(t, err)
			assert.Equal(t, says, len(warnings) > 0, "%v g/l: %v", grams, wording.Texts(warnings))
		}
	})
}
