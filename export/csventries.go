package export

import (
	"cmp"
	"encoding/json"
	"slices"
	"strings"
	"time"

	"traybook/events"
	"traybook/export/sheetcsv"
)

// entryRow is one entry as it counts.
type entryRow struct {
	e      events.Entry
	places events.Places
	counts string
	text   string
	data   string
}

var entriesTable = table[entryRow]{
	name: "entries", key: []string{"hash"},
	says: "One record for each entry ever written, in the order in which this book took it in, voided and amending ones included. " +
		"An id that two joined books both hold stands here twice. The exact form of an entry is its line in events.ndjson.",
	columns: []column[entryRow]{
		{"id", sheetcsv.Text, "32 hex digits", func(r *entryRow) string { return r.e.ID.String() }},
		{"kind", sheetcsv.Text, "what sort of act or fact it records", func(r *entryRow) string { return string(r.e.Kind) }},
		{"at", sheetcsv.Time, "when the act began, amendments applied", func(r *entryRow) string { return moment(r.e.At) }},
		{"zone", sheetcsv.Text, "name of the time zone", func(r *entryRow) string { return r.e.Zone }},
		{"recorded_at", sheetcsv.Time, "when it was written down", func(r *entryRow) string { return moment(r.e.RecordedAt) }},
		{"counts", sheetcsv.Text, "yes, amended, or voided", func(r *entryRow) string { return r.counts }},
		{"about", sheetcsv.Text, "the one thing it belongs to: a picture, box, bath, session, camera …, or the entry it mends", func(r *entryRow) string {
			return cmp.Or(r.places.Stream.Name, r.places.Entry)
		}},
		{"sheet", sheetcsv.Text, "the sheet it is about", func(r *entryRow) string { return events.SheetOf(r.e.Data) }},
		{"session", sheetcsv.Text, "the session it belongs to", func(r *entryRow) string {
			if c := events.CarriedOf(r.e.Data); c != nil {
				return c.Session
			}
			return r.places.Session
		}},
		{"camera", sheetcsv.Text, "the camera it was done with", func(r *entryRow) string {
			if c := events.CarriedOf(r.e.Data); c != nil {
				return c.Camera
			}
			return FieldText(r.e.Data, "camera")
		}},
		{"box", sheetcsv.Text, "the box whose paper it used or is about", func(r *entryRow) string { return cmp.Or(r.places.Box, FieldText(r.e.Data, "box")) }},
		{"bath", sheetcsv.Text, "the bath it used or is about", func(r *entryRow) string { return cmp.Or(r.places.Bath, FieldText(r.e.Data, "bath")) }},
		{"text", sheetcsv.Text, "what it says in one line", func(r *entryRow) string { return r.text }},
		{"data", sheetcsv.Text, "its fields as JSON, amendments applied", func(r *entryRow) string { return r.data }},
		{"batch", sheetcsv.Text, "id of the import or group of acts it came with", func(r *entryRow) string {
			if r.e.Batch.IsZero() {
				return ""
			}
			return r.e.Batch.String()
		}},
		{"book", sheetcsv.Text, "the chain it belongs to", func(r *entryRow) string { return r.e.Book.String() }},
		{"book_seq", sheetcsv.Integer, "its place in the chain, from 1", func(r *entryRow) string { return count(int(r.e.BookSeq)) }},
		{"hash", sheetcsv.Text, "its hash over the one before", func(r *entryRow) string { return r.e.Hash.String() }},
	},
	rows: func(t *Tables, give func(*entryRow) error) error {
		c, err := corrections(t.src, t.asOf)
		if err != nil {
			return err
		}
		var row entryRow
		var data strings.Builder
		fields := json.NewEncoder(&data)
		fields.SetEscapeHTML(false) // & stands as it was written
		return t.eachEntry(func(e events.Entry) error {
			e, counts := asItCounts(c, e)
			if t.chosen.Late(e) || t.chosen.Scope.Year != 0 && !t.chosen.inYear(e) {
				return nil
			}
			data.Reset()
			if err := fields.Encode(e.Data); err != nil {
				return err
			}
			row = entryRow{e: e, places: events.PlacesOf(e.Data), counts: counts, text: t.chosen.Snap.Sentence(e), data: strings.TrimSuffix(data.String(), "\n")}
			return give(&row)
		})
	},
}

// eachEntry streams the entries of the scope in the order of arrival.
func (t *Tables) eachEntry(f func(events.Entry) error) error {
	s := t.chosen
	var found []events.Entry
	var err error
	switch {
	case s.Scope.Session != "":
		found, err = s.entriesOfSession(t.src)
	case s.Scope.Picture != "":
		found, err = s.entriesOfPicture(t.src)
	default:
		return t.src.Each(f)
	}
	if err != nil {
		return err
	}
	slices.SortFunc(found, func(a, b events.Entry) int { return cmp.Compare(a.Seq, b.Seq) })
	found = slices.CompactFunc(found, func(a, b events.Entry) bool { return a.Seq == b.Seq })
	for _, e := range found {
		if err := f(e); err != nil {
			return err
		}
	}
	return nil
}

func (s *Selection) entriesOfSession(src Source) ([]events.Entry, error) {
	own, err := src.Entries(events.Query{Stream: s.session.ID})
	if err != nil {
		return nil, err
	}
	with, err := src.Entries(events.Query{Session: s.session.ID})
	return append(own, with...), err
}

// entriesOfPicture are the picture's own, and the readings that its exposures name.
func (s *Selection) entriesOfPicture(src Source) ([]events.Entry, error) {
	var out []events.Entry
	for _, t := range s.pictures {
		own, err := src.Entries(events.Query{Stream: t.ID})
		if err != nil {
			return nil, err
		}
		out = append(out, own...)
	}
	ids := make([]string, 0, len(s.readings))
	for id := range s.readings {
		ids = append(ids, id.String())
	}
	slices.Sort(ids)
	for _, id := range ids {
		found, err := src.Find(id)
		if err != nil {
			return nil, err
		}
		out = append(out, found...)
	}
	return out, nil
}

// corrections are the voids and amendments of a book, few beside its entries, so that entries can be streamed past them.
func corrections(src Source, asOf time.Time) (events.Corrections, error) {
	found, err := src.Entries(events.Query{Kinds: []events.Kind{events.EntryAmended, events.EntryVoided}})
	if err != nil {
		return events.Corrections{}, err
	}
	late := func(e events.Entry) bool { return !asOf.IsZero() && e.At.After(asOf) }
	return events.NewCorrections(slices.DeleteFunc(found, late)), nil
}

// asItCounts gives an entry with its amendments applied, and says whether it counts.
func asItCounts(c events.Corrections, e events.Entry) (events.Entry, string) {
	e = c.AsItCounts(e)
	switch {
	case !e.Voided.IsZero():
		return e, "voided"
	case len(e.Amended) > 0:
		return e, "amended"
	}
	return e, "yes"
}
