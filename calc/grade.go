package calc

import (
	"math"
	"strconv"
)

// HmFromIndex is the exposure in lux seconds that gives the mid-tone on a paper
// metered at an exposure index (0.001 to 10000): 10/index. Published for film as
// the definition of an arithmetic speed; here it anchors the paper's curve.
func HmFromIndex(index float64) (float64, error) {
	if err := within("exposure index", index, 0.001, 10000, ""); err != nil {
		return 0, err
	}
	return 10 / index, nil
}

// HmFromISOP is the exposure in lux seconds that gives the mid-tone on a paper of
// ISO speed P (0.1 to 1000000): 1000/P. Published: ISO 6846 as quoted.
func HmFromISOP(p float64) (float64, error) {
	if err := within("ISO paper speed", p, 0.1, 1e6, ""); err != nil {
		return 0, err
	}
	return 1000 / p, nil
}

// ISOPPerIndex is the divisor between a maker's ISO speed P and an index for the
// camera. Derived: Hm = 1000/P and Hm = 10/index.
const ISOPPerIndex = 100.0

// IndexFromISOP guesses the index of a box that was never tried from the maker's
// ISO speed P (0.1 to 1000000): P/100. A measured index goes before it.
func IndexFromISOP(p float64) (float64, error) {
	if err := within("ISO paper speed", p, 0.1, 1e6, ""); err != nil {
		return 0, err
	}
	return p / ISOPPerIndex, nil
}

// RangeStops is an ISO range in stops.
func RangeStops(r float64) (float64, error) {
	if err := within("ISO range", r, 1, 1000, ""); err != nil {
		return 0, err
	}
	return r / 100 / log10of2, nil
}

// gradeLow[g] is the low end of grade g in log10 exposure; the high end is the
// low end of the grade before, of grade 0 it is gradeSoftest. Published: grade
// table of ANSI PH2.2-1966 as tabulated in a public sensitometry review.
var gradeLow = [7]float64{1.40, 1.15, 0.95, 0.80, 0.65, 0.50, 0.35}

const gradeSoftest = 1.70

// Grade is a paper's contrast grade.
type Grade struct {
	// Number is the grade, 0 to 6; only where Fits is true.
	Number int
	// Fits is false for a paper softer than grade 0 or harder than grade 6.
	Fits bool
	// Low and High are the grade's ends in log10 exposure.
	Low, High float64
	// Words is "grade 2", "softer than grade 0" or "harder than grade 6".
	Words string
}

var gradeWords = [7]string{"grade 0", "grade 1", "grade 2", "grade 3", "grade 4", "grade 5", "grade 6"}

// GradeOfRange is the grade whose span of log10 exposure holds R/100. A range on
// the border of two grades belongs to the softer one's low end; 1.70 itself is
// still grade 0. A filter's number is not a grade. Published table, see
// GradeSpan. R runs from 1 to 1000.
func GradeOfRange(r float64) (Grade, error) {
	if err := within("ISO range", r, 1, 1000, ""); err != nil {
		return Grade{}, err
	}
	x := math.Round(r*1e6) / 1e8 // so that 95 is 0.95 to the last digit
	if x > gradeSoftest {
		return Grade{Words: "softer than grade 0"}, nil
	}
	for g, low := range gradeLow {
		if x >= low {
			lo, hi, _ := GradeSpan(g)
			return Grade{Number: g, Fits: true, Low: lo, High: hi, Words: gradeWords[g]}, nil
		}
	}
	return Grade{Words: "harder than grade 6"}, nil
}

// GradeSpan is the span of log10 exposure of a grade, 0 to 6. Published: ANSI
// PH2.2-1966 as tabulated in a public sensitometry review.
func GradeSpan(grade int) (low, high float64, err error) {
	if err := within("grade", float64(grade), 0, float64(len(gradeLow)-1), ""); err != nil {
		return 0, 0, err
	}
	if grade == 0 {
		return gradeLow[0], gradeSoftest, nil
	}
	return gradeLow[grade], gradeLow[grade-1], nil
}

// vcFilterR are the ISO ranges of variable-contrast paper behind the filters 00, 0, 1 … 5. Published: a maker's table of a
// resin-coated paper as quoted in public texts, filter 5 of the fibre paper's; papers differ by up to 30.
var vcFilterR = [7]float64{180, 160, 130, 110, 90, 60, 50}

// VariableFilterFactor is how much longer the filters up to 3½ make an exposure of variable-contrast paper, against none.
// Published: P500 without a filter and P200 with it, under the enlarger's lamp; the filters from 4 on take twice as long as
// those up to 3½.
const VariableFilterFactor = 2.5

// VariableFilter is what a filter of variable-contrast paper makes of it: its ISO range, and the factor of its exposure
// under a lamp. A filter's name is 00 or its number from 0 to 5, halves between two whole ones; ok is false for any other
// word.
func VariableFilter(name string) (r, factor float64, ok bool) {
	at := 0.0 // its place in the table
	if name != "00" {
		n, err := strconv.ParseFloat(name, 64)
		if err != nil || !(n >= 0 && n <= 5) {
			return 0, 0, false
		}
		at = n + 1
	}
	low := int(at)
	r = vcFilterR[low]
	if part := at - float64(low); part > 0 {
		r += part * (vcFilterR[low+1] - r)
	}
	if factor = VariableFilterFactor; at >= 5 {
		factor *= 2
	}
	return r, factor, true
}

// SkyGrades is how many grades harder than under the enlarger's lamp variable-contrast paper is without a filter, in a light
// of the log: its hard part sees blue, and the soft one green. One to two under a blue sky, in the sun or in its shade; none
// to one in grey light; as under the lamp at dusk and by a lamp, or where nobody said the light. Common practice without a
// source: a strip in that light says better.
func SkyGrades(light string) (grades, known float64) {
	switch light {
	case "sun", "shade":
		return 1.5, 0.5
	case "overcast":
		return 0.5, 0.5
	}
	return 0, 0
}

// HarderBy is the ISO range of a paper so many grades harder than one of range r (10 to 400), 0 to 6 grades; no harder than
// grade 6. It goes along the middles of the grades of the published table, see GradeSpan; softer than the middle of grade 0
// and harder than that of grade 6 as steeply as beside it. Derived.
func HarderBy(r, grades float64) (float64, error) {
	if err := firstError(within("ISO range", r, 10, 400, ""), within("number of grades", grades, 0, 6, "")); err != nil {
		return 0, err
	}
	if grades == 0 {
		return r, nil
	}
	middle := func(g int) float64 {
		low, high, _ := GradeSpan(g)
		return 50 * (low + high)
	}
	last := len(gradeLow) - 1
	g := 0
	for g < last-1 && r < middle(g+1) {
		g++
	}
	at := float64(g) + (middle(g)-r)/(middle(g)-middle(g+1)) + grades
	if at >= float64(last) {
		return math.Min(r, middle(last)), nil
	}
	g = max(0, min(int(math.Floor(at)), last-1))
	return middle(g) - (at-float64(g))*(middle(g)-middle(g+1)), nil
}
