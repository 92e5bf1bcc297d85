package season

import (
	"fmt"
	"math"

	"traybook/calc"
	"traybook/events"
)

const (
	camera = "ferry-steps-box"
	focal  = 180.0
	copyF  = 11.0
)

// negative is what the photographer meant with a picture, and what went otherwise. The zero value of a slip is none.
type negative struct {
	subject, sitter, text string
	f, distance           float64 // aperture; lens to subject in mm
	box                   string  // "" = the one in use
	filter                string
	motion                string
	flash                 float64 // share of the threshold
	holder                string
	near, far             float64

	// Slips.
	noExtension, noFilter, noIndex bool    // left out of the plan
	doneF                          float64 // set instead of f
	doneStops                      float64 // the cap held open longer or shorter than planned
	plannedBox                     string  // meant another box
	focused                        float64 // rail set for another distance
	typed                          float64 // written first, and amended in the evening
	twice                          float64 // a second exposure on the same sheet, seconds
	withFilter                     string  // on the lens, but not in the plan

	treatment
}

// treatment is what happens to a sheet in the baths.
type treatment struct {
	developer, fixer  string
	developStops      float64 // longer or shorter than called for
	developS          float64 // instead of what is called for
	fixStops          float64
	noRinse           bool
	rock              float64 // seconds between two rockings, 0 = not written
	changes           int     // of wash water; 0 = as called for
	washML            float64
	aid               string
	verdict, said     string
	symptoms          []string
	stops             *float64
	mid               float64 // density read, 0 = none
	noVerdict, noWash bool
	waits             bool // exposed only
}

// meter reads the light on the scene: f and seconds at an index.
func (b *bench) meter(f, timeS, index float64, light string) {
	b.after(1)
	b.reading, b.light = calc.Reading{F: f, TimeS: timeS, Index: index}, light
	b.write(&events.LightMeteredData{On: "scene", Mode: "reflected", F: num(f), TimeS: num(timeS), Index: num(index), Of: "average", Light: light, Carried: b.carried()})
}

// expose takes a negative and works it to the end; it gives the picture's number.
func (b *bench) expose(n negative) string {
	b.after(3)
	box := n.box
	if box == "" {
		box = b.box
	}
	p := b.papers[box]
	picture := fmt.Sprintf("%d-%03d", b.year, b.next)
	b.next++
	sheet := picture + "n"
	b.sizes[sheet] = p.sheetArea
	m, err := calc.Magnification(focal, n.distance)
	b.fail(err)
	ext, err := calc.ExtensionFactor(m, 1)
	b.fail(err)
	plan := calc.Exposure{Reading: b.reading, PaperIndex: p.index, SetF: n.f, ExtensionFactor: ext, FilterFactor: 1, P: p.p}
	if n.filter != "" {
		plan.FilterFactor = p.filter[n.filter]
	}
	if n.noExtension {
		plan.ExtensionFactor = 1
	}
	if n.noFilter {
		plan.FilterFactor = 1
	}
	if n.noIndex {
		plan.PaperIndex = b.reading.Index
	}
	if n.plannedBox != "" {
		plan.PaperIndex, plan.P = b.papers[n.plannedBox].index, b.papers[n.plannedBox].p
	}
	called, err := plan.CalledFor()
	b.fail(err)
	planned := called.SetTimeS
	x := &events.SheetExposedData{Picture: picture, Box: box, F: n.f, TimeS: b.scatter(planned * math.Exp2(n.doneStops)), Sheet: sheet,
		PlannedF: num(n.f), PlannedS: num(planned), PlannedBox: n.plannedBox, SubjectMM: num(n.distance), Filter: n.filter, Motion: n.motion,
		Light: b.light, Holder: n.holder, Subject: n.subject, Sitter: n.sitter, Text: n.text, Carried: b.carried()}
	if n.withFilter != "" {
		x.Filter = n.withFilter
	}
	if x.Filter != "" {
		x.FilterFactor = num(p.filter[x.Filter])
	}
	if n.doneF > 0 {
		x.F = n.doneF
	}
	if n.focused > 0 {
		x.FocusedMM = num(n.focused)
	}
	if n.near > 0 {
		x.NearMM, x.FarMM = num(n.near), num(n.far)
	}
	if n.flash > 0 {
		x.PreFlash = num(n.flash)
	}
	done := x.TimeS
	if n.typed > 0 {
		x.TimeS = n.typed
	}
	id := b.write(x)
	if n.typed > 0 {
		b.after(2)
		set, err := events.SetValue("time_s", done)
		b.fail(err)
		b.write(&events.EntryAmendedData{Entry: id, Set: events.Set{set}, Why: "the point was left out"})
	}
	if n.twice > 0 {
		b.after(4)
		again := *x
		again.TimeS, again.PlannedS, again.Subject, again.Text = n.twice, nil, "", "the holder was not marked"
		b.write(&again)
	}
	if n.waits {
		return picture
	}
	b.work(sheet, p, n.treatment)
	return picture
}

// work takes a sheet through the baths and judges it.
func (b *bench) work(sheet string, p *paper, t treatment) {
	developer, fixer := orElse(t.developer, b.developer), orElse(t.fixer, b.fixer)
	b.after(4)
	called := b.calledFor(developer, sheet, p.developS)
	done := math.Round(called*math.Exp2(t.developStops)/5) * 5
	if t.developS > 0 {
		done = t.developS
	}
	dev := &events.SheetDevelopedData{Sheet: sheet, Bath: developer, TimeS: done, Carried: b.carried()}
	if t.rock > 0 {
		dev.RockS = num(t.rock)
	}
	b.write(dev)
	if !t.noRinse {
		b.after(done / 60)
		b.write(&events.SheetRinsedData{Sheet: sheet, Bath: b.rinse, TimeS: num(15), Carried: b.carried()})
		if b.rinse != "" {
			b.uses(b.rinse, sheet)
		}
	}
	b.after(0.5)
	called = b.calledFor(fixer, sheet, p.fixS)
	done = math.Ceil(called*math.Exp2(t.fixStops)/5) * 5
	b.write(&events.SheetFixedData{Sheet: sheet, Bath: fixer, TimeS: done, Carried: b.carried()})
	if t.noWash {
		return
	}
	b.after(done/60 + 1)
	plan := calc.WashCalledFor(calc.Base(p.base), t.aid != "")
	changes, ml := plan.Changes, 1000.0
	if t.changes > 0 {
		changes = t.changes
	}
	if t.washML > 0 {
		ml = t.washML
	}
	wash := &events.SheetWashedData{Sheet: sheet, Changes: count(changes), VolumeML: num(ml), SoakS: num(plan.SoakS), Aid: t.aid, Carried: b.carried()}
	if t.aid != "" {
		wash.Bath = "washing-aid-1"
		b.uses(wash.Bath, sheet)
	}
	b.write(wash)
	if t.noVerdict {
		return
	}
	b.after(6)
	j := &events.SheetJudgedData{Sheet: sheet, Verdict: orElse(t.verdict, "keep"), Symptoms: t.symptoms, Stops: t.stops, Text: t.said, Carried: b.carried()}
	if t.mid > 0 {
		j.Density = &events.Density{Mid: num(t.mid)}
	}
	b.write(j)
}

// print is what was meant with a print and what went otherwise.
type print struct {
	box, filter string
	f           float64 // 0 = the copying aperture
	flash       float64
	thin        float64 // stops that the negative is over (+) or under (−): its mid-tone is read accordingly
	way, text   string
	contactS    float64 // of a contact print or enlargement
	after       string  // the earlier print that it goes by, instead of a reading

	doneF     float64
	doneStops float64
	asked     float64 // stops asked of that print

	treatment
}

// reprint reads a negative, prints it in the camera at its own size and works the print to the end.
func (b *bench) reprint(picture string, x print) string {
	box := orElse(x.box, b.printBox)
	p := b.papers[box]
	f := x.f
	if f == 0 {
		f = copyF
	}
	b.prints[picture]++
	sheet := fmt.Sprintf("%sp%d", picture, b.prints[picture])
	b.sizes[sheet] = p.sheetArea
	d := &events.SheetReprintedData{Picture: picture, Box: box, Sheet: sheet, Filter: x.filter, Text: x.text}
	var planned float64
	switch {
	case x.contactS > 0:
		b.after(4)
		d.Way, d.TimeS = x.way, x.contactS
	case x.after != "":
		b.after(4)
		before := b.done[x.after]
		// Same box, same aperture, same size: only what the eye asked for moves the time.
		t, err := calc.SetTime(before * math.Exp2(x.asked))
		b.fail(err)
		planned = t
	default:
		planned = b.readNegative(picture, x, p, f)
	}
	if planned > 0 {
		d.F, d.PlannedF, d.PlannedS, d.Magnification = num(f), num(f), num(planned), num(1)
		d.TimeS = b.scatter(planned * math.Exp2(x.doneStops))
	}
	if x.doneF > 0 {
		d.F = num(x.doneF)
	}
	if x.flash > 0 {
		d.PreFlash = num(x.flash)
	}
	b.done[sheet] = d.TimeS
	b.write(d)
	b.work(sheet, p, x.treatment)
	return sheet
}

// readNegative meters the mid-tone of the negative on the light board and gives the time that the copy calls for at 1:1.
func (b *bench) readNegative(picture string, x print, p *paper, f float64) float64 {
	b.after(5)
	const board = 5.0 // seconds at f/11 and the paper's own index, for a mid-tone 0.60 above base
	read := digits(board*(4/p.printIndex)*math.Pow(10, midMove(p, x.thin))*(1+0.04*b.hand.NormFloat64()), 2)
	b.write(&events.LightMeteredData{On: "negative", Mode: "reflected", F: num(copyF), TimeS: num(read), Index: num(p.printIndex), Picture: picture,
		Of: "mid", Light: "lamp", Carried: b.carried()})
	ext, err := calc.ExtensionFactor(1, 1)
	b.fail(err)
	plan := calc.Exposure{Reading: calc.Reading{F: copyF, TimeS: read, Index: p.printIndex}, PaperIndex: p.printIndex, SetF: f, ExtensionFactor: ext, P: p.p, FilterFactor: 1}
	if x.filter != "" {
		plan.FilterFactor = p.filter[x.filter]
	}
	called, err := plan.CalledFor()
	b.fail(err)
	b.after(2)
	return called.SetTimeS
}

// midMove is how far the mid-tone's density lies from 0.60 above base on a negative so many stops off.
func midMove(p *paper, stops float64) float64 {
	hm, err := calc.HmFromIndex(p.index)
	if err != nil {
		return 0
	}
	c, err := calc.NewCurve(hm, p.isoR, calc.DefaultDmin, p.dmax)
	if err != nil {
		return 0
	}
	s := calc.NewSheet(c, calc.CameraFlare)
	s.ExposureStops = stops
	return s.Negative(0) - calc.DefaultDmin - calc.MidAboveBase
}

func orElse(a, b string) string {
	if a != "" {
		return a
	}
	return b
}
