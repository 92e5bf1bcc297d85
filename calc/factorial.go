package calc

// WatkinsFactor is a factor of development: the whole time in times of the first
// image.
type WatkinsFactor struct {
	Agent  string
	Factor float64
	Source string
}

// Sources of the published factors.
const (
	watkinsCyclopedia = "Cyclopedia of Photography, article on factors"
	watkinsModern     = "Modern Photography in Theory and Practice, ch. VII"
)

// WatkinsFactors are the published factors of the old developing agents, in the
// order of their sources. They served plates and bromide paper; paper for
// contact printing develops too fast for the method (Clerc s. 573).
func WatkinsFactors() []WatkinsFactor {
	return []WatkinsFactor{
		{"pyro", 6, watkinsCyclopedia},
		{"metol", 30, watkinsCyclopedia},
		{"glycine", 13, watkinsCyclopedia},
		{"edinol", 20, watkinsCyclopedia},
		{"amidol", 10, watkinsCyclopedia},
		{"pyro-metol", 9, watkinsCyclopedia},
		{"hydroquinone", 5.5, watkinsModern},
		{"metol", 28, watkinsModern},
		{"MQ", 13, watkinsModern},
		{"amidol 2gr/oz", 18, watkinsModern},
		{"pyro-metol", 9, watkinsModern},
	}
}

// FactorialTime is the whole time of development in seconds from the time of the
// first image (more than 0, up to an hour) and a factor (more than 1, up to
// 200). Published: Watkins's method.
func FactorialTime(firstImageS, factor float64) (float64, error) {
	if err := firstError(
		above("time of the first image", firstImageS, 0, 3600, "s"),
		above("factor of development", factor, 1, 200, ""),
	); err != nil {
		return 0, err
	}
	return firstImageS * factor, nil
}

// FactorFromTimes is the factor of development, called-for time over the time of
// the first image, both in seconds: the inverse of FactorialTime.
func FactorFromTimes(timeS, firstImageS float64) (float64, error) {
	if err := firstError(
		above("time of the first image", firstImageS, 0, 3600, "s"),
		above("time of development", timeS, 0, 86400, "s"),
	); err != nil {
		return 0, err
	}
	factor := timeS / firstImageS
	if err := above("factor of development", factor, 1, 200, ""); err != nil {
		return 0, err
	}
	return factor, nil
}

// MixedFactor is the factor of a developer mixed from parts of two: the mean of
// their factors weighed by the parts. Published: Cyclopedia of Photography,
// article on factors.
func MixedFactor(factor1, parts1, factor2, parts2 float64) (float64, error) {
	if err := firstError(
		above("first factor of development", factor1, 1, 200, ""),
		above("second factor of development", factor2, 1, 200, ""),
		within("parts of the first developer", parts1, 0, 1e6, ""),
		within("parts of the second developer", parts2, 0, 1e6, ""),
		within("parts of both developers", parts1+parts2, 1e-6, 2e6, ""),
	); err != nil {
		return 0, err
	}
	return (factor1*parts1 + factor2*parts2) / (parts1 + parts2), nil
}

// EarlyImageShare is the share of the usual time of the first image under which
// an image comes so early that the sheet was over-exposed. Published: US Army
// subcourse SS0509 p. 45.
const EarlyImageShare = 1.0 / 3

// EarlyImage is true where a first image after firstS seconds, the usual being
// usualS, points to over-exposure. A sheet then pulled early by inspection
// accuses the exposure, not the development.
func EarlyImage(firstS, usualS float64) bool {
	return firstS > 0 && usualS > 0 && firstS < EarlyImageShare*usualS
}
