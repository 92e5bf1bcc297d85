package page

import (
	"bytes"
	"fmt"
	"regexp"
	"sync"
)

var outlineRoot = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`^<</Type /Outlines /First (\d+) 0 R\n/Last (\d+) 0 R>>\n$`)
})

// countOutline writes the objects of the outline with the counts that ISO 32000-1, 12.3.3 asks for: entries with others
// below them are closed and tell how many lie directly below, the root tells how many stand outermost. The library
// writes 0 everywhere. levels are those of the bookmarks in their order, root is the number of the outline's root, which
// stands after them.
func (p parts) countOutline(levels []int, root int) error {
	first := root - len(levels)
	if first < 1 {
		return errForm
	}
	outermost := 0
	for i, level := range levels {
		bare, ok := bytes.CutSuffix(p.objects[first+i], []byte("/Count 0>>\n"))
		if !ok {
			return errForm
		}
		if level == 0 {
			outermost++
		}
		end := ">>\n"
		if n := below(levels[i:]); n > 0 {
			end = fmt.Sprintf("/Count %d>>\n", -n)
		}
		p.objects[first+i] = append(bytes.Clone(bare), end...)
	}
	m := outlineRoot().FindSubmatch(p.objects[root])
	if m == nil {
		return errForm
	}
	p.objects[root] = fmt.Appendf(nil, "<</Type /Outlines /First %s 0 R\n/Last %s 0 R\n/Count %d>>\n", m[1], m[2], outermost)
	return nil
}

// below counts the entries directly below the first of the levels.
func below(levels []int) int {
	n := 0
	for _, level := range levels[1:] {
		if level <= levels[0] {
			break
		}
		if level == levels[0]+1 {
			n++
		}
	}
	return n
}
