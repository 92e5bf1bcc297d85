package export

import (
	"traybook/events"
	"traybook/export/sheetcsv"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
)

// readingRow is one reading of the light.
type readingRow struct {
	e events.Entry
	x *events.LightMeteredData
}

var readingsTable = table[readingRow]{
	name: "readings", key: []string{"id"}, says: "One record for each reading of the light.",
	columns: []column[readingRow]{
		{"id", sheetcsv.Text, "id of its entry, as served_by of sheets and strips names it", func(r *readingRow) string { return r.e.ID.String() }},
		{"at", sheetcsv.Time, "when it was taken", func(r *readingRow) string { return moment(r.e.At) }},
		{"session", sheetcsv.Text, "the session it was taken in", func(r *readingRow) string { return r.x.Session }},
		{"camera", sheetcsv.Text, "the camera it was taken for", func(r *readingRow) string { return r.x.Camera }},
		{"picture", sheetcsv.Text, "the picture it is of, where it was taken for one", func(r *readingRow) string { return r.x.Picture }},
		{"on", sheetcsv.Text, "scene, or negative for a print", func(r *readingRow) string { return r.x.On }},
		{"mode", sheetcsv.Text, "reflected or incident", func(r *readingRow) string { return r.x.Mode }},
		{"of", sheetcsv.Text, "the tone that was read", func(r *readingRow) string { return r.x.Of }},
		{"zone_stops", sheetcsv.Number, "where that tone shall land, from the mid-tone", func(r *readingRow) string { return exactOf(r.x.ZoneStops) }},
		{"f", sheetcsv.Number, "relative aperture that was read", func(r *readingRow) string { return exactOf(r.x.F) }},
		{"time_s", sheetcsv.Number, "time that was read", func(r *readingRow) string { return exactOf(r.x.TimeS) }},
		{"index", sheetcsv.Number, "exposure index the meter was set to", func(r *readingRow) string { return exactOf(r.x.Index) }},
		{"ev", sheetcsv.Number, "exposure value that was read, at the index", func(r *readingRow) string { return exactOf(r.x.EV) }},
		{"lux", sheetcsv.Number, "illuminance that was read", func(r *readingRow) string { return exactOf(r.x.Lux) }},
		{"cd_m2", sheetcsv.Number, "luminance that was read", func(r *readingRow) string { return exactOf(r.x.CdM2) }},
		{"ev100", sheetcsv.Number, "the same as exposure value at index 100, whichever way it was read", func(r *readingRow) string {
			ev, err := calledfor.ReadingOf(r.x).EV100()
			if err != nil {
				return ""
			}
			return calculated(ev)
		}},
		{"light", sheetcsv.Text, "sun, shade, overcast, dusk or lamp", func(r *readingRow) string { return r.x.Light }},
		{"filter", sheetcsv.Text, "filter before the meter", func(r *readingRow) string { return r.x.Filter }},
		{"text", sheetcsv.Text, "what was said", func(r *readingRow) string { return r.x.Text }},
	},
	rows: func(t *Tables, give func(*readingRow) error) error {
		found, err := t.chosen.entriesOf(events.LightMetered)
		if err != nil {
			return err
		}
		for _, e := range found {
			x := e.Data.(*events.LightMeteredData)
			if !t.chosen.within(e, x.Picture) {
				continue
			}
			if err := give(&readingRow{e, x}); err != nil {
				return err
			}
		}
		return nil
	},
}

// stripRow is one step of a test strip.
type stripRow struct {
	s    *calledfor.Strip
	read events.StripReadData // zero where it was not read
	step calledfor.Step
	at   int // from 1
}

var stripsTable = table[stripRow]{
	name: "strips", key: []string{"strip", "step"}, says: "One record for each step of each test strip.",
	columns: []column[stripRow]{
		{"strip", sheetcsv.Text, "its name", func(r *stripRow) string { return r.s.Entity.Name }},
		{"step", sheetcsv.Integer, "the step, from 1", func(r *stripRow) string { return count(r.at) }},
		{"at", sheetcsv.Time, "when the strip was exposed", func(r *stripRow) string { return moment(r.s.Entry.At) }},
		{"session", sheetcsv.Text, "the session of the exposure", func(r *stripRow) string { return r.s.Exposed.Session }},
		{"camera", sheetcsv.Text, "the camera", func(r *stripRow) string { return r.s.Exposed.Camera }},
		{"box", sheetcsv.Text, "the box its paper came from", func(r *stripRow) string { return r.s.Exposed.Box }},
		{"picture", sheetcsv.Text, "the picture it was made for", func(r *stripRow) string { return r.s.Exposed.Picture }},
		{"on", sheetcsv.Text, "scene, negative or pre-flash", func(r *stripRow) string { return r.s.Exposed.On }},
		{"f", sheetcsv.Number, "relative aperture used", func(r *stripRow) string { return exactOf(r.s.Exposed.F) }},
		{"time_s", sheetcsv.Number, "exposure of the step, all of it", func(r *stripRow) string { return exact(r.s.Exposed.TimesS[r.at-1]) }},
		{"called_for_s", sheetcsv.Number, "exposure called for at that aperture", func(r *stripRow) string { return calculatedOf(r.step.CalledForS) }},
		{"deviation_stops", sheetcsv.Number, "log2(done ÷ called for) of the step; + is too much", func(r *stripRow) string { return stopsOf(r.deviation()) }},
		{"served_by", sheetcsv.Text, "id of the reading that called for it", func(r *stripRow) string {
			if r.step.Serving == nil {
				return ""
			}
			return r.step.Serving.ID.String()
		}},
		{"filter", sheetcsv.Text, "filter before the lens", func(r *stripRow) string { return r.s.Exposed.Filter }},
		{"part", sheetcsv.Number, "share of a whole sheet that the strip took", func(r *stripRow) string { return exactOf(r.s.Exposed.Part) }},
		{"bath", sheetcsv.Text, "the developer", func(r *stripRow) string { return r.read.Bath }},
		{"develop_s", sheetcsv.Number, "time in it", func(r *stripRow) string { return exactOf(r.read.TimeS) }},
		{"developer_c", sheetcsv.Number, "temperature of the developer", func(r *stripRow) string { return exactOf(r.read.TempC) }},
		{"threshold", sheetcsv.Flag, "yes at the first step with a tone", func(r *stripRow) string { return r.is(r.read.Threshold) }},
		{"best", sheetcsv.Flag, "yes at the step that was picked", func(r *stripRow) string { return r.is(r.read.Best) }},
		{"maximum_black", sheetcsv.Flag, "yes at the first step that gets no blacker", func(r *stripRow) string { return r.is(r.read.MaximumBlack) }},
		{"density", sheetcsv.Number, "density of the step", func(r *stripRow) string {
			if r.at > len(r.read.Densities) {
				return ""
			}
			return exact(r.read.Densities[r.at-1])
		}},
	},
	rows: func(t *Tables, give func(*stripRow) error) error {
		found, err := t.chosen.entriesOf(events.StripExposed)
		if err != nil {
			return err
		}
		for _, e := range found {
			x := e.Data.(*events.StripExposedData)
			if !t.chosen.within(e, x.Picture) {
				continue
			}
			if err := t.stepsOf(x.Strip, e.ID, give); err != nil {
				return err
			}
		}
		return nil
	},
}

// stepsOf gives the steps of one strip, where it was exposed by the entry named: of two with one name the first is the strip.
func (t *Tables) stepsOf(name string, by events.ID, give func(*stripRow) error) error {
	r := stripRow{}
	var err error
	if r.s, err = snapshot.Listed(calledfor.StripOf(t.chosen.Snap, name)); err != nil || r.s.Entry.ID != by {
		return err
	}
	if read := r.s.Read(); read != nil {
		r.read = *read
	}
	if r.step, err = r.s.CalledFor(t.chosen.Snap); err != nil {
		return err
	}
	for i := range r.s.Exposed.TimesS {
		r.at = i + 1
		if err := give(&r); err != nil {
			return err
		}
	}
	return nil
}

func (r *stripRow) is(step *int) string { return yes(step != nil && *step == r.at) }

func (r *stripRow) deviation() *float64 { return r.step.StopsOff(r.s.Exposed.TimesS[r.at-1]) }
