package pages

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
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
	Faces     *page.Faces // nil for those built in
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

// The type of the tables, points: the largest at which every cell is whole.
const (
	wallTable      = 16.0
	wallTableLeast = 8.0
)

// wallPart is a table for the wall with what stands over it and under it. The next one follows on the same sheet where it has
// room.
type wallPart struct {
	title, words string
	table        page.Table
	notes        []string
}

func (p wallPart) draw(d *page.Doc, y float64) float64 {
	a := d.Area()
	p.table = fitted(d, p.table, a.W)
	height := d.ParaHeight(a.W, wallTitle, p.title, titleLines) + d.ParaHeight(a.W, wallText, p.words, 4) + d.TableHeight(a.W, p.table) + 10
	for _, note := range p.notes {
		height += d.ParaHeight(a.W, wallSmall, note, 4) + 1
	}
	y = begin(d, under(d, y, height), p.title, p.words)
	y = d.Table(a.X, y, a.W, p.table) + 4
	for _, note := range p.notes {
		y = d.Para(a.X, y, a.W, wallSmall.In(0.3), note, 4) + 1
	}
	return y
}

const wallGap = 12.0 // mm, over what follows on a sheet

// under is where a part of the given height begins that follows one which ended at y, 0 before the first.
func under(d *page.Doc, y, height float64) float64 {
	if y == 0 || y+wallGap+height > d.Area().Bottom() {
		d.NewPage()
		return d.Area().Y
	}
	return y + wallGap
}

// fitted is a table in the largest type at which its columns hold their widest cells and the words of their heads, of which those after
// the first share out what is left.
func fitted(d *page.Doc, t page.Table, width float64) page.Table {
	const gap = 0.3 // of the type, mm a point
	t.Banded = true
	for t.Size = wallTable; ; t.Size-- {
		t.Gap = gap * t.Size
		left := width - float64(len(t.Columns)-1)*t.Gap
		for i := range t.Columns {
			c := &t.Columns[i]
			c.Width = 0
			words := strings.Fields(c.Head)
			if i == 0 {
				words = []string{c.Head}
			}
			for _, word := range words {
				c.Width = max(c.Width, d.Width(page.Set(t.Size, page.Bold), word))
			}
			for _, r := range t.Rows {
				c.Width = max(c.Width, d.Width(page.Set(t.Size, page.Bold), r.Cells[i]))
			}
			left -= c.Width
		}
		if left < 0 && t.Size > wallTableLeast {
			continue
		}
		if left < 0 { // a name as long as that breaks
			t.Columns[0].Width, t.Columns[0].Wrap = max(20, t.Columns[0].Width+left), true
			left = 0
		}
		for i := range t.Columns[1:] {
			t.Columns[1+i].Width += left / float64(len(t.Columns)-1)
		}
		return t
	}
}

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
	d := page.New(page.Options{Size: w.Size, Title: "Sheets for the wall", Created: w.Created, Faces: w.Faces, Footer: page.Numbered("for the wall · " + w.Created.Format("2006-01-02"))})
	var parts []wallPart
	for _, add := range []func() ([]wallPart, error){w.baths, w.rail, w.papers, w.filters} {
		more, err := add()
		if err != nil {
			return nil, err
		}
		parts = append(parts, more...)
	}
	if len(parts) == 0 && len(w.Cautions) == 0 {
		return nil, errors.New("there is nothing to put on the wall: give a bath, a camera, a paper or filters")
	}
	y := 0.0
	for _, p := range parts {
		y = p.draw(d, y)
	}
	w.cautions(d, y)
	return d.Bytes()
}

const titleLines = 5 // of a part's title: a paper may have a long name

// begin draws the title of a part and a line under it.
func begin(d *page.Doc, y float64, title, under string) float64 {
	a := d.Area()
	d.BookmarkAt(title, 0, y)
	y = d.Para(a.X, y, a.W, wallTitle, title, titleLines)
	if under != "" {
		y = d.Para(a.X, y+1, a.W, wallText.In(0.3), under, 4)
	}
	return y + 5
}

// The temperatures of the table, °C.
const (
	wallColdest = 13
	wallWarmest = 28
)

func (w Wall) baths() ([]wallPart, error) {
	if len(w.Baths) == 0 {
		return nil, nil
	}
	p := wallPart{title: "Times by temperature", words: "Read the thermometer, not the label. Under 16 °C hydroquinone works slowly, under 13 °C not at all: warm the bath. Over 26 °C fear fog and soft gelatine."}
	t := &p.table
	t.Columns = []page.Column{{Head: "°C", Align: page.Right}}
	for _, b := range w.Baths {
		t.Columns = append(t.Columns, page.Column{Head: b.Name, Align: page.Right})
	}
	for c := wallColdest; c <= wallWarmest; c++ {
		row := page.Row{Cells: []string{strconv.Itoa(c)}, Bold: c == int(calc.BathTempC)}
		for _, b := range w.Baths {
			cell, err := b.cell(float64(c))
			if err != nil {
				return nil, err
			}
			row.Cells = append(row.Cells, cell)
		}
		t.Rows = append(t.Rows, row)
	}
	for _, b := range w.Baths {
		p.notes = append(p.notes, b.about())
	}
	p.notes = append(p.notes, fmt.Sprintf("A time is known within %s: half a degree and the age of the bath move it by as much.", wording.Percent(calc.BathTimeKnown)))
	return []wallPart{p}, nil
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

func (w Wall) rail() ([]wallPart, error) {
	if w.Rail == nil {
		return nil, nil
	}
	l := *w.Rail
	p := wallPart{title: "The rail", words: fmt.Sprintf("Lens of %g mm at f/%g. Millimetres from the infinity mark to where the lens stands; off by no more than the tolerance to either side.", l.FocalMM, l.F),
		notes: []string{fmt.Sprintf("Circle of confusion %g mm. Distances are measured from the lens.", l.COCMM)}}
	rows, err := calc.RailTable(l.FocalMM, l.F, l.COCMM, l.Pupil, calc.RailDistances(l.FocalMM))
	if err != nil {
		return nil, err
	}
	t := &p.table
	t.Columns = []page.Column{{Head: "lens to subject", Align: page.Right}, {Head: "extension mm", Align: page.Right}, {Head: "± mm", Align: page.Right},
		{Head: "time ×", Align: page.Right}, {Head: "stops", Align: page.Right}}
	for _, r := range rows {
		t.Rows = append(t.Rows, page.Row{Cells: []string{subjectAt(r), fmt.Sprintf("%.1f", r.ExtensionMM), fmt.Sprintf("%.1f", r.ToleranceMM),
			fmt.Sprintf("%.2f", r.Factor), fmt.Sprintf("%+.1f", r.Stops)}})
	}
	return []wallPart{p}, nil
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

func (w Wall) papers() (parts []wallPart, err error) {
	apertures := w.Apertures
	if len(apertures) == 0 {
		apertures = usualApertures
	}
	for _, p := range w.Papers {
		title := fmt.Sprintf("Times at index %s", strconv.FormatFloat(p.Index, 'f', -1, 64))
		if p.Name != "" {
			title += ": " + p.Name
		}
		part := wallPart{title: title, words: "Of a subject far away; nearer ones by the factor of the rail's table. EV as a meter set to index 100 shows it."}
		t := &part.table
		t.Columns = []page.Column{{Head: "EV 100", Align: page.Right}}
		for _, f := range apertures {
			t.Columns = append(t.Columns, page.Column{Head: fmt.Sprintf("f/%g", f), Align: page.Right})
		}
		for ev := wallDimmest; ev <= wallBrightest; ev++ {
			row := page.Row{Cells: []string{strconv.Itoa(ev)}}
			for _, f := range apertures {
				reading := calc.Reading{EV: new(float64(ev)), Index: 100}
				called, err := calc.Exposure{Reading: reading, PaperIndex: p.Index, SetF: f, P: p.P}.CalledFor()
				if err != nil {
					return nil, err
				}
				row.Cells = append(row.Cells, timeCell(called))
			}
			t.Rows = append(t.Rows, row)
		}
		part.notes = []string{"In brackets, in seconds: too short for a hand at the cap. Stop down, put a filter before the lens, move into shade, or come back later. A dash: " + wording.TooDark + ". " +
			"Meter, paper and cap leave a time a third of a stop open at best: 8 s is " + wording.Between(8*math.Exp2(-calc.CalledForLeast), 8*math.Exp2(calc.CalledForLeast)) + "."}
		parts = append(parts, part)
	}
	return parts, nil
}

// timeCell is a time as every other one is told, or too short for a hand at the cap.
func timeCell(c calc.Called) string {
	call := wording.Call{Kind: events.SheetExposed, S: c.SetTimeS}
	switch {
	case c.TooBrightForCap:
		return "(" + wording.Significant(c.TimeS, 1) + ")"
	case call.TooDark():
		return wording.Dash
	}
	return call.Brief()
}

func (w Wall) filters() ([]wallPart, error) {
	if len(w.Filters) == 0 {
		return nil, nil
	}
	p := wallPart{title: "Filters", words: "What a filter does to the time. A factor holds for one paper in one light; those of films do not serve a blue-sensitive paper."}
	times := []float64{1, 2, 4, 8, 15, 30}
	t := &p.table
	t.Columns = []page.Column{{Head: "filter"}, {Head: "factor", Align: page.Right}, {Head: "stops", Align: page.Right}}
	for _, s := range times {
		t.Columns = append(t.Columns, page.Column{Head: wording.Seconds(s), Align: page.Right})
	}
	for _, f := range w.Filters {
		stops, err := calc.Stops(f.Factor)
		if err != nil {
			return nil, err
		}
		row := page.Row{Cells: []string{f.Name, strconv.FormatFloat(f.Factor, 'g', 3, 64), fmt.Sprintf("%+.1f", stops)}}
		for _, s := range times {
			row.Cells = append(row.Cells, wording.Seconds(s*f.Factor))
		}
		t.Rows = append(t.Rows, row)
	}
	return []wallPart{p}, nil
}

func (w Wall) cautions(d *page.Doc, y float64) {
	if len(w.Cautions) == 0 {
		return
	}
	a := d.Area()
	height := d.ParaHeight(a.W, wallTitle, "Cautions", 1) + 5
	for _, c := range w.Cautions {
		height += d.ParaHeight(a.W-6, wallText, c, 0) + 3
	}
	y = begin(d, under(d, y, height), "Cautions", "")
	for _, c := range w.Cautions {
		y = d.Need(y, d.ParaHeight(a.W-6, wallText, c, 0))
		y = d.Item(a.X, y, a.W, 6, wallText, "•", c) + 3
	}
}
