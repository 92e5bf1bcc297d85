package export_test

import (
	"io"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/eventstest"
	"traybook/events/sqlite"
	"traybook/export"
	"traybook/projections/booktest"
)

// tornSource is a book laid open for export of which one reading fails.
type tornSource struct {
	*eventstest.Torn
	tx *sqlite.Tx
}

func (s tornSource) Each(f func(events.Entry) error) error { return s.tx.Each(f) }

func (s tornSource) Thumbnail(h events.Hash) (events.Thumbnail, bool, error) {
	return s.tx.Thumbnail(h)
}

func (s tornSource) PutThumbnail(t events.Thumbnail) error { return s.tx.PutThumbnail(t) }

// A table or an extract of a book of which a page cannot be read is not written: an empty cell would say that there is nothing.
func TestNothingIsWrittenBesideAPageThatCannotBeRead(t *testing.T) {
	b := outing(t)
	dir := attach(t, b, allWays...)
	ways := map[string]func(tornSource) error{
		"the lines of a picture": func(src tornSource) error {
			_, err := export.Extract(src, export.Scope{Picture: "2026-005"}, time.Time{}, io.Discard)
			return err
		},
		"the lines of a session": func(src tornSource) error {
			_, err := export.Extract(src, export.Scope{Session: "mole"}, time.Time{}, io.Discard)
			return err
		},
		"the lines of a year": func(src tornSource) error {
			_, err := export.Extract(src, export.Scope{Year: 2026}, time.Time{}, io.Discard)
			return err
		},
		"the scans":   func(src tornSource) error { _, err := export.Scans(src, dir); return err },
		"stray scans": func(src tornSource) error { _, err := export.StrayScans(src, dir); return err },
	}
	for scope, s := range map[string]export.Scope{"": {}, " of a session": {Session: "mole"}, " of a picture": {Picture: "2026-001"}} {
		for _, name := range export.TableNames() {
			ways[name+scope] = func(src tornSource) error {
				tables, err := export.NewTables(src, booktest.Recorded, s, export.TableOptions{})
				if err == nil {
					_, err = tables.Write(name, io.Discard)
				}
				return err
			}
		}
	}
	for name, way := range ways {
		t.Run(name, func(t *testing.T) {
			require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
				whole := &eventstest.Torn{Log: tx}
				require.NoError(t, way(tornSource{whole, tx}))
				require.Positive(t, whole.Asked)
				for n := range whole.Asked {
					err := way(tornSource{&eventstest.Torn{Log: tx, Fails: n + 1}, tx})
					assert.ErrorIs(t, err, eventstest.ErrTorn, "question %d of %d", n+1, whole.Asked)
				}
				return nil
			}))
		})
	}
}

// An archive of a book of which a page cannot be read does not stand.
func TestNoArchiveStandsBesideAPageThatCannotBeRead(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour+booktest.Picture(1, 0, "ferry mate")+booktest.Picture(2, 10, "harbour master"))
	dir := attach(t, b, attached{"2026-001n", "negative", "whole"})
	tear := func(out string, o export.ArchiveOptions, n int) (asked int, err error) {
		_, err = export.Archive(out, o, b.Backup, func(path string, f func(export.ArchiveSource, []export.ChainHead) error) error {
			return readBook(path, func(src export.ArchiveSource, heads []export.ChainHead) error {
				tx := src.(source).Tx
				whole := &eventstest.Torn{Log: tx, Fails: n}
				err := f(tornArchive{tornSource{whole, tx}, source{tx}}, heads)
				asked = whole.Asked
				return err
			})
		})
		return asked, err
	}
	for asked, n := 0, 0; n <= asked; n++ {
		out := filepath.Join(t.TempDir(), "bag")
		got, err := tear(out, archiveOptions(dir), n)
		if n == 0 {
			require.NoError(t, err)
			asked = got
			continue
		}
		assert.ErrorIs(t, err, eventstest.ErrTorn, "question %d of %d", n, asked)
		assert.NoDirExists(t, out)
	}
	// Nor does it take the place of one that stands, whose scan is of another picture than those asked for.
	old := filepath.Join(t.TempDir(), "bag")
	_, err := tear(old, archiveOptions(dir), 0)
	require.NoError(t, err)
	was := filesIn(t, old)
	o := archiveOptions(dir)
	o.Force, o.Scope = true, export.Scope{Picture: "2026-002"}
	for asked, n := 0, 1; n == 1 || n <= asked; n++ {
		got, err := tear(old, o, n)
		asked = max(asked, got, 20)
		if err == nil {
			break
		}
		assert.ErrorIs(t, err, eventstest.ErrTorn, "question %d", n)
		assert.Equal(t, was, filesIn(t, old))
	}
}

// tornArchive is a book for an archive of which one reading fails.
type tornArchive struct {
	tornSource
	whole source
}

func (a tornArchive) Pages(w io.Writer) error { return a.whole.Pages(w) }

func (a tornArchive) Holds(id events.ID, hash events.Hash) (bool, error) {
	return a.whole.Holds(id, hash)
}
