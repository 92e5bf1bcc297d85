package calc

import "math"

// CopySetup is where everything stands when a negative is copied.
type CopySetup struct {
	// Magnification is print ÷ negative.
	Magnification float64
	// SubjectMM is the distance from lens to negative, ImageMM from lens to
	// paper, TotalMM from negative to paper, ExtensionMM from the infinity mark.
	SubjectMM, ImageMM, TotalMM, ExtensionMM float64
	// PrintWidthMM and PrintHeightMM are the size of the print.
	PrintWidthMM, PrintHeightMM float64
	// Factor is the extension factor, Stops the same in stops.
	Factor, Stops float64
	// LargestM is the greatest magnification that the draw allows, draw ÷ f − 1;
	// 0 where the draw is not known. Fits is false where Magnification is larger.
	LargestM float64
	Fits     bool
}

// CopyGeometry is the setup for copying a negative of negW × negH mm at a
// magnification, with a lens of a focal length in mm and a pupil ratio (0 means
// 1) on a camera whose greatest distance from lens to paper is drawMax mm (0 =
// not known). At 1:1 both distances are 2f. Published: thin lens, US Army
// subcourse SS0511; the greatest magnification is derived from it. A draw
// shorter than the focal length cannot even reach infinity and is a *RangeError.
func CopyGeometry(focal, drawMax, m, negW, negH, pupil float64) (CopySetup, error) {
	u, err1 := SubjectDistance(focal, m)
	factor, err2 := ExtensionFactor(m, orDefault(pupil, 1))
	if err := firstError(err1, err2, within("width of the negative", negW, 0, 1e5, "mm"), within("height of the negative", negH, 0, 1e5, "mm")); err != nil {
		return CopySetup{}, err
	}
	s := CopySetup{
		Magnification: m, SubjectMM: u, ImageMM: focal * (1 + m), ExtensionMM: focal * m,
		PrintWidthMM: negW * m, PrintHeightMM: negH * m, Factor: factor, Stops: math.Log2(factor), Fits: true,
	}
	s.TotalMM = s.SubjectMM + s.ImageMM
	if drawMax != 0 {
		if err := within("greatest distance from lens to paper", drawMax, focal, 1e6, "mm"); err != nil {
			return CopySetup{}, err
		}
		s.LargestM = drawMax/focal - 1
		s.Fits = m <= s.LargestM*(1+1e-9)
	}
	return s, nil
}

// FieldSize is the size in mm at the subject that a length d in mm of the sheet
// takes in at a magnification: d/m. Derived.
func FieldSize(d, m float64) (float64, error) {
	if err := firstError(within("size of the sheet", d, 0, 1e6, "mm"), checkMag(m)); err != nil {
		return 0, err
	}
	s := d / m
	return s, within("size of the field", s, 0, 1e15, "mm")
}

// RailRow is one line of a table for the rail.
type RailRow struct {
	// SubjectMM is the distance from lens to subject; +Inf is the infinity mark.
	SubjectMM float64
	// ExtensionMM is the distance from the infinity mark, ToleranceMM how far off
	// it may be to either side.
	ExtensionMM, ToleranceMM float64
	// Magnification, Factor and Stops belong to that extension.
	Magnification, Factor, Stops float64
}

// RailTable has a row for each subject distance in mm, +Inf for infinity, in the
// order given: extension, tolerance at aperture n within a circle c in mm, and
// the extension factor with a pupil ratio (0 means 1). Derived from Extension,
// RailTolerance and ExtensionFactor. A distance at or inside the focal length is
// a *RangeError.
func RailTable(focal, n, c, pupil float64, subjects []float64) ([]RailRow, error) {
	rows := make([]RailRow, 0, len(subjects))
	for _, u := range subjects {
		row := RailRow{SubjectMM: u}
		var err error
		if !math.IsInf(u, 1) {
			if row.Magnification, err = Magnification(focal, u); err != nil {
				return nil, err
			}
		}
		m := row.Magnification
		var err2, err3 error
		row.ExtensionMM, err = Extension(focal, m)
		row.ToleranceMM, err2 = RailTolerance(c, n, m)
		row.Factor, err3 = ExtensionFactor(m, orDefault(pupil, 1))
		if err := firstError(err, err2, err3); err != nil {
			return nil, err
		}
		row.Stops = math.Log2(row.Factor)
		rows = append(rows, row)
	}
	return rows, nil
}

// RailDistances are the subject distances in mm that a rail table for a focal
// length wants: 1:1 first, then the distances at which people are photographed,
// infinity last. Our own choice; those not beyond 2f are left out.
func RailDistances(focal float64) []float64 {
	out := []float64{2 * focal}
	for _, u := range [...]float64{500, 700, 1000, 1250, 1500, 1750, 2000, 2500, 3000, 4000, 5000, 7000, 10000, 20000} {
		if u > 2*focal {
			out = append(out, u)
		}
	}
	return append(out, math.Inf(1))
}
