package pages_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/eventstest"
	"traybook/events/sqlite"
	"traybook/export"
	"traybook/export/pages"
	"traybook/projections/booktest"
)

// met are the calls of the pages that met a page of the book that could not be read, in any test: none is drawn beside one.
var met eventstest.Met

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

// A page of a book of which a page cannot be read is not written: an empty cell would say that there is nothing.
func TestNothingIsDrawnBesideAPageThatCannotBeRead(t *testing.T) {
	ways := map[string]func(export.Source) error{
		"the pages": func(src export.Source) error {
			_, err := pages.Log(src, booktest.Recorded, export.Scope{}, pages.LogOptions{Created: booktest.Recorded})
			return err
		},
	}
	ways["the page of a picture"] = func(src export.Source) error {
		_, err := pages.PicturePage(src, booktest.Recorded, "2026-001", pages.PictureOptions{LogOptions: pages.LogOptions{Created: booktest.Recorded}})
		return err
	}
	for _, envelopes := range []bool{false, true} {
		ways[fmt.Sprintf("labels, envelopes %t", envelopes)] = func(src export.Source) error {
			_, _, err := pages.Labels(src, booktest.Recorded, export.Scope{}, pages.LabelOptions{LabelSheet: pages.LabelSheet{Rows: 8, Cols: 3, Top: 12, Left: 7}, Created: booktest.Recorded, Envelopes: envelopes})
			return err
		}
	}
	ways["cards"] = func(src export.Source) error {
		_, _, err := pages.Cards(src, booktest.Recorded, export.Scope{}, pages.CardOptions{Created: booktest.Recorded})
		return err
	}
	b := booktest.FromActs(t, booktest.Outing)
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

// The same holds for a year of a whole season, the first of each row of calls.
func TestNoYearIsDrawnBesideAPageThatCannotBeRead(t *testing.T) {
	t.Parallel() // beside what waits for the disk
	require.NoError(t, booktest.Season(t).Read(func(tx *sqlite.Tx) error {
		draw := func(r *eventstest.Torn) error {
			_, err := pages.Log(tornSource{r, tx}, booktest.Recorded, export.Scope{Year: 2026}, pages.LogOptions{Created: booktest.Recorded})
			return err
		}
		whole := &eventstest.Torn{Log: tx}
		require.NoError(t, draw(whole))
		for _, n := range whole.First {
			assert.ErrorIs(t, draw(&eventstest.Torn{Log: tx, Fails: n}), eventstest.ErrTorn, "question %d of %d", n, whole.Asked)
		}
		return nil
	}))
}
