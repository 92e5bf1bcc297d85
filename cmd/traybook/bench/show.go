package bench

import (
	"fmt"
	"strings"

	"traybook/cmd/traybook/bench/timer"
	"traybook/cmd/traybook/line"
	"traybook/projections/wording"
)

// verbs name the steps.
var verbs = map[Step]string{
	AtReading: "meter the scene", AtCall: "expose", AtCap: "expose", AtDevelop: "develop", AtRinse: "rinse", AtFix: "fix",
	AtJudge: "judge", AtNegative: "meter the negative", AtCopyCall: "reprint", AtCopyCap: "reprint", AtWash: "wash",
}

// greeting is said once, on the first panel of a run.
const greeting = "A screen is daylight to paper: keep it from an open sleeve or holder. d dims it."

func (m *Machine) title() string {
	parts := []string{verbs[m.place.Step]}
	switch {
	case m.place.Step == AtNegative:
		parts[0] += " " + m.place.Sheet
	case m.place.Step == AtWash:
		parts[0] += " " + strings.Join(m.washing(), ", ")
	case m.call.Sheet != "":
		parts[0] += " " + m.call.Sheet
	}
	if m.call.Where != "" {
		parts = append(parts, m.call.Where)
	}
	if m.place.Again != "" {
		parts = append(parts, m.place.Again+" once more")
	}
	if p := m.stand.picture(m.place.Picture); p != nil && p.Subject != "" {
		parts = append(parts, p.Subject)
	}
	return strings.Join(parts, " · ")
}

// Panel is what to show at a moment.
func (m *Machine) Panel(at timer.Moment) Panel {
	p := m.panel(at)
	if m.alarm != "" {
		p.Alarm = m.alarm
	}
	if m.sure != nil {
		p.Asks, p.Keys = m.sure.text, "space yes · any other key no"
		return p
	}
	if !m.greeted {
		p.Body = append([]string{greeting}, p.Body...)
	}
	if len(m.told) > 0 && (m.timer == nil || !m.timer.Running() || m.stamped) {
		p.Body = append(p.Body, "")
		p.Body = append(p.Body, m.told...)
	}
	if p.Keys != "" {
		p.Keys += " · "
	}
	p.Keys += "b back · m mark · q leave"
	return p
}

func (m *Machine) panel(at timer.Moment) Panel {
	if m.timer != nil {
		return m.timerPanel(at)
	}
	p := Panel{Title: m.title()}
	switch m.asks {
	case forDistance:
		p.Asks, p.Keys = "how far is the subject from the lens? "+m.typed+"_", "type it in metres, such as 2; enter goes on"
		return p
	case forTemperature:
		p.Asks, p.Keys = "how warm is "+m.call.Where+"? "+m.typed+"_", "type it, such as 18; enter goes on"
		return p
	}
	switch m.place.Step {
	case AtReading:
		p.Asks, p.Keys = "reading: "+m.typed+"_", "type aperture and time, such as 8 4, then enter"
		if m.stand.Session == "" {
			p.Body = append(p.Body, "no session is open: traybook session open begins one")
		}
		if r := m.stand.Reading; r != nil {
			p.Body = append(p.Body, "the last one: "+r.Text+", at "+r.At.Format("15:04"))
			p.Keys += " · space goes by the last one"
		}
		p.Body = append(p.Body, m.waits()...)
		if len(m.stand.waiting()) > 0 {
			p.Keys += " · w what waits"
		}
	case AtNegative:
		p.Body = append(p.Body, "Meter a card, or the lightest patch of the negative, in the copying light.")
		p.Asks, p.Keys = "reading: "+m.typed+"_", "type aperture and time, such as 11 2, then enter · s print it later · n next picture"
		if pic := m.stand.picture(m.place.Picture); pic != nil && pic.Metered {
			p.Keys = "type aperture and time, then enter · space goes by the last one · s print it later"
		}
	case AtCall, AtCopyCall:
		m.callPanel(&p)
	case AtJudge:
		p.Word = "keep or redo?"
		p.Body = append(p.Body, "What the eye sees can be told in the evening: traybook judge.")
		p.Keys = "space keep · r redo · + - redo with half a stop more, less · x reject"
	}
	return p
}

// waits tells what waits, in one line.
func (m *Machine) waits() []string {
	names := m.stand.waiting()
	switch n := len(names); {
	case n == 0 || n == 1 && names[0] == m.call.Sheet:
		return nil
	case n > 4:
		return []string{fmt.Sprintf("%d sheets wait for the developer: %s …", n, strings.Join(names[:4], ", "))}
	default:
		return []string{"waits for the developer: " + strings.Join(names, ", ")}
	}
}

func (m *Machine) callPanel(p *Panel) {
	c := m.call
	if c.PlannedS > 0 {
		p.Figure = timer.Show(timer.Duration(c.PlannedS))
		if c.PlannedS >= 60 {
			p.Figure = timer.Show(timer.Duration(float64(int(c.PlannedS + 0.5))))
		}
	}
	if c.F > 0 {
		p.Word = line.Format(line.FNumber, c.F)
		if c.PlannedS > 0 {
			p.Word += " · " + wording.Seconds(c.PlannedS)
		}
	}
	if c.CalledS == nil {
		p.Body = append(p.Body, "nothing tells what it calls for; two presses measure what is done")
	} else {
		p.Body = append(p.Body, "called for "+wording.Seconds(*c.CalledS))
	}
	if m.why {
		p.Body = append(p.Body, c.Breakdown...)
	}
	p.Body = append(p.Body, c.About...)
	p.Body = append(p.Body, warned(c.Warnings)...)
	p.Keys = "space go on · + - aperture · i why this time"
	if m.place.Step == AtCall {
		p.Keys += " · f how far"
		if len(m.stand.waiting()) > 0 {
			p.Keys += " · w what waits"
		}
	} else {
		p.Keys += " · s print it later"
	}
}

func warned(warnings []string) []string {
	var out []string
	for _, w := range warnings {
		out = append(out, "! "+w)
	}
	return out
}

func (m *Machine) timerPanel(at timer.Moment) Panel {
	p := TimerPanel(m.title(), m.timer, at)
	if m.place.Step == AtWash {
		p.Body = []string{fmt.Sprintf("%d changes of water, fresh at every beat; called for %s in all", m.call.Changes, wording.Seconds(m.call.PlannedS))}
	}
	if m.timer.Taken() != nil {
		p.Keys = "space try again to write it"
		return p
	}
	if m.timer.Running() {
		return p
	}
	p.Body = append(p.Body, m.call.About...)
	if m.why {
		p.Body = append(p.Body, m.call.Breakdown...)
	}
	p.Body = append(p.Body, warned(m.call.Warnings)...)
	switch m.place.Step {
	case AtDevelop:
		p.Body = append(p.Body, m.waits()...)
		p.Keys += " · n next picture · c temperature"
		if len(m.stand.waiting()) > 1 {
			p.Keys += " · w another"
		}
	case AtFix:
		p.Keys += " · c temperature"
	case AtRinse:
		p.Keys += " · s leave it out"
	case AtWash:
		p.Keys += " · s later"
	}
	return p
}
