package main

import (
	"bufio"
	"bytes"
	"crypto/rand"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"html"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os/exec"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// pageServer is the real program that serves a book, to be killed and begun anew at the same address.
type pageServer struct {
	t     *testing.T
	book  string
	port  string
	args  []string
	codes chan string
	cmd   *exec.Cmd
}

// serverOf serves a book.
func serverOf(t *testing.T, book string, args ...string) *pageServer {
	t.Helper()
	s := &pageServer{t: t, book: book, port: "0", args: args}
	s.start()
	t.Cleanup(s.kill)
	return s
}

func (s *pageServer) start() {
	s.t.Helper()
	s.cmd = started(s.t, s.book, append([]string{"serve", "--port", s.port}, s.args...)...)
	out, err := s.cmd.StdoutPipe()
	require.NoError(s.t, err)
	require.NoError(s.t, s.cmd.Start())
	codes := make(chan string, 100)
	s.codes = codes
	go func() {
		defer close(codes)
		for in := bufio.NewScanner(out); in.Scan(); {
			if a := shownAddress.FindString(in.Text()); a != "" {
				codes <- a
			}
		}
	}()
}

func (s *pageServer) kill() {
	s.cmd.Process.Kill()
	s.cmd.Wait()
}

// code is the next address that lets one browser in.
func (s *pageServer) code() string {
	s.t.Helper()
	select {
	case a, ok := <-s.codes:
		require.True(s.t, ok, "the server ended")
		u, err := url.Parse(a)
		require.NoError(s.t, err)
		s.port = u.Port()
		return a
	case <-time.After(time.Minute):
		s.t.Fatal("the server told no address")
		return ""
	}
}

// pressIn is a press as the script of the page sends it.
type pressIn struct {
	ID     string    `json:"id,omitempty"`
	Key    string    `json:"key,omitempty"`
	Line   string    `json:"line,omitempty"`
	F      float64   `json:"f,omitempty"`
	At     int64     `json:"at"`
	Hand   string    `json:"hand,omitempty"`
	Before []pressIn `json:"before,omitempty"`
	Began  int64     `json:"began,omitempty"`
}

// pageView is a view as the script of the page takes it.
type pageView struct {
	HTML  string
	Hand  string
	Open  bool
	Clock *pageClock
	Also  []pageClock
	Later *struct{ HTML string }

	Seen           int64
	Now            int64
	Wrote, Known   bool
	Moved, Refused string
	Edges          []pageEdge
}

type pageClock struct {
	Key            string
	Pressed, Began int64
	Planned        float64
}

// pageEdge is where a press leads in what lies ahead.
type pageEdge struct {
	Key      string
	From, To *float64
	Node     int `json:"to_node"`
	Writes   bool
}

// phone is a browser with the page open: it does what the page's script does.
type phone struct {
	t      *testing.T
	base   string
	client *http.Client
	skew   time.Duration // how far its clock is ahead
	offset time.Duration // how far it found its clock to be behind that of the server
	view   pageView
	before []pressIn
}

// phoneAt is a phone that comes in by the next address, from an address of this machine.
func phoneAt(t *testing.T, s *pageServer, from string, skew time.Duration) *phone {
	t.Helper()
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	d := &net.Dialer{LocalAddr: &net.TCPAddr{IP: net.ParseIP(from)}}
	p := &phone{t: t, skew: skew, client: &http.Client{Jar: jar, Timeout: 20 * time.Second, Transport: &http.Transport{DialContext: d.DialContext}}}
	p.comeIn(s.code())
	p.open()
	return p
}

func (p *phone) comeIn(address string) {
	p.t.Helper()
	u, err := url.Parse(address)
	require.NoError(p.t, err)
	p.base = "http://" + u.Host
	r, err := p.client.Get(address)
	require.NoError(p.t, err)
	r.Body.Close()
	require.Equal(p.t, http.StatusOK, r.StatusCode)
}

func (p *phone) clock() time.Time { return time.Now().Add(p.skew) }

// now is the time of day as the page counts it.
func (p *phone) now() time.Time { return p.clock().Add(p.offset) }

var firstView = regexp.MustCompile(`data-first="([^"]*)"`)

// open opens the page.
func (p *phone) open() string {
	p.t.Helper()
	r, err := p.client.Get(p.base + "/camera")
	require.NoError(p.t, err)
	defer r.Body.Close()
	var b bytes.Buffer
	_, err = b.ReadFrom(r.Body)
	require.NoError(p.t, err)
	require.Equal(p.t, http.StatusOK, r.StatusCode, b.String())
	m := firstView.FindStringSubmatch(b.String())
	require.NotNil(p.t, m, b.String())
	p.view = pageView{}
	require.NoError(p.t, json.Unmarshal([]byte(html.UnescapeString(m[1])), &p.view))
	p.view.HTML, p.before = b.String(), nil
	p.poll(0)
	return b.String()
}

// shows is what the page shows now, as it is read.
func (p *phone) shows() string {
	if l, c := p.view.Later, p.view.Clock; l != nil && c != nil && p.now().UnixMilli() >= c.Began {
		return plainly(l.HTML)
	}
	return plainly(p.view.HTML)
}

// sees waits until the page shows a text.
func (p *phone) sees(text string) {
	p.t.Helper()
	require.Eventually(p.t, func() bool {
		if strings.Contains(p.shows(), text) {
			return true
		}
		p.poll(p.view.Seen)
		return strings.Contains(p.shows(), text)
	}, time.Minute, 20*time.Millisecond, "%q is not on the page: %s", text, plainly(p.view.HTML))
}

// posts sends the form of the page, as a browser does without the script.
func (p *phone) posts(form url.Values) string {
	p.t.Helper()
	req, err := http.NewRequest(http.MethodPost, p.base+"/camera/press", strings.NewReader(form.Encode()))
	require.NoError(p.t, err)
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	req.Header.Set("Origin", p.base)
	r, err := p.client.Do(req)
	require.NoError(p.t, err)
	defer r.Body.Close()
	var b bytes.Buffer
	_, err = b.ReadFrom(r.Body)
	require.NoError(p.t, err)
	require.Equal(p.t, http.StatusOK, r.StatusCode, b.String())
	return b.String()
}

// poll asks whether anything changed, and measures the clock.
func (p *phone) poll(seen int64) {
	sent := p.clock()
	r, err := p.client.Get(p.base + "/camera/view?seen=" + fmt.Sprint(seen) + "&hand=" + url.QueryEscape(p.view.Hand))
	require.NoError(p.t, err)
	defer r.Body.Close()
	if r.StatusCode == http.StatusNoContent {
		return
	}
	require.Equal(p.t, http.StatusOK, r.StatusCode)
	var v pageView
	require.NoError(p.t, json.NewDecoder(r.Body).Decode(&v))
	p.measure(sent, v.Now)
	if !p.view.Open {
		p.view = v
	}
}

func (p *phone) measure(sent time.Time, now int64) {
	p.offset = time.UnixMilli(now).Sub(sent.Add(p.clock().Sub(sent) / 2))
}

func newPress() string {
	raw := make([]byte, 16)
	rand.Read(raw)
	return hex.EncodeToString(raw)
}

// made is a press, made now.
func (p *phone) made(key, line string) pressIn {
	in := pressIn{ID: newPress(), Key: key, Line: line, At: p.now().UnixMilli(), Hand: p.view.Hand}
	if p.view.Open {
		in.Before = p.before
	}
	if p.view.Clock != nil {
		in.Began = p.view.Clock.Pressed
	}
	return in
}

// hand hands a press over, and gives the answer and its status.
func (p *phone) hand(in pressIn) (pageView, int, error) {
	var v pageView
	body, err := json.Marshal(in)
	require.NoError(p.t, err)
	req, err := http.NewRequest(http.MethodPost, p.base+"/camera/press", bytes.NewReader(body))
	require.NoError(p.t, err)
	req.Header.Set("Content-Type", "application/json")
	req.Header.Set("Origin", p.base)
	sent := p.clock()
	r, err := p.client.Do(req)
	if err != nil {
		return v, 0, err
	}
	defer r.Body.Close()
	if !strings.HasPrefix(r.Header.Get("Content-Type"), "application/json") {
		return v, r.StatusCode, nil
	}
	if err := json.NewDecoder(r.Body).Decode(&v); err != nil {
		return v, r.StatusCode, err
	}
	p.measure(sent, v.Now)
	return v, r.StatusCode, nil
}

// land shows the answer to a press.
func (p *phone) land(in pressIn, v pageView) {
	p.before = nil
	if v.Open {
		bare := pressIn{Key: in.Key, Line: in.Line, F: in.F, At: in.At}
		p.before = append(append(p.before, in.Before...), bare)
	}
	p.view = v
}

// press presses a key whose button the page shows.
func (p *phone) press(key string) pageView {
	p.t.Helper()
	page := p.view.HTML
	if l, c := p.view.Later, p.view.Clock; l != nil && c != nil && p.now().UnixMilli() >= c.Began {
		page = l.HTML
	}
	require.Contains(p.t, page, `value="`+key+`"`, plainly(page))
	return p.does(p.made(key, ""))
}

// writes hands a line over, as steppers or a hand made it.
func (p *phone) writes(line string) pageView {
	p.t.Helper()
	require.Contains(p.t, p.view.HTML, `value="line"`)
	return p.does(p.made("", line))
}

func (p *phone) does(in pressIn) pageView {
	p.t.Helper()
	v, status, err := p.hand(in)
	require.NoError(p.t, err)
	require.Equal(p.t, http.StatusOK, status, "%s %s", v.Refused, in.Hand)
	require.Empty(p.t, v.Moved)
	p.land(in, v)
	return v
}

// stays lets a sheet lie in its bath until it is to come out.
func (p *phone) stays() {
	p.t.Helper()
	p.press("space")
	require.NotNil(p.t, p.view.Clock)
	time.Sleep(time.Duration(p.view.Clock.Planned*1000+100) * time.Millisecond)
	p.press("space")
	if p.view.Open {
		p.press("y")
	}
}

// A picture from the reading to the washed print by presses of a page alone: the same entries as the run in a terminal writes.
func TestAPictureByPressesOfAPage(t *testing.T) {
	book := harbour(t)
	p := phoneAt(t, serverOf(t, book), "127.0.0.1", 37*time.Second)
	p.sees("meter the scene")
	p.writes("8 1")
	p.sees("expose 2026-001n")
	p.sees("f/8 · 1 s")
	p.press("space")
	p.sees("planned 1.0")
	p.press("space")
	require.Contains(t, p.shows(), "cap off at 0")
	time.Sleep(4200 * time.Millisecond)
	p.sees("done as planned")
	p.press("more")
	p.press("space")
	for _, sheet := range []string{"2026-001n", "2026-001p1"} {
		for _, step := range []string{"develop ", "rinse ", "fix "} {
			p.sees(step + sheet)
			p.stays()
		}
		p.sees("judge " + sheet)
		p.press("space")
		if sheet == "2026-001p1" {
			break
		}
		p.sees("meter the negative 2026-001n")
		p.writes("11 1/4")
		p.sees("Is it right?")
		p.press("space")
		p.sees("reprint 2026-001p1")
		p.press("space")
		p.press("t")
		time.Sleep(150 * time.Millisecond)
		p.press("space")
		p.sees("that is what was done")
		p.press("y")
	}
	p.sees("wash 2026-001n, 2026-001p1")
	p.press("space")
	p.press("space")
	p.sees("is that what was done?")
	p.press("y")
	p.sees("meter the scene")
	kinds, data := actsIn(t, book)
	require.Equal(t, wayKinds, kinds)
	assert.Equal(t, map[string]any{"on": "scene", "mode": "reflected", "f": 8.0, "time_s": 1.0, "index": 3.0, "session": "quay", "camera": "harbour"}, data[0])
	exposed := data[1]
	delete(exposed, "reading")
	assert.Equal(t, map[string]any{"picture": "2026-001", "sheet": "2026-001n", "box": "box-1", "f": 8.0, "time_s": 1.1, "planned_f": 8.0, "planned_s": 1.0,
		"timed": "planned", "session": "quay", "camera": "harbour"}, exposed)
	for i, bath := range map[int]string{2: "dev-1", 3: "stop-1", 4: "fix-1", 8: "dev-1", 9: "stop-1", 10: "fix-1"} {
		assert.Equal(t, bath, data[i]["bath"])
		assert.GreaterOrEqual(t, data[i]["time_s"], 0.5)
		assert.Less(t, data[i]["time_s"], 60.0)
		assert.Equal(t, "measured", data[i]["timed"])
	}
	assert.Equal(t, "keep", data[5]["verdict"])
	assert.Equal(t, "negative", data[6]["on"])
	assert.InDelta(t, 0.15, data[7]["time_s"], 0.2)
	for i, sheet := range map[int]string{12: "2026-001n", 13: "2026-001p1"} {
		assert.Equal(t, sheet, data[i]["sheet"])
		assert.Equal(t, 4.0, data[i]["changes"])
		assert.Equal(t, 2.0, data[i]["together"])
	}
	assert.Empty(t, clocksOf(t, book))
	tell(t, book, "verify")
}

// What no page sends is refused in one line, and nothing is written.
func TestPressesThatNoPageSends(t *testing.T) {
	book := harbour(t)
	p := phoneAt(t, serverOf(t, book), "127.0.0.1", 0)
	before := entriesIn(t, book)
	good := p.made("", "8 4")
	for _, c := range []struct {
		says string
		bend func(*pressIn)
	}{
		{"this press did not come whole", func(in *pressIn) { in.ID = "" }},
		{"this press did not come whole", func(in *pressIn) { in.ID = strings.Repeat("G", 32) }},
		{"this press did not come whole", func(in *pressIn) { in.Hand = "" }},
		{"this press did not come whole", func(in *pressIn) { in.Hand = "[]" }},
		{"this press did not come whole", func(in *pressIn) { in.Line = "" }},
		{"this press did not come whole", func(in *pressIn) { in.Line, in.Key = "", "escape" }},
		{"this press did not come whole", func(in *pressIn) { in.Line = strings.Repeat("8", 81) }},
		{"this press did not come whole", func(in *pressIn) { in.Line, in.F = "", -8 }},
		{"this press did not come whole", func(in *pressIn) { in.Before = []pressIn{{}} }},
		{"this page names no step of the run", func(in *pressIn) { in.Hand = `{"step":99}` }},
		{"this page names no step of the run", func(in *pressIn) { in.Hand = `{"step":0,"asks":-1}` }},
		{"is not understood", func(in *pressIn) { in.Line = "soon" }},
	} {
		in := good
		in.ID = newPress()
		c.bend(&in)
		v, status, err := p.hand(in)
		require.NoError(t, err)
		assert.Contains(t, []int{http.StatusOK, http.StatusNotFound}, status)
		assert.Contains(t, v.Refused, c.says)
		assert.NotContains(t, v.Refused, "\n")
	}
	assert.Equal(t, before, entriesIn(t, book))
	v := p.does(good)
	assert.True(t, v.Wrote)
	assert.Equal(t, before+1, entriesIn(t, book))
}

// A page without its script is a form: the same run, and a press that is sent twice is taken once.
func TestThePageWithoutItsScript(t *testing.T) {
	book := harbour(t)
	p := phoneAt(t, serverOf(t, book), "127.0.0.1", 0)
	page := p.open()
	field := func(name string) string {
		m := regexp.MustCompile(`name="` + name + `" value="([^"]*)"`).FindStringSubmatch(page)
		require.NotNil(t, m, "%s: %s", name, page)
		return html.UnescapeString(m[1])
	}
	send := func(key, line string) url.Values {
		form := url.Values{"key": {key}, "line": {line}}
		for _, name := range []string{"id", "hand", "before", "began", "build"} {
			form.Set(name, field(name))
		}
		page = p.posts(form)
		return form
	}
	twice := send("line", "8 4")
	assert.Contains(t, plainly(page), "expose 2026-001n")
	n := entriesIn(t, book)
	page = p.posts(twice)
	assert.Contains(t, plainly(page), "expose 2026-001n")
	assert.Equal(t, n, entriesIn(t, book), "the same press")
	send("space", "")
	send("space", "")
	assert.Contains(t, plainly(page), "cap off at 0")
	send("x", "")
	assert.Contains(t, plainly(page), "was the cap never lifted?")
	send("space", "")
	assert.Contains(t, plainly(page), "taken back")
	assert.Equal(t, n+2, entriesIn(t, book))
}
