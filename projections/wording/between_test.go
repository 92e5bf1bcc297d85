package wording_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"traybook/events"
	"traybook/projections/wording"
)

func TestAnIntervalIsToldShort(t *testing.T) {
	for _, c := range []struct {
		low, high float64
		want      string
	}{
		{3.6123, 5.8177, "between 3.6 and 5.8 s"},
		{0.25, 0.61, "between 1/4 and 0.61 s"},
		{9.93, 12.4, "between 9.9 and 12 s"},
		{54.3, 66.2, "between 54 and 65 s"},
		{112, 137, "between 110 s and 2 min 15 s"},
		{3000, 7300, "between 50 min and 2 h"},
		{4 * 86400, 9 * 86400, "between 4 and 9 days"},
	} {
		assert.Equal(t, c.want, wording.Between(c.low, c.high))
	}
	assert.Equal(t, "about 12 min", wording.About(726))
}

// A called-for time is told with what is known of it, short in a cell of a table; nobody is told to expose for days.
func TestACalledForTimeIsTold(t *testing.T) {
	low, high := 3.6, 5.8
	for _, c := range []struct {
		call              wording.Call
		told, text, brief string
	}{
		{wording.Call{Kind: events.SheetExposed, S: 4.58, LowS: &low, HighS: &high}, "called for 4.6 s, between 3.6 and 5.8 s", "4.6 s, between 3.6 and 5.8 s", "4.6 s (3.6–5.8 s)"},
		{wording.Call{Kind: events.SheetToned, S: 120}, "called for 2 min", "2 min", "2 min"},
		{wording.Call{Kind: events.SheetReprinted, S: 73.2 * 86400, LowS: &low, HighS: &high}, "too dark to expose", "too dark to expose", "too dark"},
		{wording.Call{Kind: events.SheetExposed, S: 3600}, "called for 60 min", "60 min", "60 min"},
		{wording.Call{Kind: events.SheetWashed, S: 5400}, "called for 90 min", "90 min", "90 min"},
	} {
		assert.Equal(t, c.told, c.call.Told())
		assert.Equal(t, c.text, c.call.Text())
		assert.Equal(t, c.brief, c.call.Brief())
	}
	assert.Equal(t, "called for 4.6 s, between 3.6 and 5.8 s; done 8 s: +0.8 stop", wording.Call{Kind: events.SheetExposed, S: 4.58, LowS: &low, HighS: &high}.AndDone(8, 0.8, 0))
}
