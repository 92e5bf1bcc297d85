package main

import (
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/line"
	"traybook/events/sqlite"
	"traybook/export"
	"traybook/export/page"
	"traybook/export/pages"
)

func exportBookCommand(env *Env) *cli.Command {
	return &cli.Command{
		Name: "book", Usage: "a book of pictures to read and to give away, each at its true size",
		UsageText: lines("traybook export book --out 2026.pdf --year 2026", "traybook export book --out 2026.pdf --year 2026 --size A4 --names --title \"A summer at the steps\""),
		Description: "Each picture has two facing pages: on the left the plate, at the size of its sheet, from the scan that was attached; on the right\n" +
			"its family, its tones, what was done beside what was called for, what was learnt. Sessions open with their light; papers, baths and\n" +
			"an index close the book. Print it on both sides at 100 %, not fitted to the page. Where a scan is not to be had, the outline of the\n" +
			"sheet stands in its place and the caption says why. Sitters stand by their references; --names prints the names.",
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "out", Usage: "`FILE` where to; - is standard output"},
			&cli.StringFlag{Name: "size", Usage: "`A5` or A4 or Letter (A5)"},
			&cli.StringFlag{Name: "title", Usage: "`TEXT` on the title page (the year)"},
			&cli.BoolFlag{Name: "names", Usage: "print the names of sitters beside their references"},
			typefaceFlag(),
			&cli.StringFlag{Name: "year", Usage: "`2026` the pictures of one year"},
			&cli.StringFlag{Name: "as-of", Usage: "`2026-12-31` as of a moment; else of the newest entry"},
			&cli.BoolFlag{Name: "force", Usage: "replace what is there"},
		},
		Action: func(c *cli.Context) error {
			env.long()
			return exportBook(env, c)
		},
	}
}

func exportBook(env *Env, c *cli.Context) error {
	if err := noWords(c); err != nil {
		return err
	}
	out := c.String("out")
	if out == "" {
		return line.WrongLinef("--out FILE, or --out - for standard output", "the book needs a place")
	}
	scope, err := archiveScope(c)
	if err != nil {
		return err
	}
	o := pages.BookOptions{Title: c.String("title")}
	if o.Size, err = bookSize(c); err != nil {
		return err
	}
	faces, err := facesWanted(c)
	if err != nil {
		return err
	}
	collectEarly()
	fill := func(w io.Writer) error {
		return withBook(env, c, true, func(book *sqlite.Book) error {
			return book.Read(func(tx *sqlite.Tx) error {
				at, err := exportMoment(env, c, tx)
				if err != nil {
					return err
				}
				w := &toldFirst{w, func() error { return tellUndrawn(env, tx, faces, c.Bool("names")) }}
				return bookPages(tx, filepath.Dir(book.Path()), at, scope, o, c.Bool("names"), faces, w)
			})
		})
	}
	if out == "-" {
		return fill(env.data())
	}
	if err := writeOutput(env, c, out, export.MayReplacePages, fill); err != nil {
		return err
	}
	return tellPages(env, c, out)
}

// bookSize is the size of a book's pages.
func bookSize(c *cli.Context) (string, error) {
	switch size := strings.ToLower(c.String("size")); size {
	case "", "a5":
		return "A5", nil
	case "a4", "letter":
		return sizeWanted(c)
	}
	return "", line.WrongLinef("--size A5, --size A4 or --size Letter", "the book cannot be of the size %q", c.String("size"))
}

// bookPages draws a book of pictures. dir is the folder of its log, beside which the scans stand.
func bookPages(tx *sqlite.Tx, dir string, at time.Time, scope export.Scope, o pages.BookOptions, names bool, faces *page.Faces, w io.Writer) error {
	var err error
	if o.LogOptions, err = logOptions(tx, dir, at, o.Size, names, faces); err != nil {
		return err
	}
	if o.Original, err = originals(tx, dir); err != nil {
		return err
	}
	plates := newSpool(os.TempDir())
	defer plates.close()
	o.Plates = plates
	return pages.YearBook(tx, at, scope, o, w)
}

// originals finds the original of a scan by its digest. dir is the folder of the book, beside which they stand.
func originals(tx *sqlite.Tx, dir string) (func(string) *export.Scan, error) {
	scans, err := export.Scans(tx, dir)
	byDigest := make(map[string]*export.Scan, len(scans))
	for i := range scans {
		byDigest[scans[i].Data.SHA256] = &scans[i]
	}
	return func(digest string) *export.Scan { return byDigest[digest] }, err
}
