package calc

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// Reckoned by hand from the sides.
func TestMostPartsOfASheet(t *testing.T) {
	for _, c := range []struct {
		sheetW, sheetH, w, h float64
		most                 int
	}{
		{180, 240, 90, 120, 4},
		{130, 180, 90, 130, 2},
		{130, 180, 130, 90, 2},
		{203.2, 254, 101.6, 127, 4},
		{130, 180, 130, 180, 1},
		{130, 180, 180, 130, 1},
		{130, 180, 100, 100, 1},
		{130, 180, 95, 120, 1},
		{130, 180, 131, 90, 1}, // laid the other way
		{130, 180, 131, 181, 0},
		{50, 50, 30, 20, 3}, // four go in only around a hole, which no straight cut makes
		{50, 70, 30, 20, 5},
		{240, 300, 60, 90, 13}, // two columns of 5 lying, one of 3 standing; 12 all one way
	} {
		most, ok := MostParts(c.sheetW, c.sheetH, c.w, c.h)
		assert.True(t, ok)
		assert.Equal(t, c.most, most, "%v", c)
	}
	_, ok := MostParts(5000, 5000, 1, 1.37)
	assert.False(t, ok, "too fine to try")
}

func TestCannotCut(t *testing.T) {
	for _, c := range []struct {
		sheetW, sheetH, w, h float64
		n                    int
		not                  bool
	}{
		{130, 180, 90, 130, 2, false},
		{130, 180, 90, 130, 4, true},  // larger together
		{130, 180, 200, 20, 1, true},  // fits neither way
		{130, 180, 100, 100, 2, true}, // smaller together, and yet
		{130, 180, 95, 120, 2, true},  // neither side by side nor crosswise
		{50, 50, 30, 20, 4, false},    // around a hole, with a knife
		{5000, 5000, 1, 1.37, 1000, false},
	} {
		assert.Equal(t, c.not, CannotCut(c.sheetW, c.sheetH, c.w, c.h, c.n), "%v", c)
	}
}
