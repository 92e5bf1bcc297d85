package calc

import (
	"math"
	"time"
)

// Daylight after Janiczek and DeYoung, Computer Programs for Sun and Moon
// Illuminance, US Naval Observatory Circular 171, 1987.

// sunLux is the illuminance in lux outside the air, starLux that of the night
// sky alone.
const (
	sunLux  = 133775.0
	starLux = 0.0005
)

// skies are the words for the sky and the divisors of Circular 171: under 70 %
// cloud; thin veiled cloud; average cloud; dark stratus.
var skies = [...]struct {
	name   string
	factor float64
}{{"clear", 1}, {"thin", 2}, {"cloud", 3}, {"dark", 10}}

// SkyFactor is the number by which a sky divides daylight: clear 1, thin 2,
// cloud 3, dark 10. Published: USNO Circular 171. ok is false for another word.
func SkyFactor(sky string) (factor float64, ok bool) {
	for _, s := range skies {
		if s.name == sky {
			return s.factor, true
		}
	}
	return 0, false
}

// Skies are the words that SkyFactor knows, the brightest first.
func Skies() []string {
	out := make([]string, len(skies))
	for i, s := range skies {
		out[i] = s.name
	}
	return out
}

func checkSky(factor float64) error { return within("sky factor", factor, 1, 100, "") }

func checkAltitude(a float64) error { return within("altitude of the sun", a, -90, 90, "°") }

// airMass is the length of the way through the air in units of the vertical one
// at an apparent altitude in degrees, for an air of even density 1/753.66 of the
// earth's radius high. Published: USNO Circular 171.
func airMass(sinAlt, cosAlt float64) float64 {
	const x = 753.66156
	s := math.Asin(x * cosAlt / (x + 1))
	return x*(math.Cos(s)-sinAlt) + math.Cos(s)
}

// daylight is the part of sunLux that falls on level ground: direct light and
// sky light.
func daylight(alt float64) (direct, sky float64) {
	sin, cos := math.Sincos(alt * radians)
	m := airMass(sin, cos)
	return math.Exp(-0.21*m) * sin, 0.0289 * math.Exp(-0.042*m) * (1 + (alt+90)*radians*sin)
}

// Daylight is the illuminance in lux on level ground with the sun at an apparent
// altitude in degrees under a sky of the given factor, 1 to 100 (see
// SkyFactor). Published: USNO Circular 171, 1987. Other tables of twilight
// differ by up to a factor of two below the horizon; the circular is kept
// because one formula serves from noon to night. An altitude beyond ±90° or a
// factor under 1 is a *RangeError.
func Daylight(altitudeDeg, skyFactor float64) (float64, error) {
	if err := firstError(checkAltitude(altitudeDeg), checkSky(skyFactor)); err != nil {
		return 0, err
	}
	direct, sky := daylight(altitudeDeg)
	return sunLux * math.Max(0, direct+sky) / skyFactor, nil
}

// FacingSun is the illuminance in lux on a surface turned to the sun: direct
// light without the slant of level ground, and the sky's. Derived from the two
// terms of Circular 171. It is the most that a clear sun gives.
func FacingSun(altitudeDeg, skyFactor float64) (float64, error) {
	level, err := Daylight(altitudeDeg, skyFactor)
	if err != nil || altitudeDeg <= 0 {
		return level, err
	}
	sin, cos := math.Sincos(altitudeDeg * radians)
	_, sky := daylight(altitudeDeg)
	return sunLux * (math.Exp(-0.21*airMass(sin, cos)) + sky) / skyFactor, nil
}

// GroundReflects is the share of the light that usual ground throws back. Published: 0.1
// to 0.4 over land, grass 0.20 (irradiance models of solar engineering).
const GroundReflects = 0.2

// OpenShadeStops is how much darker open shade is than sun. Published: US Army subcourse
// SS0508, 1.4e. An average: what is roofed over is darker.
const OpenShadeStops = 3.0

// By how much less exposure, in stops, a paper that sees blue asks than a meter tells
// which sees what the eye sees, where its index was measured in the sun: open shade is
// lit by blue sky, dusk and a lamp are red. Common practice; a strip in that light says
// better.
const (
	ShadeBluer = 0.5
	DuskRedder = 1.0
	LampRedder = 1.5
)

// onTilted is the illuminance on a surface tilted from level: beam is the sun's on a
// surface turned to it, sky and all that of the sky and of both on level ground, and
// cosIncidence the cosine between the sun and the surface. Published: the sky as a
// uniform source (Hottel and Woertz 1942), with ground that reflects evenly.
func onTilted(beam, sky, all, tiltDeg, cosIncidence, ground float64) float64 {
	cos := math.Cos(tiltDeg * radians)
	return beam*math.Max(0, cosIncidence) + sky*(1+cos)/2 + all*ground*(1-cos)/2
}

// FaceToSun is how much more light, in stops, an upright face gets that is turned to the
// sun than level ground, under a clear sky with the sun at an apparent altitude in degrees,
// 0 to 90: the cosine of the altitude against its sine, the terms of Circular 171, half of
// the sky and what the ground throws back. Two stops at most, with the sun some degrees
// high; less than level ground where it stands above 46°. Derived. An altitude outside is a *RangeError.
func FaceToSun(altitudeDeg float64) (stops float64, err error) {
	if err := within("altitude of the sun", altitudeDeg, 0, 90, "°"); err != nil {
		return 0, err
	}
	sin, cos := math.Sincos(altitudeDeg * radians)
	direct, sky := daylight(altitudeDeg)
	beam := math.Exp(-0.21 * airMass(sin, cos))
	return math.Log2(onTilted(beam, sky, direct+sky, 90, cos, GroundReflects) / (direct + sky)), nil
}

// SunLux is the illuminance in lux that the sun gives on level ground at an
// instant and a place, under a sky of the given factor. Published: USNO Circular
// 171 with its own short theory of the sun, for its certified values come out of
// that one alone: at the horizon a hundredth of a degree is half a per cent of
// light. Refraction as in the circular, but run out evenly below −5/6° where the
// circular drops it. A latitude beyond a pole or a year outside 1800 to 2200 is a
// *RangeError.
func SunLux(t time.Time, lat, lon, skyFactor float64) (float64, error) {
	if err := firstError((Site{LatDeg: lat, LonDeg: lon}).check(t), checkSky(skyFactor)); err != nil {
		return 0, err
	}
	_, alt := circularSun(t, lat, lon)
	direct, sky := daylight(alt)
	return sunLux * math.Max(0, direct+sky) / skyFactor, nil
}

// circularSun is azimuth from north and apparent altitude in degrees after
// Circular 171.
func circularSun(t time.Time, lat, lon float64) (azimuth, altitude float64) {
	d := JulianDay(t) - j2000
	dayPart := d + 0.5 - math.Floor(d+0.5)
	mean := turn(280.46 + 0.98565*d)
	lon0 := (mean + 1.91*math.Sin((357.5+0.98560*d)*radians)) * radians
	const cosE, sinE = 0.91775, 0.39715
	sinL, cosL := math.Sincos(lon0)
	ra := math.Atan2(cosE*sinL, cosL) / radians
	dec := math.Asin(sinE*sinL) / radians
	azimuth, h := horizontal(mean-180+360*dayPart+lon-ra, dec, lat)
	lift := func(h float64) float64 { return 1 / math.Tan((h+8.6/(h+4.42))*radians) / 60 }
	const edge = -5. / 6
	switch {
	case h >= 89.9:
		return azimuth, h
	case h >= edge:
		return azimuth, h + lift(h)
	case h > noAirDeg:
		return azimuth, h + lift(edge)*(h-noAirDeg)/(edge-noAirDeg)
	}
	return azimuth, h
}
