package calledfor

import (
	"errors"
	"slices"
	"time"

	"traybook/calc"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// BathNeed is what a bath calls for at one moment, and what that comes from. Whoever tells a time of a bath, an act, a
// table, a sheet for the wall or a diagnosis, takes it from here.
type BathNeed struct {
	calc.BathCall                  // NominalS is 0 where nothing says how long
	Age           snapshot.BathAge // before the sheet that goes in
	TimeS         *float64         // seconds; nil where no time is called for
	Stopped       bool             // a developer so cold that hydroquinone has stopped: no time makes up for it
	Warnings      []wording.Warning
}

// mostUsed is the share of its capacity up to which a bath's time is calculated. Our own choice.
const mostUsed = 10

// needOf is what a bath calls for at an instant for a sheet ("" for the one that would go in next) in a role: this paper's
// time in a fresh bath at 20 °C, else the bath's own, moved to the temperature (nil for the bath's as it was last measured)
// and to what the bath has seen before. A stop, a toner or water calls for its nominal time, which nothing moves.
//
// Errors: a *calc.RangeError where a figure lies beyond a formula; the need then says how far it came.
func needOf(snap *snapshot.Snapshot, b *snapshot.Bath, role string, paper *snapshot.Paper, at time.Time, sheet string, tempC *float64) (BathNeed, error) {
	n := BathNeed{BathCall: calc.BathCall{Fixer: role == "fixer", NominalS: snapshot.ValueOr(b.Mixed.TimeS, 0), NominalC: snapshot.ValueOr(b.Mixed.TempC, calc.BathTempC),
		Q10: snapshot.ValueOr(b.Mixed.Q10, calc.DefaultQ10)}}
	var err error
	if n.Age, err = snap.AgeOf(b, at, true, sheet); err != nil {
		return n, err
	}
	n.TempC = n.Age.Temp.C
	if tempC != nil {
		n.TempC = *tempC
	}
	n.Used = min(n.Age.Used, mostUsed)
	if role != "developer" && role != "fixer" {
		n.TimeS = b.Mixed.TimeS
		return n, nil
	}
	n.paperGoesFirst(paper)
	n.warn(b.Entity.Name)
	if n.NominalS == 0 {
		return n, nil
	}
	n.Stopped = !n.Fixer && n.TempC < calc.HydroquinoneStopsC
	t, warnings, err := n.Time()
	if errors.Is(err, calc.ErrDeveloperCold) {
		n.Warnings = append(n.Warnings, wording.NotCalculated(err))
		return n, nil
	}
	if err != nil {
		return n, err
	}
	n.TimeS = &t
	warnings = slices.DeleteFunc(warnings, func(w calc.Warning) bool { return w.Code == calc.WarnBathExhausted }) // said above, with the bath's name
	n.Warnings = append(n.Warnings, wording.OfCalc(warnings)...)
	return n, nil
}

// TooCold says that the bath is a developer too cold to call for any time.
func (n *BathNeed) TooCold() bool {
	return !n.Fixer && n.NominalS > 0 && n.TempC < calc.DeveloperStopsC
}

// paperGoesFirst puts a paper's own time, in a fresh bath at 20 °C, in the place of the bath's.
func (n *BathNeed) paperGoesFirst(paper *snapshot.Paper) {
	if paper == nil {
		return
	}
	own := paper.DevelopS
	if n.Fixer {
		own = paper.FixS
	}
	if own > 0 {
		n.NominalS, n.NominalC = own, calc.BathTempC
	}
}

// The warnings about the state of a bath.
var (
	bathExhausted = wording.Warns("bath-exhausted", "{bath} is exhausted: it has treated all the paper it can; mix fresh")
	bathPastLife  = wording.Warns("bath-past-life", "{bath} is past its life; mix fresh")
	// DiscardedBefore tells of a bath that was poured away before what is asked about; its field is the bath.
	DiscardedBefore = wording.Warns("discarded-before", "{bath} was discarded before this")
)

// warn says what the bath's state asks for.
func (n *BathNeed) warn(bath string) {
	switch n.Age.State {
	case calc.BathExhausted:
		n.Warnings = append(n.Warnings, bathExhausted.Warn(bath))
	case calc.BathPastLife:
		n.Warnings = append(n.Warnings, bathPastLife.Warn(bath))
	case snapshot.Discarded:
		n.Warnings = append(n.Warnings, DiscardedBefore.Warn(bath))
	}
}

// NeedNow is what a bath calls for as it stands at a moment, for the sheet that would go in next, by its own time where the
// paper is not known (nil). A bath that was discarded calls for nothing.
func NeedNow(snap *snapshot.Snapshot, b *snapshot.Bath, paper *snapshot.Paper, now time.Time) (BathNeed, error) {
	n, err := needOf(snap, b, b.Mixed.Role, paper, now.Add(1), "", nil)
	if n.Age.State == snapshot.Discarded {
		n.TimeS = nil
	}
	var off *calc.RangeError
	if errors.As(err, &off) {
		n.Warnings, err = append(n.Warnings, wording.NotCalculated(off)), nil
	}
	return n, err
}
