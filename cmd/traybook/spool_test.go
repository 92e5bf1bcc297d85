package main

import (
	"bytes"
	"io"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestSpoolGivesBackWhatWasWritten(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	s := newSpool(dir)
	var want []byte
	for i := 0; len(want) < spoolInMemory+3<<18; i++ {
		line := bytes.Repeat([]byte{byte(i), byte(i >> 8)}, 1000+i%700)
		n, err := s.Write(line)
		require.NoError(t, err)
		require.Equal(t, len(line), n)
		want = append(want, line...)
	}
	left, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Empty(t, left, "its file bears no name")
	for _, off := range []int{0, 1, spoolInMemory - 5000, spoolInMemory + 1, len(want) - 4000} {
		got := make([]byte, 4000)
		n, err := s.ReadAt(got, int64(off))
		require.NoError(t, err)
		require.Equal(t, want[off:off+n], got[:n])
		require.Equal(t, 4000, n)
	}
	got := make([]byte, 4000)
	n, err := s.ReadAt(got, int64(len(want)-10))
	require.ErrorIs(t, err, io.EOF)
	require.Equal(t, want[len(want)-10:], got[:n])
	s.close()
}
