package sheetcsv

import (
	"encoding/csv"
	"errors"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

var sheets = []Column{{"sheet", Text, ""}, {"dev", Number, ""}, {"at", Day, ""}, {"note", Text, ""}}

func table(t require.TestingT, columns []Column, records ...[]string) string {
	var b strings.Builder
	w, err := NewWriter(&b, columns)
	require.NoError(t, err)
	for _, r := range records {
		require.NoError(t, w.Write(r))
	}
	require.Equal(t, len(records), w.Rows())
	return b.String()
}

func TestATableAsItStands(t *testing.T) {
	got := table(t, sheets,
		[]string{"2026-014", "-1.5", "2026-05-03", `the "Alma", at the quay`},
		[]string{"2026-015", "", "2026-05", "=1+1"},
		[]string{"2026-016", "1e-3", "2026", "two\nlines"},
		[]string{"2026-017", "", "2026-05-03", "cr\rlf\r\nend"},
		[]string{"@", "", "", "'tis thin"},
	)
	assert.Equal(t, "sheet,dev,at,note\r\n"+
		"2026-014,-1.5,2026-05-03,\"the \"\"Alma\"\", at the quay\"\r\n"+
		"2026-015,,2026-05,'=1+1\r\n"+
		"2026-016,1e-3,2026,\"two\nlines\"\r\n"+
		"2026-017,,2026-05-03,\"cr␍lf\nend\"\r\n"+
		"'@,,,'tis thin\r\n", got)
}

func TestOneEmptyCellIsARecord(t *testing.T) {
	got := table(t, []Column{{"note", Text, ""}}, []string{""}, []string{"x"}, []string{""})
	assert.Equal(t, "note\r\n\"\"\r\nx\r\n\"\"\r\n", got)
	records, err := csv.NewReader(strings.NewReader(got)).ReadAll()
	require.NoError(t, err)
	assert.Len(t, records, 4)
}

func TestGuard(t *testing.T) {
	for in, want := range map[string]string{
		"":               "",
		"thin":           "thin",
		"'tis":           "'tis",
		"a=b":            "a=b",
		"=1+1":           "'=1+1",
		"+1":             "'+1",
		"-1":             "'-1",
		"@SUM(A1)":       "'@SUM(A1)",
		"\tx":            "'\tx",
		"\rx":            "'\rx",
		"\nx":            "'\nx",
		"＝1":             "'＝1",
		" =1":            "' =1",
		"\u00a0\ufeff=1": "'\u00a0\ufeff=1",
		"'=1":            "''=1",
		"''=1":           "'''=1",
		"-":              "'-",
		"a;=1":           "a;'=1",
		"a; =1; b":       "a;' =1; b",
		"a\t=1":          "a\t'=1",
		"a\n=1":          "a\n'=1",
		"a\n\nb":         "a\n\nb",
		"a;\"=1\"":       "a;'\"=1\"",
		"a;'=1":          "a;''=1",
		"\"=1":           "'\"=1",
		"'":              "'",
		" ":              " ",
	} {
		assert.Equal(t, want, Guard(in), "%q", in)
		assert.Equal(t, in, unguard(want), "%q", want)
	}
}

// unguard takes the apostrophes off, by the rule that FORMAT.md gives.
func unguard(cell string) string {
	cell = regexp.MustCompile("^'([\t\r\n]|['\" \u00a0\u3000\ufeff]*[=+@＝＋－＠\\-]|['\" \u00a0\u3000\ufeff]+[\t\r\n])").ReplaceAllString(cell, "$1")
	return regexp.MustCompile("([;\t\n])'(['\" \u00a0\u3000\ufeff]*[=+@＝＋－＠\\-])").ReplaceAllString(cell, "$1$2")
}

func TestRefused(t *testing.T) {
	for name, c := range map[string]struct {
		record []string
		says   string
	}{
		"too few":        {[]string{"a", "1", "2026"}, "row 1 has 3 cells, the table has 4 columns"},
		"too many":       {[]string{"a", "1", "2026", "b", "c"}, "has 5 cells"},
		"formula number": {[]string{"a", "=1", "", ""}, `row 1, column dev: "=1" is not a number such as -1.5`},
		"decimal comma":  {[]string{"a", "1,5", "", ""}, "is not a number"},
		"plus":           {[]string{"a", "+1", "", ""}, "is not a number"},
		"bare point":     {[]string{"a", ".5", "", ""}, "is not a number"},
		"not a number":   {[]string{"a", "NaN", "", ""}, "is not a number"},
		"number and end": {[]string{"a", "1\n", "", ""}, "is not a number"},
		"clock alone":    {[]string{"a", "", "14:05", ""}, `row 1, column at: "14:05" is not a day such as 2026-05-03`},
		"formula day":    {[]string{"a", "", "=NOW()", ""}, "is not a day"},
		"bad bytes":      {[]string{"a", "", "", "\xff"}, "row 1, column note: the text is not valid UTF-8"},
	} {
		t.Run(name, func(t *testing.T) {
			var b strings.Builder
			w, err := NewWriter(&b, sheets)
			require.NoError(t, err)
			header := b.String()
			require.ErrorContains(t, w.Write(c.record), c.says)
			assert.Equal(t, header, b.String(), "nothing of a refused record is written")
		})
	}
}

func TestRefusedColumns(t *testing.T) {
	for name, c := range map[string]struct {
		columns []Column
		says    string
	}{
		"none":    {nil, "at least one column"},
		"unnamed": {[]Column{{"a", Text, ""}, {"", Text, ""}}, "column 2 cannot be named"},
		"formula": {[]Column{{"=a", Text, ""}}, "cannot be named"},
		"bytes":   {[]Column{{"\xff", Text, ""}}, "cannot be named"},
		"twins":   {[]Column{{"a", Text, ""}, {"a", Number, ""}}, `two columns are named "a"`},
	} {
		t.Run(name, func(t *testing.T) {
			var b strings.Builder
			_, err := NewWriter(&b, c.columns)
			require.ErrorContains(t, err, c.says)
			assert.Empty(t, b.String())
		})
	}
}

type fullAfter int

func (f *fullAfter) Write(p []byte) (int, error) {
	if *f == 0 {
		return 0, errors.New("medium full")
	}
	*f--
	return len(p), nil
}

func TestFailingMedium(t *testing.T) {
	none, one := fullAfter(0), fullAfter(1)
	_, err := NewWriter(&none, sheets)
	require.EqualError(t, err, "medium full")
	w, err := NewWriter(&one, sheets)
	require.NoError(t, err)
	require.EqualError(t, w.Write([]string{"a", "", "", ""}), "medium full")
}

// parse reads RFC 4180 by its grammar and nothing else: what encoding/csv
// forgives or repairs would hide a fault of the writer.
func parse(t require.TestingT, s string) [][]string {
	var records [][]string
	var record []string
	for s != "" {
		var cell string
		if strings.HasPrefix(s, `"`) {
			for s = s[1:]; ; {
				i := strings.IndexByte(s, '"')
				require.GreaterOrEqual(t, i, 0, "unclosed quote")
				cell, s = cell+s[:i], s[i+1:]
				if !strings.HasPrefix(s, `"`) {
					break
				}
				cell, s = cell+`"`, s[1:]
			}
		} else {
			i := strings.IndexAny(s, "\",\r\n")
			require.GreaterOrEqual(t, i, 0, "last record without end")
			cell, s = s[:i], s[i:]
		}
		record = append(record, cell)
		if rest, ok := strings.CutPrefix(s, ","); ok {
			s = rest
			continue
		}
		rest, ok := strings.CutPrefix(s, "\r\n")
		require.True(t, ok, "a record ends with CR LF, not %q", s)
		s, records, record = rest, append(records, record), nil
	}
	require.Nil(t, record)
	return records
}

var anyText = rapid.OneOf(rapid.String(), rapid.StringOfN(rapid.RuneFrom([]rune("'=+-@\"\\.,;\r\n\t ＝aж\ufeff\u00a0")), 0, 8, -1))

func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		columns := make([]Column, rapid.IntRange(1, 4).Draw(t, "columns"))
		kinds := map[Type]*rapid.Generator[string]{
			Text:    anyText,
			Number:  rapid.SampledFrom([]string{"", "0", "-1.5", "1e+6"}),
			Integer: rapid.SampledFrom([]string{"", "0", "-15"}),
			Time:    rapid.SampledFrom([]string{"", "2026-05-03T14:05:00Z", "2026-05-03T14:05:00.5+02:00"}),
			Day:     rapid.SampledFrom([]string{"", "2026", "2026-05", "2026-05-03"}),
			Flag:    rapid.SampledFrom([]string{"", "yes"}),
		}
		var header []string
		for i := range columns {
			columns[i] = Column{Name: string(rune('a' + i)), Type: rapid.SampledFrom([]Type{Text, Number, Integer, Time, Day, Flag}).Draw(t, "type")}
			header = append(header, columns[i].Name)
		}
		want := [][]string{header}
		for range rapid.IntRange(0, 4).Draw(t, "rows") {
			r := make([]string, len(columns))
			for i, c := range columns {
				r[i] = Visible(kinds[c.Type].Draw(t, "cell"))
			}
			want = append(want, r)
		}

		written := table(t, columns, want[1:]...)
		got := parse(t, written)
		common, err := csv.NewReader(strings.NewReader(written)).ReadAll()
		require.NoError(t, err)
		require.Equal(t, got, common)
		for _, r := range got[1:] {
			for i, c := range columns {
				if c.Type == Text {
					for _, cell := range strings.FieldsFunc(r[i], func(r rune) bool { return strings.ContainsRune(";\t\n", r) }) {
						require.NotRegexp(t, "^[ \"\u00a0\u3000\ufeff]*[=+\\-@＝＋－＠]", cell, "it would run")
					}
					require.False(t, strings.HasPrefix(r[i], "\t") || strings.HasPrefix(r[i], "\n"), "%q", r[i])
					r[i] = unguard(r[i])
				}
			}
		}
		require.Equal(t, want, got)
	})
}
