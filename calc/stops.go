package calc

import (
	"cmp"
	"math"
	"slices"
	"strconv"
)

// Widest values that are calculated with. Far beyond anything a camera meets,
// near enough that no formula here runs into infinity.
const (
	minTimeS = 1e-6
	maxTimeS = 1e9
	maxF     = 1024
	minIndex = 0.001
	maxIndex = 1e6
	maxStops = 64
)

// Stops is the step in exposure that a ratio of times, lights or areas makes,
// in stops: log2(ratio); 2 is one stop more, 0.5 one less. The ratio is more
// than 0. Derived from the meaning of a stop. Any other ratio is a *RangeError.
func Stops(ratio float64) (float64, error) {
	if err := above("ratio", ratio, 0, math.Inf(1), ""); err != nil {
		return 0, err
	}
	return math.Log2(ratio), nil
}

// Ratio is the ratio that a step in stops makes: 2^stops, for steps between -64
// and 64. Derived from the meaning of a stop. A step beyond is a *RangeError.
func Ratio(stops float64) (float64, error) {
	if err := within("step", stops, -maxStops, maxStops, "stops"); err != nil {
		return 0, err
	}
	return math.Exp2(stops), nil
}

// MoveTime is the time, in seconds, that lies the given number of stops from
// timeS (+ = longer). Derived: t·2^stops. A time outside 1e-6 to 1e9 s, or a
// step beyond 64 stops, is a *RangeError.
func MoveTime(timeS, stops float64) (float64, error) {
	r, err := Ratio(stops)
	if err := firstError(err, checkTime(timeS)); err != nil {
		return 0, err
	}
	return timeS * r, nil
}

// FilterFactor is the factor by which several filters in front of one lens
// lengthen the exposure: the product of their factors, each at least 1;
// without any it is 1. Published: encyclopaedia article "Filter factor".
//
// A factor holds for one paper under one light. Factors printed for
// panchromatic or orthochromatic film do not serve a blue-sensitive paper: a
// yellow of factor 2 on film asked 15 of an ordinary ortho film. A factor under
// 1 is a *RangeError.
func FilterFactor(factors ...float64) (float64, error) {
	product := 1.0
	for _, f := range factors {
		if err := within("filter factor", f, 1, 1e9, ""); err != nil {
			return 0, err
		}
		product *= f
	}
	return product, within("product of the filter factors", product, 1, 1e12, "")
}

// mark is an engraved aperture mark and the number it stands for.
type mark struct{ nominal, exact float64 }

// marks holds the full, half and third stops from f/1 to f/128, ascending and
// each engraving once. Whole and third stops are a meter's and a modern lens's
// series, half stops stand on older shutters.
var marks = buildMarks()

func buildMarks() []mark {
	half := []float64{1.2, 1.7, 2.4, 3.3, 4.8, 6.7, 9.5, 13, 19, 27, 38, 54, 76, 108}
	continental := map[float64]bool{4.5: true, 6.3: true, 9: true, 18: true, 25: true, 36: true}
	var out []mark
	for k, n := range thirdStops {
		exact := math.Exp2(float64(k) / 6)
		if continental[n] {
			exact = n
		}
		out = append(out, mark{n, exact})
	}
	for k, n := range half {
		exact, known := math.Exp2((float64(k)+0.5)/2), false
		for i := range out {
			if out[i].nominal == n {
				known = true
				if math.Abs(exact-n) < math.Abs(out[i].exact-n) {
					out[i].exact = exact
				}
			}
		}
		if !known {
			out = append(out, mark{n, exact})
		}
	}
	slices.SortFunc(out, func(a, b mark) int { return cmp.Compare(a.exact, b.exact) })
	return out
}

// ExactF is the relative aperture behind an engraved mark, a plain number:
// 5.6 stands for 5.657, 11 for 11.314, 22 for 22.627. Whole stops are 2^(k/2),
// half stops 2^(k/2+1/4), thirds 2^(k/6). Published: tables of f-numbers, whole
// and fractional stops. A value that is no nominal mark means itself, so an old
// lens measured as f/7.7 stays f/7.7, and so does a value that makes no sense.
//
// The continental marks 4.5 6.3 9 12.5 18 25 36 mean themselves. All but 12.5
// are also engraved for third stops (4.490, 6.350, 8.980, 17.959, 25.398,
// 35.919); the two readings are 0.05 stop apart at 25 and 0.02 or less at the
// rest, far below what a cap scatters, and a number that is taken at its word
// surprises nobody. Where one engraving serves a half and a third stop (1.2,
// 13), the nearer value is meant: 1.189 and 12.699.
func ExactF(f float64) float64 {
	for i := range marks {
		if marks[i].nominal == f {
			return marks[i].exact
		}
	}
	return f
}

// NearestMark is the mark whose exact aperture lies nearest in stops to f; of
// two as near, the smaller number. An f that is not more than 0 is a
// *RangeError.
func NearestMark(f float64) (float64, error) {
	if err := checkF(f); err != nil {
		return 0, err
	}
	best, dist := 0.0, math.Inf(1)
	for _, m := range marks {
		if d := math.Abs(math.Log2(m.exact / ExactF(f))); d < dist-1e-12 {
			best, dist = m.nominal, d
		}
	}
	return best, nil
}

// fullStopAtLeast is the first whole stop, opening wise, that lets through no
// more light than f/n; 0 where even 128 lets through more.
func fullStopAtLeast(n float64) float64 {
	for k := range fullStops {
		if math.Exp2(float64(k)/2) >= n*(1-1e-9) {
			return fullStops[k]
		}
	}
	return 0
}

// markSlack is the ratio within which an engraved aperture and the one that is
// meant lie: 11 stands for 11.314. Derived from the series of whole stops.
const markSlack = 1.03

// WholeStops are the whole stops that a lens has from its widest to its smallest
// aperture, ascending, as engraved; none where the two lie between two marks.
func WholeStops(widest, smallest float64) []float64 {
	return marksOf(fullStops[:], widest, smallest)
}

// marksOf are those of a series that a lens has.
func marksOf(series []float64, widest, smallest float64) (out []float64) {
	for _, f := range series {
		if f*markSlack >= widest && f <= smallest*markSlack {
			out = append(out, f)
		}
	}
	return out
}

// WholeStopBeside is the next whole stop beside f: the next smaller aperture
// where closer is true, else the next wider one; f itself at the end of the
// series.
func WholeStopBeside(f float64, closer bool) float64 {
	out := f
	for _, n := range fullStops {
		if closer && n > f*markSlack {
			return n
		}
		if !closer && n*markSlack < f {
			out = n
		}
	}
	return out
}

// third stops of apertures as they are engraved, from f/1 to f/128.
var thirdStops = [...]float64{
	1, 1.1, 1.2, 1.4, 1.6, 1.8, 2, 2.2, 2.5, 2.8, 3.2, 3.5, 4, 4.5, 5, 5.6, 6.3, 7.1,
	8, 9, 10, 11, 13, 14, 16, 18, 20, 22, 25, 29, 32, 36, 40, 45, 51, 57, 64, 72, 80, 90, 102, 114, 128,
}

// ThirdStops are the third stops that a lens has from its widest to its smallest
// aperture, ascending, as engraved; none where the two lie between two marks.
func ThirdStops(widest, smallest float64) []float64 {
	return marksOf(thirdStops[:], widest, smallest)
}

// TimeMark is a time as a meter shows it, and how it is written there.
type TimeMark struct {
	S    float64
	Mark string
}

// ThirdTimes are the times of a meter's dial in third stops, from 1/125 s to
// 16 min, ascending. Engraved are the numbers of the decimal series (1, 1.25,
// 1.6, 2, 2.5, 3.15, 4, 5, 6.3, 8), rounded as meters round them: common
// practice. Each lies within a tenth of a stop of 2^(k/3) s.
func ThirdTimes() []TimeMark {
	out := make([]TimeMark, 0, len(timeParts)+len(timeWholes))
	for _, n := range timeParts {
		out = append(out, TimeMark{1 / n, "1/" + strconv.FormatFloat(n, 'f', -1, 64)})
	}
	for _, s := range timeWholes {
		out = append(out, TimeMark{s, strconv.FormatFloat(s, 'f', -1, 64)})
	}
	return out
}

var timeParts = [...]float64{125, 100, 80, 60, 50, 40, 30, 25, 20, 15, 13, 10, 8, 6, 5, 4}
var timeWholes = [...]float64{
	0.3, 0.4, 0.5, 0.6, 0.8, 1, 1.3, 1.6, 2, 2.5, 3.2, 4, 5, 6.3, 8, 10, 13, 16, 20, 25, 32, 40, 50, 64, 80, 100, 128, 160, 200, 256, 320, 400, 512, 640, 800, 1024,
}

var fullStops = [...]float64{1, 1.4, 2, 2.8, 4, 5.6, 8, 11, 16, 22, 32, 45, 64, 90, 128, 180, 256}
