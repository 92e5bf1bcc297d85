package web

import (
	"crypto/rand"
	"encoding/hex"
	"encoding/json"
	"io"
	"net/http"
	"regexp"
	"strconv"
	"strings"
	"time"

	"traybook/cmd/traybook/bench"
	"traybook/projections/wording"
)

// pressed is one press as a page sends it. What it writes bears ids that follow from its own, so that it is taken once
// however often it comes.
type pressed struct {
	ID     string    `json:"id"`
	Key    string    `json:"key,omitempty"`  // of a button
	Line   string    `json:"line,omitempty"` // or a line
	F      float64   `json:"f,omitempty"`    // or an aperture
	At     int64     `json:"at"`             // when it was pressed, ms, by the clock here; 0 for now
	Hand   string    `json:"hand,omitempty"` // where the hand was
	Before []pressed `json:"before,omitempty"`
	Began  int64     `json:"began,omitempty"` // the press of the clock that the page shows
}

var isPressID = regexp.MustCompile(`^[0-9a-f]{32}$`)

func newPressID() string {
	raw := make([]byte, 16)
	rand.Read(raw) // never fails
	return hex.EncodeToString(raw)
}

// longestLine is more than any line of the run has.
const longestLine = 80

var badPress = wording.Refuses("bad-press", "this press did not come whole", "press again; nothing was written")

// press is the press as the run takes it, its moment now at the latest.
func (p pressed) press(now time.Time) (bench.Press, error) {
	out := bench.Press{Line: strings.TrimSpace(p.Line), F: p.F, At: now}
	if p.At > 0 {
		if at := time.UnixMilli(p.At).In(now.Location()); at.Before(now) {
			out.At = at
		}
	}
	if p.Began > 0 {
		out.Began = time.UnixMilli(p.Began)
	}
	if out.Line == "" && out.F == 0 {
		out.Key = keyOf(p.Key)
	}
	if out.Key == 0 && out.Line == "" && out.F == 0 || len(out.Line) > longestLine || out.F < 0 || out.F > 1024 {
		return out, badPress.Refuse()
	}
	return out, nil
}

// pressesOf are those that led to what is asked.
func pressesOf(list []pressed, now time.Time) ([]bench.Press, error) {
	if len(list) > 64 {
		return nil, badPress.Refuse()
	}
	var out []bench.Press
	for _, p := range list {
		x, err := p.press(now)
		if err != nil {
			return nil, err
		}
		out = append(out, x)
	}
	return out, nil
}

func handOf(text string) (bench.Hand, error) {
	var h bench.Hand
	if err := json.Unmarshal([]byte(text), &h); err != nil {
		return h, badPress.Refuse()
	}
	return h, nil
}

// press takes a press: of the script as JSON, of a form without one.
func (s *Server) press(w http.ResponseWriter, r *http.Request) {
	if !strings.HasPrefix(r.Header.Get("Content-Type"), "application/json") {
		s.pressForm(w, r)
		return
	}
	var p pressed
	raw, err := io.ReadAll(r.Body)
	if err == nil {
		err = json.Unmarshal(raw, &p)
	}
	if err != nil || !isPressID.MatchString(p.ID) {
		s.failJSON(w, badPress.Refuse())
		return
	}
	a, err := s.take(p)
	if err != nil {
		s.failJSON(w, err)
		return
	}
	s.sendJSON(w, http.StatusOK, a)
}

// take takes a press.
func (s *Server) take(p pressed) (answer, error) {
	s.pressing.Lock()
	defer s.pressing.Unlock()
	var a answer
	var at time.Time
	if p.At > 0 {
		at = time.UnixMilli(p.At)
	}
	err := s.Book.Run(p.ID, at, func(run *Run) error {
		h, err := handOf(p.Hand)
		if err != nil {
			return err
		}
		if run.Known {
			a.Known = true
			m, err := bench.GoOn(run.Door, h, bench.MomentOf(run.Now))
			if err != nil {
				return err
			}
			return s.answerOf(run, m, &a)
		}
		now, err := p.press(run.Now)
		if err != nil {
			return err
		}
		before, err := pressesOf(p.Before, run.Now)
		if err != nil {
			return err
		}
		out, err := bench.Take(run.Door, h, before, now)
		if err != nil {
			return err
		}
		run.Keep = out.Wrote && out.Moved == "" && out.Refused == ""
		a.Wrote, a.Moved, a.Refused = run.Keep, out.Moved, out.Refused
		if a.Refused == "" && !a.Wrote {
			a.Refused = out.Machine.Alarm()
		}
		return s.answerOf(run, out.Machine, &a)
	})
	return a, err
}

// pressForm takes a press of a page without its script, and draws the page anew.
func (s *Server) pressForm(w http.ResponseWriter, r *http.Request) {
	if !s.form(w, r) {
		return
	}
	f := r.PostForm
	p := pressed{ID: f.Get("id"), Key: f.Get("key"), Line: f.Get("line"), Hand: f.Get("hand")}
	p.Began, _ = strconv.ParseInt(f.Get("began"), 10, 64)
	p.F, _ = strconv.ParseFloat(f.Get("f"), 64)
	err := json.Unmarshal([]byte(f.Get("before")), &p.Before)
	if p.Key != "" && p.Key != "line" {
		p.Line, p.F = "", 0
	}
	if err != nil || !isPressID.MatchString(p.ID) {
		s.fail(w, r, badPress.Refuse())
		return
	}
	a, err := s.take(p)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	var before []pressed
	if a.Open {
		p.At, p.Hand = s.Book.Now().UnixMilli(), ""
		before = append(p.Before, p)
	}
	s.drawCamera(w, r, http.StatusOK, a, before)
}
