package projections

import "traybook/events"

// nextStep is the work that a sheet in a state asks for: develop, fix, wash or judge; "" where it asks for none. Nobody
// works on a sheet that is thrown away, and one that was judged is not judged again.
func nextStep(state, verdict string) string {
	if verdict == "reject" {
		return ""
	}
	switch state {
	case Exposed:
		return "develop"
	case Developed, Rinsed:
		return "fix"
	case Fixed:
		return "wash"
	case Washed, Dried, Toned:
		if verdict == "" {
			return "judge"
		}
	}
	return ""
}

// nextOn says what usually comes after an act on a sheet.
func nextOn(r events.Reader, p *Picture, e events.Entry) (string, error) {
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
	case e.Kind == events.SheetJudged && verdict == "keep" && s.Generation == Negative:
		return "meter the negative and reprint: traybook meter negative f/11 4s", nil
	case e.Kind == events.SheetJudged && verdict != "" && verdict != "keep":
		return "find out why: traybook why " + p.Thing.Name, nil
	case e.Kind == events.SheetJudged || e.Kind == events.SheetDelivered:
		return "", nil
	}
	switch nextStep(s.State, verdict) {
	case "develop":
		time, err := developFor(NewDesk(r, e.At), s.Name, e)
		return "develop: traybook develop" + time + ", or all three with traybook tray", err
	case "fix":
		if s.State == Developed {
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
func developFor(d *Desk, sheet string, after events.Entry) (string, error) {
	data := &events.SheetDevelopedData{Sheet: sheet}
	if c := events.CarriedOf(after.Data); c != nil {
		data.Session = c.Session
	}
	_, step, err := d.Plan(events.Entry{Kind: events.SheetDeveloped, At: after.At, Data: data})
	if err != nil || step.CalledForS == nil {
		_, err = quiet(step, err)
		return "", err
	}
	return " " + typedSeconds(*step.CalledForS), nil
}

// unfinished are the sheets that lie between the developer and the wash.
func unfinished(recent []recentState) []UnfinishedSheet {
	out := []UnfinishedSheet{}
	for _, r := range recent {
		for _, s := range r.st.Sheets {
			switch needs := nextStep(s.State, s.Verdict); needs {
			case "fix", "wash":
				out = append(out, UnfinishedSheet{events.Sheet(r.name, s.Part), orNil(r.st.Subject), s.State, needs})
			}
		}
	}
	return out
}
