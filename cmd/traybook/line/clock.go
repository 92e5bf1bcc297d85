package line

import (
	"strconv"
	"strings"
	"time"
	_ "time/tzdata"
)

const (
	write    = "write 14:05, yesterday 14:05, 2026-05-03T14:05 or 2026-05-03T14:05:10+02:00"
	writeDay = "write 2026-05-03, today or yesterday"

	earliestYear = 1800 // before paper was made sensitive to light
	latestYear   = 2199
)

var (
	full      = NewPattern(`^(\d{4}-\d\d-\d\d)[T ](\d\d:\d\d)(:\d\d(?:\.\d{1,9})?)?(Z|[+-]\d\d:\d\d)$`)
	local     = NewPattern(`^(\d{4})-(\d\d)-(\d\d)[T ](\d\d):(\d\d)(?::(\d\d)(?:\.(\d{1,9}))?)?$`)
	bareDay   = NewPattern(`^(\d{4})-(\d\d)-(\d\d)$`)
	bareTime  = NewPattern(`^(\d{1,2}):(\d\d)(?::(\d\d))?$`)
	namedTime = NewPattern(`^(today|yesterday) +(?:at +)?(\d{1,2}:\d\d(?::\d\d)?)$`)
	since     = NewPattern(`^(.+?) +ago$`)
)

// ParseAt reads the moment of an act:
//
//	2026-05-03T14:05:10+02:00   RFC 3339; the seconds may be left out
//	2026-05-03T14:05            wall time in the zone, also with seconds, also with a space
//	14:05                       today, also with seconds
//	yesterday 14:05             also today 14:05
//	2026-05-03                  the beginning of that day; also today, yesterday
//	10m ago                     so long before now
//	now
//
// The time returned has the offset that was typed, else that of the zone at that
// moment. Whether text was a bare day is told by IsDay. A nil zone is UTC.
//
// Errors: what is not a time; a day or hour that does not exist; a wall time that
// the zone leaves out when its clocks go forward; and one that comes twice when
// they go back, with both ways to write it.
func ParseAt(text string, now time.Time, zone *time.Location) (time.Time, error) {
	return parse(text, now, zoneOr(zone), false)
}

// ParseAsOf reads the moment up to which the book is looked at. It reads what
// ParseAt reads, but a bare day means its end: the last nanosecond of it.
func ParseAsOf(text string, now time.Time, zone *time.Location) (time.Time, error) {
	return parse(text, now, zoneOr(zone), true)
}

// IsDay tells whether text names a day without an hour.
func IsDay(text string) bool {
	s := strings.ToLower(strings.TrimSpace(text))
	return s == "today" || s == "yesterday" || bareDay.MatchString(s)
}

// ParseDay reads a bare day (2026-05-03, today, yesterday) and returns its
// beginning and the beginning of the next one in the zone.
func ParseDay(text string, now time.Time, zone *time.Location) (start, next time.Time, err error) {
	zone = zoneOr(zone)
	s := strings.ToLower(strings.TrimSpace(text))
	y, m, d := now.In(zone).Date()
	switch {
	case s == "today":
	case s == "yesterday":
		d--
	default:
		f := bareDay.FindStringSubmatch(s)
		if f == nil {
			return start, next, Refuse(writeDay, "day %s: not a date", Quote(text))
		}
		y, m, d = whole(f[1]), time.Month(whole(f[2])), whole(f[3])
		if err := checkDay(text, y, m, d); err != nil {
			return start, next, err
		}
	}
	return firstMoment(y, m, d, zone), firstMoment(y, m, d+1, zone), nil
}

func parse(text string, now time.Time, zone *time.Location, endOfDay bool) (time.Time, error) {
	s := strings.TrimSpace(text)
	lower := strings.ToLower(s)
	if lower == "now" {
		return now.In(zone), nil
	}
	if IsDay(s) {
		start, next, err := ParseDay(s, now, zone)
		switch {
		case err != nil:
			return time.Time{}, err
		case endOfDay:
			return next.Add(-time.Nanosecond).In(zone), nil
		}
		return start, nil
	}
	if f := full.FindStringSubmatch(s); f != nil {
		return withOffset(text, f, zone)
	}
	if f := local.FindStringSubmatch(s); f != nil {
		return onDay(text, whole(f[1]), time.Month(whole(f[2])), whole(f[3]), f[4:8], zone)
	}
	y, m, d := now.In(zone).Date()
	if f := namedTime.FindStringSubmatch(lower); f != nil {
		if f[1] == "yesterday" {
			d--
		}
		lower = f[2]
	}
	if f := bareTime.FindStringSubmatch(lower); f != nil {
		day := time.Date(y, m, d, 12, 0, 0, 0, time.UTC)
		return onDay(text, day.Year(), day.Month(), day.Day(), append(f[1:4:4], ""), zone)
	}
	if f := since.FindStringSubmatch(lower); f != nil {
		return ago(text, f[1], now, zone)
	}
	return time.Time{}, Refuse(write, "time %s: not understood", Quote(text))
}

func ago(text, span string, now time.Time, zone *time.Location) (time.Time, error) {
	v, err := Parse(Seconds, span)
	if err != nil {
		return time.Time{}, Refuse("write 10m ago or 1h30m ago", "time %s: %s is not a length of time", Quote(text), Quote(span))
	}
	return now.Add(-time.Duration(v * float64(time.Second))).Truncate(time.Second).In(zone), nil
}

// withOffset reads a time that brings its offset, which counts before the zone's.
func withOffset(text string, f []string, zone *time.Location) (time.Time, error) {
	seconds := f[3]
	if seconds == "" {
		seconds = ":00"
	}
	t, err := time.Parse(time.RFC3339Nano, f[1]+"T"+f[2]+seconds+f[4])
	if err != nil {
		return time.Time{}, Refuse(write, "time %s: there is no such day, hour or offset", Quote(text))
	}
	if err := checkDay(text, t.Year(), t.Month(), t.Day()); err != nil {
		return time.Time{}, err
	}
	_, typed := t.Zone()
	if in := t.In(zone); sameOffset(in, typed) {
		return in, nil
	}
	if f[4] == "Z" {
		return t.UTC(), nil
	}
	return t.In(time.FixedZone("", typed)), nil
}

func sameOffset(t time.Time, offset int) bool {
	_, o := t.Zone()
	return o == offset
}

// onDay reads hour, minute, second and fraction of a second on a day in the zone.
func onDay(text string, y int, m time.Month, d int, hms []string, zone *time.Location) (time.Time, error) {
	if err := checkDay(text, y, m, d); err != nil {
		return time.Time{}, err
	}
	hour, minute, second := whole(hms[0]), whole(hms[1]), whole(hms[2])
	if hour > 23 || minute > 59 || second > 59 {
		return time.Time{}, Refuse("write an hour from 00:00 to 23:59", "time %s: there is no such hour", Quote(text))
	}
	nanos := whole((hms[3] + "000000000")[:9])
	wall := time.Date(y, m, d, hour, minute, second, nanos, time.UTC)
	return resolve(text, wall, zone)
}

func checkDay(text string, y int, m time.Month, d int) error {
	if day := time.Date(y, m, d, 0, 0, 0, 0, time.UTC); day.Month() != m || day.Day() != d {
		return Refuse(writeDay, "date %s: there is no such day", Quote(text))
	}
	if y < earliestYear || y > latestYear {
		return Refuse("write the year with its four digits", "date %s: the year %04d cannot be", Quote(text), y)
	}
	return nil
}

// whole reads digits that a pattern has already found; no digits are zero.
func whole(s string) int {
	n, err := strconv.Atoi(s)
	if err != nil {
		return 0
	}
	return n
}

func zoneOr(zone *time.Location) *time.Location {
	if zone == nil {
		return time.UTC
	}
	return zone
}

var (
	dayWord  = NewPattern(`^(today|yesterday|\d{4}-\d\d-\d\d)$`)
	hourWord = NewPattern(`^\d{1,2}:\d\d(:\d\d)?$`)
	spanWord = NewPattern(`^\d+([.,]\d+)?[a-z]*$`)
)

// JoinTimes puts the words of a time together that were typed without quotes: --at yesterday 14:05, --at 10m ago.
func JoinTimes(args []string) []string {
	var out []string
	for i := 0; i < len(args); i++ {
		word := args[i]
		if word == "--" {
			return append(out, args[i:]...)
		}
		out = append(out, word)
		value, glued := strings.CutPrefix(word, "--at=")
		if !glued && word != "--at" {
			continue
		}
		if !glued {
			if i+1 == len(args) {
				return out
			}
			i++
			value = args[i]
			out = append(out, value)
		}
		rest := args[i+1:]
		n, span := 0, spanWord.MatchString(strings.ToLower(value))
		switch {
		case len(rest) > 0 && (span && rest[0] == "ago" || dayWord.MatchString(strings.ToLower(value)) && hourWord.MatchString(rest[0])):
			n = 1
		case len(rest) > 1 && span && rest[1] == "ago":
			n = 2
		}
		if n > 0 {
			out[len(out)-1] += " " + strings.Join(rest[:n], " ")
			i += n
		}
	}
	return out
}
