package projections

import (
	"math"

	"traybook/calc"
)

// model puts what the log says of a sheet into the model of it: its exposure with every further one, light that changed
// since the reading, flash, the age of the paper, development. made is the sheet as it was made, ideal the same with every
// slip undone. Whoever tells a sheet's tones, a diagnosis, a page or a drawn picture, runs this.
func (l *sheetLog) model(flare float64) error {
	if l.paper.Index == 0 {
		l.paper.Index = 3 // only the shape of the curve counts here
	}
	curve, err := l.paper.Curve()
	if err != nil {
		if curve, err = calc.NewCurve(10./3, calc.DefaultISORange, calc.DefaultDmin, calc.DefaultDmaxGlossy); err != nil {
			return err
		}
	}
	l.made = calc.NewSheet(curve, flare)
	l.made.FlashShare = l.x.flash
	l.made.ExposureStops = orF(l.step.DeviationStops, 0) + l.againStops() + l.light.stops + l.aged.stops
	l.made.FogDensity = l.aged.fog
	if l.x.flare != nil {
		l.made.Flare = *l.x.flare
	}
	if l.dev != nil {
		l.made.DevRatio = math.Exp2(l.dev.total)
	}
	l.ideal = l.made.AsCalledFor()
	return nil
}

// againStops is what further exposures on the same sheet added to the first, in stops.
func (l *sheetLog) againStops() float64 {
	if len(l.sheet.Exposures) < 2 || l.x.again <= 0 || l.x.timeS <= 0 {
		return 0
	}
	return math.Log2((l.x.timeS + l.x.again) / l.x.timeS)
}

// tells says whether the log says enough to predict the sheet's tones: a called-for exposure, and a time that its
// development was held against where there was one.
func (l *sheetLog) tells() bool {
	return l.step.DeviationStops != nil && (len(l.sheet.Developed) == 0 || l.dev != nil) && l.made.Check() == nil
}

// twoGenerations are a negative and a sheet that was printed from it, ready to be run; of a negative both are the same.
func (l *sheetLog) twoGenerations(neg, sheet calc.SheetModel) calc.TwoGenerations {
	g := calc.TwoGenerations{Neg: neg, Print: sheet, CopyMeteredMid: l.metered && !l.lightest}
	if l.lightest { // clear base was to be just full black: it serves as a mid-tone that much denser would
		g.Planned = neg.Negative(calc.FirstZone) + math.Log10(sheet.Curve.Hs()/sheet.Curve.Hm)
	}
	return g
}

// SheetTones is what the log of one sheet predicts of its tones. They are a prediction: no eye and no scanner has seen
// them.
type SheetTones struct {
	Made, CalledFor calc.TwoGenerations // as it was made, and with every slip undone
	Positive        bool                // the print of the two is the sheet, else the negative
}

// TonesOf gives the tones of every sheet of a picture of whose making the log says enough, by the sheet's name.
func TonesOf(d *Desk, p *Picture) (map[string]SheetTones, error) {
	out := map[string]SheetTones{}
	n := p.NegativeSheet()
	if n == nil {
		return out, nil
	}
	neg, err := d.sheetLogOf(p, n)
	if err != nil || !neg.tells() {
		return out, err
	}
	for _, s := range p.Sheets {
		l, positive := neg, s != n
		if positive {
			if l, err = d.sheetLogOf(p, s); err != nil {
				return nil, err
			}
		}
		if !l.tells() {
			continue
		}
		t := SheetTones{Made: l.twoGenerations(neg.made, l.made), CalledFor: l.twoGenerations(neg.ideal, l.ideal), Positive: positive}
		if _, made, called := t.Densities(); number(made) && number(called) {
			out[s.Name] = t
		}
	}
	return out, nil
}

// Densities are the densities of a sheet's tones, base included, from four stops below the mid-tone to four above, as it
// was made and as it was called for; stops says where each tone lies.
func (t SheetTones) Densities() (stops, made, calledFor []float64) {
	m, c := t.Made.Tones(), t.CalledFor.Tones()
	for i := range m.Zones {
		stops = append(stops, m.Zones[i].Zone)
	}
	return stops, densities(&m, t.Positive), densities(&c, t.Positive)
}

// densities are those of a negative or of a print.
func densities(t *calc.Tones, positive bool) []float64 {
	out := make([]float64, len(t.Zones))
	for i, z := range t.Zones {
		out[i] = z.Negative
		if positive {
			out[i] = z.Print
		}
	}
	return out
}

func number(list []float64) bool {
	for _, v := range list {
		if math.IsNaN(v) {
			return false
		}
	}
	return true
}
