package report

import (
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"time"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// hand is what one camera's exposures tell of the hand at the cap.
type hand struct {
	presses []calc.CapPress
	same    int
}

// press keeps an exposure of which plan and measured time are both written. A time just as planned was most likely not
// measured.
func press(snap *snapshot.Snapshot, e events.Entry, hands map[string]*hand) error {
	p, same, ok := calledfor.PressOf(e)
	if !ok {
		return nil
	}
	camera, session := events.CarriedOf(e.Data).Camera, events.PlacesOf(e.Data).Session
	if camera == "" && session != "" {
		s, err := wording.IgnoreMissing(snap.Session(session))
		if err != nil {
			return err
		}
		if s != nil && s.Opened != nil {
			camera = s.Opened.Camera
		}
	}
	if camera == "" {
		return nil
	}
	if hands[camera] == nil {
		hands[camera] = &hand{}
	}
	if same {
		hands[camera].same++
	} else {
		hands[camera].presses = append(hands[camera].presses, p)
	}
	return nil
}

// calibrateCaps fits bias and scatter of the hand at each camera's cap.
func calibrateCaps(snap *snapshot.Snapshot, hands map[string]*hand, now time.Time) ([]CapCalibration, error) {
	out := []CapCalibration{}
	for _, name := range slices.Sorted(maps.Keys(hands)) {
		h := hands[name]
		c := CapCalibration{Camera: name, Presses: len(h.presses), Same: h.same, InForceSD: calc.CapSDS}
		cam, err := wording.IgnoreMissing(snap.Camera(name))
		if err != nil {
			return nil, err
		}
		if cam != nil {
			if m := cam.At(now); m != nil {
				c.InForceSD, c.InForceS, c.InForceShare = snapshot.ValueOr(m.CapSDS, calc.CapSDS), snapshot.ValueOr(m.CapBiasS, 0), snapshot.ValueOr(m.CapShare, 0)
			}
		}
		fit, err := calc.FitCap(h.presses)
		var few *calc.TooFewError
		switch {
		case errors.As(err, &few):
			c.Text = fmt.Sprintf("too few exposures with a plan and a time measured against it: %d; at least %d are needed", few.Have, few.Need)
			if h.same > 0 {
				were := "was"
				if h.same > 1 {
					were = "were"
				}
				c.Text += fmt.Sprintf(" (%d more %s written just as planned, so perhaps not measured)", h.same, were)
			}
		case err != nil:
			return nil, err
		default:
			c.BiasS, c.SDS, c.Share, c.Presses, c.Slips = new(rangeOf(fit.BiasS)), new(rangeOf(fit.ConstS)), new(rangeOf(fit.Share)), fit.N, fit.Slips
			c.Text = fmt.Sprintf("%s s on the average (%s to %s in %.0f of 100 cases); one exposure scatters by %s s (%s to %s) and by %s of its time (%s to %s); %s timed",
				signed(fit.BiasS.Mean), signed(fit.BiasS.Low), signed(fit.BiasS.High), 100*calc.FitConfidence,
				wording.Number(round2(fit.ConstS.Mean)), wording.Number(round2(fit.ConstS.Low)), wording.Number(round2(fit.ConstS.High)),
				wording.Percent(fit.Share.Mean), wording.Percent(fit.Share.Low), wording.Percent(fit.Share.High),
				wording.CountOf(fit.N, "exposure"))
			if fit.Slips > 0 {
				c.Text += ", " + wording.CountOf(fit.Slips, "slip") + " left out"
			}
			share := c.InForceShare > 0 || fit.Share.Low > shareTold
			if !between(*c.SDS, c.InForceSD) || !between(*c.BiasS, c.InForceS) || share && !between(*c.Share, c.InForceShare) {
				c.Command = fmt.Sprintf("traybook camera describe %s --cap-sd %ss --cap-bias %ss", name, plainNumber(fit.ConstS.Mean), plainNumber(fit.BiasS.Mean))
				if share {
					c.Command += fmt.Sprintf(" --cap-share %.0f%%", 100*fit.Share.Mean)
				}
				c.Note = &events.NoteWrittenData{About: name, Text: "the cap: " + c.Text}
			}
		}
		out = append(out, c)
	}
	return out, nil
}

// shareTold is the share of the time from which a hand's scatter makes a called-for time less sure than it is told at best.
// Derived: twice of it is half of that, which widens the whole by an eighth.
const shareTold = calc.CalledForLeast / 4 * math.Ln2

func between(r Range, v float64) bool { return v >= r.Low && v <= r.High }

func round2(v float64) float64 { return math.Round(v*100) / 100 }

// plainNumber writes a figure to two places as a command line takes it.
func plainNumber(v float64) string { return fmt.Sprintf("%.2f", v) }

func signed(v float64) string {
	v = round2(v)
	if v > 0 {
		return "+" + wording.Number(v)
	}
	return wording.Number(v)
}

// fitDevelopment fits how the time to maximum black, or to the first image, grows with the share of its capacity that a
// developer has seen.
func fitDevelopment(g *gathered) ([]DevelopmentCalibration, error) {
	out := []DevelopmentCalibration{}
	for _, key := range slices.Sorted(maps.Keys(g.blacks)) {
		b := g.blacks[key]
		c := DevelopmentCalibration{Developer: b.developer, From: b.from, Times: len(b.times), InUse: calc.DeveloperGrowth(1) - 1, Evidence: b.evidence}
		fit, err := calc.FitBlack(b.times)
		var few *calc.TooFewError
		var off *calc.RangeError
		switch {
		case errors.As(err, &few):
			c.Text = fmt.Sprintf("%s in %s: too few times: %d; at least %d are needed at ages a tenth of the capacity apart", c.From, c.Developer, c.Times, calc.BlackStripsLeast)
		case errors.As(err, &off):
			c.Text = fmt.Sprintf("%s in %s: cannot be fitted: %s", c.From, c.Developer, off.Error())
		case err != nil:
			return nil, err
		default:
			c.FreshS, c.Growth = &fit.FreshS, new(rangeOf(fit.Growth))
			c.Text = fmt.Sprintf("%s in %s after %s in a fresh bath at 20 °C, %s more by the end of its capacity (%s to %s, %s); %s is calculated with",
				c.From, c.Developer, wording.Seconds(fit.FreshS), wording.Percent(fit.Growth.Mean), wording.Percent(fit.Growth.Low), wording.Percent(fit.Growth.High),
				wording.CountOf(c.Times, "time"), wording.Percent(c.InUse))
		}
		out = append(out, c)
	}
	return out, nil
}

// fitPreFlash is the middle of what the pre-flash strips tell, in stops.
func fitPreFlash(b *snapshot.Box, now time.Time, strips []*calledfor.Strip) *PreFlashCalibration {
	if len(strips) == 0 {
		return nil
	}
	c := &PreFlashCalibration{Strips: len(strips), Evidence: []string{}}
	sum, low := 0.0, math.Inf(1)
	for _, s := range strips {
		t, l, h, _ := s.Threshold()
		sum += math.Log(t)
		low, c.HighS = min(low, l), max(c.HighS, h)
		c.Evidence = append(c.Evidence, s.Reads[len(s.Reads)-1].ID.String())
	}
	c.ThresholdS, c.LowS = math.Exp(sum/float64(len(strips))), low
	if t := b.PaperFor(now, snapshot.Negative, "", "").ThresholdS; t > 0 {
		c.InForceS = &t
		c.LeaveIt = math.Abs(math.Log2(c.ThresholdS/t)) < calc.LeaveItStops
	}
	c.Text = fmt.Sprintf("the threshold shows after a pre-flash of %s (between %s and %s, %s)", wording.Seconds(c.ThresholdS), wording.Seconds(c.LowS), wording.Seconds(c.HighS), wording.CountOf(c.Strips, "strip"))
	if c.InForceS != nil {
		c.Text += fmt.Sprintf("; in force %s", wording.Seconds(*c.InForceS))
	}
	return c
}
