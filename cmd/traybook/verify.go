package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/screen"
	"traybook/events"
	"traybook/events/atomicfile"
	"traybook/events/sqlite"
	"traybook/export"
	"traybook/projections/wording"
)

// verifiedJSON is the answer to verify as scripts read it.
type verifiedJSON struct {
	OK       bool          `json:"ok"`
	Events   int64         `json:"events"`
	Head     *string       `json:"head"`  // of the newest chain
	Heads    []headJSON    `json:"heads"` // the end of each chain
	Problems []findingJSON `json:"problems"`
	Notes    []findingJSON `json:"notes"`
	// RecordedAhead are the entries of a whole book that were written down after now. Of an archive it is empty.
	RecordedAhead []aheadJSON `json:"recorded_ahead"`
}

type headJSON struct {
	Book    string `json:"book"`
	BookSeq int64  `json:"book_seq"`
	Hash    string `json:"hash"`
}

type findingJSON struct {
	Kind  string  `json:"kind"`
	Entry *string `json:"entry"`
	Text  string  `json:"text"`
}

// verifyBag checks an archive: the bag, its chains, its tables and scans, and the copy of the book in it.
func verifyBag(env *Env, c *cli.Context, path string) error {
	check := export.ArchiveCheck{Book: checkBookCopy}
	var err error
	if check.Head, err = headWanted(c); err != nil {
		return err
	}
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		return line.Refuse("name the folder or the zip file of an archive", "there is no archive at %s", path)
	}
	r, err := export.CheckArchive(path, check)
	switch {
	case errors.Is(err, export.ErrNoArchive) && sqlite.IsBook(path):
		return line.Refuse("traybook verify --book "+path, "%s is a book, not an archive", path)
	case errors.Is(err, export.ErrNoArchive):
		return line.Refuse("name the folder or the zip file of an archive; a book is checked with traybook verify --book FILE", "%s is no archive", path)
	}
	if err != nil {
		return err
	}
	if err := tellVerifiedBag(env, c, path, r); err != nil {
		return err
	}
	if len(r.Problems) > 0 {
		return status(codeDamaged)
	}
	return nil
}

// checkBookCopy opens a copy of the book that an archive holds, apart from it, so that nothing in the archive is touched.
func checkBookCopy(open func() (io.ReadCloser, error), each func(events.Hash)) ([]export.Finding, error) {
	work, err := atomicfile.Beside(filepath.Join(os.TempDir(), "book.db"))
	if err != nil {
		return nil, fmt.Errorf("the copy of the book cannot be looked at: %w", root(err))
	}
	defer work.Drop()
	path := filepath.Join(work.Dir, "book.db")
	unread, err := copyOut(path, open)
	if err != nil {
		return nil, fmt.Errorf("the copy of the book cannot be looked at: %w", root(err))
	}
	if unread != nil { // the archive's own damage, as that of its other files
		return []export.Finding{{Kind: "unreadable", Text: fmt.Sprintf("it cannot be read to its end: %s", root(unread))}}, nil
	}
	report, err := sqlite.VerifyFile(path, bookOptions(true), sqlite.VerifyOptions{})
	if err != nil {
		problem, _ := problemOf(err)
		return []export.Finding{{Kind: "book", Text: withoutMending(problem)}}, nil
	}
	var found []export.Finding
	for _, p := range report.Problems {
		found = append(found, export.Finding{Kind: "book", Entry: p.Entry, Text: withoutMending(p.Text)})
	}
	if len(found) > 0 {
		return found, nil // what it lacks is told by what is wrong with it
	}
	book, err := sqlite.Open(path, bookOptions(true))
	if err != nil {
		return nil, err
	}
	err = book.Read(func(tx *sqlite.Tx) error {
		return tx.Each(func(e events.Entry) error { each(e.Hash); return nil })
	})
	if shut := book.Close(); err == nil {
		err = shut
	}
	return found, err
}

// withoutMending leaves out of what is wrong with a book what would mend it: no command reaches a copy in an archive.
func withoutMending(text string) string {
	text, _, _ = strings.Cut(text, "; `traybook ")
	text, _, _ = strings.Cut(text, "; try `traybook ")
	return text
}

// copyOut copies a file out of an archive. What of it cannot be read is unread; err is of the copy.
func copyOut(path string, open func() (io.ReadCloser, error)) (unread, err error) {
	in, err := open()
	if err != nil {
		return err, nil
	}
	defer in.Close()
	out, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return nil, err
	}
	source := &readKeeper{r: in}
	_, err = io.Copy(out, source)
	if shut := out.Close(); err == nil {
		err = shut
	}
	if source.err != nil {
		return source.err, nil
	}
	return nil, err
}

// readKeeper remembers what reading failed with.
type readKeeper struct {
	r   io.Reader
	err error
}

func (k *readKeeper) Read(p []byte) (int, error) {
	n, err := k.r.Read(p)
	if err != nil && !errors.Is(err, io.EOF) {
		k.err = err
	}
	return n, err
}

func tellVerifiedBag(env *Env, c *cli.Context, path string, r export.ArchiveReport) error {
	if c.Bool("json") {
		told := verifiedJSON{OK: len(r.Problems) == 0, Events: int64(r.Entries), Heads: []headJSON{}, Problems: findings(r.Problems), Notes: findings(r.Notes), RecordedAhead: []aheadJSON{}}
		for _, h := range r.Heads {
			told.Heads = append(told.Heads, headJSON{h.Book.String(), h.Seq, h.Hash.String()})
		}
		if n := len(told.Heads); n > 0 {
			told.Head = &told.Heads[n-1].Hash
		}
		return writeJSON(env.Out, told)
	}
	s := screenOf(env, c)
	for _, p := range r.Problems {
		s.Hang(screen.Bad, "  ✗ ", p.Text)
	}
	for _, n := range r.Notes {
		s.Hang(screen.Faint, "  · ", n.Text)
	}
	if len(r.Problems) > 0 {
		s.Say(screen.Bad, fmt.Sprintf("%s is damaged: %s", path, wording.CountOf(len(r.Problems), "problem")))
		return s.Err()
	}
	flow(s, []string{path + " is whole", fmt.Sprintf("%s, %.1f MB", wording.CountOf(r.Files, "file"), float64(r.Bytes)/1e6), wording.CountOf(r.Entries, "entry"), r.Scope})
	for _, h := range r.Heads {
		s.Say(screen.Plain, fmt.Sprintf("head of chain %s…: %d, %s", h.Book.String()[:8], h.Seq, h.Hash))
	}
	return s.Err()
}

func findings(list []export.Finding) []findingJSON {
	out := make([]findingJSON, len(list))
	for i, f := range list {
		out[i] = findingJSON{f.Kind, orNull(f.Entry), f.Text}
	}
	return out
}

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
			return line.WrongLinef("traybook verify, or traybook verify BAG", "verify takes one archive at most")
		},
	}
}

// headWanted is the hash that must be in the book or the archive, nil where none was asked for.
func headWanted(c *cli.Context) (*events.Hash, error) {
	if !c.IsSet("head") {
		return nil, nil
	}
	head, err := events.ParseHash(strings.ToLower(strings.TrimSpace(c.String("head"))))
	if err != nil {
		return nil, line.WrongLinef("a head is the 64 hex digits that verify and the pages show", "--head: %s", err)
	}
	return &head, nil
}

func verifyBook(env *Env, c *cli.Context) error {
	options := sqlite.VerifyOptions{Chain: c.Bool("chain")}
	head, err := headWanted(c)
	if err != nil {
		return err
	}
	if head != nil {
		options.Head = head.String()
	}
	path, err := bookPath(env, c)
	if err != nil {
		return err
	}
	progress := newProgress(env, 2, "entries looked at")
	options.Progress = func(done, total int64) {
		progress.all, progress.done = int(total), int(done)-1
		progress.step("")
	}
	report, err := sqlite.VerifyFile(path, bookOptions(true), options)
	progress.clear()
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
		s.Say(screen.Bad, fmt.Sprintf("%s: the entries are whole, the scans beside it are not: %s. The scans stand in the folder scans beside the book; copy them from where they are whole, or attach them again.", path, wording.CountOf(len(v.Problems), "problem")))
		return s.Err()
	}
	if !v.OK {
		s.Say(screen.Bad, fmt.Sprintf("%s is damaged: %s. What stands beside the entries is made anew by traybook rebuild; what can be read of the entries is saved by traybook salvage.", path, wording.CountOf(len(v.Problems), "problem")))
		return s.Err()
	}
	flow(s, []string{path + " is whole", wording.CountOf(v.Events, "entry")})
	for _, h := range v.Heads {
		s.Hang(screen.Plain, "  ", fmt.Sprintf("head of chain %s… at %d: %s", h.Book[:8], h.BookSeq, h.Hash))
	}
	return s.Err()
}
