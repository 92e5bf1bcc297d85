// Package screen lays text out on a terminal: tables, lists, bars and greys. It
// never writes a line wider than the screen, but for a command to be typed or a
// digest, which it does not break, and never lets a control character of the
// text through: what it is given is shown, not obeyed.
package screen

import (
	"io"
	"strings"
)

// Screen is a stream that a person reads.
type Screen struct {
	W        io.Writer
	Width    int  // columns; 0 means 80, fewer than 20 count as 20
	Color    bool // whether the terminal may be told to change colour
	Terminal bool // whether a person watches it as it is written

	err error
}

// Tone is how a text stands out. Without colour all tones look alike, so a tone
// never says what the words do not.
type Tone int

// The tones.
const (
	Plain Tone = iota
	Strong
	Faint
	Good
	Warn
	Bad
	Struck // voided: struck through
)

// set and reset are the SGR parameters of ECMA-48 that turn a tone on and off.
var (
	set   = [...]string{Plain: "", Strong: "1", Faint: "2", Good: "32", Warn: "33", Bad: "31", Struck: "9"}
	reset = [...]string{Plain: "", Strong: "22", Faint: "22", Good: "39", Warn: "39", Bad: "39", Struck: "29"}
)

// void stands before what is voided where it cannot be struck through.
const void = "void: "

// paint puts a tone around text that is clean already.
func (s *Screen) paint(tone Tone, text string) string {
	if !s.Color || tone <= Plain || int(tone) >= len(set) || text == "" {
		return text
	}
	return "\x1b[" + set[tone] + "m" + text + "\x1b[" + reset[tone] + "m"
}

// Headline writes a heading: strong, or underlined where there is no colour.
func (s *Screen) Headline(text string) {
	line := Truncate(Clean(text), s.width())
	s.write(s.paint(Strong, line))
	if !s.Color {
		s.write(strings.Repeat("─", Width(line)))
	}
}

// Say writes a paragraph in a tone, wrapped to the screen.
func (s *Screen) Say(tone Tone, text string) { s.Hang(tone, "", text) }

// Hang writes a paragraph behind a mark, such as a number; the lines that follow
// stand under the text, not under the mark.
func (s *Screen) Hang(tone Tone, mark, text string) {
	mark = Truncate(Clean(mark), s.width()/2)
	if tone == Struck && !s.Color {
		text = void + text
	}
	for i, line := range wrapTyped(text, s.width()-Width(mark)) {
		before := mark
		if i > 0 {
			before = strings.Repeat(" ", Width(mark))
		}
		s.write(before + s.paint(tone, line))
	}
}

// Pair is a label and what it stands for.
type Pair struct {
	Label, Value string
	Tone         Tone // of the value
}

// Pairs writes "label: value" lines with the values under each other; a long
// value is wrapped, an empty one left out.
func (s *Screen) Pairs(pairs ...Pair) {
	longest := 0
	labels := make([]string, len(pairs))
	for i, p := range pairs {
		labels[i] = Truncate(Clean(p.Label), s.width()/2-2)
		if p.Value != "" {
			longest = max(longest, Width(labels[i]))
		}
	}
	for i, p := range pairs {
		if p.Value != "" {
			s.Hang(p.Tone, Pad(labels[i]+":", longest+2, false), p.Value)
		}
	}
}

// Blank writes an empty line.
func (s *Screen) Blank() { s.write("") }

// TwoColumns is the width from which on two things stand side by side.
const TwoColumns = 100

// Beside draws two things side by side where the screen is wide enough, else one under the other.
func (s *Screen) Beside(left, right func(*Screen)) {
	if s.width() < TwoColumns {
		left(s)
		s.Blank()
		right(s)
		return
	}
	const between = " │ "
	column := (s.width() - Width(between)) / 2
	lines := func(draw func(*Screen)) []string {
		var b strings.Builder
		half := *s
		half.W, half.Width = &b, column
		draw(&half)
		return strings.Split(strings.TrimSuffix(b.String(), "\n"), "\n")
	}
	a, b := lines(left), lines(right)
	for len(a) > 0 || len(b) > 0 {
		here, there := "", ""
		if len(a) > 0 {
			here, a = a[0], a[1:]
		}
		wide := Width(bare(here))
		if len(b) > 0 && wide <= column { // a command that is wider stands alone in its line
			there, b = b[0], b[1:]
		}
		if there != "" || len(b) > 0 && wide <= column {
			here += strings.Repeat(" ", max(column-wide, 0)) + between + there
		}
		s.write(here)
	}
}

// bare takes the signs of a tone out of a painted line.
func bare(line string) string {
	for {
		before, rest, ok := strings.Cut(line, "\x1b[")
		if !ok {
			return line
		}
		_, rest, _ = strings.Cut(rest, "m")
		line = before + rest
	}
}

// Err returns the first error that writing met.
func (s *Screen) Err() error { return s.err }

func (s *Screen) width() int {
	if s.Width <= 0 {
		return defaultWidth
	}
	return max(s.Width, leastWidth)
}

// write puts one line out, without spaces at its end.
func (s *Screen) write(line string) {
	if s.err == nil {
		_, s.err = io.WriteString(s.W, strings.TrimRight(line, " ")+"\n")
	}
}
