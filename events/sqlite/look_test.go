package sqlite

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	sqlite3 "github.com/mattn/go-sqlite3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
)

func kindsOf(es []events.Entry) (out []string) {
	for _, e := range es {
		out = append(out, string(e.Kind))
	}
	return out
}

func TestLookUps(t *testing.T) {
	b := seasonBook(t)
	require.NoError(t, b.Read(func(tx *Tx) error {
		entity := func(name string, kind events.EntityKind) events.Entity {
			th, ok, err := tx.Entity(name)
			require.NoError(t, err)
			require.True(t, ok, name)
			assert.Equal(t, kind, th.Kind)
			assert.Equal(t, name, th.Name)
			back, err := tx.EntityByID(th.ID)
			require.NoError(t, err)
			assert.Equal(t, th, back)
			return th
		}
		_, ok, err := tx.Entity("2026-001@2")
		require.NoError(t, err)
		assert.False(t, ok)
		_, ok, err = tx.Entity("2026-001@x")
		require.NoError(t, err)
		assert.False(t, ok)
		_, err = tx.EntityByID(999)
		assert.ErrorIs(t, err, events.ErrDamaged)

		picture, box, bath, session := entity("2026-001", events.Picture), entity("box-1", events.Box), entity("dev-1", events.Bath), entity("mole-day", events.Session)
		get := func(q events.Query) []string {
			es, err := tx.Entries(q)
			require.NoError(t, err)
			return kindsOf(events.Fold(es))
		}
		assert.Equal(t, []string{"sheet.exposed", "sheet.developed", "sheet.fixed", "sheet.judged", "note.written"}, get(events.Query{Stream: picture.ID}))
		assert.Equal(t, []string{"paper.received", "paper.cut", "paper.spoiled"}, get(events.Query{Stream: box.ID}), "a voided void counts for nothing")
		assert.Equal(t, []string{"sheet.exposed", "sheet.exposed"}, get(events.Query{Box: box.ID}))
		assert.Equal(t, []string{"sheet.developed", "sheet.developed"}, get(events.Query{Bath: bath.ID}))
		assert.Len(t, get(events.Query{Session: session.ID}), 8)
		assert.Equal(t, []string{"strip.exposed"}, get(events.Query{Cites: entity("2026-002", events.Picture).ID}))
		assert.Equal(t, []string{"sheet.judged"}, get(events.Query{Stream: picture.ID, Kinds: []events.Kind{events.SheetJudged}}))
		assert.Equal(t, []string{"paper.cut"}, get(events.Query{Stream: box.ID, From: morning.Add(4e11), To: morning.Add(43e10)}))
		es, err := tx.Entries(events.Query{Session: session.ID, Newest: true, Limit: 1})
		require.NoError(t, err)
		assert.Equal(t, []string{"sheet.judged"}, kindsOf(es))
		es, err = tx.Entries(events.Query{Stream: picture.ID, Limit: 1})
		require.NoError(t, err)
		assert.Equal(t, []string{"sheet.exposed", "entry.amended"}, kindsOf(es), "what amends it comes along")

		id := seeded("harbour3")
		for n, want := range map[int]int{3: 0, 4: 1, 32: 1, 33: 0} {
			es, err := tx.Find((id.String() + "0")[:n])
			require.NoError(t, err)
			assert.Len(t, es, want, "%d digits", n)
		}
		es, err = tx.Find("zzzz")
		require.NoError(t, err)
		assert.Empty(t, es)
		es, err = tx.Batch(seeded("batchharbour9").String()[:8])
		require.NoError(t, err)
		assert.Equal(t, []string{"sheet.developed", "sheet.fixed"}, kindsOf(es))
		stream, err := tx.StreamOf(id)
		require.NoError(t, err)
		assert.Equal(t, "box-1", stream.Name)
		_, err = tx.StreamOf(seeded("none"))
		assert.ErrorIs(t, err, events.ErrNotFound)

		for prefix, want := range map[string]int{"2026-": 2, "2027-": 0, "box-": 2, "sitter-": 7, "mole-": 0} {
			n, err := tx.LargestNumber(prefix)
			require.NoError(t, err)
			assert.Equal(t, want, n, prefix)
		}
		entities, err := tx.Entities(events.Box)
		require.NoError(t, err)
		assert.Equal(t, []events.Entity{box, entity("box-2", events.Box)}, entities)
		entities, err = tx.Entities(events.Picture)
		require.NoError(t, err)
		assert.Len(t, entities, 2)

		heads, err := tx.Heads()
		require.NoError(t, err)
		require.Len(t, heads, 1)
		assert.EqualValues(t, 27, heads[0].BookSeq)
		assert.Equal(t, "Europe/Oslo", heads[0].Zone)
		newest, err := tx.NewestRecorded()
		require.NoError(t, err)
		assert.True(t, newest.Equal(heads[0].RecordedAt))
		n, err := tx.Count()
		require.NoError(t, err)
		assert.EqualValues(t, 27, n)
		last, ok, err := tx.LastOwn(true)
		require.NoError(t, err)
		assert.True(t, ok)
		assert.Equal(t, events.SessionClosed, last.Kind)

		_, ok, err = tx.View(events.Entity{ID: 999})
		require.NoError(t, err)
		assert.False(t, ok)
		return nil
	}))
}

func TestLastOwnPassesOverMendings(t *testing.T) {
	b, other := seasonBook(t), create(t)
	h := newHand(t, b, "late")
	h.at = morning.AddDate(0, 0, 1)
	x := h.do(&events.SheetDriedData{Sheet: "2026-001n"})
	v := h.void(x)
	newHand(t, other, "studio").season()
	merge(t, b, other) // the last entry of the file is another's
	require.NoError(t, b.Read(func(tx *Tx) error {
		last, ok, err := tx.LastOwn(false)
		require.NoError(t, err)
		assert.True(t, ok)
		assert.Equal(t, v.ID, last.ID)
		last, _, err = tx.LastOwn(true)
		assert.Equal(t, x.ID, last.ID)
		return err
	}))
}

func TestViews(t *testing.T) {
	b := seasonBook(t)
	require.NoError(t, b.Read(func(tx *Tx) error {
		names := func(q events.ViewQuery) (out []string) {
			vs, err := tx.Views(q)
			require.NoError(t, err)
			for _, v := range vs {
				out = append(out, v.Entity.Name)
			}
			return out
		}
		assert.Equal(t, []string{"2026-002", "2026-001"}, names(events.ViewQuery{Kind: events.Picture}))
		assert.Equal(t, []string{"2026-002"}, names(events.ViewQuery{Kind: events.Picture, Limit: 1}))
		assert.Equal(t, []string{"fix-1", "dev-1"}, names(events.ViewQuery{Kind: events.Bath, OpenOnly: true}))
		assert.Empty(t, names(events.ViewQuery{Kind: events.Session, OpenOnly: true}))
		pic, _, _ := tx.Entity("2026-001")
		v, ok, err := tx.View(pic)
		require.NoError(t, err)
		require.True(t, ok)
		assert.Equal(t, []string{"2026-001"}, names(events.ViewQuery{Kind: events.Picture, To: v.Rank}))
		assert.Equal(t, []string{"2026-002"}, names(events.ViewQuery{Kind: events.Picture, RankFrom: v.Rank + 1}))
		assert.Equal(t, []string{"2026-001"}, names(events.ViewQuery{Kind: events.Picture, LastSince: v.Last}))
		box, _, _ := tx.Entity("box-1")
		v, _, err = tx.View(box)
		assert.EqualValues(t, 100, v.Stock)
		return err
	}))
}

// Whatever was damaged beside the bytes, a rebuild makes it as it was.
func TestRebuildPutsRight(t *testing.T) {
	want := told(t, seasonBook(t))
	for _, statement := range []string{
		"UPDATE entry SET id=zeroblob(16), book_seq=70, kind='x', at=0, stream=99, box=98, bath=97, session=96, batch=NULL WHERE seq BETWEEN 8 AND 12",
		"UPDATE entry SET chain=7 WHERE seq=12",
		"DELETE FROM entity", "UPDATE entity SET name=name||'x'", "DELETE FROM cite", "DELETE FROM correction", "INSERT INTO correction VALUES (3,4)",
		"DELETE FROM view", "UPDATE view SET state='{}', stock=-1", "UPDATE chain SET last=5",
	} {
		t.Run(statement, func(t *testing.T) {
			path := seasonFile(t)
			tamper(t, path, statement)
			b := open(t, path)
			r, err := b.Verify(VerifyOptions{})
			require.NoError(t, err)
			assert.False(t, r.OK)
			require.NoError(t, b.Rebuild())
			verified(t, b)
			assert.Equal(t, want, told(t, b))
		})
	}
	for statement, want := range map[string]string{
		"UPDATE entry SET body='{}' WHERE seq=10":        "entry number 10: the stored bytes hold no time; `traybook salvage` saves what can be read",
		"UPDATE chain SET book=zeroblob(16)":             "its chain is not known; `traybook salvage` finds it again",
		"UPDATE entry SET chain=7, prev=x'' WHERE seq=5": "its chain is not known; `traybook salvage` finds it again",
	} {
		path := seasonFile(t)
		tamper(t, path, statement)
		err := open(t, path).Rebuild()
		assert.ErrorIs(t, err, events.ErrDamaged)
		assert.ErrorContains(t, err, want)
	}
	b, err := Open(seasonFile(t), Options{})
	require.NoError(t, err)
	defer b.Close()
	require.NoError(t, b.Rebuild(), "without a folder there are no views to make")
}

func TestSittersTable(t *testing.T) {
	b := seasonBook(t)
	require.NoError(t, b.Write(func(tx *Tx) error {
		ref, err := tx.AddSitter(" Ylva ", "ferry steps")
		require.NoError(t, err)
		assert.Equal(t, "sitter-8", ref, "sitter-7 is held by an entry")
		assert.Equal(t, "sitter-8", sitterRef(t, tx, "Ylva"))
		require.NoError(t, tx.SetSitter(events.SitterRow{Ref: "sitter-8", Name: "Ylva", Contact: "north quay"}))
		rows, err := tx.Sitters()
		assert.Equal(t, []events.SitterRow{{Ref: "sitter-8", Name: "Ylva", Contact: "north quay"}}, rows)
		return err
	}))
}

// Every message of SQLite is put in the words of one who keeps a notebook.
func TestTranslate(t *testing.T) {
	for code, want := range map[sqlite3.ErrNo]string{
		sqlite3.ErrBusy: "in use by another program", sqlite3.ErrLocked: "in use by another program", sqlite3.ErrCorrupt: "`traybook salvage`",
		sqlite3.ErrNotADB: "the book is damaged", sqlite3.ErrFull: "the disk is full", sqlite3.ErrReadonly: "cannot be written here",
		sqlite3.ErrCantOpen: "cannot be opened", sqlite3.ErrIoErr: "the disk failed", sqlite3.ErrConstraint: "only ever added", sqlite3.ErrMisuse: "could not be used",
	} {
		assert.ErrorContains(t, translate(sqlite3.Error{Code: code}), want)
	}
	assert.NoError(t, translate(nil))
	assert.Equal(t, os.ErrInvalid, translate(os.ErrInvalid))
}

// A full disk in the midst of a write: nothing of it is kept, and the book goes on when there is room.
func TestFullDisk(t *testing.T) {
	b := seasonBook(t)
	before := told(t, b)
	var pages int
	require.NoError(t, b.db.QueryRow("PRAGMA page_count").Scan(&pages))
	_, err := b.db.Exec("PRAGMA max_page_count=" + string(rune('0'+pages/10)) + string(rune('0'+pages%10)))
	require.NoError(t, err)
	h := newHand(t, b, "late")
	h.at = morning.AddDate(0, 0, 1)
	err = b.Write(func(tx *Tx) error {
		for range 200 {
			e := h.entry(&events.NoteWrittenData{About: "dev-1", Text: string(bytes.Repeat([]byte("x"), 3000))})
			if err := tx.Append(&e); err != nil {
				return err
			}
		}
		return nil
	})
	assert.EqualError(t, err, "the disk is full, or the file may not grow; nothing was written: make room and do it again")
	assert.Equal(t, before, told(t, b))
	_, err = b.db.Exec("PRAGMA max_page_count=100000")
	require.NoError(t, err)
	h.do(&events.NoteWrittenData{About: "dev-1", Text: "there is room"})
	verified(t, b)
}

func TestTakeRefusesATakenName(t *testing.T) {
	dir := t.TempDir()
	target := filepath.Join(dir, "book.db")
	tmp, err := newTemp(target)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(target, []byte("mine"), 0o600))
	assert.ErrorContains(t, tmp.take(target, false), "is there already")
	tmp.discard()
	assert.Equal(t, "mine", fileBytes(t, target))
	require.NoError(t, os.Remove(target))
	tmp, err = newTemp(target)
	require.NoError(t, err)
	require.NoError(t, tmp.take(target, false))
	tmp.discard()
	assert.FileExists(t, target)
	tmp, err = newTemp(target)
	require.NoError(t, err)
	require.NoError(t, os.Remove(tmp.path))
	assert.ErrorContains(t, tmp.take(target, false), "its folder was moved or removed meanwhile")
	tmp.discard()
}

// Rows of pages out of use are not brought back beside the chain.
func TestSalvageLeavesFreePagesAlone(t *testing.T) {
	b := seasonBook(t)
	require.NoError(t, b.Write(func(tx *Tx) error {
		for range 200 {
			if _, err := tx.AddSitter("someone who will be forgotten", string(bytes.Repeat([]byte("x"), 300))); err != nil {
				return err
			}
		}
		return nil
	}))
	require.NoError(t, b.Write(func(tx *Tx) error {
		_, err := tx.file.Exec("DELETE FROM sitter WHERE ref <> 'sitter-8'")
		return err
	}))
	path := b.Path()
	require.NoError(t, b.Close())
	saved, s := rescue(t, path)
	assert.Equal(t, 1, s.Sitters)
	verified(t, saved)
}

// Every state is given that holds a text in some case of its letters, however JSON writes it; most others are not.
func TestViewsHolding(t *testing.T) {
	b := seasonBook(t)
	require.NoError(t, b.Read(func(tx *Tx) error {
		names := func(texts ...[]string) (out []string) {
			vs, err := tx.ViewsHolding(events.ViewQuery{Kind: events.Picture}, texts)
			require.NoError(t, err)
			for _, v := range vs {
				out = append(out, v.Entity.Name)
			}
			return out
		}
		noted, nowhere := []string{"NOTE.written"}, []string{"gull"}
		assert.Equal(t, []string{"2026-001"}, names(noted))
		assert.Equal(t, []string{"2026-001"}, names(append(nowhere, noted...)), "one of them is enough")
		assert.Empty(t, names(noted, nowhere), "of each list")
		assert.Equal(t, []string{"2026-002", "2026-001"}, names([]string{"gull", "<"}), "of what JSON writes otherwise nothing is known")
		assert.Equal(t, []string{"2026-001"}, names([]string{"gull", "<"}, noted))
		assert.Equal(t, []string{"2026-002", "2026-001"}, names())
		return nil
	}))
	holds := func(state, text string) (is bool) {
		like := likeHolding(text)
		require.NoError(t, b.db.QueryRow("SELECT ?='' OR ? LIKE ?", like, state, like).Scan(&is))
		return is
	}
	for r := rune(1); r <= unicode.MaxRune; r++ { // each sign that has another as its lower case
		low := unicode.ToLower(r)
		if !utf8.ValidRune(r) || low == r && r > 0x2100 {
			continue
		}
		written, err := json.Marshal("a " + string(r) + "b")
		require.NoError(t, err)
		assert.True(t, holds(string(written), string(low)+"b"), "%U", r)
	}
	assert.True(t, holds(`"says \"launch\""`, `"launch"`))
	assert.True(t, holds(`"100 % off"`, "100 %"))
	assert.False(t, holds(`"100 of"`, "launch"))
	assert.False(t, holds(`"lunch"`, "launch"))
	long := strings.Repeat("harbour", 20_000)
	assert.True(t, holds(long, long), "a pattern of LIKE has its bounds")
}
