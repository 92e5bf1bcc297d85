package why

import (
	"math"

	"traybook/events"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
)

// blame shares a ratio out among what pushed that way, in log2 of time: hand, warmth, use, age.
func blame(s *calledfor.Stay, ratio float64) [4]float64 {
	parts := [4]float64{s.Hand, s.Warmth, s.Used, s.Old}
	var sum float64
	for i, p := range parts {
		if (p > 0) != (ratio > 0) || p == 0 {
			parts[i] = 0
		}
		sum += parts[i]
	}
	for i := range parts {
		if sum != 0 {
			parts[i] *= ratio / sum
		}
		if math.Abs(parts[i]) < math.Abs(ratio)*0.15 { // too small a part to be told as a cause
			parts[i] = 0
		}
	}
	return parts
}

// mixing is the entry that mixed a bath.
func mixing(b *snapshot.Bath) *events.Entry {
	for i := range b.Entries {
		if b.Entries[i].Kind == events.BathMixed {
			return &b.Entries[i]
		}
	}
	return nil
}
