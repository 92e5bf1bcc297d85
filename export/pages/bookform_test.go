package pages

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"traybook/export/page"
)

// No column begins with white or leaves one line alone at its foot under a heading, or at its head before white; none is higher
// than it may be, nothing is lost, and chapters that have room stay whole.
func TestColumnsPartNothingThatStandsTogether(t *testing.T) {
	white, one := flowLine{rows: 1}, func(head bool) flowLine { return flowLine{rows: 1, head: head, draw: func(x, row, w float64) {}} }
	rapid.Check(t, func(r *rapid.T) {
		rows := rapid.IntRange(8, 40).Draw(r, "rows")
		sizes := rapid.SliceOfN(rapid.IntRange(1, 30), 1, 12).Draw(r, "groups")
		var lines []flowLine
		told := 0
		for i, n := range sizes {
			if i > 0 {
				lines = append(lines, white)
			}
			lines = append(lines, one(true))
			for range n {
				lines = append(lines, one(false))
			}
			told += n + 1
		}
		for _, part := range []func([]flowLine, float64, func(int) int) [][]flowLine{columns, chapters} {
			out, got := part(lines, float64(rows), func(n int) int { return n }), 0
			for c, column := range out {
				if column[0].draw == nil {
					r.Fatalf("column %d of %v begins with white", c, sizes)
				}
				if height(column) > float64(rows) {
					r.Fatalf("column %d of %v has %g lines of %d", c, sizes, height(column), rows)
				}
				for len(column) > 0 && column[len(column)-1].draw == nil {
					column = column[:len(column)-1]
				}
				at := func(i int) bool { return i >= 0 && i < len(column) && column[i].draw != nil }
				if !column[0].head && !at(1) && len(column) > 1 {
					r.Fatalf("column %d of %v begins with one line alone", c, sizes)
				}
				if last := len(column) - 1; c < len(out)-1 && column[last].head {
					r.Fatalf("column %d of %v ends with a heading", c, sizes)
				}
				for _, l := range column {
					if l.draw != nil {
						got++
					}
				}
			}
			if got != told {
				r.Fatalf("%d lines of %d in %v", got, told, sizes)
			}
		}
	})
	var lines []flowLine
	for range 4 {
		lines = append(lines, one(true), one(false), one(false), one(false), one(false), white)
	}
	for c, column := range chapters(lines, 13, func(n int) int { return n }) {
		assert.True(t, column[0].head, c)
	}
}

// An index counts: box-2 stands before box-10, small letters beside capitals.
func TestAnIndexCounts(t *testing.T) {
	assert.Less(t, counting("Box-2 quay"), counting("box-10 quay"))
	assert.Less(t, counting("2026-998"), counting("2026-1002"))
	assert.Equal(t, counting("The Mole"), counting("the mole"))
	assert.Less(t, counting("The mate, full length"), counting("The mate's hands"))
}

// Straight strokes become the marks that they stand for; those of feet and inches stay.
func TestQuotesAreCurly(t *testing.T) {
	for typed, set := range map[string]string{
		"Keeper's \"Maid\" at 5' 2\"":       "Keeper’s “Maid” at 5' 2\"",
		"the 'so called' boat, 'it's late'": "the ‘so called’ boat, ‘it’s late’",
		"winners' cup, rock'n'roll, 'tis":   "winners’ cup, rock’n’roll, ’tis",
		"a \"b\" and (\"c\")":               "a “b” and (“c”)",
		"ג'ירפה, 6\" and 7\"":               "ג'ירפה, 6\" and 7\"",
		"Ярослав's":                         "Ярослав’s",
		"one \" alone":                      "one \" alone",
	} {
		assert.Equal(t, set, curly(typed))
	}
	assert.Equal(t, "“he said ‘no’!”", quoted(`he said "no"!`))
}

// A small picture fills a box from its left edge in the proportions of its scan; one without a scan in those of the plate.
func TestASmallPictureKeepsItsProportions(t *testing.T) {
	s := &spread{sheet: sheetSize{90, 120}}
	box := page.Rect{X: 10, Y: 20, W: 40, H: 30}
	at := s.fitted(box, card{})
	assert.InDelta(t, 0.75, at.W/at.H, 1e-9)
	assert.Equal(t, []float64{10, 20, 30}, []float64{at.X, at.Y, at.H})
	assert.Equal(t, box, (&spread{}).fitted(box, card{}))
	flat := (&spread{sheet: sheetSize{300, 60}}).fitted(box, card{})
	assert.InDelta(t, 1.6, flat.W/flat.H, 1e-9, "words have room in it")
}
