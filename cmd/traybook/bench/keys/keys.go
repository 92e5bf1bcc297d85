// Package keys reads single keys from a terminal and draws on it. While it is in use the terminal is raw: it echoes
// nothing and sends no signals, so the keys that a terminal turns into signals are looked at here, and whatever happens
// it is put back as it was.
package keys

import (
	"bytes"
	"context"
	"errors"
	"io"
	"sync"
	"time"

	"golang.org/x/term"
)

// Keys that are no characters. They lie beyond what a character can be.
const (
	Up rune = iota + 0x110000
	Down
	Left
	Right
	Other // any other key that sends a sequence
)

// Keys that are characters.
const (
	Interrupt rune = 3  // Ctrl-C
	EndOfText rune = 4  // Ctrl-D
	Suspend   rune = 26 // Ctrl-Z
	Enter     rune = '\r'
	Escape    rune = 27
	Backspace rune = 127
)

// ErrNoTerminal says that no person sits at the stream.
var ErrNoTerminal = errors.New("this needs a terminal, and there is none")

// ErrCutOff says that the terminal went away: the line dropped or the lid closed.
var ErrCutOff = errors.New("the terminal is gone")

// Key is one key and when it came in. The time carries a monotonic reading.
type Key struct {
	Rune rune
	At   time.Time
	err  error
}

// Leaves says that a key asks to leave: the one that a terminal takes for the end, or the one to put a program aside.
// Every step is written at once, so both are a way out.
func (k Key) Leaves() bool { return k.Rune == EndOfText || k.Rune == Suspend }

// Tty is a terminal to work on.
type Tty struct {
	In    io.Reader
	InFD  int // descriptor of In, negative for none
	Out   io.Writer
	Now   func() time.Time // when a key came in
	Plain bool             // a terminal that obeys no sequences: lines are written one under the other
}

// Terminal is a terminal in use.
type Terminal struct {
	tty   Tty
	keys  chan Key
	shown []string
}

// What is sent to a terminal: to a second screen and back, without a cursor.
const (
	enterScreen = "\x1b[?1049h\x1b[?25l\x1b[H\x1b[2J"
	leaveScreen = "\x1b[0m\x1b[?25h\x1b[?1049l"
)

// Use makes the terminal raw, runs f, and puts the terminal back: when f returns, when it panics, and at once when ctx is
// done, by which a program is told of signals. It can be used once in the life of a process, for what reads the keys
// cannot be called off.
func Use(ctx context.Context, tty Tty, f func(*Terminal) error) error {
	if tty.InFD < 0 || !term.IsTerminal(tty.InFD) {
		return ErrNoTerminal
	}
	before, err := term.MakeRaw(tty.InFD)
	if err != nil {
		return errors.Join(ErrNoTerminal, err)
	}
	var once sync.Once
	restore := func() {
		once.Do(func() {
			if !tty.Plain {
				io.WriteString(tty.Out, leaveScreen) // a terminal that is gone takes nothing
			}
			_ = term.Restore(tty.InFD, before)
		})
	}
	defer restore()
	stop := context.AfterFunc(ctx, restore)
	defer stop()
	if !tty.Plain {
		io.WriteString(tty.Out, enterScreen)
	}
	t := &Terminal{tty: tty, keys: make(chan Key, 64)}
	go t.read()
	return f(t)
}

// read reads for ever; a key counts from the moment it came in.
func (t *Terminal) read() {
	var rest []byte
	buf := make([]byte, 256)
	for {
		n, err := t.tty.In.Read(buf)
		at := t.tty.Now()
		rest = append(rest, buf[:n]...)
		for len(rest) > 0 {
			r, size := first(rest)
			if size == 0 {
				break
			}
			rest = rest[size:]
			t.keys <- Key{Rune: r, At: at}
		}
		if err != nil {
			t.keys <- Key{At: at, err: ErrCutOff}
			return
		}
	}
}

// Next waits for a key, no longer than wait; ok is false where none came. A wait below zero has no end. Errors:
// context.Canceled after Ctrl-C and when the program is asked to stop, ErrCutOff when the terminal went away.
func (t *Terminal) Next(ctx context.Context, wait time.Duration) (k Key, ok bool, err error) {
	var late <-chan time.Time
	if wait >= 0 {
		timer := time.NewTimer(wait)
		defer timer.Stop()
		late = timer.C
	}
	select {
	case k = <-t.keys:
	case <-late:
		return Key{}, false, nil
	case <-ctx.Done():
		return Key{}, false, ctx.Err()
	}
	switch {
	case k.err != nil:
		return k, false, k.err
	case k.Rune == Interrupt:
		return k, false, context.Canceled
	}
	return k, true, nil
}

// Draw shows lines from the top of the screen; what stood there goes. Lines must fit. What is shown already is not sent
// again.
func (t *Terminal) Draw(lines []string) error {
	var b bytes.Buffer
	if t.tty.Plain {
		for _, l := range lines {
			if !has(t.shown, l) {
				b.WriteString(l + "\r\n")
			}
		}
	} else {
		for i, l := range lines {
			if i < len(t.shown) && t.shown[i] == l {
				continue
			}
			b.WriteString(goTo(i+1) + l + "\x1b[0m\x1b[K")
		}
		if len(lines) < len(t.shown) {
			b.WriteString(goTo(len(lines)+1) + "\x1b[J")
		}
	}
	t.shown = append(t.shown[:0], lines...)
	if b.Len() == 0 {
		return nil
	}
	_, err := t.tty.Out.Write(b.Bytes())
	return err
}

// Redraw clears the screen, so that the next Draw sends every line.
func (t *Terminal) Redraw() error {
	t.shown = t.shown[:0]
	if t.tty.Plain {
		return nil
	}
	_, err := io.WriteString(t.tty.Out, "\x1b[0m\x1b[H\x1b[2J")
	return err
}

// Bell rings so many times.
func (t *Terminal) Bell(times int) {
	t.tty.Out.Write(bytes.Repeat([]byte{7}, times)) // a bell that cannot ring is no reason to stop
}

func has(lines []string, line string) bool {
	for _, l := range lines {
		if l == line {
			return true
		}
	}
	return false
}
