package events

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestEverydayWordsMeanSymptoms(t *testing.T) {
	for word, means := range everydaySymptoms {
		assert.NotContains(t, Symptoms, word, "a symptom means itself")
		for _, m := range means {
			assert.Contains(t, Symptoms, m, word)
		}
		assert.Equal(t, means, SymptomsCalled(word))
	}
	assert.Equal(t, []string{"soft"}, SymptomsCalled("Soft"))
	assert.Equal(t, []string{"spots-dark"}, SymptomsCalled("black  Spots"))
	assert.Nil(t, SymptomsCalled("two heads"))
}
