package main

import (
	"math"
	"slices"

	"github.com/urfave/cli/v2"

	"traybook/calc"
	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/screen"
)

type pointJSON struct {
	LogH    float64 `json:"log_h"` // of the exposure, log10 of lux seconds
	Density float64 `json:"density"`
}

type paperJSON struct {
	HmLuxS           *float64    `json:"hm_lux_s"` // exposure of the mid-tone, lux seconds; null where no speed is told
	Index            *float64    `json:"index"`
	Grade            *int        `json:"grade"`                    // 0 (soft) to 6 (hard); null outside of them
	RangeStops       float64     `json:"range_stops"`              // that the paper holds
	Curve            []pointJSON `json:"curve"`                    // null where no speed is told
	GradeWords       string      `json:"grade_words"`              // in words
	MidGradient      *float64    `json:"mid_gradient"`             // slope of the curve at the mid-tone; null where no speed is told
	MaximumBlackZone *float64    `json:"maximum_black_zone_stops"` // the zone that comes out black; null where no speed is told
	FlashedISORange  *float64    `json:"flashed_iso_r"`            // ISO range with the pre-flash; null where none is given
}

const curvePoints = 41

func figurePaper(env *Env) *cli.Command {
	return &cli.Command{
		Name: "paper", Usage: "index, grade and curve of a paper",
		UsageText: "traybook figure paper --index 3 --iso-r 110\n" +
			"traybook figure paper --iso-p 500 --iso-r 110 --dmax 2.1\n" +
			"traybook figure paper --iso-r 160 --pre-flash 50%",
		Description: "The index is measured, P is the maker's and serves only a box never tried (P ÷ 100). The curve is a logistic whose place comes from the index and whose slope from R; densities are absolute, " +
			"exposures log10 of lux seconds. R 110, Dmin 0.08 and Dmax 2.0 (matt 1.65) are common practice where a box names none. A filter's number is not a grade.",
		Flags: slices.Concat(under("the speed, one of", number("index", "`3` exposure index as measured"), number("iso-p", "`500` the maker's ISO speed P")),
			under("the contrast", number("iso-r", "`110` ISO range R (110)"), number("dmin", "`0.08` density of bare paper (0.08)"),
				number("dmax", "`2.0` greatest density (2.0)"), number("pre-flash", "`50%` pre-flash as a share of the threshold exposure"),
				&cli.BoolFlag{Name: "direct-positive", Usage: "the paper lightens where light falls"})),
		Action: func(c *cli.Context) error {
			o := optionsOf(c)
			way := o.oneOf(!o.has("iso-r"), "index", "iso-p")
			p := paperOf(o, "", way)
			flash := o.number("pre-flash", line.Share)
			if o.err != nil {
				return o.err
			}
			out, curve, err := paperFigure(p, way, flash, c.Bool("direct-positive"))
			if err != nil {
				return err
			}
			if c.Bool("json") {
				return writeJSON(env.Out, out)
			}
			return printPaper(screenOf(env, c), p, out, curve)
		},
	}
}

// figureSpeed is a paper as its options describe it.
type figureSpeed struct{ index, isoP, r, dmin, dmax float64 }

func paperOf(o *options, prefix, way string) figureSpeed {
	p := figureSpeed{r: o.or(prefix+"iso-r", line.Plain, calc.DefaultISORange), dmin: o.or("dmin", line.Plain, calc.DefaultDmin),
		dmax: o.or("dmax", line.Plain, calc.DefaultDmaxGlossy)}
	if way == "index" {
		p.index = o.need("index", line.Plain)
	}
	if way == prefix+"iso-p" {
		p.isoP = o.need(way, line.Plain)
	}
	return p
}

// hm is the exposure that gives the mid-tone, and the index that goes with it.
func (p figureSpeed) hm(way string) (hm, index float64, err error) {
	if way == "index" {
		hm, err = calc.HmFromIndex(p.index)
		return hm, p.index, err
	}
	if index, err = calc.IndexFromISOP(p.isoP); err != nil {
		return 0, 0, err
	}
	hm, err = calc.HmFromISOP(p.isoP)
	return hm, index, err
}

func paperFigure(p figureSpeed, way string, flash *float64, direct bool) (out paperJSON, curve calc.Curve, err error) {
	grade, err := calc.GradeOfRange(p.r)
	if err != nil {
		return out, curve, err
	}
	out.GradeWords = grade.Words
	if grade.Fits {
		out.Grade = &grade.Number
	}
	if out.RangeStops, err = calc.RangeStops(p.r); err != nil {
		return out, curve, err
	}
	if flash != nil {
		r, err := calc.PreFlashedR(p.r, *flash)
		if err != nil {
			return out, curve, err
		}
		out.FlashedISORange = &r
	}
	if way == "" {
		return out, curve, nil
	}
	hm, index, err := p.hm(way)
	if err != nil {
		return out, curve, err
	}
	build := calc.NewCurve
	if direct {
		build = calc.NewDirectPositiveCurve
	}
	if curve, err = build(hm, p.r, p.dmin, p.dmax); err != nil {
		return out, curve, err
	}
	points, err := curve.Points(curvePoints)
	if err != nil {
		return out, curve, err
	}
	for _, at := range points {
		out.Curve = append(out.Curve, pointJSON(at))
	}
	mid, black := curve.MidGradient(), curve.ZoneOfMaximumBlack()
	out.HmLuxS, out.Index, out.MidGradient, out.MaximumBlackZone = &hm, &index, &mid, where(!direct, black)
	return out, curve, nil
}

func printPaper(s *screen.Screen, p figureSpeed, out paperJSON, curve calc.Curve) error {
	s.Headline("paper of R " + decimals(p.r, 0) + ": " + out.GradeWords)
	index, black, flashed := "", "", ""
	if out.Index != nil {
		index = line.Format(line.Plain, *out.Index) + "; the mid-tone needs " + line.Format(line.Plain, *out.HmLuxS) + " lux seconds"
		if p.isoP > 0 {
			index += " (from P, a guess until a box is tried)"
		}
	}
	if out.MaximumBlackZone != nil {
		black = decimals(*out.MaximumBlackZone, 1) + " stops over the mid-tone: where the lightest patch of a negative is placed"
	}
	if out.FlashedISORange != nil {
		flashed = "R " + decimals(*out.FlashedISORange, 0)
	}
	s.Pairs(
		screen.Pair{Label: "index", Value: index},
		screen.Pair{Label: "range", Value: decimals(out.RangeStops, 1) + " stops from the threshold to maximum black"},
		screen.Pair{Label: "maximum black", Value: black},
		screen.Pair{Label: "with the pre-flash", Value: flashed},
	)
	if out.HmLuxS == nil {
		return s.Err()
	}
	s.Blank()
	var tiles []screen.Tile
	for z := calc.FirstZone; z <= calc.LastZone; z++ {
		light, err := calc.MoveTime(*out.HmLuxS, float64(z))
		if err != nil {
			return err
		}
		tiles = append(tiles, screen.Tile{Label: zoneName(z), Density: curve.Density(math.Log10(light))})
	}
	s.Ramp(tiles, p.dmin)
	s.Say(screen.Faint, "Densities for exposures so many stops from that of the mid-tone.")
	return s.Err()
}
