package export

import (
	"cmp"
	"time"

	"traybook/events"
	"traybook/export/sheetcsv"
	"traybook/projections/report"
	"traybook/projections/snapshot"
)

// stockRow is one box as of the moment.
type stockRow struct {
	b     *snapshot.Box
	paper snapshot.Paper
	line  report.BoxLine
}

var stockTable = table[stockRow]{
	name: "stock", key: []string{"box"}, says: "One record for each box of paper.",
	columns: []column[stockRow]{
		{"box", sheetcsv.Text, "its name", func(r *stockRow) string { return r.b.Entity.Name }},
		{"name", sheetcsv.Text, "the name on the box", func(r *stockRow) string { return r.b.Received.Name }},
		{"base", sheetcsv.Text, "rc (resin-coated) or fb (fibre)", func(r *stockRow) string { return r.b.Received.Base }},
		{"surface", sheetcsv.Text, "its surface", func(r *stockRow) string { return r.b.Received.Surface }},
		{"works", sheetcsv.Text, "negative, or direct-positive", func(r *stockRow) string { return cmp.Or(r.b.Received.Works, "negative") }},
		{"width_mm", sheetcsv.Number, "width of a sheet", func(r *stockRow) string { return exact(r.b.Received.WidthMM) }},
		{"height_mm", sheetcsv.Number, "height of a sheet", func(r *stockRow) string { return exact(r.b.Received.HeightMM) }},
		{"area_m2", sheetcsv.Number, "area of a sheet", func(r *stockRow) string { return calculated(r.b.Area()) }},
		{"received_at", sheetcsv.Time, "when it came in", func(r *stockRow) string { return moment(r.b.At) }},
		{"cut_from", sheetcsv.Text, "the box it was cut from", func(r *stockRow) string { return r.b.CutFrom }},
		{"expires", sheetcsv.Day, "its date", func(r *stockRow) string { return r.b.Received.Expires }},
		{"index", sheetcsv.Number, "exposure index in force for a negative without filter", func(r *stockRow) string { return indexOf(&r.paper) }},
		{"index_measured", sheetcsv.Flag, "yes where it was measured or given, empty where it comes from the maker's P", func(r *stockRow) string { return yes(r.paper.Measured) }},
		{"iso_r", sheetcsv.Number, "ISO range in force", func(r *stockRow) string { return calculated(r.paper.ISOR) }},
		{"received", sheetcsv.Number, "sheets that came in", func(r *stockRow) string { return calculated(r.line.Received) }},
		{"exposed", sheetcsv.Number, "sheets taken for pictures and strips, parts counted", func(r *stockRow) string { return calculated(r.line.Exposed) }},
		{"spoiled", sheetcsv.Number, "sheets spoiled", func(r *stockRow) string { return calculated(r.line.Spoiled) }},
		{"cut", sheetcsv.Number, "sheets cut into another box", func(r *stockRow) string { return calculated(r.line.Cut) }},
		{"sheets_left", sheetcsv.Number, "sheets left; a count overrules what was calculated before it", func(r *stockRow) string { return calculated(r.line.SheetsLeft) }},
		{"per_day", sheetcsv.Number, "sheets a day over the last 90 days", func(r *stockRow) string { return calculated(r.line.PerDay) }},
		{"runs_out", sheetcsv.Day, "the day on which it runs out at that rate", func(r *stockRow) string {
			if r.line.RunsOut == nil {
				return ""
			}
			return *r.line.RunsOut
		}},
		{"cost", sheetcsv.Number, "what it cost", func(r *stockRow) string { return exactOf(r.b.Received.Cost) }},
		{"currency", sheetcsv.Text, "in which money", func(r *stockRow) string { return r.b.Received.Currency }},
	},
	rows: func(t *Tables, give func(*stockRow) error) error {
		stockReport, err := report.Stock(t.chosen.Snap, true)
		if err != nil {
			return err
		}
		lines := make(map[string]report.BoxLine, len(stockReport.Boxes))
		for _, l := range stockReport.Boxes {
			lines[l.Box] = l
		}
		return t.chosen.EachBox(func(b *snapshot.Box) error {
			r := stockRow{b: b, line: lines[b.Entity.Name], paper: b.PaperFor(t.now(), snapshot.Negative, "", "")}
			return give(&r)
		})
	},
}

// FarAhead stands for "everything" where a moment has to be named.
var FarAhead = time.Date(9999, 12, 31, 0, 0, 0, 0, time.UTC)

// now is the moment of the look: its as-of, else the end of time.
func (t *Tables) now() time.Time {
	if t.asOf.IsZero() {
		return FarAhead
	}
	return t.asOf
}

// EachBox folds the chosen boxes that exist as of the moment.
func (s *Selection) EachBox(f func(*snapshot.Box) error) error {
	return eachThere(s, s.boxes, byName(s.Snap.Box), func(x *snapshot.Box) bool { return x.Received != nil }, f)
}

// BathRow is one bath as of the moment.
type BathRow struct {
	B    *snapshot.Bath
	Line report.BathLine
}

var bathsTable = table[BathRow]{
	name: "baths", key: []string{"bath"}, says: "One record for each bath: one mixing of developer, stop, fixer, water, washing aid or toner.",
	columns: []column[BathRow]{
		{"bath", sheetcsv.Text, "its name", func(r *BathRow) string { return r.Line.Bath }},
		{"role", sheetcsv.Text, "developer, stop, fixer, water, washing-aid or toner", func(r *BathRow) string { return r.Line.Role }},
		{"name", sheetcsv.Text, "what it was mixed from", func(r *BathRow) string { return r.Line.Name }},
		{"dilution", sheetcsv.Text, "parts of concentrate and water", func(r *BathRow) string { return textOf(r.Line.Dilution) }},
		{"volume_ml", sheetcsv.Number, "volume as mixed", func(r *BathRow) string { return exact(r.B.Mixed.VolumeML) }},
		{"mixed_at", sheetcsv.Time, "when it was mixed", func(r *BathRow) string { return r.Line.MixedAt }},
		{"state", sheetcsv.Text, "fresh, working, tired, exhausted, past its tray life or discarded", func(r *BathRow) string { return r.Line.State }},
		{"sheets", sheetcsv.Integer, "sheets and strips that went through it, each once", func(r *BathRow) string { return count(r.Line.Sheets) }},
		{"area_m2", sheetcsv.Number, "area that went through it", func(r *BathRow) string { return calculated(r.Line.AreaM2) }},
		{"capacity_m2", sheetcsv.Number, "area it can treat, replenishments counted; empty where none is known", func(r *BathRow) string { return calculatedOf(r.Line.CapacityM2) }},
		{"used", sheetcsv.Number, "share of the capacity used; empty where none is known", func(r *BathRow) string { return calculatedOf(r.Line.Used) }},
		{"age_h", sheetcsv.Number, "hours in the open tray", func(r *BathRow) string { return calculated(r.Line.AgeH) }},
		{"life_h", sheetcsv.Number, "hours it lasts there; empty where not known", func(r *BathRow) string { return calculatedOf(r.Line.LifeH) }},
		{"in_tray", sheetcsv.Flag, "yes while it stands in the tray", func(r *BathRow) string { return yes(r.Line.InTray) }},
		{"in_bottle_days", sheetcsv.Number, "days since it was mixed, the tray left out, until it was discarded", func(r *BathRow) string { return calculated(r.Line.InBottle) }},
		{"bottle_days", sheetcsv.Number, "days it keeps in a full bottle", func(r *BathRow) string { return exactOf(r.Line.BottleDays) }},
		{"expires", sheetcsv.Day, "its date", func(r *BathRow) string { return textOf(r.Line.Expires) }},
		{"temp_c", sheetcsv.Number, "its temperature as last measured, while that is not doubtful; else the nominal one", func(r *BathRow) string { return calculated(r.Line.TempC) }},
		{"called_for_s", sheetcsv.Number, "time that it now calls for at that temperature; empty for a discarded one", func(r *BathRow) string { return calculatedOf(r.Line.CalledForS) }},
		{"nominal_c", sheetcsv.Number, "temperature of its nominal time", func(r *BathRow) string { return exact(r.Line.NominalC) }},
		{"time_s", sheetcsv.Number, "time that it now calls for at its nominal temperature", func(r *BathRow) string { return calculatedOf(r.Line.TimeS) }},
		{"last_used_at", sheetcsv.Time, "when it was last used", func(r *BathRow) string { return textOf(r.Line.LastUsedAt) }},
		{"discarded_at", sheetcsv.Time, "when it was discarded", func(r *BathRow) string { return textOf(r.Line.DiscardedAt) }},
		{"cost", sheetcsv.Number, "what it cost", func(r *BathRow) string { return exactOf(r.B.Mixed.Cost) }},
		{"currency", sheetcsv.Text, "in which money", func(r *BathRow) string { return r.B.Mixed.Currency }},
	},
	rows: func(t *Tables, give func(*BathRow) error) error {
		return t.chosen.EachBath(func(b *snapshot.Bath) error {
			r, err := t.chosen.BathRow(b)
			if err != nil {
				return err
			}
			return give(&r)
		})
	},
}

// BathRow is the row of a bath, as of the moment of the selection or else of the last act on the bath.
func (s *Selection) BathRow(b *snapshot.Bath) (BathRow, error) {
	at := s.Snap.AsOf
	if at.IsZero() { // everything counts: look at it as of its last act
		at = b.Entries[len(b.Entries)-1].At
		treated, err := report.TreatedIn(s.Snap, b)
		if err != nil {
			return BathRow{}, err
		}
		for _, t := range treated {
			if t.Last.After(at) {
				at = t.Last
			}
		}
	}
	line, err := report.BathLineOf(s.Snap, b, at)
	return BathRow{b, line}, err
}

// EachBath folds the chosen baths that exist as of the moment.
func (s *Selection) EachBath(f func(*snapshot.Bath) error) error {
	return eachThere(s, s.baths, byName(s.Snap.Bath), func(x *snapshot.Bath) bool { return x.Mixed != nil }, f)
}

// sessionRow is one session with what was done in it.
type sessionRow struct {
	s                 *snapshot.Session
	line              report.SessionLine
	readings, entries int
}

var sessionsTable = table[sessionRow]{
	name: "sessions", key: []string{"session"}, says: "One record for each session: one outing, or one afternoon at one place.",
	columns: []column[sessionRow]{
		{"session", sheetcsv.Text, "its name", func(r *sessionRow) string { return r.s.Entity.Name }},
		{"opened_at", sheetcsv.Time, "when it was opened", func(r *sessionRow) string { return textOf(r.line.OpenedAt) }},
		{"closed_at", sheetcsv.Time, "when it was closed, empty while open", func(r *sessionRow) string { return textOf(r.line.ClosedAt) }},
		{"camera", sheetcsv.Text, "the camera", func(r *sessionRow) string { return r.s.Opened.Camera }},
		{"place", sheetcsv.Text, "where it was", func(r *sessionRow) string { return r.s.Opened.Place }},
		{"lat", sheetcsv.Number, "latitude in degrees, north is +", func(r *sessionRow) string { return exactOf(r.s.Opened.Lat) }},
		{"lon", sheetcsv.Number, "longitude in degrees, east is +", func(r *sessionRow) string { return exactOf(r.s.Opened.Lon) }},
		{"sky", sheetcsv.Text, "clear, thin, cloud or dark", func(r *sessionRow) string { return r.s.Opened.Sky }},
		{"light", sheetcsv.Text, "the light in words", func(r *sessionRow) string { return r.s.Opened.Light }},
		{"helper", sheetcsv.Text, "who helped", func(r *sessionRow) string { return r.s.Opened.Helper }},
		{"readings", sheetcsv.Integer, "readings of the light", func(r *sessionRow) string { return count(r.readings) }},
		{"pictures", sheetcsv.Integer, "pictures of which a sheet was made in it", func(r *sessionRow) string { return count(r.line.Pictures) }},
		{"negatives", sheetcsv.Integer, "negatives exposed in it, each once", func(r *sessionRow) string { return count(r.line.Negatives) }},
		{"prints", sheetcsv.Integer, "prints exposed in it, each once", func(r *sessionRow) string { return count(r.line.Prints) }},
		{"kept", sheetcsv.Integer, "of these sheets, last judged keep, wherever", func(r *sessionRow) string { return count(r.line.Kept) }},
		{"redo", sheetcsv.Integer, "of these sheets, last judged redo", func(r *sessionRow) string { return count(r.line.Redo) }},
		{"rejected", sheetcsv.Integer, "of these sheets, last judged reject", func(r *sessionRow) string { return count(r.line.Rejected) }},
		{"waiting", sheetcsv.Integer, "of these sheets, not yet developed", func(r *sessionRow) string { return count(r.line.Waiting) }},
		{"entries", sheetcsv.Integer, "entries that count, its own included", func(r *sessionRow) string { return count(r.entries) }},
		{"text", sheetcsv.Text, "what was written when it was opened", func(r *sessionRow) string { return r.s.Opened.Text }},
	},
	rows: func(t *Tables, give func(*sessionRow) error) error {
		return t.chosen.EachSession(func(s *snapshot.Session) error {
			r, err := t.chosen.sessionRow(s)
			if err != nil {
				return err
			}
			return give(&r)
		})
	},
}

// EachSession calls f with each session of the selection in its order, and drops what was cached between two of them.
func (s *Selection) EachSession(f func(*snapshot.Session) error) error {
	return eachThere(s, s.sessions, byName(s.Snap.Session), func(x *snapshot.Session) bool { return x.Opened != nil }, f)
}

func (s *Selection) sessionRow(x *snapshot.Session) (sessionRow, error) {
	r := sessionRow{s: x, entries: len(x.Entries), readings: len(x.Readings)}
	raw, err := s.src.Entries(events.Query{Session: x.Entity.ID})
	if err != nil {
		return r, err
	}
	for _, e := range events.Fold(raw) {
		if s.Late(e) {
			continue
		}
		r.entries++
		if e.Kind == events.LightMetered {
			r.readings++
		}
	}
	r.line, err = report.SessionLineOf(s.Snap, x)
	return r, err
}
