package bench

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"traybook/events"
)

// A sheet in the developer does not wait for it, as long as its clock runs.
func TestASheetInTheDeveloperDoesNotWait(t *testing.T) {
	s := State{Pictures: []Picture{{Name: "2026-001", Negative: Sheet{Name: "2026-001n", State: "exposed"}}, {Name: "2026-002", Negative: Sheet{Name: "2026-002n", State: "exposed"}}}}
	assert.Equal(t, []string{"2026-001n", "2026-002n"}, s.waiting())
	s.Clocks = ClocksOf([]events.Entry{{Kind: events.ClockStarted, Data: &events.ClockStartedData{Act: "develop", Sheet: "2026-001n"}}})
	assert.Equal(t, []string{"2026-002n"}, s.waiting())
	s.Clocks = ClocksOf([]events.Entry{{Kind: events.ClockStarted, Data: &events.ClockStartedData{Act: "fix", Sheet: "2026-001n"}}})
	assert.Equal(t, []string{"2026-001n", "2026-002n"}, s.waiting())
}
