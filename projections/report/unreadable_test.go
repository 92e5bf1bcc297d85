package report_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/eventstest"
	"traybook/events/sqlite"
	"traybook/projections/booktest"
	"traybook/projections/report"
	"traybook/projections/snapshot"
)

// met are the calls of the reports that met a page that could not be read, in any test: none is given beside one.
var met booktest.Met

// beside is what a look at a book gives.
func beside[T any](t testing.TB, snap *snapshot.Snapshot, look func(*snapshot.Snapshot) (T, error)) (out T, err error) {
	t.Helper()
	err = met.Look(t, snap.R.(eventstest.Log), snap.AsOf, func(snap *snapshot.Snapshot) error {
		got, err := look(snap)
		if err == nil {
			out = got
		}
		return err
	})
	return out, err
}

// looksAt are what one can ask of a book, each on a fresh snapshot.
var looksAt = map[string]func(*snapshot.Snapshot) error{
	"baths": func(snap *snapshot.Snapshot) error { _, err := report.Baths(snap, true); return err },
	"what was in a bath": func(snap *snapshot.Snapshot) error {
		b, err := snap.Bath("dev-1")
		if err != nil {
			return err
		}
		_, err = report.TreatedIn(snap, b)
		return err
	},
	"stock":    func(snap *snapshot.Snapshot) error { _, err := report.Stock(snap, true); return err },
	"sessions": func(snap *snapshot.Snapshot) error { _, err := report.Sessions(snap, true); return err },
	"today":    func(snap *snapshot.Snapshot) error { _, err := report.Today(snap, false); return err },
	"pictures": func(snap *snapshot.Snapshot) error {
		_, err := report.Pictures(snap, report.PictureFilter{})
		return err
	},
	"pictures of a session in words": func(snap *snapshot.Snapshot) error {
		_, err := report.Pictures(snap, report.PictureFilter{Session: "mole", Text: "ferry"})
		return err
	},
	"pictures of a box": func(snap *snapshot.Snapshot) error {
		_, err := report.Pictures(snap, report.PictureFilter{Box: "box-1"})
		return err
	},
	"pictures of a bath": func(snap *snapshot.Snapshot) error {
		_, err := report.Pictures(snap, report.PictureFilter{Bath: "dev-1"})
		return err
	},
	"pictures of a sitter": func(snap *snapshot.Snapshot) error {
		_, err := report.Pictures(snap, report.PictureFilter{Sitter: "sitter-1"})
		return err
	},
	"pictures given to another": func(snap *snapshot.Snapshot) error {
		_, err := report.Pictures(snap, report.PictureFilter{Sitter: "sitter-2"})
		return err
	},
	"history of an entry": func(snap *snapshot.Snapshot) error {
		found, err := snap.R.Entries(events.Query{Kinds: []events.Kind{events.SessionOpened}, Limit: 1})
		if err != nil {
			return err
		}
		_, err = report.HistoryOf(snap, found[0].ID.String(), false)
		return err
	},
	"history of the book":  func(snap *snapshot.Snapshot) error { _, err := report.HistoryOf(snap, "", true); return err },
	"history of a picture": func(snap *snapshot.Snapshot) error { _, err := report.HistoryOf(snap, "2026-001", true); return err },
	"history of a sheet":   func(snap *snapshot.Snapshot) error { _, err := report.HistoryOf(snap, "2026-001p1", false); return err },
	"history of a box":     func(snap *snapshot.Snapshot) error { _, err := report.HistoryOf(snap, "box-1", false); return err },
	"history of a session": func(snap *snapshot.Snapshot) error { _, err := report.HistoryOf(snap, "mole", true); return err },
	"history of a bath":    func(snap *snapshot.Snapshot) error { _, err := report.HistoryOf(snap, "dev-1", false); return err },
	"captions":             func(snap *snapshot.Snapshot) error { _, err := report.Captions(snap, true); return err },
	"faces":                func(snap *snapshot.Snapshot) error { _, err := faces(snap); return err },
	"pictures by words": func(snap *snapshot.Snapshot) error {
		_, err := report.Pictures(snap, report.PictureFilter{Session: "mole", Box: "box-1", Terms: report.TermsOf([]string{"ferry", "too dark"}), Page: 1})
		return err
	},
	"calibrate": func(snap *snapshot.Snapshot) error {
		_, err := report.Calibrate(snap, report.CalibrateOptions{})
		return err
	},
	"year": func(snap *snapshot.Snapshot) error { _, err := report.Year(snap, 2026, nil); return err },
}

// A look at a book of which a page cannot be read says so. It never takes what it could not read for what is not
// written: a picture without its reading would be accused of what it never did.
func TestNoLookTakesAPageThatCannotBeReadForAnEmptyOne(t *testing.T) {
	t.Parallel() // beside what waits for the disk
	b := booktest.FromActs(t, booktest.Outing)
	for name, f := range looksAt {
		t.Run(name+" now", func(t *testing.T) { booktest.Tear(t, b, time.Time{}, f) })
		t.Run(name+" as of then", func(t *testing.T) { booktest.Tear(t, b, booktest.Oslo(t, "2026-05-02T10:35:00"), f) })
	}
	t.Run("whether a reading written down late served another print", func(t *testing.T) {
		b := booktest.FromActs(t, booktest.Harbour+booktest.Picture(1, 0, "ferry mate")+booktest.Picture(2, 10, "harbour master")+`
sheet.reprinted 2026-05-02T10:31:00 "picture":"2026-001","box":"box-1","f":11,"time_s":20,"session":"mole"`,
			`light.metered 2026-05-02T10:30:00 "on":"negative","mode":"reflected","index":3,"f":11,"time_s":5,"of":"mid","session":"mole"`,
			`sheet.reprinted 2026-05-02T10:40:00 "picture":"2026-002","box":"box-1","f":11,"time_s":20,"session":"mole"`)
		booktest.Tear(t, b, time.Time{}, func(snap *snapshot.Snapshot) error { _, err := report.HistoryOf(snap, "2026-002", false); return err })
	})
}

// The same holds for a whole season, in which most comes to pass that is looked at, and for a day of what seldom does.
func TestNoLookTakesAPageOfASeasonThatCannotBeReadForAnEmptyOne(t *testing.T) {
	t.Parallel() // beside what waits for the disk
	for book, b := range map[string]*sqlite.Book{"a season": booktest.Season(t), "a day of rare things": booktest.FromActs(t, booktest.RareDay)} {
		t.Run(book, func(t *testing.T) { tornLooks(t, b) })
	}
}

// tornLooks tears a book at the first of each row of calls of every look.
func tornLooks(t *testing.T, b *sqlite.Book) {
	looks := map[string]func(*snapshot.Snapshot) error{
		"year with causes": func(snap *snapshot.Snapshot) error {
			_, err := report.Year(snap, 2026, report.Causes(snap))
			return err
		},
		"all of today": func(snap *snapshot.Snapshot) error { _, err := report.Today(snap, true); return err },
	}
	for _, name := range []string{"baths", "stock", "sessions", "today", "pictures", "calibrate", "captions", "faces"} {
		looks[name] = looksAt[name]
	}
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		for _, kind := range []events.EntityKind{events.Picture, events.Box, events.Bath, events.Session, events.Camera, events.Holder, events.Strip, events.Sitter} {
			all, err := snap.R.Entities(kind)
			require.NoError(t, err)
			for _, e := range all[:min(2, len(all))] {
				looks["history of "+e.Name] = func(snap *snapshot.Snapshot) error { _, err := report.HistoryOf(snap, e.Name, true); return err }
			}
		}
	})
	for name, f := range looks {
		t.Run(name+" now", func(t *testing.T) { booktest.TearFirst(t, b, time.Time{}, f) })
		if !strings.HasPrefix(name, "history") {
			t.Run(name+" as of then", func(t *testing.T) { booktest.TearFirst(t, b, booktest.Oslo(t, "2026-06-10T12:00:00"), f) })
		}
	}
}

// What could not be read once is read again by the same snapshot, and not taken for empty.
func TestASnapshotReadsAgainWhatItCouldNotRead(t *testing.T) {
	b := booktest.FromActs(t, booktest.Outing)
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		want, err := report.Baths(snapshot.New(tx, time.Time{}), true)
		require.NoError(t, err)
		whole := &eventstest.Torn{Log: tx}
		_, err = report.Baths(snapshot.New(whole, time.Time{}), true)
		require.NoError(t, err)
		for n := range whole.Asked {
			snap := snapshot.New(&eventstest.Torn{Log: tx, Fails: n + 1}, time.Time{})
			_, err := report.Baths(snap, true)
			require.ErrorIs(t, err, eventstest.ErrTorn)
			got, err := report.Baths(snap, true)
			require.NoError(t, err)
			require.Equal(t, want, got, "question %d of %d", n+1, whole.Asked)
		}
		return nil
	}))
}

// Nor does a day that is planned, a plan, an order, or what an evening lacks take one for an empty one.
func TestNoPlanIsMadeBesideAPageThatCannotBeRead(t *testing.T) {
	t.Parallel() // beside what waits for the disk
	b := booktest.FromActs(t, booktest.Outing+`
order.taken 2026-05-03T09:30:00 "order":"order-1","sitter":"sitter-1","picture":"2026-001","prints":2,"due":"2026-05-20","price":400,"currency":"NOK"
order.taken 2026-05-03T09:31:00 "order":"order-2","sitter":"sitter-2","prints":1,"scan":true
order.paid 2026-05-03T09:32:00 "order":"order-1","price":100,"currency":"NOK"
order.closed 2026-05-03T09:33:00 "order":"order-2","ended":"withdrawn"
sheet.stored 2026-05-03T09:34:00 "sheet":"2026-001p2","where":"album"`)
	ask := func(b *sqlite.Book, at string, look func(*snapshot.Snapshot) error) {
		booktest.LookAt(t, b, at, func(snap *snapshot.Snapshot) {
			beside(t, snap, func(snap *snapshot.Snapshot) (any, error) { return nil, look(snap) })
		})
	}
	for _, b := range []*sqlite.Book{b, booktest.FromActs(t, booktest.RareDay), booktest.Season(t)} {
		for _, at := range []string{"", "2026-05-03T09:40:00", "2026-05-02T10:35:00"} {
			for _, o := range []report.DayAsk{{Sitters: 12, Prints: 1, Hours: 6}, {Sitters: 2, Box: "box-1", Hours: 2}, {Sitters: 5, Prints: 2, Box: "box-3", Hours: 4}} {
				ask(b, at, func(snap *snapshot.Snapshot) error { _, err := report.Day(snap, o); return err })
			}
			ask(b, at, func(snap *snapshot.Snapshot) error { _, err := report.Orders(snap, true); return err })
			ask(b, at, func(snap *snapshot.Snapshot) error { _, err := report.Today(snap, true); return err })
			ask(b, at, func(snap *snapshot.Snapshot) error {
				_, err := report.Pictures(snap, report.PictureFilter{Terms: report.TermsOf([]string{"album"})})
				return err
			})
			ask(b, at, func(snap *snapshot.Snapshot) error { _, err := report.Supplies(snap, 0, 2); return err })
			for _, name := range []string{"order-1", "order-2", "2026-002", "sitter-1"} {
				ask(b, at, func(snap *snapshot.Snapshot) error { _, err := report.HistoryOf(snap, name, true); return err })
			}
			for _, what := range []string{report.Unwashed, report.Undried, report.Unjudged} {
				ask(b, at, func(snap *snapshot.Snapshot) error { _, err := report.Lacking(snap, what); return err })
			}
			for _, kind := range []events.Kind{events.SheetWashed, events.SheetDried, events.SheetFixed, events.SheetRinsed} {
				ask(b, at, func(snap *snapshot.Snapshot) error { _, err := report.UsualStep(snap, kind); return err })
			}
		}
	}
}
