package main

import (
	"bytes"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// eveningBook has three pictures that want words: 2026-002 and 2026-003 of one session, unsaid and unjudged, and 2026-004,
// whose subject stands.
func eveningBook(t testing.TB) string {
	book := shortBook(t)
	var lines string
	for i, subject := range []string{"", "", `"subject":"Gulls",`} {
		n := i + 2
		at := fmt.Sprintf(`"at":"2026-07-01T08:%d`, 10*n)
		sheet := fmt.Sprintf(`{"sheet":"2026-00%dn",`, n)
		lines += fmt.Sprintf(`{"kind":"sheet.exposed",%s:00+02:00","data":{"picture":"2026-00%d",%s"f":8,"time_s":4}}`+"\n", at, n, subject)
		lines += `{"kind":"sheet.developed",` + at + `:20+02:00","data":` + sheet + `"bath":"dev-1","time_s":60}}` + "\n"
		lines += `{"kind":"sheet.fixed",` + at + `:40+02:00","data":` + sheet + `"bath":"fix-1","time_s":60}}` + "\n"
	}
	code, _, errs := obeyed(t, book, "import", putFile(t, "evening.ndjson", []byte(lines)))
	require.Zero(t, code, errs)
	return book
}

// file is one that a form brings.
type file struct {
	field, name string
	content     io.Reader
}

// postFiles sends a form with files, as a browser sends one whose fields stand before them.
func (s *served) postFiles(path string, form url.Values, files ...file) (int, string) {
	s.t.Helper()
	var b bytes.Buffer
	kind := s.multipart(&b, form, files...)
	return s.send(path, kind, &b)
}

func (s *served) multipart(b *bytes.Buffer, form url.Values, files ...file) (contentType string) {
	s.t.Helper()
	m := multipart.NewWriter(b)
	if form.Get("build") == "" {
		form.Set("build", s.build())
	}
	require.NoError(s.t, m.WriteField("build", form.Get("build")))
	for name, list := range form {
		for _, v := range list {
			if name != "build" {
				require.NoError(s.t, m.WriteField(name, v))
			}
		}
	}
	for _, f := range files {
		w, err := m.CreateFormFile(f.field, f.name)
		require.NoError(s.t, err)
		_, err = io.Copy(w, f.content)
		require.NoError(s.t, err)
	}
	require.NoError(s.t, m.Close())
	return m.FormDataContentType()
}

// growing lists what stands where the uploads of a book grow.
func growing(t testing.TB, book string) []string {
	t.Helper()
	var out []string
	for _, dir := range []string{filepath.Dir(book), filepath.Join(filepath.Dir(book), "scans")} {
		entries, err := os.ReadDir(dir)
		if os.IsNotExist(err) {
			continue
		}
		require.NoError(t, err)
		for _, e := range entries {
			if strings.HasPrefix(e.Name(), ".traybook-part-") {
				out = append(out, e.Name())
			}
		}
	}
	return out
}

func scansOf(t testing.TB, book string) []string {
	t.Helper()
	out, err := filepath.Glob(filepath.Join(filepath.Dir(book), "scans", "*", "*"))
	require.NoError(t, err)
	return out
}

func TestTheEveningPassOnAPage(t *testing.T) {
	t.Parallel()
	book := eveningBook(t)
	s := serveBook(t, book)
	_, page := s.get("/")
	assert.Contains(t, page, `<a href="/evening">without subject or sitter</a>`)

	// The pictures come as captions lists them.
	code, out, errs := obeyed(t, book, "captions", "--json")
	require.Zero(t, code, errs)
	var listed []string
	for _, m := range regexp.MustCompile(`"picture":"([^"]+)"`).FindAllStringSubmatch(out, -1) {
		listed = append(listed, m[1])
	}
	require.ElementsMatch(t, []string{"2026-001", "2026-004", "2026-002", "2026-003"}, listed)
	later := regexp.MustCompile(`id="later" href="([^"]+)"`)
	path := "/evening"
	for i, name := range listed {
		_, page := s.get(path)
		assert.Contains(t, plainly(page), name+" , exposed 2026-0", path)
		assert.Contains(t, page, fmt.Sprintf(`<span id="left">%d left</span>`, len(listed)-i))
		m := later.FindStringSubmatch(page)
		require.NotNil(t, m)
		path = strings.ReplaceAll(m[1], "&amp;", "&")
	}
	_, page = s.get(path)
	assert.Contains(t, page, "That was the last; 4 left for later.")
	_, page = s.get("/evening?later=2026-001,2026-004")
	assert.Contains(t, plainly(page), "2026-002 , exposed 2026-07-01 08:20: who, what, keep?")

	// One press writes all of it, and takes all of it back.
	before := entriesIn(t, book)
	all := url.Values{"subject": {"Net loft"}, "new-sitter": {"Asta Holm"}, "sheet": {"2026-002n"}, "verdict-2026-002n": {"redo"}, "symptom-2026-002n": {"thin", "grey-fog"}, "stops-2026-002n": {"+0,5"}}
	status, page := s.postFiles("/evening/2026-002", all, file{"photo-2026-002n", "image.jpg", bytes.NewReader(printScan(t, 300, 200, 240, 20))}, file{"scan-2026-002n", "", strings.NewReader("")})
	require.Equal(t, http.StatusSeeOther, status, plainly(page))
	assert.Equal(t, before+3, entriesIn(t, book), "an amendment, a verdict, a scan")
	code, out, errs = obeyed(t, book, "history", "2026-002")
	require.Zero(t, code, errs)
	assert.Contains(t, out, "Net loft")
	assert.Contains(t, out, "redo (thin, grey-fog)")
	code, out, errs = obeyed(t, book, "pictures", "--sitter", "Asta Holm", "--json")
	require.Zero(t, code, errs)
	assert.Contains(t, out, "2026-002")
	assert.Len(t, scansOf(t, book), 3)
	assert.Empty(t, growing(t, book))
	_, page = s.get("/evening?later=2026-002")
	assert.NotContains(t, page, ".traybook-part")
	m := regexp.MustCompile(`name="batch" value="1"><input type="hidden" name="id" value="([0-9a-f]{8})"`).FindStringSubmatch(page)
	require.NotNil(t, m, page)
	assert.Contains(t, page, "3 left")
	status, page = s.post("/back", url.Values{"batch": {"1"}, "id": {m[1]}})
	require.Equal(t, http.StatusSeeOther, status, plainly(page))
	_, out, _ = obeyed(t, book, "history", "2026-002")
	assert.NotContains(t, out, "Net loft")
	assert.NotContains(t, out, "redo")

	// What is refused in one of them is written of none, and stays on the page.
	held, scans := entriesIn(t, book), scansOf(t, book)
	for says, change := range map[string]url.Values{
		"subject holds the name of sitter-1": {"subject": {"Asta Holm at the window"}},
		"lots":                               {"stops-2026-002n": {"lots"}},
		"there is no sitter-9":               {"new-sitter": {"9"}},
	} {
		form := url.Values{"subject": {"Net loft"}, "sitter": {"sitter-1"}, "sheet": {"2026-002n"}, "verdict-2026-002n": {"keep"}, "text-2026-002n": {"at last"}, "later": {"2026-004"}}
		for k, v := range change {
			form[k] = v
		}
		status, page := s.postFiles("/evening/2026-002", form, file{"scan-2026-002n", "a.jpg", bytes.NewReader(printScan(t, 310, 200, 240, 20))})
		assert.Equal(t, http.StatusUnprocessableEntity, status, says)
		assert.Contains(t, plainly(page), says)
		assert.Contains(t, page, `value="at last"`)
		assert.Contains(t, page, `name="later" value="2026-004"`)
		assert.Contains(t, page, "Choose the scan again")
		assert.Equal(t, says == "subject holds the name of sitter-1", strings.Contains(page, `name="even-so"`), says)
		assert.Equal(t, held, entriesIn(t, book), says)
		assert.Equal(t, scans, scansOf(t, book), "%s: a scan was laid for nothing", says)
		assert.Empty(t, growing(t, book), says)
	}
	status, page = s.postFiles("/evening/2026-002", url.Values{})
	assert.Equal(t, http.StatusUnprocessableEntity, status)
	assert.Contains(t, page, "nothing was given")
	status, page = s.postFiles("/evening/2026-002", url.Values{"subject": {"Asta Holm at the window"}, "even-so": {"1"}})
	assert.Equal(t, http.StatusSeeOther, status, plainly(page))
	assert.Equal(t, held+1, entriesIn(t, book))

	// All of the latest, and what stands is put right.
	_, page = s.get("/evening?all=1&later=2026-004,2026-002,2026-003")
	assert.Contains(t, page, "2026-001")
	status, page = s.postFiles("/evening/2026-001", url.Values{"all": {"1"}, "was-subject": {"ferry mate"}, "subject": {"ferry mate"}, "was-sitter": {""}, "sitter": {"sitter-1"}})
	assert.Equal(t, http.StatusSeeOther, status, plainly(page))
	wholeBook(t, book)
}

func TestTheEveningPassWithoutNamesAndWithoutWriting(t *testing.T) {
	t.Parallel()
	book := eveningBook(t)
	code, _, errs := obeyed(t, book, "sitter", "add", "Asta Holm")
	require.Zero(t, code, errs)
	s := serveBook(t, book, "--lan", "--address", "127.0.0.2")
	_, page := s.get("/evening")
	assert.NotContains(t, page, "Asta Holm")
	assert.Contains(t, page, `id="sitter-1"`)
	for _, form := range []url.Values{{"new-sitter": {"Asta Holn"}}, {"subject": {"asta holm"}}, {"sitter": {"sitter-1"}}} {
		status, page := s.postFiles("/evening/2026-002", form)
		if status == http.StatusSeeOther {
			_, page = s.get("/evening")
		}
		text := strings.ReplaceAll(page, `value="asta holm"`, "") // what was typed there
		assert.NotContains(t, strings.ToLower(plainly(text)), "asta holm", "%v", form)
		assert.Contains(t, plainly(page), "sitter-1")
	}

	s = serveBook(t, book, "--read-only")
	before := entriesIn(t, book)
	_, page = s.get("/evening")
	assert.NotContains(t, page, `id="write"`)
	assert.Contains(t, page, `id="later"`)
	for _, path := range []string{"/evening/2026-002", "/picture/2026-002/attach"} {
		status, page := s.postFiles(path, url.Values{"subject": {"Net loft"}}, file{"scan-2026-002n", "a.jpg", bytes.NewReader(printScan(t, 310, 200, 240, 20))})
		assert.Equal(t, http.StatusForbidden, status, path)
		assert.Contains(t, page, "only to be read here")
	}
	assert.Equal(t, before, entriesIn(t, book))
	assert.Empty(t, growing(t, book))
}
