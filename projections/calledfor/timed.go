package calledfor

import (
	"fmt"
	"strings"

	"traybook/projections/wording"
)

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
	return "hand timer: " + strings.Join(parts, ", ")
}
