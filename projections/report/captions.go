package report

import (
	"cmp"
	"slices"

	"traybook/events"
	"traybook/projections/snapshot"
)

// Caption is a picture as `captions` asks for its words.
type Caption struct {
	Picture  string   `json:"picture"`
	At       string   `json:"at"` // of its first act
	Subject  *string  `json:"subject"`
	Sitter   *string  `json:"sitter"`
	Unjudged []string `json:"unjudged"` // its sheets that are fixed and that nobody has judged
}

// CaptionsReport is the pictures that want words: the newest session first, its pictures as they were made.
type CaptionsReport struct {
	Pictures []Caption `json:"pictures"`
}

// lastCaptions is how many pictures are gone through where all are asked for.
const lastCaptions = 40

// Captions lists the pictures of late without subject or sitter, or with a finished sheet that nobody has judged; with all
// the latest forty, whatever they lack.
func Captions(snap *snapshot.Snapshot, all bool) (CaptionsReport, error) {
	out := CaptionsReport{Pictures: []Caption{}}
	recent, err := recentStates(snap, snap.AsOf)
	if err != nil {
		return out, err
	}
	if n := len(recent); all && n > lastCaptions {
		recent = recent[n-lastCaptions:]
	}
	newest := map[string]string{} // of each session the last picture; what was made in none stands for itself
	session := func(r recentState) string { return cmp.Or(r.st.Session, r.name) }
	var asked []recentState
	for _, r := range recent {
		wants := namesNobody(r.st) || len(unjudged(r)) > 0
		if !all && (!wants || r.last.Before(snap.AsOf.Add(-recentWords))) {
			continue
		}
		asked = append(asked, r)
		newest[session(r)] = r.name
	}
	slices.SortStableFunc(asked, func(a, b recentState) int {
		return cmp.Compare(rankOf(newest[session(b)]), rankOf(newest[session(a)]))
	})
	for _, r := range asked {
		out.Pictures = append(out.Pictures, Caption{r.name, r.st.At, orNil(r.st.Subject), orNil(r.st.Sitter), unjudged(r)})
	}
	return out, nil
}

// unjudged lists the sheets of a picture that are fixed and bear no verdict.
func unjudged(r recentState) []string {
	out := []string{}
	for _, s := range r.st.Sheets {
		if s.Verdict == "" && snapshot.StateOrder[s.State] >= snapshot.StateOrder[snapshot.Fixed] {
			out = append(out, events.Sheet(r.name, s.Part))
		}
	}
	return out
}
