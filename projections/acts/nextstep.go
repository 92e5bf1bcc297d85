package acts

import (
	"traybook/events"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// NextStep is the work that a sheet in a state asks for: develop, fix, wash or judge; "" where it asks for none. Nobody
// works on a sheet that is thrown away, and one that was judged is not judged again.
func NextStep(state, verdict string) string {
	if verdict == "reject" {
		return ""
	}
	switch state {
	case snapshot.Exposed:
		return "develop"
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

// nextOn says what usually comes after an act on a sheet.
func nextOn(r events.Reader, p *snapshot.Picture, e events.Entry) (string, error) {
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
		return "meter the negative and reprint: traybook meter negative f/11 4s", nil
	case e.Kind == events.SheetJudged && verdict != "" && verdict != "keep":
		return "find out why: traybook why " + p.Entity.Name, nil
	case e.Kind == events.SheetJudged || e.Kind == events.SheetDelivered:
		return "", nil
	}
	switch NextStep(s.State, verdict) {
	case "develop":
		time, err := developFor(snapshot.New(r, e.At), s.Name, e)
		return "develop: traybook develop" + time + ", or all three with traybook tray", err
	case "fix":
		if s.State == snapshot.Developed {
			return "rinse and fix: traybook rinse, traybook fix", nil
		}
		return "fix: traybook fix", nil
	case "wash":
		return "wash: traybook wash", nil
	case "judge":
		return "judge it: traybook judge keep", nil
	}
	return "", nil
}

// developFor is the time that the developer calls for after an exposure, as it is typed, with a blank before it; "" where
// nothing tells it: develop without a time then says why.
func developFor(snap *snapshot.Snapshot, sheet string, after events.Entry) (string, error) {
	data := &events.SheetDevelopedData{Sheet: sheet}
	if c := events.CarriedOf(after.Data); c != nil {
		data.Session = c.Session
	}
	_, step, err := Plan(snap, events.Entry{Kind: events.SheetDeveloped, At: after.At, Data: data})
	if err != nil || step.CalledForS == nil {
		_, err = wording.IgnoreMissing(step, err)
		return "", err
	}
	return " " + wording.TypedSeconds(*step.CalledForS), nil
}
