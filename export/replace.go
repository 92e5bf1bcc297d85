package export

import (
	"archive/zip"
	"bufio"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"traybook/events"
	"traybook/events/atomicfile"
	"traybook/export/bag"
	"traybook/export/scan"
	"traybook/export/sheetcsv"
	"traybook/export/sheetxlsx"
)

// What an output may take the place of. The question is never what a file must not be, but whether it is an output of the
// same sort that the new one makes good: so a book, its log, a scan and another program's file are all safe, whatever
// they are called, and so is what stands in an output of another book.

// Holder is a book that can be asked for one entry.
type Holder interface {
	// Holds says whether the book has an entry: by its id, and by its hash too where one is given.
	Holds(id events.ID, hash events.Hash) (bool, error)
}

func notOurs(path, what string) error {
	return fmt.Errorf("%s is not %s, so it is not replaced: move it away, or name another place", path, what)
}

const beginOfPages = "%PDF-"

var listOfObjects = regexp.MustCompile(`startxref\s+(\d{1,18})\s+%%EOF\s*$`)

// MayReplacePages lets go of pages that this program made, and of an empty file. A book of pictures is long: what is read of it is
// its beginning, its end, and what stands before its list of objects, where its maker is named.
func MayReplacePages(old, _ string) error {
	f, err := os.Open(old)
	if err != nil {
		return err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return err
	}
	before := func(end int64) ([]byte, error) {
		const most = 1 << 16
		part := make([]byte, min(end, most))
		_, err := f.ReadAt(part, end-int64(len(part)))
		return part, err
	}
	head, err := before(min(info.Size(), int64(len(beginOfPages))))
	if err != nil {
		return err
	}
	tail, err := before(info.Size())
	if err != nil {
		return err
	}
	made := bytes.Contains(tail, []byte("traybook"))
	if m := listOfObjects.FindSubmatch(tail); m != nil && !made {
		if at, err := strconv.ParseInt(string(m[1]), 10, 64); err == nil && at <= info.Size() {
			if tail, err = before(at); err != nil {
				return err
			}
			made = bytes.Contains(tail, []byte("traybook"))
		}
	}
	if info.Size() > 0 && (string(head) != beginOfPages || !made) {
		return notOurs(old, "a log or a sheet of labels that traybook wrote")
	}
	return nil
}

// MayReplaceTable lets go of a table that this program made, and of an empty file: its header has columns that a table
// of this program has, and no other.
func MayReplaceTable(old, _ string) error {
	f, err := os.Open(old)
	if err != nil {
		return err
	}
	defer f.Close()
	head, err := bufio.NewReader(io.LimitReader(f, 1<<16)).ReadString('\n')
	if err != nil && !errors.Is(err, io.EOF) {
		return err
	}
	columns := strings.Split(strings.TrimRight(head, "\r\n"), ",")
	if head == "" || slices.ContainsFunc(tables, func(t anyTable) bool { return hasColumns(t, columns) }) {
		return nil
	}
	return notOurs(old, "a table that traybook wrote")
}

// hasColumns says whether a table has each of some columns. An earlier version's may have had fewer.
func hasColumns(t anyTable, columns []string) bool {
	for _, c := range columns {
		if !slices.ContainsFunc(t.describe().Columns, func(x sheetcsv.Column) bool { return x.Name == c }) {
			return false
		}
	}
	return true
}

// MayReplaceWorkbook lets go of a workbook that this program made, and of an empty file.
func MayReplaceWorkbook(old, _ string) error {
	if info, err := os.Stat(old); err != nil || info.Size() == 0 {
		return err
	}
	theirs := notOurs(old, "a workbook that traybook wrote")
	z, err := zip.OpenReader(old)
	if err != nil {
		return theirs
	}
	defer z.Close()
	f, err := z.Open("docProps/app.xml")
	if err != nil {
		return theirs
	}
	defer f.Close()
	if text, err := io.ReadAll(io.LimitReader(f, 1<<16)); err != nil || !bytes.Contains(text, []byte(sheetxlsx.Application)) {
		return theirs
	}
	return nil
}

// mayReplacePackage lets go of a description of tables that this program made, and of an empty file.
func mayReplacePackage(old string) error {
	raw, err := os.ReadFile(old)
	if err != nil || len(raw) == 0 || bytes.Contains(raw, []byte(`"name": "`+packageName+`"`)) {
		return err
	}
	return notOurs(old, "a description of tables that traybook wrote")
}

// MayReplaceTables lets go of a folder that holds tables of this program, with their description, and nothing else.
func MayReplaceTables(old, _ string) error {
	inside, err := os.ReadDir(old)
	if err != nil {
		return err
	}
	for _, e := range inside {
		path := filepath.Join(old, e.Name())
		if e.Type().IsRegular() && e.Name() == PackageFile {
			if err := mayReplacePackage(path); err != nil {
				return err
			}
			continue
		}
		if !e.Type().IsRegular() || !slices.Contains(TableNames(), e.Name()) {
			return fmt.Errorf("%s holds %s, which would be lost: move it away, or name another folder", old, e.Name())
		}
		if err := MayReplaceTable(path, ""); err != nil {
			return err
		}
	}
	return nil
}

// MayReplaceLines lets go of a file of entries all of which the book holds, and of an empty file.
func MayReplaceLines(book Holder) atomicfile.May {
	return func(old, _ string) error {
		f, err := os.Open(old)
		if err != nil {
			return err
		}
		defer f.Close()
		if err := allHeld(f, book); err != nil {
			return fmt.Errorf("%s %w, so it is not replaced: move it away, or name another place", old, err)
		}
		return nil
	}
}

// allHeld says what there is in lines of entries that the book does not hold.
func allHeld(in io.Reader, book Holder) error {
	for l, err := range events.ReadLines(in) {
		if err != nil {
			return fmt.Errorf("is no file of entries (%w)", err)
		}
		held, err := book.Holds(l.ID, l.Hash)
		if err != nil {
			return err
		}
		if !held {
			return fmt.Errorf("holds an entry that this book does not (line %d)", l.N)
		}
	}
	return nil
}

// mayReplace says why the archive at path may not go for this one: it is none, holds what it did not list, does not tell
// what made it or what entries it holds, or holds entries or scans that would be nowhere else.
func (a *archive) mayReplace(path string) error {
	if fi, err := os.Stat(path); err == nil && fi.Mode().IsRegular() && fi.Size() == 0 {
		return nil
	}
	r, empty, err := bag.Replaceable(path)
	if err != nil || empty {
		return err
	}
	if !strings.HasPrefix(r.Value("Bag-Software-Agent"), "traybook ") {
		return notOurs(path, "an archive that traybook wrote")
	}
	b, err := bag.Open(path)
	if err != nil {
		return err
	}
	defer b.Close()
	if _, ok := b.Has(dataFolder + archiveEvents); !ok {
		return fmt.Errorf("%s has lost %s, so nothing tells whether this book holds what it holds, and it is not replaced: move it away, or name another place", path, dataFolder+archiveEvents)
	}
	in, err := b.Open(dataFolder + archiveEvents)
	if err != nil {
		return err
	}
	defer in.Close()
	if err := allHeld(in, a.src); err != nil {
		return fmt.Errorf("%s %w, so it is not replaced: merge the book it was made from, move it away, or name another place", path, err)
	}
	return a.scansHeld(path, b)
}

// scansHeld wants each scan of an old archive in the new one or whole at its place.
func (a *archive) scansHeld(path string, b *bag.Bag) error {
	whole := map[string]bool{}
	for _, s := range a.scans {
		whole[s.Data.SHA256] = whole[s.Data.SHA256] || s.State == ScanWhole
	}
	attached, err := attachedEver(a.src)
	if err != nil {
		return err
	}
	for _, name := range b.Names() {
		if !strings.HasPrefix(name, dataFolder+scan.Folder+"/") {
			continue
		}
		digest, err := digestOf(b, name)
		if err != nil {
			return err
		}
		if strings.HasSuffix(name, ".xmp") && !attached[digest] { // what the program said of a scan
			continue
		}
		if !whole[digest] {
			if whole[digest], err = a.standsBeside(digest); err != nil {
				return err
			}
		}
		if !whole[digest] {
			return fmt.Errorf("%s holds %s, a scan that stands nowhere else: move the archive away, or name another place", path, name)
		}
	}
	return nil
}

// standsBeside says whether a scan of the book is whole at its place.
func (a *archive) standsBeside(digest string) (bool, error) {
	all, err := Scans(a.src, a.o.Dir)
	for i := range all {
		if err == nil && all[i].Data.SHA256 == digest {
			if err = all[i].Look(); err == nil && all[i].State == ScanWhole {
				return true, nil
			}
		}
	}
	return false, err
}

func digestOf(b *bag.Bag, name string) (string, error) {
	in, err := b.Open(name)
	if err != nil {
		return "", err
	}
	defer in.Close()
	h := sha256.New()
	if _, err := io.Copy(h, in); err != nil {
		return "", err
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}
