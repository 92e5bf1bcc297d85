package bench

import (
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/cmd/traybook/bench/timer"
	"traybook/events"
)

// What a page is told beforehand of a running clock is what the timers show and sound, at every tenth of a second.
func TestTheCourseIsThatOfTheTimers(t *testing.T) {
	num := func(v float64) *float64 { return &v }
	four := 4
	for _, x := range []*events.ClockStartedData{
		{Act: "expose", F: num(8), PlannedS: num(4), CountInS: num(timer.CountInS)},
		{Act: "expose", F: num(8), PlannedS: num(2.5), CountInS: num(timer.CountInS)},
		{Act: "expose", F: num(8), PlannedS: num(0.7), CountInS: num(timer.CountInS)},
		{Act: "expose", F: num(8), PlannedS: num(4)},
		{Act: "expose", F: num(8)},
		{Act: "develop", Sheet: "2026-001n", PlannedS: num(60)},
		{Act: "develop", Sheet: "2026-001n", PlannedS: num(64)},
		{Act: "develop", Sheet: "2026-001n", PlannedS: num(3.5)},
		{Act: "fix", Sheet: "2026-001n"},
		{Act: "rinse", Sheet: "2026-001n", PlannedS: num(15)},
		{Act: "wash", Sheet: "2026-001n", PlannedS: num(40), Changes: &four},
	} {
		name := fmt.Sprint(x.Act, " ", x.PlannedS != nil && *x.PlannedS > 0, " ", x.CountInS != nil)
		c := &Clock{Kept: true, Entries: []events.Entry{{Kind: events.ClockStarted, At: morning, Data: x}}}
		spans, sounds := c.course()
		clock := c.Resume(MomentOf(morning))
		clock.Beats(MomentOf(morning))
		began, planned := c.Began().Sub(morning).Seconds(), c.PlannedS()
		end := 60 + planned + began
		for tenth := 1; float64(tenth)/10 < end; tenth++ {
			at := MomentOf(morning.Add(time.Duration(tenth)*100*time.Millisecond + time.Microsecond))
			past := float64(tenth)/10 - began
			var due string
			for _, s := range sounds {
				if due == "" && falls(s, past) {
					due = s.Beat
				}
			}
			heard := ""
			for _, b := range clock.Beats(at) {
				heard = beatNames[b]
			}
			require.Equal(t, heard, due, "%s, %.1f s", name, past)
			f := clock.Face(at)
			span := spans[0]
			for _, s := range spans {
				if s.FromS <= past+1e-9 {
					span = s
				}
			}
			assert.Equal(t, f.Word, span.Word, "%s, %.1f s", name, past)
			shown := timer.Duration(past)
			switch span.Counts {
			case CountIn:
				assert.Equal(t, f.Big, fmt.Sprint(int(math.Ceil(-past-1e-9))), "%s, %.1f s", name, past)
				continue
			case CountDown:
				shown = timer.Duration(planned - past)
			case CountOver:
				shown = timer.Duration(past - planned)
				assert.Equal(t, "+", f.Big[:1])
				f.Big = f.Big[1:]
			}
			if at := shown % (100 * time.Millisecond); at > 50*time.Millisecond { // rounded on the way here
				shown += 100*time.Millisecond - at
			}
			if span.Counts == CountDown && shown >= time.Microsecond { // a microsecond later there is less left
				shown -= time.Microsecond
			}
			assert.Equal(t, f.Big, timer.Show(shown), "%s, %.1f s", name, past)
		}
	}
}

// falls says whether a sound falls at a tenth of a second.
func falls(s Sound, past float64) bool {
	n := 0.0
	if s.EveryS > 0 {
		n = math.Max(0, math.Floor((past-s.FromS+0.0001)/s.EveryS))
	}
	at := s.FromS + n*s.EveryS
	if s.ToS != 0 && at >= s.ToS-1e-9 {
		return false
	}
	return past >= at-1e-9 && past-at < 0.1-1e-9
}
