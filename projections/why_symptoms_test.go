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

func TestNearMissesFindTheirSymptom(t *testing.T) {
	for word, want := range map[string]string{
		"to-dark": "too-dark", "too dark": "too-dark", "Blurry": "soft", "yelow-stain": "yellow-stain", "fogged": "grey-fog", "vieled-whites": "veiled-whites",
		"contrasty": "harsh", "mottle": "mottled", "streak": "streaks-light", "stain": "yellow-stain", "corners": "dark-corners",
	} {
		near := projections.SymptomsNear(word)
		if assert.NotEmpty(t, near, word) {
			assert.Equal(t, want, near[0], word)
		}
		assert.LessOrEqual(t, len(near), 4)
	}
	for _, word := range []string{"", "x", "qqqqqqqqq"} {
		assert.Empty(t, projections.SymptomsNear(word), word)
	}
}
