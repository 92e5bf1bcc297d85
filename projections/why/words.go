package why

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// noun is how a text calls a sheet.
func noun(l *calledfor.SheetLog) string {
	if l.Sheet.Generation == snapshot.Negative && l.Sheet.Positive(l.Box) {
		return "the positive"
	}
	if l.Sheet.Generation == snapshot.Negative {
		return "the negative"
	}
	return wording.Print(l.Sheet.Name)
}

// tooMuch says a deviation as a photographer does: 0.8 stop too little.
func tooMuch(stops float64) string {
	word := "too much"
	if stops < 0 {
		word = "too little"
	}
	return wording.SizeOfStops(stops) + " " + word
}

// factorWords says what was left out of a plan, and what to do next time.
func factorWords(l *calledfor.SheetLog, o omission, stops float64) (text, next string) {
	got := noun(l) + " got " + tooMuch(stops) + ": "
	times := fmt.Sprintf("%s given, %s called for", wording.Seconds(l.X.TimeS), wording.Seconds(*l.Step.CalledForS))
	if all := math.Log2(l.X.TimeS / *l.Step.CalledForS); math.Abs(all-stops) >= 0.005 { // it has a share in them
		times = "in all " + times + ", " + wording.StopsText(all)
	}
	times = " (" + times + ")"
	r, _ := l.Step.Serving.Data.(*events.LightMeteredData)
	if r == nil {
		r = &events.LightMeteredData{}
	}
	switch o.cause {
	case "bellows-factor-forgotten":
		return got + "the bellows extension " + where(l) + " was left out of the plan" + times,
			"let expose allow for the distance: the factor is (1+m)², four times at 1:1"
	case "bellows-factor-twice":
		return got + "the bellows extension " + where(l) + " was counted twice" + times,
			"multiply by (1+m)² once; a meter behind the lens has counted it already"
	case "meter-at-wrong-index":
		return got + fmt.Sprintf("the meter stood at index %s and the paper is metered at %s", wording.Number(snapshot.ValueOr(r.Index, 100)), wording.Number(l.Paper.Index)) + times,
			"set the meter to the paper's index, or write the index with the reading"
	case "filter-factor-forgotten":
		return got + fmt.Sprintf("the filter %s calls for %s times the exposure, and the factor was left out", l.X.Filter, wording.Number(math.Exp2(-o.stops))) + times,
			"multiply by the filter's factor for this paper in this light"
	case "filter-factor-without-filter":
		return got + fmt.Sprintf("a filter factor of %s was calculated in that nothing called for", wording.Number(math.Exp2(o.stops))) + times,
			"no factor without its filter, and none where the reading was taken through it"
	case "reciprocity-forgotten":
		return got + fmt.Sprintf("long exposures of this paper want more (exponent %s), and the plan left that out", wording.Number(l.Paper.P)) + times,
			"lengthen long times as the paper asks, or open the lens to shorten them"
	case "wrong-paper":
		return got + fmt.Sprintf("the time was planned for %s and the sheet came from %s, metered at index %s", l.X.PlannedBox, l.Sheet.Box, wording.Number(l.Paper.Index)) + times,
			"write the box on the holder when it is loaded"
	case "average-misread":
		return got + "the reading was taken at face value where its tone belongs " + wording.StopsText(-o.stops) + " from the mid-tone" + times,
			"read a card or the mid-tone, or give the zone of the tone that is read"
	}
	return got + o.cause + times, ""
}

// where is the place of the subject as the log has it.
func where(l *calledfor.SheetLog) string {
	if x, ok := l.Exposure.Data.(*events.SheetExposedData); ok {
		switch {
		case x.ExtensionMM != nil:
			return "of " + wording.Number(*x.ExtensionMM) + " mm"
		case x.SubjectMM != nil:
			return "at " + wording.Number(*x.SubjectMM/1000) + " m"
		}
	}
	if l.Step.Magnification == 1 {
		return "at 1:1"
	}
	return "at " + wording.Number(l.Step.Magnification) + " of natural size"
}

// WhyLines is how many findings are told in the lines that matter first.
const WhyLines = 2

// StopMark writes a tone's place in whole stops: −2, 0, +3.
func StopMark(stops int) string {
	switch {
	case stops < 0:
		return fmt.Sprintf("−%d", -stops)
	case stops > 0:
		return fmt.Sprintf("+%d", stops)
	}
	return "0"
}

// PartedBy tells what would part the causes of a finding, and the option that writes it; empty where nothing would.
func (f Finding) PartedBy() string {
	switch f.With {
	case "planned_f":
		return "the aperture that was meant (--planned-f)"
	case "planned_s":
		return "the time that was meant (--planned)"
	case "reckoning":
		return "a note of how the time was worked out"
	}
	return ""
}

// AsIf says whether the stops of a finding are what it comes to, as if they were of exposure, and not by how much an
// exposure was off.
func (f Finding) AsIf() bool {
	switch f.Cause {
	case "developer-cold", "developer-warm", "developer-exhausted", "developer-old", "under-developed", "over-developed", "paper-expired":
		return true
	}
	return false
}

// lines are the two or three lines that matter first.
func (r *replay) lines(out *Diagnosis) []string {
	var lines []string
	for i, f := range out.Findings {
		if i == WhyLines {
			break
		}
		if i > 0 && f.Sheet == out.Findings[0].Sheet && slices.Contains(out.Findings[0].Together, f.Cause) {
			continue // said below, where it is said what would part the two
		}
		line := f.Text
		if len(r.weighed) > 0 {
			line = f.Odds + ": " + line
		}
		if len(f.Entries) > 0 {
			line += " (entry " + wording.ShortID(f.Entries[0]) + ")"
		}
		lines = append(lines, capital(line)+".")
	}
	if len(out.Findings) > 0 {
		f := out.Findings[0]
		if f.With != "" && len(f.Together) > 0 {
			lines = append(lines, "The log cannot part this from "+strings.Join(f.Together, ", ")+": "+f.PartedBy()+" would.")
		} else if f.Next != "" {
			lines = append(lines, "Next time: "+f.Next+".")
		}
	}
	switch {
	case out.Unexplained == nil && len(out.Judged) == 0:
		lines = append(lines, "Nobody has judged this picture yet, so nothing is explained.")
	case out.Unexplained == nil && r.anyFailed():
		lines = append(lines, "What is wrong was not written down: judge it with a symptom, and ask again.")
	case out.Unexplained == nil:
		lines = append(lines, "It was found good: there is nothing to explain.")
	case r.paperExplains():
		for _, w := range r.weighed {
			if text := ofItself(w.seen, w.symptom); !slices.Contains(lines, text) {
				lines = append(lines, text)
			}
		}
	case len(out.Findings) == 0 || *out.Unexplained >= 0.3:
		lines = append(lines, answerLines(out)...)
	}
	return lines
}

// answerLines tell in their own words which of the three answers the log gives to what no cause accounts for, and of which
// slips what is left over has the size; never as proved.
func answerLines(out *Diagnosis) []string {
	i := slices.IndexFunc(out.Suspicions, func(s Suspicion) bool { return s.Answer == out.Answer })
	whole, rest := "The log ", false // of all that was judged, or of what the causes leave over
	if len(out.Findings) > 0 {
		whole, rest = "The log does not account for all that was judged: for the rest it ", true
	}
	var lines []string
	switch {
	case i < 0 || out.Answer == LogExplains:
		return []string{"The log does not account for all that was judged" + stopsLeft(out) + "."}
	case out.Answer == LogEmpty:
		lacks := out.Suspicions[i].Lacks
		lines = append(lines, whole+"is too empty to tell"+stopsLeft(out)+": it lacks "+strings.Join(lacks[:min(2, len(lacks))], ", and ")+".")
	case !rest:
		lines = append(lines, whole+"was right: nothing that it holds did this, so the fault lies where it cannot see"+stopsLeft(out)+".")
	default:
		lines = append(lines, whole+"was right, and the fault lies where it cannot see"+stopsLeft(out)+".")
	}
	var would []string
	for _, s := range out.Slips {
		if s.Against == "" {
			would = append(would, s.Text)
		}
	}
	if len(would) > 0 {
		lines = append(lines, capital(tooMuch(out.Slips[0].Left))+" would be just that of "+strings.Join(would, ", or of ")+". That is no proof.")
	}
	return lines
}

func stopsLeft(out *Diagnosis) string {
	if out.UnexplainedStops == nil || math.Abs(*out.UnexplainedStops) < calc.FloorStops {
		return ""
	}
	return " (" + wording.SizeOfStops(*out.UnexplainedStops) + ")"
}

func (r *replay) anyFailed() bool {
	for _, l := range r.sheets {
		if l.Failed {
			return true
		}
	}
	return false
}

// paperExplains says whether every symptom is of the kind that the paper explains.
func (r *replay) paperExplains() bool {
	for _, w := range r.weighed {
		if w.weight > 0 {
			return false
		}
	}
	return len(r.weighed) > 0
}

// ofItself tells that a symptom is no fault: it lies in the paper, or in the way the picture was made; "" where it is one.
func ofItself(l *calledfor.SheetLog, symptom string) string {
	switch {
	case symptom == "sky-bare" || symptom == "skin-dark":
		return "That is how paper sees that is blind to red and yellow: blue prints light and skin prints dark."
	case symptom == "mirrored" && l.Sheet.Generation == snapshot.Negative && l.Sheet.Positive(l.Box):
		return "A positive made in the camera is mirrored by nature: one lens image turns left and right, and nothing turns them back."
	case symptom == "mirrored" && l.Sheet.Generation == snapshot.Negative:
		return "A sheet from the camera is mirrored by nature; its print reads right."
	}
	return ""
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
