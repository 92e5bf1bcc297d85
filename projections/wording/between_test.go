package wording_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"traybook/projections/wording"
)

func TestAnIntervalIsToldShort(t *testing.T) {
	for _, c := range []struct {
		low, high float64
		want      string
	}{
		{3.6123, 5.8177, "between 3.6 and 5.8 s"},
		{0.25, 0.61, "between 1/4 and 0.61 s"},
		{9.93, 12.4, "between 9.9 and 12 s"},
		{54.3, 66.2, "between 54 and 65 s"},
		{112, 137, "between 110 s and 2 min 15 s"},
		{3000, 7300, "between 50 min and 2 h 2 min"},
		{4 * 86400, 9 * 86400, "between 4 and 9 days"},
	} {
		assert.Equal(t, c.want, wording.Between(c.low, c.high))
	}
}
