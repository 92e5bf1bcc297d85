package line

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// A list is parted at commas, and where it is parted at semicolons or blanks a comma stands in a number.
func TestListsAreParted(t *testing.T) {
	for text, want := range map[string][]string{
		"2,4,8": {"2", "4", "8"}, "2, 4, 8": {"2", "4", "8"}, "2 4 8": {"2", "4", "8"}, "2,5; 4": {"2,5", "4"}, "1,5 2,5": {"1,5", "2,5"}, "2;4": {"2", "4"},
	} {
		assert.Equal(t, want, SplitList([]string{text}), text)
	}
	assert.Equal(t, []string{"2", "4", "8"}, SplitList([]string{"2,4", "8"}))
}
