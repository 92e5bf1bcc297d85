package eventstest_test

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/eventstest"
)

func TestSameSeedSameBytesAndEveryLineIsGood(t *testing.T) {
	var a, b, c bytes.Buffer
	n, err := eventstest.WriteLife(&a, 3000, 7)
	require.NoError(t, err)
	_, err = eventstest.WriteLife(&b, 3000, 7)
	require.NoError(t, err)
	_, err = eventstest.WriteLife(&c, 3000, 8)
	require.NoError(t, err)
	require.Equal(t, a.Bytes(), b.Bytes())
	require.NotEqual(t, a.Bytes(), c.Bytes())
	lines := bytes.Split(bytes.TrimSuffix(a.Bytes(), []byte("\n")), []byte("\n"))
	require.Len(t, lines, n)
	for i, raw := range lines {
		l, err := events.ParseLine(raw)
		require.NoError(t, err, "line %d", i+1)
		require.NoError(t, events.Validate(l.Data), "line %d", i+1)
	}
}
