package calc

import (
	"math"
	"slices"
)

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

// Hand is how what a hand gives scatters about the time that it means: by a share of
// the time, as a count drifts, and by a constant in seconds, as a cap comes off and
// on. Both are standard deviations and independent.
type Hand struct{ Share, ConstS float64 }

// UsualHandShare and UsualHandS are a hand of which nothing is measured. Common
// practice.
const (
	UsualHandShare = 0.04
	UsualHandS     = 0.12
)

// SDS is the scatter of a time, in seconds; Stops the same in stops.
func (h Hand) SDS(timeS float64) float64 { return math.Hypot(h.Share*timeS, h.ConstS) }

// Stops is the scatter of a time in stops.
func (h Hand) Stops(timeS float64) float64 { return h.SDS(timeS) / timeS / math.Ln2 }

// CapFit is the hand at the cap.
type CapFit struct {
	// N is the number of presses; Slips how many more were taken for slips of
	// another sort, which tell nothing of the hand.
	N, Slips int
	// BiasS is the mean of lasted − meant, seconds: + for too long.
	BiasS Interval
	// Share and ConstS are the scatter of one press: the share of its time, and
	// seconds.
	Share, ConstS Interval
}

// AboutPlan is the scatter about the time that was meant: what the hand is off by on
// the average is part of it.
func (f CapFit) AboutPlan() Hand { return Hand{f.Share.Mean, math.Hypot(f.ConstS.Mean, f.BiasS.Mean)} }

// A hand is looked for between these, in steps of half an octave. Before anything is
// measured it lies about the usual one, within handPriorSD as a natural logarithm, and its
// bias within handBiasSD seconds of none; one press in handSlips is a slip of any size,
// capSlipSD stops wide. Our own model.
const (
	handShareLeast, handConstLeast, handSteps = 0.005, 0.015, 12
	handPriorSD                               = 0.6
	handBiasSD                                = 1.0
	handSlips                                 = 13
	capSlipSD                                 = 1.2
)

// FitCap reads bias and scatter of the hand from measured presses: the likeliest share
// and constant with what is known of hands before, summed over a grid, with bounds at
// FitConfidence. Presses at one time alone hardly part the share from the constant, and
// the bounds say so. Our own model. Under five presses that are no slips a
// *TooFewError; times more than 0 up to a day.
func FitCap(presses []CapPress) (CapFit, error) {
	pressed := make([]pressed, 0, len(presses))
	offs := make([]float64, 0, len(presses))
	for _, p := range presses {
		if err := firstError(
			above("time meant", p.MeantS, 0, 86400, "s"),
			above("time it lasted", p.LastedS, 0, 86400, "s"),
		); err != nil {
			return CapFit{}, err
		}
		pressed, offs = append(pressed, p.weighed()), append(offs, p.LastedS-p.MeantS)
	}
	if len(presses) < CapPressesLeast {
		return CapFit{}, &TooFewError{"timed presses of the cap", len(presses), CapPressesLeast}
	}
	slices.Sort(offs)
	start := (offs[(len(offs)-1)/2] + offs[len(offs)/2]) / 2
	var shares, consts, ofShare, ofConst [handSteps]float64
	for i := range shares {
		shares[i], consts[i] = handShareLeast*math.Exp2(float64(i)/2), handConstLeast*math.Exp2(float64(i)/2)
	}
	var at [handSteps * handSteps]handAt
	most := math.Inf(-1)
	for k := range at {
		at[k] = Hand{shares[k/handSteps], consts[k%handSteps]}.fits(pressed, start)
		most = math.Max(most, at[k].log)
	}
	all, bias, spread := 0.0, 0.0, 0.0
	for k := range at {
		at[k].log = math.Exp(at[k].log - most)
		all += at[k].log
	}
	slips := make([]float64, len(pressed))
	for k, h := range at {
		w := h.log / all
		ofShare[k/handSteps] += w
		ofConst[k%handSteps] += w
		bias += w * h.bias
		if w > 1e-4 {
			for i, p := range pressed {
				fit, _ := p.likely(Hand{shares[k/handSteps], consts[k%handSteps]}, h.bias)
				slips[i] += w * p.slip / (fit + p.slip)
			}
		}
	}
	for _, h := range at {
		spread += h.log / all * (h.biasVar + (h.bias-bias)*(h.bias-bias))
	}
	out := CapFit{Share: handInterval(shares, ofShare), ConstS: handInterval(consts, ofConst)}
	for _, s := range slips {
		if s > 0.5 {
			out.Slips++
		}
	}
	if out.N = len(presses) - out.Slips; out.N < CapPressesLeast {
		return CapFit{}, &TooFewError{"timed presses of the cap", out.N, CapPressesLeast}
	}
	half := fitZ * math.Sqrt(spread)
	out.BiasS = Interval{bias, bias - half, bias + half}
	return out, nil
}

// handAt is how one hand fits presses: the logarithm of its likelihood and prior, and the
// bias that fits it best, with its variance.
type handAt struct{ log, bias, biasVar float64 }

// pressed is a press as the fit weighs it: what it is off by and its time squared, and how
// likely it is as a slip.
type pressed struct{ off, meant2, slip float64 }

func (p CapPress) weighed() pressed {
	z := math.Log2(p.LastedS/p.MeantS) / capSlipSD
	return pressed{p.LastedS - p.MeantS, p.MeantS * p.MeantS, math.Exp(-z*z/2) / (handSlips * capSlipSD * p.LastedS * math.Ln2)}
}

// likely is how likely a press is for a hand, and the variance that the hand gives it.
func (p pressed) likely(h Hand, bias float64) (fit, variance float64) {
	variance = h.Share*h.Share*p.meant2 + h.ConstS*h.ConstS
	d := p.off - bias
	return (1 - 1./handSlips) * math.Exp(-d*d/(2*variance)) / math.Sqrt(variance), variance
}

// fits weighs a hand, beginning from a bias.
func (h Hand) fits(presses []pressed, bias float64) handAt {
	const rounds = 2
	out := handAt{bias: bias}
	for range rounds {
		sum, weight := 0.0, 1/(handBiasSD*handBiasSD)
		for _, p := range presses {
			fit, variance := p.likely(h, out.bias)
			w := fit / (fit + p.slip) / variance
			sum, weight = sum+w*p.off, weight+w
		}
		out.bias, out.biasVar = sum/weight, 1/weight
	}
	near := func(v, usual float64) float64 { z := math.Log(v/usual) / handPriorSD; return -z * z / 2 }
	z := out.bias / handBiasSD
	out.log = near(h.Share, UsualHandShare) + near(h.ConstS, UsualHandS) + math.Log(out.biasVar)/2 - z*z/2
	for _, p := range presses {
		fit, _ := p.likely(h, out.bias)
		out.log += math.Log(fit + p.slip)
	}
	return out
}

// handInterval reads mean and bounds from weights over a geometric grid. A weight stands
// for the half step to either side.
func handInterval(at, weights [handSteps]float64) Interval {
	mean := 0.0
	for i, w := range weights {
		mean += w * math.Log(at[i])
	}
	bound := func(share float64) float64 {
		sum := 0.0
		for i, w := range weights {
			if sum+w >= share && w > 0 {
				return at[i] * math.Exp2(((share-sum)/w-0.5)/2)
			}
			sum += w
		}
		return at[handSteps-1]
	}
	const tail = (1 - FitConfidence) / 2
	return Interval{math.Exp(mean), bound(tail), bound(1 - tail)}
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
