package pages_test

import (
	"io"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/sqlite"
	"traybook/events/trial"
	"traybook/export"
	"traybook/export/pages"
	"traybook/projections/booktest"
)

// tornSource is a book laid open for export of which one reading fails.
type tornSource struct {
	*trial.Torn
	tx *sqlite.Tx
}

func (s tornSource) Each(f func(events.Entry) error) error { return s.tx.Each(f) }

// A table or a page of a book of which a page cannot be read is not written: an empty cell would say that there is nothing.
func TestNothingIsExportedBesideAPageThatCannotBeRead(t *testing.T) {
	ways := map[string]func(export.Source) error{
		"the pages": func(src export.Source) error {
			_, err := pages.Log(src, booktest.Recorded, export.Scope{}, pages.LogOptions{Created: booktest.Recorded})
			return err
		},
	}
	for _, name := range export.TableNames() {
		ways[name] = func(src export.Source) error {
			tables, err := export.NewTables(src, booktest.Recorded, export.Scope{}, export.TableOptions{})
			if err == nil {
				_, err = tables.Write(name, io.Discard)
			}
			return err
		}
	}
	b := booktest.FromLines(t, booktest.CaseLines(t, "print-under-washed"))
	for name, way := range ways {
		t.Run(name, func(t *testing.T) {
			require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
				whole := &trial.Torn{Log: tx}
				require.NoError(t, way(tornSource{whole, tx}))
				require.Positive(t, whole.Asked)
				for n := range whole.Asked {
					err := way(tornSource{&trial.Torn{Log: tx, Fails: n + 1}, tx})
					assert.ErrorIs(t, err, trial.ErrTorn, "question %d of %d", n+1, whole.Asked)
				}
				return nil
			}))
		})
	}
}
