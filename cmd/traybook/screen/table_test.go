package screen_test

import (
	"fmt"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"traybook/cmd/traybook/screen"
)

var sgr = regexp.MustCompile(`\x1b\[[0-9;]*m`)

// lines returns what was written without its colours, having seen that no line
// is wider than the screen.
func lines(t require.TestingT, out string, width int) []string {
	plain := sgr.ReplaceAllString(out, "")
	require.True(t, out == "" || strings.HasSuffix(out, "\n"))
	got := strings.Split(strings.TrimSuffix(plain, "\n"), "\n")
	for _, l := range got {
		harmless(t, l)
		require.LessOrEqual(t, screen.Width(l), width, "%q", l)
	}
	return got
}

func pictures() screen.Table {
	t := screen.Table{Columns: []screen.Column{
		{Title: "picture"}, {Title: "subject", Elastic: true}, {Title: "sheets", Right: true}, {Title: "nothing"}, {Title: "where", Elastic: true}, {Title: "deviation", Right: true},
	}}
	t.Add("2026-001", "Η λέμβος του πορθμέα το πρωί", "3", "", "Skarvik quay, at the upper slip", "+0.5")
	t.Add("2026-002", "Паромщик и его дочь у старого причала", "127", "", "Skarvik", "-12.25")
	t.AddIn(screen.Struck, "2026-003", "港の写真、渡し船の人々と古い桟橋", "1", "", "Skarvik", "0")
	t.Add("2026-104", "the ferry, \x1b[31mred\x1b[0m", "100", "", "", "–")
	return t
}

// at returns the columns where text begins and ends in a line.
func at(t *testing.T, line, text string) (begins, ends int) {
	t.Helper()
	i := strings.Index(line, text)
	require.GreaterOrEqual(t, i, 0, "%q in %q", text, line)
	begins = screen.Width(line[:i])
	return begins, begins + screen.Width(text)
}

func TestTableAlignsAt120(t *testing.T) {
	for _, color := range []bool{false, true} {
		var out strings.Builder
		s := &screen.Screen{W: &out, Width: 120, Color: color}
		s.Table(pictures())
		require.NoError(t, s.Err())
		got := lines(t, out.String(), 120)
		if !color {
			require.Len(t, got, 6)
			assert.NotContains(t, out.String(), "\x1b")
			assert.Contains(t, got[1], "───")
			got = append(got[:1], got[2:]...)
		}
		require.Len(t, got, 5)
		assert.NotContains(t, got[0], "nothing", "a column without text is left out")
		assert.Contains(t, got[4], "␛[31mred␛[0m")
		subject, _ := at(t, got[0], "subject")
		_, sheets := at(t, got[0], "sheets")
		where, _ := at(t, got[0], "where")
		_, deviation := at(t, got[0], "deviation")
		for i, want := range []struct{ subject, sheets, where, deviation string }{
			{"Η λέμβος", " 3", "Skarvik", "+0.5"}, {"Паромщик", "127", "Skarvik", "-12.25"}, {"港の写真", " 1", "Skarvik", " 0"}, {"the ferry", "100", "", "–"},
		} {
			line := got[i+1]
			begins, _ := at(t, line, want.subject)
			assert.Equal(t, subject, begins, line)
			_, ends := at(t, line, want.sheets+"  ")
			assert.Equal(t, sheets+2, ends, line)
			if want.where != "" {
				begins, _ = at(t, line, want.where)
				assert.Equal(t, where, begins, line)
			}
			assert.True(t, strings.HasSuffix(line, want.deviation), line)
			assert.Equal(t, deviation, screen.Width(line), line)
		}
		if color {
			assert.Contains(t, out.String(), "\x1b[9m2026-003\x1b[29m", "voided, struck through")
		} else {
			assert.Contains(t, got[3], "void: 2026-003")
		}
	}
}

func TestTableIsCutToFit(t *testing.T) {
	var out strings.Builder
	s := &screen.Screen{W: &out, Width: 80}
	s.Table(pictures())
	got := lines(t, out.String(), 80)
	require.Len(t, got, 6)
	assert.Contains(t, got[3], "…")
	assert.Equal(t, 80, screen.Width(got[3]))
	assert.Contains(t, got[3], "127")
}

func TestTableIsStackedBelow70(t *testing.T) {
	var out strings.Builder
	s := &screen.Screen{W: &out, Width: 60}
	s.Table(pictures())
	got := lines(t, out.String(), 60)
	assert.Equal(t, []string{
		"picture:   2026-001",
		"subject:   Η λέμβος του πορθμέα το πρωί",
		"sheets:    3",
		"where:     Skarvik quay, at the upper slip",
		"deviation: +0.5",
		"",
	}, got[:6])
	assert.Contains(t, got, "picture:   void: 2026-003")
	assert.Contains(t, got, "sheets:    127")
}

func TestSmallTableStaysATableOnAPhone(t *testing.T) {
	var out strings.Builder
	s := &screen.Screen{W: &out, Width: 40}
	table := screen.Table{Columns: []screen.Column{{Title: "box"}, {Title: "left", Right: true}}}
	table.Add("box-1", "7")
	table.Add("harbour", "100")
	s.Table(table)
	assert.Equal(t, "box      left\n───────  ────\nbox-1       7\nharbour   100\n", out.String())
}

func TestTablesFitWhateverTheyHold(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		width := rapid.IntRange(20, 130).Draw(t, "width")
		n := rapid.IntRange(1, 6).Draw(t, "columns")
		var table screen.Table
		for i := range n {
			table.Columns = append(table.Columns, screen.Column{Title: words().Draw(t, "title"), Right: rapid.Bool().Draw(t, "right"), Elastic: i%2 == 0})
		}
		for range rapid.IntRange(0, 5).Draw(t, "rows") {
			table.AddIn(screen.Tone(rapid.IntRange(0, 6).Draw(t, "tone")), rapid.SliceOfN(words(), 0, n+1).Draw(t, "cells")...)
		}
		var out strings.Builder
		s := &screen.Screen{W: &out, Width: width, Color: rapid.Bool().Draw(t, "colour")}
		s.Table(table)
		s.Headline(words().Draw(t, "headline"))
		s.Hang(screen.Struck, words().Draw(t, "mark"), words().Draw(t, "text"))
		s.Bars([]screen.Bar{{Label: words().Draw(t, "label"), Share: rapid.Float64().Draw(t, "share"), Text: words().Draw(t, "value")}, {Label: "x", Share: 0.5}})
		s.Ramp([]screen.Tile{{Label: words().Draw(t, "tile"), Density: rapid.Float64().Draw(t, "density")}, {Label: "mid", Density: 0.8}}, 0.06)
		require.NoError(t, s.Err())
		lines(t, out.String(), width)
	})
}

type full struct{}

func (full) Write([]byte) (int, error) { return 0, fmt.Errorf("no space left") }

func TestTheFirstErrorOfWritingIsKept(t *testing.T) {
	s := &screen.Screen{W: full{}, Width: 80}
	s.Say(screen.Plain, "one\ntwo")
	require.EqualError(t, s.Err(), "no space left")
}
