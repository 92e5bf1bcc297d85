package calc

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// harbour is an invented town on a northern coast.
const harbourLat, harbourLon = 59.0, 10.5

var summer = time.FixedZone("", 2*3600)

func TestSunDayKeepsTheOffsetAndTheDate(t *testing.T) {
	asked := time.Date(2026, 5, 3, 23, 30, 0, 0, summer)
	d, err := SunOn(asked, harbourLat, harbourLon)
	require.NoError(t, err)
	for name, x := range map[string]time.Time{"sunrise": d.Sunrise, "transit": d.Transit, "sunset": d.Sunset} {
		assert.Equal(t, "2026-05-03", x.Format("2006-01-02"), name)
		assert.Equal(t, "+02:00", x.Format("-07:00"), name)
	}
	assert.True(t, d.Sunrise.Before(d.Transit) && d.Transit.Before(d.Sunset))
	assert.False(t, d.UpAllDay() || d.DownAllDay())
	assert.InDelta(t, 90-harbourLat+15.8, d.HighestDeg, 0.3)
}

func TestSunAtTheEdges(t *testing.T) {
	day := func(month time.Month, d int, lat, lon float64, offset int) SunDay {
		x, err := SunOn(time.Date(2026, month, d, 12, 0, 0, 0, time.FixedZone("", offset*3600)), lat, lon)
		require.NoError(t, err)
		return x
	}
	t.Run("midnight sun", func(t *testing.T) {
		d := day(6, 21, 71, 25, 2)
		assert.True(t, d.UpAllDay())
		assert.False(t, d.DownAllDay())
		assert.False(t, d.Transit.IsZero())
	})
	t.Run("polar night", func(t *testing.T) {
		d := day(12, 21, 71, 25, 1)
		assert.True(t, d.DownAllDay())
		assert.False(t, d.UpAllDay())
	})
	t.Run("the shortest of days", func(t *testing.T) {
		// Somewhere below the circle a day lasts minutes; halve in on it.
		lo, hi := 66.0, 69.0
		for range 40 {
			mid := (lo + hi) / 2
			if d := day(12, 21, mid, 0, 0); d.Sunrise.IsZero() {
				hi = mid
			} else {
				lo = mid
			}
		}
		d := day(12, 21, lo, 0, 0)
		require.False(t, d.Sunrise.IsZero() || d.Sunset.IsZero())
		assert.Less(t, d.Sunset.Sub(d.Sunrise), 10*time.Minute, "found although it lies between two looks")
		assert.WithinDuration(t, d.Transit, d.Sunrise, 5*time.Minute)
	})
	t.Run("a clock that knows nothing of the sun", func(t *testing.T) {
		for lon := -180.0; lon <= 180; lon += 7.5 {
			d := day(4, 16, 0, lon, 0)
			assert.False(t, d.Sunrise.IsZero() || d.Sunset.IsZero(), "%v", lon)
			if !d.Transit.IsZero() {
				assert.Equal(t, 16, d.Transit.Day(), "%v", lon)
			}
		}
	})
	t.Run("the poles", func(t *testing.T) {
		for _, lat := range []float64{90, -90} {
			p, err := SunPosition(time.Date(2026, 6, 21, 12, 0, 0, 0, time.UTC), lat, 0)
			require.NoError(t, err)
			assert.InDelta(t, math.Copysign(23.43, lat), p.TrueAltitudeDeg, 0.012, "the obliquity, less parallax")
		}
	})
}

func TestSunRefusesWhatIsNotOnEarth(t *testing.T) {
	noon := time.Date(2026, 5, 3, 12, 0, 0, 0, time.UTC)
	for name, c := range map[string]struct {
		t        time.Time
		lat, lon float64
		says     string
	}{
		"beyond the pole": {noon, 91, 0, "latitude of 91 °"},
		"round and round": {noon, 0, 400, "longitude of 400 °"},
		"no number":       {noon, math.NaN(), 0, "latitude is not a number"},
		"long ago":        {time.Date(1600, 1, 1, 0, 0, 0, 0, time.UTC), 0, 0, "year of 1600"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := SunPosition(c.t, c.lat, c.lon)
			assert.ErrorContains(t, err, c.says)
			_, err = SunOn(c.t, c.lat, c.lon)
			assert.ErrorContains(t, err, c.says)
			_, err = SunLux(c.t, c.lat, c.lon, 1)
			assert.ErrorContains(t, err, c.says)
			_, err = LightAt(c.t, c.lat, c.lon, 1)
			assert.ErrorContains(t, err, c.says)
			_, _, err = CapUsableAt(c.t, c.lat, c.lon, 1, 11, 3)
			assert.ErrorContains(t, err, c.says)
		})
	}
	_, err := SunPosition(time.Date(2500, 1, 1, 0, 0, 0, 0, time.UTC), 0, 0)
	assert.ErrorContains(t, err, "year of 2500")
	_, err = SunPositionAt(noon, Site{PressureHPa: -1})
	assert.ErrorContains(t, err, "pressure of the air")
}

func TestRefractionHasNoStep(t *testing.T) {
	last := -5 + refraction(-5)
	for a := -5.0; a <= 90; a += 0.001 {
		seen := a + refraction(a)
		require.Greater(t, seen, last-1e-12, "at %v", a)
		require.Less(t, seen-last, 0.002, "at %v", a)
		last = seen
	}
	assert.Zero(t, refraction(-3))
	assert.InDelta(t, 0.57, refraction(-0.57), 0.03, "the sun that is seen to touch the horizon has set")
	assert.InDelta(t, 34./60, bennett(0), 0.01)
}

func TestEquationOfTimeAgreesWithItself(t *testing.T) {
	for d := range 365 {
		at := time.Date(2026, 1, 1, 12, 0, 0, 0, time.UTC).AddDate(0, 0, d)
		assert.InDelta(t, smart(JulianDay(at))/radians*240, clockError(at), 3, "%s", at)
	}
}

func TestDeltaTIsFlatOutsideTheTable(t *testing.T) {
	seconds := func(jd float64) float64 { return (julianTD(jd) - jd) * secondsADay }
	assert.InDelta(t, -3, seconds(2400000), 1e-3)
	assert.InDelta(t, 72, seconds(2500000), 1e-3)
	assert.InDelta(t, 64, seconds(j2000), 0.2)
}

func TestDaylight(t *testing.T) {
	must := ok(t)
	t.Run("grows with the sun", func(t *testing.T) {
		last := 0.0
		for a := -18.0; a <= 90; a += 0.1 {
			lux := must(Daylight(a, 1))
			require.Greater(t, lux, last, "at %v", a)
			last = lux
		}
	})
	t.Run("the sky divides it", func(t *testing.T) {
		for name, want := range map[string]float64{"clear": 1, "thin": 2, "cloud": 3, "dark": 10} {
			factor, known := SkyFactor(name)
			require.True(t, known)
			assert.Equal(t, want, factor)
			assert.InEpsilon(t, must(Daylight(40, 1))/want, must(Daylight(40, factor)), 1e-12)
		}
		_, known := SkyFactor("green")
		assert.False(t, known)
		assert.Equal(t, []string{"clear", "thin", "cloud", "dark"}, Skies())
	})
	t.Run("a wall that faces the sun has more, and most when it is low", func(t *testing.T) {
		for _, a := range []float64{5, 20, 60} {
			assert.Greater(t, must(FacingSun(a, 1)), must(Daylight(a, 1)), "at %v", a)
		}
		assert.InEpsilon(t, must(Daylight(90, 1)), must(FacingSun(90, 1)), 1e-9)
		assert.Equal(t, must(Daylight(-3, 1)), must(FacingSun(-3, 1)))
		ratio := func(a float64) float64 { return must(FacingSun(a, 1)) / must(Daylight(a, 1)) }
		assert.Greater(t, ratio(5), ratio(30))
	})
	t.Run("the full sun of the exposure guide", func(t *testing.T) {
		assert.InDelta(t, 15, must(EV100FromLux(must(Daylight(45, 1)), CFlat)), 0.5)
	})
	for name, err := range map[string]error{
		"altitude of the sun of 91": second(Daylight(91, 1)), "sky factor of 0.5": second(Daylight(10, 0.5)),
		"sky factor of 0": second(SunLux(time.Unix(0, 0), 0, 0, 0)), "altitude of the sun of 100": second(FacingSun(100, 1)),
	} {
		assert.ErrorContains(t, err, name)
	}
}

func second(_ float64, err error) error { return err }

func TestLightAt(t *testing.T) {
	noon := time.Date(2026, 5, 3, 13, 20, 0, 0, summer)
	l, err := LightAt(noon, harbourLat, harbourLon, 1)
	require.NoError(t, err)
	assert.InDelta(t, 15.3, l.EV100, 0.3)
	assert.InDelta(t, 0, l.DriftStopsPer10Min, 0.005, "at its highest the sun stands still")
	time3, tooBright, err := l.TimeFor(16, 3)
	require.NoError(t, err)
	assert.True(t, tooBright, "in full sun a cap cannot do index 3 at f/16")
	assert.InDelta(t, 0.26, time3, 0.03)

	evening, err := LightAt(l.Sunset, harbourLat, harbourLon, 1)
	require.NoError(t, err)
	assert.InDelta(t, 0, evening.AltitudeDeg, 0.3)
	assert.Less(t, evening.DriftStopsPer10Min, -0.5, "at sunset it goes fast")
	dawn, err := LightAt(l.Sunrise, harbourLat, harbourLon, 10)
	require.NoError(t, err)
	assert.Greater(t, dawn.DriftStopsPer10Min, 0.5)

	// the drift is what the reading changes by from five minutes before to five after
	for _, at := range []time.Time{noon, l.Sunset, l.Sunrise.Add(40 * time.Minute)} {
		var ev [3]Light
		for i, after := range []time.Duration{-5 * time.Minute, 0, 5 * time.Minute} {
			ev[i], err = LightAt(at.Add(after), harbourLat, harbourLon, 2)
			require.NoError(t, err)
		}
		assert.InDelta(t, ev[2].EV100-ev[0].EV100, ev[1].DriftStopsPer10Min, 1e-9)
	}

	night, err := LightAt(time.Date(2026, 12, 3, 1, 0, 0, 0, summer), harbourLat, harbourLon, 1)
	require.NoError(t, err)
	assert.True(t, night.Night)
	assert.Zero(t, night.EV100)
	_, _, err = night.TimeFor(8, 3)
	assert.ErrorContains(t, err, "daylight of")
}

func TestCapUsableAt(t *testing.T) {
	noon := time.Date(2026, 5, 3, 13, 0, 0, 0, summer)
	at, found, err := CapUsableAt(noon, harbourLat, harbourLon, 1, 16, 3)
	require.NoError(t, err)
	require.True(t, found)
	for after, bright := range map[time.Duration]bool{-2 * time.Second: true, 0: false} {
		l, err := LightAt(at.Add(after), harbourLat, harbourLon, 1)
		require.NoError(t, err)
		_, tooBright, err := l.TimeFor(16, 3)
		require.NoError(t, err)
		assert.Equal(t, bright, tooBright, "%v", after)
	}
	assert.Equal(t, 3, at.Day())
	now, found, err := CapUsableAt(at, harbourLat, harbourLon, 1, 16, 3)
	require.NoError(t, err)
	assert.True(t, found && now.Equal(at), "once usable it is usable now")
	_, found, err = CapUsableAt(time.Date(2026, 6, 21, 12, 0, 0, 0, time.UTC), 89, 0, 1, 2.8, 100)
	require.NoError(t, err)
	assert.False(t, found, "under the midnight sun it does not come")
	_, _, err = CapUsableAt(noon, 0, 0, 1, 0, 3)
	assert.ErrorContains(t, err, "aperture")
	_, _, err = CapUsableAt(noon, 0, 0, 0, 8, 3)
	assert.ErrorContains(t, err, "sky factor")
}

func TestSlipBounds(t *testing.T) {
	low, high, bounded, err := SlipBounds(50)
	require.NoError(t, err)
	require.True(t, bounded)
	const snow, shade = 16, 12 // EV at ISO 100: ANSI PH2.7-1973/1986
	assert.Greater(t, high, float64(snow), "snow in the sun is no slip")
	assert.Less(t, high, 17.0)
	assert.Less(t, low, float64(shade-3), "deep shade is no slip")
	assert.InDelta(t, ok(t)(EV100FromLux(ok(t)(Daylight(50, 10)), CFlat))-5, low, 1e-9)
	_, high, _, err = SlipBounds(5)
	require.NoError(t, err)
	assert.Greater(t, high, 13.0, "a wall in the evening sun is no slip")
	_, _, bounded, err = SlipBounds(-7)
	require.NoError(t, err)
	assert.False(t, bounded, "lamps rule")
	_, _, _, err = SlipBounds(200)
	assert.ErrorContains(t, err, "altitude")
}

// An edge of the day in the last half second of a date is of that date: rounded to a second it was the next one's first.
func TestAnEdgeOfTheDayAtMidnightIsOfItsDate(t *testing.T) {
	at := time.Unix(-137036, 0).In(time.FixedZone("", -2*3600)) // 30 December 1969
	d, err := SunOn(at, -49.91810288607667, 28.568551903930793)
	require.NoError(t, err)
	for _, edge := range []time.Time{d.Sunrise, d.Sunset} {
		assert.Equal(t, at.Format(time.DateOnly), edge.Format(time.DateOnly))
	}
}

// The worked example of Meeus, Astronomical Algorithms, ch. 16, from memory: at a true altitude of 0.5541° air lifts by 24.618'.
// Thinner or warmer air lifts in proportion: P/1010 · 283/(273+T).
func TestAirLiftsAsInTheWorkedExample(t *testing.T) {
	assert.InDelta(t, 24.618, saemundsson(0.5541)*60, 0.001)
	assert.Equal(t, saemundsson(0.5541), refraction(0.5541))
	assert.Equal(t, 1.0, airFactor(Site{}), "usual air")
	assert.InDelta(t, 1, airFactor(Site{PressureHPa: 1010, TempC: 10}), 1e-12)
	assert.InDelta(t, 0.860677, airFactor(Site{PressureHPa: 900, TempC: 20}), 1e-6)
	at := time.Date(2026, 5, 2, 6, 0, 0, 0, time.UTC)
	p, err := SunPosition(at, 59.9, 10.7)
	require.NoError(t, err)
	assert.InDelta(t, refraction(p.TrueAltitudeDeg), p.AltitudeDeg-p.TrueAltitudeDeg, 1e-9)
}

// An upright face that is turned to a low sun gets up to two stops over level ground, and none by a high one.
func TestAFaceTurnedToTheSun(t *testing.T) {
	most, at := 0.0, 0.0
	for alt := 0.0; alt <= 90; alt++ {
		stops, err := FaceToSun(alt)
		require.NoError(t, err)
		if stops > most {
			most, at = stops, alt
		}
		if alt > 8 {
			before, err := FaceToSun(alt - 1)
			require.NoError(t, err)
			assert.Less(t, stops, before, "the higher the sun, the less")
		}
	}
	assert.InDelta(t, 2, most, 0.15)
	assert.InDelta(t, 7, at, 3)
	// by hand at 45°: sun and sky of Circular 171 are 0.52 and 0.07 of what falls outside the air; sine and cosine are one
	half, err := FaceToSun(45)
	require.NoError(t, err)
	direct, sky := daylight(45)
	assert.InDelta(t, math.Log2((direct+sky/2+0.1*(direct+sky))/(direct+sky)), half, 1e-9)
	overhead, err := FaceToSun(90)
	require.NoError(t, err)
	assert.Less(t, overhead, -2.0)
}

// An angle comes into 0 to 360, and what rounding makes 360 of is 0.
func TestTurn(t *testing.T) {
	for in, want := range map[float64]float64{0: 0, 359: 359, 360: 0, 370: 10, -10: 350, 725: 5, -1e-20: 0} {
		assert.Equal(t, want, turn(in), in)
	}
}
