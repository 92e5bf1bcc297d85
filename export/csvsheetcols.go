package export

import (
	"cmp"
	"strings"

	"traybook/events"
	"traybook/export/sheetcsv"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
)

var sheetsTable = table[sheetRow]{
	name: "sheets", key: []string{"sheet"}, says: "One record for each sheet of paper: the negative and the prints, with every called-for number beside what was done.",
	columns: []column[sheetRow]{
		{"sheet", sheetcsv.Text, "2026-014n is the negative of 2026-014, 2026-014p1 its first print", func(r *sheetRow) string { return r.s.Name }},
		{"picture", sheetcsv.Text, "the picture it belongs to", func(r *sheetRow) string { return r.p.Entity.Name }},
		{"generation", sheetcsv.Text, "negative or positive; one from the camera that was reversed, or is on direct-positive paper, is a positive", func(r *sheetRow) string {
			if r.s.Positive(r.box) {
				return snapshot.Positive
			}
			return r.s.Generation
		}},
		{"at", sheetcsv.Time, "when it was exposed", func(r *sheetRow) string { return moment(r.at) }},
		{"session", sheetcsv.Text, "the session of the exposure", func(r *sheetRow) string { return r.exposureText("session") }},
		{"box", sheetcsv.Text, "the box its paper came from", func(r *sheetRow) string { return r.s.Box }},
		{"paper", sheetcsv.Text, "what stands on the box", func(r *sheetRow) string { return r.paper(func(p *events.PaperReceivedData) string { return p.Name }) }},
		{"base", sheetcsv.Text, "rc (resin-coated) or fb (fibre)", func(r *sheetRow) string { return r.paper(func(p *events.PaperReceivedData) string { return p.Base }) }},
		{"width_mm", sheetcsv.Number, "width of a whole sheet", func(r *sheetRow) string {
			return r.paper(func(p *events.PaperReceivedData) string { return exact(p.WidthMM) })
		}},
		{"height_mm", sheetcsv.Number, "height of a whole sheet", func(r *sheetRow) string {
			return r.paper(func(p *events.PaperReceivedData) string { return exact(p.HeightMM) })
		}},
		{"part", sheetcsv.Number, "share of a whole sheet that was used", func(r *sheetRow) string { return r.exposureText("part") }},
		{"area_m2", sheetcsv.Number, "area of the part used", func(r *sheetRow) string { return r.area() }},
		{"index", sheetcsv.Number, "exposure index of the paper in force", func(r *sheetRow) string { return indexOf(r.step.Paper) }},
		{"exposures", sheetcsv.Integer, "how often it was exposed; more than 1 is a double exposure", func(r *sheetRow) string { return count(r.times) }},
		{"way", sheetcsv.Text, "of a print: camera, contact or enlarger", func(r *sheetRow) string {
			if r.printed == nil {
				return ""
			}
			return cmp.Or(r.printed.Way, "camera")
		}},
		{"f", sheetcsv.Number, "relative aperture used", func(r *sheetRow) string { return r.exposureText("f") }},
		{"time_s", sheetcsv.Number, "exposure as done", func(r *sheetRow) string { return r.exposureText("time_s") }},
		{"planned_f", sheetcsv.Number, "relative aperture that was meant", func(r *sheetRow) string { return r.exposureText("planned_f") }},
		{"planned_s", sheetcsv.Number, "exposure that was meant", func(r *sheetRow) string { return r.exposureText("planned_s") }},
		{"called_for_s", sheetcsv.Number, "exposure called for at the aperture used", func(r *sheetRow) string { return calculatedOf(r.step.CalledForS) }},
		{"deviation_stops", sheetcsv.Number, "log2(done ÷ called for); + is too much", func(r *sheetRow) string { return stopsOf(r.step.DeviationStops) }},
		{"served_by", sheetcsv.Text, "id of the reading, or of the earlier print's exposure, that called for it", func(r *sheetRow) string {
			if r.step.Serving == nil {
				return ""
			}
			return r.step.Serving.ID.String()
		}},
		{"magnification", sheetcsv.Number, "image ÷ subject; of a print: print ÷ negative", func(r *sheetRow) string {
			if r.step.Magnification == 0 {
				return ""
			}
			return calculated(r.step.Magnification)
		}},
		{"subject_mm", sheetcsv.Number, "lens to subject", func(r *sheetRow) string { return r.exposureText("subject_mm") }},
		{"extension_mm", sheetcsv.Number, "extension from the infinity mark", func(r *sheetRow) string { return r.exposureText("extension_mm") }},
		{"focused_mm", sheetcsv.Number, "distance the rail was set for", func(r *sheetRow) string { return r.exposureText("focused_mm") }},
		{"filter", sheetcsv.Text, "filter before the lens", func(r *sheetRow) string { return r.exposureText("filter") }},
		{"filter_factor", sheetcsv.Number, "its factor as logged", func(r *sheetRow) string { return r.exposureText("filter_factor") }},
		{"pre_flash", sheetcsv.Number, "pre-flash as a share of the threshold exposure", func(r *sheetRow) string { return r.exposureText("pre_flash") }},
		{"pre_flash_s", sheetcsv.Number, "pre-flash as a time", func(r *sheetRow) string { return r.exposureText("pre_flash_s") }},
		{"motion", sheetcsv.Text, "how the subject kept still", func(r *sheetRow) string { return r.exposureText("motion") }},
		{"holder", sheetcsv.Text, "the holder it was exposed in", func(r *sheetRow) string { return r.exposureText("holder") }},
		{"developer", sheetcsv.Text, "the bath of the last development", func(r *sheetRow) string { return r.developer }},
		{"develop_s", sheetcsv.Number, "time in the developer, all stays together", func(r *sheetRow) string { return timeIn(r.dev, r.devS) }},
		{"develop_called_for_s", sheetcsv.Number, "time that paper, temperature and use called for", func(r *sheetRow) string { return calculatedOf(r.dev.CalledForS) }},
		{"develop_deviation_stops", sheetcsv.Number, "log2(done ÷ called for) of the last stay", func(r *sheetRow) string { return stopsOf(r.dev.DeviationStops) }},
		{"developer_c", sheetcsv.Number, "temperature of the developer as it counted", func(r *sheetRow) string { return tempOf(r.dev) }},
		{"developer_used", sheetcsv.Number, "share of its capacity used before this sheet", func(r *sheetRow) string { return usedOf(r.dev) }},
		{"stop_bath", sheetcsv.Text, "the bath of the rinse, empty for plain water", func(r *sheetRow) string { return r.rinsedIn }},
		{"rinse_s", sheetcsv.Number, "time of the last rinse or stop", func(r *sheetRow) string { return exactOf(r.rinse.DoneS) }},
		{"fixer", sheetcsv.Text, "the bath of the last fixing", func(r *sheetRow) string { return r.fixer }},
		{"fix_s", sheetcsv.Number, "time in the fixer, all stays together", func(r *sheetRow) string { return timeIn(r.fix, r.fixS) }},
		{"fix_called_for_s", sheetcsv.Number, "time that paper, temperature and use called for", func(r *sheetRow) string { return calculatedOf(r.fix.CalledForS) }},
		{"fix_deviation_stops", sheetcsv.Number, "log2(done ÷ called for) of all stays together", func(r *sheetRow) string { return stopsOf(r.fix.DeviationStops) }},
		{"fixer_c", sheetcsv.Number, "temperature of the fixer as it counted", func(r *sheetRow) string { return tempOf(r.fix) }},
		{"fixer_used", sheetcsv.Number, "share of its capacity used before this sheet", func(r *sheetRow) string { return usedOf(r.fix) }},
		{"wash_s", sheetcsv.Number, "soaking and running of the last wash together", func(r *sheetRow) string { return calculatedOf(r.wash.DoneS) }},
		{"wash_called_for_s", sheetcsv.Number, "what its base called for", func(r *sheetRow) string { return calculatedOf(r.wash.CalledForS) }},
		{"wash_left_g_m2", sheetcsv.Number, "fixing salt calculated to be left in the sheet, grams a square metre", func(r *sheetRow) string { return r.residual }},
		{"dried_at", sheetcsv.Time, "when it was dry", func(r *sheetRow) string { return moment(r.driedAt) }},
		{"tests", sheetcsv.Text, "tests for what was left in it", func(r *sheetRow) string { return strings.Join(r.tested, ", ") }},
		{"state", sheetcsv.Text, "how far it has come", func(r *sheetRow) string { return r.s.State }},
		{"judged_at", sheetcsv.Time, "when it was last judged", func(r *sheetRow) string { return moment(r.judgedAt) }},
		{"verdict", sheetcsv.Text, "keep, redo or reject", func(r *sheetRow) string { return r.judgedField("verdict") }},
		{"symptoms", sheetcsv.Text, "what the eye saw, parted by blanks", func(r *sheetRow) string {
			if r.judged == nil {
				return ""
			}
			return strings.Join(r.judged.Symptoms, " ")
		}},
		{"asked_stops", sheetcsv.Number, "change in this sheet's exposure that the eye asked for; + is more", func(r *sheetRow) string { return r.judgedField("stops") }},
		{"density_min", sheetcsv.Number, "least density read on it", func(r *sheetRow) string { return r.density(0) }},
		{"density_mid", sheetcsv.Number, "density of the tone that was read", func(r *sheetRow) string { return r.density(1) }},
		{"density_max", sheetcsv.Number, "greatest density read on it", func(r *sheetRow) string { return r.density(2) }},
		{"judged_text", sheetcsv.Text, "what was said of it in words", func(r *sheetRow) string { return r.judgedField("text") }},
		{"delivered_at", sheetcsv.Time, "when it was handed over", func(r *sheetRow) string { return moment(r.deliveredAt) }},
		{"delivered_to", sheetcsv.Text, "reference of who has it", func(r *sheetRow) string { return r.to }},
		{"for_order", sheetcsv.Text, "the order for which it went", func(r *sheetRow) string { return r.order }},
		{"price", sheetcsv.Number, "what was paid", func(r *sheetRow) string { return r.price }},
		{"currency", sheetcsv.Text, "in which money", func(r *sheetRow) string { return r.currency }},
	},
	each: func(t *Tables, give func(*sheetRow) error) func(*snapshot.Picture) error {
		return t.sheetsOf(func(p *snapshot.Picture, s *snapshot.Sheet) error {
			r := sheetRow{p: p, s: s}
			if err := r.fill(t.chosen.Snap); err != nil {
				return err
			}
			return give(&r)
		})
	},
}

// exposureText is a field of the sheet's first exposure as it was logged.
func (r *sheetRow) exposureText(field string) string {
	switch {
	case r.exposed != nil:
		return FieldText(r.exposed, field)
	case r.printed != nil:
		return FieldText(r.printed, field)
	}
	return ""
}

func (r *sheetRow) judgedField(field string) string {
	if r.judged == nil {
		return ""
	}
	return FieldText(r.judged, field)
}

// FieldText is a field of an entry as text, "" where it is not there or the kind has none of that name.
func FieldText(d events.Data, name string) string {
	switch v := valueOf(d, name).(type) {
	case string:
		return v
	case float64:
		return exact(v)
	case int64:
		return count(int(v))
	}
	return ""
}

// valueOf is a field of an entry, nil where it is not there or the kind has none of that name.
func valueOf(d events.Data, name string) any {
	if f, ok := events.FieldOf(d.Kind(), name); ok {
		if v, there := f.Value(d); there {
			return v
		}
	}
	return nil
}

// indexOf is the exposure index of a paper, "" where it is not known.
func indexOf(p *snapshot.Paper) string {
	if p == nil || p.Index == 0 {
		return ""
	}
	return calculated(p.Index)
}

func (r *sheetRow) paper(get func(*events.PaperReceivedData) string) string {
	if r.box == nil || r.box.Received == nil {
		return ""
	}
	return get(r.box.Received)
}

func (r *sheetRow) area() string {
	if r.box == nil || r.box.Area() == 0 {
		return ""
	}
	return calculated(r.box.Area() * shareOf(r.s))
}

// shareOf is the part of a whole sheet that was used.
func shareOf(s *snapshot.Sheet) float64 {
	if e := s.Exposure(); e != nil {
		if part, ok := valueOf(e.Data, "part").(float64); ok {
			return part
		}
	}
	return 1
}

func (r *sheetRow) density(i int) string {
	if r.judged == nil || r.judged.Density == nil {
		return ""
	}
	d := r.judged.Density
	return exactOf([]*float64{d.Min, d.Mid, d.Max}[i])
}

func timeIn(s calledfor.Step, total float64) string {
	if s.DoneS == nil {
		return ""
	}
	return exact(total)
}

func tempOf(s calledfor.Step) string {
	if s.DoneS == nil {
		return ""
	}
	return calculated(s.TempC)
}

func usedOf(s calledfor.Step) string {
	if s.DoneS == nil {
		return ""
	}
	return calculated(s.Used)
}
