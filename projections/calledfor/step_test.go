package calledfor_test

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/projections/booktest"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// wharf is a camera of 150 mm that copies at f/11, a box of index 3, and a session.
const wharf = `
book.opened 2026-05-01T08:00:00 "zone":"Europe/Oslo"
camera.described 2026-05-01T08:01:00 "camera":"wharf-box","focal_mm":150,"f_widest":5.6,"f_smallest":45,"copy_f":11
paper.received 2026-05-01T08:02:00 "box":"box-1","name":"quay paper","base":"rc","width_mm":100,"height_mm":125,"sheets":100,"index":3
session.opened 2026-05-02T09:00:00 "session":"wharf","camera":"wharf-box"`

// in gives acts of the session, each "kind hh:mm data".
func in(session string, acts ...string) string {
	var out strings.Builder
	for _, act := range acts {
		kind, rest, _ := strings.Cut(act, " ")
		clock, data, _ := strings.Cut(rest, " ")
		fmt.Fprintf(&out, "\n%s 2026-05-02T%s:00 %s", kind, clock, data)
		if session != "" {
			fmt.Fprintf(&out, `,"session":%q`, session)
		}
	}
	return out.String()
}

// metered is a reading on the scene at index 3 that gives 4 s at f/8.
const metered = `light.metered 10:00 "on":"scene","mode":"reflected","index":3,"f":8,"time_s":4`

// stepOf works out the exposure, or the last of several, of one sheet.
func stepOf(t *testing.T, snap *snapshot.Snapshot, sheet string) calledfor.Step {
	t.Helper()
	p, s, err := snap.SheetByName(sheet)
	require.NoError(t, err)
	step, err := calledfor.StepOf(snap, p, s.Exposures[len(s.Exposures)-1])
	require.NoError(t, err)
	return step
}

// calls holds a called-for time in seconds, 0 for none, to a thousandth.
func calls(t *testing.T, want float64, step calledfor.Step) {
	t.Helper()
	if want == 0 {
		assert.Nil(t, step.CalledForS)
		assert.Nil(t, step.DeviationStops)
		return
	}
	if assert.NotNil(t, step.CalledForS) {
		assert.InDelta(t, want, *step.CalledForS, want*1e-3)
	}
	require.NotNil(t, step.DeviationStops)
	assert.InDelta(t, math.Log2(*step.DoneS/want), *step.DeviationStops, 2e-3)
}

// lastStep works out the exposure of the last sheet of 2026-001.
func lastStep(snap *snapshot.Snapshot) error {
	p, err := snap.Picture("2026-001")
	if err == nil {
		_, err = calledfor.StepOf(snap, p, *p.Sheets[len(p.Sheets)-1].Exposure())
	}
	return err
}

// vcBox is a box of variable-contrast paper.
const vcBox = "\n" + `paper.received 2026-05-01T08:05:00 "box":"vc","name":"Wharf","base":"rc","width_mm":100,"height_mm":125,"sheets":10,"index":3,"iso_r":105,"contrast":"variable"`

// The range of variable-contrast paper, on negative and print, under the light of its act: the one model of a sheet takes it.
func TestVariableContrastBySheet(t *testing.T) {
	const shot = `sheet.exposed 10:20 "picture":"2026-001","box":"vc","f":8,"time_s":4`
	const print = `sheet.reprinted 11:20 "picture":"2026-001","box":"vc","f":11,"time_s":4`
	for _, c := range []struct {
		name, acts string
		want       [2]float64 // range of the negative and of the print
	}{
		{"nobody says the light", in("wharf", metered, shot, print), [2]float64{105, 105}},
		{"in the sun, under a lamp", in("wharf", metered+`,"light":"sun"`, shot, `light.metered 11:00 "on":"negative","mode":"reflected","index":3,"f":11,"time_s":4,"light":"lamp"`, print), [2]float64{80, 105}},
		{"both in the shade", in("wharf", metered, shot+`,"light":"shade"`, `light.metered 11:00 "on":"negative","mode":"reflected","index":3,"f":11,"time_s":4,"light":"shade"`, print), [2]float64{80, 80}},
		{"behind filters", in("wharf", metered, shot+`,"light":"sun","filter":"00"`, print+`,"filter":"3"`), [2]float64{180, 90}},
	} {
		booktest.Look(t, booktest.FromActs(t, wharf+vcBox+c.acts), func(snap *snapshot.Snapshot) {
			p, err := snap.Picture("2026-001")
			require.NoError(t, err)
			for i, s := range p.Sheets {
				l, err := calledfor.SheetLogOf(snap, p, s)
				require.NoError(t, err)
				assert.InDelta(t, c.want[i], l.Made.Curve.R, 1e-9, "%s %s", c.name, s.Name)
				paper, _, err := calledfor.PaperAt(snap, s)
				require.NoError(t, err)
				assert.InDelta(t, c.want[i], paper.ISOR, 1e-9, "%s %s", c.name, s.Name)
			}
		})
	}
}

func TestWhatAnExposureCallsFor(t *testing.T) {
	const shot = `"picture":"2026-001","box":"box-1","f":8,"time_s":4`
	for _, c := range []struct {
		name, before, exposed string
		want                  float64 // seconds called for, 0 for none
		warns                 string
	}{
		{"as metered", in("wharf", metered), shot, 4, ""},
		{"two stops smaller", in("wharf", metered), `"picture":"2026-001","box":"box-1","f":16,"time_s":4`, 16, ""},
		{"meter at index 6", in("wharf", `light.metered 10:00 "on":"scene","mode":"reflected","index":6,"f":8,"time_s":4`), shot, 8, ""}, // 4 · 6/3
		// An exposure value: t = N²/2^EV · index of the meter/index of the paper = 64/2^8 · 100/3.
		{"EV 8 at index 100", in("wharf", `light.metered 10:00 "on":"scene","mode":"reflected","ev":8,"index":100`), shot, 8.3333, ""},
		{"EV 8 at index 25", in("wharf", `light.metered 10:00 "on":"scene","mode":"reflected","ev":8,"index":25`), shot, 2.0833, ""},
		// 2^EV100 = lux·100/250 and cd/m²·100/12.5 (ISO 2720): 64/400 · 100/3.
		{"1000 lx", in("wharf", `light.metered 10:00 "on":"scene","mode":"incident","lux":1000`), shot, 5.3333, ""},
		{"50 cd/m²", in("wharf", `light.metered 10:00 "on":"scene","mode":"reflected","cd_m2":50`), shot, 5.3333, ""},
		{"a tone placed a stop up", in("wharf", metered+`,"zone_stops":1`), shot, 8, ""},
		{"a tone placed a stop down", in("wharf", metered+`,"zone_stops":-1`), shot, 2, ""},
		{"the lightest patch of a scene is no clear base", in("wharf", metered+`,"of":"lightest"`), shot, 4, ""},
		// (1+m)²: m = 75/150, and m = 150/(750−150).
		{"drawn out 75 mm", in("wharf", metered), shot + `,"extension_mm":75`, 9, ""},
		{"at 750 mm", in("wharf", metered), shot + `,"subject_mm":750`, 6.25, ""},
		{"the ruler before the guess", in("wharf", metered), shot + `,"subject_mm":750,"extension_mm":75`, 9, ""},
		{"nearer than the lens can focus", in("wharf", metered), shot + `,"subject_mm":100`, 4, ""},
		// (1+m/P)² with P = 2: (1+0.25)².
		{"a lens of pupil ratio 2", "\n" + `camera.described 2026-05-01T08:05:00 "camera":"wharf-box","focal_mm":150,"f_widest":5.6,"f_smallest":45,"pupil_ratio":2` + in("wharf", metered), shot + `,"extension_mm":75`, 6.25, ""},
		{"a yellow filter of factor 4", in("wharf", metered), shot + `,"filter":"yellow","filter_factor":4`, 16, ""},
		{"metered through the filter", in("wharf", metered+`,"filter":"yellow"`), shot + `,"filter":"yellow","filter_factor":4`, 4, ""},
		{"metered through another", in("wharf", metered+`,"filter":"green"`), shot + `,"filter":"yellow","filter_factor":4`, 16, ""},
		{"a filter of which no factor is known", in("wharf", metered), shot + `,"filter":"yellow"`, 4, "no factor is known for the filter yellow, so none is counted: give --filter-factor"},
		{"a filter that paper does not see through", in("wharf", metered), shot + `,"filter":"red"`, 4, "paper sees blue and green: through red it is nearly blind, and no factor of it is known; make a strip first, or give --filter-factor"},
		{"a filter of variable-contrast paper", vcBox + in("wharf", metered), `"picture":"2026-001","box":"vc","f":8,"time_s":4,"filter":"2"`, 10, "filter 2 counts 2.5 times, as under an enlarger's lamp: daylight may ask for another; a strip tells it (paper rate --filter-factor)"},
		{"its factor given", vcBox + in("wharf", metered), `"picture":"2026-001","box":"vc","f":8,"time_s":4,"filter":"2","filter_factor":4`, 16, ""},
		{"its factor measured", vcBox + in("", `paper.rated 09:30 "box":"vc","filter":"2","filter_factor":3`) + in("wharf", metered), `"picture":"2026-001","box":"vc","f":8,"time_s":4,"filter":"2"`, 12, ""},
		{"one of which the factor is given", in("wharf", metered), shot + `,"filter":"red","filter_factor":300`, 1200, ""},
		{"a factor without its filter", in("wharf", metered), shot + `,"filter_factor":4`, 4, "a filter's factor counts only with its filter: name it with --filter"},
		{"the paper's own factor before the one given", in("", `paper.rated 09:30 "box":"box-1","filter":"yellow","filter_factor":3`) + in("wharf", metered), shot + `,"filter":"yellow","filter_factor":4`, 12, ""},
		// An index that was measured through the filter holds its factor: 4 · 3/1.5.
		{"an index through the filter", in("", `paper.rated 09:30 "box":"box-1","filter":"yellow","index":1.5`) + in("wharf", metered), shot + `,"filter":"yellow"`, 8, ""},
		{"rated for prints alone", in("", `paper.rated 09:30 "box":"box-1","generation":"positive","index":6`) + in("wharf", metered), shot, 4, ""},
		{"rated for lamps, metered by one", in("", `paper.rated 09:30 "box":"box-1","light":"lamp","index":1.5`) + in("wharf", metered+`,"light":"lamp"`), shot, 8, ""},
		{"rated for lamps, exposed by one", in("", `paper.rated 09:30 "box":"box-1","light":"lamp","index":1.5`) + in("wharf", metered+`,"light":"sun"`), shot + `,"light":"lamp"`, 8, ""},
		{"rated for lamps, nobody says", in("", `paper.rated 09:30 "box":"box-1","light":"lamp","index":1.5`) + in("wharf", metered), shot, 4, ""},
		// t^(1/0.9): 4^(10/9).
		{"reciprocity", in("", `paper.rated 09:30 "box":"box-1","reciprocity_p":0.9`) + in("wharf", metered), shot, 4.6661, ""},
		{"the later of two readings", in("wharf", metered, `light.metered 10:05 "on":"scene","mode":"reflected","index":3,"f":8,"time_s":7`), shot, 7, ""},
		{"its darkest and lightest, read after the tone", in("wharf", metered, `light.metered 10:05 "on":"scene","mode":"reflected","index":3,"f":8,"time_s":60,"of":"darkest"`, `light.metered 10:06 "on":"scene","mode":"reflected","index":3,"f":8,"time_s":0.5,"of":"lightest"`), shot, 4, ""},
		{"a shadow that says where it shall land", in("wharf", metered, `light.metered 10:05 "on":"scene","mode":"reflected","index":3,"f":8,"time_s":60,"of":"shadow","zone_stops":-2`), shot, 15, ""},
		{"a reading for this picture", in("wharf", metered+`,"picture":"2026-001"`), shot, 4, ""},
		{"a reading for another picture", in("wharf", `sheet.exposed 09:50 "picture":"2026-002","box":"box-1","f":8,"time_s":4`, metered+`,"picture":"2026-002"`), shot, 0, ""},
		{"a reading on a negative", in("wharf", `light.metered 10:00 "on":"negative","mode":"reflected","index":3,"f":8,"time_s":4`), shot, 0, ""},
		{"a reading later than the exposure", in("wharf", `light.metered 10:21 "on":"scene","mode":"reflected","index":3,"f":8,"time_s":4`), shot, 0, ""},
		{"no reading", "", shot, 0, ""},
		{"no index", "\n" + `paper.received 2026-05-01T08:05:00 "box":"box-9","name":"shed find","base":"rc","width_mm":100,"height_mm":125,"sheets":10` + in("wharf", metered),
			`"picture":"2026-001","box":"box-9","f":8,"time_s":4`, 0, "the box has no index and no ISO P, so no time can be called for: rate it with `traybook paper rate`"},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := booktest.FromActs(t, wharf+c.before+in("wharf", "sheet.exposed 10:20 "+c.exposed))
			booktest.Look(t, b, func(snap *snapshot.Snapshot) {
				step := stepOf(t, snap, "2026-001n")
				calls(t, c.want, step)
				require.NotNil(t, step.DoneS)
				assert.Equal(t, 4.0, *step.DoneS)
				if c.warns == "" {
					assert.Empty(t, step.Warnings)
				} else {
					assert.Equal(t, []string{c.warns}, wording.Texts(step.Warnings))
				}
				assert.Equal(t, c.want != 0, step.Called != nil)
			})
			booktest.Tear(t, b, time.Time{}, lastStep)
		})
	}
}

// Without a session the book's own latest readings serve, never one of a session.
func TestAnExposureOutsideAnySession(t *testing.T) {
	loose := in("", `light.metered 08:30 "on":"scene","mode":"reflected","index":3,"f":8,"time_s":6`, `sheet.exposed 08:40 "picture":"2026-001","box":"box-1","f":8,"time_s":4,"camera":"wharf-box","extension_mm":75`)
	b := booktest.FromActs(t, wharf+loose)
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		step := stepOf(t, snap, "2026-001n")
		calls(t, 6*2.25, step)
		assert.Equal(t, 0.5, step.Magnification)
		assert.Equal(t, 8.0, step.SetF)
		require.NotNil(t, step.Serving)
		assert.Equal(t, 30, step.Serving.At.Minute())
		// Without the id that the act carries, the search finds the same reading.
		p, s, err := snap.SheetByName("2026-001n")
		require.NoError(t, err)
		x := *s.Exposure().Data.(*events.SheetExposedData)
		x.Reading = ""
		serving, err := calledfor.ServesNegative(snap, p, *s.Exposure(), &x)
		require.NoError(t, err)
		require.NotNil(t, serving)
		assert.Equal(t, step.Serving.ID, serving.ID)
		x.Session = "wharf" // of the session itself there is none
		serving, err = calledfor.ServesNegative(snap, p, *s.Exposure(), &x)
		require.NoError(t, err)
		assert.Nil(t, serving)
	})
	booktest.Tear(t, b, booktest.Oslo(t, "2026-05-02T12:00:00"), func(snap *snapshot.Snapshot) error {
		p, s, err := snap.SheetByName("2026-001n")
		if err != nil {
			return err
		}
		x := *s.Exposure().Data.(*events.SheetExposedData)
		x.Reading = ""
		_, err = calledfor.ServesNegative(snap, p, *s.Exposure(), &x)
		return err
	})
}

// The lens of the moment counts: a camera described anew is another camera from then on.
func TestTheCameraAsItWasDescribedThen(t *testing.T) {
	acts := in("wharf", metered, `sheet.exposed 10:20 "picture":"2026-001","box":"box-1","f":8,"time_s":4,"extension_mm":75`) +
		"\n" + `camera.described 2026-05-02T11:00:00 "camera":"wharf-box","focal_mm":75,"f_widest":5.6,"f_smallest":45` +
		in("wharf", `sheet.exposed 11:20 "picture":"2026-002","box":"box-1","f":8,"time_s":4,"extension_mm":75`)
	booktest.Look(t, booktest.FromActs(t, wharf+acts), func(snap *snapshot.Snapshot) {
		calls(t, 9, stepOf(t, snap, "2026-001n"))  // (1 + 75/150)²
		calls(t, 16, stepOf(t, snap, "2026-002n")) // (1 + 75/75)²
	})
}

// negative is a negative that was exposed at 10:20 and developed at 10:30.
var negative = in("wharf", metered, `sheet.exposed 10:20 "picture":"2026-001","box":"box-1","f":8,"time_s":4`, `sheet.developed 10:30 "sheet":"2026-001n","bath":"dev-1","time_s":60`)

const trays = `
bath.mixed 2026-05-02T09:01:00 "bath":"dev-1","role":"developer","name":"print developer","volume_ml":1000,"time_s":60,"capacity_m2":1,"session":"wharf"
bath.mixed 2026-05-02T09:02:00 "bath":"fix-1","role":"fixer","name":"plain fixer","volume_ml":1000,"time_s":60,"capacity_m2":1,"session":"wharf"`

const onNegative = `"on":"negative","mode":"reflected","index":3,"f":11,"time_s":5`

// A copy at 1:1 draws the lens out to twice its length: (1+1)² = 4 times a reading. That is 20 s where the meter gave 5 s.
func TestWhatAPrintCallsFor(t *testing.T) {
	black, err := stripPaper.Curve()
	require.NoError(t, err)
	maximumBlack := black.Hs() / black.Hm
	const print = `sheet.reprinted 11:20 "picture":"2026-001","box":"box-1","time_s":20`
	kept := in("wharf", `sheet.reprinted 10:50 "picture":"2026-001","box":"box-1","time_s":20,"f":11`, `sheet.judged 10:55 "sheet":"2026-001p1","verdict":"keep"`)
	judged := func(asks string) string {
		return in("wharf", `sheet.reprinted 10:50 "picture":"2026-001","box":"box-1","time_s":20,"f":11`,
			`sheet.judged 10:55 "sheet":"2026-001p1","verdict":"redo"`+asks)
	}
	for _, c := range []struct {
		name, before, print string
		want                float64
		serves              string // the minute of what served it
		warns               string
	}{
		{"by the camera's own aperture", in("wharf", `light.metered 10:40 `+onNegative), print, 20, "10:40", ""},
		{"two stops open", in("wharf", `light.metered 10:40 `+onNegative), print + `,"f":5.6`, 5, "10:40", ""},
		{"half size", in("wharf", `light.metered 10:40 `+onNegative), print + `,"magnification":0.5`, 5 * 1.5 * 1.5, "10:40", ""},
		{"half size by the ruler", in("wharf", `light.metered 10:40 `+onNegative), print + `,"extension_mm":75`, 5 * 1.5 * 1.5, "10:40", ""},
		{"a ruler at infinity says nothing", in("wharf", `light.metered 10:40 `+onNegative), print + `,"extension_mm":0,"magnification":0.5`, 20, "10:40", ""},
		{"clear base", in("wharf", `light.metered 10:40 `+onNegative+`,"of":"lightest"`), print, 20 * maximumBlack, "10:40", ""},
		{"clear base, placed by hand", in("wharf", `light.metered 10:40 `+onNegative+`,"of":"lightest","zone_stops":1`), print, 40, "10:40", ""},
		{"a filter", in("wharf", `light.metered 10:40 `+onNegative), print + `,"filter":"yellow","filter_factor":2`, 40, "10:40", ""},
		{"of this picture before a later one of none", in("wharf", `light.metered 10:40 `+onNegative+`,"picture":"2026-001"`, `light.metered 10:45 "on":"negative","mode":"reflected","index":3,"f":11,"time_s":9`), print, 20, "10:40", ""},
		{"read before the negative was developed", in("wharf", `light.metered 10:29 `+onNegative), print, 0, "", ""},
		{"of another negative", in("wharf", `sheet.exposed 10:35 "picture":"2026-002","box":"box-1","f":8,"time_s":4`, `light.metered 10:40 `+onNegative+`,"picture":"2026-002"`), print, 0, "", ""},
		{"a contact print", in("wharf", `light.metered 10:40 `+onNegative), print + `,"way":"contact"`, 0, "", ""},
		{"an enlargement", in("wharf", `light.metered 10:40 `+onNegative), print + `,"way":"enlarger"`, 0, "", ""},
		{"nothing serves", "", print, 0, "", ""},

		{"a stop more", judged(`,"stops":1`), print, 40, "10:50", ""},
		{"half a stop less", judged(`,"stops":-0.5`), print, 20 * math.Sqrt(0.5), "10:50", ""},
		{"a print before a reading", in("wharf", `light.metered 10:40 `+onNegative) + judged(`,"stops":1`), print, 40, "10:50", ""},
		{"a print that asks for no change serves none", judged(``), print, 0, "", ""},
		{"an aperture smaller", judged(`,"stops":1`), print + `,"f":16`, 80, "10:50", ""},
		{"by another camera, whose lens is no symmetrical one", in("", `camera.described 09:05 "camera":"pier-box","focal_mm":150,"f_widest":5.6,"f_smallest":45,"copy_f":11,"pupil_ratio":0.5`) +
			in("wharf", `sheet.reprinted 10:50 "picture":"2026-001","box":"box-1","time_s":20,"f":11,"camera":"pier-box"`, `sheet.judged 10:55 "sheet":"2026-001p1","verdict":"redo","stops":1`), print, 40 * 4 / 9.0, "10:50", ""}, // (1+1)² where it was (1+1÷0.5)²
		{"half size of a print", judged(`,"stops":1`), print + `,"magnification":0.5`, 40 * 2.25 / 4, "10:50", ""},
		{"a filter that the other had not", judged(`,"stops":1`), print + `,"filter":"yellow","filter_factor":2`, 80, "10:50", ""},
		{"the index found meanwhile", judged(`,"stops":1`) + in("", `paper.rated 11:00 "box":"box-1","index":6`), print, 20, "10:50", ""},
		// What 20 s count for at p = 0.9, doubled: (20^0.9 · 2)^(1/0.9) = 20 · 2^(1/0.9).
		{"reciprocity", in("", `paper.rated 09:30 "box":"box-1","reciprocity_p":0.9`) + judged(`,"stops":1`), print, 20 * math.Exp2(1/0.9), "10:50", ""},
		{"the latest judgement of it", judged(`,"stops":1`) + in("wharf", `sheet.judged 11:00 "sheet":"2026-001p1","verdict":"redo","stops":2`), print, 80, "10:50", ""},
		{"a judgement that came too late", judged(`,"stops":1`) + in("wharf", `sheet.judged 11:21 "sheet":"2026-001p1","verdict":"redo","stops":2`), print, 40, "10:50", ""},
		{"the later of two prints", judged(`,"stops":1`) + in("wharf", `sheet.reprinted 11:00 "picture":"2026-001","box":"box-1","time_s":30,"f":11`, `sheet.judged 11:05 "sheet":"2026-001p2","verdict":"redo","stops":1`), print, 60, "11:00", ""},
		{"the later print, though judged first", in("wharf", `sheet.reprinted 10:50 "picture":"2026-001","box":"box-1","time_s":20,"f":11`, `sheet.reprinted 11:00 "picture":"2026-001","box":"box-1","time_s":30,"f":11`,
			`sheet.judged 11:05 "sheet":"2026-001p2","verdict":"redo","stops":1`, `sheet.judged 11:10 "sheet":"2026-001p1","verdict":"redo","stops":2`), print, 60, "11:00", ""},
		{"the later print though it was numbered first", in("wharf", `sheet.reprinted 10:50 "picture":"2026-001","sheet":"2026-001p2","box":"box-1","time_s":20,"f":11`, `sheet.judged 10:52 "sheet":"2026-001p2","verdict":"redo","stops":2`,
			`sheet.reprinted 10:55 "picture":"2026-001","sheet":"2026-001p1","box":"box-1","time_s":30,"f":11`, `sheet.judged 11:05 "sheet":"2026-001p1","verdict":"redo","stops":1`), print, 60, "10:55", ""},
		{"one that was kept", kept, print, 20, "10:50", ""},
		{"one that was kept, before an older reading", in("wharf", `light.metered 10:40 `+onNegative) + kept, print, 20, "10:50", ""},
		{"the negative read again since it was kept", kept + in("wharf", `light.metered 11:00 "on":"negative","mode":"reflected","index":3,"f":11,"time_s":4,"picture":"2026-001"`), print, 16, "11:00", ""},
		{"read again for nobody since it was kept", kept + in("wharf", `light.metered 11:00 "on":"negative","mode":"reflected","index":3,"f":11,"time_s":4`), print, 16, "11:00", ""},
		{"kept once dry, though a change was asked of it wet", judged(`,"stops":1`) + in("wharf", `sheet.judged 11:00 "sheet":"2026-001p1","verdict":"keep"`), print, 20, "10:50", ""},
		{"one that was kept, an aperture smaller", kept, print + `,"f":16`, 40, "10:50", ""},
		{"a print does not serve itself", judged(`,"stops":1`), print + `,"sheet":"2026-001p1"`, 0, "", ""},
		{"the one before, of a print exposed again", judged(`,"stops":1`) + in("wharf", `sheet.reprinted 11:00 "picture":"2026-001","box":"box-1","time_s":30,"f":11`, `sheet.judged 11:05 "sheet":"2026-001p2","verdict":"redo","stops":2`), print + `,"sheet":"2026-001p2"`, 40, "10:50", ""},
		{"an index for prints, and another for negatives", in("", `paper.rated 09:30 "box":"box-1","generation":"negative","index":9`) + judged(`,"stops":1`) + in("", `paper.rated 11:00 "box":"box-1","generation":"positive","index":6`), print, 20, "10:50", ""},
		{"a contact print serves no copy", in("wharf", `sheet.reprinted 10:50 "picture":"2026-001","box":"box-1","time_s":20,"way":"contact"`, `sheet.judged 10:55 "sheet":"2026-001p1","verdict":"redo","stops":1`), print, 0, "", ""},
		{"an enlargement serves no copy", in("wharf", `sheet.reprinted 10:50 "picture":"2026-001","box":"box-1","time_s":20,"way":"enlarger"`, `sheet.judged 10:55 "sheet":"2026-001p1","verdict":"redo","stops":1`), print, 0, "", ""},
		{"on another box", "\n" + `paper.received 2026-05-01T08:05:00 "box":"box-2","name":"slow paper","base":"rc","width_mm":100,"height_mm":125,"sheets":10,"index":3` +
			in("wharf", `sheet.reprinted 10:50 "picture":"2026-001","box":"box-2","time_s":20,"f":11`, `sheet.judged 10:55 "sheet":"2026-001p1","verdict":"redo","stops":1`), print, 0, "", ""},
		{"no aperture is known", "\n" + `camera.described 2026-05-01T08:05:00 "camera":"wharf-box","focal_mm":150,"f_widest":5.6,"f_smallest":45` + in("wharf", `light.metered 10:40 `+onNegative), print, 0, "",
			"no aperture is written for the copy, and the camera has none (copy_f): no time can be called for"},
		{"the aperture that was planned", "\n" + `camera.described 2026-05-01T08:05:00 "camera":"wharf-box","focal_mm":150,"f_widest":5.6,"f_smallest":45` + in("wharf", `light.metered 10:40 `+onNegative), print + `,"planned_f":5.6`, 5, "10:40", ""},
		{"the camera copies at half size", "\n" + `camera.described 2026-05-01T08:05:00 "camera":"wharf-box","focal_mm":150,"f_widest":5.6,"f_smallest":45,"copy_f":11,"copy_m":0.5` + in("wharf", `light.metered 10:40 `+onNegative), print, 5 * 2.25, "10:40", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := booktest.FromActs(t, wharf+trays+negative+c.before+in("wharf", c.print))
			booktest.Look(t, b, func(snap *snapshot.Snapshot) {
				p, err := snap.Picture("2026-001")
				require.NoError(t, err)
				last := p.Sheets[len(p.Sheets)-1]
				step := stepOf(t, snap, last.Name)
				calls(t, c.want, step)
				if c.serves != "" && assert.NotNil(t, step.Serving) {
					assert.Equal(t, c.serves, step.Serving.At.Format("15:04"))
					assert.Equal(t, *step.CalledForS, step.Called.TimeS)
				}
				if c.warns == "" {
					assert.Empty(t, step.Warnings)
				} else {
					assert.Equal(t, []string{c.warns}, wording.Texts(step.Warnings))
				}
			})
			booktest.Tear(t, b, time.Time{}, lastStep)
		})
	}
}

// The breakdown of a print that an earlier one serves adds up from the earlier time to the called-for one.
func TestAPrintAfterAPrintTellsItsFactors(t *testing.T) {
	b := booktest.FromActs(t, wharf+trays+negative+in("wharf", `sheet.reprinted 10:50 "picture":"2026-001","box":"box-1","time_s":20,"f":11`,
		`sheet.judged 10:55 "sheet":"2026-001p1","verdict":"redo","stops":1`)+in("", `paper.rated 11:00 "box":"box-1","index":6`)+
		in("wharf", `sheet.reprinted 11:20 "picture":"2026-001","box":"box-1","time_s":20,"f":16,"magnification":0.5,"filter":"yellow","filter_factor":2`))
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		c := stepOf(t, snap, "2026-001p2").Called
		require.NotNil(t, c)
		var names []string
		stops := map[string]float64{}
		for _, f := range c.Stops {
			names = append(names, f.Factor)
			stops[f.Factor] = f.Stops
		}
		assert.Equal(t, []string{"judged", "aperture", "index", "extension", "filter"}, names)
		assert.InDelta(t, 1, stops["judged"], 1e-9)
		assert.InDelta(t, 1, stops["aperture"], 1e-9)
		assert.InDelta(t, -1, stops["index"], 1e-9)
		assert.InDelta(t, math.Log2(2.25/4), stops["extension"], 1e-9)
		assert.InDelta(t, 1, stops["filter"], 1e-9)
		assert.Equal(t, 11.0, c.FromF)
		assert.Equal(t, 20.0, c.FromTimeS)
		assert.InDelta(t, 45, c.TimeS, 1e-6) // 20 · 2^(1+1−1+1) · 2.25/4
		assert.Equal(t, 45.0, c.SetTimeS)
		assert.InDelta(t, 0, c.ErrorStops, 1e-6)
	})
}

// Of a reading that names no picture: it is free for a picture as long as it served none of another, whatever served the
// prints that came in between.
func TestWhenAReadingOfNoPictureIsFree(t *testing.T) {
	const second = `sheet.exposed 10:32 "picture":"2026-002","box":"box-1","f":8,"time_s":4`
	developed := `sheet.developed 10:33 "sheet":"2026-002n","bath":"dev-1","time_s":60`
	print := func(clock, picture, more string) string {
		return `sheet.reprinted ` + clock + ` "picture":"` + picture + `","box":"box-1","time_s":20,"f":11` + more
	}
	for _, c := range []struct {
		name, before string // written before the reading of 10:58, so that no print carries it
		after        string // written after it
		sheet        string
		free         bool
	}{
		{"no print yet", "", print("11:10", "2026-002", ""), "2026-002p1", true},
		{"a print of another picture", in("wharf", print("11:00", "2026-001", "")), print("11:10", "2026-002", ""), "2026-002p1", false},
		{"one that an earlier print served", in("wharf", print("10:50", "2026-001", ""), `sheet.judged 10:55 "sheet":"2026-001p1","verdict":"redo","stops":1`, print("11:00", "2026-001", "")), print("11:10", "2026-002", ""), "2026-002p1", true},
		{"one whose negative was developed since", in("wharf", `sheet.exposed 10:34 "picture":"2026-003","box":"box-1","f":8,"time_s":4`, `sheet.developed 11:01 "sheet":"2026-003n","bath":"dev-1","time_s":60`, print("11:02", "2026-003", "")), print("11:10", "2026-002", ""), "2026-002p1", true},
		{"one that has a reading of its own", in("wharf", `light.metered 10:59 `+onNegative+`,"picture":"2026-001"`, print("11:00", "2026-001", "")), print("11:10", "2026-002", ""), "2026-002p1", true},
		{"one before it", in("wharf", print("10:50", "2026-001", "")), print("11:10", "2026-002", ""), "2026-002p1", true},
		{"one of the same picture", in("wharf", print("11:00", "2026-002", "")), print("11:10", "2026-002", ""), "2026-002p2", true},
		{"one that names it", "", print("11:00", "2026-001", `,"reading":"READING"`) + "\n" + print("11:10", "2026-002", ""), "2026-002p1", false},
		{"one of the same picture, and one that names it", in("wharf", print("11:00", "2026-002", "")), print("11:05", "2026-001", `,"reading":"READING"`) + "\n" + print("11:10", "2026-002", ""), "2026-002p2", false},
		{"one that comes after", "", print("11:05", "2026-002", `,"reading":"OTHER"`) + "\n" + print("11:10", "2026-001", ""), "2026-002p1", true},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := booktest.FromActs(t, wharf+trays+negative+in("wharf", second, developed)+c.before, in("wharf", `light.metered 10:58 `+onNegative))
			var reading, other string
			booktest.Look(t, b, func(snap *snapshot.Snapshot) {
				s, err := snap.Session("wharf")
				require.NoError(t, err)
				all := s.ReadingsByUse["negative"]
				reading, other = all[len(all)-1].ID.String(), s.ReadingsByUse["scene"][0].ID.String()
			})
			booktest.AddActs(t, b, in("wharf", strings.Split(strings.NewReplacer("READING", reading, "OTHER", other).Replace(c.after), "\n")...))
			booktest.Look(t, b, func(snap *snapshot.Snapshot) {
				free := func(sheet string, later time.Duration) bool {
					p, s, err := snap.SheetByName(sheet)
					require.NoError(t, err)
					e := *s.Exposure()
					e.At = e.At.Add(later)
					x := *e.Data.(*events.SheetReprintedData)
					x.Reading = ""
					r, _, err := calledfor.ServesPrint(snap, p, e, &x)
					require.NoError(t, err)
					return r != nil && r.ID.String() == reading
				}
				assert.Equal(t, c.free, free(c.sheet, 0))
				free(c.sheet, time.Hour)
				assert.Equal(t, c.free, free(c.sheet, 0), "whatever was asked for before")
			})
		})
	}
}

// A reading on a negative that names no picture serves the first picture that is printed after it, and no other.
func TestAReadingOfNoPictureServesOnlyOne(t *testing.T) {
	b := booktest.FromActs(t, wharf+trays+negative+in("wharf",
		`sheet.exposed 10:32 "picture":"2026-002","box":"box-1","f":8,"time_s":4`, `sheet.developed 10:33 "sheet":"2026-002n","bath":"dev-1","time_s":60`,
		`light.metered 10:40 `+onNegative,
		`sheet.reprinted 10:50 "picture":"2026-001","box":"box-1","time_s":20`, `sheet.reprinted 11:00 "picture":"2026-002","box":"box-1","time_s":20`,
		`sheet.reprinted 11:10 "picture":"2026-001","box":"box-1","time_s":20`))
	// The acts carry the reading that served them; without it each is looked for anew, through both ways of finding a rival.
	serves := func(snap *snapshot.Snapshot, sheet string) (string, error) {
		p, s, err := snap.SheetByName(sheet)
		if err != nil {
			return "", err
		}
		x := *s.Exposure().Data.(*events.SheetReprintedData)
		x.Reading = ""
		r, _, err := calledfor.ServesPrint(snap, p, *s.Exposure(), &x)
		if r == nil || err != nil {
			return "", err
		}
		return r.At.Format("15:04"), nil
	}
	want := map[string]string{"2026-001p1": "10:40", "2026-002p1": "", "2026-001p2": "10:40"}
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		for sheet, minute := range want {
			got, err := serves(snap, sheet)
			require.NoError(t, err)
			assert.Equal(t, minute, got, sheet)
		}
	})
	late := booktest.FromActs(t, wharf+trays+negative+in("wharf",
		`sheet.exposed 10:32 "picture":"2026-002","box":"box-1","f":8,"time_s":4`, `sheet.developed 10:33 "sheet":"2026-002n","bath":"dev-1","time_s":60`,
		`sheet.reprinted 10:50 "picture":"2026-001","box":"box-1","time_s":20`, `sheet.reprinted 11:00 "picture":"2026-002","box":"box-1","time_s":20`),
		in("wharf", `light.metered 10:40 `+onNegative)) // written down after both prints: they carry no reading
	booktest.Look(t, late, func(snap *snapshot.Snapshot) {
		first, err := serves(snap, "2026-001p1")
		require.NoError(t, err)
		second, err := serves(snap, "2026-002p1")
		require.NoError(t, err)
		assert.Equal(t, []string{"10:40", ""}, []string{first, second})
	})
	for name, book := range map[string]string{"carried": "2026-002p1", "found": "2026-002p1"} {
		t.Run("torn, "+name, func(t *testing.T) {
			of := b
			if name == "found" {
				of = late
			}
			booktest.Tear(t, of, booktest.Oslo(t, "2026-05-02T12:00:00"), func(snap *snapshot.Snapshot) error {
				_, err := serves(snap, book)
				return err
			})
		})
	}
}

// The camera of an act: the one it names, else that of its session; none where neither says, and a refusal where it is not there.
func TestTheCameraOfAnAct(t *testing.T) {
	b := booktest.FromActs(t, wharf+"\n"+`camera.described 2026-05-01T08:05:00 "camera":"skiff","focal_mm":90,"f_widest":5.6,"f_smallest":45`+"\n"+`session.opened 2026-05-02T09:01:00 "session":"bare"`)
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		e := events.Entry{At: booktest.Oslo(t, "2026-05-02T12:00:00")}
		for _, c := range []struct {
			session, camera string
			focal           float64 // 0 for none
		}{{"wharf", "", 150}, {"wharf", "skiff", 90}, {"", "skiff", 90}, {"bare", "", 0}, {"", "", 0}} {
			got, err := calledfor.CameraFor(snap, e, c.session, c.camera)
			require.NoError(t, err)
			if c.focal == 0 {
				assert.Nil(t, got, c)
			} else if assert.NotNil(t, got, c) {
				assert.Equal(t, c.focal, got.FocalMM)
			}
		}
		_, err := calledfor.CameraFor(snap, e, "gone", "")
		assert.ErrorContains(t, err, `there is no session "gone"`)
		_, err = calledfor.CameraFor(snap, e, "wharf", "gone")
		assert.ErrorContains(t, err, `there is no camera "gone"`)
	})
}

// Outside any session the newest few readings are looked through for one on the scene.
func TestAmongTheNewestReadingsOfTheBook(t *testing.T) {
	for after, want := range map[int]float64{7: 6, 8: 0} {
		acts := []string{`light.metered 08:30 "on":"scene","mode":"reflected","index":3,"f":8,"time_s":6`}
		for i := range after {
			acts = append(acts, fmt.Sprintf(`light.metered 08:%02d "on":"negative","mode":"reflected","index":3,"f":8,"time_s":1`, 31+i))
		}
		b := booktest.FromActs(t, wharf+in("", append(acts, `sheet.exposed 08:50 "picture":"2026-001","box":"box-1","f":8,"time_s":4,"camera":"wharf-box"`)...))
		booktest.Look(t, b, func(snap *snapshot.Snapshot) { calls(t, want, stepOf(t, snap, "2026-001n")) })
	}
}
