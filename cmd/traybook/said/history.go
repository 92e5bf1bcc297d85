package said

import (
	"math"
	"strings"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/report"
	"traybook/projections/wording"
)

// SheetTitle heads a sheet: what it is, on what, how far it came, how it was judged.
func SheetTitle(h report.SheetHistory) string {
	title := h.Sheet + ", " + h.Generation
	if what := wording.Print(h.Sheet); what != h.Sheet {
		title = h.Sheet + ", " + what
	}
	if h.Box != nil {
		title += " on " + *h.Box
	}
	state := Text(h.State)
	if h.State == nil {
		state = "nothing of it counts any more"
	}
	title += ": " + state
	if h.Verdict != nil {
		title += ", " + *h.Verdict
		if len(h.Symptoms) > 0 {
			title += " (" + strings.Join(h.Symptoms, ", ") + ")"
		}
	}
	return title
}

// Held is how an act stands to what it called for.
type Held int

// From what was done as called for to what is worth a look.
const (
	AsCalledFor Held = iota
	WithinHand       // by no more than a hand's slip
	Off
)

// CalledForAndDone holds an act against what it called for: an exposure in stops, a bath as a share of its time. It is Off
// where the difference is more than a hand's.
func CalledForAndDone(e report.EntryLine) (string, Held) {
	if e.CalledForS == nil {
		return "", AsCalledFor
	}
	kind := events.Kind(e.Kind)
	call := wording.Call{Kind: kind, S: *e.CalledForS, LowS: e.LowS, HighS: e.HighS}
	if e.DoneS == nil || e.DeviationStops == nil {
		return call.Told(), AsCalledFor
	}
	exposure := kind == events.SheetExposed || kind == events.SheetReprinted
	held := WithinHand
	if wording.Agrees(kind, *e.CalledForS, *e.DoneS, *e.DeviationStops, e.Before) {
		held = AsCalledFor
	}
	ratio := math.Exp2(*e.DeviationStops)
	if exposure && math.Abs(*e.DeviationStops) > calc.FloorStops || !exposure && (ratio < calc.DevelopLossBelow || ratio > calc.DevelopDarkAbove) {
		held = Off
	}
	return call.AndDone(*e.DoneS, *e.DeviationStops, e.Before), held
}
