package examtest

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"traybook/projections/why"
)

// lasting is what a sheet shares with those about it: what an old paper, a leak or a range of tones does to it, from nothing to
// gross, and what happened to it alone and was not written.
type lasting struct {
	cause string           // under which the log shows it
	does  bool             // anything at all
	fog   map[byte]float64 // density without light
	slow  float64          // stops of speed lost
	minds float64          // how much steeper or flatter than it should be an eye minds, in density
	alone string           // a word that is said of it for a reason that nobody wrote
	ideal stock            // the paper that would have suited
}

// contrast is what the eye says of a sheet's contrast: by how far a stop either side of the mid-tone lie apart.
func (x lasting) contrast(s *shot, sheet byte, m made) []string {
	if x.alone != "" && sheet == 'n' {
		return []string{x.alone}
	}
	if x.minds == 0 || sheet != 'n' {
		return nil
	}
	apart := func(p stock) float64 { return p.density(2, 1, 0) - p.density(0.5, 1, 0) }
	switch by := apart(s.box.paper) - apart(x.ideal); {
	case by > x.minds:
		return []string{"contrasty"}
	case by < -x.minds:
		return []string{"flat"}
	}
	return nil
}

// newLasting makes three days of six pictures: in a camera that was found bad the day before, on old paper, on paper that is too
// hard or too soft by its box. Of each as often as not it does nothing, and one sheet fails alike for a reason of its own.
func newLasting(seed uint64) *season {
	d := dice{rand.New(rand.NewPCG(seed, 0x1a57))}
	se := &season{ph: photographer{share: d.between(0.04, 0.08), constS: d.between(0.1, 0.2), meter: d.between(0.1, 0.2), paper: 0.05, bath: 0.03, eye: 0.2}}
	years := d.between(1.2, 7) // past its date
	storage := math.Exp2((d.between(2, 36) - 20) / 10)
	date := begin.AddDate(0, 0, -int(365*years)).Format("2006-01-02")
	quay := &box{"quay-3", 3, stock{110, 1, 0.08, 2.0}, 0.1 * d.NormFloat64(), "rc", map[string]float64{"yellow": 8}, ""}
	old := &box{"wharf-9", 3, stock{110, 1, 0.08, 2.0}, 0, "rc", map[string]float64{"yellow": 8}, date}
	r := []float64{d.between(55, 80), d.between(160, 230)}[d.IntN(2)]
	hard := &box{"slip-1", 3, stock{r, 1, 0.08, 2.0}, 0.1 * d.NormFloat64(), "rc", map[string]float64{"yellow": 8}, ""}
	se.boxes = []*box{quay, old, hard}
	what := []string{"light", "sleeve", "bellows"}[d.IntN(3)]
	leaks, aged, minded := d.chance(0.5), d.chance(0.5), d.chance(0.5)
	size := 0.05 * math.Exp2(d.between(-1, 3))
	for i := range 3 * perDay {
		s := se.throw(d, i)
		s.faults, s.unseen, s.filter, s.factor, s.print, s.judgeN = nil, 0, "", 0, d.chance(0.4), true
		for k := range s.hide {
			s.hide[k] = s.hide[k] && k == "size"
		}
		s.box, s.other = se.boxes[i/perDay], nil
		x := lasting{fog: map[byte]float64{}}
		last := i%perDay == perDay-1
		switch i / perDay {
		case 0:
			x.cause, x.does = "light-leak", leaks
			for _, sheet := range []byte{'n', 'p'} {
				if leaks {
					x.fog[sheet] = math.Min(0.8, size*math.Exp(0.5*d.NormFloat64()))
				}
			}
		case 1:
			x.cause, x.does = "paper-expired", aged
			if aged {
				lost := 0.03 * (years - 1) * storage * math.Exp(0.2*d.NormFloat64())
				x.fog['n'], x.fog['p'], x.slow = math.Min(0.5, lost), math.Min(0.5, lost), math.Min(1.5, lost/0.03*0.2)
			}
		case 2:
			x.cause, x.does = map[bool]string{true: "paper-too-hard", false: "paper-too-soft"}[r < 100], minded
			x.ideal = stock{120, 1, 0.08, 2.0} // what an ordinary scene leaves behind the lens
			if minded {
				x.minds = d.between(0.05, 0.2)
			}
		}
		if last && !x.does {
			x.alone = "grey-fog"
			if x.cause != "light-leak" && x.cause != "paper-expired" {
				x.alone = map[bool]string{true: "contrasty", false: "flat"}[r < 100]
			}
		}
		s.shared = x
		se.shots = append(se.shots, s)
	}
	se.write(d)
	se.line(begin.Add(-time.Hour), "camera.checked", map[string]any{"camera": "ferry-box", "what": what, "result": "bad"})
	return se
}

// markLasting marks one picture's answer of what it shares with others.
func (sc *score) markLasting(se *season, s *shot, d why.Diagnosis, seed uint64) {
	neg, pos := se.ph.make(s, nil)
	n, p := se.ph.look(s, 'n', neg), se.ph.look(s, 'p', pos)
	failed := n.verdict != "keep" || s.print && p.verdict != "keep"
	if !failed {
		sc.good.add(len(d.Findings) > 0)
		return
	}
	told := slices.IndexFunc(d.Findings, func(f why.Finding) bool { return f.Cause == s.shared.cause })
	note := func(what string) {
		sc.confused[fmt.Sprintf("%s %s: %v", what, s.shared.cause, told)]++
		text := fmt.Sprintf("lasting %d %s: %s %s, fog %.2f %.2f", seed, s.name, what, s.shared.cause, neg.fog, pos.fog)
		for _, j := range d.Judged {
			text += fmt.Sprintf("\n    %s %s %v %v", j.Sheet[8:], j.Verdict, j.Symptoms, number(j.Stops))
		}
		for _, f := range append(d.Findings[:len(d.Findings):len(d.Findings)], d.Deviations...) {
			text += fmt.Sprintf("\n    %.2f %.2f %s %s: %s", f.Probability, f.Explains, f.Cause, f.Sheet[8:], f.Text)
		}
		sc.missed = append(sc.missed, text)
	}
	if !s.shared.does {
		sc.innocent.add(told >= 0)
		if told >= 0 {
			note("innocent")
		}
		return
	}
	shows := func(j judged) bool {
		return slices.Contains(j.symptoms, "grey-fog") || slices.Contains(j.symptoms, "contrasty") || slices.Contains(j.symptoms, "flat")
	}
	if shows(n) || s.print && shows(p) {
		sc.lasting.add(told == 0)
		if told != 0 {
			note("missed")
		}
	}
}
