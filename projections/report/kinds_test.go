package report_test

import (
	"bytes"
	"os"
	"reflect"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/sqlite"
	"traybook/projections/booktest"
	"traybook/projections/snapshot"
)

// Every kind is told in words of its own: a free text and nothing else would be all that a screen shows of it.
func TestEveryKindHasASentence(t *testing.T) {
	require.NoError(t, booktest.FromActs(t, booktest.Harbour).Read(func(tx *sqlite.Tx) error {
		snap := snapshot.New(tx, time.Time{})
		for _, k := range events.Kinds {
			file := "../../testdata/vectors/" + string(k) + ".v1.ndjson"
			raw, err := os.ReadFile(file)
			if !assert.NoError(t, err, "%s has no frozen line: write %s, a whole line first", k, file) {
				continue
			}
			first, _, _ := bytes.Cut(raw, []byte("\n"))
			l, err := events.ParseLine(first)
			require.NoError(t, err, file)
			e := l.Entry
			e.Data = events.Clone(e.Data)
			if text := reflect.ValueOf(e.Data).Elem().FieldByName("Text"); text.IsValid() {
				text.SetString("")
			}
			assert.NotEmpty(t, snap.Sentence(e), "%s has no sentence: write one in Sentence, projections/snapshot/sentence.go", k)
		}
		return nil
	}))
}
