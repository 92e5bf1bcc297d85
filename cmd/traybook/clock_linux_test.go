package main

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// slowHarbour is a harbour whose baths take as long as baths do.
func slowHarbour(t *testing.T) (book string) {
	t.Helper()
	return harbourOf(t, "110s", "90s")
}

// timedStep is a step whose time a clock takes, and what is said of it.
type timedStep struct {
	name    string
	before  []string // what is done before
	shows   string   // the step, ready
	start   string   // the keys that start the clock
	started string   // what is shown when it runs
	clock   string   // what is said of it afterwards
	act     string
	then    string   // what is shown when it is written
	command []string // the hand timer of the step
}

var timedSteps = []timedStep{
	{"cap", []string{"meter f/8 4s"}, "f/8 · ", "  ", "cap off at 0", "the cap was lifted at ", "sheet.exposed", "develop 2026-001n", []string{"expose", "f/8", "--timer"}},
	{"cap by two presses", []string{"meter f/8 4s"}, "f/8 · ", " t", "the cap is on", "the cap was lifted at ", "sheet.exposed", "develop 2026-001n", []string{"expose", "f/8", "--timer"}},
	{"developer", []string{"meter f/8 4s", "expose f/8 4s"}, "develop 2026-", " ", "the sheet is out", "n in the developer dev-1", "sheet.developed", "rinse 2026-001n", []string{"develop", "--timer"}},
	{"fixer", []string{"meter f/8 4s", "expose f/8 4s", "develop 110s", "rinse"}, "fix 2026-", " ", "the sheet is out", "n in the fixer fix-1", "sheet.fixed", "judge 2026-001n", []string{"fix", "--timer"}},
	{"wash", []string{"meter f/8 4s", "expose f/8 4s", "develop 110s", "rinse", "fix 90s", "judge keep", "reprint f/11 4s", "develop 110s", "rinse", "fix 90s", "judge keep"},
		"wash 2026-", " ", "the sheet is out", "in the wash", "sheet.washed", "meter the scene", nil},
}

// clocksOf are the clocks that run in a book, as today tells them.
func clocksOf(t *testing.T, book string) (texts []string) {
	t.Helper()
	var page struct {
		Clocks []struct{ Text string }
	}
	require.NoError(t, json.Unmarshal([]byte(tell(t, book, "today", "--json")), &page))
	for _, c := range page.Clocks {
		texts = append(texts, c.Text)
	}
	return texts
}

// since is the time of day in what is said of a clock.
func since(text string) string {
	at, _, _ := strings.Cut(text, " (")
	return at[strings.LastIndex(at, " ")+1:]
}

// Whatever is killed while a clock runs, it comes back as what it is, from its first press.
func TestAClockThatWasKilledComesBack(t *testing.T) {
	t.Parallel()
	for _, s := range timedSteps {
		t.Run(s.name, func(t *testing.T) {
			book := slowHarbour(t)
			for _, words := range s.before {
				tell(t, book, strings.Fields(words)...)
			}
			start := func() {
				h := sitDown(t, book, "bench")
				h.sees(s.shows)
				for _, k := range s.start { // a key is looked at when what the one before it did is shown
					h.types(string(k))
					time.Sleep(30 * time.Millisecond)
				}
				h.sees(s.started)
				require.NoError(t, h.cmd.Process.Kill())
				h.cmd.Wait()
			}
			start()
			clocks := clocksOf(t, book)
			require.NotEmpty(t, clocks, "the first press is in the book before the screen changes")
			assert.Contains(t, clocks[0], s.clock)
			assert.NotEmpty(t, since(clocks[0]))
			kinds, _ := actsIn(t, book)
			assert.NotContains(t, kinds[len(kinds)-1], s.act)

			h := sitDown(t, book, "bench") // never
			h.sees(" " + since(clocks[0]) + " (")
			h.types("x")
			h.sees("Its clock is taken back")
			h.types(" ")
			h.sees("taken back")
			h.types("q")
			assert.Zero(t, h.leaves())
			assert.Empty(t, clocksOf(t, book))

			start() // ended at
			h = sitDown(t, book, "bench")
			h.sees("never ")
			h.types("o")
			h.sees("at? ")
			h.types("3h\r")
			h.sees("is still to come")
			h.types(strings.Repeat("\x7f", 2) + "20s\r")
			h.sees("that")
			h.types(" ")
			h.sees(s.then)
			h.types("q")
			assert.Zero(t, h.leaves())
			_, data := actsIn(t, book)
			done := data[len(data)-1]
			if s.act == "sheet.washed" {
				assert.InDelta(t, 20.0/4, done["soak_s"], 0.001)
			} else {
				assert.Equal(t, 20.0, done["time_s"])
			}
			assert.Empty(t, clocksOf(t, book))
			tell(t, book, "verify")
		})
	}
}

// The hand timers come back to a clock, too, and what their line says besides is kept.
func TestAHandTimerThatWasKilledComesBack(t *testing.T) {
	t.Parallel()
	for _, s := range timedSteps {
		if s.command == nil {
			continue
		}
		t.Run(s.name, func(t *testing.T) {
			book := slowHarbour(t)
			for _, words := range s.before {
				tell(t, book, strings.Fields(words)...)
			}
			words := append(append([]string{}, s.command...), "--text", "wind")
			h := sitDown(t, book, words...)
			h.sees("ready")
			h.types(s.start[len(s.start)-1:])
			h.sees(s.started)
			require.NoError(t, h.cmd.Process.Kill())
			h.cmd.Wait()
			clocks := clocksOf(t, book)
			require.Len(t, clocks, 1)
			h = sitDown(t, book, words...)
			h.sees(" " + since(clocks[0]) + " (")
			h.types("o")
			h.sees("when? ")
			h.types("20s\r")
			h.sees("is that what was done?")
			h.types(" ")
			require.Zero(t, h.leaves())
			kinds, data := actsIn(t, book)
			assert.Equal(t, s.act, kinds[len(kinds)-1])
			assert.Equal(t, 20.0, data[len(data)-1]["time_s"])
			assert.Equal(t, "measured", data[len(data)-1]["timed"])
			assert.Equal(t, "wind", strings.Split(fmt.Sprint(data[len(data)-1]["text"]), ";")[0])
			assert.Empty(t, clocksOf(t, book))
		})
	}
}

// What a line says of an act is not lost with the window in which its clock was started: the run that comes back writes it.
func TestWhatALineSaysIsKeptByItsClock(t *testing.T) {
	t.Parallel()
	book := slowHarbour(t)
	tell(t, book, "meter", "f/8", "4s")
	tell(t, book, "sitter", "add", "Ferry mate")
	for i, sitter := range []string{"Ferry mate", "Asta Holm"} { // one who is known, one who is written in
		h := sitDown(t, book, "expose", "f/8", "--timer", "--sitter", sitter, "--motion", "seated", "--pre-flash", "20%", "--light", "shade", "--near", "1.5m", "--far", "3m", "--subject", "Net loft")
		h.sees("ready")
		h.types(" ")
		h.sees("cap off at 0")
		require.NoError(t, h.cmd.Process.Kill())
		h.cmd.Wait()
		clocks := clocksOf(t, book)
		require.Len(t, clocks, 1)
		h = sitDown(t, book, "bench")
		h.sees(" " + since(clocks[0]) + " (")
		h.types("o")
		h.sees("at? ")
		h.types("20s\r")
		h.sees("that")
		h.types(" ")
		h.sees("develop 2026-00")
		h.types("q")
		require.Zero(t, h.leaves())
		kinds, data := actsIn(t, book)
		require.Equal(t, "sheet.exposed", kinds[len(kinds)-1])
		for name, want := range map[string]any{"time_s": 20.0, "sitter": fmt.Sprint("sitter-", i+1), "motion": "seated", "pre_flash": 0.2, "light": "shade", "near_mm": 1500.0, "far_mm": 3000.0, "subject": "Net loft"} {
			assert.Equal(t, want, data[len(data)-1][name], "%s: %s", sitter, name)
		}
	}
	assert.Contains(t, tell(t, book, "sitter", "list", "--json"), "Asta Holm")
}

// Killed at any moment after the key was pressed: what was shown as running is in the book, and comes back with the time at
// which it was pressed. TRAYBOOK_LONG=1 tries a hundred moments.
func TestAClockKilledAtAnyMomentComesBack(t *testing.T) {
	t.Parallel()
	n := 1
	if os.Getenv("TRAYBOOK_LONG") != "" {
		n = 20
	}
	seed := rand.Uint64()
	t.Logf("seed %d", seed)
	random := rand.New(rand.NewPCG(seed, 0))
	ran, not := 0, 0
	for _, s := range timedSteps {
		book := slowHarbour(t)
		for _, words := range s.before {
			tell(t, book, strings.Fields(words)...)
		}
		for i := range n {
			t.Logf("%s %d", s.name, i)
			h := sitDown(t, book, "bench")
			h.sees(s.shows)
			for _, k := range s.start {
				h.types(string(k))
				if s.start != " " {
					time.Sleep(30 * time.Millisecond)
				}
			}
			time.Sleep(time.Duration(random.IntN(400)) * time.Millisecond)
			require.NoError(t, h.cmd.Process.Signal(syscall.SIGKILL))
			h.cmd.Wait()
			shown := h.term.Wait(s.started, 0) == nil
			clocks := clocksOf(t, book)
			if shown {
				require.NotEmpty(t, clocks, "what was shown as running is in the book")
			}
			if len(clocks) == 0 {
				not++
				continue
			}
			ran++
			assert.Contains(t, clocks[0], s.clock)
			h = sitDown(t, book, "bench")
			h.sees(" " + since(clocks[0]) + " (")
			h.types("x")
			h.sees("Its clock is taken back")
			h.types(" ")
			h.sees("taken back")
			require.NoError(t, h.cmd.Process.Kill())
			h.cmd.Wait()
			require.Empty(t, clocksOf(t, book))
		}
		tell(t, book, "verify")
	}
	t.Logf("%d clocks came back, %d had not begun", ran, not)
	assert.Positive(t, ran)
}

// A wet double press in a tray loses neither the clock nor writes a development of 0.8 s.
func TestADoublePressInATrayIsAskedAbout(t *testing.T) {
	t.Parallel()
	for _, words := range [][]string{{"bench"}, {"develop", "--timer"}} {
		book := slowHarbour(t)
		tell(t, book, "meter", "f/8", "4s")
		tell(t, book, "expose", "f/8", "4s")
		h := sitDown(t, book, words...)
		h.sees("the sheet is in")
		h.types("  ")
		h.sees("go on counting")
		before := clocksOf(t, book)
		require.Len(t, before, 1)
		h.types(" ")
		h.sees("the sheet is out")
		assert.Equal(t, since(before[0]), since(clocksOf(t, book)[0]), "from the first press")
		kinds, _ := actsIn(t, book)
		assert.Equal(t, []string{"light.metered", "sheet.exposed"}, kinds)
		h.types(" ")
		h.sees("that is what was done")
		h.types("y")
		h.sees("2026-001n developed")
	}
}

// Rejecting is asked about: one wet key gives no picture up.
func TestRejectingIsAskedAbout(t *testing.T) {
	t.Parallel()
	book := harbour(t)
	for _, words := range []string{"meter f/8 4s", "expose f/8 4s", "develop 1s", "rinse", "fix 1s"} {
		tell(t, book, strings.Fields(words)...)
	}
	h := sitDown(t, book, "bench")
	h.sees("judge 2026-001n")
	h.types("x")
	h.sees("reject 2026-001n?")
	h.types("x")
	h.sees("space keep")
	h.types("x")
	h.sees("reject 2026-001n?")
	h.types(" ")
	h.sees("meter the scene")
	kinds, data := actsIn(t, book)
	assert.Equal(t, "sheet.judged", kinds[len(kinds)-1])
	assert.Equal(t, "sheet.fixed", kinds[len(kinds)-2], "the first was not taken")
	assert.Equal(t, "reject", data[len(data)-1]["verdict"])
}

// Two windows on one book: what the one starts, the other shows, and may end.
func TestAnotherWindowSeesTheClock(t *testing.T) {
	t.Parallel()
	book := slowHarbour(t)
	tell(t, book, "meter", "f/8", "4s")
	tell(t, book, "expose", "f/8", "4s")
	one, other := sitDown(t, book, "bench"), sitDown(t, book, "bench")
	one.sees("the sheet is in")
	other.sees("the sheet is in")
	one.types(" ")
	one.sees("the sheet is out")
	other.sees("2026-001n in the developer dev-1 since ")
	other.types(" ")
	other.sees("2026-001n developed")
	one.sees("ended elsewhere: 2026-001n in the developer")
	kinds, _ := actsIn(t, book)
	assert.Equal(t, []string{"light.metered", "sheet.exposed", "sheet.developed"}, kinds)
}

// w goes round what waits, and comes back to where it began.
func TestWGoesRound(t *testing.T) {
	t.Parallel()
	book := harbour(t)
	for range 2 {
		tell(t, book, "meter", "f/8", "4s")
		tell(t, book, "expose", "f/8", "4s")
	}
	tell(t, book, "meter", "f/8", "4s")
	h := sitDown(t, book, "bench")
	for range 2 {
		h.sees("expose 2026-003n")
		h.types("w")
		h.sees("develop 2026-001n")
		h.types("w")
		h.sees("develop 2026-002n")
		h.types("w")
	}
	h.sees("expose 2026-003n")
}

// A clock that is left with w runs on beside the next step, and is come back to.
func TestAClockRunsOnBeside(t *testing.T) {
	t.Parallel()
	book := slowHarbour(t)
	for range 2 {
		tell(t, book, "meter", "f/8", "4s")
		tell(t, book, "expose", "f/8", "4s")
	}
	h := sitDown(t, book, "bench")
	h.sees("develop 2026-001n")
	h.types(" ")
	h.sees("the sheet is out")
	h.types("w")
	h.sees("develop 2026-002n")
	h.sees("also 2026-001n in the developer")
	h.types("w")
	h.sees("meter the scene")
	h.types("w")
	h.sees("develop 2026-001n")
	h.sees("the sheet is out")
}

// Who takes an act back takes the clock back that timed it: it would run again.
func TestTakingAnActBackTakesItsClockBack(t *testing.T) {
	t.Parallel()
	book := slowHarbour(t)
	tell(t, book, "meter", "f/8", "4s")
	tell(t, book, "expose", "f/8", "4s")
	h := sitDown(t, book, "develop", "--timer")
	h.sees("ready")
	h.types("  ")
	h.sees("that is what was done")
	h.types("y")
	h.sees("2026-001n developed")
	require.Zero(t, h.leaves())
	require.Empty(t, clocksOf(t, book))
	assert.NotContains(t, tell(t, book, "history", "quay"), "clock started", "the act tells what came of it")
	assert.Contains(t, tell(t, book, "void", "last"), "2026-001n developed")
	assert.Empty(t, clocksOf(t, book))
	assert.Contains(t, tell(t, book, "void", "last"), "counts again")
	kinds, _ := actsIn(t, book)
	assert.Equal(t, []string{"light.metered", "sheet.exposed", "sheet.developed", "entry.voided", "entry.voided", "entry.voided"}, kinds)
	tell(t, book, "verify")
}
