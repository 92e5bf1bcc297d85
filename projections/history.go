package projections

import (
	"encoding/json"
	"errors"
	"fmt"
	"strings"

	"traybook/calc"
	"traybook/events"
)

// EntryLine is one entry as look-backs tell it.
type EntryLine struct {
	ID             string   `json:"id"`
	Kind           string   `json:"kind"`
	At             string   `json:"at"` // as written
	Text           string   `json:"text"`
	CalledForS     *float64 `json:"called_for_s"` // seconds; null where nothing serves, or it is no act with a time
	DoneS          *float64 `json:"done_s"`
	DeviationStops *float64 `json:"deviation_stops"` // log2(done ÷ called-for); of a fixing or a wash, all up to this one together
	Before         float64  `json:"-"`               // what earlier fixings, or washes since the last one, gave as a share of what they called for
	ServedBy       *string  `json:"served_by"`       // the reading or the earlier exposure that the called-for time comes from
	ServedText     *string  `json:"served_text"`
	Warnings       []string `json:"warnings"`
	Amended        []string `json:"amended"`  // ids of the amendments that count
	Void           *string  `json:"void"`     // id of the void that took it back
	VoidWhy        *string  `json:"void_why"` // what was said with it
}

// SheetHistory is one sheet with everything done to it.
type SheetHistory struct {
	Sheet          string      `json:"sheet"`
	Generation     string      `json:"generation"`
	Box            *string     `json:"box"`
	State          *string     `json:"state"`
	Verdict        *string     `json:"verdict"`
	Symptoms       []string    `json:"symptoms"`
	CalledForS     *float64    `json:"called_for_s"` // of its exposure
	DoneS          *float64    `json:"done_s"`
	DeviationStops *float64    `json:"deviation_stops"`
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

// ThingHistory is everything about a box, a bath, a session, a camera, a holder, a strip or a sitter, oldest first.
type ThingHistory struct {
	About   string      `json:"about"`
	Kind    string      `json:"kind"`
	Earlier bool        `json:"earlier"` // entries before these were left out
	Entries []EntryLine `json:"entries"`
}

// History is what happened to one thing: of a picture or sheet Picture is set, of anything else Thing.
type History struct {
	Picture *PictureHistory
	Thing   *ThingHistory
}

// MarshalJSON writes the one that is set.
func (h History) MarshalJSON() ([]byte, error) {
	if h.Picture != nil {
		return json.Marshal(h.Picture)
	}
	return json.Marshal(h.Thing)
}

// recentEntries is how many entries the history of the book itself shows.
const recentEntries = 20

// History tells everything about a picture, a sheet or any other thing by its name, or about the thing that an entry
// belongs to by four or more digits of its id. With all the voided entries stand in their places, marked. An empty
// name is the book itself: the entries written of late.
//
// Errors: a *Refusal where nothing bears the name, or nothing of it counts.
func (d *Desk) History(name string, all bool) (History, error) {
	if name == "" || name == events.BookThing {
		h, err := d.bookHistory(all)
		return History{Thing: h}, err
	}
	t, part, err := d.named(name)
	if err != nil {
		return History{}, err
	}
	switch t.Kind {
	case events.Picture:
		h, err := d.pictureHistory(t, part, all)
		return History{Picture: h}, err
	case events.Book:
		h, err := d.bookHistory(all)
		return History{Thing: h}, err
	}
	h, err := d.thingHistory(t, all)
	return History{Thing: h}, err
}

// named finds the thing that a name, a sheet or an entry's id means. part is the sheet's, "" for none.
func (d *Desk) named(name string) (t events.Thing, part string, err error) {
	t, ok, err := d.R.Thing(name)
	if ok || err != nil {
		return t, "", err
	}
	if pic, part, ok := events.SplitSheet(name); ok {
		t, err := d.thing(events.Picture, pic)
		return t, part, err
	}
	if lower := strings.ToLower(name); lower != name {
		return d.named(lower)
	}
	e, err := d.Entry(name)
	if err == nil {
		t, err = d.R.HomeOf(e.ID)
		return t, "", err
	}
	var no *Refusal
	if !errors.As(err, &no) || !strings.HasPrefix(no.Text, "there is no entry") {
		return t, "", err // the digits fit several, or the book could not be read
	}
	if known, err := d.knowsSitter(events.Ref{Kind: events.Sitter, Name: name}); known || err != nil {
		if err == nil {
			err = &Refusal{Text: "nothing is written of " + name + " yet, beyond name and contact", Hint: "`traybook sitter list` shows these; expose --sitter " + name + " names a sitter"}
		}
		return t, "", err
	}
	return t, "", &Refusal{Text: fmt.Sprintf("nothing is called %q", name),
		Hint: whatThereIs}
}

func (d *Desk) pictureHistory(t events.Thing, part string, all bool) (*PictureHistory, error) {
	p, err := d.pictureOf(t)
	if err != nil {
		return nil, err
	}
	entries := p.All
	if all {
		if entries, err = d.HomeAll(t); err != nil {
			return nil, err
		}
	}
	if len(entries) == 0 {
		return nil, d.nothingOf(t)
	}
	h := &PictureHistory{Picture: t.Name, Subject: orNil(p.Subject), Session: orNil(p.Session), Sitter: orNil(p.Sitter),
		Entries: []EntryLine{}, Sheets: []SheetHistory{}}
	at := map[string]int{}
	sheet := func(s *Sheet) {
		if part != "" && s.Part != part {
			return
		}
		at[s.Part] = len(h.Sheets)
		h.Sheets = append(h.Sheets, sheetHistory(s))
	}
	for _, s := range p.Sheets {
		sheet(s)
	}
	for _, e := range entries { // sheets of which nothing counts any more
		if of := partOf(e.Data); of != "" && p.Sheet(of) == nil && !has(at, of) {
			s := &Sheet{Name: events.Sheet(t.Name, of), Part: of, Generation: Positive}
			if of == "n" {
				s.Generation = Negative
			}
			sheet(s)
		}
	}
	if part != "" && !has(at, part) {
		return nil, &Refusal{Text: fmt.Sprintf("there is no sheet %s", events.Sheet(t.Name, part)),
			Hint: fmt.Sprintf("`traybook history %s` shows what there is", t.Name)}
	}
	for _, e := range entries {
		of := partOf(e.Data)
		if part != "" && of != "" && of != part {
			continue
		}
		line, err := d.line(e)
		if err != nil {
			return nil, err
		}
		if of == "" {
			h.Entries = append(h.Entries, line)
			continue
		}
		s := &h.Sheets[at[of]]
		if line.Void == nil {
			if err := d.hold(p, e, &line, s); err != nil {
				return nil, err
			}
		}
		s.Entries = append(s.Entries, line)
	}
	return h, nil
}

func has[V any](m map[string]V, key string) bool { _, ok := m[key]; return ok }

func sheetHistory(s *Sheet) SheetHistory {
	h := SheetHistory{Sheet: s.Name, Generation: s.Generation, Box: orNil(s.Box), State: orNil(s.State), Symptoms: []string{}, Entries: []EntryLine{}}
	if v := s.Verdict(); v != nil {
		h.Verdict = &v.Verdict
		h.Symptoms = append(h.Symptoms, v.Symptoms...)
	}
	return h
}

// hold holds an act on a sheet against what it called for, and says what several acts add up to.
func (d *Desk) hold(p *Picture, e events.Entry, line *EntryLine, h *SheetHistory) error {
	step, err := d.Step(p, e)
	if err != nil {
		return err
	}
	line.CalledForS, line.DoneS, line.DeviationStops, line.Before = step.CalledForS, step.DoneS, step.DeviationStops, step.Before
	line.Warnings = append(line.Warnings, step.Warnings...)
	if step.Serving != nil {
		line.ServedBy, line.ServedText = new(step.Serving.ID.String()), new(d.Sentence(*step.Serving))
	}
	s := p.Sheet(partOf(e.Data))
	switch e.Kind {
	case events.SheetExposed, events.SheetReprinted:
		if s.Exposure().ID == e.ID {
			h.CalledForS, h.DoneS, h.DeviationStops = step.CalledForS, step.DoneS, step.DeviationStops
		}
	case events.SheetFixed:
		line.Text += fixedInAll(s, e)
	case events.SheetWashed:
		text, err := d.washLeaves(s, e)
		if err != nil {
			return err
		}
		line.Text += text
	}
	return nil
}

// fixedInAll says what the fixings of a sheet up to this one add up to.
func fixedInAll(s *Sheet, e events.Entry) string {
	n, sum := 0, 0.0
	for _, f := range s.Fixed {
		n++
		sum += f.Data.(*events.SheetFixedData).TimeS
		if f.ID == e.ID {
			break
		}
	}
	if n < 2 {
		return ""
	}
	return fmt.Sprintf("; %d fixings add: %s in all", n, Seconds(sum))
}

// washLeaves says what is left in a sheet after this wash and the ones before it, and what the figure is worth.
func (d *Desk) washLeaves(s *Sheet, e events.Entry) (string, error) {
	r, err := d.WashOf(s.upTo(e))
	var off *calc.RangeError
	if refused(err) || errors.As(err, &off) {
		return "", nil // the box is gone, or the figures are beyond the model
	}
	if err != nil || r.Residual == 0 || s.Exposure() == nil {
		return "", err
	}
	text := "; by reckoning less than 0.01 % of the hypo is left"
	if r.Residual >= 1e-4 {
		text = fmt.Sprintf("; by reckoning %s %% of the hypo is left, %s g/m²", Number(r.Residual*100), Number(r.GPerM2))
	}
	if r.Short {
		text += ", short"
	}
	return text + " (a model, no test; the limit of " + Number(calc.WashLimit) + " g/m² was set for film)", nil
}

// line tells one entry, without what it called for.
func (d *Desk) line(e events.Entry) (EntryLine, error) {
	l := EntryLine{ID: e.ID.String(), Kind: string(e.Kind), At: events.FormatTime(e.At), Text: d.Sentence(e), Warnings: []string{}, Amended: []string{}}
	for _, a := range e.Amended {
		l.Amended = append(l.Amended, a.String())
	}
	if e.Voided.IsZero() {
		return l, nil
	}
	l.Void = new(e.Voided.String())
	found, err := d.R.Find(e.Voided.String())
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

func (d *Desk) thingHistory(t events.Thing, all bool) (*ThingHistory, error) {
	queries := []events.Query{{Home: t.ID}, {Cites: t.ID}}
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
		found, err := d.R.Entries(q)
		if err != nil {
			return nil, err
		}
		raw = append(raw, found...)
	}
	h := &ThingHistory{About: t.Name, Kind: string(t.Kind)}
	if err := d.tell(h, raw, all); err != nil {
		return nil, err
	}
	if len(h.Entries) == 0 {
		return nil, d.nothingOf(t)
	}
	return h, nil
}

func (d *Desk) tell(h *ThingHistory, raw []events.Entry, all bool) error {
	fold := events.Fold
	if all {
		fold = events.FoldAll
	}
	h.Entries = []EntryLine{}
	for _, e := range d.fold(raw, fold) {
		line, err := d.line(e)
		if err != nil {
			return err
		}
		h.Entries = append(h.Entries, line)
	}
	return nil
}

// bookHistory is the entries of the latest acts, of whatever home.
func (d *Desk) bookHistory(all bool) (*ThingHistory, error) {
	q := events.Query{Newest: true, Limit: 2 * recentEntries} // some of them mend others and do not show
	if !d.AsOf.IsZero() {
		q.To = d.AsOf
	}
	raw, err := d.R.Entries(q)
	if err != nil {
		return nil, err
	}
	// A void or an amendment in what was found names an entry that may lie before it: that one is left to its own history.
	h := &ThingHistory{About: "the book", Kind: string(events.Book), Earlier: len(raw) >= q.Limit}
	if err := d.tell(h, raw, all); err != nil {
		return nil, err
	}
	if n := len(h.Entries); n > recentEntries {
		h.Entries, h.Earlier = h.Entries[n-recentEntries:], true
	}
	return h, nil
}

const whatThereIs = "`traybook pictures`, `stock`, `baths` and `sessions` list what there is"

// nothingOf refuses to tell of a thing of which nothing counts.
func (d *Desk) nothingOf(t events.Thing) error {
	all, err := d.HomeAll(t)
	if err != nil {
		return err
	}
	if len(all) > 0 {
		return &Refusal{Text: fmt.Sprintf("every entry of %s was voided", t.Name), Hint: "`traybook history " + t.Name + " --all` shows them"}
	}
	if d.AsOf.IsZero() {
		return &Refusal{Text: fmt.Sprintf("nothing is written of %s", t.Name), Hint: whatThereIs}
	}
	return &Refusal{Text: fmt.Sprintf("nothing was written of %s by %s", t.Name, clockOf(d.AsOf)), Hint: "give a later --as-of, or leave it out"}
}

func orNil(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}
