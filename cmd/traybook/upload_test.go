package main

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"net/url"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestWhatCannotBeAttachedIsToldInALine(t *testing.T) {
	t.Parallel()
	book := eveningBook(t)
	s := serveBook(t, book)
	good := printScan(t, 300, 200, 240, 20)
	before, scans := entriesIn(t, book), scansOf(t, book)
	for _, c := range []struct {
		what    string
		content []byte
		status  int
		says    string
	}{
		{"no picture", []byte("a letter to the harbour master"), 422, "the scan: this is a text, not a picture name the scan, or keep it as it is even so"},
		{"a film", append([]byte("\x00\x00\x00\x18ftypmp42"), make([]byte, 2000)...), 422, "the scan: "},
		{"a page", []byte("<html><script>alert(1)</script>"), 422, "the scan: "},
		{"nothing", nil, 422, "the scan: "},
		{"a picture cut off", good[:len(good)/2], 422, "the scan: "},
		{"a picture's head alone", good[:20], 422, "the scan: "},
		{"larger than a form may be", bytes.Repeat([]byte("x"), 65<<20), 413, "this is more than a form may hold; nothing was written"},
	} {
		for _, path := range []string{"/picture/2026-002/attach", "/evening/2026-002"} {
			status, page := s.postFiles(path, url.Values{"subject": {"Net loft"}}, file{"scan-2026-002n", "a.jpg", bytes.NewReader(c.content)})
			text := plainly(page)
			assert.Equal(t, c.status, status, "%s: %s", c.what, text)
			assert.Contains(t, text, c.says, c.what)
			assert.NotContains(t, page, filepath.Dir(book), "%s: a folder of this machine", c.what)
			assert.NotContains(t, page, ".traybook-part", c.what)
			assert.Equal(t, before, entriesIn(t, book), c.what)
			assert.Equal(t, scans, scansOf(t, book), c.what)
			assert.Empty(t, growing(t, book), c.what)
		}
	}
	for what, c := range map[string]struct {
		form  url.Values
		files int
		path  string
		want  int
	}{
		"a page from before an upgrade": {url.Values{"build": {"0123456789ab"}}, 1, "/picture/2026-002/attach", 409},
		"more scans than a form brings": {nil, 9, "/picture/2026-002/attach", 413},
		"no scan":                       {nil, 0, "/picture/2026-002/attach", 422},
		"a scan where none is asked":    {nil, 1, "/picture/2026-002/judge", 422},
		"text without end":              {url.Values{"subject": {strings.Repeat("x", 70<<10)}}, 0, "/evening/2026-002", 413},
	} {
		form := url.Values{}
		for k, v := range c.form {
			form[k] = v
		}
		var files []file
		for i := range c.files {
			files = append(files, file{"scan-2026-002n", fmt.Sprint(i), bytes.NewReader(good)})
		}
		status, page := s.postFiles(c.path, form, files...)
		assert.Equal(t, c.want, status, "%s: %s", what, plainly(page))
		assert.Equal(t, before, entriesIn(t, book), what)
		assert.Equal(t, scans, scansOf(t, book), what)
		assert.Empty(t, growing(t, book), what)
	}

	// What cannot be shown is kept all the same, and what looks like a slip for who insists.
	for i, c := range []struct {
		form    url.Values
		content []byte
		says    string
	}{
		{url.Values{}, []byte("GIF89a\x01\x00\x01\x00\x00\x00\x00;"), "by its bytes it is image/gif"},
		{url.Values{}, pngOf(60_000, 1, 8, 0, 0, 1, false), "the picture is 60000 × 1 pixels, more than 20000 on a side"},
		{url.Values{}, pngOf(19_999, 19_999, 8, 0, 0, 0, false)[:120], "megapixels"},
		{url.Values{"even-so": {"1"}}, good[:len(good)/2], "the JPEG breaks off before its end"},
	} {
		status, page := s.postFiles("/picture/2026-002/attach", c.form, file{"scan-2026-002n", "a.raw", bytes.NewReader(c.content)})
		require.Equal(t, http.StatusSeeOther, status, plainly(page))
		_, page = s.get("/picture/2026-002")
		assert.Contains(t, plainly(page), "kept without a small picture, and not looked through, for ")
		assert.Contains(t, plainly(page), c.says)
		assert.Equal(t, before+i+1, entriesIn(t, book))
	}
	before = entriesIn(t, book)

	// What can be is kept as it is, and shown.
	status, page := s.postFiles("/picture/2026-002/attach", url.Values{}, file{"photo-2026-002n", "image.jpg", bytes.NewReader(good)})
	require.Equal(t, http.StatusSeeOther, status, plainly(page))
	_, page = s.get("/picture/2026-002")
	assert.Contains(t, plainly(page), "2026-002n: the scan · 300 × 200 pixels")
	digest := regexp.MustCompile(`/scan/([0-9a-f]{64})`).FindStringSubmatch(page)
	require.NotNil(t, digest)
	_, sent := s.get("/scan/" + digest[1])
	assert.Equal(t, string(good), sent)
	status, _ = s.postFiles("/picture/2026-002/attach", url.Values{}, file{"scan-2026-002n", "again.jpg", bytes.NewReader(good)})
	require.Equal(t, http.StatusSeeOther, status)
	_, page = s.get("/picture/2026-002")
	assert.Contains(t, plainly(page), "is attached already, its copy is whole")
	assert.Equal(t, before+1, entriesIn(t, book))
	wholeBook(t, book)
}

// A form whose connection is cut while it is sent writes nothing and leaves nothing.
func TestAnUploadThatIsCutLeavesNothing(t *testing.T) {
	t.Parallel()
	book := eveningBook(t)
	s := serveBook(t, book)
	before, scans := entriesIn(t, book), scansOf(t, book)
	var b bytes.Buffer
	kind := s.multipart(&b, url.Values{"subject": {"Net loft"}}, file{"scan-2026-002n", "a.jpg", bytes.NewReader(printScan(t, 900, 700, 240, 20))})
	for i := range rounds(t, 12, 100) {
		c := s.connection() // which the server closes where it still has too many
		io.WriteString(c, s.head("/evening/2026-002", kind, b.Len()))
		c.Write(b.Bytes()[:rand.IntN(b.Len())])
		if i%2 == 0 {
			c.(*net.TCPConn).SetLinger(0)
		}
		c.Close()
		require.Eventually(t, func() bool { return len(growing(t, book)) == 0 }, 20*time.Second, time.Millisecond)
	}
	require.Eventually(t, func() bool {
		r, err := s.browser.Get(s.base + "/")
		if err != nil {
			return false
		}
		r.Body.Close()
		return r.StatusCode == http.StatusOK
	}, 20*time.Second, 20*time.Millisecond)
	assert.Equal(t, before, entriesIn(t, book))
	assert.Equal(t, scans, scansOf(t, book))
}

func (s *served) connection() net.Conn {
	s.t.Helper()
	c, err := net.Dial("tcp", strings.TrimPrefix(s.base, "http://"))
	require.NoError(s.t, err)
	s.t.Cleanup(func() { c.Close() })
	return c
}

// head is that of a form as the browser which was let in sends it.
func (s *served) head(path, kind string, length int) string {
	s.t.Helper()
	u, err := url.Parse(s.base)
	require.NoError(s.t, err)
	var cookies []string
	for _, c := range s.browser.Jar.Cookies(u) {
		cookies = append(cookies, c.Name+"="+c.Value)
	}
	return fmt.Sprintf("POST %s HTTP/1.1\r\nHost: %s\r\nOrigin: %s\r\nCookie: %s\r\nContent-Type: %s\r\nContent-Length: %d\r\n\r\n", path, u.Host, s.base, strings.Join(cookies, "; "), kind, length)
}

// A server that is killed while a scan comes leaves it; the next one clears it away, and so does the next scan.
func TestAServerThatIsKilledLeavesNothingForLong(t *testing.T) {
	t.Parallel()
	book := eveningBook(t)
	before, scans := entriesIn(t, book), scansOf(t, book)
	for i := range rounds(t, 3, 40) {
		c := command(t, asProgram(t, "traybook"), book, "serve", "--port", "0")
		out, err := c.StdoutPipe()
		require.NoError(t, err)
		require.NoError(t, c.Start())
		s := letIn(t, book, out)
		var b bytes.Buffer
		kind := s.multipart(&b, url.Values{"subject": {"Net loft"}}, file{"scan-2026-002n", "a.jpg", bytes.NewReader(printScan(t, 900, 700, 240, 20))})
		conn := s.connection()
		_, err = io.WriteString(conn, s.head("/evening/2026-002", kind, b.Len()))
		require.NoError(t, err)
		_, err = conn.Write(b.Bytes()[:b.Len()-60])
		require.NoError(t, err)
		require.Eventually(t, func() bool { return len(growing(t, book)) > 0 }, 20*time.Second, 5*time.Millisecond)
		require.NoError(t, c.Process.Kill())
		c.Wait()
		require.NotEmpty(t, growing(t, book))
		if i%2 == 0 {
			s := serveBook(t, book)
			assert.Empty(t, growing(t, book), "a server that starts clears them")
			status, _ := s.get("/")
			assert.Equal(t, http.StatusOK, status)
		} else {
			code, _, errs := obeyed(t, book, "backup", filepath.Join(filepath.Dir(book), fmt.Sprintf("copy-%d.db", i)))
			require.Zero(t, code, errs)
			assert.Empty(t, growing(t, book), "whatever grows there clears them")
		}
	}
	assert.Equal(t, before, entriesIn(t, book))
	assert.Equal(t, scans, scansOf(t, book))
}

// letIn is a browser that a server of this output lets in.
func letIn(t testing.TB, book string, out io.Reader) *served {
	t.Helper()
	said := &lockedText{lines: make(chan string, 100)}
	go func() {
		in := bufio.NewScanner(out)
		for in.Scan() {
			if a := shownAddress.FindString(in.Text()); a != "" {
				said.lines <- a
			}
		}
	}()
	return enter(t, book, said)
}

// A form that is pressed twice, as a wet finger does, is written once.
func TestAFormPressedTwiceIsWrittenOnce(t *testing.T) {
	t.Parallel()
	book := eveningBook(t)
	s := serveBook(t, book)
	_, page := s.get("/picture/2026-002")
	presses := regexp.MustCompile(`name="once" value="([0-9a-f]{16})"`).FindAllStringSubmatch(page, -1)
	require.NotEmpty(t, presses)
	form := url.Values{"once": {presses[0][1]}, "sheet": {"2026-002n"}, "verdict": {"keep"}}
	before := entriesIn(t, book)
	var together sync.WaitGroup
	for range 8 {
		form := url.Values{"once": form["once"], "sheet": form["sheet"], "verdict": form["verdict"], "build": {s.build()}}
		together.Go(func() {
			status, page := s.post("/picture/2026-002/judge", form)
			assert.Equal(t, http.StatusSeeOther, status, plainly(page))
		})
	}
	together.Wait()
	assert.Equal(t, before+1, entriesIn(t, book))
	form.Set("once", presses[1][1])
	form.Set("stops", "lots")
	status, _ := s.post("/picture/2026-002/judge", form)
	assert.Equal(t, http.StatusUnprocessableEntity, status)
	form.Del("stops")
	status, _ = s.post("/picture/2026-002/judge", form)
	assert.Equal(t, http.StatusSeeOther, status, "what was refused may be sent again")
	assert.Equal(t, before+2, entriesIn(t, book))
	form.Set("text", "come back to")
	status, _ = s.post("/picture/2026-002/judge", form)
	assert.Equal(t, http.StatusSeeOther, status)
	assert.Equal(t, before+3, entriesIn(t, book), "a form gone back to, with other words in it, is another")
	scan := url.Values{"once": {presses[1][1]}}
	for i, want := range []int{4, 4, 5} { // the same file twice, then another
		s.postFiles("/picture/2026-002/attach", scan, file{"scan-2026-002n", "a.jpg", bytes.NewReader(printScan(t, 300+i/2, 200, 240, 20))})
		assert.Equal(t, before+want, entriesIn(t, book))
	}
}
