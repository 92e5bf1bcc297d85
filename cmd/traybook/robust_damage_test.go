package main

import (
	"database/sql"
	"encoding/hex"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const withoutGuards = "SELECT 'without guards'"

// behindItsBack changes a closed book with the driver alone, the guards lifted and put back.
func behindItsBack(t *testing.T, book string, statements ...string) {
	t.Helper()
	spoilt.Store(book, true)
	db, err := sql.Open("sqlite3", "file:"+book+"?mode=rw")
	require.NoError(t, err)
	defer db.Close()
	db.SetMaxOpenConns(1)
	guards := map[string]string{}
	rows, err := db.Query("SELECT name, sql FROM sqlite_master WHERE type='trigger'")
	require.NoError(t, err)
	for rows.Next() {
		var name, text string
		require.NoError(t, rows.Scan(&name, &text))
		guards[name] = text
	}
	require.NoError(t, rows.Err())
	require.NotEmpty(t, guards)
	for name := range guards {
		_, err := db.Exec("DROP TRIGGER " + name)
		require.NoError(t, err)
	}
	for _, s := range statements {
		_, err := db.Exec(s)
		require.NoError(t, err, s)
	}
	if slices.Contains(statements, withoutGuards) {
		return
	}
	for _, text := range guards {
		_, err := db.Exec(text)
		require.NoError(t, err)
	}
}

// idAt gives the id of the entry at a place in the file.
func idAt(t *testing.T, book string, seq int) string {
	t.Helper()
	db, err := sql.Open("sqlite3", "file:"+book+"?mode=ro")
	require.NoError(t, err)
	defer db.Close()
	var id []byte
	require.NoError(t, db.QueryRow("SELECT id FROM entry WHERE seq=?", seq).Scan(&id))
	return hex.EncodeToString(id)
}

// Whatever is damaged, verify says so with exit 3 and names the entry or the thing; salvage makes a book that verifies and
// leaves the damaged one alone; rebuild mends what stands beside the entries, and hides no damage of the entries.
func TestDamageIsNamedAndSalvaged(t *testing.T) {
	t.Parallel()
	const (
		at     = " WHERE seq=10"
		longer = `UPDATE entry SET body=replace(body,'"time_s":','"time_s":1')` + at
	)
	for _, c := range []struct {
		name, statement string
		says            string // beside the id, where it can be named
		named           bool
		kept            int // entries that salvage saves, at least
		rebuilt         bool
	}{
		{"bytes that are no entry", `UPDATE entry SET body='{}'` + at, "entry number 10", false, 19, false},
		{"a number changed", longer, "entry number 10 was changed", true, 19, false},
		{"a number and its view changed", longer + `; UPDATE view SET state=replace(state,'"time_s":','"time_s":1')`, "entry number 10 was changed", true, 19, false},
		{"a column beside the bytes", `UPDATE entry SET at=at+1` + at, "at beside its bytes", true, 20, true},
		{"an entry deleted", `DELETE FROM entry` + at, "entry number 10 is missing", false, 19, false},
		{"an entry put in twice", `INSERT INTO entry SELECT (SELECT max(seq)+1 FROM entry), body, prev, hash, id, chain, book_seq, kind, at, stream, box, bath, session, batch FROM entry` + at, "entry number 21 does not follow", true, 20, false},
		{"two in another order", `UPDATE entry SET seq=CASE seq WHEN 10 THEN -11 ELSE -10 END WHERE seq IN (10,11); UPDATE entry SET seq=-seq WHERE seq<0`, "does not follow", false, 20, false},
		{"the guards gone", withoutGuards, "entry_no_delete", false, 20, true},
		{"a view edited", `UPDATE view SET stock=stock+5 WHERE kind='box'`, "box-1", false, 20, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			book := caseBook(t, "print-under-washed")
			require.Equal(t, 20, entriesIn(t, book))
			id := idAt(t, book, 10)
			behindItsBack(t, book, c.statement)
			before := sums(t, filepath.Dir(book))
			code, out, errs := obeyed(t, book, "verify")
			require.Equal(t, codeDamaged, code, out+errs)
			out = strings.Join(strings.Fields(out), " ")
			assert.Contains(t, out, c.says)
			if c.named {
				assert.Contains(t, out, "("+id[:8]+")")
			}
			saved := filepath.Join(t.TempDir(), "saved.db")
			code, _, errs = obeyed(t, book, "salvage", saved)
			require.Zero(t, code, errs)
			wholeBook(t, saved)
			require.Equal(t, before, sums(t, filepath.Dir(book)), "the damaged book is only looked at")
			code, out, _ = obeyed(t, saved, "export", "events", "--out", "-")
			require.Zero(t, code)
			require.Equal(t, 1, strings.Count(out, `"kind":"book.salvaged"`))
			assert.GreaterOrEqual(t, strings.Count(out, "\n")-1, c.kept, "what could be read")
			code, _, errs = obeyed(t, book, "rebuild")
			if c.rebuilt {
				require.Zero(t, code, errs)
				wholeBook(t, book)
			} else {
				code, _, _ = obeyed(t, book, "verify")
				require.Equal(t, codeDamaged, code)
			}
		})
	}
}

// A cut-off end is seen against a head that was remembered.
func TestACutOffEndIsSeenByItsHead(t *testing.T) {
	t.Parallel()
	book := caseBook(t, "good-picture")
	_, out, _ := obeyed(t, book, "verify", "--json")
	head := strings.SplitN(strings.SplitN(out, `"head":"`, 2)[1], `"`, 2)[0]
	code, _, errs := obeyed(t, book, "verify", "--head", head)
	require.Zero(t, code, errs)
	behindItsBack(t, book, "DELETE FROM entry WHERE seq=(SELECT max(seq) FROM entry)")
	code, _, errs = obeyed(t, book, "rebuild")
	require.Zero(t, code, errs)
	wholeBook(t, book)
	code, out, _ = obeyed(t, book, "verify", "--head", head)
	require.Equal(t, codeDamaged, code)
	require.Contains(t, out, head[:8])
}

// documented are the exit codes that a command may end with. 70 is a fault of the program and never among them.
var documented = []int{codeDone, codeRefused, codeUsage, codeDamaged, codeBusy, codeStopped}

// tortured runs commands on a file that is no longer what it was: no fault, and whoever fails says why in a line.
func tortured(t *testing.T, what, book string, raw []byte) {
	t.Helper()
	spoilt.Store(book, true)
	dir := filepath.Dir(book)
	for _, line := range []string{"verify", "today", "history 2026-001", "pictures", "export events --out -", "note 2026-001 dry", "rebuild", "backup copy.db", "salvage saved.db", "merge book.db --book whole.db"} {
		require.NoError(t, os.WriteFile(book, raw, 0o600))
		for _, beside := range []string{"book.db-wal", "book.db-shm", "copy.db", "saved.db"} {
			os.Remove(filepath.Join(dir, beside))
		}
		args := strings.Fields(line)
		for i, a := range args {
			if strings.HasSuffix(a, ".db") {
				args[i] = filepath.Join(dir, a)
			}
		}
		code, out, errs := obeyed(t, book, args...)
		require.Contains(t, documented, code, "%s: %s: %s", what, line, errs)
		switch {
		case line == "verify" && code != 0:
			require.Equal(t, codeDamaged, code, "%s: %s", what, errs)
			require.NotEmpty(t, out, what)
			require.NotContains(t, strings.Join(strings.Fields(out), " "), "`traybook verify` tells where", "%s: it is the one that tells", what)
		case code != 0:
			require.Regexp(t, `^traybook: [^\n]+\n(  [^\n]+\n)?$`, errs, "%s: %s", what, line)
		case args[0] == "salvage":
			wholeBook(t, filepath.Join(dir, "saved.db"))
		case args[0] == "backup":
			wholeBook(t, filepath.Join(dir, "copy.db"))
		}
	}
}

// A file cut at any length, with any page zeroed, with bytes strewn about.
func TestTornFilesNeverMakeItFail(t *testing.T) {
	t.Parallel()
	book := caseBook(t, "good-picture")
	raw, err := os.ReadFile(book)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(filepath.Dir(book), "whole.db"), raw, 0o600))
	lengths := []int{0, 1, 15, 16, 99, 100, 101, len(raw) - 1}
	for n := 0; n < len(raw); n += max(512, len(raw)/rounds(t, 8, 256)) {
		lengths = append(lengths, n)
	}
	for _, n := range lengths {
		tortured(t, fmt.Sprintf("cut at %d", n), book, raw[:n])
	}
	pages := len(raw) / 4096
	for i := 0; i < pages; i += max(1, pages/rounds(t, 8, pages)) {
		zeroed := slices.Clone(raw)
		clear(zeroed[i*4096 : (i+1)*4096])
		tortured(t, fmt.Sprintf("page %d zeroed", i+1), book, zeroed)
	}
	dice := rand.New(rand.NewPCG(7, 11))
	for i := range rounds(t, 6, 300) {
		strewn := slices.Clone(raw)
		for range 1 + dice.IntN(8) {
			strewn[100+dice.IntN(len(raw)-100)] = byte(dice.IntN(256))
		}
		tortured(t, fmt.Sprintf("strewn, round %d", i), book, strewn)
	}
}
