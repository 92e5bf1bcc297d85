package export

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"traybook/events"
	"traybook/events/atomicfile"
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
	Name    string // 2026-001n.jpg, how an archive calls it; each scan has its own
	Path    string // where it was looked for on this machine, for an original left in its place that place
	Thumb   bool   // a small picture is kept
	State   string // ScanWhole …; "" before it was looked at

	ByReference bool // the original was left in its place
}

// Originals are those that stand beside a book: under their digests or, beside the copy of the book in an archive, by name.
type Originals struct {
	dir      string
	archived func() map[string][]string // files by their digests, as the archive's own table lists them
}

// OriginalsIn are those beside a book in the folder dir. The table of an archive is read when it is first asked for.
func OriginalsIn(dir string) Originals {
	return Originals{dir, sync.OnceValue(func() map[string][]string { return archivedScans(dir) })}
}

// Path is where an original stands, or would stand where it is missing.
func (o Originals) Path(s *Scan) string {
	kept := filepath.Join(o.dir, filepath.FromSlash(s.Kept))
	if _, err := os.Lstat(kept); err == nil {
		return kept
	}
	if names := o.archived()[s.Data.SHA256]; len(names) > 0 { // one file may be the scan of two sheets
		return filepath.Join(o.dir, filepath.FromSlash(names[0]))
	}
	return kept
}

// Stands says whether there is a file where the original of a scan that is kept beside the book should stand. Its bytes are not read.
func (o Originals) Stands(x *events.SheetAttachedData) bool {
	info, err := os.Stat(o.Path(&Scan{Data: x, Kept: keptAt(x)}))
	return err == nil && info.Mode().IsRegular()
}

func keptAt(x *events.SheetAttachedData) string {
	return scan.PathOf(x.SHA256, scan.Info{MediaType: x.Media, Ending: x.Ending})
}

// archivedScans reads the table of scans beside the copy of the book in an archive; nil where there is none. What it names is
// believed by its digest alone.
func archivedScans(dir string) map[string][]string {
	f, err := atomicfile.OpenPlain(filepath.Join(dir, filepath.FromSlash(archiveScans)))
	if err != nil {
		return nil
	}
	defer f.Close()
	records, err := csv.NewReader(f).ReadAll()
	if err != nil || len(records) == 0 {
		return nil
	}
	file, digest := slices.Index(records[0], "file"), slices.Index(records[0], "sha256")
	if file < 0 || digest < 0 {
		return nil
	}
	out := map[string][]string{}
	for _, r := range records[1:] {
		if name := r[file]; filepath.IsLocal(filepath.FromSlash(name)) {
			out[r[digest]] = append(out[r[digest]], name)
		}
	}
	return out
}

// nameScans calls each scan after its sheet: 2026-001n.jpg, 2026-001n-inverted.jpg, and from the second on 2026-001n-2.jpg, whatever the
// ending. The second of two joined books that gave one name is 2026-001n_2.
func nameScans(scans []Scan) {
	taken := map[string]string{} // digests by the stems of names
	for i := range scans {
		s := &scans[i]
		first := strings.ReplaceAll(s.Sheet, "@", "_")
		if s.Data.Of == "inverted" {
			first += "-inverted"
		}
		stem := first
		for n := 2; taken[stem] != "" && taken[stem] != s.Data.SHA256; n++ {
			stem = fmt.Sprintf("%s-%d", first, n)
		}
		taken[stem] = s.Data.SHA256
		s.Name = stem + path.Ext(s.Kept)
	}
}

// Scans lists the scans that count, in the order in which they were attached. dir is the book's folder.
func Scans(src ScanSource, dir string) ([]Scan, error) {
	found, err := src.Entries(events.Query{Kinds: []events.Kind{events.SheetAttached}})
	if err != nil {
		return nil, err
	}
	var out []Scan
	beside := OriginalsIn(dir)
	for _, e := range events.Fold(found) {
		data, ok := e.Data.(*events.SheetAttachedData)
		if !ok {
			continue
		}
		s := Scan{Entry: e, Data: data, Sheet: data.Sheet, Kept: keptAt(data)}
		if s.Picture, err = src.StreamOf(e.ID); err != nil {
			return nil, err
		}
		if _, part, ok := events.SplitSheet(data.Sheet); ok {
			s.Sheet = events.Sheet(s.Picture.Name, part)
		}
		s.Path = beside.Path(&s)
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
				s.Path, s.ByReference = t.Path, true
			}
		}
		out = append(out, s)
	}
	nameScans(out)
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

// attachedEver are the digests of all that was ever attached, voided entries included.
func attachedEver(src events.Reader) (map[string]bool, error) {
	found, err := src.Entries(events.Query{Kinds: []events.Kind{events.SheetAttached}})
	digests := map[string]bool{}
	for _, e := range found {
		if d, ok := e.Data.(*events.SheetAttachedData); ok {
			digests[d.SHA256] = true
		}
	}
	return digests, err
}

// StrayScans lists the files of the folder of scans that no entry names, voided ones included: what a run that was
// killed left before it wrote its entry. Attaching the same file again takes them up.
func StrayScans(src events.Reader, dir string) ([]string, error) {
	named, err := attachedEver(src)
	if err != nil {
		return nil, err
	}
	for _, names := range archivedScans(dir) {
		for _, name := range names {
			named[strings.TrimSuffix(path.Base(name), path.Ext(name))] = true
		}
	}
	var out []string
	err = filepath.WalkDir(filepath.Join(dir, scan.Folder), func(at string, d fs.DirEntry, err error) error {
		if errors.Is(err, fs.ErrNotExist) {
			return nil
		}
		if err != nil || d.IsDir() {
			return err
		}
		stem := strings.TrimSuffix(d.Name(), ".xmp") // which describes the scan beside it
		stem = strings.TrimSuffix(stem, filepath.Ext(stem))
		if !named[stem] {
			rel, err := filepath.Rel(dir, at)
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
