package bag

import (
	"archive/zip"
	"bufio"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"path/filepath"
	"strings"

	"traybook/events/atomicfile"
)

// dosEpoch is 1 January 1980, the first day a zip file can name. Every entry
// has it, so that the same payload gives the same file on every day and in
// every zone.
const dosEpoch = 1<<5 | 1

// largeEntry is the size from which a zip entry needs its wider form, which
// the library writes only behind the entry, not before it.
const largeEntry = 1<<32 - 1

// WriteZip makes a bag as one zip file, whole or not at all: entries stored,
// not compressed (pictures do not shrink, and a plain copy survives damage
// better), sorted by name, below one folder named like the file. The same
// contents under the same file name give the same bytes.
//
// Each payload is written twice: once to learn its size and digests, once into
// the file. One that differs the second time is an error.
//
// Errors: as for WriteDir.
func WriteZip(path string, may atomicfile.May, c Contents) (Written, error) {
	if err := c.check(); err != nil {
		return Written{}, err
	}
	var w Written
	err := atomicfile.Write(path, may, 0, func(out io.Writer) error {
		payload := c.sorted()
		items := make([]item, len(payload))
		sums := make([]uint32, len(payload))
		for i, p := range payload {
			m, crc := newMeter(), crc32.NewIEEE()
			if err := copyPayload(p, m, crc); err != nil {
				return err
			}
			items[i] = item{payloadFolder + p.Name, m.digests(), m.size}
			sums[i] = crc.Sum32()
		}
		w = count(items)

		z := zip.NewWriter(out)
		top := topFolder(path)
		tags := c.tags(items)
		putTags := func(before string) error {
			for ; len(tags) > 0 && tags[0].name < before; tags = tags[1:] {
				t := tags[0]
				e := entry{top + t.name, int64(len(t.content)), crc32.ChecksumIEEE(t.content)}
				if err := e.write(z, Bytes(t.name, t.content)); err != nil {
					return err
				}
			}
			return nil
		}
		if err := putTags(payloadFolder); err != nil {
			return err
		}
		for i, p := range payload {
			e := entry{top + items[i].name, items[i].size, sums[i]}
			if err := e.write(z, p); err != nil {
				return err
			}
		}
		if err := putTags("\xff"); err != nil {
			return err
		}
		return z.Close()
	})
	if err != nil {
		return Written{}, err
	}
	return w, nil
}

func copyPayload(p Payload, to ...io.Writer) error {
	b := bufio.NewWriterSize(io.MultiWriter(to...), 1<<16)
	if err := p.Write(b); err != nil {
		return fmt.Errorf("%s: %w", p.Name, err)
	}
	return b.Flush()
}

// topFolder is the one folder of the zip: the file's name without .zip, where
// that reads the same on every system.
func topFolder(path string) string {
	base := filepath.Base(path)
	if stem, ok := strings.CutSuffix(base, ".zip"); ok {
		base = stem
	}
	if refuseName(strings.ToLower(base)) != "" || strings.Contains(base, "/") {
		base = "bag"
	}
	return base + "/"
}

// entry is what must be known of a zip entry before it is written.
type entry struct {
	name string
	size int64
	crc  uint32
}

var errChanged = errors.New("the content changed while the bag was written: try again when nothing writes to it")

func (e entry) write(z *zip.Writer, p Payload) error {
	h := &zip.FileHeader{Name: e.name, Method: zip.Store, CRC32: e.crc,
		CompressedSize64: uint64(e.size), UncompressedSize64: uint64(e.size)}
	h.SetMode(atomicfile.Private)
	h.ModifiedDate = dosEpoch //lint:ignore SA1019 a raw entry takes its time from here alone
	h.ReaderVersion = 20
	if e.size >= largeEntry {
		h.Flags, h.ReaderVersion = 8, 45 // sizes follow the entry
	}
	w, err := z.CreateRaw(h)
	if err != nil {
		return err
	}
	got, crc := &counter{left: e.size}, crc32.NewIEEE()
	if err := copyPayload(p, got, crc, w); err != nil {
		return err
	}
	if got.left != 0 || crc.Sum32() != e.crc {
		return fmt.Errorf("%s: %w", p.Name, errChanged)
	}
	return nil
}

// counter stops a payload that grew since it was measured.
type counter struct{ left int64 }

func (c *counter) Write(p []byte) (int, error) {
	c.left -= int64(len(p))
	if c.left < 0 {
		return 0, errChanged
	}
	return len(p), nil
}
