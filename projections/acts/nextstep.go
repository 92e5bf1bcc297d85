package acts

import (
	"fmt"
	"math"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// NextStep is the work that a sheet in a state asks for: develop, reverse, fix, wash or judge; "" where it asks for none. Nobody
// works on a sheet that is thrown away, and one that was judged is not judged again.
func NextStep(state, verdict string) string {
	if verdict == "reject" {
		return ""
	}
	switch state {
	case snapshot.Exposed:
		return "develop"
	case snapshot.Reversing:
		return "reverse"
	case snapshot.Developed, snapshot.Rinsed:
		return "fix"
	case snapshot.Fixed:
		return "wash"
	case snapshot.Washed, snapshot.Dried, snapshot.Toned:
		if verdict == "" {
			return "judge"
		}
	}
	return ""
}

// nextOn says what usually comes after an act on a sheet. The snapshot is as of the act.
func nextOn(snap *snapshot.Snapshot, p *snapshot.Picture, e events.Entry) (string, error) {
	_, part, ok := events.SplitSheet(events.SheetOf(e.Data))
	if !ok {
		return "", nil
	}
	s := p.Sheet(part)
	if s == nil {
		return "", nil
	}
	verdict := ""
	if v := s.Verdict(); v != nil {
		verdict = v.Verdict
	}
	switch {
	case e.Kind == events.SheetJudged && verdict == "keep" && s.Generation == snapshot.Negative:
		return "meter the negative and reprint: traybook meter negative f/11 4s card", nil
	case e.Kind == events.SheetJudged && verdict != "" && verdict != "keep":
		return "find out why: traybook why " + p.Entity.Name, nil
	case e.Kind == events.SheetJudged || e.Kind == events.SheetDelivered:
		return "", nil
	}
	switch NextStep(s.State, verdict) {
	case "develop":
		time, err := timeFor(snap, e, &events.SheetDevelopedData{Sheet: s.Name})
		return "develop: traybook develop" + time + ", or all three with traybook tray", err
	case "reverse":
		return reverseOn(snap, e, s)
	case "fix":
		time, err := timeFor(snap, e, &events.SheetFixedData{Sheet: s.Name})
		if err != nil || s.State != snapshot.Developed {
			return "fix: traybook fix" + time, err
		}
		rinse, err := rinseIn(snap)
		return "rinse: traybook rinse" + rinse + "; then fix: traybook fix" + time, err
	case "wash":
		how, err := washFor(snap, e, s.Name)
		return "wash: traybook wash" + how, err
	case "judge":
		return "judge it: traybook judge keep", nil
	}
	return "", nil
}

// timeFor is the time that the bath in use calls for in the next act on a sheet, as it is typed, with a blank before it; ""
// where nothing tells it: the act without a time then says why.
func timeFor(snap *snapshot.Snapshot, after events.Entry, data events.Data) (string, error) {
	step, err := planNext(snap, after, data)
	if err != nil || step.CalledForS == nil {
		return "", err
	}
	return " " + wording.TypedSeconds(*step.CalledForS), nil
}

// planNext says what the next act in the session of another calls for; nothing where it would be refused.
func planNext(snap *snapshot.Snapshot, after events.Entry, data events.Data) (calledfor.Step, error) {
	if c, next := events.CarriedOf(after.Data), events.CarriedOf(data); c != nil && next != nil {
		next.Session = c.Session
	}
	_, step, err := Plan(snap, events.Entry{Kind: data.Kind(), At: after.At, Data: data})
	return wording.IgnoreMissing(step, err)
}

// rinseIn names the stop in use, else the water, and its time, as they are typed, with a blank before; "" where none is mixed.
func rinseIn(snap *snapshot.Snapshot) (string, error) {
	b, err := RinseInUse(snap)
	if err != nil || b == nil {
		return "", err
	}
	if b.Mixed != nil && b.Mixed.TimeS != nil {
		return " " + wording.TypedSeconds(*b.Mixed.TimeS) + " " + b.Entity.Name, nil
	}
	return " " + b.Entity.Name, nil
}

// RinseInUse is the stop in use, else the water; nil where neither is mixed.
func RinseInUse(snap *snapshot.Snapshot) (*snapshot.Bath, error) {
	b, err := BathInUse(snap, "stop")
	if err != nil || b != nil {
		return b, err
	}
	return BathInUse(snap, "water")
}

// washFor is the wash that the paper of a sheet calls for, as it is typed, with a blank before it; "" where nothing tells it.
func washFor(snap *snapshot.Snapshot, after events.Entry, sheet string) (string, error) {
	step, err := planNext(snap, after, &events.SheetWashedData{Sheet: sheet, Changes: new(1)})
	if err != nil || step.Paper == nil {
		return "", err
	}
	plan := calc.WashCalledFor(step.Paper.WashBase(), false)
	soak := wording.TypedSeconds(plan.SoakS)
	if minutes := plan.SoakS / 60; minutes == math.Trunc(minutes) {
		soak = wording.Number(minutes) + "min"
	}
	return fmt.Sprintf(" %d changes %s", plan.Changes, soak), nil
}

// reverseOn says what comes after a step of the reversal: the clearing bath where one is mixed, light, the second development.
func reverseOn(snap *snapshot.Snapshot, e events.Entry, s *snapshot.Sheet) (string, error) {
	if s.Reversed() {
		time, err := timeFor(snap, e, &events.SheetDevelopedData{Sheet: s.Name})
		return "develop it again: traybook develop" + time + " " + s.Name, err
	}
	if x := s.Reversals[len(s.Reversals)-1].Data.(*events.SheetReversedData); x.Stage == "bleach" {
		b, err := BathInUse(snap, "clearing-bath")
		if err != nil || b != nil {
			return "rinse, and clear it: traybook reverse clear", err
		}
	}
	return "light on: traybook reverse expose 30s", nil
}
