package line_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"traybook/cmd/traybook/line"
)

func TestFormat(t *testing.T) {
	for _, tt := range []struct {
		dim  line.Dimension
		v    float64
		want string
	}{

		{line.Days, 1, "1 day"}, {line.Days, 30, "30 days"},
		{line.Millimetres, 135, "135 mm"}, {line.Millimetres, 13.456, "13.46 mm"}, {line.Millimetres, 2500, "2.5 m"}, {line.Millimetres, 999.97, "1 m"}, {line.Millimetres, 1828.8, "1.83 m"}, {line.Millimetres, 0.2, "0.2 mm"},
		{line.Millilitres, 1500, "1.5 l"}, {line.Millilitres, 250, "250 ml"}, {line.Millilitres, 999.9, "1 l"}, {line.Celsius, 20, "20 °C"}, {line.Celsius, 18.53333, "18.5 °C"}, {line.Celsius, -0.001, "0 °C"},
		{line.FNumber, 8, "f/8"}, {line.FNumber, math.Sqrt(32), "f/5.6"}, {line.FNumber, 5.6, "f/5.6"}, {line.FNumber, 6.349, "f/6.3"}, {line.FNumber, 250, "f/250"}, {line.FNumber, math.Sqrt(512), "f/22"},
		{line.EV, 12, "EV 12"}, {line.Lux, 12345, "12345 lx"}, {line.Lux, 123.45, "123 lx"},
		{line.Ratio, 9, "1+9"}, {line.Ratio, 1.5, "1+1.5"}, {line.SquareMetres, 0.5, "0.5 m²"}, {line.Count, 100, "100"}, {line.Plain, 1.05, "1.05"}, {line.Share, 0.2, "20 %"}, {line.Percent, 28, "28 %"},
		{line.Latitude, -33.9, "33.9°S"}, {line.Longitude, 10.75, "10.75°E"}, {line.Latitude, 0, "0°"}, {line.Lux, math.NaN(), "–"}, {line.EV, math.Inf(-1), "–"},
	} {
		assert.Equal(t, tt.want, line.Format(tt.dim, tt.v), "%s %v", tt.dim.Name(), tt.v)
	}
}

// What is written for a person is read back as the same value, but for the
// rounding of the display.
func TestFormatThenParse(t *testing.T) {
	for _, tt := range []struct {
		dim         line.Dimension
		least, most float64
		rel, abs    float64
	}{
		{line.Days, 0, 400, 0, 0.051},
		{line.Millimetres, 0, 1e8, 0.006, 0}, {line.MillimetresPerSecond, 0, 1e5, 0.006, 0}, {line.SquareMetres, 0, 1e4, 0.006, 0}, {line.Millilitres, 0, 1e5, 0.006, 0},
		{line.Celsius, -50, 120, 0, 0.051}, {line.FNumber, 0.5, 2000, 0.03, 0.051}, {line.EV, -20, 30, 0, 0.051}, {line.Lux, 0.001, 1e6, 0.006, 0}, {line.CandelasPerSquareMetre, 0.001, 1e6, 0.006, 0},
		{line.Ratio, 0, 1000, 0.001, 0}, {line.Share, 0, 9, 0.006, 0}, {line.Percent, 0, 100, 0.001, 0}, {line.Plain, -1e6, 1e6, 1e-5, 0},
		{line.Latitude, -90, 90, 0, 0.0001}, {line.Longitude, -180, 180, 0, 0.0001},
	} {
		t.Run(tt.dim.Name(), func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				v := rapid.Float64Range(tt.least, tt.most).Draw(t, "v")
				if math.Abs(v) < 1e-6 {
					v = 0
					if tt.least > 0 {
						v = tt.least
					}
				}
				text := line.Format(tt.dim, v)
				got, err := line.Parse(tt.dim, text)
				require.NoError(t, err, "%v is written %q", v, text)
				require.InDelta(t, v, got, math.Abs(v)*tt.rel+tt.abs+1e-9, "%v is written %q", v, text)
				require.Equal(t, text, line.Format(tt.dim, got), "%v is not written the same again", v)
			})
		})
	}
}

func TestBareNumbersKeepTheirUnit(t *testing.T) {
	for d := line.Plain; d <= line.Longitude; d++ {
		if d == line.Ratio {
			continue
		}
		v, err := line.Parse(d, "1")
		require.NoError(t, err, d.Name())
		assert.Equal(t, 1.0, v, d.Name())
		assert.NotEmpty(t, d.Write())
	}
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"4s", "1m30", "1:30", "5'6\"", "1 1/3", "f/5,6", "1+9", "20°C", "59°54'30\"N", "9x12cm", "8 fl oz", "1,500", "½", "1e9", "-", "\xff", "59.91N 10.75E"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		check := func(v float64, err error) {
			if err != nil {
				if v != 0 || err.Error() == "" {
					t.Fatalf("%q: value %v beside the error %q", s, v, err)
				}
				for _, r := range err.Error() {
					if r < ' ' || r == 0x7f {
						t.Fatalf("%q: control character in %q", s, err)
					}
				}
				return
			}
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Fatalf("%q gives %v", s, v)
			}
		}
		for d := line.Plain; d <= line.Longitude; d++ {
			v, err := line.Parse(d, s)
			check(v, err)
			if err == nil {
				line.Format(d, v)
			}
		}
		w, h, err := line.ParseSize(s)
		check(w, err)
		check(h, err)
		if norm, err := line.ParseDilution(s); err == nil {
			if again, err := line.ParseDilution(norm); err != nil || again != norm {
				t.Fatalf("%q: %q becomes %q, %v", s, norm, again, err)
			}
		}
	})
}
