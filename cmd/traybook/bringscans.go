package main

import (
	"os"
	"path/filepath"

	"traybook/events/sqlite"
	"traybook/export"
	"traybook/export/scan"
)

// keptScans counts the scans whose originals stand beside the book. dir is the book's folder.
func keptScans(tx *sqlite.Tx, dir string) (int64, error) {
	scans, err := export.Scans(tx, dir)
	seen := map[string]bool{} // one file may be the scan of two sheets
	for i := range scans {
		if !scans[i].ByReference() {
			seen[scans[i].Kept] = true
		}
	}
	return int64(len(seen)), err
}

// bringScans copies the originals that the book names and lacks from beside another book, and counts those copied and
// those that stand beside neither.
func bringScans(book *sqlite.Book, from string) (brought, absent int, err error) {
	dir := filepath.Dir(book.Path())
	var scans []export.Scan
	if err := book.Read(func(tx *sqlite.Tx) (err error) {
		scans, err = export.Scans(tx, dir)
		return err
	}); err != nil {
		return 0, 0, err
	}
	for i := range scans {
		s := &scans[i]
		if s.ByReference() || there(filepath.Join(dir, filepath.FromSlash(s.Kept))) {
			continue
		}
		other := filepath.Join(from, filepath.FromSlash(s.Kept))
		if !there(other) {
			absent++
			continue
		}
		if _, err := scan.Store(dir, other, false); err != nil {
			return brought, absent, err
		}
		brought++
	}
	return brought, absent, nil
}

func there(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}
