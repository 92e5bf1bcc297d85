package main

import (
	"fmt"
	"io"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/said"
	"traybook/cmd/traybook/screen"
	"traybook/events"
	"traybook/projections/report"
)

func todayCommand(env *Env) *cli.Command {
	return &cli.Command{
		Name: "today", Usage: "the page for the morning and after lunch: what waits, baths, paper, light", Category: forLook,
		UsageText: "traybook today\ntraybook today --as-of yesterday",
		Flags: []cli.Flag{
			&cli.BoolFlag{Name: "all", Usage: "leave nothing out: every bath, every box, long lists whole"},
			asOfFlag(),
		},
		Action: func(c *cli.Context) error {
			if err := noWords(c); err != nil {
				return err
			}
			return runQuery(env, c, func(q *query) error {
				r, err := report.Today(q.snap, c.Bool("all"))
				if err != nil {
					return err
				}
				if pending, err := q.tx.ScrubPending(); err != nil {
					return err
				} else if pending {
					r.Wants = append([]report.Want{{About: "the book", What: "may hold traces of a sitter whose erasure was stopped", Do: "traybook erase"}}, r.Wants...)
				}
				ahead, err := recordedAhead(q.tx, q.now)
				if err != nil {
					return err
				}
				if done, err := q.json(todayJSON{r, ahead}); done {
					return err
				}
				rows, err := q.tx.Sitters()
				if err != nil {
					return err
				}
				return q.show(func(s *screen.Screen) {
					q.fitToday(s, r, nameIn(rows))
					for _, a := range ahead {
						s.Hang(screen.Warn, "  ! ", a.Text)
					}
				})
			})
		},
	}
}

// todayJSON is the page as scripts read it.
type todayJSON struct {
	report.TodayReport
	RecordedAhead []aheadJSON `json:"recorded_ahead"` // entries written down after now
}

const usualRows = 24 // of a screen whose height is not known

// fitToday draws the page with its lists as long as the screen has room for, each at least one line.
func (q *query) fitToday(s *screen.Screen, r report.TodayReport, name func(string) string) {
	whole := lengthsOf(r)
	if q.c.Bool("all") {
		drawToday(&todayPage{s: s}, r, whole, name)
		return
	}
	rows, known := q.rows()
	if !known {
		rows = usualRows
	}
	var most todayLengths
	for i := range most {
		most[i] = min(1, whole[i])
	}
	takes := map[string]int{}
	for grew := true; grew; {
		grew = false
		for i := range most {
			if most[i] == whole[i] {
				continue
			}
			try := most
			try[i]++
			head := lineCounter{w: io.Discard}
			draft := &todayPage{s: q.screen(&head), takes: takes}
			drawToday(draft, r, try, name)
			if head.n+draft.lines < rows { // one line is the prompt's
				most, grew = try, true
			}
		}
	}
	drawToday(&todayPage{s: s}, r, most, name)
}

// todayLengths is how many lines each list of the page has: sessions, waiting, unfinished, baths, paper, words, orders.
type todayLengths [7]int

func lengthsOf(r report.TodayReport) todayLengths {
	return todayLengths{len(r.Sessions), len(r.Waiting), len(r.Unfinished), len(r.Baths), len(r.Paper), len(said.Wants(r.Wants)), len(r.Orders)}
}

// todayPage writes the page: a label in front of each part, its lines under each other.
type todayPage struct {
	s     *screen.Screen
	label string
	takes map[string]int // of drafts: how many lines each text takes, laid once for all of them; nil where it is written
	lines int            // of a draft
}

func (p *todayPage) line(tone screen.Tone, text string) {
	label := screen.Pad(p.label, 10, false)
	p.label = ""
	if p.takes == nil {
		p.s.Hang(tone, label, text)
		return
	}
	n, laid := p.takes[label+text]
	if !laid {
		count := lineCounter{w: io.Discard}
		s := *p.s
		s.W = &count
		s.Hang(tone, label, text)
		n = count.n
		p.takes[label+text] = n
	}
	p.lines += n
}

// list writes at most so many lines, and how many more there are.
func (p *todayPage) list(label string, n, most int, line func(i int) (string, screen.Tone)) {
	p.label = label
	for i := range min(n, most) {
		text, tone := line(i)
		if i == most-1 && n > most {
			text += fmt.Sprintf(" (and %d more: --all)", n-most)
		}
		p.line(tone, text)
	}
}

func (p *todayPage) nothing(n int, text string) {
	if n == 0 {
		p.line(screen.Faint, text)
	}
}

func drawToday(p *todayPage, r report.TodayReport, most todayLengths, name func(string) string) {
	at, err := events.ParseTime(r.At)
	if err != nil {
		return
	}
	p.s.Say(screen.Strong, at.Format("Monday 2 January 2006, 15:04"))
	p.list("session", len(r.Sessions), most[0], func(i int) (string, screen.Tone) { return said.Session(r.Sessions[i], at), screen.Plain })
	p.nothing(len(r.Sessions), "none is open: traybook session open begins one")
	p.list("runs", len(r.Clocks), len(r.Clocks), func(i int) (string, screen.Tone) { return r.Clocks[i].Text + ": traybook bench", screen.Strong })
	p.list("waiting", len(r.Waiting), most[1], func(i int) (string, screen.Tone) {
		w := r.Waiting[i]
		return said.Sheet(w.Sheet, w.Subject) + ", exposed " + said.Ago(w.WaitsS) + " ago", screen.Plain
	})
	finish := said.Finish(r.Unfinished, most == lengthsOf(r))
	p.list("finish", len(finish), most[2], func(i int) (string, screen.Tone) { return finish[i], screen.Plain })
	if len(r.ToPrint) > 0 {
		p.label = "print"
		p.line(screen.Plain, said.ToPrint(r.ToPrint, most == lengthsOf(r)))
	}
	p.list("orders", len(r.Orders), most[6], func(i int) (string, screen.Tone) {
		if r.Orders[i].Overdue {
			return said.Order(r.Orders[i], name), screen.Warn
		}
		return said.Order(r.Orders[i], name), screen.Plain
	})
	if len(r.Takings) > 0 {
		p.label = "takings"
		p.line(screen.Plain, said.Takings(r.Takings)+" today")
	}
	p.list("baths", len(r.Baths), most[3], func(i int) (string, screen.Tone) { return said.Bath(r.Baths[i], at), bathTone[r.Baths[i].State] })
	p.nothing(len(r.Baths), "none is mixed: traybook bath mix makes one")
	p.list("paper", len(r.Paper), most[4], func(i int) (string, screen.Tone) { return said.Paper(r.Paper[i], at), screen.Plain })
	p.nothing(len(r.Paper), "none is left: traybook paper receive brings a box in")
	if r.Light != nil {
		p.label = "light"
		p.line(screen.Plain, said.Light(*r.Light))
	}
	groups := said.Wants(r.Wants)
	p.list("say", len(groups), most[5], func(i int) (string, screen.Tone) { return groups[i].Text(), screen.Plain })
	if r.Strip != nil {
		p.label = "strip"
		p.line(screen.Plain, said.Strip(*r.Strip))
	}
}
