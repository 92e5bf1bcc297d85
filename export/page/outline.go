package page

import (
	"bytes"
	"errors"
	"fmt"
	"regexp"
	"strconv"
	"sync"
)

// object is a numbered object that an update writes anew.
type object struct {
	number int
	body   []byte // between "obj" and "endobj"
}

var errOutline = errors.New("the document's outline is not where it is wanted: the PDF library writes a form not known here")

var outlineRoot = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`^<</Type /Outlines /First (\d+) 0 R\n/Last (\d+) 0 R>>\n$`)
})

// outlineAnew gives the objects of the outline with the counts that ISO 32000-1, 12.3.3 asks for: entries with others
// below them are closed and tell how many lie directly below, the root tells how many stand outermost. The library
// writes 0 everywhere. levels are those of the bookmarks in their order, root is the number of the outline's root,
// crossAt the place of the cross-reference.
func outlineAnew(doc []byte, levels []int, root, crossAt int) ([]object, error) {
	first := root - len(levels)
	out := make([]object, 0, len(levels)+1)
	outermost := 0
	for i, level := range levels {
		body, err := objectBody(doc, first+i, crossAt)
		if err != nil {
			return nil, err
		}
		bare, ok := bytes.CutSuffix(body, []byte("/Count 0>>\n"))
		if !ok {
			return nil, errOutline
		}
		if level == 0 {
			outermost++
		}
		end := ">>\n"
		if n := below(levels[i:]); n > 0 {
			end = fmt.Sprintf("/Count %d>>\n", -n)
		}
		out = append(out, object{first + i, append(bytes.Clone(bare), end...)})
	}
	body, err := objectBody(doc, root, crossAt)
	if err != nil {
		return nil, err
	}
	m := outlineRoot().FindSubmatch(body)
	if m == nil {
		return nil, errOutline
	}
	return append(out, object{root, fmt.Appendf(nil, "<</Type /Outlines /First %s 0 R\n/Last %s 0 R\n/Count %d>>\n", m[1], m[2], outermost)}), nil
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

// objectBody reads one object by the cross-reference: a line of twenty bytes for each, after its own two lines.
func objectBody(doc []byte, number, crossAt int) ([]byte, error) {
	cross := doc[crossAt:]
	lines := 0
	at := 0
	for lines < 2 {
		end := bytes.IndexByte(cross[at:], '\n')
		if end < 0 {
			return nil, errOutline
		}
		at += end + 1
		lines++
	}
	at += 20 * number
	if at+20 > len(cross) {
		return nil, errOutline
	}
	start, err := strconv.Atoi(string(cross[at : at+10]))
	if err != nil || start >= crossAt {
		return nil, errOutline
	}
	rest, ok := bytes.CutPrefix(doc[start:crossAt], fmt.Appendf(nil, "%d 0 obj\n", number))
	if !ok {
		return nil, errOutline
	}
	// A title may hold any byte, so the end is where the next object begins.
	end := bytes.Index(rest, fmt.Appendf(nil, "endobj\n%d 0 obj\n", number+1))
	if end < 0 {
		return nil, errOutline
	}
	return rest[:end], nil
}
