package main

import (
	"bufio"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/screen"
	"traybook/events"
	"traybook/events/sqlite"
	"traybook/export"
	"traybook/export/page"
	"traybook/export/sidecar"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

func exportArchiveCommand(env *Env) *cli.Command {
	return &cli.Command{
		Name: "archive", Usage: "everything in one bag that outlives the program",
		UsageText: lines("traybook export archive --out skerrow-2026 --year 2026", "traybook export archive --out skerrow.zip",
			"traybook export archive --out skerrow-scans --sidecars scan.xmp"),
		Description: "A bag (BagIt 1.0, RFC 8493) as a folder or a zip file: every entry of the whole book, tables, the log as pages, scans and small " +
			"pictures with what is known of each beside them, a checked copy of the book, and a page that tells how to read all of it without " +
			"traybook. --year, --session and --picture narrow tables, pages and scans only. The names of sitters are in it, in two files that " +
			"the page names. Whose the pictures are and how the owner is reached is told once, by init or by amending the first entry, and stands in " +
			"bag-info.txt and beside each scan. The same book gives the same bytes.",
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "out", Usage: "`DIR` the folder, or the zip file, to make"},
			&cli.BoolFlag{Name: "zip", Usage: "one zip file; also where the name ends in .zip"},
			&cli.StringFlag{Name: "sidecars", Usage: "`scan.xmp` how what is known of a scan is named beside it: scan.xmp, or scan.tif.xmp, as without this"},
			&cli.StringFlag{Name: "year", Usage: "`2026` tables, pages and scans of one year"},
			&cli.StringFlag{Name: "session", Usage: "`SESSION` of one session"},
			&cli.StringFlag{Name: "picture", Usage: "`2026-014` of one picture"},
			&cli.StringFlag{Name: "as-of", Usage: "`2026-12-31` tables and pages as of a moment; else of the newest entry"},
			typefaceFlag(),
			&cli.BoolFlag{Name: "force", Usage: "replace an archive that is there"},
			&cli.BoolFlag{Name: "even-so", Usage: "archive without the scans that are missing or altered"},
		},
		Action: func(c *cli.Context) error {
			env.long()
			return exportArchive(env, c)
		},
	}
}

func exportArchive(env *Env, c *cli.Context) error {
	if err := noWords(c); err != nil {
		return err
	}
	out := c.String("out")
	if out == "" {
		return line.WrongLinef("--out DIR, or --out FILE.zip", "the archive needs a place")
	}
	if out == "-" {
		return line.WrongLinef("--out DIR, or --out FILE.zip", "an archive is a folder or a zip file and cannot go to standard output")
	}
	o := export.ArchiveOptions{
		Program: "traybook " + version, Zones: zoneDataVersion(), Force: c.Bool("force"), EvenSo: c.Bool("even-so"),
		Zip: c.Bool("zip") || strings.HasSuffix(strings.ToLower(out), ".zip"),
	}
	var err error
	if o.Sidecars, err = sidecarNaming(c.String("sidecars")); err != nil {
		return err
	}
	faces, err := facesWanted(c)
	if err != nil {
		return err
	}
	if err := mayStand(env, c, out); err != nil {
		return err
	}
	if o.Scope, err = archiveScope(c); err != nil {
		return err
	}
	var done export.Archived
	err = withBook(env, c, true, func(book *sqlite.Book) error {
		o.Dir = filepath.Dir(book.Path())
		if err := book.Read(func(tx *sqlite.Tx) (err error) {
			o.AsOf, err = exportMoment(env, c, tx)
			return err
		}); err != nil {
			return err
		}
		var line *progress
		o.Progress = func(_, of int) {
			if line == nil {
				line = newProgress(env, of, "parts made")
			}
			line.step("")
		}
		done, err = export.Archive(out, o, book.Backup, readArchiveCopy(env, &o, faces))
		if line != nil {
			line.clear()
		}
		return err
	})
	if err := placeTaken(err, out); err != nil {
		return err
	}
	env.written = true
	return tellArchived(env, c, out, done)
}

// sidecarNaming reads --sidecars by an example of the two usual names.
func sidecarNaming(text string) (sidecar.Naming, error) {
	switch n := sidecar.Naming(text); n {
	case sidecar.BesideFull, sidecar.BesideStem:
		return n, nil
	case "":
		return sidecar.BesideFull, nil
	}
	return "", line.WrongLinef("write --sidecars "+string(sidecar.BesideStem)+", or --sidecars "+string(sidecar.BesideFull), "%s is no way to name a sidecar", line.Quote(text))
}

// readArchiveCopy gives the copy of a book to what makes the bag, with the ends of its chains.
func readArchiveCopy(env *Env, o *export.ArchiveOptions, faces *page.Faces) func(string, func(export.ArchiveSource, []export.ChainHead) error) error {
	return func(path string, f func(export.ArchiveSource, []export.ChainHead) error) error {
		book, err := sqlite.Open(path, bookOptions(true))
		if err != nil {
			return err
		}
		err = book.Read(func(tx *sqlite.Tx) error {
			heads, err := tx.Heads()
			if err != nil {
				return err
			}
			ends := make([]export.ChainHead, len(heads))
			for i, h := range heads {
				ends[i] = export.ChainHead{Book: h.Book, Seq: h.BookSeq, Hash: h.Hash}
			}
			return f(archiveSource{tx, func(w io.Writer) error {
				printed, err := logOptions(tx, filepath.Dir(book.Path()), o.AsOf, "A4", false, faces)
				if err != nil {
					return err
				}
				pages, err := logPages(tx, o.AsOf, o.Scope, printed)
				if err == nil {
					err = tellUndrawn(env, tx, faces, false)
				}
				if err != nil {
					return err
				}
				_, err = w.Write(pages)
				return err
			}}, ends)
		})
		if shut := book.Close(); err == nil {
			err = shut
		}
		return err
	}
}

// archiveSource is the copy with its pages.
type archiveSource struct {
	*sqlite.Tx
	pages func(io.Writer) error
}

// Pages writes the log as pages.
func (a archiveSource) Pages(w io.Writer) error { return a.pages(w) }

// thumbsOf gives small pictures by the digest of their originals.
func thumbsOf(tx *sqlite.Tx) func(string) ([]byte, bool) {
	return func(sha256 string) ([]byte, bool) {
		digest, err := events.ParseHash(sha256)
		if err != nil {
			return nil, false
		}
		t, ok, err := tx.Thumbnail(digest)
		return t.JPEG, ok && err == nil
	}
}

func archiveScope(c *cli.Context) (s export.Scope, err error) {
	if y := c.String("year"); y != "" {
		if s.Year, err = strconv.Atoi(y); err != nil || len(y) != 4 {
			return s, line.WrongLinef("write it with four digits, such as 2026", "%s is no year", line.Quote(y))
		}
	}
	s.Session, s.Picture = c.String("session"), c.String("picture")
	return s, s.Check()
}

// exportMoment is the moment that an export looks from: --as-of, else that of the newest entry, after which acts may be
// dated: then it says so.
func exportMoment(env *Env, c *cli.Context, tx *sqlite.Tx) (time.Time, error) {
	zone, err := zoneOf(env, tx)
	if err != nil {
		return time.Time{}, err
	}
	if text := c.String("as-of"); text != "" {
		at, err := line.ParseAsOf(text, env.Now(), zone)
		return at, line.WrongLine(err)
	}
	newest, err := tx.NewestRecorded()
	if err != nil {
		return time.Time{}, err
	}
	at := newest.In(zone)
	return at, tellAhead(env, tx, at)
}

// tellAhead says that acts dated after the moment of an export are not in it.
func tellAhead(env *Env, tx *sqlite.Tx, at time.Time) error {
	ahead, err := snapshot.New(tx, at).Ahead()
	if err == nil && ahead {
		_, err = fmt.Fprintf(env.Err, "Acts dated after %s, when the newest entry was written, are in the book and not in this; --as-of with a later day takes them in.\n", wording.ClockOf(at))
	}
	return err
}

type archivedJSON struct {
	Path    string   `json:"path"`
	Files   int      `json:"files"`
	Bytes   int64    `json:"bytes"`
	Entries int      `json:"entries"`
	Scans   int      `json:"scans"`             // originals in the archive
	Missing []string `json:"missing"`           // sheets whose scans were left out
	Undrawn string   `json:"undrawn,omitempty"` // which characters of the log no typeface could draw, and where they stand; absent where all were drawn
}

func tellArchived(env *Env, c *cli.Context, out string, done export.Archived) error {
	if c.Bool("json") {
		missing := []string{}
		for _, s := range done.Missing {
			missing = append(missing, s.Sheet)
		}
		return writeJSON(env.Out, archivedJSON{out, done.Files, done.Bytes, done.Entries, done.Scans, missing, env.undrawn})
	}
	s := screenOf(env, c)
	flow(s, []string{out, fmt.Sprintf("%s, %.1f MB", wording.CountOf(done.Files, "file"), float64(done.Bytes)/1e6), wording.CountOf(done.Entries, "entry"),
		wording.CountOf(done.Scans, "scan"), "to check it: traybook verify " + out})
	if what, fields := unsigned(done.Owner); what != "" {
		s.Hang(screen.Faint, "  ", "it does not tell "+what+"; told once, every later one does: traybook amend "+short(done.Owner.Entry)+" "+fields)
	}
	for _, m := range done.Missing {
		s.Hang(screen.Warn, "  ! ", fmt.Sprintf("the scan of %s is %s and was left out", m.Sheet, m.State))
	}
	return s.Err()
}

// unsigned is what the book does not say of its owner, in words and as amend takes it.
func unsigned(o export.Owner) (what, fields string) {
	var words, sets []string
	for _, x := range [][3]string{{o.Owner, "whose it is", "owner=NAME"}, {o.Contact, "how they are reached", "contact=MAIL"}, {o.Rights, "what may be done with the pictures", "rights=TEXT"}} {
		if x[0] == "" && !o.Entry.IsZero() {
			words, sets = append(words, x[1]), append(sets, x[2])
		}
	}
	return strings.Join(words, ", "), strings.Join(sets, " ")
}

// zoneDataVersion is the version of the time zone data that this machine has, by the first line of its source file;
// else that of the program's own.
func zoneDataVersion() string {
	for _, dir := range []string{"/usr/share/zoneinfo", "/usr/lib/zoneinfo", "/usr/share/lib/zoneinfo", "/etc/zoneinfo"} {
		f, err := os.Open(filepath.Join(dir, "tzdata.zi"))
		if err != nil {
			continue
		}
		first, _ := bufio.NewReader(io.LimitReader(f, 200)).ReadString('\n')
		f.Close()
		if v, ok := strings.CutPrefix(strings.TrimSpace(first), "# version "); ok {
			return "tz database " + v
		}
	}
	return "tz database as shipped with " + runtime.Version()
}
