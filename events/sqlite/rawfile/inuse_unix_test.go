//go:build unix

package rawfile

import (
	"bufio"
	"os"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events/eventstest"
)

// The log of a book that another program has open is in use, and is left to it until that program is dead.
func TestALogThatAnotherProgramUses(t *testing.T) {
	path := closed(t, logging...)
	child := eventstest.Command(t, os.Args[0])
	child.Env = append(child.Env, childBook+"="+path)
	child.Stderr = os.Stderr
	stdin, err := child.StdinPipe()
	require.NoError(t, err)
	defer stdin.Close()
	stdout, err := child.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, child.Start())
	line, err := bufio.NewReader(stdout).ReadString('\n')
	require.NoError(t, err)
	require.Equal(t, "open\n", line)

	l, err := LogOf(path)
	require.NoError(t, err)
	assert.Nil(t, l)
	raw := contents(t, path+"-wal")
	broken := append([]byte(string(raw)), raw[LogHead:]...) // what it writes now
	put(t, path+"-wal", broken)
	assert.NoError(t, CheckLog(path))
	q := quarry(t, path)
	assert.Equal(t, []string{"child"}, texts(t, q, false), "as much as its sums bear out")
	assert.EqualValues(t, len(raw), LogHead+q.Log.Taken*logLength)
	assert.Empty(t, q.Behind())
	assert.EqualValues(t, -1, q.Log.accepted)

	require.NoError(t, child.Process.Kill())
	child.Wait()
	l, err = LogOf(path)
	require.NoError(t, err)
	require.NotNil(t, l)
	assert.EqualValues(t, len(raw), LogHead+l.Taken*logLength)
	assert.Len(t, l.behind, int(l.Taken))
}

// A pipe beside a book is told before anyone waits for it.
func TestAPipeBesideABook(t *testing.T) {
	path := closed(t, logging...)
	require.NoError(t, syscall.Mkfifo(path+"-shm", 0o600))
	assert.ErrorContains(t, PlainFiles(path), "book.db-shm lies beside it")
}
