package calc

import (
	"math"
	"time"
)

// Light is the daylight expected at a place and an instant.
type Light struct {
	Position
	// Lux is the illuminance on level ground; EV100 the incident reading of it at
	// ISO 100 with CFlat. At Night (less than starlight from the sun) EV100 and
	// the drift are 0 and mean nothing.
	Lux, EV100 float64
	Night      bool
	// DriftStopsPer10Min is how fast the light changes; − is fading.
	DriftStopsPer10Min float64
	SunDay
}

// driftSpan is the time over which the drift is taken, half before and half
// after the instant.
const driftSpan = 10 * time.Minute

// LightAt is the daylight expected at an instant, a latitude (north positive)
// and a longitude (east positive) in degrees, under a sky of the given factor
// (see SkyFactor). Published: SunPosition for the place, USNO Circular 171 for
// the light. Errors as in SunPosition.
func LightAt(t time.Time, lat, lon, skyFactor float64) (Light, error) {
	var l Light
	var err, err2, err3 error
	l.Position, err = SunPosition(t, lat, lon)
	l.SunDay, err2 = SunOn(t, lat, lon)
	l.Lux, err3 = SunLux(t, lat, lon, skyFactor)
	if err := firstError(err, err2, err3); err != nil {
		return Light{}, err
	}
	if l.Night = l.Lux < starLux/skyFactor; l.Night {
		return l, nil
	}
	l.EV100 = math.Log2(l.Lux * 100 / CFlat)
	before, err := SunLux(t.Add(-driftSpan/2), lat, lon, skyFactor)
	after, err2 := SunLux(t.Add(driftSpan/2), lat, lon, skyFactor)
	if err := firstError(err, err2); err != nil {
		return Light{}, err
	}
	l.DriftStopsPer10Min = math.Log2(after / before)
	return l, nil
}

// TimeFor is the time in seconds that this light asks of an index at an aperture
// mark, and whether that is too short for a cap (under CapShortestS). At night
// it is a *RangeError.
func (l Light) TimeFor(f, index float64) (timeS float64, tooBright bool, err error) {
	if l.Night {
		return 0, false, &RangeError{Quantity: "daylight", Value: l.Lux, Min: starLux, Max: math.Inf(1), Unit: "lx"}
	}
	timeS, err = ExposureTime(l.EV100, f, index)
	return timeS, err == nil && timeS < CapShortestS, err
}

// EV100ForCap is the strongest light, as exposure value at ISO 100, in which an
// index and an aperture mark leave a cap its shortest time: index 3 and f/16
// give 13.06. Derived.
func EV100ForCap(f, index float64) (float64, error) {
	return EV100FromExposure(f, CapShortestS, index)
}

// CapUsableAt is the next instant, from t on and within a day, at which the
// daylight is weak enough for a cap at an index and an aperture mark, to the
// second; t itself where it already is. ok is false where that does not come
// within a day. Our own search over SunLux in steps of 5 min. Errors as in
// LightAt.
func CapUsableAt(t time.Time, lat, lon, skyFactor, f, index float64) (at time.Time, ok bool, err error) {
	limit, err := EV100ForCap(f, index)
	if err != nil {
		return time.Time{}, false, err
	}
	limitLux := CFlat * math.Exp2(limit) / 100
	lux, err := SunLux(t, lat, lon, skyFactor)
	if err != nil {
		return time.Time{}, false, err
	}
	if lux <= limitLux {
		return t, true, nil
	}
	const step = 5 * time.Minute
	for after := step; after <= 24*time.Hour; after += step {
		if lux, err = SunLux(t.Add(after), lat, lon, skyFactor); err != nil {
			return time.Time{}, false, err
		}
		if lux > limitLux {
			continue
		}
		lo, hi := after-step, after
		for hi-lo > time.Second {
			mid := (lo + hi) / 2
			if lux, err = SunLux(t.Add(mid), lat, lon, skyFactor); err != nil {
				return time.Time{}, false, err
			}
			if lux > limitLux {
				lo = mid
			} else {
				hi = mid
			}
		}
		return t.Add(hi), true, nil
	}
	return time.Time{}, false, nil
}

// SlipBounds are the exposure values at ISO 100 between which a reading in
// daylight is believed, for an apparent altitude of the sun in degrees. Brighter
// than max is more than 1 stop over what a clear sun gives a surface turned to
// it; darker than min is more than 2 stops under deep shade, 3 stops below the
// darkest sky. Our own model over USNO Circular 171. Level ground is not the
// measure of the bright side: with the sun low, a wall that faces it has several
// stops more, and that is no slip. ok is false with the sun under −6°, where lamps
// rule and nothing is bounded. An altitude beyond ±90° is a *RangeError.
func SlipBounds(altitudeDeg float64) (min, max float64, ok bool, err error) {
	if err := checkAltitude(altitudeDeg); err != nil {
		return 0, 0, false, err
	}
	if altitudeDeg < -6 {
		return 0, 0, false, nil
	}
	dark, err := Daylight(altitudeDeg, 10)
	clear, err2 := FacingSun(altitudeDeg, 1)
	if err := firstError(err, err2); err != nil {
		return 0, 0, false, err
	}
	return math.Log2(dark*100/CFlat) - 3 - 2, math.Log2(clear*100/CFlat) + 1, true, nil
}
