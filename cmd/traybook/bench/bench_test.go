package bench

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"traybook/cmd/traybook/bench/timer"
	"traybook/cmd/traybook/screen"
)

var morning = time.Date(2026, 5, 3, 9, 0, 0, 0, time.UTC)

func at(minutes int) time.Time { return morning.Add(time.Duration(minutes) * time.Minute) }

// negative is a picture whose negative was exposed so many minutes after the morning began, with its prints.
func negative(name string, minute int, state, verdict string, prints ...Sheet) Picture {
	return Picture{Name: name, Exposed: at(minute), Last: at(minute), Negative: Sheet{name + "n", state, verdict}, Prints: prints}
}

func TestWhereTheRunGoesOn(t *testing.T) {
	metered := negative("2026-001", 0, "fixed", "keep")
	metered.Metered = true
	redo := negative("2026-001", 0, "fixed", "redo")
	again := negative("2026-002", 5, "washed", "keep", Sheet{"2026-002p1", "washed", "keep"})
	again.Again = "2026-001"
	for _, c := range []struct {
		name   string
		stand  State
		aside  string
		step   Step
		sheet  string
		remake string
	}{
		{name: "an empty book", step: AtReading},
		{name: "a reading that served nothing yet", stand: State{Reading: &Reading{At: at(0)}}, step: AtCall},
		{name: "a reading that served", stand: State{Reading: &Reading{At: at(0)}, Pictures: []Picture{negative("2026-001", 1, "washed", "keep", Sheet{"2026-001p1", "washed", "keep"})}}, step: AtReading},
		{name: "exposed", stand: State{Newest: "2026-001", Pictures: []Picture{negative("2026-001", 0, "exposed", "")}}, step: AtDevelop, sheet: "2026-001n"},
		{name: "two exposed: the one that waits longest", stand: State{Newest: "2026-002",
			Pictures: []Picture{negative("2026-001", 0, "exposed", ""), negative("2026-002", 1, "exposed", "")}}, step: AtDevelop, sheet: "2026-001n"},
		{name: "put off", aside: "2026-001", stand: State{Newest: "2026-002",
			Pictures: []Picture{negative("2026-001", 0, "exposed", ""), negative("2026-002", 1, "exposed", "")}}, step: AtDevelop, sheet: "2026-002n"},
		{name: "wet before what waits", stand: State{Pictures: []Picture{negative("2026-001", 0, "exposed", ""), negative("2026-002", 1, "rinsed", "")}}, step: AtFix, sheet: "2026-002n"},
		{name: "what was done last goes on", stand: State{Newest: "2026-002",
			Pictures: []Picture{negative("2026-001", 0, "exposed", ""), negative("2026-002", 1, "fixed", "keep")}}, step: AtNegative, sheet: "2026-002n"},
		{name: "developed", stand: State{Newest: "2026-001", Pictures: []Picture{negative("2026-001", 0, "developed", "")}}, step: AtRinse, sheet: "2026-001n"},
		{name: "fixed", stand: State{Newest: "2026-001", Pictures: []Picture{negative("2026-001", 0, "fixed", "")}}, step: AtJudge, sheet: "2026-001n"},
		{name: "kept and metered", stand: State{Newest: "2026-001", Pictures: []Picture{metered}}, step: AtCopyCall, sheet: "2026-001n"},
		{name: "to be made again", stand: State{Newest: "2026-001", Pictures: []Picture{redo}}, step: AtReading, remake: "2026-001"},
		{name: "to be made again, and metered anew", stand: State{Newest: "2026-001", Reading: &Reading{At: at(9)}, Pictures: []Picture{redo}}, step: AtCall, remake: "2026-001"},
		{name: "made again", stand: State{Newest: "2026-001", Pictures: []Picture{redo, again}}, step: AtReading},
		{name: "given up", stand: State{Newest: "2026-001", Pictures: []Picture{negative("2026-001", 0, "fixed", "reject")}}, step: AtReading},
		{name: "a print to be redone", stand: State{Newest: "2026-001",
			Pictures: []Picture{negative("2026-001", 0, "fixed", "keep", Sheet{"2026-001p1", "fixed", "redo"})}}, step: AtNegative, sheet: "2026-001n"},
		{name: "kept, to be washed", stand: State{Newest: "2026-001",
			Pictures: []Picture{negative("2026-001", 0, "washed", "keep", Sheet{"2026-001p1", "fixed", "keep"})}}, step: AtWash, sheet: "2026-001p1"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := c.stand.Next(map[string]bool{c.aside: true})
			assert.Equal(t, c.step, got.Step)
			assert.Equal(t, c.sheet, got.Sheet)
			assert.Equal(t, c.remake, got.Again)
		})
	}
}

// Whatever a panel holds, it stands within the screen; what has no room is counted; the way out is never lost.
func TestPanelsStandWithinTheScreen(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		words := rapid.StringMatching(`[a-zé漢 ]{0,200}`)
		p := Panel{Title: words.Draw(t, "title"), Figure: rapid.SampledFrom([]string{"", "4.0", "12:34", "+1:02:03", "f/8"}).Draw(t, "figure"),
			Word: words.Draw(t, "word"), Body: rapid.SliceOfN(words, 0, 30).Draw(t, "body"), Asks: rapid.SampledFrom([]string{"", "reading: 8 4_"}).Draw(t, "asks"),
			Keys: "space go on · b back · q leave"}
		size := Size{rapid.IntRange(leastCols, 130).Draw(t, "cols"), rapid.IntRange(leastRows, 60).Draw(t, "rows")}
		lines := p.Lines(size)
		if len(lines) > size.Rows {
			t.Fatalf("%d lines on %d", len(lines), size.Rows)
		}
		all := ""
		for _, l := range lines {
			if w := screen.Width(l.Text); w > size.Cols {
				t.Fatalf("%d columns: %q", w, l.Text)
			}
			all += l.Text + "\n"
		}
		if !strings.Contains(all, "q leave") {
			t.Fatalf("the way out is lost:\n%s", all)
		}
	})
	tall := Panel{Title: "develop", Body: []string{"1", "2", "3", "4", "5", "6", "7"}, Keys: "q leave"}.Lines(Size{60, 6})
	assert.Equal(t, "(4 more lines have no room here)", tall[4].Text)
}

func TestBellRingsForWhatWasAsked(t *testing.T) {
	beats := []timer.Beat{timer.Second, timer.End}
	assert.Equal(t, 0, BellOff.Rings(beats))
	assert.Equal(t, 2, BellEnd.Rings(beats))
	assert.Equal(t, 0, BellEnd.Rings(beats[:1]))
	assert.Equal(t, 1, BellEach.Rings(beats[:1]))
	assert.Equal(t, 1, BellEnd.Rings([]timer.Beat{timer.Rock}))
	assert.Equal(t, 0, BellEach.Rings(nil))
}
