package bag

import (
	"bufio"
	"bytes"
	"cmp"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"traybook/events/atomicfile"
)

// item is one payload file with what was found while it was written.
type item struct {
	name    string // from the bag's root
	digests digests
	size    int64
}

// WriteDir makes a bag as a folder, whole or not at all. may says whether a
// folder that is there may go for it; see Replaceable.
//
// Errors: path exists and may is nil (errors.Is fs.ErrExist); what may returns;
// a payload name outside a-z 0-9 . _ - or given twice; what a payload or the
// medium fails with.
func WriteDir(path string, may atomicfile.May, c Contents) (Written, error) {
	if err := c.check(); err != nil {
		return Written{}, err
	}
	var items []item
	err := atomicfile.Dir(path, may, 0o700, func(dir string) error {
		if err := os.Mkdir(filepath.Join(dir, "data"), 0o700); err != nil {
			return err
		}
		for _, p := range c.sorted() {
			it, err := writeFile(dir, p)
			if err != nil {
				return err
			}
			items = append(items, it)
		}
		for _, tag := range c.tags(items) {
			if err := os.WriteFile(filepath.Join(dir, tag.name), tag.content, atomicfile.Private); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return Written{}, err
	}
	return count(items), nil
}

func writeFile(dir string, p Payload) (it item, err error) {
	it.name = payloadFolder + p.Name
	name := filepath.Join(dir, filepath.FromSlash(it.name))
	if err := atomicfile.MkdirAll(dir, filepath.Dir(filepath.FromSlash(it.name))); err != nil {
		return it, err
	}
	f, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, atomicfile.Private)
	if err != nil {
		return it, err
	}
	defer func() {
		if e := f.Close(); err == nil {
			err = e
		}
	}()
	m := newMeter()
	b := bufio.NewWriterSize(io.MultiWriter(f, m), 1<<16)
	if err := p.Write(b); err != nil {
		return it, fmt.Errorf("%s: %w", p.Name, err)
	}
	if err := b.Flush(); err != nil {
		return it, err
	}
	it.digests, it.size = m.digests(), m.size
	return it, nil
}

func (c Contents) sorted() []Payload {
	return slices.SortedFunc(slices.Values(c.Payload), func(a, b Payload) int { return cmp.Compare(a.Name, b.Name) })
}

func count(items []item) Written {
	w := Written{Files: len(items)}
	for _, it := range items {
		w.Bytes += it.size
	}
	return w
}

// tag is a tag file, which BagIt calls everything outside the payload.
type tag struct {
	name    string
	content []byte
}

// tags makes the tag files for a payload sorted by name, themselves sorted.
func (c Contents) tags(items []item) []tag {
	w := count(items)
	var info bytes.Buffer
	for _, l := range append(slices.Clone(c.Info), Label{oxumLabel, fmt.Sprintf("%d.%d", w.Bytes, w.Files)}) {
		// A further line of a value is indented, by which readers know it.
		fmt.Fprintf(&info, "%s: %s\n", l.Name, strings.ReplaceAll(l.Value, "\n", "\n  "))
	}
	list := []tag{{infoName, info.Bytes()}, {declarationName, []byte(declaration)}}
	for i, a := range algorithms {
		list = append(list, tag{a.manifest(), manifest(items, i)})
	}
	var listed []item
	for _, t := range list {
		listed = append(listed, item{name: t.name, digests: digestOf(t.content)})
	}
	for i, a := range algorithms {
		list = append(list, tag{a.tagManifest(), manifest(listed, i)})
	}
	return list
}

// manifest is written as sha256sum and sha512sum write and read it.
func manifest(items []item, algorithm int) []byte {
	var b bytes.Buffer
	for _, it := range items {
		fmt.Fprintf(&b, "%s  %s\n", it.digests[algorithm], it.name)
	}
	return b.Bytes()
}

func isManifest(name string) bool { return algorithmOf(name, "manifest-") != "" }

func isTagManifest(name string) bool { return algorithmOf(name, "tagmanifest-") != "" }

// algorithmOf is the name of the digest between prefix and ".txt", or nothing.
func algorithmOf(name, prefix string) string {
	rest, ok := strings.CutPrefix(name, prefix)
	if !ok {
		return ""
	}
	a, ok := strings.CutSuffix(rest, ".txt")
	if !ok || strings.Contains(a, "/") {
		return ""
	}
	return a
}
