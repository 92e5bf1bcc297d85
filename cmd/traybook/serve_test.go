package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events/eventstest"
)

// served is a server of a book that runs while a test does, and a browser that was let in.
type served struct {
	t       testing.TB
	book    string
	base    string // its address without a path
	said    *lockedText
	browser *http.Client
}

// lockedText is what the server tells, read while it tells.
type lockedText struct{ lines chan string }

func (l *lockedText) next(t testing.TB) string {
	t.Helper()
	select {
	case s := <-l.lines:
		return s
	case <-time.After(10 * time.Second):
		t.Fatal("the server told no address")
		return ""
	}
}

var shownAddress = regexp.MustCompile(`http://[0-9.:]+/in/[a-z0-9]{10}`)

// serveBook runs traybook serve on a book until the test ends.
func serveBook(t testing.TB, book string, args ...string) *served {
	t.Helper()
	return serveBookAt(t, book, eventstest.Now, args...)
}

// serveBookAt does the same at another moment.
func serveBookAt(t testing.TB, book, now string, args ...string) *served {
	t.Helper()
	env, _, errs := testEnv(map[string]string{"TRAYBOOK_BOOK": book, "TRAYBOOK_NOW": now}, append([]string{"serve", "--port", "0"}, args...)...)
	r, w := io.Pipe()
	env.Out = w
	ctx, stop := context.WithCancel(context.Background())
	env.Until = func() context.Context { return ctx }
	ended := make(chan int, 1)
	go func() {
		code := run(env)
		w.Close()
		ended <- code
	}()
	t.Cleanup(func() {
		stop()
		select {
		case code := <-ended:
			assert.Equal(t, codeDone, code, errs.String())
		case <-time.After(10 * time.Second):
			t.Error("the server did not end")
		}
	})
	return letIn(t, book, r)
}

// enter opens the address that a server tells.
func enter(t testing.TB, book string, said *lockedText) *served {
	t.Helper()
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	s := &served{t: t, book: book, said: said, browser: &http.Client{Jar: jar, Timeout: 20 * time.Second,
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}}
	first := said.next(t)
	u, err := url.Parse(first)
	require.NoError(t, err)
	s.base = "http://" + u.Host
	status, _ := s.get(u.Path)
	require.Equal(t, http.StatusOK, status)
	return s
}

func (s *served) get(path string) (int, string) {
	s.t.Helper()
	r, err := s.browser.Get(s.base + path)
	require.NoError(s.t, err)
	return s.whole(r)
}

func (s *served) whole(r *http.Response) (int, string) {
	s.t.Helper()
	defer r.Body.Close()
	b, err := io.ReadAll(r.Body)
	require.NoError(s.t, err)
	return r.StatusCode, string(b)
}

// post sends a form as a page of this server would.
func (s *served) post(path string, form url.Values) (int, string) {
	s.t.Helper()
	if form.Get("build") == "" {
		form.Set("build", s.build())
	}
	return s.send(path, "application/x-www-form-urlencoded", strings.NewReader(form.Encode()))
}

// build is that of the program that serves.
func (s *served) build() string {
	s.t.Helper()
	_, build := s.get("/alive")
	return build
}

func (s *served) send(path, kind string, body io.Reader) (int, string) {
	s.t.Helper()
	req, err := http.NewRequest(http.MethodPost, s.base+path, body)
	require.NoError(s.t, err)
	req.Header.Set("Content-Type", kind)
	req.Header.Set("Origin", s.base)
	r, err := s.browser.Do(req)
	require.NoError(s.t, err)
	return s.whole(r)
}

// plainly is the text of a page as a reader sees it, without its marks.
func plainly(page string) string {
	page = regexp.MustCompile(`(?s)<[^>]*>`).ReplaceAllString(page, " ")
	page = strings.NewReplacer("&#39;", "'", "&#43;", "+", "&#34;", `"`, "&lt;", "<", "&gt;", ">", "&amp;", "&").Replace(page)
	return strings.Join(strings.Fields(page), " ")
}

// servedPages are the pages of a book with pictures.
var servedPages = []string{"/", "/camera", "/pictures", "/pictures?text=e", "/picture/2026-001", "/supplies", "/supplies?all=1", "/year", "/year?year=2026", "/device"}

func TestPagesSayWhatTheTerminalSays(t *testing.T) {
	t.Parallel()
	book := shortBook(t)
	code, _, errs := obeyed(t, book, "import", putFile(t, "more.ndjson", []byte(`{"kind":"sheet.exposed","at":"2026-07-01T08:40:00+02:00","data":{"picture":"2026-002","subject":"Gulls","f":8,"time_s":4}}
{"kind":"sheet.judged","at":"2026-07-01T08:50:00+02:00","data":{"sheet":"2026-002n","verdict":"keep"}}
{"kind":"clock.started","at":"2026-07-01T08:59:30+02:00","data":{"act":"expose","f":8,"planned_s":4}}
`)))
	require.Zero(t, code, errs)
	s := serveBook(t, book)
	for _, path := range servedPages {
		status, page := s.get(path)
		require.Equal(t, http.StatusOK, status, "%s: %s", path, page)
		assert.Less(t, len(page), 80<<10, path)
		assert.NotRegexp(t, `(?i)<script>|<style|\son[a-z]+=|\sstyle=|javascript:`, page, "%s holds inline code", path)
		assert.NotRegexp(t, `(?:src|href|action)="(?:https?:)?//`, page, "%s fetches from elsewhere", path)
		assert.NotContains(t, page, "&lt;no value&gt;", path)
	}
	for command, path := range map[string]string{"today": "/", "baths": "/supplies", "why 2026-001": "/picture/2026-001"} {
		code, out, errs := obeyed(t, book, append(strings.Fields(command), "--json")...)
		require.Zero(t, code, errs)
		_, page := s.get(path)
		text := plainly(page)
		for _, m := range regexp.MustCompile(`"(?:lines":\["|text":"|state":")([^"\\]+)"`).FindAllStringSubmatch(out, -1) {
			assert.Contains(t, text, m[1], "%s, of %s", path, command)
		}
	}
	_, page := s.get("/")
	require.Regexp(t, `the cap was lifted at 08:59.*Kept, to be printed 2026-002n Gulls`, plainly(page), "a clock that runs, and what waits for its print")
	code, out, _ := obeyed(t, book, "history", "2026-001", "--json")
	require.Zero(t, code)
	_, page = s.get("/picture/2026-001")
	ids := regexp.MustCompile(`"id":"([0-9a-f]{32})"`).FindAllStringSubmatch(out, -1)
	require.NotEmpty(t, ids)
	for _, id := range ids {
		assert.Contains(t, page, "/entry/"+id[1])
		status, _ := s.get("/entry/" + id[1])
		assert.Equal(t, http.StatusOK, status)
	}
	for path, want := range map[string]int{"/picture/2026-999": 404, "/picture/dev-1": 404, "/picture/x": 404, "/entry/12": 404, "/entry/" + strings.Repeat("0", 32): 404,
		"/year?year=soon": 404, "/pictures?from=never": 400, "/pictures?box=box-99": 404, "/nothing": 404, "/small/12": 404, "/scan/" + strings.Repeat("0", 64): 404} {
		status, page := s.get(path)
		assert.Equal(t, want, status, "%s: %s", path, plainly(page))
		assert.NotContains(t, page, "traybook:", path)
	}
}

func TestAPageWritesAsAHandDoes(t *testing.T) {
	t.Parallel()
	book := shortBook(t)
	s := serveBook(t, book)
	status, _ := s.post("/picture/2026-001/judge", url.Values{"sheet": {"2026-001n"}, "verdict": {"redo"}, "symptom": {"thin", "grey-fog"}, "stops": {"+0.5"}, "text": {"the light went"}})
	require.Equal(t, http.StatusSeeOther, status)
	_, out, _ := obeyed(t, book, "history", "2026-001n")
	assert.Contains(t, out, "redo (thin, grey-fog)")
	assert.Contains(t, out, "the light went")
	_, page := s.get("/picture/2026-001")
	assert.Contains(t, page, "Take it back")
	id := regexp.MustCompile(`name="id" value="([0-9a-f]{8})"`).FindStringSubmatch(page)
	require.NotNil(t, id, page)
	_, page = s.get("/picture/2026-001")
	assert.NotContains(t, page, `action="/back"`, "what was done is told once")

	// Refused: nothing written, and the page says why in the words of the terminal.
	before := entriesIn(t, book)
	status, page = s.post("/picture/2026-001/judge", url.Values{"sheet": {"2026-001n"}, "verdict": {"keep"}, "stops": {"lots"}})
	assert.Equal(t, http.StatusUnprocessableEntity, status)
	_, _, errs := obeyed(t, book, "judge", "keep", "--sheet=2026-001n", "--stops=lots")
	assert.Contains(t, plainly(page), strings.TrimPrefix(strings.SplitN(errs, "\n", 2)[0], "traybook: "))
	assert.Equal(t, before, entriesIn(t, book))

	// A page from before an upgrade writes nothing.
	status, page = s.post("/picture/2026-001/judge", url.Values{"build": {"0123456789ab"}, "sheet": {"2026-001n"}, "verdict": {"keep"}})
	assert.Equal(t, http.StatusConflict, status)
	assert.Contains(t, page, "from before the program was renewed")
	assert.Equal(t, before, entriesIn(t, book))

	status, _ = s.post("/back", url.Values{"id": {id[1]}, "to": {"/picture/2026-001"}})
	require.Equal(t, http.StatusSeeOther, status)
	_, out, _ = obeyed(t, book, "history", "2026-001n")
	assert.NotContains(t, out, "the light went")

	// An exposure is put right, then taken back: what depends on it is asked.
	_, out, _ = obeyed(t, book, "history", "2026-001", "--json")
	exposed := regexp.MustCompile(`"id":"([0-9a-f]{32})","kind":"sheet.exposed"`).FindStringSubmatch(out)
	require.NotNil(t, exposed, out)
	_, page = s.get("/entry/" + exposed[1])
	assert.Contains(t, page, `name="was-time"`)
	was := regexp.MustCompile(`name="was-time" value="([^"]+)"`).FindStringSubmatch(page)
	require.NotNil(t, was)
	form := url.Values{"field": {"time", "subject"}, "was-time": {was[1]}, "is-time": {"5.5s"}, "was-subject": {"x"}, "is-subject": {"x"}, "why": {"read wrong"}}
	status, page = s.post("/entry/"+exposed[1]+"/amend", form)
	require.Equal(t, http.StatusSeeOther, status, page)
	_, out, _ = obeyed(t, book, "history", "2026-001n")
	assert.Contains(t, out, "5.5 s")
	status, page = s.post("/entry/"+exposed[1]+"/amend", url.Values{"field": {"time"}, "was-time": {"5.5 s"}, "is-time": {"5.5 s"}})
	assert.Equal(t, http.StatusUnprocessableEntity, status)
	assert.Contains(t, page, "nothing was changed")
	status, page = s.post("/entry/"+exposed[1]+"/void", url.Values{})
	require.Equal(t, http.StatusUnprocessableEntity, status)
	assert.Contains(t, plainly(page), "depend on it")
	assert.Contains(t, page, `value="take"`)
	status, _ = s.post("/entry/"+exposed[1]+"/void", url.Values{"later": {"take"}, "to": {"/"}})
	require.Equal(t, http.StatusSeeOther, status)
	_, page = s.get("/")
	assert.Contains(t, page, `name="batch"`)
}

func TestAReadOnlyServerWritesNothing(t *testing.T) {
	t.Parallel()
	book := shortBook(t)
	s := serveBook(t, book, "--read-only")
	before := entriesIn(t, book)
	for _, path := range postedTo(t) {
		if path == "/theme" { // it writes nothing into the book
			continue
		}
		for _, kind := range []string{"application/x-www-form-urlencoded", "application/json", "multipart/form-data; boundary=x", "text/plain"} {
			status, page := s.send(path, kind, strings.NewReader("build="+s.build()+"&sheet=2026-001n&verdict=keep&id=last"))
			assert.Equal(t, http.StatusForbidden, status, "%s as %s", path, kind)
			assert.Contains(t, page, "only to be read here", path)
		}
	}
	assert.Equal(t, before, entriesIn(t, book))
	_, page := s.get("/picture/2026-001")
	assert.NotContains(t, page, "<button>Write it")
	status, _ := s.post("/theme", url.Values{"theme": {"dim"}, "to": {"//elsewhere.example/"}})
	require.Equal(t, http.StatusSeeOther, status)
	_, page = s.get("/")
	assert.Contains(t, page, `class="dim"`)
}

// postedTo are the addresses that take a form or a press, as the routes name them.
func postedTo(t *testing.T) []string {
	t.Helper()
	source, err := os.ReadFile(filepath.Join("web", "pages.go"))
	require.NoError(t, err)
	var out []string
	for _, m := range regexp.MustCompile(`"POST (/[^"]+)"`).FindAllStringSubmatch(string(source), -1) {
		out = append(out, strings.NewReplacer("{name}", "2026-001", "{id}", strings.Repeat("0", 32)).Replace(m[1]))
	}
	require.GreaterOrEqual(t, len(out), 8)
	return out
}

// hostile is a request that must not be answered with anything of the book.
type hostile struct {
	what   string
	method string
	path   string
	head   map[string]string
	host   string
	out    bool // without the cookie of who is in
	body   io.Reader
	want   int
}

func TestNobodyElseComesIn(t *testing.T) {
	t.Parallel()
	book := shortBook(t)
	s := serveBook(t, book)
	port := s.base[strings.LastIndex(s.base, ":")+1:]
	form := map[string]string{"Content-Type": "application/x-www-form-urlencoded"}
	with := func(m map[string]string, pairs ...string) map[string]string {
		out := map[string]string{}
		for k, v := range m {
			out[k] = v
		}
		for i := 0; i < len(pairs); i += 2 {
			out[pairs[i]] = pairs[i+1]
		}
		return out
	}
	table := []hostile{
		{what: "a name bent to this address", path: "/", host: "harbour.example:" + port, want: 403},
		{what: "the address without its port", path: "/", host: "127.0.0.1", want: 403},
		{what: "another port", path: "/", host: "127.0.0.1:1", want: 403},
		{what: "a name that begins alike", path: "/", host: "127.0.0.1:" + port + ".example", want: 403},
		{what: "another of this machine's addresses", path: "/", host: "127.0.0.2:" + port, want: 403},
		{what: "another site's GET", path: "/", head: map[string]string{"Origin": "http://harbour.example"}, want: 403},
		{what: "another site's picture", path: "/pictures", head: map[string]string{"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "no-cors"}, want: 403},
		{what: "a page of another port's", path: "/pictures", head: map[string]string{"Sec-Fetch-Site": "same-site", "Sec-Fetch-Mode": "cors"}, want: 403},
		{what: "another site's form", method: "POST", path: "/back", head: with(form, "Origin", "http://harbour.example"), want: 403},
		{what: "a form of a page without a site", method: "POST", path: "/back", head: with(form, "Origin", "null"), want: 403},
		{what: "a form of the encrypted twin", method: "POST", path: "/back", head: with(form, "Origin", "https://127.0.0.1:"+port), want: 403},
		{what: "a form of nobody knows which page", method: "POST", path: "/back", head: form, want: 403},
		{what: "a form led here by another site", method: "POST", path: "/back", head: with(form, "Origin", s.base, "Sec-Fetch-Site", "cross-site", "Sec-Fetch-Mode", "navigate"), want: 403},
		{what: "no cookie", path: "/", out: true, want: 401},
		{what: "no cookie on a picture", path: "/picture/2026-001", out: true, want: 401},
		{what: "no cookie on a small picture", path: "/small/" + strings.Repeat("0", 64), out: true, want: 401},
		{what: "no cookie on the code of the next device", path: "/device", out: true, want: 401},
		{what: "no cookie on a form", method: "POST", path: "/back", out: true, head: with(form, "Origin", s.base), want: 401},
		{what: "a cookie made up", path: "/", out: true, head: map[string]string{"Cookie": "traybook-" + port + "=" + strings.Repeat("0", 64)}, want: 401},
		{what: "an empty cookie", path: "/", out: true, head: map[string]string{"Cookie": "traybook-" + port + "="}, want: 401},
		{what: "a file above", path: "/scan/..%2f..%2fbook.db", want: 404},
		{what: "a file above, without disguise", path: "/small/../../../../etc/passwd", want: 404},
		{what: "a file by its whole path", path: "/scan//etc/passwd", want: 404},
		{what: "a page of the program's", path: "/layout.html", want: 404},
		{what: "a template", path: "/assets/page_today.html", want: 404},
		{what: "a digest with a path", path: "/small/" + strings.Repeat("0", 60) + "%2f..", want: 404},
		{what: "a picture with a path", path: "/picture/..%2f2026-001", want: 404},
		{what: "a path with NUL", path: "/picture/2026-001%00", want: 404},
		{what: "a scan with NUL", path: "/scan/" + strings.Repeat("0", 64) + "%00.jpg", want: 404},
		{what: "a small picture with NUL", path: "/small/%00", want: 404},
		{what: "NUL alone", path: "/%00", want: 404},
		{what: "the book", path: "/book.db", want: 404},
		{what: "the book's log", path: "/book.db-wal", want: 404},
		{what: "the book above", path: "/..%2fbook.db", want: 404},
		{what: "the book behind dots in disguise", path: "/%2e%2e/book.db", want: 404},
		{what: "the book behind a style", path: "/style.css/..%2f..%2fbook.db", want: 404},
		{what: "the scans' folder", path: "/scans/", want: 404},
		{what: "a scan above with another system's slashes", path: "/scan/..%5c..%5cbook.db", want: 404},
		{what: "a scan of too many slashes", path: "/scan/%2f%2fetc%2fpasswd", want: 404},
		{what: "a scan twice in disguise", path: "/scan/%252e%252e%252fbook.db", want: 404},
		{what: "a digest in capitals with more", path: "/scan/" + strings.Repeat("A", 64) + "/..", want: 404},
		{what: "a page's name as that of a machine", path: "//pictures", want: 403},
		{what: "an entry with a path", path: "/entry/..%2f..%2fbook.db", want: 404},
		{what: "an evening with a path", method: "POST", path: "/evening/..%2fbook.db", head: with(form, "Origin", s.base), body: strings.NewReader("subject=x"), want: 409},
		{what: "a code with a path", path: "/in/..%2f", out: true, want: 403},
		{what: "an address of another machine", path: "http://harbour.example/pictures", host: "harbour.example", want: 403},
		{what: "letters that are none", path: "/picture/%ff%fe", want: 404},
		{what: "a page without end", path: "/pictures?text=" + strings.Repeat("x", 15<<10), want: 200},
		{what: "a thousand fields", path: "/pictures?" + strings.Repeat("a=1&", 3000), want: 200},
		{what: "a page of a picture that is none", path: "/pictures?before=..%2f..", want: 200},
		{what: "a method of mirrors", method: "TRACE", path: "/", want: 403},
		{what: "a method of mirrors from here", method: "TRACE", path: "/", head: map[string]string{"Origin": s.base}, want: 405},
		{what: "a method made up", method: "BREW", path: "/", head: map[string]string{"Origin": s.base}, want: 405},
		{what: "a form asked for as a page", path: "/back", want: 404},
		{what: "a page sent as a form", method: "POST", path: "/pictures", head: with(form, "Origin", s.base), want: 404},
		{what: "a method of editors", method: "PUT", path: "/picture/2026-001", head: map[string]string{"Origin": s.base}, want: 405},
		{what: "a method of takers", method: "DELETE", path: "/picture/2026-001", head: map[string]string{"Origin": s.base}, want: 405},
		{what: "a question before a form", method: "OPTIONS", path: "/back", head: map[string]string{"Origin": s.base}, want: 405},
		{what: "a form too large", method: "POST", path: "/back", head: with(form, "Origin", s.base), body: strings.NewReader("a=" + strings.Repeat("x", 70<<10)), want: 413},
		{what: "a form of another sort", method: "POST", path: "/back", head: map[string]string{"Content-Type": "application/json", "Origin": s.base}, body: strings.NewReader(`{"id":"last"}`), want: 409},
		{what: "a form that is torn", method: "POST", path: "/back", head: map[string]string{"Content-Type": "multipart/form-data; boundary=x", "Origin": s.base}, body: strings.NewReader("--x\r\nContent-Disposition: form-data; name=id\r\n\r\nlast"), want: 400},
	}
	for _, path := range postedTo(t) {
		for kind, body := range map[string]string{"application/x-www-form-urlencoded": "build=" + s.build() + "&sheet=2026-001n&verdict=keep", "application/json": `{"id":"00000000000000000000000000000000"}`} {
			as := map[string]string{"Content-Type": kind}
			for what, h := range map[string]hostile{
				"from another site":         {head: with(as, "Origin", "http://harbour.example"), want: 403},
				"from no page":              {head: as, want: 403},
				"from a page without site":  {head: with(as, "Origin", "null"), want: 403},
				"by a page of another port": {head: with(as, "Origin", s.base, "Sec-Fetch-Site", "same-site"), want: 403},
				"under another name":        {head: with(as, "Origin", s.base), host: "harbour.example:" + port, want: 403},
				"without a cookie":          {head: with(as, "Origin", s.base), out: true, want: 401},
			} {
				h.what, h.method, h.path, h.body = path+" "+what+" as "+kind, http.MethodPost, path, strings.NewReader(body)
				table = append(table, h)
			}
		}
	}
	before := entriesIn(t, book)
	for _, h := range table {
		if h.method == "" {
			h.method = http.MethodGet
		}
		req, err := http.NewRequest(h.method, s.base, h.body)
		require.NoError(t, err, h.what)
		req.URL.Opaque = h.path // as it stands, with its dots
		for k, v := range h.head {
			req.Header.Set(k, v)
		}
		req.Host = h.host
		client := *s.browser
		if h.out {
			client.Jar = nil
		} else {
			u, _ := url.Parse(s.base)
			for _, c := range s.browser.Jar.Cookies(u) {
				req.AddCookie(c)
			}
		}
		r, err := client.Do(req)
		require.NoError(t, err, h.what)
		status, page := s.whole(r)
		if status == http.StatusMovedPermanently || status == http.StatusTemporaryRedirect { // the path made clean
			status = http.StatusNotFound
		}
		assert.Equal(t, h.want, status, "%s: %s", h.what, plainly(page))
		for _, of := range []string{"box-1", "root:", "SQLite format", "define"} {
			assert.NotContains(t, page, of, h.what)
		}
	}
	assert.Equal(t, before, entriesIn(t, book))
	t.Logf("%d hostile requests", len(table))
	for what, raw := range map[string]string{
		"no host":               "GET / HTTP/1.1\r\n\r\n",
		"two hosts":             "GET / HTTP/1.1\r\nHost: 127.0.0.1:" + port + "\r\nHost: harbour.example\r\n\r\n",
		"an old request":        "GET / HTTP/1.0\r\n\r\n",
		"two lengths":           "POST /back HTTP/1.1\r\nHost: 127.0.0.1:" + port + "\r\nContent-Length: 3\r\nContent-Length: 30\r\n\r\nabc",
		"a length and parts":    "POST /back HTTP/1.1\r\nHost: 127.0.0.1:" + port + "\r\nContent-Length: 3\r\nTransfer-Encoding: chunked\r\nConnection: close\r\n\r\n0\r\n\r\n",
		"a head in a name":      "GET / HTTP/1.1\r\nHost: 127.0.0.1:" + port + "\r\nX : y\r\n\r\n",
		"another protocol":      "\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03",
		"a tunnel":              "CONNECT harbour.example:443 HTTP/1.1\r\nHost: harbour.example:443\r\n\r\n",
		"a path with a space":   "GET /picture/2026 001 HTTP/1.1\r\nHost: 127.0.0.1:" + port + "\r\n\r\n",
		"a path with a raw NUL": "GET /\x00 HTTP/1.1\r\nHost: 127.0.0.1:" + port + "\r\n\r\n",
	} {
		c := s.connection()
		require.NoError(t, c.SetDeadline(time.Now().Add(20*time.Second)))
		_, err := io.WriteString(c, raw)
		require.NoError(t, err)
		require.NoError(t, c.(*net.TCPConn).CloseWrite())
		b, _ := io.ReadAll(c)
		assert.Regexp(t, `^(HTTP/1\.[01] (400|401|403|405) |$)`, string(b), what)
		assert.NotContains(t, string(b), "box-1", what)
	}
	req, err := http.NewRequest(http.MethodGet, s.base+"/", nil)
	require.NoError(t, err)
	req.Header.Set("X-Much", strings.Repeat("x", 40<<10))
	if r, err := s.browser.Do(req); err == nil { // or the connection is cut while it is still being sent
		r.Body.Close()
		assert.Equal(t, http.StatusRequestHeaderFieldsTooLarge, r.StatusCode)
	}
}

func TestACodeServesOnceAndIsRenewed(t *testing.T) {
	t.Parallel()
	book := shortBook(t)
	s := serveBook(t, book)
	second := s.said.next(t) // drawn when the first had served
	stranger := &http.Client{Timeout: 10 * time.Second}
	try := func(path string) int {
		r, err := stranger.Get(s.base + path)
		require.NoError(t, err)
		r.Body.Close()
		return r.StatusCode
	}
	good := strings.TrimPrefix(second, s.base)
	for i := range 4 {
		assert.Equal(t, http.StatusForbidden, try(fmt.Sprint("/in/wrongcode", i)))
	}
	require.Empty(t, s.said.lines, "four wrong codes are four slips")
	assert.Equal(t, http.StatusForbidden, try("/in/"))
	third := s.said.next(t)
	assert.NotEqual(t, second, third)
	assert.Equal(t, http.StatusForbidden, try(good), "a code that was renewed serves no more")
	assert.Equal(t, http.StatusUnauthorized, try("/"))
	assert.Equal(t, http.StatusOK, try(strings.TrimPrefix(third, s.base)))
	assert.Equal(t, http.StatusForbidden, try(strings.TrimPrefix(third, s.base)), "a code serves once")
	r, err := stranger.Get(s.said.next(t))
	require.NoError(t, err)
	defer r.Body.Close()
	require.Len(t, r.Cookies(), 1)
	c := r.Cookies()[0]
	assert.True(t, c.HttpOnly)
	assert.Equal(t, http.SameSiteStrictMode, c.SameSite)
	for name, want := range map[string]string{"Content-Security-Policy": "default-src 'none'", "X-Content-Type-Options": "nosniff", "Referrer-Policy": "same-origin", "Cache-Control": "no-store"} {
		assert.Contains(t, r.Header.Get(name), want)
	}
	assert.NotContains(t, r.Header.Get("Content-Security-Policy"), "unsafe")
	status, _ := s.get("/")
	assert.Equal(t, http.StatusOK, status, "who is in stays in")
}

// A connection that sends nothing, or for ever, takes no room from the others for long, and a page that is open holds nothing
// of the book.
func TestAnOpenPageHoldsNothing(t *testing.T) {
	t.Parallel()
	book := shortBook(t)
	s := serveBook(t, book)
	host := strings.TrimPrefix(s.base, "http://")
	var idle []net.Conn
	for range 100 {
		c, err := net.Dial("tcp", host)
		if err != nil {
			break
		}
		idle = append(idle, c)
	}
	require.NoError(t, idle[len(idle)-1].SetReadDeadline(time.Now().Add(10*time.Second)))
	_, err := idle[len(idle)-1].Read(make([]byte, 1))
	require.Error(t, err, "beyond the room there is none")
	for _, c := range idle {
		c.Close()
	}
	require.Eventually(t, func() bool {
		r, err := s.browser.Get(s.base + "/")
		if err != nil {
			return false
		}
		r.Body.Close()
		return r.StatusCode == http.StatusOK
	}, 10*time.Second, 20*time.Millisecond)
	for _, path := range servedPages {
		s.get(path)
	}
	code, _, errs := obeyed(t, book, "note", "2026-001", "written meanwhile")
	require.Zero(t, code, errs)
	_, page := s.get("/picture/2026-001")
	assert.Contains(t, page, "written meanwhile")
	require.NoError(t, os.Rename(book, book+".away")) // nothing holds the file, and nothing is made in its place
	status, page := s.get("/")
	assert.Equal(t, http.StatusNotFound, status)
	assert.Contains(t, page, "there is no book at")
	require.NoError(t, os.Rename(book+".away", book))
	status, _ = s.get("/")
	assert.Equal(t, http.StatusOK, status)
}

func TestSittersStayAtHome(t *testing.T) {
	t.Parallel()
	book := shortBook(t)
	for _, l := range [][]string{{"sitter", "add", "Asta Holm"}, {"expose", "f/8", "4s", "--sitter", "Asta Holm"}} {
		code, _, errs := obeyed(t, book, l...)
		require.Zero(t, code, errs)
	}
	for _, c := range []struct {
		args  []string
		named bool
	}{{nil, true}, {[]string{"--lan", "--address", "127.0.0.2"}, false}, {[]string{"--lan", "--address", "127.0.0.2", "--names"}, true}} {
		s := serveBook(t, book, c.args...)
		_, page := s.get("/pictures?sitter=sitter-1")
		assert.Equal(t, c.named, strings.Contains(page, "Asta Holm"), "%v", c.args)
		assert.Equal(t, !c.named, strings.Contains(page, "· sitter-1</span>"), "%v", c.args)
		_, page = s.get("/pictures?sitter=asta+holm")
		assert.Equal(t, c.named, !strings.Contains(page, "No picture fits"), "%v: who may not see names cannot try them", c.args)
		_, page = s.get("/device")
		assert.Equal(t, len(c.args) > 0, strings.Contains(page, `class="code"`), "%v", c.args)
	}
}

func TestServeRefuses(t *testing.T) {
	t.Parallel()
	book := shortBook(t)
	taken, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer taken.Close()
	port := fmt.Sprint(taken.Addr().(*net.TCPAddr).Port)
	torn := filepath.Join(t.TempDir(), "torn.db")
	spoilt.Store(torn, true)
	raw, err := os.ReadFile(book)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(torn, bytes.Repeat([]byte("x"), len(raw)), 0o600))
	for _, c := range []struct {
		book string
		args string
		code int
		says string
	}{
		{book, "--port " + port, codeRefused, "the port " + port + " is in use by another program"},
		{book, "--lan --address 203.0.113.9", codeRefused, "203.0.113.9 is not a private address"},
		{book, "--lan --address harbour.example", codeRefused, "harbour.example is not a private address"},
		{book, "--lan --address 10.255.255.1 --port 0", codeRefused, "10.255.255.1:0 cannot be listened at: "},
		{book, "--port soon", codeUsage, "soon is no port"},
		{book, "--port 70000", codeUsage, "70000 is no port"},
		{book, "--names", codeUsage, "--names is about other devices"},
		{book, "--address 127.0.0.1", codeUsage, "--address is about other devices"},
		{book, "today", codeUsage, "serve takes no words"},
		{filepath.Join(t.TempDir(), "none.db"), "", codeRefused, "there is no book at"},
		{torn, "", codeDamaged, ""},
	} {
		code, out, errs := obeyed(t, c.book, append([]string{"serve"}, strings.Fields(c.args)...)...)
		assert.Equal(t, c.code, code, "%s: %s%s", c.args, out, errs)
		assert.Contains(t, strings.ReplaceAll(errs, `"`, ""), c.says)
		assert.LessOrEqual(t, strings.Count(errs, "\n"), 2, errs)
		assert.Empty(t, out)
	}
}

// Two servers show one book: each shows what the other wrote, and what a hand writes between them.
func TestTwoServersOfOneBook(t *testing.T) {
	t.Parallel()
	book := shortBook(t)
	a, b := serveBook(t, book), serveBook(t, book, "--lan", "--address", "127.0.0.2", "--names")
	for _, x := range []struct {
		from, to *served
		text     string
	}{{a, b, "by the first"}, {b, a, "by the second"}} {
		status, page := x.from.post("/picture/2026-001/judge", url.Values{"sheet": {"2026-001n"}, "verdict": {"keep"}, "text": {x.text}})
		require.Equal(t, http.StatusSeeOther, status, plainly(page))
		_, page = x.to.get("/picture/2026-001")
		assert.Contains(t, page, x.text)
	}
	code, _, errs := obeyed(t, book, "note", "2026-001", "by a hand")
	require.Zero(t, code, errs)
	for _, s := range []*served{a, b} {
		_, page := s.get("/picture/2026-001")
		assert.Contains(t, page, "by a hand")
	}
	u, err := url.Parse(b.base)
	require.NoError(t, err)
	req, err := http.NewRequest(http.MethodGet, b.base+"/", nil)
	require.NoError(t, err)
	a.browser.Jar.SetCookies(u, a.browser.Jar.Cookies(&url.URL{Scheme: "http", Host: strings.TrimPrefix(a.base, "http://"), Path: "/"}))
	r, err := a.browser.Do(req)
	require.NoError(t, err)
	status, _ := a.whole(r)
	assert.Equal(t, http.StatusUnauthorized, status, "who is in at one is not in at the other")
	wholeBook(t, book)
}

// What befalls the book while it is served is told in a line on the page, nothing is written, and nothing is made in its place;
// once it is well again, so are the pages.
func TestABookThatChangesWhileItIsServed(t *testing.T) {
	t.Parallel()
	good := eveningBook(t)
	raw, err := os.ReadFile(good)
	require.NoError(t, err)
	changed := func(at int, b byte) []byte {
		out := bytes.Clone(raw)
		out[at] = b
		return out
	}
	head := bytes.Clone(raw)
	copy(head[:4096], bytes.Repeat([]byte{0xaa}, 4096))
	for what, c := range map[string]struct {
		content []byte // nil for none
		status  int
		says    string
	}{
		"gone":            {nil, 404, "there is no book at"},
		"damaged":         {head, 500, ""},
		"cut off":         {raw[:len(raw)/2], 500, ""},
		"empty":           {[]byte{}, 500, ""},
		"another's":       {changed(71, 0), 500, ""},
		"a newer version": {changed(63, raw[63]+1), 500, "the book was written by a newer version of traybook"},
	} {
		book := filepath.Join(t.TempDir(), "book.db")
		spoilt.Store(book, true)
		require.NoError(t, os.WriteFile(book, raw, 0o600))
		s := serveBook(t, book)
		status, _ := s.get("/")
		require.Equal(t, http.StatusOK, status, what)
		for _, end := range []string{"", "-wal", "-shm"} {
			os.Remove(book + end)
		}
		if c.content != nil {
			require.NoError(t, os.WriteFile(book, c.content, 0o600))
		}
		for _, path := range append([]string{"/evening", "/entry/" + strings.Repeat("0", 32)}, servedPages...) {
			status, page := s.get(path)
			if path == "/device" { // it shows nothing of the book
				continue
			}
			text := plainly(page)
			assert.GreaterOrEqual(t, status, 400, "%s: %s", what, path)
			assert.Contains(t, text, c.says, "%s: %s", what, path)
			assert.Contains(t, page, `<h1 class="problem">`, "%s: %s", what, path)
			assert.NotContains(t, text, "goroutine", what)
			assert.NotContains(t, text, "SELECT", what)
		}
		for path, form := range map[string]url.Values{"/picture/2026-001/judge": {"sheet": {"2026-001n"}, "verdict": {"keep"}}, "/evening/2026-002": {"subject": {"Net loft"}, "sheet": {"2026-002n"}, "verdict-2026-002n": {"keep"}},
			"/back": {"id": {"last"}}} {
			status, page := s.post(path, form)
			assert.GreaterOrEqual(t, status, 400, "%s: %s", what, path)
			assert.Contains(t, plainly(page), c.says, "%s: %s", what, path)
		}
		now, err := os.ReadFile(book)
		if c.content == nil {
			assert.ErrorIs(t, err, os.ErrNotExist, "a book is made in its place")
		} else {
			assert.True(t, bytes.Equal(c.content, now), "%s: the file was touched", what)
		}
		for _, end := range []string{"", "-wal", "-shm"} {
			os.Remove(book + end)
		}
		require.NoError(t, os.WriteFile(book, raw, 0o600))
		status, page := s.post("/evening/2026-002", url.Values{"subject": {"Net loft"}, "sheet": {"2026-002n"}, "verdict-2026-002n": {"keep"}})
		assert.Equal(t, http.StatusSeeOther, status, "%s, and well again: %s", what, plainly(page))
	}
}
