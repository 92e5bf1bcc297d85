package pages

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"traybook/calc"
	"traybook/events"
	"traybook/export"
	"traybook/export/page"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// toldSession is what the pages of a session tell.
type toldSession struct {
	group    *logGroup
	light    []lightRow
	pictures []toldPicture
	said     []remark
}

// tellSession reads what is to be drawn of a session: its light, its pictures with their sheets, what was said in words.
func (b *logBook) tellSession(g *logGroup) (t toldSession, err error) {
	t.group = g
	if g.session != nil {
		if t.light, err = b.readingsOf(g.session); err != nil {
			return t, err
		}
	}
	for _, n := range g.notes {
		b.snap.Tidy()
		p, err := b.snap.Picture(n.entity.Name)
		if err != nil {
			return t, err
		}
		cards, err := b.cardsOf(p)
		if err != nil {
			return t, err
		}
		t.pictures = append(t.pictures, toldPicture{n, p, cards})
		t.said = append(t.said, remarksOf(p)...)
	}
	also, err := b.alsoIn(g.session)
	t.said = append(t.said, also...)
	return t, err
}

// sessionPages draws one session: its head with the light, its pictures, and what was said in words.
func (b *logBook) sessionPages(t toldSession) {
	d, g := b.doc, t.group
	d.SetHead(nil)
	d.NewPage()
	a := d.Area()
	d.Anchor(g.anchor(), a.Y)
	name := "Pictures of no session"
	y := a.Y
	if s := g.session; s != nil {
		name = "Session " + s.Entity.Name
		d.Bookmark(name+", "+dateOf(s.At), 0)
		y = b.sessionHead(a, y, s)
		y = b.sessionLight(y, s, t.light)
	} else {
		d.Bookmark(name, 0)
		y = d.Para(a.X, y, a.W, headType, name, 1) + 3
	}
	d.SetHead(func(d *page.Doc, y float64) float64 {
		d.Text(d.Area().X, y, d.Area().W, smallType.In(0.3), name+", continued")
		return y + 5
	})
	y = b.cards(t.pictures, y)
	b.remarks(y+3, t.said)
	d.SetHead(nil)
}

// sessionHead tells where and when, by whom, in what light.
func (b *logBook) sessionHead(a page.Rect, y float64, s *snapshot.Session) float64 {
	d, o := b.doc, s.Opened
	y = d.Para(a.X, y, a.W, headType, joined(" · ", s.Entity.Name, o.Place), 5)
	when := dayOf(s.At) + ", " + s.At.Format("15:04")
	switch {
	case s.ClosedAt.IsZero():
		when += ", not closed"
	case dateOf(s.At) == dateOf(s.ClosedAt):
		when += " to " + s.ClosedAt.Format("15:04")
	default:
		when += " to " + dayOf(s.ClosedAt) + ", " + s.ClosedAt.Format("15:04")
	}
	where := ""
	if o.Lat != nil && o.Lon != nil {
		where = fmt.Sprintf("%s, %s", degrees(*o.Lat, "N", "S"), degrees(*o.Lon, "E", "W"))
	}
	sky := ""
	if o.Sky != "" {
		sky = "sky: " + o.Sky
	}
	light := ""
	if o.Light != "" {
		light = "light: " + o.Light
	}
	camera, helper := "", ""
	if o.Camera != "" {
		camera = "camera " + o.Camera
	}
	if o.Helper != "" {
		helper = "with " + o.Helper
	}
	y = d.Para(a.X, y+0.5, a.W, bodyType, joined(" · ", when, where, sky, light, camera, helper), 0)
	if o.Text != "" {
		y = d.Para(a.X, y+0.5, a.W, bodyType.In(0.25), o.Text, 0)
	}
	d.Rule(a.X, y+1, a.W, page.Pen{Width: 0.4})
	return y + 3
}

func degrees(v float64, plus, minus string) string {
	side := plus
	if v < 0 {
		side = minus
	}
	return fmt.Sprintf("%.4f° %s", math.Abs(v), side)
}

// lightRow is one reading as the session page tells it.
type lightRow struct {
	e  events.Entry
	r  *events.LightMeteredData
	ev float64 // at index 100; NaN where it cannot be calculated
}

// readingsOf lists the readings of a session: its own, and those that name one of its pictures.
func (b *logBook) readingsOf(s *snapshot.Session) ([]lightRow, error) {
	own, err := b.src.Entries(events.Query{Stream: s.Entity.ID, Kinds: []events.Kind{events.LightMetered}})
	if err != nil {
		return nil, err
	}
	named, err := b.src.Entries(events.Query{Session: s.Entity.ID, Kinds: []events.Kind{events.LightMetered}})
	if err != nil {
		return nil, err
	}
	var out []lightRow
	for _, e := range events.Fold(append(own, named...)) {
		r, ok := e.Data.(*events.LightMeteredData)
		if !ok || b.chosen.Late(e) {
			continue
		}
		if b.chosen.Scope.Picture != "" && r.Picture != "" && r.Picture != b.chosen.Scope.Picture {
			continue
		}
		ev, err := calledfor.ReadingOf(r).EV100()
		if err != nil {
			ev = math.NaN()
		}
		out = append(out, lightRow{e, r, ev})
	}
	return out, nil
}

// sessionLight draws the readings as a table, and beside it the light's course where the scene was read twice or more.
func (b *logBook) sessionLight(y float64, s *snapshot.Session, rows []lightRow) float64 {
	if len(rows) == 0 {
		return y
	}
	d := b.doc
	a := d.Area()
	var course []lightRow
	for _, r := range rows {
		if r.r.On == "scene" && !math.IsNaN(r.ev) {
			course = append(course, r)
		}
	}
	width, chart := a.W*0.58-3, len(course) > 1
	t := page.Table{Size: 6.5, Gap: 2, Banded: true, Columns: []page.Column{
		{Head: "at", Width: page.Natural}, {Head: "read on", Width: page.Natural}, {Head: "reading", Wrap: true},
		{Head: "EV 100", Width: page.Natural, Align: page.Right}, {Head: "for", Width: page.Natural},
	}}
	for _, r := range rows {
		ev := ""
		if !math.IsNaN(r.ev) {
			ev = fmt.Sprintf("%.1f", r.ev)
		}
		light := r.r.Light
		if r.r.Filter != "" {
			light = joined(", ", light, "through "+r.r.Filter)
		}
		t.Rows = append(t.Rows, page.Row{Cells: []string{
			r.e.At.Format("15:04"), joined(", ", r.r.On, r.r.Of), joined(" · ", readingText(r.r), light), ev, r.r.Picture,
		}})
	}
	start, first := y, d.Page()
	y = d.Table(a.X, y, width, t)
	if chart {
		box := page.Rect{X: a.X + a.W*0.58, Y: start, W: a.W * 0.42, H: 34}
		if d.Page() == first {
			b.lightChart(box, course, s)
			y = max(y, box.Bottom())
		} else { // the table went over the page: the chart stands under it
			y = d.Need(y+2, 34)
			b.lightChart(page.Rect{X: a.X, Y: y, W: a.W, H: 34}, course, s)
			y += 34
		}
	}
	return y + 4
}

func readingText(r *events.LightMeteredData) string {
	num := func(v *float64) string { return wording.Number(*v) }
	text := ""
	switch {
	case r.EV != nil:
		text = "EV " + num(r.EV)
		if r.Index != nil {
			text += " at index " + num(r.Index)
		}
	case r.Lux != nil:
		text = num(r.Lux) + " lx"
	case r.CdM2 != nil:
		text = num(r.CdM2) + " cd/m²"
	case r.F != nil && r.TimeS != nil:
		text = "f/" + num(r.F) + " " + wording.Seconds(*r.TimeS)
		if r.Index != nil {
			text += " at index " + num(r.Index)
		}
	}
	if r.Mode == "incident" {
		text += ", incident"
	}
	if r.ZoneStops != nil && *r.ZoneStops != 0 {
		text += ", zone " + wording.StopsText(*r.ZoneStops)
	}
	return text
}

// lightChart draws what was read over the day, and dashed what the sun would give where place and sky are known.
func (b *logBook) lightChart(box page.Rect, course []lightRow, s *snapshot.Session) {
	from, to := course[0].e.At, course[len(course)-1].e.At
	least, most := course[0].ev, course[0].ev
	points := make([]page.Point, len(course))
	hours := func(t time.Time) float64 {
		return t.Sub(time.Date(from.Year(), from.Month(), from.Day(), 0, 0, 0, 0, from.Location())).Hours()
	}
	for i, r := range course {
		least, most = min(least, r.ev), max(most, r.ev)
		points[i] = page.Point{X: hours(r.e.At), Y: r.ev}
	}
	left, right := hours(from), hours(to)
	pad := max(0.25, (right-left)*0.08)
	left, right = left-pad, right+pad
	sun := b.sunCourse(s, from, hours, left, right)
	for _, p := range sun {
		least, most = min(least, p.Y), max(most, p.Y)
	}
	plot := b.doc.Chart(box,
		page.Axis{Min: left, Max: right, Format: func(h float64) string { return fmt.Sprintf("%d:%02d", int(h)%24, int(math.Round(h*60))%60) }},
		page.Axis{Label: "light on the scene, EV at index 100" + map[bool]string{true: "; dashed: level ground by the sun's height", false: ""}[len(sun) > 0],
			Min: math.Floor(least - 0.5), Max: math.Ceil(most + 0.5)})
	plot.Line(sun, page.Pen{Width: 0.2, Grey: 0.4, Dash: []float64{1.2, 0.8}})
	plot.Line(points, page.Pen{Width: 0.25})
	plot.Marks(points, page.Dot)
}

func (b *logBook) sunCourse(s *snapshot.Session, from time.Time, hours func(time.Time) float64, left, right float64) []page.Point {
	o := s.Opened
	sky, ok := calc.SkyFactor(o.Sky)
	if !ok || o.Lat == nil || o.Lon == nil {
		return nil
	}
	start := from.Add(-time.Duration(hours(from) * float64(time.Hour)))
	const steps = 40
	var out []page.Point
	for i := range steps + 1 {
		h := left + (right-left)*float64(i)/steps
		lux, err := calc.SunLux(start.Add(time.Duration(h*float64(time.Hour))), *o.Lat, *o.Lon, sky)
		if err != nil {
			return nil
		}
		ev, err := calc.EV100FromLux(lux, calc.CFlat)
		if err != nil {
			return nil
		}
		out = append(out, page.Point{X: h, Y: ev})
	}
	return out
}

// remark is something said in words about a sheet or picture.
type remark struct{ about, at, text string }

// remarksOf lists all free text of a picture, so that what a card cuts stands somewhere in full.
func remarksOf(p *snapshot.Picture) []remark {
	var out []remark
	for _, e := range p.All {
		text := export.FieldText(e.Data, "text")
		if x, ok := e.Data.(*events.SheetJudgedData); ok && len(x.Symptoms) > 0 {
			text = joined(": ", strings.Join(x.Symptoms, ", "), text)
		}
		if text == "" {
			continue
		}
		about := cmp.Or(events.SheetOf(e.Data), p.Entity.Name)
		out = append(out, remark{about, e.At.Format("2006-01-02 15:04"), wordFor[e.Kind] + text})
	}
	return out
}

// alsoIn lists what else was done in a session and stands on no sheet: strips, looks at the camera, holders, notes.
// Ratings of paper and tests of baths stand on their own pages.
func (b *logBook) alsoIn(s *snapshot.Session) ([]remark, error) {
	if s == nil || b.chosen.Scope.Picture != "" {
		return nil, nil
	}
	raw, err := b.src.Entries(events.Query{Session: s.Entity.ID, Kinds: []events.Kind{events.StripExposed, events.StripRead, events.CameraChecked,
		events.HolderLoaded, events.NoteWritten, events.MomentMarked}})
	if err != nil {
		return nil, err
	}
	var out []remark
	tell := func(about string, e events.Entry) {
		out = append(out, remark{about, e.At.Format("2006-01-02 15:04"), b.snap.Sentence(e)})
	}
	for _, e := range events.Fold(raw) {
		if b.chosen.Late(e) {
			continue
		}
		stream, err := b.src.StreamOf(e.ID)
		if err != nil {
			return nil, err
		}
		if stream.Kind != events.Picture && stream.Kind != events.Box && stream.Kind != events.Bath && stream.Kind != events.Session {
			tell(strings.Trim(stream.Name, "()"), e)
		}
	}
	for _, e := range s.Entries {
		switch e.Kind {
		case events.SessionOpened, events.LightMetered, events.ClockStarted:
		case events.SessionClosed:
			if export.FieldText(e.Data, "text") != "" {
				tell(s.Entity.Name, e)
			}
		default:
			tell(s.Entity.Name, e)
		}
	}
	return out, nil
}

// wordFor says what a text belongs to, where the text alone does not.
var wordFor = map[events.Kind]string{
	events.SheetJudged: "judged: ", events.SheetExposed: "exposed: ", events.SheetReprinted: "printed: ", events.SheetDeveloped: "developed: ",
	events.SheetFixed: "fixed: ", events.SheetWashed: "washed: ", events.SheetDelivered: "delivered: ", events.LightMetered: "metered: ",
	events.SheetRinsed: "rinsed: ", events.SheetToned: "toned: ", events.SheetDried: "dried: ", events.SheetWorked: "worked: ", events.SheetTested: "tested: ",
}

// remarks draws the words after the pictures.
func (b *logBook) remarks(y float64, rs []remark) {
	if len(rs) == 0 {
		return
	}
	d := b.doc
	a := d.Area()
	y = d.Need(y, 14)
	d.Text(a.X, y, a.W, subheadType, "Remarks")
	t := page.Table{Size: 7, Columns: []page.Column{{Width: page.Natural, Face: page.Bold}, {Width: page.Natural}, {Wrap: true}}}
	for _, r := range rs {
		t.Rows = append(t.Rows, page.Row{Cells: []string{r.about, r.at, r.text}})
	}
	d.Table(a.X, y+5, a.W, t)
}

// attachedTo is the scan to show of a sheet: the last one as the sheet is, else the last of any sort.
func attachedTo(s *snapshot.Sheet) (x *events.SheetAttachedData) {
	for _, e := range s.Entries {
		a, ok := e.Data.(*events.SheetAttachedData)
		if !ok {
			continue
		}
		plain := a.Of != "inverted"
		if x == nil || plain || x.Of == "inverted" {
			x = a
		}
	}
	return x
}

func failed(verdict string) bool { return slices.Contains([]string{"redo", "reject"}, verdict) }
