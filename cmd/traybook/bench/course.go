package bench

import (
	"math"

	"traybook/cmd/traybook/bench/timer"
)

// Span is what a running clock shows from a moment on, seconds since it began, so that whoever shows it needs to know no
// more than the time of day.
type Span struct {
	FromS  float64 `json:"from"`
	Counts Counts  `json:"counts"`
	Word   string  `json:"word"`
	Calls  bool    `json:"calls,omitempty"` // the time is over: a hand is called
}

// Counts is how the figure of a span is counted.
type Counts string

// The ways to count: whole seconds until the beginning, up from the beginning, down to the end, up from the end.
const (
	CountIn   Counts = "in"
	CountUp   Counts = "up"
	CountDown Counts = "down"
	CountOver Counts = "over"
)

// Sound is a beat and those like it: at FromS and every EveryS after it, before ToS. 0 for EveryS is once, 0 for ToS has no end.
type Sound struct {
	FromS  float64 `json:"from"`
	EveryS float64 `json:"every,omitempty"`
	ToS    float64 `json:"to,omitempty"`
	Beat   string  `json:"beat"`
	Loud   bool    `json:"loud,omitempty"` // a hand acts upon it
}

var beatNames = map[timer.Beat]string{timer.Count: "count", timer.Start: "start", timer.Second: "second", timer.Rock: "rock", timer.Near: "near",
	timer.End: "end", timer.Over: "over"}

func sound(b timer.Beat, from, every, to float64) Sound {
	return Sound{from, every, to, beatNames[b], b.Loud()}
}

// rockWordS is how long the word stands by which a tray is rocked.
const rockWordS = 2

// course is what the clock shows while it runs, in words and in beats. Where several beats fall at one moment, the first of
// them in the list counts.
func (c *Clock) course() ([]Span, []Sound) {
	planned := c.PlannedS()
	if c.Exposes() {
		return c.courseOfCap(planned)
	}
	rock := c.rockS()
	spans := []Span{{Counts: CountUp, Word: "in the bath"}}
	sounds := []Sound{sound(timer.Start, 0, 0, 0)}
	if planned == 0 {
		if rock > 0 {
			sounds = append(sounds, sound(timer.Rock, rock, rock, 0))
		}
		return spans, sounds
	}
	spans[0].Counts = CountDown
	if rock > 0 {
		for at := rock; at < planned && len(spans) < 400; at += rock {
			spans = append(spans, Span{FromS: at, Counts: CountDown, Word: "rock"})
			if at+rockWordS < min(planned, at+rock) {
				spans = append(spans, Span{FromS: at + rockWordS, Counts: CountDown, Word: "in the bath"})
			}
		}
	}
	spans = append(spans, Span{FromS: planned, Counts: CountOver, Word: timer.OutNow, Calls: true})
	sounds = append(sounds, sound(timer.End, planned, 0, 0))
	const near = 5
	for k := math.Min(near, math.Ceil(planned)-1); k > 0; k-- {
		sounds = append(sounds, sound(timer.Near, planned-k, 0, 0))
	}
	if rock > 0 {
		sounds = append(sounds, sound(timer.Rock, rock, rock, planned))
	}
	return spans, append(sounds, sound(timer.Over, planned+10, 10, 0))
}

func (c *Clock) courseOfCap(planned float64) (spans []Span, sounds []Sound) {
	counted := c.data().CountInS
	if counted != nil {
		spans = append(spans, Span{FromS: -*counted, Counts: CountIn, Word: "cap off at 0"})
		sounds = append(sounds, sound(timer.Count, -*counted, 1, 0))
		sounds[0].ToS = -0.5 // the last before the beginning
	}
	spans = append(spans, Span{Counts: CountUp, Word: "cap is off"})
	sounds = append(sounds, sound(timer.Start, 0, 0, 0))
	if planned == 0 {
		return spans, append(sounds, sound(timer.Second, 1, 1, 0))
	}
	if counted != nil {
		spans = append(spans, Span{FromS: planned, Counts: CountUp, Word: "CAP ON", Calls: true})
	}
	sounds = append(sounds, sound(timer.End, planned, 0, 0), sound(timer.Second, 1, 1, planned))
	return spans, append(sounds, sound(timer.Over, math.Floor(planned)+1, 1, 0))
}
