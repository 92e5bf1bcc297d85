package export

import (
	"math"

	"traybook/calc"
	"traybook/events"
	"traybook/projections"
)

// sheetTones are the densities that a sheet's log predicts, from the lightest tone of the scene to the darkest, as it
// was made and as it was called for. They are a prediction: no eye and no scanner has seen them.
type sheetTones struct {
	zones           []float64 // stops from the mid-tone
	made, calledFor []float64
}

// predict reckons the tones of every sheet of a picture from its log. A sheet of which the log says too little, or
// whose numbers lie outside the model, has none.
func predict(d *projections.Desk, p *projections.Picture) (map[string]*sheetTones, error) {
	out := map[string]*sheetTones{}
	n := p.NegativeSheet()
	if n == nil {
		return out, nil
	}
	neg, _, ok, err := modelOf(d, p, n, calc.CameraFlare)
	if err != nil || !ok {
		return out, err
	}
	plain := calc.TwoGenerations{Neg: neg, Print: calc.NewSheet(neg.Curve, calc.CopyFlare)}
	ideal := plain
	ideal.Neg = neg.AsCalledFor()
	out[n.Name] = tonesOf(plain, ideal, false)
	for _, s := range p.Sheets {
		if s.Generation != projections.Positive {
			continue
		}
		print, step, ok, err := modelOf(d, p, s, calc.CopyFlare)
		if err != nil {
			return nil, err
		}
		if !ok {
			continue
		}
		g := calc.TwoGenerations{Neg: neg, Print: print, CopyMeteredMid: meteredMid(step)}
		i := calc.TwoGenerations{Neg: neg.AsCalledFor(), Print: print.AsCalledFor(), CopyMeteredMid: g.CopyMeteredMid}
		out[s.Name] = tonesOf(g, i, true)
	}
	return out, nil
}

// meteredMid says that a print's exposure followed a reading of the mid-tone on its own negative.
func meteredMid(s projections.Step) bool {
	if s.Serving == nil {
		return false
	}
	r, ok := s.Serving.Data.(*events.LightMeteredData)
	return ok && r.On == "negative" && (r.Of == "" || r.Of == "mid" || r.Of == "average")
}

// modelOf is one sheet as the arithmetic sees it. ok is false where the log says too little: no called-for exposure, or
// a development of which no time can be called for.
func modelOf(d *projections.Desk, p *projections.Picture, s *projections.Sheet, flare float64) (m calc.SheetModel, step projections.Step, ok bool, err error) {
	e := s.Exposure()
	if e == nil {
		return m, step, false, nil
	}
	if step, err = d.Step(p, *e); err != nil || step.Paper == nil || step.DeviationStops == nil {
		return m, step, false, err
	}
	paper := *step.Paper
	curve, err := paper.Curve()
	if err != nil {
		return m, step, false, nil
	}
	m = calc.NewSheet(curve, flare)
	m.ExposureStops = *step.DeviationStops
	m.FlashShare = paper.FlashShareOf(e.Data)
	if n := len(s.Developed); n > 0 {
		dev, err := d.Step(p, s.Developed[0])
		if err != nil {
			return m, step, false, err
		}
		if dev.CalledForS == nil || dev.DoneS == nil || *dev.CalledForS <= 0 {
			return m, step, false, nil
		}
		m.DevRatio = *dev.DoneS / *dev.CalledForS
	}
	return m, step, m.Check() == nil, nil
}

func tonesOf(made, ideal calc.TwoGenerations, positive bool) *sheetTones {
	t := &sheetTones{}
	m, i := made.Tones(), ideal.Tones()
	for k := range m.Zones {
		a, b := m.Zones[k].Negative, i.Zones[k].Negative
		if positive {
			a, b = m.Zones[k].Print, i.Zones[k].Print
		}
		if math.IsNaN(a) || math.IsNaN(b) {
			return nil
		}
		t.zones = append(t.zones, m.Zones[k].Zone)
		t.made, t.calledFor = append(t.made, a), append(t.calledFor, b)
	}
	return t
}
