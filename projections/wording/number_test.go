package wording_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"traybook/events"
	"traybook/projections/wording"
)

func TestNumbers(t *testing.T) {
	for _, c := range []struct {
		v    float64
		want string
	}{
		{0, "0"}, {1, "1"}, {-1.5, "−1.5"}, {3.14159, "3.14"}, {31.4159, "31.4"}, {314.159, "314"}, {31415.9, "31416"}, {0.0314159, "0.0314"},
		{0.000314159, "0.000314"}, {2.5000001, "2.5"}, {10, "10"}, {100, "100"}, {1e-15, "0"}, {-1e-15, "0"}, {0.999, "0.999"}, {0.9999, "1"}, {9.996, "10"},
	} {
		assert.Equal(t, c.want, wording.Number(c.v), "%v", c.v)
	}
}

func TestCounts(t *testing.T) {
	assert.Equal(t, []string{"1 sheet", "0 sheets", "2 sheets", "2.5 sheets", "1 entry", "3 entries", "1 box"}, []string{wording.CountOf(1, "sheet"), wording.CountOf(0, "sheet"),
		wording.CountOf(int64(2), "sheet"), wording.CountOf(2.5, "sheet"), wording.CountOf(1.0, "entry"), wording.CountOf(3, "entry"), wording.CountOf(1, "box")})
}

// A time in a bath as a hand keeps it: whole seconds from twenty on, below as a clock is set (halves to 20 s, tenths to 5 s).
func TestTimesByHand(t *testing.T) {
	for s, want := range map[float64]string{90: "90s", 90.4: "90s", 90.5: "91s", 20: "20s", 20.4: "20s", 19.8: "20s", 12.3: "12.5s", 12.2: "12s", 3.14: "3.1s", 0: "0s"} {
		assert.Equal(t, want, wording.TypedSeconds(s), "%v", s)
	}
}

func TestHowLongAgo(t *testing.T) {
	const hour, day = time.Hour, 24 * time.Hour
	for d, want := range map[time.Duration]string{0: "0 minutes", 59 * time.Minute: "59 minutes", hour: "1 hour", 90 * time.Minute: "2 hours", time.Minute: "1 minute", 47 * hour: "47 hours", 48 * hour: "2 days", 3 * day: "3 days", 699 * day: "699 days", 700 * day: "2 years", 1461 * day: "4 years", 2000 * day: "5 years"} {
		assert.Equal(t, want, wording.Roughly(d), "%v", d)
	}
	assert.Equal(t, "2026-05-02 09:07", wording.ClockOf(time.Date(2026, 5, 2, 9, 7, 59, 0, time.UTC)))
}

func TestShortIds(t *testing.T) {
	assert.Equal(t, []string{"01234567", "0123", ""}, []string{wording.ShortID("0123456789"), wording.ShortID("0123"), wording.ShortID("")})
}

// A field that was set is told with its option's name and its unit; one taken out as such.
func TestSetFields(t *testing.T) {
	for _, c := range []struct{ name, value, want string }{
		{"time_s", "8", "time = 8 s"}, {"temp_c", "19", "temp = 19 °C"}, {"volume_ml", "500", "volume = 500 ml"}, {"extension_mm", "75", "extension = 75 mm"}, {"capacity_m2", "1", "capacity = 1 m²"},
		{"life_h", "8", "life = 8 h"}, {"bottle_days", "30", "bottle = 30 days"}, {"subject", `"mate"`, `subject = "mate"`}, {"subject", "null", "subject taken out"}, {"motion_mm_s", "3", "motion = 3 mm/s"}, {"width_px", "3", "width = 3 px"},
	} {
		assert.Equal(t, c.want, wording.SetText(events.SetField{Name: c.name, Value: []byte(c.value)}))
	}
}

// What a program reads keeps its hyphen, a sum its hundredths, and what is no number is a dash.
func TestTheOtherWritersOfNumbers(t *testing.T) {
	assert.Equal(t, []string{"–", "–", "–"}, []string{wording.Number(math.NaN()), wording.Number(math.Inf(1)), wording.AsTyped(math.Inf(-1), 1)})
	assert.Equal(t, []string{"-2.25", "2.3", "0"}, []string{wording.AsTyped(-2.25, 1), wording.AsTyped(2.2513, 1), wording.Decimals(-0.004, 2)})
	for _, c := range []struct {
		v              float64
		currency, want string
	}{{12, "NOK", "12 NOK"}, {12.5, "NOK", "12.50 NOK"}, {0.004, "", "0"}, {-3.256, "EUR", "−3.26 EUR"}, {1234.5, "", "1234.50"}} {
		assert.Equal(t, c.want, wording.Money(c.v, c.currency))
	}
}

func TestTheFirstOfMany(t *testing.T) {
	for want, most := range map[string]int{"a, b, c": 3, "a, b and 1 more": 2} {
		assert.Equal(t, want, wording.FirstOf([]string{"a", "b", "c"}, most, ", "))
	}
	assert.Empty(t, wording.FirstOf(nil, 2, "; "))
}
