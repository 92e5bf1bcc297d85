package line_test

import (
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"traybook/cmd/traybook/line"
)

func zone(t require.TestingT, name string) *time.Location {
	loc, err := line.Zone(name)
	require.NoError(t, err)
	return loc
}

const layout = "2006-01-02T15:04:05.999999999Z07:00"

func TestParseAt(t *testing.T) {
	oslo := zone(t, "Europe/Oslo")
	now := time.Date(2026, 5, 3, 12, 30, 45, 0, time.UTC) // 14:30:45 in Oslo
	for text, want := range map[string]string{
		"2026-05-03T14:05:10+02:00":     "2026-05-03T14:05:10+02:00",
		"2026-05-03T14:05+02:00":        "2026-05-03T14:05:00+02:00",
		"2026-05-03T14:05:10.25+02:00":  "2026-05-03T14:05:10.25+02:00",
		"2026-05-03T12:05:10Z":          "2026-05-03T12:05:10Z",
		"2026-05-03T09:05:10-03:00":     "2026-05-03T09:05:10-03:00",
		"2026-05-03T14:05":              "2026-05-03T14:05:00+02:00",
		"2026-05-03T14:05:10":           "2026-05-03T14:05:10+02:00",
		"2026-05-03 14:05":              "2026-05-03T14:05:00+02:00",
		" 2026-12-24T14:05 ":            "2026-12-24T14:05:00+01:00",
		"2026-05-03":                    "2026-05-03T00:00:00+02:00",
		"14:05":                         "2026-05-03T14:05:00+02:00",
		"9:05":                          "2026-05-03T09:05:00+02:00",
		"14:05:09":                      "2026-05-03T14:05:09+02:00",
		"yesterday 14:05":               "2026-05-02T14:05:00+02:00",
		"Yesterday at 14:05":            "2026-05-02T14:05:00+02:00",
		"today 14:05":                   "2026-05-03T14:05:00+02:00",
		"yesterday":                     "2026-05-02T00:00:00+02:00",
		"now":                           "2026-05-03T14:30:45+02:00",
		"10m ago":                       "2026-05-03T14:20:45+02:00",
		"1h30m ago":                     "2026-05-03T13:00:45+02:00",
		"2026-10-25T02:30:00+02:00":     "2026-10-25T02:30:00+02:00",
		"2026-10-25T02:30:00+01:00":     "2026-10-25T02:30:00+01:00",
		"1894-07-01T12:00":              "1894-07-01T12:00:00+00:43",
		"2026-10-25T01:59:59":           "2026-10-25T01:59:59+02:00",
		"2026-10-25T03:00":              "2026-10-25T03:00:00+01:00",
		"2026-03-29T03:00":              "2026-03-29T03:00:00+02:00",
		"2026-03-29T01:59:59.999999999": "2026-03-29T01:59:59.999999999+01:00",
	} {
		t.Run(text, func(t *testing.T) {
			got, err := line.ParseAt(text, now, oslo)
			require.NoError(t, err)
			assert.Equal(t, want, got.Format(layout))
		})
	}
}

func TestParseAtRefuses(t *testing.T) {
	now := time.Date(2026, 5, 3, 12, 30, 45, 0, time.UTC)
	const write = "; write 14:05, yesterday 14:05, 2026-05-03T14:05 or 2026-05-03T14:05:10+02:00"
	for _, tt := range []struct{ zone, text, want string }{
		{"Europe/Oslo", "", `time "": not understood` + write},
		{"Europe/Oslo", "noonish", `time "noonish": not understood` + write},
		{"Europe/Oslo", "14.05", `time "14.05": not understood` + write},
		{"Europe/Oslo", "2026-05-03t14:05:10z", `time "2026-05-03t14:05:10z": not understood` + write},
		{"Europe/Oslo", "2026-05-03T4:05:10Z", `time "2026-05-03T4:05:10Z": not understood` + write},
		{"Europe/Oslo", "2026-05-03T14:05:10,5Z", `time "2026-05-03T14:05:10,5Z": not understood` + write},
		{"Europe/Oslo", "2026-02-30T14:05:10Z", `time "2026-02-30T14:05:10Z": there is no such day, hour or offset` + write},
		{"Europe/Oslo", "2026-05-03T14:05:60Z", `time "2026-05-03T14:05:60Z": there is no such day, hour or offset` + write},
		{"Europe/Oslo", "2026-05-03T14:05:10+99:00", `time "2026-05-03T14:05:10+99:00": there is no such day, hour or offset` + write},
		{"Europe/Oslo", "2026-02-30", `date "2026-02-30": there is no such day; write 2026-05-03, today or yesterday`},
		{"Europe/Oslo", "2026-00-10T10:00", `date "2026-00-10T10:00": there is no such day; write 2026-05-03, today or yesterday`},
		{"Europe/Oslo", "0226-05-03T10:00", `date "0226-05-03T10:00": the year 0226 cannot be; write the year with its four digits`},
		{"Europe/Oslo", "24:00", `time "24:00": there is no such hour; write an hour from 00:00 to 23:59`},
		{"Europe/Oslo", "yesterday 7:75", `time "yesterday 7:75": there is no such hour; write an hour from 00:00 to 23:59`},
		{"Europe/Oslo", "a while ago", `time "a while ago": "a while" is not a length of time; write 10m ago or 1h30m ago`},
		{"Europe/Oslo", "2026-10-25T02:30", `time "2026-10-25T02:30": in Europe/Oslo the clock is put back and shows 2026-10-25 02:30 twice; write 2026-10-25T02:30:00+02:00 for the first or 2026-10-25T02:30:00+01:00 for the second`},
		{"Europe/Oslo", "2026-03-29T02:30", `time "2026-03-29T02:30": in Europe/Oslo the clock is put forward over 2026-03-29 02:30; write 2026-03-29T01:59 or 2026-03-29T03:00`},
		{"Australia/Lord_Howe", "2026-04-05T01:45", `time "2026-04-05T01:45": in Australia/Lord_Howe the clock is put back and shows 2026-04-05 01:45 twice; write 2026-04-05T01:45:00+11:00 for the first or 2026-04-05T01:45:00+10:30 for the second`},
		{"Pacific/Apia", "2011-12-30T12:00", `time "2011-12-30T12:00": in Pacific/Apia the clock is put forward over 2011-12-30 12:00; write 2011-12-29T23:59 or 2011-12-31T00:00`},
	} {
		t.Run(tt.text, func(t *testing.T) {
			_, err := line.ParseAt(tt.text, now, zone(t, tt.zone))
			require.EqualError(t, err, tt.want)
		})
	}
}

func TestParseAsOfTakesADayToItsEnd(t *testing.T) {
	now := time.Date(2026, 5, 3, 22, 30, 0, 0, time.UTC) // 00:30 on the 4th in Oslo
	for _, tt := range []struct{ zone, text, want string }{
		{"Europe/Oslo", "2026-05-03", "2026-05-03T23:59:59.999999999+02:00"},
		{"Europe/Oslo", "today", "2026-05-04T23:59:59.999999999+02:00"},
		{"Europe/Oslo", "yesterday", "2026-05-03T23:59:59.999999999+02:00"},
		{"Europe/Oslo", "2026-10-25", "2026-10-25T23:59:59.999999999+01:00"},
		{"Europe/Oslo", "2026-05-03T14:05", "2026-05-03T14:05:00+02:00"},
		{"Africa/Cairo", "2026-04-23", "2026-04-23T23:59:59.999999999+02:00"},
	} {
		got, err := line.ParseAsOf(tt.text, now, zone(t, tt.zone))
		require.NoError(t, err)
		assert.Equal(t, tt.want, got.Format(layout), "%s in %s", tt.text, tt.zone)
		assert.Equal(t, len(tt.text) < 11, line.IsDay(tt.text))
	}
}

func TestParseDay(t *testing.T) {
	now := time.Date(2026, 5, 3, 22, 30, 0, 0, time.UTC)
	for _, tt := range []struct {
		name, zone, text string
		start            string
		hours            float64
	}{
		{"plain", "Europe/Oslo", "2026-05-03", "2026-05-03T00:00:00+02:00", 24},
		{"clock goes forward", "Europe/Oslo", "2026-03-29", "2026-03-29T00:00:00+01:00", 23},
		{"clock goes back", "Europe/Oslo", "2026-10-25", "2026-10-25T00:00:00+02:00", 25},
		{"no midnight", "Africa/Cairo", "2026-04-24", "2026-04-24T01:00:00+03:00", 23},
		{"two midnights", "America/Havana", "2026-11-01", "2026-11-01T00:00:00-04:00", 25},
		{"today", "Europe/Oslo", "today", "2026-05-04T00:00:00+02:00", 24},
		{"yesterday", "UTC", "Yesterday", "2026-05-02T00:00:00Z", 24},
	} {
		t.Run(tt.name, func(t *testing.T) {
			start, next, err := line.ParseDay(tt.text, now, zone(t, tt.zone))
			require.NoError(t, err)
			assert.Equal(t, tt.start, start.Format(layout))
			assert.InDelta(t, tt.hours, next.Sub(start).Hours(), 1e-9)
		})
	}
	_, _, err := line.ParseDay("14:05", now, nil)
	require.EqualError(t, err, `day "14:05": not a date; write 2026-05-03, today or yesterday`)
}

func TestZone(t *testing.T) {
	for _, name := range []string{"", "Local", "local", "Europe/Nowhere", "../etc/passwd", "CEST+2"} {
		_, err := line.Zone(name)
		assert.Error(t, err, name)
	}
}

// A wall time without its offset is either the one moment at which a clock in
// the zone shows it, or refused; written with its offset it always comes back.
func TestWallTimesOfAllZonesComeBack(t *testing.T) {
	names := []string{"Europe/Oslo", "America/Havana", "America/St_Johns", "Australia/Lord_Howe", "Pacific/Apia", "Africa/Cairo", "Africa/Casablanca", "Asia/Kathmandu", "Antarctica/Troll", "UTC"}
	rapid.Check(t, func(t *rapid.T) {
		loc := zone(t, rapid.SampledFrom(names).Draw(t, "zone"))
		at := time.Unix(rapid.Int64Range(-2e9, 4e9).Draw(t, "unix"), 0).In(loc)
		if rapid.Bool().Draw(t, "near a change of the clock") {
			if _, end := at.ZoneBounds(); !end.IsZero() {
				at = end.Add(time.Duration(rapid.IntRange(-7200, 7200).Draw(t, "seconds")) * time.Second).In(loc)
			}
		}
		got, err := line.ParseAt(at.Format("2006-01-02T15:04:05"), at, loc)
		if err == nil {
			require.True(t, got.Equal(at), "%s became %s", at, got)
		} else {
			require.Contains(t, err.Error(), "twice")
		}
		if _, offset := at.Zone(); offset%60 == 0 {
			got, err = line.ParseAt(at.Format(time.RFC3339), at, loc)
			require.NoError(t, err)
			require.True(t, got.Equal(at))
			require.Equal(t, at.Format(time.RFC3339), got.Format(time.RFC3339))
		}
	})
}

// From 2038 on the changes of a clock follow from a rule; a leap year has a last day there too, and the day of the last listed
// change comes once.
func TestWallTimesPastTheListedChanges(t *testing.T) {
	for _, name := range []string{"Europe/Oslo", "America/New_York", "Australia/Sydney", "Africa/Cairo", "Antarctica/Troll", "America/Nuuk"} {
		loc := zone(t, name)
		for year := 2036; year < 2100; year += 4 {
			for _, clock := range []string{"2039-12-31T23:59:59", "2040-12-30T12:00:00", "2040-12-31T00:00:00", "2040-12-31T12:00:00", "2041-01-01T00:30:00", "2038-01-19T00:14:06"} {
				text := strings.Replace(clock, "2040", strconv.Itoa(year), 1)
				got, err := line.ParseAt(text, time.Date(year, 6, 1, 12, 0, 0, 0, loc), loc)
				require.NoError(t, err, "%s %s", name, text)
				require.Equal(t, text, got.Format("2006-01-02T15:04:05"), name)
			}
		}
		got, err := line.ParseAsOf("2040-12-31", time.Date(2041, 6, 1, 12, 0, 0, 0, loc), loc)
		require.NoError(t, err)
		require.Equal(t, "2040-12-31", got.Format("2006-01-02"), name)
	}
}

func FuzzParseAt(f *testing.F) {
	for _, s := range []string{"14:05", "now", "yesterday 14:05", "2026-05-03T14:05:10+02:00", "2026-10-25T02:30", "10m ago", "2026-02-30", "99:99", "today", "\xff"} {
		f.Add(s)
	}
	oslo := zone(f, "Europe/Oslo")
	now := time.Date(2026, 5, 3, 12, 30, 45, 0, time.UTC)
	f.Fuzz(func(t *testing.T, s string) {
		at, err := line.ParseAt(s, now, oslo)
		if err != nil {
			return
		}
		if at.Year() < 1700 || at.Year() > 2200 {
			t.Fatalf("%q is read as %s", s, at)
		}
		until, err := line.ParseAsOf(s, now, oslo)
		if err != nil || until.Before(at) {
			t.Fatalf("%q: as of %s, %v, is before %s", s, until, err, at)
		}
	})
}
