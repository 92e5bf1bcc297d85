package main

import (
	"slices"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"traybook/calc"
	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/screen"
)

type diluteJSON struct {
	ConcentrateML *float64  `json:"concentrate_ml"` // null where it was not asked for
	WaterML       *float64  `json:"water_ml"`       // null where it was not asked for
	PartsML       []float64 `json:"parts_ml"`       // of each part, in their order
	WeakerML      *float64  `json:"weaker_ml"`      // of the weaker bath; null where it was not asked for
	Grams         *float64  `json:"grams"`          // of powder; null where it was not asked for
}

func figureDilute(env *Env) *cli.Command {
	return &cli.Command{
		Name: "dilute", Usage: "concentrate and water for a dilution or a strength",
		UsageText: "traybook figure dilute --ratio 1+9 --total 1l\n" +
			"traybook figure dilute --from 28% --to 1% --total 1l\n" +
			"traybook figure dilute --from 30% --weaker 15% --to 20% --total 600ml\n" +
			"traybook figure dilute --grams-for 10% --total 500ml",
		Description: "1+9 is one part of concentrate to nine of water. Percent of a liquid are by volume, of a solid grams in 100 ml. Pour acid into water, never water into acid.",
		Flags: slices.Concat(under("what, one of",
			number("ratio", "`1+9` parts of concentrate and water"), number("from", "`28%` strength of the concentrate, with --to"),
			number("grams-for", "`10%` strength of a solution of a solid"),
		), under("and", number("to", "`1%` strength that is wanted"), number("weaker", "`15%` a weaker solution in the place of water"),
			number("total", "`1l` volume that is wanted"))),
		Action: func(c *cli.Context) error {
			o := optionsOf(c)
			way := o.oneOf(false, "ratio", "from", "grams-for")
			if way == "" && o.has("to") {
				o.missing("", "from")
			}
			if way == "" {
				o.missing("", "ratio", "from", "grams-for")
			}
			for _, extra := range []string{"to", "weaker"} {
				if way != "from" && o.has(extra) {
					o.fail(line.WrongLinef("give --from 28% with it, or leave it out", "--%s says nothing beside --%s", extra, way))
				}
			}
			total := o.need("total", line.Millilitres)
			if o.err != nil {
				return o.err
			}
			out, err := dilution(o, way, total)
			if o.err != nil || err != nil {
				return either(o.err, err)
			}
			if c.Bool("json") {
				return writeJSON(env.Out, out)
			}
			return printDilution(screenOf(env, c), out, total)
		},
	}
}

func dilution(o *options, way string, total float64) (out diluteJSON, err error) {
	out.PartsML = []float64{}
	var a, b float64
	switch {
	case way == "ratio":
		return ratio(o, total)
	case way == "grams-for":
		g, err := calc.GramsFor(o.need("grams-for", line.Percent), total)
		out.Grams, out.WaterML = &g, nil
		return out, err
	case o.has("weaker"):
		from, weaker, to := o.need("from", line.Percent), o.need("weaker", line.Percent), o.need("to", line.Percent)
		if o.err != nil {
			return out, nil
		}
		partsA, partsB, err := calc.CrissCross(from, weaker, to)
		if err != nil {
			return out, err
		}
		if a, b, err = calc.Dilute(partsA, partsB, total); err != nil {
			return out, err
		}
		out.ConcentrateML, out.WeakerML = &a, &b
	default:
		from, to := o.need("from", line.Percent), o.need("to", line.Percent)
		if o.err != nil {
			return out, nil
		}
		if a, b, err = calc.DiluteStrength(from, to, total); err != nil {
			return out, err
		}
		out.ConcentrateML, out.WaterML = &a, &b
	}
	out.PartsML = []float64{a, b}
	return out, nil
}

// ratio parts a total by a dilution; of 1+1+8 the last part is the water, the others are concentrates.
func ratio(o *options, total float64) (out diluteJSON, err error) {
	text, err := line.ParseDilution(o.c.String("ratio"))
	if err != nil {
		return out, line.WrongLine(err)
	}
	if text == "stock" {
		text = "1+0"
	}
	var parts []float64
	concentrate := 0.0
	for _, p := range strings.Split(text, "+") {
		v, err := strconv.ParseFloat(p, 64)
		if err != nil {
			return out, err
		}
		parts = append(parts, v)
	}
	water := parts[len(parts)-1]
	for _, v := range parts[:len(parts)-1] {
		concentrate += v
	}
	a, b, err := calc.Dilute(concentrate, water, total)
	if err != nil {
		return out, err
	}
	out.ConcentrateML, out.WaterML = &a, &b
	for _, v := range parts[:len(parts)-1] {
		out.PartsML = append(out.PartsML, a*v/concentrate)
	}
	out.PartsML = append(out.PartsML, b)
	return out, nil
}

func printDilution(s *screen.Screen, out diluteJSON, total float64) error {
	ml := func(v *float64) string {
		if v == nil {
			return ""
		}
		return line.Format(line.Millilitres, *v)
	}
	s.Headline("for " + line.Format(line.Millilitres, total))
	if out.Grams != nil {
		s.Pairs(screen.Pair{Label: "weigh", Value: decimals(*out.Grams, 1) + " g"}, screen.Pair{Label: "water", Value: "up to " + line.Format(line.Millilitres, total)})
		return s.Err()
	}
	if len(out.PartsML) > 2 {
		for i := range out.PartsML[:len(out.PartsML)-1] {
			s.Pairs(screen.Pair{Label: "part " + string(rune('A'+i)), Value: ml(&out.PartsML[i])})
		}
		s.Pairs(screen.Pair{Label: "water", Value: ml(out.WaterML)})
		return s.Err()
	}
	s.Pairs(screen.Pair{Label: "concentrate", Value: ml(out.ConcentrateML)}, screen.Pair{Label: "water", Value: ml(out.WaterML)}, screen.Pair{Label: "weaker", Value: ml(out.WeakerML)})
	return s.Err()
}
