package report

import (
	"cmp"
	"encoding/json"
	"slices"
	"strings"

	"traybook/events"
	"traybook/projections/acts"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// EntryLine is one entry as look-backs tell it.
type EntryLine struct {
	ID             string            `json:"id"`
	Kind           string            `json:"kind"`
	At             string            `json:"at"` // as written
	Text           string            `json:"text"`
	CalledForS     *float64          `json:"called_for_s"`    // seconds; null where nothing serves, or it is no act with a time
	LowS           *float64          `json:"low_s"`           // bounds within which it is known; null where nothing is known of them
	HighS          *float64          `json:"high_s"`          // upper bound; null where nothing is known of them
	DoneS          *float64          `json:"done_s"`          // null where it is no act with a time
	DeviationStops *float64          `json:"deviation_stops"` // log2(done ÷ called-for); of a fixing or a wash, all up to this one together
	Before         float64           `json:"-"`               // what earlier fixings, or washes since the last one, gave as a share of what they called for
	ServedBy       *string           `json:"served_by"`       // the reading or the earlier exposure that the called-for time comes from
	ServedText     *string           `json:"served_text"`     // the same in words
	Warnings       []wording.Warning `json:"warnings"`
	Amended        []string          `json:"amended"`  // ids of the amendments that count
	Void           *string           `json:"void"`     // id of the void that took it back
	VoidWhy        *string           `json:"void_why"` // what was said with it
}

// SheetHistory is one sheet with everything done to it.
type SheetHistory struct {
	Sheet          string      `json:"sheet"`
	Generation     string      `json:"generation"`
	Box            *string     `json:"box"`
	State          *string     `json:"state"`
	Verdict        *string     `json:"verdict"`
	Symptoms       []string    `json:"symptoms"`
	CalledForS     *float64    `json:"called_for_s"`    // of its exposure
	DoneS          *float64    `json:"done_s"`          // of its exposure; null where it has none
	DeviationStops *float64    `json:"deviation_stops"` // log2(done ÷ called-for); null where either is not known
	Entries        []EntryLine `json:"entries"`
}

// PictureHistory is a picture with its sheets, the negative first, entries oldest first.
type PictureHistory struct {
	Picture string         `json:"picture"`
	Subject *string        `json:"subject"`
	Session *string        `json:"session"`
	Sitter  *string        `json:"sitter"`
	Entries []EntryLine    `json:"entries"` // of no single sheet
	Sheets  []SheetHistory `json:"sheets"`
}

// EntityHistory is everything about a box, a bath, a session, a camera, a holder, a strip or a sitter, oldest first.
type EntityHistory struct {
	About   string      `json:"about"`
	Kind    string      `json:"kind"`
	Earlier bool        `json:"earlier"` // entries before these were left out
	Entries []EntryLine `json:"entries"`
}

// History is what happened to one thing: of a picture or sheet Picture is set, of anything else Thing.
type History struct {
	Picture *PictureHistory
	Entity  *EntityHistory
}

// MarshalJSON writes the one that is set.
func (h History) MarshalJSON() ([]byte, error) {
	if h.Picture != nil {
		return json.Marshal(h.Picture)
	}
	return json.Marshal(h.Entity)
}

// recentEntries is how many entries the history of the book itself shows.
const recentEntries = 20

// HistoryOf tells everything about a picture, a sheet or any other thing by its name, or about the thing that an entry
// belongs to by four or more digits of its id. With all the voided entries stand in their places, marked. An empty
// name is the book itself: the entries written of late.
//
// Errors: a *Refusal where nothing bears the name, or nothing of it counts.
func HistoryOf(snap *snapshot.Snapshot, name string, all bool) (History, error) {
	if name == "" || name == events.BookEntity {
		h, err := bookHistory(snap, all)
		return History{Entity: h}, err
	}
	t, part, err := named(snap, name)
	if err != nil {
		return History{}, err
	}
	switch t.Kind {
	case events.Picture:
		h, err := pictureHistory(snap, t, part, all)
		return History{Picture: h}, err
	case events.Book:
		h, err := bookHistory(snap, all)
		return History{Entity: h}, err
	}
	h, err := entityHistory(snap, t, all)
	return History{Entity: h}, err
}

var onlyNamed = wording.Refuses("only-named", "nothing is written of {sitter} yet, beyond name and contact", "`traybook sitter list` shows these; expose --sitter {sitter} names a sitter")

// named finds the thing that a name, a sheet or an entry's id means. part is the sheet's, "" for none.
func named(snap *snapshot.Snapshot, name string) (t events.Entity, part string, err error) {
	t, ok, err := snap.R.Entity(name)
	if ok || err != nil {
		return t, "", err
	}
	if pic, part, ok := events.SplitSheet(name); ok {
		t, err := snap.Entity(events.Picture, pic)
		return t, part, err
	}
	if lower := strings.ToLower(name); lower != name {
		return named(snap, lower)
	}
	e, err := acts.Entry(snap, name)
	if err == nil {
		t, err = snap.R.StreamOf(e.ID)
		return t, "", err
	}
	if no := wording.RefusalIn(err); no == nil || no.Of != acts.NoEntry {
		return t, "", err // the digits fit several, or the book could not be read
	}
	if known, err := acts.KnowsSitter(snap, events.Ref{Kind: events.Sitter, Name: name}); known || err != nil {
		if err == nil {
			err = onlyNamed.Refuse(name)
		}
		return t, "", err
	}
	return t, "", snapshot.NothingCalled.Refuse(name)
}

func pictureHistory(snap *snapshot.Snapshot, t events.Entity, part string, all bool) (*PictureHistory, error) {
	p, err := snap.PictureOf(t)
	if err != nil {
		return nil, err
	}
	entries := p.All
	if all {
		if entries, err = snap.StreamAll(t); err != nil {
			return nil, err
		}
	}
	if len(entries) == 0 {
		return nil, snap.NothingOf(t)
	}
	h := &PictureHistory{Picture: t.Name, Subject: orNil(p.Subject), Session: orNil(p.Session), Sitter: orNil(p.Sitter),
		Entries: []EntryLine{}, Sheets: []SheetHistory{}}
	at := map[string]int{}
	sheets := slices.Clone(p.Sheets)
	for _, e := range entries { // sheets of which nothing counts any more
		if of := snapshot.PartOf(e.Data); of != "" && !slices.ContainsFunc(sheets, func(s *snapshot.Sheet) bool { return s.Part == of }) {
			s := &snapshot.Sheet{Name: events.Sheet(t.Name, of), Part: of, Generation: snapshot.Positive}
			if of == "n" {
				s.Generation = snapshot.Negative
			}
			sheets = append(sheets, s)
		}
	}
	for _, s := range sheets {
		if part != "" && s.Part != part {
			continue
		}
		line, err := sheetHistory(snap, s)
		if err != nil {
			return nil, err
		}
		at[s.Part] = len(h.Sheets)
		h.Sheets = append(h.Sheets, line)
	}
	if part != "" && !has(at, part) {
		return nil, snapshot.NoSuchSheet.Refuse(events.Sheet(t.Name, part), t.Name)
	}
	for _, e := range entries {
		of := snapshot.PartOf(e.Data)
		if part != "" && of != "" && of != part {
			continue
		}
		line, err := line(snap, e)
		if err != nil {
			return nil, err
		}
		if of == "" {
			h.Entries = append(h.Entries, line)
			continue
		}
		s := &h.Sheets[at[of]]
		if line.Void == nil {
			if err := hold(snap, p, e, &line, s); err != nil {
				return nil, err
			}
		}
		s.Entries = append(s.Entries, line)
	}
	return h, nil
}

func has[V any](m map[string]V, key string) bool { _, ok := m[key]; return ok }

// sheetHistory begins the history of a sheet. A direct positive is a positive.
func sheetHistory(snap *snapshot.Snapshot, s *snapshot.Sheet) (SheetHistory, error) {
	h := SheetHistory{Sheet: s.Name, Generation: s.Generation, Box: orNil(s.Box), State: orNil(s.State), Symptoms: []string{}, Entries: []EntryLine{}}
	if v := s.Verdict(); v != nil {
		h.Verdict = &v.Verdict
		h.Symptoms = append(h.Symptoms, v.Symptoms...)
	}
	if s.Generation != snapshot.Negative || s.Box == "" {
		return h, nil
	}
	b, err := wording.IgnoreMissing(snap.Box(s.Box))
	if s.Positive(b) {
		h.Generation = snapshot.Positive
	}
	return h, err
}

// hold holds an act on a sheet against what it called for, and says what several acts add up to.
func hold(snap *snapshot.Snapshot, p *snapshot.Picture, e events.Entry, line *EntryLine, h *SheetHistory) error {
	step, err := calledfor.StepOf(snap, p, e)
	if err != nil {
		return err
	}
	line.CalledForS, line.DoneS, line.DeviationStops, line.Before = step.CalledForS, step.DoneS, step.DeviationStops, step.Before
	line.LowS, line.HighS = step.Bounds()
	line.Warnings = append(line.Warnings, step.Warnings...)
	if step.Serving != nil {
		line.ServedBy, line.ServedText = new(step.Serving.ID.String()), new(snap.Sentence(*step.Serving))
	}
	s := p.Sheet(snapshot.PartOf(e.Data))
	switch e.Kind {
	case events.SheetExposed, events.SheetReprinted:
		if s.Exposure().ID == e.ID {
			h.CalledForS, h.DoneS, h.DeviationStops = step.CalledForS, step.DoneS, step.DeviationStops
		}
	case events.SheetFixed:
		line.Text += calledfor.FixedInAll(s, e)
	case events.SheetWashed:
		text, err := calledfor.WashLeaves(snap, s, e)
		if err != nil {
			return err
		}
		line.Text += text
	}
	return nil
}

// line tells one entry, without what it called for.
func line(snap *snapshot.Snapshot, e events.Entry) (EntryLine, error) {
	l := EntryLine{ID: e.ID.String(), Kind: string(e.Kind), At: events.FormatTime(e.At), Text: snap.Sentence(e), Warnings: []wording.Warning{}, Amended: []string{}}
	for _, a := range e.Amended {
		l.Amended = append(l.Amended, a.String())
	}
	if e.Voided.IsZero() {
		return l, nil
	}
	l.Void = new(e.Voided.String())
	found, err := snap.R.Find(e.Voided.String())
	if err != nil {
		return l, err
	}
	for _, v := range found {
		if x, ok := v.Data.(*events.EntryVoidedData); ok {
			l.VoidWhy = orNil(x.Why)
		}
	}
	return l, nil
}

func entityHistory(snap *snapshot.Snapshot, t events.Entity, all bool) (*EntityHistory, error) {
	queries := []events.Query{{Stream: t.ID}, {Cites: t.ID}}
	switch t.Kind {
	case events.Box:
		queries = append(queries, events.Query{Box: t.ID})
	case events.Bath:
		queries = append(queries, events.Query{Bath: t.ID})
	case events.Session:
		queries = append(queries, events.Query{Session: t.ID})
	}
	var raw []events.Entry
	for _, q := range queries {
		found, err := snap.R.Entries(q)
		if err != nil {
			return nil, err
		}
		raw = append(raw, found...)
	}
	h := &EntityHistory{About: t.Name, Kind: string(t.Kind)}
	if err := tell(snap, h, raw, all); err != nil {
		return nil, err
	}
	if len(h.Entries) == 0 {
		return nil, snap.NothingOf(t)
	}
	return h, nil
}

func tell(snap *snapshot.Snapshot, h *EntityHistory, raw []events.Entry, all bool) error {
	fold := events.Fold
	if all {
		fold = events.FoldAll
	}
	h.Entries = []EntryLine{}
	entries := snap.Fold(raw, fold)
	if !all {
		entries = snapshot.WithoutEnded(entries)
	}
	for _, e := range entries {
		if h.Kind == string(events.Sitter) && !snapshot.StillShows(e, h.About) {
			continue
		}
		line, err := line(snap, e)
		if err != nil {
			return err
		}
		h.Entries = append(h.Entries, line)
	}
	return nil
}

// bookHistory is the entries written last, of whatever stream and whenever it happened, in the order of writing. At a
// moment of the past it is those of the latest acts until then.
func bookHistory(snap *snapshot.Snapshot, all bool) (*EntityHistory, error) {
	q := events.Query{Written: true, Limit: 2 * recentEntries} // some of them mend others and do not show
	if !snap.AsOf.IsZero() {
		q = events.Query{Newest: true, Limit: q.Limit, To: snap.AsOf}
	}
	raw, err := snap.R.Entries(q)
	if err != nil {
		return nil, err
	}
	// A void or an amendment in what was found names an entry that may lie before it: that one is left to its own history.
	h := &EntityHistory{About: "the book", Kind: string(events.Book), Earlier: len(raw) >= q.Limit}
	if err := tell(snap, h, raw, all); err != nil {
		return nil, err
	}
	rows := map[string]int64{}
	for _, e := range raw {
		rows[e.ID.String()] = e.Seq
	}
	slices.SortStableFunc(h.Entries, func(a, b EntryLine) int { return cmp.Compare(rows[a.ID], rows[b.ID]) })
	if n := len(h.Entries); n > recentEntries {
		h.Entries, h.Earlier = h.Entries[n-recentEntries:], true
	}
	return h, nil
}

func orNil(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}
