package sqlite

import (
	"bytes"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"traybook/events"
	"traybook/events/sqlite/rawfile"
)

// VerifyOptions say how much is looked at.
type VerifyOptions struct {
	Chain    bool                    // the chains alone
	Head     string                  // a hash remembered elsewhere, 64 hex digits: its entry must be in the book
	Progress func(done, total int64) // may be nil; entries looked at so far
}

// Kinds of problem.
const (
	ProblemFile       = "file"       // SQLite's own check
	ProblemMissing    = "missing"    // entries that were there are not
	ProblemBytes      = "bytes"      // stored bytes that are no entry
	ProblemHash       = "hash"       // stored bytes that do not fit their hash
	ProblemLink       = "link"       // an entry that does not follow the one before
	ProblemOrder      = "order"      // recorded before the entry it follows
	ProblemChain      = "chain"      // the list of chains
	ProblemTrigger    = "trigger"    // a guard that is gone or changed
	ProblemTable      = "table"      // a table or index that is gone or changed
	ProblemColumn     = "column"     // what stands beside the stored bytes
	ProblemName       = "name"       // the index of names
	ProblemCite       = "cite"       // the index of what names what
	ProblemCorrection = "correction" // the index of voids and amendments
	ProblemView       = "view"       // a kept view that the entries do not give
	ProblemHead       = "head"       // the remembered hash is not in the book
	ProblemLog        = "log"        // the log beside the book is damaged
	ProblemRule       = "rule"       // an entry that the reader of lines would not take
)

// Problem is one thing found wrong. Entry is the id of the entry it is about, "" where it is about none.
type Problem struct {
	Kind  string
	Entry string
	Text  string
}

// Report is what verify found. Head is the end of the book's own chain, or of the chain of its last entry.
type Report struct {
	OK       bool
	Events   int64
	Head     Head
	Heads    []Head
	Problems []Problem
	Notes    []string
}

// maxProblems bounds a report: of a file in which nearly everything is damaged, the first thousand say enough.
const maxProblems = 1000

func (r *Report) problem(kind, entry, format string, args ...any) {
	if len(r.Problems) == maxProblems {
		r.Notes = append(r.Notes, fmt.Sprintf("there are more than %d problems; the rest is not listed", maxProblems))
	}
	if len(r.Problems) <= maxProblems {
		r.Problems = append(r.Problems, Problem{kind, entry, fmt.Sprintf(format, args...)})
	}
}

func (r *Report) note(format string, args ...any) {
	r.Notes = append(r.Notes, fmt.Sprintf(format, args...))
}

// Verify looks at the whole book and changes nothing: SQLite's own check, the chains, the guards, what stands beside
// the stored bytes, and the views against a refold. Damage is in the report; an error means that nothing could be said
// (the book is in use, the remembered hash is none).
func (b *Book) Verify(o VerifyOptions) (Report, error) {
	var r Report
	if o.Head != "" {
		if _, err := events.ParseHash(o.Head); err != nil {
			return r, err
		}
	}
	err := b.ReadTwice(func(tx, other *Tx) error { return (&verifier{tx, other, &r, o}).all() })
	if errors.Is(err, events.ErrDamaged) {
		r.problem(ProblemFile, "", "%s", unread(err))
		err = nil
	}
	if len(r.Problems) > maxProblems {
		r.Problems = r.Problems[:maxProblems]
	}
	r.OK = err == nil && len(r.Problems) == 0
	return r, err
}

// verifier goes through a book and writes down what is wrong with it.
type verifier struct {
	tx    *Tx
	other *Tx // of the same state, for another goroutine
	r     *Report
	o     VerifyOptions
}

func (v *verifier) all() error {
	if !v.o.Chain {
		if err := verifyFile(v.tx.file, v.r); err != nil {
			return err
		}
		whole, err := v.schema()
		if err != nil {
			return err
		}
		if !whole {
			v.r.note("the entries and what stands beside them were not looked at, since a table is gone")
			return nil
		}
	}
	if err := v.chains(); err != nil || v.o.Chain {
		return err
	}
	// Where the bytes themselves are damaged, what is derived from them cannot be told right from wrong.
	unreadable := func(p Problem) bool { return p.Kind == ProblemBytes }
	if !slices.ContainsFunc(v.r.Problems, unreadable) {
		replayed, err := v.beside()
		if err != nil {
			return err
		}
		if replayed != nil {
			return v.views(replayed)
		}
	}
	v.r.note("columns and views were not looked at to the end, since some stored bytes cannot be read")
	return nil
}

// unread is what verify says where damage stopped it: it cannot send to itself.
func unread(err error) string {
	var d damage
	if errors.As(err, &d) {
		return d.what() + ": a page of it cannot be read, so what comes behind was not looked at"
	}
	return err.Error()
}

// verifyFile asks SQLite to look at its pages, rows and indexes, and at the references between tables.
func verifyFile(file *statements, r *Report) error {
	rows, err := file.Query("PRAGMA integrity_check(100)")
	if err := each(rows, err, func(row scanner) error {
		var text string
		if err := row.Scan(&text); err != nil || text == "ok" {
			return err
		}
		// One answer may say several things, below a heading.
		for _, line := range strings.Split(strings.TrimPrefix(text, "*** in database main ***\n"), "\n") {
			r.problem(ProblemFile, "", "SQLite's own check says: %s", line)
		}
		return nil
	}); err != nil {
		return err
	}
	rows, err = file.Query("PRAGMA foreign_key_check")
	return each(rows, err, func(scanner) error {
		r.problem(ProblemChain, "", "a chain grew from one that is not listed")
		return nil
	})
}

// schema holds every table, index and guard against its text. whole says that every table is there.
func (v *verifier) schema() (whole bool, err error) {
	rows, err := v.tx.file.Query("SELECT type, name, sql FROM sqlite_schema WHERE sql IS NOT NULL AND name NOT LIKE 'sqlite!_%' ESCAPE '!' ORDER BY name")
	seen := map[string]bool{}
	if err := each(rows, err, func(row scanner) error {
		var typ, name, text string
		if err := row.Scan(&typ, &name, &text); err != nil {
			return err
		}
		seen[name] = true
		kind := ProblemTable
		if typ == "trigger" {
			kind = ProblemTrigger
		}
		switch want, known := objects()[name]; {
		case !known:
			v.r.problem(kind, "", "the file holds a %s %q that is none of the book's", typ, name)
		case want != text && kind == ProblemTrigger:
			v.r.problem(kind, "", "the %s %q was changed; %s", typ, name, rebuildGuards)
		case want != text:
			v.r.problem(kind, "", "the %s %q was changed; %s", typ, name, salvageHasIt)
		}
		return nil
	}); err != nil {
		return false, err
	}
	whole = true
	for _, name := range slices.Sorted(maps.Keys(objects())) {
		switch {
		case seen[name]:
		case slices.Contains(triggerNames, name):
			v.r.problem(ProblemTrigger, "", "the trigger %q is gone; %s", name, rebuildGuards)
		default:
			typ := strings.ToLower(strings.Fields(objects()[name])[1]) // CREATE TABLE name
			whole = whole && typ != "table"
			v.r.problem(ProblemTable, "", "the %s %q is gone; %s", typ, name, salvageHasIt)
		}
	}
	return whole, nil
}

// What is to be done about a trigger, a table or an index that is gone or changed.
const (
	rebuildGuards = "`traybook rebuild` puts the guard back"
	salvageHasIt  = "`traybook salvage` makes a book that has it"
)

// unfitRows gathers the entries that are what their hashes say and that the reader of lines would not take. They are no
// damage: an older version kept them before there was the rule.
type unfitRows struct {
	told []string
	more int
}

// mostUnfit bounds how many are named.
const mostUnfit = 100

func (u *unfitRows) look(row *keptRow) {
	var unfit *events.UnfitError
	if !errors.As(row.unfit, &unfit) {
		return // a row whose hash does not fit is told as such
	}
	if len(u.told) == mostUnfit {
		u.more++
		return
	}
	u.told = append(u.told, unfitText(&row.entry, unfit))
}

func unfitText(e *events.Entry, unfit error) string {
	return fmt.Sprintf("entry number %d (%s…), a %s, breaks a rule: %s", e.Seq, e.ID.String()[:8], e.Kind, unfit)
}

func (u *unfitRows) notes(r *Report) {
	for _, text := range u.told {
		r.note("%s; it stays and goes into exports and archives, but into no other book: `traybook salvage` makes a book without it", text)
	}
	if u.more > 0 {
		r.note("%d more entries break a rule", u.more)
	}
}

// verifyLog looks at the log that a dead program left beside a book, before SQLite does. Where something that was
// acknowledged is not taken in, it is all that is looked at: an opened book would begin a new log over it.
func verifyLog(path string) (r Report, lost bool) {
	path = rawfile.OwnPlace(path)
	if rawfile.PlainFiles(path) != nil || rawfile.OpenHere.Has(path) {
		return r, false
	}
	if l, err := rawfile.LogOf(path); err != nil || l == nil || !l.Lost() {
		return r, false // Open says what is wrong
	}
	q, err := rawfile.OpenQuarry(path)
	if err != nil {
		return r, false
	}
	defer q.Close()
	r.problem(ProblemLog, "", "%s", q.Log.Says(path))
	s, err := carve(q)
	if err != nil {
		return r, true
	}
	for _, f := range s.finds {
		if f.behind {
			r.problem(ProblemLog, f.id.String(), "entry number %d, a %s, can be read behind the damage in the log; `traybook salvage` brings it back", f.rowid, f.kind)
		} else {
			r.Events++
		}
	}
	for _, p := range s.out.Problems {
		r.problem(p.Kind, p.Entry, "%s", p.Text)
	}
	if n := s.out.Missing; n > 0 {
		r.problem(ProblemMissing, "", "%s cannot be read anywhere", countOf(n))
	}
	r.note("the rest of the book was not looked at, since opening it would write over the log: save it by `traybook salvage` first")
	return r, true
}

func countOf(n int64) string {
	if n == 1 {
		return "one entry"
	}
	return fmt.Sprintf("%d entries", n)
}

// views folds every stream again and holds the kept view against that.
func (v *verifier) views(p *replayed) error {
	switch {
	case v.tx.b.folder == nil:
		return nil
	case v.tx.b.stale:
		v.r.note("the kept views were folded by another version of traybook and are not used; `traybook rebuild` makes them anew")
		return nil
	}
	found := make([]viewFound, len(p.entities))
	hold := func(tx *Tx) func(int) error {
		return func(i int) (err error) {
			if t := p.entities[i]; p.viewed[int64(i)+1] {
				found[i], err = heldView(tx, t.row.entity(t.bare))
			}
			return err
		}
	}
	if err := events.ByTwo(len(found), hold(v.tx), hold(v.other)); err != nil {
		return err
	}
	kept := int64(0)
	for i, f := range found {
		name := p.entities[i].row.entity(p.entities[i].bare).Name
		switch f {
		case viewMissing:
			v.r.problem(ProblemView, "", "%s has no kept view; `traybook rebuild` makes it", name)
			continue
		case viewOther:
			v.r.problem(ProblemView, "", "the kept view of %s is not what its entries give; `traybook rebuild` makes it anew", name)
		case viewNone:
			continue
		}
		kept++
	}
	var n int64
	if err := v.tx.file.QueryRow("SELECT count(*) FROM view").Scan(&n); err != nil {
		return translate(err)
	}
	if n > kept {
		return v.strayViews(p)
	}
	return nil
}

// viewFound is what was found of the kept view of a thing.
type viewFound byte

const (
	viewNone    viewFound = iota // there is to be none
	viewRight                    // it is what its entries give
	viewMissing                  // it is not there
	viewOther                    // it is not what its entries give
)

// heldView folds a stream again and holds the kept view against that.
func heldView(tx *Tx, t events.Entity) (viewFound, error) {
	got, ok, err := tx.View(t)
	if err != nil || !ok {
		return viewMissing, err
	}
	want, err := tx.b.folder.Fold(t, tx)
	if err == nil && !sameView(got, want) {
		return viewOther, nil
	}
	return viewRight, err
}

func (v *verifier) strayViews(p *replayed) error {
	streams, err := v.tx.file.ints("SELECT stream FROM view ORDER BY stream")
	if err != nil {
		return err
	}
	for _, id := range streams {
		if !p.viewed[id] {
			v.r.problem(ProblemView, "", "a view is kept of thing number %d, which holds no entry; `traybook rebuild` drops it", id)
		}
	}
	return nil
}

// sameView says whether two views hold the same.
func sameView(a, b events.View) bool {
	return a.Entity == b.Entity && a.Rank == b.Rank && a.Open == b.Open && a.Last == b.Last && a.Stock == b.Stock &&
		bytes.Equal(a.State, b.State)
}
