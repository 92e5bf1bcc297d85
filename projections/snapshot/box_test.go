package snapshot_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/calc"
	"traybook/projections/booktest"
	"traybook/projections/snapshot"
)

func boxOf(t *testing.T, snap *snapshot.Snapshot, name string) *snapshot.Box {
	t.Helper()
	b, err := snap.Box(name)
	require.NoError(t, err)
	return b
}

const boxes = `
book.opened 2026-05-01T08:00:00 "zone":"Europe/Oslo"
camera.described 2026-05-01T08:01:00 "camera":"skiff","focal_mm":135,"f_widest":5.6,"f_smallest":32
paper.received 2026-05-01T08:02:00 "box":"box-1","name":"quay paper","base":"fb","width_mm":100,"height_mm":125,"sheets":20,"index":3,"cost":40,"currency":"NOK"
paper.rated 2026-05-01T08:30:00 "box":"box-1","index":4
paper.cut 2026-05-01T09:00:00 "box":"box-1","sheets":5,"into":"small","parts":4,"width_mm":50,"height_mm":62
paper.spoiled 2026-05-01T09:10:00 "box":"box-1","sheets":2
paper.rated 2026-05-01T09:20:00 "box":"small","index":5
sheet.exposed 2026-05-01T10:00:00 "picture":"2026-001","box":"box-1","f":8,"time_s":4,"part":0.5
sheet.exposed 2026-05-01T10:01:00 "picture":"2026-001","sheet":"2026-001n","box":"box-1","f":8,"time_s":4
sheet.reprinted 2026-05-01T10:02:00 "picture":"2026-001","box":"box-1","f":8,"time_s":4,"part":0.25
sheet.exposed 2026-05-01T10:03:00 "picture":"2026-002","box":"box-1","f":8,"time_s":4
sheet.exposed 2026-05-01T10:03:30 "picture":"2026-002","sheet":"2026-002n","box":"box-1","f":8,"time_s":4,"part":0.5
strip.exposed 2026-05-01T10:04:00 "strip":"s1","box":"box-1","on":"scene","f":8,"times_s":[2,4],"part":0.2
strip.exposed 2026-05-01T10:05:00 "strip":"s2","box":"box-1","on":"scene","f":8,"times_s":[2,4]
paper.spoiled 2026-05-01T10:06:00 "box":"small","sheets":3
paper.cut 2026-05-01T11:00:00 "box":"box-1","sheets":1,"into":"small","parts":4,"width_mm":50,"height_mm":62
holder.loaded 2026-05-01T11:30:00 "holder":"left","box":"small"`

// What is left of a box: 20 came, 2 spoiled, 6 were cut up, and of the rest a sheet exposed twice went as its larger part once,
// a quarter and a fifth as parts: 20 − 2 − 6 − (1 + 0.25 + 1 + 0.2 + 1). Of the small one 24 came and 3 spoiled.
func TestWhatIsLeftOfABox(t *testing.T) {
	stock := func(snap *snapshot.Snapshot, name string) snapshot.Stock {
		s, err := snap.StockOf(boxOf(t, snap, name))
		require.NoError(t, err)
		return s
	}
	b := booktest.FromActs(t, boxes)
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		s := stock(snap, "box-1")
		assert.InDeltaSlice(t, []float64{8.55, 20, 3.45, 2, 6}, []float64{s.Left, s.Received, s.Exposed, s.Spoiled, s.Cut}, 1e-9)
		assert.Len(t, s.Uses, 5)
		s = stock(snap, "small")
		assert.InDeltaSlice(t, []float64{21, 24, 0, 3, 0}, []float64{s.Left, s.Received, s.Exposed, s.Spoiled, s.Cut}, 1e-9)
		box := boxOf(t, snap, "box-1")
		assert.Equal(t, []float64{0, 20}, []float64{box.CameUntil(booktest.Oslo(t, "2026-05-01T08:01:59")), box.CameUntil(booktest.Oslo(t, "2026-05-01T08:02:00"))})
		small := boxOf(t, snap, "small")
		assert.Equal(t, []float64{20, 24}, []float64{small.CameUntil(booktest.Oslo(t, "2026-05-01T10:59:00")), small.CameUntil(booktest.Oslo(t, "2026-05-01T11:00:00"))})
	})
	booktest.LookAt(t, b, "2026-05-01T10:03:00", func(snap *snapshot.Snapshot) {
		assert.InDelta(t, 20-2-5-1-0.25-1, stock(snap, "box-1").Left, 1e-9)
	})
	// A count overrules everything before it, and at its very instant.
	booktest.AddActs(t, b, `paper.counted 2026-05-01T10:03:00 "box":"box-1","sheets":10
paper.counted 2026-05-01T10:02:30 "box":"box-1","sheets":99`)
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		s := stock(snap, "box-1")
		// 2026-002 was exposed before the count and again, as a part, after it: it counts once, with its first.
		assert.InDelta(t, 10-0.2-1-1, s.Left, 1e-9)
		assert.InDeltaSlice(t, []float64{20, 3.45, 2, 6}, []float64{s.Received, s.Exposed, s.Spoiled, s.Cut}, 1e-9)
		box := boxOf(t, snap, "box-1")
		for clock, want := range map[string]bool{"10:02:00": true, "10:03:00": true, "10:03:01": false} {
			assert.Equal(t, want, box.CountedSince(booktest.Oslo(t, "2026-05-01T"+clock)), clock)
		}
	})
	booktest.AddActs(t, b, `paper.counted 2026-05-01T12:00:00 "box":"box-1","sheets":7
paper.spoiled 2026-05-01T12:00:00 "box":"box-1","sheets":1
paper.cut 2026-05-01T12:01:00 "box":"box-1","sheets":1,"into":"small","parts":4,"width_mm":50,"height_mm":62
paper.spoiled 2026-05-01T12:02:00 "box":"box-1","sheets":2`)
	booktest.Look(t, b, func(snap *snapshot.Snapshot) { assert.InDelta(t, 7-1-2, stock(snap, "box-1").Left, 1e-9) })
	for _, name := range []string{"box-1", "small"} {
		booktest.Tear(t, b, time.Time{}, func(snap *snapshot.Snapshot) error {
			box, err := snap.Box(name)
			if err == nil {
				_, err = snap.StockOf(box)
			}
			return err
		})
	}
}

// A cut box is made from what it was cut from: its paper and ratings then, its own size, its share of the cost.
func TestACutBoxComesFromAnother(t *testing.T) {
	b := booktest.FromActs(t, boxes)
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		small := boxOf(t, snap, "small")
		require.NotNil(t, small.Received)
		assert.Equal(t, "box-1", small.CutFrom)
		assert.Equal(t, booktest.Oslo(t, "2026-05-01T09:00:00").UnixMicro(), small.At.UnixMicro())
		assert.Equal(t, []any{"small", "quay paper", "fb", 50.0, 62.0, 24}, []any{small.Received.Box, small.Received.Name, small.Received.Base, small.Received.WidthMM, small.Received.HeightMM, small.Received.Sheets})
		assert.InDelta(t, 12, *small.Received.Cost, 1e-9) // six of twenty sheets of 40
		assert.InDelta(t, 0.0031, small.Area(), 1e-9)
		assert.InDelta(t, 0.0125, boxOf(t, snap, "box-1").Area(), 1e-9)
		for clock, want := range map[string]float64{"08:10:00": 3, "08:40:00": 4, "09:30:00": 5} {
			assert.Equal(t, want, small.PaperFor(booktest.Oslo(t, "2026-05-01T"+clock), snapshot.Negative, "", "").Index, clock)
		}
		assert.Equal(t, 4.0, boxOf(t, snap, "box-1").PaperFor(booktest.Oslo(t, "2026-05-01T09:30:00"), snapshot.Negative, "", "").Index)
		_, err := snap.Box("small-9")
		assert.ErrorContains(t, err, `there is no box "small-9"`)
		_, err = snap.Box("2026-001")
		assert.ErrorContains(t, err, `"2026-001" is a picture, not a box`)
	})
	// Received besides, it is what it was received as, and has more in it.
	booktest.AddActs(t, b, `paper.received 2026-05-01T12:00:00 "box":"small","name":"pier paper","base":"rc","width_mm":60,"height_mm":90,"sheets":10,"index":6`)
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		small := boxOf(t, snap, "small")
		assert.Empty(t, small.CutFrom)
		assert.Equal(t, []any{"pier paper", 10}, []any{small.Received.Name, small.Received.Sheets})
		s, err := snap.StockOf(small)
		require.NoError(t, err)
		assert.InDelta(t, 24+10-3, s.Left, 1e-9)
	})
}

// Variable-contrast paper has its range by filter, and without one by light; what was measured of it goes before.
func TestThePaperInForceByFilterAndLight(t *testing.T) {
	b := booktest.FromActs(t, `
book.opened 2026-05-01T08:00:00 "zone":"Europe/Oslo"
paper.received 2026-05-01T08:01:00 "box":"vc","name":"a","base":"rc","width_mm":90,"height_mm":120,"sheets":10,"index":6,"iso_r":105,"contrast":"variable"
paper.received 2026-05-01T08:02:00 "box":"plain","name":"b","base":"rc","width_mm":90,"height_mm":120,"sheets":10,"index":6,"iso_r":105,"contrast":"graded"
paper.rated 2026-05-01T09:00:00 "box":"vc","filter":"00","iso_r":170,"filter_factor":4
paper.rated 2026-05-01T09:10:00 "box":"vc","light":"shade","iso_r":84`)
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		for _, c := range []struct {
			box, clock, filter, light string
			r, known, factor          float64
		}{
			{"vc", "08:30", "", "", 105, 0.1, 1},
			{"vc", "08:30", "", "lamp", 105, 0.1, 1},
			{"vc", "08:30", "", "sun", 80, 0.137, 1}, // one and a half grades: half between the middles 87.5 and 72.5
			{"vc", "08:30", "00", "sun", 180, 0.15, 2.5},
			{"vc", "08:30", "4", "shade", 60, 0.15, 5},
			{"vc", "08:30", "yellow", "sun", 105, 0.1, 1}, // no filter of such paper: nothing is known
			{"vc", "09:05", "00", "sun", 170, 0, 4},
			{"vc", "09:05", "2", "sun", 110, 0.15, 2.5},
			{"vc", "09:15", "", "shade", 84, 0, 1},
			{"vc", "09:15", "", "sun", 80, 0.137, 1},
			{"vc", "09:15", "2", "shade", 110, 0.15, 2.5}, // what was measured without a filter says nothing of one
			{"plain", "09:15", "00", "sun", 105, 0.1, 1},
		} {
			box := boxOf(t, snap, c.box)
			p := box.PaperFor(booktest.Oslo(t, "2026-05-01T"+c.clock+":00"), snapshot.Negative, c.filter, c.light)
			assert.InDelta(t, c.r, p.ISOR, 1e-9, "%+v", c)
			assert.InDelta(t, c.known, p.ISORKnown, 1e-3, "%+v", c)
			assert.InDelta(t, c.factor, p.FilterFactor, 1e-9, "%+v", c)
			assert.Equal(t, c.box == "vc", box.Variable())
			assert.Equal(t, box.Variable() && c.filter != "" && c.filter != "yellow" && c.factor != 4, p.FilterUsual, "%+v", c)
		}
	})
}

// The paper in force: what came with the box, over it each rating that fits.
func TestThePaperInForce(t *testing.T) {
	b := booktest.FromActs(t, `
book.opened 2026-05-01T08:00:00 "zone":"Europe/Oslo"
paper.received 2026-05-01T08:01:00 "box":"plain","name":"a","base":"rc","width_mm":90,"height_mm":120,"sheets":10
paper.received 2026-05-01T08:02:00 "box":"maker","name":"b","base":"fb","width_mm":90,"height_mm":120,"sheets":10,"iso_p":500,"surface":"semi-matt"
paper.received 2026-05-01T08:03:00 "box":"full","name":"c","base":"rc","width_mm":90,"height_mm":120,"sheets":10,"index":3,"iso_p":500,"iso_r":90,"dmin":0.08,"dmax":1.9,"reciprocity_p":0.9,"develop_s":75,"fix_s":45,"works":"direct-positive","surface":"glossy"
paper.rated 2026-05-01T09:00:00 "box":"full","index":4
paper.rated 2026-05-01T09:10:00 "box":"full","generation":"positive","index":5,"iso_r":100
paper.rated 2026-05-01T09:20:00 "box":"full","filter":"yellow","filter_factor":3,"develop_s":80
paper.rated 2026-05-01T09:30:00 "box":"full","filter":"green","index":2
paper.rated 2026-05-01T09:40:00 "box":"full","light":"lamp","threshold_s":6,"reciprocity_p":0.8
paper.rated 2026-05-01T09:50:00 "box":"full","filter_factor":9`)
	iso := calc.DefaultISORange
	full := snapshot.Paper{Index: 3, Measured: true, FilterFactor: 1, ISOR: 90, P: 0.9, PKnown: true, DevelopS: 75, FixS: 45, Dmin: 0.08, Dmax: 1.9, Base: "rc", Positive: true, ISORKnown: 0.1}
	with := func(f func(*snapshot.Paper)) snapshot.Paper { p := full; f(&p); return p }
	for _, c := range []struct {
		box, clock, generation, filter, light string
		want                                  snapshot.Paper
	}{
		{"plain", "12:00", snapshot.Negative, "", "", snapshot.Paper{FilterFactor: 1, P: 1, ISOR: iso, Dmin: calc.DefaultDmin, Dmax: calc.DefaultDmaxGlossy, Base: "rc", ISORKnown: 0.15}},
		// ISO P 500: the index is P divided by 100 (see calc.IndexFromISOP), and no measurement.
		{"maker", "12:00", snapshot.Negative, "", "", snapshot.Paper{Index: indexOfP(t, 500), FilterFactor: 1, P: 1, ISOR: iso, Dmin: calc.DefaultDmin, Dmax: calc.DefaultDmaxMatt, Base: "fb", ISORKnown: 0.15}},
		{"full", "08:30", snapshot.Negative, "", "", full},
		{"full", "09:00", snapshot.Negative, "", "", with(func(p *snapshot.Paper) { p.Index = 4 })},
		{"full", "09:15", snapshot.Positive, "", "", with(func(p *snapshot.Paper) { p.Index, p.ISOR, p.ISORKnown = 5, 100, 0 })},
		{"full", "09:15", snapshot.Negative, "", "", with(func(p *snapshot.Paper) { p.Index = 4 })},
		{"full", "09:25", snapshot.Negative, "yellow", "", with(func(p *snapshot.Paper) { p.Index, p.FilterFactor, p.FilterRated, p.DevelopS = 4, 3, true, 80 })},
		{"full", "09:35", snapshot.Negative, "green", "", with(func(p *snapshot.Paper) { p.Index, p.InIndex = 2, true })},
		{"full", "09:35", snapshot.Negative, "", "", with(func(p *snapshot.Paper) { p.Index = 4 })},
		{"full", "09:45", snapshot.Negative, "", "lamp", with(func(p *snapshot.Paper) { p.Index, p.ThresholdS, p.P = 4, 6, 0.8 })},
		{"full", "09:45", snapshot.Negative, "", "sun", with(func(p *snapshot.Paper) { p.Index = 4 })},
		{"full", "09:55", snapshot.Negative, "", "", with(func(p *snapshot.Paper) { p.Index = 4 })}, // a factor of no filter says nothing
	} {
		booktest.Look(t, b, func(snap *snapshot.Snapshot) {
			box := boxOf(t, snap, c.box)
			for range 2 { // worked out, and remembered
				assert.Equal(t, c.want, box.PaperFor(booktest.Oslo(t, "2026-05-01T"+c.clock+":00"), c.generation, c.filter, c.light), "%s %s %s %s %s", c.box, c.clock, c.generation, c.filter, c.light)
			}
		})
	}
	fibre, none := snapshot.Paper{Base: "fb"}, (*snapshot.Paper)(nil)
	assert.Equal(t, []calc.Base{calc.FibreBase, calc.ResinCoated, calc.ResinCoated}, []calc.Base{fibre.WashBase(), full.WashBase(), none.WashBase()})
	curve, err := full.Curve()
	require.NoError(t, err)
	assert.True(t, curve.Falling)
	assert.Equal(t, []float64{0.08, 1.9}, []float64{curve.Dmin, curve.Dmax})
	hm, err := calc.HmFromIndex(3)
	require.NoError(t, err)
	assert.Equal(t, hm, curve.Hm)
	plain, err := snapshot.Paper{Index: 3, ISOR: 90, Dmin: 0.08, Dmax: 1.9}.Curve()
	require.NoError(t, err)
	assert.False(t, plain.Falling)
	_, err = snapshot.Paper{ISOR: 90, Dmin: 0.08, Dmax: 1.9}.Curve()
	assert.Error(t, err)
}

func indexOfP(t *testing.T, p float64) float64 {
	t.Helper()
	i, err := calc.IndexFromISOP(p)
	require.NoError(t, err)
	return i
}
