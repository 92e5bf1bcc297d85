package why

import (
	"fmt"
	"math"
	"slices"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// Causes are the causes that a log can show, in the words of the findings.
var Causes = []string{
	"bellows-factor-forgotten", "bellows-factor-twice", "meter-at-wrong-index", "index-off", "filter-factor-forgotten", "filter-factor-without-filter",
	"reciprocity-forgotten", "planned-otherwise", "cap-mistimed", "wrong-aperture", "average-misread", "light-changed", "wrong-paper", "not-exposed", "double-exposed",
	"under-developed", "over-developed", "developer-cold", "developer-warm", "developer-exhausted", "developer-old", "bath-shallow",
	"agitation-short", "baths-swapped", "stop-skipped", "under-fixed", "over-fixed", "fixer-cold", "fixer-exhausted", "fixer-old", "under-washed",
	"paper-expired", "paper-too-hard", "paper-too-soft", "over-flashed", "focus-shifted", "depth-short", "subject-moved", "light-leak",
}

// byStains makes a deviation that shows on its own sheet as the fault tables say, and, where carries is true and the
// sheet is a negative, on the prints made from it.
func (r *replay) byStains(l *calledfor.SheetLog, cause string, entries []string, scale float64, carries bool) *deviation {
	v := &deviation{on: l}
	v.Cause, v.Entries = cause, entries
	v.shows = func(symptom string, seen *calledfor.SheetLog) float64 {
		switch {
		case seen == l:
			return stains[cause][symptom] * scale
		case carries && l.Sheet.Generation == snapshot.Negative:
			return stains[cause][inverted(symptom)] * scale * through(l)
		}
		return 0
	}
	return r.add(v)
}

// through is how far a fault without a tone on a negative may be read in its print: less where the negative itself was
// found good.
func through(l *calledfor.SheetLog) float64 {
	if v := l.Sheet.Verdict(); v != nil && v.Verdict == "keep" {
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
		return "vignetted"
	case "vignetted":
		return "light-corners"
	case "blank":
		return "all-black"
	case "all-black":
		return "blank"
	}
	return symptom
}

// afterWeeks holds what fixer left in a sheet to what was seen weeks after: yellowing and fading take days to weeks
// (published, as the limits of wash), and a stain seen at the tray has another cause.
func (v *deviation) afterWeeks() {
	shows := v.shows
	v.shows = func(symptom string, seen *calledfor.SheetLog) float64 {
		if symptom != "scum" && !seenLate(seen) {
			return 0
		}
		return shows(symptom, seen)
	}
}

// rinsed tells a sheet that went from developer to fixer without a rinse.
func (r *replay) rinsed(l *calledfor.SheetLog) error {
	if len(l.Sheet.Rinsed) > 0 || len(l.Sheet.Developed) == 0 || len(l.Sheet.Fixed) == 0 {
		return nil
	}
	v := r.byStains(l, "stop-skipped", idsOf(&l.Sheet.Developed[0], &l.Sheet.Fixed[0]), 1, false)
	v.Done, v.Unit = new(0.0), "s"
	v.Text = noun(l) + " went from the developer into the fixer without a rinse or a stop"
	v.Next = "rinse 10 to 15 s between developer and fixer"
	return nil
}

// washed tells a wash that was short, or missing. A test that found no fixer left outranks the model.
func (r *replay) washed(l *calledfor.SheetLog) error {
	sheet := l.Sheet
	if n := len(sheet.Judged); n > 0 && sheet.FixedAgain() { // what was seen before the last fixing, the first wash left
		if seen := sheet.UpTo(sheet.Judged[n-1]); !seen.FixedAgain() {
			sheet = seen
		}
	}
	clear := slices.ContainsFunc(sheet.Entries, func(e events.Entry) bool {
		x, ok := e.Data.(*events.SheetTestedData)
		return ok && x.Test == "hypo" && x.Result == "clear" && (len(sheet.Fixed) == 0 || events.Compare(e, sheet.Fixed[len(sheet.Fixed)-1]) > 0)
	})
	if len(sheet.Fixed) == 0 || clear {
		return nil
	}
	washes := sheet.WashedSince()
	if len(washes) == 0 {
		if len(sheet.Judged) == 0 {
			return nil
		}
		v := r.byStains(l, "under-washed", idsOf(&sheet.Fixed[len(sheet.Fixed)-1]), 0.9, false)
		v.Done, v.Unit = new(0.0), "s"
		v.Text = noun(l) + " was, by the log, never washed"
		if sheet.FixedAgain() {
			v.Text = noun(l) + " was fixed again after its wash and, by the log, not washed since"
		}
		v.Next = "wash it now, and write it down"
		v.afterWeeks()
		return nil
	}
	w, known, err := calledfor.WashOf(r.d, sheet)
	if err != nil || !known || !w.Short { // a wash that no formula takes accuses nobody
		return err
	}
	v := r.byStains(l, "under-washed", entriesOf(washes), 1, false)
	v.Done, v.CalledFor, v.Unit = new(twoPlaces(w.Share)), new(1.0), "wash"
	v.Text = fmt.Sprintf("%s was washed too short: %s of the wash called for, %s g of fixer a square metre left by the model", noun(l), wording.Percent(w.Share), wording.Number(w.GPerM2))
	if x := washes[0].Data.(*events.SheetWashedData); x.Changes != nil && len(washes) == 1 {
		plan := calc.WashCalledFor(l.Paper.WashBase(), x.Aid != "")
		v.Done, v.CalledFor, v.Unit = new(float64(*x.Changes)), new(float64(plan.Changes)), "changes"
		v.Text = fmt.Sprintf("%s was washed too short: %s where %d of %s each are called for, %s g of fixer a square metre left by the model", noun(l), wording.CountOf(*x.Changes, "change"), plan.Changes, wording.Seconds(plan.SoakS), wording.Number(w.GPerM2))
	}
	if x := washes[0].Data.(*events.SheetWashedData); x.RunningS != nil && x.Changes == nil && len(washes) == 1 {
		called, _ := calledfor.WashTime(l.Paper.WashBase(), x)
		v.Done, v.CalledFor, v.Unit = x.RunningS, called, "s"
		least, most := calc.WashTimeKnown(l.Paper.WashBase())
		v.LowS, v.HighS = new(*called*least), new(*called*most)
		v.Text = fmt.Sprintf("%s was washed too short: %s in running water where %s are called for, %s g of fixer a square metre left by the model", noun(l), wording.Seconds(*x.RunningS), wording.Seconds(*called), wording.Number(w.GPerM2))
	}
	v.Next = "many small changes of water beat one large one; test a scrap for fixer; wash this one again"
	v.afterWeeks()
	return nil
}

// tested takes a test of the finished sheet at its word: hypo left in it was not washed out, silver was not fixed out.
func (r *replay) tested(l *calledfor.SheetLog) error {
	for i := range l.Sheet.Entries {
		e := &l.Sheet.Entries[i]
		x, ok := e.Data.(*events.SheetTestedData)
		if !ok || x.Test == "look" || x.Result == "clear" {
			continue
		}
		cause, scale, what := "under-washed", 1.0, "hypo"
		if x.Test == "silver" {
			cause, what = "under-fixed", "silver"
		}
		if x.Result == "trace" {
			scale = 0.5
		}
		v := r.byStains(l, cause, idsOf(e), scale, false)
		v.Text = fmt.Sprintf("a test of %s found %s left in it (%s)", noun(l), what, x.Result)
		v.Next = "wash it again, and test again"
		if x.Test == "silver" {
			v.Next = "fix it again in fresh fixer, wash it, and test again"
		} else {
			v.afterWeeks()
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
func (r *replay) shallow(l *calledfor.SheetLog) error {
	if l.Box == nil {
		return nil
	}
	area := l.Box.Area() * calledfor.PartOfSheet(l.Sheet)
	if area <= 0 {
		return nil
	}
	seen := map[string]bool{}
	for _, e := range append(append([]events.Entry{}, l.Sheet.Developed...), l.Sheet.Fixed...) {
		name := events.PlacesOf(e.Data).Bath
		if seen[name] {
			continue
		}
		seen[name] = true
		b, err := wording.IgnoreMissing(r.d.Bath(name))
		if err != nil {
			return err
		}
		if b == nil || b.Mixed == nil {
			continue
		}
		volume := b.VolumeAt(e.At)
		depth := volume / (area * 1000)
		if depth >= thinMM {
			continue
		}
		scale := 1.0
		if depth >= shallowMM {
			scale = 0.6
		}
		v := r.byStains(l, "bath-shallow", idsOf(&e, mixing(b)), scale, true)
		v.Done, v.CalledFor, v.Unit = new(volume), new(math.Ceil(thinMM*area*1000)), "ml"
		v.Text = fmt.Sprintf("the %s %s holds %s ml, which covers %s by %s mm only", b.Mixed.Role, name, wording.Number(volume), noun(l), wording.Number(depth))
		v.Next = fmt.Sprintf("take at least %s ml for this size, in a tray hardly larger than the sheet", wording.Number(*v.CalledFor))
	}
	return nil
}

// stillS is how long a bath may stand between two rockings. Published: US Navy NAVEDTRA 14209, Table 10-1, names the
// fault; the half minute is common practice.
const stillS = 30.0

// rocked tells baths that stood still too long.
func (r *replay) rocked(l *calledfor.SheetLog) error {
	for _, e := range append(append([]events.Entry{}, l.Sheet.Developed...), l.Sheet.Fixed...) {
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
			v.shows = func(symptom string, seen *calledfor.SheetLog) float64 {
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
		v.Done, v.CalledFor, v.Unit = new(*rock), new(stillS), "s"
		v.Text = fmt.Sprintf("%s was rocked only every %s in %s", noun(l), wording.Seconds(*rock), events.PlacesOf(e.Data).Bath)
		v.Next = "rock the tray all the time, or every 10 s, now one way and now the other"
	}
	return nil
}
