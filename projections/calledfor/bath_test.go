package calledfor_test

import (
	"math"
	"strings"
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

// entriesOf are the entries of a kind, in their order.
func entriesOf(t *testing.T, snap *snapshot.Snapshot, kind events.Kind) []events.Entry {
	t.Helper()
	found, err := snap.Entries(events.Query{Kinds: []events.Kind{kind}})
	require.NoError(t, err)
	return found
}

// stays works out every entry of a kind of the picture 2026-001.
func stays(t *testing.T, snap *snapshot.Snapshot, kind events.Kind) []calledfor.Step {
	t.Helper()
	p, err := snap.Picture("2026-001")
	require.NoError(t, err)
	var out []calledfor.Step
	for _, e := range p.All {
		if e.Kind == kind {
			s, err := calledfor.StepOf(snap, p, e)
			require.NoError(t, err)
			out = append(out, s)
		}
	}
	return out
}

// A sheet of 100 × 125 mm is 0.0125 m²: of a bath for 0.05 m² a quarter.
func TestWhatABathCallsFor(t *testing.T) {
	const shot = `sheet.exposed 10:00 "picture":"2026-001","box":"box-1","f":8,"time_s":4`
	mix := func(role, more string) string {
		return "\n" + `bath.mixed 2026-05-02T09:01:00 "bath":"tray","role":"` + role + `","name":"bath","volume_ml":1000,"session":"wharf"` + more
	}
	const other = `sheet.exposed 09:30 "picture":"2026-002","box":"box-1","f":8,"time_s":4`
	develop := `sheet.developed 10:10 "sheet":"2026-001n","bath":"tray","time_s":60`
	fix := `sheet.fixed 10:10 "sheet":"2026-001n","bath":"tray","time_s":60`
	for _, c := range []struct {
		name, before, act string
		kind              events.Kind
		want              float64 // seconds, 0 for none
		warns             []string
	}{
		{"its own time", mix("developer", `,"time_s":90`) + in("wharf", shot), develop, events.SheetDeveloped, 90, nil},
		{"no time", mix("developer", ``) + in("wharf", shot), develop, events.SheetDeveloped, 0, nil},
		{"the paper's own time first", mix("developer", `,"time_s":90`) + in("", `paper.rated 09:30 "box":"box-1","develop_s":75`) + in("wharf", shot), develop, events.SheetDeveloped, 75, nil},
		// The paper's time is one at 20 °C, whatever the bath's own is named for: 75 · 2^((20−25)/10).
		{"the paper's time at 20 °C", mix("developer", `,"time_s":90,"temp_c":25`) + in("", `paper.rated 09:30 "box":"box-1","develop_s":75`) + in("wharf", shot), develop, events.SheetDeveloped, 53.033, nil},
		// 90 · 2^((20−17)/10), measured at the bath and written with the act; the act's own counts.
		{"colder", mix("developer", `,"time_s":90`) + in("wharf", shot, `bath.tested 10:05 "bath":"tray","test":"temperature","value":17`), develop, events.SheetDeveloped, 110.80, nil},
		{"colder by the act", mix("developer", `,"time_s":90`) + in("wharf", shot, `bath.tested 10:05 "bath":"tray","test":"temperature","value":24`), develop + `,"temp_c":17`, events.SheetDeveloped, 110.80, nil},
		{"a test after it", mix("developer", `,"time_s":90`) + in("wharf", shot, `bath.tested 10:11 "bath":"tray","test":"temperature","value":17`), develop, events.SheetDeveloped, 90, nil},
		{"named for 24 °C, q10 of 3", mix("developer", `,"time_s":90,"temp_c":24,"q10":3`) + in("wharf", shot), develop + `,"temp_c":20`, events.SheetDeveloped, 139.67, nil}, // 90 · 3^0.4
		{"stopped by cold", mix("developer", `,"time_s":90`) + in("wharf", shot), develop + `,"temp_c":9`, events.SheetDeveloped, 0, []string{calc.ErrDeveloperCold.Error()}},
		{"hydroquinone stopped", mix("developer", `,"time_s":90`) + in("wharf", shot), develop + `,"temp_c":12`, events.SheetDeveloped, 156.70, []string{"under 13 °C hydroquinone has stopped: this is the time of a developer without it; warm the bath"}}, // 90 · 2^0.8
		{"slow", mix("developer", `,"time_s":90`) + in("wharf", shot), develop + `,"temp_c":15`, events.SheetDeveloped, 127.28, []string{"under 16 °C hydroquinone hardly works; warm the bath if you can"}},                                                 // 90 · 2^0.5
		// A quarter of the capacity seen: 1 + 0.5 · 0.25 of a developer, 2^0.25 of a fixer; the sheet itself is not counted.
		{"used a quarter", mix("developer", `,"time_s":80,"capacity_m2":0.05`) + in("wharf", other, `sheet.developed 09:40 "sheet":"2026-002n","bath":"tray","time_s":60`, shot), develop, events.SheetDeveloped, 90, nil},
		{"a fixer used a quarter", mix("fixer", `,"time_s":80,"capacity_m2":0.05`) + in("wharf", other, `sheet.fixed 09:40 "sheet":"2026-002n","bath":"tray","time_s":60`, shot), fix, events.SheetFixed, 95.137, nil},
		{"the paper's own fixing", mix("fixer", `,"time_s":80`) + "\n" + `paper.received 2026-05-01T08:03:00 "box":"box-2","name":"slow paper","base":"rc","width_mm":100,"height_mm":125,"sheets":10,"fix_s":120` +
			in("wharf", strings.Replace(shot, "box-1", "box-2", 1)), fix, events.SheetFixed, 120, nil},
		{"a developer has no fixing time", mix("developer", `,"time_s":90`) + "\n" + `paper.received 2026-05-01T08:03:00 "box":"box-2","name":"slow paper","base":"rc","width_mm":100,"height_mm":125,"sheets":10,"fix_s":120` +
			in("wharf", strings.Replace(shot, "box-1", "box-2", 1)), develop, events.SheetDeveloped, 90, nil},
		{"exhausted", mix("fixer", `,"time_s":80,"capacity_m2":0.0125`) + in("wharf", other, `sheet.fixed 09:40 "sheet":"2026-002n","bath":"tray","time_s":60`, shot), fix, events.SheetFixed, 160,
			[]string{"tray is exhausted: it has treated all the paper it can; mix fresh"}},
		{"old", mix("fixer", `,"time_s":80,"life_h":1`) + in("wharf", shot), fix, events.SheetFixed, 80, []string{"tray is past its life; mix fresh"}},
		{"beyond a formula", mix("developer", `,"time_s":90`) + in("wharf", shot), develop + `,"temp_c":80`, events.SheetDeveloped, 0,
			[]string{"temperature of the bath of 80 °C is outside what can be calculated; it must be between -5 °C and 60 °C"}},
		{"a rinse", mix("stop", `,"time_s":30`) + in("wharf", shot), `sheet.rinsed 10:10 "sheet":"2026-001n","bath":"tray","time_s":15`, events.SheetRinsed, 30, nil},
		{"a rinse in no bath", mix("stop", `,"time_s":30`) + in("wharf", shot), `sheet.rinsed 10:10 "sheet":"2026-001n","time_s":15`, events.SheetRinsed, 0, nil},
		{"a toner", mix("toner", `,"time_s":240`) + in("wharf", shot), `sheet.toned 10:10 "sheet":"2026-001n","bath":"tray","time_s":120`, events.SheetToned, 240, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := booktest.FromActs(t, wharf+c.before+in("wharf", c.act))
			booktest.Look(t, b, func(snap *snapshot.Snapshot) {
				all := stays(t, snap, c.kind)
				require.Len(t, all, 1)
				calls(t, c.want, all[0])
				assert.Equal(t, c.warns, wording.Texts(all[0].Warnings))
			})
		})
	}
}

// What a step tells of the bath: its temperature, its use before the sheet, its age.
func TestAStayTellsItsBath(t *testing.T) {
	b := booktest.FromActs(t, wharf+"\n"+`bath.mixed 2026-05-02T09:00:00 "bath":"tray","role":"developer","name":"bath","volume_ml":1000,"time_s":60,"capacity_m2":0.05,"life_h":8,"session":"wharf"`+in("wharf",
		`sheet.exposed 09:30 "picture":"2026-002","box":"box-1","f":8,"time_s":4`, `sheet.developed 09:40 "sheet":"2026-002n","bath":"tray","time_s":60`,
		`bath.tested 09:45 "bath":"tray","test":"temperature","value":18.5`,
		`sheet.exposed 10:00 "picture":"2026-001","box":"box-1","f":8,"time_s":4`, `sheet.developed 10:30 "sheet":"2026-001n","bath":"tray","time_s":60`))
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		s := stays(t, snap, events.SheetDeveloped)[0]
		assert.Equal(t, 18.5, s.TempC)
		assert.InDelta(t, 0.25, s.Used, 1e-9)
		require.NotNil(t, s.Bath)
		assert.InDelta(t, 1.5, s.Bath.Age.TrayH, 1e-9)
		assert.Equal(t, calc.BathWorking, s.Bath.Age.State)
		require.NotNil(t, s.Paper)
		assert.Equal(t, 3.0, s.Paper.Index)
	})
}

// What a bath calls for as it stands, by its own time: for the sheet that would go in next, which no longer counts the last.
func TestWhatABathCallsForNow(t *testing.T) {
	b := booktest.FromActs(t, wharf+"\n"+`bath.mixed 2026-05-02T09:01:00 "bath":"tray","role":"fixer","name":"bath","volume_ml":1000,"time_s":80,"capacity_m2":0.05,"session":"wharf"`+
		"\n"+`bath.mixed 2026-05-02T09:02:00 "bath":"hot","role":"developer","name":"bath","volume_ml":1000,"time_s":80,"temp_c":70,"session":"wharf"`+
		in("wharf", `sheet.exposed 09:30 "picture":"2026-001","box":"box-1","f":8,"time_s":4`, `sheet.fixed 09:40 "sheet":"2026-001n","bath":"tray","time_s":60`, `bath.discarded 12:00 "bath":"tray"`))
	need := func(snap *snapshot.Snapshot, bath, clock string) calledfor.BathNeed {
		tray, err := snap.Bath(bath)
		require.NoError(t, err)
		n, err := calledfor.NeedNow(snap, tray, nil, booktest.Oslo(t, "2026-05-02T"+clock))
		require.NoError(t, err)
		return n
	}
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		for clock, want := range map[string]float64{"09:30:00": 80, "09:40:00": 95.137, "11:59:00": 95.137} { // at the very instant it has gone in
			n := need(snap, "tray", clock)
			require.NotNil(t, n.TimeS, clock)
			assert.InDelta(t, want, *n.TimeS, 0.01, clock)
			assert.Empty(t, n.Warnings)
		}
		n := need(snap, "tray", "12:00:00")
		assert.Nil(t, n.TimeS)
		assert.Equal(t, []string{"tray was discarded before this"}, wording.Texts(n.Warnings))
		assert.Equal(t, snapshot.Discarded, n.Age.State)
		n = need(snap, "hot", "10:00:00")
		assert.Nil(t, n.TimeS)
		assert.Equal(t, []string{"nominal temperature of 70 °C is outside what can be calculated; it must be between -5 °C and 60 °C"}, wording.Texts(n.Warnings))
	})
	booktest.Tear(t, b, time.Time{}, func(snap *snapshot.Snapshot) error {
		tray, err := snap.Bath("tray")
		if err != nil {
			return err
		}
		_, err = calledfor.NeedNow(snap, tray, nil, booktest.Oslo(t, "2026-05-02T10:00:00"))
		return err
	})
}

// A bath past ten times its capacity calls for what it does at ten times: 80 · 2^10 of a fixer.
func TestABathIsUsedUpTenTimesAtMost(t *testing.T) {
	acts := wharf + "\n" + `bath.mixed 2026-05-02T09:01:00 "bath":"tray","role":"fixer","name":"bath","volume_ml":1000,"time_s":2,"capacity_m2":0.001,"session":"wharf"` +
		in("wharf", `sheet.exposed 09:30 "picture":"2026-002","box":"box-1","f":8,"time_s":4`, `sheet.fixed 09:40 "sheet":"2026-002n","bath":"tray","time_s":60`,
			`sheet.exposed 10:00 "picture":"2026-001","box":"box-1","f":8,"time_s":4`, `sheet.fixed 10:10 "sheet":"2026-001n","bath":"tray","time_s":60`)
	booktest.Look(t, booktest.FromActs(t, acts), func(snap *snapshot.Snapshot) {
		s := stays(t, snap, events.SheetFixed)[0]
		calls(t, 2048, s)
		assert.InDelta(t, 12.5, s.Used, 1e-9)
	})
}

// A second fixing adds to the first: 30 of 60 s and 40 of 80 s are half and half.
func TestFixingsAdd(t *testing.T) {
	b := booktest.FromActs(t, wharf+trays+"\n"+`bath.mixed 2026-05-02T09:03:00 "bath":"fix-2","role":"fixer","name":"second fixer","volume_ml":1000,"time_s":80,"capacity_m2":1,"session":"wharf"`+
		"\n"+`bath.mixed 2026-05-02T09:04:00 "bath":"fix-3","role":"fixer","name":"a mystery","volume_ml":1000,"capacity_m2":1,"session":"wharf"`+
		in("wharf", `sheet.exposed 10:00 "picture":"2026-001","box":"box-1","f":8,"time_s":4`, `sheet.fixed 10:10 "sheet":"2026-001n","bath":"fix-1","time_s":30`,
			`sheet.fixed 10:20 "sheet":"2026-001n","bath":"fix-2","time_s":40`, `sheet.fixed 10:30 "sheet":"2026-001n","bath":"fix-3","time_s":15`, `sheet.fixed 10:40 "sheet":"2026-001n","bath":"fix-2","time_s":40`))
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		all := stays(t, snap, events.SheetFixed)
		require.Len(t, all, 4)
		var before []float64
		for _, s := range all {
			before = append(before, s.Before)
		}
		assert.InDeltaSlice(t, []float64{0, 0.5, 1, 1}, before, 1e-9)
		assert.InDelta(t, -1, *all[0].DeviationStops, 1e-9)
		assert.InDelta(t, 0, *all[1].DeviationStops, 1e-9)
		assert.Nil(t, all[2].DeviationStops)
		assert.InDelta(t, math.Log2(1.5), *all[3].DeviationStops, 1e-9)
		_, sheet, err := snap.SheetByName("2026-001n")
		require.NoError(t, err)
		fixed := entriesOf(t, snap, events.SheetFixed)
		assert.Empty(t, calledfor.FixedInAll(sheet, fixed[0]))
		assert.Equal(t, "; 2 fixings add: 70 s in all", calledfor.FixedInAll(sheet, fixed[1]))
		assert.Equal(t, "; 4 fixings add: 2 min 5 s in all", calledfor.FixedInAll(sheet, fixed[3]))
	})
}

// A wash of resin-coated paper is four changes of 30 s, or 120 s of running water; of fibre six of 300 s or 1800 s, half of
// it after a washing aid.
func TestWhatAWashCallsFor(t *testing.T) {
	for _, c := range []struct {
		name         string
		base         calc.Base
		x            events.SheetWashedData
		called, done float64 // 0 for none
	}{
		{"changes", calc.ResinCoated, events.SheetWashedData{Changes: new(2)}, 120, 60},
		{"changes, soaked longer", calc.ResinCoated, events.SheetWashedData{Changes: new(2), SoakS: new(45.0)}, 120, 90},
		{"running", calc.ResinCoated, events.SheetWashedData{RunningS: new(90.0)}, 120, 90},
		{"changes and running", calc.ResinCoated, events.SheetWashedData{Changes: new(1), RunningS: new(60.0)}, 120, 90},
		{"fibre", calc.FibreBase, events.SheetWashedData{Changes: new(2)}, 3600, 600},
		{"fibre, running after changes", calc.FibreBase, events.SheetWashedData{Changes: new(2), RunningS: new(900.0)}, 3600, 1500},
		{"fibre after an aid", calc.FibreBase, events.SheetWashedData{Changes: new(2), Aid: "sulphite"}, 900, 600},
		{"fibre after an aid, running", calc.FibreBase, events.SheetWashedData{RunningS: new(600.0), Aid: "sulphite"}, 900, 600},
		{"nobody says how long", calc.FibreBase, events.SheetWashedData{}, 0, 0},
	} {
		called, done := calledfor.WashTime(c.base, &c.x)
		if c.called == 0 {
			assert.Nil(t, called, c.name)
			assert.Nil(t, done, c.name)
			continue
		}
		require.NotNil(t, called, c.name)
		require.NotNil(t, done, c.name)
		assert.InDelta(t, c.called, *called, 1e-9, c.name)
		assert.InDelta(t, c.done, *done, 1e-9, c.name)
	}
}

// One change of 1 l at 20 °C leaves of what is in a resin-coated sheet of 0.0125 m² q = e + (1 − e)·c ÷ (V + c), with
// e = exp(−30/10) and c = 30 · 0.0125 ml; 3 g/m² (30 ml/m² of 100 g/l) are there before.
func TestWhatAWashLeaves(t *testing.T) {
	q := math.Exp(-3) + (1-math.Exp(-3))*0.375/1000.375
	half := math.Exp(-3) + (1-math.Exp(-3))*0.1875/1000.1875   // half a sheet
	three := math.Exp(-3) + (1-math.Exp(-3))*1.125/501.125     // three sheets in half a litre
	cold := math.Exp(-1.5) + (1-math.Exp(-1.5))*0.375/1000.375 // at 10 °C a soak counts half
	wash := func(clock, more string) string { return `sheet.washed ` + clock + ` "sheet":"2026-001n"` + more }
	const one = `,"changes":1,"volume_ml":1000`
	for _, c := range []struct {
		name   string
		part   string
		acts   string
		left   float64 // share
		before float64 // of the last wash: the share of a wash before it
		text   string
	}{
		{"one change", "", in("wharf", wash("10:20", one)), q, 0, "; estimated 5.01 % of the hypo is left, 0.15 g/m², short (a model, no test; the limit of 0.014 g/m² was set for film)"},
		{"two washes", "", in("wharf", wash("10:20", one), wash("10:30", `,"changes":2,"volume_ml":1000`)), q * q * q, 0.25, "; estimated 0.0126 % of the hypo is left, 0.000378 g/m² (a model, no test; the limit of 0.014 g/m² was set for film)"},
		{"four changes", "", in("wharf", wash("10:20", `,"changes":4,"volume_ml":1000`)), q * q * q * q, 0, "; estimated less than 0.01 % of the hypo is left (a model, no test; the limit of 0.014 g/m² was set for film)"},
		{"so many changes that nothing is left", "", in("wharf", wash("10:20", `,"changes":1000,"volume_ml":1000`)), 0, 0, "; estimated less than 0.01 % of the hypo is left (a model, no test; the limit of 0.014 g/m² was set for film)"},
		{"half a sheet", `,"part":0.5`, in("wharf", wash("10:20", one)), half, 0, ""},
		{"three together in half a litre", "", in("wharf", wash("10:20", `,"changes":1,"volume_ml":500,"together":3`)), three, 0, ""},
		{"in cold water", "", in("wharf", wash("10:20", one+`,"temp_c":10`)), cold, 0, ""},
		{"soaked 60 s", "", in("wharf", wash("10:20", one+`,"soak_s":60`)), math.Exp(-6) + (1-math.Exp(-6))*0.375/1000.375, 0, ""},
		{"60 s of running water is two changes", "", in("wharf", wash("10:20", `,"running_s":60`)), q * q, 0, ""},
		{"fixed again after a wash", "", in("wharf", wash("10:20", `,"changes":3,"volume_ml":1000`), `sheet.fixed 10:25 "sheet":"2026-001n","bath":"fix-1","time_s":60`, wash("10:30", one)), q, 0, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := booktest.FromActs(t, wharf+trays+in("wharf", `sheet.exposed 10:00 "picture":"2026-001","box":"box-1","f":8,"time_s":4`+c.part, `sheet.fixed 10:10 "sheet":"2026-001n","bath":"fix-1","time_s":60`)+c.acts)
			booktest.Look(t, b, func(snap *snapshot.Snapshot) {
				p, sheet, err := snap.SheetByName("2026-001n")
				require.NoError(t, err)
				r, _, err := calledfor.WashOf(snap, sheet)
				require.NoError(t, err)
				assert.InDelta(t, c.left, r.Residual, c.left*1e-9)
				assert.InDelta(t, 3*c.left, r.GPerM2, c.left*1e-8)
				last := sheet.Washed[len(sheet.Washed)-1]
				step, err := calledfor.StepOf(snap, p, last)
				require.NoError(t, err)
				assert.InDelta(t, c.before, step.Before, 1e-9)
				assert.Equal(t, 120.0, *step.CalledForS)
				if c.text != "" {
					text, err := calledfor.WashLeaves(snap, sheet, last)
					require.NoError(t, err)
					assert.Equal(t, c.text, text)
				}
				if c.name == "in cold water" {
					assert.Equal(t, 10.0, step.TempC)
				}
			})
			booktest.Tear(t, b, time.Time{}, func(snap *snapshot.Snapshot) error {
				_, sheet, err := snap.SheetByName("2026-001n")
				if err != nil {
					return err
				}
				_, err = calledfor.WashLeaves(snap, sheet, sheet.Washed[len(sheet.Washed)-1])
				return err
			})
		})
	}
}

// A wash of many changes in next to no water is short by the limit alone, and one of few changes by its share.
func TestAWashIsShortByItsShareOrByWhatItLeaves(t *testing.T) {
	for _, c := range []struct {
		name, wash string
		short      bool
	}{
		{"half of it, soaked long", `,"changes":2,"volume_ml":5000,"soak_s":300`, false},
		{"a quarter of it, soaked long", `,"changes":1,"volume_ml":50000,"soak_s":600`, true},
		{"all of it, in a cupful", `,"changes":4,"volume_ml":1,"soak_s":30`, true},
		{"so many changes that nothing at all is left", `,"changes":1000,"volume_ml":1000`, false},
	} {
		b := booktest.FromActs(t, wharf+in("wharf", `sheet.exposed 10:00 "picture":"2026-001","box":"box-1","f":8,"time_s":4`, `sheet.washed 10:20 "sheet":"2026-001n"`+c.wash))
		booktest.Look(t, b, func(snap *snapshot.Snapshot) {
			_, sheet, err := snap.SheetByName("2026-001n")
			require.NoError(t, err)
			r, known, err := calledfor.WashOf(snap, sheet)
			require.NoError(t, err)
			assert.True(t, known)
			assert.Equal(t, c.short, r.Short, c.name)
			assert.False(t, math.IsNaN(r.GPerM2), c.name)
		})
	}
}

// A sheet that was never exposed has no area to carry water over by.
func TestAWashOfASheetThatWasNeverExposed(t *testing.T) {
	b := booktest.FromActs(t, wharf+trays+in("wharf", `sheet.developed 10:00 "sheet":"2026-001n","bath":"dev-1","time_s":60`, `sheet.washed 10:20 "sheet":"2026-001n","changes":4,"volume_ml":1000`))
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		_, sheet, err := snap.SheetByName("2026-001n")
		require.NoError(t, err)
		text, err := calledfor.WashLeaves(snap, sheet, sheet.Washed[0])
		require.NoError(t, err)
		assert.Empty(t, text)
		_, known, err := calledfor.WashOf(snap, sheet)
		require.NoError(t, err)
		assert.False(t, known)
	})
}

func TestWhatATimerRemarks(t *testing.T) {
	assert.Empty(t, calledfor.TimerRemark(0, 0, 0))
	assert.Equal(t, "hand timer: 2.5 s over", calledfor.TimerRemark(2.5, 0, 0))
	assert.Equal(t, "hand timer: the machine slept 60 min meanwhile", calledfor.TimerRemark(0, 3600, 0))
	assert.Equal(t, "hand timer: 2 s over, the machine slept 90 s meanwhile, its clock was set back 2 min meanwhile", calledfor.TimerRemark(2, 90, 120))
}
