package wording_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"traybook/projections/wording"
)

func TestPercent(t *testing.T) {
	for share, want := range map[float64]string{0: "0 %", 0.0001: "under 0.1 %", 0.00049: "under 0.1 %", 0.0005: "0.1 %", 0.09951: "10 %", 0.0949: "9.5 %", 0.002: "0.2 %", 0.055: "5.5 %", 0.0994: "9.9 %", 0.0996: "10 %",
		0.625: "63 %", 0.624: "62 %", 1: "100 %", 1.27006: "127 %"} {
		assert.Equal(t, want, wording.Percent(share), "%v", share)
	}
}
