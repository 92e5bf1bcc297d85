package main

import (
	"crypto/sha256"
	"database/sql"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/eventstest"
	"traybook/events/sqlite"
)

// lives are books of working lives of several lengths, and the program that looks at them.
type lives struct {
	dir, program  string
	empty, asking string            // programs with the same driver: one that does nothing, one that asks one question
	pictures      map[int]string    // a late picture of each, by length
	now           map[int]time.Time // the moment after the last entry of each
}

const emptyProgram = `package main

import _ "github.com/mattn/go-sqlite3"

func main() {}
`

// askingProgram opens the book that it is given, asks one indexed question, and ends: the least that a look can take.
const askingProgram = `package main

import (
	"database/sql"
	"os"

	_ "github.com/mattn/go-sqlite3"
)

func main() {
	db, err := sql.Open("sqlite3", "file:"+os.Args[1]+"?mode=rw&_query_only=1")
	if err != nil {
		panic(err)
	}
	defer db.Close()
	var kind string
	if err := db.QueryRow("SELECT kind FROM entry WHERE at>=? ORDER BY at LIMIT 1", 1).Scan(&kind); err != nil {
		panic(err)
	}
}
`

func (l *lives) book(n int) string { return filepath.Join(l.dir, fmt.Sprintf("%d.db", n)) }

func newLives(t *testing.T, lengths ...int) *lives {
	dir := t.TempDir()
	l := &lives{dir: dir, program: built(t), empty: filepath.Join(dir, "empty"), asking: filepath.Join(dir, "asking"), pictures: map[int]string{}, now: map[int]time.Time{}}
	for program, text := range map[string]string{l.empty: emptyProgram, l.asking: askingProgram} {
		require.NoError(t, os.WriteFile(program+".go", []byte(text), 0o600))
		build(t, program, program+".go")
	}
	for _, n := range lengths {
		file := filepath.Join(dir, fmt.Sprintf("%d.ndjson", n))
		f, err := os.Create(file)
		require.NoError(t, err)
		_, err = eventstest.WriteLife(f, n, 7)
		require.NoError(t, err)
		require.NoError(t, f.Close())
		c := l.run(t, n, "import", file)
		t.Logf("import  %8d entries  %7.2f s  %4d MB at most", n, c.took.Seconds(), c.peak>>20)
		inRoom(t, c)
		l.lookAround(t, n)
	}
	return l
}

// lookAround finds the moment after the last entry, and a picture of the last days.
func (l *lives) lookAround(t *testing.T, n int) {
	b, err := sqlite.Open(l.book(n), bookOptions(true))
	require.NoError(t, err)
	defer b.Close()
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		last, err := tx.Entries(events.Query{Newest: true, Limit: 1})
		if err != nil {
			return err
		}
		l.now[n] = last[0].At.Add(time.Minute)
		views, err := tx.Views(events.ViewQuery{Kind: events.Picture, Limit: 3})
		l.pictures[n] = views[len(views)-1].Entity.Name
		return err
	}))
}

// cost is what one run of a program took.
type cost struct {
	took time.Duration
	peak int64 // bytes of memory, 0 where the system does not tell
}

func (l *lives) run(t *testing.T, n int, args ...string) cost {
	c := command(t, l.program, l.book(n), args...)
	if at, ok := l.now[n]; ok {
		c.Env = append(c.Env, "TRAYBOOK_NOW="+at.Format(time.RFC3339))
	}
	return costOf(t, c)
}

func costOf(t *testing.T, c *exec.Cmd) cost {
	var said strings.Builder
	c.Stdout, c.Stderr = io.Discard, &said
	begin := time.Now()
	err := c.Run()
	took := time.Since(begin)
	require.NoError(t, err, "%v: %s", c.Args, said.String())
	return cost{took, peakOf(c.ProcessState)}
}

const roomForAll = 500_000_000 // bytes that a long command may take

func inRoom(t *testing.T, c cost) {
	assert.Less(t, c.peak, int64(roomForAll))
}

// leastOf runs several things by turns and gives the least that each took.
func leastOf(rounds int, runs ...func() cost) []time.Duration {
	least := make([]time.Duration, len(runs))
	for range rounds {
		for i, run := range runs {
			if took := run().took; least[i] == 0 || took < least[i] {
				least[i] = took
			}
		}
	}
	return least
}

// With TRAYBOOK_LONG set it tells what whole runs of the program cost in a book of a million entries beside one of a
// thousand, least of 25; else it looks only that every run does its work.
func TestWholeProgramTargets(t *testing.T) {
	few, year, many, rounds := 1000, 28_000, 1_000_000, 25
	long := os.Getenv("TRAYBOOK_LONG") != ""
	if !long {
		few, year, many, rounds = 300, 600, 1000, 1
	}
	l := newLives(t, few, year, many)
	tell := func(what string, got, floor time.Duration, target float64) {
		ratio := float64(got) / float64(floor)
		met := "met"
		if ratio > target {
			met = "NOT MET"
		}
		t.Logf("%-34s %9.2f ms %9.2f ms %6.2f %6.2f  %s", what, 1e3*got.Seconds(), 1e3*floor.Seconds(), ratio, target, met)
		if long {
			assert.Less(t, ratio, 2*target, "%s is far from its target", what)
		}
	}
	in := func(n int, args ...string) func() cost { return func() cost { return l.run(t, n, args...) } }
	starts := leastOf(rounds, func() cost { return costOf(t, eventstest.Command(t, l.empty)) }, in(few, "--version"))
	tell("--version ÷ an empty program", starts[1], starts[0], 1.5)
	for _, look := range []string{"history", "why", "stock", "today", "baths", "meter f/8 4s"} {
		words := func(n int) []string {
			if look == "history" || look == "why" {
				return []string{look, l.pictures[n]}
			}
			return strings.Fields(look)
		}
		least := leastOf(rounds, in(few, words(few)...), in(many, words(many)...), func() cost { return costOf(t, eventstest.Command(t, l.asking, l.book(many))) })
		tell(look+": many ÷ few entries", least[1], least[0], 1.2)
		if look != "meter f/8 4s" {
			tell(look+" ÷ one question", least[1], least[2], 2.5)
		}
	}
	told := leastOf(min(rounds, 5), in(year, "year", "2001"), in(many, "year", "2001"))
	tell("year: of thirty years ÷ of one", told[1], told[0], 1.2)

	for _, args := range [][]string{{"export", "events", "--out", "-"}, {"export", "csv", "--table", "entries", "--out", "-"}, {"verify", "--chain"}, {"rebuild"}} {
		c := l.run(t, many, args...)
		t.Logf("%-34s %9.2f s  %4d MB at most", strings.Join(args, " "), c.took.Seconds(), c.peak>>20)
		inRoom(t, c)
	}
	table := leastOf(min(rounds, 3), in(many, "export", "csv", "--table", "entries", "--out", "-"), func() cost { return l.decodeAll(t, many) })
	tell("csv of the entries ÷ scan, decode", table[0], table[1], 1.5)
	made := 0
	tables := leastOf(min(rounds, 3), func() cost {
		made++
		return l.run(t, many, "export", "csv", "--out", filepath.Join(l.dir, fmt.Sprint("tables-", made)))
	}, func() cost { return l.decodeAll(t, many) })
	tell("all tables ÷ scan, decode", tables[0], tables[1], 3)
	whole := leastOf(min(rounds, 3), in(many, "verify"), func() cost { return l.hashAll(t, many) })
	tell("verify ÷ scan, bare SHA-256", whole[0], whole[1], 5)
}

// hashAll takes the bare SHA-256 of every entry's stored bytes, on one core.
func (l *lives) hashAll(t *testing.T, n int) cost {
	var sum byte
	c := l.scan(t, n, func(body []byte) { sum ^= sha256.Sum256(body)[0] })
	t.Logf("the sums add up to %d", sum)
	return c
}

// decodeAll reads every entry into values with encoding/json, on one core.
func (l *lives) decodeAll(t *testing.T, n int) cost {
	return l.scan(t, n, func(body []byte) {
		_, err := events.Decode(append([]byte{' '}, body...)) // a space is not of the shape that is read the quick way
		require.NoError(t, err)
	})
}

// scan hands every entry's stored bytes to f.
func (l *lives) scan(t *testing.T, n int, f func(body []byte)) cost {
	db, err := sql.Open("sqlite3", "file:"+l.book(n)+"?mode=ro")
	require.NoError(t, err)
	defer db.Close()
	begin := time.Now()
	rows, err := db.Query("SELECT body FROM entry ORDER BY seq")
	require.NoError(t, err)
	defer rows.Close()
	for rows.Next() {
		var body sql.RawBytes
		require.NoError(t, rows.Scan(&body))
		f(body)
	}
	require.NoError(t, rows.Err())
	return cost{took: time.Since(begin)}
}
