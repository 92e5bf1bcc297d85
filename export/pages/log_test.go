package pages_test

import (
	"fmt"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"traybook/events/sqlite"
	"traybook/export"
	"traybook/export/pages"
	"traybook/projections/booktest"
)

func logOf(t testing.TB, b *sqlite.Book, scope export.Scope, o pages.LogOptions) []byte {
	t.Helper()
	var out []byte
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		asOf, err := tx.NewestRecorded()
		require.NoError(t, err)
		o.Created = asOf
		heads, err := tx.Heads()
		require.NoError(t, err)
		o.Head = heads[0].Hash.String()
		out, err = pages.Log(tx, asOf, scope, o)
		return err
	}))
	return out
}

func TestTheSameBookGivesTheSamePages(t *testing.T) {
	for _, size := range []string{"A4", "Letter"} {
		t.Run(size, func(t *testing.T) {
			o := pages.LogOptions{Size: size}
			first := logOf(t, booktest.FromLines(t, booktest.CaseLines(t, "print-wrong-aperture")), export.Scope{}, o)
			second := logOf(t, booktest.FromLines(t, booktest.CaseLines(t, "print-wrong-aperture")), export.Scope{}, o)
			require.Equal(t, first, second)
		})
	}
}

func TestALogByTwoLooksIsTheSame(t *testing.T) {
	require.NoError(t, booktest.Season(t).ReadTwice(func(one, other *sqlite.Tx) error {
		o, scope := pages.LogOptions{Created: booktest.Recorded}, export.Scope{Year: 2026}
		want, err := pages.Log(one, booktest.Recorded, scope, o)
		require.NoError(t, err)
		o.Beside = other
		got, err := pages.Log(one, booktest.Recorded, scope, o)
		require.NoError(t, err)
		require.Equal(t, want, got)
		return nil
	}))
}

func TestAFaultOfTheDrawingIsTheCallersToSee(t *testing.T) {
	lines := strings.Replace(booktest.CaseLines(t, "print-wrong-aperture"), `"data":{"picture":"2026-001",`, `"data":{"picture":"2026-001","sitter":"Asta Lind",`, 1)
	o := pages.LogOptions{Sitter: func(string) string { panic("no ink") }}
	require.PanicsWithValue(t, "no ink", func() { logOf(t, booktest.FromLines(t, lines), export.Scope{}, o) })
}

// However many baths there were, each has its bar: none of them is told as one of so many more.
func TestEveryBathHasItsBar(t *testing.T) {
	lines := "book.opened 2026-05-01T08:00:00 \"zone\":\"Europe/Oslo\""
	for i := range 101 {
		lines += fmt.Sprintf("\nbath.mixed 2026-05-%02dT09:%02d:00 \"bath\":\"tray-%d\",\"role\":\"developer\",\"name\":\"plain\",\"volume_ml\":%d,\"time_s\":60,\"capacity_m2\":1,\"life_h\":9000", 2+i/60, i%60, i+1, 1000+i)
	}
	pdf := string(logOf(t, booktest.FromActs(t, lines), export.Scope{}, pages.LogOptions{Uncompressed: true}))
	for i := range 101 {
		name := string(ofUTF16(fmt.Sprintf("tray-%d", i+1)))
		// in the table, beside its bar, and in the title of its course where it has one
		require.GreaterOrEqual(t, strings.Count(pdf, "("+name+")"), 2, "tray-%d", i+1)
	}
	require.NotContains(t, pdf, string(ofUTF16(" more")))
	onThePage(t, []byte(pdf), "A4")
}

// The course of the light stands over times as a clock divides the day, also past midnight. What else was done stands in its order.
func TestADayIsDividedAsAClockDividesIt(t *testing.T) {
	for readings, want := range map[[2]string][]string{
		{"02T09:03", "02T09:12"}: {"08:50", "09:00", "09:10", "09:20"},
		{"02T10:00", "02T11:59"}: {"10:00", "10:30", "11:00", "11:30", "12:00"},
		{"02T23:40", "03T00:35"}: {"23:30", "00:00", "00:30"},
		{"02T08:00", "03T20:00"}: {"12:00", "00:00", "12:00"},
	} {
		b := booktest.FromActs(t, fmt.Sprintf(booktest.Harbour+`
session.opened 2026-05-02T07:30:00 "session":"day-1","camera":"quay-box"
light.metered 2026-05-%s:00 "on":"scene","mode":"reflected","ev":9,"index":100,"session":"day-1"
light.metered 2026-05-%s:00 "on":"scene","mode":"reflected","ev":11,"index":100,"session":"day-1"
note.written 2026-05-02T07:40:00 "about":"day-1","text":"first"
strip.exposed 2026-05-02T07:45:00 "strip":"s1","box":"box-1","on":"scene","f":8,"times_s":[1,2,4],"session":"day-1"
note.written 2026-05-02T07:50:00 "about":"day-1","text":"last"`, readings[0], readings[1]))
		pdf := logOf(t, b, export.Scope{}, pages.LogOptions{Uncompressed: true})
		var clocks, order []string
		for _, page := range wordsOf(t, pdf) {
			for _, w := range page {
				if regexp.MustCompile(`^\d\d:\d\d$`).MatchString(w.text) {
					if w.size < 6.4 {
						clocks = append(clocks, w.text)
					}
				}
				if strings.HasPrefix(w.text, "note on") || strings.HasPrefix(w.text, "strip s1") {
					order = append(order, w.text)
				}
			}
		}
		require.Equal(t, want, clocks, "%v", readings)
		require.Len(t, order, 3)
		require.Contains(t, order[1], "strip s1")
	}
}
