package main

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/line"
	"traybook/events/atomicfile"
	"traybook/events/sqlite"
	"traybook/export"
	"traybook/export/scan"
)

// mayStand refuses a place that belongs to a book, whatever is there now and however its path is written: the book
// itself, what SQLite keeps beside it, its folder of scans. It is asked before anything is made. What may be replaced by
// an output, where a file of the same sort stands there, the rules of package export say.
func mayStand(env *Env, c *cli.Context, out string) error {
	real, err := realPath(out)
	if err != nil {
		return nil // who makes it says what is wrong with its folder
	}
	const advice = "name another place"
	book, _ := bookPath(env, c)
	for _, end := range []string{"-wal", "-shm", "-journal"} {
		if book != "" && samePlace(real, book+end) {
			return line.Refuse(advice, "%s is where the book %s has its log", out, book)
		}
	}
	if of := sqlite.CompanionOf(real); of != "" {
		return line.Refuse(advice, "%s is where the book %s has its log", out, of)
	}
	if folder := bookOfScans(real, book); folder != "" {
		return line.Refuse(advice, "%s lies in %s, where a book keeps its scans", out, filepath.Join(folder, scan.Folder))
	}
	return nil
}

// realPath is the whole path of a file that may not be there, with the links in its folder followed.
func realPath(path string) (string, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return "", err
	}
	dir, err := filepath.EvalSymlinks(filepath.Dir(abs))
	if err != nil {
		return "", err
	}
	return filepath.Join(dir, filepath.Base(abs)), nil
}

// samePlace says whether two paths name one place: by the file that is there, else by their spelling.
func samePlace(a, b string) bool {
	x, err1 := os.Stat(a)
	y, err2 := os.Stat(b)
	if err1 == nil && err2 == nil {
		return os.SameFile(x, y)
	}
	real, err := realPath(b)
	return err == nil && strings.EqualFold(a, real)
}

// bookOfScans is the folder of a book in whose scans a path lies, or whose scans it would be; "" for none.
func bookOfScans(real, book string) string {
	for at := real; ; at = filepath.Dir(at) {
		dir := filepath.Dir(at)
		if strings.EqualFold(filepath.Base(at), scan.Folder) && (book != "" && samePlace(dir, filepath.Dir(book)) || holdsABook(dir)) {
			return dir
		}
		if dir == at {
			return ""
		}
	}
}

// holdsABook says whether one of the files in a folder is a book.
func holdsABook(dir string) bool {
	names, _ := os.ReadDir(dir)
	for _, e := range names {
		if e.Type().IsRegular() && sqlite.IsBook(filepath.Join(dir, e.Name())) {
			return true
		}
	}
	return false
}

// writeOutput makes one file at a place that the command line names. rule says what may go for it with --force.
func writeOutput(env *Env, c *cli.Context, out string, rule atomicfile.May, fill func(io.Writer) error) error {
	if err := mayStand(env, c, out); err != nil {
		return err
	}
	if !c.Bool("force") {
		rule = nil
	}
	err := placeTaken(atomicfile.Write(out, rule, atomicfile.Private, fill), out)
	env.written = env.written || err == nil
	return err
}

// placeTaken says what to do where something stands in the way of what --force may replace.
func placeTaken(err error, out string) error {
	if errors.Is(err, fs.ErrExist) {
		return thereAlready(out, true)
	}
	return err
}

// thereAlready refuses a place where something stands. replaced says that --force would let it go.
func thereAlready(out string, replaced bool) error {
	advice := "name another place"
	if replaced {
		advice += ", or replace it with --force"
	}
	return line.Refuse(advice, "%s is there already", out)
}

// mayReplaceLines lets go of a file of entries that the book holds.
func mayReplaceLines(env *Env, c *cli.Context) atomicfile.May {
	return func(old, fresh string) error {
		return withBook(env, c, true, func(book *sqlite.Book) error {
			return book.Read(func(tx *sqlite.Tx) error { return export.MayReplaceLines(tx)(old, fresh) })
		})
	}
}
