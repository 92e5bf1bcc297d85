package calledfor_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/booktest"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
)

var stripPaper = snapshot.Paper{Index: 3, ISOR: 110, Dmin: calc.DefaultDmin, Dmax: calc.DefaultDmaxGlossy, P: 1}

// Each sort of reading must tell the exposure at which the tone that was read lands on the mid-tone, 0.60 above base.
func TestStripPointReadsWhatWasSeen(t *testing.T) {
	c, err := stripPaper.Curve()
	require.NoError(t, err)
	toTone, toBlack := math.Log2(c.Hm/c.Ht()), math.Log2(c.Hs()/c.Hm) // stops from the mid-tone
	dark := func(stops float64) float64 { return c.Density(math.Log10(c.Hm) + stops*math.Log10(2)) }
	// A step of a stop scatters by a stop ÷ √12, the sheet by its own; by one end of the curve alone it does so once more.
	steps := math.Hypot(calc.SheetScatter, 1/math.Sqrt(12))
	oneEnd := math.Hypot(steps, calc.SheetScatter)
	for _, x := range []struct {
		name, read      string
		place, want, sd float64
	}{
		{"densities between two steps", `"densities":[0.1,0.48,0.88,1.6]`, 0, 4 * math.Sqrt2, calc.SheetScatter},
		{"densities of a tone placed a stop up", fmt.Sprintf(`"densities":[%.4f,%.4f,%.4f,%.4f]`, dark(-1), dark(0), dark(1), dark(2)), 1, 8, calc.SheetScatter},
		{"densities before the eye", `"densities":[0.1,0.48,0.88,1.6],"best":1`, 0, 4 * math.Sqrt2, calc.SheetScatter},
		{"densities that do not reach", `"densities":[0.1,0.2,0.3,0.4],"best":2`, 0, 4, steps},
		{"the eye", `"best":3`, 0, 8, steps},
		{"threshold", `"threshold":1`, 0, 2 * math.Exp2(toTone), oneEnd},
		{"maximum black", `"maximum_black":4`, 0, 16 * math.Exp2(-toBlack), oneEnd},
		{"both ends", `"threshold":1,"maximum_black":4`, 0, math.Sqrt(2 * math.Exp2(toTone) * 16 * math.Exp2(-toBlack)), steps},
		{"a tone placed a stop up", `"threshold":1`, 1, 4 * math.Exp2(toTone), oneEnd},
		{"a step beyond the strip", `"best":9`, 0, 0, 0},
		{"nothing", `"text":"lost in the wind"`, 0, 0, 0},
	} {
		t.Run(x.name, func(t *testing.T) {
			s := booktest.NewStory()
			s.Box("box-1")
			s.Tell("strip.exposed", `"strip":"strip-1","box":"box-1","on":"scene","f":8,"times_s":[2,4,8,16]`)
			s.Tell("strip.read", `"strip":"strip-1",%s`, x.read)
			booktest.Look(t, s.Book(t), func(snap *snapshot.Snapshot) {
				strip, err := calledfor.StripOf(snap, "strip-1")
				require.NoError(t, err)
				p, ok := strip.Point(stripPaper, x.place)
				require.Equal(t, x.want != 0, ok)
				if ok {
					assert.InDelta(t, x.want, p.TimeS, 0.005*x.want)
					assert.InDelta(t, x.sd, p.SD, 1e-9)
				}
			})
		})
	}
}

func TestStripReadTwiceKeepsWhatEachSaid(t *testing.T) {
	s := booktest.NewStory()
	s.Box("box-1")
	s.Tell("strip.exposed", `"strip":"strip-1","box":"box-1","on":"scene","f":8,"times_s":[2,4,8,16]`)
	s.Tell("strip.read", `"strip":"strip-1","best":2,"threshold":1`)
	s.Tell("strip.read", `"strip":"strip-1","best":3,"densities":[0.1,0.5]`)
	booktest.Look(t, s.Book(t), func(snap *snapshot.Snapshot) {
		strip, err := calledfor.StripOf(snap, "strip-1")
		require.NoError(t, err)
		read := strip.Read()
		assert.Equal(t, 1, *read.Threshold)
		assert.Equal(t, 3, *read.Best)
		assert.Nil(t, read.MaximumBlack)
		assert.Equal(t, []float64{0.1, 0.5}, read.Densities)
		_, err = calledfor.StripOf(snap, "strip-9")
		assert.ErrorContains(t, err, `there is no strip "strip-9"`)
	})
}

// A paper of which no curve is known tells nothing by its ends, and all the same by the step that an eye picked.
func TestAStripOnAPaperWithoutACurve(t *testing.T) {
	for read, want := range map[string]float64{`"threshold":1,"maximum_black":4`: 0, `"best":2`: 4, `"densities":[0.1,0.5,1,1.5],"best":3`: 8} {
		s := booktest.NewStory()
		s.Box("box-1")
		s.Tell("strip.exposed", `"strip":"strip-1","box":"box-1","on":"scene","f":8,"times_s":[2,4,8,16]`)
		s.Tell("strip.read", `"strip":"strip-1",%s`, read)
		booktest.Look(t, s.Book(t), func(snap *snapshot.Snapshot) {
			strip, err := calledfor.StripOf(snap, "strip-1")
			require.NoError(t, err)
			p, ok := strip.Point(snapshot.Paper{}, 0)
			assert.Equal(t, want != 0, ok, read)
			assert.Equal(t, want, p.TimeS, read)
		})
	}
}

// Of two readings each field is the later's where it says it, else the earlier's.
func TestStripReadTwiceFieldByField(t *testing.T) {
	const full = `"bath":"dev-1","time_s":60,"temp_c":20,"threshold":1,"best":2,"maximum_black":3,"densities":[0.1,0.2,0.3]`
	const other = `"bath":"dev-2","time_s":90,"temp_c":18,"threshold":2,"best":3,"maximum_black":4,"densities":[0.2,0.3,0.4]`
	read := func(first, second string) events.StripReadData {
		s := booktest.NewStory()
		s.Box("box-1")
		s.Tell("bath.mixed", `"bath":"dev-1","role":"developer","name":"a","volume_ml":500`)
		s.Tell("bath.mixed", `"bath":"dev-2","role":"developer","name":"b","volume_ml":500`)
		s.Tell("strip.exposed", `"strip":"strip-1","box":"box-1","on":"scene","f":8,"times_s":[2,4,8,16]`)
		s.Tell("strip.read", `"strip":"strip-1",%s`, first)
		s.Tell("strip.read", `"strip":"strip-1",%s`, second)
		var out events.StripReadData
		booktest.Look(t, s.Book(t), func(snap *snapshot.Snapshot) {
			strip, err := calledfor.StripOf(snap, "strip-1")
			require.NoError(t, err)
			out = *strip.Read()
		})
		return out
	}
	want := events.StripReadData{Strip: "strip-1", Bath: "dev-2", TimeS: new(90.0), TempC: new(18.0), Threshold: new(2), Best: new(3), MaximumBlack: new(4), Densities: []float64{0.2, 0.3, 0.4}}
	assert.Equal(t, want, read(full, other))
	last := read(other, `"text":"again"`)
	last.Text = ""
	assert.Equal(t, want, last)
}

// The usual distance between two steps, of a strip of two and of one.
func TestTheScatterOfAShortStrip(t *testing.T) {
	for times, stops := range map[string]float64{"[2,8]": 2, "[8,2]": 2, "[4]": 1, "[2,4,32]": 2} {
		s := booktest.NewStory()
		s.Box("box-1")
		s.Tell("strip.exposed", `"strip":"strip-1","box":"box-1","on":"scene","f":8,"times_s":%s`, times)
		s.Tell("strip.read", `"strip":"strip-1","best":1`)
		booktest.Look(t, s.Book(t), func(snap *snapshot.Snapshot) {
			strip, err := calledfor.StripOf(snap, "strip-1")
			require.NoError(t, err)
			p, ok := strip.Point(stripPaper, 0)
			require.True(t, ok)
			assert.InDelta(t, math.Hypot(calc.SheetScatter, stops/math.Sqrt(12)), p.SD, 1e-9, times)
		})
	}
}
