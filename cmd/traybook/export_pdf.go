package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/said"
	"traybook/events/sqlite"
	"traybook/export"
	"traybook/export/page"
	"traybook/export/pages"
	"traybook/projections/snapshot"
	"traybook/projections/why"
)

func exportPDFCommand(env *Env) *cli.Command {
	return &cli.Command{
		Name: "pdf", Usage: "the log as contact sheets, or one picture's own page",
		UsageText: lines("traybook export pdf --out log.pdf", "traybook export pdf --out 2026.pdf --year 2026 --size Letter", "traybook export pdf --out - --picture 2026-014"),
		Description: "Each session with its light and its pictures, negative and prints side by side with called-for against done, then paper,\n" +
			"baths and indexes; with --year also the failures by cause. --picture prints that picture's page: its family of sheets, their tones,\n" +
			"why, every entry. The log shows small pictures of the scans, 170 to 300 points to the inch; --fine shows the scans themselves, at\n" +
			"300, as the page of a picture does. Sitters stand by their references; --names prints the names. The same book gives the same bytes.",
		Flags: append([]cli.Flag{
			&cli.StringFlag{Name: "out", Usage: "`FILE` where to; - is standard output"},
			&cli.StringFlag{Name: "size", Usage: "`A4` or Letter (A4)"},
			&cli.BoolFlag{Name: "fine", Usage: "show scans as fine as paper does, from their originals: it takes as long as reading them all"},
			&cli.BoolFlag{Name: "names", Usage: "print the names of sitters beside their references"},
			typefaceFlag(),
		}, scopeFlags("the log")...),
		Action: func(c *cli.Context) error {
			env.long()
			return exportPDF(env, c)
		},
	}
}

func exportPDF(env *Env, c *cli.Context) error {
	if err := noWords(c); err != nil {
		return err
	}
	if c.String("out") == "" {
		return line.WrongLinef("--out FILE, or --out - for standard output", "the pages need a place")
	}
	scope, err := archiveScope(c)
	if err != nil {
		return err
	}
	size, err := sizeWanted(c)
	if err != nil {
		return err
	}
	path, err := bookPath(env, c)
	if err != nil {
		return err
	}
	dir, fine := filepath.Dir(path), c.Bool("fine") || scope.Picture != ""
	if fine {
		collectEarly()
	}
	pdf, err := pagesOf(env, c, func(tx, other *sqlite.Tx, at time.Time, faces *page.Faces) ([]byte, error) {
		o, err := logOptions(tx, dir, at, size, c.Bool("names"), faces)
		if err == nil && fine {
			o.Original, err = originals(tx, dir)
		}
		if err != nil {
			return nil, err
		}
		o.Beside = other
		return logPages(tx, at, scope, o)
	})
	if err != nil {
		return err
	}
	return placePages(env, c, pdf, "")
}

// sizeWanted is the size of paper.
func sizeWanted(c *cli.Context) (string, error) {
	switch size := c.String("size"); size {
	case "", "A4", "a4":
		return "A4", nil
	case "Letter", "letter":
		return "Letter", nil
	default:
		return "", line.WrongLinef("--size A4 or --size Letter", "the pages cannot be of the size %q", size)
	}
}

// pagesOf draws pages from the book as of the moment, and in the typefaces, that the command line wants. other is a second look at
// the same state of the book.
func pagesOf(env *Env, c *cli.Context, draw func(tx, other *sqlite.Tx, at time.Time, faces *page.Faces) ([]byte, error)) (pdf []byte, err error) {
	faces, err := facesWanted(c)
	if err != nil {
		return nil, err
	}
	err = withBook(env, c, true, func(book *sqlite.Book) error {
		return book.ReadTwice(func(tx, other *sqlite.Tx) error {
			at, err := exportMoment(env, c, tx)
			if err != nil {
				return err
			}
			if pdf, err = draw(tx, other, at, faces); err != nil {
				return err
			}
			return tellUndrawn(env, tx, faces, c.Bool("names"))
		})
	})
	return pdf, err
}

// logOptions say how pages of the log are printed. dir is the folder of the book, beside which the scans stand.
func logOptions(tx *sqlite.Tx, dir string, at time.Time, size string, names bool, faces *page.Faces) (pages.LogOptions, error) {
	o := pages.LogOptions{Size: size, Created: at, Thumb: thumbsOf(tx), Kept: export.OriginalsIn(dir).Stands, Faces: faces}
	heads, err := tx.Heads()
	if err != nil {
		return o, err
	}
	var newest time.Time
	for i, h := range heads {
		if i == 0 || h.RecordedAt.After(newest) {
			o.Head, newest = h.Hash.String(), h.RecordedAt
		}
	}
	if names {
		o.Sitter, err = sitterNames(tx)
	}
	return o, err
}

// logPages draws the log, or one picture's page.
func logPages(tx *sqlite.Tx, at time.Time, scope export.Scope, o pages.LogOptions) ([]byte, error) {
	if scope.Picture == "" {
		return pages.Log(tx, at, scope, o)
	}
	d, err := why.Why(snapshot.New(tx, at), scope.Picture)
	if err != nil {
		return nil, err
	}
	return pages.PicturePage(tx, at, scope.Picture, pages.PictureOptions{LogOptions: o, Why: whyText(d)})
}

// sitterNames gives the names behind references.
func sitterNames(tx *sqlite.Tx) (func(string) string, error) {
	rows, err := tx.Sitters()
	if err != nil {
		return nil, err
	}
	names := make(map[string]string, len(rows))
	for _, r := range rows {
		names[r.Ref] = r.Name
	}
	return func(ref string) string { return names[ref] }, nil
}

// whyText is a diagnosis in lines for the page.
func whyText(d why.Diagnosis) []string {
	out := append([]string{}, d.Lines...)
	for _, f := range d.Findings[min(len(d.Findings), why.WhyLines):] { // the first few stand in the lines
		out = append(out, fmt.Sprintf("%s: %s", said.Finding(f, true), f.Text))
	}
	if text := said.Unexplained(d); text != "" {
		out = append(out, text)
	}
	return out
}

// placePages puts a finished document where the command line wants it. said is told after the path.
func placePages(env *Env, c *cli.Context, pdf []byte, said string) error {
	return placePagesAt(env, c, c.String("out"), pdf, said)
}

type pagesJSON struct {
	Path    string `json:"path"`
	Bytes   int64  `json:"bytes"`
	Undrawn string `json:"undrawn,omitempty"` // which characters no typeface could draw, and where they stand; absent where all were drawn
}

func placePagesAt(env *Env, c *cli.Context, out string, pdf []byte, said string) error {
	if out == "-" {
		_, err := env.data().Write(pdf)
		return err
	}
	err := writeOutput(env, c, out, export.MayReplacePages, func(w io.Writer) error {
		_, err := w.Write(pdf)
		return err
	})
	if err != nil {
		return err
	}
	return tellPages(env, c, out, said)
}

// tellPages tells where pages were laid. said is told after the path.
func tellPages(env *Env, c *cli.Context, out string, said ...string) error {
	info, err := os.Stat(out)
	if err != nil {
		return err
	}
	if c.Bool("json") {
		return writeJSON(env.Out, pagesJSON{out, info.Size(), env.undrawn})
	}
	s := screenOf(env, c)
	flow(s, append(append([]string{out}, said...), fmt.Sprintf("%d kB", (info.Size()+999)/1000)))
	return s.Err()
}
