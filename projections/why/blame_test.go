package why

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"traybook/projections/calledfor"
)

// What a bath gave too little or too much is shared out among what pushed that way; what makes less than 15 % of it is
// nobody's. Our own choice, and nowhere else to be seen: a change of it moves who is accused.
func TestATimeIsSharedOutAmongWhatPushedThatWay(t *testing.T) {
	for _, c := range []struct {
		hand, warmth, used, old float64
		want                    [4]float64
	}{
		{-1, 0, 0, 0, [4]float64{-1}},
		{-0.5, -0.5, 0, 0, [4]float64{-0.5, -0.5}},
		{-1, 0.5, 0, 0, [4]float64{-0.5}}, // warmth pushed the other way: the hand answers for what is left
		{-0.849, -0.151, 0, 0, [4]float64{-0.849, -0.151}},
		{-0.851, -0.149, 0, 0, [4]float64{-0.851}},
		{0.849, 0, 0.151, 0, [4]float64{0.849, 0, 0.151}},
		{0, 0, -0.3, -0.7, [4]float64{0, 0, -0.3, -0.7}},
		{0, 0, 0, 0, [4]float64{}},
	} {
		s := &calledfor.Stay{Hand: c.hand, Warmth: c.warmth, Used: c.used, Old: c.old}
		got := blame(s, s.Ratio())
		assert.InDeltaSlice(t, c.want[:], got[:], 1e-9, "%v", c)
	}
}
