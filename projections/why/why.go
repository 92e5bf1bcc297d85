package why

import (
	"cmp"
	"math"
	"slices"

	"traybook/events"
	"traybook/projections/snapshot"
)

// JudgedSheet is what the eye said of one sheet.
type JudgedSheet struct {
	Sheet    string   `json:"sheet"`
	Symptoms []string `json:"symptoms"`
	Verdict  string   `json:"verdict"`
	Stops    *float64 `json:"stops"` // change in this sheet's exposure that was asked for
}

// Finding is one thing in the log that did part of what the eye saw, or, among Deviations, one that did not.
type Finding struct {
	Cause     string   `json:"cause"`
	Sheet     string   `json:"sheet"`      // the sheet whose entry is at fault
	Entries   []string `json:"entries"`    // ids of the entries that prove it
	Done      *float64 `json:"done"`       // in Unit
	CalledFor *float64 `json:"called_for"` // in Unit; nil where nothing is called for
	Unit      string   `json:"unit"`
	Stops     *float64 `json:"stops"`    // what it did to that sheet's exposure, or as if: + = more
	Explains  float64  `json:"explains"` // share of the judged symptoms that goes when it is put right, 0 to 1
	Text      string   `json:"text"`
	Next      string   `json:"next"`           // what to do next time
	Together  []string `json:"together"`       // causes that the log cannot part from this one
	With      string   `json:"with,omitempty"` // the field that would part them
}

// Strips are the tones of one sheet, from four stops below the mid-tone to four above: as it was, and as it would have
// been with what was found put right. Densities.
type Strips struct {
	Sheet   string    `json:"sheet"`
	Dmin    float64   `json:"dmin"`
	Was     []float64 `json:"was"`
	WouldBe []float64 `json:"would_be"`
}

// Diagnosis is why a picture failed, as far as its log can tell.
type Diagnosis struct {
	Picture  string        `json:"picture"`
	Judged   []JudgedSheet `json:"judged"`
	Findings []Finding     `json:"findings"` // strongest first
	// Unexplained is the share of the judged symptoms that no entry accounts for; nil where nothing was to explain.
	Unexplained *float64 `json:"unexplained"`
	// UnexplainedStops is the same in stops of the sheet's exposure, + = it got too little; nil where no size was given.
	UnexplainedStops *float64 `json:"unexplained_stops"`
	// Deviations are what was done otherwise than called for and explains nothing of what was judged.
	Deviations []Finding `json:"deviations"`
	Strips     *Strips   `json:"strips"`
	Lines      []string  `json:"lines"` // the two or three lines that matter first
}

// Shares under which a cause is not told as one, and what two readings of one time may differ by.
const (
	leastShare   = 0.2 // of one symptom. Our own choice
	alikeStops   = 0.1 // hypotheses closer than this cannot be parted
	perTogether  = 0.6 // rank of what cannot be parted from a cause, behind it
	leastNamed   = 0.05
	mostFindings = 8
)

// Why replays a picture: as called for, as logged, and once for each deviation with that one put right. What the eye
// judged is held against it sheet by sheet; sheets that were kept or that nobody judged get their deviations without
// accusation.
func Why(snap *snapshot.Snapshot, picture string) (Diagnosis, error) {
	p, err := snap.Picture(picture)
	if err != nil {
		return Diagnosis{}, err
	}
	if len(p.All) == 0 {
		return Diagnosis{}, snap.NothingOf(p.Entity)
	}
	out := Diagnosis{Picture: p.Entity.Name, Judged: []JudgedSheet{}, Findings: []Finding{}, Deviations: []Finding{}}
	r, err := newReplay(snap, p)
	if err != nil {
		return out, err
	}
	for _, l := range r.sheets {
		if v := l.Sheet.Verdict(); v != nil {
			j := JudgedSheet{Sheet: l.Sheet.Name, Symptoms: []string{}, Verdict: v.Verdict, Stops: l.Asked}
			if v.Verdict == "keep" {
				j.Symptoms = append(j.Symptoms, v.Symptoms...)
			} else {
				j.Symptoms = append(j.Symptoms, l.Symptoms...)
			}
			out.Judged = append(out.Judged, j)
		}
	}
	r.attributeAll()
	if err := r.leaning(); err != nil {
		return out, err
	}
	r.rank(&out)
	out.Lines = r.lines(&out)
	return out, nil
}

// rank sorts what was weighed into findings and mere deviations.
func (r *replay) rank(out *Diagnosis) {
	var all []*deviation
	for _, v := range r.deviations {
		v.Explains = 0
		weight, most := 0.0, 0.0
		for _, w := range r.weighed {
			v.Explains += w.share[v] * w.weight
			weight += w.weight
			most = max(most, w.share[v])
		}
		if weight > 0 {
			v.Explains = clamp01(v.Explains / weight)
		}
		v.told = most >= leastShare && v.Explains >= leastNamed
		if v.primary == nil {
			all = append(all, v)
		}
	}
	for _, v := range r.deviations {
		if v.primary != nil {
			v.told, v.Explains = v.primary.told, v.primary.Explains*perTogether
			all = append(all, v)
		}
	}
	r.together()
	slices.SortStableFunc(all, func(a, b *deviation) int {
		if c := cmp.Compare(math.Round(b.Explains*100), math.Round(a.Explains*100)); c != 0 {
			return c
		}
		if c := cmp.Compare(math.Abs(snapshot.ValueOr(b.Stops, 0)), math.Abs(snapshot.ValueOr(a.Stops, 0))); c != 0 {
			return c
		}
		return cmp.Compare(a.order, b.order)
	})
	for _, v := range all {
		switch {
		case v.told && len(out.Findings) < mostFindings:
			out.Findings = append(out.Findings, v.Finding)
		case v.primary == nil && !v.quiet:
			v.Explains = 0
			out.Deviations = append(out.Deviations, v.Finding)
		}
	}
	r.unexplained(out)
	r.grey(out)
}

// together names, at each of the causes that cannot be parted, the others.
func (r *replay) together() {
	for _, v := range r.deviations {
		for _, w := range r.deviations {
			if v != w && v.group != 0 && v.group == w.group {
				v.Together = append(v.Together, w.Cause)
			}
		}
	}
}

// unexplained adds up what no entry accounts for.
func (r *replay) unexplained(out *Diagnosis) {
	if len(r.weighed) == 0 {
		return
	}
	var left, weight, stops float64
	sized := false
	for _, w := range r.weighed {
		covered := w.accused(r.deviations)
		left += (1 - covered) * w.weight
		weight += w.weight
		if w.size != 0 && !sized {
			stops, sized = w.size*(1-covered), true
		}
	}
	out.Unexplained = new(twoPlaces(clamp01(left / max(weight, 1e-9))))
	if weight == 0 {
		out.Unexplained = new(0.0)
	}
	if sized {
		out.UnexplainedStops = new(twoPlaces(stops))
	}
	for i := range out.Findings {
		out.Findings[i].Explains = twoPlaces(out.Findings[i].Explains)
	}
}

func clamp01(v float64) float64 {
	if math.IsNaN(v) {
		return 0
	}
	return min(1, max(0, v))
}

func twoPlaces(v float64) float64 { return math.Round(v*100)/100 + 0 }

func idsOf(entries ...*events.Entry) []string {
	out := []string{}
	for _, e := range entries {
		if e != nil {
			out = append(out, e.ID.String())
		}
	}
	return out
}
