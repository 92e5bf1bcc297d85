//go:build unix

package atomicfile

import (
	"bufio"
	"fmt"
	"io"
	"os"
	"os/signal"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events/eventstest"
)

const killEnv = "ATOMICFILE_WRITE_AND_WAIT"

// TestMain lets the test binary stand in for a run that is killed while it
// writes.
func TestMain(m *testing.M) {
	path := os.Getenv(killEnv)
	if path == "" {
		os.Exit(m.Run())
	}
	wait := func() {
		fmt.Println("writing")
		_, _ = io.Copy(io.Discard, os.Stdin)
	}
	switch filepath.Ext(path) {
	case ".stop": // stopped while a folder is filled by someone who makes its folders anew
		stopped := make(chan struct{})
		go func() {
			_ = Dir(path, nil, 0, func(dir string) error {
				for i := 0; ; i++ {
					if i == 10 {
						close(stopped)
					}
					_ = MkdirAll(dir, "a/b")
					_ = os.WriteFile(filepath.Join(dir, "a", "b", fmt.Sprint(i)), []byte("half"), 0o600)
					if _, err := os.Lstat(dir); err != nil {
						return err
					}
				}
			})
			fmt.Println("went on")
		}()
		<-stopped
		Stop()
		fmt.Println("stopped")
	case ".d":
		_ = Dir(path, nil, 0, func(dir string) error { _ = files("a/b")(dir); wait(); return nil })
	case ".cut": // files that may not grow stand in for a full disk
		signal.Ignore(syscall.SIGXFSZ)
		limit := syscall.Rlimit{Cur: 1000, Max: 1000}
		if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &limit); err != nil {
			fmt.Println(err)
		}
		fmt.Println(Write(path, nil, 0, text(strings.Repeat("x", 2*bufferSize))))
	default:
		_ = Write(path, nil, 0, func(w io.Writer) error { _ = text("half")(w); wait(); return nil })
	}
}

func TestKilledRunIsClearedByTheNext(t *testing.T) {
	for _, base := range []string{"file", "folder.d"} {
		t.Run(base, func(t *testing.T) {
			dir := t.TempDir()
			path := filepath.Join(dir, base)
			child := eventstest.Command(t, os.Args[0])
			child.Env = append(child.Env, killEnv+"="+path)
			stdin, err := child.StdinPipe()
			require.NoError(t, err)
			defer stdin.Close()
			stdout, err := child.StdoutPipe()
			require.NoError(t, err)
			require.NoError(t, child.Start())
			line, err := bufio.NewReader(stdout).ReadString('\n')
			require.NoError(t, err)
			require.Equal(t, "writing\n", line)
			require.NoError(t, Clear(path))
			require.Len(t, names(t, dir), 1, "the living run's name stays")
			require.NoError(t, child.Process.Kill())
			require.Error(t, child.Wait())
			require.Len(t, names(t, dir), 1, "the dead run leaves its name")

			if base == "file" { // by one that makes the other sort under another name
				require.NoError(t, Dir(filepath.Join(dir, "next"), nil, 0, files("whole")))
			} else {
				require.NoError(t, Write(filepath.Join(dir, "next"), nil, 0, text("whole")))
			}
			assert.Equal(t, []string{"next"}, names(t, dir))
		})
	}
}

// Stopped while it writes, a run leaves nothing, and what wrote does not get on
// to say that it failed.
func TestStoppedRunLeavesNothing(t *testing.T) {
	for range 20 {
		dir := t.TempDir()
		child := eventstest.Command(t, os.Args[0])
		child.Env = append(child.Env, killEnv+"="+filepath.Join(dir, "folder.stop"))
		out, err := child.Output()
		require.NoError(t, err)
		assert.Equal(t, "stopped\n", string(out))
		assert.Empty(t, names(t, dir))
	}
}

func TestWriteThatTheMediumCutsShort(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "log.cut")
	child := eventstest.Command(t, os.Args[0])
	child.Env = append(child.Env, killEnv+"="+path)
	out, err := child.Output()
	require.NoError(t, err)
	assert.Equal(t, "cannot write "+path+": file too large\n", string(out))
	assert.Empty(t, names(t, dir))
}
