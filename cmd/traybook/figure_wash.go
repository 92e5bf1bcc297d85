package main

import (
	"strconv"

	"github.com/urfave/cli/v2"

	"traybook/calc"
	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/screen"
)

type washJSON struct {
	Residual float64  `json:"residual"`       // share of the hypo that stays, 0 to 1
	Changes  int      `json:"changes"`        // of water
	WaterML  float64  `json:"water_ml"`       // of all changes
	VolumeML float64  `json:"volume_ml"`      // of one change
	LeastML  *float64 `json:"least_water_ml"` // that would do in changes without end; null where it was not asked for
}

func figureWash(env *Env) *cli.Command {
	return &cli.Command{
		Name: "wash", Usage: "what changes of water leave of the hypo, or how many are needed",
		UsageText: "traybook figure wash --volume 1l --carry 20ml --changes 4\n" +
			"traybook figure wash --volume 500ml --carry 20ml --target 1%\n" +
			"traybook figure wash --volume 1l --base fb --sheet 9x12cm --changes 6 --soak 5min",
		Description: "Plain dilution: each change leaves carry ÷ (volume + carry). With --soak the hypo held in the sheet counts too: what a soak leaves undiffused halves the slower the colder the water. " +
			"Many small changes beat one large one. With --changes and --target, and no --volume, the water of each change is calculated.",
		Flags: []cli.Flag{
			number("volume", "`1l` fresh water of one change"), number("carry", "`20ml` what the sheets carry over"),
			number("changes", "`4` changes of water"), number("target", "`1%` share of the hypo that may stay"),
			number("soak", "`5min` time of each soak; without it plain dilution"), number("base", "`rc|fb` base of the paper, for the soak"),
			number("temp", "`20C` temperature of the water (20 °C)"), number("sheet", "`9x12cm` size of a sheet, where no --carry is given"),
			number("together", "`1` sheets in that water (1)"),
		},
		Action: func(c *cli.Context) error {
			o := optionsOf(c)
			switch changes, target := o.has("changes"), o.has("target"); {
			case !changes && !target:
				o.missing("", "changes", "target")
			case changes && target && o.has("volume"): // without a volume they ask for the water of each change
				o.oneOf(false, "changes", "target")
			}
			if o.err != nil {
				return o.err
			}
			out, err := washFigure(o)
			if o.err != nil || err != nil {
				return either(o.err, err)
			}
			if c.Bool("json") {
				return writeJSON(env.Out, out)
			}
			s := screenOf(env, c)
			left := line.Format(line.Share, out.Residual)
			if out.Residual < 1e-5 {
				left = "less than 0.001 %"
			}
			s.Headline(left + " of the hypo is left after " + strconv.Itoa(out.Changes) + " changes")
			water := line.Format(line.Millilitres, out.WaterML) + ", " + line.Format(line.Millilitres, out.VolumeML) + " each"
			least := ""
			if out.LeastML != nil {
				least = line.Format(line.Millilitres, *out.LeastML) + ", however many the changes"
			}
			s.Pairs(screen.Pair{Label: "water", Value: water}, screen.Pair{Label: "at least", Value: least})
			s.Say(screen.Faint, "For prints the limit of the standard (ISO 18929) is not known here; the figures are a model, and a test with silver nitrate tells the truth.")
			return s.Err()
		},
	}
}

func washFigure(o *options) (washJSON, error) {
	carry, undiffused, err := o.sheetsInWater()
	if o.err != nil || err != nil {
		return washJSON{}, err
	}
	out := washJSON{Changes: int(o.or("changes", line.Count, 0))}
	target := o.or("target", line.Share, 0)
	if o.has("changes") && o.has("target") {
		if undiffused > 0 {
			o.fail(line.WrongLinef("leave --soak out, or give --volume with one of --changes, --target", "the water of each change is calculated for plain dilution only"))
			return out, nil
		}
		out.VolumeML, err = calc.WashVolumeFor(target, out.Changes, carry)
	} else {
		out.VolumeML = o.need("volume", line.Millilitres)
	}
	if o.err != nil || err != nil {
		return out, err
	}
	if o.has("target") {
		if !o.has("changes") {
			if out.Changes, err = calc.WashChangesFor(target, out.VolumeML, carry, undiffused); err != nil {
				return out, err
			}
		}
		least, err := calc.LeastWater(target, carry)
		if err != nil {
			return out, err
		}
		out.LeastML = &least
	}
	out.WaterML = float64(out.Changes) * out.VolumeML
	out.Residual, err = calc.WashResidual(float64(out.Changes), out.VolumeML, carry, undiffused)
	return out, err
}

// sheetsInWater is what the sheets carry over, and what a soak leaves undiffused in them.
func (o *options) sheetsInWater() (carry, undiffused float64, err error) {
	base := calc.Base(o.word("base", "", "rc", "fb"))
	switch {
	case o.has("carry"):
		carry = o.need("carry", line.Millilitres)
	case o.has("sheet") && base != "":
		w, h, err := line.ParseSize(o.c.String("sheet"))
		if err != nil {
			o.fail(line.WrongLine(err))
			return 0, 0, nil
		}
		area, err := calc.SheetArea(w, h)
		if err != nil {
			return 0, 0, err
		}
		if carry, err = calc.CarryOver(base, area*o.or("together", line.Count, 1)); err != nil {
			return 0, 0, err
		}
	default:
		o.fail(line.WrongLinef("give --carry 20ml, or --base rc|fb with --sheet 9x12cm", "%s needs what the sheets carry over", commandPath(o.c)))
	}
	if !o.has("soak") {
		return carry, 0, nil
	}
	if base == "" {
		o.missing("a soak needs the base of the paper", "base")
	}
	soak, temp := o.need("soak", line.Seconds), o.or("temp", line.Celsius, calc.BathTempC)
	if o.err != nil {
		return 0, 0, nil
	}
	undiffused, err = calc.SoakLeaves(base, soak, temp)
	return carry, undiffused, err
}
