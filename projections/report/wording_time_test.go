package report_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"traybook/projections/wording"
)

func TestSeconds(t *testing.T) {
	const hour = 3600
	for _, c := range []struct {
		s    float64
		want string
	}{
		{0, "0 s"}, {0.0166666667, "1/60 s"}, {0.25, "1/4 s"}, {0.3, "0.3 s"}, {0.0432, "0.043 s"}, {0.994, "0.99 s"}, {1, "1 s"}, {1.25, "1.25 s"},
		{3.7613, "3.8 s"}, {4.2, "4.2 s"}, {22.53, "22.5 s"}, {22.531, "22.5 s"}, {59.4, "59.4 s"}, {59.98765, "60 s"}, {60, "60 s"}, {75.4, "75 s"},
		{90, "90 s"}, {119.4, "119 s"}, {119.6, "2 min"}, {120, "2 min"}, {150, "2 min 30 s"}, {599.7, "10 min"}, {1 * hour, "60 min"},
		{7199.4, "119 min 59 s"}, {7199.6, "2 h"}, {2 * hour, "2 h"}, {2.25 * hour, "2 h 15 min"}, {2*hour + 29, "2 h"}, {47 * hour, "47 h"},
		{48*hour - 31, "47 h 59 min"}, {48*hour - 29, "2 days"}, {1476.75 * hour, "61.5 days"}, {-0.2, "−0.2 s"}, {-150, "−2 min 30 s"},
		{math.NaN(), "–"}, {math.Inf(1), "–"},
	} {
		assert.Equal(t, c.want, wording.Seconds(c.s), "%v", c.s)
	}
}
