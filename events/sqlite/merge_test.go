package sqlite

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
)

func merge(t testing.TB, into, from *Book) Merged {
	t.Helper()
	m, err := into.Merge(from, nil)
	require.NoError(t, err)
	return m
}

// steady is a book that verifies and that a rebuild leaves as it is.
func steady(t testing.TB, b *Book) string {
	t.Helper()
	verified(t, b)
	before := told(t, b)
	require.NoError(t, b.Rebuild())
	assert.Equal(t, before, told(t, b), "a rebuild changes nothing")
	verified(t, b)
	return before
}

func streamOf(t testing.TB, b *Book, e events.Entry) string {
	t.Helper()
	var name string
	require.NoError(t, b.Read(func(tx *Tx) error {
		th, err := tx.StreamOf(e.ID)
		name = th.Name
		return err
	}))
	return name
}

// copyBook copies a closed book's file, as a person would.
func copyBook(t testing.TB, from, to string) {
	t.Helper()
	raw, err := os.ReadFile(from)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(to, raw, 0o600))
}

func TestMergeFieldAndStudio(t *testing.T) {
	field, studio := seasonBook(t), create(t)
	h := newHand(t, studio, "studio")
	h.season()
	only := h.picture("2026-014")
	n := verified(t, studio).Events

	m := merge(t, field, studio)
	assert.EqualValues(t, n, m.Added)
	assert.Zero(t, m.Known)
	assert.Equal(t, 1, m.Chains)
	assert.Equal(t, []string{"mole-camera@2", "box-1@2", "dev-1@2", "fix-1@2", "mole-day@2", "box-2@2", "2026-001@2", "2026-002@2", "strip-1@2", "sitter-7@2"}, m.TwiceNamed)
	after := steady(t, field)
	assert.Equal(t, "2026-014", streamOf(t, field, only), "a number that only the other gave stays as it is")
	assert.Contains(t, after, "picture 2026-001@2 view true")
	r := verified(t, field)
	assert.Len(t, r.Heads, 2)
	assert.Equal(t, seeded("book of harbour"), r.Head.Book)
	assert.Empty(t, r.Notes)

	t.Run("repeated", func(t *testing.T) {
		m := merge(t, field, studio)
		assert.Equal(t, Merged{Imported: Imported{Known: n}}, m)
		assert.Equal(t, after, told(t, field))
	})
	t.Run("own acts on the other's things", func(t *testing.T) {
		own := newHand(t, field, "later")
		own.at = morning.AddDate(0, 0, 1)
		mine := own.do(&events.SheetJudgedData{Sheet: "2026-001n", Verdict: "keep"})
		theirs := own.do(&events.SheetJudgedData{Sheet: "2026-001n@2", Verdict: "redo"})
		again := own.do(&events.SheetExposedData{Picture: "2026-014", Box: "box-1@2", F: 8, TimeS: 5, Sheet: "2026-014n"})
		note := own.do(&events.NoteWrittenData{About: "dev-1@2", Text: "the studio's"})
		assert.Equal(t, "2026-001", streamOf(t, field, mine))
		assert.Equal(t, "2026-001@2", streamOf(t, field, theirs))
		assert.Equal(t, "2026-014", streamOf(t, field, again))
		assert.Equal(t, "dev-1@2", streamOf(t, field, note))
		steady(t, field)
		e := own.entry(&events.SheetJudgedData{Sheet: "2026-001n@3", Verdict: "keep"})
		err := field.Write(func(tx *Tx) error { return tx.Append(&e) })
		assert.EqualError(t, err, `sheet.judged: nothing is called "2026-001@3"`)

		// The studio takes the field's acts back: there the names stand the other way round.
		m := merge(t, studio, field)
		assert.EqualValues(t, n, m.Known)
		assert.Equal(t, "2026-001@2", streamOf(t, studio, mine))
		assert.Equal(t, "2026-001", streamOf(t, studio, theirs))
		assert.Equal(t, "2026-014", streamOf(t, studio, again))
		assert.Equal(t, "dev-1", streamOf(t, studio, note))
		steady(t, studio)

		// A third book that gave the same number takes both.
		third := create(t)
		newHand(t, third, "third").season()
		merge(t, third, studio)
		steady(t, third)
		a, b, c := streamOf(t, third, mine), streamOf(t, third, theirs), streamOf(t, third, only)
		assert.Equal(t, "2026-014", c)
		assert.ElementsMatch(t, []string{"2026-001@2", "2026-001@3"}, []string{a, b})
		merge(t, third, field)
		steady(t, third)
		assert.Equal(t, a, streamOf(t, third, mine))
	})
}

// An own amendment or void of the other book's act changes nothing of what that act names: its box is not taken for the
// one that bears the name here.
func TestMendingTheOtherBooksActs(t *testing.T) {
	for name, mend := range map[string]func(own *hand, x events.Entry){
		"amended": func(own *hand, x events.Entry) { own.amend(x, `{"time_s":6}`) },
		"voided":  func(own *hand, x events.Entry) { own.void(own.void(x)) },
	} {
		t.Run(name, func(t *testing.T) {
			field, studio := seasonBook(t), create(t)
			h := newHand(t, studio, "studio")
			h.season()
			x := h.picture("2026-003")
			merge(t, field, studio)
			steady(t, field)
			own := newHand(t, field, "later")
			own.at = morning.AddDate(0, 0, 1)
			mend(own, x)
			steady(t, field)
			require.NoError(t, field.Read(func(tx *Tx) error {
				box, _, err := tx.Entity("box-1@2")
				require.NoError(t, err)
				takes, err := tx.Entries(events.Query{Box: box.ID})
				assert.True(t, slices.ContainsFunc(takes, func(e events.Entry) bool { return e.ID == x.ID }))
				return err
			}))
		})
	}
}

// Whom only exposures name is another person in another book: a name and consents are not taken over by the number.
func TestMergeTellsSittersApartThatExposuresName(t *testing.T) {
	field, studio := create(t), create(t)
	for book, who := range map[*Book]string{field: "Ylva", studio: "Runa"} {
		h := newHand(t, book, who)
		h.season()
		require.NoError(t, book.Write(func(tx *Tx) error { _, err := tx.AddSitter(who, ""); return err }))
		ref := ""
		require.NoError(t, book.Read(func(tx *Tx) error { ref = sitterRef(t, tx, who); return nil }))
		h.do(&events.SheetExposedData{Picture: "2026-003", Box: "box-1", F: 8, TimeS: 5, Sheet: "2026-003n", Sitter: ref})
	}
	m := merge(t, field, studio)
	assert.Equal(t, 1, m.Sitters)
	steady(t, field)
	require.NoError(t, field.Read(func(tx *Tx) error {
		ref := sitterRef(t, tx, "Runa")
		assert.True(t, strings.HasSuffix(ref, "@2"), ref)
		person, _, err := tx.Entity(ref)
		require.NoError(t, err)
		sat, err := tx.Entries(events.Query{Cites: person.ID})
		require.Len(t, sat, 1)
		assert.Equal(t, "2026-003n@2", sat[0].Data.(*events.SheetExposedData).Sheet)
		assert.Equal(t, ref, sat[0].Data.(*events.SheetExposedData).Sitter)
		assert.Contains(t, string(sat[0].Stored), `"sheet":"2026-003n"`, "the stored bytes keep what was written")
		return err
	}))
}

func TestMergeTwoPlainCopiesThatWentOn(t *testing.T) {
	b := seasonBook(t)
	path, other := b.Path(), filepath.Join(t.TempDir(), "copy.db")
	require.NoError(t, b.Close())
	copyBook(t, path, other)
	left, right := open(t, path), open(t, other)
	l, r := newHand(t, left, "left"), newHand(t, right, "right")
	l.at, r.at = morning.AddDate(0, 0, 1), morning.AddDate(0, 0, 1)
	x := l.picture("2026-003")
	y := r.picture("2026-003")
	oldInRight := r.do(&events.SheetJudgedData{Sheet: "2026-002n", Verdict: "reject"})

	m := merge(t, left, right)
	assert.EqualValues(t, 5, m.Added)
	assert.EqualValues(t, 27, m.Known)
	assert.Equal(t, []string{"2026-003@2"}, m.TwiceNamed, "what was there before the copy is one thing")
	steady(t, left)
	report := verified(t, left)
	assert.Equal(t, []string{fmt.Sprintf("the book %s went on twice after its entry 27: two copies of it were joined, and both branches are kept", seeded("book of harbour"))}, report.Notes)
	assert.Equal(t, "2026-003", streamOf(t, left, x))
	assert.Equal(t, "2026-003@2", streamOf(t, left, y))
	assert.Equal(t, "2026-002", streamOf(t, left, oldInRight))

	// Both go on, and are joined again, both ways.
	next := r.do(&events.SheetDriedData{Sheet: "2026-003n"})
	mine := l.do(&events.SheetDriedData{Sheet: "2026-003n"})
	assert.EqualValues(t, 1, merge(t, left, right).Added)
	assert.Equal(t, "2026-003@2", streamOf(t, left, next))
	assert.Equal(t, "2026-003", streamOf(t, left, mine))
	steady(t, left)
	assert.EqualValues(t, 5, merge(t, right, left).Added)
	assert.Equal(t, "2026-003@2", streamOf(t, right, mine))
	steady(t, right)
	assert.Len(t, verified(t, right).Heads, 2)
}

// An extract is taken in as plain lines under their ids; the source joined later brings the same ids in their own chain.
func TestMergeTheSourceOfAnExtract(t *testing.T) {
	source, b := seasonBook(t), create(t)
	h := newHand(t, b, "studio")
	h.begin()
	var extract []events.Entry
	require.NoError(t, source.Read(func(tx *Tx) error {
		return tx.Each(func(e events.Entry) error {
			if e.Kind != events.BookOpened && e.Seq <= 12 {
				extract = append(extract, e)
			}
			return nil
		})
	}))
	require.NoError(t, b.Write(func(tx *Tx) error {
		for _, e := range extract {
			e.Book, e.Stored = events.ID{}, nil
			if err := tx.Append(&e); err != nil {
				return err
			}
		}
		return nil
	}))
	// What was voided here stays voided for the twin that comes later.
	spoil := extract[len(extract)-1]
	h.at = morning.AddDate(0, 0, 1)
	h.void(spoil)
	before := told(t, b)
	m := merge(t, b, source)
	assert.EqualValues(t, 27, m.Added)
	assert.Empty(t, m.TwiceNamed, "they are the same things")
	after := steady(t, b)
	require.NoError(t, b.Read(func(tx *Tx) error {
		pic, ok, err := tx.Entity("2026-001")
		require.NoError(t, err)
		require.True(t, ok)
		es, err := tx.Entries(events.Query{Stream: pic.ID})
		require.NoError(t, err)
		seen := map[events.ID]bool{}
		for _, e := range events.Fold(es) {
			assert.False(t, seen[e.ID], "counted once")
			seen[e.ID] = true
			assert.NotEqual(t, spoil.ID, e.ID, "the void holds for both")
		}
		v, _, err := tx.View(pic)
		require.NoError(t, err)
		assert.Equal(t, 1, strings.Count(string(v.State), "sheet.exposed"))
		return nil
	}))
	assert.NotEqual(t, before, after)
	assert.Zero(t, merge(t, b, source).Added)
}

func TestMergeRefuses(t *testing.T) {
	b, other := seasonBook(t), create(t)
	newHand(t, other, "studio").season()
	before := told(t, b)
	require.NoError(t, other.Close())
	tamper(t, other.Path(), `UPDATE entry SET body=replace(body,'"time_s":60','"time_s":61') WHERE seq=10`)
	other = open(t, other.Path())
	_, err := b.Merge(other, nil)
	assert.ErrorIs(t, err, events.ErrDamaged)
	assert.ErrorContains(t, err, "nothing was joined")
	_, err = other.Merge(b, nil)
	assert.ErrorIs(t, err, events.ErrDamaged)
	assert.Equal(t, before, told(t, b))
	_, err = b.Merge(open(t, b.Path()), nil)
	assert.EqualError(t, err, "a book cannot be joined with itself")
}

func TestMergeSittersAndThumbnails(t *testing.T) {
	field, studio := create(t), create(t)
	f, s := newHand(t, field, "field"), newHand(t, studio, "studio")
	f.begin()
	s.begin()
	sit := func(b *Book, name, contact string) (ref string) {
		require.NoError(t, b.Write(func(tx *Tx) (err error) {
			ref, err = tx.AddSitter(name, contact)
			return err
		}))
		return ref
	}
	rows := func(b *Book) (out []string) {
		require.NoError(t, b.Read(func(tx *Tx) error {
			all, err := tx.Sitters()
			for _, r := range all {
				out = append(out, r.Ref+" "+r.Name)
			}
			return err
		}))
		return out
	}
	sit(field, "Ylva", "")
	f.do(&events.SitterConsentedData{Sitter: "sitter-1", To: "show"})
	sit(studio, "Runa", "north quay")
	s.do(&events.SitterConsentedData{Sitter: "sitter-1", To: "keep"})
	sit(studio, "Ylva", "")                                           // in the table alone: the same person by all that is known
	sit(studio, "Asta", "the lamp yard")                              // in the table alone, the reference is free
	s.do(&events.SitterConsentedData{Sitter: "sitter-4", To: "show"}) // held by an entry, no row
	thumb := events.Thumbnail{SHA256: events.Hash{7}, JPEG: []byte{0xff, 0xd8}, Width: 4, Height: 3}
	require.NoError(t, studio.Write(func(tx *Tx) error { return tx.PutThumbnail(thumb) }))

	m := merge(t, field, studio)
	assert.Equal(t, 2, m.Sitters)
	assert.Equal(t, 1, m.Thumbnails)
	assert.Equal(t, []string{"sitter-1 Ylva", "sitter-3 Asta", "sitter-1@2 Runa"}, rows(field))
	steady(t, field)
	require.NoError(t, field.Read(func(tx *Tx) error {
		got, ok, err := tx.Thumbnail(thumb.SHA256)
		assert.True(t, ok)
		assert.Equal(t, thumb, got)
		return err
	}))
	m = merge(t, field, studio)
	assert.Zero(t, m.Sitters+m.Thumbnails)

	// Who was erased here does not come back.
	f.do(&events.SitterErasedData{Sitter: "sitter-1@2"})
	merge(t, field, studio)
	assert.Equal(t, []string{"sitter-1 Ylva", "sitter-3 Asta"}, rows(field))
}

// Who was erased in another copy of the book is erased here when its entries come, joined or as lines.
func TestAnErasureThatArrivesIsCarriedOut(t *testing.T) {
	const name = "Sigrun of the long pier"
	for how, bring := range map[string]func(t *testing.T, into, from *Book){
		"joined": func(t *testing.T, into, from *Book) { merge(t, into, from) },
		"lines": func(t *testing.T, into, from *Book) {
			_, err := importWhole(into, events.ReadLines(strings.NewReader(strings.Join(exported(t, from), ""))), nil)
			require.NoError(t, err)
		},
	} {
		t.Run(how, func(t *testing.T) {
			here, dir := create(t), t.TempDir()
			h := newHand(t, here, "here")
			h.begin()
			require.NoError(t, here.Write(func(tx *Tx) error { _, err := tx.AddSitter(name, "the pier"); return err }))
			h.do(&events.SitterConsentedData{Sitter: "sitter-1", To: "show"})
			copied := filepath.Join(dir, "copy.db")
			require.NoError(t, here.Backup(copied))
			there, err := Open(copied, options)
			require.NoError(t, err)
			defer there.Close()
			away := newHand(t, there, "away")
			away.at = h.at
			away.do(&events.BookOpenedData{Zone: "Europe/Oslo"}, &events.SitterErasedData{Sitter: "sitter-1"})
			require.Contains(t, string(fileBytes(t, here.Path()))+string(fileBytes(t, here.Path()+"-wal")), name, "it must be found before, or the search proves nothing")
			bring(t, here, there)
			require.NoError(t, here.Read(func(tx *Tx) error {
				rows, err := tx.Sitters()
				assert.Empty(t, rows)
				return err
			}))
			for _, file := range []string{here.Path(), here.Path() + "-wal"} {
				if raw, err := os.ReadFile(file); err == nil {
					assert.NotContains(t, string(raw), name)
				}
			}
			pending, err := here.ScrubPending()
			require.NoError(t, err)
			assert.False(t, pending)
			steady(t, here)
		})
	}
}

// A joined book written as lines and read back is the same book.
func TestMergedBookAsLines(t *testing.T) {
	field, studio := seasonBook(t), create(t)
	newHand(t, studio, "studio").season()
	merge(t, field, studio)
	later := newHand(t, field, "later")
	later.at = morning.AddDate(0, 0, 1)
	later.do(&events.SheetJudgedData{Sheet: "2026-001n@2", Verdict: "redo"})
	var lines bytes.Buffer
	require.NoError(t, field.Read(func(tx *Tx) error { return exportLines(tx, &lines) }))
	back := create(t)
	got, err := importWhole(back, events.ReadLines(&lines), nil)
	require.NoError(t, err)
	assert.EqualValues(t, verified(t, field).Events, got.Added)
	assert.Equal(t, told(t, field), told(t, back))
	steady(t, back)
}

// A sitter whom an amendment sets is cited by the amendment. What cites the sitter brings the amended entry along, and a
// joined book shows there the name that it gives that person, whichever came first.
func TestAnAmendmentSetsASitter(t *testing.T) {
	field, studio := seasonBook(t), create(t)
	h := newHand(t, studio, "studio")
	h.season()
	x := h.picture("2026-003")
	set := h.amend(x, `{"sitter":"sitter-7","camera":"mole-camera"}`)
	last := h.picture("2026-004")
	first := h.amend(last, `{"sitter":"sitter-8"}`) // nothing else names that one
	steady(t, studio)
	merge(t, field, studio)
	own := newHand(t, field, "later")
	own.at = morning.AddDate(0, 0, 1)
	mine := own.picture("2026-005")
	own.amend(mine, `{"sitter":"sitter-7"}`)
	theirs := own.picture("2026-006")
	own.amend(theirs, `{"sitter":"sitter-7@2"}`)
	steady(t, field)

	sitterOf := func(b *Book, ref string) map[events.ID]string {
		t.Helper()
		out := map[events.ID]string{}
		require.NoError(t, b.Read(func(tx *Tx) error {
			who, ok, err := tx.Entity(ref)
			require.NoError(t, err)
			require.True(t, ok)
			found, err := tx.Entries(events.Query{Cites: who.ID, Kinds: []events.Kind{events.SheetExposed}})
			for _, e := range events.Fold(found) {
				out[e.ID] = e.Data.(*events.SheetExposedData).Sitter + " " + events.CarriedOf(e.Data).Camera
			}
			return err
		}))
		return out
	}
	assert.Equal(t, map[events.ID]string{mine.ID: "sitter-7 mole-camera"}, sitterOf(field, "sitter-7"))
	assert.Equal(t, map[events.ID]string{x.ID: "sitter-7@2 mole-camera@2", theirs.ID: "sitter-7@2 mole-camera"}, sitterOf(field, "sitter-7@2"))
	assert.Equal(t, map[events.ID]string{last.ID: "sitter-8 mole-camera@2"}, sitterOf(field, "sitter-8"))

	merge(t, studio, field)
	steady(t, studio)
	assert.Equal(t, map[events.ID]string{x.ID: "sitter-7 mole-camera", theirs.ID: "sitter-7 mole-camera@2"}, sitterOf(studio, "sitter-7"))

	own.void(set)
	own.void(first)
	assert.NotContains(t, sitterOf(field, "sitter-7@2")[x.ID], "sitter")
	assert.NotContains(t, sitterOf(field, "sitter-8")[last.ID], "sitter")
	steady(t, field)
}
