package report_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/sqlite"
	"traybook/events/trial"
	"traybook/projections/acts"
	"traybook/projections/booktest"
	"traybook/projections/calledfor"
	"traybook/projections/report"
	"traybook/projections/snapshot"
	"traybook/projections/why"
)

// looks are what one can ask of a book, each on a fresh snapshot.
var looks = map[string]func(*snapshot.Snapshot) error{
	"baths":    func(snap *snapshot.Snapshot) error { _, err := report.Baths(snap, true); return err },
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
	"calibrate": func(snap *snapshot.Snapshot) error {
		_, err := report.Calibrate(snap, report.CalibrateOptions{})
		return err
	},
	"why a negative":           func(snap *snapshot.Snapshot) error { _, err := why.Why(snap, "2026-001"); return err },
	"why another":              func(snap *snapshot.Snapshot) error { _, err := why.Why(snap, "2026-002"); return err },
	"year":                     func(snap *snapshot.Snapshot) error { _, err := report.Year(snap, 2026, nil); return err },
	"waiting":                  func(snap *snapshot.Snapshot) error { _, err := acts.Waiting(snap); return err },
	"newest picture":           func(snap *snapshot.Snapshot) error { _, err := acts.NewestPicture(snap); return err },
	"newest negative":          func(snap *snapshot.Snapshot) error { _, err := acts.NewestNegative(snap); return err },
	"unused mark":              func(snap *snapshot.Snapshot) error { _, err := acts.UnusedMark(snap); return err },
	"zone":                     func(snap *snapshot.Snapshot) error { _, err := acts.ZoneOf(snap); return err },
	"box in hand":              func(snap *snapshot.Snapshot) error { _, err := acts.BoxInHand(snap, events.SheetExposed); return err },
	"bath in use":              func(snap *snapshot.Snapshot) error { _, err := acts.BathInUse(snap, "developer"); return err },
	"pictures that show one":   func(snap *snapshot.Snapshot) error { _, err := snap.PicturesOf("sitter-1"); return err },
	"what a sitter allows":     func(snap *snapshot.Snapshot) error { _, err := snap.AllowedBy("sitter-1"); return err },
	"what stands on a session": standsOn("mole"),
	"what stands on a box":     standsOn("box-1"),
	"what stands on a cut":     standsOn("small"),
	"what stands on a camera":  standsOn("quay-box"),
	"what stands on a picture": standsOn("2026-001"),
	"a strip": func(snap *snapshot.Snapshot) error {
		s, err := calledfor.StripOf(snap, "s3")
		if err != nil {
			return err
		}
		_, err = s.CalledFor(snap)
		return err
	},
}

// standsOn asks what would be impossible without a thing, and how its first entries stand.
func standsOn(name string) func(*snapshot.Snapshot) error {
	return func(snap *snapshot.Snapshot) error {
		t, _, err := snap.R.Entity(name)
		if err != nil {
			return err
		}
		own, err := snap.Stream(t)
		if err != nil {
			return err
		}
		if _, err := snap.AllDependents(own[:min(1, len(own))]...); err != nil {
			return err
		}
		for _, e := range own[:min(3, len(own))] {
			if _, err := snap.Dependents(e); err != nil {
				return err
			}
			if _, err := snap.AsItCounts(e.ID); err != nil {
				return err
			}
		}
		return nil
	}
}

// A look at a book of which a page cannot be read says so. It never takes what it could not read for what is not
// written: a picture without its reading would be accused of what it never did.
func TestNoLookTakesAPageThatCannotBeReadForAnEmptyOne(t *testing.T) {
	t.Parallel() // beside what waits for the disk
	b := booktest.FromActs(t, booktest.Outing)
	for name, f := range looks {
		t.Run(name+" now", func(t *testing.T) { booktest.Tear(t, b, time.Time{}, f) })
		if strings.HasPrefix(name, "what stands") {
			continue // that is asked of the whole book only
		}
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

// What could not be read once is read again by the same snapshot, and not taken for empty.
func TestASnapshotReadsAgainWhatItCouldNotRead(t *testing.T) {
	b := booktest.FromActs(t, booktest.Outing)
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		want, err := report.Baths(snapshot.New(tx, time.Time{}), true)
		require.NoError(t, err)
		whole := &trial.Torn{Log: tx}
		_, err = report.Baths(snapshot.New(whole, time.Time{}), true)
		require.NoError(t, err)
		for n := range whole.Asked {
			snap := snapshot.New(&trial.Torn{Log: tx, Fails: n + 1}, time.Time{})
			_, err := report.Baths(snap, true)
			require.ErrorIs(t, err, trial.ErrTorn)
			got, err := report.Baths(snap, true)
			require.NoError(t, err)
			require.Equal(t, want, got, "question %d of %d", n+1, whole.Asked)
		}
		return nil
	}))
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
	errBack := errors.New("nothing of it shall stay")
	for i, data := range written {
		t.Run(fmt.Sprintf("%d %s", i, data.Kind()), func(t *testing.T) {
			ways := map[string]func(*trial.Torn) error{
				"written": func(r *trial.Torn) error {
					e := booktest.ByHand(t, i, data)
					_, err := acts.Write(r, &e, acts.WriteOptions{})
					return err
				},
				"taken in": func(r *trial.Torn) error {
					e := booktest.ByHand(t, i, data)
					_, err := acts.ImportPlain(r, []acts.ImportLine{{Line: events.Line{HasID: true, Entry: e}, Number: 1}}, booktest.Recorded, events.ID{7}, events.ID{8}, nil)
					return err
				},
			}
			for way, f := range ways {
				asked := 0
				for n := 0; n <= asked; n++ {
					r := &trial.Torn{Fails: n}
					var got error
					require.ErrorIs(t, b.Write(func(tx *sqlite.Tx) error { r.Log = tx; got = f(r); return errBack }), errBack)
					if n == 0 {
						require.NoError(t, got, way)
						asked = r.Asked
						continue
					}
					assert.ErrorIs(t, got, trial.ErrTorn, "%s: question %d of %d", way, n, asked)
				}
			}
		})
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
			r := &trial.Torn{Fails: n}
			require.ErrorIs(t, b.Write(func(tx *sqlite.Tx) error {
				r.Log = tx
				got, err := acts.ImportPlain(r, lines(), booktest.Recorded, events.ID{7}, events.ID{8}, nil)
				if n == 0 {
					require.NoError(t, err)
					require.Equal(t, known, got.Known)
					require.Equal(t, len(file)-known, got.Added)
					asked = r.Asked
				} else {
					assert.ErrorIs(t, err, trial.ErrTorn, "question %d of %d", n, asked)
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

// A kept view is folded from all of a thing's entries or not at all.
func TestNoViewIsFoldedBesideAPageThatCannotBeRead(t *testing.T) {
	t.Parallel() // beside what waits for the disk
	b := booktest.FromActs(t, booktest.Outing)
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		for _, kind := range []events.EntityKind{events.Picture, events.Box, events.Bath, events.Session, events.Camera, events.Strip, events.Holder} {
			entities, err := tx.Entities(kind)
			require.NoError(t, err)
			require.NotEmpty(t, entities, kind)
			for _, entity := range entities {
				r := &trial.Torn{Log: tx}
				_, err := snapshot.Folder{}.Fold(entity, r)
				require.NoError(t, err)
				for n := range r.Asked {
					_, err := snapshot.Folder{}.Fold(entity, &trial.Torn{Log: tx, Fails: n + 1})
					assert.ErrorIs(t, err, trial.ErrTorn, "%s: question %d of %d", entity.Name, n+1, r.Asked)
				}
			}
		}
		return nil
	}))
}
