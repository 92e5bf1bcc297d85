package export

import (
	"bufio"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"traybook"
	"traybook/events"
	"traybook/events/atomicfile"
	"traybook/export/bag"
	"traybook/export/sidecar"
	"traybook/projections/wording"
)

// ArchiveSource is a book with all that stands beside its chain.
type ArchiveSource interface {
	Source
	Holder
	events.Thumbnails
	Sitters() ([]events.SitterRow, error)
	// Pages writes the log as printed pages.
	Pages(w io.Writer) error
}

// ChainHead is the end of one chain.
type ChainHead struct {
	Book events.ID
	Seq  int64
	Hash events.Hash
}

func (h ChainHead) String() string { return fmt.Sprintf("%s %d %s", h.Book, h.Seq, h.Hash) }

// ArchiveOptions say what an archive is made of.
type ArchiveOptions struct {
	AsOf     time.Time      // the moment of tables and pages; the day that the bag bears
	Scope    Scope          // narrows tables, pages and scans; the entries and the copy of the book are always whole
	Heads    []ChainHead    // in the order of the chains
	Program  string         // name and version
	Zones    string         // version of the time zone data
	Dir      string         // the book's folder
	Zip      bool           // one zip file instead of a folder
	Force    bool           // replace an archive of this book that is there
	Sidecars sidecar.Naming // of the descriptions beside scans
	EvenSo   bool           // leave out scans that are missing or altered
	// Progress is told after each step of so many, nil for nobody.
	Progress func(done, of int)
}

// The names that everything has in the bag, below data/.
const (
	archiveReadme  = "readme.txt"
	archiveFormat  = "format.md"
	archiveKinds   = "kinds.md"
	kindsSchema    = "kinds.schema.json"
	archiveReader  = "reader.py"
	archiveEvents  = "events.ndjson"
	archiveBook    = "book.db"
	archiveSchema  = "tables/schema.md"
	archivePackage = "tables/" + PackageFile
	archiveEntries = "tables/entries.csv"
	archiveScans   = "tables/scans.csv"
	archiveSitters = "tables/sitters.csv"
	archivePDF     = "log.pdf"
	thumbFolder    = "thumbnails"
)

// explaining are the parts that are the same in every bag: how to read the others without the program.
var explaining = []struct{ name, text string }{
	{archiveFormat, traybook.Format}, {archiveKinds, traybook.Kinds}, {kindsSchema, traybook.KindsSchema}, {archiveReader, traybook.Reader},
}

// The labels of bag-info.txt that the verifier reads again.
const (
	labelHead    = "Chain-Head"
	labelEntries = "Entry-Count"
	labelScope   = "Scope"
)

// Archived counts what an archive holds.
type Archived struct {
	Files, Entries, Scans int
	Bytes                 int64
	Missing               []Scan // left out: missing or altered
	Owner                 Owner
}

var (
	thereAlready  = wording.Refuses("there-already", "{path} is there already", "name another place, or replace it with --force")
	scansNotWhole = wording.Refuses("scans-not-whole", "scans are not as they were attached: {scans}", "attach them again from another copy, or archive without them with --even-so")
)

// Archive makes the bag at path, whole or not at all. withCopy makes a checked copy of the book as a file and gives what
// reads it, so that every part of the bag is of one state; the book itself is free meanwhile.
//
// Errors: path exists and Force is not given (errors.Is fs.ErrExist); a scan is missing or altered and EvenSo is not
// given; what the book or the medium fails with.
func Archive(path string, o ArchiveOptions, copyBook func(path string) error, read func(path string, f func(ArchiveSource, []ChainHead) error) error) (Archived, error) {
	var done Archived
	if err := atomicfile.Clear(path); err != nil {
		return done, err
	}
	var may atomicfile.May // of nothing
	if _, err := os.Lstat(path); err == nil {
		if !o.Force {
			return done, thereAlready.Refuse(path)
		}
		if may, err = atomicfile.Seen(path); err != nil {
			return done, err
		}
	}
	// What the bag is made of grows beside it, so that it is on the same medium.
	work, err := atomicfile.Beside(path)
	if err != nil {
		return done, err
	}
	defer work.Drop()
	copied := filepath.Join(work.Dir, archiveBook)
	stands := func(err error) error {
		return &elsewhere{&elsewhere{err, copied, filepath.Join(path, "data", archiveBook)}, work.Dir, path}
	}
	if err := copyBook(copied); err != nil {
		return done, stands(err)
	}
	a := &archive{o: o, dir: work.Dir}
	if err := read(copied, func(src ArchiveSource, heads []ChainHead) error {
		a.src, a.o.Heads = src, heads
		if may != nil {
			a.replaces = path
		}
		return a.gather()
	}); err != nil {
		return done, stands(err)
	}
	a.file(archiveBook, copied)
	w, err := a.write(path, may)
	if err != nil {
		return done, stands(err)
	}
	done = a.done
	done.Owner = a.owner
	done.Files, done.Bytes = w.Files, w.Bytes
	return done, nil
}

// elsewhere is an error that names a file where it will stand, not where it grew.
type elsewhere struct {
	error
	from, to string
}

func (e *elsewhere) Error() string { return e.told(e.error.Error()) }

func (e *elsewhere) Unwrap() error { return e.error }

func (e *elsewhere) told(text string) string { return strings.ReplaceAll(text, e.from, e.to) }

// As gives a refusal within with the same name in what it says to do.
func (e *elsewhere) As(target any) bool {
	no, ok := target.(**wording.Refusal)
	if !ok || !errors.As(e.error, no) {
		return false
	}
	moved := **no
	moved.Fields = slices.Clone(moved.Fields)
	for i, f := range moved.Fields {
		if text, ok := f.(string); ok {
			moved.Fields[i] = e.told(text)
		}
	}
	*no = &moved
	return true
}

// archive is one bag in the making.
type archive struct {
	src      ArchiveSource
	o        ArchiveOptions
	dir      string // what is made on the way
	replaces string // what stands where it is to stand, "" for nothing
	payload  []bag.Payload
	scans    []Scan // of the scope
	owner    Owner
	sitters  int
	done     Archived
	steps    int
	allSteps int
}

func (a *archive) file(name, path string) { a.payload = append(a.payload, bag.File(name, path)) }

func (a *archive) step() {
	if a.steps++; a.o.Progress != nil {
		a.o.Progress(a.steps, a.allSteps)
	}
}

// made writes one part into the work folder and puts it into the bag.
func (a *archive) made(name string, fill func(io.Writer) error) error {
	path := filepath.Join(a.dir, filepath.FromSlash(name))
	if err := atomicfile.MkdirAll(a.dir, filepath.Dir(filepath.FromSlash(name))); err != nil {
		return err
	}
	f, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, atomicfile.Private)
	if err != nil {
		return err
	}
	b := bufio.NewWriterSize(f, 1<<16)
	err = fill(b)
	if err == nil {
		err = b.Flush()
	}
	if shut := f.Close(); err == nil {
		err = shut
	}
	if err != nil {
		return fmt.Errorf("%s cannot be written: %w", name, err)
	}
	a.file(name, path)
	a.step()
	return nil
}

// gather makes every part but the book's copy.
func (a *archive) gather() error {
	tables, err := NewTables(a.src, a.o.AsOf, a.o.Scope, TableOptions{})
	if err != nil {
		return err
	}
	if a.owner, err = OwnerOf(a.src); err != nil {
		return err
	}
	if err := a.findScans(tables.chosen); err != nil {
		return err
	}
	sitters, err := a.src.Sitters()
	if err != nil {
		return err
	}
	if a.replaces != "" {
		if err := a.mayReplace(a.replaces); err != nil {
			return err
		}
	}
	a.allSteps = len(TableNames()) + 7 + len(explaining) + len(a.scans)
	if err := a.made(archiveEvents, func(w io.Writer) (err error) { a.done.Entries, err = Lines(a.src, w); return err }); err != nil {
		return err
	}
	for _, name := range TableNames() {
		if err := a.made("tables/"+name, func(w io.Writer) error { _, err := tables.Write(name, w); return err }); err != nil {
			return err
		}
	}
	if err := a.made(archiveScans, func(w io.Writer) error { _, err := scansTable.records(tables.asCSV(w), eachRow(a.scans)); return err }); err != nil {
		return err
	}
	if err := a.made(archiveSitters, func(w io.Writer) (err error) {
		a.sitters, err = sittersTable.records(tables.asCSV(w), eachRow(sitters))
		return err
	}); err != nil {
		return err
	}
	if err := a.made(archiveSchema, func(w io.Writer) error { _, err := io.WriteString(w, SchemaPage(scansTable, sittersTable)); return err }); err != nil {
		return err
	}
	if err := a.made(archivePackage, func(w io.Writer) error { return tables.WritePackage(w, scansTable, sittersTable) }); err != nil {
		return err
	}
	if err := a.addPictures(); err != nil {
		return err
	}
	if err := a.made(archivePDF, a.src.Pages); err != nil {
		return err
	}
	for _, x := range explaining {
		if err := a.made(x.name, func(w io.Writer) error { _, err := io.WriteString(w, x.text); return err }); err != nil {
			return err
		}
	}
	return a.made(archiveReadme, a.writeReadme)
}

// findScans chooses the scans of the scope and looks at each.
func (a *archive) findScans(chosen *Selection) error {
	all, err := Scans(a.src, a.o.Dir)
	if err != nil {
		return err
	}
	inside := map[int64]bool{}
	for _, p := range chosen.pictures {
		inside[p.ID] = true
	}
	for _, s := range all {
		if !inside[s.Picture.ID] || !a.o.AsOf.IsZero() && s.Entry.At.After(a.o.AsOf) {
			continue
		}
		if err := s.Look(); err != nil {
			return err
		}
		if s.State != ScanWhole {
			a.done.Missing = append(a.done.Missing, s)
		}
		a.scans = append(a.scans, s)
	}
	a.done.Scans = len(a.scans) - len(a.done.Missing)
	if len(a.done.Missing) > 0 && !a.o.EvenSo {
		var names []string
		for _, s := range a.done.Missing {
			names = append(names, s.Sheet+" ("+s.State+")")
		}
		return scansNotWhole.Refuse(names)
	}
	return nil
}

// write closes the bag.
func (a *archive) write(path string, may atomicfile.May) (bag.Written, error) {
	c := bag.Contents{Info: a.info(), Payload: a.payload}
	if a.o.Zip {
		return bag.WriteZip(path, may, c)
	}
	return bag.WriteDir(path, may, c)
}

// info is bag-info.txt. The day is that of the moment archived, not of the clock: the same book gives the same bag.
func (a *archive) info() []bag.Label {
	out := append(ownerLabels(a.owner), []bag.Label{
		{Name: "Bagging-Date", Value: a.o.AsOf.Format(time.DateOnly)},
		{Name: "Bag-Software-Agent", Value: a.o.Program},
		{Name: "External-Description", Value: "lab notebook of a camera with its darkroom inside: entries, tables, pages, scans and the book"},
	}...)
	if len(a.o.Heads) > 0 {
		out = append(out, bag.Label{Name: "External-Identifier", Value: a.o.Heads[0].Book.String()})
	}
	out = append(out, bag.Label{Name: labelScope, Value: a.o.Scope.String()},
		bag.Label{Name: "As-Of", Value: events.FormatTime(a.o.AsOf)},
		bag.Label{Name: "Time-Zone-Data", Value: a.o.Zones},
		bag.Label{Name: labelEntries, Value: fmt.Sprint(a.done.Entries)})
	for _, h := range a.o.Heads {
		out = append(out, bag.Label{Name: labelHead, Value: h.String()})
	}
	return out
}

// checked is a payload copied from an original that must still have its digest when it is copied.
func checked(name, path, digest string) bag.Payload {
	return bag.Payload{Name: name, Write: func(w io.Writer) error {
		f, err := atomicfile.OpenPlain(path)
		if err != nil {
			return err
		}
		defer f.Close()
		h := sha256.New()
		if _, err := io.Copy(io.MultiWriter(w, h), f); err != nil {
			return err
		}
		if hex.EncodeToString(h.Sum(nil)) != digest {
			return fmt.Errorf("%s changed while it was copied; try again when nothing writes to it", path)
		}
		return nil
	}}
}
