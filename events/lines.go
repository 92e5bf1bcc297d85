package events

import (
	"bufio"
	"bytes"
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

// ReadLines reads NDJSON, line by line, each parsed by ParseLine. Empty lines, a byte-order mark and the carriage
// returns of other systems are passed over. It ends after the first error, which is a *LineError. All lines are plain or
// all are whole.
func ReadLines(r io.Reader) iter.Seq2[Line, error] {
	return func(yield func(Line, error) bool) {
		in := bufio.NewReaderSize(r, MaxLine+4)
		if mark, _ := in.Peek(3); string(mark) == "\xef\xbb\xbf" {
			in.Discard(3)
		}
		first, whole := true, false
		for n := 1; ; n++ {
			raw, err := in.ReadSlice('\n')
			ends := errors.Is(err, io.EOF)
			wrong := func(err error) { yield(Line{}, &LineError{n, err}) }
			switch {
			case errors.Is(err, bufio.ErrBufferFull):
				wrong(fmt.Errorf("the line is longer than %d bytes", MaxLine))
				return
			case err != nil && !ends:
				wrong(fmt.Errorf("cannot be read: %w", err))
				return
			}
			if raw = bytes.TrimRight(raw, "\r\n"); len(raw) > 0 {
				l, err := ParseLine(bytes.Clone(raw))
				if err != nil {
					wrong(err)
					return
				}
				if l.N = n; first {
					first, whole = false, l.Whole
				}
				if l.Whole != whole {
					wrong(errors.New("plain lines and lines with a hash stand in one file; part them"))
					return
				}
				if !yield(l, nil) {
					return
				}
			}
			if ends {
				return
			}
		}
	}
}
