package calledfor_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/calc"
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
	for _, x := range []struct {
		name, read  string
		place, want float64
	}{
		{"densities between two steps", `"densities":[0.1,0.48,0.88,1.6]`, 0, 4 * math.Sqrt2},
		{"densities before the eye", `"densities":[0.1,0.48,0.88,1.6],"best":1`, 0, 4 * math.Sqrt2},
		{"densities that do not reach", `"densities":[0.1,0.2,0.3,0.4],"best":2`, 0, 4},
		{"the eye", `"best":3`, 0, 8},
		{"threshold", `"threshold":1`, 0, 2 * math.Exp2(toTone)},
		{"maximum black", `"maximum_black":4`, 0, 16 * math.Exp2(-toBlack)},
		{"both ends", `"threshold":1,"maximum_black":4`, 0, math.Sqrt(2 * math.Exp2(toTone) * 16 * math.Exp2(-toBlack))},
		{"a tone placed a stop up", `"threshold":1`, 1, 4 * math.Exp2(toTone)},
		{"a step beyond the strip", `"best":9`, 0, 0},
		{"nothing", `"text":"lost in the wind"`, 0, 0},
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
					assert.GreaterOrEqual(t, p.SD, calc.SheetScatter)
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
