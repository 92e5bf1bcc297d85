package export

import (
	"time"

	"traybook/events"
	"traybook/export/sheetcsv"
	"traybook/projections"
)

// stockRow is one box as of the moment.
type stockRow struct {
	b     *projections.Box
	paper projections.Paper
	line  projections.BoxLine
}

var stockTable = table[stockRow]{
	name: "stock", says: "One record for each box of paper.",
	columns: []column[stockRow]{
		{"box", sheetcsv.Text, "its name", func(r *stockRow) string { return r.b.Thing.Name }},
		{"name", sheetcsv.Text, "what stands on it", func(r *stockRow) string { return r.b.Received.Name }},
		{"base", sheetcsv.Text, "rc (resin-coated) or fb (fibre)", func(r *stockRow) string { return r.b.Received.Base }},
		{"surface", sheetcsv.Text, "its surface", func(r *stockRow) string { return r.b.Received.Surface }},
		{"works", sheetcsv.Text, "negative, or direct-positive", func(r *stockRow) string { return orElse(r.b.Received.Works, "negative") }},
		{"width_mm", sheetcsv.Number, "width of a sheet", func(r *stockRow) string { return exact(r.b.Received.WidthMM) }},
		{"height_mm", sheetcsv.Number, "height of a sheet", func(r *stockRow) string { return exact(r.b.Received.HeightMM) }},
		{"area_m2", sheetcsv.Number, "area of a sheet", func(r *stockRow) string { return reckoned(r.b.Area()) }},
		{"received_at", sheetcsv.Time, "when it came in", func(r *stockRow) string { return moment(r.b.At) }},
		{"cut_from", sheetcsv.Text, "the box it was cut from", func(r *stockRow) string { return r.b.CutFrom }},
		{"expires", sheetcsv.Time, "its date", func(r *stockRow) string { return r.b.Received.Expires }},
		{"index", sheetcsv.Number, "exposure index in force for a negative without filter", func(r *stockRow) string {
			if r.paper.Index == 0 {
				return ""
			}
			return reckoned(r.paper.Index)
		}},
		{"index_measured", sheetcsv.Text, "yes where it was measured or given, empty where it comes from the maker's P", func(r *stockRow) string { return yes(r.paper.Measured) }},
		{"iso_r", sheetcsv.Number, "ISO range in force", func(r *stockRow) string { return reckoned(r.paper.ISOR) }},
		{"received", sheetcsv.Number, "sheets that came in", func(r *stockRow) string { return reckoned(r.line.Received) }},
		{"exposed", sheetcsv.Number, "sheets taken for pictures and strips, parts counted", func(r *stockRow) string { return reckoned(r.line.Exposed) }},
		{"spoiled", sheetcsv.Number, "sheets spoiled", func(r *stockRow) string { return reckoned(r.line.Spoiled) }},
		{"cut", sheetcsv.Number, "sheets cut into another box", func(r *stockRow) string { return reckoned(r.line.Cut) }},
		{"sheets_left", sheetcsv.Number, "sheets left; a count overrules what was reckoned before it", func(r *stockRow) string { return reckoned(r.line.SheetsLeft) }},
		{"per_day", sheetcsv.Number, "sheets a day over the last 90 days", func(r *stockRow) string { return reckoned(r.line.PerDay) }},
		{"runs_out", sheetcsv.Time, "the day on which it runs out at that rate", func(r *stockRow) string {
			if r.line.RunsOut == nil {
				return ""
			}
			return *r.line.RunsOut
		}},
		{"cost", sheetcsv.Number, "what it cost", func(r *stockRow) string { return exactOf(r.b.Received.Cost) }},
		{"currency", sheetcsv.Text, "in which money", func(r *stockRow) string { return r.b.Received.Currency }},
	},
	rows: func(t *Tables, give func(*stockRow) error) error {
		report, err := t.chosen.desk.Stock(true)
		if err != nil {
			return err
		}
		lines := make(map[string]projections.BoxLine, len(report.Boxes))
		for _, l := range report.Boxes {
			lines[l.Box] = l
		}
		return t.chosen.eachBox(func(b *projections.Box) error {
			r := stockRow{b: b, line: lines[b.Thing.Name], paper: b.PaperFor(t.now(), projections.Negative, "", "")}
			return give(&r)
		})
	},
}

// farAhead stands for "everything" where a moment has to be named.
var farAhead = time.Date(9999, 12, 31, 0, 0, 0, 0, time.UTC)

// now is the moment of the look: its as-of, else the end of time.
func (t *Tables) now() time.Time {
	if t.asOf.IsZero() {
		return farAhead
	}
	return t.asOf
}

// eachBox folds the chosen boxes that exist as of the moment.
func (s *selection) eachBox(f func(*projections.Box) error) error {
	for _, thing := range s.boxes {
		s.desk.Tidy()
		b, err := s.desk.Box(thing.Name)
		if err != nil {
			return err
		}
		if b.Received == nil {
			continue
		}
		if err := f(b); err != nil {
			return err
		}
	}
	return nil
}

// bathRow is one bath as of the moment.
type bathRow struct {
	b    *projections.Bath
	line projections.BathLine
}

var bathsTable = table[bathRow]{
	name: "baths", says: "One record for each bath: one mixing of developer, stop, fixer, water, wash aid or toner.",
	columns: []column[bathRow]{
		{"bath", sheetcsv.Text, "its name", func(r *bathRow) string { return r.line.Bath }},
		{"role", sheetcsv.Text, "developer, stop, fixer, water, wash-aid or toner", func(r *bathRow) string { return r.line.Role }},
		{"name", sheetcsv.Text, "what it was mixed from", func(r *bathRow) string { return r.line.Name }},
		{"dilution", sheetcsv.Text, "parts of concentrate and water", func(r *bathRow) string { return textOf(r.line.Dilution) }},
		{"volume_ml", sheetcsv.Number, "volume as mixed", func(r *bathRow) string { return exact(r.b.Mixed.VolumeML) }},
		{"mixed_at", sheetcsv.Time, "when it was mixed", func(r *bathRow) string { return r.line.MixedAt }},
		{"state", sheetcsv.Text, "fresh, working, tired, spent, old or discarded", func(r *bathRow) string { return r.line.State }},
		{"sheets", sheetcsv.Number, "sheets and strips that went through it, each once", func(r *bathRow) string { return count(r.line.Sheets) }},
		{"area_m2", sheetcsv.Number, "area that went through it", func(r *bathRow) string { return reckoned(r.line.AreaM2) }},
		{"capacity_m2", sheetcsv.Number, "area it can treat, toppings counted; empty where none is known", func(r *bathRow) string { return reckonedOf(r.line.CapacityM2) }},
		{"used", sheetcsv.Number, "share of the capacity used; empty where none is known", func(r *bathRow) string { return reckonedOf(r.line.Used) }},
		{"age_h", sheetcsv.Number, "hours in the open tray", func(r *bathRow) string { return reckoned(r.line.AgeH) }},
		{"life_h", sheetcsv.Number, "hours it lasts there; empty where not known", func(r *bathRow) string { return reckonedOf(r.line.LifeH) }},
		{"in_tray", sheetcsv.Text, "yes while it stands in the tray", func(r *bathRow) string { return yes(r.line.InTray) }},
		{"in_bottle_days", sheetcsv.Number, "days since it was mixed, the tray left out, until it was discarded", func(r *bathRow) string { return reckoned(r.line.InBottle) }},
		{"bottle_days", sheetcsv.Number, "days it keeps in a full bottle", func(r *bathRow) string { return exactOf(r.line.BottleDays) }},
		{"expires", sheetcsv.Time, "its date", func(r *bathRow) string { return textOf(r.line.Expires) }},
		{"temp_c", sheetcsv.Number, "its temperature as last tested, else the nominal one", func(r *bathRow) string { return reckoned(r.line.TempC) }},
		{"called_for_s", sheetcsv.Number, "time that it now calls for at that temperature; empty for a discarded one", func(r *bathRow) string { return reckonedOf(r.line.CalledForS) }},
		{"nominal_c", sheetcsv.Number, "temperature of its nominal time", func(r *bathRow) string { return exact(r.line.NominalC) }},
		{"time_s", sheetcsv.Number, "time that it now calls for at its nominal temperature", func(r *bathRow) string { return reckonedOf(r.line.TimeS) }},
		{"last_used_at", sheetcsv.Time, "when it was last used", func(r *bathRow) string { return textOf(r.line.LastUsedAt) }},
		{"discarded_at", sheetcsv.Time, "when it was discarded", func(r *bathRow) string { return textOf(r.line.DiscardedAt) }},
		{"cost", sheetcsv.Number, "what it cost", func(r *bathRow) string { return exactOf(r.b.Mixed.Cost) }},
		{"currency", sheetcsv.Text, "in which money", func(r *bathRow) string { return r.b.Mixed.Currency }},
	},
	rows: func(t *Tables, give func(*bathRow) error) error {
		return t.chosen.eachBath(func(b *projections.Bath) error {
			r, err := t.chosen.bathRow(b)
			if err != nil {
				return err
			}
			return give(&r)
		})
	},
}

func (s *selection) bathRow(b *projections.Bath) (bathRow, error) {
	at := s.desk.AsOf
	if at.IsZero() { // everything counts: look at it as of its last act
		at = b.Entries[len(b.Entries)-1].At
		treated, err := s.desk.TreatedIn(b)
		if err != nil {
			return bathRow{}, err
		}
		for _, t := range treated {
			if t.Last.After(at) {
				at = t.Last
			}
		}
	}
	line, err := s.desk.BathLineOf(b, at)
	return bathRow{b, line}, err
}

// eachBath folds the chosen baths that exist as of the moment.
func (s *selection) eachBath(f func(*projections.Bath) error) error {
	for _, thing := range s.baths {
		s.desk.Tidy()
		b, err := s.desk.Bath(thing.Name)
		if err != nil {
			return err
		}
		if b.Mixed == nil {
			continue
		}
		if err := f(b); err != nil {
			return err
		}
	}
	return nil
}

// sessionRow is one session with what was done in it.
type sessionRow struct {
	s                 *projections.Session
	line              projections.SessionLine
	readings, entries int
}

var sessionsTable = table[sessionRow]{
	name: "sessions", says: "One record for each session: one outing, or one afternoon at one place.",
	columns: []column[sessionRow]{
		{"session", sheetcsv.Text, "its name", func(r *sessionRow) string { return r.s.Thing.Name }},
		{"opened_at", sheetcsv.Time, "when it was opened", func(r *sessionRow) string { return textOf(r.line.OpenedAt) }},
		{"closed_at", sheetcsv.Time, "when it was closed, empty while open", func(r *sessionRow) string { return textOf(r.line.ClosedAt) }},
		{"camera", sheetcsv.Text, "the camera", func(r *sessionRow) string { return r.s.Opened.Camera }},
		{"place", sheetcsv.Text, "where it was", func(r *sessionRow) string { return r.s.Opened.Place }},
		{"lat", sheetcsv.Number, "latitude in degrees, north is +", func(r *sessionRow) string { return exactOf(r.s.Opened.Lat) }},
		{"lon", sheetcsv.Number, "longitude in degrees, east is +", func(r *sessionRow) string { return exactOf(r.s.Opened.Lon) }},
		{"sky", sheetcsv.Text, "clear, thin, cloud or dark", func(r *sessionRow) string { return r.s.Opened.Sky }},
		{"light", sheetcsv.Text, "the light in words", func(r *sessionRow) string { return r.s.Opened.Light }},
		{"helper", sheetcsv.Text, "who helped", func(r *sessionRow) string { return r.s.Opened.Helper }},
		{"readings", sheetcsv.Number, "readings of the light", func(r *sessionRow) string { return count(r.readings) }},
		{"pictures", sheetcsv.Number, "pictures of which a sheet was made in it", func(r *sessionRow) string { return count(r.line.Pictures) }},
		{"negatives", sheetcsv.Number, "negatives exposed in it, each once", func(r *sessionRow) string { return count(r.line.Negatives) }},
		{"prints", sheetcsv.Number, "prints exposed in it, each once", func(r *sessionRow) string { return count(r.line.Prints) }},
		{"kept", sheetcsv.Number, "of these sheets, last judged keep, wherever", func(r *sessionRow) string { return count(r.line.Kept) }},
		{"redo", sheetcsv.Number, "of these sheets, last judged redo", func(r *sessionRow) string { return count(r.line.Redo) }},
		{"rejected", sheetcsv.Number, "of these sheets, last judged reject", func(r *sessionRow) string { return count(r.line.Rejected) }},
		{"waiting", sheetcsv.Number, "of these sheets, not yet developed", func(r *sessionRow) string { return count(r.line.Waiting) }},
		{"entries", sheetcsv.Number, "entries that count, its own included", func(r *sessionRow) string { return count(r.entries) }},
		{"text", sheetcsv.Text, "what was written when it was opened", func(r *sessionRow) string { return r.s.Opened.Text }},
	},
	rows: func(t *Tables, give func(*sessionRow) error) error {
		return t.chosen.eachSession(func(s *projections.Session) error {
			r, err := t.chosen.sessionRow(s)
			if err != nil {
				return err
			}
			return give(&r)
		})
	},
}

func (s *selection) eachSession(f func(*projections.Session) error) error {
	for _, thing := range s.sessions {
		s.desk.Tidy()
		x, err := s.desk.Session(thing.Name)
		if err != nil {
			return err
		}
		if x.Opened == nil {
			continue
		}
		if err := f(x); err != nil {
			return err
		}
	}
	return nil
}

func (s *selection) sessionRow(x *projections.Session) (sessionRow, error) {
	r := sessionRow{s: x, entries: len(x.Entries), readings: len(x.Readings)}
	raw, err := s.src.Entries(events.Query{Session: x.Thing.ID})
	if err != nil {
		return r, err
	}
	for _, e := range events.Fold(raw) {
		if s.late(e) {
			continue
		}
		r.entries++
		if e.Kind == events.LightMetered {
			r.readings++
		}
	}
	r.line, err = s.desk.SessionLineOf(x)
	return r, err
}
