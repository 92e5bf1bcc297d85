package pages

import (
	"cmp"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"
	"time"

	"traybook/export/page"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// frontMatter draws the pages before the first chapter: half title, the year in marks, title, how to read, contents.
func (k *yearBook) frontMatter() {
	d := k.doc
	d.NewPage()
	b := k.block()
	row := float64(k.rows()) * 0.36
	k.para(b.X, row, b.W, k.head.Centred().Heading(0), k.title, 2)
	d.NewPage()
	k.yearInMarks(k.block())
	d.NewPage()
	b = k.block()
	d.Bookmark(k.title, 0)
	row = k.para(b.X, float64(k.rows())*0.26, b.W, k.form.title.Centred().Heading(1), k.title, 3) + 1
	if k.owner != "" {
		row = k.para(b.X, row, b.W, k.italic.Centred(), k.owner, 3) + 1
	}
	k.para(b.X, row, b.W, k.body.Centred(), upper(k.period()), 2)
	k.para(b.X, float64(k.rows())-1, b.W, k.note.Centred().In(0.25), k.counted(), 1)
	d.NewPage()
	k.howToReadBook(k.block())
	for i, lines := range k.contents {
		b := k.turn(map[bool]string{true: "", false: "Contents"}[i == 0])
		row := 0.0
		if i == 0 {
			d.Bookmark("Contents", 0)
			if len(lines) < k.rows()/3 { // few words stand lower
				row = k.sink()
			}
			row = k.para(b.X, row, b.W, k.form.title, "Contents", 1) + 1
		}
		k.pour(lines, b.X, row, b.W)
	}
}

// counted says how many pictures the book holds.
func (k *yearBook) counted() string {
	sessions := 0
	for _, g := range k.groups {
		if g.session != nil && len(g.notes) > 0 {
			sessions++
		}
	}
	return wording.CountOf(len(k.all), "picture") + " of " + wording.CountOf(sessions, "session")
}

// yearInMarks draws each picture as a mark on its day, a line for each month, filled where a sheet was kept.
func (k *yearBook) yearInMarks(b page.Rect) {
	words := "Each mark is a picture on its day of the month; it is filled where a sheet of it was kept."
	k.doc.Figure(b, "The year in marks. "+words, func() { k.marks(b) })
	k.para(b.X, float64(k.rows())-2, b.W, k.note.In(0.25), words, 2)
}

// marks draws the months with the marks of their pictures.
func (k *yearBook) marks(b page.Rect) {
	byMonth := map[string][]*pictureNote{}
	most := 1 // on one day
	for _, n := range k.all {
		m := n.at.Format("2006-01")
		byMonth[m] = append(byMonth[m], n)
		onDay := 0
		for _, x := range byMonth[m] {
			if x.at.Day() == n.at.Day() {
				onDay++
			}
		}
		most = max(most, onDay)
	}
	months, several := monthsOf(byMonth)
	const head, foot = 3.0, 3.0
	pitch := min(2.5, (float64(k.rows())-head-foot)/float64(len(months)))
	label := b.W * 0.2
	day := (b.W - label) / 31
	step := min(day*0.8, 0.9*pitch*k.lead/float64(most)) // marks of one day stand on each other, below the line above
	radius := max(0.3, step*0.44)
	for i, m := range months {
		row := head + float64(i)*pitch
		y := k.at(row) + 0.5*k.lead
		name := monthName(m)
		if several {
			name += " " + m[:4]
		}
		k.line(b.X, row, label, k.note, name)
		k.doc.Line(b.X+label, y, b.Right(), y, page.Pen{Width: 0.1, Grey: 0.7})
		onDay := map[int]int{}
		for _, n := range byMonth[m] {
			at := n.at.Day()
			k.mark(b.X+label+(float64(at)-0.5)*day, y-float64(onDay[at])*step, radius, fate(n) == 0)
			onDay[at]++
		}
	}
}

// mark is a disc of a picture that was kept, else a ring.
func (k *yearBook) mark(x, y, radius float64, kept bool) {
	if kept {
		k.doc.Disc(x, y, radius, 0.1)
		return
	}
	k.doc.Disc(x, y, radius, 1)
	k.doc.Circle(x, y, radius, page.Pen{Width: 0.2, Grey: 0.1})
}

// monthsOf lists the months of the pictures, of one year all twelve.
func monthsOf(byMonth map[string][]*pictureNote) (months []string, several bool) {
	months = slices.Sorted(maps.Keys(byMonth))
	year := months[0][:4]
	if months[len(months)-1][:4] != year {
		return months, true
	}
	months = nil
	for m := range 12 {
		months = append(months, fmt.Sprintf("%s-%02d", year, m+1))
	}
	return months, false
}

// monthName is the name of a month that is written 2026-05.
func monthName(m string) string {
	at, _ := time.Parse("2006-01", m)
	return at.Month().String()
}

// howToReadBook explains a spread.
func (k *yearBook) howToReadBook(b page.Rect) {
	row := k.para(b.X, 3, b.W, k.head.Heading(2), "How to read this book", 1) + 1
	w := k.measure()
	for _, text := range []string{
		"On the left of each pair of pages stands the picture, at the size of its sheet: a millimetre of paper is a millimetre of the page. Where a sheet is larger than the page it is shown smaller, and the caption says by how much. Where no scan was made, the outline of the sheet stands in its place.",
		"On the right stands how it was made: the negative, exposed in the camera, and the prints that were made by photographing the negative again; what was done to the sheets, beside what the light, the paper and the baths called for; and what was learnt.",
		"What was called for is known within bounds, which stand in brackets behind it. A grey scale in place of a small picture is a sheet without a scan: the tones that its log predicts.",
		"The curve shows density, the darkness of the paper, over the tones of the scene, in stops from the middle one: unbroken as the sheet was made, dashed as it was called for. A ring is a density that was read on the sheet.",
	} {
		row = k.para(b.X, row, w, k.body, text, 0) + 0.5
		row = float64(int(row + 0.9))
	}
}

// tableOfContents lists chapters and pictures, by page: an odd number of pages, so that the first chapter opens on the left.
func (k *yearBook) tableOfContents() [][]flowLine {
	var out []flowLine
	for _, c := range k.chapters {
		if len(out) > 0 {
			out = append(out, flowLine{rows: 1})
		}
		for i, g := range c.groups {
			text, at, anchor := g.place(), &c.page, c.anchor()
			if g.session != nil {
				text += ", " + dayOf(g.session.At)
			}
			if i > 0 {
				at, anchor = &g.notes[0].page, "picture:"+g.notes[0].entity.Name
			}
			out = append(out, k.entry(0, k.body, text, at, anchor))
			out[len(out)-1].head = true
			for _, n := range g.notes {
				out = append(out, k.entry(5, k.note, joined(", ", n.entity.Name, n.subject), &n.page, "picture:"+n.entity.Name))
			}
		}
	}
	const title = 3 // lines of the first page
	return chapters(out, float64(k.rows()-title), func(n int) int { return n + 1 - n%2 })
}

// entry is one of the contents: what, and on which page, which is known when it is drawn.
func (k *yearBook) entry(indent float64, t page.Type, text string, at *int, anchor string) flowLine {
	const folio, most = 10.0, 3
	w := k.wide() - indent - folio
	t.Hang = hang
	lines := k.lines(w, t, text, most)
	return flowLine{rows: lines, draw: func(x, row, _ float64) {
		k.doc.Link(page.Rect{X: x, Y: k.at(row), W: k.wide(), H: lines * k.lead}, anchor, func() {
			k.para(x+indent, row, w, t, text, most)
			number := t.Right()
			number.Face = page.Serif
			k.line(x+indent+w, row+lines-1, folio, number, fmt.Sprint(*at))
		})
	}}
}

// colophon tells papers, baths, camera and what the book is made of.
func (k *yearBook) colophon() ([]flowLine, error) {
	var out []flowLine
	w := k.measure()
	section := func(title string) {
		if len(out) > 0 {
			out = append(out, flowLine{rows: 1})
		}
		out = append(out, flowLine{rows: 1, head: true, draw: func(x, row, w float64) { k.line(x, row, w, k.body.Heading(3), title) }})
	}
	say := func(text string) {
		out = append(out, flowLine{rows: k.lines(w, k.note, text, 0), draw: func(x, row, _ float64) { k.para(x, row, w, k.note, text, 0) }})
	}
	var papers, baths []string
	err := k.chosen.EachBox(func(x *snapshot.Box) error {
		r := x.Received
		text := x.Entity.Name + ": " + joined(", ", r.Name, baseWords(r.Base), r.Surface, wording.Number(r.WidthMM)+" × "+wording.Number(r.HeightMM)+" mm", wording.CountOf(r.Sheets, "sheet"))
		if paper := x.PaperFor(k.o.Created, snapshot.Negative, "", ""); paper.Index > 0 {
			text += ", metered at index " + wording.Number(paper.Index)
		}
		papers = append(papers, text+".")
		return nil
	})
	if err != nil {
		return nil, err
	}
	err = k.chosen.EachBath(func(x *snapshot.Bath) error {
		r, err := k.chosen.BathRow(x)
		if err != nil {
			return err
		}
		m := x.Mixed
		role := strings.ReplaceAll(m.Role, "-", " ")
		if strings.Contains(strings.ToLower(m.Name), role) {
			role = ""
		}
		baths = append(baths, x.Entity.Name+": "+joined(", ", role, joined(" ", m.Name, m.Dilution), wording.Number(m.VolumeML)+" ml, mixed on "+dayOf(x.At),
			wording.CountOf(r.Line.Sheets, "sheet"))+".")
		return nil
	})
	if err != nil {
		return nil, err
	}
	cameras, err := k.cameras()
	if err != nil {
		return nil, err
	}
	for _, part := range []struct {
		title string
		texts []string
	}{{"The camera", cameras}, {"The papers", papers}, {"The baths", baths}} {
		if len(part.texts) == 0 {
			continue
		}
		section(part.title)
		for _, text := range part.texts {
			say(text)
		}
	}
	section("This book")
	text := "Set in Alegreya by Juan Pablo del Peral, with the figures of tables in DejaVu Sans Condensed. Made by traybook from the log of its pictures, as of " + dayOf(k.o.Created) + "."
	if k.o.Head != "" {
		text += " The newest entry of the log bears the hash " + k.o.Head + "."
	}
	say(text)
	return out, nil
}

// cameras tells the cameras of the pictures.
func (k *yearBook) cameras() ([]string, error) {
	var out []string
	for _, name := range slices.Sorted(maps.Keys(k.camerasUsed)) {
		c, err := k.snap.Camera(name)
		if c, err = wording.IgnoreMissing(c, err); err != nil {
			return nil, err
		}
		if c == nil || c.At(k.o.Created) == nil {
			continue
		}
		x := c.At(k.o.Created)
		lens := fmt.Sprintf("a lens of %s mm, f/%s to f/%s", wording.Number(x.FocalMM), wording.Number(x.FWidest), wording.Number(x.FSmallest))
		out = append(out, name+": "+joined(", ", x.Text, x.Lens, lens)+".")
	}
	return out, nil
}

// noteTerms takes what the index needs of a picture.
func (k *yearBook) noteTerms(s *spread, g *logGroup, c *chapter) {
	if k.terms == nil {
		k.terms, k.camerasUsed = map[string]map[string][]int{}, map[string]bool{}
	}
	addAt := func(kind, term string, at int) {
		if term == "" {
			return
		}
		term = upper(term)
		if k.terms[kind] == nil {
			k.terms[kind] = map[string][]int{}
		}
		if all := k.terms[kind][term]; len(all) == 0 || all[len(all)-1] < at {
			k.terms[kind][term] = append(all, at)
		}
	}
	add := func(kind, term string) { addAt(kind, term, s.note.page) }
	if s.p.Camera != "" {
		k.camerasUsed[s.p.Camera] = true
	}
	if g.session != nil {
		addAt("Places", g.session.Opened.Place, c.page)
		add("Places", g.session.Opened.Place)
	}
	add("Subjects", s.p.Subject)
	for _, ref := range s.note.sitters {
		add("Sitters", k.o.sitterName(ref))
	}
	for _, c := range s.cards {
		add("Papers", c.paper)
		for _, x := range c.symptoms {
			add("What the eye saw", symptomWords([]string{x}))
		}
	}
}

// index lists places, subjects, sitters, papers and symptoms with their pages.
func (k *yearBook) index() ([]flowLine, error) {
	var out []flowLine
	w := k.indexColumn()
	for _, kind := range []string{"Places", "Subjects", "Sitters", "Papers", "What the eye saw"} {
		terms := slices.SortedFunc(maps.Keys(k.terms[kind]), func(a, b string) int {
			return cmp.Or(cmp.Compare(counting(a), counting(b)), cmp.Compare(a, b))
		})
		if len(terms) == 0 {
			continue
		}
		if len(out) > 0 {
			out = append(out, flowLine{rows: 1})
		}
		out = append(out, flowLine{rows: 1, head: true, draw: func(x, row, w float64) { k.line(x, row, w, k.body.Heading(3), kind) }})
		for _, term := range terms {
			text := page.Isolated(term) + "\u00a0\u00a0" + pagesText(k.terms[kind][term])
			out = append(out, flowLine{rows: k.lines(w, k.indexType(), text, 0), draw: func(x, row, w float64) { k.para(x, row, w, k.indexType(), text, 0) }})
		}
	}
	return out, nil
}

var figures = regexp.MustCompile(`\d+`)

var passedOver = strings.NewReplacer("'", "", "’", "", "\"", "", "“", "", "”", "", ",", "", ".", "", ":", "", ";", "", "(", "", ")", "")

// counting is a term as an index sorts it: capitals as small letters, word by word whatever stands between, box-2 before box-10.
func counting(term string) string {
	return figures.ReplaceAllStringFunc(passedOver.Replace(strings.ToLower(term)), func(n string) string { return fmt.Sprintf("%12s", n) })
}

const indexGap, hang = 6.0, 4.0

func (k *yearBook) indexColumn() float64 {
	return (k.wide() - indexGap) / 2
}

func (k *yearBook) indexType() page.Type {
	t := k.note
	t.Face, t.Hang = page.Serif, hang
	return t
}

// pagesText lists pages; pictures that follow each other are a stretch.
func pagesText(pages []int) string {
	var out []string
	for i := 0; i < len(pages); {
		j := i
		for j+1 < len(pages) && pages[j+1] == pages[j]+2 {
			j++
		}
		if j-i >= 2 {
			out = append(out, fmt.Sprintf("%d%s%d", pages[i], wording.Dash, pages[j]))
		} else {
			for _, p := range pages[i : j+1] {
				out = append(out, fmt.Sprint(p))
			}
		}
		i = j + 1
	}
	return strings.Join(out, ", ")
}

// backMatter draws colophon and index.
func (k *yearBook) backMatter(colophon, index []flowLine) {
	const title = 3
	rows := float64(k.rows() - title)
	same := func(n int) int { return n }
	parts := chapters(colophon, rows, same)
	for i, lines := range parts {
		b, row := k.backTurn("Colophon", i == 0, len(parts) == 1 && height(lines) < rows/3)
		k.pour(lines, b.X, row+title, b.W)
	}
	if len(index) == 0 {
		return
	}
	cols := columns(index, rows, func(n int) int { return n + n%2 })
	if len(cols) == 2 && max(height(cols[0]), height(cols[1])) < rows/3 { // side by side they would leave the page bare
		cols = [][]flowLine{index}
	}
	for i := 0; i < len(cols); i += 2 {
		b, row := k.backTurn("Index", i == 0, len(cols) == 1 && height(index) < rows/3)
		for j, lines := range cols[i:min(len(cols), i+2)] {
			k.pour(lines, b.X+float64(j)*(k.indexColumn()+indexGap), row+title, k.indexColumn())
		}
	}
}

// backTurn begins a page of the back matter, its title on the first line, or lower where few words follow.
func (k *yearBook) backTurn(title string, first, few bool) (b page.Rect, row float64) {
	if !first {
		return k.turn(title), 0
	}
	if few {
		row = k.sink()
	}
	b = k.turn("")
	k.doc.Bookmark(title, 0)
	k.para(b.X, row, b.W, k.form.title, title, 1)
	return b, row
}
