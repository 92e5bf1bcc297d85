package export_test

import (
	"bytes"
	"io"
	"os"
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

func (s tornSource) Each(f func(events.Entry) error) error {
	if err := s.Ask(); err != nil {
		return err
	}
	return s.tx.Each(f)
}

func (s tornSource) Thumbnail(h events.Hash) (events.Thumbnail, bool, error) {
	if err := s.Ask(); err != nil {
		return events.Thumbnail{}, false, err
	}
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
		"all lines":   func(src tornSource) error { _, err := export.Lines(src, io.Discard); return err },
		"the scans":   func(src tornSource) error { _, err := export.Scans(src, dir); return err },
		"stray scans": func(src tornSource) error { _, err := export.StrayScans(src, dir); return err },
	}
	for scope, s := range map[string]export.Scope{"": {}, " of a session": {Session: "mole"}, " of a picture": {Picture: "2026-001"}, " of a year": {Year: 2026}} {
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

// The same holds for the tables of a whole season, the first of each row of calls.
func TestNoTableOfASeasonIsWrittenBesideAPageThatCannotBeRead(t *testing.T) {
	t.Parallel() // beside what waits for the disk
	for _, b := range []*sqlite.Book{booktest.Season(t), booktest.FromActs(t, booktest.RareDay)} {
		noTableIsWritten(t, b)
	}
}

// noTableIsWritten tears a book at the first of each row of calls of every table.
func noTableIsWritten(t *testing.T, b *sqlite.Book) {
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		for _, asOf := range []time.Time{{}, booktest.Oslo(t, "2026-06-10T12:00:00")} {
			for _, scope := range []export.Scope{{}, {Year: 2026}} {
				for _, name := range export.TableNames() {
					write := func(r *eventstest.Torn) error {
						tables, err := export.NewTables(tornSource{r, tx}, asOf, scope, export.TableOptions{})
						if err == nil {
							_, err = tables.Write(name, io.Discard)
						}
						return err
					}
					whole := &eventstest.Torn{Log: tx}
					require.NoError(t, write(whole))
					for _, n := range whole.First {
						assert.ErrorIs(t, write(&eventstest.Torn{Log: tx, Fails: n}), eventstest.ErrTorn, "%s: question %d of %d", name, n, whole.Asked)
					}
				}
			}
		}
		return nil
	}))
}

// Whatever is written says so when its disk is full, at whichever byte.
func TestWhatDoesNotFitOnTheDiskIsSaid(t *testing.T) {
	b := outing(t)
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		ways := map[string]func(io.Writer) error{
			"all lines": func(w io.Writer) error { _, err := export.Lines(tx, w); return err },
			"the lines of a session": func(w io.Writer) error {
				_, err := export.Extract(tx, export.Scope{Session: "mole"}, time.Time{}, w)
				return err
			},
		}
		for _, name := range export.TableNames() {
			ways[name] = func(w io.Writer) error {
				tables, err := export.NewTables(tx, booktest.Recorded, export.Scope{}, export.TableOptions{})
				require.NoError(t, err)
				_, err = tables.Write(name, w)
				return err
			}
		}
		for name, way := range ways {
			var all bytes.Buffer
			require.NoError(t, way(&all))
			for room := 0; room < all.Len(); room += 1 + all.Len()/7 {
				assert.ErrorIs(t, way(&eventstest.Full{Room: room}), eventstest.ErrFull, "%s, %d bytes of %d", name, room, all.Len())
			}
			assert.ErrorIs(t, way(&eventstest.Full{Room: all.Len() - 1}), eventstest.ErrFull, name)
			assert.NoError(t, way(&eventstest.Full{Room: all.Len()}), name)
		}
		return nil
	}))
}

// An archive of which one part cannot be made does not stand: here something is in that part's way while it grows.
func TestNoArchiveStandsWithoutOneOfItsParts(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour+booktest.Picture(1, 0, "ferry mate"))
	o := archiveOptions(filepath.Dir(b.Path()))
	whole := filepath.Join(t.TempDir(), "bag")
	_, err := export.Archive(whole, o, b.Backup, readBook)
	require.NoError(t, err)
	parts := []string{"tables"}
	for name := range filesIn(t, filepath.Join(whole, "data")) {
		if name != "book.db" {
			parts = append(parts, name)
		}
	}
	require.Greater(t, len(parts), 12)
	for _, part := range parts {
		out := filepath.Join(t.TempDir(), "bag")
		_, err := export.Archive(out, o, func(path string) error {
			inTheWay := filepath.Join(filepath.Dir(path), filepath.FromSlash(part))
			require.NoError(t, os.MkdirAll(filepath.Dir(inTheWay), 0o700))
			require.NoError(t, os.WriteFile(inTheWay, nil, 0o600))
			return b.Backup(path)
		}, readBook)
		assert.Error(t, err, part)
		assert.NoDirExists(t, out, part)
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

func (a tornArchive) Pages(w io.Writer) error {
	if err := a.Ask(); err != nil {
		return err
	}
	return a.whole.Pages(w)
}

func (a tornArchive) Holds(id events.ID, hash events.Hash) (bool, error) {
	if err := a.Ask(); err != nil {
		return false, err
	}
	return a.whole.Holds(id, hash)
}
