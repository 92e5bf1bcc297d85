package main

import (
	"math"
	"slices"
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"traybook/calc"
	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/screen"
	"traybook/projections/acts"
	"traybook/projections/wording"
)

type lightJSON struct {
	AltitudeDeg float64  `json:"altitude_deg"`
	AzimuthDeg  float64  `json:"azimuth_deg"`
	Lux         float64  `json:"lux"`                   // on the ground
	EV100       *float64 `json:"ev100"`                 // at ISO 100; null at night
	Drift       *float64 `json:"drift_stops_per_10min"` // how the light changes: + = it grows
	TimeS       *float64 `json:"time_s"`                // called for; null where no index and aperture are given
	Sunrise     *string  `json:"sunrise"`
	Sunset      *string  `json:"sunset"`
	TooBright   *bool    `json:"too_bright_for_cap"` // the time is too short to time by hand; null where no time is told
	At          string   `json:"at"`
	CapUsableAt *string  `json:"cap_usable_at"`     // when the light is weak enough to time by hand, RFC 3339; null where that was not asked for, or is not to come
	FaceToSun   *float64 `json:"face_to_sun_stops"` // what an upright face that is turned to the sun gets over level ground; null but under a clear sky by day
}

func figureLight(env *Env) *cli.Command {
	return &cli.Command{
		Name: "light", Usage: "daylight at a place and an hour, and the time it calls for",
		UsageText: "traybook figure light --lat 59.9N --lon 10.7E --at 2026-05-03T14:05+02:00 --index 3 --f f/8\n" +
			"traybook figure light --lat 59.9N --lon 10.7E --at 18:30 --sky cloud",
		Description: "The light is that on level ground under the sky given. The altitude is apparent, the azimuth from north through east. " +
			"Sunrise and sunset are those of the local date of --at, in its offset; hills and weather shift them.",
		Flags: slices.Concat(under("where and when",
			number("lat", "`59.9N` latitude, north positive"), number("lon", "`10.7E` longitude, east positive"),
			number("at", "`2026-05-03T14:05+02:00` the moment, also 14:05 or yesterday 14:05 (now)"),
			number("sky", "`clear|thin|cloud|dark` the sky (clear)"),
		), under("for a time", number("index", "`3` exposure index of the paper"), number("f", "`f/8` aperture set on the lens"))),
		Action: func(c *cli.Context) error {
			o := optionsOf(c)
			lat, lon := o.need("lat", line.Latitude), o.need("lon", line.Longitude)
			sky := o.word("sky", "clear", calc.Skies()...)
			if o.has("index") != o.has("f") {
				lacking := "index"
				if o.has("index") {
					lacking = "f"
				}
				o.missing("a time needs both the index and the aperture", lacking)
			}
			index, f := o.or("index", line.Plain, 0), o.or("f", line.FNumber, 0)
			at := o.moment(env)
			if o.err != nil {
				return o.err
			}
			factor, _ := calc.SkyFactor(sky)
			light, err := calc.LightAt(at, lat, lon, factor)
			if err != nil {
				return err
			}
			out := lightFigure(light, at)
			if o.has("f") && !light.Night {
				timeS, tooBright, err := light.TimeFor(f, index)
				if err != nil {
					return err
				}
				out.TimeS, out.TooBright = &timeS, &tooBright
				if tooBright {
					when, ok, err := calc.CapUsableAt(at, lat, lon, factor, f, index)
					if err != nil {
						return err
					}
					if ok {
						out.CapUsableAt = stampRFC(when)
					}
				}
			}
			if stops, err := calc.FaceToSun(light.AltitudeDeg); err == nil && sky == "clear" && !light.Night { // else the sun is down, or behind a cloud
				out.FaceToSun = &stops
			}
			if c.Bool("json") {
				return writeJSON(env.Out, out)
			}
			return printLight(screenOf(env, c), out, light, at, sky)
		},
	}
}

// moment reads --at, now where it was not given. The offset that was typed is kept.
func (o *options) moment(env *Env) time.Time {
	if !o.has("at") {
		if env.getenv("TRAYBOOK_NOW") != "" {
			return env.Now()
		}
		return env.Now().In(env.zone())
	}
	at, err := line.ParseAt(strings.TrimSpace(o.c.String("at")), env.Now(), env.zone())
	if err != nil {
		o.fail(line.WrongLine(err))
	}
	return at
}

func stampRFC(t time.Time) *string {
	if t.IsZero() {
		return nil
	}
	s := t.Format(time.RFC3339)
	return &s
}

func lightFigure(l calc.Light, at time.Time) lightJSON {
	return lightJSON{
		AltitudeDeg: l.AltitudeDeg, AzimuthDeg: l.AzimuthDeg, Lux: l.Lux, EV100: where(!l.Night, l.EV100), Drift: where(!l.Night, l.DriftStopsPer10Min),
		Sunrise: stampRFC(l.Sunrise.Round(time.Second)), Sunset: stampRFC(l.Sunset.Round(time.Second)), At: at.Format(time.RFC3339),
	}
}

func printLight(s *screen.Screen, out lightJSON, l calc.Light, at time.Time, sky string) error {
	s.Headline("daylight on " + at.Format("2006-01-02 15:04 -07:00") + ", sky " + sky)
	light, drift, expose := "night", "", ""
	if !l.Night {
		light = line.Format(line.Lux, l.Lux) + " on level ground, EV " + decimals(l.EV100, 1) + " at ISO 100"
		drift = signed(l.DriftStopsPer10Min) + " stop in 10 minutes"
	}
	if out.TimeS != nil {
		expose = inTime(*out.TimeS)
		if *out.TimeS > wording.LongestExposureS {
			expose = wording.TooDark
		}
	}
	face := ""
	if f := out.FaceToSun; f != nil && *f >= acts.LowSunStops {
		face = "turned to the sun " + wording.StopsText(math.Round(*f*10)/10) + " over level ground: read the light on it"
	}
	hour := func(t time.Time, none string) string {
		if t.IsZero() {
			return none
		}
		return t.Format("15:04:05")
	}
	none := "not on this date"
	switch {
	case l.UpAllDay():
		none = "the sun stays up"
	case l.DownAllDay():
		none = "the sun stays down"
	}
	s.Pairs(
		screen.Pair{Label: "sun", Value: decimals(l.AltitudeDeg, 1) + "° high, " + decimals(l.AzimuthDeg, 0) + "° from north"},
		screen.Pair{Label: "light", Value: light}, screen.Pair{Label: "a face", Value: face}, screen.Pair{Label: "change", Value: drift}, screen.Pair{Label: "expose", Value: expose},
		screen.Pair{Label: "sunrise", Value: hour(l.Sunrise, none)}, screen.Pair{Label: "sunset", Value: hour(l.Sunset, none)},
	)
	if out.TooBright != nil && *out.TooBright {
		text := "Too bright for a cap: under 1 s the hand is too coarse. A smaller aperture, a filter or shade helps"
		if out.CapUsableAt != nil {
			if when, err := time.Parse(time.RFC3339, *out.CapUsableAt); err == nil {
				text += "; the light itself is weak enough from " + when.Format("2006-01-02 15:04")
			}
		}
		warn(s, "", []wording.Warning{wording.Remark(text + ".")})
	}
	return s.Err()
}
