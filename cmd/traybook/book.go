package main

import (
	"errors"
	"fmt"
	"path/filepath"
	"runtime"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/line"
	"traybook/events/sqlite"
	"traybook/projections/snapshot"
)

// bookPath is the file of the book: --book, else TRAYBOOK_BOOK, else book.db in the place where the system keeps a
// person's data.
func bookPath(env *Env, c *cli.Context) (string, error) {
	if c.IsSet("book") {
		if p := c.String("book"); p != "" {
			return p, nil
		}
		return "", line.WrongLinef("write --book FILE", "--book names no file")
	}
	if p := env.getenv("TRAYBOOK_BOOK"); p != "" {
		return p, nil
	}
	return homeBook(system, env.getenv)
}

// system is the one that the program was built for.
const system = runtime.GOOS

// homeBook is the book's place at home. XDG_DATA_HOME counts where it is absolute, as its specification has it.
func homeBook(system string, getenv func(string) string) (string, error) {
	if dir := getenv("XDG_DATA_HOME"); filepath.IsAbs(dir) {
		return filepath.Join(dir, "traybook", "book.db"), nil
	}
	home, below := getenv("HOME"), []string{".local", "share"}
	switch system {
	case "darwin":
		below = []string{"Library", "Application Support"}
	case "windows":
		home, below = getenv("LOCALAPPDATA"), nil
	}
	if home == "" {
		return "", line.Refuse("name it with --book FILE or TRAYBOOK_BOOK", "no place for the book is known, for there is no home folder")
	}
	return filepath.Join(append(append([]string{home}, below...), "traybook", "book.db")...), nil
}

// bookOptions say how books are opened; the one place that names the folding of views.
func bookOptions(readOnly bool) sqlite.Options {
	return sqlite.Options{Folder: snapshot.Folder{}, ReadOnly: readOnly}
}

func noBookAt(path string) error {
	return line.Refuse("traybook init makes one there; --book FILE names another", "there is no book at %s", path)
}

// openBook opens the book that the command line names. The caller closes it.
func openBook(env *Env, c *cli.Context, readOnly bool) (*sqlite.Book, error) {
	path, err := bookPath(env, c)
	if err != nil {
		return nil, err
	}
	options := bookOptions(readOnly)
	options.Committing = env.committing
	book, err := sqlite.Open(path, options)
	if errors.Is(err, sqlite.ErrNoBook) {
		return nil, noBookAt(path)
	}
	if err == nil && book.Former() != "" {
		fmt.Fprintf(env.Err, "the book was of an older layout and was taken up; as it was it lies at %s\n", book.Former())
	}
	return book, err
}

// withBook hands the opened book to f and closes it after; the first error counts.
func withBook(env *Env, c *cli.Context, readOnly bool, f func(*sqlite.Book) error) error {
	if env.together() {
		return f(env.page.book)
	}
	book, err := openBook(env, c, readOnly)
	if err != nil {
		return err
	}
	env.clockBack = book.ClockBack
	err = f(book)
	env.written = env.written || book.Written()
	if shut := book.Close(); err == nil {
		err = shut
	}
	return err
}
