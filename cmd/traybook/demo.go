package main

import (
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/demo"
	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/screen"
	"traybook/events/atomicfile"
	"traybook/events/sqlite"
	"traybook/export"
	"traybook/export/pages"
	"traybook/projections/report"
	"traybook/projections/snapshot"
)

func demoCommand(env *Env) *cli.Command {
	return &cli.Command{
		Name: "demo", Usage: "a season of an invented harbour photographer, to look round in", Category: forTry,
		UsageText: lines("traybook demo", "traybook demo --out somewhere", "traybook demo --force"),
		Description: "Makes the folder traybook-demo with a book, its tables, its log as pages, the year's pictures as a book of paper and drawn\n" +
			"scans, and shows the page of the day, one picture's history and the paper. Nobody in it is real. The same folder comes out on every run.",
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "out", Usage: "`DIR` another folder than traybook-demo"},
			&cli.BoolFlag{Name: "force", Usage: "make the folder anew; only one that demo made is replaced"},
		},
		Action: func(c *cli.Context) error { return makeDemo(env, c) },
	}
}

// demoPicture is the picture that the demo points at: its filter's factor was left out.
const demoPicture = "2026-017"

// demoBook is the demo's book to give away.
const demoBook = "2026.pdf"

func makeDemo(env *Env, c *cli.Context) error {
	if err := noWords(c); err != nil {
		return err
	}
	out := c.String("out")
	if out == "" {
		out = "traybook-demo"
	}
	if _, err := os.Lstat(out); err == nil && !c.Bool("force") {
		return thereAlready(out, true)
	}
	may := func(old, fresh string) error {
		if !c.Bool("force") {
			return thereAlready(out, true)
		}
		return mayReplaceDemo(out, old, fresh)
	}
	if err := mayStand(env, c, out); err != nil {
		return err
	}
	p := newProgress(env, 5, "parts under way")
	err := atomicfile.Dir(out, may, 0o700, func(dir string) error { return fillDemo(dir, p) })
	p.clear()
	if err != nil {
		return err
	}
	env.written = true
	return showDemo(env, c, out)
}

// fillDemo makes the book first and everything else from it.
func fillDemo(dir string, p *progress) error {
	path := filepath.Join(dir, "book.db")
	p.step("the book of a season")
	if err := demo.Build(path, bookOptions(false)); err != nil {
		return err
	}
	p.step("drawn scans")
	if _, err := demo.AttachScans(path, bookOptions(false)); err != nil {
		return err
	}
	book, err := sqlite.Open(path, bookOptions(true))
	if err != nil {
		return err
	}
	err = book.ReadTwice(func(tx, other *sqlite.Tx) error {
		p.step("tables")
		tables := filepath.Join(dir, "csv")
		if err := os.Mkdir(tables, 0o700); err != nil {
			return err
		}
		t, err := export.NewTables(tx, demo.Now(), export.Scope{}, export.TableOptions{})
		if err != nil {
			return err
		}
		if _, err := writeTables(tables, t, other); err != nil {
			return err
		}
		p.step("the log as pages")
		o, err := logOptions(tx, dir, demo.Now(), "A4", true, nil)
		if err == nil {
			o.Original, err = originals(tx, dir)
		}
		if err != nil {
			return err
		}
		pdf, err := logPages(tx, demo.Now(), export.Scope{Year: demo.Now().Year()}, o)
		if err != nil {
			return err
		}
		if err := atomicfile.Write(filepath.Join(dir, "log.pdf"), nil, atomicfile.Private, func(w io.Writer) error {
			_, err := w.Write(pdf)
			return err
		}); err != nil {
			return err
		}
		p.step("the year's pictures as a book")
		return atomicfile.Write(filepath.Join(dir, demoBook), nil, atomicfile.Private, func(w io.Writer) error {
			return bookPages(tx, dir, demo.Now(), export.Scope{Year: demo.Now().Year()}, pages.BookOptions{LogOptions: pages.LogOptions{Size: "A5"}}, true, nil, w)
		})
	})
	if shut := book.Close(); err == nil {
		err = shut
	}
	return err
}

// mayReplaceDemo lets a folder go only where demo made it and nothing else was put into it.
func mayReplaceDemo(out, old, fresh string) error {
	move := "move the folder away, or name another with --out"
	made, err := demo.Made(filepath.Join(old, "book.db"), bookOptions(true))
	if err != nil || !made {
		return line.Refuse(move, "%s was not made by demo, so it is not replaced", out)
	}
	if fresh == "" {
		return nil
	}
	if err := supersedes(filepath.Join(fresh, "book.db"), filepath.Join(old, "book.db")); err != nil {
		return line.Refuse(move, "%s holds more than demo made: %s", out, err)
	}
	return filepath.WalkDir(old, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		name, err := filepath.Rel(old, path)
		if err != nil {
			return err
		}
		if there, err := os.Lstat(filepath.Join(fresh, name)); err != nil || !there.Mode().IsRegular() || !d.Type().IsRegular() {
			return line.Refuse(move, "%s holds %s, which demo did not make, so it is not replaced", out, name)
		}
		if filepath.Ext(name) == ".csv" {
			return export.MayReplaceTable(path, "")
		}
		return nil
	})
}

// supersedes wants everything of one book in another.
func supersedes(fresh, old string) error {
	book, err := sqlite.Open(fresh, bookOptions(true))
	if err != nil {
		return err
	}
	err = book.Supersedes(old)
	if shut := book.Close(); err == nil {
		err = shut
	}
	return err
}

// showDemo shows the page of the day, one history and the paper, as today, history and stock would, and what to try.
func showDemo(env *Env, c *cli.Context, out string) error {
	book, err := sqlite.Open(filepath.Join(out, "book.db"), bookOptions(true))
	if err != nil {
		return err
	}
	err = book.Read(func(tx *sqlite.Tx) error {
		q := &query{env: env, c: c, tx: tx, snap: snapshot.New(tx, demo.Now()), now: demo.Now(), at: demo.Now(), zone: demo.Now().Location()}
		return q.demo(out)
	})
	if shut := book.Close(); err == nil {
		err = shut
	}
	return err
}

type demoJSON struct {
	Path  string   `json:"path"`
	Book  string   `json:"book"`
	Files []string `json:"files"`
	Try   []string `json:"try"` // lines to type next
}

func (q *query) demo(out string) error {
	files, err := filesIn(out)
	if err != nil {
		return err
	}
	try := demoTries(out)
	today, err := report.Today(q.snap, false)
	if err != nil {
		return err
	}
	history, err := report.HistoryOf(q.snap, demoPicture, false)
	if err != nil {
		return err
	}
	stock, err := report.Stock(q.snap, false)
	if err != nil {
		return err
	}
	if done, err := q.json(demoJSON{out, filepath.Join(out, "book.db"), files, try}); done {
		return err
	}
	s := q.screen(q.env.Out)
	s.Say(screen.Plain, fmt.Sprintf("%s: a season at the ferry steps of Skerrow, an invented harbour. book.db is the book, csv its tables, log.pdf its log, %s its pictures as a book.", out, demoBook))
	s.Blank()
	drawToday(&todayPage{s: s}, today, lengthsOf(today), nameIn(nil))
	s.Blank()
	showPicture(s, history.Picture)
	s.Blank()
	showStock(s, stock, q.at)
	s.Blank()
	s.Say(screen.Strong, "Try next:")
	for _, t := range try {
		io.WriteString(s.W, "  "+screen.Clean(t)+"\n") // not broken: it is there to be copied
	}
	return s.Err()
}

// demoTries are commands that work on the demo's book.
func demoTries(out string) []string {
	book := "traybook --book " + filepath.Join(out, "book.db")
	now := demo.Now().Format(time.DateOnly)
	return []string{
		book + " why " + demoPicture,
		book + " history fix-2",
		book + " pictures --symptom thin",
		book + " baths --as-of " + now,
		book + " export pdf --picture " + demoPicture + " --out picture.pdf",
		"traybook figure exposure --reading-f 16 --reading-time 2s --reading-index 5 --index 5 --f 16 --focal 180mm --distance 62cm",
	}
}

// filesIn lists what demo made, the scans by their folder.
func filesIn(dir string) ([]string, error) {
	var out []string
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if name, _ := filepath.Rel(dir, path); d.IsDir() && name == "scans" {
			out = append(out, path)
			return filepath.SkipDir
		}
		if !d.IsDir() && !strings.HasSuffix(path, "-wal") && !strings.HasSuffix(path, "-shm") {
			out = append(out, path)
		}
		return nil
	})
	slices.Sort(out)
	return out, err
}
