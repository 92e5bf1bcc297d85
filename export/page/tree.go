package page

import (
	"bytes"
	"fmt"
	"regexp"
	"strconv"
	"sync"
)

// The structure of a document as its objects (ISO 32000-1, 14.7): the root, an element each, and the tree by which a reader
// comes from what is drawn to its element. A link is an annotation of its page and stands in its element, too.

// Each page is two objects, itself and what is drawn on it, behind two of the document's own.
func pageObject(page int) int { return 1 + 2*page }

// A link as the library writes it, within its page.
var oneLink = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`<</Type /Annot (/Subtype /Link /Rect \[[^\]]*\] /Border \[0 0 0\] /Dest \[[^\]]*\])>>`)
})

// treeWriter numbers the elements and writes them.
type treeWriter struct {
	*parts
	structure
	pages   int
	height  float64 // of the sheet, mm
	root    int
	order   []*element
	linksAt []int // by page from 0, the key of its first link in the tree of parents
}

// tell adds the structure of a document of so many pages, so high in mm, and returns the number of its root.
func (p *parts) tell(s structure, pages int, height float64) (int, error) {
	w := treeWriter{parts: p, structure: s, pages: pages, height: height, root: len(p.objects)}
	key := pages
	for n := 1; n <= pages; n++ {
		w.linksAt = append(w.linksAt, key)
		key += len(s.links[n])
	}
	w.number(s.root)
	annotations := w.root + 2 + len(w.order) // the first one's number
	w.objects = append(w.objects,
		fmt.Appendf(nil, "<< /Type /StructTreeRoot /K %d 0 R /ParentTree %d 0 R /ParentTreeNextKey %d >>\n", s.root.object, w.root+1, key),
		w.parents())
	for _, e := range w.order {
		w.objects = append(w.objects, w.element(e, annotations))
	}
	for n := 1; n <= pages; n++ {
		if err := w.page(n); err != nil {
			return 0, err
		}
	}
	return w.root, nil
}

// number gives each element its object, parents before their kids. What drew nothing is left out, but for a table's cell,
// whose column must be told.
func (w *treeWriter) number(e *element) {
	e.object = w.root + 2 + len(w.order)
	w.order = append(w.order, e)
	for _, k := range e.kids {
		if k.element != nil && !k.element.empty() {
			w.number(k.element)
		}
	}
}

func (e *element) empty() bool { return len(e.kids) == 0 && e.kind != "TD" && e.kind != "TH" }

// parents is the tree from what is drawn to its element: of each page a list by the numbers of its contents, of each link
// its element.
func (w *treeWriter) parents() []byte {
	var b bytes.Buffer
	b.WriteString("<< /Nums [")
	for n := 1; n <= w.pages; n++ {
		fmt.Fprintf(&b, "%d [", n-1)
		for _, e := range w.marks[n] {
			b.Write(append(reference(b.AvailableBuffer(), e.object), ' '))
		}
		b.WriteString("]\n")
	}
	for n := 1; n <= w.pages; n++ {
		for i, e := range w.links[n] {
			fmt.Fprintf(&b, "%d %d 0 R ", w.linksAt[n-1]+i, e.object)
		}
	}
	b.WriteString("] >>\n")
	return b.Bytes()
}

// element writes one. Its contents lie on its page, where nothing else is said.
func (w *treeWriter) element(e *element, annotations int) []byte {
	up := w.root
	if e.up != nil {
		up = e.up.object
	}
	b := append(append(append(make([]byte, 0, 96), "<</S /"...), e.kind...), " /P "...) // written without fmt: a year has some ten thousand
	b = reference(b, up)
	if e.page != 0 {
		b = reference(append(b, " /Pg "...), pageObject(e.page))
	}
	if e.kind == "Figure" {
		const k = 72 / 25.4
		b = fmt.Appendf(b, " /Alt %s /A <</O /Layout /BBox [%.2f %.2f %.2f %.2f]>>", textString(bare(oneLine(e.alt))),
			k*e.box.X, k*(w.height-e.box.Bottom()), k*e.box.Right(), k*(w.height-e.box.Y))
	}
	if e.cell != "" {
		b = fmt.Appendf(b, " /A <</O /Table %s>>", e.cell)
	}
	b = append(b, " /K ["...)
	for i, k := range e.kids {
		if i > 0 {
			b = append(b, ' ')
		}
		switch {
		case k.element != nil:
			if k.element.object != 0 {
				b = reference(b, k.element.object)
			}
		case k.link:
			at := annotations + w.linksAt[k.page-1] - w.pages + k.number
			b = fmt.Appendf(b, "<</Type /OBJR /Pg %d 0 R /Obj %d 0 R>>", pageObject(k.page), at)
		case k.page == e.page:
			b = strconv.AppendInt(b, int64(k.number), 10)
		default:
			b = fmt.Appendf(b, "<</Type /MCR /Pg %d 0 R /MCID %d>>", pageObject(k.page), k.number)
		}
	}
	return append(b, "]>>\n"...)
}

// reference appends one to an object.
func reference(b []byte, object int) []byte {
	return append(strconv.AppendInt(b, int64(object), 10), " 0 R"...)
}

// page has a page lead to its elements, and puts its links into objects of their own, to be printed as the page is
// (ISO 19005-2, 6.3.2).
func (w *treeWriter) page(n int) error {
	body := w.objects[pageObject(n)]
	links := oneLink().FindAllSubmatchIndex(body, -1)
	body, isPage := bytes.CutSuffix(body, []byte(">>\n"))
	if !isPage || !bytes.HasPrefix(body, []byte("<</Type /Page\n")) || len(links) != len(w.links[n]) {
		return errForm
	}
	var b bytes.Buffer
	from := 0
	for i, m := range links {
		b.Write(body[from:m[0]])
		fmt.Fprintf(&b, "%d 0 R ", len(w.objects))
		from = m[1]
		w.objects = append(w.objects, fmt.Appendf(nil, "<</Type /Annot %s /F 4 /StructParent %d>>\n", body[m[2]:m[3]], w.linksAt[n-1]+i))
	}
	b.Write(body[from:])
	fmt.Fprintf(&b, " /StructParents %d /Tabs /S>>\n", n-1)
	w.objects[pageObject(n)] = b.Bytes()
	return nil
}
