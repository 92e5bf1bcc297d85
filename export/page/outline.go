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

// bookmark is an entry of the outline; level 0 is the outermost.
type bookmark struct {
	title string
	level int
}

// bareEntry gives what an entry, as the library writes it with an empty title, says behind the title.
func bareEntry(object []byte) ([]byte, bool) {
	for _, empty := range []string{"()", "(\xFE\xFF)"} { // the second while one of the document's own faces is chosen
		if rest, ok := bytes.CutPrefix(object, []byte("<</Title "+empty+"\n")); ok {
			return bytes.CutSuffix(rest, []byte("/Count 0>>\n"))
		}
	}
	return nil, false
}

// writeOutline writes the objects of the outline with their titles, which the library could not write above U+FFFF, and with
// the counts that ISO 32000-1, 12.3.3 asks for: entries with others below them are closed and tell how many lie directly
// below, the root tells how many stand outermost. The library writes 0 everywhere. root is the number of the outline's root,
// which stands after the entries.
func (p parts) writeOutline(entries []bookmark, root int) error {
	first := root - len(entries)
	if first < 1 {
		return errForm
	}
	outermost := 0
	for i, e := range entries {
		rest, ok := bareEntry(p.objects[first+i])
		if !ok {
			return errForm
		}
		if e.level == 0 {
			outermost++
		}
		end := ">>\n"
		if n := below(entries[i:]); n > 0 {
			end = fmt.Sprintf("/Count %d>>\n", -n)
		}
		p.objects[first+i] = fmt.Appendf(nil, "<</Title %s\n%s%s", textString(e.title), rest, end)
	}
	m := outlineRoot().FindSubmatch(p.objects[root])
	if m == nil {
		return errForm
	}
	p.objects[root] = fmt.Appendf(nil, "<</Type /Outlines /First %s 0 R\n/Last %s 0 R\n/Count %d>>\n", m[1], m[2], outermost)
	return nil
}

// below counts the entries directly below the first one.
func below(entries []bookmark) int {
	n := 0
	for _, e := range entries[1:] {
		if e.level <= entries[0].level {
			break
		}
		if e.level == entries[0].level+1 {
			n++
		}
	}
	return n
}
