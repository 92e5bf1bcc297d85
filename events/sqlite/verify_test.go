package sqlite

import (
	"database/sql"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
)

// raw opens the file as another program would: the driver alone, none of our pragmas. What it does to the book is the
// test's own affair: the harness does not look at it again.
func raw(t testing.TB, path string) *sql.DB {
	t.Helper()
	spoilt.Store(path, true)
	db := sql.OpenDB(plainConnector("file:" + path + "?mode=rw&_busy_timeout=5000"))
	db.SetMaxOpenConns(1)
	t.Cleanup(func() { db.Close() })
	return db
}

// tamper changes a closed book behind our back, guards lifted, and puts the guards back.
func tamper(t testing.TB, path string, statements ...string) {
	t.Helper()
	db := raw(t, path)
	for _, name := range triggerNames {
		_, err := db.Exec("DROP TRIGGER " + name)
		require.NoError(t, err)
	}
	for _, s := range statements {
		_, err := db.Exec(s)
		require.NoError(t, err, s)
	}
	for _, name := range triggerNames {
		_, err := db.Exec(objects()[name])
		require.NoError(t, err)
	}
	require.NoError(t, db.Close())
}

func TestVerifySound(t *testing.T) {
	b := seasonBook(t)
	r := verified(t, b)
	assert.EqualValues(t, 27, r.Events)
	assert.Empty(t, r.Notes)
	require.Len(t, r.Heads, 1)
	assert.Equal(t, r.Head, r.Heads[0])
	assert.EqualValues(t, 27, r.Head.BookSeq)
	c, err := b.Verify(VerifyOptions{Chain: true, Head: r.Head.Hash.String()})
	require.NoError(t, err)
	assert.Equal(t, r, c)
	_, err = b.Verify(VerifyOptions{Head: "ab"})
	assert.EqualError(t, err, `"ab" is no hash; a hash is 64 hex digits`)
	empty := create(t)
	assert.EqualValues(t, 0, verified(t, empty).Events)
}

// Every class of damage has a kind of its own and names the entry where there is one.
func TestVerifyNamesTheDamage(t *testing.T) {
	const at = "WHERE seq=10" // the development of 2026-001n
	for _, c := range []struct {
		name, statement, kind, text string
		entry                       bool
	}{
		{"a changed word in the bytes", `UPDATE entry SET body=replace(body,'"time_s":60','"time_s":61') ` + at, ProblemHash, "was changed: its hash is", true},
		{"bytes that are no entry", `UPDATE entry SET body='{}' ` + at, ProblemBytes, "entry number 10: the stored bytes hold no time", false},
		{"a changed hash", `UPDATE entry SET hash=zeroblob(32) ` + at, ProblemHash, "was changed: its hash is 00000000", true},
		{"a changed prev", `UPDATE entry SET prev=zeroblob(32) ` + at, ProblemLink, "the hash of the entry before it was changed beside it", true},
		{"a short hash", `UPDATE entry SET hash=x'00' ` + at, ProblemHash, "was changed", true},
		{"a deleted entry", `DELETE FROM entry ` + at, ProblemMissing, "entry number 10 is missing before this one", false},
		{"deleted entries", `DELETE FROM entry WHERE seq BETWEEN 10 AND 12`, ProblemMissing, "entries number 10 to 12 are missing before this one", false},
		{"the first deleted", `DELETE FROM entry WHERE seq=1`, ProblemMissing, "entry number 1 is missing before this one", false},
		{"two swapped", `UPDATE entry SET seq=CASE seq WHEN 10 THEN -11 ELSE -10 END WHERE seq IN (10,11); UPDATE entry SET seq=-seq WHERE seq<0`, ProblemLink, "does not follow the one before it", false},
		{"an inserted entry", `INSERT INTO entry SELECT 28, body, prev, hash, id, chain, book_seq, kind, at, stream, box, bath, session, batch FROM entry ` + at, ProblemLink, "entry number 28 does not follow", true},
		{"column id", `UPDATE entry SET id=zeroblob(16) ` + at, ProblemColumn, "id beside its bytes", true},
		{"column chain", `UPDATE entry SET chain=7 ` + at, ProblemChain, "stands on chain 7, but belongs to the book", true},
		{"column book_seq", `UPDATE entry SET book_seq=99 ` + at, ProblemColumn, "book_seq beside its bytes", true},
		{"column kind", `UPDATE entry SET kind='sheet.dried' ` + at, ProblemColumn, "kind beside its bytes", true},
		{"column at", `UPDATE entry SET at=at+1 ` + at, ProblemColumn, "at beside its bytes", true},
		{"column stream", `UPDATE entry SET stream=1 ` + at, ProblemColumn, "stream beside its bytes", true},
		{"column bath", `UPDATE entry SET bath=1 ` + at, ProblemColumn, "bath beside its bytes", true},
		{"column box", `UPDATE entry SET box=1 ` + at, ProblemColumn, "box beside its bytes", true},
		{"column session", `UPDATE entry SET session=NULL ` + at, ProblemColumn, "session beside its bytes", true},
		{"column batch", `UPDATE entry SET batch=NULL ` + at, ProblemColumn, "batch beside its bytes", true},
		{"a name", `UPDATE entity SET name='dev-9' WHERE name='dev-1'`, ProblemName, "the name dev-1 stands otherwise in its index", false},
		{"a name gone", `DELETE FROM entity WHERE name='dev-1'`, ProblemName, "the name dev-1 is not in its index", false},
		{"a name too many", `INSERT INTO entity VALUES (99,'dev-9',1,'bath',1,4)`, ProblemName, "the index of names holds dev-9, which no entry gave", false},
		{"a cite gone", `DELETE FROM cite`, ProblemCite, "is not in its index", true},
		{"a cite too many", `INSERT INTO cite VALUES (1,2)`, ProblemCite, "holds 1 more than the entries say", false},
		{"a correction gone", `DELETE FROM correction`, ProblemCorrection, "amends or voids another is not in its index", true},
		{"a correction too many", `INSERT INTO correction VALUES (3,4)`, ProblemCorrection, "holds 1 more than the entries say", false},
		{"a view edited", `UPDATE view SET stock=stock+5 WHERE kind='box'`, ProblemView, "the kept view of box-1 is not what its entries give", false},
		{"a view gone", `DELETE FROM view WHERE kind='session'`, ProblemView, "mole-day has no kept view", false},
		{"a view too many", `INSERT INTO view VALUES (99,'box',0,0,0,0,'')`, ProblemView, "a view is kept of thing number 99, which holds no entry; `traybook rebuild` drops it", false},
		{"an index changed", `DROP INDEX entry_at; CREATE INDEX entry_at ON entry(kind)`, ProblemTable, "the index \"entry_at\" was changed; `traybook salvage` makes a book that has it", false},
		{"an index gone", `DROP INDEX entry_at`, ProblemTable, "the index \"entry_at\" is gone; `traybook salvage` makes a book that has it", false},
		{"a table gone", `DROP TABLE thumbnail`, ProblemTable, "the table \"thumbnail\" is gone; `traybook salvage` makes a book that has it", false},
		{"a table of another", `CREATE TABLE stranger (x)`, ProblemTable, `a table "stranger" that is none of the book's`, false},
		{"a chain too many", `INSERT INTO chain VALUES (2, zeroblob(16), NULL, NULL, 1, NULL)`, ProblemChain, "chain 2 has no entries", false},
		{"a hole in the list of chains", `INSERT INTO chain VALUES (3, zeroblob(16), NULL, NULL, 1, NULL)`, ProblemChain, "chain 2 is missing in the list of chains", false},
		{"a chain of another name", `UPDATE chain SET book=zeroblob(16)`, ProblemChain, "stands on chain 1, but belongs to the book", true},
		{"a chain's beginning", `UPDATE chain SET first=3`, ProblemChain, "is said to begin at entry number 3, it begins at 1", true},
		{"a chain's end", `UPDATE chain SET last=3`, ProblemChain, "is said to end at entry number 3, it ends at 27", false},
		{"a chain's parent", `PRAGMA foreign_keys=0; UPDATE chain SET parent=9, parent_seq=1`, ProblemChain, "a chain grew from one that is not listed", false},
		{"the own chain", `UPDATE meta SET value='5' WHERE key='own_chain'`, ProblemChain, `the file's own chain is said to be "5"`, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := seasonBook(t)
			require.NoError(t, b.Close())
			tamper(t, b.Path(), c.statement)
			r, err := open(t, b.Path()).Verify(VerifyOptions{})
			require.NoError(t, err)
			assert.False(t, r.OK)
			for _, p := range r.Problems {
				if p.Kind == c.kind && strings.Contains(p.Text, c.text) {
					if c.entry {
						assert.Len(t, p.Entry, 32)
					}
					return
				}
			}
			t.Fatalf("no problem of kind %s with %q in %v", c.kind, c.text, r.Problems)
		})
	}
}

// One damaged entry is one problem, not a landslide.
func TestVerifyDoesNotCascade(t *testing.T) {
	for name, statement := range map[string]string{
		"bytes": `UPDATE entry SET body=replace(body,'"time_s":60','"time_s":61') WHERE seq=10`,
		"hash":  `UPDATE entry SET hash=zeroblob(32) WHERE seq=10`,
		"prev":  `UPDATE entry SET prev=zeroblob(32) WHERE seq=10`,
	} {
		t.Run(name, func(t *testing.T) {
			b := seasonBook(t)
			require.NoError(t, b.Close())
			tamper(t, b.Path(), statement)
			r, err := open(t, b.Path()).Verify(VerifyOptions{Chain: true})
			require.NoError(t, err)
			require.Len(t, r.Problems, 1, "%v", r.Problems)
			assert.EqualValues(t, 27, r.Events)
		})
	}
}

func TestVerifyGuards(t *testing.T) {
	b := seasonBook(t)
	require.NoError(t, b.Close())
	db := raw(t, b.Path())
	_, err := db.Exec("DROP TRIGGER entry_no_update; DROP TRIGGER entry_no_delete; CREATE TRIGGER entry_no_delete BEFORE DELETE ON entry BEGIN SELECT 1; END")
	require.NoError(t, err)
	require.NoError(t, db.Close())
	b = open(t, b.Path())
	r, err := b.Verify(VerifyOptions{})
	require.NoError(t, err)
	assert.Equal(t, []Problem{
		{ProblemTrigger, "", `the trigger "entry_no_delete" was changed; ` + "`traybook rebuild` puts the guard back"},
		{ProblemTrigger, "", `the trigger "entry_no_update" is gone; ` + "`traybook rebuild` puts the guard back"},
	}, r.Problems)
	require.NoError(t, b.Rebuild())
	verified(t, b)
}

// The tail cut off is invisible to the chain, but not to one who remembers its head.
func TestVerifyTailCutOff(t *testing.T) {
	b := seasonBook(t)
	head := verified(t, b).Head
	require.NoError(t, b.Close())
	tamper(t, b.Path(), "DELETE FROM entry WHERE seq=27", "DELETE FROM view WHERE kind='session'")
	b = open(t, b.Path())
	r, err := b.Verify(VerifyOptions{Chain: true})
	require.NoError(t, err)
	assert.True(t, r.OK)
	r, err = b.Verify(VerifyOptions{Chain: true, Head: head.Hash.String()})
	require.NoError(t, err)
	require.Len(t, r.Problems, 1)
	assert.Equal(t, ProblemHead, r.Problems[0].Kind)
	assert.Contains(t, r.Problems[0].Text, head.Hash.String())
}

func TestVerifyRecordedTimeRunsForward(t *testing.T) {
	b := create(t)
	spoilt.Store(b.Path(), true) // its order is what the test breaks
	h := newHand(t, b, "x")
	h.begin()
	e := h.entry(&events.NoteWrittenData{About: "(book)", Text: "x"})
	e.RecordedAt = morning.Add(-time.Hour)
	require.NoError(t, b.Write(func(tx *Tx) error {
		require.NoError(t, tx.chains.load())
		e.Book, e.BookSeq, e.Branch, e.V = seeded("book of x"), 2, 1, 1
		require.NoError(t, e.Seal(tx.chains.heads[1].Hash))
		return tx.insert(&e, tx.meanings.byChain)
	}))
	r, err := b.Verify(VerifyOptions{Chain: true})
	require.NoError(t, err)
	require.Len(t, r.Problems, 1)
	assert.Equal(t, Problem{ProblemOrder, e.ID.String(), "entry number 2 was recorded before the entry that it follows"}, r.Problems[0])
}

func TestVerifyNotesWhatStandsOnTheVoided(t *testing.T) {
	b := create(t)
	h := newHand(t, b, "harbour")
	h.begin()
	box := h.do(&events.PaperReceivedData{Box: "box-1", Name: "quay paper", Base: "rc", WidthMM: 1, HeightMM: 1, Sheets: 9})
	num := func(v float64) *float64 { return &v }
	met := h.do(&events.LightMeteredData{On: "scene", Mode: "incident", Lux: num(900)})
	x := h.do(&events.SheetExposedData{Picture: "2026-001", Box: "box-1", F: 8, TimeS: 5, Sheet: "2026-001n", Reading: met.ID.String()})
	h.do(&events.SheetDriedData{Sheet: "2026-001n"}, &events.SheetJudgedData{Sheet: "2026-001n", Verdict: "keep"})
	assert.Empty(t, verified(t, b).Notes)
	h.void(met)
	assert.Equal(t, []string{fmt.Sprintf("entry %s is voided, but one entry still depends on it", met.ID)}, verified(t, b).Notes)
	undo := h.void(box)
	assert.Len(t, verified(t, b).Notes, 1, "one entry is counted once")
	h.void(x)
	assert.Equal(t, []string{fmt.Sprintf("entry %s is voided, but 2 entries still depend on it", x.ID)}, verified(t, b).Notes)
	h.void(undo)
	assert.Len(t, verified(t, b).Notes, 1)
}

func TestVerifyStaleViews(t *testing.T) {
	b := seasonBook(t)
	require.NoError(t, b.Close())
	b, err := Open(b.Path(), Options{Folder: tally{version: 2}})
	require.NoError(t, err)
	defer b.Close()
	assert.True(t, b.stale)
	r := verified(t, b)
	assert.Equal(t, []string{"the kept views were folded by another version of traybook and are not used; `traybook rebuild` makes them anew"}, r.Notes)
	require.NoError(t, b.Rebuild())
	assert.False(t, b.stale)
	assert.Empty(t, verified(t, b).Notes)
}

func TestVerifyReportsAreBounded(t *testing.T) {
	var r Report
	for i := range maxProblems + 50 {
		r.problem(ProblemHash, "", "%d", i)
	}
	assert.Len(t, r.Problems, maxProblems+1)
	assert.Equal(t, []string{"there are more than 1000 problems; the rest is not listed"}, r.Notes)
}

func TestTheFootOfAnEntryAgreesWithDecode(t *testing.T) {
	b := seasonBook(t)
	require.NoError(t, b.Read(func(tx *Tx) error {
		return tx.Each(func(e events.Entry) error {
			f, ok := usualFoot(e.Stored)
			assert.True(t, ok)
			assert.Equal(t, foot{e.ID, e.Book, e.BookSeq, f.recorded}, f)
			assert.True(t, f.recorded.Equal(e.RecordedAt))
			for n := range e.Stored { // cut anywhere it is no entry, and nothing panics
				_, ok := usualFoot(e.Stored[:n])
				assert.False(t, ok)
			}
			return nil
		})
	}))
	// Nor is it one where a part of the foot is none, and where all else stands as it should.
	const foot = `{"data":{},"id":"000000000000000000000000000000aa","book":"000000000000000000000000000000bb","book_seq":3,"recorded_at":"2026-05-03T09:00:00Z","v":1}`
	_, ok := usualFoot([]byte(foot))
	assert.True(t, ok)
	for _, part := range []string{"aa", "bb", "3", "2026-05-03T09", "1"} {
		at := strings.LastIndex(foot, part)
		_, ok := usualFoot([]byte(foot[:at] + "x" + foot[at+1:]))
		assert.False(t, ok, part)
	}
	// Keys in another order are read the long way.
	other := []byte(`{"id":"000000000000000000000000000000aa","book":"000000000000000000000000000000bb","book_seq":3,"recorded_at":"2026-05-03T09:00:00Z","v":1,"kind":"session.closed","at":"2026-05-03T09:00:00Z","data":{"session":"x"}}`)
	_, ok = usualFoot(other)
	assert.False(t, ok)
	f, err := footOf(other)
	require.NoError(t, err)
	assert.EqualValues(t, 3, f.bookSeq)
	_, err = footOf([]byte("x"))
	assert.Error(t, err)
}

// The book's head is that of the chain that is said to be its own; where none is said to be, of the one that was written last.
func TestTheHeadIsThatOfTheOwnChain(t *testing.T) {
	field, studio := seasonBook(t), create(t)
	newHand(t, studio, "studio").season()
	merge(t, field, studio)
	whole := verified(t, field)
	require.Len(t, whole.Heads, 2)
	require.NoError(t, field.Close())
	for own, want := range map[string]int64{"1": 1, "2": 2, "": 2, "3": 0, "0": 0, "tin": 0} {
		tamper(t, field.Path(), `UPDATE meta SET value='`+own+`' WHERE key='own_chain'`)
		r, err := VerifyFile(field.Path(), options, VerifyOptions{Chain: true})
		require.NoError(t, err)
		assert.Equal(t, want, r.Head.Chain, "own chain %q", own)
		if want != 0 {
			assert.Empty(t, r.Problems, "own chain %q", own)
			continue
		}
		require.Len(t, r.Problems, 1, "own chain %q: %v", own, r.Problems)
		assert.Equal(t, Problem{ProblemChain, "", fmt.Sprintf("the file's own chain is said to be %q; there is none such", own)}, r.Problems[0])
	}
}

// Each row of progress tells how far the walk is, of how much, and it ends at the end.
func TestProgressRunsUpToTheEnd(t *testing.T) {
	b := seasonBook(t)
	last := int64(0)
	_, err := b.Verify(VerifyOptions{Chain: true, Progress: func(d, n int64) {
		assert.EqualValues(t, 27, n)
		assert.GreaterOrEqual(t, d, last)
		last = d
	}})
	require.NoError(t, err)
	assert.EqualValues(t, 27, last)
}

func TestProgress(t *testing.T) {
	b := seasonBook(t)
	var done, total int64
	_, err := b.Verify(VerifyOptions{Progress: func(d, n int64) { done, total = d, n }})
	require.NoError(t, err)
	assert.EqualValues(t, []int64{27, 27}, []int64{done, total})
}

// Whatever is gone from a book, verify says what helps, and it does: a salvage makes a book that has it, a rebuild puts a
// guard back.
func TestWhatIsGoneComesBackAsVerifySays(t *testing.T) {
	for name, text := range objects() {
		t.Run(name, func(t *testing.T) {
			path := seasonFile(t)
			spoilt.Store(path, true)
			typ := strings.ToLower(strings.Fields(text)[1])
			db := raw(t, path)
			_, err := db.Exec("DROP " + typ + " " + name)
			require.NoError(t, err)
			require.NoError(t, db.Close())
			r, err := VerifyFile(path, options, VerifyOptions{})
			require.NoError(t, err)
			told := fmt.Sprint(r.Problems)
			if typ == "trigger" {
				assert.Contains(t, told, fmt.Sprintf("the trigger %q is gone; `traybook rebuild` puts the guard back", name))
				b := open(t, path)
				require.NoError(t, b.Rebuild())
				verified(t, b)
				return
			}
			assert.Equal(t, 1, strings.Count(told, fmt.Sprintf("the %s %q is gone; `traybook salvage` makes a book that has it", typ, name)), told)
			saved, s := rescue(t, path)
			verified(t, saved)
			if name == "entry" {
				return // they are gone with it, but for pages that were not written over
			}
			assert.EqualValues(t, 27, s.Kept)
		})
	}
}

// Whoever reads a text in a column of numbers meets damage, never a sentence of the library.
func TestAValueOfAnotherTypeIsDamage(t *testing.T) {
	for _, c := range []struct {
		statement string
		read      func(tx *Tx) error
	}{
		{`UPDATE entry SET chain='tin' WHERE seq=10`, func(tx *Tx) error { return tx.Each(func(events.Entry) error { return nil }) }},
		{`UPDATE entry SET chain='tin' WHERE seq=10`, func(tx *Tx) error { _, err := tx.Entries(events.Query{}); return err }},
		{`UPDATE view SET stock='tin' WHERE kind='box'`, func(tx *Tx) error { _, err := tx.Views(events.ViewQuery{Kind: events.Box}); return err }},
		{`UPDATE entry SET stream='tin' WHERE seq=10`, func(tx *Tx) error {
			found, err := tx.Entries(events.Query{})
			if err == nil {
				_, err = tx.StreamOf(found[9].ID)
			}
			return err
		}},
		{`UPDATE chain SET last='tin'`, func(tx *Tx) error { _, err := tx.Heads(); return err }},
	} {
		t.Run(c.statement, func(t *testing.T) {
			b := seasonBook(t)
			require.NoError(t, b.Close())
			for _, statements := range [][]string{ // the tables are strict: a damaged page alone holds such a value
				{"PRAGMA writable_schema=1", "UPDATE sqlite_schema SET sql=substr(sql,1,length(sql)-7) WHERE type='table' AND sql LIKE '%) STRICT'"},
				{c.statement},
				{"PRAGMA writable_schema=1", "UPDATE sqlite_schema SET sql=sql||' STRICT' WHERE type='table' AND sql LIKE '%)'"},
			} {
				tamper(t, b.Path(), statements...)
			}
			spoilt.Store(b.Path(), true)
			b, err := Open(b.Path(), Options{})
			if err == nil {
				defer b.Close()
				err = b.Read(c.read)
			}
			require.ErrorIs(t, err, events.ErrDamaged)
			assert.NotContains(t, err.Error(), "sql:")
		})
	}
}
