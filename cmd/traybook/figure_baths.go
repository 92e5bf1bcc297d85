package main

import (
	"errors"
	"slices"

	"github.com/urfave/cli/v2"

	"traybook/calc"
	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/screen"
	"traybook/projections/wording"
)

// temperatures are the options of a bath that works faster when warmer.
func temperatures() []cli.Flag {
	return under("the bath now",
		number("temp", "`18C` temperature of the bath (that of the nominal time)"),
		number("used", "`40%` share of its capacity that it has seen (0)"),
		number("q10", "`2` how much faster it works when 10 °C warmer (2)"),
	)
}

// bath reads a bath's nominal time and what it is now, a developer as long as nobody says otherwise.
func (o *options) bath(nominalS float64) calc.BathCall {
	b := calc.BathCall{NominalS: nominalS, NominalC: o.or("nominal-temp", line.Celsius, calc.BathTempC)}
	b.TempC = o.or("temp", line.Celsius, b.NominalC)
	b.Q10 = o.or("q10", line.Plain, calc.DefaultQ10)
	b.Used = o.or("used", line.Share, 0)
	return b
}

func figureDevelop(env *Env) *cli.Command {
	return &cli.Command{
		Name: "develop", Usage: "developing time at a temperature, in a used bath, or from the time of appearance",
		UsageText: "traybook figure develop --nominal 60s --temp 17C\n" +
			"traybook figure develop --nominal 60s --temp 68F --used 50%\n" +
			"traybook figure develop --time-of-appearance 9s --factor 15",
		Description: "Time = nominal × q10^((nominal temperature − temperature) ÷ 10) × (1 + half of the used share). Under 13 °C hydroquinone has stopped, and only a developer without it works; below 10 °C no time is called for. " +
			"The factor is the whole time over the time of appearance; with --nominal and --time-of-appearance it is measured.",
		Flags: slices.Concat(under("the time",
			number("nominal", "`60s` time on the label, in a fresh bath"), number("nominal-temp", "`20C` temperature it holds for (20 °C)"),
			number("time-of-appearance", "`9s` when the image appeared"), number("factor", "`15` factor of the developer"),
		), temperatures()),
		Action: func(c *cli.Context) error {
			o := optionsOf(c)
			if way := o.oneOf(false, "nominal", "factor"); way == "" {
				o.missing("", "nominal", "factor")
			}
			if o.has("factor") && o.err == nil {
				return factorial(env, c, o)
			}
			b := o.bath(o.need("nominal", line.Seconds))
			first := o.number("time-of-appearance", line.Seconds)
			if o.err != nil {
				return o.err
			}
			timeS, warnings, err := b.Time()
			out := developJSON{Warnings: orEmpty(wording.OfCalc(warnings))}
			switch {
			case errors.Is(err, calc.ErrDeveloperCold):
				out.Warnings = append(out.Warnings, wording.NotCalculated(err))
			case err != nil:
				return err
			default:
				out.TimeS = &timeS
			}
			if first != nil && out.TimeS != nil {
				f, err := calc.FactorFromTimes(timeS, *first)
				if err != nil {
					return err
				}
				out.Factor = &f
			}
			return printDevelop(env, c, b, out)
		},
	}
}

type developJSON struct {
	TimeS    *float64          `json:"time_s"` // null where nothing tells it
	Factor   *float64          `json:"factor"` // seconds of development ÷ seconds to the first image; null where it was not asked for
	Warnings []wording.Warning `json:"warnings"`
}

func factorial(env *Env, c *cli.Context, o *options) error {
	for _, name := range []string{"temp", "used", "q10", "nominal-temp"} {
		if o.has(name) {
			o.fail(line.WrongLinef("leave it out; the time of appearance tells what the bath does", "--%s says nothing beside --factor", name))
		}
	}
	first, factor := o.need("time-of-appearance", line.Seconds), o.need("factor", line.Plain)
	if o.err != nil {
		return o.err
	}
	timeS, err := calc.FactorialTime(first, factor)
	if err != nil {
		return err
	}
	return printDevelop(env, c, calc.BathCall{}, developJSON{TimeS: &timeS, Factor: &factor, Warnings: []wording.Warning{}})
}

func printDevelop(env *Env, c *cli.Context, b calc.BathCall, out developJSON) error {
	if c.Bool("json") {
		return writeJSON(env.Out, out)
	}
	s := screenOf(env, c)
	if out.TimeS != nil {
		s.Headline("develop " + byTheClock(*out.TimeS))
	} else {
		s.Headline("no time is called for")
	}
	if out.TimeS != nil && b.NominalS > 0 {
		pairs := bathPairs(b)
		s.Pairs(append(pairs, screen.Pair{Label: "within", Value: byTheClock(*out.TimeS*calc.DevelopLossBelow) + " to " + byTheClock(*out.TimeS*calc.DevelopDarkAbove) +
			" an eye sees no difference; from " + byTheClock(*out.TimeS*calc.DevelopFogAbove) + " on it stains"})...)
	}
	if out.Factor != nil {
		s.Pairs(screen.Pair{Label: "factor", Value: decimals(*out.Factor, 1) + " times the first image"})
	}
	warn(s, "", out.Warnings)
	return s.Err()
}

// bathPairs are the steps from the time on the label to the one that is called for.
func bathPairs(b calc.BathCall) []screen.Pair {
	pairs := []screen.Pair{{Label: "nominal", Value: inTime(b.NominalS) + " at " + line.Format(line.Celsius, b.NominalC)}}
	if factor, err := b.Warmth(); err == nil && b.TempC != b.NominalC {
		pairs = append(pairs, screen.Pair{Label: "at " + line.Format(line.Celsius, b.TempC), Value: "× " + decimals(factor, 2)})
	}
	if b.Used > 0 {
		pairs = append(pairs, screen.Pair{Label: "used " + line.Format(line.Share, b.Used), Value: "× " + decimals(b.Growth(), 2)})
	}
	return pairs
}

type fixJSON struct {
	TimeS    float64           `json:"time_s"` // called for
	Warnings []wording.Warning `json:"warnings"`
}

func figureFix(env *Env) *cli.Command {
	return &cli.Command{
		Name: "fix", Usage: "fixing time from the label or from the clearing time",
		UsageText: "traybook figure fix --nominal 2min --temp 16C --used 30%\n" +
			"traybook figure fix --clearing 30s",
		Description: "Fixing takes twice the clearing time. Time = nominal × 2^used × q10^((nominal temperature − temperature) ÷ 10); a bath whose clearing time has doubled is dead.",
		Flags: slices.Concat(under("the time, one of",
			number("nominal", "`2min` time on the label, in a fresh bath"), number("clearing", "`30s` time in which a scrap of film clears"),
		), under("and", number("nominal-temp", "`20C` temperature it holds for (20 °C)")), temperatures()),
		Action: func(c *cli.Context) error {
			o := optionsOf(c)
			var b calc.BathCall
			switch o.oneOf(true, "nominal", "clearing") {
			case "nominal":
				b = o.bath(o.need("nominal", line.Seconds))
			case "clearing":
				t, err := calc.FixTimeFromClearing(o.need("clearing", line.Seconds))
				if o.err != nil || err != nil {
					return either(o.err, err)
				}
				b = o.bath(t)
			}
			if o.err != nil {
				return o.err
			}
			b.Fixer = true
			timeS, warnings, err := b.Time()
			if err != nil {
				return err
			}
			if c.Bool("json") {
				return writeJSON(env.Out, fixJSON{timeS, orEmpty(wording.OfCalc(warnings))})
			}
			s := screenOf(env, c)
			s.Headline("fix " + byTheClock(timeS))
			s.Pairs(append(bathPairs(b),
				screen.Pair{Label: "too short", Value: "under " + byTheClock(timeS*calc.FixShortBelow)},
				screen.Pair{Label: "too long", Value: "over " + byTheClock(min(timeS*calc.FixBleachRatio, max(timeS, calc.FixBleachS))) + " the highlights bleach"})...)
			warn(s, "", wording.OfCalc(warnings))
			return s.Err()
		},
	}
}

// byTheClock writes a time as a hand with a watch keeps it.
func byTheClock(t float64) string {
	if set, err := calc.SetTime(t); err == nil {
		t = set
	}
	return inTime(t)
}
