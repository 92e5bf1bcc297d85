package browsertest

import (
	"fmt"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// offline cuts the page's connection, or gives it back.
func (b *tab) offline(cut bool) {
	b.t.Helper()
	b.mayBeCut()
	call(b, "the connection", network.EmulateNetworkConditionsByRule, network.EmulateNetworkConditionsByRuleParams{
		EmulateOfflineServiceWorker: &cut,
		MatchedNetworkConditions:    []*network.Conditions{{Offline: cut, DownloadThroughput: -1, UploadThroughput: -1}}})
}

// mayBeCut lets the browser say from now on that it does not get through.
func (b *tab) mayBeCut() {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.cut = true
}

// known waits until the page knows what lies ahead of what it shows.
func (b *tab) known() {
	b.t.Helper()
	b.until("what lies ahead", `((v) => v !== null && v.ahead !== null && v.node >= 0)(JSON.parse(localStorage.getItem("traybook-camera-view")))`)
}

// The connection is cut while a sheet lies in the developer: the clock runs on, what is pressed is kept and said, the run goes
// on as far as is known ahead, and all of it is in the book once, at its own time, when the connection is back.
func TestTheConnectionCutInABath(t *testing.T) {
	t.Parallel()
	b, book := atTheDeveloper(t, "2.5s", phone)
	b.tap("#next", "the sheet is in")
	b.runs()
	b.handedOver()
	b.known()
	from := began(t, book, "develop")
	b.right("before the cut", from, 2.5)
	before := len(actsIn(t, book))
	stood := b.where("#next", "the sheet is out")
	b.offline(true)
	b.until("that the book is out of reach", `document.getElementById("kept").innerText.includes("out of reach")`)
	assert.Equal(t, stood, b.where("#next", "the sheet is out"), "nothing moves under a hand on its way")
	b.right("after the cut", from, 2.5)
	b.calls()
	b.right("at the call", from, 2.5)
	b.keep("camera cut")
	b.tap("#next", "the sheet is out")
	b.until("that one act is kept", kept+`.length === 1 && document.getElementById("kept").innerText.includes("1 act not yet in the book")`)
	for n, step := range []string{"rinse", "fix"} {
		b.stands(step)
		b.tap("#next", "the sheet is in")
		b.runs()
		b.calls()
		b.tap("#next", "the sheet is out")
		b.until("that the acts are kept", fmt.Sprintf(`%s.length === %d && document.getElementById("kept").innerText.includes("%[2]d acts not yet in the book")`, kept, 3+2*n))
	}
	b.unscrolled("out of reach")
	b.judged("out of reach")
	b.keep("camera kept")
	assert.Len(t, actsIn(t, book), before, "nothing of it is in the book yet")
	pressed := look[[]int64](b, "the presses", kept+`.map((p) => p.at)`)
	b.offline(false)
	b.handedOver()
	acts := actsIn(t, book)[before:]
	var kinds []string
	for _, a := range acts {
		kinds = append(kinds, a.Kind)
	}
	require.Equal(t, []string{"sheet.developed", "sheet.rinsed", "sheet.fixed"}, kinds, "each once, in its order")
	for i, in := range []int64{from.UnixMilli(), pressed[1], pressed[3]} {
		out := pressed[2*i]
		assert.InDelta(t, float64(out-in)/1000, acts[i].Data["time_s"], mostOff, "%s lasted as long as the page saw it", acts[i].Kind)
	}
	b.stands("judge")
	told(t, "", "--book", book, "verify")
	b.clean()
}

// comeInAgain lets the browser of a tab in by another tab, as the address of a server that was begun anew does.
func (b *tab) comeInAgain(again *server) {
	b.t.Helper()
	ctx, end := chromedp.NewContext(b.ctx)
	b.t.Cleanup(end)
	other := &tab{t: b.t, ctx: ctx, s: again}
	require.NoError(b.t, chromedp.Do(ctx))
	other.open(again.next())
}

// The program is killed while a sheet lies in the developer and begun anew: what was pressed meanwhile is handed over when the
// browser was let in again, from the same page.
func TestTheProgramKilledInABath(t *testing.T) {
	t.Parallel()
	b, book := atTheDeveloper(t, "1.5s", phone)
	b.tap("#next", "the sheet is in")
	b.runs()
	b.handedOver()
	b.known()
	from := began(t, book, "develop")
	before := len(actsIn(t, book))
	b.mayBeCut()
	port := b.s.base[strings.LastIndex(b.s.base, ":")+1:]
	b.s.stop(syscall.SIGKILL)
	b.calls()
	b.right("without the program", from, 1.5)
	b.tap("#next", "the sheet is out")
	b.until("that one act is kept", kept+`.length === 1`)
	pressed := look[int64](b, "the press", kept+`[0].at`)
	again := serve(t, book, "", "--port", port)
	b.until("that the program was started anew", `document.getElementById("kept").innerText.includes("started anew")`)
	assert.Len(t, actsIn(t, book), before)
	b.comeInAgain(again)
	b.handedOver()
	acts := actsIn(t, book)[before:]
	require.Len(t, acts, 1)
	assert.Equal(t, "sheet.developed", acts[0].Kind)
	assert.InDelta(t, float64(pressed-from.UnixMilli())/1000, acts[0].Data["time_s"], mostOff)
}

// On the machine itself the page of the run opens though the program does not run: it shows where the run stood, keeps what is
// pressed, also over another opening, and hands it over when the program is there again.
func TestThePageOpensWithoutTheProgram(t *testing.T) {
	t.Parallel()
	b, book := atTheDeveloper(t, "1.5s", phone)
	b.until("the worker that opens the page", `navigator.serviceWorker.controller !== null`)
	b.open("/camera")
	b.stands("develop")
	b.known()
	before := len(actsIn(t, book))
	b.mayBeCut()
	port := b.s.base[strings.LastIndex(b.s.base, ":")+1:]
	b.s.stop(syscall.SIGKILL)
	b.open("/camera")
	b.stands("develop")
	b.until("that the book is out of reach", `document.getElementById("kept").innerText.includes("out of reach")`)
	b.judged("opened without the program")
	b.unscrolled("opened without the program")
	b.keep("camera without the program")
	b.tap("#next", "the sheet is in")
	b.runs()
	in := look[int64](b, "the press", kept+`[0].at`)
	b.open("/camera") // the phone was put away and taken out again
	b.until("one act that is kept", kept+`.length === 1`)
	b.calls()
	b.right("opened again", time.UnixMilli(in), 1.5)
	b.tap("#next", "the sheet is out")
	b.until("two acts that are kept", kept+`.length === 2`)
	out := look[int64](b, "the press", kept+`[1].at`)
	b.comeInAgain(serve(t, book, "", "--port", port))
	b.handedOver()
	acts := actsIn(t, book)[before:]
	require.Len(t, acts, 1)
	assert.Equal(t, "sheet.developed", acts[0].Kind)
	assert.InDelta(t, float64(out-in)/1000, acts[0].Data["time_s"], mostOff)
	assert.InDelta(t, float64(in)/1000, float64(began(t, book, "develop").UnixMilli())/1000, mostOff)
}
