package main

import (
	"encoding/json"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// actedAt obeys one command with the clock at a moment.
func actedAt(t *testing.T, book, now string, args ...string) string {
	t.Helper()
	wholeAtEnd(t, book)
	env, out, errs := testEnv(map[string]string{"TRAYBOOK_BOOK": book, "TRAYBOOK_NOW": now}, args...)
	code := run(env)
	require.Zero(t, code, "%s %v: %s", now, args, errs)
	return out.String()
}

// timedLine is what the tests of time look at in an entry.
type timedLine struct {
	Kind       string          `json:"kind"`
	At         string          `json:"at"`
	Zone       string          `json:"zone"`
	RecordedAt string          `json:"recorded_at"`
	Book       string          `json:"book"`
	BookSeq    int             `json:"book_seq"`
	Data       json.RawMessage `json:"data"`
}

func linesOf(t *testing.T, book string) (out []timedLine) {
	t.Helper()
	code, text, errs := obeyed(t, book, "export", "events", "--out", "-")
	require.Zero(t, code, errs)
	for _, l := range strings.Split(strings.TrimSpace(text), "\n") {
		var x timedLine
		require.NoError(t, json.Unmarshal([]byte(l), &x))
		out = append(out, x)
	}
	return out
}

// newBook is a book begun at a moment, with a camera and a box.
func newBook(t *testing.T, now string) string {
	t.Helper()
	book := filepath.Join(t.TempDir(), "book.db")
	actedAt(t, book, now, "init", "--zone", "Europe/Oslo")
	actedAt(t, book, now, "camera", "describe", "skiff", "--focal", "135mm", "--f-widest", "5.6", "--f-smallest", "32")
	actedAt(t, book, now, "paper", "receive", "9x12cm", "50", "sheets", "rc", "--name", "quay paper", "--index", "3")
	return book
}

func pictureOf(t *testing.T, answer string) string {
	t.Helper()
	m := pictureGiven.FindStringSubmatch(answer)
	if m == nil {
		m = anyPicture.FindStringSubmatch(answer)
	}
	require.NotNil(t, m, answer)
	return m[1]
}

// Whatever the clock does between the acts, the chain counts without gaps, what was recorded never runs back, numbers are
// given once, and the book is whole.
func TestClocksThatJump(t *testing.T) {
	t.Parallel()
	for name, moments := range map[string][]string{
		"set back an hour":     {"2026-05-03T12:00:00+02:00", "2026-05-03T11:00:00+02:00", "2026-05-03T11:00:01+02:00", "2026-05-03T12:30:00+02:00"},
		"set back years":       {"2026-05-03T12:00:00+02:00", "1999-01-01T00:00:00+01:00", "2026-05-03T12:00:01+02:00"},
		"the same second":      {"2026-05-03T12:00:00+02:00", "2026-05-03T12:00:00+02:00", "2026-05-03T12:00:00+02:00"},
		"summer begins":        {"2026-03-29T01:59:59+01:00", "2026-03-29T03:00:00+02:00", "2026-03-29T03:00:01+02:00"},
		"summer ends":          {"2026-10-25T02:30:00+02:00", "2026-10-25T02:30:00+01:00", "2026-10-25T03:00:00+01:00"},
		"a leap day":           {"2028-02-28T23:59:59+01:00", "2028-02-29T12:00:00+01:00", "2028-03-01T00:00:00+01:00"},
		"another zone":         {"2026-05-03T12:00:00+02:00", "2026-05-03T19:00:01+09:00", "2026-05-03T00:00:02-10:00"},
		"a year turns":         {"2026-12-31T23:59:59+01:00", "2027-01-01T00:00:00+01:00", "2027-01-01T00:00:01+01:00"},
		"parts of a second":    {"2026-05-03T12:00:00.000001+02:00", "2026-05-03T12:00:00.000002+02:00"},
		"a year turns and not": {"2027-01-01T00:00:00+01:00", "2026-12-31T23:59:59+01:00", "2027-01-01T00:00:01+01:00"},
	} {
		t.Run(name, func(t *testing.T) {
			book := newBook(t, "1998-05-01T09:00:00+02:00")
			actedAt(t, book, moments[0], "session", "open", "night")
			given := map[string]bool{}
			for i, now := range moments {
				number := pictureOf(t, actedAt(t, book, now, "expose", "f/8", "4s", "--json"))
				require.False(t, given[number], "%s was given twice", number)
				given[number] = true
				require.True(t, strings.HasPrefix(number, now[:4]+"-"), "%s at %s", number, now)
				actedAt(t, book, now, "note", number, "moment ", string(rune('a'+i)))
			}
			wholeBook(t, book)
			all := linesOf(t, book)
			var last time.Time
			for i, l := range all {
				require.Equal(t, i+1, l.BookSeq)
				recorded, err := time.Parse(time.RFC3339Nano, l.RecordedAt)
				require.NoError(t, err)
				require.False(t, recorded.Before(last), "%s after %s", l.RecordedAt, last)
				last = recorded
			}
			code, _, errs := obeyed(t, book, "rebuild")
			require.Zero(t, code, errs)
			require.Equal(t, all, linesOf(t, book))
			wholeBook(t, book)
		})
	}
}

// A day that is not in the calendar is refused, one that is every fourth year is taken.
func TestLeapDays(t *testing.T) {
	t.Parallel()
	book := newBook(t, "2024-01-01T09:00:00+01:00")
	actedAt(t, book, "2028-03-01T12:00:00+01:00", "expose", "f/8", "4s", "--at", "2028-02-29T12:00")
	env, _, errs := testEnv(map[string]string{"TRAYBOOK_BOOK": book, "TRAYBOOK_NOW": "2027-03-01T12:00:00+01:00"}, "expose", "f/8", "4s", "--at", "2027-02-29T12:00")
	require.NotZero(t, run(env))
	require.Contains(t, errs.String(), "2027-02-29")
	wholeBook(t, book)
}

// Two books wrote in the same instant: joined from either side they tell the same acts in the same order.
func TestEqualTimesInTwoChains(t *testing.T) {
	t.Parallel()
	const now = "2026-05-03T12:00:00+02:00"
	field, studio := newBook(t, now), newBook(t, now)
	for _, book := range []string{field, studio} {
		for range 4 {
			actedAt(t, book, now, "expose", "f/8", "4s")
		}
	}
	field2, studio2 := copyOf(t, field), copyOf(t, studio)
	actedAt(t, field, now, "merge", studio)
	actedAt(t, studio2, now, "merge", field2)
	var told [2][]string
	for i, book := range []string{field, studio2} {
		wholeBook(t, book)
		seqs := map[string]int{}
		for _, l := range linesOf(t, book) {
			seqs[l.Book]++
			require.Equal(t, seqs[l.Book], l.BookSeq, "each chain counts on its own, without gaps")
			told[i] = append(told[i], l.Book+l.Kind+string(l.Data))
		}
		require.Len(t, seqs, 2)
		code, out, errs := obeyed(t, book, "pictures", "--json")
		require.Zero(t, code, errs)
		for _, name := range []string{"2026-001", "2026-004", "2026-001@2", "2026-004@2"} {
			require.Contains(t, out, `"`+name+`"`)
		}
		require.Equal(t, "2026-005", pictureOf(t, actedAt(t, book, now, "expose", "f/8", "4s", "--box", "box-1", "--json")), "the next number is free in both")
		wholeBook(t, book)
	}
	slices.Sort(told[0])
	slices.Sort(told[1])
	require.Equal(t, told[0], told[1])
}

// In a joined book the negative of a number that both gave is a negative in the list, not a print.
func TestTheNegativeOfATwiceGivenNumberIsListedAsOne(t *testing.T) {
	t.Parallel()
	const now = "2026-05-03T12:00:00+02:00"
	field, studio := newBook(t, now), newBook(t, now)
	for _, book := range []string{field, studio} {
		actedAt(t, book, now, "expose", "f/8", "4s")
	}
	actedAt(t, field, now, "merge", studio)
	code, out, errs := obeyed(t, field, "pictures")
	require.Zero(t, code, errs)
	require.Contains(t, out, "2026-001@2")
	require.Equal(t, 2, strings.Count(out, "f/8 4 s"), out)
	require.NotContains(t, out, "prints:")
}

// Every act keeps the zone that it was written in, by which its clock time is told later and elsewhere.
func TestEveryActKeepsItsZone(t *testing.T) {
	t.Parallel()
	book := newBook(t, "2026-05-03T14:05:00+02:00")
	actedAt(t, book, "2026-05-03T14:06:00+02:00", "note", "skiff", "low water")
	actedAt(t, book, "2026-05-03T14:07:00+02:00", "mark")
	lines := linesOf(t, book)
	require.Len(t, lines, 5)
	for _, l := range lines {
		require.Equal(t, "Europe/Oslo", l.Zone, l.Kind)
	}
}
