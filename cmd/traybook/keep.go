package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/screen"
	"traybook/events/sqlite"
	"traybook/projections/wording"
)

func rebuildCommand(env *Env) *cli.Command {
	return &cli.Command{
		Name: "rebuild", Usage: "make everything that is derived anew from the entries", Category: forKeep,
		UsageText:   "traybook rebuild",
		Description: "Names, indexes, what stands beside the stored bytes, and the kept views. The entries are not touched.",
		Action: func(c *cli.Context) error {
			if err := noWords(c); err != nil {
				return err
			}
			var n int64
			env.long()
			err := withBook(env, c, false, func(book *sqlite.Book) error {
				if err := book.Rebuild(); err != nil {
					return err
				}
				return book.Write(func(tx *sqlite.Tx) (err error) {
					if n, err = tx.Count(); err != nil {
						return err
					}
					return keepZone(tx)
				})
			})
			if err != nil {
				return err
			}
			if c.Bool("json") {
				return writeJSON(env.Out, rebuiltJSON{n})
			}
			s := screenOf(env, c)
			s.Say(screen.Plain, "made anew from "+wording.CountOf(n, "entry")+" · to check it: traybook verify")
			return s.Err()
		},
	}
}

type rebuiltJSON struct {
	Events int64 `json:"events"` // from which the views were made anew
}

type backupJSON struct {
	Path   string `json:"path"`
	Events int64  `json:"events"`
}

func backupCommand(env *Env) *cli.Command {
	return &cli.Command{
		Name: "backup", Usage: "a checked copy of the book, in one file", ArgsUsage: "FILE", Category: forKeep,
		UsageText: lines("traybook backup book-2026-05-03.db", "traybook backup book-copy.db --force"),
		Description: "Copied as it stands in one instant, checked, and only then given its name. Sitters and small pictures come along, the\n" +
			"scans themselves do not: copy their folder, or make an archive. To go back to it, use it as the book: --book FILE.\n" +
			"--force replaces an older copy of this book, after a check that nothing stands in it that is not in this one.",
		Flags: []cli.Flag{&cli.BoolFlag{Name: "force", Usage: "replace an older copy of this book"}},
		Action: func(c *cli.Context) error {
			words := c.Args().Slice()
			if len(words) != 1 {
				return line.WrongLinef("traybook backup FILE", "backup takes the name of the copy")
			}
			if err := mayStand(env, c, words[0]); err != nil {
				return err
			}
			var n, scans int64
			env.long()
			err := withBook(env, c, true, func(book *sqlite.Book) error {
				backup := book.Backup
				if c.Bool("force") {
					backup = book.BackupOver
				}
				if err := placeTaken(backup(words[0]), words[0]); err != nil {
					return err
				}
				env.written = true
				return book.Read(func(tx *sqlite.Tx) (err error) {
					if scans, err = keptScans(tx, filepath.Dir(book.Path())); err != nil {
						return err
					}
					n, err = tx.Count()
					return err
				})
			})
			if err != nil {
				return err
			}
			if c.Bool("json") {
				return writeJSON(env.Out, backupJSON{words[0], n})
			}
			s := screenOf(env, c)
			s.Say(screen.Plain, words[0]+": a checked copy of "+wording.CountOf(n, "entry"))
			if scans > 0 {
				s.Hang(screen.Warn, "  ! ", fmt.Sprintf("%s beside the book, not in the copy: copy the folder scans, too, or make an archive", wording.CountOf(scans, "scan")))
			}
			return s.Err()
		},
	}
}

func mergeCommand(env *Env) *cli.Command {
	return &cli.Command{
		Name: "merge", Usage: "join another book into this one", ArgsUsage: "BOOK", Category: forKeep,
		UsageText: "traybook merge field-book.db",
		Description: "Every chain is kept whole. A name that both books gave stays what it was here, and the other's is shown with @2: 2026-014@2.\n" +
			"Joining the same book again brings what is new in it.",
		Action: func(c *cli.Context) error {
			words := c.Args().Slice()
			if len(words) != 1 {
				return line.WrongLinef("traybook merge BOOK", "merge takes the other book")
			}
			var done sqlite.Merged
			var brought, absent int
			env.long()
			err := withBook(env, c, false, func(book *sqlite.Book) error {
				if sameFile(book.Path(), words[0]) {
					return line.Refuse("name the other one", "%s is this book itself", words[0])
				}
				other, err := sqlite.Open(words[0], bookOptions(true))
				if errors.Is(err, sqlite.ErrNoBook) {
					return line.Refuse("check its name", "there is no book at %s", words[0])
				}
				if err != nil {
					return err
				}
				defer other.Close()
				progress := newProgress(env, 2, "entries joined")
				done, err = book.Merge(other, func(n, total int64) {
					progress.all, progress.done = int(total), int(n)-1
					progress.step("")
				})
				progress.clear()
				if err != nil {
					return err
				}
				if brought, absent, err = bringScans(book, filepath.Dir(words[0])); err != nil {
					return &about{"the entries are joined; the scans are not all copied: ", err}
				}
				return nil
			})
			if err != nil {
				return err
			}
			return tellMerged(env, c, words[0], done, brought, absent)
		},
	}
}

func sameFile(a, b string) bool {
	x, err1 := os.Stat(a)
	y, err2 := os.Stat(b)
	return err1 == nil && err2 == nil && os.SameFile(x, y)
}

type mergedJSON struct {
	Added      int64    `json:"added"`       // entries that were written
	Known      int64    `json:"known"`       // entries that the book had already
	Chains     int      `json:"chains"`      // chains that came
	TwiceNamed []string `json:"twice_named"` // names that both books gave to different things
	Sitters    int      `json:"sitters"`
	Thumbnails int      `json:"thumbnails"`    // small pictures that came
	Scans      int      `json:"scans"`         // originals copied beside this book
	Missing    int      `json:"scans_missing"` // originals that stood beside neither
	Erased     int      `json:"erased"`        // sitters left out, since they were erased here
	Renumbered []string `json:"renumbered"`    // sitters of this book whom no entry held
}

func tellMerged(env *Env, c *cli.Context, path string, m sqlite.Merged, brought, absent int) error {
	if c.Bool("json") {
		return writeJSON(env.Out, mergedJSON{m.Added, m.Known, m.Chains, orEmpty(m.TwiceNamed), m.Sitters, m.Thumbnails, brought, absent, m.Erased, orEmpty(m.Renumbered)})
	}
	s := screenOf(env, c)
	flow(s, []string{path + " joined: " + wording.CountOf(m.Added, "entry") + " came", wereThere(int(m.Known), "here already"),
		wording.CountOf(m.Sitters, "sitter"), wording.CountOf(m.Thumbnails, "small picture"), wording.CountOf(brought, "scan") + " copied"})
	if absent > 0 {
		s.Hang(screen.Warn, "  ! ", wording.CountOf(absent, "scan")+" beside neither book; `traybook verify` names them, `traybook attach` brings them back")
	}
	if m.Erased > 0 {
		s.Hang(screen.Plain, "  ", wording.CountOf(m.Erased, "sitter")+" left out, erased here")
	}
	if len(m.Renumbered) > 0 {
		s.Hang(screen.Warn, "  ! ", "the other book names another by that number, so "+strings.Join(m.Renumbered, ", ")+" now; no entry held it yet")
	}
	if len(m.TwiceNamed) > 0 {
		s.Hang(screen.Plain, "  ", "names that both gave, as the other's are shown here: "+wording.FirstOf(m.TwiceNamed, 12, ", "))
	}
	return s.Err()
}
