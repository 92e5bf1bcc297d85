package calledfor_test

import (
	"encoding/json"
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/eventstest"
	"traybook/events/sqlite"
	"traybook/projections/booktest"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

const heldSteps = "testdata/steps.txt"

// askAll works out everything of a book that calls for something: each act of each picture, each sheet, each strip, each
// bath; it hands over what it finds.
func askAll(snap *snapshot.Snapshot, found func(what string, v any)) error {
	pictures, err := snap.R.Entities(events.Picture)
	if err != nil {
		return err
	}
	for _, t := range pictures {
		p, err := snap.Picture(t.Name)
		if err != nil {
			return err
		}
		for _, e := range p.All {
			s, err := calledfor.StepOf(snap, p, e)
			if err != nil {
				return err
			}
			if s.DoneS != nil || s.CalledForS != nil || len(s.Warnings) > 0 {
				found(t.Name+" "+string(e.Kind), told(s))
			}
			switch x := e.Data.(type) {
			case *events.SheetExposedData:
				again := *x
				again.Reading = ""
				r, err := calledfor.ServesNegative(snap, p, e, &again)
				if err != nil {
					return err
				}
				found("would be served by", minute(r))
			case *events.SheetReprintedData:
				again := *x
				again.Reading = ""
				r, print, err := calledfor.ServesPrint(snap, p, e, &again)
				if err != nil {
					return err
				}
				if print != nil {
					found("would be served by", print.Name)
				} else {
					found("would be served by", minute(r))
				}
			}
		}
		for _, s := range p.Sheets {
			l, err := calledfor.SheetLogOf(snap, p, s)
			if err != nil {
				return err
			}
			found(s.Name, []any{"paper", l.Paper, "made", l.Made, "ideal", l.Ideal, "light", l.Light.Stops, minute(l.Light.Second), "aged", l.Aged, "metered", l.Metered, "failed", l.Failed, "x", l.X, "floor", l.Floor(4), "again", l.AgainStops(), "part", calledfor.PartOfSheet(s)})
			if l.Dev != nil {
				found("developed", []any{l.Dev.Given, l.Dev.Total, l.Dev.Hand, l.Dev.Warmth, l.Dev.Used, l.Dev.Old, l.Dev.IsOld(), l.Dev.Need.NominalS, l.Dev.Need.NominalC, l.Dev.Need.TempC, l.Dev.Need.Age})
			}
			for _, role := range []string{"developer", "fixer"} {
				in, wrong, err := calledfor.Stays(snap, p, s, role)
				if err != nil {
					return err
				}
				for _, x := range in {
					found("in the "+role, []any{x.Done, x.Ratio(), x.Silver(), x.Need.Age})
				}
				if len(wrong) > 0 {
					found("not in the "+role, len(wrong))
				}
			}
			for _, e := range s.Washed {
				text, err := calledfor.WashLeaves(snap, s, e)
				if err != nil {
					return err
				}
				found("washed", text)
			}
			w, known, err := calledfor.WashOf(snap, s)
			if err != nil {
				return err
			}
			found("left", []any{w, known})
			for _, e := range s.Fixed {
				if text := calledfor.FixedInAll(s, e); text != "" {
					found("fixed", text)
				}
			}
		}
		tones, err := calledfor.TonesOf(snap, p)
		if err != nil {
			return err
		}
		for _, s := range p.Sheets {
			if x, ok := tones[s.Name]; ok {
				stops, made, calledFor := x.Densities()
				found("tones of "+s.Name, []any{len(stops), made, calledFor})
			}
		}
	}
	strips, err := snap.R.Entities(events.Strip)
	if err != nil {
		return err
	}
	for _, t := range strips {
		s, err := calledfor.StripOf(snap, t.Name)
		if err != nil {
			return err
		}
		step, err := s.CalledFor(snap)
		if err != nil {
			return err
		}
		found(t.Name, told(step))
		if step.Paper != nil {
			if at, ok := s.Point(*step.Paper, 0.5); ok {
				found("point", at)
			}
		}
		if estimate, low, high, ok := s.Threshold(); ok {
			found("threshold", []float64{estimate, low, high})
		}
	}
	baths, err := snap.R.Entities(events.Bath)
	if err != nil {
		return err
	}
	for _, t := range baths {
		b, err := snap.Bath(t.Name)
		if err != nil {
			return err
		}
		if b.Mixed == nil {
			continue // as of then
		}
		n, err := calledfor.NeedNow(snap, b, nil, booktest.Recorded)
		if err != nil {
			return err
		}
		found(t.Name, []any{n.TimeS, n.NominalS, n.NominalC, n.TempC, n.Stopped, n.Age, wording.Texts(n.Warnings)})
	}
	return nil
}

// told is a step without the entries, the ids of which follow from what is written.
func told(s calledfor.Step) []any {
	return []any{s.CalledForS, s.DoneS, s.DeviationStops, s.Before, s.Called, minute(s.Serving), wording.Texts(s.Warnings), s.TempC, s.Used, s.Magnification, s.SetF}
}

// minute is when an entry was, "" for none.
func minute(e *events.Entry) string {
	if e == nil {
		return ""
	}
	return e.At.Format("01-02 15:04")
}

var figures = regexp.MustCompile(`-?\d+\.\d{5,}(e[+-]?\d+)?`)

// extremes are acts that are written and that no formula takes: prints after one that wants more than any time, by the draw of
// a bellows that no camera has, on paper without an index, after a reading at the end of the meter.
const extremes = `
sheet.reprinted 2026-05-21T10:00:00 "picture":"2026-003","box":"box-1","f":11,"time_s":86400,"session":"steps","camera":"quay-box"
sheet.judged 2026-05-21T10:01:00 "sheet":"2026-003p3","verdict":"redo","stops":20
sheet.reprinted 2026-05-21T10:02:00 "picture":"2026-003","box":"box-1","f":64,"time_s":86400,"session":"steps","camera":"quay-box"
sheet.judged 2026-05-21T10:03:00 "sheet":"2026-003p4","verdict":"redo","stops":-20
sheet.reprinted 2026-05-21T10:04:00 "picture":"2026-003","box":"box-1","f":0.5,"time_s":0.001,"session":"steps","camera":"quay-box"
sheet.judged 2026-05-21T10:05:00 "sheet":"2026-003p5","verdict":"redo","stops":1
sheet.reprinted 2026-05-21T10:06:00 "picture":"2026-003","box":"box-1","f":11,"time_s":20,"magnification":1000,"session":"steps","camera":"quay-box"
sheet.reprinted 2026-05-21T10:07:00 "picture":"2026-003","box":"box-2","f":11,"time_s":20,"session":"steps","camera":"quay-box"
sheet.judged 2026-05-21T10:08:00 "sheet":"2026-003p7","verdict":"redo","stops":1
sheet.reprinted 2026-05-21T10:09:00 "picture":"2026-003","box":"box-2","f":16,"time_s":30,"filter":"yellow","filter_factor":2,"magnification":0.5,"session":"steps","camera":"quay-box"
sheet.reprinted 2026-05-21T10:10:00 "picture":"2026-003","box":"box-2","time_s":30,"way":"contact"
sheet.reprinted 2026-05-21T10:11:00 "picture":"2026-003","box":"box-1","time_s":30,"session":"steps","camera":"quay-box"
light.metered 2026-05-21T10:20:00 "on":"scene","mode":"reflected","ev":30,"index":100,"session":"steps"
sheet.exposed 2026-05-21T10:21:00 "picture":"2026-011","box":"box-1","f":0.5,"time_s":1,"session":"steps","camera":"quay-box"
light.metered 2026-05-21T10:22:00 "on":"scene","mode":"reflected","ev":-10,"index":100,"session":"steps"
sheet.exposed 2026-05-21T10:23:00 "picture":"2026-012","box":"box-1","f":256,"time_s":1,"extension_mm":20000,"filter":"red","filter_factor":100000,"session":"steps","camera":"quay-box"
sheet.exposed 2026-05-21T10:24:00 "picture":"2026-013","box":"box-1","f":8,"time_s":1,"subject_mm":100,"session":"steps","camera":"quay-box"
bath.mixed 2026-05-21T10:30:00 "bath":"dev-9","role":"developer","name":"tiny","volume_ml":1,"time_s":60,"capacity_m2":0.00001
sheet.developed 2026-05-21T10:31:00 "sheet":"2026-011n","bath":"dev-9","time_s":60,"temp_c":1
sheet.developed 2026-05-21T10:32:00 "sheet":"2026-012n","bath":"dev-9","time_s":60,"temp_c":60
sheet.washed 2026-05-21T10:33:00 "sheet":"2026-011n","changes":1000,"volume_ml":1,"temp_c":90
sheet.washed 2026-05-21T10:34:00 "sheet":"2026-012n","running_s":1,"temp_c":1`

// What every act of a season and of an outing called for, what its sheets are in the replay, what its washes left, what its
// strips and baths say, is held figure by figure.
func TestEverythingCallsForWhatItCalledFor(t *testing.T) {
	var out strings.Builder
	for _, c := range []struct {
		name string
		b    *sqlite.Book
	}{{"season", booktest.Season(t)}, {"outing", booktest.FromActs(t, booktest.Outing)}, {"a day of rare things", booktest.FromActs(t, booktest.RareDay+extremes)}} {
		fmt.Fprintf(&out, "==== %s\n", c.name)
		booktest.Look(t, c.b, func(snap *snapshot.Snapshot) {
			require.NoError(t, askAll(snap, func(what string, v any) {
				raw, err := json.Marshal(v)
				require.NoError(t, err)
				fmt.Fprintf(&out, "%s: %s\n", what, figures.ReplaceAllStringFunc(string(raw), func(n string) string {
					v, err := strconv.ParseFloat(n, 64)
					require.NoError(t, err)
					return strconv.FormatFloat(v, 'g', 5, 64)
				}))
			}))
		})
	}
	eventstest.Hold(t, heldSteps, out.String())
}

// Nothing of it is told beside a page that cannot be read.
func TestNothingIsCalledForBesideAPageThatCannotBeRead(t *testing.T) {
	t.Parallel() // beside what waits for the disk
	ask := func(snap *snapshot.Snapshot) error { return askAll(snap, func(string, any) {}) }
	b := booktest.Season(t)
	booktest.TearFirst(t, b, time.Time{}, ask)
	booktest.TearFirst(t, b, booktest.Oslo(t, "2026-06-10T12:00:00"), ask)
	// Each picture by itself, on a snapshot on which nothing lies open yet.
	outing := booktest.FromActs(t, booktest.Outing)
	booktest.TearFirst(t, outing, time.Time{}, ask)
	booktest.TearFirst(t, booktest.FromActs(t, booktest.RareDay+extremes), time.Time{}, ask)
	alone := func(b *sqlite.Book, picture string) {
		var acts []events.Entry
		booktest.Look(t, b, func(snap *snapshot.Snapshot) {
			p, err := snap.Picture(picture)
			require.NoError(t, err)
			acts = p.All
		})
		for _, e := range acts {
			booktest.TearFirst(t, b, time.Time{}, func(snap *snapshot.Snapshot) error {
				p, err := snap.Picture(picture)
				if err == nil {
					_, err = calledfor.StepOf(snap, p, e)
				}
				return err
			})
		}
		booktest.TearFirst(t, b, time.Time{}, func(snap *snapshot.Snapshot) error {
			p, err := snap.Picture(picture)
			if err != nil {
				return err
			}
			for _, s := range p.Sheets {
				if _, err := calledfor.SheetLogOf(snap, p, s); err != nil {
					return err
				}
			}
			return nil
		})
		booktest.TearFirst(t, b, time.Time{}, func(snap *snapshot.Snapshot) error {
			p, err := snap.Picture(picture)
			if err == nil {
				_, err = calledfor.TonesOf(snap, p)
			}
			return err
		})
	}
	for n := 1; n <= 4; n++ {
		alone(outing, fmt.Sprintf("2026-%03d", n))
	}
	for n := 1; n <= 40; n += 6 {
		alone(b, fmt.Sprintf("2026-%03d", n))
	}
}
