package scene

import (
	"math"
	"slices"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
)

// FactsOf reads from a book what was done to a sheet. ok is false where the log says too little to draw it: no called-for
// exposure, or no development yet.
func FactsOf(snap *snapshot.Snapshot, p *snapshot.Picture, s *snapshot.Sheet) (f Facts, ok bool, err error) {
	n := p.NegativeSheet()
	if n == nil || len(s.Developed) == 0 {
		return f, false, nil
	}
	f = Facts{Name: p.Entity.Name, Subject: p.Subject, Sitter: p.Sitter != "", Print: s.Generation == snapshot.Positive}
	tones, err := calledfor.TonesOf(snap, p)
	if err != nil {
		return f, false, err
	}
	t, ok := tones[s.Name]
	if !ok {
		return f, false, nil
	}
	f.Tones = t.Made
	f.Upright = f.Sitter && seedOf(f.Name)%3 != 0
	if err := f.inTheCamera(snap, n); err != nil {
		return f, false, err
	}
	f.onPaper(n, s)
	return f, true, nil
}

// inTheCamera finds what happened while the negative was exposed: the rail set for another distance, a subject that did
// not keep still, a second exposure, light that came in.
func (f *Facts) inTheCamera(snap *snapshot.Snapshot, n *snapshot.Sheet) error {
	e := n.Exposure()
	x, ok := e.Data.(*events.SheetExposedData)
	if !ok {
		return nil
	}
	f.Double = len(n.Exposures) > 1
	f.Clouds = x.Filter != ""
	side := 120.0
	if b, err := snap.Box(x.Box); err == nil && b.Received != nil {
		side = math.Max(b.Received.WidthMM, b.Received.HeightMM)
	}
	if x.Camera != "" && x.SubjectMM != nil {
		c, err := snap.Camera(x.Camera)
		if err != nil {
			return err
		}
		if lens := c.At(e.At); lens != nil {
			focused := *x.SubjectMM
			if x.FocusedMM != nil {
				focused = *x.FocusedMM
			}
			if mm, err := calc.FocusBlur(lens.FocalMM, x.F, focused, *x.SubjectMM); err == nil {
				f.Blur = math.Min(mm/side, 0.05)
			}
			if m, err := calc.Magnification(lens.FocalMM, *x.SubjectMM); err == nil {
				f.Motion = motionOf(x, m) / side
			}
		}
	}
	f.Motion = math.Min(f.Motion, 0.1)
	for _, s := range symptomsOf(n) {
		switch s {
		case "edge-fog":
			f.OneSide = 20
		case "out-of-focus", "soft", "part-soft":
			f.Blur = math.Max(f.Blur, 0.008)
		case "subject-moved":
			f.Motion = math.Max(f.Motion, 0.03)
		case "camera-shake":
			f.Shake = 0.012
		case "double-image":
			f.Double = true
		}
	}
	return nil
}

func motionOf(x *events.SheetExposedData, m float64) float64 {
	if x.MotionMMS != nil {
		return *x.MotionMMS * m * x.TimeS
	}
	mm, err := calc.MotionBlur(x.Motion, m, x.TimeS)
	if err != nil {
		return 0
	}
	return mm
}

// onPaper finds what no tone model shows, from what the eye saw.
func (f *Facts) onPaper(n, s *snapshot.Sheet) {
	for _, x := range symptomsOf(s) {
		switch x {
		case "milky":
			f.Milky = 1
		case "yellow-stain", "brown-stain", "purple-stain":
			f.Stain = 1
		case "mottled", "streaks-light", "streaks-dark":
			f.Mottled = 1
		}
	}
	if slices.Contains(symptomsOf(n), "mottled") {
		f.Mottled = 1
	}
}

func symptomsOf(s *snapshot.Sheet) []string {
	if v := s.Verdict(); v != nil {
		return v.Symptoms
	}
	return nil
}
