package bench

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"time"

	"traybook/calc"
)

// Stepper is a value that a hand chooses by going up and down, in place of typing it. The words are as they would be typed;
// At is the one to begin with, the last used where there is one; Before and After stand around a word where it is shown.
type Stepper struct {
	Name          string
	Before, After string
	Words         []string
	At            int
}

// Lens says how far a lens opens and closes; zeros where no camera is described.
type Lens struct{ Widest, Smallest float64 }

// Where the steppers begin before anything was used.
const (
	firstF     = 8
	firstTimeS = 4
	negativeF  = 11
	negativeS  = 2
	firstTempC = 20
	firstFarM  = 3
)

// coldest and warmest bound the steps of a bath's temperature, °C.
const (
	coldest = 8.0
	warmest = 32.0
)

// distances are steps of a subject's distance in metres, close enough that the extension between two differs little.
var distances = []float64{0.3, 0.35, 0.4, 0.5, 0.6, 0.7, 0.8, 1, 1.2, 1.5, 1.8, 2, 2.5, 3, 4, 5, 6, 8, 10, 15, 20, 30, 50}

// steppers are those of the line that is typed now.
func (m *Machine) steppers(now time.Time) []Stepper {
	switch m.asks {
	case forReading:
		last, f, s := m.stand.Scene, float64(firstF), float64(firstTimeS)
		if m.place.Step == AtNegative {
			last, f, s = m.stand.OnNegative, negativeF, negativeS
		}
		if last != nil && last.F > 0 && last.TimeS > 0 {
			f, s = last.F, last.TimeS
		}
		times := Stepper{Name: "time", After: " s"}
		var exact []float64
		for _, t := range calc.ThirdTimes() {
			times.Words, exact = append(times.Words, t.Mark), append(exact, t.S)
		}
		times.At = nearest(exact, s)
		return []Stepper{m.apertures(f), times}
	case forDistance:
		far := firstFarM * 1000.0
		if m.far > 0 {
			far = m.far
		}
		return []Stepper{stepper("distance", "", " m", distances, far/1000)}
	case forTemperature:
		var all []float64
		for t := coldest; t <= warmest; t += 0.5 {
			all = append(all, t)
		}
		t := float64(firstTempC)
		if m.call.TempC != nil {
			t = *m.call.TempC
		}
		return []Stepper{stepper("temperature", "", " °C", all, t)}
	case forEnd:
		return []Stepper{m.lengths(now)}
	}
	return nil
}

// apertures are the third stops of the lens. One that the lens does not have, such as that of an old reading, stays in.
func (m *Machine) apertures(f float64) Stepper {
	lens := m.stand.Lens
	if lens.Widest == 0 {
		lens = Lens{1, 128}
	}
	all := calc.ThirdStops(lens.Widest, lens.Smallest)
	if !slices.Contains(all, f) {
		all = append(all, f)
		slices.Sort(all)
	}
	return stepper("aperture", "f/", "", all, f)
}

// lengths are how long something may have lasted that still runs: fine at first, coarser later, none beyond now.
func (m *Machine) lengths(now time.Time) Stepper {
	ran := now.Sub(m.clock.Began()).Seconds()
	planned := m.clock.PlannedS()
	out, at, best := Stepper{Name: "how long"}, 1.0, math.Inf(1)
	for n := 0; at < ran && n < 200; n++ {
		out.Words = append(out.Words, lasted(int(at)))
		if d := math.Abs(at - planned); d < best {
			out.At, best = n, d
		}
		switch {
		case at < 20:
			at++
		case at < 300:
			at += 5
		default:
			at += 30
		}
	}
	return out
}

// lasted writes whole seconds as they are typed: 50s, 1min 50s.
func lasted(s int) string {
	if s < 60 {
		return fmt.Sprintf("%ds", s)
	}
	return fmt.Sprintf("%dmin %ds", s/60, s%60)
}

func stepper(name, before, after string, values []float64, at float64) Stepper {
	out := Stepper{Name: name, Before: before, After: after, At: nearest(values, at)}
	for _, v := range values {
		out.Words = append(out.Words, strconv.FormatFloat(v, 'f', -1, 64))
	}
	return out
}

// nearest is the place of the value that lies nearest, by its ratio.
func nearest(values []float64, v float64) int {
	best, at := math.Inf(1), 0
	for i, x := range values {
		if d := math.Abs(math.Log(x / v)); d < best {
			best, at = d, i
		}
	}
	return at
}

var wants = map[asking]string{forReading: "reading", forDistance: "distance", forTemperature: "temperature", forEnd: "end"}
