package calc

import "math"

// Lengths are millimetres, and every distance to a subject is measured from the
// lens (its front principal point, for which the middle of the lens serves on a
// long-focus lens). The thin lens serves throughout: 1/f = 1/u + 1/v. Published:
// OpenStax College Physics ch. 25; US Army subcourse SS0511, Copy Photography.

const maxLengthMM = 1e9

func checkFocal(focal float64) error { return within("focal length", focal, 0.1, 1e5, "mm") }
func checkMag(m float64) error       { return above("magnification", m, 0, 1e4, "") }

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

// WorkingF is the aperture that the paper sees, N·(1+m/P), N the exact number.
// Published: as ExtensionFactor.
func WorkingF(n, m, pupil float64) (float64, error) {
	factor, err := ExtensionFactor(m, pupil)
	if err := firstError(err, checkF(n)); err != nil {
		return 0, err
	}
	return n * math.Sqrt(factor), nil
}

// ImageSize is the size in mm on the paper of something size mm large at a
// distance in mm: size·m. Published: OpenStax College Physics ch. 25.
func ImageSize(focal, subject, size float64) (float64, error) {
	m, err := Magnification(focal, subject)
	if err := firstError(err, within("size of the subject", size, 0, maxLengthMM, "mm")); err != nil {
		return 0, err
	}
	return size * m, nil
}

// FarDistance is the distance at which something of a size becomes an image of
// a size: F·G/I, all in one unit. Published: NAVEDTRA 14209. It is the field
// photographer's short form and leaves one focal length out: the exact distance
// from the lens is SubjectDistance at m = I/G. It is kept because manuals print
// worked examples with it; no called-for value uses it.
func FarDistance(focal, subjectSize, imageSize float64) (float64, error) {
	if err := firstError(checkFocal(focal), above("size of the subject", subjectSize, 0, maxLengthMM, ""),
		above("size of the image", imageSize, 0, maxLengthMM, "")); err != nil {
		return 0, err
	}
	d := focal * subjectSize / imageSize
	return d, within("distance", d, 0, maxLengthMM*1e3, "")
}

// FarFocal is the focal length that makes an image of a size from a distance:
// I·A/G, the same short form as FarDistance. Published: NAVEDTRA 14209.
func FarFocal(imageSize, distance, subjectSize float64) (float64, error) {
	if err := firstError(above("size of the image", imageSize, 0, maxLengthMM, ""), above("distance", distance, 0, maxLengthMM, ""),
		above("size of the subject", subjectSize, 0, maxLengthMM, "")); err != nil {
		return 0, err
	}
	f := imageSize * distance / subjectSize
	return f, within("focal length", f, 0, maxLengthMM, "")
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
