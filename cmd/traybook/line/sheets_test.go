package line

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A line that names one sheet, or none, is left to the act; one that names more gives them up, and keeps the rest.
func TestSheetsOfTakesWhatNamesMany(t *testing.T) {
	lacks := []string{"unwashed", "undried"}
	for _, c := range []struct {
		words, rest []string
		rows        []Row
		lacking     string
	}{
		{[]string{"keep"}, []string{"keep"}, nil, ""},
		{[]string{"keep", "2026-014n"}, []string{"keep", "2026-014n"}, nil, ""},
		{[]string{"redo", "too-dark,flat", "14n"}, []string{"redo", "too-dark,flat", "14n"}, nil, ""},
		{[]string{"4", "changes", "1l", "14n", "p1"}, []string{"4", "changes", "1l"}, []Row{{Word: "14n", Sheet: "14n"}, {Word: "p1", Sheet: "p1"}}, ""},
		{[]string{"2026-014N,15,16p2"}, nil, []Row{{Word: "2026-014n", Sheet: "2026-014n"}, {Word: "15", Sheet: "15"}, {Word: "16p2", Sheet: "16p2"}}, ""},
		{[]string{"2026-001..030n"}, nil, []Row{{Word: "2026-001..030n", Year: 2026, First: 1, Last: 30, Part: "n"}}, ""},
		{[]string{"1n..3n", "keep"}, []string{"keep"}, []Row{{Word: "1n..3n", First: 1, Last: 3, Part: "n"}}, ""},
		{[]string{"7..7"}, nil, []Row{{Word: "7..7", First: 7, Last: 7}}, ""},
		{[]string{"1..500p1"}, nil, []Row{{Word: "1..500p1", First: 1, Last: 500, Part: "p1"}}, ""},
		{[]string{"all", "Unwashed", "30min", "running"}, []string{"30min", "running"}, nil, "unwashed"},
		{[]string{"keep", "hm... nice", "well..", "3 of 4.. no"}, []string{"keep", "hm... nice", "well..", "3 of 4.. no"}, nil, ""},
		{[]string{"keep", "all"}, []string{"keep", "all"}, nil, ""},
	} {
		s, rest, err := SheetsOf(c.words, lacks)
		require.NoError(t, err, "%v", c.words)
		assert.Equal(t, c.rest, rest, "%v", c.words)
		if c.rows == nil && c.lacking == "" {
			assert.Nil(t, s, "%v", c.words)
			continue
		}
		require.NotNil(t, s, "%v", c.words)
		assert.Equal(t, c.rows, s.Rows, "%v", c.words)
		assert.Equal(t, c.lacking, s.Lacking, "%v", c.words)
	}
	for _, bad := range [][]string{{"1..501n"}, {"0..3n"}, {"3..2"}, {"1..x"}, {"2025-001..2026-003n"}, {"1n..3p1"}, {"unwashed", "undried"}, {"1..3n", "unwashed"}} {
		_, _, err := SheetsOf(bad, lacks)
		assert.Error(t, err, "%v", bad)
	}
}
