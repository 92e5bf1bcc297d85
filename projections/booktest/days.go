package booktest

import (
	"encoding/json"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/sqlite"
	"traybook/projections/acts"
)

// dayWords are the acts as the days write them: their kinds, and what they bring unless it is said.
var dayWords = map[string]struct {
	kind   events.Kind
	bare   string // the field of a bare number
	brings string
}{
	"describe": {kind: events.CameraDescribed}, "receive": {kind: events.PaperReceived}, "rate": {kind: events.PaperRated},
	"spoil": {kind: events.PaperSpoiled}, "load": {kind: events.HolderLoaded}, "open": {kind: events.SessionOpened}, "close": {kind: events.SessionClosed},
	"mix": {kind: events.BathMixed}, "test": {kind: events.BathTested}, "discard": {kind: events.BathDiscarded},
	"meter": {kind: events.LightMetered, brings: "on=scene mode=reflected index=3"}, "negative": {kind: events.LightMetered, brings: "on=negative mode=reflected index=3"},
	"expose": {events.SheetExposed, "time_s", ""}, "reprint": {events.SheetReprinted, "time_s", ""},
	"develop": {events.SheetDeveloped, "time_s", ""}, "rinse": {events.SheetRinsed, "time_s", ""}, "fix": {events.SheetFixed, "time_s", ""},
	"wash": {events.SheetWashed, "changes", "soak_s=30 volume_ml=1000"}, "judge": {kind: events.SheetJudged}, "deliver": {kind: events.SheetDelivered},
}

// DayAct is one act of a day, and what a master would say of it.
type DayAct struct {
	Name   string // the line and its act
	Entry  events.Entry
	Wants  []string // codes of warnings
	Reason string
}

// Days reads twenty days of work, written by hand, from their lines.
func Days(t testing.TB) (days []string, all []DayAct) {
	raw, err := os.ReadFile("../../testdata/days.txt")
	require.NoError(t, err)
	oslo, err := time.LoadLocation("Europe/Oslo")
	require.NoError(t, err)
	at := time.Date(2026, 3, 20, 8, 0, 0, 0, oslo)
	day := at
	for i, row := range strings.Split(string(raw), "\n") {
		row, judged, _ := strings.Cut(row, " ! ")
		row = strings.TrimSpace(row)
		switch {
		case row == "" || strings.HasPrefix(row, "#"):
			continue
		case strings.HasPrefix(row, "day "):
			day, err = time.ParseInLocation("2006-01-02", row[4:14], oslo)
			require.NoError(t, err, row)
			days = append(days, row)
			continue
		}
		if clock, err := time.Parse("15:04", strings.Fields(row)[0]); err == nil {
			at, row = time.Date(day.Year(), day.Month(), day.Day(), clock.Hour(), clock.Minute(), 0, 0, oslo), row[6:]
		}
		texts := strings.Split(row, " ; ")
		for j, text := range texts {
			x := DayAct{Name: fmt.Sprintf("line %d, %s", i+1, text), Entry: entryOfDay(t, text)}
			x.Entry.At, x.Entry.RecordedAt, x.Entry.Zone = at, at, "Europe/Oslo"
			if codes, reason, ok := strings.Cut(judged, ": "); ok && j == len(texts)-1 {
				x.Wants, x.Reason = strings.Fields(codes), reason
			}
			x.Entry.ID = events.ID{0xda, byte(len(all) >> 8), byte(len(all))}
			all = append(all, x)
			at = at.Add(2 * time.Minute)
		}
	}
	return days, all
}

func entryOfDay(t testing.TB, text string) events.Entry {
	word, rest, _ := strings.Cut(text, " ")
	of, ok := dayWords[word]
	require.True(t, ok, text)
	fields := map[string]json.RawMessage{}
	set := func(text string) {
		for text = strings.TrimSpace(text); text != ""; text = strings.TrimSpace(text) {
			var key, value string
			if before, after, _ := strings.Cut(text, "='"); !strings.Contains(before, " ") && after != "" {
				key = before
				value, text, _ = strings.Cut(after, "'")
			} else {
				var one string
				one, text, _ = strings.Cut(text, " ")
				if key, value, ok = strings.Cut(one, "="); !ok {
					key, value = of.bare, one
				}
			}
			raw := []byte(value)
			switch {
			case strings.HasPrefix(value, "["):
				list := strings.FieldsFunc(strings.Trim(value, "[]"), func(r rune) bool { return r == ',' })
				raw, _ = json.Marshal(append([]string{}, list...))
			case !json.Valid(raw):
				raw, _ = json.Marshal(value)
			}
			fields[key] = raw
		}
	}
	set(of.brings)
	set(rest)
	raw, err := json.Marshal(fields)
	require.NoError(t, err)
	l, err := events.ParseLine([]byte(fmt.Sprintf(`{"kind":%q,"at":"2026-01-01T12:00:00+01:00","data":%s}`, of.kind, raw)))
	require.NoError(t, err, text)
	return l.Entry
}

// TwentyDays is a book in which those days were kept.
func TwentyDays(t testing.TB) *sqlite.Book {
	t.Helper()
	_, all := Days(t)
	b := FromActs(t, DaysOpened)
	require.NoError(t, b.Write(func(tx *sqlite.Tx) error {
		for _, x := range all {
			_, err := acts.Write(tx, &x.Entry, acts.WriteOptions{})
			require.NoError(t, err, x.Name)
		}
		return nil
	}))
	return b
}

// DaysOpened opens the book of the twenty days.
const DaysOpened = `book.opened 2026-03-20T07:00:00 "zone":"Europe/Oslo"`
