package browsertest

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events/eventstest"
)

// notThere is an address that no page has.
const notThere = "/nothing-here"

// pagesOf are the addresses of every kind of page of the demo's book.
func pagesOf(t *testing.T, book string) []string {
	exposed := entryOf(t, book, "2026-017", "sheet.exposed")
	return []string{"/", "/pictures", "/pictures?text=boat&from=2026-05-01", "/picture/2026-017", "/picture/2026-032", "/entry/" + exposed, "/evening", "/evening?all=1", "/camera",
		"/supplies", "/supplies?all=1", "/year?year=2026", "/device", notThere}
}

// axe is the judge of whether a page can be used by everyone, read from where TRAYBOOK_AXE says; "" where it says nothing.
var axe = sync.OnceValues(func() (string, error) {
	path := os.Getenv("TRAYBOOK_AXE")
	if path == "" {
		return "", nil
	}
	b, err := os.ReadFile(path)
	return string(b), err
})

// offence is what axe finds.
type offence struct {
	ID, Impact, Help string
	Nodes            []string
}

const judgePage = `axe.run(document, { resultTypes: ["violations"], runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] }).then((r) =>
	r.violations.map((v) => ({ ID: v.id, Impact: v.impact, Help: v.help, Nodes: v.nodes.slice(0, 5).map((n) => n.html.slice(0, 160) + " " + n.failureSummary.slice(0, 300)) })))`

// judged holds that no two things have one id, and that axe finds nothing serious on the page.
func (b *tab) judged(what string) {
	b.t.Helper()
	assert.Empty(b.t, look[[]string](b, "ids", `[...document.querySelectorAll("[id]")].map((e) => e.id).filter((id, i, all) => all.indexOf(id) !== i)`), "%s: an id is there twice", what)
	source, err := axe()
	require.NoError(b.t, err)
	if source == "" {
		return
	}
	if !look[bool](b, "axe", `typeof axe === "object"`) {
		look[bool](b, "axe", source+"; true")
	}
	for _, o := range look[[]offence](b, "axe on "+what, judgePage) {
		if o.Impact == "serious" || o.Impact == "critical" {
			b.t.Errorf("%s: axe: %s (%s): %s\n%q", what, o.ID, o.Impact, o.Help, o.Nodes)
		}
	}
}

// unscrolled holds that the page does not have to be moved sideways: nothing of it lies beyond the screen.
func (b *tab) unscrolled(what string) {
	b.t.Helper()
	beyond := look[[]string](b, "what is too wide", `(() => {
		const wide = document.documentElement.clientWidth, out = [];
		const moves = (e) => { // within a part that is moved by itself, as a wide table is
			for (let p = e.parentElement; p && p !== document.body; p = p.parentElement) {
				if (["auto", "scroll"].includes(getComputedStyle(p).overflowX)) { return true; }
			}
			return false;
		};
		for (const e of document.body.querySelectorAll("*")) {
			const r = e.getBoundingClientRect();
			if (r.width > 0 && r.right > wide + 1 && !moves(e)) { out.push(e.outerHTML.slice(0, 120) + " ends at " + r.right); }
		}
		if (document.scrollingElement.scrollWidth > innerWidth) { out.push("the page is " + document.scrollingElement.scrollWidth + " wide"); }
		for (const a of document.querySelectorAll("nav a")) {
			if (a.scrollWidth > a.clientWidth + 1) { out.push(a.innerText + " does not fit into its place in the menu"); }
		}
		return out.slice(0, 4);
	})()`)
	assert.Empty(b.t, beyond, "%s", what)
}

const heaviest = 80 << 10

// light holds that the page with all it asks for, but for pictures, is small.
func (b *tab) light(what string) {
	b.t.Helper()
	weight := look[int](b, "the weight", `[...performance.getEntriesByType("navigation"), ...performance.getEntriesByType("resource")]
		.filter((e) => e.initiatorType !== "img").reduce((sum, e) => sum + e.decodedBodySize, 0)`)
	assert.Less(b.t, weight, heaviest, "%s", what)
	assert.Greater(b.t, weight, 5<<10, "%s: the page was weighed", what)
}

// openAll opens whatever the page holds folded.
const openAll = `document.querySelectorAll("details").forEach((d) => { d.open = true; }); true`

// In the dim light no point of the page is brighter than this share of a white one, and green and blue, by which paper is
// fogged, give less than that in any area of 8 by 8 points. Both are our own bounds: a warning's text is the brightest point,
// with 0.34, and a pressed button filled with the red of the text gives 0.06.
const (
	brightest    = 0.36
	brightestBig = 0.1
)

// dark holds that a picture of the dim page has no light point and no area that is anything but a dark red.
func dark(t *testing.T, what string, shot []byte) {
	t.Helper()
	m, err := png.Decode(bytes.NewReader(shot))
	require.NoError(t, err)
	linear := func(v uint32) float64 { x := float64(v) / 0xffff; return x * x } // near enough to the curve of a screen, and brighter in the darks
	most, at := 0.0, image.Point{}
	const side = 8
	for y := m.Bounds().Min.Y; y+side <= m.Bounds().Max.Y; y += side {
		for x := m.Bounds().Min.X; x+side <= m.Bounds().Max.X; x += side {
			area := 0.0
			for dy := range side {
				for dx := range side {
					r, g, b, _ := m.At(x+dx, y+dy).RGBA()
					light := 0.2126*linear(r) + 0.7152*linear(g) + 0.0722*linear(b)
					if light > most {
						most, at = light, image.Pt(x+dx, y+dy)
					}
					area += (linear(g) + linear(b)) / 2 / (side * side)
				}
			}
			if area > brightestBig {
				t.Errorf("%s: an area at %d,%d is no red: %.2f of green and blue", what, x, y, area)
				return
			}
		}
	}
	assert.Less(t, most, brightest, "%s: a light point at %v", what, at)
	assert.Greater(t, most, 0.02, "%s: something is to be seen", what)
}

// keep puts a picture of the whole page into the folder that TRAYBOOK_SCREENS names, to be looked at.
func (b *tab) keep(name string) {
	b.t.Helper()
	dir := os.Getenv("TRAYBOOK_SCREENS")
	if dir == "" {
		return
	}
	name = strings.Trim(regexp.MustCompile(`[^a-z0-9]+`).ReplaceAllString(strings.ToLower(name), "-"), "-")
	require.NoError(b.t, os.WriteFile(filepath.Join(dir, name+".png"), b.shot(true), 0o600))
}

// shot is a picture of the screen, or of the whole page.
func (b *tab) shot(whole bool) []byte {
	b.t.Helper()
	ctx, stop := context.WithTimeout(b.ctx, limit)
	defer stop()
	take := chromedp.CaptureScreenshot()
	if whole {
		take = chromedp.FullScreenshot(100)
	}
	shot, err := chromedp.Run(ctx, take)
	require.NoError(b.t, err)
	return shot
}

func TestPagesInABrowser(t *testing.T) {
	t.Parallel()
	browser := openBrowser(t)
	book := season(t)
	s := serve(t, book, seasonEnd, "--port", "0")
	pages := pagesOf(t, book)
	if source, err := axe(); err == nil && source == "" {
		require.NoError(t, eventstest.PassedOver(t.Name(), "TRAYBOOK_AXE names no axe.min.js"))
	}
	for _, theme := range []string{"light", "dim"} {
		t.Run(theme, func(t *testing.T) {
			t.Parallel()
			b := comeIn(t, browser, s, phone)
			if theme == "dim" {
				b.dim()
			}
			for _, path := range pages {
				b.fit(phone)
				b.open(path)
				b.light(path)
				b.keep(fmt.Sprintf("page%s %d %s", path, phone.wide, theme))
				look[bool](b, path, openAll)
				for _, x := range []size{small, phone, desk} {
					b.fit(x)
					what := fmt.Sprintf("%s at %v, %s", path, x, theme)
					b.unscrolled(what)
					if x == desk || (x == small) == (theme == "light") { // the narrower one stands for both in the light
						b.judged(what)
					}
					if theme == "dim" && x != small {
						dark(t, what, b.shot(x == phone))
					}
					if x == desk {
						b.keep(fmt.Sprintf("page%s %d %s", path, x.wide, theme))
					}
					b.text(32)
					b.unscrolled(what + " at 200 %")
					b.text(16)
				}
			}
			b.clean()
		})
	}
}

// reached is what has the focus.
type reached struct {
	Name   string
	Number int  // among all that can have it; -1 where it is none of them
	Seen   bool // it lies on the screen
	Marked bool // its outline differs from that of the same thing without the focus
}

// numberAll numbers what can be reached and keeps how each looks without the focus. Of the buttons of a choice one alone is
// reached by Tab, the others from it by arrows.
const numberAll = `(() => {
	const shown = (e) => e.getClientRects().length > 0 && getComputedStyle(e).visibility === "visible";
	window.look = (e) => { const s = getComputedStyle(e); return [s.outlineStyle, s.outlineWidth, s.outlineColor, s.boxShadow, s.borderColor, s.backgroundColor, s.left].join("|"); };
	const choices = new Set();
	window.all = [...document.querySelectorAll("a[href], button, input:not([type=hidden]), select, textarea, summary, [tabindex]:not([tabindex='-1'])")].filter((e) => {
		if (!shown(e) || e.disabled) { return false; }
		if (e.type !== "radio") { return true; }
		const choice = e.form.action + e.form.elements.sheet?.value + e.name;
		return !choices.has(choice) && choices.add(choice);
	});
	window.plain = all.map(look);
	document.body.tabIndex = -1; document.body.focus(); document.body.removeAttribute("tabindex"); scrollTo(0, 0);
	return all.map((e) => e.outerHTML.slice(0, 140));
})()`

const whereFocus = `(() => {
	const e = document.activeElement, n = all.indexOf(e), r = e.getBoundingClientRect();
	return { Name: e.outerHTML.slice(0, 140), Number: n, Seen: r.width > 0 && r.height > 0 && r.bottom > 0 && r.top < innerHeight && r.right > 0 && r.left < innerWidth,
		Marked: n >= 0 && look(e) !== plain[n] };
})()`

func (b *tab) key(keys string) {
	b.t.Helper()
	b.do("the key", chromedp.KeyEvent(keys))
}

// Every control is reached by Tab, in one round, and shows that it is.
func TestPagesByTheKeyboard(t *testing.T) {
	t.Parallel()
	browser := openBrowser(t)
	book := season(t)
	s := serve(t, book, seasonEnd, "--port", "0")
	b := comeIn(t, browser, s, desk)
	for _, path := range pagesOf(t, book) {
		b.open(path)
		look[bool](b, path, openAll)
		all := look[[]string](b, path, numberAll)
		require.NotEmpty(t, all, path)
		seen, last := map[int]bool{}, -1
		for range 4 * len(all) { // a date is three stops
			b.key(kb.Tab)
			f := look[reached](b, path, whereFocus)
			if f.Number == last {
				continue
			}
			last = f.Number
			if f.Number < 0 { // behind the last one Tab leaves the page
				break
			}
			seen[f.Number] = true
			assert.True(t, f.Seen, "%s: %s has the focus and is not on the screen", path, f.Name)
			assert.True(t, f.Marked, "%s: %s does not show that it has the focus", path, f.Name)
		}
		for i, name := range all {
			assert.True(t, seen[i], "%s: %s is not reached by Tab", path, name)
		}
	}
	b.clean()
}

// tabTo goes on by Tab until a thing has the focus.
func (b *tab) tabTo(selector string) {
	b.t.Helper()
	for range 200 {
		if look[bool](b, selector, `document.activeElement.matches(`+quoted(selector)+`)`) {
			return
		}
		b.key(kb.Tab)
	}
	b.t.Fatalf("Tab does not lead to %s", selector)
}

// A picture is found, opened and judged, and the judgement taken back, by keys alone.
func TestAJudgementByTheKeyboard(t *testing.T) {
	t.Parallel()
	browser := openBrowser(t)
	book := season(t)
	b := comeIn(t, browser, serve(t, book, seasonEnd, "--port", "0"), desk)
	lead := func(selector, what string) {
		t.Helper()
		b.tabTo(selector)
		look[bool](b, "mark the page", `document.body.left = true`)
		b.key(kb.Enter)
		b.until(what, `!document.body.left && document.readyState === "complete"`)
	}
	before := told(t, seasonEnd, "--book", book, "history", "2026-037")
	lead(`nav a[href="/pictures"]`, "the pictures")
	lead(`a[href="/picture/2026-037"]`, "the picture")
	b.tabTo(".write > summary")
	b.key(kb.Enter)
	b.tabTo("[name=verdict]")
	b.key(" " + kb.ArrowRight) // from keep to redo
	b.tabTo("details[open] .family summary")
	b.key(" ")
	b.tabTo("details[open] details[open] [type=checkbox]")
	b.key(" ")
	b.tabTo("details[open] [name=text]")
	b.key("by keys")
	lead("details[open] > form > button", "the picture, judged")
	assert.Contains(t, b.says(), "by keys")
	assert.Contains(t, told(t, seasonEnd, "--book", book, "history", "2026-037"), "redo")
	lead(".notice button", "the picture as it was")
	assert.Equal(t, before, told(t, seasonEnd, "--book", book, "history", "2026-037"))
	b.clean()
}
