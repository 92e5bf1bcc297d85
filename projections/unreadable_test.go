package projections_test

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
	"traybook/projections"
)

// A whole outing with most of what a book can hold: two boxes, one cut from the other, a holder, strips on all that a
// strip can be made on, a sitter, prints by a reading and by an earlier print, a voided note and an amended exposure.
const outing = harbour + `
camera.checked 2026-05-02T09:03:00 "camera":"quay-box","what":"light","result":"good","session":"mole"
paper.rated 2026-05-02T09:04:00 "box":"box-1","iso_r":110,"reciprocity_p":0.95,"threshold_s":2
paper.cut 2026-05-02T09:05:00 "box":"box-1","sheets":5,"into":"small","parts":4,"width_mm":50,"height_mm":62
paper.received 2026-05-02T09:05:30 "box":"box-2","name":"slow paper","base":"fb","width_mm":100,"height_mm":125,"sheets":50,"index":1.5,"iso_r":60
holder.loaded 2026-05-02T09:06:00 "holder":"left","box":"box-1"
bath.mixed 2026-05-02T09:07:00 "bath":"toner-1","role":"toner","name":"brown toner","volume_ml":1000,"time_s":120,"session":"mole"
bath.tested 2026-05-02T09:08:00 "bath":"dev-1","test":"temperature","value":19
light.metered 2026-05-02T09:10:00 "on":"scene","mode":"reflected","index":3,"f":8,"time_s":4,"session":"mole"
strip.exposed 2026-05-02T09:11:00 "strip":"s1","box":"box-1","on":"scene","f":8,"times_s":[2,4,8],"session":"mole"
strip.read 2026-05-02T09:15:00 "strip":"s1","best":2,"first_tone":1,"full_black":3,"bath":"dev-1","time_s":60
strip.exposed 2026-05-02T09:16:00 "strip":"s2","box":"box-1","on":"flash","times_s":[1,2,4],"session":"mole"
strip.read 2026-05-02T09:18:00 "strip":"s2","first_tone":2
sheet.exposed 2026-05-02T10:00:00 "picture":"2026-001","holder":"left","box":"box-1","f":8,"time_s":9,"subject":"ferry mate","sitter":"sitter-1","session":"mole","camera":"quay-box"
sheet.developed 2026-05-02T10:01:00 "sheet":"2026-001n","bath":"dev-1","time_s":60,"session":"mole"
sheet.rinsed 2026-05-02T10:02:00 "sheet":"2026-001n","time_s":15
sheet.fixed 2026-05-02T10:03:00 "sheet":"2026-001n","bath":"fix-1","time_s":20,"session":"mole"
sheet.washed 2026-05-02T10:04:00 "sheet":"2026-001n","changes":1,"volume_ml":1000,"session":"mole"
sheet.judged 2026-05-02T10:05:00 "sheet":"2026-001n","verdict":"redo","symptoms":["too-dark"]
strip.exposed 2026-05-02T10:10:00 "strip":"s3","box":"box-1","on":"negative","picture":"2026-001","f":11,"times_s":[10,20,40],"session":"mole"
strip.read 2026-05-02T10:12:00 "strip":"s3","best":2
light.metered 2026-05-02T10:13:00 "on":"negative","mode":"reflected","index":3,"f":11,"time_s":5,"of":"mid","session":"mole"
sheet.reprinted 2026-05-02T10:14:00 "picture":"2026-001","box":"box-1","f":11,"time_s":20,"session":"mole","camera":"quay-box"
sheet.developed 2026-05-02T10:15:00 "sheet":"2026-001p1","bath":"dev-1","time_s":60,"session":"mole"
sheet.fixed 2026-05-02T10:16:00 "sheet":"2026-001p1","bath":"fix-1","time_s":60,"session":"mole"
sheet.washed 2026-05-02T10:17:00 "sheet":"2026-001p1","changes":4,"volume_ml":1000,"session":"mole"
sheet.judged 2026-05-02T10:18:00 "sheet":"2026-001p1","verdict":"redo","symptoms":["too-light"],"stops":1
sheet.reprinted 2026-05-02T10:20:00 "picture":"2026-001","box":"box-1","f":11,"time_s":40,"session":"mole","camera":"quay-box"
sheet.developed 2026-05-02T10:21:00 "sheet":"2026-001p2","bath":"dev-1","time_s":60,"session":"mole"
sheet.fixed 2026-05-02T10:22:00 "sheet":"2026-001p2","bath":"fix-1","time_s":60,"session":"mole"
sheet.washed 2026-05-02T10:23:00 "sheet":"2026-001p2","changes":4,"volume_ml":1000,"session":"mole"
sheet.toned 2026-05-02T10:24:00 "sheet":"2026-001p2","bath":"toner-1","time_s":120
sheet.dried 2026-05-02T10:25:00 "sheet":"2026-001p2"
sheet.judged 2026-05-02T10:26:00 "sheet":"2026-001p2","verdict":"keep"
sheet.delivered 2026-05-02T10:27:00 "sheet":"2026-001p2","to":"sitter-1"
sitter.consented 2026-05-02T10:28:00 "sitter":"sitter-1","to":"keep"
sitter.consented 2026-05-02T10:28:30 "sitter":"sitter-1","to":"show","until":"2026-06"
note.written 2026-05-02T10:29:00 "about":"mole","text":"haze over the sound"
sheet.exposed 2026-05-02T10:30:00 "picture":"2026-002","box":"box-1","f":8,"time_s":9,"planned_s":9,"planned_box":"box-2","session":"mole","camera":"quay-box"
sheet.developed 2026-05-02T10:31:00 "sheet":"2026-002n","bath":"dev-1","time_s":60,"session":"mole"
sheet.fixed 2026-05-02T10:32:00 "sheet":"2026-002n","bath":"fix-1","time_s":60,"session":"mole"
sheet.judged 2026-05-02T10:33:00 "sheet":"2026-002n","verdict":"redo","symptoms":["too-dark"]
sheet.reprinted 2026-05-02T10:34:00 "picture":"2026-002","box":"box-1","f":11,"time_s":20,"session":"mole","camera":"quay-box"
sheet.exposed 2026-05-02T10:40:00 "picture":"2026-003","box":"small","f":8,"time_s":5,"sitter":"sitter-2","session":"mole","camera":"quay-box"
sheet.delivered 2026-05-02T10:40:30 "sheet":"2026-001p1","to":"sitter-2"
sitter.consented 2026-05-02T10:40:40 "sitter":"sitter-2","to":"keep"
moment.marked 2026-05-02T10:41:00 "session":"mole"
bath.discarded 2026-05-02T11:00:00 "bath":"toner-1"
session.closed 2026-05-02T12:00:00 "session":"mole"
session.opened 2026-05-03T09:00:00 "session":"lighthouse","camera":"quay-box"
light.metered 2026-05-03T09:10:00 "on":"scene","mode":"reflected","index":3,"f":8,"time_s":5,"session":"lighthouse"
sheet.exposed 2026-05-03T09:12:00 "picture":"2026-004","box":"box-1","f":8,"time_s":6,"session":"lighthouse","camera":"quay-box"`

// looks are what one can ask of a book, each on a fresh desk.
var looks = map[string]func(*projections.Desk) error{
	"baths":    func(d *projections.Desk) error { _, err := d.Baths(true); return err },
	"stock":    func(d *projections.Desk) error { _, err := d.Stock(true); return err },
	"sessions": func(d *projections.Desk) error { _, err := d.Sessions(true); return err },
	"today":    func(d *projections.Desk) error { _, err := d.Today(false); return err },
	"pictures": func(d *projections.Desk) error { _, err := d.Pictures(projections.PictureFilter{}); return err },
	"pictures of a session in words": func(d *projections.Desk) error {
		_, err := d.Pictures(projections.PictureFilter{Session: "mole", Text: "ferry"})
		return err
	},
	"pictures of a box": func(d *projections.Desk) error {
		_, err := d.Pictures(projections.PictureFilter{Box: "box-1"})
		return err
	},
	"pictures of a bath": func(d *projections.Desk) error {
		_, err := d.Pictures(projections.PictureFilter{Bath: "dev-1"})
		return err
	},
	"pictures of a sitter": func(d *projections.Desk) error {
		_, err := d.Pictures(projections.PictureFilter{Sitter: "sitter-1"})
		return err
	},
	"pictures given to another": func(d *projections.Desk) error {
		_, err := d.Pictures(projections.PictureFilter{Sitter: "sitter-2"})
		return err
	},
	"history of an entry": func(d *projections.Desk) error {
		found, err := d.R.Entries(events.Query{Kinds: []events.Kind{events.SessionOpened}, Limit: 1})
		if err != nil {
			return err
		}
		_, err = d.History(found[0].ID.String(), false)
		return err
	},
	"history of the book":      func(d *projections.Desk) error { _, err := d.History("", true); return err },
	"history of a picture":     func(d *projections.Desk) error { _, err := d.History("2026-001", true); return err },
	"history of a sheet":       func(d *projections.Desk) error { _, err := d.History("2026-001p1", false); return err },
	"history of a box":         func(d *projections.Desk) error { _, err := d.History("box-1", false); return err },
	"history of a session":     func(d *projections.Desk) error { _, err := d.History("mole", true); return err },
	"history of a bath":        func(d *projections.Desk) error { _, err := d.History("dev-1", false); return err },
	"calibrate":                func(d *projections.Desk) error { _, err := d.Calibrate(projections.CalibrateOptions{}); return err },
	"why a negative":           func(d *projections.Desk) error { _, err := d.Why("2026-001"); return err },
	"why another":              func(d *projections.Desk) error { _, err := d.Why("2026-002"); return err },
	"year":                     func(d *projections.Desk) error { _, err := d.Year(2026, nil); return err },
	"waiting":                  func(d *projections.Desk) error { _, err := d.Waiting(); return err },
	"newest picture":           func(d *projections.Desk) error { _, err := d.NewestPicture(); return err },
	"newest negative":          func(d *projections.Desk) error { _, err := d.NewestNegative(); return err },
	"unused mark":              func(d *projections.Desk) error { _, err := d.UnusedMark(); return err },
	"zone":                     func(d *projections.Desk) error { _, err := d.ZoneOf(); return err },
	"box in hand":              func(d *projections.Desk) error { _, err := d.BoxInHand(events.SheetExposed); return err },
	"bath in use":              func(d *projections.Desk) error { _, err := d.BathInUse("developer"); return err },
	"pictures that show one":   func(d *projections.Desk) error { _, err := d.PicturesOf("sitter-1"); return err },
	"what a sitter allows":     func(d *projections.Desk) error { _, err := d.AllowedBy("sitter-1"); return err },
	"what stands on a session": standsOn("mole"),
	"what stands on a box":     standsOn("box-1"),
	"what stands on a cut":     standsOn("small"),
	"what stands on a camera":  standsOn("quay-box"),
	"what stands on a picture": standsOn("2026-001"),
	"a strip": func(d *projections.Desk) error {
		s, err := d.Strip("s3")
		if err != nil {
			return err
		}
		_, err = s.CalledFor(d)
		return err
	},
}

// standsOn asks what would be impossible without a thing, and how its first entries stand.
func standsOn(name string) func(*projections.Desk) error {
	return func(d *projections.Desk) error {
		t, _, err := d.R.Thing(name)
		if err != nil {
			return err
		}
		own, err := d.Home(t)
		if err != nil {
			return err
		}
		if _, err := d.AllStandingOn(own[:min(1, len(own))]...); err != nil {
			return err
		}
		for _, e := range own[:min(3, len(own))] {
			if _, err := d.StandingOn(e); err != nil {
				return err
			}
			if _, err := d.AsItStands(e.ID); err != nil {
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
	tear := func(t *testing.T, b *sqlite.Book, asOf time.Time, f func(*projections.Desk) error) {
		require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
			r := &trial.Torn{Log: tx}
			require.NoError(t, f(projections.NewDesk(r, asOf)))
			for n := range r.Asked {
				err := f(projections.NewDesk(&trial.Torn{Log: tx, Fails: n + 1}, asOf))
				assert.ErrorIs(t, err, trial.ErrTorn, "question %d of %d", n+1, r.Asked)
			}
			return nil
		}))
	}
	b := acts(t, outing)
	for name, f := range looks {
		t.Run(name+" now", func(t *testing.T) { tear(t, b, time.Time{}, f) })
		if strings.HasPrefix(name, "what stands") {
			continue // that is asked of the whole book only
		}
		t.Run(name+" as of then", func(t *testing.T) { tear(t, b, oslo(t, "2026-05-02T10:35:00"), f) })
	}
	t.Run("whether a reading written down late served another print", func(t *testing.T) {
		b := acts(t, harbour+picture(1, 0, "ferry mate")+picture(2, 10, "harbour master")+`
sheet.reprinted 2026-05-02T10:31:00 "picture":"2026-001","box":"box-1","f":11,"time_s":20,"session":"mole"`,
			`light.metered 2026-05-02T10:30:00 "on":"negative","mode":"reflected","index":3,"f":11,"time_s":5,"of":"mid","session":"mole"`,
			`sheet.reprinted 2026-05-02T10:40:00 "picture":"2026-002","box":"box-1","f":11,"time_s":20,"session":"mole"`)
		tear(t, b, time.Time{}, func(d *projections.Desk) error { _, err := d.History("2026-002", false); return err })
	})
}

// What could not be read once is read again by the same desk, and not taken for empty.
func TestADeskReadsAgainWhatItCouldNotRead(t *testing.T) {
	b := acts(t, outing)
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		want, err := projections.NewDesk(tx, time.Time{}).Baths(true)
		require.NoError(t, err)
		whole := &trial.Torn{Log: tx}
		_, err = projections.NewDesk(whole, time.Time{}).Baths(true)
		require.NoError(t, err)
		for n := range whole.Asked {
			d := projections.NewDesk(&trial.Torn{Log: tx, Fails: n + 1}, time.Time{})
			_, err := d.Baths(true)
			require.ErrorIs(t, err, trial.ErrTorn)
			got, err := d.Baths(true)
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

// handEntry is an act on the morning of the second outing.
func handEntry(t testing.TB, n int, data events.Data) events.Entry {
	at := oslo(t, "2026-05-03T10:00:00").Add(time.Duration(n) * time.Second)
	return events.Entry{ID: events.ID{0xee, byte(n)}, Kind: data.Kind(), At: at, RecordedAt: at, Zone: "Europe/Oslo", Data: events.Clone(data)}
}

// An act that could not look up what it leaves out is not taken: the book would fill it in with something else.
func TestNoActIsTakenBesideAPageThatCannotBeRead(t *testing.T) {
	t.Parallel() // beside what waits for the disk
	b := acts(t, outing)
	errBack := errors.New("nothing of it shall stay")
	for i, data := range written {
		t.Run(fmt.Sprintf("%d %s", i, data.Kind()), func(t *testing.T) {
			ways := map[string]func(*trial.Torn) error{
				"written": func(r *trial.Torn) error {
					e := handEntry(t, i, data)
					_, err := projections.Write(r, &e, projections.WriteOptions{})
					return err
				},
				"taken in": func(r *trial.Torn) error {
					e := handEntry(t, i, data)
					_, err := projections.ImportPlain(r, []projections.ImportLine{{Line: events.Line{HasID: true, Entry: e}, Number: 1}}, recorded, events.ID{7}, events.ID{8}, nil)
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
	lines := func() (out []projections.ImportLine) {
		for i, text := range file {
			l, err := events.ParseLine([]byte(text))
			require.NoError(t, err)
			out = append(out, projections.ImportLine{Line: l, Number: i + 1})
		}
		return out
	}
	b := acts(t, outing)
	errBack := errors.New("nothing of it shall stay")
	for _, known := range []int{0, len(file)} {
		asked := 0
		for n := 0; n <= asked; n++ {
			r := &trial.Torn{Fails: n}
			require.ErrorIs(t, b.Write(func(tx *sqlite.Tx) error {
				r.Log = tx
				got, err := projections.ImportPlain(r, lines(), recorded, events.ID{7}, events.ID{8}, nil)
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
			_, err := projections.ImportPlain(tx, lines(), recorded, events.ID{7}, events.ID{8}, nil)
			return err
		}))
	}
}

// A kept view is folded from all of a thing's entries or not at all.
func TestNoViewIsFoldedBesideAPageThatCannotBeRead(t *testing.T) {
	t.Parallel() // beside what waits for the disk
	b := acts(t, outing)
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		for _, kind := range []events.ThingKind{events.Picture, events.Box, events.Bath, events.Session, events.Camera, events.Strip, events.Holder} {
			things, err := tx.Things(kind)
			require.NoError(t, err)
			require.NotEmpty(t, things, kind)
			for _, thing := range things {
				r := &trial.Torn{Log: tx}
				_, err := projections.Folder{}.Fold(thing, r)
				require.NoError(t, err)
				for n := range r.Asked {
					_, err := projections.Folder{}.Fold(thing, &trial.Torn{Log: tx, Fails: n + 1})
					assert.ErrorIs(t, err, trial.ErrTorn, "%s: question %d of %d", thing.Name, n+1, r.Asked)
				}
			}
		}
		return nil
	}))
}
