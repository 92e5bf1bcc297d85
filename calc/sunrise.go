package calc

import (
	"math"
	"time"
)

// SunDay is what the sun does on one local date.
type SunDay struct {
	// Sunrise and Sunset are the first of each on that date, Transit the moment
	// it stands highest; in the offset that was asked for. The zero time stands
	// for "not on this date".
	Sunrise, Sunset, Transit time.Time
	// HighestDeg is the true altitude at transit.
	HighestDeg float64
}

// UpAllDay is true where the sun neither rises nor sets and stays up.
func (d SunDay) UpAllDay() bool {
	return d.Sunrise.IsZero() && d.Sunset.IsZero() && d.HighestDeg > horizonDeg
}

// DownAllDay is true where the sun neither rises nor sets and stays down.
func (d SunDay) DownAllDay() bool {
	return d.Sunrise.IsZero() && d.Sunset.IsZero() && d.HighestDeg <= horizonDeg
}

// SunOn is the sun's day on the date that t has in its own offset, at a latitude
// and longitude in degrees. Sunrise and sunset are when the true altitude of the
// sun's middle, seen from the earth's middle, passes −0.8333°: 34' of refraction
// and 16' of radius, the custom of almanacs. Hills and weather shift them.
// Published: as SunPosition; the convention with NREL/TP-560-34302. Good to a few
// seconds where the sun crosses steeply. Some tables print the sunset that falls
// on a Greenwich date under the next local one; here all three belong to the
// date of t. A latitude beyond a pole or a year outside 1800 to 2200 is a
// *RangeError.
func SunOn(t time.Time, lat, lon float64) (SunDay, error) {
	if err := (Site{LatDeg: lat, LonDeg: lon}).check(t); err != nil {
		return SunDay{}, err
	}
	_, offset := t.Zone()
	zone := time.FixedZone("", offset)
	local := t.In(zone)
	midnight := time.Date(local.Year(), local.Month(), local.Day(), 0, 0, 0, 0, zone)
	jd0 := JulianDay(midnight)
	f := func(day float64) float64 { return centreAltitude(jd0+day, lat, lon) - horizonDeg }

	const steps = 144
	var d SunDay
	when := func(day float64) time.Time {
		return midnight.Add(time.Duration(math.Round(day*secondsADay)) * time.Second)
	}
	cross := func(a, b, fa, fb float64) {
		switch {
		case fa <= 0 && fb > 0 && d.Sunrise.IsZero():
			d.Sunrise = when(bisect(f, a, b))
		case fa > 0 && fb <= 0 && d.Sunset.IsZero():
			d.Sunset = when(bisect(f, a, b))
		}
	}
	best, at := math.Inf(-1), 0.0
	a, fa := 0.0, f(0)
	for i := 1; i <= steps; i++ {
		b := float64(i) / steps
		fb := f(b)
		cross(a, b, fa, fb)
		if fb > best {
			best, at = fb, b
		}
		a, fa = b, fb
	}
	top := highest(f, math.Max(0, at-1./steps), math.Min(1, at+1./steps))
	ftop := f(top)
	d.HighestDeg = ftop + horizonDeg
	if d.Sunrise.IsZero() && d.Sunset.IsZero() && best <= 0 && ftop > 0 {
		// Up for less than a step, at the edge of the polar night.
		d.Sunrise = when(bisect(f, math.Max(0, top-1./steps), top))
		d.Sunset = when(bisect(f, top, math.Min(1, top+1./steps)))
	}
	if hour, ok := transit(jd0, lon); ok {
		d.Transit = when(hour)
	}
	return d, nil
}

// centreAltitude is the altitude without air or parallax.
func centreAltitude(jd, lat, lon float64) float64 {
	s := solarAt(julianTD(jd))
	_, alt := horizontal(apparentSidereal(jd, s)+lon-s.ra, s.dec, lat)
	return alt
}

// transit is the part of the day from jd0 on at which the sun stands on the
// meridian. ok is false where it does so only in the days before and after,
// which a clock set far from the sun can bring about.
func transit(jd0, lon float64) (day float64, ok bool) {
	hourAngle := func(day float64) float64 {
		s := solarAt(julianTD(jd0 + day))
		return turn(apparentSidereal(jd0+day, s)+lon-s.ra+180) - 180
	}
	for _, start := range [...]float64{0.5, 0, 1} {
		day = start
		for range 4 {
			day -= hourAngle(day) / 360
		}
		if day >= 0 && day < 1 {
			return day, true
		}
	}
	return day, false
}

func bisect(f func(float64) float64, a, b float64) float64 {
	fa := f(a)
	for range 32 {
		m := (a + b) / 2
		if fm := f(m); (fm > 0) == (fa > 0) {
			a = m
		} else {
			b = m
		}
	}
	return (a + b) / 2
}

func highest(f func(float64) float64, a, b float64) float64 {
	for range 40 {
		p, q := a+(b-a)/3, b-(b-a)/3
		if f(p) < f(q) {
			a = p
		} else {
			b = q
		}
	}
	return (a + b) / 2
}
