package calc

import "math"

// Reciprocity1900 is the exponent p that Schwarzschild gave for plates in 1900.
// Published. No figure for modern printing paper was found; a box that has been
// measured says better.
const Reciprocity1900 = 0.86

func checkP(p float64) error { return within("reciprocity exponent", p, 0.4, 1, "") }

// Reciprocity is the time in seconds that has to be given where the light asks
// for timeS: t^(1/p) above 1 s, t itself up to 1 s; p = 1 changes nothing.
// Published: Schwarzschild 1900; film leaflets write the same law as t^P with
// P = 1/p. p is between 0.4 and 1; a p outside or a time not more than 0 is a
// *RangeError, and so is a time that grows beyond 1e9 s.
func Reciprocity(timeS, p float64) (float64, error) {
	if err := firstError(checkTime(timeS), checkP(p)); err != nil {
		return 0, err
	}
	if timeS <= 1 || p == 1 {
		return timeS, nil
	}
	t := math.Pow(timeS, 1/p)
	return t, within("time after reciprocity", t, minTimeS, maxTimeS, "s")
}

// ReciprocityInverse is the time in seconds that a given time counts for:
// t^p above 1 s, t up to 1 s. It undoes Reciprocity.
func ReciprocityInverse(givenS, p float64) (float64, error) {
	if err := firstError(checkTime(givenS), checkP(p)); err != nil {
		return 0, err
	}
	if givenS <= 1 || p == 1 {
		return givenS, nil
	}
	return math.Pow(givenS, p), nil
}

// AddedTime is what another law for long exposures adds to timeS, in seconds:
// a·t^e. Published: a worked example with e = 1.618 and a = 0.045 for one film
// (16 s ask for 20 s). It is here to read tables written so; called-for times
// use Reciprocity, which needs one number that a book can learn. A factor below
// 0, an exponent outside 1 to 3 or a time not more than 0 is a *RangeError.
func AddedTime(timeS, factor, exponent float64) (float64, error) {
	if err := firstError(within("time", timeS, minTimeS, 1e6, "s"), within("factor of added time", factor, 0, 100, ""),
		within("exponent of added time", exponent, 1, 3, "")); err != nil {
		return 0, err
	}
	return factor * math.Pow(timeS, exponent), nil
}

// AddedTimeFactor is the factor a of AddedTime that turns timeS into
// correctedS: (tc − t)/t^e.
func AddedTimeFactor(timeS, correctedS, exponent float64) (float64, error) {
	if err := firstError(within("time", timeS, minTimeS, 1e6, "s"), within("corrected time", correctedS, timeS, maxTimeS, "s"),
		within("exponent of added time", exponent, 1, 3, "")); err != nil {
		return 0, err
	}
	return (correctedS - timeS) / math.Pow(timeS, exponent), nil
}
