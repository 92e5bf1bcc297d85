package acts_test

import (
	"errors"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/eventstest"
	"traybook/events/sqlite"
	"traybook/projections/acts"
	"traybook/projections/booktest"
	"traybook/projections/snapshot"
)

// What is asked of a book before an act is written says so when a page cannot be read: what waits, what lies in hand.
func TestNoQuestionTakesAPageThatCannotBeReadForAnEmptyOne(t *testing.T) {
	t.Parallel() // beside what waits for the disk
	b := booktest.FromActs(t, booktest.Outing)
	for name, f := range map[string]func(*snapshot.Snapshot) error{
		"waiting":         func(snap *snapshot.Snapshot) error { _, err := acts.Waiting(snap); return err },
		"unfixed":         func(snap *snapshot.Snapshot) error { _, err := acts.Unfixed(snap); return err },
		"newest picture":  func(snap *snapshot.Snapshot) error { _, err := acts.NewestPicture(snap); return err },
		"newest negative": func(snap *snapshot.Snapshot) error { _, err := acts.NewestNegative(snap); return err },
		"unused mark":     func(snap *snapshot.Snapshot) error { _, err := acts.UnusedMark(snap); return err },
		"zone":            func(snap *snapshot.Snapshot) error { _, err := acts.ZoneOf(snap); return err },
		"box in hand":     func(snap *snapshot.Snapshot) error { _, err := acts.BoxInHand(snap, events.SheetExposed); return err },
		"box for a print": func(snap *snapshot.Snapshot) error { _, err := acts.BoxInHand(snap, events.SheetReprinted); return err },
		"bath in use":     func(snap *snapshot.Snapshot) error { _, err := acts.BathInUse(snap, "developer"); return err },
		"an exposure":     planned(&events.SheetExposedData{F: 8, TimeS: 1}),
		"a print":         planned(&events.SheetReprintedData{TimeS: 1}),
		"a development":   planned(&events.SheetDevelopedData{TimeS: 60, Sheet: "2026-001n"}),
		"the time of an act": func(snap *snapshot.Snapshot) error {
			_, err := acts.TimeWarnings(snap, booktest.ByHand(t, 1, &events.SheetDevelopedData{Sheet: "2026-001n", Bath: "dev-1", TimeS: 60}))
			return err
		},
	} {
		for moment, at := range map[string]time.Time{"now": {}, "then": booktest.Oslo(t, "2026-05-02T10:35:00")} {
			if moment == "now" && name == "unfixed" {
				continue // that is asked of a moment
			}
			t.Run(name+" "+moment, func(t *testing.T) { booktest.Tear(t, b, at, f) })
		}
	}
}

func planned(data events.Data) func(*snapshot.Snapshot) error {
	return func(snap *snapshot.Snapshot) error {
		at := snap.AsOf
		if at.IsZero() {
			at = time.Date(2026, 5, 3, 10, 0, 0, 0, time.UTC)
		}
		_, _, err := acts.Plan(snap, events.Entry{Kind: data.Kind(), At: at, Data: data})
		return err
	}
}

// written are acts as a hand writes them, with all left out that the book fills in.
var written = []events.Data{
	&events.SessionOpenedData{Session: "sound"}, &events.SessionClosedData{}, &events.CameraCheckedData{What: "rail", Result: "good"},
	&events.PaperReceivedData{Name: "new paper", Base: "fb", WidthMM: 90, HeightMM: 120, Sheets: 50}, &events.PaperRatedData{Index: new(4.0)},
	&events.PaperSpoiledData{Sheets: 1}, &events.PaperCutData{Sheets: 2, Parts: 4, Into: "strips", WidthMM: 50, HeightMM: 62},
	&events.BathMixedData{Role: "stop", Name: "stop", VolumeML: 1000}, &events.BathTestedData{Bath: "dev-1", Test: "temperature", Value: 18},
	&events.BathDiscardedData{Bath: "fix-1", To: "waste depot"},
	&events.LightMeteredData{On: "scene", Mode: "reflected", Index: new(3.0), F: new(8.0), TimeS: new(4.0)},
	&events.LightMeteredData{On: "negative", Mode: "reflected", Index: new(3.0), F: new(11.0), TimeS: new(4.0), Picture: "2026-001"},
	&events.StripExposedData{On: "scene", F: new(8.0), TimesS: []float64{2, 4}, Strip: "s8"},
	&events.StripExposedData{On: "negative", Picture: "2026-001", TimesS: []float64{10, 20}, Strip: "s9"},
	&events.StripReadData{Strip: "s1", Best: new(1)},
	&events.SheetExposedData{F: 8, TimeS: 4}, &events.SheetExposedData{F: 8, TimeS: 4, Holder: "left"}, &events.SheetExposedData{F: 8, TimeS: 4, Picture: "2026-005"},
	&events.SheetExposedData{F: 8, TimeS: 4, Carried: events.Carried{Session: "lighthouse"}},
	&events.SheetReprintedData{TimeS: 20}, &events.SheetReprintedData{TimeS: 20, Sheet: "2026-001p1"},
	&events.SheetDevelopedData{TimeS: 60}, &events.SheetRinsedData{TimeS: new(10.0), Sheet: "2026-002n"}, &events.SheetFixedData{TimeS: 60, Sheet: "2026-003n"},
	&events.SheetWashedData{Changes: new(4), VolumeML: new(1000.0)}, &events.SheetTonedData{Bath: "toner-1"}, &events.SheetDriedData{}, &events.SheetJudgedData{Verdict: "keep"},
	&events.SheetDeliveredData{Sheet: "2026-001p2", To: "sitter-1"}, &events.NoteWrittenData{About: "2026-001", Text: "fog on the quay"}, &events.MomentMarkedData{},
}

// An act that could not look up what it leaves out is not taken: the book would fill it in with something else.
func TestNoActIsTakenBesideAPageThatCannotBeRead(t *testing.T) {
	t.Parallel() // beside what waits for the disk
	b := booktest.FromActs(t, booktest.Outing)
	// Where no session is open, the book's own readings serve.
	closed := booktest.FromActs(t, booktest.Outing+`
session.closed 2026-05-03T09:20:00 "session":"lighthouse"
light.metered 2026-05-03T09:30:00 "on":"scene","mode":"reflected","index":3,"f":8,"time_s":5`)
	errBack := errors.New("nothing of it shall stay")
	for i, data := range written {
		try := func(t *testing.T, b *sqlite.Book) {
			ways := map[string]func(*eventstest.Torn) error{
				"written": func(r *eventstest.Torn) error {
					e := booktest.ByHand(t, i, data)
					_, err := acts.Write(r, &e, acts.WriteOptions{})
					return err
				},
				"taken in": func(r *eventstest.Torn) error {
					e := booktest.ByHand(t, i, data)
					_, err := acts.ImportPlain(r, []acts.ImportLine{{Line: events.Line{HasID: true, Entry: e}, Number: 1}}, booktest.Recorded, events.ID{7}, events.ID{8}, nil)
					return err
				},
			}
			for way, f := range ways {
				asked := 0
				for n := 0; n <= asked; n++ {
					r := &eventstest.Torn{Fails: n}
					var got error
					require.ErrorIs(t, b.Write(func(tx *sqlite.Tx) error { r.Log = tx; got = f(r); return errBack }), errBack)
					if n == 0 {
						require.NoError(t, got, way)
						asked = r.Asked
						continue
					}
					assert.ErrorIs(t, got, eventstest.ErrTorn, "%s: question %d of %d", way, n, asked)
				}
			}
		}
		t.Run(fmt.Sprintf("%d %s", i, data.Kind()), func(t *testing.T) { try(t, b) })
		switch x := data.(type) {
		case *events.SheetExposedData:
			if x.Session != "" {
				continue
			}
		case *events.SheetReprintedData, *events.LightMeteredData, *events.StripExposedData, *events.SheetDevelopedData, *events.SheetFixedData:
		default:
			continue
		}
		t.Run(fmt.Sprintf("%d %s, no session open", i, data.Kind()), func(t *testing.T) { try(t, closed) })
	}
}

// The same holds for a file that is taken in anew, for one that the book holds already, and for what its lines name: people
// by their names, entries by their ids.
func TestNoFileIsTakenInBesideAPageThatCannotBeRead(t *testing.T) {
	t.Parallel() // beside what waits for the disk
	const id = "0190000000000000000000000000000"
	file := []string{
		`{"kind":"light.metered","at":"2026-05-03T10:00:00+02:00","id":"` + id + `1","data":{"on":"scene","mode":"reflected","index":3,"f":8,"time_s":4}}`,
		`{"kind":"sheet.exposed","at":"2026-05-03T10:01:00+02:00","data":{"f":8,"time_s":4,"sitter":"Ane of the mole","reading":"` + id + `1"}}`,
		`{"kind":"entry.amended","at":"2026-05-03T10:02:00+02:00","data":{"entry":"` + id + `1","set":{"time_s":5}}}`,
	}
	lines := func() (out []acts.ImportLine) {
		for i, text := range file {
			l, err := events.ParseLine([]byte(text))
			require.NoError(t, err)
			out = append(out, acts.ImportLine{Line: l, Number: i + 1})
		}
		return out
	}
	b := booktest.FromActs(t, booktest.Outing)
	errBack := errors.New("nothing of it shall stay")
	for _, known := range []int{0, len(file)} {
		asked := 0
		for n := 0; n <= asked; n++ {
			r := &eventstest.Torn{Fails: n}
			require.ErrorIs(t, b.Write(func(tx *sqlite.Tx) error {
				r.Log = tx
				got, err := acts.ImportPlain(r, lines(), booktest.Recorded, events.ID{7}, events.ID{8}, nil)
				if n == 0 {
					require.NoError(t, err)
					require.Equal(t, known, got.Known)
					require.Equal(t, len(file)-known, got.Added)
					asked = r.Asked
				} else {
					assert.ErrorIs(t, err, eventstest.ErrTorn, "question %d of %d", n, asked)
				}
				return errBack
			}), errBack)
		}
		require.NoError(t, b.Write(func(tx *sqlite.Tx) error {
			_, err := acts.ImportPlain(tx, lines(), booktest.Recorded, events.ID{7}, events.ID{8}, nil)
			return err
		}))
	}
}

// Nor an order beside one: what is asked of it, of whom, in what money, and what a print that is handed over goes for.
func TestNoOrderIsKeptBesideAPageThatCannotBeRead(t *testing.T) {
	t.Parallel() // beside what waits for the disk
	b := booktest.FromActs(t, booktest.Outing+`
order.taken 2026-05-03T09:30:00 "order":"order-1","sitter":"sitter-1","picture":"2026-001","prints":2,"width_mm":100,"height_mm":125,"due":"2026-05-20","price":400,"currency":"NOK"
order.taken 2026-05-03T09:31:00 "order":"order-2","sitter":"sitter-2","prints":1,"price":200,"currency":"NOK"
order.paid 2026-05-03T09:32:00 "order":"order-1","price":100,"currency":"NOK"
order.taken 2026-05-03T09:33:00 "order":"order-3","sitter":"sitter-2","scan":true`)
	for i, data := range []events.Data{
		&events.OrderTakenData{Sitter: "sitter-1", Picture: "2026-002", Prints: new(1), WidthMM: new(300.0), HeightMM: new(400.0), Due: "2026-06-01"},
		&events.OrderTakenData{Sitter: "sitter-1", Scan: new(true)},
		&events.OrderPaidData{Order: "order-1", Price: 900, Currency: "NOK"},
		&events.OrderPaidData{Order: "order-1", Price: 9, Currency: "SEK"},
		&events.OrderPaidData{Order: "order-3", Price: 9, Currency: "NOK"},
		&events.OrderClosedData{Order: "order-1", Ended: "withdrawn"},
		&events.SheetDeliveredData{Sheet: "2026-001p2", To: "sitter-1"},
		&events.SheetDeliveredData{Sheet: "2026-001p2"},
		&events.SheetDeliveredData{Sheet: "2026-001p2", To: "sitter-2", Order: "order-1"},
		&events.SheetDeliveredData{Sheet: "2026-001p1", To: "sitter-2"},
	} {
		met.Try(t, b, func(r *eventstest.Torn) error {
			e := booktest.ByHand(t, i+1, data)
			e.Data = events.Clone(data)
			_, err := acts.Write(r, &e, acts.WriteOptions{})
			return err
		})
		booktest.Look(t, b, func(snap *snapshot.Snapshot) {
			met.Look(t, snap.R.(eventstest.Log), snap.AsOf, func(snap *snapshot.Snapshot) (err error) {
				switch x := events.Clone(data).(type) {
				case *events.SheetDeliveredData:
					x.Order = "order-2"
					_, err = acts.ClosedBy(snap, x, false)
				case *events.OrderPaidData:
					x.Price = 0
					err = acts.Settle(snap, x)
				}
				return err
			})
		})
	}
}
