package why

import (
	"slices"
	"strings"
	"time"

	"traybook/events"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
	"traybook/projections/suspects"
)

// The three answers of a log, never one for another.
const (
	LogExplains = "explained" // an entry accounts for what was seen
	LogRight    = "right"     // what it holds of this was in order: the fault lies where no log sees
	LogEmpty    = "empty"     // it lacks what would have told
)

// Suspect is one thing that may have made a symptom, held against the log.
type Suspect struct {
	Suspect string   `json:"suspect"` // its code
	Text    string   `json:"text"`
	State   string   `json:"state"`   // found, ruled-out, lacking, open
	By      string   `json:"by"`      // the code of the check that says so; "" of an open one
	Because string   `json:"because"` // what said so, or what is lacking; "" of an open one
	Entries []string `json:"entries"` // ids of the entries that said so
	InLog   bool     `json:"in_log"`  // a log can show it
	Test    string   `json:"test"`    // of minutes, that tells it from the others
	Line    string   `json:"line"`    // what is typed to take the result down
	Source  string   `json:"source"`
}

// Suspicion is one symptom of one sheet that failed: which of the three answers the log gives, what it lacks, and who is
// suspected, likeliest first: what a test found, then what is open, then what is ruled out.
type Suspicion struct {
	Sheet    string    `json:"sheet"`
	Symptom  string    `json:"symptom"`
	Answer   string    `json:"answer"`   // explained, right or empty
	Lacks    []string  `json:"lacks"`    // what the log does not say
	Suspects []Suspect `json:"suspects"` // likeliest first
}

// explainedFrom is the share of a symptom from which the log explains it; of one whose size nobody gave any cause that is
// told does. Our own choice.
const explainedFrom = 0.6

// decisive is how many of a symptom's likeliest suspects make a log too empty by what it lacks of them; what it lacks of an
// unlikely one would hardly have told. Our own choice.
const decisive = 6

// suspicions hold the suspects of every symptom against the log, and answer for the picture: by the symptom that is
// explained least.
func (r *replay) suspicions(out *Diagnosis) error {
	out.Suspicions = []Suspicion{}
	least := 2.0
	for _, w := range r.weighed {
		s, covered, err := r.suspicion(w, out)
		if err != nil {
			return err
		}
		out.Suspicions = append(out.Suspicions, s)
		if s.Answer != LogExplains && covered < least {
			least, out.Answer = covered, s.Answer
		}
	}
	if out.Answer == "" && len(r.weighed) > 0 {
		out.Answer = LogExplains
	}
	return nil
}

// toldOf are the deviations that are told as causes.
func (r *replay) toldOf(out *Diagnosis) map[*deviation]bool {
	told := map[*deviation]bool{}
	for _, v := range r.deviations {
		told[v] = slices.ContainsFunc(out.Findings, func(f Finding) bool { return f.Cause == v.Cause && f.Sheet == v.Sheet })
	}
	return told
}

// suspicion answers for one symptom.
func (r *replay) suspicion(w *attribution, out *Diagnosis) (Suspicion, float64, error) {
	s := Suspicion{Sheet: w.seen.Sheet.Name, Symptom: w.symptom, Lacks: []string{}, Suspects: []Suspect{}}
	told := r.toldOf(out)
	covered := w.accused(r, told)
	measure, _, mid := tonal(w.seen, w.symptom)
	s.Answer = LogRight
	if covered >= explainedFrom || covered > 0 && measure != nil && mid && w.size == 0 {
		s.Answer = LogExplains
	}
	c := court{r: r, l: w.seen, late: seenLate(w.seen)}
	lacks := needs(w.seen, w.symptom)
	var ins, opens, outs []Suspect
	for i, x := range suspects.Of(turned(w.symptom, w.seen), w.seen.Sheet.Generation == snapshot.Positive, c.late) {
		known, _ := suspects.ByCode(x.Suspect)
		if r.tells(known, w.seen, told) {
			continue // above
		}
		c.suspect = known
		said, err := c.rule()
		if err != nil {
			return s, covered, err
		}
		one := Suspect{Suspect: known.Code, Text: known.What, State: Open, Entries: []string{}, InLog: len(known.Causes) > 0, Test: known.Test, Line: r.lineOf(known.Line, w), Source: x.Source}
		if said != nil {
			one.State, one.By, one.Because, one.Entries = said.state, said.by, said.because, said.entries
		}
		switch one.State {
		case Found:
			ins = append(ins, one)
		case RuledOut:
			outs = append(outs, one)
		default:
			if one.State == Lacking && i < decisive && !slices.Contains(lacks, one.Because) {
				lacks = append(lacks, one.Because)
			}
			opens = append(opens, one)
		}
	}
	s.Suspects = slices.Concat(ins, opens, outs)
	if s.Answer != LogExplains {
		s.Lacks = append(s.Lacks, lacks...)
		if len(lacks) > 0 {
			s.Answer = LogEmpty
		}
	}
	return s, covered, nil
}

// tells says whether the log itself tells a suspect, as a cause on a sheet or on its negative.
func (r *replay) tells(s *suspects.Suspect, l *calledfor.SheetLog, told map[*deviation]bool) bool {
	return slices.ContainsFunc(r.concerning(l), func(v *deviation) bool { return told[v] && slices.Contains(s.Causes, v.Cause) })
}

// seenLate says whether a sheet was judged so long after its last bath that what a short wash left in it may show.
func seenLate(l *calledfor.SheetLog) bool {
	n := len(l.Sheet.Judged)
	if n == 0 {
		return false
	}
	seen := l.Sheet.Judged[n-1].At
	var last time.Time
	for _, list := range [][]events.Entry{l.Sheet.Developed, l.Sheet.Fixed, l.Sheet.Washed} {
		if k := len(list); k > 0 && list[k-1].At.Before(seen) {
			if last.IsZero() || list[k-1].At.After(last) {
				last = list[k-1].At
			}
		}
	}
	return !last.IsZero() && seen.Sub(last).Hours() >= suspects.WeeksH
}

// turned is the symptom whose suspects are asked for: what makes a negative too dark makes a direct positive too light.
func turned(symptom string, l *calledfor.SheetLog) string {
	if !l.Ideal.Curve.Falling {
		return symptom
	}
	switch symptom {
	case "too-dark", "dense":
		return "too-light"
	case "too-light", "thin":
		return "too-dark"
	case "blank":
		return "all-black"
	case "all-black":
		return "blank"
	}
	return symptom
}

// needs are the acts without which a log cannot tell of a symptom at all, those that it lacks.
func needs(l *calledfor.SheetLog, symptom string) []string {
	i := slices.IndexFunc(symptomWords, func(w SymptomWords) bool { return w.Symptom == symptom })
	if i < 0 {
		return nil
	}
	var out []string
	s := l.Sheet
	switch symptomWords[i].Family {
	case ofTone:
		switch {
		case l.Exposure == nil:
			out = append(out, "the exposure")
		case l.Step.CalledForS == nil:
			out = append(out, "a reading of the light that served it (traybook meter)")
		}
		if len(s.Developed) == 0 {
			out = append(out, "the development")
		}
	case ofFog, ofStain:
		if len(s.Developed) == 0 {
			out = append(out, "the development")
		}
		if len(s.Fixed) == 0 {
			out = append(out, "the fixing")
		}
	case ofSharp:
		if l.Exposure == nil {
			out = append(out, "the exposure")
		}
	}
	return out
}

// lineOf fills in what is typed to take a result down.
func (r *replay) lineOf(line string, w *attribution) string {
	s := w.seen.Sheet
	bath := func(stays []events.Entry, none string) string {
		if len(stays) == 0 {
			return none
		}
		return events.PlacesOf(stays[len(stays)-1].Data).Bath
	}
	entry := "last"
	if w.seen.Exposure != nil {
		entry = w.seen.Exposure.ID.String()[:8]
	}
	judged := "redo"
	if v := s.Verdict(); v != nil {
		judged = v.Verdict
	}
	holder := w.seen.X.Holder
	if holder == "" {
		holder = "holder-1"
	}
	return strings.NewReplacer("{sheet}", s.Name, "{box}", s.Box, "{dev}", bath(s.Developed, "dev-1"), "{fix}", bath(s.Fixed, "fix-1"),
		"{entry}", entry, "{holder}", holder, "{judged}", judged+" "+strings.Join(w.seen.Symptoms, " ")).Replace(line)
}
