package wording_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"traybook/projections/wording"
)

func TestSharesOfATime(t *testing.T) {
	for ratio, want := range map[float64]string{1: "", 1.004: "", 1.085: "8 % longer", 0.5: "50 % shorter", 2: "100 % longer", 27: "27 times as long", 0.996: "", 0.98: "", 1.02: "", 0.96: "4 % shorter", 1.036: "4 % longer", 1.0994: "10 % longer", 1.0996: "10 % longer", 2.99: "199 % longer", 3.01: "3 times as long", 0.1: "90 % shorter", 0.25: "75 % shorter"} {
		assert.Equal(t, want, wording.ShareText(math.Log2(ratio)), "%v", ratio)
	}
}
