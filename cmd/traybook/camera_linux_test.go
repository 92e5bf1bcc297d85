package main

import (
	"bufio"
	"bytes"
	crand "crypto/rand"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"html"
	"math"
	"math/rand/v2"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"os/exec"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events/eventstest"
)

// pageServer is the real program that serves a book, to be killed and begun anew at the same address.
type pageServer struct {
	t     *testing.T
	book  string
	port  string
	args  []string
	codes chan string
	cmd   *exec.Cmd
	begun time.Time // when its clock was put
}

// at is the time of day of the server at a moment: it runs on from one time, however often the server is started.
func (s *pageServer) at(t time.Time) time.Time {
	noon, err := time.Parse(time.RFC3339, eventstest.Now)
	require.NoError(s.t, err)
	return noon.Add(time.Hour + t.Sub(s.begun))
}

// serverOf serves a book.
func serverOf(t *testing.T, book string, args ...string) *pageServer {
	t.Helper()
	s := &pageServer{t: t, book: book, port: "0", args: args, begun: time.Now()}
	s.start()
	t.Cleanup(s.kill)
	return s
}

func (s *pageServer) start() {
	s.t.Helper()
	s.cmd = started(s.t, s.book, append([]string{"serve", "--port", s.port}, s.args...)...)
	s.cmd.Env = append(s.cmd.Env, "TRAYBOOK_NOW="+s.at(time.Now()).Format(time.RFC3339Nano))
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
	Node     int
	Writes   bool
}

// phone is a browser with the page open: it does what the page's script does.
type phone struct {
	t      *testing.T
	base   string
	client *http.Client
	skew   time.Duration // how far its clock is ahead
	offset time.Duration // how far it found its clock to be behind that of the server
	trip   time.Duration // how long that answer was under way
	view   pageView
	before []pressIn

	nodes []pageView // what lies ahead
	node  int        // where in it the page stands, -1 for nowhere
	queue []pressIn  // what is not yet in the book
	aside []string   // what did not fit any more
	away  int        // for how many presses the book is out of reach still
	cuts  int
	alone int // presses whose next view was known ahead while something was kept
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

// reads is what a page of the server holds.
func (p *phone) reads(path string) string {
	p.t.Helper()
	r, err := p.client.Get(p.base + path)
	require.NoError(p.t, err)
	defer r.Body.Close()
	var b bytes.Buffer
	_, err = b.ReadFrom(r.Body)
	require.NoError(p.t, err)
	require.Equal(p.t, http.StatusOK, r.StatusCode, b.String())
	return b.String()
}

// open opens the page.
func (p *phone) open() string {
	p.t.Helper()
	page := p.reads("/camera")
	m := firstView.FindStringSubmatch(page)
	require.NotNil(p.t, m, page)
	p.view = pageView{}
	require.NoError(p.t, json.Unmarshal([]byte(html.UnescapeString(m[1])), &p.view))
	p.view.HTML, p.before = page, nil
	p.poll(0)
	return page
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

// measure takes the clock of the server from an answer. The one that was under way the least counts.
func (p *phone) measure(sent time.Time, now int64) {
	trip := p.clock().Sub(sent)
	if p.trip == 0 || trip < p.trip {
		p.trip, p.offset = trip, time.UnixMilli(now).Sub(sent.Add(trip/2))
	}
}

func newPress() string {
	raw := make([]byte, 16)
	crand.Read(raw)
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
	t.Parallel()
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
		p.sees("what was read?")
		p.press("m")
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
	t.Parallel()
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
		assert.Equal(t, map[bool]int{true: http.StatusOK, false: http.StatusBadRequest}[in.Line == "soon"], status, v.Refused)
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
	t.Parallel()
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

// lookAhead asks for what lies ahead of the view.
func (p *phone) lookAhead() {
	p.t.Helper()
	path := "/camera/ahead?hand=" + url.QueryEscape(p.view.Hand)
	if p.view.Open {
		led, err := json.Marshal(p.before)
		require.NoError(p.t, err)
		path += "&before=" + url.QueryEscape(string(led))
	}
	// What was known ahead stays known until more is.
	p.node = slices.IndexFunc(p.nodes, func(n pageView) bool { return n.Hand == p.view.Hand && n.Open == p.view.Open })
	var a struct {
		Hand  string
		Nodes []pageView
	}
	r, err := p.client.Get(p.base + path)
	if err != nil {
		return
	}
	defer r.Body.Close()
	require.Equal(p.t, http.StatusOK, r.StatusCode)
	if json.NewDecoder(r.Body).Decode(&a) != nil {
		return // cut in the middle
	}
	require.Equal(p.t, p.view.Hand, a.Hand)
	p.nodes, p.node = a.Nodes, 0
}

// edge is where a key leads as far as it is known ahead, nil for nowhere.
func (p *phone) edge(key string, at int64) *pageEdge {
	if p.nodes == nil || p.node < 0 {
		return nil
	}
	for i, e := range p.nodes[p.node].Edges {
		if e.Key != key {
			continue
		}
		if c := p.view.Clock; c != nil && !p.view.Open {
			past := float64(at-c.Began) / 1000
			if e.From != nil && past < *e.From || e.To != nil && past >= *e.To {
				continue
			}
		}
		return &p.nodes[p.node].Edges[i]
	}
	return nil
}

// keeps makes a press that is kept: shown is whether the page knew what follows.
func (p *phone) keeps(key, line string) (in pressIn, shown bool) {
	in = p.made(key, line)
	p.queue = append(p.queue, in)
	if key == "" {
		return in, false
	}
	e := p.edge(key, in.At)
	if e == nil {
		return in, false
	}
	from, v := p.view, p.nodes[e.Node]
	known := map[string]pageClock{}
	for _, c := range from.Also {
		known[c.Key] = c
	}
	if from.Clock != nil {
		known[from.Clock.Key] = *from.Clock
	}
	moved := func(c pageClock) pageClock {
		lead := c.Began - c.Pressed
		if was, ok := known[c.Key]; ok {
			c.Pressed = was.Pressed
		} else {
			c.Pressed = in.At
		}
		c.Began = c.Pressed + lead
		return c
	}
	if v.Clock != nil {
		v.Clock = new(moved(*v.Clock))
	}
	v.Also = slices.Clone(v.Also)
	for i := range v.Also {
		v.Also[i] = moved(v.Also[i])
	}
	v.Seen = from.Seen
	var before []pressIn
	if v.Open {
		before = append(slices.Clone(in.Before), pressIn{Key: in.Key, Line: in.Line, F: in.F, At: in.At})
	}
	p.node, p.view, p.before = e.Node, v, before
	return in, true
}

// handsOver gives what is kept to the book, in its order; the last answer is shown. lost says of a press whether its request
// or its answer is lost; then the rest stays kept.
func (p *phone) handsOver(lost func() string) {
	p.t.Helper()
	for len(p.queue) > 0 {
		in, how := p.queue[0], lost()
		if how == "request" {
			p.cuts++
			return
		}
		v, status, err := p.hand(in)
		if how == "answer" {
			p.cuts++
			return
		}
		if err != nil || status >= 500 || status == http.StatusUnauthorized {
			p.cuts++
			return
		}
		p.queue = p.queue[1:]
		if v.Moved != "" || v.Refused != "" {
			p.aside = append(p.aside, v.Moved+v.Refused)
		}
		if len(p.queue) == 0 {
			p.land(in, v)
			p.lookAhead()
		}
	}
}

// timed is a time that the hand took, by its own clock.
type timed struct {
	step  string
	began time.Time
	s     float64
}

var stepShown = regexp.MustCompile(`data-step="([^"]*)"`)
var nextShown = regexp.MustCompile(`id="next" name="key" value="([^"]*)"`)

// work goes on with the run as a hand does that presses the large button, until so many pictures are done or stop says so.
// It gives the times that the hand took.
func (p *phone) work(pictures int, lost func() string) (times []timed) {
	p.t.Helper()
	judged := 0
	var in, out time.Time
	for range 4000 {
		page := p.view.HTML
		if l, c := p.view.Later, p.view.Clock; l != nil && c != nil && p.now().UnixMilli() >= c.Began {
			page = l.HTML
		}
		step := stepShown.FindStringSubmatch(page)
		next := nextShown.FindStringSubmatch(page)
		require.NotNil(p.t, step, page)
		require.NotNil(p.t, next, page)
		key, line := next[1], ""
		switch {
		case key == "line" && len(p.queue) > 0: // what comes next is known when the book has what is kept
		case key == "line" && judged >= pictures:
			return times
		case key == "line" && step[1] == "meter the scene":
			key, line = "", "8 1"
		case key == "line":
			require.Equal(p.t, "meter the negative", step[1])
			key = "n" // the prints come another day
		case p.view.Clock != nil && p.view.Open:
			key = "y"
		case p.view.Clock != nil:
			end := time.UnixMilli(p.view.Clock.Began).Add(time.Duration(p.view.Clock.Planned*1000+150) * time.Millisecond)
			if wait := end.Sub(p.now()); wait > 0 {
				time.Sleep(wait)
				continue // a cap that was counted in has other buttons now
			}
		}
		if key == "line" {
			time.Sleep(5 * time.Millisecond)
			p.handsOver(lost)
			continue
		}
		open, clock, was := p.view.Open, p.view.Clock, p.clock()
		if clock != nil && !open {
			out = was
		}
		_, shown := p.keeps(key, line)
		if p.away > 0 && shown {
			p.away--
			p.alone++
		} else {
			for p.handsOver(lost); !shown && len(p.queue) > 0; p.handsOver(lost) {
				time.Sleep(5 * time.Millisecond)
			}
		}
		switch {
		case step[1] == "judge":
			judged++
		case clock == nil && p.view.Clock != nil:
			in = was
		case clock != nil && p.view.Clock == nil && step[1] == "expose":
			times = append(times, timed{step[1], in.Add(3 * time.Second), clock.Planned})
		case clock != nil && p.view.Clock == nil:
			times = append(times, timed{step[1], in, out.Sub(in).Seconds()})
		}
	}
	p.t.Fatal("the run came to no end")
	return nil
}

// sync measures the clock of the server anew, and gives how far it is behind the one that its moment of starting gave it: a
// program takes a while to begin, and its clock runs on from when it did.
func (p *phone) sync(s *pageServer) time.Duration {
	p.t.Helper()
	p.trip = 0
	for range 3 {
		sent := p.clock()
		r, err := p.client.Get(p.base + "/camera/view?seen=-1&hand=")
		require.NoError(p.t, err)
		var v pageView
		require.NoError(p.t, json.NewDecoder(r.Body).Decode(&v))
		r.Body.Close()
		p.measure(sent, v.Now)
	}
	return s.at(p.clock().Add(-p.skew)).Sub(p.now())
}

// heldTo compares what the book holds with what the hand did: every act once, with its time. lags are how far the clocks of the
// servers were behind; where several followed each other, a time may be off by as much as they differ.
func (p *phone) heldTo(s *pageServer, times []timed, pictures int, lags ...time.Duration) {
	p.t.Helper()
	kinds, _ := actsIn(p.t, s.book)
	one := []string{"light.metered", "sheet.exposed", "sheet.developed", "sheet.rinsed", "sheet.fixed", "sheet.judged"}
	var want []string
	for range pictures {
		want = append(want, one...)
	}
	require.Equal(p.t, want, kinds)
	require.Len(p.t, times, 4*pictures)
	i, worst, spread := 0, 0.0, slices.Max(lags)-slices.Min(lags)
	for _, line := range strings.Split(strings.TrimSpace(tell(p.t, s.book, "export", "events", "--out", "-")), "\n") {
		var e struct {
			Kind string
			At   time.Time
			Data struct {
				TimeS *float64 `json:"time_s"`
				Clock string
			}
		}
		require.NoError(p.t, json.Unmarshal([]byte(line), &e))
		if e.Data.Clock == "" {
			continue
		}
		truth := times[i]
		began := s.at(truth.began.Add(-p.skew - lags[0]))
		off := max(math.Abs(*e.Data.TimeS-truth.s), math.Abs(e.At.Sub(began).Seconds()))
		assert.Less(p.t, off, 0.2+spread.Seconds(), "%s: %v %v, done %v %v", e.Kind, e.At, *e.Data.TimeS, began, truth.s)
		worst = max(worst, off)
		i++
	}
	assert.Equal(p.t, len(times), i)
	assert.Empty(p.t, clocksOf(p.t, s.book))
	assert.Empty(p.t, p.aside)
	p.t.Logf("%d pictures, %d acts, %d times cut off, %d presses gone on without the book, no time further off than %.3f s (the servers' clocks %.3f s apart)", pictures, len(kinds), p.cuts, p.alone, worst, spread.Seconds())
	tell(p.t, s.book, "verify")
}

// The connection is cut at any moment, before the book has a press or after: what was pressed meanwhile is handed over, once.
// TRAYBOOK_LONG=1 cuts a hundred times.
func TestTheConnectionIsCutAtAnyMoment(t *testing.T) {
	t.Parallel()
	s := serverOf(t, harbour(t))
	p := phoneAt(t, s, "127.0.0.1", -53*time.Second)
	p.lookAhead()
	seed := rand.Uint64()
	t.Logf("seed %d", seed)
	random, cuts, pictures := rand.New(rand.NewPCG(seed, 0)), rounds(t, 6, 100), 0
	lost := func() string {
		if p.away > 0 { // it is tried again and again meanwhile
			p.away--
			return "request"
		}
		switch n := random.IntN(10); {
		case n < 3:
			p.away = random.IntN(6)
			return "request"
		case n < 5:
			p.away = random.IntN(3)
			return "answer"
		}
		return ""
	}
	var times []timed
	for p.cuts < cuts {
		times = append(times, p.work(1, lost)...)
		pictures++
	}
	p.heldTo(s, times, pictures, p.sync(s))
}

// The server is killed at any moment and begun anew: the phone comes in by the next code and hands over what it kept.
// TRAYBOOK_LONG=1 kills it a hundred times.
func TestTheServerIsKilledAtAnyMoment(t *testing.T) {
	t.Parallel()
	s := serverOf(t, harbour(t))
	p := phoneAt(t, s, "127.0.0.1", 11*time.Second)
	p.lookAhead()
	seed := rand.Uint64()
	t.Logf("seed %d", seed)
	random, kills, killed, pictures := rand.New(rand.NewPCG(seed, 0)), rounds(t, 6, 100), 0, 0
	var dying chan bool
	lags := []time.Duration{p.sync(s)}
	lost := func() string {
		if dying != nil { // killed while a press was under way, or after
			<-dying
			dying = nil
			s.cmd.Wait()
			s.start()
			p.comeIn(s.code())
			lags = append(lags, p.sync(s))
		}
		if killed < kills && random.IntN(3) == 0 {
			killed++
			done := make(chan bool)
			dying = done
			cmd := s.cmd
			time.AfterFunc(time.Duration(random.IntN(60_000))*time.Microsecond, func() { cmd.Process.Kill(); close(done) })
		}
		return ""
	}
	var times []timed
	for killed < kills {
		times = append(times, p.work(1, lost)...)
		pictures++
	}
	lost()
	p.heldTo(s, times, pictures, lags...)
	t.Logf("%d kills", killed)
}

// Two phones and a terminal on one book: each sees within two seconds what the other began.
func TestTwoPhonesAndATerminal(t *testing.T) {
	t.Parallel()
	book := slowHarbour(t)
	tell(t, book, "meter", "f/8", "4s")
	tell(t, book, "expose", "f/8", "4s")
	s := serverOf(t, book)
	one, other := phoneAt(t, s, "127.0.0.1", 0), phoneAt(t, s, "127.0.0.2", time.Minute)
	seesWithin := func(p *phone, text string) {
		t.Helper()
		tries := 0
		require.Eventually(t, func() bool {
			p.poll(p.view.Seen)
			tries++
			return strings.Contains(p.shows(), text)
		}, time.Minute, 10*time.Millisecond)
		assert.Equal(t, 1, tries, "the first look shows it; a page looks every second")
	}
	one.sees("develop 2026-001n")
	other.sees("develop 2026-001n")
	one.press("space")
	seesWithin(other, "2026-001n in the developer dev-1 since")
	assert.Contains(t, other.reads("/runs"), `<a href="/camera">2026-001n in the developer dev-1 since`)
	assert.Contains(t, plainly(other.reads("/")), "2026-001n in the developer dev-1 since")
	other.press("x")
	other.press("space")
	assert.Empty(t, other.reads("/runs"))
	seesWithin(one, "ended elsewhere: develop 2026-001n")
	h := sitDown(t, book, "bench")
	h.sees("the sheet is in")
	h.types(" ")
	h.sees("the sheet is out")
	seesWithin(one, "2026-001n in the developer dev-1 since")
	seesWithin(other, "2026-001n in the developer dev-1 since")
	one.press("x")
	one.press("space")
	h.sees("ended elsewhere: 2026-001n in the developer")
	one.press("space")
	h.sees("2026-001n in the developer dev-1 since ")
}

// What was kept does not fit any more where the book has gone on elsewhere: it is told, and never written as something else.
func TestAKeptPressThatDoesNotFit(t *testing.T) {
	t.Parallel()
	book := slowHarbour(t)
	for range 2 {
		tell(t, book, "meter", "f/8", "4s")
		tell(t, book, "expose", "f/8", "4s")
	}
	s := serverOf(t, book)
	p, other := phoneAt(t, s, "127.0.0.1", 0), phoneAt(t, s, "127.0.0.2", 0)
	refused := func(in pressIn, says string) {
		t.Helper()
		n := entriesIn(t, book)
		v, status, err := p.hand(in)
		require.NoError(t, err)
		assert.Equal(t, http.StatusOK, status)
		assert.Contains(t, v.Moved, says)
		assert.False(t, v.Wrote)
		assert.Equal(t, n, entriesIn(t, book))
		p.land(in, v)
	}
	p.sees("develop 2026-001n")
	in := p.made("space", "")
	other.sees("develop 2026-001n")
	other.press("space")
	refused(in, "begun elsewhere: 2026-001n in the developer dev-1 since ")
	out := p.made("space", "")
	stale := out
	stale.Began -= 60_000
	refused(stale, "another clock runs there now")
	other.press("x")
	other.press("space")
	refused(out, "ended elsewhere: develop 2026-001n · dev-1")
	p.open()
	in = p.made("space", "")
	tell(t, book, "void", "last") // the void of the clock: it runs again
	tell(t, book, "void", "last")
	tell(t, book, "develop", "110s", "--sheet", "2026-001n")
	refused(in, "the book has gone on elsewhere: develop 2026-001n · dev-1")
	p.open()
	p.sees("rinse 2026-001n")
	in = p.made("space", "")
	tell(t, book, "void", "last", "--even-so")
	refused(in, "the book has gone on elsewhere: rinse 2026-001n")
	p.open()
	p.sees("develop 2026-001n")
	p.press("n")
	p.writes("8 4")
	p.press("space")
	p.sees("expose 2026-003n")
	in = p.made("space", "")
	tell(t, book, "expose", "f/8", "4s")
	refused(in, "expose 2026-003n · box-1 is expose 2026-004n · box-1 now")
	p.press("b")
	p.press("w")
	p.sees("develop 2026-001n")
	in = p.made("space", "")
	tell(t, book, "bath", "mix", "developer", "1l", "1+9", "60s", "20C")
	refused(in, "develop 2026-001n · dev-1 is develop 2026-001n · dev-2")
	// What was asked is asked no more where the answer comes to another step.
	p.open()
	p.press("w")
	p.sees("develop 2026-001n")
	in = p.made("space", "")
	in.At -= 200_000
	p.does(in)
	out = p.made("space", "")
	out.At = in.At + 1000
	p.does(out)
	require.True(t, p.view.Open)
	yes := p.made("y", "")
	yes.Before[0].At = in.At + 110_000
	refused(yes, "what was asked is not asked any more")
	p.open()
	out.ID, out.Hand = newPress(), p.view.Hand
	p.does(out)
	require.True(t, p.view.Open)
	assert.True(t, p.does(p.made("y", "")).Wrote)
}

// A press that comes late is written with the time at which it was made, and the one that was lost with its answer is known.
func TestAPressThatComesLate(t *testing.T) {
	t.Parallel()
	book := slowHarbour(t)
	tell(t, book, "meter", "f/8", "4s")
	tell(t, book, "expose", "f/8", "4s")
	p := phoneAt(t, serverOf(t, book), "127.0.0.1", 90*time.Minute)
	p.sees("develop 2026-001n")
	in := p.made("space", "")
	in.At -= 30 * 60_000
	v := p.does(in)
	require.NotNil(t, v.Clock)
	assert.Equal(t, in.At, v.Clock.Pressed)
	n := entriesIn(t, book)
	again, _, err := p.hand(in)
	require.NoError(t, err)
	assert.True(t, again.Known)
	assert.False(t, again.Wrote)
	assert.Equal(t, v.Clock, again.Clock)
	out := p.made("space", "")
	out.At = in.At + 112_345
	assert.True(t, p.does(out).Wrote)
	again, _, err = p.hand(out)
	require.NoError(t, err)
	assert.True(t, again.Known)
	assert.Contains(t, plainly(again.HTML), "rinse 2026-001n")
	assert.Equal(t, n+1, entriesIn(t, book))
	_, data := actsIn(t, book)
	assert.Equal(t, 112.345, data[len(data)-1]["time_s"])
	assert.Contains(t, tell(t, book, "history", "2026-001", "--json"), `"at":"`+time.UnixMilli(in.At).UTC().Add(2*time.Hour).Format("2006-01-02T15:04:05"))
	ahead := p.made("space", "")
	ahead.At += 3600_000
	v = p.does(ahead)
	assert.Less(t, v.Clock.Pressed, p.now().UnixMilli()+1000, "what lies ahead is taken for now")
	p.press("x")
	p.press("space")
	at := out.At
	for _, later := range []int64{1000, 400, 2000, 90_000, 5000} { // rinsed, fixed, judged
		at += later
		late := p.made("space", "")
		late.At = at
		require.True(t, p.does(late).Wrote, p.shows())
	}
	assert.Contains(t, tell(t, book, "history", "2026-001", "--json"), `"at":"`+time.UnixMilli(at).UTC().Add(2*time.Hour).Format("2006-01-02T15:04:05"), "the verdict, too")
}

// Where the book is only to be read the page shows the run and takes no press; what ails the book is one line.
func TestThePageOfABookThatTakesNoPress(t *testing.T) {
	t.Parallel()
	book := slowHarbour(t)
	tell(t, book, "meter", "f/8", "4s")
	tell(t, book, "expose", "f/8", "4s")
	s := serverOf(t, book, "--read-only")
	p := phoneAt(t, s, "127.0.0.1", 0)
	p.sees("develop 2026-001n")
	assert.NotContains(t, p.view.HTML, "<button")
	n := entriesIn(t, book)
	_, status, err := p.hand(p.made("space", ""))
	require.NoError(t, err)
	assert.Equal(t, http.StatusForbidden, status)
	assert.Equal(t, n, entriesIn(t, book))

	p = phoneAt(t, serverOf(t, book), "127.0.0.1", 0)
	in := p.made("space", "")
	require.NoError(t, os.Rename(book, book+".away"))
	v, status, err := p.hand(in)
	require.NoError(t, err)
	assert.Equal(t, http.StatusNotFound, status)
	assert.Contains(t, v.Refused, "there is no book at")
	require.NoError(t, os.Rename(book+".away", book))
	assert.True(t, p.does(in).Wrote, "the same press, when the book is back")
}
