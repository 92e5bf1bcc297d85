package report

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"traybook/events"
	"traybook/projections/snapshot"
	"traybook/projections/why"
)

// PictureFilter says which pictures are wanted; what is empty does not narrow. Several narrow together.
type PictureFilter struct {
	Session, Box, Bath string
	Sitter             string // a reference: sitter-7
	Stored             string // part of where one of its sheets is kept, in any case
	Subject            string // part of it, in any case
	Verdict            string // of any of its sheets
	Symptom            string // of any of its sheets
	Cause              string // one of the causes found for it
	From, To           time.Time
	Text               string // every word somewhere in its subject, its session's place, its notes and texts
	Terms              []Term // each must fit
	All                bool
	// Page, where it is more than nothing, is how many pictures one page holds: the walk ends with it, and where it has gone
	// through many that do not fit.
	Page   int
	Before string // the picture behind which the page begins, "" for the first page
	// Causes finds the causes that the log shows for a picture; needed where Cause is asked for.
	Causes func(picture string) ([]string, error)
}

// Term is a word to find pictures by: a picture fits where its texts hold it, and where it is a symptom or a verdict of any
// of its sheets or a cause found for it.
type Term struct {
	Word     string
	Texts    []string // each of them somewhere in the texts
	Symptoms []string
	Verdict  string
	Cause    string
}

// TermsOf reads words as they are typed. Two words that are one symptom together, such as too dark, are one term.
func TermsOf(words []string) []Term {
	var typed []string
	for _, w := range words {
		if w = strings.ToLower(strings.TrimSpace(w)); events.SymptomsCalled(w) != nil {
			typed = append(typed, w)
		} else {
			typed = append(typed, strings.Fields(w)...)
		}
	}
	var out []Term
	for i := 0; i < len(typed); i++ {
		w := typed[i]
		if i+1 < len(typed) && events.SymptomsCalled(w+" "+typed[i+1]) != nil {
			i++
			w += " " + typed[i]
		}
		t := Term{Word: w, Texts: strings.Fields(w), Symptoms: events.SymptomsCalled(w)}
		if slices.Contains(verdicts, w) {
			t.Verdict = w
		}
		if slices.Contains(why.Causes, w) {
			t.Cause = w
		}
		out = append(out, t)
	}
	return out
}

var verdicts = []string{"keep", "redo", "reject"}

// Says tells what a term is looked for as.
func (t Term) Says() string {
	var as []string
	switch n := len(t.Symptoms); {
	case n == 1 && t.Symptoms[0] == t.Word:
		as = append(as, "as a symptom")
	case n == 1:
		as = append(as, "as the symptom "+t.Symptoms[0])
	case n > 1:
		as = append(as, "as the symptoms "+strings.Join(t.Symptoms, ", "))
	}
	if t.Verdict != "" {
		as = append(as, "as a verdict")
	}
	if t.Cause != "" {
		as = append(as, "as a cause")
	}
	return fmt.Sprintf("%q %s", t.Word, strings.Join(append(as, "in the texts"), " or "))
}

// PictureSheet is one sheet in a PictureLine.
type PictureSheet struct {
	Sheet    string   `json:"sheet"`
	Box      *string  `json:"box"`
	F        *float64 `json:"f"`
	TimeS    *float64 `json:"time_s"` // of its exposure; null where it has none
	State    *string  `json:"state"`
	Verdict  *string  `json:"verdict"`
	Symptoms []string `json:"symptoms"`
}

// PictureLine is one picture as `pictures` tells it.
type PictureLine struct {
	Picture string         `json:"picture"`
	Subject *string        `json:"subject"`
	Session *string        `json:"session"`
	Place   *string        `json:"place"`
	Sitter  *string        `json:"sitter"`
	At      string         `json:"at"` // of its first act
	Prints  int            `json:"prints"`
	Sheets  []PictureSheet `json:"sheets"`
}

// PicturesReport is the pictures that fit, by falling number. A picture written down late bears a late number.
type PicturesReport struct {
	Pictures []PictureLine `json:"pictures"`
	More     int           `json:"more"`          // that fit and are not listed, as far as was counted
	AtLeast  bool          `json:"more_at_least"` // there may be still more of them
	// LookedFor tells of each word as what it was looked for.
	LookedFor []string `json:"looked_for"`
	Last      string   `json:"-"` // of a page: the last picture that was looked at, "" where none is left
}

const (
	listed   = 50  // how many a list shows without --all
	page     = 200 // kept views read at a time
	countFor = 400 // how many pictures more are looked at, only to say how many more there are

	narrowFrom = 300 // pictures looked at before the rest is searched for the texts that a picture must hold

	mostLooked = 1000 // pictures looked at for one page
	causeLook  = 25   // as many of them as finding causes for one takes
)

// Pictures lists the pictures that fit a filter at the snapshot's moment, by falling number, the latest 50 of them unless
// all are asked for.
//
// Errors: a *Refusal where the session, box or bath is not there.
func Pictures(snap *snapshot.Snapshot, f PictureFilter) (PicturesReport, error) {
	out := PicturesReport{Pictures: []PictureLine{}, LookedFor: []string{}}
	slow := f.Cause != ""
	for _, t := range f.Terms {
		out.LookedFor = append(out.LookedFor, t.Says())
		slow = slow || t.Cause != ""
	}
	walk, err := candidates(snap, f)
	if err != nil {
		return out, err
	}
	if f.Page > 0 {
		return out.page(snap, f, slow, walk.next)
	}
	m := newMatcher(snap, f)
	walk.narrow = m.texts
	for looked := 0; ; {
		views, err := walk.next()
		if err != nil || len(views) == 0 {
			return out, err
		}
	page:
		for _, v := range views {
			full := !f.All && len(out.Pictures) >= listed
			if full {
				if looked++; looked > countFor {
					out.AtLeast = true
					return out, nil
				}
			}
			line, ok, err := m.match(v)
			if err != nil {
				return out, err
			}
			switch {
			case !ok:
			case !full:
				if out.Pictures = append(out.Pictures, line); !f.All && len(out.Pictures) == listed && walk.widen(v) {
					break page // what comes behind is counted, whatever it holds
				}
			default:
				out.More++
				if slow { // finding causes is slow: that there are more is enough
					out.AtLeast = true
					return out, nil
				}
			}
		}
	}
}

// page lists the pictures of one page; slow says that causes have to be found for each. Two pictures of one number, as a
// joined book may have, stand on one page.
func (out PicturesReport) page(snap *snapshot.Snapshot, f PictureFilter, slow bool, next func() ([]events.View, error)) (PicturesReport, error) {
	m, before := newMatcher(snap, f), rankOf(f.Before)
	looked, rank := 0, int64(-1)
	for {
		views, err := next()
		if err != nil {
			return out, err
		}
		if len(views) == 0 {
			out.Last = ""
			return out, nil
		}
		for _, v := range views {
			if f.Before != "" && v.Rank >= before {
				continue
			}
			if v.Rank != rank && (len(out.Pictures) >= f.Page || looked >= mostLooked) {
				return out, nil
			}
			line, ok, err := m.match(v)
			if err != nil {
				return out, err
			}
			if ok {
				out.Pictures = append(out.Pictures, line)
			}
			if looked++; slow {
				looked += causeLook - 1
			}
			rank, out.Last = v.Rank, v.Entity.Name
		}
	}
}

func newMatcher(snap *snapshot.Snapshot, f PictureFilter) *matcher {
	return &matcher{d: snap, f: f, words: strings.Fields(strings.ToLower(f.Text)), subject: strings.ToLower(f.Subject), places: map[string]string{}}
}

// rankOf is where a picture stands among all by its number.
func rankOf(picture string) int64 {
	year, n, _ := events.PictureNumber(picture)
	return int64(year)*ranksPerYear + int64(n)
}

// candidates gives the pictures that may fit, by falling number, page by page: those that the acts of the session, box,
// bath or sitter belong to, else all of them.
func candidates(snap *snapshot.Snapshot, f PictureFilter) (*walk, error) {
	exposures := []events.Kind{events.SheetExposed, events.SheetReprinted}
	var q events.Query
	var err error
	var t events.Entity
	switch {
	case f.Session != "":
		t, err = snap.Entity(events.Session, f.Session)
		q = events.Query{Session: t.ID, Kinds: exposures}
	case f.Box != "":
		t, err = snap.Entity(events.Box, f.Box)
		q = events.Query{Box: t.ID, Kinds: exposures}
	case f.Bath != "":
		t, err = snap.Entity(events.Bath, f.Bath)
		q = events.Query{Bath: t.ID}
	case f.Sitter != "":
		var known bool
		if t, known, err = snap.R.Entity(f.Sitter); err == nil && !known {
			return &walk{}, nil
		}
		q = events.Query{Cites: t.ID}
	case f.Stored != "":
		q = events.Query{Kinds: []events.Kind{events.SheetStored}}
	default:
		return byNumber(snap, f), nil
	}
	if err != nil {
		return nil, err
	}
	acts, err := snap.Entries(q)
	if err != nil {
		return nil, err
	}
	views, err := viewsOf(snap, acts)
	return &walk{given: views}, err
}

// viewsOf gives the kept views of the pictures that acts belong to, by falling number.
func viewsOf(snap *snapshot.Snapshot, acts []events.Entry) ([]events.View, error) {
	var streams []events.Entity
	seen := map[string]bool{}
	for _, e := range acts {
		name := events.PlacesOf(e.Data).Stream.Name
		if seen[name] {
			continue
		}
		seen[name] = true
		t, ok, err := snap.R.Entity(name)
		if err != nil {
			return nil, err
		}
		if ok && t.Kind == events.Picture {
			streams = append(streams, t)
		}
	}
	out, err := snap.R.ViewsOf(streams)
	if err != nil {
		return nil, err
	}
	slices.SortStableFunc(out, func(a, b events.View) int { return cmp.Compare(b.Rank, a.Rank) })
	return out, nil
}

const ranksPerYear = 1_000_000_000

// walk goes through pictures by falling number.
type walk struct {
	given  []events.View // all of them; else those of the book by their number
	r      events.Reader
	q      events.ViewQuery
	more   bool // there may be
	looked int
	narrow func() ([][]string, error) // the texts of which a picture must hold some to fit; nil where it need not
	texts  [][]string
	behind *events.View // those before it were given already, and it
}

// byNumber goes through all pictures. Numbers go by the year of the act, so a span of time needs only the years around it.
func byNumber(snap *snapshot.Snapshot, f PictureFilter) *walk {
	q := events.ViewQuery{Kind: events.Picture, Limit: page}
	if !f.From.IsZero() {
		q.RankFrom = int64(f.From.Year()-1) * ranksPerYear
	}
	if !f.To.IsZero() {
		q.To = int64(f.To.Year()+2)*ranksPerYear - 1
	}
	if before := rankOf(f.Before); f.Before != "" && (q.To == 0 || before < q.To) {
		q.To = before
	}
	return &walk{r: snap.R, q: q, more: true}
}

// next gives the next of them, none where there are no more.
func (w *walk) next() ([]events.View, error) {
	views := w.given
	w.given = nil
	if !w.more {
		return views, nil
	}
	if w.looked >= narrowFrom && w.narrow != nil {
		var err error
		if w.texts, err = w.narrow(); err != nil {
			return nil, err
		}
		w.narrow = nil
	}
	var err error
	if len(w.texts) > 0 {
		views, err = w.r.ViewsHolding(w.q, w.texts)
	} else {
		views, err = w.r.Views(w.q)
	}
	if err != nil {
		return nil, err
	}
	if w.more = len(views) == w.q.Limit && views[len(views)-1].Rank > 0; w.more {
		// Joined books may have two pictures of one number; they come whole, or the next page would miss one.
		last := views[len(views)-1].Rank
		keep := len(views)
		for keep > 0 && views[keep-1].Rank == last {
			keep--
		}
		if keep == 0 {
			return nil, fmt.Errorf("more than %d pictures bear one number", page)
		}
		views, w.q.To = views[:keep], last
	}
	w.looked += len(views)
	if from := w.behind; from != nil {
		w.behind = nil
		views = slices.DeleteFunc(views, func(v events.View) bool { return v.Rank == from.Rank && v.Entity.ID >= from.Entity.ID })
	}
	if len(views) == 0 {
		return w.next()
	}
	return views, nil
}

// widen goes on behind a picture with all of them, whatever they hold; it is false where that is done already.
func (w *walk) widen(from events.View) bool {
	w.narrow = nil
	if len(w.texts) == 0 {
		return false
	}
	w.texts, w.more, w.q.To, w.behind = nil, true, from.Rank, &from
	return true
}

type matcher struct {
	d       *snapshot.Snapshot
	f       PictureFilter
	words   []string
	subject string
	places  map[string]string // of sessions
}

func (m *matcher) match(v events.View) (PictureLine, bool, error) {
	var line PictureLine
	st, ok, err := m.d.PictureState(v)
	if err != nil || !ok {
		return line, false, err
	}
	at, err := events.ParseTime(st.At)
	if err != nil || !m.d.AsOf.IsZero() && at.After(m.d.AsOf) {
		return line, false, err
	}
	f := m.f
	if f.Sitter != "" && st.Sitter != f.Sitter {
		if went, err := m.delivered(v, f.Sitter); err != nil || !went {
			return line, false, err
		}
	}
	if f.Stored != "" {
		if lies, err := m.stored(v); err != nil || !lies {
			return line, false, err
		}
	}
	if !f.From.IsZero() && at.Before(f.From) || !f.To.IsZero() && at.After(f.To) ||
		m.subject != "" && !strings.Contains(strings.ToLower(st.Subject), m.subject) {
		return line, false, nil
	}
	if f.Verdict != "" && !anySheet(st, func(s snapshot.SheetState) bool { return s.Verdict == f.Verdict }) ||
		f.Symptom != "" && !anySheet(st, func(s snapshot.SheetState) bool { return slices.Contains(s.Symptoms, f.Symptom) }) {
		return line, false, nil
	}
	if ok, err := m.elsewhere(v); err != nil || !ok {
		return line, false, err
	}
	place, err := m.placeOf(st.Session)
	if err != nil {
		return line, false, err
	}
	text := ""
	if len(m.words) > 0 || len(f.Terms) > 0 {
		text = strings.ToLower(strings.Join([]string{v.Entity.Name, st.Subject, place, st.Words}, "\n"))
	}
	if !holdsAll(text, m.words) {
		return line, false, nil
	}
	for _, t := range f.Terms {
		if ok, err := m.fits(t, v.Entity.Name, st, text); err != nil || !ok {
			return line, false, err
		}
	}
	if f.Cause != "" {
		if ok, err := m.causedBy(f.Cause, v.Entity.Name); err != nil || !ok {
			return line, false, err
		}
	}
	return pictureLine(v.Entity.Name, st, place), true, nil
}

// texts are those of which a picture must hold some to fit: of each list one. There are none where not the kept views tell.
func (m *matcher) texts() (out [][]string, err error) {
	if ahead, err := m.d.Ahead(); ahead || err != nil {
		return nil, err
	}
	f := m.f
	for _, text := range []string{m.subject, f.Verdict, f.Symptom} {
		if text != "" {
			out = append(out, []string{text})
		}
	}
	for _, w := range m.words {
		if out, err = m.mustHold(out, w); err != nil {
			return nil, err
		}
	}
	for _, t := range f.Terms {
		if t.Cause != "" || len(t.Texts) == 0 {
			continue
		}
		also := t.Symptoms
		if t.Verdict != "" {
			also = append(slices.Clone(also), t.Verdict)
		}
		if out, err = m.mustHold(out, t.Texts[0], also...); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// mustHold adds that a picture must hold a word or else one of some others, unless the word may stand in its number, or in the
// place of its session.
func (m *matcher) mustHold(out [][]string, word string, others ...string) ([][]string, error) {
	if strings.Trim(word, "0123456789-@") == "" {
		return out, nil
	}
	list := append([]string{word}, others...)
	places, err := m.d.R.ViewsHolding(events.ViewQuery{Kind: events.Session, Limit: 1}, [][]string{{word}})
	if err != nil || len(places) > 0 {
		return out, err
	}
	return append(out, list), nil
}

func holdsAll(text string, words []string) bool {
	return !slices.ContainsFunc(words, func(w string) bool { return !strings.Contains(text, w) })
}

// holdsWord says whether a text holds some words with no letter right before or behind them.
func holdsWord(text, words string) bool {
	for {
		before, behind, ok := strings.Cut(text, words)
		if !ok {
			return false
		}
		last, _ := utf8.DecodeLastRuneInString(before)
		next, _ := utf8.DecodeRuneInString(behind)
		if !unicode.IsLetter(last) && !unicode.IsLetter(next) {
			return true
		}
		text = behind
	}
}

// fits holds a picture against one term; a cause is looked for last, since that takes long.
func (m *matcher) fits(t Term, picture string, st snapshot.PictureState, text string) (bool, error) {
	held := holdsAll(text, t.Texts)
	if t.Symptoms != nil || t.Verdict != "" || t.Cause != "" { // thin is no part of a thing
		held = held && holdsWord(text, t.Word)
	}
	if held || anySheet(st, func(s snapshot.SheetState) bool {
		return t.Verdict != "" && s.Verdict == t.Verdict || slices.ContainsFunc(t.Symptoms, func(x string) bool { return slices.Contains(s.Symptoms, x) })
	}) {
		return true, nil
	}
	if t.Cause == "" {
		return false, nil
	}
	return m.causedBy(t.Cause, picture)
}

func (m *matcher) causedBy(cause, picture string) (bool, error) {
	if m.f.Causes == nil {
		return false, nil
	}
	causes, err := m.f.Causes(picture)
	return slices.Contains(causes, cause), err
}

func anySheet(st snapshot.PictureState, is func(snapshot.SheetState) bool) bool {
	return slices.ContainsFunc(st.Sheets, is)
}

// elsewhere holds a picture against those of session, box and bath that the candidates were not chosen by.
func (m *matcher) elsewhere(v events.View) (bool, error) {
	f := m.f
	if f.Session != "" && (f.Box != "" || f.Bath != "") || f.Box != "" && f.Bath != "" {
		p, err := m.d.PictureOf(v.Entity)
		if err != nil {
			return false, err
		}
		uses := func(is func(events.Places) bool) bool {
			return slices.ContainsFunc(p.All, func(e events.Entry) bool { return is(events.PlacesOf(e.Data)) })
		}
		if f.Box != "" && !uses(func(x events.Places) bool { return x.Box == f.Box }) ||
			f.Bath != "" && !uses(func(x events.Places) bool { return x.Bath == f.Bath }) {
			return false, nil
		}
	}
	return true, nil
}

// delivered says whether a sheet of the picture went to a sitter who is not the one on it.
func (m *matcher) delivered(v events.View, sitter string) (bool, error) {
	p, err := m.d.PictureOf(v.Entity)
	if err != nil {
		return false, err
	}
	return slices.ContainsFunc(p.All, func(e events.Entry) bool {
		x, ok := e.Data.(*events.SheetDeliveredData)
		return ok && x.To == sitter
	}), nil
}

// stored says whether a sheet of the picture is kept in a place of the words that are looked for; the place given last counts.
func (m *matcher) stored(v events.View) (bool, error) {
	p, err := m.d.PictureOf(v.Entity)
	if err != nil {
		return false, err
	}
	where := map[string]string{}
	for _, e := range p.All {
		if x, ok := e.Data.(*events.SheetStoredData); ok {
			where[x.Sheet] = strings.ToLower(x.Where)
		}
	}
	words := strings.ToLower(strings.Join(strings.Fields(m.f.Stored), " "))
	for _, place := range where {
		if strings.Contains(place, words) {
			return true, nil
		}
	}
	return false, nil
}

func (m *matcher) placeOf(session string) (string, error) {
	if session == "" {
		return "", nil
	}
	if p, known := m.places[session]; known {
		return p, nil
	}
	t, ok, err := m.d.R.Entity(session)
	if err != nil || !ok {
		return "", err
	}
	v, ok, err := m.d.R.View(t)
	if err != nil || !ok {
		return "", err
	}
	st, err := snapshot.ReadStream(v)
	m.places[session] = st.Place
	return st.Place, err
}

func pictureLine(name string, st snapshot.PictureState, place string) PictureLine {
	l := PictureLine{Picture: name, Subject: orNil(st.Subject), Session: orNil(st.Session), Place: orNil(place), Sitter: orNil(st.Sitter), At: st.At,
		Sheets: []PictureSheet{}}
	for _, s := range st.Sheets {
		if s.Part != "n" {
			l.Prints++
		}
		x := PictureSheet{Sheet: events.Sheet(name, s.Part), Box: orNil(s.Box), State: orNil(s.State), Verdict: orNil(s.Verdict),
			Symptoms: append([]string{}, s.Symptoms...)}
		if s.F > 0 {
			x.F = new(s.F)
		}
		if s.TimeS > 0 {
			x.TimeS = new(s.TimeS)
		}
		l.Sheets = append(l.Sheets, x)
	}
	return l
}
