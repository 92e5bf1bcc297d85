// Package timer keeps time for a hand: at the lens cap and at the trays. It is pure: what the clock says and which key
// was pressed come in, what to show, which beats to sound and what was taken come out. It knows no terminal and no book.
package timer

import (
	"math"
	"time"
)

// Moment is one look at the clock: a run that never jumps, and the time of day.
type Moment struct {
	Run  time.Duration // monotonic, from any beginning
	Wall time.Time
}

// At makes a Moment of a time that carries a monotonic reading. base is any time of the same process.
func At(base, t time.Time) Moment { return Moment{Run: t.Sub(base), Wall: t.Round(0)} }

// Press is what a hand tells the timer by a key.
type Press int

// The presses. Go begins and ends, and goes on counting where an odd time is asked about; Measure begins to measure at
// once; More and Less correct by a tenth of a second; Done says that an odd time is what was done.
const (
	Go Press = iota
	Measure
	More
	Less
	Done
)

// Odd says whether a time is one that a hand asks about before it is taken: under a third of what was planned, or over
// three times as long. A wet key that is pressed twice gives the one, a press that was forgotten the other.
func Odd(took, planned time.Duration) bool {
	return planned > 0 && (took*3 < planned || took > planned*3)
}

// resumed is a run that began before this process, as the time of day tells it: where the clock was set back since, it
// begins now.
func resumed(began time.Time, now Moment) run {
	return run{began: Moment{Run: now.Run - max(0, now.Wall.Sub(began)), Wall: began}, last: now}
}

// Beat is one thing to sound.
type Beat int

// The beats. Start and End matter most: take the cap off, put it on; the sheet in, the sheet out.
const (
	Count  Beat = iota // of the count-in
	Start              // now it begins
	Second             // one more second
	Rock               // rock the tray
	Near               // one of the last seconds of a bath
	End                // the planned time is over
	Over               // time goes on running beyond it
)

// Loud says that a beat is one of those that a hand acts upon.
func (b Beat) Loud() bool { return b == Start || b == End || b == Rock }

// How a time was taken.
const (
	Planned  = "planned"  // the hand says that it was as planned, or so much more or less
	Measured = "measured" // by two presses, or by the clock
)

// OutNow is the word that calls a sheet out of a bath.
const OutNow = "OUT NOW"

// Taken is the time that was taken.
type Taken struct {
	S        float64   // seconds
	How      string    // Planned or Measured
	Began    time.Time // time of day
	PlannedS float64   // 0 for none
	// Slept is how far the time of day went ahead of the running clock meanwhile: the machine slept, or its clock was
	// set. It is part of S, for the sheet did not sleep. SetBack is the same the other way; it is no part of S.
	Slept, SetBack time.Duration
}

// OverS is how much longer than planned it took, seconds; 0 where it did not, or where nothing was planned.
func (t Taken) OverS() float64 {
	if t.PlannedS == 0 || t.S <= t.PlannedS {
		return 0
	}
	return milli(t.S - t.PlannedS)
}

// Face is what the timer shows.
type Face struct {
	Big  string // the figure to be seen from afar
	Word string // what to do now, a word or two
	Line string // what else there is to know
}

// jump is how far the two clocks may drift apart between two looks before it is told.
const jump = time.Second

// run is a time that is running.
type run struct {
	began, last    Moment
	slept, setBack time.Duration
}

func startAt(at Moment) run { return run{began: at, last: at} }

// look brings the run up to a moment.
func (r *run) look(at Moment) {
	if at.Run < r.last.Run {
		return
	}
	ahead := at.Wall.Sub(r.last.Wall) - (at.Run - r.last.Run)
	switch {
	case ahead >= jump:
		r.slept += ahead
	case ahead <= -jump:
		r.setBack -= ahead
	}
	r.last = at
}

// elapsed is the time since the run began, with what the machine slept through.
func (r *run) elapsed(at Moment) time.Duration {
	r.look(at)
	return at.Run - r.began.Run + r.slept
}

func (r *run) taken(s float64, how string, planned time.Duration) *Taken {
	return &Taken{S: s, How: how, Began: r.began.Wall, PlannedS: planned.Seconds(), Slept: r.slept, SetBack: r.setBack}
}

// Duration is a time in seconds as the clock counts it.
func Duration(s float64) time.Duration { return time.Duration(math.Round(s * 1e9)) }

// milli rounds seconds to a thousandth, finer than any hand.
func milli(s float64) float64 { return math.Round(s*1000) / 1000 }
