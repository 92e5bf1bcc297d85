package calledfor

import (
	"fmt"
	"strings"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// PressOf is what an exposure tells of the hand at the cap: the time that was planned beside the one that was measured. same
// says that the time is the plan itself, which tells nothing; ok that both are written, and that it was a cap.
func PressOf(e events.Entry) (p calc.CapPress, same, ok bool) {
	var planned *float64
	timed := ""
	switch x := e.Data.(type) {
	case *events.SheetExposedData:
		planned, p.LastedS, timed = x.PlannedS, x.TimeS, x.Timed
	case *events.SheetReprintedData:
		if x.Way != "contact" && x.Way != "enlarger" {
			planned, p.LastedS, timed = x.PlannedS, x.TimeS, x.Timed
		}
	}
	if planned == nil {
		return p, false, false
	}
	p.MeantS = *planned
	return p, timed == "planned" || p.LastedS == p.MeantS, true
}

// HandOf is the hand at a camera's cap as it was described; nil is a camera that is not known.
func HandOf(cam *events.CameraDescribedData) calc.Hand {
	if cam == nil {
		return calc.Hand{ConstS: calc.CapSDS}
	}
	return calc.Hand{Share: snapshot.ValueOr(cam.CapShare, 0), ConstS: snapshot.ValueOr(cam.CapSDS, calc.CapSDS)}
}

// TimerRemark is what a hand timer remarks of a time: seconds over what was planned, and by which the clock of the machine ran
// ahead or was set back meanwhile, 0 for none; "" where there is nothing to remark.
func TimerRemark(overS, sleptS, setBackS float64) string {
	var parts []string
	if overS > 0 {
		parts = append(parts, fmt.Sprintf("%s over", wording.Seconds(overS)))
	}
	if sleptS > 0 {
		parts = append(parts, fmt.Sprintf("the machine slept %s meanwhile", wording.Seconds(sleptS)))
	}
	if setBackS > 0 {
		parts = append(parts, fmt.Sprintf("its clock was set back %s meanwhile", wording.Seconds(setBackS)))
	}
	if len(parts) == 0 {
		return ""
	}
	return timerRemark + strings.Join(parts, ", ")
}

const timerRemark = "hand timer: "

// WithoutTimerRemark is what was said of an act, without what its hand timer remarked behind it.
func WithoutTimerRemark(text string) string {
	said, _, _ := strings.Cut(text, timerRemark)
	return strings.TrimSuffix(said, "; ")
}
