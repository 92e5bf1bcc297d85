package main

import (
	"fmt"
	"math"
	"slices"

	"github.com/urfave/cli/v2"

	"traybook/calc"
	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/screen"
	"traybook/projections/wording"
)

type zoneJSON struct {
	Zone     float64 `json:"zone"`     // stops from the mid-tone of the scene
	Negative float64 `json:"negative"` // density of the negative
	Print    float64 `json:"print"`    // density of the print
}

type tonesJSON struct {
	Zones    []zoneJSON `json:"zones"`        // from the darkest to the lightest
	PrintMid float64    `json:"print_mid"`    // density of the print in the mid-tone
	PrintMin float64    `json:"print_min"`    // least density of the print
	PrintMax float64    `json:"print_max"`    // greatest density of the print
	NegMid   float64    `json:"negative_mid"` // density of the negative in the mid-tone
	NegMin   float64    `json:"negative_min"` // least density of the negative
	NegMax   float64    `json:"negative_max"` // greatest density of the negative
	Gradient float64    `json:"gradient"`     // slope of the print against log10 of the scene's light at the mid-tone
}

const usualISOP = 500 // variable-contrast paper without a filter

func figureTones(env *Env) *cli.Command {
	return &cli.Command{
		Name: "tones", Usage: "the tones of a scene through negative and print",
		UsageText: "traybook figure tones --iso-p 500 --iso-r 110\n" +
			"traybook figure tones --iso-r 180 --print-iso-r 160 --error +0.5\n" +
			"traybook figure tones --iso-r 110 --pre-flash 50% --copy-error -1/3",
		Description: "Zones are stops from the mid-tone. A negative as called for puts the mid-tone 0.60 above base, its copy likewise. An error is what was done against what was called for, + for too much: " +
			"too much on the negative makes the print lighter, too much on the copy darker. A pre-flash is counted in: the exposure is called for shorter, so that the mid-tone stays. The print's paper is the negative's unless it is named. Flare is 0.98 % of the brightest tone in the camera and 1 % in the copy; our own model of a paper's curve.",
		Flags: slices.Concat(under("the negative",
			number("iso-p", "`500` ISO speed P of the paper (500)"), number("iso-r", "`110` its ISO range R (110)"),
			number("error", "`+0.5` stops too much (+) or too little (-) on the negative (0)"),
			number("pre-flash", "`50%` pre-flash as a share of the threshold exposure (0)"), number("flare", "`1%` stray light as a share of the brightest tone (0.98 %)"),
		), under("the print",
			number("print-iso-p", "`500` ISO speed P of the print's paper"), number("print-iso-r", "`160` its ISO range R"),
			number("copy-error", "`-0.5` stops too much or too little on the copy (0)"), number("copy-pre-flash", "`50%` pre-flash on the print (0)"),
			number("copy-flare", "`1%` stray light in the copy (1 %)"),
		), under("both papers", number("dmin", "`0.08` density of bare paper (0.08)"), number("dmax", "`2.0` greatest density (2.0)"))),
		Action: func(c *cli.Context) error {
			o := optionsOf(c)
			g, err := generations(o)
			if o.err != nil || err != nil {
				return either(o.err, err)
			}
			if err := either(g.Neg.Check(), g.Print.Check()); err != nil {
				return err
			}
			tones := g.Tones()
			if c.Bool("json") {
				return writeJSON(env.Out, tonesFigure(tones))
			}
			return printTones(screenOf(env, c), g, tones)
		},
	}
}

// generations reads a negative and its print.
func generations(o *options) (g calc.TwoGenerations, err error) {
	p := o.or("iso-p", line.Plain, usualISOP)
	r := o.or("iso-r", line.Plain, calc.DefaultISORange)
	dmin, dmax := o.or("dmin", line.Plain, calc.DefaultDmin), o.or("dmax", line.Plain, calc.DefaultDmaxGlossy)
	sheet := func(p, r, flare float64) (calc.SheetModel, error) {
		hm, err := calc.HmFromISOP(p)
		if err != nil {
			return calc.SheetModel{}, err
		}
		curve, err := calc.NewCurve(hm, r, dmin, dmax)
		return calc.NewSheet(curve, flare), err
	}
	printP, printR := o.or("print-iso-p", line.Plain, p), o.or("print-iso-r", line.Plain, r)
	flare, copyFlare := o.or("flare", line.Share, calc.CameraFlare), o.or("copy-flare", line.Share, calc.CopyFlare)
	errorStops, copyStops := o.or("error", line.Stops, 0), o.or("copy-error", line.Stops, 0)
	flash, copyFlash := o.or("pre-flash", line.Share, 0), o.or("copy-pre-flash", line.Share, 0)
	if o.err != nil {
		return g, nil
	}
	if g.Neg, err = sheet(p, r, flare); err != nil {
		return g, err
	}
	if g.Print, err = sheet(printP, printR, copyFlare); err != nil {
		return g, err
	}
	g.Neg.ExposureStops, g.Neg.PreFlashShare = errorStops+g.Neg.Curve.PreFlashStops(flash), flash
	g.Print.ExposureStops, g.Print.PreFlashShare = copyStops+g.Print.Curve.PreFlashStops(copyFlash), copyFlash
	return g, nil
}

func tonesFigure(t calc.Tones) tonesJSON {
	out := tonesJSON{
		Zones: []zoneJSON{}, PrintMid: t.Print.Mid, PrintMin: t.Print.Min, PrintMax: t.Print.Max,
		NegMid: t.Neg.Mid, NegMin: t.Neg.Min, NegMax: t.Neg.Max, Gradient: t.Gradient,
	}
	for _, z := range t.Zones {
		out.Zones = append(out.Zones, zoneJSON{z.Zone, z.Negative, z.Print})
	}
	return out
}

func printTones(s *screen.Screen, g calc.TwoGenerations, t calc.Tones) error {
	var negative, print []screen.Tile
	table := screen.Table{Columns: []screen.Column{{Title: "stops from the mid-tone", Right: true}, {Title: "negative", Right: true}, {Title: "print", Right: true}}}
	for _, z := range t.Zones {
		name := zoneName(int(math.Round(z.Zone)))
		negative = append(negative, screen.Tile{Label: name, Density: z.Negative})
		print = append(print, screen.Tile{Label: name, Density: z.Print})
		table.Add(name, decimals(z.Negative, 2), decimals(z.Print, 2))
	}
	s.Headline("negative")
	s.Ramp(negative, g.Neg.Curve.Dmin)
	s.Headline("print")
	s.Ramp(print, g.Print.Curve.Dmin)
	s.Table(table)
	s.Pairs(screen.Pair{Label: "print", Value: fmt.Sprintf("mid-tone %.2f, lightest %.2f, darkest %.2f", t.Print.Mid, t.Print.Min, t.Print.Max)},
		screen.Pair{Label: "contrast", Value: fmt.Sprintf("%.1f at the mid-tone, both slopes multiplied", math.Abs(t.Gradient))})
	return s.Err()
}

// zoneName is a place in stops from the mid-tone, with its sign.
func zoneName(z int) string {
	if z == 0 {
		return "0"
	}
	return wording.Minus(fmt.Sprintf("%+d", z))
}
