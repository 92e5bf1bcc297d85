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
	LowS      *float64 `json:"low_s,omitempty"`  // between which a called-for time is known
	HighS     *float64 `json:"high_s,omitempty"` // upper bound of the called-for time
	Stops     *float64 `json:"stops"`            // what it did to that sheet's exposure, or as if: + = more
	Explains  float64  `json:"explains"`         // share of the judged symptoms that goes when it is put right, 0 to 1
	// Probability that it is a cause of what was judged, 0 to 1, and Odds the same in words: "almost surely", "probably", "may
	// be"; 0 and "" among Deviations.
	Probability float64  `json:"probability"`
	Odds        string   `json:"odds,omitempty"`
	Text        string   `json:"text"`
	Next        string   `json:"next"`           // what to do next time
	Together    []string `json:"together"`       // causes that the log cannot part from this one
	With        string   `json:"with,omitempty"` // the field that would part them
}

// Strips are the tones of one sheet, from four stops below the mid-tone to four above: as it was, and as it would have
// been with what was found put right. Densities.
type Strips struct {
	Sheet   string    `json:"sheet"`
	Dmin    float64   `json:"dmin"`     // of the paper, the least that a sheet can have
	Was     []float64 `json:"was"`      // as it was, from four stops below the mid-tone to four above
	WouldBe []float64 `json:"would_be"` // as it would have been, the same tones
}

// Diagnosis is why a picture failed, as far as its log can tell.
type Diagnosis struct {
	Picture  string        `json:"picture"`
	Judged   []JudgedSheet `json:"judged"`   // the sheets that were judged redo or reject
	Findings []Finding     `json:"findings"` // strongest first
	// Answer is which of the three answers the log gives: explained, right, empty; "" where nothing was to explain.
	Answer     string      `json:"answer"`
	Suspicions []Suspicion `json:"suspicions"` // symptom by symptom
	Slips      []Slip      `json:"slips"`      // of the size of what is left over, likeliest first
	// Unexplained is the share of the judged symptoms that no entry accounts for; nil where nothing was to explain.
	Unexplained *float64 `json:"unexplained"`
	// UnexplainedStops is the same in stops of the sheet's exposure, + = it got too little; nil where no size was given.
	UnexplainedStops *float64 `json:"unexplained_stops"`
	// Deviations are what was done otherwise than called for and explains nothing of what was judged.
	Deviations []Finding `json:"deviations"`
	Strips     *Strips   `json:"strips"`
	Lines      []string  `json:"lines"` // the two or three lines that matter first
}

// The share of what was judged under which a cause is not told as one, and how many are told. Our own choice.
const (
	leastNamed   = 0.05
	mostFindings = 8
)

// Why replays a picture: as called for, as logged, and once for each deviation with that one put right. What the eye
// judged is held against it sheet by sheet; sheets that were kept or that nobody judged get their deviations without
// accusation.
func Why(snap *snapshot.Snapshot, picture string) (Diagnosis, error) {
	return Over(snap).Why(picture)
}

// Replays replays one picture after another. What more than one of them asks for, the exposures from a box and how other pictures
// were judged, it reads once.
type Replays struct {
	d      *snapshot.Snapshot
	judged map[string]map[string]string // by picture and part: the verdict
	newest map[boxUse][]events.Entry    // exposures from a box
	others map[string]*otherSheet       // that were held against one of a picture
	uses   map[boxWeek][]boxExposure    // exposures on a box in a week and those beside it
}

// mostShared is how many pictures may be held for those that follow: more than stand within a few weeks of one.
const mostShared = 2000

// Over replays pictures as of a snapshot's moment.
func Over(snap *snapshot.Snapshot) *Replays {
	return &Replays{d: snap, judged: map[string]map[string]string{}, newest: map[boxUse][]events.Entry{}, others: map[string]*otherSheet{}, uses: map[boxWeek][]boxExposure{}}
}

// Why is Why of a picture.
func (all *Replays) Why(picture string) (Diagnosis, error) {
	snap := all.d
	if len(all.judged) > mostShared {
		*all = *Over(snap)
	}
	p, err := snap.Picture(picture)
	if err != nil {
		return Diagnosis{}, err
	}
	if len(p.All) == 0 {
		return Diagnosis{}, snap.NothingOf(p.Entity)
	}
	out := Diagnosis{Picture: p.Entity.Name, Judged: []JudgedSheet{}, Findings: []Finding{}, Deviations: []Finding{}, Suspicions: []Suspicion{}, Slips: []Slip{}}
	r, err := all.replay(p)
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
	if err := r.attributeAll(); err != nil {
		return out, err
	}
	r.rank(&out)
	if err := r.suspicions(&out); err != nil {
		return out, err
	}
	if err := r.slips(&out); err != nil {
		return out, err
	}
	out.Lines = r.lines(&out)
	return out, nil
}

// explained is a deviation with the share of what was judged that goes when it is put right.
type explained struct {
	*deviation
	share float64
	odds  float64 // the probability that it is a cause
	rank  float64 // by which it is sorted
	told  bool    // as one
}

// likely is the probability that a deviation is what made the log look so.
func (v *deviation) likely() float64 {
	if v.chance == 0 {
		return 1
	}
	return math.Max(v.chance, 1e-6)
}

// likely is the probability that one of what cannot be parted is it.
func (u *unparted) likely() float64 {
	var sum float64
	for _, v := range slices.Concat(u.taken[:1], u.instead) {
		sum += v.likely()
	}
	return min(1, sum)
}

// explain says of each deviation how much it explains, and whether it is told as a cause. What may have been instead of one
// is told with it, behind it.
func (r *replay) explain() []explained {
	var all, instead []explained
	weight, sum, most := 0.0, map[*deviation]float64{}, map[*deviation]float64{}
	for _, w := range r.weighed {
		weight += w.weight
		for v, share := range w.share {
			sum[v] += share * w.weight
			most[v] = max(most[v], w.odds[v])
		}
	}
	for _, v := range r.deviations {
		x := explained{deviation: v, share: sum[v]}
		if weight > 0 {
			x.share = clamp01(x.share / weight)
		}
		x.told = most[v] >= leastOdds && x.share >= leastNamed
		x.odds = most[v] * v.likely()
		if x.rank = x.odds; v.of != nil { // one of what cannot be parted it is in any case
			x.rank = most[v] * v.of.likely()
		}
		all = append(all, x)
		if v.of != nil && v.of.taken[0] == v {
			for _, o := range v.of.instead {
				less := math.Min(1, o.likely()/v.likely())
				instead = append(instead, explained{o, x.share * less, x.odds * less, x.odds * less, x.told})
			}
		}
	}
	return append(all, instead...)
}

// byWeight sorts what is likeliest first; of equals what explains most, what did most, then what was found first.
func byWeight(a, b explained) int {
	return cmp.Or(
		cmp.Compare(math.Round(b.rank*20), math.Round(a.rank*20)),
		cmp.Compare(math.Round(b.share*100), math.Round(a.share*100)),
		cmp.Compare(math.Abs(snapshot.ValueOr(b.Stops, 0)), math.Abs(snapshot.ValueOr(a.Stops, 0))),
		cmp.Compare(a.order, b.order))
}

// rank sorts what was weighed into findings and mere deviations.
func (r *replay) rank(out *Diagnosis) {
	all := r.explain()
	slices.SortStableFunc(all, byWeight)
	told := map[*deviation]bool{}
	for _, x := range all {
		if x.told {
			told[x.deviation] = true
		}
		switch {
		case x.told && len(out.Findings) < mostFindings:
			out.Findings = append(out.Findings, x.finding(x.share, x.odds))
		case !x.quiet && (x.of == nil || slices.Contains(x.of.taken, x.deviation)):
			out.Deviations = append(out.Deviations, x.finding(0, 0))
		}
	}
	out.Unexplained, out.UnexplainedStops = r.unexplained(told)
	out.Strips = r.grey(told)
}

// unexplained adds up what no entry accounts for: its share of all that was judged, and its stops where a size was given.
func (r *replay) unexplained(told map[*deviation]bool) (share, stops *float64) {
	if len(r.weighed) == 0 {
		return nil, nil
	}
	var left, weight float64
	for _, w := range r.weighed {
		covered := w.accused(r, told)
		left += (1 - covered) * w.weight
		weight += w.weight
		if w.size != 0 && stops == nil {
			stops = new(twoPlaces(w.size * (1 - covered)))
		}
	}
	if weight == 0 {
		return new(0.0), stops
	}
	return new(twoPlaces(clamp01(left / max(weight, 1e-9)))), stops
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
