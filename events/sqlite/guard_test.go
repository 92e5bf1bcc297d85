package sqlite

import (
	"database/sql"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/atomicfile"
	"traybook/events/sqlite/rawfile"
)

const row27 = "27, body, prev, hash, id, chain, book_seq, kind, at, stream, box, bath, session, batch FROM entry WHERE seq=27"

// Nothing that any program may say in SQL changes or removes an entry, with our pragmas or without, short of taking
// the guards away, which verify sees.
func TestEntriesAreOnlyEverAdded(t *testing.T) {
	for _, c := range []struct{ name, statement, want string }{
		{"update", "UPDATE entry SET at=0 WHERE seq=27", "entries are never changed"},
		{"update of all", "UPDATE entry SET body=body", "entries are never changed"},
		{"delete", "DELETE FROM entry WHERE seq=27", "entries are never deleted"},
		{"delete of all", "DELETE FROM entry", "entries are never deleted"},
		{"replace", "REPLACE INTO entry SELECT " + row27, "entries are only ever added"},
		{"insert or replace", "INSERT OR REPLACE INTO entry SELECT " + row27, "entries are only ever added"},
		{"insert or ignore", "INSERT OR IGNORE INTO entry SELECT " + row27, "entries are only ever added"},
		{"insert or fail", "INSERT OR FAIL INTO entry SELECT " + row27, "entries are only ever added"},
		{"upsert", "INSERT INTO entry SELECT " + row27 + " ON CONFLICT (seq) DO UPDATE SET at=0", "entries are only ever added"},
		{"upsert that does nothing", "INSERT INTO entry SELECT " + row27 + " ON CONFLICT DO NOTHING", "entries are only ever added"},
		{"the same entry again", "INSERT INTO entry SELECT 28, " + row27[4:], "entries are only ever added"},
		{"an entry out of turn", "INSERT INTO entry SELECT 40, body, prev, zeroblob(32), " + row27[len("27, body, prev, hash, "):], "entries are only ever added"},
		{"update or replace", "UPDATE OR REPLACE entry SET seq=26 WHERE seq=27", "entries are never changed"},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := seasonBook(t)
			before := told(t, b)
			err := b.Write(func(tx *Tx) error {
				_, err := tx.file.Exec(c.statement)
				require.Error(t, err)
				assert.Contains(t, err.Error(), c.want)
				return err
			})
			assert.EqualError(t, err, "the book refused it: entries are only ever added, each once")
			db := raw(t, b.Path()) // a second connection, the driver's defaults
			_, err = db.Exec(c.statement)
			require.Error(t, err)
			assert.Contains(t, err.Error(), c.want)
			assert.Equal(t, before, told(t, b))
			verified(t, b)
		})
	}
}

func TestVersionOfSQLite(t *testing.T) {
	b := create(t)
	var version string
	require.NoError(t, b.db.QueryRow("SELECT sqlite_version()").Scan(&version))
	var v [3]int
	for i, part := range strings.Split(version, ".") {
		for _, c := range part {
			v[i] = v[i]*10 + int(c-'0')
		}
	}
	// Before 3.51.3 a log that was begun anew under a reader could damage the file.
	assert.True(t, v[0] > 3 || v[0] == 3 && (v[1] > 51 || v[1] == 51 && v[2] >= 3), version)
}

func TestPragmasHold(t *testing.T) {
	pragma := func(b *Book, name string) (v string) {
		require.NoError(t, b.db.QueryRow("PRAGMA "+name).Scan(&v))
		return v
	}
	path := seasonFile(t)
	b := open(t, path)
	for name, want := range map[string]string{"journal_mode": "wal", "synchronous": "2", "recursive_triggers": "1", "trusted_schema": "0", "cell_size_check": "1",
		"busy_timeout": "20000", "application_id": "1414677067", "user_version": "1", "query_only": "0", "fullfsync": "1", "checkpoint_fullfsync": "1", "page_size": "4096"} {
		assert.Equal(t, want, pragma(b, name), name)
	}
	ro, err := Open(path, Options{Folder: tally{}, ReadOnly: true})
	require.NoError(t, err)
	defer ro.Close()
	assert.Equal(t, "1", pragma(ro, "query_only"))
	_, err = ro.db.Exec("DELETE FROM view")
	assert.Error(t, err)
	err = ro.Write(func(tx *Tx) error { return tx.SetMeta("zone", "UTC") })
	assert.EqualError(t, err, "the book cannot be written here; check the permissions of the file and its folder")
}

func TestOpenRefuses(t *testing.T) {
	dir := t.TempDir()
	write := func(name, content string) string {
		path := filepath.Join(dir, name)
		require.NoError(t, os.WriteFile(path, []byte(content), 0o600))
		return path
	}
	book := string(season())
	newer := []byte(book)
	newer[63] = rawfile.Layout + 1
	marked := []byte(book)
	copy(marked[68:], "\x00\x00\x00\x01")
	foreign := filepath.Join(dir, "other.db")
	other, err := sql.Open("sqlite3", foreign)
	require.NoError(t, err)
	_, err = other.Exec("PRAGMA application_id=1; CREATE TABLE entry(seq INTEGER PRIMARY KEY, body TEXT)")
	require.NoError(t, err)
	require.NoError(t, other.Close())
	for _, c := range []struct {
		name, path, want string
		is               error
	}{
		{"nothing there", filepath.Join(dir, "none.db"), "there is no book at ", ErrNoBook},
		{"a folder", dir, " is a folder, not a book", nil},
		{"a later layout", write("newer.db", string(newer)), "the book was written by a newer version of traybook (layout 2, this one knows 1); nothing was touched, install the newer version", events.ErrNewer},
		{"another program's", foreign, "the file is a database of another program, not a book", nil},
		{"a book with another program's mark", write("marked.db", string(marked)), "the mark of the program that it belongs to", events.ErrDamaged},
		{"a text", write("text.db", "2026-05-03 grey, no wind"), "the file is no SQLite book, or its beginning is lost; try `traybook salvage`", events.ErrDamaged},
		{"an empty file", write("empty.db", ""), "the file is no SQLite book", events.ErrDamaged},
		{"a book cut off", write("cut.db", book[:5000]), "the book is damaged", events.ErrDamaged},
		{"a book of noise", write("noise.db", book[:100]+strings.Repeat("noise", 5000)), "the book is damaged", events.ErrDamaged},
	} {
		t.Run(c.name, func(t *testing.T) {
			for _, o := range []Options{{}, {ReadOnly: true}} {
				before, _ := os.ReadFile(c.path)
				_, err := Open(c.path, o)
				require.Error(t, err)
				assert.Contains(t, err.Error(), c.want)
				if c.is != nil {
					assert.ErrorIs(t, err, c.is)
				}
				after, _ := os.ReadFile(c.path)
				assert.True(t, string(before) == string(after), "the file's bytes are as they were")
			}
		})
	}
	names, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Len(t, names, 7, "nothing was left beside the files")
}

// A file name that a connection string would read otherwise names just that file.
func TestPathsAreTakenAsTheyAre(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "50% #1 (a?b) & more", "mode=ro?x=%41")
	for _, name := range []string{"book ?#%.db", "book?mode=memory", "%62ook.db", "ferry's \"book\".db", "bøk–þ.db"} {
		path := filepath.Join(dir, name)
		b, err := Create(path, options)
		require.NoError(t, err)
		newHand(t, b, name).begin()
		require.NoError(t, b.Close())
		assert.FileExists(t, path)
		b = open(t, path)
		assert.EqualValues(t, 1, verified(t, b).Events)
		copied := path + " copy"
		require.NoError(t, b.Backup(copied))
		require.NoError(t, b.Close())
	}
	names, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Len(t, names, 10, "%v", names)
}

func TestCreate(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "deep", "folder")
	path := filepath.Join(dir, "book.db")
	b := createAt(t, path)
	info, err := os.Stat(path)
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o600), info.Mode().Perm())
	info, err = os.Stat(dir)
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o700), info.Mode().Perm())
	for _, beside := range []string{"-wal", "-shm"} {
		if info, err := os.Stat(path + beside); err == nil {
			assert.Equal(t, os.FileMode(0o600), info.Mode().Perm())
		}
	}
	require.NoError(t, b.Close())
	names, _ := os.ReadDir(dir)
	assert.Len(t, names, 1, "one file at rest")
	before := fileBytes(t, path)
	_, err = Create(path, options)
	assert.ErrorContains(t, err, "is there already; name another place")
	assert.Equal(t, before, fileBytes(t, path))
	_, err = Create(filepath.Join(path, "x", "book.db"), options)
	assert.ErrorContains(t, err, "cannot be made")
}

// A new book takes its name only when all of it is in the one file.
func TestABookWhoseLogIsStillOpenIsNotMade(t *testing.T) {
	path := filepath.Join(t.TempDir(), "book.db")
	var still *Book
	err := CreateFilled(path, options, func(b *Book) (err error) {
		if still, err = Open(b.Path(), options); err != nil {
			return err
		}
		newHand(t, b, "harbour").season()
		return nil
	})
	require.NoError(t, still.Close())
	assert.ErrorContains(t, err, "what was written is not all in the file yet")
	names, _ := os.ReadDir(filepath.Dir(path))
	assert.Empty(t, names)
}

// Whoever only looks leaves every byte as it is, the log of a writer that died included.
func TestLookingLeavesTheBytesAlone(t *testing.T) {
	look := func(t *testing.T, path string) {
		b, err := Open(path, Options{Folder: tally{}, ReadOnly: true})
		require.NoError(t, err)
		told(t, b)
		verified(t, b)
		require.NoError(t, b.Read(func(tx *Tx) error { return exportLines(tx, discard{}) }))
		require.NoError(t, b.Close())
	}
	t.Run("at rest", func(t *testing.T) {
		path := seasonFile(t)
		before := fileBytes(t, path)
		look(t, path)
		assert.True(t, before == fileBytes(t, path))
	})
	t.Run("a checked copy", func(t *testing.T) {
		b := seasonBook(t)
		path := filepath.Join(t.TempDir(), "copy.db")
		require.NoError(t, b.Backup(path))
		before := fileBytes(t, path)
		look(t, path)
		assert.True(t, before == fileBytes(t, path))
		names, _ := os.ReadDir(filepath.Dir(path))
		assert.Len(t, names, 1)
	})
	t.Run("stale views", func(t *testing.T) {
		path := seasonFile(t)
		before := fileBytes(t, path)
		b, err := Open(path, Options{Folder: tally{version: 3}, ReadOnly: true})
		require.NoError(t, err)
		assert.True(t, b.stale)
		require.NoError(t, b.Read(func(tx *Tx) error {
			box, _, err := tx.Entity("box-1")
			require.NoError(t, err)
			v, ok, err := tx.View(box)
			require.NoError(t, err)
			assert.True(t, ok)
			assert.Contains(t, string(v.State), `"version":3`)
			vs, err := tx.Views(events.ViewQuery{Kind: events.Picture, Limit: 1})
			require.NoError(t, err)
			require.Len(t, vs, 1)
			assert.Equal(t, "2026-002", vs[0].Entity.Name)
			vs, err = tx.Views(events.ViewQuery{Kind: events.Session, OpenOnly: true})
			assert.Empty(t, vs)
			return err
		}))
		require.NoError(t, b.Close())
		assert.True(t, before == fileBytes(t, path))
	})
	t.Run("beside a writer that died", func(t *testing.T) {
		live := seasonBook(t)
		h := newHand(t, live, "late")
		h.at = morning.AddDate(0, 0, 1)
		h.picture("2026-009")
		path := filepath.Join(t.TempDir(), "book.db")
		copyBook(t, live.Path(), path)
		copyBook(t, live.Path()+"-wal", path+"-wal")
		before, log := fileBytes(t, path), fileBytes(t, path+"-wal")
		b, err := Open(path, Options{Folder: tally{}, ReadOnly: true})
		require.NoError(t, err)
		assert.EqualValues(t, 31, verified(t, b).Events)
		require.NoError(t, b.Close())
		assert.True(t, before == fileBytes(t, path))
		assert.True(t, log == fileBytes(t, path+"-wal"))
	})
}

type discard struct{}

func (discard) Write(p []byte) (int, error) { return len(p), nil }

// A medium that cannot be written is read as it stands.
func TestReadOnlyMedium(t *testing.T) {
	b := seasonBook(t)
	dir := t.TempDir()
	path := filepath.Join(dir, "copy.db")
	require.NoError(t, b.Backup(path))
	want := told(t, b)
	require.NoError(t, os.Chmod(path, 0o400))
	require.NoError(t, os.Chmod(dir, 0o500))
	defer os.Chmod(dir, 0o700)
	ro, err := connectMode(path, Options{Folder: tally{}, ReadOnly: true}, "immutable") // root may write anywhere: ask for it
	require.NoError(t, err)
	defer ro.Close()
	assert.Equal(t, want, told(t, ro))
	verified(t, ro)
	names, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Len(t, names, 1)
}

func TestAnErrorLeavesNothing(t *testing.T) {
	b := seasonBook(t)
	before, head := told(t, b), verified(t, b).Head
	h := newHand(t, b, "late")
	h.at = morning.AddDate(0, 0, 1)
	err := b.Write(func(tx *Tx) error {
		a := h.entry(&events.SheetExposedData{Picture: "2026-050", Box: "box-9", F: 8, TimeS: 5, Sheet: "2026-050n"})
		require.NoError(t, tx.Append(&a))
		require.NoError(t, tx.SetMeta("zone", "UTC"))
		return assert.AnError
	})
	assert.Equal(t, assert.AnError, err)
	assert.Equal(t, before, told(t, b))
	assert.Equal(t, head, verified(t, b).Head)
	for _, c := range []struct {
		d    events.Data
		want string
	}{
		{&events.NoteWrittenData{About: "dev-9", Text: "x"}, `note.written: nothing is called "dev-9"`},
		{&events.EntryVoidedData{Entry: seeded("none").String()}, "entry.voided: there is no entry " + seeded("none").String()},
		{&events.EntryAmendedData{Entry: "x"}, `"x" is no id; an id is 32 hex digits`},
		{&events.PaperReceivedData{Box: "dev-1", Name: "x", Base: "rc", WidthMM: 90, HeightMM: 120, Sheets: 1}, `"dev-1" is the name of a bath already, so it cannot name a box`},
		{&events.NoteWrittenData{About: "dev-1", Text: strings.Repeat("x", events.MaxLine)}, "note.written: the entry is longer than 65536 bytes; shorten its texts"},
	} {
		e := h.entry(c.d)
		assert.EqualError(t, b.Write(func(tx *Tx) error { return tx.Append(&e) }), c.want)
	}
	twice := h.entry(&events.SheetDriedData{Sheet: "2026-001n"})
	twice.ID = seeded("harbour3")
	assert.EqualError(t, b.Write(func(tx *Tx) error { return tx.Append(&twice) }), "the entry "+twice.ID.String()+" is in the book already")
	assert.Equal(t, head, verified(t, b).Head)
}

func TestRecordedTimeNeverRunsBack(t *testing.T) {
	b := seasonBook(t)
	h := newHand(t, b, "late")
	head := verified(t, b).Head
	h.at = morning.AddDate(-1, 0, 0) // a clock set back
	e := h.do(&events.SheetDriedData{Sheet: "2026-001n"})
	assert.True(t, e.RecordedAt.Equal(head.RecordedAt))
	assert.True(t, e.At.Before(head.RecordedAt), "when the act was stays as it was told")
	verified(t, b)
}

func TestNeedsAChainFirst(t *testing.T) {
	b := create(t)
	h := newHand(t, b, "x")
	e := h.entry(&events.PaperReceivedData{Box: "box-1", Name: "x"})
	assert.EqualError(t, b.Write(func(tx *Tx) error { return tx.Append(&e) }), "the file has no chain of its own yet; a book.opened must come first")
	o := h.entry(&events.BookOpenedData{Zone: "UTC"})
	o.Book = events.ID{}
	assert.EqualError(t, b.Write(func(tx *Tx) error { return tx.Append(&o) }), "a new chain needs a name")
	require.NoError(t, b.Read(func(tx *Tx) error {
		has, err := tx.HasOwnChain()
		assert.False(t, has)
		_, ok, err2 := tx.LastOwn(true)
		assert.False(t, ok)
		require.NoError(t, err2)
		return err
	}))
}

func TestSchemaText(t *testing.T) {
	b := create(t)
	rows, err := b.db.Query("SELECT name, sql FROM sqlite_schema WHERE sql IS NOT NULL")
	require.NoError(t, err)
	defer rows.Close()
	n := 0
	for rows.Next() {
		var name string
		var text sql.NullString
		require.NoError(t, rows.Scan(&name, &text))
		assert.Equal(t, objects()[name], text.String, name)
		n++
	}
	assert.Equal(t, len(objects()), n)
}

// A folder in which something grew is missing because the program was asked to stop: no new book makes it again.
func TestAStoppedFolderIsNotMadeAgain(t *testing.T) {
	dir := t.TempDir()
	g, err := atomicfile.Grow(dir)
	require.NoError(t, err)
	g.Drop()
	_, err = Create(filepath.Join(g.Dir, "new", "book.db"), options)
	require.ErrorContains(t, err, "cannot be made")
	left, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Empty(t, left)
}
