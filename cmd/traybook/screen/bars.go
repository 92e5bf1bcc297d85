package screen

import (
	"math"
	"strconv"
	"strings"
)

// Bar is one bar of a ranked list.
type Bar struct {
	Label string
	Share float64 // length, 0 … 1 of the whole; beyond, it is cut
	Text  string  // the value in words, behind the bar
	Tone  Tone
}

const longestBar = 30

// Bars writes a bar for each item, in the order given, with labels, bars and
// texts under each other. A share that is no number is an empty bar.
func (s *Screen) Bars(bars []Bar) {
	labels, texts := 0, 0
	for _, b := range bars {
		labels = max(labels, Width(Clean(b.Label)))
		texts = max(texts, Width(Clean(b.Text)))
	}
	labels = min(labels, s.width()/2)
	length := min(longestBar, s.width()-labels-texts-2*gap)
	if length < 5 { // no room for the texts beside the bars: they are cut
		length = 5
		texts = s.width() - labels - length - 2*gap
	}
	for _, b := range bars {
		label := Pad(Truncate(Clean(b.Label), labels), labels, false)
		bar := Pad(blocks(b.Share, length), length, false)
		text := Truncate(Clean(b.Text), texts)
		s.write(label + "  " + s.paint(b.Tone, bar) + "  " + text)
	}
}

var eighths = [...]string{"", "▏", "▎", "▍", "▌", "▋", "▊", "▉"}

// blocks draws a bar of share × length columns, to an eighth of a column. What is
// not nothing is at least an eighth.
func blocks(share float64, length int) string {
	if math.IsNaN(share) || share <= 0 {
		return ""
	}
	n := max(int(math.Round(math.Min(share, 1)*float64(length)*8)), 1)
	return strings.Repeat("█", n/8) + eighths[n%8]
}

// luminance is the light a tone sends back, as a share of what bare paper does.
// density and dmin are absolute reflection densities.
func luminance(density, dmin float64) float64 {
	if math.IsNaN(density) || math.IsNaN(dmin) {
		return 1
	}
	return math.Min(math.Pow(10, dmin-density), 1)
}

// lightness is CIE 1976 L*, 0 … 100, of a luminance of 0 … 1 (CIE 15).
func lightness(y float64) float64 {
	if y <= 216./24389 {
		return y * 24389 / 27
	}
	return 116*math.Cbrt(y) - 16
}

// level is the sRGB value, 0 … 255, of a luminance of 0 … 1 (IEC 61966-2-1).
func level(y float64) float64 {
	if y <= 0.0031308 {
		return 255 * 12.92 * y
	}
	return 255 * (1.055*math.Pow(y, 1/2.4) - 0.055)
}

var shades = [...]string{" ", "░", "▒", "▓", "█"}

// Grey returns a patch of so many columns in the tone of a reflection density
// over paper whose bare density is dmin. With colour it is one of the 24 greys of
// a terminal of 256 colours, 232 (nearly black) … 255 (nearly white). Without it
// is a shade of print in five steps of lightness, where more ink is darker.
func (s *Screen) Grey(density, dmin float64, columns int) string {
	y := luminance(density, dmin)
	columns = max(columns, 0)
	if s.Color {
		step := min(max(int(math.Round((level(y)-8)/10)), 0), 23)
		return "\x1b[48;5;" + strconv.Itoa(232+step) + "m" + strings.Repeat(" ", columns) + "\x1b[49m"
	}
	step := min(int((100-lightness(y))/100*float64(len(shades))), len(shades)-1)
	return strings.Repeat(shades[step], columns)
}

// Tile is one tone of a Ramp.
type Tile struct {
	Label   string
	Density float64 // absolute reflection density
}

// Ramp writes patches of grey side by side with their labels underneath. dmin is
// the density of bare paper. Where they do not fit side by side, each patch gets
// a line of its own.
func (s *Screen) Ramp(tiles []Tile, dmin float64) {
	w := 4
	for _, t := range tiles {
		w = max(w, Width(Clean(t.Label))+1)
	}
	if w*len(tiles)+2 > s.width() {
		for _, t := range tiles {
			s.write("│" + s.Grey(t.Density, dmin, 4) + "│ " + Truncate(Clean(t.Label), s.width()-7))
		}
		return
	}
	var patches, labels strings.Builder
	for _, t := range tiles {
		patches.WriteString(s.Grey(t.Density, dmin, w))
		labels.WriteString(Pad(Clean(t.Label), w, false))
	}
	s.write("│" + patches.String() + "│")
	s.write(" " + labels.String())
}
