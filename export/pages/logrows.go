package pages

import (
	"math"
	"slices"

	"traybook/export/page"
)

// The rows of a contact sheet: up to four sheets stand side by side, those of one picture under its line, and fill the width.
const (
	mostCells   = 4
	cardGap     = 3.0  // mm
	rowGap      = 4.0  // mm
	cardLeast   = 41.0 // mm: narrower, the longest usual line of a card breaks
	imageMost   = 46.0 // mm, height of a sheet's picture
	besideShare = 0.53 // of a cell, for the picture where its numbers stand beside it
	besideGap   = 2.5  // mm, between the two
	numbersMost = 70.0 // mm, width of a card's numbers
	remarkMost  = 10   // lines of remarks under a picture; longer ones stand under the row, over the whole width
)

// rowCosts say how much a row of so many sheets is to be avoided: four fill it, of fewer each is larger.
var rowCosts = [...]float64{1: 6, 2: 2.5, 3: 0.6, 4: 0}

// block is a picture with one to four of its sheets, standing side by side.
type block struct {
	toldPicture
	more bool // goes on from the block before
}

func (k block) cells() int { return max(1, len(k.cards)) }

// blocksOf divides each picture of more sheets than a row holds into blocks of about as many each.
func blocksOf(pictures []toldPicture) (out []block) {
	for _, p := range pictures {
		parts := max(1, (len(p.cards)+mostCells-1)/mostCells)
		for i := range parts {
			k := block{p, i > 0}
			k.cards = p.cards[len(p.cards)*i/parts : len(p.cards)*(i+1)/parts]
			out = append(out, k)
		}
	}
	return out
}

// rowsOf divides blocks into rows, in their order, at the least cost of all of them together.
func rowsOf(blocks []block) (rows [][]block) {
	costs, begins := make([]float64, len(blocks)+1), make([]int, len(blocks)+1)
	for end := 1; end <= len(blocks); end++ {
		costs[end] = math.Inf(1)
		for begin, cells := end-1, 0; begin >= 0; begin-- {
			if cells += blocks[begin].cells(); cells > mostCells {
				break
			}
			if cost := costs[begin] + rowCosts[cells]; cost < costs[end] {
				costs[end], begins[end] = cost, begin
			}
		}
	}
	for end := len(blocks); end > 0; end = begins[end] {
		rows = append(rows, blocks[begins[end]:end])
	}
	slices.Reverse(rows)
	return rows
}

// sheetRow is a row with its measures, mm.
type sheetRow struct {
	blocks []laidBlock
	image  float64 // height of the sheets' pictures
	head   float64 // of what stands over them
	height float64 // of all
	beside bool    // the numbers of a sheet stand beside its picture, for few sheets are wide
}

type laidBlock struct {
	block
	x, width float64
	widths   []float64 // of its cells
	cards    float64   // height of the highest sheet with its numbers
	remarks  []string  // that stand under it
	long     []string  // that stand under the row
}

// layRow measures a row of the given width.
func (b *logBook) layRow(blocks []block, x, width float64) sheetRow {
	var shapes []float64
	for _, k := range blocks {
		for _, c := range k.cards {
			shapes = append(shapes, c.shape())
		}
		if len(k.cards) == 0 {
			shapes = append(shapes, 1)
		}
	}
	r := sheetRow{beside: len(shapes) <= 2}
	var widths []float64
	if room := width - float64(len(shapes)-1)*cardGap; r.beside {
		r.image = imageMost
		for _, shape := range shapes {
			widths = append(widths, room/float64(len(shapes)))
			r.image = min(r.image, widths[0]*besideShare/shape)
		}
	} else {
		widths, r.image = justified(shapes, room)
	}
	for _, k := range blocks {
		l := laidBlock{block: k, x: x, widths: widths[:k.cells()]}
		widths = widths[k.cells():]
		for _, w := range l.widths {
			l.width += w
		}
		l.width += float64(k.cells()-1) * cardGap
		x += l.width + cardGap
		r.head = max(r.head, b.pictureLine(page.Rect{W: l.width}, k, false))
		for i, c := range k.cards {
			_, numbers := r.places(page.Rect{W: l.widths[i]}, c)
			height := cardHeight(b.doc, c, numbers.W)
			if r.beside {
				height = max(r.image, height)
			} else {
				height += numbers.Y
			}
			l.cards = max(l.cards, height)
		}
		if l.remarks, l.long = remarksUnder(b.doc, k, l.width); len(l.remarks) > 0 {
			l.cards += 0.8
		}
		r.blocks = append(r.blocks, l)
	}
	for _, l := range r.blocks {
		height := r.head + l.cards
		for _, text := range l.remarks {
			height += b.doc.ParaHeight(l.width, remarkType, text, 0)
		}
		r.height = max(r.height, height)
	}
	return r
}

// justified shares a row out among pictures of one height: each is as wide as its shape, width over height, asks for, no
// cell is narrower than its numbers need, and what is left goes to all alike.
func justified(shapes []float64, width float64) (widths []float64, height float64) {
	sum := func(height float64) (sum float64) {
		for _, shape := range shapes {
			sum += max(cardLeast, shape*height)
		}
		return sum
	}
	low, high := 0.0, imageMost
	if sum(high) > width {
		for range 40 {
			if height = (low + high) / 2; sum(height) > width {
				high = height
			} else {
				low = height
			}
		}
		high = low
	}
	height = high
	left := (width - sum(height)) / float64(len(shapes))
	for _, shape := range shapes {
		widths = append(widths, max(cardLeast, shape*height)+left)
	}
	return widths, height
}

// shape is the width of a sheet's picture over its height, within what a row bears; of the tones in its place 4 to 3.
func (c card) shape() float64 {
	if c.small == nil {
		return 4.0 / 3
	}
	return min(2.4, max(0.4, c.small.Shape()))
}

// places are where a sheet's picture and its numbers stand in its cell.
func (r sheetRow) places(cell page.Rect, c card) (picture, numbers page.Rect) {
	picture = page.Rect{X: cell.X, Y: cell.Y, W: min(cell.W, c.shape()*r.image), H: r.image}
	numbers = page.Rect{X: cell.X, Y: cell.Y + r.image + 0.6, W: min(cell.W, numbersMost)}
	if r.beside {
		x := picture.Right() + besideGap
		numbers = page.Rect{X: x, Y: cell.Y, W: min(cell.Right()-x, numbersMost)}
	}
	return picture, numbers
}

// drawRow draws a row where it has room, with its long remarks under it, and gives the y below.
func (b *logBook) drawRow(y float64, r sheetRow) float64 {
	d := b.doc
	y = d.Need(y, r.height)
	for _, l := range r.blocks {
		x := l.x
		b.pictureLine(page.Rect{X: x, Y: y, W: l.width}, l.block, true)
		if len(l.block.cards) == 0 {
			d.Para(x, y+r.head, l.width, smallType.In(0.3), "no sheet counts any more", 2)
		}
		for i, c := range l.block.cards {
			b.card(r, page.Rect{X: x, Y: y + r.head, W: l.widths[i]}, c)
			x += l.widths[i] + cardGap
		}
		under := y + r.head + l.cards
		for _, text := range l.remarks {
			under = d.Para(l.x, under, l.width, remarkType, text, 0)
		}
	}
	y += r.height
	for _, l := range r.blocks {
		for _, text := range l.long {
			y = d.Flow(d.Area().X, y+1, d.Area().W, remarkType, text)
		}
	}
	return y + rowGap
}

var remarkType = page.Set(7, page.Regular)

// remarksUnder divides the remarks of a block into those that stand under it and those that are too long for that. What is
// said of no sheet stands under a picture's first block.
func remarksUnder(d *page.Doc, k block, width float64) (under, long []string) {
	room := remarkMost
	for _, r := range k.said {
		if here := slices.ContainsFunc(k.cards, func(c card) bool { return c.s.Part == r.part }); !here && (r.part != "" || k.more) {
			continue
		}
		text := r.text
		if about := joined(", ", r.part, r.act); about != "" {
			text = about + ": " + page.Quoted(text)
		}
		if lines := len(d.Wrap(width, remarkType, text)); lines <= room {
			room -= lines
			under = append(under, text)
		} else {
			long = append(long, k.p.Entity.Name+" "+text)
		}
	}
	return under, long
}
