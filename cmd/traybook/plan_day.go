package main

import (
	"fmt"
	"time"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/screen"
	"traybook/export/pages"
	"traybook/projections/acts"
	"traybook/projections/report"
	"traybook/projections/wording"
)

func planDay(env *Env) *cli.Command {
	return &cli.Command{
		Name: "day", Usage: "paper, baths, water and what else a day takes, with labels for its bottles",
		UsageText: lines("traybook plan day --sitters 12", "traybook plan day --sitters 8 --prints 2 --hours 5h --box box-2", "traybook plan day --sitters 12 --labels bottles.pdf"),
		Description: "A negative and so many prints for each sitter, and spare sheets for those that fail: by the share that failed in the last 90 days\n" +
			"of this book, else a quarter (common practice). Baths are those that were mixed last, by their own dilution, capacity and life in\n" +
			"the tray, else by common values; where one does not suffice, a fresh one follows it. Times by evening are at the nominal temperature.\n" +
			"What to pack, and how much water hands, rinses and washes take, is common practice. Nothing is written.",
		Flags: []cli.Flag{
			number("sitters", "`12` how many sit"),
			number("prints", "`1` prints for each of them (1)"),
			number("hours", "`6h` from the first tray to the last (6 h)"),
			&cli.StringFlag{Name: "box", Usage: "`box-3` of which size and base the sheets are; else the box used last"},
			&cli.StringFlag{Name: "labels", Usage: "`FILE` labels for the bottles as a PDF; - is standard output"},
			&cli.StringFlag{Name: "on", Usage: "`2026-05-04` the day that stands on the labels (today)"},
			&cli.StringFlag{Name: "size", Usage: "`A4` or Letter, of the labels (A4)"},
			typefaceFlag(),
			&cli.BoolFlag{Name: "force", Usage: "replace what is there"},
			asOfFlag(),
		},
		Action: func(c *cli.Context) error {
			o := optionsOf(c)
			ask := report.DayAsk{Sitters: int(o.need("sitters", line.Count)), Prints: int(o.or("prints", line.Count, 1)), Hours: o.or("hours", line.Hours, 6), Box: c.String("box")}
			if o.err != nil {
				return o.err
			}
			for _, other := range []string{"on", "size", "typeface", "force"} {
				if c.IsSet(other) && c.String("labels") == "" {
					return line.WrongLinef("give --labels FILE with it", "--%s is about labels, and none were asked for", other)
				}
			}
			var day report.DayPlan
			var now time.Time
			if err := runQuery(env, c, func(q *query) (err error) {
				now = q.at
				day, err = report.Day(q.snap, ask)
				if err != nil || c.IsSet("labels") {
					return err
				}
				if done, err := q.json(day); done {
					return err
				}
				return q.show(func(s *screen.Screen) { showDay(s, day) })
			}); err != nil || !c.IsSet("labels") {
				return err
			}
			return bottleLabels(env, c, day, now)
		},
	}
}

func bottleLabels(env *Env, c *cli.Context, day report.DayPlan, now time.Time) error {
	if c.String("labels") == "" {
		return line.WrongLinef("write --labels bottles.pdf", "--labels names no file")
	}
	size, err := sizeWanted(c)
	if err != nil {
		return err
	}
	on := now.Format("2006-01-02")
	if c.IsSet("on") {
		on = c.String("on")
		if _, err := time.Parse("2006-01-02", on); err != nil {
			return line.WrongLinef("write --on 2026-05-04", "--on: %s is no day", line.Quote(on))
		}
	}
	var bottles []pages.Bottle
	for _, b := range day.Baths {
		of := []string{b.Role + ", " + bathRecipe(b), "for " + on + "; mixed ____-__-__ by ______"}
		if b.LifeH != nil {
			of = append(of, fmt.Sprintf("in the tray %s, or %s", wording.Seconds(*b.LifeH*3600), wording.CountOf(b.Sheets, "sheet")))
		}
		for i := range b.Mixings {
			name := b.Name
			if b.Mixings > 1 {
				name += fmt.Sprintf(", %d of %d", i+1, b.Mixings)
			}
			bottles = append(bottles, pages.Bottle{Name: name, Lines: of, Cautions: acts.CautionsOn(b.Role, b.Name)})
		}
	}
	bottles = append(bottles, pages.Bottle{Name: "Exhausted baths", Lines: []string{"to carry home, " + line.Format(line.Millilitres, day.SpentML), "since ____-__-__"},
		Cautions: []string{"Carries silver: to where such waste is taken, never into drain, soil or harbour. No acid, no bleach into it; do not close it tight."}})
	faces, err := facesWanted(c)
	if err != nil {
		return err
	}
	pdf, err := pages.Bottles(bottles, size, now, faces)
	if err != nil {
		return err
	}
	if err := tellUndrawn(env, nil, faces, false); err != nil {
		return err
	}
	return placePagesAt(env, c, c.String("labels"), pdf, wording.CountOf(len(bottles), "label"))
}

// bathRecipe is how one mixing of a bath is made.
func bathRecipe(b report.DayBath) string {
	text := line.Format(line.Millilitres, b.VolumeML)
	if b.ConcentrateML == nil {
		return text + ", of unknown dilution"
	}
	if *b.WaterML == 0 {
		return text + ", undiluted"
	}
	return fmt.Sprintf("%s, %s: %s and %s of water", text, *b.Dilution, line.Format(line.Millilitres, *b.ConcentrateML), line.Format(line.Millilitres, *b.WaterML))
}

func showDay(s *screen.Screen, p report.DayPlan) {
	s.Headline(fmt.Sprintf("%s in %s", wording.CountOf(p.Sitters, "sitter"), wording.Seconds(p.Hours*3600)))
	by := "common practice; the book has too few verdicts"
	if p.Judged > 0 {
		by = fmt.Sprintf("of the last %d judged", p.Judged)
	}
	paper := fmt.Sprintf("%s: %s, %s and %d spare, as %s fail (%s)", wording.CountOf(p.Sheets, "sheet"), wording.CountOf(p.Negatives, "negative"), wording.CountOf(p.Prints, "print"), p.Spare, wording.Percent(p.FailShare), by)
	s.Hang(screen.Plain, "paper      ", paper)
	if p.Short > 0 {
		s.Hang(screen.Warn, "           ", fmt.Sprintf("%s short: %s of that size are at hand", wording.CountOf(p.Short, "sheet"), wording.Number(p.InStock)))
	}
	for _, b := range p.Baths {
		text := b.Name + ", "
		if b.Mixings > 1 {
			text += fmt.Sprintf("%d × ", b.Mixings)
		}
		text += bathRecipe(b)
		if b.Mixings > 1 {
			text += fmt.Sprintf("; a fresh one after %s, for %s", wording.CountOf(b.Sheets, "sheet"), b.Why)
		}
		if b.UsedByEvening != nil {
			when := "by evening"
			if b.Mixings > 1 {
				when = "each by then"
			}
			text += fmt.Sprintf("; %s %s used, %s in the tray", when, wording.Percent(*b.UsedByEvening), wording.Seconds(b.AgeH*3600))
		}
		if b.EveningS != nil {
			text += fmt.Sprintf(", %s instead of %s", wording.Seconds(*b.EveningS), wording.Seconds(*b.NominalS))
		}
		s.Hang(screen.Plain, screen.Pad(b.Role, 11, false), text)
	}
	s.Hang(screen.Plain, "water      ", fmt.Sprintf("%s to carry; %s for the wash, where there is water", line.Format(line.Millilitres, p.WaterML), line.Format(line.Millilitres, p.WashML)))
	for i, x := range p.Pack {
		label := "           "
		if i == 0 {
			label = "pack       "
		}
		s.Hang(screen.Plain, label, x)
	}
}
