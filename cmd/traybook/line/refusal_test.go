package line_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"traybook/cmd/traybook/line"
)

func TestPartsOfAnError(t *testing.T) {
	own := line.Refuse("write 4s", "time %s: no number in it", line.Quote("x"))
	for name, tt := range map[string]struct {
		err           error
		problem, hint string
	}{
		"none":    {nil, "", ""},
		"own":     {own, `time "x": no number in it`, "write 4s"},
		"foreign": {errors.New("disk full"), "disk full", ""},
		"wrapped": {fmt.Errorf("line 3: %w", own), `line 3: time "x": no number in it; write 4s`, ""},
	} {
		t.Run(name, func(t *testing.T) {
			problem, hint := line.Parts(tt.err)
			assert.Equal(t, tt.problem, problem)
			assert.Equal(t, tt.hint, hint)
		})
	}
	assert.Equal(t, "bare", line.Refuse("", "bare").Error())
}

func TestQuoteKeepsTheTerminalSafeAndShort(t *testing.T) {
	assert.Equal(t, `"\x1b[2J"`, line.Quote("\x1b[2J"))
	assert.Equal(t, `"ærfugl"`, line.Quote("ærfugl"))
	assert.Len(t, []rune(line.Quote(strings.Repeat("ø", 500))), 42)
}
