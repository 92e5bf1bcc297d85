package calc

import "math"

// Focus is a lens set on a subject: either SubjectMM or Magnification is given,
// neither means infinity.
type Focus struct {
	FocalMM, SubjectMM, Magnification float64
	// F is the aperture mark; 0 leaves out what depends on it.
	F float64
	// COCMM is the circle of confusion; 0 means COC.
	COCMM float64
	// SheetWidthMM and SheetHeightMM are the sheet as it stands in the camera; 0
	// leaves out field and angles.
	SheetWidthMM, SheetHeightMM float64
	// Pupil is the pupil ratio; 0 means 1.
	Pupil float64
}

// Focused is what belongs to a Focus. Lengths are mm. Far, SubjectMM and the
// field are +Inf where they have no end.
type Focused struct {
	SubjectMM, ImageDistanceMM, ExtensionMM, Magnification float64
	ExposureFactor, Stops                                  float64
	NearMM, FarMM, HyperfocalMM, RailToleranceMM           float64
	FieldWidthMM, FieldHeightMM                            float64
	AngleWidthDeg, AngleHeightDeg, AngleDiagonalDeg        float64
	AiryUM                                                 float64
	HasAperture, HasSheet                                  bool
}

// Figure reckons what belongs to a focus. Depth and rail tolerance take F as
// engraved, as published examples do, diffraction the exact number behind it.
// The angles are those of the lens at this extension, so that they agree with
// the field; at infinity they are the ones that lens tables print. The formulas
// and their sources stand with NearFar, ExtensionFactor, AngleOfView, AiryUM.
// Two subjects or a value no formula takes are a *RangeError.
func (fo Focus) Figure() (Focused, error) {
	r := Focused{Magnification: fo.Magnification, SubjectMM: fo.SubjectMM, HasAperture: fo.F != 0, HasSheet: fo.SheetWidthMM != 0 || fo.SheetHeightMM != 0}
	var err error
	switch {
	case fo.SubjectMM != 0 && fo.Magnification != 0:
		err = &RangeError{Quantity: "number of ways in which the subject is placed", Value: 2, Min: 0, Max: 1}
	case fo.SubjectMM != 0:
		r.Magnification, err = Magnification(fo.FocalMM, fo.SubjectMM)
	case fo.Magnification != 0:
		r.SubjectMM, err = SubjectDistance(fo.FocalMM, fo.Magnification)
	default:
		r.SubjectMM = math.Inf(1)
	}
	if err != nil {
		return Focused{}, err
	}
	m := r.Magnification
	var err2, err3 error
	r.ImageDistanceMM, err = ImageDistanceAt(fo.FocalMM, m)
	r.ExtensionMM, err2 = Extension(fo.FocalMM, m)
	r.ExposureFactor, err3 = ExtensionFactor(m, orDefault(fo.Pupil, 1))
	if err := firstError(err, err2, err3); err != nil {
		return Focused{}, err
	}
	r.Stops = math.Log2(r.ExposureFactor)
	if err := firstError(fo.depth(&r), fo.field(&r)); err != nil {
		return Focused{}, err
	}
	return r, nil
}

func (fo Focus) depth(r *Focused) error {
	if !r.HasAperture {
		return nil
	}
	c := orDefault(fo.COCMM, COC)
	var err, err2, err3 error
	r.HyperfocalMM, err = Hyperfocal(fo.FocalMM, fo.F, c)
	r.RailToleranceMM, err2 = RailTolerance(c, fo.F, r.Magnification)
	r.AiryUM, err3 = AiryUM(ExactF(fo.F), r.Magnification)
	if err := firstError(err, err2, err3); err != nil {
		return err
	}
	if math.IsInf(r.SubjectMM, 1) {
		r.NearMM, r.FarMM = r.HyperfocalMM-fo.FocalMM, math.Inf(1)
		return nil
	}
	r.NearMM, r.FarMM = depthLimits(r.HyperfocalMM, fo.FocalMM, r.SubjectMM)
	return nil
}

func (fo Focus) field(r *Focused) error {
	if !r.HasSheet {
		return nil
	}
	w, h, v := fo.SheetWidthMM, fo.SheetHeightMM, r.ImageDistanceMM
	var err, err2, err3 error
	r.AngleWidthDeg, err = AngleOfView(w, v)
	r.AngleHeightDeg, err2 = AngleOfView(h, v)
	if err := firstError(err, err2); err != nil {
		return err
	}
	if r.AngleDiagonalDeg, err3 = AngleOfView(math.Hypot(w, h), v); err3 != nil {
		return err3
	}
	if r.Magnification == 0 {
		r.FieldWidthMM, r.FieldHeightMM = math.Inf(1), math.Inf(1)
		return nil
	}
	r.FieldWidthMM, err = FieldSize(w, r.Magnification)
	r.FieldHeightMM, err2 = FieldSize(h, r.Magnification)
	return firstError(err, err2)
}
