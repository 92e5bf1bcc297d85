package why_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"

	"traybook/events"
	"traybook/projections/why"
)

func TestTonesAreMarkedInStops(t *testing.T) {
	for stops, want := range map[int]string{-4: "−4", -1: "−1", 0: "0", 1: "+1", 3: "+3"} {
		assert.Equal(t, want, why.StopMark(stops))
	}
}

// What a bath or old paper takes away is told as if it were exposure; what the hand at the camera does is exposure.
func TestWhichStopsAreAsIf(t *testing.T) {
	var asIf []string
	for _, cause := range why.Causes {
		if (why.Finding{Cause: cause}).AsIf() {
			asIf = append(asIf, cause)
		}
	}
	slices.Sort(asIf)
	assert.Equal(t, []string{"developer-cold", "developer-exhausted", "developer-old", "developer-warm", "over-developed", "paper-expired", "under-developed"}, asIf)
}

func TestWhatWouldPartCausesIsNamed(t *testing.T) {
	for with, want := range map[string]string{"planned_f": "the aperture that was meant (--planned-f)", "planned_s": "the time that was meant (--planned)", "": "", "box": ""} {
		assert.Equal(t, want, why.Finding{With: with}.PartedBy())
	}
}

// A mark in a print is its opposite on the negative, and the other way round; a fault of no tone is itself on both.
func TestAMarkOnTheNegativeIsItsOppositeInThePrint(t *testing.T) {
	turned := map[string]string{}
	for _, s := range events.Symptoms {
		assert.Equal(t, s, why.Inverted(why.Inverted(s)), s)
		if why.Inverted(s) != s {
			turned[s] = why.Inverted(s)
		}
	}
	assert.Equal(t, map[string]string{"streaks-light": "streaks-dark", "streaks-dark": "streaks-light", "spots-white": "spots-dark", "spots-dark": "spots-white",
		"light-corners": "vignetted", "vignetted": "light-corners", "blank": "all-black", "all-black": "blank"}, turned)
}
