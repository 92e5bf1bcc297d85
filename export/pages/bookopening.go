package pages

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"traybook/calc"
	"traybook/export/page"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// opening draws the two pages before the pictures of a chapter: where and when and in what light on the left, its
// pictures, small, on the right.
func (k *yearBook) opening(c *chapter, light [][]lightRow, spreads []*spread) {
	b := k.turn(k.title)
	const level = 0
	first := c.groups[0]
	title := first.place()
	if first.session != nil {
		title = joined(", ", title, dayOf(first.session.At))
	}
	k.doc.Bookmark(title, level)
	k.doc.Anchor(c.anchor(), 0)
	row := k.sink()
	sink := row
	if len(c.groups) == 1 {
		k.openAlone(b, row, first, light[0])
	} else {
		row = 3
		share := (float64(k.rows()) - row) / float64(len(c.groups))
		for i, g := range c.groups {
			k.openShared(b, row, share-1, g, light[i])
			row += math.Floor(share)
		}
		sink = 3
	}
	b = k.turn(title)
	k.contact(b, sink, spreads)
}

func (c *chapter) anchor() string { return "chapter:" + c.groups[0].notes[0].entity.Name }

// openAlone opens one session over a whole page.
func (k *yearBook) openAlone(b page.Rect, row float64, g *logGroup, light []lightRow) {
	last := float64(k.rows())
	row = k.heading(b.X, row, b.W, k.form.title, g.place(), 3)
	s := g.session
	if s == nil {
		k.para(b.X, row, k.measure(), k.italic, noSession, 2)
		return
	}
	row = k.para(b.X, row, b.W, k.italic, sessionTime(s), 2) + 1
	if facts := k.factsOf(s); facts != "" {
		row = k.para(b.X, row, k.measure(), k.body, facts, 4)
	} else if s.Opened.Text == "" && len(light) == 0 {
		k.para(b.X, row, k.measure(), k.italic.In(0.25), "Nothing was noted of its light.", 1)
	}
	if t := s.Opened.Text; t != "" {
		row = k.para(b.X, row, k.measure(), k.italic, quoted(t), 4)
	}
	row++
	if chart := sceneLight(light); len(chart) > 1 && last-row >= 16 {
		lines := math.Min(12, math.Floor((last-row)/2))
		k.lightChart(page.Rect{X: b.X, Y: k.at(row), W: b.W, H: lines * k.lead}, chart, s)
		row += lines + 1
	}
	k.lightTable(b, row, last, light)
}

const noSession = "These were exposed while no session was open."

// openShared opens one of several sessions on a page, within so many lines.
func (k *yearBook) openShared(b page.Rect, row, lines float64, g *logGroup, light []lightRow) {
	end := row + lines
	row = k.heading(b.X, row, b.W, k.head.Heading(2), g.place(), 2)
	s := g.session
	if s == nil {
		k.para(b.X, row, k.measure(), k.italic, noSession, 2)
		return
	}
	row = k.para(b.X, row, b.W, k.italic, sessionTime(s), 1)
	for _, text := range []string{k.factsOf(s), lightWords(light)} {
		if room := end - row; text != "" && room >= 1 {
			row = k.para(b.X, row, k.measure(), k.body, text, int(room))
		}
	}
	if t := s.Opened.Text; t != "" && end-row >= 1 {
		k.para(b.X, row, k.measure(), k.italic, quoted(t), int(end-row))
	}
}

// sessionTime is a session's day with its hours.
func sessionTime(s *snapshot.Session) string {
	when := dayOf(s.At) + ", from " + s.At.Format("15:04")
	switch {
	case s.ClosedAt.IsZero():
		return when
	case dateOf(s.At) == dateOf(s.ClosedAt):
		return when + " to " + s.ClosedAt.Format("15:04")
	}
	return when + " to " + dayOf(s.ClosedAt) + ", " + s.ClosedAt.Format("15:04")
}

// factsOf tells sky, light, sun and company of a session in sentences.
func (k *yearBook) factsOf(s *snapshot.Session) string {
	o := s.Opened
	var out []string
	say := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	sky := map[string]string{"clear": "A clear sky", "thin": "Thin cloud", "cloud": "A clouded sky", "dark": "Dark cloud"}[o.Sky]
	light := map[string]string{"sun": "the light was the sun’s", "shade": "the work was in shade", "overcast": "the light was overcast", "dusk": "it was dusk", "lamp": "the light was a lamp’s"}[o.Light]
	if text := joined("; ", sky, light); text != "" {
		say("%s.", upper(text))
	}
	if o.Lat != nil && o.Lon != nil {
		if day, err := calc.SunOn(s.At, *o.Lat, *o.Lon); err == nil {
			say("%s", sunWords(day))
		}
		say("The place lies at %s, %s.", degrees(*o.Lat, "N", "S"), degrees(*o.Lon, "E", "W"))
	}
	if o.Helper != "" {
		say("With %s.", o.Helper)
	}
	return strings.Join(out, " ")
}

func sunWords(d calc.SunDay) string {
	switch {
	case d.UpAllDay():
		return "The sun did not set."
	case d.DownAllDay():
		return "The sun did not rise."
	case d.Sunrise.IsZero() || d.Sunset.IsZero():
		return ""
	}
	minute := func(t time.Time) string { return t.Round(time.Minute).Format("15:04") }
	return fmt.Sprintf("The sun rose at %s, stood highest at %s, %.0f° above the horizon, and set at %s.", minute(d.Sunrise), minute(d.Transit), d.HighestDeg, minute(d.Sunset))
}

// sceneLight are the readings on the scene that come to an exposure value.
func sceneLight(rows []lightRow) (out []lightRow) {
	for _, r := range rows {
		if r.r.On == "scene" && !math.IsNaN(r.ev) {
			out = append(out, r)
		}
	}
	return out
}

// lightWords tells the light on the scene in a sentence.
func lightWords(rows []lightRow) string {
	var out []string
	for _, r := range sceneLight(rows) {
		out = append(out, fmt.Sprintf("%.1f at %s", r.ev, r.e.At.Format("15:04")))
	}
	if len(out) == 0 {
		return ""
	}
	return "The scene read EV " + strings.Join(out, ", ") + ", at index 100."
}

// lightTable lists the readings, as many as have room down to a line.
func (k *yearBook) lightTable(b page.Rect, row, last float64, rows []lightRow) {
	t := page.Table{Size: k.data.Size, Gap: 3, Columns: []page.Column{{Head: "at", Width: page.Natural}, {Head: "read on", Width: page.Natural},
		{Head: "reading", Wrap: true}, {Head: "EV 100", Width: page.Natural, Align: page.Right}}}
	height := page.LineHeight(t.Size) + 1.1
	room := int(((last-row)*k.lead - height) / height)
	if len(rows) == 0 || room < 2 {
		return
	}
	shown := rows
	if len(rows) > room {
		shown = rows[:room-1]
	}
	for _, r := range shown {
		ev := ""
		if !math.IsNaN(r.ev) {
			ev = fmt.Sprintf("%.1f", r.ev)
		}
		t.Rows = append(t.Rows, page.Row{Cells: []string{r.e.At.Format("15:04"), joined(", ", r.r.On, r.r.Of), k.doc.Fit(b.W*0.5, k.data, readingText(r.r)), ev}})
	}
	if n := len(rows) - len(shown); n > 0 {
		t.Rows = append(t.Rows, page.Row{Grey: 0.3, Cells: []string{"", "", "and " + wording.CountOf(n, "reading") + " more"}})
	}
	k.doc.Table(b.X, k.at(row), b.W, t)
}

// contact shows the pictures of a chapter, each leading to its page.
func (k *yearBook) contact(b page.Rect, row float64, spreads []*spread) {
	const gap = 5.0
	high, most := 0.78, 2.0 // of a cell over its width; lines of words under a picture
	if !slices.ContainsFunc(spreads, func(s *spread) bool { return s.sheet.h <= s.sheet.w }) {
		high, most = 1.3, 3 // all stand upright
	}
	words := most + 1 // and white
	cols, lines := 0, 0.0
	for cols = 2; ; cols++ {
		w := (b.W - float64(cols-1)*gap) / float64(cols)
		lines = math.Floor(w * high / k.lead)
		down := math.Ceil(float64(len(spreads)) / float64(cols))
		if down*(lines+words) <= float64(k.rows())-row+1 {
			break
		}
		if down*(lines+words) <= float64(k.rows())+1 || cols == 6 { // as large, from the top of the page
			row = math.Max(0, float64(k.rows())+1-down*(lines+words))
			break
		}
	}
	w := (b.W - float64(cols-1)*gap) / float64(cols)
	narrow := slices.ContainsFunc(spreads, func(s *spread) bool { // a number has no room beside its page
		return k.doc.Width(k.note, s.p.Entity.Name+" "+fmt.Sprint(s.note.page))+1 > w
	})
	for i, s := range spreads {
		x, y := b.X+float64(i%cols)*(w+gap), row+float64(i/cols)*(lines+words)
		frame := page.Rect{X: x, Y: k.at(y), W: w, H: lines * k.lead}
		c := card{s: &snapshot.Sheet{Name: s.p.Entity.Name}}
		if s.best != nil {
			c = *s.best
		}
		small := s.fitted(frame, c)
		small.Y = frame.Bottom() - small.H // above its words
		drawSheet(k.doc, small, c, false)
		folio := fmt.Sprint(s.note.page)
		fw := k.doc.Width(k.note, folio) + 1
		k.doc.Link(frame, "picture:"+s.p.Entity.Name, func() {
			if narrow { // the page stands under the words
				under := k.para(x, y+lines, w, k.note, joined(" ", s.p.Entity.Name, s.p.Subject), int(most)-1)
				k.line(x, under, w, k.note.In(0.25), folio)
				return
			}
			k.para(x, y+lines, w-fw, k.note, joined(" ", s.p.Entity.Name, s.p.Subject), int(most))
			k.line(x+w-fw, y+lines, fw, k.note.Right(), folio)
		})
	}
}
