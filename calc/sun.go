package calc

import (
	"math"
	"time"
)

// The sun's place. Published: Meeus, Astronomical Algorithms, 2nd ed. 1998,
// chapters 7, 12, 13, 16, 22, 25, 28. The theory of chapter 25 is good to 0.01°.

const radians = math.Pi / 180

// julianUnix is the Julian day of the Unix epoch, j2000 of 2000 January 1.5.
const (
	julianUnix  = 2440587.5
	j2000       = 2451545.0
	secondsADay = 86400.0
)

// JulianDay is the Julian day, in days, of an instant. Published: Meeus ch. 7.
func JulianDay(t time.Time) float64 {
	return julianUnix + (float64(t.Unix())+float64(t.Nanosecond())/1e9)/secondsADay
}

// deltaT is Dynamical Time less Universal Time, in seconds, each tenth year from
// 1900 on; from memory. A whole minute of error moves the sun by 0.0007°.
var deltaT = [...]float64{-3, 10, 21, 24, 24, 29, 33, 40, 51, 57, 64, 66, 69, 72}

// julianTD is the Julian day in Dynamical Time of one in Universal Time.
func julianTD(jd float64) float64 {
	x := (jd - 2415020.5) / 3652.5
	i := int(math.Floor(x))
	var s float64
	switch {
	case i < 0:
		s = deltaT[0]
	case i >= len(deltaT)-1:
		s = deltaT[len(deltaT)-1]
	default:
		s = deltaT[i] + (x-float64(i))*(deltaT[i+1]-deltaT[i])
	}
	return jd + s/secondsADay
}

// solar holds what chapter 25 makes of a moment in Dynamical Time; angles in
// degrees.
type solar struct {
	t, l0, e, c, trueLon, lambda, eps0, eps, ra, dec, r, dpsi float64
}

func solarAt(jde float64) solar {
	var s solar
	t := (jde - j2000) / 36525
	s.t = t
	s.l0 = turn(280.46646 + t*(36000.76983+t*0.0003032))
	m := (357.52911 + t*(35999.05029-t*0.0001537)) * radians
	s.e = 0.016708634 - t*(0.000042037+t*0.0000001267)
	sin1, cos1 := math.Sincos(m)
	sin2 := 2 * sin1 * cos1
	sin3 := sin1 * (3 - 4*sin1*sin1)
	s.c = (1.914602-t*(0.004817+t*0.000014))*sin1 + (0.019993-t*0.000101)*sin2 + 0.000289*sin3
	s.trueLon = s.l0 + s.c
	sinC, cosC := math.Sincos(s.c * radians)
	s.r = 1.000001018 * (1 - s.e*s.e) / (1 + s.e*(cos1*cosC-sin1*sinC))
	omega := (125.04 - 1934.136*t) * radians
	sinO, cosO := math.Sincos(omega)
	s.lambda = s.trueLon - 0.00569 - 0.00478*sinO
	s.eps0 = 23.4392911111 - t*(0.0130041667+t*(0.00000016389-t*0.00000050361))
	s.eps = s.eps0 + 0.00256*cosO
	sinL, cosL := math.Sincos(s.lambda * radians)
	sinE, cosE := math.Sincos(s.eps * radians)
	s.ra = turn(math.Atan2(cosE*sinL, cosL) / radians)
	s.dec = math.Asin(sinE*sinL) / radians
	// Nutation in longitude after ch. 22, four terms, good to 0.5".
	moon := (218.3165 + 481267.8813*t) * radians
	s.dpsi = (-17.20*sinO - 1.32*math.Sin(2*s.l0*radians) - 0.23*math.Sin(2*moon) + 0.21*2*sinO*cosO) / 3600
	return s
}

// turn brings an angle in degrees into 0 to 360.
func turn(a float64) float64 {
	a -= 360 * math.Floor(a/360)
	if a >= 360 {
		return 0
	}
	return a
}

// meanSidereal is the mean sidereal time at Greenwich in degrees at a Julian day
// in Universal Time. Published: Meeus 12.4.
func meanSidereal(jd float64) float64 {
	t := (jd - j2000) / 36525
	return turn(280.46061837 + 360.98564736629*(jd-j2000) + t*t*(0.000387933-t/38710000))
}

// apparentSidereal adds the equation of the equinoxes to meanSidereal.
func apparentSidereal(jd float64, s solar) float64 {
	return turn(meanSidereal(jd) + s.dpsi*math.Cos(s.eps*radians))
}

// horizontal turns an hour angle and a declination into azimuth from north,
// eastward, and altitude; all degrees. Published: Meeus 13.5, 13.6, with the
// azimuth turned round from south.
func horizontal(hourAngle, dec, lat float64) (azimuth, altitude float64) {
	sinH, cosH := math.Sincos(hourAngle * radians)
	sinD, cosD := math.Sincos(dec * radians)
	sinL, cosL := math.Sincos(lat * radians)
	azimuth = turn(math.Atan2(sinH*cosD, cosH*sinL*cosD-sinD*cosL)/radians + 180)
	altitude = math.Asin(math.Max(-1, math.Min(1, sinL*sinD+cosL*cosD*cosH))) / radians
	return azimuth, altitude
}

// Site is where and in what air the sun is looked at.
type Site struct {
	// LatDeg is the latitude, north positive; LonDeg the longitude, east positive.
	LatDeg, LonDeg float64
	// PressureHPa and TempC of the air; both 0 mean 1010 hPa and 10 °C.
	PressureHPa, TempC float64
}

func (s Site) check(t time.Time) error {
	return firstError(
		within("latitude", s.LatDeg, -90, 90, "°"),
		within("longitude", s.LonDeg, -360, 360, "°"),
		within("pressure of the air", s.PressureHPa, 0, 1200, "hPa"),
		within("temperature of the air", s.TempC, -90, 60, "°C"),
		within("year", float64(t.UTC().Year()), 1800, 2200, ""))
}

// Position is where the sun stands, in degrees.
type Position struct {
	// AltitudeDeg is the altitude as the eye sees it, refraction included.
	AltitudeDeg float64
	// TrueAltitudeDeg is the altitude of the sun's middle without air, parallax
	// included.
	TrueAltitudeDeg float64
	// AzimuthDeg is from north through east.
	AzimuthDeg float64
	// DeclinationDeg and RightAscensionDeg are the apparent ones.
	DeclinationDeg, RightAscensionDeg float64
}

// SunPosition is where the sun stands at an instant, at a latitude (north
// positive) and a longitude (east positive) in degrees, under standard air.
// Good to 0.01°. Published: Meeus, Astronomical Algorithms, ch. 25 (low accuracy),
// sidereal time 12.4, parallax, refraction 16.4. A latitude beyond a pole or a
// year outside 1800 to 2200 is a *RangeError.
func SunPosition(t time.Time, lat, lon float64) (Position, error) {
	return SunPositionAt(t, Site{LatDeg: lat, LonDeg: lon})
}

// SunPositionAt is SunPosition for a site with its own air.
func SunPositionAt(t time.Time, site Site) (Position, error) {
	if err := site.check(t); err != nil {
		return Position{}, err
	}
	p := geometric(JulianDay(t), site.LatDeg, site.LonDeg)
	p.AltitudeDeg = p.TrueAltitudeDeg + refraction(p.TrueAltitudeDeg)*airFactor(site)
	return p, nil
}

func geometric(jd, lat, lon float64) Position {
	s := solarAt(julianTD(jd))
	az, alt := horizontal(apparentSidereal(jd, s)+lon-s.ra, s.dec, lat)
	// Seen from the surface and not from the middle of the earth, the sun stands
	// lower by up to 8.8".
	alt -= 8.794 / 3600 / s.r * math.Cos(alt*radians)
	return Position{TrueAltitudeDeg: alt, AzimuthDeg: az, DeclinationDeg: s.dec, RightAscensionDeg: s.ra}
}

func airFactor(s Site) float64 {
	if s.PressureHPa == 0 && s.TempC == 0 {
		return 1
	}
	return s.PressureHPa / 1010 * 283 / (273 + s.TempC)
}

// horizonDeg is the true altitude of the sun's middle when its upper limb
// touches the horizon: 34' of refraction and 16' of radius.
const horizonDeg = -0.8333

// noAirDeg is the true altitude from which on refraction is left out.
const noAirDeg = -2.0

// refraction lifts a true altitude, in degrees, under standard air: Saemundsson,
// Meeus 16.4. The formula ends at the horizon, where sources stop abruptly (to
// nothing, a jump of more than half a degree); here it runs out evenly between
// −0.83° and −2°, our own choice, so that dusk has no step in it.
func refraction(alt float64) float64 {
	switch {
	case alt >= 89.9:
		return 0
	case alt >= horizonDeg:
		return saemundsson(alt)
	case alt > noAirDeg:
		return saemundsson(horizonDeg) * (alt - noAirDeg) / (horizonDeg - noAirDeg)
	}
	return 0
}

func saemundsson(trueAlt float64) float64 {
	return 1.02 / 60 / math.Tan((trueAlt+10.3/(trueAlt+5.11))*radians)
}

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
	when := func(day float64) time.Time { // what rounds up to the next midnight is still of this date
		return midnight.Add(time.Duration(math.Min(math.Round(day*secondsADay), secondsADay-1)) * time.Second)
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
