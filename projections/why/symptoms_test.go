package why_test

import (
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"

	"traybook/events"
	"traybook/projections/why"
)

func TestEverySymptomHasItsWords(t *testing.T) {
	var listed []string
	for _, h := range why.SymptomHelp() {
		listed = append(listed, h.Symptom)
		assert.NotEmpty(t, h.Family, h.Symptom)
		assert.NotEmpty(t, h.OnNegative+h.OnPrint, h.Symptom)
		assert.LessOrEqual(t, utf8.RuneCountInString(h.OnNegative), 40, h.Symptom)
		assert.LessOrEqual(t, utf8.RuneCountInString(h.OnPrint), 40, h.Symptom)
	}
	assert.ElementsMatch(t, events.Symptoms, listed)
}
