package main

import (
	"fmt"
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"traybook/calc"
	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/said"
	"traybook/cmd/traybook/screen"
	"traybook/events"
	"traybook/projections/snapshot"
	"traybook/projections/why"
	"traybook/projections/wording"
)

func whyCommand(env *Env) *cli.Command {
	return &cli.Command{
		Name: "why", Usage: "why a picture failed, as far as its log can tell", ArgsUsage: "PICTURE [PICTURE]", Category: forLook,
		UsageText: lines("traybook why 2026-014", "traybook why 2026-014 --all", "traybook why 2026-014 2026-015", "traybook why --symptoms"),
		Description: "Replays the picture: as called for, as logged, and once for each deviation with that one put right. A cause is told by its\n" +
			"odds, almost surely, probably or may be: how well it fits what was judged, beside the scatter of this book's hand and of meter,\n" +
			"paper and eye, and how often such a thing happens. Causes that the log cannot part are told together, with the entry that\n" +
			"would part them. Sheets found good are not accused. --all shows the figures, and the deviations that explain nothing.\n\n" +
			"A log answers in one of three ways: it explains what was seen; it was right, and the fault lies where no log can see; or it\n" +
			"is too empty to tell, and what it lacks is named. Then the suspects are named, likeliest first, each with a test of minutes\n" +
			"and the line that takes its result down; what is written so rules them in or out the next time, too.",
		Flags: []cli.Flag{
			&cli.BoolFlag{Name: "all", Usage: "the figures, what deviated and explains nothing, and every suspect with its source"},
			&cli.BoolFlag{Name: "symptoms", Usage: "the words for what the eye sees, in plain language"},
			asOfFlag(),
		},
		Action: func(c *cli.Context) error {
			if c.Bool("symptoms") {
				return showSymptoms(env, c)
			}
			if c.NArg() < 1 || c.NArg() > 2 {
				return line.WrongLinef("traybook why 2026-014; traybook pictures lists them", "why takes the name of one picture, or of two to compare")
			}
			return runQuery(env, c, func(q *query) error {
				if !c.IsSet("as-of") { // a verdict dated ahead of a wrong clock is a verdict
					q.snap = snapshot.New(q.tx, time.Time{})
				}
				return ofEach(q, c.Args().Slice(), func(word string) (why.Diagnosis, error) {
					name, err := q.pictureNamed(word)
					if err != nil {
						return why.Diagnosis{}, err
					}
					return why.Why(q.snap, name)
				}, func(s *screen.Screen, d why.Diagnosis) { showWhy(s, d, c.Bool("all")) })
			})
		},
	}
}

// pictureNamed takes a picture, or a sheet of it.
func (q *query) pictureNamed(word string) (string, error) {
	name, err := q.named(word)
	if err != nil {
		return "", err
	}
	if picture, _, ok := events.SplitSheet(name); ok {
		return picture, nil
	}
	return name, nil
}

func showWhy(s *screen.Screen, d why.Diagnosis, all bool) {
	s.Headline(d.Picture)
	for _, line := range d.Lines {
		s.Say(screen.Strong, line)
	}
	if len(d.Judged) > 0 {
		s.Blank()
	}
	for _, j := range d.Judged {
		s.Hang(screen.Plain, j.Sheet+": ", said.Judged(j))
	}
	for i, f := range d.Findings {
		s.Blank()
		showFinding(s, fmt.Sprintf("%d ", i+1), f, true, i < why.WhyLines)
		if all {
			s.Hang(screen.Plain, "  ", said.Figures(f))
		}
	}
	if text := said.Unexplained(d); text != "" {
		s.Blank()
		s.Say(screen.Plain, text)
	}
	showSuspicions(s, d, all)
	if d.Strips != nil {
		s.Blank()
		showStrips(s, d.Strips)
	}
	showDeviations(s, d, all)
}

// showSuspicions lays out, for each symptom that the log does not explain, the likeliest suspects with their tests, and what
// the log rules out; all of it, and every symptom, where all is asked for.
func showSuspicions(s *screen.Screen, d why.Diagnosis, all bool) {
	for _, x := range d.Suspicions {
		if x.Answer == why.LogExplains && !all {
			continue
		}
		s.Blank()
		s.Say(screen.Strong, said.Answer(x))
		if lacks := said.Lacks(x); lacks != "" {
			s.Say(screen.Plain, lacks)
		}
		open, ruledOut := said.SuspectsOf(x)
		most := min(len(open), said.MostSuspects)
		if all {
			most = len(open)
		}
		for _, one := range open[:most] {
			mark := "? "
			if one.State == why.Found {
				mark = "! "
			}
			s.Hang(screen.Strong, mark, said.SuspectTitle(one))
			s.Hang(screen.Plain, "  test: ", one.Test)
			if one.Line != "" {
				s.Hang(screen.Faint, "  then: ", one.Line)
			}
			if all {
				s.Hang(screen.Faint, "  ", "source: "+one.Source)
			}
		}
		if !all && len(ruledOut) > 0 {
			s.Say(screen.Faint, "Ruled out by the log, with what says so:")
		}
		for _, one := range ruledOut {
			if all {
				s.Hang(screen.Plain, "- ", said.SuspectTitle(one))
			} else {
				s.Hang(screen.Faint, "- ", said.RuledOut(one))
			}
		}
		if more := len(open) - most; more > 0 {
			s.Say(screen.Faint, fmt.Sprintf("%s more; --all shows them, with sources", wording.CountOf(more, "suspect")))
		}
	}
	if !all || len(d.Slips) == 0 { // the likeliest stand in the lines on top
		return
	}
	s.Blank()
	s.Say(screen.Strong, said.Left(d.Slips[0]))
	for _, x := range d.Slips {
		s.Hang(screen.Plain, "? ", said.SlipText(x))
	}
}

// showFinding lays one finding out; what was said in the lines on top is not said again.
func showFinding(s *screen.Screen, mark string, f why.Finding, accused, above bool) {
	s.Hang(screen.Strong, mark, said.Finding(f, accused))
	indent := strings.Repeat(" ", len(mark))
	if !above {
		s.Hang(screen.Plain, indent, f.Text)
	}
	if done := said.Done(f); done != "" {
		s.Hang(screen.Plain, indent, done)
	}
	if together := said.Together(f); together != "" {
		s.Hang(screen.Plain, indent, together)
	}
	if len(f.Entries) > 0 {
		var short []string
		for _, id := range f.Entries {
			short = append(short, wording.ShortID(id))
		}
		s.Hang(screen.Faint, indent, "entries "+strings.Join(short, " "))
	}
	if accused && f.Next != "" && mark != "1 " {
		s.Hang(screen.Plain, indent, "next time: "+f.Next)
	}
}

// showStrips lays the two grey strips under each other, each tone under its stop.
func showStrips(s *screen.Screen, strips *why.Strips) {
	for _, row := range []struct {
		title string
		tones []float64
	}{{"as it was", strips.Was}, {"as it would have been", strips.WouldBe}} {
		s.Say(screen.Plain, fmt.Sprintf("%s %s", strips.Sheet, row.title))
		tiles := make([]screen.Tile, len(row.tones))
		for i, d := range row.tones {
			tiles[i] = screen.Tile{Label: why.StopMark(calc.FirstZone + i), Density: d}
		}
		s.Ramp(tiles, strips.Dmin)
	}
}

func showDeviations(s *screen.Screen, d why.Diagnosis, all bool) {
	if len(d.Deviations) == 0 {
		return
	}
	s.Blank()
	if !all && len(d.Findings) > 0 || !all && d.Unexplained != nil {
		s.Say(screen.Faint, fmt.Sprintf("%s besides; --all shows what was done otherwise than called for and explains nothing", wording.CountOf(len(d.Deviations), "deviation")))
		return
	}
	s.Headline("Otherwise than called for")
	for _, f := range d.Deviations {
		showFinding(s, "· ", f, false, false)
	}
}

type symptomsJSON struct {
	Symptoms []why.SymptomWords `json:"symptoms"`
}

// showSymptoms lists the words for what the eye sees.
func showSymptoms(env *Env, c *cli.Context) error {
	words := why.SymptomHelp()
	if c.Bool("json") {
		return writeJSON(env.Out, symptomsJSON{words})
	}
	s := screenOf(env, c)
	for i := 0; i < len(words); {
		family := words[i].Family
		s.Headline(family)
		t := screen.Table{Columns: []screen.Column{{Title: "symptom"}, {Title: "on a negative"}, {Title: "on a print"}}}
		for ; i < len(words) && words[i].Family == family; i++ {
			onPrint := words[i].OnPrint
			if onPrint == words[i].OnNegative {
				onPrint = "the same"
			}
			t.Rows = append(t.Rows, screen.Row{Cells: []string{words[i].Symptom, words[i].OnNegative, onPrint}})
		}
		s.Table(t)
		s.Blank()
	}
	return s.Err()
}
