package bag

import (
	"archive/zip"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"
)

// Bag is a bag opened for reading, as a folder or as a zip.
type Bag struct {
	root     *os.Root
	zip      *zip.ReadCloser
	torn     *os.File           // a zip whose directory is damaged or cut off
	cutOff   bool               // a torn zip that ends before its directory: what stood behind is gone
	size     map[string]int64   // regular files by path from the bag's root
	entry    map[string]entryOf // the same, of a zip
	found    Report             // what listing the files has found
	hopeless bool               // nothing more can be learned from it
}

// entryOf is one file in a zip. file is nil where the zip has lost its directory.
type entryOf struct {
	file *zip.File
	open func() (io.ReadCloser, error)
}

// Open opens a bag and lists its files. It does not verify it: whatever is
// wrong inside is left to Verify.
//
// Errors: path does not exist or may not be read. A zip whose directory is
// damaged or cut off opens, with what is found in it without one and a problem
// for Verify to name.
func Open(path string) (*Bag, error) {
	b := &Bag{size: map[string]int64{}, entry: map[string]entryOf{}}
	fi, err := os.Stat(path)
	switch {
	case err != nil:
		return nil, fmt.Errorf("cannot read the bag %s: %w", path, cause(err))
	case fi.IsDir():
		if b.root, err = os.OpenRoot(path); err != nil {
			return nil, fmt.Errorf("cannot read the bag %s: %w", path, cause(err))
		}
		b.listFolder()
		return b, nil
	case !fi.Mode().IsRegular():
		return nil, fmt.Errorf("%s is neither a folder nor a file", path)
	}
	z, err := zip.OpenReader(path)
	switch {
	case errors.Is(err, fs.ErrPermission):
		return nil, fmt.Errorf("cannot read the bag %s: %w", path, cause(err))
	case err != nil && !errors.Is(err, zip.ErrInsecurePath):
		if !likeZip(path) {
			b.found.add(Unreadable, path, "this is no zip file")
			b.hopeless = true
			return b, nil
		}
		if err := b.readTorn(path); err != nil {
			return nil, fmt.Errorf("cannot read the bag %s: %w", path, cause(err))
		}
		if b.cutOff {
			b.found.add(CutOff, filepath.Base(path), fmt.Sprintf("the zip is cut off; %s can be found in it, the last perhaps in part: copy it again from where it is whole", countOf(len(b.size), "file")))
		} else {
			b.found.add(Unreadable, filepath.Base(path), "the zip's list of its files is damaged or cut off; what stands in it was looked for without the list")
		}
		return b, nil
	}
	b.zip = z
	b.listZip()
	return b, nil
}

// Close gives the bag's files back to the system.
func (b *Bag) Close() error {
	var errs []error
	if b.root != nil {
		errs = append(errs, b.root.Close())
	}
	if b.zip != nil {
		errs = append(errs, b.zip.Close())
	}
	if b.torn != nil {
		errs = append(errs, b.torn.Close())
	}
	return errors.Join(errs...)
}

// Looks reports whether anything in it says that it is, or was, a bag: one of
// the files that declare a bag or list its files. Of a file that cannot be read
// as a zip, its name and its first bytes tell whether it was one.
func (b *Bag) Looks() bool {
	if b.torn != nil {
		return true
	}
	for name := range b.size {
		if declares(name) {
			return true
		}
	}
	if b.zip == nil {
		return false
	}
	for _, f := range b.zip.File { // also those that are not offered, wherever they lie
		if declares(path.Base(f.Name)) {
			return true
		}
	}
	return false
}

// declares says whether a name is one by which a bag declares itself.
func declares(name string) bool {
	manifest := strings.HasPrefix(name, "manifest-") || strings.HasPrefix(name, "tagmanifest-")
	return name == "bagit.txt" || name == "bag-info.txt" || manifest && strings.HasSuffix(name, ".txt")
}

// likeZip reports whether a file is called a zip or begins as one.
func likeZip(name string) bool {
	if strings.EqualFold(path.Ext(filepath.ToSlash(name)), ".zip") {
		return true
	}
	f, err := os.Open(name)
	if err != nil {
		return false
	}
	defer f.Close()
	var head [2]byte
	n, _ := f.ReadAt(head[:], 0)
	return n == len(head) && string(head[:]) == "PK"
}

// Names lists the regular files by their path from the bag's root, sorted.
func (b *Bag) Names() []string {
	return sortedKeys(b.size)
}

// Has reports whether the bag has a regular file of this name, and its size in
// bytes.
func (b *Bag) Has(name string) (int64, bool) {
	size, ok := b.size[name]
	return size, ok
}

// Open opens one file by its path from the bag's root, "data/" included. Links
// are not followed. What a zip gives never exceeds the size Has states; its own
// sum of an entry is not held against it here but by Verify, so that damaged
// content can be looked at as it can in a folder.
//
// Errors: no such file (errors.Is fs.ErrNotExist); a damaged zip, while
// reading.
func (b *Bag) Open(name string) (io.ReadCloser, error) {
	if _, ok := b.size[name]; !ok {
		return nil, fmt.Errorf("the bag has no file %s: %w", shown(name), fs.ErrNotExist)
	}
	if e, ok := b.entry[name]; ok {
		return e.open()
	}
	return b.root.Open(name)
}

// anySum reads an entry of a zip to its end, whether or not it has the sum that the zip gives.
func anySum(f *zip.File) entryOf {
	return entryOf{f, func() (io.ReadCloser, error) {
		in, err := f.Open()
		if err != nil {
			return nil, err
		}
		return anySumReader{in}, nil
	}}
}

type anySumReader struct{ io.ReadCloser }

func (r anySumReader) Read(p []byte) (int, error) {
	n, err := r.ReadCloser.Read(p)
	if errors.Is(err, zip.ErrChecksum) {
		err = io.EOF
	}
	return n, err
}

func (b *Bag) listFolder() {
	n := 0
	err := fs.WalkDir(b.root.FS(), ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			b.found.add(Unreadable, name, cause(err).Error())
			return nil
		}
		if n++; n > MaxEntries {
			b.found.add(TooLarge, name, fmt.Sprintf("the bag holds more than %d names", MaxEntries))
			return fs.SkipAll
		}
		switch {
		case d.IsDir():
		case !d.Type().IsRegular():
			b.found.add(NotAFile, name, "a bag holds plain files only; this is a "+sortOf(d.Type()))
		default:
			fi, err := d.Info()
			if err != nil {
				b.found.add(Unreadable, name, cause(err).Error())
				return nil
			}
			b.size[name] = fi.Size()
		}
		return nil
	})
	if err != nil {
		b.found.add(Unreadable, ".", cause(err).Error())
	}
	if fi, err := b.root.Lstat("data"); err != nil || !fi.IsDir() {
		b.found.add(Missing, payloadFolder, "the folder of the payload is not there")
	}
}

func sortOf(m fs.FileMode) string {
	switch {
	case m&fs.ModeSymlink != 0:
		return "link"
	case m&fs.ModeDevice != 0:
		return "device"
	case m&fs.ModeNamedPipe != 0:
		return "pipe"
	case m&fs.ModeSocket != 0:
		return "socket"
	}
	return "thing of another sort"
}

// refusePath says why a path could lead out of the bag on some system, or
// nothing.
func refusePath(p string) string {
	switch {
	case p == "":
		return "the path is empty"
	case len(p) > MaxPath:
		return "the path is too long"
	case strings.HasPrefix(p, "/"):
		return "the path begins at the root of the file system"
	case strings.HasPrefix(p, "~"):
		return "the path begins with '~', which some programs take for a home folder"
	case strings.Contains(p, `\`):
		return `the path holds '\', which some systems take for '/'`
	case len(p) > 1 && p[1] == ':':
		return "the path begins with the letter of a drive"
	case strings.ContainsRune(p, 0):
		return "the path holds a zero byte"
	}
	for _, element := range strings.Split(p, "/") {
		if element == ".." {
			return "the path leads out of the bag by '..'"
		}
	}
	if path.Clean(p) != p {
		return "the path holds '.' or an empty part"
	}
	return ""
}

// cause is what the system said, without the path, which the caller names.
func cause(err error) error {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		return pe.Err
	}
	return err
}

func countOf(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
