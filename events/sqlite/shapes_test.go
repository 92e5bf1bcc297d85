package sqlite

import (
	"bytes"
	"context"
	"database/sql"
	"database/sql/driver"
	"io"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	sqlite3 "github.com/mattn/go-sqlite3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/eventstest"
	"traybook/export"
	"traybook/projections/acts"
	"traybook/projections/report"
	"traybook/projections/snapshot"
	"traybook/projections/why"
	"traybook/projections/wording"
)

// Of twice the entries a work may look at this many times the rows, and allocate this many times: n log n, and a little
// for what is made once. What goes through all of a thing's entries for each of them takes up to four times.
const (
	mostTimes   = 2.3
	smallEnough = 2000 // rows, or allocations, that are not worth a comparison
)

// rowCounter counts what SQLite is asked, the rows that it hands over, those whose name it cuts to look for a number, and
// those of each table that it goes through whole. A merge reads two books at once.
type rowCounter struct{ rows atomic.Int64 }

type countingConn struct {
	*sqlite3.SQLiteConn
	n     *rowCounter
	scans map[string][]string // by statement: the tables that it goes through whole
}

var (
	scanned = regexp.MustCompile(`^SCAN (\w+)`)
	changes = regexp.MustCompile(`^(SELECT|UPDATE|DELETE)`)
)

// countScans counts the rows of the tables that a statement goes through whole.
func (c countingConn) countScans(ctx context.Context, q string, args []driver.NamedValue) error {
	tables, known := c.scans[q]
	if !known && changes.MatchString(q) && !strings.Contains(q, "LIMIT") && !strings.Contains(q, "EXISTS") {
		plan, err := c.ask(ctx, "EXPLAIN QUERY PLAN "+q, args)
		if err != nil {
			return err
		}
		for _, step := range plan {
			m := scanned.FindStringSubmatch(step[3].(string))
			if m == nil {
				continue
			}
			table := m[1]
			if alias := regexp.MustCompile(`(?:FROM|JOIN) (\w+) ` + table + `\b`).FindStringSubmatch(q); alias != nil {
				table = alias[1]
			}
			if _, isTable := objects()[table]; isTable {
				tables = append(tables, table)
			}
		}
		c.scans[q] = tables
	}
	for _, table := range tables {
		rows, err := c.ask(ctx, "SELECT count(*) FROM "+table, nil)
		if err != nil {
			return err
		}
		c.n.rows.Add(rows[0][0].(int64))
	}
	return nil
}

// ask asks what is not counted.
func (c countingConn) ask(ctx context.Context, q string, args []driver.NamedValue) (out [][]driver.Value, err error) {
	rows, err := c.SQLiteConn.QueryContext(ctx, q, args)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for {
		row := make([]driver.Value, len(rows.Columns()))
		if err := rows.Next(row); err != nil {
			if err == io.EOF {
				err = nil
			}
			return out, err
		}
		out = append(out, row)
	}
}

// ExecContext runs a statement.
func (c countingConn) ExecContext(ctx context.Context, q string, args []driver.NamedValue) (driver.Result, error) {
	if err := c.countScans(ctx, q, args); err != nil {
		return nil, err
	}
	return c.SQLiteConn.ExecContext(ctx, q, args)
}

// QueryContext runs a query.
func (c countingConn) QueryContext(ctx context.Context, q string, args []driver.NamedValue) (driver.Rows, error) {
	c.n.rows.Add(1)
	if err := c.countScans(ctx, q, args); err != nil {
		return nil, err
	}
	rows, err := c.SQLiteConn.QueryContext(ctx, q, args)
	if err != nil {
		return rows, err
	}
	return countingRows{rows.(*sqlite3.SQLiteRows), c.n}, nil
}

type countingRows struct {
	*sqlite3.SQLiteRows
	n *rowCounter
}

// Next hands a row over.
func (r countingRows) Next(dest []driver.Value) error {
	r.n.rows.Add(1)
	return r.SQLiteRows.Next(dest)
}

type countingConnector struct {
	connector
	n *rowCounter
}

// Connect opens the file.
func (c countingConnector) Connect(ctx context.Context) (driver.Conn, error) {
	conn, err := c.connector.Connect(ctx)
	if err != nil {
		return nil, err
	}
	bare := conn.(*sqlite3.SQLiteConn)
	err = bare.RegisterFunc("substr", func(s string, from int) string {
		c.n.rows.Add(1)
		return s[min(from-1, len(s)):]
	}, true)
	return countingConn{bare, c.n, map[string][]string{}}, err
}

// open opens a book whose rows are counted.
func (n *rowCounter) open(t testing.TB, path string) *Book {
	b := shapeBook(t, path)
	require.NoError(t, b.db.Close())
	b.db = sql.OpenDB(countingConnector{connector{dsn(path, Options{}, "rw")}, n})
	b.db.SetMaxOpenConns(1)
	return b
}

func shapeBook(t testing.TB, path string) *Book {
	b, err := Open(path, Options{Folder: snapshot.Folder{}})
	require.NoError(t, err)
	t.Cleanup(func() { b.Close() })
	return b
}

// cost is what one work took.
type cost struct{ rows, allocated int }

func (n *rowCounter) of(work func()) cost {
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	rows := n.rows.Load()
	work()
	runtime.ReadMemStats(&after)
	return cost{int(n.rows.Load() - rows), int(after.Mallocs - before.Mallocs)}
}

// shapeCosts takes a shape in and does to the book what goes through all of it: as it is, and as a copy that went on.
func shapeCosts(t *testing.T, s eventstest.Shape, size int) map[string]cost {
	dir := t.TempDir()
	n := &rowCounter{}
	path, copied := filepath.Join(dir, "book.db"), filepath.Join(dir, "copy.db")
	require.NoError(t, CreateFilled(path, Options{Folder: snapshot.Folder{}}, nil))
	b := n.open(t, path)
	out := map[string]cost{}
	whole := func(of string, b *Book) {
		out["verify"+of] = n.of(func() { require.True(t, verified(t, b).OK) })
		out["rebuild"+of] = n.of(func() { require.NoError(t, b.Rebuild()) })
		out["backup"+of] = n.of(func() { require.NoError(t, b.Backup(filepath.Join(dir, "backup"+of+".db"))) })
		out["salvage"+of] = n.of(func() {
			_, err := Salvage(b.path, filepath.Join(dir, "saved"+of+".db"), Options{Folder: snapshot.Folder{}},
				events.Entry{ID: events.ID{5}, Book: events.ID{6}, At: lifeEnds, RecordedAt: lifeEnds})
			require.NoError(t, err)
		})
	}
	out["import"] = n.of(func() { takeShape(t, b, s, size) })
	looksOf(t, n, b, s, out)
	whole("", b)
	require.NoError(t, b.Backup(copied))
	c := n.open(t, copied)
	goOn(t, c)
	whole(" of a copy that went on", c)
	out["merge"] = n.of(func() {
		_, err := b.Merge(c, nil)
		require.NoError(t, err)
	})
	stranger := filepath.Join(dir, "stranger.db")
	require.NoError(t, CreateFilled(stranger, Options{Folder: snapshot.Folder{}}, nil))
	x := n.open(t, stranger)
	out["merge of all"] = n.of(func() {
		_, err := x.Merge(b, nil)
		require.NoError(t, err)
	})
	return out
}

// looksOf looks back at what the entries hang on, and writes the book as tables.
func looksOf(t *testing.T, n *rowCounter, b *Book, s eventstest.Shape, out map[string]cost) {
	require.NoError(t, b.Read(func(tx *Tx) error {
		out["tables"] = n.of(func() {
			tables, err := export.NewTables(tx, time.Time{}, export.Scope{}, export.TableOptions{})
			require.NoError(t, err)
			for _, name := range export.TableNames() {
				_, err := tables.Write(name, io.Discard)
				require.NoError(t, err)
			}
		})
		if s.Entity != "" {
			out["history"] = n.of(func() {
				_, err := report.HistoryOf(snapshot.New(tx, time.Time{}), s.Entity, true)
				require.NoError(t, err)
			})
		}
		if events.IsPicture(s.Entity) {
			out["why"] = n.of(func() {
				_, err := why.Why(snapshot.New(tx, time.Time{}), s.Entity)
				if !wording.Refused(err) { // a picture whose every act is voided
					require.NoError(t, err)
				}
			})
		}
		return nil
	}))
}

// goOn writes a remark into a copy, which becomes a chain of its own by it.
func goOn(t *testing.T, c *Book) {
	at := time.Date(2055, 5, 3, 9, 0, 0, 0, time.UTC)
	require.NoError(t, c.Write(func(tx *Tx) error {
		if err := tx.EnsureOwn(events.Entry{Kind: events.BookOpened, ID: events.ID{7}, Book: events.ID{8}, At: at, RecordedAt: at, Data: &events.BookOpenedData{Zone: "UTC"}}); err != nil {
			return err
		}
		return tx.Append(&events.Entry{Kind: events.NoteWritten, ID: events.ID{9}, At: at, RecordedAt: at, Data: &events.NoteWrittenData{About: "quay-box", Text: "a remark"}})
	}))
}

func takeShape(t testing.TB, b *Book, s eventstest.Shape, size int) {
	for i, write := range []func(io.Writer, int) (int, error){s.Write, s.Then} {
		var raw bytes.Buffer
		n, err := write(&raw, size)
		require.NoError(t, err)
		if n == 0 {
			continue
		}
		p := acts.NewImportBuffer(nil)
		p.EvenSo = true // numbers may be left out
		for line, err := range events.ReadLines(&raw) {
			require.NoError(t, err)
			require.NoError(t, p.Add(line))
		}
		require.NoError(t, b.Write(func(tx *Tx) error {
			batch, err := events.ParseID(eventstest.FirstBatch)
			require.NoError(t, err)
			batch[1] = byte(i)
			_, err = acts.ImportBuffered(tx, p, lifeEnds, batch, events.ID{2}, nil)
			return err
		}))
	}
}

// shapesTried are the shapes that are always tried; the long run tries all of them, and larger.
var shapesTried = []string{"bath", "batch-voided", "batch-restored", "bath-backfilled", "boxes", "fixings", "nameless", "nameless-backfilled", "nameless-prints", "nameless-prints-voided", "nameless-voided", "notes", "prints", "prints-developed", "session",
	"session-backfilled", "session-held", "sitters-named", "unserved", "voids-chained", "washings"}

// Whatever a book's entries hang on, twice as many of them take about twice the work.
func TestNoShapeTakesMoreThanItsEntries(t *testing.T) {
	size, tried := 100, 0
	if long {
		size = 400
	}
	for _, s := range eventstest.Shapes {
		if !long && !slices.Contains(shapesTried, s.Name) {
			continue
		}
		tried++
		t.Run(s.Name, func(t *testing.T) {
			once, twice := shapeCosts(t, s, size), shapeCosts(t, s, 2*size)
			for what, c := range twice {
				assertGrows(t, what+": rows", once[what].rows, c.rows)
				assertGrows(t, what+": allocations", once[what].allocated, c.allocated)
			}
		})
	}
	assert.GreaterOrEqual(t, tried, len(shapesTried))
}

// The words of a picture are put together in room that grows with them: what is copied for each further word shows in the
// bytes alone.
func TestWordsTakeNoMoreThanTheirLength(t *testing.T) {
	i := slices.IndexFunc(eventstest.Shapes, func(s eventstest.Shape) bool { return s.Name == "notes" })
	bytes := func(size int) int {
		path := filepath.Join(t.TempDir(), "book.db")
		require.NoError(t, CreateFilled(path, Options{Folder: snapshot.Folder{}}, nil))
		b := shapeBook(t, path)
		takeShape(t, b, eventstest.Shapes[i], size)
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		require.NoError(t, b.Rebuild())
		runtime.ReadMemStats(&after)
		return int(after.TotalAlloc - before.TotalAlloc)
	}
	// Room grows by steps, so that twice the words may take 2.3 times the bytes; four times tells growth from copying.
	once, fourTimes := bytes(1250), bytes(5000)
	assert.LessOrEqual(t, float64(fourTimes), 6*float64(once), "bytes: %d, then %d", once, fourTimes)
}

func assertGrows(t *testing.T, what string, once, twice int) {
	t.Helper()
	if twice > smallEnough {
		assert.LessOrEqual(t, float64(twice), mostTimes*float64(once), "%s: %d, then %d", what, once, twice)
	}
}
