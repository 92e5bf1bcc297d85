package pages

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"time"

	"traybook/calc"
	"traybook/events"
	"traybook/export/page"
	"traybook/projections/wording"
)

// Wall is what is fixed to the wall outside the camera: the times of the baths by temperature, the table for the rail,
// the times by light, index and filter, the cautions. Parts that are empty are left out.
type Wall struct {
	Size      string    // A4 or Letter
	Created   time.Time // the moment that it stands for
	Baths     []WallBath
	Rail      *WallRail
	Papers    []WallPaper
	Filters   []WallFilter
	Apertures []float64 // of the table of times; nil for the usual whole stops
	Cautions  []string
}

// WallBath is a bath as it works now.
type WallBath struct {
	Name string
	calc.BathCall
}

// WallRail is the lens that stands on a rail, at one aperture.
type WallRail struct{ FocalMM, F, COCMM, Pupil float64 }

// WallPaper is a paper with its index in force.
type WallPaper struct {
	Name  string
	Index float64
	P     float64 // reciprocity exponent, 0 for none known
}

// WallFilter is a filter before one paper, with its factor.
type WallFilter struct {
	Name   string
	Factor float64
}

// Types of the wall: to be read from an arm's length.
var (
	wallTitle = page.Set(22, page.Bold).Heading(1)
	wallText  = page.Set(14, page.Regular)
	wallSmall = page.Set(9, page.Regular)
)

const wallTable = 16 // points

// usualApertures are those that a paper negative is exposed at. Our own choice.
var usualApertures = []float64{5.6, 8, 11, 16, 22}

// mostApertures is how many columns of times the sheet holds beside that of the EV.
const mostApertures = 7

// WallApertures are the whole stops of a lens from its widest to its smallest aperture; of more than a sheet holds those
// that are smallest. Empty where it has none.
func WallApertures(widest, smallest float64) []float64 {
	out := calc.WholeStops(widest, smallest)
	return out[max(0, len(out)-mostApertures):]
}

// PDF draws the sheets. Errors: those of calc for numbers outside its ranges.
func (w Wall) PDF() ([]byte, error) {
	d := page.New(page.Options{Size: w.Size, Title: "Sheets for the wall", Created: w.Created, Footer: page.Numbered("for the wall · " + w.Created.Format("2006-01-02"))})
	drawn := false
	for _, part := range []struct {
		has  bool
		draw func(*page.Doc) error
	}{
		{len(w.Baths) > 0, w.baths}, {w.Rail != nil, w.rail}, {len(w.Papers) > 0, w.papers}, {len(w.Filters) > 0, w.filters}, {len(w.Cautions) > 0, w.cautions},
	} {
		if !part.has {
			continue
		}
		if err := part.draw(d); err != nil {
			return nil, err
		}
		drawn = true
	}
	if !drawn {
		return nil, errors.New("there is nothing to put on the wall: give a bath, a camera, a paper or filters")
	}
	return d.Bytes()
}

// begin begins a sheet with its title and a line under it.
func (w Wall) begin(d *page.Doc, title, under string) (page.Rect, float64) {
	d.NewPage()
	d.Bookmark(title, 0)
	a := d.Area()
	y := d.Para(a.X, a.Y, a.W, wallTitle, title, 2)
	if under != "" {
		y = d.Para(a.X, y+1, a.W, wallText.In(0.3), under, 4)
	}
	return a, y + 5
}

// The temperatures of the table, °C.
const (
	wallColdest = 13
	wallWarmest = 28
)

func (w Wall) baths(d *page.Doc) error {
	a, y := w.begin(d, "Times by temperature", "Read the thermometer, not the label. Under 16 °C hydroquinone works slowly, under 13 °C not at all: warm the bath. Over 26 °C fear fog and soft gelatine.")
	t := page.Table{Size: wallTable, Gap: 5, Banded: true, Columns: []page.Column{{Head: "°C", Width: page.Natural, Align: page.Right}}}
	for _, b := range w.Baths {
		t.Columns = append(t.Columns, page.Column{Head: b.Name, Align: page.Right})
	}
	for c := wallColdest; c <= wallWarmest; c++ {
		row := page.Row{Cells: []string{strconv.Itoa(c)}, Bold: c == int(calc.BathTempC)}
		for _, b := range w.Baths {
			cell, err := b.cell(float64(c))
			if err != nil {
				return err
			}
			row.Cells = append(row.Cells, cell)
		}
		t.Rows = append(t.Rows, row)
	}
	y = d.Table(a.X, y, a.W, t) + 4
	for _, b := range w.Baths {
		y = d.Para(a.X, y, a.W, wallSmall.In(0.3), b.about(), 3) + 1
	}
	d.Para(a.X, y, a.W, wallSmall.In(0.3), fmt.Sprintf("A time is known within %s: half a degree and the age of the bath move it by as much.", wording.Percent(calc.BathTimeKnown)), 3)
	return d.Err()
}

// cell is the time that a bath calls for at a temperature.
func (b WallBath) cell(c float64) (string, error) {
	s, _, err := b.At(c).Time()
	if errors.Is(err, calc.ErrDeveloperCold) {
		return "too cold", nil
	}
	return wording.Seconds(wording.HandSeconds(s)), err
}

func (b WallBath) about() string {
	role := "developer"
	if b.Fixer {
		role = "fixer"
	}
	text := fmt.Sprintf("%s (%s): %s at %g °C in a fresh bath, × %g when 10 °C colder", b.Name, role, wording.Seconds(b.NominalS), b.NominalC, b.Q10)
	if b.Used > 0 {
		text += "; " + wording.Percent(b.Used) + " of its capacity used"
	}
	return text
}

func (w Wall) rail(d *page.Doc) error {
	l := *w.Rail
	a, y := w.begin(d, "The rail", fmt.Sprintf("Lens of %g mm at f/%g. Millimetres from the infinity mark to where the lens stands; off by no more than the tolerance to either side.", l.FocalMM, l.F))
	rows, err := calc.RailTable(l.FocalMM, l.F, l.COCMM, l.Pupil, calc.RailDistances(l.FocalMM))
	if err != nil {
		return err
	}
	t := page.Table{Size: wallTable, Gap: 5, Banded: true, Columns: []page.Column{
		{Head: "lens to subject", Align: page.Right}, {Head: "extension mm", Align: page.Right}, {Head: "± mm", Align: page.Right},
		{Head: "time ×", Align: page.Right}, {Head: "stops", Align: page.Right}}}
	for _, r := range rows {
		t.Rows = append(t.Rows, page.Row{Cells: []string{subjectAt(r), fmt.Sprintf("%.1f", r.ExtensionMM), fmt.Sprintf("%.1f", r.ToleranceMM),
			fmt.Sprintf("%.2f", r.Factor), fmt.Sprintf("%+.1f", r.Stops)}})
	}
	y = d.Table(a.X, y, a.W, t) + 4
	d.Para(a.X, y, a.W, wallSmall.In(0.3), fmt.Sprintf("Circle of confusion %g mm. Distances are measured from the lens.", l.COCMM), 2)
	return d.Err()
}

func subjectAt(r calc.RailRow) string {
	switch m := r.SubjectMM / 1000; {
	case math.IsInf(m, 1):
		return "infinity"
	case math.Abs(r.Magnification-1) < 1e-9:
		return fmt.Sprintf("%.2f m (1:1)", m)
	case m < 1:
		return fmt.Sprintf("%.2f m", m)
	default:
		return strconv.FormatFloat(math.Round(m*100)/100, 'f', -1, 64) + " m"
	}
}

// The light of the table of times: EV at index 100, from deep shade to full sun.
const (
	wallDimmest   = 6
	wallBrightest = 15
)

func (w Wall) papers(d *page.Doc) error {
	apertures := w.Apertures
	if len(apertures) == 0 {
		apertures = usualApertures
	}
	for _, p := range w.Papers {
		title := fmt.Sprintf("Times at index %s", strconv.FormatFloat(p.Index, 'f', -1, 64))
		if p.Name != "" {
			title += ": " + p.Name
		}
		a, y := w.begin(d, title, "Of a subject far away; nearer ones by the factor of the rail's table. EV as a meter set to index 100 shows it.")
		t := page.Table{Size: wallTable, Gap: 5, Banded: true, Columns: []page.Column{{Head: "EV 100", Width: page.Natural, Align: page.Right}}}
		for _, f := range apertures {
			t.Columns = append(t.Columns, page.Column{Head: fmt.Sprintf("f/%g", f), Align: page.Right})
		}
		for ev := wallDimmest; ev <= wallBrightest; ev++ {
			row := page.Row{Cells: []string{strconv.Itoa(ev)}}
			for _, f := range apertures {
				reading := calc.Reading{EV: new(float64(ev)), Index: 100}
				called, err := calc.Exposure{Reading: reading, PaperIndex: p.Index, SetF: f, P: p.P}.CalledFor()
				if err != nil {
					return err
				}
				row.Cells = append(row.Cells, timeCell(called))
			}
			t.Rows = append(t.Rows, row)
		}
		y = d.Table(a.X, y, a.W, t) + 4
		d.Para(a.X, y, a.W, wallSmall.In(0.3), "In brackets, in seconds: too short for a hand at the cap. Stop down, put a filter before the lens, move into shade, or come back later. A dash: "+wording.TooDark+". "+
			"Meter, paper and cap leave a time a third of a stop open at best: 8 s is "+wording.Between(8*math.Exp2(-calc.CalledForLeast), 8*math.Exp2(calc.CalledForLeast))+".", 4)
	}
	return d.Err()
}

// timeCell is a time as a narrow column holds it, where a lens has many stops.
func timeCell(c calc.Called) string {
	switch call := (wording.Call{Kind: events.SheetExposed, S: c.SetTimeS}); {
	case c.TooBrightForCap:
		return "(" + wording.Significant(c.TimeS, 1) + ")"
	case call.TooDark():
		return wording.Dash
	case c.SetTimeS < 120:
		return call.Brief()
	case c.SetTimeS < 600:
		return wording.Significant(c.SetTimeS, 3) + " s"
	}
	return wording.Significant(c.SetTimeS/60, 2) + " min"
}

func (w Wall) filters(d *page.Doc) error {
	a, y := w.begin(d, "Filters", "What a filter does to the time. A factor holds for one paper in one light; those of films do not serve a blue-sensitive paper.")
	times := []float64{1, 2, 4, 8, 15, 30}
	t := page.Table{Size: wallTable, Gap: 5, Banded: true, Columns: []page.Column{{Head: "filter"}, {Head: "factor", Width: page.Natural, Align: page.Right},
		{Head: "stops", Width: page.Natural, Align: page.Right}}}
	for _, s := range times {
		t.Columns = append(t.Columns, page.Column{Head: wording.Seconds(s), Align: page.Right})
	}
	for _, f := range w.Filters {
		stops, err := calc.Stops(f.Factor)
		if err != nil {
			return err
		}
		row := page.Row{Cells: []string{f.Name, strconv.FormatFloat(f.Factor, 'g', 3, 64), fmt.Sprintf("%+.1f", stops)}}
		for _, s := range times {
			row.Cells = append(row.Cells, wording.Seconds(s*f.Factor))
		}
		t.Rows = append(t.Rows, row)
	}
	d.Table(a.X, y, a.W, t)
	return d.Err()
}

func (w Wall) cautions(d *page.Doc) error {
	a, y := w.begin(d, "Cautions", "")
	for _, c := range w.Cautions {
		y = d.Need(y, page.ParaHeight(a.W-6, wallText, c, 0))
		d.Text(a.X, y, 6, wallText, "•")
		y = d.Para(a.X+6, y, a.W-6, wallText, c, 0) + 3
	}
	return d.Err()
}
