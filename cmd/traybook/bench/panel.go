package bench

import (
	"fmt"
	"strings"
	"time"

	"traybook/cmd/traybook/bench/timer"
	"traybook/cmd/traybook/screen"
)

// Tone is how a line stands out. Nothing is said by a tone alone.
type Tone int

// The tones.
const (
	Plain Tone = iota
	Strong
	Faint
	Figure // of a big figure, to be drawn as it stands
)

// Line is one line of a panel.
type Line struct {
	Text string
	Tone Tone
}

// Size is what a terminal has.
type Size struct{ Cols, Rows int }

// The least that a panel is laid out for, and what it is made for: a phone held upright.
const (
	leastCols = 20
	leastRows = 6
)

// Panel is what is shown at once: a title, a figure, words, and the keys that mean something.
type Panel struct {
	Title  string
	Figure string // drawn large where there is room, "" for none
	Word   string // what to do now
	Body   []string
	Asks   string // what is being typed, with its question before it
	Alarm  string // what went wrong, or surprises
	Keys   string
}

// Lines lays a panel out: nothing is wider or longer than the size given. Where the body has no room it says how much is
// left out.
func (p Panel) Lines(size Size) []Line {
	cols, rows := max(size.Cols, leastCols), max(size.Rows, leastRows)
	var head, body, foot []Line
	add := func(to *[]Line, tone Tone, text string) {
		for _, l := range screen.Wrap(text, cols) {
			*to = append(*to, Line{l, tone})
		}
	}
	add(&head, Strong, p.Title)
	if p.Figure != "" {
		big := timer.Big(p.Figure, cols-2, 0)
		if rows < 18 {
			big = []string{p.Figure}
		}
		if len(big) > 1 {
			head = append(head, Line{})
		}
		for _, l := range big {
			head = append(head, Line{" " + l, Figure})
		}
		if len(big) > 1 {
			head = append(head, Line{})
		}
	}
	if p.Word != "" {
		add(&head, Strong, p.Word)
	}
	for _, b := range p.Body {
		add(&body, Plain, b)
	}
	if p.Asks != "" {
		add(&foot, Strong, p.Asks)
	}
	if p.Alarm != "" {
		add(&foot, Strong, "! "+p.Alarm)
	}
	for _, l := range flow(strings.Split(p.Keys, " · "), cols) {
		add(&foot, Faint, l)
	}
	return fit(head, body, foot, rows, cols)
}

// flow sets keys behind each other without parting one from what it does.
func flow(keys []string, cols int) []string {
	var out []string
	for _, k := range keys {
		switch n := len(out); {
		case k == "":
		case n > 0 && screen.Width(out[n-1])+3+screen.Width(k) <= cols:
			out[n-1] += " · " + k
		default:
			out = append(out, k)
		}
	}
	return out
}

// fit puts the three parts together with air between them where there is room, and cuts the body where there is none.
// The last lines of the foot are the last to go: a hand must find its way out.
func fit(head, body, foot []Line, rows, cols int) []Line {
	if len(foot) > rows-1 {
		foot = foot[len(foot)-rows+1:]
	}
	if over := len(head) + len(foot) - rows; over > 0 {
		head = head[:len(head)-over]
	}
	room := rows - len(head) - len(foot)
	if len(body) > room {
		if room == 0 {
			return append(head, foot...)
		}
		left := len(body) - room + 1
		body = append(body[:room-1:room-1], Line{screen.Truncate(fmt.Sprintf("(%d more lines have no room here)", left), cols), Faint})
	}
	out := append([]Line{}, head...)
	air := rows - len(head) - len(body) - len(foot)
	if air > 0 && len(body) > 0 {
		out, air = append(out, Line{}), air-1
	}
	out = append(out, body...)
	if air > 0 && len(foot) > 0 {
		out = append(out, Line{})
	}
	return append(out, foot...)
}

// HandTimer is a timer of package timer.
type HandTimer interface {
	Press(timer.Press, timer.Moment)
	Beats(timer.Moment) []timer.Beat
	Next(timer.Moment) (time.Duration, bool)
	Face(timer.Moment) timer.Face
	Taken() *timer.Taken
	Running() bool
	Began() (time.Time, bool)
}

// TimerKeys are the keys at a timer, apart from those that leave it.
func TimerKeys(t HandTimer) string {
	switch {
	case t.Taken() != nil:
		return ""
	case !t.Running():
		if c, ok := t.(*timer.Cap); ok {
			if _, ended := c.Began(); ended {
				return "space yes · + - a tenth"
			}
			return "space count in · t time it by two presses"
		}
		return "space the sheet is in"
	}
	if c, ok := t.(*timer.Cap); ok {
		if c.Measuring() {
			return "space the cap is on"
		}
		return "space done as planned · + - a tenth · t cap on now"
	}
	return "space the sheet is out"
}

// TimerPanel shows a timer under a title.
func TimerPanel(title string, t HandTimer, at timer.Moment, body ...string) Panel {
	f := t.Face(at)
	return Panel{Title: title, Figure: f.Big, Word: f.Word, Body: append([]string{f.Line}, body...), Keys: TimerKeys(t)}
}

// PressOf is what a key means at a timer; ok is false for keys that mean nothing to it.
func PressOf(key rune) (p timer.Press, ok bool) {
	switch key {
	case ' ', '\r':
		return timer.Go, true
	case 't', 'T':
		return timer.Measure, true
	case '+', '=':
		return timer.More, true
	case '-', '_', '−':
		return timer.Less, true
	}
	return 0, false
}

// Bell says which beats ring.
type Bell string

// The bells: none, only what a hand acts upon, every beat.
const (
	BellOff  Bell = "off"
	BellEnd  Bell = "end"
	BellEach Bell = "each"
)

// Bells are the choices.
func Bells() []string { return []string{string(BellOff), string(BellEnd), string(BellEach)} }

// Rings is how often it rings for some beats: twice where the time is over.
func (b Bell) Rings(beats []timer.Beat) int {
	n := 0
	for _, x := range beats {
		switch {
		case b == BellOff || b == BellEnd && !x.Loud():
		case x == timer.End:
			n = 2
		default:
			n = max(n, 1)
		}
	}
	return n
}
