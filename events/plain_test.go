package events

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestPlainLinesComeBackAsTheyWere(t *testing.T) {
	for i, stored := range sealedEntries(t) {
		e, err := Decode(stored)
		require.NoError(t, err)
		want := Entry{Kind: e.Kind, At: e.At, Zone: e.Zone, Data: e.Data, V: Version}
		if i%2 == 0 {
			want.ID = e.ID
		}
		line, err := want.AppendPlain(nil)
		require.NoError(t, err)
		got, err := ReadPlain(line)
		require.NoError(t, err)
		require.Equal(t, want, got)
		// Spaces change nothing.
		spaced := bytes.Replace(line, []byte(`"data":{`), []byte(`"data": {`), 1)
		got, err = ReadPlain(spaced)
		require.NoError(t, err)
		require.Equal(t, want, got)
		// It is a line that a stranger's judge takes too.
		judged, err := ParseLine(line)
		require.NoError(t, err)
		require.Equal(t, want, judged.Entry)
	}
}
