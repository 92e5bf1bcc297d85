package projections

import (
	"fmt"
	"math"
	"time"

	"traybook/calc"
	"traybook/events"
)

// byStains makes a deviation that shows on its own sheet as the fault tables say, and, where carries is true and the
// sheet is a negative, on the prints made from it.
func (r *replay) byStains(l *sheetLog, cause string, entries []string, scale float64, carries bool) *deviation {
	v := &deviation{on: l}
	v.Cause, v.Entries = cause, entries
	v.shows = func(symptom string, seen *sheetLog) float64 {
		switch {
		case seen == l:
			return stains[cause][symptom] * scale
		case carries && l.sheet.Generation == Negative:
			return stains[cause][inverted(symptom)] * scale * l.through()
		}
		return 0
	}
	return r.add(v)
}

// through is how far a fault without a tone on a negative may be read in its print: less where the negative itself was
// found good.
func (l *sheetLog) through() float64 {
	if v := l.sheet.Verdict(); v != nil && v.Verdict == "keep" {
		return 0.45
	}
	return 0.9
}

// inverted turns a mark in a print into the mark on the negative that makes it.
func inverted(symptom string) string {
	switch symptom {
	case "streaks-light":
		return "streaks-dark"
	case "streaks-dark":
		return "streaks-light"
	case "spots-white":
		return "spots-dark"
	case "spots-dark":
		return "spots-white"
	case "light-corners":
		return "dark-corners"
	case "dark-corners":
		return "light-corners"
	case "blank":
		return "black"
	case "black":
		return "blank"
	}
	return symptom
}

// rinsed tells a sheet that went from developer to fixer without a rinse.
func (r *replay) rinsed(l *sheetLog) error {
	if len(l.sheet.Rinsed) > 0 || len(l.sheet.Developed) == 0 || len(l.sheet.Fixed) == 0 {
		return nil
	}
	v := r.byStains(l, "rinse-skipped", idsOf(&l.sheet.Developed[0], &l.sheet.Fixed[0]), 1, false)
	v.Done, v.Unit = ptr(0.0), "s"
	v.Text = l.noun() + " went from the developer into the fixer without a rinse or a stop"
	v.Next = "rinse 10 to 15 s between developer and fixer"
	return nil
}

// washed tells a wash that was short, or missing.
func (r *replay) washed(l *sheetLog) error {
	if len(l.sheet.Fixed) == 0 {
		return nil
	}
	if len(l.sheet.Washed) == 0 {
		if len(l.sheet.Judged) == 0 {
			return nil
		}
		v := r.byStains(l, "washing-short", idsOf(&l.sheet.Fixed[len(l.sheet.Fixed)-1]), 0.9, false)
		v.Done, v.Unit = ptr(0.0), "s"
		v.Text = l.noun() + " was, by the log, never washed"
		v.Next = "wash it now, and write it down"
		return nil
	}
	w, err := r.d.WashOf(l.sheet)
	if err != nil {
		return nil // a wash that no formula takes accuses nobody
	}
	if !w.Short {
		return nil
	}
	v := r.byStains(l, "washing-short", entriesOf(l.sheet.Washed), 1, false)
	v.Done, v.CalledFor, v.Unit = ptr(twoPlaces(w.Share)), ptr(1.0), "wash"
	v.Text = fmt.Sprintf("%s was washed too short: %.0f %% of the wash called for, %s g of fixer a square metre left by the model", l.noun(), w.Share*100, Number(w.GPerM2))
	if x := l.sheet.Washed[0].Data.(*events.SheetWashedData); x.Changes != nil && len(l.sheet.Washed) == 1 {
		base := calc.ResinCoated
		if l.paper.Base == "fb" {
			base = calc.FibreBase
		}
		plan := calc.WashCalledFor(base, x.Aid != "")
		v.Done, v.CalledFor, v.Unit = ptr(float64(*x.Changes)), ptr(float64(plan.Changes)), "changes"
		v.Text = fmt.Sprintf("%s was washed too short: %s where %d of %s each are called for, %s g of fixer a square metre left by the model", l.noun(), howMany(*x.Changes, "change"), plan.Changes, Seconds(plan.SoakS), Number(w.GPerM2))
	}
	v.Next = "many small changes of water beat one large one; test a scrap for fixer; wash this one again"
	return nil
}

// tested takes a test of the finished sheet at its word: hypo left in it was not washed out, silver was not fixed out.
func (r *replay) tested(l *sheetLog) error {
	for i := range l.sheet.Entries {
		e := &l.sheet.Entries[i]
		x, ok := e.Data.(*events.SheetTestedData)
		if !ok || x.Result == "clear" {
			continue
		}
		cause, scale, what := "washing-short", 1.0, "hypo"
		if x.Test == "silver" {
			cause, what = "fixing-short", "silver"
		}
		if x.Result == "trace" {
			scale = 0.5
		}
		v := r.byStains(l, cause, idsOf(e), scale, false)
		v.Text = fmt.Sprintf("a test of %s found %s left in it (%s)", l.noun(), what, x.Result)
		v.Next = "wash it again, and test again"
		if x.Test == "silver" {
			v.Next = "fix it again in fresh fixer, wash it, and test again"
		}
	}
	return nil
}

func entriesOf(list []events.Entry) []string {
	var out []string
	for i := range list {
		out = append(out, list[i].ID.String())
	}
	return out
}

// shallowMM is the depth of bath over a sheet, its volume by the sheet's area, under which it does not cover the sheet
// evenly in a tray somewhat larger; under thinMM it may not. Common practice without a source.
const (
	shallowMM = 10.0
	thinMM    = 16.0
)

// shallow tells baths too small for the sheet.
func (r *replay) shallow(l *sheetLog) error {
	if l.box == nil {
		return nil
	}
	area := l.box.Area() * partOfSheet(l.sheet)
	if area <= 0 {
		return nil
	}
	seen := map[string]bool{}
	for _, e := range append(append([]events.Entry{}, l.sheet.Developed...), l.sheet.Fixed...) {
		name := events.PlacesOf(e.Data).Bath
		if seen[name] {
			continue
		}
		seen[name] = true
		b, err := quiet(r.d.Bath(name))
		if err != nil {
			return err
		}
		if b == nil || b.Mixed == nil {
			continue
		}
		volume := b.volumeAt(e.At)
		depth := volume / (area * 1000)
		if depth >= thinMM {
			continue
		}
		scale := 1.0
		if depth >= shallowMM {
			scale = 0.6
		}
		v := r.byStains(l, "bath-shallow", idsOf(&e, b.mixing()), scale, true)
		v.Done, v.CalledFor, v.Unit = ptr(volume), ptr(math.Ceil(thinMM*area*1000)), "ml"
		v.Text = fmt.Sprintf("%s holds %s ml, which covers %s by %s mm only", name, Number(volume), l.noun(), Number(depth))
		v.Next = fmt.Sprintf("take at least %s ml for this size, in a tray hardly larger than the sheet", Number(*v.CalledFor))
	}
	return nil
}

// volumeAt is what stands in the tray, toppings counted.
func (b *Bath) volumeAt(at time.Time) float64 {
	v := b.Mixed.VolumeML
	for _, e := range b.Entries {
		if x, ok := e.Data.(*events.BathToppedData); ok && !e.At.After(at) {
			v += x.VolumeML
		}
	}
	return v
}

// stillS is how long a bath may stand between two rockings. Published: US Navy NAVEDTRA 14209, Table 10-1, names the
// fault; the half minute is common practice.
const stillS = 30.0

// rocked tells baths that stood still too long.
func (r *replay) rocked(l *sheetLog) error {
	for _, e := range append(append([]events.Entry{}, l.sheet.Developed...), l.sheet.Fixed...) {
		var rock *float64
		fixing := false
		switch x := e.Data.(type) {
		case *events.SheetDevelopedData:
			rock = x.RockS
		case *events.SheetFixedData:
			rock, fixing = x.RockS, true
		}
		if rock == nil || *rock <= stillS {
			continue
		}
		v := r.byStains(l, "agitation-short", idsOf(&e), 1, true)
		if fixing {
			own := l
			v.shows = func(symptom string, seen *sheetLog) float64 {
				if seen != own {
					return 0
				}
				switch symptom {
				case "yellow-stain", "purple-stain", "brown-stain":
					return 0.8
				case "milky", "mottled":
					return 0.5
				}
				return 0
			}
		}
		v.Done, v.CalledFor, v.Unit = ptr(*rock), ptr(stillS), "s"
		v.Text = fmt.Sprintf("%s was rocked only every %s in %s", l.noun(), Seconds(*rock), events.PlacesOf(e.Data).Bath)
		v.Next = "rock the tray all the time, or every 10 s, now one way and now the other"
	}
	return nil
}

// twice tells a sheet that was exposed more than once, by its own entries or by its holder's.
func (r *replay) twice(l *sheetLog) error {
	if l.exposure == nil {
		if len(l.sheet.Developed) > 0 {
			r.neverExposed(l, idsOf(&l.sheet.Developed[0]), l.noun()+" was developed and, by the log, never exposed")
		}
		return nil
	}
	double := func(symptom string, seen *sheetLog) float64 {
		switch {
		case symptom == "double-image" && (seen == l || l.sheet.Generation == Negative):
			return 1
		case seen == l && (symptom == "too-dark" || symptom == "dense" || symptom == "black"):
			return 0.5
		}
		return 0
	}
	if len(l.sheet.Exposures) > 1 && l.x.again > 0 && l.x.timeS > 0 {
		stops := math.Log2((l.x.timeS + l.x.again) / l.x.timeS)
		v := &deviation{on: l, shows: double}
		if stops >= floorStops {
			v.apply = exposedBy(stops)
		}
		v.Cause, v.Entries = "sheet-used-twice", entriesOf(l.sheet.Exposures)
		v.Done, v.CalledFor, v.Unit, v.Stops = ptr(float64(len(l.sheet.Exposures))), ptr(1.0), "exposures", ptr(twoPlaces(stops))
		v.Text = fmt.Sprintf("%s was exposed %d times", l.noun(), len(l.sheet.Exposures))
		v.Next = "mark the holder as soon as it was used, and put it away"
		r.add(v)
	}
	return r.holderUsedTwice(l, double)
}

func (r *replay) neverExposed(l *sheetLog, entries []string, text string) {
	v := &deviation{on: l}
	v.Cause, v.Entries = "not-exposed", entries
	v.Done, v.Unit = ptr(0.0), "s"
	v.Text, v.Next = text, "cap off, count, cap on: write the exposure down before the sheet goes into the bath"
	v.shows = func(symptom string, seen *sheetLog) float64 {
		switch {
		case seen == l && symptom == "blank":
			return 1
		case seen == l && (symptom == "too-light" || symptom == "thin"):
			return 0.9
		case seen != l && l.sheet.Generation == Negative && symptom == "black":
			return 0.9
		}
		return 0
	}
	r.add(v)
}

// holderUsedTwice finds a holder that was exposed more often since it was loaded than it held sheets: one sheet then got
// two pictures, and the one that was taken for the second stayed blank.
func (r *replay) holderUsedTwice(l *sheetLog, double func(string, *sheetLog) float64) error {
	if l.x.holder == "" {
		return nil
	}
	t, ok, err := r.d.R.Thing(l.x.holder)
	if err != nil || !ok {
		return err
	}
	loads, err := r.d.Home(t)
	if err != nil {
		return err
	}
	var load *events.Entry
	var until time.Time
	for i := range loads {
		if loads[i].Kind != events.HolderLoaded {
			continue
		}
		if loads[i].At.After(l.exposure.At) {
			until = loads[i].At
			break
		}
		load = &loads[i]
	}
	if load == nil {
		return nil
	}
	if until.IsZero() || until.Sub(l.exposure.At) > 48*time.Hour {
		until = l.exposure.At.Add(48 * time.Hour)
	}
	uses, err := r.d.entries(events.Query{Cites: t.ID, Kinds: []events.Kind{events.SheetExposed, events.SheetReprinted}, From: load.At, To: until, Limit: 20})
	if err != nil {
		return err
	}
	held := 1
	if n := load.Data.(*events.HolderLoadedData).Sheets; n != nil {
		held = *n
	}
	sheets := map[string]bool{}
	var ids []string
	for _, e := range uses {
		if s := events.SheetOf(e.Data); !sheets[s] {
			sheets[s] = true
			ids = append(ids, e.ID.String())
		}
	}
	if len(sheets) <= held {
		return nil
	}
	v := &deviation{on: l, shows: double}
	v.Cause, v.Entries = "sheet-used-twice", append([]string{load.ID.String()}, ids...)
	v.Done, v.CalledFor, v.Unit = ptr(float64(len(sheets))), ptr(float64(held)), "exposures"
	v.Text = fmt.Sprintf("holder %s was exposed %d times on one loading of %d", l.x.holder, len(sheets), held)
	v.Next = "turn the slide or mark the holder as soon as it was used"
	r.add(v)
	r.neverExposed(l, v.Entries, fmt.Sprintf("holder %s was exposed %d times on one loading of %d: one sheet got two pictures, another none", l.x.holder, len(sheets), held))
	return nil
}

// flashed tells a flash of the threshold exposure or more: a veil; and one so strong that the paper became too soft.
func (r *replay) flashed(l *sheetLog) error {
	if l.x.flash < 1 {
		return nil
	}
	share := l.x.flash
	v := &deviation{on: l, apply: func(m *calc.SheetModel) { m.FlashShare += share }}
	v.Cause, v.Entries = "flash-excess", idsOf(l.exposure)
	v.Done, v.CalledFor, v.Unit = ptr(twoPlaces(share)), ptr(1.0), "thresholds"
	v.Text = fmt.Sprintf("%s was flashed with %s times the exposure that alone gives a first tone", l.noun(), Number(share))
	v.Next = "keep the flash under the threshold; a flash strip finds it"
	v.shows = func(symptom string, seen *sheetLog) float64 {
		if seen == l {
			switch symptom {
			case "grey-fog", "veiled-whites":
				return 0.9
			case "flat":
				return 0.6
			}
		} else if l.sheet.Generation == Negative && (symptom == "weak-blacks" || symptom == "flat") {
			return 0.6
		}
		return 0
	}
	r.add(v)
	return nil
}

// outdated tells a paper past its date by a year or more.
func (r *replay) outdated(l *sheetLog) error {
	if l.exposure == nil || l.box == nil || l.box.Received == nil || l.box.Received.Expires == "" {
		return nil
	}
	months := monthsBetween(endOfDate(l.box.Received.Expires, l.exposure.At.Location()), l.exposure.At)
	if months < floorMonths {
		return nil
	}
	speed, fog, err := calc.AgedPaper(months)
	if err != nil {
		return nil
	}
	v := &deviation{on: l, apply: func(m *calc.SheetModel) { m.ExposureStops += speed; m.FogDensity += fog }}
	v.Cause, v.Entries = "paper-outdated", idsOf(l.exposure)
	if len(l.box.Entries) > 0 {
		v.Entries = append(v.Entries, l.box.Entries[0].ID.String())
	}
	v.Done, v.CalledFor, v.Unit, v.Stops = ptr(math.Round(months)), ptr(0.0), "months past", ptr(twoPlaces(speed))
	v.Text = fmt.Sprintf("%s of %s was %s months past its date", l.noun(), l.sheet.Box, Number(math.Round(months)))
	v.Next = "try a strip of old paper unexposed beside one exposed; use fresh paper for what matters"
	v.shows = func(symptom string, seen *sheetLog) float64 {
		if seen == l {
			return map[string]float64{"grey-fog": 0.95, "edge-fog": 0.9, "veiled-whites": 0.8, "flat": 0.6, "mottled": 0.6, "too-light": 0.4, "thin": 0.4, "yellow-stain": 0.4, "brown-stain": 0.3}[symptom]
		}
		if l.sheet.Generation == Negative {
			return map[string]float64{"weak-blacks": 0.7, "flat": 0.4, "mottled": 0.5}[symptom]
		}
		return 0
	}
	r.add(v)
	return nil
}

// monthsBetween counts months from one instant to another, 30.44 days each; below 0 where it lies ahead.
func monthsBetween(from, to time.Time) float64 {
	if from.IsZero() {
		return 0
	}
	return to.Sub(from).Hours() / 24 / 30.44
}
