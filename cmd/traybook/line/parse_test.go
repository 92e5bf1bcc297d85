package line_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/cmd/traybook/line"
)

func TestParse(t *testing.T) {
	for _, tt := range []struct {
		dim  line.Dimension
		text string
		want float64
	}{
		{line.Seconds, "4", 4}, {line.Seconds, "4s", 4}, {line.Seconds, " 4 S ", 4}, {line.Seconds, "4 sec.", 4},
		{line.Seconds, "1/4s", 0.25}, {line.Seconds, "1/4", 0.25}, {line.Seconds, "½ s", 0.5}, {line.Seconds, "1½", 1.5},
		{line.Seconds, "1 1/2 s", 1.5}, {line.Seconds, "1/2.5", 0.4}, {line.Seconds, "60s", 60},
		{line.Seconds, "1m30s", 90}, {line.Seconds, "1m30", 90}, {line.Seconds, "1 min 30 s", 90}, {line.Seconds, "1:30", 90},
		{line.Seconds, "1:02:03", 3723}, {line.Seconds, `1'30"`, 90}, {line.Seconds, `4"`, 4}, {line.Seconds, "1’30”", 90},
		{line.Seconds, "2min", 120}, {line.Seconds, "2m", 120}, {line.Seconds, "1h", 3600}, {line.Seconds, "2h15", 8100},
		{line.Seconds, "0,5s", 0.5}, {line.Seconds, ".5", 0.5}, {line.Seconds, "+4", 4}, {line.Seconds, "250ms", 0.25}, {line.Seconds, "0", 0},
		{line.SignedSeconds, "-0.2s", -0.2}, {line.SignedSeconds, "−1/4", -0.25}, {line.SignedSeconds, "-1m30s", -90},
		{line.Minutes, "5", 5}, {line.Minutes, "90s", 1.5}, {line.Minutes, "1h30m", 90},
		{line.Hours, "8", 8}, {line.Hours, "90min", 1.5}, {line.Hours, "1:30", 1.5}, {line.Hours, "2d", 48},
		{line.Days, "30", 30}, {line.Days, "6 weeks", 42}, {line.Days, "12h", 0.5},
		{line.Millimetres, "135", 135}, {line.Millimetres, "135mm", 135}, {line.Millimetres, "13,5cm", 135}, {line.Millimetres, "2m", 2000},
		{line.Millimetres, "5in", 127}, {line.Millimetres, "6ft", 1828.8}, {line.Millimetres, `5'6"`, 1676.4}, {line.Millimetres, "5 ft 6", 1676.4},
		{line.Millimetres, "1m75", 1750}, {line.Millimetres, "1 m 20 cm", 1200}, {line.Millimetres, "5 1/2in", 139.7}, {line.Millimetres, "0.2 mm", 0.2},
		{line.MillimetresPerSecond, "0.3 m/s", 300}, {line.MillimetresPerSecond, "3.6km/h", 1000}, {line.MillimetresPerSecond, "20", 20},
		{line.Millilitres, "1l", 1000}, {line.Millilitres, "500ml", 500}, {line.Millilitres, "1,5 l", 1500}, {line.Millilitres, "500", 500},
		{line.Millilitres, "1,5L", 1500}, {line.Millilitres, "10 US fl. oz", 295.735295625}, {line.Millilitres, "10 uk oz", 284.130625}, {line.Millilitres, "0,125 l", 125},
		{line.Celsius, "20", 20}, {line.Celsius, "20C", 20}, {line.Celsius, "20°C", 20}, {line.Celsius, "20 °", 20}, {line.Celsius, "68F", 20},
		{line.Celsius, "-4 °F", -20}, {line.Celsius, "293.15K", 20}, {line.Celsius, "-2", -2}, {line.Celsius, "18,5", 18.5},
		{line.FNumber, "f/8", 8}, {line.FNumber, "f8", 8}, {line.FNumber, "8", 8}, {line.FNumber, "f/5.6", 5.6}, {line.FNumber, "f/5,6", 5.6},
		{line.FNumber, "F:11", 11}, {line.FNumber, "1:4.5", 4.5}, {line.FNumber, "ƒ/16", 16}, {line.FNumber, "f 22", 22},
		{line.EV, "12", 12}, {line.EV, "EV 12", 12}, {line.EV, "11.5 EV", 11.5}, {line.EV, "-3", -3}, {line.EV, "EV -3", -3}, {line.EV, "11 1/3", 34. / 3},
		{line.Lux, "800", 800}, {line.Lux, "1.2 klx", 1200}, {line.Lux, "100 fc", 1076.391041671}, {line.CandelasPerSquareMetre, "400 cd/m²", 400},
		{line.Stops, "-0.5", -0.5}, {line.Stops, "+1/3", 1. / 3}, {line.Stops, "1/2", 0.5}, {line.Stops, "1 1/3", 4. / 3}, {line.Stops, "-1 1/3 stops", -4. / 3},
		{line.Stops, "−½", -0.5}, {line.Stops, "–1", -1}, {line.Stops, "-0,5", -0.5}, {line.Stops, "+1.0 stop", 1},
		{line.Ratio, "1+9", 9}, {line.Ratio, "2 + 3", 1.5}, {line.Ratio, "1+0", 0}, {line.Ratio, "stock", 0},
		{line.SquareMetres, "0.5m2", 0.5}, {line.SquareMetres, "5000cm2", 0.5}, {line.SquareMetres, "5000 cm²", 0.5}, {line.SquareMetres, "0,5", 0.5},
		{line.Count, "25", 25}, {line.Count, "25 sheets", 25}, {line.Count, "0", 0},
		{line.Plain, "1.05", 1.05}, {line.Plain, "-1,05", -1.05}, {line.Plain, "1e-3", 0.001}, {line.Plain, "-0", 0},
		{line.Share, "20%", 0.2}, {line.Share, "0.2", 0.2}, {line.Share, "120 %", 1.2}, {line.Share, "1/5", 0.2}, {line.Share, "1:100", 0.01},
		{line.Percent, "28", 28}, {line.Percent, "28 %", 28},
		{line.Latitude, "59.91", 59.91}, {line.Latitude, "59.91N", 59.91}, {line.Latitude, "33,9 S", -33.9}, {line.Latitude, "-33.9", -33.9},
		{line.Latitude, `N 59°54'36"`, 59.91}, {line.Latitude, "59°30'", 59.5}, {line.Latitude, "59 54N", 59.9}, {line.Latitude, "N59,91", 59.91}, {line.Longitude, "10.75E", 10.75}, {line.Longitude, "W73.5", -73.5}, {line.Longitude, "179.9w", -179.9},
	} {
		t.Run(tt.dim.Name()+" "+tt.text, func(t *testing.T) {
			got, err := line.Parse(tt.dim, tt.text)
			require.NoError(t, err)
			assert.InDelta(t, tt.want, got, 1e-9)
			assert.False(t, got == 0 && math.Signbit(got), "a negative zero")
		})
	}
}

func TestParseRefuses(t *testing.T) {
	for _, tt := range []struct {
		dim        line.Dimension
		text, want string
	}{
		{line.Seconds, "4x", `time "4x": no unit "x" for a time; write 4s, 1/4s or 1m30s`},
		{line.Seconds, "", `time "": nothing in it; write 4s, 1/4s or 1m30s`},
		{line.Seconds, "long", `time "long": no number in it; write 4s, 1/4s or 1m30s`},
		{line.Seconds, "NaN", `time "NaN": no number in it; write 4s, 1/4s or 1m30s`},
		{line.Seconds, "Inf", `time "Inf": no number in it; write 4s, 1/4s or 1m30s`},
		{line.Seconds, "1e300", `time "1e300": too large; write 4s, 1/4s or 1m30s`},
		{line.Seconds, "1e999", `time "1e999": not a number that can be used; write 4s, 1/4s or 1m30s`},
		{line.Seconds, "1/0", `time "1/0": not a number that can be used; write 4s, 1/4s or 1m30s`},
		{line.Seconds, "0/0", `time "0/0": not a number that can be used; write 4s, 1/4s or 1m30s`},
		{line.Seconds, "-4", `time "-4": cannot be negative; write 4s, 1/4s or 1m30s`},
		{line.Seconds, "--4", `time "--4": two signs in front; write 4s, 1/4s or 1m30s`},
		{line.Seconds, "30s1m", `time "30s1m": the larger unit comes first, and each once; write 4s, 1/4s or 1m30s`},
		{line.Seconds, "4s4s", `time "4s4s": the larger unit comes first, and each once; write 4s, 1/4s or 1m30s`},
		{line.Seconds, "4 5", `time "4 5": no unit behind "5"; write 4s, 1/4s or 1m30s`},
		{line.Seconds, "4s!", `time "4s!": "!" is not understood; write 4s, 1/4s or 1m30s`},
		{line.Seconds, "1:75", `time "1:75": a colon parts minutes from seconds below 60; write 4s, 1/4s or 1m30s`},
		{line.Seconds, "1,500s", `time "1,500s": "1,500" can be read as 1500 or as 1.5; write 1500 or 1.5`},
		{line.Minutes, "1:30", `time "1:30": may be hours and minutes or minutes and seconds; write 1h30m or 1m30s`},
		{line.Days, "2 months", `time "2 months": no unit "months" for a time; a month has no fixed length; write days or weeks`},
		{line.Millimetres, "1m5", `length "1m5": no unit behind "5"; write 135mm, 13.5cm, 2m, 5in or 6ft`},
		{line.Millimetres, "infinity", `length "infinity": the book keeps numbers only; write a far distance such as 1000m`},
		{line.Millimetres, "4s", `length "4s": no unit "s" for a length; this is a length, not a time; write 135mm, 2m, 5in or 6ft`},
		{line.Millilitres, "8 oz", `volume "8 oz": no unit "oz" for a volume; an ounce is 29.57 ml in the US and 28.41 ml in the UK; write ml, or 8 us fl oz, or 8 uk fl oz`},
		{line.Millilitres, "8 fl. oz.", `volume "8 fl. oz.": no unit "floz" for a volume; an ounce is 29.57 ml in the US and 28.41 ml in the UK; write ml, or 8 us fl oz, or 8 uk fl oz`},
		{line.Celsius, "68", `temperature "68": a bare number is in degrees Celsius, and that is hotter than a bath; write 68F if it is Fahrenheit, 68C if it is that hot`},
		{line.Celsius, "200C", `temperature "200C": too large; write 20C or 68F`},
		{line.Celsius, "-300", `temperature "-300": less than -60; write 20C or 68F`},
		{line.FNumber, "0", `aperture "0": less than 0.5; write f/8 or 8`},
		{line.FNumber, "1/8", `aperture "1/8": less than 0.5; write f/8 or 8`},
		{line.FNumber, "8s", `aperture "8s": no unit "s" for an aperture; write f/8 or 8`},
		{line.Lux, "0", `illuminance "0": not above 0; write 800 or 800lx`},
		{line.Lux, "10,000", `illuminance "10,000": "10,000" can be read as 10000 or as 10; write 10000 or 10`},
		{line.Stops, "1/2s", `stops "1/2s": no unit "s" for a number of stops; write -0.5, +1/3 or 1 1/3`},
		{line.Ratio, "1:9", `dilution "1:9": can be read in two ways; write 1+9: one part of concentrate and nine of water`},
		{line.Ratio, "9", `dilution "9": not in parts; write 1+9: one part of concentrate and nine of water`},
		{line.Ratio, "0+9", `dilution "0+9": no concentrate in it; write 1+9: one part of concentrate and nine of water`},
		{line.Ratio, "1+1+8", `dilution "1+1+8": has more than two parts; give the concentrate as one part, such as 1+4`},
		{line.Count, "2.5", `count "2.5": not a whole number; write a whole number such as 25`},
		{line.Count, "-1", `count "-1": cannot be negative; write a whole number such as 25`},
		{line.Share, "20", `share "20": a bare number is a part of one, and this is more than two; write 20% or 0.2`},
		{line.Latitude, "91", `latitude "91": more than 90 degrees; write 59.91 or 59.91N`},
		{line.Latitude, "10E", `latitude "10E": E belongs to the other coordinate; write 59.91 or 59.91N`},
		{line.Longitude, "-10W", `longitude "-10W": a sign and a letter both; write 10.75 or 10.75E`},
		{line.Seconds, "4\x1b[2J", `time "4\x1b[2J": "\x1b[2j" is not understood; write 4s, 1/4s or 1m30s`},
	} {
		t.Run(tt.dim.Name()+" "+tt.text, func(t *testing.T) {
			_, err := line.Parse(tt.dim, tt.text)
			require.EqualError(t, err, tt.want)
		})
	}
}

func TestParseDilution(t *testing.T) {
	for text, want := range map[string]string{
		"1+9": "1+9", " 1 + 9 ": "1+9", "1+1+8": "1+1+8", "1+1,5": "1+1.5", "stock": "1+0", "1+9.0": "1+9", "2+3": "2+3",
	} {
		got, err := line.ParseDilution(text)
		require.NoError(t, err, text)
		assert.Equal(t, want, got, text)
		again, err := line.ParseDilution(got)
		require.NoError(t, err, text)
		assert.Equal(t, got, again, text)
	}
	for _, text := range []string{"", "+", "1+", "a+b", "1-9", "1/9", "1+1+1+1+1", "1+-9", "1+99999999"} {
		_, err := line.ParseDilution(text)
		assert.Error(t, err, text)
	}
}

func TestParseSize(t *testing.T) {
	for text, want := range map[string][2]float64{
		"9x12cm": {90, 120}, "5x7in": {127, 177.8}, "102x127": {102, 127}, "9 × 12 cm": {90, 120}, "9cm x 12cm": {90, 120}, "9cmx120mm": {90, 120},
		"6,5x9cm": {65, 90}, "4 3/4 x 6 1/2 in": {120.65, 165.1}, `8x10"`: {203.2, 254}, "4 by 5 inches": {101.6, 127}, "9x12mm": {9, 12}, "4½x6½in": {114.3, 165.1}, "18*24cm": {180, 240},
		"1x2m": {1000, 2000}, "5in x 7": {127, 177.8},
	} {
		w, h, err := line.ParseSize(text)
		require.NoError(t, err, text)
		assert.InDelta(t, want[0], w, 1e-9, text)
		assert.InDelta(t, want[1], h, 1e-9, text)
	}
	for text, want := range map[string]string{
		"9x12": `size "9x12": without a unit this is 9 by 12 mm; write 9x12cm or 9x12in`,
		"12cm": `size "12cm": not width by height; write 9x12cm, 5x7in or 102x127`,
		"0x5":  `size "0x5": an edge of 0 mm cannot be; write 9x12cm, 5x7in or 102x127`,
		"9x":   `size "9x": not width by height; write 9x12cm, 5x7in or 102x127`,
		"9x7q": `size "9x7q": the edge "9q" is not understood; write 9x12cm, 5x7in or 102x127`,
	} {
		_, _, err := line.ParseSize(text)
		require.EqualError(t, err, want)
	}
	assert.Equal(t, "101.6 × 127 mm", line.FormatSize(101.6, 127))
}
