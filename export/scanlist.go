package export

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"traybook/events"
	"traybook/export/scan"
)

// ScanSource is a book with the small pictures beside its chain.
type ScanSource interface {
	events.Reader
	events.Thumbnails
}

// How the original of a scan is found.
const (
	ScanWhole   = "whole"
	ScanMissing = "missing"
	ScanAltered = "altered"
)

// Scan is one attached scan and where its original should stand.
type Scan struct {
	Entry   events.Entry
	Data    *events.SheetAttachedData
	Picture events.Entity
	Sheet   string // as this book names it
	Kept    string // scans/ab/abcdef….jpg, where an original copied beside the book stands
	Path    string // where it was looked for on this machine, for an original left in its place that place
	Thumb   bool   // a small picture is kept
	State   string // ScanWhole …; "" before it was looked at
}

// ByReference says that the original was left in its place.
func (s *Scan) ByReference() bool { return !strings.HasSuffix(filepath.ToSlash(s.Path), s.Kept) }

// Scans lists the scans that count, in the order in which they were attached. dir is the book's folder.
func Scans(src ScanSource, dir string) ([]Scan, error) {
	found, err := src.Entries(events.Query{Kinds: []events.Kind{events.SheetAttached}})
	if err != nil {
		return nil, err
	}
	var out []Scan
	for _, e := range events.Fold(found) {
		data, ok := e.Data.(*events.SheetAttachedData)
		if !ok {
			continue
		}
		s := Scan{Entry: e, Data: data, Sheet: data.Sheet, Kept: scan.PathOf(data.SHA256, scan.Info{MediaType: data.Media})}
		if s.Picture, err = src.StreamOf(e.ID); err != nil {
			return nil, err
		}
		if _, part, ok := events.SplitSheet(data.Sheet); ok {
			s.Sheet = events.Sheet(s.Picture.Name, part)
		}
		s.Path = filepath.Join(dir, filepath.FromSlash(s.Kept))
		digest, err := events.ParseHash(data.SHA256)
		if err != nil {
			return nil, err
		}
		t, ok, err := src.Thumbnail(digest)
		if err != nil {
			return nil, err
		}
		if s.Thumb = ok; ok && t.Path != "" {
			if _, err := os.Lstat(s.Path); errors.Is(err, fs.ErrNotExist) {
				s.Path = t.Path
			}
		}
		out = append(out, s)
	}
	return out, nil
}

// Look reads the original and says whether it is what was attached.
//
// Errors: the medium fails; that the file is not there is no error but a state.
func (s *Scan) Look() error {
	if s.Path == events.PathForgotten {
		s.State = ScanMissing
		return nil
	}
	if info, err := os.Stat(s.Path); err == nil && info.Mode().IsRegular() && info.Size() != s.Data.Bytes {
		s.State = ScanAltered // however large it claims to be
		return nil
	}
	digest, err := scan.DigestFile(s.Path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		s.State = ScanMissing
	case err != nil:
		return err
	case digest != s.Data.SHA256:
		s.State = ScanAltered
	default:
		s.State = ScanWhole
	}
	return nil
}

// StrayScans lists the files of the folder of scans that no entry names, voided ones included: what a run that was
// killed left before it wrote its entry. Attaching the same file again takes them up.
func StrayScans(src events.Reader, dir string) ([]string, error) {
	found, err := src.Entries(events.Query{Kinds: []events.Kind{events.SheetAttached}})
	if err != nil {
		return nil, err
	}
	named := map[string]bool{}
	for _, e := range found {
		if d, ok := e.Data.(*events.SheetAttachedData); ok {
			named[d.SHA256] = true
		}
	}
	var out []string
	err = filepath.WalkDir(filepath.Join(dir, scan.Folder), func(path string, d fs.DirEntry, err error) error {
		if errors.Is(err, fs.ErrNotExist) {
			return nil
		}
		if err != nil || d.IsDir() {
			return err
		}
		stem := strings.TrimSuffix(d.Name(), filepath.Ext(d.Name()))
		if !named[stem] {
			rel, err := filepath.Rel(dir, path)
			if err != nil {
				return err
			}
			out = append(out, filepath.ToSlash(rel))
		}
		return nil
	})
	slices.Sort(out)
	return out, err
}
