package browsertest

import (
	"encoding/json"
	"fmt"
	"net"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/page"
	"github.com/stretchr/testify/require"
)

// kept are the presses that the page keeps and that the book does not have yet.
const kept = `(JSON.parse(localStorage.getItem("traybook-camera") || '{"queue":[]}').queue)`

func (b *tab) handedOver() {
	b.t.Helper()
	b.until("everything handed over", kept+`.length === 0 && document.getElementById("kept").hidden`)
}

// atTheDeveloper is the page of the run with a sheet that was exposed and waits for the developer.
func atTheDeveloper(t *testing.T, develop string, x size) (b *tab, book string) {
	t.Helper()
	browser := openBrowser(t)
	book = quay(t, develop, "1.2s")
	told(t, "", "--book", book, "meter", "f/8", "4s")
	told(t, "", "--book", book, "expose", "f/8", "4s")
	b = comeIn(t, browser, serve(t, book, "", "--port", "0"), x)
	b.open("/camera")
	b.stands("develop")
	return b, book
}

// stands waits until the run stands at a step, with something to press.
func (b *tab) stands(step string) {
	b.t.Helper()
	b.until("the step "+step, `document.getElementById("run").dataset.step === `+quoted(step)+` && !(document.getElementById("next") || { disabled: true }).disabled`)
}

func (b *tab) runs() {
	b.t.Helper()
	b.until("a running clock", `document.getElementById("run").classList.contains("runs")`)
}

func (b *tab) calls() {
	b.t.Helper()
	b.until("the call", `document.querySelector("#word.calls") !== null`)
}

// began is when the clock that runs in a book was pressed.
func began(t *testing.T, book, actName string) time.Time {
	t.Helper()
	for _, line := range strings.Split(told(t, "", "--book", book, "export", "events", "--out", "-"), "\n") {
		var e struct {
			Kind string
			At   time.Time
			Data struct{ Act string }
		}
		if json.Unmarshal([]byte(line), &e) == nil && e.Kind == "clock.started" && e.Data.Act == actName {
			return e.At
		}
	}
	t.Fatalf("no clock of %s was started", actName)
	return time.Time{}
}

// mostOff is how far the clock of a page may be from the truth, in seconds.
const mostOff = 0.2

// right holds that the big clock counts from the moment in the book. It is looked at when the page has just drawn it, and
// again where it is off: what a busy machine drew late is right a moment later, a wrong clock stays wrong.
func (b *tab) right(what string, from time.Time, plannedS float64) {
	b.t.Helper()
	const tenth = 0.1 // that the figure leaves out
	off := ""
	for until := time.Now().Add(limit); time.Now().Before(until); {
		shown := look[struct {
			Figure string
			Now    float64
		}](b, what, `new Promise((done) => new MutationObserver((list, o) => {
		const f = document.getElementById("figure");
		if (f) { o.disconnect(); done({ Figure: f.innerText, Now: Date.now() }); }
	}).observe(document.getElementById("camera"), { subtree: true, childList: true, characterData: true }))`)
		past := shown.Now/1000 - float64(from.UnixMilli())/1000
		want, got := plannedS-past, 0.0
		over, is := strings.CutPrefix(shown.Figure, "+")
		if is {
			want = -want
		}
		fmt.Sscan(over, &got)
		if want >= got-mostOff && want <= got+tenth+mostOff {
			return
		}
		off = fmt.Sprintf("the page shows %s, and it is %.3f", shown.Figure, want)
	}
	b.t.Fatalf("%s: after %v %s", what, limit, off)
}

// A browser opens connections ahead of their use; who ends the program does not wait for them.
func TestAServerEndsWhileAConnectionIsOpen(t *testing.T) {
	t.Parallel()
	s := serve(t, quay(t, "1s", "1s"), "", "--port", "0")
	c, err := net.Dial("tcp", strings.TrimPrefix(s.base, "http://"))
	require.NoError(t, err)
	defer c.Close()
	s.stop(syscall.SIGINT) // and it ends well
}

// A page that sleeps, as a phone in a pocket lets it, has the right clock when it wakes, and calls at once for what is over.
func TestAPageThatSleptHasTheRightClock(t *testing.T) {
	t.Parallel()
	b, book := atTheDeveloper(t, "3s", phone)
	b.tap("#next", "the sheet is in")
	b.runs()
	b.handedOver()
	from := began(t, book, "develop")
	sleep := func(until time.Time) {
		t.Helper()
		call(b, "sleep", page.SetWebLifecycleState, page.SetWebLifecycleStateParams{State: page.SetWebLifecycleStateStateFrozen})
		time.Sleep(time.Until(until))
		call(b, "wake", page.SetWebLifecycleState, page.SetWebLifecycleStateParams{State: page.SetWebLifecycleStateStateActive})
	}
	sleep(time.Now().Add(700 * time.Millisecond))
	b.right("after a nap", from, 3)
	sleep(from.Add(3700 * time.Millisecond))
	b.calls()
	b.right("after its time", from, 3)
	b.clean()
}

// looksAgain waits until the page has looked twice whether the book was written to.
func (b *tab) looksAgain() {
	b.t.Helper()
	const looks = `performance.getEntriesByType("resource").filter((e) => e.name.includes("/camera/view")).length`
	was := look[int](b, "the looks at the book", looks)
	b.until("two looks more", fmt.Sprintf("%s >= %d", looks, was+2))
}

// What calls a sheet out stands as it stood when the page is drawn anew, and is no light in the dim.
func TestTheCallStandsWhenTheBookIsWrittenTo(t *testing.T) {
	t.Parallel()
	b, book := atTheDeveloper(t, "1.2s", phone)
	b.dim()
	b.open("/camera")
	b.stands("develop")
	b.tap("#next", "the sheet is in")
	b.handedOver()
	b.calls()
	told(t, "", "--book", book, "note", "2026-001", "gulls on the rail")
	b.looksAgain()
	b.calls()
	dark(t, "a call", b.shot(false))
	b.clean()
}

// A view that comes while a hand is on its way does not take the button away under it.
func TestAPressUnderWhichTheBookIsWrittenToIsNotLost(t *testing.T) {
	t.Parallel()
	b, book := atTheDeveloper(t, "30s", desk)
	b.handedOver()
	at := b.where("#next", "the sheet is in")
	mouse := func(kind input.DispatchMouseEventType) {
		t.Helper()
		call(b, string(kind), input.DispatchMouseEvent, input.DispatchMouseEventParams{Type: kind, X: at.X, Y: at.Y, Button: input.MouseButtonLeft, ClickCount: 1})
	}
	mouse(input.DispatchMouseEventTypeMousePressed)
	told(t, "", "--book", book, "bath", "test", "dev-1", "temperature", "17C")
	b.looksAgain()
	mouse(input.DispatchMouseEventTypeMouseReleased)
	b.runs()
	b.handedOver()
	began(t, book, "develop")
	b.until("the time at 17 °C", `document.getElementById("run").innerText.includes("called for 37")`) // 30 s × 2^0.3
	b.clean()
}
