package main

import (
	"bytes"
	"database/sql"
	"encoding/binary"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events/eventstest"
)

// keysIn are the places in a book's file at which the ids and the moments of its entries stand, in the table and in the
// indexes, and the bytes behind each: row numbers, and the numbers of chains, pictures, boxes, baths and sessions.
func keysIn(t *testing.T, book string, raw []byte) (places []int) {
	t.Helper()
	db, err := sql.Open("sqlite3", "file:"+book+"?mode=ro")
	require.NoError(t, err)
	defer db.Close()
	rows, err := db.Query("SELECT id, at FROM entry")
	require.NoError(t, err)
	defer rows.Close()
	const behind = 4
	seen := map[int]bool{}
	for rows.Next() {
		var id []byte
		var at int64
		require.NoError(t, rows.Scan(&id, &at))
		for _, key := range [][]byte{id, binary.BigEndian.AppendUint64(nil, uint64(at))} {
			for from := 0; ; {
				i := bytes.Index(raw[from:], key)
				if i < 0 {
					break
				}
				for p := from + i; p < min(from+i+len(key)+behind, len(raw)); p++ {
					seen[p] = true
				}
				from += i + 1
			}
		}
	}
	require.NoError(t, rows.Err())
	for p := range seen {
		places = append(places, p)
	}
	slices.Sort(places)
	return places
}

// One bit wrong in a number by which rows are found: every look ends, and gives an answer or names the damage.
func TestLooksEndWhateverKeyIsDamaged(t *testing.T) {
	t.Parallel()
	eventstest.Within(t)
	bench := caseBook(t, "print-under-washed")
	raw, err := os.ReadFile(bench)
	require.NoError(t, err)
	places := keysIn(t, bench, raw)
	require.Greater(t, len(places), 800)
	draw := rand.New(rand.NewPCG(20261130, 4))
	book := filepath.Join(t.TempDir(), "book.db")
	spoilt.Store(book, true)
	answered, named := 0, 0
	for range rounds(t, 12, 4000) {
		at, bit := places[draw.IntN(len(places))], draw.IntN(8)
		raw[at] ^= 1 << bit
		for _, end := range []string{"-wal", "-shm"} {
			os.Remove(book + end)
		}
		require.NoError(t, os.WriteFile(book, raw, 0o600))
		raw[at] ^= 1 << bit
		for _, look := range [][]string{{"today"}, {"why", "2026-001"}, {"year", "2026"}, {"stock", "--all"}, {"baths", "--all"}, {"sessions"}, {"pictures", "--all"},
			{"history"}, {"history", "2026-001"}, {"history", "box-1"}, {"history", "dev-1"}, {"calibrate"}} {
			what := fmt.Sprintf("byte %d, bit %d: %q", at, bit, look)
			code, out, errs := obeyed(t, book, look...)
			switch code {
			case codeDone:
				answered++
				assert.NotEmpty(t, out, what)
			case codeDamaged:
				named++
				assert.Contains(t, errs, "damaged", what)
			default:
				assert.Fail(t, "neither an answer nor the damage", "%s: exit %d: %s", what, code, errs)
			}
		}
	}
	t.Logf("%d answers, %d times the damage was named", answered, named)
	require.Positive(t, named)
}
