package pages

import (
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
	also     []page.Row
}

// empty says that nothing was done in it that stands on its pages.
func (t toldSession) empty() bool {
	return len(t.light) == 0 && len(t.pictures) == 0 && len(t.also) == 0
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
		cards, err := b.fineCardsOf(p)
		if err != nil {
			return t, err
		}
		t.pictures = append(t.pictures, toldPicture{n, p, cards, remarksOf(p)})
	}
	t.also, err = b.alsoIn(g.session)
	return t, err
}

// sessionGap stands over a session that follows another on a page, mm.
const sessionGap = 5.0

// sessionPages draws one session where the one before ended: its head with the light, its pictures, what else was done. Of
// one in which nothing was done there is a line.
func (b *logBook) sessionPages(t toldSession) {
	d, g := b.doc, t.group
	d.SetHead(nil)
	a := d.Area()
	head := sessionHead{name: "Pictures of no session"}
	bookmark := head.name
	if s := g.session; s != nil {
		head = sessionHeadOf(s)
		bookmark = "Session " + s.Entity.Name + ", " + dateOf(s.At)
	}
	if t.empty() {
		b.y = d.Need(b.y+sessionGap, head.lineHeight(d, a.W))
		d.Anchor(g.anchor(), b.y)
		d.BookmarkAt(bookmark, 0, b.y)
		b.y = head.drawLine(d, b.y)
		return
	}
	light := b.lightOf(g.session, t.light, a.W)
	var rows []sheetRow
	for _, blocks := range rowsOf(blocksOf(t.pictures)) {
		rows = append(rows, b.layRow(blocks, a.X, a.W))
	}
	also := page.Table{Title: "Also on this day", Size: 7, Rows: t.also, Columns: []page.Column{{Width: page.Natural, Face: page.Bold}, {Width: page.Natural}, {Wrap: true}}}
	first := d.FirstHeight(a.W, also)
	if len(rows) > 0 {
		first = rows[0].height
	}
	b.y = d.Need(b.y+sessionGap, head.height(d, a.W)+light.height+first)
	d.Anchor(g.anchor(), b.y)
	d.BookmarkAt(bookmark, 0, b.y)
	b.y = head.draw(d, b.y, len(t.light) > 0 || len(rows) == 0) // a picture has a rule of its own
	b.y = b.drawLight(b.y, light)
	d.SetHead(func(d *page.Doc, y float64) float64 {
		d.Text(d.Area().X, y, d.Area().W, smallType.In(0.3), joined(" ", map[bool]string{true: "Session"}[g.session != nil], head.name)+", continued")
		return y + 5
	})
	for _, r := range rows {
		b.y = b.drawRow(b.y, r)
	}
	if len(t.also) > 0 {
		b.y = d.Table(a.X, b.y, a.W, also) + 2
	}
	d.SetHead(nil)
}

// sessionHead is what stands over a session.
type sessionHead struct {
	name, place string
	when        string
	facts       string // where, by whom, in what light
	text        string
}

func sessionHeadOf(s *snapshot.Session) sessionHead {
	o := s.Opened
	h := sessionHead{name: s.Entity.Name, place: o.Place, text: o.Text, when: dayOf(s.At) + ", " + s.At.Format("15:04")}
	switch {
	case s.ClosedAt.IsZero():
		h.when += ", not closed"
	case dateOf(s.At) == dateOf(s.ClosedAt):
		h.when += " to " + s.ClosedAt.Format("15:04")
	default:
		h.when += " to " + dayOf(s.ClosedAt) + ", " + s.ClosedAt.Format("15:04")
	}
	where := ""
	if o.Lat != nil && o.Lon != nil {
		where = fmt.Sprintf("%s, %s", degrees(*o.Lat, "N", "S"), degrees(*o.Lon, "E", "W"))
	}
	behind := func(word, what string) string {
		if what == "" {
			return ""
		}
		return word + " " + page.Isolated(what)
	}
	h.facts = joined(" · ", where, behind("sky:", o.Sky), behind("light:", o.Light), behind("camera", o.Camera), behind("with", o.Helper))
	return h
}

const headLines = 5 // of a session's name and place

func (h sessionHead) title() string   { return joined(" · ", h.name, h.place) }
func (h sessionHead) details() string { return joined(" · ", h.when, h.facts) }

func (h sessionHead) height(d *page.Doc, width float64) float64 {
	height := d.ParaHeight(width, headType, h.title(), headLines) + 3.5
	if h.details() != "" {
		height += d.ParaHeight(width, bodyType, h.details(), 0)
	}
	if h.text != "" {
		height += d.ParaHeight(width, bodyType, h.text, 0) + 0.5
	}
	return height
}

func (h sessionHead) draw(d *page.Doc, y float64, ruled bool) float64 {
	a := d.Area()
	y = d.Para(a.X, y, a.W, headType, h.title(), headLines) + 0.5
	if h.details() != "" {
		y = d.Para(a.X, y, a.W, bodyType, h.details(), 0)
	}
	if h.text != "" {
		y = d.Para(a.X, y+0.5, a.W, bodyType.In(0.25), h.text, 0)
	}
	if ruled {
		d.Rule(a.X, y+1, a.W, page.Pen{Width: 0.4})
	}
	return y + 3
}

func (h sessionHead) line() string {
	return joined(" · ", h.title(), h.when, "nothing was exposed", h.text)
}

func (h sessionHead) lineHeight(d *page.Doc, width float64) float64 {
	return d.ParaHeight(width, bodyType, h.line(), 0) + 1
}

func (h sessionHead) drawLine(d *page.Doc, y float64) float64 {
	a := d.Area()
	return d.Para(a.X, y, a.W, bodyType, h.line(), 0) + 1
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

// sessionLight is the light of a session: a table of its readings, and beside it the light's course where the scene was
// read twice or more.
type sessionLight struct {
	table  page.Table
	course []lightRow
	on     *snapshot.Session
	width  float64 // of the table, mm
	height float64 // of what must stand on one page, mm
}

const lightHeight = 34.0 // of the chart, mm

func (b *logBook) lightOf(s *snapshot.Session, rows []lightRow, width float64) sessionLight {
	l := sessionLight{on: s, width: width, table: page.Table{Size: 6.5, Gap: 2, Banded: true, Columns: []page.Column{
		{Head: "at", Width: page.Natural}, {Head: "read on", Width: page.Natural}, {Head: "reading", Wrap: true},
		{Head: "EV 100", Width: page.Natural, Align: page.Right}, {Head: "for", Width: page.Natural},
	}}}
	if len(rows) == 0 {
		return l
	}
	for _, r := range rows {
		if r.r.On == "scene" && !math.IsNaN(r.ev) {
			l.course = append(l.course, r)
		}
		ev := ""
		if !math.IsNaN(r.ev) {
			ev = fmt.Sprintf("%.1f", r.ev)
		}
		light := r.r.Light
		if r.r.Filter != "" {
			light = joined(", ", light, "through "+r.r.Filter)
		}
		l.table.Rows = append(l.table.Rows, page.Row{Cells: []string{
			r.e.At.Format("15:04"), joined(", ", r.r.On, r.r.Of), joined(" · ", readingText(r.r), light), ev, r.r.Picture,
		}})
	}
	if l.height = b.doc.FirstHeight(width, l.table); len(l.course) > 1 {
		l.width = width*0.58 - 3
		l.height = max(lightHeight, b.doc.FirstHeight(l.width, l.table))
	}
	if whole := b.doc.TableHeight(l.width, l.table); whole < 60 {
		l.height = max(l.height, whole)
	}
	l.height += 4
	return l
}

func (b *logBook) drawLight(y float64, l sessionLight) float64 {
	if len(l.table.Rows) == 0 {
		return y
	}
	d := b.doc
	a := d.Area()
	if len(l.course) > 1 { // first, for the table may go on to another page
		b.lightChart(page.Rect{X: a.Right() - a.W*0.42, Y: y, W: a.W * 0.42, H: lightHeight}, l.course, l.on)
	}
	first, chart := d.Page(), y+lightHeight
	y = d.Table(a.X, y, l.width, l.table)
	if len(l.course) > 1 && d.Page() == first {
		y = max(y, chart)
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
		page.Axis{Min: left, Max: right, Ticks: clockTicks(left, right), Format: clockAt},
		page.Axis{Label: "light on the scene, EV at index 100" + map[bool]string{true: "; dashed: level ground by the sun's height", false: ""}[len(sun) > 0],
			Min: math.Floor(least - 0.5), Max: math.Ceil(most + 0.5)})
	plot.Line(sun, page.Pen{Width: 0.2, Grey: 0.4, Dash: []float64{1.2, 0.8}})
	plot.Curve(points, page.Pen{Width: 0.25})
	plot.Marks(points, page.Dot)
}

// clockTicks are times of the day between two, hours from midnight, as a clock divides it: some three to five of them.
func clockTicks(left, right float64) (ticks []float64) {
	const most = 5
	step := 5.0 // minutes
	for _, step = range []float64{5, 10, 15, 30, 60, 120, 180, 360, 720, 1440} {
		if (right-left)*60/step <= most {
			break
		}
	}
	for (right-left)*60/step > most {
		step *= 2
	}
	for m := math.Ceil(left * 60 / step); m*step <= right*60; m++ {
		ticks = append(ticks, m*step/60)
	}
	return ticks
}

// clockAt tells hours from midnight as a clock shows them.
func clockAt(h float64) string {
	minutes := (int(math.Round(h*60))%1440 + 1440) % 1440
	return fmt.Sprintf("%02d:%02d", minutes/60, minutes%60)
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

// remark is something said in words of a picture's sheet, or of the picture where part is empty, about an act.
type remark struct{ part, act, text string }

// remarksOf lists what was said of a picture in words, each time on its day where that is not the picture's. What a hand
// timer noted of a time is no remark: the picture's own page has it.
func remarksOf(p *snapshot.Picture) []remark {
	var out []remark
	for _, e := range p.All {
		text := calledfor.WithoutTimerRemark(export.FieldText(e.Data, "text"))
		if text == "" {
			continue
		}
		if dateOf(e.At) != dateOf(p.First) {
			text += " (" + dayOf(e.At) + ")"
		}
		r := remark{act: wordFor[e.Kind], text: text}
		if _, r.part, _ = events.SplitSheet(events.SheetOf(e.Data)); !slices.ContainsFunc(p.Sheets, func(s *snapshot.Sheet) bool { return s.Part == r.part }) {
			r.part, r.act = "", joined(" ", r.part, r.act) // of a sheet that counts no more
		}
		out = append(out, r)
	}
	return out
}

// alsoIn lists what else was done in a session and stands on no sheet: strips, looks at the camera, holders, notes.
// Ratings of paper and tests of baths stand on their own pages.
func (b *logBook) alsoIn(s *snapshot.Session) ([]page.Row, error) {
	if s == nil || b.chosen.Scope.Picture != "" {
		return nil, nil
	}
	raw, err := b.src.Entries(events.Query{Session: s.Entity.ID, Kinds: []events.Kind{events.StripExposed, events.StripRead, events.CameraChecked,
		events.HolderLoaded, events.NoteWritten, events.MomentMarked}})
	if err != nil {
		return nil, err
	}
	type told struct {
		about string
		e     events.Entry
	}
	var all []told
	tell := func(about string, e events.Entry) { all = append(all, told{about, e}) }
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
	slices.SortStableFunc(all, func(x, y told) int { return x.e.At.Compare(y.e.At) })
	var out []page.Row
	for _, x := range all {
		at := x.e.At.Format("15:04")
		if dateOf(x.e.At) != dateOf(s.At) {
			at = x.e.At.Format("2006-01-02 15:04")
		}
		out = append(out, page.Row{Cells: []string{x.about, at, sentence(b.snap, x.e)}})
	}
	return out, nil
}

// wordFor says what a text belongs to, where the text alone does not.
var wordFor = map[events.Kind]string{
	events.SheetJudged: "judged", events.SheetExposed: "exposed", events.SheetReprinted: "printed", events.SheetDeveloped: "developed",
	events.SheetFixed: "fixed", events.SheetWashed: "washed", events.SheetDelivered: "delivered", events.LightMetered: "metered",
	events.SheetRinsed: "rinsed", events.SheetToned: "toned", events.SheetDried: "dried", events.SheetWorked: "worked", events.SheetTested: "tested",
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
