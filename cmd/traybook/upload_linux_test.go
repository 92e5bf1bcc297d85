package main

import (
	"bytes"
	"net/http"
	"net/url"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A scan of 60 MB streams through: the server holds no copy of it.
func TestALargeUploadTakesLittleMemory(t *testing.T) {
	book := eveningBook(t)
	peak := func(upload int) int64 {
		c := command(t, asProgram(t, "traybook"), book, "serve", "--port", "0")
		out, err := c.StdoutPipe()
		require.NoError(t, err)
		require.NoError(t, c.Start())
		s := letIn(t, book, out)
		status, _ := s.postFiles("/picture/2026-002/attach", url.Values{}, file{"scan-2026-002n", "a.jpg", bytes.NewReader(bytes.Repeat([]byte("x"), upload))})
		assert.Equal(t, http.StatusUnprocessableEntity, status)
		require.NoError(t, c.Process.Signal(syscall.SIGTERM))
		c.Wait()
		return peakOf(c.ProcessState)
	}
	small, large := peak(1000), peak(60<<20)
	t.Logf("%d MB with a scan of 60 MB, %d MB with none", large>>20, small>>20)
	assert.Less(t, large, small+24<<20)
}
