package report

import (
	"cmp"
	"slices"
	"time"

	"traybook/events"
	"traybook/projections/acts"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
)

// UnfinishedSheet is a sheet that still wants work in fixer or water.
type UnfinishedSheet struct {
	Sheet   string  `json:"sheet"`
	Subject *string `json:"subject"`
	State   string  `json:"state"`
	Needs   string  `json:"needs"` // reverse, fix, wash; fix again, wash again where what was done is too little
	Why     *string `json:"why"`   // what was too little; null where the step was not done at all
}

// What a sheet wants again.
const (
	fixAgain  = "fix again"
	washAgain = "wash again"
)

// unfinished are the sheets that lie between the developer and the wash, and behind them those that had too little of
// either within the last thirty days, such as a wash at the roadside; what is older is in the year.
func unfinished(snap *snapshot.Snapshot, recent []recentState) ([]UnfinishedSheet, error) {
	out := []UnfinishedSheet{}
	var again []UnfinishedSheet
	for _, r := range recent {
		var p *snapshot.Picture
		for _, s := range r.st.Sheets {
			u := UnfinishedSheet{Sheet: events.Sheet(r.name, s.Part), Subject: orNil(r.st.Subject), State: s.State}
			switch needs := acts.NextStep(s.State, s.Verdict); {
			case needs == "fix" || needs == "wash" || needs == "reverse":
				u.Needs = needs
				out = append(out, u)
				continue
			case s.Verdict == "redo" || s.Verdict == "reject" || r.last.Before(snap.AsOf.Add(-recentWords)) || !slices.Contains([]string{snapshot.Washed, snapshot.Dried, snapshot.Toned}, s.State):
				continue
			}
			if p == nil {
				var err error
				if p, err = snap.Picture(r.name); err != nil {
					return nil, err
				}
			}
			if err := u.wants(snap, p); err != nil {
				return nil, err
			}
			if u.Needs != "" {
				again = append(again, u)
			}
		}
	}
	return append(out, again...), nil
}

// wants says what a washed or dried sheet wants again.
func (u *UnfinishedSheet) wants(snap *snapshot.Snapshot, p *snapshot.Picture) error {
	_, part, _ := events.SplitSheet(u.Sheet)
	s := p.Sheet(part)
	if s == nil {
		return nil
	}
	short, err := calledfor.ShortOf(snap, p, s)
	switch {
	case err != nil:
		return err
	case short.Fixing != "":
		u.Needs, u.Why = fixAgain, &short.Fixing
	case short.Washing != "":
		u.Needs, u.Why = washAgain, &short.Washing
	}
	if u.Needs == washAgain && len(s.WashedSince()) == 0 { // dried as it came from the fixer
		u.Needs = "wash"
	}
	return nil
}

// What Lacking may be asked for.
const (
	Unwashed = "unwashed" // fixed, and not washed since, or washed too short
	Undried  = "undried"  // washed, and not dried
	Unjudged = "unjudged" // fixed, and without a verdict
)

// Lacks lists what Lacking may be asked for.
var Lacks = []string{Unwashed, Undried, Unjudged}

// Lacking lists the sheets of the pictures of late that lack something, in the order of their numbers. What was thrown
// away lacks nothing.
func Lacking(snap *snapshot.Snapshot, what string) ([]string, error) {
	now, err := snap.Moment()
	if err != nil {
		return nil, err
	}
	recent, err := recentStates(snap, now)
	if err != nil {
		return nil, err
	}
	if what == Unwashed {
		return unwashed(snap, ofLate(recent, now))
	}
	return lacking(ofLate(recent, now), what), nil
}

// ofLate are the pictures on which something was done within thirty days.
func ofLate(recent []recentState, now time.Time) []recentState {
	return slices.DeleteFunc(slices.Clone(recent), func(r recentState) bool { return r.last.Before(now.Add(-recentWords)) })
}

// unwashed are the sheets that want their wash, in the order of their numbers.
func unwashed(snap *snapshot.Snapshot, recent []recentState) ([]string, error) {
	list, err := unfinished(snap, recent)
	if err != nil {
		return nil, err
	}
	var out []string
	for _, u := range list {
		if u.Needs == "wash" || u.Needs == washAgain {
			out = append(out, u.Sheet)
		}
	}
	slices.SortStableFunc(out, func(a, b string) int {
		of, _, _ := events.SplitSheet(a)
		than, _, _ := events.SplitSheet(b)
		return cmp.Compare(rankOf(of), rankOf(than))
	})
	return out, nil
}

// lacking are the sheets that are not dried, or not judged.
func lacking(recent []recentState, what string) []string {
	out := []string{}
	for _, r := range recent {
		if what == Unjudged {
			out = append(out, unjudged(r)...)
			continue
		}
		for _, s := range r.st.Sheets {
			if s.State == snapshot.Washed && s.Verdict != "reject" {
				out = append(out, events.Sheet(r.name, s.Part))
			}
		}
	}
	return out
}

// UsualStep is the last wash, or the last fixing, of the month before the snapshot's moment: how it is done here. It is nil
// where there was none.
func UsualStep(snap *snapshot.Snapshot, kind events.Kind) (events.Data, error) {
	now, err := snap.Moment()
	if err != nil {
		return nil, err
	}
	last, err := snap.Entries(events.Query{Kinds: []events.Kind{kind}, From: now.Add(-recentWords), To: now, Newest: true, Limit: 3})
	if err != nil || len(last) == 0 {
		return nil, err
	}
	return last[len(last)-1].Data, nil
}
