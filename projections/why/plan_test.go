package why_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"traybook/projections/why"
)

// The sets of what may have been left out are all there are, in their order, with each factor once.
func TestEverySetOfOmissions(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		factors := rapid.SliceOfN(rapid.SampledFrom([]string{"filter", "extension", "zone"}), 0, 7).Draw(t, "factors")
		size := rapid.IntRange(1, 3).Draw(t, "size")
		var want [][]int
		var grow func(set []int, from int)
		grow = func(set []int, from int) {
			if len(set) == size {
				want = append(want, append([]int{}, set...))
				return
			}
		next:
			for i := from; i < len(factors); i++ {
				for _, j := range set {
					if factors[j] == factors[i] {
						continue next
					}
				}
				grow(append(set, i), i+1)
			}
		}
		grow(nil, 0)
		assert.Equal(t, want, why.SetsOf(factors, size))
	})
}
