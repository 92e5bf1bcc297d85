package pages

import (
	"cmp"
	"fmt"
	"math"
	"strings"

	"traybook/events"
	"traybook/export"
	"traybook/export/page"
	"traybook/export/scan"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

const deviationSpan = 3.0 // stops to each side

// card is one sheet as it is drawn.
type card struct {
	s        *snapshot.Sheet
	scan     *events.SheetAttachedData
	small    *page.Picture         // of the scan, nil where none is at hand
	spoilt   bool                  // its small picture cannot be read
	unseen   bool                  // no small picture was made of the scan, whose original is kept
	gone     bool                  // nor is its original where it was kept
	original *export.Scan          // of which a finer one is made where it is drawn, nil for the small one
	tones    *calledfor.SheetTones // nil where the log says too little
	verdict  string
	exposure calledfor.Step
	develop  calledfor.Step
	fix      calledfor.Step
	paper    string
	washed   string
	symptoms []string
	lines    []numbersLine // under its picture, its name and verdict apart
}

// toldPicture is a picture with its sheets as they are drawn.
type toldPicture struct {
	note  *pictureNote
	p     *snapshot.Picture
	cards []card
	said  []remark
}

func (b *logBook) cardsOf(p *snapshot.Picture) ([]card, error) {
	tones, err := calledfor.TonesOf(b.snap, p)
	if err != nil {
		return nil, err
	}
	var out []card
	for _, s := range p.Sheets {
		c := card{s: s, scan: attachedTo(s)}
		if t, ok := tones[s.Name]; ok {
			c.tones = &t
		}
		if c.scan != nil && b.o.Thumb != nil {
			data, seen := b.o.Thumb(c.scan.SHA256)
			if c.unseen = !seen; data != nil {
				p, err := page.ReadPicture(data)
				c.small, c.spoilt = p, err != nil
			}
			c.gone = c.unseen && b.o.Kept != nil && !b.o.Kept(c.scan)
		}
		if j := s.Verdict(); j != nil {
			c.verdict, c.symptoms = j.Verdict, j.Symptoms
		}
		if e := s.Exposure(); e != nil {
			if c.exposure, err = calledfor.StepOf(b.snap, p, *e); err != nil {
				return nil, err
			}
		}
		if c.develop, _, _, err = export.LastStay(b.snap, p, s.Developed); err != nil {
			return nil, err
		}
		var inAll float64
		if c.fix, _, inAll, err = export.LastStay(b.snap, p, s.Fixed); err != nil {
			return nil, err
		}
		if c.fix.DoneS != nil {
			c.fix.DoneS = &inAll // as the deviation beside it counts
		}
		_, box, err := calledfor.PaperAt(b.snap, s)
		if err != nil {
			return nil, err
		}
		c.paper = s.Box
		if box != nil && box.Received != nil {
			c.paper += " " + box.Received.Name
		}
		c.washed = washText(s)
		c.lines = c.numbers()
		out = append(out, c)
	}
	return out, nil
}

// fineCardsOf is cardsOf with the originals of the scans, where they are wanted.
func (b *logBook) fineCardsOf(p *snapshot.Picture) ([]card, error) {
	cards, err := b.cardsOf(p)
	for i := range cards {
		if c := &cards[i]; c.scan != nil && b.o.Original != nil {
			c.original = b.o.Original(c.scan.SHA256)
		}
	}
	return cards, err
}

func washText(s *snapshot.Sheet) string {
	if len(s.Washed) == 0 {
		return "not washed"
	}
	if len(s.WashedSince()) == 0 { // whatever came of the sheet since: a print may be delivered so
		return "fixed again, not washed since"
	}
	x := s.Washed[len(s.Washed)-1].Data.(*events.SheetWashedData)
	text := "washed"
	if x.Changes != nil {
		text += fmt.Sprintf(" %d×", *x.Changes)
		if x.VolumeML != nil {
			text += " " + wording.Number(*x.VolumeML) + " ml"
		}
	}
	if x.RunningS != nil {
		text += " running " + wording.Seconds(*x.RunningS)
	}
	if x.Aid != "" {
		text += ", aid " + x.Aid
	}
	return text
}

// pictureLine tells number, time, subject and sitter over a picture's sheets and returns the height that it needs; with
// draw it draws them, and notes the page.
func (b *logBook) pictureLine(r page.Rect, k block, draw bool) float64 {
	d := b.doc
	if draw {
		b.pictureName(r, k)
	}
	const most = 4 // lines of a subject; the index has it in full
	subject := page.Set(7, page.Regular)
	y := r.Y + 4.6
	for _, text := range []string{k.p.Subject, b.o.sitterName(k.p.Sitter)} {
		if text == "" || k.more {
			continue
		}
		if draw {
			y = d.Para(r.X, y, r.W, subject, text, most)
		} else {
			y += d.ParaHeight(r.W, subject, text, most)
		}
	}
	return y - r.Y + 0.8
}

// pictureName tells a picture's number and hour, and notes the page.
func (b *logBook) pictureName(r page.Rect, k block) {
	d := b.doc
	d.Rule(r.X, r.Y, r.W, page.Pen{Width: 0.35})
	bold := page.Set(8, page.Bold).Heading(3)
	name, when := k.p.Entity.Name, k.note.at.Format("2006-01-02 15:04")
	if k.more {
		name, when = name+", continued", ""
	} else {
		k.note.page = d.Page()
		d.Anchor("picture:"+k.p.Entity.Name, r.Y)
		d.BookmarkAt(joined(" ", k.p.Entity.Name, k.p.Subject), 1, r.Y)
	}
	w := d.Width(bold, name)
	d.Text(r.X, r.Y+0.8, min(w+1, r.W), bold, name)
	d.Text(r.X+w+2, r.Y+1.2, max(1, r.W-w-2), smallType.In(0.3), when)
}

// numbersLine is a line of a card's numbers, with how far it was off where something called for it.
type numbersLine struct {
	text string
	step *calledfor.Step
}

// numbers are the lines under a sheet's picture, its name and verdict apart.
func (c card) numbers() []numbersLine {
	lines := []numbersLine{{exposureText(c), &c.exposure}, {calledText(c.exposure), nil}, {bathText("developed", c.develop), stepIf(c.develop)},
		{bathText("fixed", c.fix), stepIf(c.fix)}, {c.washed, nil}, {c.paper, nil}}
	if len(c.symptoms) > 0 {
		lines = append(lines, numbersLine{joinWords(c.symptoms), nil})
	}
	return lines
}

// width is the room that a line has of a card's, mm; the rest is its scale's.
func (l numbersLine) width(card float64) float64 {
	if l.step == nil {
		return card
	}
	return card - deviationWidth - 1
}

const deviationWidth = 16.5 // mm

// cardHeight is the height of a card's numbers in a width, mm.
func cardHeight(d *page.Doc, c card, width float64) float64 {
	lines := 1.0
	for _, l := range c.lines {
		lines += max(1, float64(len(d.Wrap(l.width(width), smallType, l.text))))
	}
	return lines * page.LineHeight(smallType.Size)
}

// card draws one sheet: its picture or the tones its log predicts, and its numbers.
func (b *logBook) card(row sheetRow, cell page.Rect, c card) {
	d := b.doc
	frame, r := row.places(cell, c)
	line := page.LineHeight(smallType.Size)
	mark := c.verdict
	if mark == "" {
		mark = cmp.Or(c.s.State, "no act")
	}
	bold := page.Set(smallType.Size, page.Bold)
	d.Paragraph(func() {
		d.Text(r.X, r.Y, r.W*0.3, bold, c.s.Part)
		d.Text(r.X+r.W*0.3, r.Y, r.W*0.7, bold.Right(), capital(mark))
	})
	drawSheet(d, frame, c, failed(c.verdict))
	y := r.Y + line
	for _, l := range c.lines {
		under := d.Para(r.X, y, l.width(r.W), smallType, l.text, 0)
		if l.step != nil {
			stops := math.NaN()
			if l.step.DeviationStops != nil {
				stops = *l.step.DeviationStops
			}
			d.Deviation(page.Rect{X: r.Right() - deviationWidth, Y: y + 0.35, W: deviationWidth, H: line - 0.7}, stops, deviationSpan)
		}
		y = under
	}
}

func capital(word string) string { return strings.ToUpper(word[:1]) + word[1:] }

// joinWords writes symptoms or causes as they are read: fogged highlights, weak blacks.
func joinWords(words []string) string { return inWords(strings.Join(words, ", ")) }

// inWords is a symptom, a cause or a role as it is read and not as it is typed: cap mistimed.
func inWords(word string) string { return strings.ReplaceAll(word, "-", " ") }

// sentence is what an entry says, its symptoms as they are read.
func sentence(snap *snapshot.Snapshot, e events.Entry) string {
	text := snap.Sentence(e)
	if x, ok := e.Data.(*events.SheetJudgedData); ok {
		for _, s := range x.Symptoms {
			text = strings.Replace(text, s, inWords(s), 1)
		}
	}
	for _, field := range []string{"subject", "text"} {
		if said := export.FieldText(e.Data, field); said != "" {
			text = strings.Replace(text, said, page.Quoted(said), 1)
		}
	}
	return page.IsolatedWithin(text)
}

func stepIf(s calledfor.Step) *calledfor.Step {
	if s.DoneS == nil {
		return nil
	}
	return &s
}

func exposureText(c card) string {
	s := c.exposure
	if s.DoneS == nil {
		return "not exposed"
	}
	text := wording.Seconds(*s.DoneS)
	if s.SetF > 0 {
		text = "f/" + wording.Number(s.SetF) + " " + text
	}
	if n := len(c.s.Exposures); n > 1 {
		text += fmt.Sprintf(", one of %d", n)
	}
	switch x := s.Entry.Data.(type) {
	case *events.SheetExposedData:
		if x.Filter != "" {
			text += ", " + x.Filter
		}
	case *events.SheetReprintedData:
		if x.Way != "" && x.Way != "camera" {
			text += ", " + x.Way
		}
		if x.Filter != "" {
			text += ", " + x.Filter
		}
	}
	return text
}

// calledText is what an exposure called for. What was done stands above it on the card.
func calledText(s calledfor.Step) string {
	if s.CalledForS == nil {
		return "nothing calls for a time"
	}
	call, _ := s.Call()
	switch {
	case s.DeviationStops == nil || s.DoneS == nil:
		return call.Told()
	case wording.Agrees(call.Kind, call.S, *s.DoneS, *s.DeviationStops, 0):
		return wording.AsCalledFor
	}
	return "called for " + call.Brief() + ": " + wording.OffBy(call.Kind, call.S, *s.DoneS, *s.DeviationStops, 0)
}

func bathText(what string, s calledfor.Step) string {
	if s.DoneS == nil {
		return "not " + what
	}
	text := cmp.Or(events.PlacesOf(s.Entry.Data).Bath, what) + " " + wording.Seconds(*s.DoneS)
	if s.TempC != 0 {
		text += " " + wording.Number(s.TempC) + " °C"
	}
	return text
}

// picture is that of a sheet's scan, as fine as the paper shows in the frame where its original can be read.
func (c card) picture(frame page.Rect) *page.Picture {
	if c.original != nil {
		if fine, err := makePlate(plateJob{original: c.original, longMM: max(frame.W, frame.H)}); err == nil {
			if p, err := page.ReadPicture(fine); err == nil {
				return p
			}
		}
	}
	return c.small
}

// drawSheet draws the scan, or in its place the tones that the log predicts, and returns the box it stands in. What is struck
// through has its words beside the diagonals or over them.
func drawSheet(d *page.Doc, frame page.Rect, c card, struck bool) page.Rect {
	strike := func(at page.Rect) {
		if struck {
			d.Strike(at)
		}
	}
	why, short := "no scan", ""
	if c.scan != nil {
		if why = "scan not at hand"; c.unseen {
			short = "kept without a small picture"
			if c.gone {
				short = "scan not at hand"
			}
			why = short + ": " + originalWords(c.s, c.scan)
		}
		if c.spoilt {
			why, short = "scan unreadable", ""
		}
		if picture := c.picture(frame); picture != nil {
			at := d.Picture("scan of "+c.s.Name, picture, frame)
			d.Box(at, page.Pen{Width: 0.15, Grey: 0.4})
			strike(at)
			if c.scan.Of == "inverted" && c.s.Generation == snapshot.Negative {
				label := page.Rect{X: at.X, Y: at.Bottom() - 3, W: d.Width(smallType, "inverted") + 2, H: 3}
				d.Fill(label, 1)
				d.Text(label.X+1, label.Y, label.W, smallType, "inverted")
			}
			return at
		}
	}
	d.Box(frame, page.Pen{Width: 0.15, Grey: 0.6})
	inner := frame.Inset(1.5)
	line := page.LineHeight(smallType.Size)
	if c.tones == nil {
		lines := 2
		if short != "" {
			lines = 5 // a name and a media type may be long
		}
		text := roomiest(d, inner, lines, why+"; the log says too little to predict its tones", why, short)
		height := d.ParaHeight(inner.W, smallType, text, lines)
		d.Para(inner.X, inner.Bottom()-height, inner.W, smallType.Centred().In(0.3), text, lines)
		strike(page.Rect{X: frame.X, Y: frame.Y, W: frame.W, H: inner.Bottom() - height - frame.Y})
		return frame
	}
	_, made, _ := c.tones.Densities()
	tones := make([]float64, len(made))
	for i, v := range made { // from the lightest thing in the scene to the darkest
		tones[len(tones)-1-i] = max(0, v-paperWhite)
	}
	label, lines := why+": tones predicted", 1.0
	switch {
	case short != "":
		lower := page.Rect{W: inner.W, H: inner.H / 2}
		label = roomiest(d, lower, 4, why+"; tones predicted", short+"; tones predicted", "kept")
		lines = math.Round(d.ParaHeight(inner.W, smallType, label, 4) / line)
	case d.Width(smallType, label) > inner.W:
		label = "tones predicted"
		lines = math.Min(2, math.Round(d.ParaHeight(inner.W, smallType, label, 2)/line))
	}
	if d.Width(smallType, "predicted") > inner.W { // it is the grey scale that tells
		label, lines = "", 0
	}
	scale := page.Rect{X: inner.X, Y: inner.Y, W: inner.W, H: inner.H - lines*line - 0.6}
	d.GreyScale(scale, tones, nil)
	strike(scale)
	if label != "" {
		d.Para(inner.X, scale.Bottom()+0.4, inner.W, smallType.Centred().In(0.3), label, int(lines))
	}
	return scale
}

// roomiest is the first of some texts that stands in a box on so many lines, the last one that says anything where none does.
func roomiest(d *page.Doc, box page.Rect, lines int, texts ...string) (text string) {
	for _, s := range texts {
		if s == "" {
			break
		}
		text = s
		height := d.ParaHeight(box.W, smallType, s, 0)
		if height <= box.H && height <= (float64(lines)+0.5)*page.LineHeight(smallType.Size) {
			break
		}
	}
	return text
}

// originalWords tells an original by its sheet, with its sort and its size.
func originalWords(s *snapshot.Sheet, x *events.SheetAttachedData) string {
	ending := scan.Info{MediaType: x.Media, Ending: x.Ending}.Ext()
	return joined(", ", s.Name+ending, x.Media, bytesText(x.Bytes))
}

// bytesText is the size of a file.
func bytesText(n int64) string {
	switch {
	case n < 1e3:
		return wording.CountOf(int(n), "byte")
	case n < 1e6:
		return fmt.Sprintf("%.0f kB", float64(n)/1e3)
	}
	return fmt.Sprintf("%.1f MB", float64(n)/1e6)
}

// paperWhite is the density of bare paper that the page's own white stands for.
const paperWhite = 0.08
