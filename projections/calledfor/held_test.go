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
			if err := askBefore(snap, p, e, found); err != nil {
				return err
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
			short, err := calledfor.ShortOf(snap, p, s)
			if err != nil {
				return err
			}
			if short != (calledfor.Short{}) {
				found("short", short)
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
	if err := askBoxes(snap, found); err != nil {
		return err
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
		low, high := n.Bounds()
		found(t.Name, []any{n.TimeS, low, high, n.TooCold(), n.NominalS, n.NominalC, n.TempC, n.Stopped, n.Age, wording.Texts(n.Warnings)})
	}
	return nil
}

// askBefore works out what is told of an exposure before its cap comes off.
func askBefore(snap *snapshot.Snapshot, p *snapshot.Picture, e events.Entry, found func(what string, v any)) error {
	if press, same, ok := calledfor.PressOf(e); ok {
		found("press", []any{press, same})
	}
	var kept *calledfor.Kept
	var session string
	var err error
	switch x := e.Data.(type) {
	case *events.SheetExposedData:
		session = x.Session
		kept, err = calledfor.KeptNegative(snap, e, x, "")
		if camera, err := wording.IgnoreMissing(snap.Camera(x.Camera)); err != nil {
			return err
		} else if camera != nil && camera.At(e.At) != nil {
			depth, short := calledfor.DepthOf(camera.At(e.At), x, x.SubjectMM)
			motion, word, said := calledfor.MotionOf(x)
			found("sharp", fmt.Sprint(depth, short, motion, word, said))
		}
	case *events.SheetReprintedData:
		session = x.Session
		kept, err = calledfor.KeptPrint(snap, p, e, x)
	default:
		return nil
	}
	if err != nil {
		return err
	}
	if kept != nil {
		found("kept", []any{kept, kept.Teaches()})
	}
	scene, err := calledfor.SceneAt(snap, p, e, session)
	if err != nil {
		return err
	}
	if r, ok := scene.Range(); ok || scene.Mid != nil {
		found("scene", []any{scene.Darkest, scene.Mid, scene.Lightest, len(scene.Entries), r, ok})
	}
	if box, err := wording.IgnoreMissing(snap.Box(boxOf(e))); box == nil || box.Received == nil {
		return err
	}
	l, err := calledfor.PlannedSheet(snap, e, &events.LightMeteredData{On: "scene", EV: new(9.0), Index: new(100.0), Light: "sun"}, func(paper *snapshot.Paper) { paper.FilterFactor *= 2 })
	if err == nil {
		low, high, known := l.Step.Between()
		found("planned", []any{l.Step.CalledForS, low, high, known, l.Made, l.X.PreFlash, l.Aged})
	}
	return err
}

// askBoxes works out what the strips of each box tell of it.
func askBoxes(snap *snapshot.Snapshot, found func(what string, v any)) error {
	boxes, err := snap.R.Entities(events.Box)
	if err != nil {
		return err
	}
	for _, t := range boxes {
		box, err := snap.Box(t.Name)
		if err != nil {
			return err
		}
		for _, generation := range []string{snapshot.Negative, snapshot.Positive} {
			for _, filter := range []string{"", "2", "yellow"} {
				tell, err := calledfor.ToldByStrips(snap, box, booktest.Recorded, generation, filter, "sun")
				if err != nil {
					return err
				}
				if len(tell.Names) > 0 {
					found(t.Name+" by its strips", []any{generation, filter, tell})
				}
			}
		}
	}
	return nil
}

// told is a step without the entries, the ids of which follow from what is written.
func told(s calledfor.Step) []any {
	call, _ := s.Call()
	return []any{s.CalledForS, call.LowS, call.HighS, s.DoneS, s.DeviationStops, s.Before, s.Called, minute(s.Serving), wording.Texts(s.Warnings), s.TempC, s.Used, s.Magnification, s.SetF}
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

// teaches is a day on which sheets are kept, in two lights and behind a filter, strips are read and boxes rated after them, sheets
// are tested and reversed, and depth and movement are written down.
var teaches = wharf + vcBox + `
paper.received 2026-05-01T08:06:00 "box":"old","name":"old stock","base":"fb","width_mm":100,"height_mm":125,"sheets":50,"index":3,"expires":"2024-03"
paper.rated 2026-05-01T08:07:00 "box":"old","index":2,"filter":"yellow"
paper.rated 2026-05-02T08:00:00 "box":"old","index":2.5,"generation":"negative"
bath.mixed 2026-05-02T08:10:00 "bath":"dev","role":"developer","name":"print developer","volume_ml":1000,"time_s":60,"capacity_m2":1
bath.mixed 2026-05-02T08:11:00 "bath":"fix","role":"fixer","name":"plain fixer","volume_ml":1000,"time_s":60,"capacity_m2":1
bath.mixed 2026-05-02T08:12:00 "bath":"bleach","role":"bleach","name":"reversal bleach","volume_ml":500,"time_s":60,"second_exposure_s":30
bath.mixed 2026-05-02T08:13:00 "bath":"clearing","role":"clearing-bath","name":"clearing bath","volume_ml":500,"time_s":40` + taught

var taught = in("wharf",
	`light.metered 10:00 "on":"scene","mode":"reflected","index":3,"f":8,"time_s":4,"of":"card","light":"sun"`,
	`light.metered 10:01 "on":"scene","mode":"reflected","ev":7,"index":100,"of":"shadow"`,
	`light.metered 10:02 "on":"scene","mode":"reflected","ev":11.5,"index":100,"of":"light"`,
	`sheet.exposed 10:10 "picture":"2026-001","box":"vc","f":8,"time_s":5,"planned_s":4,"timed":"measured","subject_mm":2000,"near_mm":1500,"far_mm":6000,"motion":"child"`,
	`sheet.developed 10:11 "sheet":"2026-001n","bath":"dev","time_s":60`, `sheet.fixed 10:12 "sheet":"2026-001n","bath":"fix","time_s":25`,
	`sheet.washed 10:13 "sheet":"2026-001n","changes":1,"volume_ml":500`, `sheet.judged 10:14 "sheet":"2026-001n","verdict":"keep"`,
	`sheet.exposed 10:20 "picture":"2026-002","box":"vc","f":11,"time_s":8,"planned_s":8,"timed":"planned","subject_mm":3000,"near_mm":2900,"motion_mm_s":2`,
	`sheet.developed 10:21 "sheet":"2026-002n","bath":"dev","time_s":60`, `sheet.fixed 10:22 "sheet":"2026-002n","bath":"fix","time_s":60`,
	`sheet.tested 10:23 "sheet":"2026-002n","test":"silver","result":"clear"`, `sheet.washed 10:24 "sheet":"2026-002n","changes":4,"volume_ml":1000`,
	`sheet.exposed 10:30 "picture":"2026-003","box":"vc","f":8,"time_s":5,"light":"shade","motion":"rest","motion_mm_s":0.5`,
	`sheet.exposed 10:31 "picture":"2026-004","box":"vc","f":8,"time_s":5,"filter":"2"`,
	`sheet.judged 10:32 "sheet":"2026-004n","verdict":"keep"`,
	`sheet.exposed 10:33 "picture":"2026-005","box":"vc","f":8,"time_s":9,"filter":"2","subject_mm":1000,"focused_mm":1100,"far_mm":1500`,
	`light.metered 11:00 "on":"negative","mode":"reflected","index":3,"f":11,"time_s":4,"light":"lamp"`,
	`sheet.reprinted 11:10 "picture":"2026-001","box":"vc","f":11,"time_s":18,"planned_s":16`, `sheet.judged 11:11 "sheet":"2026-001p1","verdict":"keep"`,
	`sheet.developed 11:12 "sheet":"2026-001p1","bath":"dev","time_s":60`, `sheet.fixed 11:13 "sheet":"2026-001p1","bath":"fix","time_s":60`,
	`sheet.reprinted 11:20 "picture":"2026-001","box":"vc","f":11,"time_s":24,"planned_s":16`, `sheet.judged 11:21 "sheet":"2026-001p2","verdict":"keep"`,
	`sheet.reprinted 11:30 "picture":"2026-001","box":"vc","f":11,"time_s":24`,
	`sheet.reprinted 11:31 "picture":"2026-001","box":"vc","f":11,"time_s":24,"filter":"2"`,
	`sheet.reprinted 11:32 "picture":"2026-001","box":"vc","time_s":24,"planned_s":20,"way":"contact"`,
	`strip.exposed 12:00 "strip":"s1","box":"vc","on":"scene","f":8,"times_s":[1,2,4,8,16,32]`,
	`strip.read 12:10 "strip":"s1","best":3,"threshold":2,"maximum_black":5,"bath":"dev","time_s":60`,
	`strip.exposed 12:20 "strip":"s2","box":"vc","on":"negative","picture":"2026-001","f":11,"times_s":[4,8,16,32],"filter":"2"`,
	`strip.read 12:30 "strip":"s2","best":2,"densities":[0.1,0.6,1.4,1.9]`,
	`light.metered 12:35 "on":"scene","mode":"reflected","index":3,"f":8,"time_s":4,"light":"shade"`,
	`strip.exposed 12:40 "strip":"s3","box":"box-1","on":"scene","f":8,"times_s":[1,2,4,8,16]`,
	`strip.read 12:50 "strip":"s3","best":4,"threshold":2,"maximum_black":5`,
	`strip.exposed 12:51 "strip":"s4","box":"box-1","on":"pre-flash","times_s":[1,2,4]`, `strip.read 12:55 "strip":"s4","threshold":2`,
	`strip.exposed 12:56 "strip":"s5","box":"old","on":"scene","f":8,"times_s":[1,2,4,8]`, `strip.read 12:57 "strip":"s5","best":2,"threshold":3,"maximum_black":2`,
	`strip.exposed 12:58 "strip":"s6","box":"old","on":"scene","f":8,"times_s":[1,2,4,8],"filter":"yellow"`, `strip.read 12:59 "strip":"s6","best":2,"densities":[0.2,0.9,1.6,1.9]`,
	`paper.rated 13:10 "box":"box-1","index":2.5`,
	`sheet.exposed 13:20 "picture":"2026-006","box":"box-1","f":8,"time_s":5,"pre_flash":0.3`,
	`sheet.exposed 13:30 "picture":"2026-007","box":"old","f":8,"time_s":5`,
	`sheet.developed 13:31 "sheet":"2026-007n","bath":"dev","time_s":60`,
	`sheet.reversed 13:32 "sheet":"2026-007n","stage":"bleach","bath":"bleach","time_s":55`, `sheet.reversed 13:33 "sheet":"2026-007n","stage":"clear","bath":"clearing","time_s":40`,
	`sheet.reversed 13:34 "sheet":"2026-007n","stage":"expose","time_s":20`, `sheet.developed 13:35 "sheet":"2026-007n","bath":"dev","time_s":60`,
	`sheet.fixed 13:36 "sheet":"2026-007n","bath":"fix","time_s":60`, `sheet.washed 13:37 "sheet":"2026-007n","changes":6,"volume_ml":1000`, `sheet.fixed 13:40 "sheet":"2026-007n","bath":"fix","time_s":60`)

// What every act of a season and of an outing called for, what its sheets are in the replay, what its washes left, what its
// strips and baths say, is held figure by figure.
func TestEverythingCallsForWhatItCalledFor(t *testing.T) {
	var out strings.Builder
	for _, c := range []struct {
		name string
		b    *sqlite.Book
	}{{"season", booktest.Season(t)}, {"outing", booktest.FromActs(t, booktest.Outing)}, {"a day of rare things", booktest.FromActs(t, booktest.RareDay+extremes)}, {"a day that teaches", booktest.FromActs(t, teaches)}, {"twenty days", booktest.TwentyDays(t)}} {
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
	booktest.TearFirst(t, booktest.FromActs(t, teaches), time.Time{}, ask)
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

// boxOf names the box that an exposure was made on.
func boxOf(e events.Entry) string {
	switch x := e.Data.(type) {
	case *events.SheetExposedData:
		return x.Box
	case *events.SheetReprintedData:
		return x.Box
	}
	return ""
}
