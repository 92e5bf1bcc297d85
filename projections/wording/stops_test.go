package wording_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"traybook/events"
	"traybook/projections/wording"
)

func TestStops(t *testing.T) {
	for _, c := range []struct {
		v          float64
		want, size string
	}{
		{0, "0 stops", "0 stops"}, {0.001, "0 stops", "0 stops"}, {-0.004, "0 stops", "0 stops"}, {0.5, "+0.5 stop", "0.5 stop"},
		{-1. / 3, "−0.33 stop", "0.33 stop"}, {-1, "−1 stop", "1 stop"}, {1.004, "+1 stop", "1 stop"}, {1.01, "+1.01 stops", "1.01 stops"},
		{-2.5, "−2.5 stops", "2.5 stops"},
	} {
		assert.Equal(t, c.want, wording.StopsText(c.v), "%v", c.v)
		assert.Equal(t, c.size, wording.SizeOfStops(c.v), "%v", c.v)
	}
	assert.Equal(t, "–", wording.StopsText(math.Inf(-1)))
	assert.Equal(t, "–", wording.StopsText(math.NaN()))
}

// Times that are told alike agree, whatever hair is between them, and what agrees is told in one way.
func TestCalledForAndDone(t *testing.T) {
	for _, c := range []struct {
		kind                        events.Kind
		called, done, stops, before float64
		want                        string
	}{
		{events.SheetExposed, 4.7095, 1.8, -1.387, 0, "called for 4.7 s; done 1.8 s: −1.4 stops"},
		{events.SheetExposed, 4.7095, 4.7, -0.0029, 0, "as called for, 4.7 s"},
		{events.SheetExposed, 4.74, 4.7, -0.012, 0, "as called for, 4.7 s"},
		{events.SheetReprinted, 4.7412, 4.7, -0.0126, 0, "as called for, 4.7 s"},
		{events.SheetDeveloped, 60.3, 60, -0.0072, 0, "as called for, 60 s"},
		{events.SheetFixed, 71, 75, 0.079, 0, "called for 71 s; done 75 s: 6 % longer"},
		{events.SheetFixed, 240, 120, -0.415, 0.25, "called for 4 min; done 2 min: with what was fixed before, 25 % shorter"},
		{events.SheetWashed, 120, 60, 0, 0.5, "called for 2 min; done 60 s: with what was washed before, as called for"},
	} {
		assert.Equal(t, c.want, wording.Call{Kind: c.kind, S: c.called}.AndDone(c.done, c.stops, c.before))
	}
}

// What was done in parts is told of all of them together; what is nearly as called for agrees, in stops at the cap and as a
// share of the time in a bath.
func TestOffBy(t *testing.T) {
	for _, c := range []struct {
		kind                        events.Kind
		called, done, stops, before float64
		want                        string
		agrees                      bool
	}{
		{events.SheetFixed, 240, 120, -0.415, 0.25, "25 % shorter in all", false}, {events.SheetFixed, 240, 120, 0, 0.5, "as called for in all", false},
		{events.SheetFixed, 600, 601, 0.0024, 0, "as called for", true}, {events.SheetFixed, 600, 606, 0.0144, 0, "as called for", true},
		{events.SheetExposed, 600, 601, 0.0024, 0, "as called for", true}, {events.SheetExposed, 600, 606, 0.0144, 0, "as called for", true}, {events.SheetExposed, 600, 660, 0.1375, 0, "+0.1 stop", false},
		{events.SheetExposed, 4.01, 4.01, 0.5, 0, "as called for", true},
	} {
		assert.Equal(t, c.want, wording.OffBy(c.kind, c.called, c.done, c.stops, c.before), "%+v", c)
		assert.Equal(t, c.agrees, wording.Agrees(c.kind, c.called, c.done, c.stops, c.before), "%+v", c)
	}
}
