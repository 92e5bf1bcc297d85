// Package bench is the guided run from the reading to the washed print. It is pure: how the book stands, which keys were
// pressed and what the clock says come in, what to show and what to write come out. It knows no terminal, no browser and no
// clock. Where it stands follows from the book alone, so that a run that was cut off goes on where it was.
//
// A terminal or a page drives it so:
//
//	m, err := bench.New(door, now)     at the clock that runs, else where the book stands
//	v := m.View(now)                   what to show; Panel is the same laid out for a terminal
//	left, err := m.Key('r', now)       one key, such as that of a Choice of the view; now is when it was pressed
//	                                   a line, for a view that has Types, is its letters and then '\r'
//	err = m.Refresh(now)               about once a second: what other devices wrote meanwhile
//	beats := m.Beats(now)              what to sound since it was asked last
//
// now is a timer.Moment: a monotonic time of the process and the time of day. A page shows the clocks of View.Clock and
// View.Others counting from Began by its own time of day, and calls at Began + PlannedS; it asks for the view again after
// each key and about once a second. One Machine is for one hand; it is not safe for use by several at once. It keeps nothing
// but where the hand is, so that a page may begin a new one at any time. The acts of several machines meet in the book.
package bench

import (
	"slices"
	"time"
)

// Step is one step of the run.
type Step int

// The steps, in the order of the work.
const (
	AtReading  Step = iota // of the scene
	AtCall                 // what the exposure calls for
	AtCap                  // the exposure
	AtDevelop              // of the negative, and of the print
	AtRinse                //
	AtFix                  //
	AtJudge                // keep or redo
	AtNegative             // the reading on the negative
	AtCopyCall             // what the copy calls for
	AtCopyCap              // the copy
	AtWash                 //
)

// Sheet is a sheet as far as the run wants to know it.
type Sheet struct {
	Name    string
	State   string // of package projections: exposed, developed …
	Verdict string // keep, redo, reject, "" for none
}

// Picture is a negative with its prints.
type Picture struct {
	Name     string
	Subject  string
	Last     time.Time // the latest act on it
	Exposed  time.Time // its negative; zero where a reading is all there is
	Negative Sheet
	Prints   []Sheet
	Metered  bool // the negative was read, and that reading serves the next print
	Again    string
}

// Reading is a reading on the scene that an exposure can go by.
type Reading struct {
	Text  string
	At    time.Time
	F     float64 // its aperture, 0 for none
	TimeS float64 // 0 for none
}

// Done is what was done last, and what back takes back.
type Done struct {
	ID, Batch, Text string
}

// State is how the book stands. Pictures are in the order of their exposure.
type State struct {
	Session  string
	Reading  *Reading // the latest that serves
	Pictures []Picture
	Newest   string  // the picture of the act written last
	Clocks   []Clock // that run, the most urgent first
	Last     *Done

	Scene, OnNegative *Reading // the last of each sort, whatever it serves
	Lens              Lens
}

// Place is where the run stands.
type Place struct {
	Step    Step
	Picture string
	Sheet   string
	Again   string // the picture that is made once more
}

// next is what one picture wants; ok is false where it wants nothing.
func (p Picture) next() (Place, bool) {
	if p.Exposed.IsZero() {
		return Place{}, false
	}
	at := func(s Step, sheet string) (Place, bool) { return Place{Step: s, Picture: p.Name, Sheet: sheet}, true }
	sheet := p.Negative
	if n := len(p.Prints); n > 0 {
		sheet = p.Prints[n-1]
	}
	switch {
	case sheet.State == "exposed":
		return at(AtDevelop, sheet.Name)
	case sheet.State == "developed":
		return at(AtRinse, sheet.Name)
	case sheet.State == "rinsed":
		return at(AtFix, sheet.Name)
	case sheet.Verdict == "":
		return at(AtJudge, sheet.Name)
	case sheet.Name == p.Negative.Name && sheet.Verdict != "keep", sheet.Verdict == "reject":
		return Place{}, false
	case sheet.Name == p.Negative.Name || sheet.Verdict == "redo":
		if p.Metered {
			return at(AtCopyCall, p.Negative.Name)
		}
		return at(AtNegative, p.Negative.Name)
	case len(p.toWash()) > 0:
		return at(AtWash, sheet.Name)
	}
	return Place{}, false
}

// toWash lists the sheets of a picture that want washing: the print that was kept, and its negative.
func (p Picture) toWash() []string {
	var out []string
	for _, s := range append([]Sheet{p.Negative}, p.Prints...) {
		if s.State == "fixed" && s.Verdict == "keep" {
			out = append(out, s.Name)
		}
	}
	return out
}

// urgency orders what waits: a wet sheet before a latent image, a latent image before paper that keeps.
func urgency(s Step) int {
	return slices.Index([]Step{AtRinse, AtFix, AtJudge, AtDevelop, AtNegative, AtCopyCall, AtWash}, s)
}

// Next finds where the run goes on: with what was done last, else with what is most urgent of what waits, the oldest
// first; else with a new reading. aside are pictures put off for now.
func (s State) Next(aside map[string]bool) Place {
	newest := s.picture(s.Newest)
	if s.fresh() && (newest == nil || !newest.Last.After(s.Reading.At)) {
		return Place{Step: AtCall, Again: s.again()}
	}
	if newest != nil && !aside[newest.Name] {
		if at, ok := newest.next(); ok {
			if at.Step == AtDevelop && len(newest.Prints) == 0 {
				return s.oldest(at, aside)
			}
			return at
		}
		if again := s.again(); again != "" {
			return Place{Step: AtReading, Again: again}
		}
	}
	best, found := Place{}, false
	for _, p := range s.Pictures {
		at, ok := p.next()
		if ok && !aside[p.Name] && (!found || urgency(at.Step) < urgency(best.Step)) {
			best, found = at, true
		}
	}
	if found {
		return best
	}
	return Place{Step: AtReading}
}

// oldest is the negative that has waited longest for the developer.
func (s State) oldest(at Place, aside map[string]bool) Place {
	for _, p := range s.Pictures {
		if x, ok := p.next(); ok && x.Step == AtDevelop && len(p.Prints) == 0 && !aside[p.Name] {
			return x
		}
	}
	return at
}

// fresh says that the latest reading has served no exposure yet.
func (s State) fresh() bool {
	if s.Reading == nil {
		return false
	}
	for _, p := range s.Pictures {
		if !p.Exposed.IsZero() && !p.Exposed.Before(s.Reading.At) {
			return false
		}
	}
	return true
}

// again is the picture that was to be made once more and was not yet, "" for none.
func (s State) again() string {
	p := s.picture(s.Newest)
	if p == nil || p.Negative.Verdict != "redo" {
		return ""
	}
	for _, other := range s.Pictures {
		if other.Again == p.Name {
			return ""
		}
	}
	return p.Name
}

func (s State) picture(name string) *Picture {
	for i := range s.Pictures {
		if s.Pictures[i].Name == name {
			return &s.Pictures[i]
		}
	}
	return nil
}

// waiting lists the sheets that are exposed and not developed.
func (s State) waiting() []string {
	var out []string
	for _, p := range s.Pictures {
		for _, x := range append([]Sheet{p.Negative}, p.Prints...) {
			inDeveloper := slices.ContainsFunc(s.Clocks, func(c Clock) bool { return c.Place().Step == AtDevelop && slices.Contains(c.Sheets(), x.Name) })
			if x.State == "exposed" && !inDeveloper {
				out = append(out, x.Name)
			}
		}
	}
	return out
}

// round lists where a hand may go, in the order in which it goes round: what waits, the most urgent first, then the next
// exposure or reading.
func (s State) round() []Place {
	var out []Place
	for _, p := range s.Pictures {
		if at, ok := p.next(); ok {
			out = append(out, at)
		}
	}
	slices.SortStableFunc(out, func(a, b Place) int { return urgency(a.Step) - urgency(b.Step) })
	for i := range s.Clocks { // an exposure that runs is on no sheet yet
		if at := s.Clocks[i].Place(); at.Step == AtCap {
			return append(out, at)
		}
	}
	if s.fresh() {
		return append(out, Place{Step: AtCall})
	}
	return append(out, Place{Step: AtReading})
}

// after is where a hand goes from a place when it goes round.
func (s State) after(at Place) Place {
	all := s.round()
	i := slices.IndexFunc(all, func(p Place) bool { return at.Picture != "" && p.Picture == at.Picture })
	if i < 0 {
		i = len(all) - 1 // a reading or an exposure is the last
	}
	return all[(i+1)%len(all)]
}
