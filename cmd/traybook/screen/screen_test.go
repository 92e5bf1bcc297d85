package screen_test

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"traybook/cmd/traybook/screen"
)

func written(width int, color bool, do func(s *screen.Screen)) string {
	var out strings.Builder
	do(&screen.Screen{W: &out, Width: width, Color: color})
	return out.String()
}

func TestSay(t *testing.T) {
	say := func(color bool, tone screen.Tone, text string) string {
		return written(80, color, func(s *screen.Screen) { s.Say(tone, text) })
	}
	assert.Equal(t, "note\n", say(false, screen.Bad, "note"))
	assert.Equal(t, "\x1b[31mnote\x1b[39m\n", say(true, screen.Bad, "note"))
	assert.Equal(t, "void: note\n", say(false, screen.Struck, "note"))
	assert.Equal(t, "\x1b[9m␛[0m\x1b[29m\n", say(true, screen.Struck, "\x1b[0m"), "a text cannot end its own tone")
	assert.Equal(t, "note\n", say(true, screen.Plain, "note"))
}

func TestHeadline(t *testing.T) {
	assert.Equal(t, "港の写真\n────────\n", written(80, false, func(s *screen.Screen) { s.Headline("港の写真") }))
	assert.Equal(t, "\x1b[1mToday\x1b[22m\n", written(80, true, func(s *screen.Screen) { s.Headline("Today") }))
}

func TestHang(t *testing.T) {
	got := written(24, false, func(s *screen.Screen) { s.Hang(screen.Plain, "1. ", "the extension was left out of the calculation") })
	assert.Equal(t, "1. the extension was\n   left out of the\n   calculation\n", got)
	got = written(80, false, func(s *screen.Screen) { s.Say(screen.Struck, "exposed 4 s") })
	assert.Equal(t, "void: exposed 4 s\n", got)
}

func TestPairs(t *testing.T) {
	pairs := []screen.Pair{{Label: "time", Value: "4 s"}, {Label: "empty"}, {Label: "aperture", Value: "f/8", Tone: screen.Strong}}
	assert.Equal(t, "time:     4 s\naperture: f/8\n", written(80, false, func(s *screen.Screen) { s.Pairs(pairs...) }))
	assert.Equal(t, "time:     4 s\naperture: \x1b[1mf/8\x1b[22m\n", written(80, true, func(s *screen.Screen) { s.Pairs(pairs...) }))
}

func TestBars(t *testing.T) {
	got := written(40, false, func(s *screen.Screen) {
		s.Bars([]screen.Bar{
			{Label: "a-cause-18-letters", Share: 1, Text: "0.9"}, {Label: "cap", Share: 0.5, Text: "0.45"}, {Label: "light", Share: 0.001},
			{Label: "none", Share: 0, Text: "0"}, {Label: "nan", Share: math.NaN()}, {Label: "more", Share: 7}, {Label: "less", Share: -1},
		})
	})
	assert.Equal(t, strings.Join([]string{
		"a-cause-18-letters  ██████████████  0.9",
		"cap                 ███████         0.45",
		"light               ▏",
		"none                                0",
		"nan",
		"more                ██████████████",
		"less",
	}, "\n")+"\n", got)
}

// The tones of the greys are held against mid-grey: a luminance of 18 % is L* 49.5
// (CIE 15) and sRGB 118 (IEC 61966-2-1), which lies between greys 242 (108) and
// 243 (118) of the 256 colours. A net density of 2.04 is sRGB 24, next to grey 234 (28).
func TestGrey(t *testing.T) {
	color, plain := &screen.Screen{Color: true}, &screen.Screen{}
	for _, tt := range []struct {
		density float64
		color   string
		plain   string
	}{
		{0.06, "255", "  "}, {0, "255", "  "}, {0.06 - math.Log10(0.18), "243", "▒▒"}, {2.1, "234", "██"}, {9, "232", "██"}, {math.NaN(), "255", "  "}, {math.Inf(1), "232", "██"},
	} {
		assert.Equal(t, "\x1b[48;5;"+tt.color+"m  \x1b[49m", color.Grey(tt.density, 0.06, 2), "%v", tt.density)
		assert.Equal(t, tt.plain, plain.Grey(tt.density, 0.06, 2), "%v", tt.density)
	}
	before := math.Inf(1)
	for d := 0.0; d < 2.5; d += 0.05 {
		got := color.Grey(d, 0, 0)
		var step float64
		for _, r := range got[7:10] {
			step = step*10 + float64(r-'0')
		}
		assert.LessOrEqual(t, step, before, "denser is never lighter")
		before = step
	}
}

func TestRamp(t *testing.T) {
	tiles := []screen.Tile{{Label: "light", Density: 0.06}, {Label: "mid", Density: 0.8}, {Label: "shadow", Density: 1.9}}
	got := written(80, false, func(s *screen.Screen) { s.Ramp(tiles, 0.06) })
	assert.Equal(t, "│       ▒▒▒▒▒▒▒███████│\n light  mid    shadow\n", got)
	got = written(20, false, func(s *screen.Screen) { s.Ramp(tiles, 0.06) })
	assert.Equal(t, "│    │ light\n│▒▒▒▒│ mid\n│████│ shadow\n", got)
}
