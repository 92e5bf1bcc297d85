package page

import "fmt"

// anchor is a named place that links lead to.
type anchor struct {
	link   int
	placed bool
	from   int // page of the first link to it
}

func (d *Doc) anchorFor(name string) *anchor {
	a := d.anchors[name]
	if a == nil {
		a = &anchor{link: d.pdf.AddLink()}
		d.anchors[name] = a
		d.wanted = append(d.wanted, name)
	}
	return a
}

// Anchor gives the height y of the open page a name that links can lead to. A
// name is given once.
func (d *Doc) Anchor(name string, y float64) {
	d.place("an anchor", []float64{y}, func() {
		a := d.anchorFor(name)
		if a.placed {
			d.fail(fmt.Errorf("the anchor %q is given twice, the second time on page %d: give each place its own name", name, d.page))
			return
		}
		a.placed = true
		d.pdf.SetLink(a.link, y, d.page)
	})
}

// Link makes a box of the open page lead to an anchor, which may be placed
// before or after; what words draws is told as what leads there. A link to an
// anchor no page holds is an error of the document.
func (d *Doc) Link(r Rect, name string, words func()) {
	link := d.told("Link", words)
	d.place("a link", []float64{r.X, r.Y, r.W, r.H}, func() {
		a := d.anchorFor(name)
		if a.from == 0 {
			a.from = d.page
		}
		d.pdf.Link(r.X, r.Y, r.W, r.H, a.link)
		d.linked(link)
	})
}

func (d *Doc) checkAnchors() {
	for _, name := range d.wanted {
		if a := d.anchors[name]; !a.placed {
			d.fail(fmt.Errorf("a link on page %d leads to %q, which no page holds: place the anchor or leave out the link", a.from, name))
		}
	}
}

// Bookmark adds an entry to the outline, leading to the top of the open page.
// Level 0 is the outermost; a level that skips one is drawn in to the next
// below the entry before.
func (d *Doc) Bookmark(title string, level int) { d.BookmarkAt(title, level, 0) }

// BookmarkAt is Bookmark for the height y of the open page.
func (d *Doc) BookmarkAt(title string, level int, y float64) {
	d.place("a bookmark", []float64{y}, func() {
		level = max(0, min(level, d.outlined+1))
		d.outlined = level
		d.bookmarks = append(d.bookmarks, bookmark{bare(oneLine(title)), level})
		d.pdf.Bookmark("", level, y) // the title is put in when the document is written
	})
}
