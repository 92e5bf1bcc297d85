// Package sqlite keeps a book in one SQLite file. It alone knows the driver.
//
// WAL mode with synchronous FULL: what was acknowledged survives a power cut. One connection, one writer; a write is
// one immediate transaction. Every pragma is read back after opening, since the driver ignores what it does not know.
package sqlite

import (
	"context"
	"database/sql"
	"database/sql/driver"
	_ "embed"
	"errors"
	"fmt"
	"io/fs"
	"math/bits"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	sqlite3 "github.com/mattn/go-sqlite3"

	"traybook/events"
	"traybook/events/atomicfile"
	"traybook/events/sqlite/rawfile"
)

//go:embed schema.sql
var schema string

const (
	busyTimeoutMS = 20000
)

// Layout is the version of the tables that this program writes.
const Layout = rawfile.Layout

// LibraryVersion is that of SQLite, as it names itself.
func LibraryVersion() string {
	version, _, _ := sqlite3.Version()
	return version
}

// Folder turns the entries of one stream into its view. It must be a pure function of what the reader shows.
type Folder interface {
	Fold(t events.Entity, r events.Reader) (events.View, error)
	Version() int // of the folding; another version in a book means that its views are not trusted
}

// Options say how a book is opened.
type Options struct {
	Folder   Folder
	ReadOnly bool // look only: the file's bytes stay as they are
	// Committing, where it is set, is called before a change is kept.
	Committing func()
}

// Book is an open book.
type Book struct {
	path   string
	file   fs.FileInfo // what stood at path when it was opened
	db     *sql.DB
	folder Folder
	ro     bool
	mode   string // rw, ro, or immutable on a medium that cannot be written
	stale  bool   // the kept views are of another fold version

	former    string // where the copy of the older layout lies that this opening took up, "" for none
	clockBack *ClockBack
	written   bool // a write through this opening changed something, and is safe

	committing func() // nil for nobody who asks

	joined *joined // the transaction that writes join, nil outside of Together
}

// Path is the file of the book.
func (b *Book) Path() string { return b.path }

// Former is where the book lies as it was before this opening took it up from an older layout, "" where it did not.
func (b *Book) Former() string { return b.former }

// Written says that something was changed through this opening of the book and is safe: whatever fails from then on, an
// answer say, takes nothing back.
func (b *Book) Written() bool { return b.written }

// ErrNoBook says that there is no file where the book should be.
var ErrNoBook = errors.New("there is no book")

// Open opens the book at path. It refuses, before anything is touched, a file that is no book (ErrDamaged), and one of
// a later layout (events.ErrNewer).
func Open(path string, o Options) (*Book, error) {
	abs, err := absolute(path)
	if err != nil {
		return nil, err
	}
	info, err := os.Stat(abs)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, fmt.Errorf("%w at %s", ErrNoBook, path)
	case err != nil:
		return nil, fmt.Errorf("the book %s cannot be reached: %w", path, rawfile.Reason(err))
	case info.IsDir():
		return nil, fmt.Errorf("%s is a folder, not a book; name the file in it, such as book.db", path)
	}
	// What stands beside the book, its log and the scans, stands beside the file itself, not beside a link to it.
	if abs, err = filepath.EvalSymlinks(abs); err != nil {
		return nil, fmt.Errorf("the book %s cannot be reached: %w", path, rawfile.Reason(err))
	}
	for _, check := range []func(string) error{rawfile.PlainFiles, peek, rawfile.CheckLog} {
		if err := check(abs); err != nil {
			return nil, fmt.Errorf("%s: %w", path, err)
		}
	}
	if n := otherNames(abs, info); n > 0 {
		return nil, fmt.Errorf("%s is one file under %d names (hard links), and acts in the log beside one name would be lost under another: remove the other name, or copy the book with cp and use the copy", path, n+1)
	}
	kept := ""
	if head, err := rawfile.ReadHead(abs); err == nil && head.Layout() < Layout {
		if o.ReadOnly {
			return nil, fmt.Errorf("%s has an older layout (%d, this version writes %d), and is taken up where it may be written: open it so once, with traybook today", path, head.Layout(), Layout)
		}
		if kept, err = takeUp(abs, head.Layout(), layoutSteps[head.Layout()-1:]); err != nil {
			return nil, fmt.Errorf("%s: %w", path, err)
		}
	}
	b, err := connect(abs, o)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, translate(err))
	}
	b.former = kept
	return b, nil
}

// absolute is a path from the root.
func absolute(path string) (string, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return "", fmt.Errorf("%s cannot be reached: the folder that this was called in is gone (%w); go to another one, or write the whole path", path, rawfile.Reason(err))
	}
	return abs, nil
}

func dsn(path string, o Options, mode string) string {
	q := url.Values{}
	q.Set("mode", mode)
	q.Set("_synchronous", "FULL")
	q.Set("_busy_timeout", fmt.Sprint(busyTimeoutMS))
	q.Set("_recursive_triggers", "1")
	q.Set("_stmt_cache_size", "64")
	if o.ReadOnly {
		q.Set("_query_only", "1")
	}
	if mode == "immutable" {
		q.Set("mode", "ro")
		q.Set("immutable", "1")
	}
	slashed := filepath.ToSlash(path)
	if filepath.VolumeName(path) != "" && !strings.HasPrefix(slashed, "/") {
		slashed = "/" + slashed // a drive stands below the root of a file's address
	}
	return (&url.URL{Scheme: "file", Path: slashed, RawQuery: q.Encode()}).String()
}

// connector opens connections through the driver with the pragmas that have no parameter.
type connector struct{ dsn string }

var drv driver.Driver = &sqlite3.SQLiteDriver{ConnectHook: func(c *sqlite3.SQLiteConn) error {
	_, err := c.Exec("PRAGMA trusted_schema=0; PRAGMA cell_size_check=1; PRAGMA fullfsync=1; PRAGMA checkpoint_fullfsync=1;", nil)
	return err
}}

func (c connector) Connect(context.Context) (driver.Conn, error) { return drv.Open(c.dsn) }

func (c connector) Driver() driver.Driver { return drv }

func connect(path string, o Options) (*Book, error) {
	if !o.ReadOnly {
		return connectMode(path, o, "rw")
	}
	info, err := os.Stat(path + "-wal")
	logged := err == nil && info.Size() > 0
	mode := "rw" // with query_only: it tidies up the empty files that SQLite keeps beside an open book
	if logged {
		// The last to close would write the log of a writer that died into the file; a connection that may only read
		// leaves it.
		mode = "ro"
	}
	b, err := connectMode(path, o, mode)
	if err == nil || logged {
		return b, err
	}
	// A medium that cannot be written: a file without a log can be read as it stands.
	if still, err2 := connectMode(path, o, "immutable"); err2 == nil {
		return still, nil
	}
	return nil, err
}

func connectMode(path string, o Options, mode string) (*Book, error) {
	db := sql.OpenDB(connector{dsn(path, o, mode)})
	db.SetMaxOpenConns(1)
	b := &Book{path: path, db: db, folder: o.Folder, ro: o.ReadOnly, mode: mode, committing: o.Committing}
	b.file, _ = os.Stat(path)
	if err := b.ready(mode); err != nil {
		db.Close()
		return nil, err
	}
	rawfile.OpenHere.Add(b.file)
	return b, nil
}

// ready reads the pragmas back and looks at the fold version.
func (b *Book) ready(mode string) error {
	want := map[string]string{"synchronous": "2", "recursive_triggers": "1", "trusted_schema": "0", "busy_timeout": fmt.Sprint(busyTimeoutMS)}
	if mode != "immutable" {
		want["journal_mode"] = "wal"
	}
	if mode == "rw" && !b.ro {
		// A checked copy (backup, archive) stands in rollback mode; the first to write turns it over.
		if _, err := b.db.Exec("PRAGMA journal_mode=WAL"); err != nil {
			return err
		}
	}
	for name, value := range want {
		var got string
		if err := b.db.QueryRow("PRAGMA " + name).Scan(&got); err != nil {
			return err
		}
		if name == "journal_mode" && b.ro && got == "delete" {
			continue
		}
		if !strings.EqualFold(got, value) {
			return fmt.Errorf("SQLite did not accept %s=%s, it says %s; the book cannot be kept safely here", name, value, got)
		}
	}
	var layout int
	if err := (typedRow{b.db.QueryRow("PRAGMA user_version")}).Scan(&layout); err != nil {
		return err
	}
	if layout > rawfile.Layout {
		return fmt.Errorf("%w (layout %d)", events.ErrNewer, layout)
	}
	var fold string
	err := typedRow{b.db.QueryRow("SELECT value FROM meta WHERE key='fold'")}.Scan(&fold)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return err
	}
	b.stale = b.folder != nil && fold != fmt.Sprint(b.folder.Version())
	return nil
}

// Close closes the book; with the last connection the WAL goes into the file.
func (b *Book) Close() error {
	defer rawfile.OpenHere.Remove(b.file)
	return translate(b.db.Close())
}

// Create makes an empty book at path and opens it. It is built beside the path and takes its name when it is whole. An
// existing file is refused.
func Create(path string, o Options) (*Book, error) {
	if err := CreateFilled(path, o, nil); err != nil {
		return nil, err
	}
	return Open(path, o)
}

// CreateFilled makes a book at path with what fill writes into it, and leaves it closed. The book has its name only when
// fill has come to its end and all is safe on the disk. An existing file is refused. A nil fill leaves the book empty.
func CreateFilled(path string, o Options, fill func(*Book) error) (err error) {
	abs, err := absolute(path)
	if err != nil {
		return err
	}
	if err := vacant(abs, path); err != nil {
		return err
	}
	made, err := makeFolders(filepath.Dir(abs))
	defer func() {
		if err != nil {
			removeFolders(made)
		}
	}()
	if err != nil {
		return err
	}
	tmp, err := newTemp(abs)
	if err != nil {
		return err
	}
	defer tmp.discard()
	if err := build(tmp.path, o); err != nil {
		return fmt.Errorf("%s: %w", path, tmp.because(err))
	}
	if fill != nil {
		b, err := connect(tmp.path, o)
		if err != nil {
			return fmt.Errorf("%s: %w", path, tmp.because(err))
		}
		err = fill(b)
		if shut := b.Close(); err == nil {
			err = shut
		}
		if isTrouble(err) {
			return fmt.Errorf("%s: %w", path, tmp.because(err))
		}
		if err != nil {
			return err
		}
	}
	return tmp.take(abs, false)
}

// makeFolders makes a folder, and those above it that are missing, each safe on the disk: a book is lost with the name of
// its folder. It names those that it made, the outer ones first, after an error too.
func makeFolders(dir string) (made []string, err error) {
	var missing []string
	for at := dir; ; at = filepath.Dir(at) {
		info, err := os.Stat(at)
		if err == nil && !info.IsDir() {
			return nil, fmt.Errorf("the folder %s cannot be made: %s is a file", dir, at)
		}
		if err == nil || at == filepath.Dir(at) {
			break
		}
		if atomicfile.Grows(filepath.Base(at)) {
			return nil, fmt.Errorf("the folder %s cannot be made: %w", dir, fs.ErrNotExist)
		}
		missing = append(missing, at)
	}
	for _, at := range slices.Backward(missing) {
		err := os.Mkdir(at, 0o700)
		if errors.Is(err, fs.ErrExist) {
			continue
		}
		if err == nil {
			made = append(made, at)
			err = atomicfile.SyncDir(filepath.Dir(at))
		}
		if err != nil {
			return made, fmt.Errorf("the folder %s cannot be made: %w", at, rawfile.Reason(err))
		}
	}
	return made, nil
}

// removeFolders takes new folders back, as far as nobody put anything into them.
func removeFolders(made []string) {
	for _, at := range slices.Backward(made) {
		os.Remove(at)
	}
}

// build writes the tables into an empty file.
func build(path string, o Options) error {
	db := sql.OpenDB(connector{dsn(path, Options{}, "rw")})
	defer db.Close()
	db.SetMaxOpenConns(1)
	fold := 0
	if o.Folder != nil {
		fold = o.Folder.Version()
	}
	for _, s := range []string{
		"PRAGMA page_size=4096",
		"BEGIN", // a sync for each table would take seconds on a slow card
		fmt.Sprintf("PRAGMA application_id=%d", rawfile.ApplicationID),
		schema,
		fmt.Sprintf("PRAGMA user_version=%d", rawfile.Layout),
		fmt.Sprintf("INSERT INTO meta VALUES ('fold', '%d')", fold),
		"COMMIT",
		"PRAGMA journal_mode=WAL",
	} {
		if _, err := db.Exec(s); err != nil {
			return err
		}
	}
	return db.Close()
}

func syncFile(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	defer f.Close()
	return f.Sync()
}

// trouble is a failure of the disk or of SQLite, not of what the book holds.
type trouble string

func (t trouble) Error() string { return string(t) }

const errFull = trouble("the disk is full, or the file may not grow; nothing was written: make room and do it again")

// isTrouble says that nothing can be concluded about the book from err.
func isTrouble(err error) bool {
	var t trouble
	return errors.As(err, &t) || errors.Is(err, events.ErrBusy)
}

// damage is events.ErrDamaged with what to do about it.
type damage struct{ where string } // "" for not known

// damaged says that the book is damaged, and where that is known.
func damaged(where string) error { return damage{where} }

// what tells the damage alone.
func (d damage) what() string {
	if d.where == "" {
		return events.ErrDamaged.Error()
	}
	return events.ErrDamaged.Error() + ": " + d.where
}

func (d damage) Error() string {
	return d.what() + "; `traybook verify` tells where, `traybook salvage` saves what can be read"
}

func (damage) Unwrap() error { return events.ErrDamaged }

// translate turns the driver's errors into the log's, so that no message of SQLite reaches a person bare.
func translate(err error) error {
	var e sqlite3.Error
	if err == nil || !errors.As(err, &e) {
		return err
	}
	what, ok := strings.CutPrefix(e.Error(), "no such ")
	if kind, name, _ := strings.Cut(what, ": "); ok && (kind == "table" || kind == "index") {
		return fmt.Errorf("%w: the %s %q is gone; %s", events.ErrDamaged, kind, name, salvageHasIt)
	}
	switch e.Code {
	case sqlite3.ErrBusy, sqlite3.ErrLocked:
		return events.ErrBusy
	case sqlite3.ErrCorrupt, sqlite3.ErrNotADB, sqlite3.ErrFormat:
		return damaged("")
	case sqlite3.ErrFull:
		return errFull
	case sqlite3.ErrReadonly, sqlite3.ErrPerm:
		return trouble("the book cannot be written here; check the permissions of the file and its folder")
	case sqlite3.ErrCantOpen:
		return trouble("the book cannot be opened; check that its folder exists and may be written")
	case sqlite3.ErrIoErr:
		return trouble("the disk failed while the book was in use; nothing is acknowledged that was not safe: check the disk, then `traybook verify`")
	case sqlite3.ErrConstraint:
		return trouble("the book refused it: entries are only ever added, each once")
	}
	return trouble(fmt.Sprintf("the book could not be used (code %d of the store); `traybook verify` tells whether it is whole", int(e.Code)))
}

// peek reads the file's header: the magic, the mark of the program and the layout. A later version's book must be refused
// before SQLite gets a chance to touch it, and SQLite touches on the first read in WAL mode.
//
// A header that no book has is damage where the tables are a book's. A later layout has other tables, so a layout one bit
// off from this one's above this one's tables is damage, too; any other number is believed.
func peek(path string) error {
	h, err := rawfile.ReadHead(path)
	if err != nil {
		return err
	}
	if string(h[:len(rawfile.Magic)]) != rawfile.Magic {
		return fmt.Errorf("%w: the file is no SQLite book, or its beginning is lost; try `traybook salvage`", events.ErrDamaged)
	}
	wrong := h.Damaged()
	if wrong == "" {
		return nil
	}
	ours, layout := hasBookTables(path), h.Word(60)
	switch {
	case h.Word(68) != rawfile.ApplicationID && !ours:
		return rawfile.ErrNotBook
	case layout > rawfile.Layout && (!ours || bits.OnesCount32(layout^rawfile.Layout) > 1):
		return fmt.Errorf("%w (layout %d, this one knows %d); nothing was touched, install the newer version", events.ErrNewer, layout, rawfile.Layout)
	}
	return fmt.Errorf("%w: %s; nothing was touched: `traybook salvage` saves what can be read", rawfile.ErrHeader, wrong)
}

// IsBook says whether a file begins as a book does, of this version or a later one, damaged or not.
func IsBook(path string) bool {
	err := peek(path)
	return err == nil || errors.Is(err, events.ErrNewer) || errors.Is(err, rawfile.ErrHeader)
}

// hasBookTables says whether a file holds the table of entries as a book does, whatever its header says.
func hasBookTables(path string) bool {
	q, err := rawfile.OpenQuarry(path)
	if err != nil {
		return false
	}
	defer q.Close()
	return q.SchemaHas("entry", objects()["entry"], 1, map[int64]bool{})
}

// objects are the tables, indexes and triggers of the schema, by name, with the text that SQLite keeps of each.
var objects = sync.OnceValue(func() map[string]string {
	out := map[string]string{}
	var stmt strings.Builder
	inside := false
	for _, line := range strings.SplitAfter(schema, "\n") {
		if !inside && !strings.HasPrefix(line, "CREATE") {
			continue
		}
		inside = true
		stmt.WriteString(line)
		code, _, _ := strings.Cut(line, "--")
		code = strings.TrimSpace(code)
		// A trigger's body holds a semicolon of its own; the trigger ends with END.
		isTrigger := strings.HasPrefix(stmt.String(), "CREATE TRIGGER")
		if strings.HasSuffix(code, "END;") || !isTrigger && strings.HasSuffix(code, ";") {
			text := strings.TrimSpace(stmt.String())
			text = text[:strings.LastIndex(text, ";")]
			out[strings.Fields(text)[2]] = text // CREATE TABLE name
			stmt.Reset()
			inside = false
		}
	}
	return out
})

// triggerNames are the guards of the entries.
var triggerNames = []string{"entry_is_new", "entry_no_update", "entry_no_delete"}

// restoreTriggers makes the guards as they should be.
func (s *statements) restoreTriggers() error {
	for _, name := range triggerNames {
		var text string
		err := s.QueryRow("SELECT sql FROM sqlite_schema WHERE type='trigger' AND name=?", name).Scan(&text)
		if err != nil && !errors.Is(err, sql.ErrNoRows) {
			return translate(err)
		}
		if text == objects()[name] {
			continue
		}
		if _, err := s.Exec("DROP TRIGGER IF EXISTS " + name); err != nil {
			return translate(err)
		}
		if _, err := s.Exec(objects()[name]); err != nil {
			return translate(err)
		}
	}
	return nil
}
