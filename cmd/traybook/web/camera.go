package web

import (
	"bytes"
	"encoding/json"
	"html/template"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"traybook/cmd/traybook/bench"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// Run is the book as the run at the camera uses it, within one write of it.
type Run struct {
	Door  bench.Door
	Now   time.Time // in the zone of the book
	Known bool      // the press was taken already: the book holds what it wrote
	Keep  bool      // what was written is kept; else the book is as it was
	Last  func() (int64, error)
	Dream func(f func() error) error // takes back what f wrote
	Stand func(now time.Time)        // sets the clock in a dream
}

// shown is one view of the run as a page takes it: drawn, with what the page needs to count on and to press.
type shown struct {
	HTML  string  `json:"html"`
	Hand  string  `json:"hand"`           // given back with the next press
	Open  bool    `json:"open,omitempty"` // a question: the presses that led to it are given back, too
	Clock *clock  `json:"clock,omitempty"`
	Also  []clock `json:"also,omitempty"`
	Later *later  `json:"later,omitempty"`
}

// later is how a view is drawn from a moment on, without a press: a cap after its count-in.
type later struct {
	AtS  float64 `json:"at"` // since the clock began
	HTML string  `json:"html"`
}

// clock is a running clock as a page counts it.
type clock struct {
	Key     string        `json:"key"` // what it is the clock of
	Pressed int64         `json:"pressed"`
	Began   int64         `json:"began"`
	Planned float64       `json:"planned,omitempty"`
	Asked   bool          `json:"asked,omitempty"`
	Spans   []bench.Span  `json:"spans"`
	Sounds  []bench.Sound `json:"sounds,omitempty"`
	Text    [3]string     `json:"text"` // before the time of day, before how long, after it
	Over    string        `json:"over"` // before all of it from its called-for end on
	Whole   string        `json:"-"`
}

// clockOf takes the sentence of a clock apart, so that a page can go on telling it.
func clockOf(r bench.Running, now time.Time, mine bool) clock {
	c := clock{Key: r.Act + " " + strings.Join(r.Sheets, " "), Pressed: r.Pressed.UnixMilli(), Began: r.Began.UnixMilli(), Planned: r.PlannedS,
		Asked: r.Asked, Spans: r.Spans, Sounds: r.Sounds, Over: bench.OverText(""), Whole: r.Text}
	if !mine { // of the others those sound that call a hand
		c.Sounds = slices.DeleteFunc(slices.Clone(r.Sounds), func(s bench.Sound) bool { return s.Beat != "end" && s.Beat != "over" })
	}
	at := r.Began.Format("15:04:05")
	before, rest, ok := strings.Cut(r.Text, at+" (")
	if !ok {
		c.Text[0] = r.Text
		return c
	}
	end := strings.IndexAny(rest, ",)")
	for _, mark := range []string{" of ", " ago"} {
		if i := strings.Index(rest, mark); i >= 0 && i < end {
			end = i
		}
	}
	c.Text = [3]string{before, " (", rest[end:]}
	return c
}

// button is one thing to press.
type button struct{ Key, Label string }

// keyNames are keys as a form names them.
var keyNames = map[rune]string{' ': "space", '+': "more", '-': "less"}

func keyName(k rune) string {
	if n := keyNames[k]; n != "" {
		return n
	}
	return string(k)
}

// keyOf reads the name of a key; 0 for none.
func keyOf(name string) rune {
	for k, n := range keyNames {
		if n == name {
			return k
		}
	}
	if r := []rune(name); len(r) == 1 && r[0] > ' ' && r[0] < 127 {
		return r[0]
	}
	return 0
}

// cameraView is what the template draws.
type cameraView struct {
	bench.View
	Lines    []string
	Large    []button // one, or two where something is asked
	Small    []button
	Clock    *clock
	Also     []clock
	ReadOnly bool
}

func buttonOf(c bench.Choice, paired bool) button {
	label := c.Label
	if paired {
		more, less := "+ "+label, "− "+label
		if both, ok := strings.CutSuffix(label, " more, less"); ok {
			more, less = both+" more", both+" less"
		}
		if label = more; c.Key == '-' {
			label = less
		}
	}
	return button{keyName(c.Key), label}
}

// drawn is what the template is given of a view.
func (s *Server) drawn(v bench.View, now time.Time) cameraView {
	out := cameraView{View: v, ReadOnly: s.ReadOnly}
	told := map[string]bool{bench.Greeting: true} // the page says it in its own words
	if v.Clock != nil {
		c := clockOf(*v.Clock, now, true)
		out.Clock, told[c.Whole] = &c, true
	}
	for _, r := range v.Others {
		c := clockOf(r, now, false)
		out.Also = append(out.Also, c)
		told["also "+c.Whole], told["! "+bench.OverText(c.Whole)] = true, true
	}
	for _, l := range v.Body {
		if !told[l] && (l != "" || len(out.Lines) > 0) {
			out.Lines = append(out.Lines, l)
		}
	}
	for i, c := range v.Choices {
		paired := i > 0 && v.Choices[i-1].Label == c.Label || i+1 < len(v.Choices) && v.Choices[i+1].Label == c.Label
		b := buttonOf(c, paired)
		asked := v.Sure || v.Clock != nil && v.Clock.Asked && (c.Key == ' ' || c.Key == 'y')
		switch {
		case c.Key == 'q' || v.Aperture != nil && (c.Key == '+' || c.Key == '-'):
		case asked, i == 0 && v.Wants == "":
			out.Large = append(out.Large, b)
		default:
			out.Small = append(out.Small, b)
		}
	}
	return out
}

// show draws a view of the machine as it is at a moment.
func (s *Server) show(m *bench.Machine, now time.Time) (shown, error) {
	out := shown{Open: m.Open()}
	v := m.View(bench.MomentOf(now))
	d := s.drawn(v, now)
	out.Clock, out.Also = d.Clock, d.Also
	hand, err := json.Marshal(m.Hand())
	if err != nil {
		return out, err
	}
	out.Hand = string(hand)
	if out.HTML, err = s.fragment(d); err != nil {
		return out, err
	}
	if c := v.Clock; c != nil && now.Before(c.Began) && !c.Asked && !v.Sure { // it counts in: what it becomes by itself
		html, err := s.fragment(s.drawn(m.View(bench.MomentOf(c.Began)), c.Began))
		if err != nil {
			return out, err
		}
		out.Later = &later{0, html}
	}
	return out, nil
}

func (s *Server) fragment(d cameraView) (string, error) {
	var b bytes.Buffer
	err := s.templates["page_camera.html"].ExecuteTemplate(&b, "run", d)
	return b.String(), err
}

// answer is what a page is answered by: a view, and what became of the press.
type answer struct {
	shown
	Seen    int64  `json:"seen"` // the last entry of the book
	Now     int64  `json:"now"`  // the time of day here, ms
	Zone    int    `json:"zone"` // of the book, seconds east
	Build   string `json:"build"`
	Wrote   bool   `json:"wrote,omitempty"`
	Known   bool   `json:"known,omitempty"`   // it was taken already
	Moved   string `json:"moved,omitempty"`   // it does not fit any more: nothing was written
	Refused string `json:"refused,omitempty"` // nothing was written
}

// answerOf fills in an answer within a run.
func (s *Server) answerOf(run *Run, m *bench.Machine, a *answer) error {
	var err error
	if a.shown, err = s.show(m, run.Now); err != nil {
		return err
	}
	_, a.Zone = run.Now.Zone()
	a.Build = s.build
	a.Seen, err = run.Last()
	return err
}

// cameraPage is the page, and what its script begins with.
type cameraPage struct {
	Run    template.HTML
	First  string // the answer as the script reads it
	Hand   string
	Before string
	ID     string
	Began  int64
}

func (s *Server) camera(w http.ResponseWriter, r *http.Request) {
	a, err := s.lookFor("", nil)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.drawCamera(w, r, http.StatusOK, a, nil)
}

// drawCamera draws the page around an answer.
func (s *Server) drawCamera(w http.ResponseWriter, r *http.Request, status int, a answer, before []pressed) {
	a.Now = s.Book.Now().UnixMilli()
	html := a.HTML
	a.HTML = "" // it stands on the page
	first, err := json.Marshal(a)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	led, err := json.Marshal(before)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	p := cameraPage{Run: template.HTML(html), First: string(first), Hand: a.Hand, Before: string(led), ID: newPressID()}
	if a.Clock != nil {
		p.Began = a.Clock.Pressed
	}
	s.page(w, r, status, "page_camera.html", "Camera", p)
}

// lookFor draws the view of a hand; without one it begins where the book points.
func (s *Server) lookFor(hand string, before []bench.Press) (answer, error) {
	var a answer
	err := s.Book.Run("", time.Time{}, func(run *Run) error {
		now := bench.MomentOf(run.Now)
		if hand == "" {
			m, err := bench.New(run.Door, now)
			if err != nil {
				return err
			}
			return s.answerOf(run, m, &a)
		}
		h, err := handOf(hand)
		if err != nil {
			return err
		}
		m, err := bench.Look(run.Door, h, before, now)
		if err != nil {
			return err
		}
		return s.answerOf(run, m, &a)
	})
	return a, err
}

// cameraView answers a page that asks whether anything changed. Where nothing did, that is all it says.
func (s *Server) cameraView(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Traybook-Build", s.build)
	var last int64
	if err := s.Book.Look(func(v *View) (err error) { last, err = v.Tx.LastSeq(); return err }); err != nil {
		s.failJSON(w, err)
		return
	}
	if r.FormValue("seen") == strconv.FormatInt(last, 10) {
		w.Header().Set("Traybook-Now", strconv.FormatInt(s.Book.Now().UnixMilli(), 10))
		w.WriteHeader(http.StatusNoContent)
		return
	}
	a, err := s.lookFor(r.FormValue("hand"), nil)
	if err != nil {
		s.failJSON(w, err)
		return
	}
	s.sendJSON(w, http.StatusOK, a)
}

func (s *Server) sendJSON(w http.ResponseWriter, status int, a answer) {
	a.Now = s.Book.Now().UnixMilli() // as late as can be: the page measures its clock by it
	b, err := json.Marshal(a)
	if err != nil {
		http.Error(w, "the answer could not be written", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	w.Write(b)
}

// failJSON tells an error of the book to a page's script.
func (s *Server) failJSON(w http.ResponseWriter, err error) {
	problem, hint := s.Book.Explain(err)
	if hint != "" {
		problem += "; " + hint
	}
	status := statusOf(err)
	if no := wording.RefusalIn(err); no != nil && (no.Of == badPress || no.Of == bench.NoStep) { // not to be sent again as it is
		status = http.StatusBadRequest
	} else if status == http.StatusBadRequest {
		status = http.StatusServiceUnavailable
	}
	s.sendJSON(w, status, answer{Refused: problem, Build: s.build})
}

// runs draws the clocks that run, for a page that was left open.
func (s *Server) runs(w http.ResponseWriter, r *http.Request) {
	var texts []string
	err := s.Book.Look(func(v *View) error {
		clocks, err := v.Whole.RunningClocks(v.Now)
		for _, e := range clocks {
			e.At = e.At.In(v.Now.Location())
			texts = append(texts, snapshot.ClockRuns(e, v.Now))
		}
		return err
	})
	var b bytes.Buffer
	if err == nil {
		err = s.templates["page_camera.html"].ExecuteTemplate(&b, "runs", texts)
	}
	if err != nil {
		problem, _ := s.Book.Explain(err)
		http.Error(w, problem, statusOf(err))
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Write(b.Bytes())
}
