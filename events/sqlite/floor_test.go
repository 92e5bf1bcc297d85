package sqlite

import (
	"bytes"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/eventstest"
	"traybook/projections/acts"
	"traybook/projections/snapshot"
)

// What the book costs is told beside a floor: the least that the machine can do of the same work, measured in the same
// run, turn and turn about.

// long says that the figures of a working life are wanted; they take minutes.
var long = os.Getenv("TRAYBOOK_LONG") != ""

// wanted is of how many entries they are wanted, 0 where the tests know best.
var wanted, _ = strconv.Atoi(os.Getenv("TRAYBOOK_ENTRIES"))

func sizes() []int {
	if wanted > 0 {
		return []int{wanted}
	}
	if long {
		return []int{1000, 100_000, 1_000_000}
	}
	return []int{1000, 100_000}
}

func sizeName(n int) string {
	switch {
	case n >= 1_000_000:
		return fmt.Sprintf("%dM", n/1_000_000)
	case n >= 1000:
		return fmt.Sprintf("%dk", n/1000)
	}
	return fmt.Sprint(n)
}

// workingLife is a life of n entries: as a file of lines that say all, as one that leaves out what the book fills in, and
// as the book made from the first.
type workingLife struct {
	lines, sparse, book string
	entries             int
}

func newLife(tb testing.TB, n int) workingLife {
	tb.Helper()
	dir := tb.TempDir()
	l := workingLife{lines: filepath.Join(dir, "life.ndjson"), sparse: filepath.Join(dir, "sparse.ndjson"), book: filepath.Join(dir, "book.db")}
	for path, write := range map[string]func(io.Writer, int, uint64) (int, error){l.lines: eventstest.WriteLife, l.sparse: eventstest.WriteSparseLife} {
		f, err := os.Create(path)
		require.NoError(tb, err)
		l.entries, err = write(f, n, 7)
		require.NoError(tb, err)
		require.NoError(tb, f.Close())
	}
	require.NoError(tb, takeIn(tb, l.lines, l.book).Close())
	return l
}

var lifeEnds = time.Date(2060, 1, 1, 12, 0, 0, 0, time.UTC)

// takeIn makes a book from a file of lines, from the file to the commit.
func takeIn(tb testing.TB, lines, path string) *Book {
	b, err := Create(path, Options{Folder: snapshot.Folder{}})
	require.NoError(tb, err)
	f, err := os.Open(lines)
	require.NoError(tb, err)
	defer f.Close()
	store, err := os.Create(path + ".pile")
	require.NoError(tb, err)
	defer os.Remove(store.Name())
	defer store.Close()
	p := acts.NewImportBuffer(store)
	for line, err := range events.ReadLines(f) {
		require.NoError(tb, err)
		require.NoError(tb, p.Add(line))
	}
	require.NoError(tb, b.Write(func(tx *Tx) error {
		_, err := acts.ImportBuffered(tx, p, lifeEnds, events.ID{1}, events.ID{2}, nil)
		return err
	}))
	return b
}

func (l workingLife) open(tb testing.TB) *Book {
	b, err := Open(l.book, Options{Folder: snapshot.Folder{}})
	require.NoError(tb, err)
	return b
}

// floorTables are those that an import fills, the entries first.
var floorTables = []string{"entry", "entity", "cite", "correction", "view"}

// insertRows puts the rows of the book, already made, into the same tables of an empty one in one transaction, as one
// writes such a thing down: prepared once, a row at a time. What it takes to read them is not counted.
func (l workingLife) insertRows(tb testing.TB, path string) time.Duration {
	empty, err := Create(path, Options{})
	require.NoError(tb, err)
	require.NoError(tb, empty.Close())
	from, err := sql.Open("sqlite3", dsn(l.book, Options{ReadOnly: true}, "ro"))
	require.NoError(tb, err)
	defer from.Close()
	to := sql.OpenDB(connector{dsn(path, Options{}, "rw")})
	to.SetMaxOpenConns(1)
	defer to.Close()
	_, err = to.Exec(fmt.Sprintf("PRAGMA cache_size=-%d", bulkCache))
	require.NoError(tb, err)
	tx, err := to.Begin()
	require.NoError(tb, err)
	defer tx.Rollback()
	var took time.Duration
	for _, table := range floorTables {
		rows, err := from.Query("SELECT * FROM " + table)
		require.NoError(tb, err)
		columns, err := rows.Columns()
		require.NoError(tb, err)
		put, err := tx.Prepare("INSERT INTO " + table + " VALUES (?" + strings.Repeat(",?", len(columns)-1) + ")")
		require.NoError(tb, err)
		for more := true; more; {
			var made [][]any
			for len(made) < 5000 {
				if more = rows.Next(); !more {
					break
				}
				row, at := make([]any, len(columns)), make([]any, len(columns))
				for i := range row {
					at[i] = &row[i]
				}
				require.NoError(tb, rows.Scan(at...))
				made = append(made, row)
			}
			begin := time.Now()
			for _, row := range made {
				if _, err := put.Exec(row...); err != nil {
					require.NoError(tb, err)
				}
			}
			took += time.Since(begin)
		}
		require.NoError(tb, rows.Err())
	}
	begin := time.Now()
	require.NoError(tb, tx.Commit())
	return took + time.Since(begin)
}

// scanAndDecode reads every entry's stored bytes into values with encoding/json, on one core. plainly false takes the
// book's own way of reading its own bytes.
func scanAndDecode(tb testing.TB, b *Book, plainly bool) time.Duration {
	begin := time.Now()
	rows, err := b.db.Query("SELECT body FROM entry ORDER BY seq")
	require.NoError(tb, err)
	defer rows.Close()
	for rows.Next() {
		var raw sql.RawBytes
		if err := rows.Scan(&raw); err != nil {
			require.NoError(tb, err)
		}
		stored := bytes.Clone(raw)
		if plainly {
			stored = append([]byte{' '}, raw...) // a space is not of the usual shape
		}
		if _, err := events.Decode(stored); err != nil {
			require.NoError(tb, err)
		}
	}
	require.NoError(tb, rows.Err())
	return time.Since(begin)
}

// hashAll is the bare pass: every entry's bytes through SHA-256, as the chain has them, on one core.
func hashAll(tb testing.TB, b *Book) time.Duration {
	begin := time.Now()
	rows, err := b.db.Query("SELECT prev, hash, body FROM entry ORDER BY seq")
	require.NoError(tb, err)
	defer rows.Close()
	var prev, hash, body sql.RawBytes
	var buf []byte
	for rows.Next() {
		if err := rows.Scan(&prev, &hash, &body); err != nil {
			require.NoError(tb, err)
		}
		buf = append(buf[:0], tag...)
		buf = hex.AppendEncode(buf, prev)
		buf = append(append(buf, '\n'), body...)
		if sum := sha256.Sum256(buf); !bytes.Equal(sum[:], hash) {
			require.Equal(tb, hash, sum[:])
		}
	}
	require.NoError(tb, rows.Err())
	return time.Since(begin)
}

// bareCommits writes rows of an act's size into a table without an index, each in its own transaction, as durable as
// the book's.
func bareCommits(tb testing.TB, path string, n int) time.Duration {
	db := sql.OpenDB(connector{dsn(path, Options{}, "rwc")})
	db.SetMaxOpenConns(1)
	defer db.Close()
	for _, s := range []string{"PRAGMA journal_mode=WAL", "CREATE TABLE IF NOT EXISTS bare (n INTEGER PRIMARY KEY, body TEXT) STRICT"} {
		_, err := db.Exec(s)
		require.NoError(tb, err)
	}
	put, err := db.Prepare("INSERT INTO bare (body) VALUES (?)")
	require.NoError(tb, err)
	body := strings.Repeat("x", 340)
	begin := time.Now()
	for range n {
		tx, err := db.Begin()
		require.NoError(tb, err)
		_, err = tx.Stmt(put).Exec(body)
		require.NoError(tb, err)
		require.NoError(tb, tx.Commit())
	}
	return time.Since(begin)
}

// actor writes acts into a book, one write each, as the program does: a picture from the reading to the wash, and the next,
// so many days of hard work as there are turns.
type actor struct {
	book   *Book
	at     time.Time
	day, n int
	ids    uint64
}

const actsADay = 120 // on twenty pictures

// named is the name of a thing of this day.
func (a *actor) named(what string) string { return fmt.Sprintf("%s-late-%d", what, a.day) }

// next is the act that comes next: all of it, or only what a hand types.
func (a *actor) next(typed bool) *events.Entry {
	f, s, index, picture := 8.0, 4.0, 4.0, fmt.Sprintf("2061-%03d", a.n/6+1)
	sheet, in, box, dev, fix := picture+"n", events.Carried{Session: a.named("day"), Camera: "quay-box"}, "box-late", a.named("dev"), a.named("fix")
	if typed {
		picture, sheet, in, dev, fix = "", "", events.Carried{}, "", ""
		if a.n%actsADay >= 6 { // another box than the day before may be meant
			box = ""
		}
	}
	acts := []events.Data{
		&events.LightMeteredData{On: "scene", Mode: "reflected", F: &f, TimeS: &s, Index: &index, Carried: in},
		&events.SheetExposedData{Picture: picture, Box: box, F: f, TimeS: s, Sheet: sheet, Carried: in},
		&events.SheetDevelopedData{Sheet: sheet, TimeS: 60, Bath: dev, Carried: in},
		&events.SheetRinsedData{Sheet: sheet, Carried: in},
		&events.SheetFixedData{Sheet: sheet, TimeS: 60, Bath: fix, Carried: in},
		&events.SheetWashedData{Sheet: sheet, Carried: in},
	}
	a.n++
	return a.entry(acts[(a.n-1)%len(acts)])
}

// begins a day: what its first picture needs.
func (a *actor) begins(tb testing.TB) {
	life, time := 10.0, 60.0
	days := []events.Data{}
	if a.day > 0 {
		days = append(days, &events.BathDiscardedData{Bath: a.named("dev")}, &events.BathDiscardedData{Bath: a.named("fix")}, &events.SessionClosedData{Session: a.named("day")})
	} else {
		days = append(days, &events.PaperReceivedData{Box: "box-late", Name: "quay paper", Base: "rc", WidthMM: 90, HeightMM: 120, Sheets: 1000})
	}
	a.day, a.at = a.day+1, a.at.Add(12*3600e9)
	for _, d := range append(days,
		&events.SessionOpenedData{Session: a.named("day"), Camera: "quay-box"},
		&events.BathMixedData{Bath: a.named("dev"), Role: "developer", Name: "print developer", VolumeML: 1000, TimeS: &time, LifeH: &life},
		&events.BathMixedData{Bath: a.named("fix"), Role: "fixer", Name: "rapid fixer", VolumeML: 1000, TimeS: &time, LifeH: &life},
	) {
		e := a.entry(d)
		require.NoError(tb, a.book.Write(func(tx *Tx) error { return tx.Append(e) }))
	}
}

func (a *actor) entry(d events.Data) *events.Entry {
	a.at, a.ids = a.at.Add(40*time.Second), a.ids+1
	e := events.Entry{At: a.at, RecordedAt: a.at, Data: d, Kind: d.Kind()}
	r := rand.New(rand.NewPCG(a.ids, 9))
	for i := range e.ID {
		e.ID[i] = byte(r.Uint32())
	}
	return &e
}

// keep appends one act that is filled in: the entry, what finds it, the chain and the views.
func (a *actor) keep(tb testing.TB) {
	e := a.next(false)
	require.NoError(tb, a.book.Write(func(tx *Tx) error { return tx.Append(e) }))
}

// act does all that the program does for one act that a hand types: it fills in, checks, keeps and answers.
func (a *actor) act(tb testing.TB) {
	e := a.next(true)
	require.NoError(tb, a.book.Write(func(tx *Tx) error {
		_, err := acts.Write(tx, e, acts.WriteOptions{})
		return err
	}))
}

// timing is what several turns of one thing took.
type timing struct{ median, least time.Duration }

// turns runs a work and its floor by turns.
func turns(n int, work, floor func() time.Duration) (w, f timing) {
	var ws, fs []time.Duration
	for range n {
		ws, fs = append(ws, work()), append(fs, floor())
	}
	return timingOf(ws), timingOf(fs)
}

func timingOf(d []time.Duration) timing {
	slices.Sort(d)
	return timing{d[len(d)/2], d[0]}
}
