package main

import (
	"slices"
	"strconv"

	"github.com/urfave/cli/v2"

	"traybook/calc"
	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/screen"
	"traybook/projections/wording"
)

type factorJSON struct {
	Factor string  `json:"factor"` // what lengthens or shortens the exposure, in words
	Stops  float64 `json:"stops"`  // by how much: + = longer
}

type exposureJSON struct {
	TimeS      float64           `json:"time_s"`       // called for
	SetTimeS   float64           `json:"set_time_s"`   // the nearest time that a hand with a watch aims at
	ErrorStops float64           `json:"error_stops"`  // what rounding to set_time_s costs: + = more exposure
	EV100      float64           `json:"ev100"`        // of the light, at ISO 100
	CapSDStops float64           `json:"cap_sd_stops"` // scatter of the hand at this time
	Stops      []factorJSON      `json:"stops"`        // what makes up the exposure, factor by factor
	Warnings   []wording.Warning `json:"warnings"`
}

func figureExposure(env *Env) *cli.Command {
	const reading, camera, paper = "the reading, one of", "the camera", "the paper"
	return &cli.Command{
		Name: "exposure", Usage: "the time that a reading, a lens and a paper call for",
		UsageText: "traybook figure exposure --ev 11 --index 3 --f f/8\n" +
			"traybook figure exposure --reading-f f/8 --reading-time 1/2s --reading-index 6 --index 3 --f f/11\n" +
			"traybook figure exposure --ev 9 --index 3 --f f/8 --focal 135mm --magnification 1",
		Description: "The time is the reading moved to the paper's index and the aperture set, times the factors of extension and filter; reciprocity comes last. " +
			"Marks stand for their exact apertures: f/11 is 11.314.",
		Flags: slices.Concat(under(reading,
			number("ev", "`11` exposure value"), number("ev-index", "`100` index that the value was read at (100)"),
			number("lux", "`5000lx` incident reading"), &cli.BoolFlag{Name: "dome", Usage: "the incident reading was made through a dome (C 330, else 250)"},
			number("luminance", "`40cd/m2` reflected reading"),
			number("reading-f", "`f/8` aperture that the meter gave"), number("reading-time", "`1/2s` time that the meter gave"),
			number("reading-index", "`6` index that the meter was set to"),
		), under(camera,
			number("f", "`f/8` aperture set on the lens; that of the reading where left out"),
			number("focal", "`135mm` focal length; with a distance or an extension"), number("distance", "`2m` from lens to subject"),
			number("extension", "`9mm` rail position from the infinity mark"), number("magnification", "`1` image over subject"),
			number("pupil", "`1` exit pupil over entrance pupil (1)"), factors("filter-factor", "`4` factor of the filter; several multiply"),
			number("cap-sd", "`0.1s` scatter of the hand at the cap (0.1 s)"),
		), under(paper,
			number("index", "`3` exposure index of the paper"), number("reciprocity", "`0.95` exponent p for times over 1 s (1)"),
			number("zone", "`-1` where the tone that was read shall land, in stops from the mid-tone (0)"),
		)),
		Action: func(c *cli.Context) error {
			o := optionsOf(c)
			e := calc.Exposure{
				Reading: o.reading(), ZoneStops: o.or("zone", line.Stops, 0), PaperIndex: o.need("index", line.Plain),
				P: o.or("reciprocity", line.Plain, 0), CapSDS: o.or("cap-sd", line.Seconds, 0),
			}
			if e.SetF = e.Reading.F; o.has("f") || e.SetF == 0 {
				e.SetF = o.need("f", line.FNumber)
			}
			ext, err := o.extensionFactor()
			if o.err != nil || err != nil {
				return either(o.err, err)
			}
			if e.FilterFactor, err = calc.FilterFactor(o.list("filter-factor", line.Plain)...); o.err != nil || err != nil {
				return either(o.err, err)
			}
			e.ExtensionFactor = ext
			called, err := e.CalledFor()
			if err != nil {
				return err
			}
			if c.Bool("json") {
				return writeJSON(env.Out, exposureFigure(called))
			}
			return printExposure(screenOf(env, c), e, called)
		},
	}
}

func exposureFigure(called calc.Called) exposureJSON {
	out := exposureJSON{
		TimeS: called.TimeS, SetTimeS: called.SetTimeS, ErrorStops: called.ErrorStops, EV100: called.EV100,
		CapSDStops: called.CapSDStops, Stops: []factorJSON{}, Warnings: orEmpty(wording.OfCalc(called.Warnings)),
	}
	for _, f := range called.Stops {
		out.Stops = append(out.Stops, factorJSON(f))
	}
	return out
}

// reading reads what the meter said, in exactly one way.
func (o *options) reading() calc.Reading {
	way := o.oneOf(false, "ev", "lux", "luminance", "reading-f")
	if way == "" && o.has("reading-time") {
		way = "reading-f"
	}
	for _, extra := range []struct{ name, way string }{{"ev-index", "ev"}, {"dome", "lux"}, {"reading-time", "reading-f"}, {"reading-index", "reading-f"}} {
		if way != "" && extra.way != way && o.has(extra.name) {
			o.fail(line.WrongLinef("leave --"+extra.name+" out, or give --"+extra.way, "--%s says nothing beside --%s", extra.name, way))
		}
	}
	switch way {
	case "ev":
		return calc.Reading{EV: o.number("ev", line.EV), Index: o.or("ev-index", line.Plain, 100)}
	case "lux":
		r := calc.Reading{Lux: o.need("lux", line.Lux)}
		if o.c.Bool("dome") {
			r.C = calc.CDome
		}
		return r
	case "luminance":
		return calc.Reading{CdM2: o.need("luminance", line.CandelasPerSquareMetre)}
	case "reading-f":
		return calc.Reading{
			F: o.need("reading-f", line.FNumber), TimeS: o.need("reading-time", line.Seconds), Index: o.need("reading-index", line.Plain),
		}
	}
	o.fail(line.WrongLinef("give --ev 11, or --lux 5000lx, or --luminance 40cd/m2, or --reading-f f/8 --reading-time 1/2s --reading-index 6",
		"%s needs a reading", commandPath(o.c)))
	return calc.Reading{}
}

// magnificationOf is the magnification that a distance, an extension or a ratio makes; 0 stands for infinity.
func (o *options) magnificationOf() (float64, error) {
	way := o.oneOf(false, "distance", "extension", "magnification")
	if way == "" || way == "magnification" {
		return o.or("magnification", line.Plain, 0), nil
	}
	focal := o.need("focal", line.Millimetres)
	v := o.need(way, line.Millimetres)
	switch {
	case o.err != nil:
		return 0, nil
	case way == "distance":
		return calc.Magnification(focal, v)
	}
	return calc.MagnificationFromExtension(focal, v)
}

// extensionFactor is the factor that drawing the lens out costs.
func (o *options) extensionFactor() (float64, error) {
	if o.has("focal") && !o.has("distance") && !o.has("extension") && !o.has("magnification") {
		o.missing("--focal alone says nothing of the extension", "distance", "extension", "magnification")
	}
	m, err := o.magnificationOf()
	if err != nil || o.err != nil {
		return 0, err
	}
	return calc.ExtensionFactor(m, o.or("pupil", line.Plain, 1))
}

func printExposure(s *screen.Screen, e calc.Exposure, called calc.Called) error {
	s.Headline(inTime(called.TimeS) + " at " + line.Format(line.FNumber, e.SetF))
	set := inTime(called.SetTimeS)
	if !wording.NoStops(called.ErrorStops) {
		set += " (" + inStops(called.ErrorStops) + ")"
	}
	if called.TooBrightForCap {
		set = "" // no hand keeps it; the warning says what helps
	}
	s.Pairs(
		screen.Pair{Label: "aim at", Value: set},
		screen.Pair{Label: "the cap", Value: "scatters by " + decimals(called.CapSDStops, 2) + " stop; 95 of 100 exposures within twice that"},
		screen.Pair{Label: "light", Value: "EV " + decimals(called.EV100, 2) + " at ISO 100"},
	)
	s.Blank()
	start := "light at f/1"
	if e.Reading.F != 0 {
		start = "the meter: " + line.Format(line.FNumber, called.FromF)
	}
	t := screen.Table{Columns: []screen.Column{{Title: "factor"}, {Title: "stops", Right: true}, {Title: "time so far", Right: true}}}
	so, sofar := called.FromTimeS, func(t float64) string {
		if e.Reading.F == 0 {
			return "" // at f/1 and index 100 the times mean nothing to a hand
		}
		return inTime(t)
	}
	t.Add(start, "", sofar(so))
	for _, f := range called.Stops {
		if moved, err := calc.MoveTime(so, f.Stops); err == nil {
			so = moved
		}
		t.Add(f.Factor, signed(f.Stops), sofar(so))
	}
	s.Table(t)
	if e.P == 0 && called.TimeS > 1 {
		s.Say(screen.Faint, "Reciprocity is left out (p = 1), for none was given; calibrate measures it.")
	}
	warn(s, "", wording.OfCalc(called.Warnings))
	return s.Err()
}

func inTime(v float64) string { return wording.Seconds(v) }

func inStops(v float64) string { return wording.StopsText(v) }

func inLength(v float64) string { return line.Format(line.Millimetres, v) }

// decimals writes a number with so many decimals.
func decimals(v float64, places int) string {
	return wording.Minus(strconv.FormatFloat(v, 'f', places, 64))
}

// signed writes stops without their unit, for a column of them.
func signed(v float64) string {
	t := decimals(v, 2)
	switch {
	case t == "0.00" || t == "−0.00":
		return "0"
	case v > 0:
		return "+" + t
	}
	return t
}
