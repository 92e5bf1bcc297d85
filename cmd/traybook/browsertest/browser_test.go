// Package browsertest holds the pages of the book in a real browser: what a page weighs, whether it can be read, reached and
// pressed, and what presses come to in the book. The program is the real one, started as its own process; the browser is
// the Chromium of the machine, driven over its own protocol, and it is let reach nothing but this machine.
package browsertest

import (
	"bufio"
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"traybook/events/eventstest"
)

// limit bounds every wait for a browser or a server: far beyond what a busy machine needs.
const limit = 90 * time.Second

// browsers are the names under which Chromium is found.
var browsers = []string{"chromium", "chromium-browser", "google-chrome"}

// passOver skips a test that this machine does not let try anything, and tells so.
func passOver(t *testing.T, why string) {
	t.Helper()
	require.NoError(t, eventstest.PassedOver(t.Name(), why))
	t.Skip(why)
}

// shared is what all tests have in common, each made when the first asks for it.
var shared struct {
	dir     string          // for the program and the demo's book
	program string          // once it is built
	season  string          // the folder of the demo's book
	browser context.Context // one browser, whose tabs know nothing of each other
	end     func()

	making sync.Mutex
}

func TestMain(m *testing.M) {
	dir, err := os.MkdirTemp("", "traybook-browser-")
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	shared.dir, shared.end = dir, func() {}
	flag.Parse()
	flag.Set("test.parallel", "4") // for the most part they wait, for a bath or a page
	code := m.Run()
	shared.end()
	os.RemoveAll(dir)
	os.Exit(code)
}

// openBrowser is the browser of these tests.
func openBrowser(t *testing.T) context.Context {
	t.Helper()
	shared.making.Lock()
	defer shared.making.Unlock()
	if shared.browser != nil {
		return shared.browser
	}
	var path string
	for _, name := range browsers {
		if found, err := exec.LookPath(name); err == nil {
			path = found
			break
		}
	}
	if path == "" {
		passOver(t, "there is no chromium here")
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.DisableGPU,
		chromedp.Flag("host-resolver-rules", "MAP * ~NOTFOUND, EXCLUDE 127.0.0.1"), // nothing but this machine
		chromedp.Flag("no-sandbox", os.Getuid() == 0),                              // Chromium refuses to run as root with one
	)
	all, stop := chromedp.NewExecAllocator(context.Background(), options...)
	ctx, end := chromedp.NewContext(all)
	shared.end = func() { end(); stop() }
	started := make(chan error, 1)
	go func() { started <- chromedp.Do(ctx) }()
	select {
	case err := <-started:
		require.NoError(t, err)
	case <-time.After(limit):
		t.Fatalf("%s has not started after %v", path, limit)
	}
	shared.browser = ctx
	return ctx
}

// built is the program, built when it is first asked for.
func built(t *testing.T) string {
	t.Helper()
	shared.making.Lock()
	defer shared.making.Unlock()
	if shared.program == "" {
		bin := filepath.Join(shared.dir, "traybook")
		said, err := eventstest.Command(t, "go", "build", "-o", bin, "traybook/cmd/traybook").CombinedOutput()
		require.NoError(t, err, "%s", said)
		shared.program = bin
	}
	return shared.program
}

// traybook is a run of the program, at a moment of its own; the moment "" is the clock of the machine.
func traybook(t *testing.T, now string, args ...string) *exec.Cmd {
	t.Helper()
	c := eventstest.Command(t, built(t), args...)
	c.Env = append(c.Env, "TRAYBOOK_NOW="+now)
	return c
}

// told is what a run of the program answers, which must be well.
func told(t *testing.T, now string, args ...string) string {
	t.Helper()
	c := traybook(t, now, args...)
	out, err := c.CombinedOutput()
	require.NoError(t, err, "%s: %s", args, out)
	return string(out)
}

// server is the program serving a book.
type server struct {
	t         *testing.T
	run       *exec.Cmd
	base      string
	addresses chan string // each lets one browser in
	ended     chan error
}

var shownAddress = regexp.MustCompile(`http://[0-9.:]+/in/[a-z0-9]{10}`)

// serve serves a book until the test ends or the server is stopped.
func serve(t *testing.T, book, now string, args ...string) *server {
	t.Helper()
	s := &server{t: t, addresses: make(chan string, 100), ended: make(chan error, 1)}
	s.run = traybook(t, now, append([]string{"--book", book, "serve"}, args...)...)
	var errs strings.Builder
	s.run.Stderr = &errs
	out, err := s.run.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, s.run.Start())
	go func() {
		in := bufio.NewScanner(out)
		for in.Scan() {
			if a := shownAddress.FindString(in.Text()); a != "" {
				s.addresses <- a
			}
		}
		err := s.run.Wait()
		if err != nil {
			err = fmt.Errorf("%w: %s", err, errs.String())
		}
		s.ended <- err
	}()
	t.Cleanup(func() { s.stop(syscall.SIGINT) })
	first := s.next()
	s.base = first[:strings.Index(first, "/in/")]
	s.addresses <- first
	return s
}

// next is the address that lets the next browser in.
func (s *server) next() string {
	s.t.Helper()
	select {
	case a := <-s.addresses:
		return a
	case err := <-s.ended:
		s.t.Fatalf("the server ended: %v", err)
	case <-time.After(limit):
		s.t.Fatalf("the server has told no address after %v", limit)
	}
	return ""
}

// stop ends the server by a signal and waits for its end; a second time it does nothing.
func (s *server) stop(signal syscall.Signal) {
	if s.run == nil {
		return
	}
	s.run.Process.Signal(signal)
	select {
	case err := <-s.ended:
		if signal == syscall.SIGINT && err != nil {
			s.t.Errorf("the server ended badly: %v", err)
		}
	case <-time.After(limit):
		s.t.Errorf("the server has not ended after %v", limit)
		s.run.Process.Kill()
	}
	s.run = nil
}

// size is a screen.
type size struct {
	wide, high int64
	phone      bool
}

var (
	phone = size{360, 640, true}
	small = size{320, 568, true}
	desk  = size{1280, 800, false}
)

func (x size) String() string { return fmt.Sprintf("%d×%d", x.wide, x.high) }

// tab is a page of a browser that was let in.
type tab struct {
	t     *testing.T
	ctx   context.Context
	s     *server
	phone bool

	mu       sync.Mutex
	wrong    []string // what the browser complained of
	cut      bool     // that it does not get through is no complaint
	requests []string
}

// comeIn opens a browser without history, and lets it in.
func comeIn(t *testing.T, browser context.Context, s *server, x size) *tab {
	t.Helper()
	b := &tab{t: t, s: s}
	ctx, end := chromedp.NewContext(browser, chromedp.WithNewBrowserContext(), chromedp.WithListener(b.hear))
	t.Cleanup(end)
	b.ctx = ctx
	require.NoError(t, chromedp.Do(ctx))
	b.fit(x)
	b.open(s.next())
	b.until("the page behind the door", `document.readyState === "complete" && location.pathname === "/"`)
	return b
}

// hear keeps what a page asks for and what its browser complains of.
func (b *tab) hear(event any) {
	b.mu.Lock()
	defer b.mu.Unlock()
	switch e := event.(type) {
	case *network.EventRequestWillBeSent:
		b.requests = append(b.requests, e.Request.URL)
	case *log.EventEntryAdded:
		if e.Entry.Level == log.EntryLevelError && e.Entry.URL != b.s.base+notThere && !(b.cut && strings.Contains(e.Entry.Text, "net::ERR_")) {
			b.wrong = append(b.wrong, e.Entry.URL+": "+e.Entry.Text)
		}
	case *runtime.EventExceptionThrown:
		text := e.ExceptionDetails.Text
		if x := e.ExceptionDetails.Exception; x != nil {
			text += " " + x.Description
		}
		b.wrong = append(b.wrong, text)
	case *runtime.EventConsoleAPICalled:
		if e.Type == runtime.ConsoleAPICalledTypeError || e.Type == runtime.ConsoleAPICalledTypeAssert {
			text, _ := json.Marshal(e.Args)
			b.wrong = append(b.wrong, string(text))
		}
	}
}

// clean holds that nothing was asked for elsewhere and that the browser complained of nothing.
func (b *tab) clean() {
	b.t.Helper()
	b.mu.Lock()
	defer b.mu.Unlock()
	require.NotEmpty(b.t, b.requests, "the requests were heard")
	for _, r := range b.requests {
		if !strings.HasPrefix(r, b.s.base+"/") && !strings.HasPrefix(r, "data:") && !strings.HasPrefix(r, "blob:"+b.s.base+"/") {
			b.t.Errorf("a page asked for %s", r)
		}
	}
	for _, w := range b.wrong {
		b.t.Errorf("the browser complains: %s", w)
	}
}

// do does steps within the limit.
func (b *tab) do(what string, steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	ctx, stop := context.WithTimeout(b.ctx, limit)
	defer stop()
	require.NoError(b.t, chromedp.Do(ctx, steps...), "%s", what)
}

// call sends one command of the protocol.
func call[P, R any](b *tab, what string, cmd cdp.Command[P, R], params P) R {
	b.t.Helper()
	ctx, stop := context.WithTimeout(b.ctx, limit)
	defer stop()
	r, err := chromedp.Call(ctx, cmd, params)
	require.NoError(b.t, err, "%s", what)
	return r
}

// look is what an expression of JavaScript gives on the page. It is asked as a debugger asks, whatever the page's policy forbids its own code.
func look[T any](b *tab, what, expression string) T {
	b.t.Helper()
	ctx, stop := context.WithTimeout(b.ctx, limit)
	defer stop()
	x, err := chromedp.Run(ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	require.NoError(b.t, err, "%s", what)
	return x
}

// until waits until an expression is true on the page.
func (b *tab) until(what, expression string) {
	b.t.Helper()
	ctx, stop := context.WithTimeout(b.ctx, limit)
	defer stop()
	var last error
	for ctx.Err() == nil {
		good, err := chromedp.Run(ctx, chromedp.Evaluate[bool](expression)) // fails between two pages
		if err == nil && good {
			return
		}
		last = err
		time.Sleep(15 * time.Millisecond)
	}
	text, _ := chromedp.Run(b.ctx, chromedp.Evaluate[string](`location.pathname + "\n" + document.body.innerText`))
	b.t.Fatalf("waited %v for %s (%v); the page is %s", limit, what, last, text)
}

// fit gives the page a screen.
func (b *tab) fit(x size) {
	b.t.Helper()
	b.phone = x.phone
	var how []chromedp.EmulateViewportOption
	if x.phone {
		how = append(how, chromedp.EmulateMobile, chromedp.EmulateTouch, chromedp.EmulatePortrait)
	}
	b.do("a screen of "+x.String(), chromedp.EmulateViewport(x.wide, x.high, how...))
}

// text sets the size of the reader's text, 16 where nothing was set.
func (b *tab) text(size int64) {
	b.t.Helper()
	call(b, "the size of text", page.SetFontSizes, page.SetFontSizesParams{FontSizes: &page.FontSizes{Standard: size}})
}

// open opens an address of the server.
func (b *tab) open(path string) {
	b.t.Helper()
	if strings.HasPrefix(path, "/") {
		path = b.s.base + path
	}
	b.do("open "+path, chromedp.Navigate(path))
}

// place is where a thing can be pressed.
type place struct {
	X, Y, Wide, High float64
	Free             bool // nothing lies over it
	Over             string
}

// findThing finds the first thing that is shown, fits a selector and holds a text, brings it into view, and says where it is.
const findThing = `((selector, text) => {
	const shown = (e) => e.getClientRects().length > 0 && getComputedStyle(e).visibility === "visible";
	const e = [...document.querySelectorAll(selector)].find((e) => shown(e) && (text === "" || (e.innerText || e.value || "").replace(/\s+/g, " ").trim().includes(text)));
	if (!e) { return null; }
	const target = e.labels && e.labels.length && (e.type === "radio" || e.type === "checkbox") ? e.labels[0] : e;
	target.scrollIntoView({ block: "center", behavior: "instant" });
	const r = target.getClientRects()[0];
	const x = r.x + r.width / 2, y = r.y + r.height / 2;
	const hit = document.elementFromPoint(x, y);
	return { X: x, Y: y, Wide: r.width, High: r.height, Free: !!hit && (target === hit || target.contains(hit)), Over: hit ? hit.outerHTML.slice(0, 120) : "" };
})(%s, %s)`

// tap presses a thing: with a finger on a phone, with a mouse on a desk.
func (b *tab) tap(selector, text string) place {
	b.t.Helper()
	p := b.where(selector, text)
	require.True(b.t, p.Free, "%s %q is covered by %s", selector, text, p.Over)
	if b.phone {
		b.do("tap "+selector, chromedp.TapXY(p.X, p.Y))
	} else {
		b.do("press "+selector, chromedp.MouseClickXY(p.X, p.Y))
	}
	return p
}

// where is where a thing is, once it is there.
func (b *tab) where(selector, text string) place {
	b.t.Helper()
	find := fmt.Sprintf(findThing, quoted(selector), quoted(text))
	b.until(fmt.Sprintf("%s with %q", selector, text), find+" !== null")
	return look[place](b, selector, find)
}

// follow presses what leads to another page, and waits for that.
func (b *tab) follow(selector, text string) {
	b.t.Helper()
	look[bool](b, "mark the page", `document.body.left = true`)
	b.tap(selector, text)
	b.until("the page behind "+selector+" "+text, `!document.body.left && document.readyState === "complete"`)
}

// says is the text of the page as it is shown.
func (b *tab) says() string {
	b.t.Helper()
	return strings.Join(strings.Fields(look[string](b, "the text", `document.body.innerText`)), " ")
}

func quoted(s string) string {
	j, _ := json.Marshal(s)
	return string(j)
}

// dim turns the page dim by its button.
func (b *tab) dim() {
	b.t.Helper()
	b.follow(".theme button", "Dim")
	require.True(b.t, look[bool](b, "the theme", `document.documentElement.classList.contains("dim")`), b.says())
}

// seasonEnd is when the season of the demo ends, with a session open.
const seasonEnd = "2026-08-09T16:00:00+02:00"

// season is a copy of the demo's book.
func season(t *testing.T) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "season")
	require.NoError(t, os.CopyFS(dir, os.DirFS(demo(t))))
	return filepath.Join(dir, "book.db")
}

// demo is the folder of the demo, made when it is first asked for.
func demo(t *testing.T) string {
	t.Helper()
	c := traybook(t, seasonEnd, "demo")
	shared.making.Lock()
	defer shared.making.Unlock()
	if shared.season == "" {
		c.Dir = shared.dir
		out, err := c.CombinedOutput()
		require.NoError(t, err, "%s", out)
		shared.season = filepath.Join(c.Dir, "traybook-demo")
	}
	return shared.season
}

// entryOf is the id of the first entry of a kind in the history of a thing.
func entryOf(t *testing.T, book, thing, kind string) string {
	t.Helper()
	ids := entriesOf(t, book, thing, kind)
	require.NotEmpty(t, ids, "%s of %s", kind, thing)
	return ids[0]
}

func entriesOf(t *testing.T, book, thing, kind string) []string {
	t.Helper()
	out := told(t, seasonEnd, "--book", book, "history", thing, "--all", "--json")
	var ids []string
	for _, m := range regexp.MustCompile(`"id":"([0-9a-f]{32})","kind":"([a-z.]+)"`).FindAllStringSubmatch(out, -1) {
		if m[2] == kind && !slices.Contains(ids, m[1]) {
			ids = append(ids, m[1])
		}
	}
	return ids
}
