package sqlite

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"maps"
	"regexp"
	"slices"
	"strings"
	"testing"

	sqlite3 "github.com/mattn/go-sqlite3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
)

// listener passes statements on to the driver and remembers them.
type listener struct {
	*sqlite3.SQLiteConn
	heard map[string]int
}

func (l listener) QueryContext(ctx context.Context, q string, args []driver.NamedValue) (driver.Rows, error) {
	l.heard[q]++
	return l.SQLiteConn.QueryContext(ctx, q, args)
}

func (l listener) ExecContext(ctx context.Context, q string, args []driver.NamedValue) (driver.Result, error) {
	l.heard[q]++
	return l.SQLiteConn.ExecContext(ctx, q, args)
}

type listening struct {
	connector
	heard map[string]int
}

func (l listening) Connect(ctx context.Context) (driver.Conn, error) {
	c, err := l.connector.Connect(ctx)
	if err != nil {
		return nil, err
	}
	return listener{c.(*sqlite3.SQLiteConn), l.heard}, nil
}

// heardOf runs f in one write on a listened-to book and gives how often SQLite was asked what.
func heardOf(t *testing.T, b *Book, f func(tx *Tx)) map[string]int {
	t.Helper()
	heard := map[string]int{}
	db := sql.OpenDB(listening{connector{dsn(b.path, Options{}, "rw")}, heard})
	db.SetMaxOpenConns(1)
	defer db.Close()
	other := *b
	other.db = db
	require.NoError(t, other.Write(func(tx *Tx) error { f(tx); return nil }))
	maps.DeleteFunc(heard, func(q string, _ int) bool {
		return regexp.MustCompile(`^(BEGIN|COMMIT|ROLLBACK|PRAGMA|CREATE|DROP)`).MatchString(q)
	})
	return heard
}

// statementsOf runs f in one write on a listened-to book and gives what was asked of SQLite, sorted.
func statementsOf(t *testing.T, b *Book, f func(tx *Tx)) []string {
	t.Helper()
	return slices.Sorted(maps.Keys(heardOf(t, b, f)))
}

// scans gives the steps of a plan that go through a whole table of the book, however long it is.
func scans(t *testing.T, b *Book, query string) (out []string) {
	t.Helper()
	n := strings.Count(query, "?")
	args := make([]any, n)
	for i := range args {
		args[i] = 0
	}
	if strings.Contains(query, "?1") { // numbered parameters are fewer than their mentions
		most := 0
		for _, m := range regexp.MustCompile(`\?([0-9])`).FindAllStringSubmatch(query, -1) {
			most = max(most, int(m[1][0]-'0'))
		}
		args = args[:most]
	}
	rows, err := b.db.Query("EXPLAIN QUERY PLAN "+query, args...)
	require.NoError(t, err, query)
	defer rows.Close()
	for rows.Next() {
		var id, parent, unused int
		var detail string
		require.NoError(t, rows.Scan(&id, &parent, &unused, &detail))
		m := regexp.MustCompile(`^SCAN (\w+)`).FindStringSubmatch(detail)
		if m == nil || slices.Contains([]string{"CONSTANT", "m", "j", "chain", "meaning"}, m[1]) && !strings.Contains(detail, "entry") {
			continue
		}
		out = append(out, detail)
	}
	require.NoError(t, rows.Err())
	return out
}

// everyLookUp asks a book everything that acts and look-backs ask.
func everyLookUp(t *testing.T, tx *Tx) {
	t.Helper()
	ok := func(err error) { t.Helper(); require.NoError(t, err) }
	for _, name := range []string{"box-1", "dev-1", "mole-day", "2026-001", "nothing"} {
		th, found, err := tx.Entity(name)
		ok(err)
		if !found {
			continue
		}
		for _, q := range []events.Query{{Stream: th.ID}, {Box: th.ID}, {Bath: th.ID}, {Session: th.ID}, {Cites: th.ID}} {
			for _, kinds := range [][]events.Kind{nil, {events.SheetExposed}, {events.SheetExposed, events.LightMetered}} {
				for _, limit := range []int{0, 1} {
					for _, newest := range []bool{false, true} {
						for _, timed := range []bool{false, true} {
							q.Kinds, q.Limit, q.Newest = kinds, limit, newest
							if timed {
								q.From, q.To = morning, morning.AddDate(0, 0, 1)
							}
							_, err := tx.Entries(q)
							ok(err)
						}
					}
				}
			}
		}
		_, _, err = tx.View(th)
		ok(err)
		_, err = tx.ViewsOf([]events.Entity{th})
		ok(err)
		delete(tx.names.byID, th.ID)
		_, err = tx.EntityByID(th.ID)
		ok(err)
		delete(tx.names.byID, th.ID)
		ok(tx.names.lookUp([]int64{th.ID}))
	}
	_, err := tx.Entries(events.Query{From: morning, To: morning.AddDate(0, 0, 1)})
	ok(err)
	_, err = tx.Entries(events.Query{Newest: true, Limit: 5})
	ok(err)
	_, err = tx.Entries(events.Query{Written: true, Limit: 5})
	ok(err)
	for _, q := range []events.ViewQuery{{Kind: events.Picture}, {Kind: events.Picture, Limit: 50}, {Kind: events.Bath, OpenOnly: true}, {Kind: events.Bath, LastSince: 1}, {Kind: events.Picture, RankFrom: 1, To: 2}, {Kind: events.Bath, OpenOnly: true, LastSince: 1, Limit: 3}} {
		_, err := tx.Views(q)
		ok(err)
		_, err = tx.ViewsHolding(q, [][]string{{"quay"}})
		ok(err)
	}
	_, err = tx.LargestNumber("2026-")
	ok(err)
	id := seeded("harbour1")
	for _, prefix := range []string{id.String(), id.String()[:6]} {
		_, err = tx.Find(prefix)
		ok(err)
		_, err = tx.Batch(prefix)
		ok(err)
	}
	_, err = tx.StreamOf(id)
	ok(err)
	_, err = tx.Heads()
	ok(err)
	_, err = tx.NewestRecorded()
	ok(err)
	_, _, err = tx.LastOwn(true)
	ok(err)
	_, err = tx.HasOwnChain()
	ok(err)
	_, _, err = tx.Thumbnail(events.Hash{})
	ok(err)
	_, err = tx.Meta("zone")
	ok(err)
	_, err = tx.Entities(events.Box)
	ok(err)
}

// No look-up and no act goes through a whole table: what a book answers does not slow down as it grows.
func TestNoLookUpScans(t *testing.T) {
	b, other := seasonBook(t), create(t)
	newHand(t, other, "studio").season()
	merge(t, b, other) // two chains, so that joined books are looked up quickly too
	h := newHand(t, b, "late")
	h.at = morning.AddDate(0, 0, 1)
	acts := statementsOf(t, b, func(tx *Tx) {
		for _, d := range []events.Data{
			&events.SheetExposedData{Picture: "2026-050", Box: "box-1@2", F: 8, TimeS: 5, Sheet: "2026-050n", PlannedBox: "box-1"},
			&events.SheetDevelopedData{Sheet: "2026-001n@2", Bath: "dev-1", TimeS: 60},
			&events.PaperReceivedData{Box: "box-7", Name: "quay paper", Base: "rc", WidthMM: 1, HeightMM: 1, Sheets: 9},
			&events.NoteWrittenData{About: "2026-050", Text: "x"},
			&events.NoteWrittenData{About: seeded("studio9").String(), Text: "x"},
			&events.EntryVoidedData{Entry: seeded("studio9").String()},
			&events.EntryVoidedData{Batch: seeded("batchharbour9").String()},
			&events.EntryAmendedData{Entry: seeded("studio10").String(), Set: events.Set{{Name: "time_s", Value: []byte("61")}}},
		} {
			e := h.entry(d)
			require.NoError(t, tx.Append(&e))
		}
	})
	looks := statementsOf(t, b, func(tx *Tx) { everyLookUp(t, tx) })
	require.Greater(t, len(acts), 15)
	require.Greater(t, len(looks), 60)
	for _, q := range append(acts, looks...) {
		for _, step := range scans(t, b, q) {
			// The newest entries and the largest seq are read from the end of an index, a list of views along its index.
			if strings.Contains(q, "LIMIT") && strings.Contains(step, "USING INDEX") || strings.Contains(q, "ORDER BY seq DESC LIMIT 1") ||
				q == "SELECT EXISTS (SELECT 1 FROM correction)" { // one row is enough
				continue
			}
			t.Errorf("%s\n  %s", q, step)
		}
	}
}

func TestScansAreSeen(t *testing.T) {
	b := seasonBook(t)
	assert.NotEmpty(t, scans(t, b, "SELECT * FROM entry WHERE kind=?"))
	assert.NotEmpty(t, scans(t, b, "SELECT target FROM correction WHERE seq=?"))
	assert.Empty(t, scans(t, b, "SELECT * FROM entry WHERE id=?"))
}
