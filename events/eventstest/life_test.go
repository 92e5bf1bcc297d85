package eventstest_test

import (
	"bytes"
	"io"
	"testing"

	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/eventstest"
)

func TestSameSeedSameBytesAndEveryLineIsGood(t *testing.T) {
	for name, write := range map[string]func(io.Writer, int, uint64) (int, error){"whole": eventstest.WriteLife, "sparse": eventstest.WriteSparseLife} {
		t.Run(name, func(t *testing.T) { sameSeedSameBytes(t, write) })
	}
}

func sameSeedSameBytes(t *testing.T, write func(io.Writer, int, uint64) (int, error)) {
	var a, b, c bytes.Buffer
	n, err := write(&a, 3000, 7)
	require.NoError(t, err)
	_, err = write(&b, 3000, 7)
	require.NoError(t, err)
	_, err = write(&c, 3000, 8)
	require.NoError(t, err)
	require.Equal(t, a.Bytes(), b.Bytes())
	require.NotEqual(t, a.Bytes(), c.Bytes())
	lines := bytes.Split(bytes.TrimSuffix(a.Bytes(), []byte("\n")), []byte("\n"))
	require.Len(t, lines, n)
	for i, raw := range lines {
		_, err := events.ParseLine(raw)
		require.NoError(t, err, "line %d", i+1)
	}
}
