package main

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"traybook/calc"
	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/screen"
	"traybook/events"
	"traybook/projections/report"
	"traybook/projections/wording"
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
				return q.show(func(s *screen.Screen) {
					q.fitToday(s, r)
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
func (q *query) fitToday(s *screen.Screen, r report.TodayReport) {
	whole := lengthsOf(r)
	if q.c.Bool("all") {
		drawToday(s, r, whole)
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
	for grew := true; grew; {
		grew = false
		for i := range most {
			if most[i] == whole[i] {
				continue
			}
			try := most
			try[i]++
			var draft bytes.Buffer
			drawToday(q.screen(&draft), r, try)
			if bytes.Count(draft.Bytes(), []byte("\n")) < rows { // one line is the prompt's
				most, grew = try, true
			}
		}
	}
	drawToday(s, r, most)
}

// todayLengths is how many lines each list of the page has: sessions, waiting, unfinished, baths, paper, words.
type todayLengths [6]int

func lengthsOf(r report.TodayReport) todayLengths {
	return todayLengths{len(r.Sessions), len(r.Waiting), len(r.Unfinished), len(r.Baths), len(r.Paper), len(groupWants(r.Wants))}
}

// todayPage writes the page: a label in front of each part, its lines under each other.
type todayPage struct {
	s     *screen.Screen
	label string
}

func (p *todayPage) line(tone screen.Tone, text string) {
	p.s.Hang(tone, screen.Pad(p.label, 10, false), text)
	p.label = ""
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

func drawToday(s *screen.Screen, r report.TodayReport, most todayLengths) {
	at, err := events.ParseTime(r.At)
	if err != nil {
		return
	}
	p := &todayPage{s: s}
	s.Say(screen.Strong, at.Format("Monday 2 January 2006, 15:04"))
	p.list("session", len(r.Sessions), most[0], func(i int) (string, screen.Tone) { return sessionText(r.Sessions[i], at), screen.Plain })
	p.nothing(len(r.Sessions), "none is open: traybook session open begins one")
	p.list("waiting", len(r.Waiting), most[1], func(i int) (string, screen.Tone) {
		w := r.Waiting[i]
		return sheetWords(w.Sheet, w.Subject) + ", exposed " + ago(w.WaitsS) + " ago", screen.Plain
	})
	p.list("finish", len(r.Unfinished), most[2], func(i int) (string, screen.Tone) {
		u := r.Unfinished[i]
		return u.Needs + " " + sheetWords(u.Sheet, u.Subject), screen.Plain
	})
	p.list("baths", len(r.Baths), most[3], func(i int) (string, screen.Tone) { return bathText(r.Baths[i], at), bathTone[r.Baths[i].State] })
	p.nothing(len(r.Baths), "none is mixed: traybook bath mix makes one")
	p.list("paper", len(r.Paper), most[4], func(i int) (string, screen.Tone) { return paperText(r.Paper[i], at), screen.Plain })
	p.nothing(len(r.Paper), "none is left: traybook paper receive brings a box in")
	if r.Light != nil {
		p.label = "light"
		p.line(screen.Plain, lightText(*r.Light))
	}
	groups := groupWants(r.Wants)
	p.list("say", len(groups), most[5], func(i int) (string, screen.Tone) { return groups[i].text(), screen.Plain })
	if r.Strip != nil {
		p.label = "strip"
		p.line(screen.Plain, fmt.Sprintf("worth making on the %s with %s: %s", r.Strip.On, r.Strip.Box, r.Strip.Why))
	}
}

// wantGroup is everything that wants the same words.
type wantGroup struct {
	what  string
	about []string
	do    string // the command for the first
}

func groupWants(list []report.Want) []wantGroup {
	var out []wantGroup
	for _, w := range list {
		i := slices.IndexFunc(out, func(g wantGroup) bool { return g.what == w.What })
		if i < 0 {
			i = len(out)
			out = append(out, wantGroup{what: w.What, do: w.Do})
		}
		out[i].about = append(out[i].about, w.About)
	}
	return out
}

func (g wantGroup) text() string {
	const shown = 3
	names := strings.Join(g.about[:min(shown, len(g.about))], ", ")
	if n := len(g.about) - shown; n > 0 {
		names += fmt.Sprintf(" and %d more", n)
	}
	return names + " " + g.what + ": " + g.do
}

func sheetWords(sheet string, subject *string) string {
	if subject == nil {
		return sheet
	}
	return sheet + " " + *subject
}

func sessionText(x report.SessionLine, now time.Time) string {
	text := x.Session
	if x.Place != nil {
		text += " at " + *x.Place
	}
	if opened, err := events.ParseTime(textOf(x.OpenedAt)); err == nil {
		text += ", open for " + ago(now.Sub(opened).Seconds())
	}
	if made := countsOf(x); made != "" {
		text += ": " + made
	}
	return text
}

// plural writes a count with its noun; words that count no noun stay as they are.
func plural(n int, word string) string {
	switch word {
	case "negative", "print":
		if n != 1 {
			word += "s"
		}
	}
	return fmt.Sprintf("%d %s", n, word)
}

// ago writes how long ago something was, as roughly as a person would say it.
func ago(s float64) string {
	switch {
	case s < 120:
		s = math.Trunc(s)
	case s < 10*3600:
		s = math.Round(s/60) * 60
	case s < wording.ManyHours*3600:
		s = math.Round(s/3600) * 3600
	default:
		s = math.Floor(s/86400) * 86400
	}
	return wording.Seconds(s)
}

func bathText(b report.BathLine, now time.Time) string {
	text := b.Bath + " (" + b.Role + ") " + b.State
	if b.Used != nil {
		text += ", " + wording.Percent(*b.Used) + " used"
	}
	if b.State == calc.BathPastLife || b.State == calc.BathExhausted {
		return text + ": mix fresh"
	}
	if b.CalledForS != nil {
		text += ", calls for " + wording.Seconds(*b.CalledForS) + " at " + line.Format(line.Celsius, b.TempC)
	}
	switch {
	case b.ExhaustedInH != nil && b.SheetsLeft != nil && (b.PastLifeInH == nil || *b.ExhaustedInH < *b.PastLifeInH):
		text += "; exhausted after " + wording.CountOf(int(*b.SheetsLeft), "more sheet")
		if b.AgeH >= tellingHours {
			text += ", at this rate " + hours(*b.ExhaustedInH) + " in the tray"
		}
	case b.PastLifeInH != nil && b.InTray:
		text += "; past its tray life at " + clockAfter(now, *b.PastLifeInH)
	case b.PastLifeInH != nil:
		text += "; bottled, " + hours(*b.PastLifeInH) + " in the tray left"
	}
	return text
}

func hours(h float64) string { return ago(h * 3600) }

func clockAfter(now time.Time, h float64) string {
	t := now.Add(time.Duration(h * float64(time.Hour)))
	if t.YearDay() == now.YearDay() && t.Year() == now.Year() {
		return t.Format("15:04")
	}
	return stamp(t)
}

// tellingHours is how long a bath must have stood in the tray before its rate of use tells anything.
const tellingHours = 0.5

// runsOut is the day on which a box runs out; one that lies years ahead, as after a first afternoon, says nothing.
func runsOut(b report.BoxLine, now time.Time) string {
	if b.RunsOut == nil || *b.RunsOut > now.AddDate(2, 0, 0).Format("2006-01-02") {
		return ""
	}
	return *b.RunsOut
}

func paperText(b report.BoxLine, now time.Time) string {
	text := b.Box
	if b.Name != nil {
		text += " " + *b.Name
	}
	if size := sizeOf(b); size != "" {
		text += ", " + size + " mm"
	}
	text += ": " + sheets(b.SheetsLeft) + " left"
	if day := runsOut(b, now); day != "" {
		text += ", to " + day + " at this rate"
	}
	return text
}

func lightText(l report.LightToday) string {
	text := "now " + thenText(l, l.Now) + "; in an hour " + thenText(l, l.InAnHour)
	if set, err := events.ParseTime(textOf(l.Sunset)); err == nil {
		text += "; sunset " + set.Format("15:04")
	}
	if l.Index != nil {
		text += fmt.Sprintf(" (%s sky, index %s of %s)", l.Sky, line.Format(line.Plain, *l.Index), textOf(l.Box))
	} else {
		text += " (" + l.Sky + " sky)"
	}
	return text
}

func thenText(l report.LightToday, t report.LightThen) string {
	if t.EV100 == nil {
		return "night"
	}
	if t.TimeS == nil {
		return line.Format(line.EV, *t.EV100)
	}
	text := line.Format(line.FNumber, l.F) + " " + wording.Seconds(*t.TimeS)
	if t.TooBright {
		text += ", too bright for the cap"
	}
	return text
}
