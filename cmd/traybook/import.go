package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"iter"
	"os"
	"path/filepath"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/line"
	"traybook/events"
	"traybook/events/atomicfile"
	"traybook/events/sqlite"
	"traybook/projections/acts"
	"traybook/projections/wording"
)

func importCommand(env *Env) *cli.Command {
	return &cli.Command{
		Name: "import", Usage: "take a file of entries into the book, whole or not at all", ArgsUsage: "FILE|-", Category: forKeep,
		UsageText: lines("traybook import afternoon.ndjson", "traybook export events --out - | traybook import - --book copy.db"),
		Description: "FILE holds one entry a line: plain lines (kind, at, data) or whole ones with their hash, as export events writes them.\n" +
			"Into a missing book the first line must be book.opened. The same file again adds nothing. Plain lines whose text holds a\n" +
			"sitter's name are refused without --even-so; whole ones are taken as they are.",
		Flags: []cli.Flag{&cli.BoolFlag{Name: "even-so", Usage: "take texts that hold a sitter's name, and numbers far ahead"}},
		Action: func(c *cli.Context) error {
			words := c.Args().Slice()
			if len(words) != 1 {
				return line.WrongLinef("traybook import afternoon.ndjson; - reads standard input", "import takes one file")
			}
			return importFile(env, c, words[0])
		},
	}
}

// inLine tells an error of a line in the words of the file, not in those of the command line.
func inLine(err error) error {
	var at *events.LineError
	if !errors.As(err, &at) {
		return err
	}
	text := at.Err.Error()
	hint := "nothing was taken from the file; mend that line and import it again"
	var unfit *events.UnfitError
	if errors.As(err, &unfit) { // its hash stands, so that no word of it can be mended
		hint = "nothing was taken from the file; traybook salvage makes a book without that entry from the one that it came from"
	}
	if no := wording.RefusalIn(at.Err); no != nil {
		text = no.Text()
		if no.Of.EvenSo {
			hint = no.Hint() + "; nothing was taken from the file"
		}
	}
	return &events.LineError{N: at.N, Err: line.Refuse(hint, "%s", text)}
}

// imported is what an import did, as scripts read it.
type imported struct {
	Added   int      `json:"added"` // entries that were written
	Known   int      `json:"known"` // entries that the book had already
	Batch   *string  `json:"batch"`
	Sitters []string `json:"sitters"`
	LeftOut int      `json:"left_out"` // lines that open another book, and what mends them
	Erased  int      `json:"erased"`   // names of people who were erased here
	Book    string   `json:"book"`
}

func importFile(env *Env, c *cli.Context, name string) error {
	in := env.In
	if name != "-" {
		f, err := atomicfile.OpenPlain(name)
		if err != nil {
			return line.Refuse("check its name; - reads standard input", "%s cannot be read: %s", name, root(err))
		}
		defer f.Close()
		in = f
	}
	path, err := bookPath(env, c)
	if err != nil {
		return err
	}
	out := imported{Book: path}
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		err = importNew(env, c, path, in, &out)
		if err != nil {
			return err
		}
	} else if err := withBook(env, c, false, func(book *sqlite.Book) error { return importInto(env, c, book, in, false, &out) }); err != nil {
		return err
	}
	if c.Bool("json") {
		out.Sitters = orEmpty(out.Sitters)
		return writeJSON(env.Out, out)
	}
	s := screenOf(env, c)
	parts := []string{fmt.Sprintf("%s taken into %s", wording.CountOf(out.Added, "entry"), path)}
	if out.Known > 0 {
		parts = append(parts, wereThere(out.Known, "there already"))
	}
	if n := out.LeftOut; n > 0 {
		parts = append(parts, wording.CountOf(n, "line")+" left out: this book is open already")
	}
	if n := len(out.Sitters); n > 0 {
		parts = append(parts, wording.CountOf(n, "sitter")+" written in: traybook sitter list")
	}
	if n := out.Erased; n > 0 {
		parts = append(parts, wording.CountOf(n, "name")+" left out, erased here: the old reference stands for it")
	}
	if out.Batch != nil {
		parts = append(parts, "to take all back: traybook void --batch "+(*out.Batch)[:8])
	}
	flow(s, parts)
	return s.Err()
}

// wereThere says of some that they were in a place.
func wereThere(n int, where string) string {
	if n == 1 {
		return "1 was " + where
	}
	return fmt.Sprintf("%d were %s", n, where)
}

// importNew makes a book from a file.
func importNew(env *Env, c *cli.Context, path string, in io.Reader, out *imported) error {
	if err := mayStand(env, c, path); err != nil {
		return err
	}
	err := sqlite.CreateFilled(path, bookOptions(false), func(book *sqlite.Book) error { return importInto(env, c, book, in, true, out) })
	if errors.Is(err, fs.ErrExist) { // another made one meanwhile
		return thereAlready(path, false)
	}
	env.written = env.written || err == nil
	return err
}

const progressEvery = 250 // lines between two showings of how far it is

// errNothingNew rolls back the chain that an import opened and did not need.
var errNothingNew = errors.New("nothing new")

// importInto takes the lines into an open book. fresh says that the book has no entry yet.
func importInto(env *Env, c *cli.Context, book *sqlite.Book, in io.Reader, fresh bool, out *imported) error {
	until := env.Until() // who waits for a file that comes by hand can be stopped
	next, stop := iter.Pull2(events.ReadLines(in))
	defer stop()
	first, err, more := next()
	switch {
	case err != nil:
		return inLine(err)
	case !more:
		return line.Refuse("each line is one entry: {\"kind\":…,\"at\":…,\"data\":{…}}", "the file holds no entry")
	case fresh && first.Kind != events.BookOpened:
		return &events.LineError{N: first.N, Err: line.Refuse("put a book.opened first, or make the book with traybook init and import then",
			"is %s, and a new book begins with book.opened", first.Kind)}
	}
	rest := func(yield func(events.Line, error) bool) {
		for l, err, more := first, error(nil), true; more; l, err, more = next() {
			if err == nil {
				err = until.Err()
			}
			if !yield(l, err) || err != nil {
				return
			}
		}
	}
	if first.Whole {
		return inLine(book.Write(func(tx *sqlite.Tx) error { return importWhole(env, tx, rest, out) }))
	}
	store := newSpool(filepath.Dir(book.Path()))
	defer store.close()
	buffer := acts.NewImportBuffer(store)
	buffer.EvenSo = c.Bool("even-so")
	seen := newProgress(env, 2, "lines read")
	for l, err := range rest {
		if err == nil {
			err = buffer.Add(l)
		}
		if err != nil {
			seen.clear()
			return inLine(err)
		}
		if n := buffer.Len(); n%progressEvery == 0 {
			seen.all, seen.done = n, n-1
			seen.step("")
		}
	}
	seen.clear()
	err = book.Write(func(tx *sqlite.Tx) error { return importPlain(env, tx, first, buffer, fresh, out) })
	if errors.Is(err, errNothingNew) {
		return nil
	}
	return inLine(err)
}

// importWhole takes lines with their hashes, as another book wrote them.
func importWhole(env *Env, tx *sqlite.Tx, lines iter.Seq2[events.Line, error], out *imported) error {
	p := newProgress(env, 2, "lines taken")
	done, err := tx.ImportWhole(lines, func(n int64) {
		p.all, p.done = int(n), int(n)-1
		p.step("")
	})
	p.clear()
	if err != nil {
		return err
	}
	out.Added, out.Known = int(done.Added), int(done.Known)
	return keepZone(tx)
}

func importPlain(env *Env, tx *sqlite.Tx, first events.Line, buffer *acts.ImportBuffer, fresh bool, out *imported) error {
	zone, err := zoneOf(env, tx)
	if x, ok := first.Data.(*events.BookOpenedData); ok && fresh && err == nil {
		if zone, err = line.Zone(x.Zone); err != nil {
			return &events.LineError{N: first.N, Err: err}
		}
	}
	if err != nil {
		return err
	}
	now := moment(env.Now()).In(zone)
	if !fresh {
		if err := tx.EnsureOwn(events.Entry{Kind: events.BookOpened, At: now, RecordedAt: now, ID: newID(), Book: newID(),
			Data: &events.BookOpenedData{Zone: zone.String()}}); err != nil {
			return err
		}
	}
	batch := newID()
	progress := newProgress(env, buffer.Len(), "lines taken")
	done, err := acts.ImportBuffered(tx, buffer, now, batch, newID(), func(n int) {
		if n%progressEvery == 0 {
			progress.done = n - 1
			progress.step("")
		}
	})
	progress.clear()
	if err != nil {
		return err
	}
	out.Added, out.Known, out.Sitters, out.LeftOut, out.Erased = done.Added, done.Known, done.Sitters, done.LeftOut, done.Erased
	if done.Added == 0 {
		return errNothingNew
	}
	if id := batch.String(); !fresh { // a book made from the file is taken back by removing it
		out.Batch = &id
	}
	return keepZone(tx)
}

// spoolInMemory is how many bytes of a file are held before the rest goes to the disk.
const spoolInMemory = 8 << 20

// spool keeps what is too long for memory until it is read again: the lines of a long file while they are put in order, the
// plates of a book until it is written. Its file has no name for longer than
// it takes to open it, where the system allows that, and only its maker can read it.
type spool struct {
	dir  string
	head []byte
	part *atomicfile.Growing
	tail *os.File
	size int64 // bytes in the file
	buf  []byte
}

func newSpool(dir string) *spool { return &spool{dir: dir} }

// Write adds to the end.
func (s *spool) Write(p []byte) (int, error) {
	if s.tail == nil {
		if len(s.head)+len(p) <= spoolInMemory {
			s.head = append(s.head, p...)
			return len(p), nil
		}
		if err := s.open(); err != nil {
			return 0, err
		}
	}
	s.buf = append(s.buf, p...)
	if len(s.buf) >= 1<<18 {
		return len(p), s.flush()
	}
	return len(p), nil
}

func (s *spool) open() (err error) {
	if s.part, err = atomicfile.Grow(s.dir); err != nil {
		return err
	}
	defer s.part.Drop() // where an open file cannot be removed, close does it
	s.tail, err = os.OpenFile(filepath.Join(s.part.Dir, "lines"), os.O_CREATE|os.O_EXCL|os.O_RDWR, 0o600)
	return err
}

func (s *spool) flush() error {
	n, err := s.tail.WriteAt(s.buf, s.size)
	s.size += int64(n)
	s.buf = s.buf[:0]
	return err
}

// ReadAt reads what was written.
func (s *spool) ReadAt(p []byte, off int64) (int, error) {
	n := 0
	if off < int64(len(s.head)) {
		n = copy(p, s.head[off:])
	}
	if n == len(p) {
		return n, nil
	}
	if s.tail == nil {
		return n, io.EOF
	}
	if len(s.buf) > 0 {
		if err := s.flush(); err != nil {
			return n, err
		}
	}
	m, err := s.tail.ReadAt(p[n:], off+int64(n)-int64(len(s.head)))
	return n + m, err
}

func (s *spool) close() {
	if s.tail != nil {
		s.tail.Close()
		s.part.Drop()
	}
}
