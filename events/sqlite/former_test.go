package sqlite

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
)

// renamed writes a sitter in under one name after another, and gives the reference.
func renamed(t *testing.T, b *Book, names ...string) (ref string) {
	t.Helper()
	require.NoError(t, b.Write(func(tx *Tx) (err error) {
		if ref, err = tx.AddSitter(names[0], ""); err != nil {
			return err
		}
		for _, name := range names[1:] {
			if err := tx.SetSitter(events.SitterRow{Ref: ref, Name: name}); err != nil {
				return err
			}
		}
		return nil
	}))
	return ref
}

// allNames are the names that a book knows a sitter by, the present one first.
func allNames(t *testing.T, b *Book, ref string) (names []string) {
	t.Helper()
	require.NoError(t, b.Read(func(tx *Tx) (err error) {
		names, err = tx.sitters.namesUnder(ref)
		return err
	}))
	return names
}

// A name or a contact that no reader of lines would take again does not come in by the table either.
func TestATooLongNameOfASitterIsRefused(t *testing.T) {
	b := create(t)
	ref := renamed(t, b, strings.Repeat("ø", maxSitterName))
	for _, c := range []struct{ name, contact, says string }{
		{strings.Repeat("ø", maxSitterName+1), "", "the sitter's name has 201 characters; at most 200"},
		{"Tora", strings.Repeat("ø", events.MaxText+1), fmt.Sprintf("the sitter's contact has %d characters; at most %d", events.MaxText+1, events.MaxText)},
	} {
		assert.EqualError(t, b.Write(func(tx *Tx) error { _, err := tx.AddSitter(c.name, c.contact); return err }), c.says)
		assert.EqualError(t, b.Write(func(tx *Tx) error { return tx.SetSitter(events.SitterRow{Ref: ref, Name: c.name, Contact: c.contact}) }), c.says)
	}
	assert.Len(t, allNames(t, b, ref), 1)
}

// Who was misspelled in one book asks the book that it was joined to, or saved to, to forget that writing as well.
func TestNamesBorneBeforeComeAlong(t *testing.T) {
	field, studio := create(t), create(t)
	f, s := newHand(t, field, "field"), newHand(t, studio, "studio")
	f.begin()
	s.begin()
	renamed(t, field, "Ole Vik")
	f.do(&events.SitterConsentedData{Sitter: "sitter-1", To: "show"})
	renamed(t, studio, "Asta Holm", "Asta Ferryman", "Asta of the Pier") // an entry names her
	s.do(&events.SitterConsentedData{Sitter: "sitter-1", To: "show"})
	renamed(t, studio, "Ole Wik", "Ole Vik")    // the table alone, and here under another number
	renamed(t, studio, "Tora Dal", "Tora Dahl") // the table alone, her number is free
	merge(t, field, studio)
	assert.Equal(t, []string{"Asta of the Pier", "Asta Holm", "Asta Ferryman"}, allNames(t, field, "sitter-1@2"))
	assert.Equal(t, []string{"Ole Vik", "Ole Wik"}, allNames(t, field, "sitter-1"))
	assert.Equal(t, []string{"Tora Dahl", "Tora Dal"}, allNames(t, field, "sitter-3"))
	merge(t, field, studio)
	assert.Equal(t, []string{"Ole Vik", "Ole Wik"}, allNames(t, field, "sitter-1"), "each once")

	f.do(&events.SitterErasedData{Sitter: "sitter-3"})
	path := field.Path()
	require.NoError(t, field.Write(func(tx *Tx) error { return tx.sitters.addFormer("sitter-8", "nobody's") }))
	require.NoError(t, field.Close())
	tamper(t, path, "INSERT OR IGNORE INTO sitter VALUES ('sitter-3','Tora Dahl','')", "INSERT OR IGNORE INTO meta VALUES ('former_names:sitter-3','Tora Dal')")
	saved, _ := rescue(t, path)
	assert.Equal(t, []string{"Asta of the Pier", "Asta Holm", "Asta Ferryman"}, allNames(t, saved, "sitter-1@2"))
	require.NoError(t, saved.Read(func(tx *Tx) error {
		former, err := tx.sitters.formerByRef()
		assert.Len(t, former, 2, "not those of who was erased, nor of whose row is lost")
		return err
	}))
}

// Two copies of a book that write one sitter otherwise know each other's name after they are joined.
func TestAnotherNameOfTheSameSitterIsKept(t *testing.T) {
	here := create(t)
	h := newHand(t, here, "here")
	h.begin()
	renamed(t, here, "Runa Berg")
	h.do(&events.SitterConsentedData{Sitter: "sitter-1", To: "show"})
	copied := filepath.Join(t.TempDir(), "copy.db")
	require.NoError(t, here.Backup(copied))
	there := open(t, copied)
	require.NoError(t, there.Write(func(tx *Tx) error { return tx.SetSitter(events.SitterRow{Ref: "sitter-1", Name: "Runa Lie"}) }))
	merge(t, here, there)
	assert.Equal(t, []string{"Runa Berg", "Runa Lie"}, allNames(t, here, "sitter-1"))
}

// Who was erased under a name that another book knows as a former one does not come back by it.
func TestAStoneKnowsANameBorneBefore(t *testing.T) {
	here, there := create(t), create(t)
	h, o := newHand(t, here, "here"), newHand(t, there, "there")
	h.begin()
	o.begin()
	renamed(t, here, "Sigrun Aaberg")
	stones := []events.SitterErasedData{}
	require.NoError(t, here.Read(func(tx *Tx) (err error) {
		stones, err = tx.LayStones("sitter-1", seeded("salt"))
		return err
	}))
	require.NoError(t, here.EraseSitter("sitter-1", func(*Tx) error { return nil }, func(tx *Tx) error {
		e := h.entry(&stones[0])
		return tx.Append(&e)
	}))
	renamed(t, there, "Ylva")
	renamed(t, there, "Sigrun Aaberg", "Sigrun Lie")
	scan := events.Thumbnail{SHA256: events.Hash{3}, JPEG: []byte("\xff\xd8"), Width: 4, Height: 3, Path: "/scans/sigrun-aaberg.jpg"}
	require.NoError(t, there.Write(func(tx *Tx) error { return tx.PutThumbnail(scan) }))
	m := merge(t, here, there)
	assert.Equal(t, 1, m.Erased)
	require.NoError(t, here.Read(func(tx *Tx) error {
		rows, err := tx.Sitters()
		require.NoError(t, err)
		assert.Equal(t, []events.SitterRow{{Ref: "sitter-2", Name: "Ylva"}}, rows)
		got, _, err := tx.Thumbnail(scan.SHA256)
		assert.Equal(t, events.PathForgotten, got.Path, "nor in the path of a scan")
		return err
	}))
}

// A copy goes for a newer one only where nothing stands in it that is not in the book: no entry, no name, no picture.
func TestSupersedesHoldsAllThatStandsBeside(t *testing.T) {
	thumb := func(n byte) events.Thumbnail {
		return events.Thumbnail{SHA256: events.Hash{n}, JPEG: []byte("\xff\xd8"), Width: 4, Height: 3}
	}
	for name, c := range map[string]struct {
		there func(tx *Tx) error // what the copy has beside
		here  func(tx *Tx) error // what the book has beside
		says  string
	}{
		"the same":               {},
		"a picture":              {there: func(tx *Tx) error { return tx.PutThumbnail(thumb(1)) }, says: "holds small pictures of scans that this book does not (1), so it is not replaced: merge it first"},
		"a picture of both":      {there: func(tx *Tx) error { return tx.PutThumbnail(thumb(1)) }, here: func(tx *Tx) error { return tx.PutThumbnail(thumb(1)) }},
		"a former name":          {there: func(tx *Tx) error { return tx.sitters.addFormer("sitter-8", "Ole Wik") }, says: "knows a name that sitter-8 bore before and this book does not, so it is not replaced: merge it first"},
		"a former name of both":  {there: func(tx *Tx) error { return tx.sitters.addFormer("sitter-8", "Ole Wik") }, here: func(tx *Tx) error { return tx.sitters.addFormer("sitter-8", "Wik, Ole", "O.") }},
		"another present name":   {there: func(tx *Tx) error { return tx.SetSitter(events.SitterRow{Ref: "sitter-8", Name: "Ole Wiik"}) }, says: "names sitter-8 otherwise than this book does"},
		"a former name, present": {there: func(tx *Tx) error { return tx.sitters.addFormer("sitter-8", "ole vik") }},
	} {
		t.Run(name, func(t *testing.T) {
			b, old := seasonBook(t), filepath.Join(t.TempDir(), "old.db")
			renamed(t, b, "Ole Vik")
			require.NoError(t, b.Backup(old))
			change := func(b *Book, f func(tx *Tx) error) {
				if f != nil {
					require.NoError(t, b.Write(f))
				}
			}
			require.NoError(t, b.Write(func(tx *Tx) error { return tx.SetMeta("x", "y") }))
			copied := open(t, old)
			change(copied, c.there)
			require.NoError(t, copied.Close())
			change(b, c.here)
			before, err := os.ReadFile(old)
			require.NoError(t, err)
			err = b.BackupOver(old)
			after, readErr := os.ReadFile(old)
			require.NoError(t, readErr)
			if c.says == "" {
				require.NoError(t, err)
				return
			}
			require.ErrorContains(t, err, c.says)
			assert.Equal(t, before, after)
			// What was asked for helps.
			if name != "another present name" {
				again := open(t, old)
				merge(t, b, again)
				require.NoError(t, again.Close())
				require.NoError(t, b.BackupOver(old))
			}
		})
	}
}
