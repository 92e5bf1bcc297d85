package export

import (
	"slices"
	"strings"

	"traybook/events"
	"traybook/export/sheetcsv"
	"traybook/projections/report"
	"traybook/projections/snapshot"
	"traybook/projections/why"
)

// symptomRow is one thing that the eye saw on one sheet.
type symptomRow struct {
	p       *snapshot.Picture
	s       *snapshot.Sheet
	e       events.Entry // the judgement
	judged  *events.SheetJudgedData
	symptom string
	last    bool
}

var symptomsTable = table[symptomRow]{
	name: "symptoms", key: []string{"sheet", "id", "symptom"}, says: "One record for each symptom that was seen on a sheet, at each judgement of it.",
	columns: []column[symptomRow]{
		{"sheet", sheetcsv.Text, "the sheet that was judged", func(r *symptomRow) string { return r.s.Name }},
		{"picture", sheetcsv.Text, "the picture it belongs to", func(r *symptomRow) string { return r.p.Entity.Name }},
		{"id", sheetcsv.Text, "id of the entry that judged it", func(r *symptomRow) string { return r.e.ID.String() }},
		{"at", sheetcsv.Time, "when it was judged", func(r *symptomRow) string { return moment(r.e.At) }},
		{"symptom", sheetcsv.Text, "what the eye saw", func(r *symptomRow) string { return r.symptom }},
		{"family", sheetcsv.Text, "the sort of symptom it is", func(r *symptomRow) string { return familyOf(r.symptom) }},
		{"verdict", sheetcsv.Text, "keep, redo or reject", func(r *symptomRow) string { return r.judged.Verdict }},
		{"last", sheetcsv.Flag, "yes where the sheet was not judged again", func(r *symptomRow) string { return yes(r.last) }},
	},
	each: func(t *Tables, give func(*symptomRow) error) func(*snapshot.Picture) error {
		return t.sheetsOf(func(p *snapshot.Picture, s *snapshot.Sheet) error {
			for i, e := range s.Judged {
				x := e.Data.(*events.SheetJudgedData)
				for j, symptom := range x.Symptoms {
					if slices.Contains(x.Symptoms[:j], symptom) {
						continue
					}
					if err := give(&symptomRow{p, s, e, x, symptom, i == len(s.Judged)-1}); err != nil {
						return err
					}
				}
			}
			return nil
		})
	},
}

func familyOf(symptom string) string {
	for _, w := range why.SymptomHelp() {
		if w.Symptom == symptom {
			return w.Family
		}
	}
	return ""
}

// causeRow is one thing in the log of a picture that was done otherwise than called for.
type causeRow struct {
	p     *snapshot.Picture
	f     why.Finding
	place int
	told  bool // as a cause of what was judged
}

var causesTable = table[causeRow]{
	name: "causes", key: []string{"picture", "place"}, says: "One record for each thing that was done otherwise than called for, " +
		"as why tells it: those that are a cause of what was judged, the strongest first, then those that explain nothing.",
	columns: []column[causeRow]{
		{"picture", sheetcsv.Text, "the picture that was replayed", func(r *causeRow) string { return r.p.Entity.Name }},
		{"place", sheetcsv.Integer, "its place among those of the picture, from 1", func(r *causeRow) string { return count(r.place) }},
		{"sheet", sheetcsv.Text, "the sheet whose entry is at fault", func(r *causeRow) string { return r.f.Sheet }},
		{"cause", sheetcsv.Text, "what it is", func(r *causeRow) string { return r.f.Cause }},
		{"finding", sheetcsv.Flag, "yes where it is told as a cause of what was judged, empty where it explains nothing of it", func(r *causeRow) string { return yes(r.told) }},
		{"probability", sheetcsv.Number, "how likely it is a cause of what was judged, 0 to 1", func(r *causeRow) string { return calculated(r.f.Probability) }},
		{"odds", sheetcsv.Text, "the same in words", func(r *causeRow) string { return r.f.Odds }},
		{"explains", sheetcsv.Number, "share of the judged symptoms that goes when it is put right, 0 to 1", func(r *causeRow) string { return calculated(r.f.Explains) }},
		{"done", sheetcsv.Number, "what was done, in unit", func(r *causeRow) string { return calculatedOf(r.f.Done) }},
		{"called_for", sheetcsv.Number, "what was called for, in unit; empty where nothing is", func(r *causeRow) string { return calculatedOf(r.f.CalledFor) }},
		{"unit", sheetcsv.Text, "the unit of done and called_for", func(r *causeRow) string { return r.f.Unit }},
		{"low_s", sheetcsv.Number, "the least that a called-for time may be", func(r *causeRow) string { return calculatedOf(r.f.LowS) }},
		{"high_s", sheetcsv.Number, "the most that it may be", func(r *causeRow) string { return calculatedOf(r.f.HighS) }},
		{"stops", sheetcsv.Number, "what it did to the sheet's exposure, or as if; + is more", func(r *causeRow) string { return stopsOf(r.f.Stops) }},
		{"bath", sheetcsv.Text, "the bath of the entry that proves it", func(r *causeRow) string { return r.bath() }},
		{"together", sheetcsv.Text, "causes that the log cannot part from it, parted by blanks", func(r *causeRow) string { return strings.Join(r.f.Together, " ") }},
		{"entries", sheetcsv.Text, "ids of the entries that prove it, parted by blanks", func(r *causeRow) string { return strings.Join(r.f.Entries, " ") }},
		{"text", sheetcsv.Text, "what it is, in a sentence", func(r *causeRow) string { return r.f.Text }},
		{"next", sheetcsv.Text, "what to do next time", func(r *causeRow) string { return r.f.Next }},
	},
	each: func(t *Tables, give func(*causeRow) error) func(*snapshot.Picture) error {
		replays := why.Over(t.chosen.Snap)
		return func(p *snapshot.Picture) error {
			d, err := replays.Why(p.Entity.Name)
			if err != nil {
				return err
			}
			for i, f := range append(d.Findings, d.Deviations...) {
				if err := give(&causeRow{p, f, i + 1, i < len(d.Findings)}); err != nil {
					return err
				}
			}
			return nil
		}
	},
}

// bath is the bath of the first entry of the picture's own that proves it.
func (r *causeRow) bath() string {
	for _, e := range r.p.All {
		if bath := events.PlacesOf(e.Data).Bath; bath != "" && slices.Contains(r.f.Entries, e.ID.String()) {
			return bath
		}
	}
	return ""
}

// deliveryRow is one handing over.
type deliveryRow struct {
	p *snapshot.Picture
	s *snapshot.Sheet
	e events.Entry
	x *events.SheetDeliveredData
}

var deliveriesTable = table[deliveryRow]{
	name: "deliveries", key: []string{"sheet", "id"}, says: "One record for each time that a sheet, its scan, or a print from its scan was handed over.",
	columns: []column[deliveryRow]{
		{"id", sheetcsv.Text, "id of its entry", func(r *deliveryRow) string { return r.e.ID.String() }},
		{"sheet", sheetcsv.Text, "the sheet", func(r *deliveryRow) string { return r.s.Name }},
		{"picture", sheetcsv.Text, "the picture it belongs to", func(r *deliveryRow) string { return r.p.Entity.Name }},
		{"at", sheetcsv.Time, "when it was handed over", func(r *deliveryRow) string { return moment(r.e.At) }},
		{"to", sheetcsv.Text, "reference of who has it", func(r *deliveryRow) string { return r.x.To }},
		{"order", sheetcsv.Text, "the order for which it went", func(r *deliveryRow) string { return r.x.Order }},
		{"as", sheetcsv.Text, "scan or scan-print where that went and the sheet stayed; empty where the sheet went", func(r *deliveryRow) string { return r.x.As }},
		{"price", sheetcsv.Number, "what was paid", func(r *deliveryRow) string { return exactOf(r.x.Price) }},
		{"currency", sheetcsv.Text, "in which money", func(r *deliveryRow) string { return r.x.Currency }},
		{"text", sheetcsv.Text, "what was said", func(r *deliveryRow) string { return r.x.Text }},
	},
	each: func(t *Tables, give func(*deliveryRow) error) func(*snapshot.Picture) error {
		return t.sheetsOf(func(p *snapshot.Picture, s *snapshot.Sheet) error {
			for _, e := range s.Entries {
				if x, ok := e.Data.(*events.SheetDeliveredData); ok {
					if err := give(&deliveryRow{p, s, e, x}); err != nil {
						return err
					}
				}
			}
			return nil
		})
	},
}

// sheetsOf calls f with each sheet of a picture that is in the scope.
func (t *Tables) sheetsOf(f func(*snapshot.Picture, *snapshot.Sheet) error) func(*snapshot.Picture) error {
	return func(p *snapshot.Picture) error {
		for _, s := range p.Sheets {
			if t.chosen.Scope.Session != "" && !slices.ContainsFunc(s.Entries, t.chosen.OfSession) {
				continue
			}
			if err := f(p, s); err != nil {
				return err
			}
		}
		return nil
	}
}

var ordersTable = table[report.OrderLine]{
	name: "orders", key: []string{"order"}, says: "One record for each order: who wants what by when, and what came of it.",
	columns: []column[report.OrderLine]{
		{"order", sheetcsv.Text, "its name", func(r *report.OrderLine) string { return r.Order }},
		{"sitter", sheetcsv.Text, "reference of who wants it", func(r *report.OrderLine) string { return r.Sitter }},
		{"picture", sheetcsv.Text, "the picture that is wanted, empty for whatever comes of a session", func(r *report.OrderLine) string { return textOf(r.Picture) }},
		{"prints", sheetcsv.Integer, "prints that are wanted", func(r *report.OrderLine) string { return count(r.Prints) }},
		{"delivered", sheetcsv.Integer, "sheets, and prints from scans, that went for it", func(r *report.OrderLine) string { return count(r.Handed) }},
		{"scan", sheetcsv.Flag, "yes where a scan is wanted", func(r *report.OrderLine) string { return yes(r.Scan) }},
		{"scan_sent", sheetcsv.Flag, "yes where it went", func(r *report.OrderLine) string { return yes(r.ScanSent) }},
		{"width_mm", sheetcsv.Number, "width of a print that is wanted", func(r *report.OrderLine) string { return exactOf(r.WidthMM) }},
		{"height_mm", sheetcsv.Number, "its height", func(r *report.OrderLine) string { return exactOf(r.HeightMM) }},
		{"taken", sheetcsv.Time, "when it was taken", func(r *report.OrderLine) string { return r.Taken }},
		{"due", sheetcsv.Day, "the day by which it is wanted", func(r *report.OrderLine) string { return textOf(r.Due) }},
		{"overdue", sheetcsv.Flag, "yes where that day has passed and somebody waits", func(r *report.OrderLine) string { return yes(r.Overdue) }},
		{"price", sheetcsv.Number, "what was asked", func(r *report.OrderLine) string { return exactOf(r.Price) }},
		{"currency", sheetcsv.Text, "in which money", func(r *report.OrderLine) string { return r.Currency }},
		{"paid", sheetcsv.Number, "what came in for it", func(r *report.OrderLine) string { return calculated(r.Paid) }},
		{"owed", sheetcsv.Number, "what is still to be paid", func(r *report.OrderLine) string { return calculated(r.Owed) }},
		{"ended", sheetcsv.Text, "delivered or withdrawn, empty while somebody waits", func(r *report.OrderLine) string { return textOf(r.Ended) }},
		{"ended_at", sheetcsv.Time, "when it ended", func(r *report.OrderLine) string { return textOf(r.EndedAt) }},
		{"text", sheetcsv.Text, "what was said when it was taken", func(r *report.OrderLine) string { return textOf(r.Text) }},
	},
	rows: func(t *Tables, give func(*report.OrderLine) error) error {
		now, err := t.chosen.Snap.Moment()
		if err != nil {
			return err
		}
		taken, err := t.chosen.entriesOf(events.OrderTaken)
		if err != nil {
			return err
		}
		for _, e := range taken {
			o, err := snapshot.Listed(t.chosen.Snap.Order(e.Data.(*events.OrderTakenData).Order))
			if err != nil {
				return err
			}
			if o.Taken == nil || !t.chosen.hasOrder(o) {
				continue
			}
			line := report.OrderLineOf(o, now)
			if err := give(&line); err != nil {
				return err
			}
		}
		return nil
	},
}

// entriesOf are the acts of one kind that count at the moment of the selection, in the order of their acts.
func (s *Selection) entriesOf(kind events.Kind) ([]events.Entry, error) {
	return s.Snap.Entries(events.Query{Kinds: []events.Kind{kind}})
}

// hasOrder says whether an order, or anything that went for it, is in the scope.
func (s *Selection) hasOrder(o *snapshot.Order) bool {
	return s.within(o.Entry, o.Taken.Picture) || slices.ContainsFunc(o.Handed, func(e events.Entry) bool {
		picture, _, _ := events.SplitSheet(events.SheetOf(e.Data))
		return s.within(e, picture)
	})
}

// within says whether an act that is about a picture, or about none, is in the scope: done in its year or session, or of its
// picture.
func (s *Selection) within(e events.Entry, picture string) bool {
	switch {
	case s.Scope.Year != 0:
		return s.inYear(e)
	case s.Scope.Session != "":
		c := events.CarriedOf(e.Data)
		return c != nil && c.Session == s.Scope.Session
	case s.Scope.Picture != "":
		return picture == s.pictures[0].Name || s.readings[e.ID]
	}
	return true
}
