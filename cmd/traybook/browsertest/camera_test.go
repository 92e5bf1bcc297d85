package browsertest

import (
	"encoding/json"
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events/eventstest"
)

// quay sets a book up, by the clock of the machine, whose paper takes so long in the developer and the fixer.
func quay(t *testing.T, develop, fix string) string {
	t.Helper()
	book := filepath.Join(t.TempDir(), "book.db")
	for _, line := range []string{
		"init --zone Europe/Oslo",
		"camera describe quay --focal 135mm --f-widest 5.6 --f-smallest 32 --copy-f 11",
		"paper receive 9x12cm 25 sheets rc --name Harbour --index 3 --develop " + develop + " --fix " + fix,
		"bath mix developer 1l 1+9 60s 20C", "bath mix stop 1l 1s", "bath mix fixer 1l 1+4 2min",
		"session open quay",
	} {
		told(t, "", append([]string{"--book", book}, strings.Fields(line)...)...)
	}
	return book
}

// act is an entry of a book: its kind and the fields that it carries.
type act struct {
	Kind string
	Data map[string]any
}

// actsIn are the entries of a book since its session was opened, but for the marks of clocks.
func actsIn(t *testing.T, book string) (acts []act) {
	t.Helper()
	from := false
	for _, line := range strings.Split(strings.TrimSpace(told(t, "", "--book", book, "export", "events", "--out", "-")), "\n") {
		var a act
		require.NoError(t, json.Unmarshal([]byte(line), &a))
		if from && a.Kind != "clock.started" {
			acts = append(acts, a)
		}
		from = from || a.Kind == "session.opened"
	}
	return acts
}

// stage is where the page of the run stands.
type stage struct {
	Step, Wants, Title, Figure, Word, Alarm, Next, Other string
	Runs, Calls, Ready                                   bool
}

const stageNow = `(() => {
	const text = (s) => { const e = document.querySelector(s); return e && !e.hidden ? e.innerText.replace(/\s+/g, " ").trim() : ""; };
	const run = document.getElementById("run"), next = document.getElementById("next"), word = document.getElementById("word");
	return { Step: run.dataset.step, Wants: run.dataset.wants, Title: text("#run h1"), Figure: text("#figure"), Word: text("#word"), Alarm: text("#alarm"), Next: text("#next"), Other: text("#other"),
		Runs: run.classList.contains("runs"), Calls: !!word && word.classList.contains("calls"), Ready: !!next && !next.disabled };
})()`

func (b *tab) stage() stage { b.t.Helper(); return look[stage](b, "the stage", stageNow) }

// hand is a person at a terminal.
type hand struct {
	t    *testing.T
	term *eventstest.Terminal
}

func (h hand) sees(text string) {
	h.t.Helper()
	require.NoError(h.t, h.term.Wait(text, limit))
}

func (h hand) types(keys string) {
	h.t.Helper()
	_, err := h.term.Person.WriteString(keys)
	require.NoError(h.t, err)
}

// stay lets a sheet lie in a bath until it is to come out.
func (h hand) stay(step string) {
	h.t.Helper()
	h.sees(step)
	h.types(" ")
	h.sees("OUT NOW")
	h.types(" y") // where the time is odd, because the machine was busy, it is asked about
}

// ranInTheTerminal is a picture from the reading to the judged, washed print by the keys of the terminal's run.
func ranInTheTerminal(t *testing.T, book string) {
	t.Helper()
	term, err := eventstest.OpenTerminal(60, 24)
	require.NoError(t, err)
	defer func() { term.Person.Close(); term.Program.Close() }()
	run := traybook(t, "", "--book", book, "bench")
	run.Env = append(run.Env, "TERM=xterm", "NO_COLOR=1")
	require.NoError(t, term.Start(run))
	h := hand{t, term}
	h.sees("reading: ")
	h.types("8 1\r")
	h.sees("f/8 · 1 s")
	h.types(" ")
	h.sees("planned 1.0")
	h.types(" ")
	h.sees("CAP ON")
	h.types(" ")
	for _, step := range []string{"develop 2026-001n", "rinse 2026-001n", "fix 2026-001n"} {
		h.stay(step)
	}
	h.sees("judge 2026-001n")
	h.types("k")
	h.sees("meter the negative 2026-001n")
	h.types("11 0.5\r")
	h.sees("what was read?")
	h.types("c")
	h.sees("f/11 · 2 s")
	h.types(" ")
	h.sees("planned 2")
	h.types(" ")
	h.sees("CAP ON")
	h.types(" ")
	for _, step := range []string{"develop 2026-001p1", "rinse 2026-001p1", "fix 2026-001p1"} {
		h.stay(step)
	}
	h.sees("judge 2026-001p1")
	h.types("k")
	h.sees("wash 2026-001n, 2026-001p1")
	h.types(" ")
	h.sees("the sheet is out")
	h.types(" ")
	h.sees("that is what was done")
	h.types("y")
	h.sees("meter the scene")
	h.types("q")
	require.NoError(t, run.Wait())
}

// alike is an act without what no two runs have alike: which clock timed it, which reading served it, and how long it was
// to a tenth, of which it is kept that it is there; and by how much it ran over, which is remarked from a second on.
func alike(acts []act) (out []string) {
	for _, a := range acts {
		delete(a.Data, "text")
		for _, name := range []string{"clock", "reading", "time_s", "soak_s"} {
			if _, there := a.Data[name]; there {
				a.Data[name] = "there"
			}
		}
		data, _ := json.Marshal(a.Data)
		out = append(out, a.Kind+" "+string(data))
	}
	return out
}

// leastTarget is how wide and high a target of the run is at least, so that a knuckle hits it.
const leastTarget = 64

// knuckled holds that everything that is pressed on the page of the run is large.
func (b *tab) knuckled(what string) {
	b.t.Helper()
	small := look[[]string](b, "the targets", fmt.Sprintf(`[...document.querySelectorAll("main button, main summary, main a, main input:not([type=hidden]), main select")].filter((e) => e.getClientRects().length > 0)
		.map((e) => [e, e.getBoundingClientRect()]).filter(([e, r]) => r.width < %d || r.height < %d).map(([e, r]) => e.outerHTML.slice(0, 100) + " " + r.width + "×" + r.height)`, leastTarget, leastTarget))
	assert.Empty(b.t, small, "%s", what)
}

// A picture from the reading to the judged, washed print by presses alone writes what the terminal's run writes.
func TestAWholePictureByTaps(t *testing.T) {
	t.Parallel()
	browser := openBrowser(t)
	want := make(chan []string, 1)
	t.Run("runs", func(t *testing.T) {
		t.Run("terminal", func(t *testing.T) {
			t.Parallel()
			book := quay(t, "1.2s", "1.2s")
			ranInTheTerminal(t, book)
			want <- alike(actsIn(t, book))
		})
		for _, x := range []size{phone, desk} {
			t.Run(x.String(), func(t *testing.T) {
				t.Parallel()
				book := quay(t, "1.2s", "1.2s")
				s := serve(t, book, "", "--port", "0")
				b := comeIn(t, browser, s, x)
				if x == phone {
					b.dim()
				}
				b.open("/camera")
				b.pictureByTaps()
				b.clean()
				told(t, "", "--book", book, "verify")
				got := alike(actsIn(t, book))
				expected := <-want
				want <- expected
				assert.Equal(t, expected, got)
			})
		}
	})
}

// pictureByTaps goes from the reading to the washed print, and looks at every step of it.
func (b *tab) pictureByTaps() {
	b.t.Helper()
	seen := map[string]bool{}
	looked := func() stage {
		b.t.Helper()
		b.handedOver() // who presses while the answer to the press before is drawn may have to press again
		b.until("something to press", `!(document.getElementById("next") || { disabled: true }).disabled`)
		st := b.stage()
		what := fmt.Sprintf("%s, running %v, in %v", st.Title, st.Runs, b.s.base)
		if key := fmt.Sprint(st.Step, st.Runs, st.Other != ""); !seen[key] {
			seen[key] = true
			b.unscrolled(what)
			b.knuckled(what)
			if b.phone {
				b.judged(what)
				dark(b.t, what, b.shot(false))
			}
			b.keep(fmt.Sprint("camera ", b.phone, len(seen), " ", st.Step))
		}
		return st
	}
	at := func(step, sheet string) {
		b.t.Helper()
		b.until(step+" "+sheet, `document.getElementById("run").dataset.step === `+quoted(step)+` && document.querySelector("#run h1").innerText.includes(`+quoted(sheet)+`)`)
		looked()
	}
	runs := func() {
		b.t.Helper()
		b.until("a running clock", `document.getElementById("run").classList.contains("runs")`)
	}
	calls := func() {
		b.t.Helper()
		b.until("the call", `document.querySelector("#word.calls") !== null`)
	}
	stay := func(step, sheet string) {
		b.t.Helper()
		at(step, sheet)
		b.tap("#next", "")
		runs()
		looked()
		calls()
		b.tap("#next", "")
		b.until("the end of "+step, `document.getElementById("run").dataset.step !== `+quoted(step)+` || document.getElementById("other") !== null`)
		if st := b.stage(); st.Other != "" { // the machine was so busy that the time is odd
			b.tap(".key[value=y]", "")
		}
	}
	choose := func(name, value string) {
		b.t.Helper()
		for range 60 {
			now := look[string](b, name, `document.querySelector(".stepper[data-name='`+name+`'] output").innerText`)
			if now == value {
				return
			}
			far := look[[]int](b, name, `(() => { const e = document.querySelector(".stepper[data-name='`+name+`']"), w = e.dataset.words.split("|"), around = e.dataset.around.split("|"); return [w.findIndex((x) => around.join(x) === `+quoted(value)+`), Number(e.dataset.at)]; })()`)
			require.GreaterOrEqual(b.t, far[0], 0, "%s offers no %s", name, value)
			b.tap(".stepper[data-name='"+name+"'] "+map[bool]string{true: ".up", false: ".down"}[far[0] > far[1]], "")
			b.until("another "+name, `document.querySelector(".stepper[data-name='`+name+`'] output").innerText !== `+quoted(now))
		}
		b.t.Fatalf("%s does not come to %s", name, value)
	}
	cap := func(step, sheet string) {
		b.t.Helper()
		at(step, sheet)
		b.tap("#next", "") // go on
		b.until("the cap, ready", `document.getElementById("word").innerText === "ready"`)
		looked()
		b.tap("#next", "") // count in
		runs()
		looked()
		calls()
		b.tap("#next", "")
	}
	at("meter the scene", "")
	choose("aperture", "f/8")
	choose("time", "1 s")
	b.tap("#next", "Write f/8, 1 s")
	cap("expose", "2026-001n")
	stay("develop", "2026-001n")
	stay("rinse", "2026-001n")
	stay("fix", "2026-001n")
	at("judge", "2026-001n")
	b.tap("#next", "keep")
	at("meter the negative", "2026-001n")
	choose("aperture", "f/11")
	choose("time", "0.5 s")
	b.tap("#next", "Write f/11, 0.5 s")
	b.tap("#next", "a card")
	cap("reprint", "2026-001p1")
	stay("develop", "2026-001p1")
	stay("rinse", "2026-001p1")
	stay("fix", "2026-001p1")
	at("judge", "2026-001p1")
	b.tap("#next", "keep")
	at("wash", "2026-001n, 2026-001p1")
	b.tap("#next", "")
	runs()
	looked()
	b.tap("#next", "")
	b.until("the question whether so short a wash is done", `document.getElementById("other") !== null`)
	looked()
	b.tap(".key[value=y]", "")
	at("meter the scene", "")
	b.handedOver()
}
