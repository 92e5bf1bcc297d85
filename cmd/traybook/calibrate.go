package main

import (
	"fmt"
	"strings"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/screen"
	"traybook/events/sqlite"
	"traybook/projections/report"
	"traybook/projections/wording"
)

func calibrateCommand(env *Env) *cli.Command {
	return &cli.Command{
		Name: "calibrate", Usage: "what the sheets and strips tell of index, filters, baths and hand", ArgsUsage: "[BOX]", Category: forLook,
		UsageText: lines("traybook calibrate", "traybook calibrate box-3", "traybook calibrate box-3 --apply"),
		Description: "Reads the sheets judged with --stops or --density, and the strips, of each box that holds paper: negatives and copies apart,\n" +
			"each filter and light apart. --apply writes what it finds as ratings of the paper, with their evidence; what was made\n" +
			"before keeps the index it was made with.",
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "box", Usage: "`box-3` this box alone, empty or not"},
			&cli.BoolFlag{Name: "apply", Usage: "write the ratings that are proposed"},
			&cli.StringFlag{Name: "at", Usage: "`14:05` with --apply: from when they hold (now)"},
			asOfFlag(),
		},
		Action: func(c *cli.Context) error {
			box, err := boxWanted(c)
			if err != nil {
				return err
			}
			o := report.CalibrateOptions{Box: box}
			if c.Bool("apply") {
				return applyCalibration(env, c, o)
			}
			if c.IsSet("at") {
				return line.WrongLinef("--as-of looks from an earlier day", "--at goes with --apply")
			}
			return runQuery(env, c, func(q *query) error {
				r, err := report.Calibrate(q.snap, o)
				if err != nil {
					return err
				}
				if done, err := q.json(r); done {
					return err
				}
				return q.show(func(s *screen.Screen) { showCalibration(s, r) })
			})
		},
	}
}

func boxWanted(c *cli.Context) (string, error) {
	words := c.Args().Slice()
	if c.IsSet("box") {
		words = append(words, c.String("box"))
	}
	if len(words) > 1 {
		return "", line.WrongLinef("traybook calibrate box-3", "calibrate takes one box")
	}
	return strings.ToLower(strings.Join(words, "")), nil
}

// applyCalibration fits and writes inside one write of the book, the ratings as one batch.
func applyCalibration(env *Env, c *cli.Context, o report.CalibrateOptions) error {
	if c.IsSet("as-of") {
		return line.WrongLinef("--at says from when the ratings hold", "--as-of does not go with --apply")
	}
	var r report.Calibration
	var answers []wording.Answer
	err := withBook(env, c, false, func(book *sqlite.Book) error {
		return book.Write(func(tx *sqlite.Tx) error {
			ac, err := newActContext(env, c, tx)
			if err != nil {
				return err
			}
			if r, err = report.Calibrate(ac.as(), o); err != nil {
				return err
			}
			ac.batch = newID()
			for _, b := range r.Boxes {
				for _, p := range b.Proposals {
					a, err := ac.write(p.Data)
					if err != nil {
						return err
					}
					answers = append(answers, a)
					r.Applied = append(r.Applied, a.Entry.ID.String())
				}
			}
			return nil
		})
	})
	if err != nil {
		return err
	}
	if c.Bool("json") {
		return writeJSON(env.Out, r)
	}
	if len(answers) == 0 {
		s := screenOf(env, c)
		s.Say(screen.Plain, "Nothing to apply: what is in force fits, or the sheets are too few. traybook calibrate tells which.")
		return s.Err()
	}
	return printAnswer(env, c, answers...)
}

func showCalibration(s *screen.Screen, r report.Calibration) {
	if len(r.Boxes) == 0 {
		s.Say(screen.Plain, "No box holds paper. traybook calibrate BOX looks at an empty one.")
	}
	proposals := 0
	for i, b := range r.Boxes {
		if i > 0 {
			s.Blank()
		}
		s.Headline(joined(", ", b.Box, b.Name))
		showBoxCalibration(s, b)
		proposals += len(b.Proposals)
	}
	if len(r.Caps) > 0 {
		s.Blank()
		s.Headline("the hand at the cap")
		for _, c := range r.Caps {
			s.Pairs(screen.Pair{Label: c.Camera, Value: c.Text})
			if c.Command != "" {
				s.Hang(screen.Strong, "  to calculate with it: ", c.Command)
			}
		}
	}
	if proposals > 0 {
		s.Blank()
		what := fmt.Sprintf("%d ratings are proposed", proposals)
		if proposals == 1 {
			what = "1 rating is proposed"
		}
		s.Say(screen.Strong, what+"; traybook calibrate --apply writes them with their evidence. What was made before keeps its index.")
	}
}

func showBoxCalibration(s *screen.Screen, b report.BoxCalibration) {
	if len(b.Index) == 0 {
		s.Say(screen.Plain, "No sheet was judged with --stops or --density, and no strip was read: there is nothing to go by yet.")
	}
	for _, c := range b.Index {
		tone := screen.Strong
		if c.LeaveIt {
			tone = screen.Plain
		}
		s.Pairs(screen.Pair{Label: c.Sort(), Value: c.Text, Tone: tone})
		if c.NextStrip != nil {
			s.Hang(screen.Faint, "  next strip: ", stripWords(*c.NextStrip))
		}
	}
	for _, f := range b.Filters {
		s.Pairs(screen.Pair{Label: "factor, " + f.Sort(), Value: f.Text})
	}
	for _, d := range b.Development {
		s.Pairs(screen.Pair{Label: "developer", Value: d.Text})
	}
	if b.PreFlash != nil {
		s.Pairs(screen.Pair{Label: "pre-flash", Value: b.PreFlash.Text})
	}
	var whys []string
	of := map[string][]string{}
	for _, l := range b.LeftOut {
		if of[l.Why] == nil {
			whys = append(whys, l.Why)
		}
		of[l.Why] = append(of[l.Why], l.Sheet)
	}
	for _, why := range whys {
		s.Hang(screen.Faint, "left out: ", fmt.Sprintf("%s (%s)", why, wording.FirstOf(of[why], 6, ", ")))
	}
}

func stripWords(n report.NextStrip) string {
	times := make([]string, len(n.TimesS))
	for i, t := range n.TimesS {
		times[i] = wording.Number(t)
	}
	return fmt.Sprintf("on the %s, steps of %s s in all; %s", n.On, strings.Join(times, ", "), n.Why)
}
