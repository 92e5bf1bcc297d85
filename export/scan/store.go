package scan

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"traybook/events/atomicfile"
)

// Folder is where the originals stand, below the folder of the book.
const Folder = "scans"

// Stored says where an original stands.
type Stored struct {
	Info
	// Digest is the SHA-256 of the file, in hex.
	Digest string
	// Path is scans/ab/abcdef….jpg with "/", from the book's folder; of one kept by
	// reference the absolute path where it was found.
	Path string
	// ByReference: the original was left where it is.
	ByReference bool
	// Laid: no whole copy was there before.
	Laid bool
}

// errChanged: another program wrote to the file meanwhile.
var errChanged = errors.New("the file changed while it was read: try again when nothing writes to it")

// Store copies the picture src, as it is, below dir under its own digest, and
// gives its digest while copying. The copy is safe on the medium when Store
// returns. A picture that is there already is read again and left alone if it
// is whole, replaced if it is not; so Store may be repeated. Half copies of
// runs that were killed are cleared.
//
// By reference nothing is copied: the digest alone is taken.
//
// Whatever it holds is stored: who attaches it looks into it before. One of which the media type does not tell the ending
// keeps that of its own name, so that it can be opened by whoever knows its sort.
//
// Errors: src is empty, is not a plain file, is not readable or changes meanwhile; dir is missing, full or failing.
func Store(dir, src string, byReference bool) (s Stored, err error) {
	defer func() {
		if err != nil {
			s = Stored{}
		}
	}()
	fi, err := os.Stat(src)
	switch {
	case err != nil:
		return s, fmt.Errorf("cannot read %s: %w", src, cause(err))
	case !fi.Mode().IsRegular():
		return s, fmt.Errorf("%s is not a file: name a picture", src)
	}
	f, err := os.Open(src)
	if err != nil {
		return s, fmt.Errorf("cannot read %s: %w", src, cause(err))
	}
	defer f.Close()
	info, err := Inspect(f, fi.Size())
	if fi.Size() == 0 {
		return s, fmt.Errorf("%s: %w", src, err)
	}
	s.Info = info
	if s.Ext() == "" || info.MediaType == TIFF && err != nil && info.Memory == 0 {
		s.Ending = strings.ToLower(strings.TrimPrefix(filepath.Ext(src), "."))
	}
	if s.ByReference = byReference; byReference {
		if s.Path, err = filepath.Abs(src); err != nil {
			return s, fmt.Errorf("cannot read %s: %w", src, cause(err))
		}
		s.Digest, err = s.copy(io.Discard, f, src)
		return s, err
	}
	scans := filepath.Join(dir, Folder)
	if err := makeDir(dir, scans); err != nil {
		return s, err
	}
	err = atomicfile.WriteAs(scans, atomicfile.Private,
		func(w io.Writer) error { s.Digest, err = s.copy(w, f, src); return err },
		func() (string, error) {
			s.Path = PathOf(s.Digest, s.Info)
			path := filepath.Join(dir, filepath.FromSlash(s.Path))
			if err := makeDir(scans, filepath.Dir(path)); err != nil {
				return "", err
			}
			if there, err := DigestFile(path); err == nil && there == s.Digest {
				return "", atomicfile.SyncDir(filepath.Dir(path)) // its run may have died before
			}
			s.Laid = true
			return path, nil
		})
	return s, err
}

// PathOf is where Store keeps a picture of this digest and sort.
func PathOf(digest string, i Info) string {
	return Folder + "/" + digest[:2] + "/" + digest + i.Ext()
}

// copy copies the whole file and gives its digest.
func (s Stored) copy(w io.Writer, f *os.File, src string) (string, error) {
	h := sha256.New()
	n, err := io.Copy(io.MultiWriter(w, h), f)
	if err != nil {
		var pe *fs.PathError
		if errors.As(err, &pe) && pe.Path == f.Name() {
			return "", fmt.Errorf("cannot read %s: %w", src, cause(err))
		}
		return "", err
	}
	if n != s.Size {
		return "", fmt.Errorf("%s: %w", src, errChanged)
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

// DigestFile is the SHA-256 of a file, in hex, read as a stream.
//
// Errors: the file is missing or cannot be read.
func DigestFile(path string) (string, error) {
	f, err := atomicfile.OpenPlain(path)
	if err != nil {
		return "", fmt.Errorf("cannot read %s: %w", path, cause(err))
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return "", fmt.Errorf("cannot read %s: %w", path, cause(err))
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

// makeDir makes a private folder in parent, safe on the medium, if it is not
// there.
func makeDir(parent, dir string) error {
	err := os.Mkdir(dir, 0o700)
	switch {
	case err == nil:
		if err = atomicfile.SyncDir(parent); err != nil {
			os.Remove(dir) // so that the next run makes it anew, and makes it safe
		}
	case errors.Is(err, fs.ErrExist):
		return nil
	}
	if err != nil {
		return fmt.Errorf("cannot make the folder %s: %w", dir, cause(err))
	}
	return nil
}

// cause is what the system said, without the path, which the caller names.
func cause(err error) error {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		return pe.Err
	}
	return err
}
