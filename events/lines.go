package events

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"iter"
)

// LineError says which line of a file is wrong.
type LineError struct {
	N   int // counted from 1
	Err error
}

func (e *LineError) Error() string { return fmt.Sprintf("line %d: %s", e.N, e.Err) }
func (e *LineError) Unwrap() error { return e.Err }

// batchLines is how many lines are parsed at a stretch by one goroutine.
const batchLines = 256

type lineBatch struct {
	raw   [][]byte
	n     []int
	lines []Line
	err   error // after the lines
	done  chan struct{}
}

// ReadLines reads NDJSON, line by line, each parsed by ParseLine. Empty lines, a byte-order mark and the carriage
// returns of other systems are passed over. It ends after the first error, which is a *LineError. All lines are plain or
// all are whole. Lines are parsed ahead on other cores; a caller who stops early leaves nothing running.
func ReadLines(r io.Reader) iter.Seq2[Line, error] {
	return func(yield func(Line, error) bool) {
		stop := make(chan struct{})
		defer close(stop)
		batches := make(chan *lineBatch, 8)
		go cutLines(r, batches, stop)
		first, whole := true, false
		for b := range batches {
			<-b.done
			for _, l := range b.lines {
				if first {
					first, whole = false, l.Whole
				}
				if l.Whole != whole {
					yield(Line{}, &LineError{l.N, errors.New("plain lines and lines with a hash stand in one file; part them")})
					return
				}
				if !yield(l, nil) {
					return
				}
			}
			if b.err != nil {
				yield(Line{}, b.err)
				return
			}
		}
	}
}

func cutLines(r io.Reader, batches chan<- *lineBatch, stop <-chan struct{}) {
	defer close(batches)
	in := bufio.NewReaderSize(r, MaxLine+4)
	if mark, _ := in.Peek(3); string(mark) == "\xef\xbb\xbf" {
		in.Discard(3)
	}
	n := 0
	for end := false; !end; {
		b := &lineBatch{done: make(chan struct{})}
		var stopped error
		for len(b.raw) < batchLines && stopped == nil {
			line, err := in.ReadSlice('\n')
			n++
			switch {
			case errors.Is(err, bufio.ErrBufferFull):
				stopped = &LineError{n, fmt.Errorf("the line is longer than %d bytes", MaxLine)}
				continue
			case err != nil && !errors.Is(err, io.EOF):
				stopped = &LineError{n, fmt.Errorf("cannot be read: %w", err)}
				continue
			case err != nil:
				stopped = io.EOF
			}
			for len(line) > 0 && (line[len(line)-1] == '\n' || line[len(line)-1] == '\r') {
				line = line[:len(line)-1]
			}
			if len(line) > 0 {
				b.raw, b.n = append(b.raw, append([]byte(nil), line...)), append(b.n, n)
			}
		}
		go b.parse(stopped)
		select {
		case batches <- b:
		case <-stop:
			return
		}
		end = stopped != nil
	}
}

func (b *lineBatch) parse(after error) {
	defer close(b.done)
	b.lines = make([]Line, 0, len(b.raw))
	for i, raw := range b.raw {
		l, err := ParseLine(raw)
		if err != nil {
			b.err = &LineError{b.n[i], err}
			return
		}
		l.N = b.n[i]
		b.lines = append(b.lines, l)
	}
	if after != io.EOF {
		b.err = after
	}
}
