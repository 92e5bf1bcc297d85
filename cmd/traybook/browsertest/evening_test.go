package browsertest

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// greyWedge is a picture file that runs from black to white.
func greyWedge(t *testing.T, wide int) string {
	t.Helper()
	m := image.NewGray(image.Rect(0, 0, wide, wide*3/4))
	for i := range m.Pix {
		m.Pix[i] = color.Gray{Y: uint8(i % wide * 255 / wide)}.Y
	}
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, m, nil))
	path := filepath.Join(t.TempDir(), "wedge.jpg")
	require.NoError(t, os.WriteFile(path, b.Bytes(), 0o600))
	return path
}

// A picture without words is given subject, sitter, verdict, symptom and a scan in one go; all of it is in the book, and one
// press takes all of it back.
func TestTheEveningPassByTaps(t *testing.T) {
	t.Parallel()
	browser := openBrowser(t)
	book := season(t)
	at := func(clock string, words ...string) string {
		return told(t, "2026-08-09T"+clock+":00+02:00", append([]string{"--book", book}, words...)...)
	}
	var names []string
	for i, x := range []string{"15:5", "16:0"} {
		at(x+"0", "expose", "f/22", "4.8s")
		names = append(names, []string{"2026-041", "2026-042"}[i])
		at(x+"2", "develop", "60s", "--sheet", names[i]+"n")
		at(x+"3", "rinse", "15s", "--sheet", names[i]+"n")
		at(x+"5", "fix", "82s", "--sheet", names[i]+"n")
	}
	s := serve(t, book, "2026-08-09T20:00:00+02:00", "--port", "0")
	for i, x := range []size{phone, desk} {
		t.Run(x.String(), func(t *testing.T) {
			b, name := comeIn(t, browser, s, x), names[i]
			b.follow("nav a", "Evening")
			require.Contains(t, b.says(), name)
			before := at("20:00", "history", name)
			b.tap(`[name=sitter]:not([value=""])`, "")
			sitter := look[string](b, "the sitter", `document.querySelector("[name=sitter]:checked").labels[0].innerText.trim()`)
			b.write("#subject", "Nets hung up to dry")
			b.tap("#redo-"+name+"n", "")
			b.tap("#seen-"+name+"n > summary", "")
			b.tap("#seen-"+name+"n .family summary", "")
			symptom := look[string](b, "a symptom", `document.querySelector("details[open] details[open] [type=checkbox]").value`)
			b.tap(`details[open] details[open] [value="`+symptom+`"]`, "")
			b.do("a file", chromedp.SetUploadFiles(chromedp.CSS("#scan-"+name+"n"), []string{greyWedge(t, 640+i)}))
			b.judged("the evening pass, filled in")
			b.unscrolled("the evening pass, filled in")
			b.keep("evening filled " + x.String())
			b.follow("#write", "Write it")
			said := look[string](b, "the notice", notice)
			for _, what := range []string{"Nets hung up to dry", "redo", symptom} {
				assert.Contains(t, said, what)
			}
			after := at("20:00", "history", name)
			for _, what := range []string{"Nets hung up to dry", "redo", symptom, "scan "} {
				assert.Contains(t, after, what)
			}
			assert.Contains(t, at("20:00", "pictures", "--sitter", sitter), name)
			if x == desk {
				b.follow(".notice button", "Take it back")
				assert.Equal(t, before, at("20:00", "history", name), "all that one press wrote is taken back by one")
				b.clean()
				return
			}
			b.open("/picture/" + name)
			b.until("the small picture", `[...document.images].some((m) => m.complete && m.naturalWidth > 0 && m.src.includes("/small/"))`)
			b.open("/evening")
			assert.NotContains(t, b.says(), name, "a picture that has its words is asked for no more")
			b.clean()
		})
	}
	t.Run("finish", func(t *testing.T) { // what wants its wash is washed by one press, and by one press is not
		b := comeIn(t, browser, s, phone)
		b.write(`form.finish:has([value="wash"]) [name=how]`, "5 changes 1l 2min")
		b.judged("today, with sheets to be finished")
		b.unscrolled("today, with sheets to be finished")
		b.keep("today finish")
		b.follow(`form.finish:has([value="wash"]) button:not(.quiet)`, "Wash all 2")
		assert.Contains(t, look[string](b, "the notice", notice), "2 sheets washed, 5 changes")
		assert.Contains(t, at("20:00", "history", names[1]), "washed, 5 changes")
		b.follow(".notice button", "Take it back")
		b.follow(`form.finish .quiet[value="`+names[1]+`n"]`, "Wash")
		assert.Contains(t, look[string](b, "the notice", notice), names[1]+"n washed")
		b.clean()
	})
	assert.NotContains(t, strings.ToLower(at("20:00", "verify")), "not whole")
}
