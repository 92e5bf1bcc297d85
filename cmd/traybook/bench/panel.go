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
	Asked() bool
	CountsIn() bool
	Began() (time.Time, bool)
	End(time.Time)
}

// Choice is one thing that a hand may do now: the key that does it and what it does. Two keys that do one thing stand
// behind each other with one label.
type Choice struct {
	Key   rune
	Label string
}

// choices makes them of keys and a label.
func choices(keys, label string) []Choice {
	var out []Choice
	for _, k := range keys {
		out = append(out, Choice{k, label})
	}
	return out
}

// keyNames are the keys that are called otherwise than they are typed.
var keyNames = map[rune]string{' ': "space", keyEnter: "enter"}

// Keys writes choices as one line: space go on · + - aperture.
func Keys(list []Choice) string {
	var out []string
	for i, c := range list {
		name := keyNames[c.Key]
		if name == "" {
			name = string(c.Key)
		}
		if i+1 < len(list) && list[i+1].Label == c.Label {
			out = append(out, name+" ")
			continue
		}
		out = append(out, name+" "+c.Label+" · ")
	}
	return strings.TrimSuffix(strings.Join(out, ""), " · ")
}

// TimerChoices are the choices at a timer, apart from those that leave it.
func TimerChoices(t HandTimer) []Choice {
	c, isCap := t.(*timer.Cap)
	switch {
	case t.Taken() != nil:
		return nil
	case t.Asked() && isCap:
		return append(append(choices(" ", "go on counting"), choices("y", "that is what was done")...), choices("+-", "a tenth")...)
	case t.Asked():
		return append(choices(" ", "go on counting"), choices("y", "that is what was done")...)
	case !t.Running() && isCap:
		return append(choices(" ", "count in"), choices("t", "time it by two presses")...)
	case !t.Running():
		return choices(" ", "the sheet is in")
	case isCap && c.CountsIn():
		return choices("t", "cap off now")
	case isCap && c.Measuring():
		return choices(" ", "the cap is on")
	case isCap:
		return append(append(choices(" ", "done as planned"), choices("+-", "a tenth")...), choices("t", "cap on now")...)
	}
	return choices(" ", "the sheet is out")
}

// RunningChoices are what else a hand may say of a clock that runs.
func RunningChoices(t HandTimer) []Choice {
	_, isCap := t.(*timer.Cap)
	switch {
	case !t.Running() || t.Asked():
		return nil
	case t.CountsIn():
		return choices("x", "never lifted")
	case isCap:
		return append(choices("o", "closed at …"), choices("x", "never lifted")...)
	}
	return append(choices("o", "out at …"), choices("x", "never was in")...)
}

// TimerPanel shows a timer under a title.
func TimerPanel(title string, t HandTimer, at timer.Moment, body ...string) Panel {
	f := t.Face(at)
	return Panel{Title: title, Figure: f.Big, Word: f.Word, Body: append([]string{f.Line}, body...), Keys: Keys(append(TimerChoices(t), RunningChoices(t)...))}
}

// PressOf is what a key means at a timer; ok is false for keys that mean nothing to it.
func PressOf(key rune) (p timer.Press, ok bool) {
	switch key {
	case ' ', keyEnter:
		return timer.Go, true
	case 'y', 'Y':
		return timer.Done, true
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
