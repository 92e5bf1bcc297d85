package main

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// At the camera a distance is said in metres and a temperature in degrees Celsius.
func TestNumbersTypedAtTheBench(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		field, typed string
		want         float64
	}{
		{"subject_mm", "2", 2000}, {"subject_mm", "1.5", 1500}, {"subject_mm", "180cm", 1800}, {"subject_mm", "6ft", 1828.8},
		{"temp_c", "18", 18}, {"temp_c", "68F", 20},
	} {
		t.Run(c.field+" "+c.typed, func(t *testing.T) {
			got, err := (&benchDoor{}).Number(c.field, c.typed)
			require.NoError(t, err)
			assert.InDelta(t, c.want, got, 1e-9)
		})
	}
	for _, typed := range []string{"", "far", "0", "."} {
		_, err := (&benchDoor{}).Number("subject_mm", typed)
		assert.Error(t, err, typed)
	}
}
