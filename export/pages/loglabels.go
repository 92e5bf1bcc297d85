package pages

import (
	"slices"
	"strings"
	"time"

	"traybook/events"
	"traybook/export"
	"traybook/export/page"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// LabelSheet is a sheet of labels as it is sold: so many in rows and columns, with white around and between, in mm.
type LabelSheet struct {
	Size       string // A4 or Letter
	Rows, Cols int
	Top, Left  float64 // white above and left of the labels; the same is left below and right
	GapX, GapY float64 // between them
	Skip       int     // labels already used on the first sheet
}

// LabelOptions say which labels are printed.
type LabelOptions struct {
	LabelSheet
	Envelopes bool // one for each picture's envelope, instead of one for the back of each print
	Created   time.Time
	// Sitter gives the name behind a reference; nil prints no names.
	Sitter       func(ref string) string
	Faces        *page.Faces // nil for those built in
	Uncompressed bool
}

// label is what stands on one: its number, and lines of parts, which stand beside each other where they have room.
type label struct {
	number string
	lines  [][]string
}

const (
	labelPad   = 2.0  // mm of white inside each label
	leastLabel = 12.0 // mm high, for three lines and a symbol that a hand-held reader finds
	leastWide  = 30.0
)

var (
	pageImpossible = wording.Refuses("page-impossible", "{why}", "")
	nothingToLabel = wording.Refuses("nothing-to-label", "there is nothing to label: no print in this scope", "--envelopes labels the pictures themselves")
	rowsImpossible = wording.Refuses("rows-impossible", "a label sheet of {rows} rows and {columns} columns cannot be", "give --rows and --cols from 1 to 100")
	belowNothing   = wording.Refuses("below-nothing", "margins, gaps and labels to skip cannot be below 0", "leave them out, or measure the sheet of labels")
	labelTooSmall  = wording.Refuses("label-too-small", "a label would be {width:%.1f} × {height:%.1f} mm; it needs {least} × {leasthigh} mm", "take fewer rows or columns, or smaller margins")
)

// Labels draws labels for the backs of prints, or for envelopes: number, date, data, and the number as a QR code. It
// says how many there are.
func Labels(src export.Source, asOf time.Time, scope export.Scope, o LabelOptions) (pdf []byte, n int, err error) {
	chosen, err := export.Choose(src, asOf, scope)
	if err != nil {
		return nil, 0, err
	}
	labels, err := labelsOf(chosen, o)
	if err != nil {
		return nil, 0, err
	}
	d := page.New(page.Options{Size: o.Size, Margin: 0.001, Title: "Labels, " + scope.String(), Created: o.Created, Uncompressed: o.Uncompressed, Faces: o.Faces})
	if err := d.Err(); err != nil {
		return nil, 0, pageImpossible.Refuse(err)
	}
	grid, err := o.grid(d)
	if err != nil {
		return nil, 0, err
	}
	if len(labels) == 0 {
		return nil, 0, nothingToLabel.Refuse()
	}
	at := o.Skip % grid.PerPage()
	d.NewPage()
	for _, l := range labels {
		if at == grid.PerPage() {
			d.NewPage()
			at = 0
		}
		drawLabel(d, grid.Cell(at), l)
		at++
	}
	pdf, err = d.Bytes()
	return pdf, len(labels), err
}

// grid lays the labels on the sheet, and refuses what has no room.
func (s LabelSheet) grid(d *page.Doc) (page.Grid, error) {
	sheet := d.Sheet()
	if s.Rows < 1 || s.Cols < 1 || s.Rows > 100 || s.Cols > 100 {
		return page.Grid{}, rowsImpossible.Refuse(s.Rows, s.Cols)
	}
	if s.Top < 0 || s.Left < 0 || s.GapX < 0 || s.GapY < 0 || s.Skip < 0 {
		return page.Grid{}, belowNothing.Refuse()
	}
	g := page.Grid{Box: page.Rect{X: s.Left, Y: s.Top, W: sheet.W - 2*s.Left, H: sheet.H - 2*s.Top}, Cols: s.Cols, Rows: s.Rows, Gap: s.GapX, GapDown: s.GapY}
	if s.GapY == 0 {
		g.GapDown = 1e-9 // none, where the gap between columns would be taken for it
	}
	if c := g.Cell(0); c.W < leastWide || c.H < leastLabel {
		return g, labelTooSmall.Refuse(c.W, c.H, leastWide, leastLabel)
	}
	return g, nil
}

func labelsOf(chosen *export.Selection, o LabelOptions) ([]label, error) {
	var out []label
	err := chosen.EachPicture(func(p *snapshot.Picture) error {
		n := noteOf(p)
		who := ""
		if o.Sitter != nil && p.Sitter != "" {
			who = o.Sitter(p.Sitter)
		}
		if o.Envelopes {
			out = append(out, label{p.Entity.Name, [][]string{{dayOf(n.at)}, {p.Subject, who}, exposureParts(p.NegativeSheet()), {n.fates()}}})
			return nil
		}
		for _, s := range p.Sheets {
			e := s.Exposure()
			if s.Generation != snapshot.Positive || e == nil || chosen.Scope.Session != "" && !chosen.OfSession(*e) {
				continue // made at another time than the session's
			}
			_, box, err := calledfor.PaperAt(chosen.Snap, s)
			if err != nil {
				return err
			}
			paper := s.Box
			if box != nil && box.Received != nil {
				paper = joined(" ", s.Box, box.Received.Name)
			}
			out = append(out, label{s.Name, [][]string{{madeOn(n.at, e.At)}, {p.Subject, who}, exposureParts(s), {paper}, bathParts(s)}})
		}
		return nil
	})
	return out, err
}

// madeOn tells when negative and print were exposed.
func madeOn(negative, print time.Time) string {
	if negative.IsZero() || dateOf(negative) == dateOf(print) {
		return dayOf(print)
	}
	return dayOf(print) + ", from the negative of " + dayOf(negative)
}

// exposureParts are how a sheet was exposed.
func exposureParts(s *snapshot.Sheet) []string {
	if s == nil || s.Exposure() == nil {
		return nil
	}
	switch x := s.Exposure().Data.(type) {
	case *events.SheetExposedData:
		return []string{"f/" + wording.Number(x.F) + " " + wording.Seconds(x.TimeS), x.Filter, s.Box}
	case *events.SheetReprintedData:
		f := ""
		if x.F != nil {
			f = "f/" + wording.Number(*x.F) + " "
		}
		return []string{f + wording.Seconds(x.TimeS), x.Way, x.Filter}
	}
	return nil
}

// bathParts are which baths a sheet went through.
func bathParts(s *snapshot.Sheet) []string {
	var parts []string
	for _, es := range [][]events.Entry{s.Developed, s.Fixed} {
		if len(es) > 0 {
			if b := events.PlacesOf(es[len(es)-1].Data).Bath; b != "" {
				parts = append(parts, b)
			}
		}
	}
	return append(parts, washText(s))
}

func drawLabel(d *page.Doc, cell page.Rect, l label) {
	in := cell.Inset(labelPad)
	side := min(in.H, in.W*0.36, 26)
	d.QR(in.Right()-side, in.Y+(in.H-side)/2, side, l.number)
	width := in.W - side - 1.5
	big := page.Set(min(13, max(8, in.H*0.45)), page.Bold).Heading(1)
	d.Text(in.X, in.Y, width, big, l.number)
	y := in.Y + page.LineHeight(big.Size)
	line := page.LineHeight(smallType.Size)
	var texts []string
	var needs []int
	for _, parts := range l.lines {
		if text := besideEachOther(d, width, smallType, parts); text != "" {
			texts, needs = append(texts, text), append(needs, len(d.Wrap(width, smallType, text)))
		}
	}
	room := int((in.Bottom() - y + 0.2) / line)
	for i, most := range shareLines(needs, room) {
		if i == room-1 && len(texts) > room { // the label is full: show that more is known
			d.Text(in.X, y, width, smallType, d.Fit(width-3, smallType, strings.ReplaceAll(texts[i], "\n", " "))+" …")
			return
		}
		if most > 0 {
			y = d.Para(in.X, y, width, smallType, texts[i], most)
		}
	}
}

// besideEachOther sets as many parts on a line as it has room for; none is divided that has room on a line of its own.
func besideEachOther(d *page.Doc, width float64, t page.Type, parts []string) string {
	var lines []string
	var here []string // the parts of the last line
	for _, part := range parts {
		if part == "" {
			continue
		}
		both := append(slices.Clone(here), part)
		if line := joined(" · ", slices.Clone(both)...); len(here) > 0 && d.Width(t, line) <= width {
			here, lines[len(lines)-1] = both, line
			continue
		}
		here, lines = []string{part}, append(lines, part)
	}
	return strings.Join(lines, "\n")
}

// shareLines divides the lines that there is room for among texts that need so many each: where it is not enough for all, the
// longest give way, and then the last.
func shareLines(needs []int, room int) []int {
	out := slices.Clone(needs)
	sum := 0
	for _, n := range out {
		sum += n
	}
	for ; sum > max(0, room); sum-- {
		longest := len(out) - 1
		for i := range out {
			if out[i] > out[longest] {
				longest = i
			}
		}
		if out[longest] <= 1 {
			for longest = len(out) - 1; out[longest] == 0; longest-- {
			}
		}
		out[longest]--
	}
	return out
}
