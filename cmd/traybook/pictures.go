package main

import (
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/said"
	"traybook/cmd/traybook/screen"
	"traybook/events"
	"traybook/projections/report"
	"traybook/projections/why"
	"traybook/projections/wording"
)

func picturesCommand(env *Env) *cli.Command {
	return &cli.Command{
		Name: "pictures", Usage: "find pictures by session, box, bath, sitter, subject, verdict, symptom, cause, day, words", ArgsUsage: "[WORD…]", Category: forLook,
		UsageText: "traybook pictures\ntraybook pictures --verdict redo --from 2026-05-01\ntraybook pictures ferry gull\ntraybook pictures thin\ntraybook pictures --cause bellows-factor-forgotten",
		Description: "By falling number, the latest 50 that fit. Several options narrow together.\n" +
			"Words are looked for in subjects, places, notes and texts, as those of --text are, and each must be there. A word that is a\n" +
			"symptom (an everyday one too), a verdict or a cause also finds what was judged so.",
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "session", Usage: "`SESSION` exposed or printed in it"},
			&cli.StringFlag{Name: "box", Usage: "`BOX` with a sheet of that box"},
			&cli.StringFlag{Name: "bath", Usage: "`BATH` with a sheet that was in that bath"},
			&cli.StringFlag{Name: "sitter", Usage: "`SITTER` of that sitter, or delivered to"},
			&cli.StringFlag{Name: "stored", Usage: "`WORDS` kept in a place of these words: an album, a box"},
			&cli.StringFlag{Name: "subject", Usage: "`WORDS` with these words in the subject"},
			&cli.StringFlag{Name: "verdict", Usage: "`keep|redo|reject` with a sheet so judged"},
			&cli.StringFlag{Name: "symptom", Usage: "`too-dark` with a sheet that shows it"},
			&cli.StringFlag{Name: "cause", Usage: "`developer-cold` for which why finds this cause"},
			&cli.StringFlag{Name: "from", Usage: "`2026-05-01` begun on that day or later"},
			&cli.StringFlag{Name: "to", Usage: "`2026-05-31` begun on that day or earlier"},
			&cli.StringFlag{Name: "text", Usage: "`WORDS` with each of these words somewhere"},
			&cli.BoolFlag{Name: "all", Usage: "list all, not the latest 50"},
			asOfFlag(),
		},
		Action: func(c *cli.Context) error {
			if c.NArg() > 0 && c.IsSet("text") {
				return line.WrongLinef("give them once", "the words stand twice: as --text and without")
			}
			return runQuery(env, c, func(q *query) error {
				f, err := q.filter()
				if err != nil {
					return err
				}
				r, err := report.Pictures(q.snap, f)
				if err != nil {
					return err
				}
				if done, err := q.json(r); done {
					return err
				}
				return q.show(func(s *screen.Screen) { showPictures(s, r) })
			})
		},
	}
}

func (q *query) filter() (report.PictureFilter, error) {
	c := q.c
	o := &options{c: c}
	f := report.PictureFilter{
		Session: strings.ToLower(c.String("session")), Box: strings.ToLower(c.String("box")), Bath: strings.ToLower(c.String("bath")),
		Subject: c.String("subject"), Stored: c.String("stored"), Terms: report.TermsOf(c.Args().Slice()), Text: c.String("text"), All: c.Bool("all"),
		Verdict: o.word("verdict", "", "keep", "redo", "reject"), Symptom: o.symptom("symptom"),
		Cause: o.word("cause", "", why.Causes...), Causes: q.causes(),
	}
	if o.err != nil {
		return f, o.err
	}
	if c.IsSet("sitter") {
		ref, known, err := q.sitterRef(c.String("sitter"))
		if err != nil {
			return f, err
		}
		if !known {
			return f, q.noSitter(c.String("sitter"))
		}
		f.Sitter = ref
	}
	var err error
	if c.IsSet("from") {
		if f.From, err = line.ParseAt(c.String("from"), q.now, q.zone); err != nil {
			return f, line.WrongLine(err)
		}
	}
	if c.IsSet("to") {
		if f.To, err = line.ParseAsOf(c.String("to"), q.now, q.zone); err != nil {
			return f, line.WrongLine(err)
		}
	}
	if !f.From.IsZero() && !f.To.IsZero() && f.From.After(f.To) {
		return f, line.WrongLinef("give the earlier one with --from", "--from lies after --to")
	}
	return f, nil
}

func (q *query) noSitter(name string) error {
	rows, err := q.tx.Sitters()
	if err != nil {
		return err
	}
	var names []string
	for _, r := range rows {
		names = append(names, r.Name)
	}
	hint := "traybook sitter list shows who is written in"
	if near := line.Nearest(name, names); near != "" {
		hint = "did you mean " + near + "?"
	}
	return line.Refuse(hint, "there is no sitter %s", line.Quote(name))
}

// causes are the causes that the log shows for a picture.
func (q *query) causes() func(picture string) ([]string, error) {
	replays := why.Over(q.snap)
	return func(picture string) ([]string, error) {
		why, err := replays.Why(picture)
		if err != nil {
			return nil, err
		}
		var out []string
		for _, f := range why.Findings {
			out = append(out, append([]string{f.Cause}, f.Together...)...)
		}
		return out, nil
	}
}

func showPictures(s *screen.Screen, r report.PicturesReport) {
	if len(r.LookedFor) > 0 {
		s.Say(screen.Faint, "Looked for "+strings.Join(r.LookedFor, "; ")+".")
	}
	if len(r.Pictures) == 0 {
		s.Say(screen.Plain, "No picture fits.")
		return
	}
	t := screen.Table{Columns: []screen.Column{{Title: "picture"}, {Title: "day"}, {Title: "subject", Elastic: true}, {Title: "session", Elastic: true},
		{Title: "exposure"}, {Title: "negative", Elastic: true}, {Title: "prints", Elastic: true}}}
	for _, p := range r.Pictures {
		day, _, _ := strings.Cut(said.StampOf(p.At), " ")
		exposure, negative := "", ""
		var prints []string
		for _, x := range p.Sheets {
			if _, part, _ := events.SplitSheet(x.Sheet); part == "n" {
				exposure, negative = exposureOf(x), judgedOf(x)
				continue
			}
			prints = append(prints, judgedOf(x))
		}
		if s.Width < picturesWide {
			stack(s, screen.Plain, joined(" ", p.Picture, said.Text(p.Subject)), day, said.Text(p.Session), exposure, negative,
				orNothing("prints: ", strings.Join(prints, "; ")))
		}
		t.Add(p.Picture, day, said.Text(p.Subject), said.Text(p.Session), exposure, negative, strings.Join(prints, "; "))
	}
	if s.Width >= picturesWide {
		s.Table(t)
	}
	if r.More > 0 || r.AtLeast {
		s.Say(screen.Faint, more(r.More, r.AtLeast, "that fit"))
	}
}

func exposureOf(x report.PictureSheet) string {
	var parts []string
	if x.F != nil {
		parts = append(parts, line.Format(line.FNumber, *x.F))
	}
	if x.TimeS != nil {
		parts = append(parts, wording.Seconds(*x.TimeS))
	}
	return strings.Join(parts, " ")
}

// judgedOf is what was said of a sheet, else how far it is.
func judgedOf(x report.PictureSheet) string {
	if x.Verdict == nil {
		return said.Text(x.State)
	}
	return strings.Join(slices.Concat([]string{*x.Verdict}, x.Symptoms), ", ")
}
