package line

import "traybook/projections/wording"

var (
	sizeSplit = NewPattern(`^(.*[\d"'a-z½⅓⅔¼¾⅛⅜⅝⅞]) *(?:x|\*|by) *([\d.,½⅓⅔¼¾⅛⅜⅝⅞].*)$`)
	hasUnit   = NewPattern(`[a-z"'] *\.?$`)
)

const (
	writeSize   = "write 9x12cm, 5x7in or 102x127"
	largestEdge = 5000 // mm
	finestEdge  = 25   // mm; below it a size without a unit was hardly meant in mm
)

// ParseSize reads a size of paper, width by height, in mm: 9x12cm, 5x7in,
// 4 3/4 x 6 1/2 in, 102x127. One unit holds for both edges; without one the
// size is in mm.
//
// A size without a unit whose edges would both be under 25 mm is refused: it was
// meant in centimetres or inches.
func ParseSize(text string) (width, height float64, err error) {
	s := plain(text)
	m := sizeSplit.FindStringSubmatch(s)
	if m == nil || len(s) > longestText {
		return 0, 0, Refuse(writeSize, "size %s: not width by height", Quote(text))
	}
	left, right := m[1], m[2]
	rightUnit := unitOf(right)
	if !hasUnit.MatchString(left) {
		left += rightUnit
	}
	bare := rightUnit == "" && !hasUnit.MatchString(left)
	if rightUnit == "" {
		right += unitOf(left)
	}
	if width, err = edge(text, left); err != nil {
		return 0, 0, err
	}
	if height, err = edge(text, right); err != nil {
		return 0, 0, err
	}
	if bare && width < finestEdge && height < finestEdge {
		a, b := wording.Significant(width, 4), wording.Significant(height, 4)
		return 0, 0, Refuse("write "+a+"x"+b+"cm or "+a+"x"+b+"in", "size %s: without a unit this is %s by %s mm", Quote(text), a, b)
	}
	return width, height, nil
}

func unitOf(s string) string {
	n, ok := scanNumber(s)
	if !ok {
		return ""
	}
	unit, _ := Millimetres.rule().scanUnit(n.rest)
	return unit
}

func edge(text, s string) (float64, error) {
	r := Millimetres.rule()
	v, err := r.terms(text, s)
	if err != nil {
		_, hint := Parts(err)
		if hint == r.write {
			hint = writeSize
		}
		return 0, Refuse(hint, "size %s: the edge %s is not understood", Quote(text), Quote(s))
	}
	if v <= 0 || v > largestEdge {
		return 0, Refuse(writeSize, "size %s: an edge of %s mm cannot be", Quote(text), wording.Significant(v, 6))
	}
	return v, nil
}

// FormatSize writes a size given in mm as width by height: 102 × 127 mm.
func FormatSize(width, height float64) string {
	return wording.Significant(width, 4) + " × " + wording.Significant(height, 4) + " mm"
}
