package calc

import "math"

// Lengths are millimetres, and every distance to a subject is measured from the
// lens (its front principal point, for which the middle of the lens serves on a
// long-focus lens). The thin lens serves throughout: 1/f = 1/u + 1/v. Published:
// OpenStax College Physics ch. 25; US Army subcourse SS0511, Copy Photography.

const maxLengthMM = 1e9

func checkFocal(focal float64) error { return within("focal length", focal, 0.1, 1e5, "mm") }

func checkMag(m float64) error { return above("magnification", m, 0, 1e4, "") }

// checkSubject wants the subject beyond the front focal point, or no real image
// is formed.
func checkSubject(focal, subject float64) error {
	return firstError(checkFocal(focal), above("distance to the subject", subject, focal, maxLengthMM, "mm"))
}

// Magnification is image size ÷ subject size at a distance in mm: f/(u−f).
// Published: thin lens. A subject at or inside the focal length is a *RangeError.
func Magnification(focal, subject float64) (float64, error) {
	if err := checkSubject(focal, subject); err != nil {
		return 0, err
	}
	return focal / (subject - focal), nil
}

// ImageDistance is the distance from lens to paper in mm for a subject in focus:
// f·u/(u−f). Published: thin lens. A subject at or inside the focal length is a
// *RangeError.
func ImageDistance(focal, subject float64) (float64, error) {
	if err := checkSubject(focal, subject); err != nil {
		return 0, err
	}
	return focal * subject / (subject - focal), nil
}

// ImageDistanceAt is the distance from lens to paper in mm at a magnification:
// f·(1+m); m = 0 is a subject at infinity. Published: US Army subcourse SS0511.
func ImageDistanceAt(focal, m float64) (float64, error) {
	if err := firstError(checkFocal(focal), within("magnification", m, 0, 1e4, "")); err != nil {
		return 0, err
	}
	return focal * (1 + m), nil
}

// Extension is how far in mm the lens stands beyond its infinity mark at a
// magnification: f·m. Published: thin lens.
func Extension(focal, m float64) (float64, error) {
	if err := firstError(checkFocal(focal), within("magnification", m, 0, 1e4, "")); err != nil {
		return 0, err
	}
	return focal * m, nil
}

// MagnificationFromExtension is the magnification at a measured extension in mm
// from the infinity mark: extension ÷ focal length. A measured extension beats a
// distance. An extension below 0 is a *RangeError.
func MagnificationFromExtension(focal, extension float64) (float64, error) {
	if err := firstError(checkFocal(focal), within("extension", extension, 0, 1e7, "mm")); err != nil {
		return 0, err
	}
	return extension / focal, nil
}

// MagnificationOf is the magnification at which a picture was or will be taken,
// from whichever of these is known, the best first: an extension in mm measured
// from the infinity mark, the magnification itself, the distance in mm to the
// subject. known is false, and m 0, where all are nil. Published: thin lens; the
// order is common practice, a ruler on the rail beats a guess across the quay.
func MagnificationOf(focal float64, extension, magnification, subject *float64) (m float64, known bool, err error) {
	switch {
	case extension != nil:
		m, err = MagnificationFromExtension(focal, *extension)
	case magnification != nil:
		m, err = *magnification, within("magnification", *magnification, 0, 1e4, "")
	case subject != nil:
		m, err = Magnification(focal, *subject)
	default:
		return 0, false, nil
	}
	if err != nil {
		return 0, false, err
	}
	return m, true, nil
}

// SubjectDistance is the distance in mm from lens to subject at a magnification:
// f·(1+1/m), the inverse of Magnification. Published: thin lens.
func SubjectDistance(focal, m float64) (float64, error) {
	if err := firstError(checkFocal(focal), checkMag(m)); err != nil {
		return 0, err
	}
	u := focal * (1 + 1/m)
	return u, within("distance to the subject", u, 0, maxLengthMM, "mm")
}

// ExtensionFactor is the factor by which the exposure grows when the lens is
// drawn out to a magnification: (1+m/P)², P the pupil ratio (exit ÷ entrance
// pupil, 1 for a symmetrical lens). At 1:1 it is 4, two stops. Published: US
// Army subcourse SS0512 as (v/f)²; with pupil ratio Greivenkamp, Field Guide to
// Geometrical Optics, p. 29. m is 0 or more, P between 0.1 and 10.
func ExtensionFactor(m, pupil float64) (float64, error) {
	if err := firstError(within("magnification", m, 0, 1e4, ""), within("pupil ratio", pupil, 0.1, 10, "")); err != nil {
		return 0, err
	}
	return (1 + m/pupil) * (1 + m/pupil), nil
}

// AngleOfView is the angle in degrees that a length d of the paper sees when the
// paper stands v behind the lens: 2·atan(d/2v). At infinity v is the focal
// length. Published: NAVEDTRA 14209.
func AngleOfView(d, v float64) (float64, error) {
	if err := firstError(within("size of the sheet", d, 0, 1e6, "mm"), above("distance from lens to paper", v, 0, maxLengthMM, "mm")); err != nil {
		return 0, err
	}
	return 2 * math.Atan(d/(2*v)) * degrees, nil
}

const degrees = 180 / math.Pi

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

// Figure calculates what belongs to a focus. Depth and rail tolerance take F as
// engraved, as published examples do, diffraction the exact number behind it.
// The angles are those of the lens at this extension, so that they agree with
// the field; at infinity they are the ones that lens tables print. The formulas
// and their sources stand with Hyperfocal, ExtensionFactor, AngleOfView, AiryUM.
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
