package screen_test

import (
	"errors"
	"io"
	"testing"

	"github.com/stretchr/testify/assert"

	"traybook/cmd/traybook/screen"
)

func TestDetect(t *testing.T) {
	for name, tt := range map[string]struct {
		env      map[string]string
		fd       int
		terminal bool
		cols     int
		noColor  bool
		color    bool
		width    int
	}{
		"terminal":                      {env: map[string]string{"TERM": "xterm"}, fd: 1, terminal: true, cols: 120, color: true, width: 120},
		"terminal without TERM":         {fd: 1, terminal: true, cols: 100, color: true, width: 100},
		"pipe":                          {fd: 1, width: 80},
		"pipe with COLUMNS":             {env: map[string]string{"COLUMNS": "132"}, fd: 1, cols: 120, width: 132},
		"no descriptor":                 {fd: -1, terminal: true, cols: 120, width: 80},
		"option":                        {fd: 1, terminal: true, cols: 120, noColor: true, width: 120},
		"NO_COLOR":                      {env: map[string]string{"NO_COLOR": "1"}, fd: 1, terminal: true, cols: 120, width: 120},
		"NO_COLOR empty does not count": {env: map[string]string{"NO_COLOR": ""}, fd: 1, terminal: true, cols: 120, color: true, width: 120},
		"dumb":                          {env: map[string]string{"TERM": "dumb"}, fd: 1, terminal: true, cols: 120, width: 120},
		"size unknown":                  {env: map[string]string{"COLUMNS": "90"}, fd: 1, terminal: true, color: true, width: 90},
		"COLUMNS is no number":          {env: map[string]string{"COLUMNS": "wide"}, fd: 1, width: 80},
		"COLUMNS is negative":           {env: map[string]string{"COLUMNS": "-5"}, fd: 1, width: 80},
		"very narrow":                   {fd: 1, terminal: true, cols: 7, color: true, width: 20},
		"absurdly wide":                 {env: map[string]string{"COLUMNS": "100000"}, fd: 1, width: 500},
	} {
		t.Run(name, func(t *testing.T) {
			around := screen.Surroundings{
				Lookup:     func(key string) (string, bool) { v, ok := tt.env[key]; return v, ok },
				IsTerminal: func(fd int) bool { return tt.terminal && fd == tt.fd },
				Size: func(fd int) (int, int, error) {
					if tt.cols == 0 {
						return 0, 0, errors.New("no size")
					}
					return tt.cols, 40, nil
				},
			}
			s := screen.Detect(io.Discard, tt.fd, tt.noColor, around)
			assert.Equal(t, tt.color, s.Color, "colour")
			assert.Equal(t, tt.width, s.Width, "width")
			assert.Equal(t, tt.terminal && tt.fd >= 0, s.Terminal, "terminal")
		})
	}
	m := screen.Machine()
	assert.NotNil(t, m.Lookup)
	assert.False(t, m.IsTerminal(-1))
}
