package acts_test

import (
	"encoding/json"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/sqlite"
	"traybook/projections/acts"
	"traybook/projections/booktest"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
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

// dayAct is one act of a day, and what a master would say of it.
type dayAct struct {
	name   string // the day and the line
	entry  events.Entry
	wants  []string
	reason string
}

// daysOf reads days of work from their lines.
func daysOf(t *testing.T, path string) (days []string, all []dayAct) {
	raw, err := os.ReadFile(path)
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
			x := dayAct{name: fmt.Sprintf("line %d, %s", i+1, text), entry: entryOfDay(t, text)}
			x.entry.At, x.entry.RecordedAt, x.entry.Zone = at, at, "Europe/Oslo"
			if codes, reason, ok := strings.Cut(judged, ": "); ok && j == len(texts)-1 {
				x.wants, x.reason = strings.Fields(codes), reason
			}
			all = append(all, x)
			at = at.Add(2 * time.Minute)
		}
	}
	return days, all
}

func entryOfDay(t *testing.T, text string) events.Entry {
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

// saidOf does one act as a hand does it, an exposure planned first, and gives the codes of what was said.
func saidOf(tx *sqlite.Tx, e events.Entry) ([]string, error) {
	var said []wording.Warning
	if e.Kind == events.SheetExposed || e.Kind == events.SheetReprinted {
		snap := snapshot.New(tx, e.At)
		plan := e
		plan.Data = events.Clone(e.Data)
		switch x := plan.Data.(type) { // its time is not known yet
		case *events.SheetExposedData:
			x.TimeS = 0
		case *events.SheetReprintedData:
			x.TimeS = 0
		}
		planned, step, err := acts.Plan(snap, plan)
		if err != nil {
			return nil, err
		}
		before, err := acts.BeforeExposure(snap, planned, step)
		if err != nil {
			return nil, err
		}
		said = append(before, step.Warnings...)
	}
	a, err := acts.Write(tx, &e, acts.WriteOptions{})
	var codes []string
	for _, w := range append(said, a.Warnings...) {
		codes = append(codes, w.Of.Code)
	}
	slices.Sort(codes)
	return slices.Compact(codes), err
}

// Twenty days written by hand, of four seasons and two cameras, with what a master would have said beside each act: nothing
// that he would say is missed, and no more than one warning in fifty acts is one that he would not give.
func TestTwentyDaysAreWarnedOfAsAMasterWould(t *testing.T) {
	days, all := daysOf(t, "testdata/days.txt")
	require.Len(t, days, 20)
	b := booktest.FromActs(t, `book.opened 2026-03-20T07:00:00 "zone":"Europe/Oslo"`)
	var missed, falsely []string
	wanted := 0
	require.NoError(t, b.Write(func(tx *sqlite.Tx) error {
		for i, x := range all {
			x.entry.ID = events.ID{0xda, byte(i >> 8), byte(i)}
			said, err := saidOf(tx, x.entry)
			require.NoError(t, err, x.name)
			wanted += len(x.wants)
			for _, code := range x.wants {
				if !slices.Contains(said, code) {
					missed = append(missed, x.name+": "+code+": "+x.reason)
				}
			}
			for _, code := range said {
				if !slices.Contains(x.wants, code) {
					falsely = append(falsely, x.name+": "+code)
				}
			}
		}
		return nil
	}))
	t.Logf("%d acts, %d warnings wanted, %d missed, %d false:\n%s", len(all), wanted, len(missed), len(falsely), strings.Join(falsely, "\n"))
	assert.GreaterOrEqual(t, len(all), 400)
	assert.GreaterOrEqual(t, wanted, 30)
	assert.Empty(t, missed, "a master would have spoken")
	assert.LessOrEqual(t, len(falsely)*50, len(all), "a master would have kept silent")
}
