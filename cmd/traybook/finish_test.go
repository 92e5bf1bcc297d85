package main

import (
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// thirtyFixed is a book with thirty sheets that came from the fixer on the evening of the server's moment.
func thirtyFixed(t testing.TB) string {
	book := shortBook(t)
	var lines strings.Builder
	for i := range 30 {
		at := func(s int) string { return fmt.Sprintf("2026-07-01T08:%02d:%02d+02:00", i, s) }
		fmt.Fprintf(&lines, `{"kind":"sheet.exposed","at":"%s","data":{"picture":"2026-%03d","f":8,"time_s":4}}`+"\n", at(0), i+2)
		fmt.Fprintf(&lines, `{"kind":"sheet.developed","at":"%s","data":{"sheet":"2026-%03dn","bath":"dev-1","time_s":60}}`+"\n", at(20), i+2)
		fmt.Fprintf(&lines, `{"kind":"sheet.fixed","at":"%s","data":{"sheet":"2026-%03dn","bath":"fix-1","time_s":120}}`+"\n", at(40), i+2)
	}
	code, _, errs := obeyed(t, book, "import", putFile(t, "evening.ndjson", []byte(lines.String())))
	require.Zero(t, code, errs)
	return book
}

// pressed sends a press of the evening list as the page offers it: the list's name, and the button's value.
func (s *served) pressed(do, how, sheet string) string {
	s.t.Helper()
	status, page := s.post("/finish", url.Values{"do": {do}, "how": {how}, "sheet": {sheet}})
	require.Equal(s.t, http.StatusSeeOther, status, page)
	_, page = s.get("/")
	return page
}

// An evening of thirty sheets on the page: washed, dried and kept by a press each; one press for one sheet, and back.
func TestAnEveningOfThirtySheetsIsFinishedByPresses(t *testing.T) {
	t.Parallel()
	book := thirtyFixed(t)
	_, page := serveBook(t, book, "--read-only").get("/")
	assert.Contains(t, plainly(page), "To wash: 30 sheets")
	assert.NotContains(t, page, `action="/finish"`)
	s := serveBook(t, book)
	all := func(page, press string) string {
		t.Helper()
		m := regexp.MustCompile(`name="sheet" value="([^"]+)">` + press + ` all \d+<`).FindStringSubmatch(page)
		require.NotNil(t, m, "%s all: %s", press, plainly(page))
		return m[1]
	}
	_, page = s.get("/")
	require.Contains(t, plainly(page), "To wash: 30 sheets")
	assert.Less(t, len(page), 80<<10)
	assert.Contains(t, page, `aria-label="Wash 2026-002n"`)
	presses, list := 0, all(page, "Wash")
	press := func(do, how, sheet string) string { presses++; return s.pressed(do, how, sheet) }

	page = press("wash", "4 changes 1l 2min", "2026-002n")
	assert.Contains(t, plainly(page), "2026-002n washed, 4 changes of 1000 ml, 2 min each")
	assert.Contains(t, plainly(page), "To wash: 29 sheets")
	assert.Contains(t, page, `value="4 changes 1000ml 120s"`, "as it was done last")
	back := regexp.MustCompile(`name="id" value="([0-9a-f]+)"`).FindStringSubmatch(page)
	require.NotNil(t, back)
	status, _ := s.post("/back", url.Values{"id": {back[1]}, "to": {"/"}})
	require.Equal(t, http.StatusSeeOther, status)
	_, page = s.get("/")
	require.Equal(t, list, all(page, "Wash"), "taken back at once")

	presses = 0
	page = press("wash", "5 changes 5l 2min", list)
	assert.Contains(t, plainly(page), "30 sheets washed, 5 changes")
	assert.NotContains(t, plainly(page), "To wash")
	page = press("dry", "", all(page, "Dry"))
	assert.Contains(t, plainly(page), "32 sheets dried")
	page = press("judge", "", all(page, "Keep"))
	assert.NotContains(t, page, `action="/finish"`)
	assert.Equal(t, 3, presses, "presses for thirty sheets")
	code, out, _ := obeyed(t, book, "export", "events", "--out", "-")
	require.Zero(t, code)
	assert.Equal(t, 30, strings.Count(out, `"together":30`), "they lay in one water")

	for _, f := range []url.Values{{"do": {"wash"}, "how": {"--book=other.db 4 changes"}, "sheet": {"2026-002n"}}, {"do": {"wash"}, "how": {"often"}, "sheet": {"2026-002n"}},
		{"do": {"dry"}, "sheet": {"--help"}}, {"do": {"burn"}, "sheet": {"2026-002n"}}, {}} {
		before := entriesIn(t, book)
		status, page := s.post("/finish", f)
		assert.Equal(t, http.StatusUnprocessableEntity, status, "%v: %s", f, plainly(page))
		assert.Equal(t, before, entriesIn(t, book), "%v", f)
	}
}

// A second stay in the fixer is a line for each sheet, all of them taken back together.
func TestAPressFixesSeveralSheetsAgain(t *testing.T) {
	t.Parallel()
	book := shortBook(t)
	var lines string
	for _, n := range []int{2, 3} {
		lines += fmt.Sprintf(`{"kind":"sheet.exposed","at":"2026-07-01T08:%d0:00+02:00","data":{"picture":"2026-00%d","f":8,"time_s":4}}`+"\n", n, n)
		lines += fmt.Sprintf(`{"kind":"sheet.developed","at":"2026-07-01T08:%d0:20+02:00","data":{"sheet":"2026-00%dn","bath":"dev-1","time_s":60}}`+"\n", n, n)
	}
	code, _, errs := obeyed(t, book, "import", putFile(t, "two.ndjson", []byte(lines)))
	require.Zero(t, code, errs)
	s := serveBook(t, book)
	page := s.pressed("fix", "60s fix-1", "2026-002n,2026-003n")
	assert.Contains(t, plainly(page), "2026-002n fixed 60 s in fix-1")
	assert.Contains(t, plainly(page), "2026-003n fixed 60 s in fix-1")
	assert.Contains(t, page, `name="batch" value="1"`)
	assert.Contains(t, plainly(page), "To wash: ")
}
