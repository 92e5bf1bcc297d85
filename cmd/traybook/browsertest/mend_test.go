package browsertest

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// write puts words into a field that was pressed, in the place of what stood there.
func (b *tab) write(selector, words string) {
	b.t.Helper()
	b.tap(selector, "")
	b.until("the focus in "+selector, `document.activeElement === document.querySelector(`+quoted(selector)+`)`)
	look[bool](b, selector, `document.activeElement.select(), true`)
	b.key(words)
}

// notice is what the page tells of the act before it.
const notice = `document.querySelector(".notice[role=status]:not([hidden])").innerText`

// A picture is opened, one of its entries put right, another taken back and that undone, and a sheet judged.
func TestMendingByTaps(t *testing.T) {
	t.Parallel()
	browser := openBrowser(t)
	book := season(t)
	s := serve(t, book, seasonEnd, "--port", "0")
	history := func() string { return told(t, seasonEnd, "--book", book, "history", "2026-039", "--all") }
	for i, x := range []size{phone, desk} {
		t.Run(x.String(), func(t *testing.T) {
			b := comeIn(t, browser, s, x)
			b.follow(".plain a", "2026-039n")
			exposed := entryOf(t, book, "2026-039", "sheet.exposed")
			b.follow(`a[href="/entry/`+exposed+`"]`, "")
			title := []string{"Empty steps, low water", "Empty steps, the tide in"}[i]
			b.write(`[name="is-subject"]`, title)
			b.tap(`form[action$="/amend"] [name="why"]`, "")
			b.key("looked again")
			b.follow(`form[action$="/amend"] button`, "Put it right")
			b.until("the picture with its new subject", `location.pathname === "/picture/2026-039"`)
			said := b.says()
			assert.Contains(t, said, title)
			assert.Contains(t, said, "(amended)")
			assert.Contains(t, look[string](b, "the notice", notice), `subject: Empty steps → `+title)
			assert.Contains(t, history(), title)

			// The amendment is taken back by one press where it is told.
			b.follow(".notice button", "Take it back")
			assert.Contains(t, look[string](b, "the notice", notice), `amended: subject = "`+title+`"`)
			assert.NotContains(t, look[string](b, "the title", `document.querySelector("h1").innerText`), title)

			// The exposure itself is taken back: struck through, and told as such.
			b.follow(`a[href="/entry/`+exposed+`"]`, "")
			b.tap(`form[action$="/void"] [name="why"]`, "")
			b.key("wrong holder")
			b.follow(`form[action$="/void"] button`, "Take it back")
			assert.Contains(t, look[string](b, "what is struck", `[...document.querySelectorAll(".void s")].at(-1).innerText`), "exposed f/22")
			assert.Contains(t, b.says(), "taken back: wrong holder")
			b.follow(`a[href="/entry/`+exposed+`"]`, "")
			assert.Contains(t, b.says(), "It was taken back. The void can be taken back in its turn.")
			b.follow("main a", "The void")
			b.follow(`form[action$="/void"] button`, "Take it back")
			b.open("/picture/2026-039")
			assert.Zero(t, look[int](b, "what is struck", `document.querySelectorAll(".act a[href='/entry/`+exposed+`'] ~ .what s").length`))

			// A sheet is judged without a key: the verdict and a symptom are pressed.
			b.open("/picture/2026-038")
			b.tap("summary", "Judge 2026-038n")
			b.tap(`details[open] [name=verdict][value=redo]`, "")
			b.tap("details[open] .family summary", "")
			symptom := look[string](b, "a symptom", `document.querySelector("details[open] details[open] [name=symptom]").value`)
			b.tap(`details[open] details[open] [name=symptom]`, "")
			b.follow("details[open] > form > button", "Write it")
			said = look[string](b, "the notice", notice)
			assert.Contains(t, said, "redo")
			assert.Contains(t, said, symptom)
			b.follow(".notice button", "Take it back")
			b.clean()
		})
	}
	require.Contains(t, told(t, seasonEnd, "--book", book, "verify"), "whole")
}
