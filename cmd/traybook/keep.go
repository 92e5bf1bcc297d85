package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/refusal"
	"traybook/cmd/traybook/screen"
	"traybook/events"
	"traybook/events/sqlite"
	"traybook/projections"
)

func verifyCommand(env *Env) *cli.Command {
	return &cli.Command{
		Name: "verify", Usage: "check that the book, or an archive, is whole", ArgsUsage: "[BAG]", Category: forKeep,
		UsageText: lines("traybook verify", "traybook verify --chain", "traybook verify --head 5f0c… (64 digits)", "traybook verify skerrow-2026.zip"),
		Description: "The file's own check, the chains of entries, the guards, what stands beside the stored bytes, the kept views against\n" +
			"a refold, and the scans; --chain the chains alone. Nothing is changed. --head is a hash remembered elsewhere, from the\n" +
			"foot of a page say: its entry must be in the book, for a chain cannot see its own cut-off end. Exit code 3 is damage.",
		Flags: []cli.Flag{
			&cli.BoolFlag{Name: "chain", Usage: "the chains of entries alone"},
			&cli.StringFlag{Name: "head", Usage: "`HASH` a hash that must be in the book"},
		},
		Action: func(c *cli.Context) error {
			env.long()
			switch words := c.Args().Slice(); len(words) {
			case 0:
				return verifyBook(env, c)
			case 1:
				return verifyBag(env, c, words[0])
			}
			return wrongLinef("traybook verify, or traybook verify BAG", "verify takes one archive at most")
		},
	}
}

func verifyBook(env *Env, c *cli.Context) error {
	if text := c.String("head"); c.IsSet("head") {
		if _, err := events.ParseHash(strings.ToLower(text)); err != nil {
			return wrongLinef("a head is the 64 hex digits that verify and the pages show", "--head: %s", err)
		}
	}
	path, err := bookPath(env, c)
	if err != nil {
		return err
	}
	line := newProgress(env, 2, "entries looked at")
	report, err := sqlite.VerifyFile(path, bookOptions(true), sqlite.VerifyOptions{
		Chain: c.Bool("chain"), Head: strings.ToLower(c.String("head")),
		Progress: func(done, total int64) {
			line.all, line.done = int(total), int(done)-1
			line.step("")
		},
	})
	line.clear()
	if errors.Is(err, sqlite.ErrNoBook) {
		return noBookAt(path)
	}
	if err != nil {
		return err
	}
	told := verifiedJSON{OK: report.OK, Events: report.Events, Heads: []headJSON{}, Problems: []findingJSON{}, Notes: []findingJSON{}, RecordedAhead: []aheadJSON{}}
	for _, p := range report.Problems {
		told.Problems = append(told.Problems, findingJSON{p.Kind, orNull(p.Entry), p.Text})
	}
	for _, n := range report.Notes {
		told.Notes = append(told.Notes, findingJSON{"note", nil, n})
	}
	for _, h := range report.Heads {
		told.Heads = append(told.Heads, headJSON{h.Book.String(), h.BookSeq, h.Hash.String()})
	}
	if report.Events > 0 && report.Head.BookSeq > 0 {
		head := report.Head.Hash.String()
		told.Head = &head
	}
	if report.OK {
		if err := verifyMore(env, c, &told); err != nil {
			return err
		}
	}
	if err := tellVerified(env, c, path, told); err != nil {
		return err
	}
	if !told.OK {
		return status(codeDamaged)
	}
	return nil
}

// verifyMore looks at what a whole book can still lack: a clock that was right, and, unless the chains alone were asked
// for, its scans and the end of an erasure.
func verifyMore(env *Env, c *cli.Context, told *verifiedJSON) error {
	return withBook(env, c, true, func(book *sqlite.Book) error {
		return book.Read(func(tx *sqlite.Tx) (err error) {
			if told.RecordedAhead, err = recordedAhead(tx, env.Now()); err != nil || c.Bool("chain") {
				return err
			}
			problems, notes, err := scanFindings(tx, filepath.Dir(book.Path()))
			told.OK = told.OK && len(problems) == 0
			told.Problems, told.Notes = append(told.Problems, findings(problems)...), append(told.Notes, findings(notes)...)
			if err != nil {
				return err
			}
			pending, err := tx.ScrubPending()
			if pending {
				told.Notes = append(told.Notes, findingJSON{"note", nil, sqlite.TracesLeft})
			}
			return err
		})
	})
}

func tellVerified(env *Env, c *cli.Context, path string, v verifiedJSON) error {
	if c.Bool("json") {
		return writeJSON(env.Out, v)
	}
	s := screenOf(env, c)
	for _, p := range v.Problems {
		text := p.Text
		if p.Entry != nil {
			text += " (" + (*p.Entry)[:min(8, len(*p.Entry))] + ")"
		}
		s.Hang(screen.Bad, "  ✗ ", text)
	}
	for _, n := range v.Notes {
		s.Hang(screen.Faint, "  · ", n.Text)
	}
	for _, a := range v.RecordedAhead {
		s.Hang(screen.Warn, "  ! ", a.Text)
	}
	if !v.OK && !slices.ContainsFunc(v.Problems, func(p findingJSON) bool { return p.Kind != "scan" }) {
		s.Say(screen.Bad, fmt.Sprintf("%s: the entries are whole, the scans beside it are not: %s. The scans stand in the folder scans beside the book; copy them from where they are whole, or attach them again.", path, projections.CountOf(len(v.Problems), "problem")))
		return s.Err()
	}
	if !v.OK {
		s.Say(screen.Bad, fmt.Sprintf("%s is damaged: %s. What stands beside the entries is made anew by traybook rebuild; what can be read of the entries is saved by traybook salvage.", path, projections.CountOf(len(v.Problems), "problem")))
		return s.Err()
	}
	flow(s, []string{path + " is whole", projections.CountOf(v.Events, "entry")})
	for _, h := range v.Heads {
		s.Hang(screen.Plain, "  ", fmt.Sprintf("head of chain %s… at %d: %s", h.Book[:8], h.BookSeq, h.Hash))
	}
	return s.Err()
}

func noBookAt(path string) error {
	return refusal.New("traybook init makes one there; --book FILE names another", "there is no book at %s", path)
}

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
				return writeJSON(env.Out, map[string]int64{"events": n})
			}
			s := screenOf(env, c)
			s.Say(screen.Plain, "made anew from "+projections.CountOf(n, "entry")+" · to check it: traybook verify")
			return s.Err()
		},
	}
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
				return wrongLinef("traybook backup FILE", "backup takes the name of the copy")
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
				if err := backup(words[0]); err != nil {
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
			if errors.Is(err, fs.ErrExist) {
				return refusal.New("name another file, or move it away", "%s is there already", words[0])
			}
			if err != nil {
				return err
			}
			if c.Bool("json") {
				return writeJSON(env.Out, struct {
					Path   string `json:"path"`
					Events int64  `json:"events"`
				}{words[0], n})
			}
			s := screenOf(env, c)
			s.Say(screen.Plain, words[0]+": a checked copy of "+projections.CountOf(n, "entry"))
			if scans > 0 {
				s.Hang(screen.Warn, "  ! ", fmt.Sprintf("%s beside the book, not in the copy: copy the folder scans, too, or make an archive", projections.CountOf(scans, "scan")))
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
				return wrongLinef("traybook merge BOOK", "merge takes the other book")
			}
			var done sqlite.Merged
			var brought, absent int
			env.long()
			err := withBook(env, c, false, func(book *sqlite.Book) error {
				if sameFile(book.Path(), words[0]) {
					return refusal.New("name the other one", "%s is this book itself", words[0])
				}
				other, err := sqlite.Open(words[0], bookOptions(true))
				if errors.Is(err, sqlite.ErrNoBook) {
					return refusal.New("check its name", "there is no book at %s", words[0])
				}
				if err != nil {
					return err
				}
				defer other.Close()
				line := newProgress(env, 2, "entries joined")
				done, err = book.Merge(other, func(n, total int64) {
					line.all, line.done = int(total), int(n)-1
					line.step("")
				})
				line.clear()
				if err != nil {
					return err
				}
				if brought, absent, err = bringScans(book, filepath.Dir(words[0])); err != nil {
					return fmt.Errorf("the entries are joined; the scans are not all copied: %w", err)
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

func tellMerged(env *Env, c *cli.Context, path string, m sqlite.Merged, brought, absent int) error {
	if c.Bool("json") {
		return writeJSON(env.Out, struct {
			Added      int64    `json:"added"`
			Known      int64    `json:"known"`
			Chains     int      `json:"chains"`
			TwiceNamed []string `json:"twice_named"`
			Sitters    int      `json:"sitters"`
			Thumbnails int      `json:"thumbnails"`
			Scans      int      `json:"scans"`         // originals copied beside this book
			Missing    int      `json:"scans_missing"` // originals that stood beside neither
			Erased     int      `json:"erased"`        // sitters left out, since they were erased here
			Renumbered []string `json:"renumbered"`    // sitters of this book whom no entry held
		}{m.Added, m.Known, m.Chains, orEmpty(m.TwiceNamed), m.Sitters, m.Thumbnails, brought, absent, m.Erased, orEmpty(m.Renumbered)})
	}
	s := screenOf(env, c)
	flow(s, []string{path + " joined: " + projections.CountOf(m.Added, "entry") + " came", wereThere(int(m.Known), "here already"),
		projections.CountOf(m.Sitters, "sitter"), projections.CountOf(m.Thumbnails, "small picture"), projections.CountOf(brought, "scan") + " copied"})
	if absent > 0 {
		s.Hang(screen.Warn, "  ! ", projections.CountOf(absent, "scan")+" beside neither book; traybook verify names them, traybook attach brings them back")
	}
	if m.Erased > 0 {
		s.Hang(screen.Plain, "  ", projections.CountOf(m.Erased, "sitter")+" left out, erased here")
	}
	if len(m.Renumbered) > 0 {
		s.Hang(screen.Warn, "  ! ", "the other book names another by that number, so "+strings.Join(m.Renumbered, ", ")+" now; no entry held it yet")
	}
	if len(m.TwiceNamed) > 0 {
		list := m.TwiceNamed
		text := strings.Join(list[:min(len(list), 12)], ", ")
		if len(list) > 12 {
			text += fmt.Sprintf(" and %d more", len(list)-12)
		}
		s.Hang(screen.Plain, "  ", "names that both gave, as the other's are shown here: "+text)
	}
	return s.Err()
}
