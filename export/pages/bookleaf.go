package pages

import (
	"fmt"
	"math"
	"strings"
	"unicode/utf8"

	"traybook/events"
	"traybook/export"
	"traybook/export/page"
	"traybook/projections/snapshot"
	"traybook/projections/why"
	"traybook/projections/wording"
)

// leaf draws the right page of a picture: what it is, its family, the acts, its tones, what was learnt.
func (k *yearBook) leaf(s *spread) {
	b := k.turn(s.head)
	row := k.leafHead(b, s)
	row = k.bookFamily(b, row+1, s)
	const foot = 11 // lines kept for tones and what was learnt
	row = k.actTable(b, row+1, float64(k.rows())-foot, s.acts)
	k.leafFoot(b, row+1, s)
}

// leafHead tells number, subject, when and where, and who sat.
func (k *yearBook) leafHead(b page.Rect, s *spread) float64 {
	n := s.note
	title := s.p.Subject
	if title == "" {
		title = s.p.Entity.Name
	}
	t, most := k.head, 2
	if k.lines(b.W, t, title, 0) > 3 { // more than two lines of it
		t, most = k.long, 4
	}
	row := k.heading(b.X, 0, b.W, t, upper(title), most)
	number, camera, sitters := "", "", k.sittersOf(n)
	if s.p.Subject != "" {
		number = s.p.Entity.Name
	}
	if s.p.Camera != "" {
		camera = "camera " + s.p.Camera
	}
	when := dayOf(n.at)
	if when != "" {
		when += " at " + n.at.Format("15:04")
	}
	place := ""
	if s.session != nil && s.session.Opened != nil {
		place = s.session.Opened.Place
	}
	row = k.para(b.X, row, b.W, k.italic, joined(", ", number, when), 1)
	return k.para(b.X, row, b.W, k.italic.In(0.25), joined(" · ", place, sitters, camera), 2)
}

// bookFamily draws the negative and its prints, small, in one row.
func (k *yearBook) bookFamily(b page.Rect, row float64, s *spread) float64 {
	const gap, least, most = 3.0, 4, 6
	shown := s.cards
	switch {
	case len(shown) == 0:
		return row
	case len(shown) == 1:
		text := upper(sheetWords(shown[0].s)) + " " + verdictWords(shown[0].s.Verdict())
		if shown[0].s.Generation == snapshot.Negative {
			text += "; no print was made of it"
		}
		return k.para(b.X, row, b.W, k.italic, text+".", 1)
	case len(shown) > most:
		shown = append(append([]card{}, shown[0]), shown[len(shown)-most+1:]...)
	}
	cols := max(least, len(shown))
	w := (b.W - float64(cols-1)*gap) / float64(cols)
	high := 0.8
	if s.sheet.h > s.sheet.w {
		high = 1
	}
	lines := math.Round(w * high / k.lead)
	top, rail := k.at(row), 0.5*k.lead
	pen, before := page.Pen{Width: 0.2, Grey: 0.4}, 0.0
	for i, c := range shown {
		x := b.X + float64(i)*(w+gap)
		at := s.fitted(page.Rect{X: x, Y: top + rail, W: w, H: lines*k.lead - rail}, c)
		drawSheet(k.doc, at, c, false)
		middle := x + at.W/2
		k.doc.Line(middle, top+rail/2, middle, at.Y, pen)
		if i > 0 {
			k.doc.Line(before, top+rail/2, middle, top+rail/2, pen)
		}
		before = middle
		k.line(x, row+lines, w, k.note, upper(strings.TrimPrefix(sheetWords(c.s), "the ")))
		k.line(x, row+lines+1, w, k.note.In(0.25), verdictShort(c.s.Verdict()))
	}
	row += lines + 2
	if n := len(s.cards) - len(shown); n > 0 {
		row = k.para(b.X, row, b.W, k.note.In(0.25), wording.CountOf(n, "earlier print")+" not shown.", 1)
	}
	return row
}

// verdictShort has room under a small picture.
func verdictShort(j *events.SheetJudgedData) string {
	if j != nil && j.Verdict == "redo" {
		return "to redo"
	}
	return strings.TrimPrefix(verdictWords(j), "was ")
}

// actTable sets what was done beside what was called for, down to a line at the most.
func (k *yearBook) actTable(b page.Rect, row, last float64, groups []actGroup) float64 {
	if len(groups) == 0 {
		return k.para(b.X, row, b.W, k.italic.In(0.25), "Nothing was done to it that takes a time.", 1)
	}
	t := page.Table{Size: k.data.Size, Gap: 3, Columns: []page.Column{
		{Wrap: true}, {Head: "done", Width: page.Natural, Align: page.Right},
		{Head: "called for", Width: page.Natural, Align: page.Right}, {Head: "off by", Width: b.W * 0.24, Wrap: true},
	}}
	room := (last-row)*k.lead - 3*page.LineHeight(t.Size)
	var left [][]string
	for _, g := range groups {
		if room > 2*page.LineHeight(t.Size) {
			t.Rows = append(t.Rows, page.Row{Section: true, Cells: []string{g.title}})
			room -= 1.6 * page.LineHeight(t.Size)
		}
		for _, cells := range g.rows {
			need := math.Max(1, float64(len(k.doc.Wrap(b.W*0.24, k.data, cells[3])))) * (page.LineHeight(t.Size) + 1.1)
			if room < need {
				left = append(left, cells)
				continue
			}
			room -= need
			t.Rows = append(t.Rows, page.Row{Cells: cells})
		}
	}
	switch len(left) {
	case 0:
	case 1: // as high as the line that would tell of it
		t.Rows = append(t.Rows, page.Row{Cells: left[0]})
	default:
		t.Rows = append(t.Rows, page.Row{Grey: 0.3, Cells: []string{"and " + wording.CountOf(len(left), "act") + " more"}})
	}
	return k.row(k.doc.Table(b.X, k.at(row), b.W, t))
}

// leafFoot draws the tones of the plate, and beside them what was learnt.
func (k *yearBook) leafFoot(b page.Rect, row float64, s *spread) {
	x, w := b.X, b.W
	if s.best != nil && s.best.tones != nil {
		chart := b.W * 0.42
		height := math.Min(float64(k.rows())-row, 14) * k.lead
		toneChart(k.doc, page.Rect{X: b.X, Y: k.at(row), W: chart, H: height}, *s.best, "density; dashed as called for")
		x, w = b.X+chart+5, b.W-chart-5
	} else {
		last := k.row(k.doc.Sheet().H / 3) // no page ends above it
		for i, l := range s.learnt {
			if last -= k.lines(math.Min(w, k.measure()), k.body, l.text, 0); i == 0 {
				last++
			}
		}
		row = max(row, last)
	}
	w = math.Min(w, k.measure())
	last := float64(k.rows())
	if len(s.learnt) == 0 {
		k.para(x, row, w, k.italic.In(0.25), "Nobody has judged it yet.", 2)
	}
	for i, l := range s.learnt {
		t := k.body
		if l.own {
			t = k.italic
		}
		need := k.lines(w, t, l.text, 0)
		if room := last - row; need > room || i+1 < len(s.learnt) && need == room {
			const least = 4 // lines of a saying that is cut: fewer tell nothing
			if room > least {
				k.para(x, row, w, t, l.text, int(room)-1)
			}
			if room >= 1 {
				k.para(x, last-1, w, k.note.In(0.3), "The log has more.", 1)
			}
			return
		}
		row = k.para(x, row, w, t, l.text, 0)
	}
}

// saying is something said of a picture; own are the photographer's words.
type saying struct {
	text string
	own  bool
}

// quoted are the photographer's own words, with a full stop where they end without any.
func quoted(text string) string {
	text = strings.NewReplacer("“", "‘", "”", "’").Replace(curly(strings.TrimSpace(text)))
	if end, _ := utf8.DecodeLastRuneInString(text); !strings.ContainsRune(".!?…。！？؟։", end) {
		text += "."
	}
	return "“" + text + "”"
}

// suspected tells what the log cannot: that it was right, or too empty, and by what test the likeliest of those suspects is
// told from the others.
func suspected(d why.Diagnosis) []saying {
	for _, s := range d.Suspicions {
		if s.Answer != d.Answer || s.Answer == why.LogExplains {
			continue
		}
		text := "The log was right, so far as it tells: the fault lies where it cannot see."
		if s.Answer == why.LogEmpty {
			text = "The log is too empty to tell."
		}
		for _, x := range s.Suspects {
			if x.State != why.RuledOut {
				return []saying{{text: fmt.Sprintf("%s It may be that %s. %s", text, x.Text, x.Test)}}
			}
		}
		return []saying{{text: text}}
	}
	return nil
}

// learntFrom tells what was learnt of a picture: what was said of its sheets, why it came out so, what to do next time, and
// whom to suspect where the log cannot tell.
func learntFrom(p *snapshot.Picture, d why.Diagnosis) (out []saying) {
	judged, good := false, true
	for _, s := range p.Sheets {
		j := s.Verdict()
		if j == nil {
			continue
		}
		judged, good = true, good && j.Verdict == "keep"
		text := ""
		if len(j.Symptoms) > 0 {
			text = symptomWords(j.Symptoms) + "."
		}
		if j.Text != "" {
			text = strings.TrimSpace(text + " " + page.Isolated(quoted(j.Text)))
		}
		if text != "" {
			out = append(out, saying{text: upper(sheetWords(s)) + ": " + text})
		}
	}
	if !judged {
		return nil
	}
	const most = 3 // sheets of which something is said: the last ones
	out = out[max(0, len(out)-most):]
	if good && len(d.Findings) == 0 {
		return append(out, saying{text: "It came out as it was meant."})
	}
	for i, f := range d.Findings[:min(len(d.Findings), why.WhyLines)] {
		if i == 0 || f.Text != d.Findings[0].Text {
			out = append(out, saying{text: upper(f.Odds) + ": " + f.Text + "."})
		}
		if i == 0 && f.Next != "" { // before what else may be, which a full page leaves to the log
			out = append(out, saying{text: "Next time: " + f.Next + "."})
		}
	}
	out = append(out, suspected(d)...)
	for _, e := range p.All {
		if x, ok := e.Data.(*events.NoteWrittenData); ok {
			out = append(out, saying{quoted(export.FieldText(x, "text")), true})
		}
	}
	return out
}
