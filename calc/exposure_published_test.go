package calc

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// ok unwraps a value that must come without an error.
func ok(t *testing.T) func(v float64, err error) float64 {
	return func(v float64, err error) float64 {
		t.Helper()
		require.NoError(t, err)
		return v
	}
}

func TestPublishedExposure(t *testing.T) {
	eachPublished(t, "exposure.csv", func(t *testing.T, r row) float64 {
		n, must := func(k string) float64 { return r.num(t, k) }, ok(t)
		switch {
		case r.id == "EV-01":
			return luminance(t, must(EV100FromExposure(n("N"), n("t"), n("S"))), n("K"))
		case r.id == "EV-02":
			return solve(t, must(EV100FromExposure(n("N"), n("t"), n("S"))), 1e-6, 1e8, func(lux float64) (float64, error) { return EV100FromLux(lux, n("C")) })
		case r.id == "EV-03":
			require.Equal(t, 100.0, n("S"))
			return must(EV100FromLuminance(n("L"), n("K")))
		case r.id == "EV-04":
			require.Equal(t, 100.0, n("S"))
			return must(EV100FromLux(n("E"), n("C")))
		case r.id == "EV-06":
			return luminance(t, must(EV100FromExposure(n("N"), 1, n("t_times_S"))), n("K"))
		case r.id == "EV-10":
			return must(EV100FromLuminance(8, n("K2"))) - must(EV100FromLuminance(8, n("K1")))
		case r.id == "EV-19":
			return must(EV100FromExposure(n("N1"), n("t1"), 100)) - must(EV100FromExposure(n("N2"), n("t2"), 100))
		case strings.HasPrefix(r.id, "F3-"):
			mark := must(NearestMark(math.Exp2(n("third_stop_index") / 6)))
			require.InEpsilon(t, math.Exp2(n("third_stop_index")/6), ExactF(mark), 0.003, "the mark stands for the exact third stop, or for itself")
			return mark
		case strings.HasPrefix(r.id, "T3-"):
			return 1 / must(MoveTime(n("t"), -n("step")))
		}
		t.Fatalf("nothing computes %s", r.id)
		return 0
	})
}

// luminance is the one that EV100FromLuminance gives this exposure value.
func luminance(t *testing.T, ev100, k float64) float64 {
	t.Helper()
	return solve(t, ev100, 1e-6, 1e8, func(cdm2 float64) (float64, error) { return EV100FromLuminance(cdm2, k) })
}

func TestPublishedScenes(t *testing.T) {
	eachPublished(t, "scenes.csv", func(t *testing.T, r row) float64 {
		return ok(t)(EV100FromExposure(r.num(t, "N"), r.num(t, "t"), r.num(t, "ISO")))
	})
}

func TestPublishedFilters(t *testing.T) {
	eachPublished(t, "filters.csv", func(t *testing.T, r row) float64 {
		must := ok(t)
		stops := must(Stops(must(FilterFactor(r.num(t, "factor")))))
		require.InDelta(t, math.Log2(r.num(t, "factor")), stops, 1e-12)
		return math.Round(stops*3) / 3 // the tables print thirds
	})
}

func TestPublishedReciprocity(t *testing.T) {
	eachPublished(t, "reciprocity.csv", func(t *testing.T, r row) float64 {
		must := ok(t)
		switch r.id {
		case "REC-01":
			return Reciprocity1900
		case "REC-02", "REC-03":
			return must(Reciprocity(r.num(t, "tm"), 1/r.num(t, "P")))
		}
		t.Fatalf("nothing computes %s", r.id)
		return 0
	})
}

func TestPublishedStrips(t *testing.T) {
	eachPublished(t, "strips.csv", func(t *testing.T, r row) float64 {
		must := ok(t)
		switch {
		case r.id == "STRIP-01":
			return r.num(t, "base") - must(MoveTime(r.num(t, "base"), r.num(t, "stop")))
		case r.id == "STRIP-lin":
			return must(Stops(r.num(t, "t2") / r.num(t, "t1")))
		case r.quantity == "added time":
			times, err := StripTimes(r.num(t, "base"), r.num(t, "stop"), 2)
			require.NoError(t, err)
			added, err := StripAdded(times)
			require.NoError(t, err)
			return added[1]
		}
		times, err := StripTimes(r.num(t, "base"), r.num(t, "step"), int(r.num(t, "n"))+1)
		require.NoError(t, err)
		return times[len(times)-1]
	})
}
