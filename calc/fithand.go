package calc

import "math"

// Least numbers for the fits of hand and bath.
const (
	// CapPressesLeast is the number of timed exposures under which nothing is said
	// of the cap. Our own choice.
	CapPressesLeast = 5
	// BlackStripsLeast is the number of times to maximum black under which nothing is
	// said of their growth. Our own choice.
	BlackStripsLeast = 4
)

// CapPress is one exposure by hand: the time meant and the time it lasted,
// seconds.
type CapPress struct{ MeantS, LastedS float64 }

// CapFit is the hand at the cap.
type CapFit struct {
	// N is the number of presses.
	N int
	// BiasS is the mean of lasted − meant, seconds: + for too long; BiasLowS and
	// BiasHighS its bounds.
	BiasS, BiasLowS, BiasHighS float64
	// SDS is the scatter of one press, seconds; SDLowS and SDHighS its bounds.
	SDS, SDLowS, SDHighS float64
}

// FitCap reads bias and scatter of the cap from measured presses: mean and
// standard deviation (n − 1), with approximate bounds at FitConfidence (normal
// for the mean with Student's widening to first order, log-normal for the
// scatter). Published statistics. Under five presses a *TooFewError; times more
// than 0 up to a day.
func FitCap(presses []CapPress) (CapFit, error) {
	n := len(presses)
	if n < CapPressesLeast {
		return CapFit{}, &TooFewError{"timed presses of the cap", n, CapPressesLeast}
	}
	mean := 0.0
	for _, p := range presses {
		if err := firstError(
			above("time meant", p.MeantS, 0, 86400, "s"),
			above("time it lasted", p.LastedS, 0, 86400, "s"),
		); err != nil {
			return CapFit{}, err
		}
		mean += (p.LastedS - p.MeantS) / float64(n)
	}
	sum := 0.0
	for _, p := range presses {
		d := p.LastedS - p.MeantS - mean
		sum += d * d
	}
	dof := float64(n - 1)
	sd := math.Sqrt(sum / dof)
	half := fitStudent(dof) * sd / math.Sqrt(float64(n))
	spread := math.Exp(fitZ / math.Sqrt(2*dof))
	return CapFit{N: n, BiasS: mean, BiasLowS: mean - half, BiasHighS: mean + half,
		SDS: sd, SDLowS: sd / spread, SDHighS: sd * spread}, nil
}

// fitZ is the normal bound at FitConfidence.
const fitZ = 1.959963984540054

// fitStudent is Student's bound at FitConfidence, by the Cornish–Fisher series.
// Published: Abramowitz and Stegun 26.7.5; good to 3 % from 2 degrees of
// freedom on.
func fitStudent(dof float64) float64 {
	z := fitZ
	z3, z5, z7 := z*z*z, z*z*z*z*z, z*z*z*z*z*z*z
	return z + (z3+z)/(4*dof) + (5*z5+16*z3+3*z)/(96*dof*dof) + (3*z7+19*z5+17*z3-15*z)/(384*dof*dof*dof)
}

// BlackTime is one measured time to maximum black, seconds at the bath's nominal
// temperature, in a developer that had seen a share of its capacity.
type BlackTime struct{ UsedShare, TimeS float64 }

// BlackFit is how the time to maximum black grows with the area developed.
type BlackFit struct {
	// N is the number of times.
	N int
	// FreshS is the time in a fresh bath; Growth what the whole capacity adds, as
	// a share of it: time = FreshS·(1 + Growth·used).
	FreshS float64
	Growth Interval
}

// FitBlack fits the growth of the time to maximum black to measured times: a least
// squares line, bounds at FitConfidence, the growth never under 0. Our own
// model, see DevelopTime. Under four times, or where their shares of capacity
// (0 to 10) do not reach 0.1 apart, a *TooFewError. Times more than 0 up to a
// day.
func FitBlack(times []BlackTime) (BlackFit, error) {
	n := len(times)
	if n < BlackStripsLeast {
		return BlackFit{}, &TooFewError{"times to maximum black", n, BlackStripsLeast}
	}
	var mu, mt float64
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, b := range times {
		if err := firstError(
			within("used share of the developer", b.UsedShare, 0, 10, ""),
			above("time to maximum black", b.TimeS, 0, 86400, "s"),
		); err != nil {
			return BlackFit{}, err
		}
		mu += b.UsedShare / float64(n)
		mt += b.TimeS / float64(n)
		lo, hi = math.Min(lo, b.UsedShare), math.Max(hi, b.UsedShare)
	}
	if hi-lo < 0.1 {
		return BlackFit{}, &TooFewError{"times to maximum black at different ages of the bath", 1, 2}
	}
	var suu, sut float64
	for _, b := range times {
		suu += (b.UsedShare - mu) * (b.UsedShare - mu)
		sut += (b.UsedShare - mu) * (b.TimeS - mt)
	}
	slope := sut / suu
	fresh := mt - slope*mu
	if err := within("time to maximum black in a fresh bath, as fitted", fresh, 0.01, 86400, "s"); err != nil {
		return BlackFit{}, err
	}
	sum := 0.0
	for _, b := range times {
		r := b.TimeS - fresh - slope*b.UsedShare
		sum += r * r
	}
	dof := float64(n - 2)
	half := fitStudent(dof) * math.Sqrt(sum/dof/suu)
	bound := func(s float64) float64 { return math.Max(0, s/fresh) }
	return BlackFit{N: n, FreshS: fresh, Growth: Interval{bound(slope), bound(slope - half), bound(slope + half)}}, nil
}
