package calledfor_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/booktest"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

func logOf(t *testing.T, snap *snapshot.Snapshot, sheet string) *calledfor.SheetLog {
	t.Helper()
	p, s, err := snap.SheetByName(sheet)
	require.NoError(t, err)
	l, err := calledfor.SheetLogOf(snap, p, s)
	require.NoError(t, err)
	return l
}

// What is done to a sheet goes into the model of it: log2 of done over called for with each further exposure, the age of its
// paper, its pre-flash as a share of the threshold, its stray light, its development.
func TestWhatTheModelOfASheetIsMadeOf(t *testing.T) {
	const shot = `sheet.exposed 10:20 "picture":"2026-001","box":"box-1","f":8,"time_s":4`
	type made struct{ exposure, fog, flash, flare, dev float64 }
	plain := made{flare: calc.CameraFlare, dev: 1}
	of := func(change func(*made)) made { m := plain; change(&m); return m }
	flashed := func(share float64) float64 { // what the exposure is shortened by, on paper of R110
		c, err := calc.NewCurve(1, calc.DefaultISORange, calc.DefaultDmin, calc.DefaultDmaxGlossy)
		require.NoError(t, err)
		return math.Log2(1 - share*c.Ht()/c.Hm)
	}
	for _, c := range []struct {
		name, acts string
		want       made
	}{
		{"as called for", in("wharf", metered, shot), plain},
		{"twice as long", in("wharf", metered, `sheet.exposed 10:20 "picture":"2026-001","box":"box-1","f":8,"time_s":8`), of(func(m *made) { m.exposure = 1 })},
		// Exposed again for 12 s after 4 s: log2(16/4).
		{"exposed again", in("wharf", metered, shot, `sheet.exposed 10:25 "picture":"2026-001","sheet":"2026-001n","box":"box-1","f":8,"time_s":12`), of(func(m *made) { m.exposure = 2 })},
		{"a pre-flash as a share", in("wharf", metered, shot+`,"pre_flash":0.6,"pre_flash_s":9`), of(func(m *made) { m.flash, m.exposure = 0.6, flashed(0.6) })},
		{"a pre-flash of a rated paper", in("", `paper.rated 09:30 "box":"box-1","threshold_s":4`) + in("wharf", metered, shot+`,"pre_flash_s":1`), of(func(m *made) { m.flash, m.exposure = 0.25, flashed(0.25) })},
		{"a pre-flash that is a veil", in("wharf", metered, shot+`,"pre_flash":1.5`), of(func(m *made) { m.flash = 1.5 })},
		{"a pre-flash of which no threshold is known", in("wharf", metered, shot+`,"pre_flash_s":1`), plain},
		{"stray light", in("wharf", metered, shot+`,"flare":0.05`), of(func(m *made) { m.flare = 0.05 })},
		// Developed 60 s where 80 s were called for, then 40 s more: 100/80.
		{"developed twice", "\n" + `bath.mixed 2026-05-02T09:01:00 "bath":"dev-1","role":"developer","name":"print developer","volume_ml":1000,"time_s":80,"capacity_m2":1,"session":"wharf"` +
			in("wharf", metered, shot, `sheet.developed 10:30 "sheet":"2026-001n","bath":"dev-1","time_s":60`, `sheet.developed 10:40 "sheet":"2026-001n","bath":"dev-1","time_s":40`), of(func(m *made) { m.dev = 1.25 })},
		{"developed in no developer", trays + in("wharf", metered, shot, `sheet.developed 10:30 "sheet":"2026-001n","bath":"fix-1","time_s":20`), plain},
		// A developer that has stopped counts as half the time at that temperature, √ of it where the hand gave more than was asked.
		{"developed cold", trays + in("wharf", metered, shot, `sheet.developed 10:30 "sheet":"2026-001n","bath":"dev-1","time_s":60,"temp_c":12`), of(func(m *made) { m.dev = math.Exp2(-1.8) })}, // 2^((12−20)/10 − 1)
		{"developed cold, and long", trays + in("wharf", metered, shot, `sheet.developed 10:30 "sheet":"2026-001n","bath":"dev-1","time_s":600,"temp_c":12`), of(func(m *made) { m.dev = math.Exp2(-0.9) })},
		// Three years past its date: 0.2 stop and 0.03 for each year after the first (see calc.AgedPaper); months of 30.44 days.
		{"old paper", "\n" + `paper.received 2026-05-01T08:05:00 "box":"box-9","name":"attic find","base":"rc","width_mm":100,"height_mm":125,"sheets":10,"index":3,"expires":"2023-05-01"` +
			in("wharf", metered, `sheet.exposed 10:20 "picture":"2026-001","box":"box-9","f":8,"time_s":4`), of(func(m *made) { m.exposure, m.fog = -0.4, 0.06 })},
		{"paper half a year past its date", "\n" + `paper.received 2026-05-01T08:05:00 "box":"box-9","name":"attic find","base":"rc","width_mm":100,"height_mm":125,"sheets":10,"index":3,"expires":"2025-11"` +
			in("wharf", metered, `sheet.exposed 10:20 "picture":"2026-001","box":"box-9","f":8,"time_s":4`), plain},
		{"a cloud came", in("wharf", metered, shot, `light.metered 10:40 "on":"scene","mode":"reflected","index":3,"f":8,"time_s":8`), of(func(m *made) { m.exposure = -1 })},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := booktest.FromActs(t, wharf+c.acts)
			booktest.Look(t, b, func(snap *snapshot.Snapshot) {
				l := logOf(t, snap, "2026-001n")
				if c.want.flash > 0 && c.want.flash < 1 { // the called-for exposure counts it, and 4 s were given
					require.NotNil(t, l.Step.DeviationStops)
					assert.InDelta(t, -c.want.exposure, *l.Step.DeviationStops, 1e-9)
					assert.InDelta(t, c.want.exposure, l.Ideal.ExposureStops, 1e-9)
					assert.InDelta(t, 0, l.Made.ExposureStops, 1e-9)
					return
				}
				assert.InDelta(t, c.want.exposure, l.Made.ExposureStops, 0.002)
				assert.InDelta(t, c.want.fog, l.Made.FogDensity, 0.0005)
				assert.InDelta(t, c.want.flash, l.Made.PreFlashShare, 1e-9)
				assert.InDelta(t, c.want.flare, l.Made.Flare, 1e-9)
				assert.InDelta(t, c.want.dev, l.Made.DevRatio, 1e-9)
				assert.Equal(t, calc.SheetModel{Curve: l.Made.Curve, PreFlashShare: l.Made.PreFlashShare, Flare: calc.CameraFlare, IndexFlare: calc.CameraFlare, DevRatio: 1}.AsCalledFor(), l.Ideal)
			})
		})
	}
}

// The threshold of a pre-flash comes from the latest strip of pre-flashes that tells one; PreFlashThreshold takes the middle between the
// last step without a tone and the first with one, √(2·4) s here.
func TestAFlashAgainstAStripOfFlashes(t *testing.T) {
	strip := func(name, clock, read string, tone string) string {
		return in("wharf", `strip.exposed `+clock+` "strip":"`+name+`","box":"box-1","on":"pre-flash","times_s":[1,2,4,8]`, `strip.read `+read+` "strip":"`+name+`"`+tone)
	}
	b := booktest.FromActs(t, wharf+strip("s1", "09:10", "09:11", `,"threshold":2`)+strip("s2", "09:20", "09:21", `,"threshold":3`)+strip("s3", "09:30", "09:31", `,"text":"lost"`)+
		in("wharf", `strip.exposed 09:40 "strip":"s4","box":"box-1","on":"scene","f":8,"times_s":[1,2,4,8]`, `strip.read 09:41 "strip":"s4","threshold":4`,
			metered, `sheet.exposed 10:20 "picture":"2026-001","box":"box-1","f":8,"time_s":4,"pre_flash_s":1`)+
		strip("s5", "10:30", "10:31", `,"threshold":4`))
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		s, err := calledfor.StripOf(snap, "s2")
		require.NoError(t, err)
		estimate, low, high, ok := s.Threshold()
		require.True(t, ok)
		assert.InDeltaSlice(t, []float64{math.Sqrt(8), 2, 4}, []float64{estimate, low, high}, 1e-9)
		l := logOf(t, snap, "2026-001n")
		assert.InDelta(t, 1/math.Sqrt(8), l.X.PreFlash, 1e-9)
		assert.InDelta(t, 1/math.Sqrt(8), l.Made.PreFlashShare, 1e-9)
		s, err = calledfor.StripOf(snap, "s4")
		require.NoError(t, err)
		_, _, _, ok = s.Threshold()
		assert.False(t, ok, "a strip on the scene is no pre-flash")
	})
	booktest.Tear(t, b, booktest.Oslo(t, "2026-05-02T12:00:00"), func(snap *snapshot.Snapshot) error {
		p, err := snap.Picture("2026-001")
		if err == nil {
			_, err = calledfor.TonesOf(snap, p)
		}
		return err
	})
}

// A pre-flash at or over the threshold is a slip that the ideal sheet has not; one below is meant.
func TestTheIdealSheetKeepsAFlashBelowTheThreshold(t *testing.T) {
	for flash, kept := range map[string]float64{"0.9": 0.9, "1.2": 0} {
		b := booktest.FromActs(t, wharf+in("wharf", metered, `sheet.exposed 10:20 "picture":"2026-001","box":"box-1","f":8,"time_s":4,"pre_flash":`+flash))
		booktest.Look(t, b, func(snap *snapshot.Snapshot) { assert.Equal(t, kept, logOf(t, snap, "2026-001n").Ideal.PreFlashShare) })
	}
}

// How far the light moved between a reading and its exposure: by a second reading within the hour after it, taken the same
// way and not for another picture.
func TestTheLightAtTheExposure(t *testing.T) {
	const shot = `sheet.exposed 10:20 "picture":"2026-001","box":"box-1","f":8,"time_s":4`
	second := func(clock, rest string) string {
		return `light.metered ` + clock + ` "on":"scene","mode":"reflected",` + rest
	}
	for _, c := range []struct {
		name, acts string
		want       float64
		from       string // the minute of the second reading
	}{
		{"half the light", in("wharf", metered, shot, second("10:40", `"index":3,"f":8,"time_s":8`)), -1, "10:40"},
		{"twice the light", in("wharf", metered, shot, second("10:40", `"index":3,"f":8,"time_s":2`)), 1, "10:40"},
		{"the first after it", in("wharf", metered, shot, second("10:40", `"index":3,"f":8,"time_s":2`), second("10:50", `"index":3,"f":8,"time_s":1`)), 1, "10:40"},
		{"less than a hand's scatter", in("wharf", metered, shot, second("10:40", `"index":3,"f":8,"time_s":4.3`)), 0, ""},
		{"at the hour", in("wharf", metered, shot, second("11:20", `"index":3,"f":8,"time_s":8`)), -1, "11:20"},
		{"past the hour", in("wharf", metered, shot, second("11:21", `"index":3,"f":8,"time_s":8`)), 0, ""},
		{"of another tone", in("wharf", metered, shot, second("10:40", `"index":3,"f":8,"time_s":8,"of":"shadow"`)), 0, ""},
		{"of another mode", in("wharf", metered, shot, `light.metered 10:40 "on":"scene","mode":"incident","lux":1000`), 0, ""},
		{"placed elsewhere", in("wharf", metered, shot, second("10:40", `"index":3,"f":8,"time_s":8,"zone_stops":1`)), 0, ""},
		{"through a filter", in("wharf", metered, shot, second("10:40", `"index":3,"f":8,"time_s":8,"filter":"yellow"`)), 0, ""},
		{"on a negative", in("wharf", metered, shot, `light.metered 10:40 "on":"negative","mode":"reflected","index":3,"f":8,"time_s":8`), 0, ""},
		{"that served another picture", in("wharf", metered, shot, second("10:40", `"index":3,"f":8,"time_s":8`), `sheet.exposed 10:45 "picture":"2026-002","box":"box-1","f":8,"time_s":8`), 0, ""},
		{"that served this picture again", in("wharf", metered, shot, second("10:40", `"index":3,"f":8,"time_s":8`), `sheet.exposed 10:45 "picture":"2026-001","sheet":"2026-001n","box":"box-1","f":8,"time_s":8`), -1, "10:40"},
		{"of this very picture", in("wharf", metered+`,"picture":"2026-001"`, shot, second("10:40", `"index":3,"f":8,"time_s":8,"picture":"2026-001"`)), -1, "10:40"},
		{"without a first one", in("wharf", shot, second("10:40", `"index":3,"f":8,"time_s":8`)), 0, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := booktest.FromActs(t, wharf+c.acts)
			booktest.Look(t, b, func(snap *snapshot.Snapshot) {
				l := logOf(t, snap, "2026-001n")
				assert.InDelta(t, c.want, l.Light.Stops, 1e-9)
				if c.from == "" {
					assert.Nil(t, l.Light.Second)
				} else if assert.NotNil(t, l.Light.Second) {
					assert.Equal(t, c.from, l.Light.Second.At.Format("15:04"))
				}
			})
			booktest.Tear(t, b, booktest.Oslo(t, "2026-05-02T12:00:00"), func(snap *snapshot.Snapshot) error {
				p, s, err := snap.SheetByName("2026-001n")
				if err == nil {
					_, err = calledfor.SheetLogOf(snap, p, s)
				}
				return err
			})
		})
	}
}

// Of a print the light moved as a second reading on its negative tells: one for its picture, or, where the first named no
// picture either, one of none.
func TestTheLightAtAPrint(t *testing.T) {
	second := `light.metered 11:00 "on":"negative","mode":"reflected","index":3,"f":11,"time_s":10`
	for name, c := range map[string]struct {
		acts string
		want float64
	}{
		"of no picture":                    {in("wharf", `light.metered 10:40 `+onNegative, `sheet.reprinted 10:50 "picture":"2026-001","box":"box-1","time_s":20`, second), -1},
		"of this picture":                  {in("wharf", `light.metered 10:40 `+onNegative+`,"picture":"2026-001"`, `sheet.reprinted 10:50 "picture":"2026-001","box":"box-1","time_s":20`, second+`,"picture":"2026-001"`), -1},
		"of this picture, and one of none": {in("wharf", `light.metered 10:40 `+onNegative+`,"picture":"2026-001"`, `sheet.reprinted 10:50 "picture":"2026-001","box":"box-1","time_s":20`, second), 0},
		"by an earlier print":              {in("wharf", `sheet.reprinted 10:40 "picture":"2026-001","box":"box-1","time_s":20,"f":11`, `sheet.judged 10:42 "sheet":"2026-001p1","verdict":"redo","stops":1`, `sheet.reprinted 10:50 "picture":"2026-001","box":"box-1","time_s":20`, second), 0},
	} {
		booktest.Look(t, booktest.FromActs(t, wharf+trays+negative+c.acts), func(snap *snapshot.Snapshot) {
			p, err := snap.Picture("2026-001")
			require.NoError(t, err)
			l := logOf(t, snap, p.Sheets[len(p.Sheets)-1].Name)
			require.NotNil(t, l.Step.CalledForS, name)
			assert.InDelta(t, c.want, l.Light.Stops, 1e-9, name)
			assert.Zero(t, l.X.PreFlash)
			assert.True(t, l.Metered)
		})
	}
}

// A sheet of a box of which nothing counts any more, or of a paper that no curve fits, has a model all the same: that of a
// paper of R110.
func TestAModelOfAnyPaper(t *testing.T) {
	usual, err := calc.NewCurve(10./3, calc.DefaultISORange, calc.DefaultDmin, calc.DefaultDmaxGlossy)
	require.NoError(t, err)
	odd := booktest.FromActs(t, wharf+"\n"+`paper.rated 2026-05-02T09:30:00 "box":"box-1","iso_r":1000`+in("wharf", metered, `sheet.exposed 10:20 "picture":"2026-001","box":"box-1","f":8,"time_s":4`))
	booktest.Look(t, odd, func(snap *snapshot.Snapshot) { assert.Equal(t, usual, logOf(t, snap, "2026-001n").Made.Curve) })
	gone := booktest.FromActs(t, wharf+in("wharf", metered, `sheet.exposed 10:20 "picture":"2026-001","box":"box-1","f":8,"time_s":4`))
	var received events.Entry
	booktest.Look(t, gone, func(snap *snapshot.Snapshot) { received = entriesOf(t, snap, events.PaperReceived)[0] })
	booktest.AddActs(t, gone, `entry.voided 2026-05-02T12:00:00 "entry":"`+received.ID.String()+`"`)
	booktest.Look(t, gone, func(snap *snapshot.Snapshot) {
		l := logOf(t, snap, "2026-001n")
		assert.Zero(t, l.Aged)
		assert.Equal(t, usual, l.Made.Curve)
		assert.Equal(t, 4.0, l.X.TimeS)
	})
}

// Where nobody read the light again, sun and sky tell how it moved, near rise or set and where the place is known. On 2 May at
// 59.9° N 10.7° E the sun sets at about 21:10; log2 of the illuminances of calc.SunLux is what is wanted.
func TestTheLightAtDusk(t *testing.T) {
	const shot = `"picture":"2026-001","box":"box-1","f":8,"time_s":4`
	lux := func(clock string, sky float64) float64 {
		v, err := calc.SunLux(booktest.Oslo(t, "2026-05-02T"+clock), 59.9, 10.7, sky)
		require.NoError(t, err)
		return v
	}
	moved := func(from, to string) float64 { return math.Log2(lux(to, 1) / lux(from, 1)) }
	session := func(more string) string {
		return "\n" + `session.opened 2026-05-02T09:01:00 "session":"dusk","camera":"wharf-box"` + more
	}
	const at = `,"lat":59.9,"lon":10.7`
	read := func(clock, more string) string {
		return `light.metered ` + clock + ` "on":"scene","mode":"reflected","index":3,"f":8,"time_s":4` + more
	}
	cloud, ok := calc.SkyFactor("cloud")
	require.True(t, ok)
	for _, c := range []struct {
		name, acts string
		want       float64
	}{
		{"an hour before sunset", session(at) + in("dusk", read("19:40", ""), `sheet.exposed 20:10 `+shot), moved("19:40:00", "20:10:00")},
		{"under cloud", session(at+`,"sky":"cloud"`) + in("dusk", read("19:40", ""), `sheet.exposed 20:10 `+shot), math.Log2(lux("20:10:00", cloud) / lux("19:40:00", cloud))},
		{"more than two hours before sunset", session(at) + in("dusk", read("18:00", ""), `sheet.exposed 19:00 `+shot), 0},
		{"after the sun rose", session(at) + in("dusk", read("05:20", ""), `sheet.exposed 06:00 `+shot), moved("05:20:00", "06:00:00")},
		{"at noon", session(at) + in("dusk", read("10:00", ""), `sheet.exposed 13:00 `+shot), 0},
		{"where nobody knows", session("") + in("dusk", read("19:40", ""), `sheet.exposed 20:10 `+shot), 0},
		{"by a lamp", session(at) + in("dusk", read("19:40", `,"light":"lamp"`), `sheet.exposed 20:10 `+shot), 0},
		{"in a session by a lamp", session(at+`,"light":"lamp"`) + in("dusk", read("19:40", ""), `sheet.exposed 20:10 `+shot), 0},
		{"too little to tell", session(at) + in("dusk", read("20:08", ""), `sheet.exposed 20:10 `+shot), 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := booktest.FromActs(t, wharf+c.acts)
			booktest.Look(t, b, func(snap *snapshot.Snapshot) {
				l := logOf(t, snap, "2026-001n")
				require.NotNil(t, l.Step.CalledForS)
				assert.InDelta(t, c.want, l.Light.Stops, 1e-9)
				assert.Nil(t, l.Light.Second)
			})
		})
	}
}

// A stay's time taken apart: hand, warmth, use and age add up to log2 of what was given over what was called for.
func TestAStayTakenApart(t *testing.T) {
	const shot = `sheet.exposed 10:20 "picture":"2026-001","box":"box-1","f":8,"time_s":4`
	mix := func(more string) string {
		return "\n" + `bath.mixed 2026-05-02T09:01:00 "bath":"tray","role":"developer","name":"bath","volume_ml":1000,"time_s":60,"session":"wharf"` + more
	}
	before := in("wharf", `sheet.exposed 09:30 "picture":"2026-002","box":"box-1","f":8,"time_s":4`, `sheet.developed 09:40 "sheet":"2026-002n","bath":"tray","time_s":60`)
	for _, c := range []struct {
		name, acts              string
		hand, warmth, used, old float64
		isOld                   bool
	}{
		{"as called for", mix(`,"capacity_m2":1`) + in("wharf", shot, `sheet.developed 10:30 "sheet":"2026-001n","bath":"tray","time_s":60`), 0, 0, 0, 0, false},
		{"half the time", mix(`,"capacity_m2":1`) + in("wharf", shot, `sheet.developed 10:30 "sheet":"2026-001n","bath":"tray","time_s":30`), -1, 0, 0, 0, false},
		{"warm by 5 °C", mix(`,"capacity_m2":1`) + in("wharf", shot, `sheet.developed 10:30 "sheet":"2026-001n","bath":"tray","time_s":60,"temp_c":25`), 0, 0.5, 0, 0, false},
		{"cold by 5 °C", mix(`,"capacity_m2":1`) + in("wharf", shot, `sheet.developed 10:30 "sheet":"2026-001n","bath":"tray","time_s":60,"temp_c":15`), 0, -0.5, 0, 0, false},
		{"warm by 1 °C is the hand's", mix(`,"capacity_m2":1`) + in("wharf", shot, `sheet.developed 10:30 "sheet":"2026-001n","bath":"tray","time_s":60,"temp_c":21`), 0.1, 0, 0, 0, false},
		// One sheet of 0.0125 m² before it: 1 + 0.5·u.
		{"used up", mix(`,"capacity_m2":0.0125`) + before + in("wharf", shot, `sheet.developed 10:30 "sheet":"2026-001n","bath":"tray","time_s":60`), 0, 0, -math.Log2(1.5), 0, false},
		{"half used is the hand's", mix(`,"capacity_m2":0.025`) + before + in("wharf", shot, `sheet.developed 10:30 "sheet":"2026-001n","bath":"tray","time_s":60`), -math.Log2(1.25), 0, 0, 0, false},
		// In the tray since 9:01, at 10:31 for an hour and a half: of a life of one hour 1.25 at least, of half an hour 1 + 0.5·(3 − 1) = 2.
		{"old", mix(`,"life_h":1`) + in("wharf", shot, `sheet.developed 10:31 "sheet":"2026-001n","bath":"tray","time_s":60`), 0, 0, 0, -math.Log2(1.25), true},
		{"very old", mix(`,"life_h":0.5`) + in("wharf", shot, `sheet.developed 10:31 "sheet":"2026-001n","bath":"tray","time_s":60`), 0, 0, 0, -1, true},
		{"a little past its life", mix(`,"life_h":1.3`) + in("wharf", shot, `sheet.developed 10:31 "sheet":"2026-001n","bath":"tray","time_s":60`), 0, 0, 0, 0, false},
		{"a concentrate a year past its date", mix(`,"expires":"2025-04"`) + in("wharf", shot, `sheet.developed 10:31 "sheet":"2026-001n","bath":"tray","time_s":60`), 0, 0, 0, -math.Log2(1.25), true},
		{"a concentrate half a year past its date", mix(`,"expires":"2025-11"`) + in("wharf", shot, `sheet.developed 10:31 "sheet":"2026-001n","bath":"tray","time_s":60`), 0, 0, 0, 0, false},
		{"too long in its bottle", "\n" + `bath.mixed 2026-05-01T09:01:00 "bath":"tray","role":"developer","name":"bath","volume_ml":1000,"time_s":60,"bottle_days":0.5` + "\n" + `bath.moved 2026-05-01T09:02:00 "bath":"tray","to":"bottle"` +
			in("wharf", shot, `sheet.developed 10:31 "sheet":"2026-001n","bath":"tray","time_s":60`), 0, 0, 0, -math.Log2(1.25), true},
		// No time is called for, so nobody is accused.
		{"nothing says how long", "\n" + `bath.mixed 2026-05-02T09:01:00 "bath":"tray","role":"developer","name":"bath","volume_ml":1000,"session":"wharf"` + in("wharf", shot, `sheet.developed 10:30 "sheet":"2026-001n","bath":"tray","time_s":30,"temp_c":30`), 0, 0, 0, 0, false},
		{"stopped by cold", mix(``) + in("wharf", shot, `sheet.developed 10:30 "sheet":"2026-001n","bath":"tray","time_s":60,"temp_c":10`), 0, -2, 0, 0, false}, // 2^((10−20)/10), and once more
	} {
		t.Run(c.name, func(t *testing.T) {
			b := booktest.FromActs(t, wharf+c.acts)
			booktest.Look(t, b, func(snap *snapshot.Snapshot) {
				p, s, err := snap.SheetByName("2026-001n")
				require.NoError(t, err)
				in, wrong, err := calledfor.Stays(snap, p, s, "developer")
				require.NoError(t, err)
				require.Empty(t, wrong)
				require.Len(t, in, 1)
				got := in[0]
				assert.InDeltaSlice(t, []float64{c.hand, c.warmth, c.used, c.old}, []float64{got.Hand, got.Warmth, got.Used, got.Old}, 1e-9)
				assert.InDelta(t, c.hand+c.warmth+c.used+c.old, got.Ratio(), 1e-9)
				assert.Equal(t, c.isOld, got.IsOld())
				assert.Equal(t, c.name != "half the time" && c.name != "nothing says how long", got.Done == 60)
			})
			booktest.Tear(t, b, time.Time{}, func(snap *snapshot.Snapshot) error {
				p, s, err := snap.SheetByName("2026-001n")
				if err == nil {
					_, _, err = calledfor.Stays(snap, p, s, "developer")
				}
				return err
			})
		})
	}
}

// A sheet that lay in a tray of another role is told apart, and the latest strip before a stay tells of silver.
func TestStaysInTheWrongBathAndInAFullOne(t *testing.T) {
	b := booktest.FromActs(t, wharf+trays+in("wharf", `sheet.exposed 10:00 "picture":"2026-001","box":"box-1","f":8,"time_s":4`,
		`sheet.fixed 10:10 "sheet":"2026-001n","bath":"dev-1","time_s":60`, `bath.tested 10:15 "bath":"fix-1","test":"silver-strip","value":2`,
		`sheet.fixed 10:20 "sheet":"2026-001n","bath":"fix-1","time_s":60`, `bath.tested 10:25 "bath":"fix-1","test":"silver-strip","value":1.9`,
		`bath.tested 10:26 "bath":"fix-1","test":"temperature","value":21`,
		`sheet.fixed 10:30 "sheet":"2026-001n","bath":"fix-1","time_s":60`, `bath.tested 10:35 "bath":"fix-1","test":"silver-strip","value":4`))
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		p, s, err := snap.SheetByName("2026-001n")
		require.NoError(t, err)
		in, wrong, err := calledfor.Stays(snap, p, s, "fixer")
		require.NoError(t, err)
		require.Len(t, wrong, 1)
		assert.Equal(t, "dev-1", wrong[0].Bath.Entity.Name)
		require.Len(t, in, 2)
		assert.Equal(t, []bool{true, false}, []bool{in[0].Silver(), in[1].Silver()})
	})
}

// What was said of a sheet becomes its symptoms: those named, else the one that a correction names.
func TestWhatWasSaidOfASheet(t *testing.T) {
	for judged, want := range map[string][]string{
		`"verdict":"redo","symptoms":["too-dark"],"stops":1`: {"too-dark"}, `"verdict":"redo","stops":1`: {"too-light"},
		`"verdict":"reject","stops":-1`: {"too-dark"}, `"verdict":"redo"`: nil, `"verdict":"redo","stops":0`: nil, `"verdict":"keep","stops":1`: nil,
	} {
		b := booktest.FromActs(t, wharf+in("wharf", `sheet.exposed 10:00 "picture":"2026-001","box":"box-1","f":8,"time_s":4`, `sheet.judged 10:10 "sheet":"2026-001n",`+judged))
		booktest.Look(t, b, func(snap *snapshot.Snapshot) {
			l := logOf(t, snap, "2026-001n")
			assert.Equal(t, want, l.Symptoms, judged)
			assert.Equal(t, judged[:16] != `"verdict":"keep"`, l.Failed, judged)
		})
	}
}

// A density of the mid-tone is no stops from it; the curve of R110 and Dmax 2.05 is followed up and down, and turned over for
// a paper that works directly.
func TestHowManyStopsADensityIsFromTheMidTone(t *testing.T) {
	curve, err := stripPaper.Curve()
	require.NoError(t, err)
	direct := stripPaper
	direct.Positive = true
	falling, err := direct.Curve()
	require.NoError(t, err)
	for _, stops := range []float64{-1, 0, 1, 1.5} {
		assert.InDelta(t, stops, calledfor.DarkStops(curve, curve.Density(math.Log10(curve.Hm)+stops*math.Log10(2))), 1e-6)
		assert.InDelta(t, stops, calledfor.DarkStops(falling, falling.Density(math.Log10(falling.Hm)-stops*math.Log10(2))), 1e-6)
	}
	for _, c := range []calc.Curve{curve, falling} {
		assert.InDelta(t, calledfor.DarkStops(c, c.Dmin+0.004), calledfor.DarkStops(c, -1), 1e-9, "base is as light as a sheet gets")
		assert.InDelta(t, calledfor.DarkStops(c, c.Dmax-0.004), calledfor.DarkStops(c, 9), 1e-9, "and Dmax as dark")
	}
}

// The least deviation that is told: 0.15 stop, or twice log2((t+sd)/t) of the cap.
func TestTheFloorOfADeviation(t *testing.T) {
	b := booktest.FromActs(t, wharf+"\n"+`camera.described 2026-05-01T08:05:00 "camera":"shaky","focal_mm":150,"f_widest":5.6,"f_smallest":45,"cap_sd_s":0.5
camera.described 2026-05-01T08:06:00 "camera":"counting","focal_mm":150,"f_widest":5.6,"f_smallest":45,"cap_share":0.1`+in("wharf", metered,
		`sheet.exposed 10:20 "picture":"2026-001","box":"box-1","f":8,"time_s":4,"camera":"wharf-box"`, `sheet.exposed 10:21 "picture":"2026-002","box":"box-1","f":8,"time_s":4,"camera":"shaky"`, `sheet.exposed 10:22 "picture":"2026-003","box":"box-1","f":8,"time_s":4,"camera":"counting"`))
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		steady, shaky, counting := logOf(t, snap, "2026-001n"), logOf(t, snap, "2026-002n"), logOf(t, snap, "2026-003n")
		assert.Equal(t, 0.15, steady.Floor(4))
		assert.InDelta(t, 2*math.Log2(1.1), steady.Floor(1), 1e-9)
		assert.InDelta(t, 2*math.Log2(4.5/4), shaky.Floor(4), 1e-9)
		assert.Equal(t, 0.15, steady.Floor(0))
		assert.InDelta(t, math.Log2(4.5/4), shaky.Step.Called.CapSDStops, 1e-9)
		assert.InDelta(t, 2*math.Log2(1+math.Hypot(0.1, 0.1/4)), counting.Floor(4), 1e-9, "a tenth of any time, and the usual constant")
		assert.InDelta(t, 2*math.Log2(1+math.Hypot(0.1, 0.1/60)), counting.Floor(60), 1e-9)
		assert.InDelta(t, math.Log2(1+math.Hypot(0.1, 0.1/4)), counting.Step.Called.CapSDStops, 1e-9)
	})
}

// What an exposure and a print say in common is read from the first, the time of the others added up.
func TestWhatAnExposureSays(t *testing.T) {
	b := booktest.FromActs(t, wharf+"\n"+`holder.loaded 2026-05-02T09:05:00 "holder":"left","box":"box-1"`+in("wharf",
		`sheet.exposed 10:00 "picture":"2026-001","box":"box-1","f":8,"time_s":4,"planned_f":11,"planned_s":5,"planned_box":"box-1","filter":"yellow","filter_factor":2,"holder":"left","pre_flash":0.5,"flare":0.02`,
		`sheet.exposed 10:01 "picture":"2026-001","sheet":"2026-001n","box":"box-1","f":8,"time_s":1`, `sheet.exposed 10:02 "picture":"2026-001","sheet":"2026-001n","box":"box-1","f":8,"time_s":2`,
		`sheet.reprinted 10:10 "picture":"2026-001","box":"box-1","f":11,"time_s":20,"planned_f":16,"planned_s":25,"filter":"green","filter_factor":3,"holder":"left","pre_flash":0.25`,
		`sheet.reprinted 10:11 "picture":"2026-001","sheet":"2026-001p1","box":"box-1","f":11,"time_s":7`))
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		n, p := logOf(t, snap, "2026-001n"), logOf(t, snap, "2026-001p1")
		for _, c := range []struct {
			l                                              *calledfor.SheetLog
			f, s, plannedF, plannedS, factor, flash, again float64
			filter                                         string
		}{{n, 8, 4, 11, 5, 2, 0.5, math.Log2(7.0 / 4), "yellow"}, {p, 11, 20, 16, 25, 3, 0.25, math.Log2(27.0 / 20), "green"}} {
			x := c.l.X
			assert.Equal(t, []float64{c.f, c.s, c.plannedF, c.plannedS, c.factor, c.flash}, []float64{x.F, x.TimeS, x.PlannedF, x.PlannedS, *x.Factor, x.PreFlash})
			assert.Equal(t, []string{c.filter, "left", "wharf", "wharf-box"}, []string{x.Filter, x.Holder, x.Session, x.Camera})
			assert.InDelta(t, c.again, c.l.AgainStops(), 1e-9)
		}
		assert.Equal(t, "box-1", n.X.PlannedBox)
	})
}

// The tones of a negative and of its print, each as it was made and as called for. What is called for does not depend on
// slips; a print metered on the negative that is there makes up for its exposure.
func TestTonesOfAPicture(t *testing.T) {
	acts := func(negativeS, copyReading string) string {
		return wharf + trays + in("wharf", metered, `sheet.exposed 10:20 "picture":"2026-001","box":"box-1","f":8,"time_s":`+negativeS,
			`sheet.developed 10:30 "sheet":"2026-001n","bath":"dev-1","time_s":60`, `light.metered 10:40 "on":"negative","mode":"reflected","index":3,"f":11,"time_s":5`+copyReading,
			`sheet.reprinted 10:50 "picture":"2026-001","box":"box-1","time_s":20`, `sheet.developed 10:55 "sheet":"2026-001p1","bath":"dev-1","time_s":60`)
	}
	tones := func(snap *snapshot.Snapshot) map[string]calledfor.SheetTones {
		p, err := snap.Picture("2026-001")
		require.NoError(t, err)
		out, err := calledfor.TonesOf(snap, p)
		require.NoError(t, err)
		return out
	}
	curve, err := stripPaper.Curve()
	require.NoError(t, err)
	good := booktest.FromActs(t, acts("4", ""))
	booktest.Look(t, good, func(snap *snapshot.Snapshot) {
		got := tones(snap)
		require.Len(t, got, 2)
		n, p := got["2026-001n"], got["2026-001p1"]
		assert.False(t, n.Positive)
		assert.True(t, p.Positive)
		assert.True(t, p.Made.CopyMeteredMid)
		stops, made, called := n.Densities()
		assert.Equal(t, []float64{-4, -3, -2, -1, 0, 1, 2, 3, 4}, stops)
		assert.InDeltaSlice(t, called, made, 1e-9)
		assert.InDelta(t, curve.Density(math.Log10(curve.Hm)), made[4], 0.01, "the mid-tone lies on the middle of the curve")
		assert.IsIncreasing(t, made)
		_, made, called = p.Densities()
		assert.InDelta(t, called[4], made[4], 0.02)
		assert.IsDecreasing(t, made)
	})
	booktest.Look(t, booktest.FromActs(t, acts("8", "")), func(snap *snapshot.Snapshot) {
		got := tones(snap)
		_, made, called := got["2026-001n"].Densities()
		assert.InDelta(t, called[5], made[4], 0.03, "a stop more on every tone")
		_, made, called = got["2026-001p1"].Densities()
		assert.InDelta(t, called[4], made[4], 0.1, "the copy was metered on the denser negative")
	})
	booktest.Look(t, booktest.FromActs(t, acts("4", `,"of":"lightest","zone_stops":0`)), func(snap *snapshot.Snapshot) {
		// Clear base was to be just maximum black: Hs over Hm of light more than the mid-tone behind the density of clear base.
		l := logOf(t, snap, "2026-001p1")
		g := l.TwoGenerations(logOf(t, snap, "2026-001n").Made, l.Made)
		assert.False(t, g.CopyMeteredMid)
		assert.InDelta(t, g.Neg.Negative(-4)+math.Log10(curve.Hs()/curve.Hm), g.Planned, 1e-9)
	})
	booktest.Tear(t, good, time.Time{}, func(snap *snapshot.Snapshot) error {
		p, err := snap.Picture("2026-001")
		if err == nil {
			_, err = calledfor.TonesOf(snap, p)
		}
		return err
	})
}

// Tones are told of a sheet only where the log says enough: an exposure that something called for, and a development that was
// held against a time.
func TestTonesOfWhatTheLogSaysTooLittle(t *testing.T) {
	const shot = `sheet.exposed 10:20 "picture":"2026-001","box":"box-1","f":8,"time_s":4`
	for name, c := range map[string]struct {
		acts string
		want []string
	}{
		"no reading":                {in("wharf", shot), []string{}},
		"not developed":             {in("wharf", metered, shot), []string{"2026-001n"}},
		"developed by no time":      {"\n" + `bath.mixed 2026-05-02T09:01:00 "bath":"tray","role":"developer","name":"bath","volume_ml":1000,"session":"wharf"` + in("wharf", metered, shot, `sheet.developed 10:30 "sheet":"2026-001n","bath":"tray","time_s":30`), []string{}},
		"a print nothing calls for": {in("wharf", metered, shot, `sheet.reprinted 10:50 "picture":"2026-001","box":"box-1","time_s":20`), []string{"2026-001n"}},
		"far beyond the model":      {in("wharf", metered, `sheet.exposed 10:20 "picture":"2026-001","box":"box-1","f":8,"time_s":86400`, `sheet.exposed 10:21 "picture":"2026-001","sheet":"2026-001n","box":"box-1","f":8,"time_s":86400`), []string{"2026-001n"}},
	} {
		t.Run(name, func(t *testing.T) {
			booktest.Look(t, booktest.FromActs(t, wharf+c.acts), func(snap *snapshot.Snapshot) {
				p, err := snap.Picture("2026-001")
				require.NoError(t, err)
				out, err := calledfor.TonesOf(snap, p)
				require.NoError(t, err)
				got := []string{}
				for name := range out {
					got = append(got, name)
				}
				assert.Equal(t, c.want, got)
			})
		})
	}
}

// A strip calls for what a sheet in its place would, on a negative by the camera's copy.
func TestWhatAStripCallsFor(t *testing.T) {
	for _, c := range []struct {
		name, before, strip string
		want                float64
		warns               []string
	}{
		{"on the scene", in("wharf", metered), `"on":"scene","f":16`, 16, nil},
		{"on the scene, drawn out", in("wharf", metered), `"on":"scene","f":8,"magnification":0.5`, 9, nil},
		{"through a filter", in("", `paper.rated 09:30 "box":"box-1","filter":"yellow","filter_factor":3`) + in("wharf", metered), `"on":"scene","f":8,"filter":"yellow"`, 12, nil},
		{"by the light of its reading", in("", `paper.rated 09:30 "box":"box-1","light":"lamp","index":1.5`) + in("wharf", metered+`,"light":"lamp"`), `"on":"scene","f":8`, 8, nil},
		{"no aperture", in("wharf", metered), `"on":"scene"`, 0, []string{"no aperture is written for strip s1: no time can be called for"}},
		{"nothing serves", "", `"on":"scene","f":8`, 0, nil},
		{"a pre-flash", in("wharf", metered), `"on":"pre-flash"`, 0, nil},
		{"on a negative", negative + in("wharf", `light.metered 10:40 `+onNegative), `"on":"negative","picture":"2026-001"`, 20, nil},
		{"on a negative, opened", negative + in("wharf", `light.metered 10:40 `+onNegative), `"on":"negative","picture":"2026-001","f":5.6`, 5, nil},
		{"on a negative, by the rating for prints", in("", `paper.rated 09:30 "box":"box-1","generation":"positive","index":1.5`) + negative + in("wharf", `light.metered 10:40 `+onNegative), `"on":"negative","picture":"2026-001"`, 40, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := booktest.FromActs(t, wharf+trays+c.before+in("wharf", `strip.exposed 11:00 "strip":"s1","box":"box-1","times_s":[2,4,8],`+c.strip))
			ask := func(snap *snapshot.Snapshot) (calledfor.Step, error) {
				s, err := calledfor.StripOf(snap, "s1")
				if err != nil {
					return calledfor.Step{}, err
				}
				return s.CalledFor(snap)
			}
			booktest.Look(t, b, func(snap *snapshot.Snapshot) {
				step, err := ask(snap)
				require.NoError(t, err)
				if c.want == 0 {
					assert.Nil(t, step.CalledForS)
				} else {
					require.NotNil(t, step.CalledForS)
					assert.InDelta(t, c.want, *step.CalledForS, c.want*1e-3)
				}
				assert.Equal(t, c.warns, wording.Texts(step.Warnings))
			})
			booktest.Tear(t, b, time.Time{}, func(snap *snapshot.Snapshot) error { _, err := ask(snap); return err })
		})
	}
}

// The light that a strip was exposed in: that of its reading, else of its session.
func TestTheLightOfAStrip(t *testing.T) {
	b := booktest.FromActs(t, wharf+"\n"+`session.opened 2026-05-02T09:01:00 "session":"hall","camera":"wharf-box","light":"lamp"`+in("hall", metered+`,"light":"sun"`, `light.metered 10:05 "on":"scene","mode":"reflected","index":3,"f":8,"time_s":4`))
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		read := entriesOf(t, snap, events.LightMetered)
		for _, c := range []struct {
			session string
			reading *events.Entry
			want    string
		}{{"hall", &read[0], "sun"}, {"hall", &read[1], "lamp"}, {"hall", nil, "lamp"}, {"wharf", nil, ""}, {"", nil, ""}, {"gone", nil, ""}} {
			got, err := calledfor.StripLight(snap, &events.StripExposedData{Carried: events.Carried{Session: c.session}}, c.reading)
			require.NoError(t, err)
			assert.Equal(t, c.want, got)
		}
	})
}

// Sun and sky are held against each other from a reading to an exposure of the same day: over a night none tells of the other.
func TestTheSunMovesWithinADay(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour+`
session.opened 2026-06-20T14:00:00 "session":"cape","place":"the cape","lat":58.9,"lon":5.7,"sky":"clear"`)
	moved := func(snap *snapshot.Snapshot, read, at string) float64 {
		first := events.Entry{Kind: events.LightMetered, At: booktest.Oslo(t, read), Data: &events.LightMeteredData{On: "scene"}}
		stops, err := calledfor.SunMoved(snap, "cape", &first, booktest.Oslo(t, at))
		require.NoError(t, err)
		return stops
	}
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		assert.Less(t, moved(snap, "2026-06-20T17:00:00", "2026-06-21T04:50:00"), -1.0, "within twelve hours")
		assert.Zero(t, moved(snap, "2026-06-20T16:30:00", "2026-06-21T04:50:00"), "beyond them")
		assert.Zero(t, moved(snap, "2026-06-20T17:00:00", "2026-06-20T16:00:00"), "read after it")
		assert.Zero(t, moved(snap, "2026-06-20T12:00:00", "2026-06-20T15:00:00"), "far from rise and set")
	})
}
