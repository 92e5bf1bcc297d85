package timer

import (
	"fmt"
	"time"
)

// Cap times an exposure by the lens cap. A count-in leads up to the moment when the cap comes off, then it beats every
// second. One press after the planned time says that it was done as planned, corrected by a tenth with More and Less.
// Measure, and a second press, measure instead.
type Cap struct {
	planned time.Duration
	countIn int // beats before the cap comes off
	stage   capStage
	run     run
	tenths  int
	beats   int // of this stage given out
	early   time.Duration
	from    capStage // that counts on where the question is answered with no
	done    *Taken
}

type capStage int

const (
	capReady capStage = iota
	capCounting
	capOpen      // after a count-in
	capEarly     // ended by hand before the planned time, or at an odd one: to be confirmed
	capMeasuring // between two presses
	capDone
)

// countBeats is how many beats the count-in has: enough to get a hand to the cap.
const countBeats = 3

// CountInS is how long the count-in lasts, seconds.
const CountInS float64 = countBeats

// NewCap makes a timer for a planned time in seconds. 0 is no plan: then it only measures.
func NewCap(plannedS float64) *Cap { return &Cap{planned: Duration(plannedS), countIn: countBeats} }

// opens is when the cap comes off, of a count-in begun at run.began.
func (c *Cap) opens() time.Duration { return time.Duration(c.countIn) * time.Second }

// ResumeCap is a cap whose exposure began by a press at a time of day, with a count-in or measured at once. Beats that fell
// due before now are over.
func ResumeCap(plannedS float64, countIn bool, pressed time.Time, now Moment) *Cap {
	c := NewCap(plannedS)
	c.run, c.stage = resumed(pressed, now), capMeasuring
	if countIn {
		c.stage = capCounting
		c.beats = min(int(c.run.elapsed(now)/time.Second)+1, c.countIn)
	}
	c.step(now)
	c.skip(now)
	return c
}

// skip passes over the beats that fell due while nobody listened.
func (c *Cap) skip(at Moment) {
	if c.stage != capOpen && c.stage != capMeasuring {
		return
	}
	e := c.run.elapsed(at)
	for c.beats = max(c.beats, 1); c.due(c.beats) <= e; c.beats++ {
	}
}

// Press takes a key at a moment.
func (c *Cap) Press(p Press, at Moment) {
	c.step(at)
	switch {
	case c.stage == capReady && p == Go && c.planned > 0:
		c.run, c.stage, c.beats = startAt(at), capCounting, 0
	case (c.stage == capReady || c.stage == capCounting) && (p == Go && c.planned == 0 || p == Measure):
		c.run, c.stage, c.beats = startAt(at), capMeasuring, 0
	case (c.stage == capMeasuring || c.stage == capOpen) && (p == Measure || p == Go && c.stage == capMeasuring):
		e := c.run.elapsed(at)
		if Odd(e, c.planned) {
			c.ask(e)
			return
		}
		c.finish(e.Seconds(), Measured)
	case c.stage == capOpen && p == Go:
		if e := c.run.elapsed(at); e < c.planned {
			c.ask(e.Round(100 * time.Millisecond))
			return
		}
		c.finish(c.asPlanned().Seconds(), Planned)
	case c.stage == capEarly && p == Done: // the press that ended it measured it
		c.finish(c.asPlanned().Seconds(), Measured)
	case c.stage == capEarly && p == Go:
		c.stage, c.tenths = c.from, 0
		c.skip(at)
	case (c.stage == capOpen || c.stage == capEarly) && (p == More || p == Less):
		tenths := c.tenths
		if c.tenths++; p == Less {
			c.tenths -= 2
		}
		if c.asPlanned() <= 0 {
			c.tenths = tenths
		}
	}
}

// ask asks about a time before it is taken.
func (c *Cap) ask(took time.Duration) {
	c.early, c.from, c.stage, c.tenths = took, c.stage, capEarly, 0
}

// End ends the exposure at a time of day that a hand tells.
func (c *Cap) End(at time.Time) {
	if c.Running() {
		c.finish(at.Sub(c.run.began.Wall).Seconds(), Measured)
	}
}

// Asked says that an early or odd time is asked about.
func (c *Cap) Asked() bool { return c.stage == capEarly }

// Corrected says that a hand put the time right by tenths.
func (c *Cap) Corrected() bool { return c.tenths != 0 }

// CountsIn says that the count-in runs and the cap is still on.
func (c *Cap) CountsIn() bool { return c.stage == capCounting }

// asPlanned is the time that one press would say was done.
func (c *Cap) asPlanned() time.Duration {
	base := c.planned
	if c.stage == capEarly {
		base = c.early
	}
	return base + time.Duration(c.tenths)*100*time.Millisecond
}

func (c *Cap) finish(s float64, how string) {
	c.done = c.run.taken(max(milli(s), 0.001), how, c.planned)
	c.stage = capDone
}

// step moves from the count-in to the open cap when its time has come.
func (c *Cap) step(at Moment) {
	if c.stage != capCounting {
		return
	}
	if c.run.elapsed(at) >= c.opens() {
		began := Moment{Run: c.run.began.Run + c.opens() - c.run.slept, Wall: c.run.began.Wall.Add(c.opens())}
		c.run = run{began: began, last: c.run.last}
		c.stage, c.beats = capOpen, 0
	}
}

// Beats gives the beats that fell due since it was last asked, in their order.
func (c *Cap) Beats(at Moment) []Beat {
	var out []Beat
	if c.stage == capCounting {
		for n := int(c.run.elapsed(at)/time.Second) + 1; c.beats < min(n, c.countIn); c.beats++ {
			out = append(out, Count)
		}
	}
	c.step(at)
	if c.stage != capOpen && c.stage != capMeasuring {
		return out
	}
	e := c.run.elapsed(at)
	if c.beats == 0 {
		out, c.beats = append(out, Start), 1
	}
	for ; c.due(c.beats) <= e; c.beats++ {
		out = append(out, c.kind(c.beats))
	}
	return out
}

// due is when the n-th beat after the start falls: every second, and at the planned end, which drives away a second that
// falls together with it.
func (c *Cap) due(n int) time.Duration {
	whole := time.Duration(n) * time.Second
	if c.planned == 0 || whole < c.planned {
		return whole
	}
	before := int((c.planned - 1) / time.Second) // whole seconds before the end
	if n == before+1 {
		return c.planned
	}
	if c.planned%time.Second != 0 {
		return time.Duration(n-1) * time.Second
	}
	return whole
}

func (c *Cap) kind(n int) Beat {
	switch d := c.due(n); {
	case c.planned > 0 && d == c.planned:
		return End
	case c.planned > 0 && d > c.planned:
		return Over
	}
	return Second
}

// Next is how long nothing happens; ok is false where the timer waits for a hand.
func (c *Cap) Next(at Moment) (wait time.Duration, ok bool) {
	switch c.stage {
	case capCounting:
		e := c.run.elapsed(at)
		return max(0, time.Duration(c.beats)*time.Second-e), true
	case capOpen, capMeasuring:
		return max(0, c.due(c.beats)-c.run.elapsed(at)), true
	}
	return 0, false
}

// Running says that the cap is off, or about to come off.
func (c *Cap) Running() bool {
	return c.stage == capCounting || c.stage == capOpen || c.stage == capMeasuring || c.stage == capEarly
}

// Measuring says that it runs between two presses.
func (c *Cap) Measuring() bool { return c.stage == capMeasuring }

// Began is when the cap came off, by the time of day; ok is false before.
func (c *Cap) Began() (began time.Time, ok bool) {
	return c.run.began.Wall, c.stage > capCounting
}

// Taken is the time that was taken, nil before the end.
func (c *Cap) Taken() *Taken { return c.done }

// Face is what to show at a moment.
func (c *Cap) Face(at Moment) Face {
	c.step(at)
	plan := "no time is called for: two presses measure"
	if c.planned > 0 {
		plan = "planned " + Show(c.planned)
	}
	switch c.stage {
	case capReady:
		return Face{Big: Show(c.planned), Word: "ready", Line: plan}
	case capCounting:
		left := c.countIn - int(c.run.elapsed(at)/time.Second)
		return Face{Big: fmt.Sprint(left), Word: "cap off at 0", Line: plan}
	case capMeasuring:
		return Face{Big: Show(c.run.elapsed(at)), Word: "cap is off", Line: plan + c.jumped()}
	case capOpen:
		e := c.run.elapsed(at)
		f := Face{Big: Show(e), Word: "cap is off", Line: plan}
		if e >= c.planned {
			f.Word = "CAP ON"
		}
		if c.tenths != 0 {
			f.Line += fmt.Sprintf(", %s with %s", Show(c.asPlanned()), tenth(c.tenths))
		}
		f.Line += c.jumped()
		return f
	case capEarly:
		return Face{Big: Show(c.asPlanned()), Word: "is that what was done?", Line: plan + ", and it counts on"}
	}
	return Face{Big: Show(Duration(c.done.S)), Word: "done", Line: plan}
}

func (c *Cap) jumped() string { return jumped(c.run.slept, c.run.setBack) }

func jumped(slept, setBack time.Duration) string {
	switch {
	case slept > 0:
		return fmt.Sprintf("; the machine slept %s meanwhile", Show(slept))
	case setBack > 0:
		return fmt.Sprintf("; the clock was set back %s meanwhile", Show(setBack))
	}
	return ""
}

func tenth(n int) string {
	if n < 0 {
		return fmt.Sprintf("−%.1f s", float64(-n)/10)
	}
	return fmt.Sprintf("+%.1f s", float64(n)/10)
}

// Show writes a time as a timer does: 4.0, 59.9, 1:30.
func Show(d time.Duration) string {
	if d < 0 {
		return "-" + Show(-d)
	}
	if d < time.Minute {
		tenths := d / (100 * time.Millisecond)
		return fmt.Sprintf("%d.%d", tenths/10, tenths%10)
	}
	s := int(d / time.Second)
	if s >= 3600 {
		return fmt.Sprintf("%d:%02d:%02d", s/3600, s/60%60, s%60)
	}
	return fmt.Sprintf("%d:%02d", s/60, s%60)
}
