package calc

import "math"

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
