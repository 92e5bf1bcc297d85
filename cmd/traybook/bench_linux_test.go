package main

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/bench"
	"traybook/cmd/traybook/bench/timer"
	"traybook/cmd/traybook/screen"
	"traybook/events"
	"traybook/events/eventstest"
)

// harbour sets a book up whose baths work within a second.
func harbour(t *testing.T) (book string) {
	t.Helper()
	return harbourOf(t, "0.6s", "0.6s")
}

// harbourOf is a harbour whose paper takes so long in the developer and the fixer.
func harbourOf(t *testing.T, develop, fix string) (book string) {
	t.Helper()
	book = filepath.Join(t.TempDir(), "book.db")
	for _, line := range []string{
		"init --zone Europe/Oslo",
		"camera describe harbour --focal 135mm --f-widest 5.6 --f-smallest 32 --copy-f 11",
		"paper receive 9x12cm 25 sheets rc --name Harbour --index 3 --develop " + develop + " --fix " + fix,
		"bath mix developer 1l 1+9 60s 20C", "bath mix stop 1l 0.4s", "bath mix fixer 1l 1+4 2min",
		"session open quay",
	} {
		tell(t, book, strings.Fields(line)...)
	}
	return book
}

// starts counts the starts of the program on each book.
var starts = map[string]int{}

// started is the program on a book, its clock a minute after that of the start before, from which a hand timer runs on.
func started(t *testing.T, book string, words ...string) *exec.Cmd {
	t.Helper()
	now, err := time.Parse(time.RFC3339, eventstest.Now)
	require.NoError(t, err)
	c := command(t, asProgram(t, "traybook"), book, words...)
	c.Env = append(c.Env, "TRAYBOOK_NOW="+now.Add(time.Duration(starts[book])*time.Minute).Format(time.RFC3339))
	starts[book]++
	return c
}

// tell runs one command on a book and gives what it answers.
func tell(t *testing.T, book string, words ...string) string {
	t.Helper()
	cmd := started(t, book, words...)
	var out, errs bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &errs
	require.NoError(t, cmd.Run(), "%v: %s", words, errs.String())
	return out.String()
}

// hand is a person at a terminal.
type hand struct {
	t    *testing.T
	term *eventstest.Terminal
	cmd  *exec.Cmd
}

func sitDown(t *testing.T, book string, words ...string) *hand {
	t.Helper()
	term, err := eventstest.OpenTerminal(60, 24)
	require.NoError(t, err)
	t.Cleanup(func() { term.Person.Close(); term.Program.Close() })
	cmd := started(t, book, words...)
	cmd.Env = append(cmd.Env, "TERM=xterm", "NO_COLOR=1")
	require.NoError(t, term.Start(cmd))
	t.Cleanup(func() { cmd.Process.Kill(); cmd.Wait() })
	return &hand{t, term, cmd}
}

func (h *hand) sees(text string) {
	h.t.Helper()
	require.NoError(h.t, h.term.Wait(text, time.Minute))
}

func (h *hand) types(keys string) {
	h.t.Helper()
	_, err := h.term.Person.WriteString(keys)
	require.NoError(h.t, err)
}

// leaves waits for the end and gives the exit code; the terminal must be as it was.
func (h *hand) leaves() int {
	h.t.Helper()
	h.cmd.Wait()
	cooked, err := h.term.Cooked()
	require.NoError(h.t, err)
	assert.True(h.t, cooked, "the terminal was not put back")
	return h.cmd.ProcessState.ExitCode()
}

// leg is one step of the way: what is shown, what is typed, and what is shown when it is done.
type leg struct {
	name  string
	shows string
	do    func(*hand)
}

// way is a picture from the meter to the washed print, by keys alone.
var way = []leg{
	{"reading", "reading: ", func(h *hand) { h.types("8 1\r"); h.sees("expose 2026-001n") }},
	{"exposure", "f/8 · 1 s", func(h *hand) {
		h.sees("the lens at f/8, or still at f/5.6 from focusing?")
		h.types(" ")
		h.sees("planned 1.0")
		h.types(" ")
		h.sees("CAP ON")
		h.types("+ ")
	}},
	{"develop", "develop 2026-001n", stay},
	{"rinse", "rinse 2026-001n", stay},
	{"fix", "fix 2026-001n", stay},
	{"judge", "judge 2026-001n", func(h *hand) { h.types(" ") }},
	{"negative", "meter the negative 2026-001n", func(h *hand) {
		h.types("f/11 1/4s\r")
		h.sees("what was read?")
		h.types("m")
		h.sees("Is it") // so bright a negative is asked about before it is written
		h.types(" ")
		h.sees("reprint 2026-001p1")
	}},
	{"copy", "f/11 · 1 s", func(h *hand) {
		h.types(" ")
		h.sees("planned 1")
		h.types("t")
		h.sees("the cap is on")
		time.Sleep(150 * time.Millisecond)
		h.types(" y") // 0.15 s of 1 s is asked about
	}},
	{"develop the print", "develop 2026-001p1", stay},
	{"rinse the print", "rinse 2026-001p1", stay},
	{"fix the print", "fix 2026-001p1", stay},
	{"judge the print", "judge 2026-001p1", func(h *hand) { h.types("k") }},
	{"wash", "wash 2026-001n, 2026-001p1", func(h *hand) {
		h.types(" ")
		h.sees("the sheet is out")
		h.types(" ")
		h.sees("that is what was done")
		h.types("y")
	}},
}

// stay lets a sheet lie in a bath until it is to come out.
func stay(h *hand) {
	h.types(" ")
	h.sees("OUT NOW")
	time.Sleep(100 * time.Millisecond) // a hand is never so quick that the sheet is not over its time
	h.types(" y")                      // where the machine was busy for so long that the time is odd, it is asked about
}

// actsIn are the entries of a book that the way wrote, but for the clocks: kind and data, without ids.
func actsIn(t *testing.T, book string) (kinds []string, data []map[string]any) {
	t.Helper()
	from := false
	for _, line := range strings.Split(strings.TrimSpace(tell(t, book, "export", "events", "--out", "-")), "\n") {
		var e struct {
			Kind string
			Data map[string]any
		}
		require.NoError(t, json.Unmarshal([]byte(line), &e))
		delete(e.Data, "clock")
		if from && e.Kind != "clock.started" {
			kinds, data = append(kinds, e.Kind), append(data, e.Data)
		}
		from = from || e.Kind == "session.opened"
	}
	return kinds, data
}

var wayKinds = []string{"light.metered", "sheet.exposed", "sheet.developed", "sheet.rinsed", "sheet.fixed", "sheet.judged", "light.metered",
	"sheet.reprinted", "sheet.developed", "sheet.rinsed", "sheet.fixed", "sheet.judged", "sheet.washed", "sheet.washed"}

func TestAPictureFromTheMeterToTheWashedPrint(t *testing.T) {
	t.Parallel()
	book := harbour(t)
	h := sitDown(t, book, "bench")
	for _, l := range way {
		h.sees(l.shows)
		l.do(h)
	}
	h.sees("meter the scene")
	h.types("q")
	assert.Zero(t, h.leaves())
	kinds, data := actsIn(t, book)
	require.Equal(t, wayKinds, kinds)
	assert.Equal(t, map[string]any{"on": "scene", "mode": "reflected", "f": 8.0, "time_s": 1.0, "index": 3.0, "session": "quay", "camera": "harbour"}, data[0])
	exposed := data[1]
	delete(exposed, "reading")
	assert.Equal(t, map[string]any{"picture": "2026-001", "sheet": "2026-001n", "box": "box-1", "f": 8.0, "time_s": 1.1, "planned_f": 8.0, "planned_s": 1.0,
		"timed": "planned", "session": "quay", "camera": "harbour"}, exposed)
	for i, bath := range map[int]string{2: "dev-1", 3: "stop-1", 4: "fix-1", 8: "dev-1", 9: "stop-1", 10: "fix-1"} {
		assert.Equal(t, bath, data[i]["bath"])
		assert.GreaterOrEqual(t, data[i]["time_s"], 0.5)
		assert.Less(t, data[i]["time_s"], 60.0)
		assert.Equal(t, "measured", data[i]["timed"])
		if text, over := data[i]["text"].(string); over { // a slow machine
			assert.Regexp(t, `^hand timer: [1-9].* over$`, text)
		}
	}
	assert.Equal(t, "keep", data[5]["verdict"])
	assert.Equal(t, "negative", data[6]["on"])
	assert.Equal(t, "2026-001", data[6]["picture"])
	assert.GreaterOrEqual(t, data[7]["time_s"], 0.14)
	assert.Less(t, data[7]["time_s"], 60.0)
	assert.Equal(t, 1.0, data[7]["planned_s"])
	assert.Equal(t, "measured", data[7]["timed"])
	assert.NotContains(t, data[7], "text")
	for i, sheet := range map[int]string{12: "2026-001n", 13: "2026-001p1"} {
		assert.Equal(t, sheet, data[i]["sheet"])
		assert.Equal(t, 4.0, data[i]["changes"])
		assert.Equal(t, 2.0, data[i]["together"])
	}
	tell(t, book, "verify")
}

// Killed after every step and in the middle of each, the run goes on where it was: no step is lost, none is doubled.
func TestARunThatIsKilledGoesOn(t *testing.T) {
	t.Parallel()
	book := harbour(t)
	kill := func(h *hand) {
		require.NoError(t, h.cmd.Process.Kill())
		h.cmd.Wait()
	}
	for i, l := range way {
		t.Log(l.name)
		h := sitDown(t, book, "bench")
		h.sees(l.shows)
		if !strings.Contains(l.name, "judge") { // there one key is the whole step
			h.types(map[bool]string{true: "9 9", false: " "}[strings.Contains(l.shows, "reading") || l.name == "negative"])
			timed := strings.HasPrefix(l.name, "develop") || strings.HasPrefix(l.name, "rinse") || strings.HasPrefix(l.name, "fix") || l.name == "wash"
			if timed {
				h.sees("the sheet is out")
			} else {
				time.Sleep(50 * time.Millisecond)
			}
			kill(h)
			kinds, _ := actsIn(t, book)
			require.Equal(t, strings.Join(wayKinds[:i], " "), strings.Join(withoutVoids(kinds), " "), "a step that came to no end is not written")
			h = sitDown(t, book, "bench")
			if timed {
				h.sees("since ")
				h.sees("never was in")
				h.types("x")
				h.sees("was the sheet never in?")
				h.types(" ")
			}
			h.sees(l.shows)
		}
		l.do(h)
		if i+1 == len(way) {
			h.sees("meter the scene")
		} else if l.name != "reading" && l.name != "negative" { // these have seen what comes next
			h.sees(way[i+1].shows)
		}
		kill(h)
	}
	kinds, _ := actsIn(t, book)
	assert.Equal(t, wayKinds, withoutVoids(kinds))
	tell(t, book, "verify")
}

// withoutVoids leaves out what took clocks back.
func withoutVoids(kinds []string) []string {
	return slices.DeleteFunc(slices.Clone(kinds), func(k string) bool { return k == "entry.voided" })
}

// Several sheets are exposed before the first is developed; the one that has waited longest comes first.
func TestSeveralSheetsWait(t *testing.T) {
	t.Parallel()
	book := harbour(t)
	h := sitDown(t, book, "bench")
	for i, sheet := range []string{"2026-001n", "2026-002n"} {
		h.sees("reading: ")
		h.types("8 1\r")
		h.sees("expose " + sheet)
		h.types(" ")
		h.sees("planned 1.0")
		h.types("t")
		h.sees("the cap is on")
		h.types(" y")
		h.sees("develop 2026-001n")
		if i == 0 {
			h.types("n")
		}
	}
	h.sees("waits for the developer: 2026-001n, 2026-002n")
	h.types("m")
	h.sees("marked")
	h.types("q")
	assert.Zero(t, h.leaves())
	kinds, data := actsIn(t, book)
	assert.Equal(t, []string{"light.metered", "sheet.exposed", "light.metered", "sheet.exposed", "moment.marked"}, kinds)
	assert.Equal(t, "at 2026-001n", data[4]["text"])
}

// Back over what is written takes it back, after it was asked.
func TestBackTakesBack(t *testing.T) {
	t.Parallel()
	book := harbour(t)
	tell(t, book, "meter", "f/8", "4s")
	tell(t, book, "expose", "f/8", "4s")
	h := sitDown(t, book, "bench")
	h.sees("develop 2026-001n")
	h.types("b")
	h.sees("take back: 2026-001n exposed")
	h.types("x")
	h.sees("the sheet is in")
	h.types("b")
	h.sees("take back: 2026-001n exposed")
	h.types("y")
	h.sees("expose 2026-002n")
	h.types("\x03")
	assert.Equal(t, 130, h.leaves())
	kinds, _ := actsIn(t, book)
	assert.Equal(t, []string{"light.metered", "sheet.exposed", "entry.voided"}, kinds)
}

// When the line drops or the program is asked to stop, the clock runs on, and the next run comes back to it.
func TestCutOffWhileTheSheetIsIn(t *testing.T) {
	t.Parallel()
	for name, stop := range map[string]func(*hand){
		"TERM":   func(h *hand) { h.cmd.Process.Signal(syscall.SIGTERM) },
		"HUP":    func(h *hand) { h.cmd.Process.Signal(syscall.SIGHUP) },
		"Ctrl-C": func(h *hand) { h.types("\x03") },
	} {
		for _, words := range [][]string{{"bench"}, {"develop", "--timer"}} {
			t.Run(name+" "+words[0], func(t *testing.T) {
				book := harbour(t)
				tell(t, book, "meter", "f/8", "4s")
				tell(t, book, "expose", "f/8", "4s")
				h := sitDown(t, book, words...)
				h.sees("develop 2026-001n")
				h.types(" ")
				h.sees("the sheet is out")
				stop(h)
				assert.Equal(t, codeStopped, h.leaves())
				if name != "HUP" {
					h.sees("2026-001n in the developer dev-1 since ")
					h.sees("its clock runs on")
				}
				kinds, _ := actsIn(t, book)
				require.Equal(t, []string{"light.metered", "sheet.exposed"}, kinds, "nothing but the clock is written")
				assert.Contains(t, tell(t, book, "today"), "2026-001n in the developer dev-1 since ")
				h = sitDown(t, book, words...)
				h.sees("2026-001n in the developer dev-1 since ")
				h.types(" ")
				h.sees("that is what was done")
				h.types("y")
				h.sees("2026-001n developed")
				if words[0] == "bench" {
					h.types("q")
				}
				assert.Zero(t, h.leaves())
				assert.NotContains(t, tell(t, book, "today"), "since ")
			})
		}
	}
}

// Who leaves with a sheet in the bath is told that its clock runs on.
func TestLeavingWithASheetInTheBathSaysThatItRunsOn(t *testing.T) {
	t.Parallel()
	book := harbour(t)
	tell(t, book, "meter", "f/8", "4s")
	tell(t, book, "expose", "f/8", "4s")
	h := sitDown(t, book, "bench")
	h.sees("develop 2026-001n")
	h.types(" ")
	h.sees("the sheet is out")
	h.types("m")
	h.sees("moment marked; at 2026-001n") // told while the timer runs
	h.types("q")
	assert.Zero(t, h.leaves())
	h.sees("2026-001n in the developer dev-1 since ")
	h.sees("its clock runs on; traybook bench comes back to it")
	kinds, _ := actsIn(t, book)
	assert.Equal(t, []string{"light.metered", "sheet.exposed", "moment.marked"}, kinds)
	h = sitDown(t, book, "develop", "--timer")
	h.sees("since ")
	h.types("q")
	assert.Equal(t, codeRefused, h.leaves())
	h.sees("its clock runs on")
}

func TestTimedActs(t *testing.T) {
	t.Parallel()
	book := harbour(t)
	tell(t, book, "meter", "f/8", "1s")
	for _, c := range []struct {
		words string
		do    func(*hand)
		kind  string
		timed string
	}{
		{"expose f/8 --timer", func(h *hand) { h.types(" "); h.sees("CAP ON"); h.types("- ") }, "sheet.exposed", "planned"},
		{"develop --timer --dim --bell each", stay, "sheet.developed", "measured"},
		{"fix --timer --bell off", stay, "sheet.fixed", "measured"},
		{"wash 2 changes --soak 0.3s --timer", stay, "sheet.washed", "measured"},
		{"reprint f/11 2s --timer", func(h *hand) {
			h.sees("planned 2")
			h.types("t")
			h.sees("cap is off")
			h.types("ty")
		}, "sheet.reprinted", "measured"},
	} {
		t.Run(c.words, func(t *testing.T) {
			h := sitDown(t, book, strings.Fields(c.words)...)
			h.sees("ready")
			c.do(h)
			require.Zero(t, h.leaves())
			kinds, data := actsIn(t, book)
			assert.Equal(t, c.kind, kinds[len(kinds)-1])
			assert.Equal(t, c.timed, data[len(kinds)-1]["timed"])
		})
	}
	h := sitDown(t, book, "develop", "--timer")
	h.sees("ready")
	h.types("q")
	assert.Equal(t, codeRefused, h.leaves())
}

// script types keys, each at a moment of its own: what is read sets the clock.
type script struct {
	keys  []byte
	at    []time.Duration
	begin time.Time
	clock *atomic.Int64 // nanoseconds since begin
}

func (s *script) Read(p []byte) (int, error) {
	if len(s.keys) == 0 {
		return 0, io.EOF
	}
	p[0] = s.keys[0]
	s.clock.Store(int64(s.at[0]))
	s.keys, s.at = s.keys[1:], s.at[1:]
	return 1, nil
}

func (s *script) now() time.Time { return s.begin.Add(time.Duration(s.clock.Load())) }

// The measured time is that between the two presses, whatever the time at which the program comes to look at them.
func TestPressesAreMeasured(t *testing.T) {
	t.Parallel()
	eventstest.Within(t)
	term, err := eventstest.OpenTerminal(60, 24)
	require.NoError(t, err)
	t.Cleanup(func() { term.Person.Close(); term.Program.Close() })
	term.Watch()
	s := &script{begin: time.Date(2026, 7, 1, 9, 0, 0, 0, time.UTC), clock: new(atomic.Int64)}
	var want []float64
	at := time.Duration(0)
	for i := range 30 {
		long := time.Duration(1+i*i*7) * time.Millisecond
		s.keys, s.at = append(s.keys, 't', ' '), append(s.at, at, at+long)
		want, at = append(want, long.Seconds()), at+long+time.Second
	}
	around := screen.Machine()
	around.Lookup = func(string) (string, bool) { return "", false }
	fd := int(term.Program.Fd())
	env := &Env{Until: context.Background, In: s, Out: term.Program, Err: term.Program, InFD: fd, OutFD: fd, ErrFD: fd, Around: around, Tick: s.now}
	var took []float64
	c := cli.NewContext(cli.NewApp(), nil, nil)
	require.NoError(t, onTerminal(env, c, bench.BellOff, func(p *panelTerminal) error {
		w := newWatch(env)
		for range want {
			x := timer.NewCap(0) // where a time is called for, an odd one is asked about
			r := &timedRun{env: env, c: c, plan: timedPlan{title: "expose", exposure: true, act: &events.SheetExposedData{}}, timer: x}
			if err := p.take(w, r); err != nil {
				return err
			}
			took = append(took, x.Taken().S)
		}
		return nil
	}))
	assert.InDeltaSlice(t, want, took, 1e-9)
}
