package calledfor

import (
	"math"

	"traybook/calc"
	"traybook/projections/snapshot"
)

// model puts what the log says of a sheet into the model of it: its exposure with every further one, light that changed
// since the reading, pre-flash, the age of the paper, development. made is the sheet as it was made, ideal the same with every
// slip undone. Whoever tells a sheet's tones, a diagnosis, a page or a drawn picture, runs this.
func (l *SheetLog) model(flare float64) error {
	if l.Paper.Index == 0 {
		l.Paper.Index = 3 // only the shape of the curve counts here
	}
	curve, err := l.Paper.Curve()
	if err != nil {
		if curve, err = calc.NewCurve(10./3, calc.DefaultISORange, calc.DefaultDmin, calc.DefaultDmaxGlossy); err != nil {
			return err
		}
	}
	l.Made = calc.NewSheet(curve, flare)
	l.Made.PreFlashShare = l.X.PreFlash
	l.Made.ExposureStops = snapshot.ValueOr(l.Step.DeviationStops, 0) + l.AgainStops() + l.Light.Stops + l.Aged.Stops
	l.Made.ExposureStops += curve.PreFlashStops(l.X.PreFlash) // the called-for exposure counts it
	l.Made.FogDensity = l.Aged.Fog
	if l.X.flare != nil {
		l.Made.Flare = *l.X.flare
	}
	if l.Dev != nil {
		l.Made.DevRatio = math.Exp2(l.Dev.Total)
	}
	l.Ideal = l.Made.AsCalledFor()
	return nil
}

// AgainStops is what further exposures on the same sheet added to the first, in stops.
func (l *SheetLog) AgainStops() float64 {
	if len(l.Sheet.Exposures) < 2 || l.X.again <= 0 || l.X.TimeS <= 0 {
		return 0
	}
	return math.Log2((l.X.TimeS + l.X.again) / l.X.TimeS)
}

// tells says whether the log says enough to predict the sheet's tones: a called-for exposure, and a time that its
// development was held against where there was one.
func (l *SheetLog) tells() bool {
	return l.Step.DeviationStops != nil && (len(l.Sheet.Developed) == 0 || l.Dev != nil) && l.Made.Check() == nil
}

// TwoGenerations are a negative and a sheet that was printed from it, ready to be run; of a negative both are the same.
func (l *SheetLog) TwoGenerations(neg, sheet calc.SheetModel) calc.TwoGenerations {
	g := calc.TwoGenerations{Neg: neg, Print: sheet, CopyMeteredMid: l.Metered && !l.lightest}
	if l.lightest { // clear base was to be just maximum black: it serves as a mid-tone that much denser would
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
func TonesOf(snap *snapshot.Snapshot, p *snapshot.Picture) (map[string]SheetTones, error) {
	out := map[string]SheetTones{}
	n := p.NegativeSheet()
	if n == nil {
		return out, nil
	}
	neg, err := SheetLogOf(snap, p, n)
	if err != nil || !neg.tells() {
		return out, err
	}
	for _, s := range p.Sheets {
		l, positive := neg, s != n
		if positive {
			if l, err = SheetLogOf(snap, p, s); err != nil {
				return nil, err
			}
		}
		if !l.tells() {
			continue
		}
		t := SheetTones{Made: l.TwoGenerations(neg.Made, l.Made), CalledFor: l.TwoGenerations(neg.Ideal, l.Ideal), Positive: positive}
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
	return stops, Densities(&m, t.Positive), Densities(&c, t.Positive)
}

// Densities are those of a negative or of a print.
func Densities(t *calc.Tones, positive bool) []float64 {
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
