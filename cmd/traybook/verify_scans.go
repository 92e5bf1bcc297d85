package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"traybook/events"
	"traybook/events/sqlite"
	"traybook/export"
	"traybook/export/scan"
	"traybook/projections"
)

// scanFindings looks at the original of every scan that counts. dir is the book's folder. Missing and altered is damage.
// An original that was left in its own place may be on a disk that is not plugged in, and a book that was copied or saved
// to another folder stands away from all of them: that is only noted.
func scanFindings(tx *sqlite.Tx, dir string) (problems, notes []export.Finding, err error) {
	scans, err := export.Scans(tx, dir)
	if err != nil {
		return nil, nil, err
	}
	_, err = os.Stat(filepath.Join(dir, scan.Folder))
	away := errors.Is(err, fs.ErrNotExist)
	apart := map[string]bool{} // files that would stand in the folder that is not there
	for i := range scans {
		s := &scans[i]
		id := s.Entry.ID.String()
		if away && !s.ByReference() {
			apart[s.Kept] = true
			continue
		}
		if err := s.Look(); err != nil {
			problems = append(problems, export.Finding{Kind: "scan", Entry: id, Text: fmt.Sprintf("the scan of %s: %s", s.Sheet, err)})
			continue
		}
		switch {
		case s.Path == events.PathForgotten:
			notes = append(notes, export.Finding{Kind: "scan", Entry: id,
				Text: fmt.Sprintf("where the scan of %s was left is forgotten, for its path held the name of an erased sitter; attach it again from a place without", s.Sheet)})
		case s.State == export.ScanMissing && s.ByReference():
			notes = append(notes, export.Finding{Kind: "scan", Entry: id, Text: fmt.Sprintf("the scan of %s is not where it was left, at %s", s.Sheet, s.Path)})
		case s.State == export.ScanMissing:
			problems = append(problems, export.Finding{Kind: "scan", Entry: id,
				Text: fmt.Sprintf("the scan of %s, %s, is missing; attach it again from another copy", s.Sheet, shortPath(s.Kept))})
		case s.State == export.ScanAltered:
			problems = append(problems, export.Finding{Kind: "scan", Entry: id,
				Text: fmt.Sprintf("the scan of %s, %s, was altered; attach it again from another copy", s.Sheet, shortPath(s.Path))})
		case !s.Thumb:
			notes = append(notes, export.Finding{Kind: "scan", Entry: id,
				Text: fmt.Sprintf("no small picture of %s is kept; attaching the scan again makes it, unless it is too large to be decoded", s.Sheet)})
		}
	}
	if n := len(apart); n > 0 {
		are := "are"
		if n == 1 {
			are = "is"
		}
		notes = append(notes, export.Finding{Kind: "scan", Text: fmt.Sprintf("%s %s not beside this book, for there is no folder %s in %s; copy it from beside the book that this one was made from, or attach them again",
			projections.CountOf(n, "scan"), are, scan.Folder, dir)})
	}
	strays, err := export.StrayScans(tx, dir)
	if err != nil {
		return nil, nil, err
	}
	for _, name := range strays {
		notes = append(notes, export.Finding{Kind: "scan", Text: name + " belongs to no entry: a run was stopped before it wrote one; attach it again, or take it away"})
	}
	return problems, notes, nil
}
