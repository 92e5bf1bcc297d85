package projections_test

import (
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"

	"traybook/events"
	"traybook/projections"
)

func TestEverySymptomHasItsWords(t *testing.T) {
	var listed []string
	for _, h := range projections.SymptomHelp() {
		listed = append(listed, h.Symptom)
		assert.NotEmpty(t, h.Family, h.Symptom)
		assert.NotEmpty(t, h.OnNegative+h.OnPrint, h.Symptom)
		assert.LessOrEqual(t, utf8.RuneCountInString(h.OnNegative), 40, h.Symptom)
		assert.LessOrEqual(t, utf8.RuneCountInString(h.OnPrint), 40, h.Symptom)
	}
	assert.ElementsMatch(t, events.Symptoms, listed)
}
