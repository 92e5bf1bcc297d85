package calc

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

var benchPosition Position

// A position must cost little and leave no litter: a day's table asks for
// hundreds.
func BenchmarkSunPosition(b *testing.B) {
	at := time.Date(2026, 5, 3, 12, 5, 0, 0, time.UTC)
	b.ReportAllocs()
	for b.Loop() {
		benchPosition, _ = SunPosition(at, 59.9, 10.7)
	}
}

func BenchmarkSunOn(b *testing.B) {
	at := time.Date(2026, 5, 3, 12, 5, 0, 0, time.UTC)
	b.ReportAllocs()
	for b.Loop() {
		_, _ = SunOn(at, 59.9, 10.7)
	}
}

func BenchmarkCalledFor(b *testing.B) {
	e := Exposure{Reading: Reading{F: 8, TimeS: 0.01, Index: 100}, PaperIndex: 3, SetF: 16, ExtensionFactor: 1.1}
	b.ReportAllocs()
	for b.Loop() {
		_, _ = e.CalledFor()
	}
}

func TestHotPathAllocatesNothing(t *testing.T) {
	at := time.Date(2026, 5, 3, 12, 5, 0, 0, time.UTC)
	assert.Zero(t, testing.AllocsPerRun(100, func() { benchPosition, _ = SunPosition(at, 59.9, 10.7) }))
	assert.Zero(t, testing.AllocsPerRun(100, func() { _, _ = SunLux(at, 59.9, 10.7, 1) }))
	assert.Zero(t, testing.AllocsPerRun(100, func() { _, _ = EV100FromExposure(11, 0.5, 3) }))
	assert.Zero(t, testing.AllocsPerRun(100, func() { _, _ = Reciprocity(20, 0.86) }))
}
