package web

import (
	"net/http"
	"net/url"
	"slices"
	"strings"

	"traybook/cmd/traybook/said"
	"traybook/projections/report"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// eveningPage is the evening pass: one picture of those that want words, as `captions` goes through them.
type eveningPage struct {
	Picture *captioned // nil where none is left
	Left    int        // pictures still to come, this one with them
	Aside   int        // pictures left for later
	All     bool       // the latest, whatever they lack
	Set     string     // the names of those left or dealt with in this pass
	Later   string     // the address that leaves this one
}

// captioned is a picture with what is asked of it.
type captioned struct {
	report.Caption
	Head     string
	Asks     string // who, what, keep?
	Known    string // subject and sitter, where they are said
	Face     report.Face
	Sheets   []captionSheet
	Subject  string // as it stands, where it may be put right
	Sitter   string
	Who      bool // the sitter is asked
	What     bool // the subject is asked
	People   []person
	More     int // sitters that are not shown
	Symptoms []symptomFamily
	Verdicts []string
}

type captionSheet struct {
	Sheet, Title string
	Judge        bool
}

type person struct{ Ref, Name string }

// mostPeople is how many sitters are shown to choose from.
const mostPeople = 12

func (s *Server) evening(w http.ResponseWriter, r *http.Request) {
	q := r.URL.Query()
	s.drawEvening(w, r, q.Get("later"), q.Get("all") != "", "", http.StatusOK, nil)
}

// drawEvening draws the picture that is named, else the first that was not left yet.
func (s *Server) drawEvening(w http.ResponseWriter, r *http.Request, set string, all bool, name string, status int, refused *Answer) {
	p := eveningPage{All: all, Set: set}
	gone := strings.Split(set, ",")
	err := s.look(func(v *View) error {
		list, err := report.Captions(v.Snap, all)
		if err != nil {
			return err
		}
		var next *report.Caption
		for i, x := range list.Pictures {
			if slices.Contains(gone, x.Picture) {
				p.Aside++
				continue
			}
			p.Left++
			if next == nil || x.Picture == name {
				next = &list.Pictures[i]
			}
		}
		if next == nil {
			return nil
		}
		p.Later = eveningAt(set, next.Picture, all)
		p.Picture, err = v.captioned(*next, all)
		return err
	})
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.pageWith(w, r, status, "page_evening.html", "Evening pass", p, refused)
}

// eveningAt is the address of the pass when one more picture was left or dealt with.
func eveningAt(set, name string, all bool) string {
	names := slices.DeleteFunc(strings.Split(set, ","), func(x string) bool { return pictureOf(x) != x || x == "" || x == name })
	q := url.Values{"later": {strings.Join(append(names, name), ",")}}
	if all {
		q.Set("all", "1")
	}
	return "/evening?" + q.Encode()
}

func (v *View) captioned(x report.Caption, all bool) (*captioned, error) {
	c := &captioned{Caption: x, Head: "exposed " + said.StampOf(x.At), What: x.Subject == nil || all, Who: x.Sitter == nil || all,
		Subject: said.Text(x.Subject), Sitter: said.Text(x.Sitter), Symptoms: symptomFamilies(), Verdicts: []string{"keep", "redo", "reject"}}
	p, err := v.Snap.Picture(x.Picture)
	if err != nil {
		return nil, err
	}
	if c.Face, err = report.FaceOf(v.Snap, p); err != nil {
		return nil, err
	}
	for _, sh := range p.Sheets {
		if snapshot.StateOrder[sh.State] >= snapshot.StateOrder[snapshot.Fixed] || len(sh.Developed) > 0 {
			title := sh.Name + ", " + sh.Generation
			if what := wording.Print(sh.Name); what != sh.Name {
				title = sh.Name + ", " + what
			}
			c.Sheets = append(c.Sheets, captionSheet{sh.Name, title, slices.Contains(x.Unjudged, sh.Name)})
		}
	}
	var asks []string
	for _, ask := range []struct {
		is   bool
		word string
	}{{c.Who, "who"}, {c.What, "what"}, {len(x.Unjudged) > 0, "keep"}} {
		if ask.is {
			asks = append(asks, ask.word)
		}
	}
	var known []string
	for _, x := range []string{c.Subject, v.sitter(x.Sitter)} {
		if x != "" {
			known = append(known, x)
		}
	}
	c.Known = strings.Join(known, ", ")
	c.Asks = strings.Join(asks, ", ") + "?"
	rows, err := v.Tx.Sitters()
	if err != nil {
		return nil, err
	}
	c.More = max(0, len(rows)-mostPeople)
	for _, r := range rows[c.More:] {
		c.People = append(c.People, person{r.Ref, v.sitter(&r.Ref)})
	}
	return c, nil
}

// caption writes what was given for a picture, all of it or nothing, as `captions` would.
func (s *Server) caption(w http.ResponseWriter, r *http.Request) {
	u, ok := s.formWithFiles(w, r)
	if !ok {
		return
	}
	defer u.drop()
	f, name := r.PostForm, r.PathValue("name")
	again := func(a *Answer) {
		u.plain(a)
		if len(u.files) > 0 {
			a.Hint = strings.TrimSpace(a.Hint + " Choose the scan again: a browser keeps no file.")
		}
		s.drawEvening(w, r, f.Get("later"), f.Get("all") != "", name, http.StatusUnprocessableEntity, a)
	}
	lines := append(captionLines(name, f), u.lines(f.Get("even-so") != "")...)
	if len(lines) == 0 {
		again(&Answer{Problem: "nothing was given", Hint: "give a subject, a sitter, a verdict or a scan; Later leaves the picture as it is"})
		return
	}
	s.write(w, r, eveningAt(f.Get("later"), name, f.Get("all") != ""), again, lines...)
}

// captionLines are the lines of what was given in words.
func captionLines(name string, f url.Values) [][]string {
	var out [][]string
	words := []string{"amend"}
	if f.Get("even-so") != "" {
		words = append(words, "--even-so")
	}
	words = append(words, "--", name)
	n := len(words)
	if x := strings.TrimSpace(f.Get("subject")); x != "" && x != f.Get("was-subject") {
		words = append(words, "subject="+x)
	}
	sitter := strings.TrimSpace(f.Get("new-sitter"))
	switch {
	case sitter == "":
		sitter = f.Get("sitter")
	case strings.Trim(sitter, "0123456789") == "": // as captions takes one
		sitter = "sitter-" + sitter
	}
	if sitter != "" && sitter != f.Get("was-sitter") {
		words = append(words, "sitter="+sitter)
	}
	if len(words) > n {
		out = append(out, words)
	}
	for _, sheet := range f["sheet"] {
		end := "-" + sheet
		if f.Get("verdict"+end) != "" || len(f["symptom"+end]) > 0 || strings.TrimSpace(f.Get("text"+end)) != "" {
			out = append(out, judgeWords(sheet, end, f))
		}
	}
	return out
}
