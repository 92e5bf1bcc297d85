package report_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"traybook/projections/report"
)

func TestSymptomsOfMeasuredTones(t *testing.T) {
	for _, c := range []struct {
		m    report.Tones
		want string
	}{
		{report.Tones{White: 0.05, Mid: 0.6, Black: 1.8, Sharpness: 0.5}, ""},
		{report.Tones{White: 0.3, Mid: 1.3, Black: 1.9}, "too-dark"},
		{report.Tones{White: 0.01, Mid: 0.15, Black: 1.0}, "too-light"},
		{report.Tones{White: 0.3, Mid: 0.8, Black: 1.8}, "fogged-highlights"},
		{report.Tones{White: 0.3, Mid: 0.6, Black: 0.9}, "fogged-highlights weak-blacks flat"},
		// Just on either side of each bound.
		{report.Tones{White: 0.16, Mid: 1.11, Black: 1.9}, "too-dark"},
		{report.Tones{White: 0.16, Mid: 1.09, Black: 1.9}, "fogged-highlights"},
		{report.Tones{White: 0.14, Mid: 1.11, Black: 1.9}, ""},
		{report.Tones{White: 0.05, Mid: 0.29, Black: 1.42}, "too-light"},
		{report.Tones{White: 0.05, Mid: 0.31, Black: 1.42}, "weak-blacks"},
		{report.Tones{White: 0.05, Mid: 0.29, Black: 1.43}, ""},
		{report.Tones{White: 0.62, Mid: 0.6, Black: 1.51}, "fogged-highlights flat"},
		{report.Tones{White: 0.6, Mid: 0.6, Black: 1.51}, "fogged-highlights"},
		{report.Tones{White: 0.05, Mid: 0.6, Black: 1.8, EdgeVeil: 0.051}, "edge-fog"},
		{report.Tones{White: 0.05, Mid: 0.6, Black: 1.8, EdgeVeil: 0.049}, ""},
		{report.Tones{White: 0.05, Mid: 0.6, Black: 1.8, Sharpness: 0.099}, "soft"},
		{report.Tones{White: 0.05, Mid: 0.6, Black: 1.8, Sharpness: 0.101}, ""},
		{report.Tones{White: 0.05, Mid: 0.6, Black: 1.8, EdgeVeil: 0.08}, "edge-fog"},
		{report.Tones{White: 0.05, Mid: 0.6, Black: 1.8, Sharpness: 0.06}, "soft"},
	} {
		assert.Equal(t, c.want, strings.Join(report.SymptomsOfTones(c.m, 1.9), " "), fmt.Sprintf("%+v", c.m))
	}
	assert.Equal(t, []string{"weak-blacks"}, report.SymptomsOfTones(report.Tones{White: 0.05, Mid: 0.6, Black: 1.4}, 0), "a range that is not known is 1.9")
	assert.Empty(t, report.SymptomsOfTones(report.Tones{White: 0.05, Mid: 0.6, Black: 1.43}, 0))
}
