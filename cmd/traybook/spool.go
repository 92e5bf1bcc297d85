package main

import (
	"io"
	"os"
	"path/filepath"

	"traybook/events/atomicfile"
)

// spoolInMemory is how many bytes of a file are held before the rest goes to the disk.
const spoolInMemory = 8 << 20

// spool keeps the lines of a long file beside the book while they are put in order. Its file has no name for longer than
// it takes to open it, where the system allows that, and only its maker can read it.
type spool struct {
	dir  string
	head []byte
	part *atomicfile.Growing
	tail *os.File
	size int64 // bytes in the file
	buf  []byte
}

func newSpool(book string) *spool { return &spool{dir: filepath.Dir(book)} }

// Write adds to the end.
func (s *spool) Write(p []byte) (int, error) {
	if s.tail == nil {
		if len(s.head)+len(p) <= spoolInMemory {
			s.head = append(s.head, p...)
			return len(p), nil
		}
		if err := s.open(); err != nil {
			return 0, err
		}
	}
	s.buf = append(s.buf, p...)
	if len(s.buf) >= 1<<18 {
		return len(p), s.flush()
	}
	return len(p), nil
}

func (s *spool) open() (err error) {
	if s.part, err = atomicfile.Grow(s.dir); err != nil {
		return err
	}
	defer s.part.Drop() // where an open file cannot be removed, close does it
	s.tail, err = os.OpenFile(filepath.Join(s.part.Dir, "lines"), os.O_CREATE|os.O_EXCL|os.O_RDWR, 0o600)
	return err
}

func (s *spool) flush() error {
	n, err := s.tail.WriteAt(s.buf, s.size)
	s.size += int64(n)
	s.buf = s.buf[:0]
	return err
}

// ReadAt reads what was written.
func (s *spool) ReadAt(p []byte, off int64) (int, error) {
	n := 0
	if off < int64(len(s.head)) {
		n = copy(p, s.head[off:])
	}
	if n == len(p) {
		return n, nil
	}
	if s.tail == nil {
		return n, io.EOF
	}
	if len(s.buf) > 0 {
		if err := s.flush(); err != nil {
			return n, err
		}
	}
	m, err := s.tail.ReadAt(p[n:], off+int64(n)-int64(len(s.head)))
	return n + m, err
}

func (s *spool) close() {
	if s.tail != nil {
		s.tail.Close()
		s.part.Drop()
	}
}
