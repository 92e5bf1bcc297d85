package timer

import (
	"fmt"
	"time"
)

// Bath counts the stay of a sheet in a bath down, beats when the tray is to be rocked, and goes on counting beyond the
// end until a hand takes the sheet out.
type Bath struct {
	planned time.Duration
	rock    time.Duration
	running bool
	started bool
	run     run
	beaten  time.Duration // the last moment of the stay that was given out as beats
	asked   time.Duration // the stay that an odd press would end, 0 for none
	done    *Taken
}

// Beats of the baths: the last seconds are counted, an over-run is told again and again.
const (
	nearEnd   = 5 * time.Second
	overEvery = 10 * time.Second
)

// RockS is how often a tray is rocked where nobody says otherwise: seconds. Common practice, no source.
const RockS = 10

// NewBath makes a timer for a called-for time in seconds, 0 for none: then it counts up. rockS is how often to rock, 0
// for no beat.
func NewBath(plannedS, rockS float64) *Bath {
	return &Bath{planned: Duration(plannedS), rock: Duration(rockS)}
}

// ResumeBath is a bath in which a sheet has lain since a time of day. Beats that fell due before now are over.
func ResumeBath(plannedS, rockS float64, began time.Time, now Moment) *Bath {
	b := NewBath(plannedS, rockS)
	b.run, b.running, b.started = resumed(began, now), true, true
	b.beaten = b.run.elapsed(now)
	return b
}

// leastStay is the shortest stay that is taken without a question where no time is called for.
const leastStay = time.Second

// Press takes a key at a moment. The first says that the sheet is in, the second that it is out; a stay that is odd is
// asked about, and counts on until Done says that it is what was done. Other presses mean nothing here.
func (b *Bath) Press(p Press, at Moment) {
	switch {
	case b.done != nil:
	case p == Done && b.asked > 0:
		b.finish(b.asked)
	case p != Go:
	case !b.running:
		b.run, b.running = startAt(at), true
	case b.asked > 0:
		b.asked = 0
	default:
		e := b.run.elapsed(at)
		if Odd(e, b.planned) || b.planned == 0 && e < leastStay {
			b.asked = max(e, time.Millisecond)
			return
		}
		b.finish(e)
	}
}

func (b *Bath) finish(stay time.Duration) {
	b.done, b.running = b.run.taken(max(milli(stay.Seconds()), 0.001), Measured, b.planned), false
}

// End ends the stay at a time of day that a hand tells.
func (b *Bath) End(at time.Time) {
	if b.running {
		b.finish(at.Sub(b.run.began.Wall))
	}
}

// Asked says that an odd time is asked about.
func (b *Bath) Asked() bool { return b.asked > 0 && b.done == nil }

// CountsIn says that a count-in runs: a tray has none.
func (b *Bath) CountsIn() bool { return false }

// Beats gives the beats that fell due since it was last asked, in their order; of several at one moment the one that
// matters most.
func (b *Bath) Beats(at Moment) []Beat {
	if !b.running {
		return nil
	}
	var out []Beat
	if !b.started {
		b.started, out = true, append(out, Start)
	}
	e := b.run.elapsed(at)
	for {
		next := b.nextBeat(b.beaten)
		if next > e {
			return out
		}
		out, b.beaten = append(out, b.kind(next)), next
	}
}

// nextBeat is the first beat after a moment of the stay.
func (b *Bath) nextBeat(after time.Duration) time.Duration {
	next := time.Duration(1 << 62)
	if b.rock > 0 && (b.planned == 0 || after < b.planned) {
		next = (after/b.rock + 1) * b.rock
	}
	if b.planned == 0 {
		return next
	}
	if after >= b.planned {
		return b.planned + ((after-b.planned)/overEvery+1)*overEvery
	}
	near := b.planned
	for k := nearEnd; k > 0; k -= time.Second {
		if t := b.planned - k; t > after && t < near {
			near = t
		}
	}
	return min(next, near)
}

func (b *Bath) kind(at time.Duration) Beat {
	switch left := b.planned - at; {
	case b.planned > 0 && left == 0:
		return End
	case b.planned > 0 && left < 0:
		return Over
	case b.planned > 0 && left <= nearEnd && left%time.Second == 0:
		return Near
	}
	return Rock
}

// Next is how long until the next beat; ok is false where the timer waits for a hand.
func (b *Bath) Next(at Moment) (wait time.Duration, ok bool) {
	if !b.running {
		return 0, false
	}
	return max(0, b.nextBeat(b.beaten)-b.run.elapsed(at)), true
}

// Running says that the sheet is in.
func (b *Bath) Running() bool { return b.running }

// Began is when the sheet went in, by the time of day; ok is false before.
func (b *Bath) Began() (began time.Time, ok bool) {
	return b.run.began.Wall, b.running || b.done != nil
}

// Taken is the stay, nil before the end.
func (b *Bath) Taken() *Taken { return b.done }

// Face is what to show at a moment.
func (b *Bath) Face(at Moment) Face {
	plan := "nothing is called for: it counts up"
	if b.planned > 0 {
		plan = "called for " + Show(b.planned)
	}
	if b.rock > 0 {
		plan += fmt.Sprintf(", rock every %.3g s", b.rock.Seconds())
	}
	if b.done != nil {
		return Face{Big: Show(Duration(b.done.S)), Word: "out", Line: plan}
	}
	if !b.running {
		return Face{Big: Show(b.planned), Word: "ready", Line: plan}
	}
	if b.asked > 0 {
		return Face{Big: Show(b.asked), Word: "is that what was done?", Line: plan + ", and it counts on"}
	}
	e := b.run.elapsed(at)
	f := Face{Word: "in the bath", Line: plan + jumped(b.run.slept, b.run.setBack)}
	switch {
	case b.planned == 0:
		f.Big = Show(e)
	case e < b.planned:
		f.Big = Show(b.planned - e)
		if b.rock > 0 && e >= b.rock && e%b.rock < 2*time.Second {
			f.Word = "rock"
		}
	default:
		f.Big, f.Word = "+"+Show(e-b.planned), OutNow
		f.Line = fmt.Sprintf("%s, over it by %s", plan, Show(e-b.planned)) + jumped(b.run.slept, b.run.setBack)
	}
	return f
}
