package why_test

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/eventstest"
	"traybook/events/sqlite"
	"traybook/projections/booktest"
	"traybook/projections/snapshot"
	"traybook/projections/why"
)

// expected is what a case says of itself.
type expected struct {
	First       *string  `json:"first"`
	Sheet       *string  `json:"sheet"`
	Clean       bool     `json:"clean"`
	Unexplained *float64 `json:"unexplained"`
	Picture     string   `json:"picture"`
}

// met are the calls of why that met a page that could not be read, in any test: nobody is accused beside one.
var met booktest.Met

// whyOf diagnoses a picture of a book.
func whyOf(t testing.TB, b *sqlite.Book, picture string) (out why.Diagnosis) {
	t.Helper()
	require.NoError(t, b.Read(func(tx *sqlite.Tx) (err error) {
		out, err = whyBeside(t, tx, picture, func(r events.Reader) events.Reader { return r })
		return err
	}))
	return out
}

// whyBeside diagnoses a picture of what as shows of a book.
func whyBeside(t testing.TB, tx *sqlite.Tx, picture string, as func(events.Reader) events.Reader) (out why.Diagnosis, err error) {
	t.Helper()
	err = met.Tear(t, tx, func(r *eventstest.Torn) error {
		d, err := why.Why(snapshot.New(as(r), time.Time{}), picture)
		if err == nil {
			out = d
		}
		return err
	})
	return out, err
}

func TestWhyAnswersTheCases(t *testing.T) {
	const dir = "../../testdata/cases"
	raw, err := os.ReadFile(filepath.Join(dir, "expected.json"))
	require.NoError(t, err)
	var cases map[string]expected
	require.NoError(t, json.Unmarshal(raw, &cases))
	files, err := filepath.Glob(filepath.Join(dir, "*.ndjson"))
	require.NoError(t, err)
	require.Len(t, files, len(cases))
	for _, f := range files {
		name := strings.TrimSuffix(filepath.Base(f), ".ndjson")
		t.Run(name, func(t *testing.T) {
			want, ok := cases[name]
			require.True(t, ok)
			got := whyOf(t, booktest.FromFile(t, f), want.Picture)
			t.Logf("%s", strings.Join(got.Lines, "\n"))
			for _, f := range got.Findings {
				t.Logf("%s %s %.2f", f.Cause, f.Sheet, f.Explains)
			}
			if want.First == nil {
				require.Empty(t, got.Findings)
				if want.Unexplained != nil {
					require.GreaterOrEqual(t, *got.Unexplained, *want.Unexplained)
				} else {
					require.Nil(t, got.Unexplained)
				}
				return
			}
			require.NotEmpty(t, got.Findings)
			require.Equal(t, *want.First, got.Findings[0].Cause)
			require.Equal(t, *want.Sheet, got.Findings[0].Sheet)
		})
	}
}
