package keys

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"os/signal"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events/eventstest"
)

// asChild makes this test program use the terminal that it was started on.
const asChild = "TRAYBOOK_KEYS_CHILD"

func TestMain(m *testing.M) {
	if how := os.Getenv(asChild); how != "" {
		os.Exit(child(how))
	}
	os.Exit(m.Run())
}

// child shows what it was sent, and ends by a return, a panic or a signal.
func child(how string) int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM, syscall.SIGHUP)
	defer stop()
	err := Use(ctx, Tty{In: os.Stdin, InFD: int(os.Stdin.Fd()), Out: os.Stdout, Now: time.Now, Plain: how == "plain"}, func(t *Terminal) error {
		if err := t.Draw([]string{"ready", "second"}); err != nil {
			return err
		}
		for {
			k, ok, err := t.Next(ctx, -1)
			switch {
			case err != nil:
				return err
			case ok && k.Leaves():
				return errors.New("left")
			case ok && k.Rune == 'p':
				panic("a fault")
			case ok && k.Rune == 'q':
				return nil
			}
			if err := t.Draw([]string{"ready", fmt.Sprintf("key %d", k.Rune)}); err != nil {
				return err
			}
		}
	})
	switch {
	case err == nil:
		return 0
	case errors.Is(err, context.Canceled):
		return 130
	}
	return 1
}

func start(t *testing.T, how string) (*eventstest.Terminal, *exec.Cmd) {
	t.Helper()
	p, err := eventstest.OpenTerminal(60, 24)
	require.NoError(t, err)
	t.Cleanup(func() { p.Person.Close() })
	cmd := eventstest.Command(t, os.Args[0])
	cmd.Env = append(cmd.Env, asChild+"="+how)
	require.NoError(t, p.Start(cmd))
	require.NoError(t, p.Wait("second", time.Minute))
	cooked, err := p.Cooked()
	require.NoError(t, err)
	require.False(t, cooked, "in use the terminal is raw")
	return p, cmd
}

func TestTheTerminalIsPutBack(t *testing.T) {
	for _, c := range []struct {
		name string
		end  func(p *eventstest.Terminal, cmd *exec.Cmd) error
		code int
	}{
		{"return", types("q"), 0},
		{"panic", types("p"), 2},
		{"Ctrl-C", types("\x03"), 130},
		{"Ctrl-D", types("\x04"), 1},
		{"Ctrl-Z", types("\x1a"), 1},
		{"TERM", signals(syscall.SIGTERM), 130},
		{"HUP", signals(syscall.SIGHUP), 130},
	} {
		t.Run(c.name, func(t *testing.T) {
			p, cmd := start(t, "screen")
			require.NoError(t, c.end(p, cmd))
			err := cmd.Wait()
			code := cmd.ProcessState.ExitCode()
			assert.Equal(t, c.code, code, "%v %s", err, p.Shown())
			cooked, err := p.Cooked()
			require.NoError(t, err)
			assert.True(t, cooked)
			require.Eventually(t, func() bool { return strings.Contains(p.Shown(), leaveScreen) }, time.Minute, 5*time.Millisecond)
			assert.Equal(t, 1, strings.Count(p.Shown(), leaveScreen), "put back once")
		})
	}
}

func types(text string) func(*eventstest.Terminal, *exec.Cmd) error {
	return func(p *eventstest.Terminal, _ *exec.Cmd) error {
		_, err := p.Person.WriteString(text)
		return err
	}
}

func signals(s syscall.Signal) func(*eventstest.Terminal, *exec.Cmd) error {
	return func(_ *eventstest.Terminal, cmd *exec.Cmd) error { return cmd.Process.Signal(s) }
}

func TestOnlyWhatChangedIsSent(t *testing.T) {
	p, cmd := start(t, "screen")
	before := len(p.Shown())
	_, err := p.Person.WriteString("x")
	require.NoError(t, err)
	require.Eventually(t, func() bool { return strings.Contains(p.Shown(), "key 120") }, time.Minute, 5*time.Millisecond)
	assert.Equal(t, "\x1b[2;1Hkey 120\x1b[0m\x1b[K", p.Shown()[before:])
	require.NoError(t, types("q")(p, cmd))
	require.NoError(t, cmd.Wait())
}

// A terminal that obeys nothing gets whole lines, each ended so that the next begins at its left edge.
func TestAPlainTerminalGetsLines(t *testing.T) {
	p, cmd := start(t, "plain")
	_, err := p.Person.WriteString("xq")
	require.NoError(t, err)
	require.NoError(t, cmd.Wait())
	require.Eventually(t, func() bool { return strings.HasSuffix(p.Shown(), "key 120\r\n") }, time.Minute, 5*time.Millisecond)
	assert.Equal(t, "ready\r\nsecond\r\nkey 120\r\n", p.Shown())
}

func TestNoTerminal(t *testing.T) {
	r, w, err := os.Pipe()
	require.NoError(t, err)
	defer r.Close()
	defer w.Close()
	for _, fd := range []int{-1, int(r.Fd())} {
		err := Use(context.Background(), Tty{In: r, InFD: fd, Out: io.Discard, Now: time.Now}, func(*Terminal) error { return nil })
		assert.ErrorIs(t, err, ErrNoTerminal)
	}
}

func TestAWaitEnds(t *testing.T) {
	term := &Terminal{keys: make(chan Key, 1)}
	_, ok, err := term.Next(context.Background(), time.Millisecond)
	assert.False(t, ok)
	assert.NoError(t, err)
	term.keys <- Key{err: ErrCutOff}
	_, _, err = term.Next(context.Background(), -1)
	assert.ErrorIs(t, err, ErrCutOff)
}
