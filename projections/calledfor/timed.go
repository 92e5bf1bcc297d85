package calledfor

import (
	"fmt"
	"strings"

	"traybook/projections/wording"
)

// timedBy begins what the hand timers write of how a time was taken.
const timedBy = "hand timer: "

// TimedText says how the hand timers took a time: how is planned or measured; seconds over what was planned, and by which
// the clock of the machine ran ahead or was set back meanwhile, 0 for none.
func TimedText(how string, overS, sleptS, setBackS float64) string {
	text := timedBy + how
	if overS > 0 {
		text += fmt.Sprintf(", %s over", wording.Seconds(overS))
	}
	if sleptS > 0 {
		text += fmt.Sprintf(", the machine slept %s meanwhile", wording.Seconds(sleptS))
	}
	if setBackS > 0 {
		text += fmt.Sprintf(", its clock was set back %s meanwhile", wording.Seconds(setBackS))
	}
	return text
}

// Guessed says that a time was not measured but confirmed by eye, so that it tells nothing of the hand.
func Guessed(text string) bool { return strings.Contains(text, timedBy+"planned") }
