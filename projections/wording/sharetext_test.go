package wording_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"traybook/projections/wording"
)

func TestSharesOfATime(t *testing.T) {
	for ratio, want := range map[float64]string{1: "", 1.004: "", 1.085: "8.5 % longer", 0.5: "50 % shorter", 2: "100 % longer", 27: "27 times as long"} {
		assert.Equal(t, want, wording.ShareText(math.Log2(ratio)), "%v", ratio)
	}
}
