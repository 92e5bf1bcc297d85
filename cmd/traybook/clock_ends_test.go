package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/sqlite"
	"traybook/projections/snapshot"
)

// runningIn are the clocks that run in a book, as clauses.
func runningIn(t *testing.T, book string) []string {
	t.Helper()
	code, out, errs := obeyed(t, book, "today", "--json")
	require.Zero(t, code, errs)
	var page struct{ Clocks []struct{ Text string } }
	require.NoError(t, json.Unmarshal([]byte(out), &page))
	var texts []string
	for _, c := range page.Clocks {
		texts = append(texts, c.Text)
	}
	return texts
}

// clockBook has three pictures exposed, of which the second lies in the developer since 08:47:02 and the cap was lifted at
// 08:50:31, after a count-in.
func clockBook(t *testing.T) string {
	t.Helper()
	book := quietBook(t)
	code, _, errs := obeyed(t, book, "import", putFile(t, "clocks.ndjson", []byte(`{"kind":"clock.started","at":"2026-07-01T08:47:02+02:00","data":{"act":"develop","sheet":"2026-003n","picture":"2026-003","bath":"dev-1","planned_s":60,"temp_c":19}}
{"kind":"clock.started","at":"2026-07-01T08:50:28+02:00","data":{"act":"expose","f":8,"planned_s":4,"count_in_s":3,"motion":"seated","subject":"Net loft"}}
`)))
	require.Zero(t, code, errs)
	return book
}

// quietBook is clockBook before its clocks were started.
func quietBook(t *testing.T) string {
	t.Helper()
	book := shortBook(t)
	code, _, errs := obeyed(t, book, "import", putFile(t, "before.ndjson", []byte(`{"kind":"sheet.exposed","at":"2026-07-01T08:40:00+02:00","data":{"picture":"2026-002","f":8,"time_s":4}}
{"kind":"sheet.exposed","at":"2026-07-01T08:41:00+02:00","data":{"picture":"2026-003","f":8,"time_s":4}}
{"kind":"moment.marked","at":"2026-07-01T08:47:20+02:00","data":{}}
`)))
	require.Zero(t, code, errs)
	return book
}

// An act that is given with the time of a running clock ends it: its clock runs no more, and keeps what the line did not say.
func TestAnActWithItsTimeEndsItsClock(t *testing.T) {
	t.Parallel()
	const develops, cap = "2026-003n in the developer dev-1 since 08:47:02 (", "the cap was lifted at 08:50:31 ("
	for _, c := range []struct {
		line  string
		ends  string // the clock that runs no more, "" for none
		at    string
		field string // what the act has
	}{
		{"develop 58s --at 08:47", develops, "08:47:02", `"temp_c":19`},
		{"develop 58s --at 08:47:30", develops, "08:47:30", `"sheet":"2026-003n"`},
		{"develop 58s --at mark", develops, "08:47:20", `"sheet":"2026-003n"`},
		{"develop 58s 3n --at 08:47", develops, "08:47:02", `"bath":"dev-1"`},
		{"develop 58s 18C --at 08:47", develops, "08:47:02", `"temp_c":18`},
		{"expose f/8 4.2s --at 08:50", cap, "08:50:31", `"motion":"seated"`},
		{"expose f/8 4.2s --at 08:50 --subject Gulls", cap, "08:50:31", `"subject":"Gulls"`},
		{"develop 58s 2n --at 08:47", "", "08:47:00", `"sheet":"2026-002n"`}, // of another sheet
		{"develop 58s 3n --at 08:45", "", "08:45:00", `"sheet":"2026-003n"`}, // before it ran
		{"develop 58s 3n --at 08:55", "", "08:55:00", `"sheet":"2026-003n"`}, // long after it began
		{"expose f/11 4.2s --at 08:50", "", "08:50:00", `"f":11`},            // at another aperture
		{"rinse 15s 3n --at 08:47", "", "08:47:00", `"sheet":"2026-003n"`},   // another act
		{"note 2026-003 wind --at 08:47", "", "08:47:00", `"text":"wind"`},   // no act of a clock
	} {
		book := clockBook(t)
		require.Len(t, runningIn(t, book), 2)
		code, out, errs := obeyed(t, book, strings.Fields(c.line)...)
		require.Zero(t, code, "%s: %s", c.line, errs)
		assert.Equal(t, c.ends != "", strings.Contains(out, "it ends the clock that ran since "), "%s: %s", c.line, out)
		running := strings.Join(runningIn(t, book), "\n")
		for _, text := range []string{develops, cap} {
			assert.Equal(t, text != c.ends, strings.Contains(running, text), "%s: %s", c.line, running)
		}
		_, lines, _ := obeyed(t, book, "export", "events", "--out", "-")
		all := strings.Split(strings.TrimSpace(lines), "\n")
		last := all[len(all)-1]
		assert.Contains(t, last, `"at":"2026-07-01T`+c.at, c.line)
		assert.Contains(t, last, c.field, c.line)
		assert.Equal(t, c.ends != "", strings.Contains(last, `"clock":"`), c.line)
		wholeBook(t, book)
		if c.ends == "" {
			continue
		}
		code, _, errs = obeyed(t, book, "void", "last") // and with its act the clock is taken back
		require.Zero(t, code, errs)
		assert.NotContains(t, strings.Join(runningIn(t, book), "\n"), c.ends, c.line)
	}
	// Without its time nothing is guessed, and the clock is told of.
	book := clockBook(t)
	code, out, errs := obeyed(t, book, "develop", "58s", "3n")
	require.Zero(t, code, errs)
	assert.Contains(t, strings.Join(strings.Fields(out), " "), "its clock runs on; --at 08:47 would have ended it with this act")
	assert.Len(t, runningIn(t, book), 2)
}

// A sheet in the developer does not wait for it.
func TestASheetInTheDeveloperDoesNotWait(t *testing.T) {
	t.Parallel()
	book := clockBook(t)
	_, out, _ := obeyed(t, book, "today", "--json")
	var page struct{ Waiting []struct{ Sheet string } }
	require.NoError(t, json.Unmarshal([]byte(out), &page))
	assert.Equal(t, "[{2026-002n}]", fmt.Sprint(page.Waiting))
	code, _, errs := obeyed(t, book, "void", clockID(t, book, events.SheetDeveloped))
	require.Zero(t, code, errs)
	_, out, _ = obeyed(t, book, "today", "--json")
	require.NoError(t, json.Unmarshal([]byte(out), &page))
	assert.Equal(t, "[{2026-002n} {2026-003n}]", fmt.Sprint(page.Waiting))
}

// clockID is the id of the running clock of a kind of act.
func clockID(t *testing.T, book string, of events.Kind) (id string) {
	t.Helper()
	b, err := sqlite.Open(book, bookOptions(true))
	require.NoError(t, err)
	defer b.Close()
	now, err := time.Parse(time.RFC3339, "2026-07-01T09:00:00+02:00")
	require.NoError(t, err)
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		running, err := snapshot.New(tx, noMoment).RunningClocks(now)
		for _, e := range running {
			if e.Data.(*events.ClockStartedData).ClockedAct() == of {
				id = e.ID.String()
			}
		}
		return err
	}))
	require.NotEmpty(t, id)
	return id
}

// A running clock goes wherever the entries go, and runs on there; taken back, it leaves no trace in what is folded.
func TestARunningClockIsCarried(t *testing.T) {
	t.Parallel()
	book := clockBook(t)
	views, running := viewsOf(t, book), runningIn(t, book)
	require.Len(t, running, 2)
	dir := t.TempDir()
	_, lines, _ := obeyed(t, book, "export", "events", "--out", "-")
	whole := func(lines []byte) string {
		t.Helper()
		path := filepath.Join(t.TempDir(), "book.db")
		b, err := sqlite.Create(path, bookOptions(false))
		require.NoError(t, err)
		require.NoError(t, b.Write(func(tx *sqlite.Tx) error {
			_, err := tx.ImportWhole(events.ReadLines(bytes.NewReader(lines)), nil)
			return err
		}))
		require.NoError(t, b.Close())
		return path
	}
	bag := archived(t, book)
	require.Empty(t, checkedArchive(t, bag).Problems)
	archive, err := os.ReadFile(filepath.Join(bag, "data", "events.ndjson"))
	require.NoError(t, err)
	other := filepath.Join(dir, "other.db")
	code, _, errs := obeyed(t, other, "init", "--zone", "Europe/Oslo")
	require.Zero(t, code, errs)
	copied, saved := filepath.Join(dir, "copy.db"), filepath.Join(dir, "saved.db")
	for _, l := range [][]string{{other, "merge", book}, {book, "backup", copied}, {book, "salvage", saved}, {book, "rebuild"}} {
		code, _, errs := obeyed(t, l[0], l[1:]...)
		require.Zero(t, code, "%v: %s", l, errs)
	}
	for how, path := range map[string]string{"its lines": whole([]byte(lines)), "its archive": whole(archive), "a merge": other, "a copy": copied, "a salvage": saved, "a rebuild": book} {
		assert.Equal(t, running, runningIn(t, path), how)
		assert.Equal(t, views, viewsOf(t, path), how)
		wholeBook(t, path)
	}
	code, _, errs = obeyed(t, book, "export", "csv", "--out", filepath.Join(dir, "tables"))
	require.Zero(t, code, errs)
	for _, name := range filesBelow(t, filepath.Join(dir, "tables")) {
		b, err := os.ReadFile(filepath.Join(dir, "tables", name))
		require.NoError(t, err)
		if name == "entries.csv" {
			assert.Equal(t, 2, strings.Count(string(b), ",clock.started,"), "the table of all entries")
		} else {
			assert.NotContains(t, string(b), "Net loft", "%s counts an exposure that has no time yet", name)
		}
	}

	// An act that ends one, taken back, takes its clock back with it, in the book and in what came of its lines.
	code, _, errs = obeyed(t, book, "develop", "58s", "--at", "08:47")
	require.Zero(t, code, errs)
	require.Len(t, runningIn(t, book), 1)
	code, _, errs = obeyed(t, book, "void", "last")
	require.Zero(t, code, errs)
	assert.Len(t, runningIn(t, book), 1, "the clock would run again")
	code, _, errs = obeyed(t, book, "void", clockID(t, book, events.SheetExposed), "--why", "it never happened")
	require.Zero(t, code, errs)
	assert.Empty(t, runningIn(t, book))
	views = viewsOf(t, quietBook(t))
	assert.Equal(t, views, viewsOf(t, book), "nothing of it is left in what is folded")
	_, lines, _ = obeyed(t, book, "export", "events", "--out", "-")
	anew := whole([]byte(lines))
	assert.Empty(t, runningIn(t, anew))
	assert.Equal(t, views, viewsOf(t, anew))
	code, _, errs = obeyed(t, book, "rebuild")
	require.Zero(t, code, errs)
	assert.Equal(t, views, viewsOf(t, book))
}
