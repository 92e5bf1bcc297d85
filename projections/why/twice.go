package why

import (
	"fmt"
	"time"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
)

// twice tells a sheet that was exposed more than once, by its own entries or by its holder's.
func (r *replay) twice(l *calledfor.SheetLog) error {
	if l.Exposure == nil {
		if len(l.Sheet.Developed) > 0 {
			r.neverExposed(l, idsOf(&l.Sheet.Developed[0]), noun(l)+" was developed and, by the log, never exposed")
		}
		return nil
	}
	double := func(symptom string, seen *calledfor.SheetLog) float64 {
		switch {
		case symptom == "double-image" && (seen == l || l.Sheet.Generation == snapshot.Negative):
			return 1
		case seen == l && (symptom == "too-dark" || symptom == "dense" || symptom == "all-black"):
			return 0.5
		}
		return 0
	}
	if stops := l.AgainStops(); stops > 0 {
		v := &deviation{on: l, shows: double}
		if stops >= calc.FloorStops {
			v.apply = exposedBy(stops)
		}
		v.Cause, v.Entries = "double-exposed", entriesOf(l.Sheet.Exposures)
		v.Done, v.CalledFor, v.Unit, v.Stops = new(float64(len(l.Sheet.Exposures))), new(1.0), "exposures", new(twoPlaces(stops))
		v.Text = fmt.Sprintf("%s was exposed %d times", noun(l), len(l.Sheet.Exposures))
		v.Next = "mark the holder as soon as it was used, and put it away"
		r.add(v)
	}
	return r.holderUsedTwice(l, double)
}

func (r *replay) neverExposed(l *calledfor.SheetLog, entries []string, text string) {
	v := &deviation{on: l}
	v.Cause, v.Entries = "not-exposed", entries
	v.Done, v.Unit = new(0.0), "s"
	v.Text, v.Next = text, "cap off, count, cap on: write the exposure down before the sheet goes into the bath"
	v.shows = func(symptom string, seen *calledfor.SheetLog) float64 {
		switch {
		case seen == l && symptom == "blank":
			return 1
		case seen == l && (symptom == "too-light" || symptom == "thin"):
			return 0.9
		case seen != l && l.Sheet.Generation == snapshot.Negative && symptom == "all-black":
			return 0.9
		}
		return 0
	}
	r.add(v)
}

// holderUsedTwice finds a holder that was exposed more often since it was loaded than it held sheets: one sheet then got
// two pictures, and the one that was taken for the second stayed blank.
func (r *replay) holderUsedTwice(l *calledfor.SheetLog, double func(string, *calledfor.SheetLog) float64) error {
	if l.X.Holder == "" {
		return nil
	}
	t, ok, err := r.d.R.Entity(l.X.Holder)
	if err != nil || !ok {
		return err
	}
	loads, err := r.d.Stream(t)
	if err != nil {
		return err
	}
	var load *events.Entry
	var until time.Time
	for i := range loads {
		if loads[i].Kind != events.HolderLoaded {
			continue
		}
		if loads[i].At.After(l.Exposure.At) {
			until = loads[i].At
			break
		}
		load = &loads[i]
	}
	if load == nil {
		return nil
	}
	if until.IsZero() || until.Sub(l.Exposure.At) > 48*time.Hour {
		until = l.Exposure.At.Add(48 * time.Hour)
	}
	uses, err := r.d.Entries(events.Query{Cites: t.ID, Kinds: []events.Kind{events.SheetExposed, events.SheetReprinted}, From: load.At, To: until, Limit: 20})
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
	v.Cause, v.Entries = "double-exposed", append([]string{load.ID.String()}, ids...)
	v.Done, v.CalledFor, v.Unit = new(float64(len(sheets))), new(float64(held)), "exposures"
	v.Text = fmt.Sprintf("holder %s was exposed %d times on one loading of %d", l.X.Holder, len(sheets), held)
	v.Next = "turn the slide or mark the holder as soon as it was used"
	r.add(v)
	r.neverExposed(l, v.Entries, fmt.Sprintf("holder %s was exposed %d times on one loading of %d: one sheet got two pictures, another none", l.X.Holder, len(sheets), held))
	return nil
}
