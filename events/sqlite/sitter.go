package sqlite

import (
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"traybook/events"
	people "traybook/events/names"
)

var _ events.SitterBook = (*Tx)(nil)

// sitters are the table of names and contacts beside the entries, and what is left of those who were erased.
type sitters struct {
	file    *statements
	names   *nameIndex
	chains  *chains
	inTable *int               // the largest number in the table, nil before it was asked
	laid    *[]stone           // the stones of the book, nil before they were asked and after one came in
	gone    []events.SitterRow // names that go out of the paths of scans when the write is done
	forgot  bool               // a row was taken out: its traces go when the write is done
}

// AddSitter writes a name in under the next reference. A number once given to a sitter, erased ones included, is not
// given again: the entries still hold it.
func (t *sitters) AddSitter(name, contact string) (string, error) {
	if err := fitsSitter(name, contact); err != nil {
		return "", err
	}
	n, err := t.largest()
	if err != nil {
		return "", err
	}
	if n++; n > events.MaxNumber {
		return "", fmt.Errorf("the numbers of sitters are used up: sitter-%d is taken", events.MaxNumber)
	}
	ref := fmt.Sprintf("sitter-%d", n)
	_, err = t.file.Exec("INSERT INTO sitter VALUES (?,?,?)", ref, strings.TrimSpace(name), contact)
	t.count(ref)
	return ref, translate(err)
}

// largest is the largest number that a sitter was given, whether an entry holds it or the table alone. The table is
// gone through once.
func (t *sitters) largest() (int, error) {
	n, err := t.names.largestNumber("sitter-")
	if err != nil {
		return 0, err
	}
	if t.inTable == nil {
		var inTable sql.NullInt64
		err = t.file.QueryRow("SELECT max(CAST(substr(ref,8) AS INTEGER)) FROM sitter WHERE CAST(substr(ref,8) AS INTEGER) <= ?", events.MaxNumber).Scan(&inTable)
		if err != nil {
			return 0, translate(err)
		}
		t.inTable = new(int(inTable.Int64))
	}
	return max(n, *t.inTable), nil
}

// count keeps the largest number in step with a reference that came into the table.
func (t *sitters) count(ref string) {
	n, err := strconv.Atoi(strings.TrimPrefix(ref, "sitter-"))
	if t.inTable != nil && err == nil && n <= events.MaxNumber {
		*t.inTable = max(*t.inTable, n)
	}
}

// maxSitterName is how many characters a sitter's name may have; a contact may have as many as any text.
const maxSitterName = 200

func fitsSitter(name, contact string) error {
	if n := utf8.RuneCountInString(name); n > maxSitterName {
		return fmt.Errorf("the sitter's name has %d characters; at most %d", n, maxSitterName)
	}
	if n := utf8.RuneCountInString(contact); n > events.MaxText {
		return fmt.Errorf("the sitter's contact has %d characters; at most %d", n, events.MaxText)
	}
	return nil
}

// SetSitter puts another name and contact beside a reference that is in the table.
func (t *sitters) SetSitter(row events.SitterRow) error {
	if err := fitsSitter(row.Name, row.Contact); err != nil {
		return err
	}
	if err := t.keepFormer(row.Ref, row.Name); err != nil {
		return err
	}
	_, err := t.file.Exec("UPDATE sitter SET name=?, contact=? WHERE ref=?", row.Name, row.Contact, row.Ref)
	return translate(err)
}

// Sitters lists everyone in the table, by number.
func (t *sitters) Sitters() ([]events.SitterRow, error) {
	rows, err := t.file.Query("SELECT ref, name, contact FROM sitter ORDER BY length(ref), ref")
	return collect(rows, err, scanSitter)
}

// numbered lists who stands in the table under a reference, of whatever rank.
func (t *sitters) numbered(bare string) ([]events.SitterRow, error) {
	// 'A' follows '@': the range holds the reference followed by a rank.
	rows, err := t.file.Query("SELECT ref, name, contact FROM sitter WHERE ref=?1 OR ref>?1||'@' AND ref<?1||'A' ORDER BY length(ref), ref", bare)
	return collect(rows, err, scanSitter)
}

func scanSitter(row scanner) (s events.SitterRow, err error) {
	err = row.Scan(&s.Ref, &s.Name, &s.Contact)
	return s, err
}

// scrubPending is set while traces of an erased sitter may still lie in the file.
const scrubPending = "scrub_pending"

// ErrTracesLeft says that the row is gone, but that its traces could not be removed while another program has the book
// open.
var ErrTracesLeft = fmt.Errorf("%w: the name is out of the table, but its traces lie in the file until no other program has the book open; close it there and erase once more", events.ErrBusy)

// EraseSitter takes a sitter's row out of the table and runs write in the same transaction; then every trace of the row
// goes from the file and its log: deleted content is overwritten, the file written anew, the log cut to nothing. before
// runs in that transaction while the row still stands, and may refuse. Where another program keeps the book open the row
// is gone all the same and the error is ErrTracesLeft; Scrub finishes the work.
func (b *Book) EraseSitter(ref string, before, write func(*Tx) error) error {
	if _, err := b.db.Exec("PRAGMA secure_delete=ON"); err != nil {
		return translate(err)
	}
	return b.Write(func(tx *Tx) error {
		if err := before(tx); err != nil {
			return err
		}
		if err := tx.sitters.forget(ref); err != nil {
			return err
		}
		return write(tx)
	})
}

// forget takes a sitter's row out of the table. The write that it is part of takes the names out of the paths of scans and
// removes the traces when it is done.
func (t *sitters) forget(ref string) error {
	under, err := t.namesUnder(ref)
	if err != nil || len(under) == 0 {
		return err
	}
	for _, name := range under {
		t.gone = append(t.gone, events.SitterRow{Ref: ref, Name: name})
	}
	if err := t.file.setMeta(formerNames+ref, ""); err != nil {
		return err
	}
	if _, err := t.file.Exec("UPDATE sitter SET name='', contact='' WHERE ref=?", ref); err != nil {
		return translate(err)
	}
	if _, err := t.file.Exec("DELETE FROM sitter WHERE ref=?", ref); err != nil {
		return translate(err)
	}
	t.forgot = true
	return t.file.setMeta(scrubPending, "1")
}

// removeTraces is Scrub after rows have gone, whose errors say how far it came.
func (b *Book) removeTraces() error {
	err := b.Scrub()
	switch {
	case !isTrouble(err):
		return err
	case !b.present():
		return trouble(fmt.Sprintf("the name is out of the table, but the book was moved or removed from %s before its traces were gone: erase once more where it is now", b.path))
	case errors.Is(err, ErrTracesLeft):
		return err
	case errors.Is(err, errFull):
		return trouble("the name is out of the table, but the disk is too full to write the book anew, and its traces may lie in the file: make room and erase once more")
	}
	return trouble("the name is out of the table, but the disk failed while its traces were removed, and they may lie in the file: check the disk and erase once more")
}

// forgetPaths puts events.PathForgotten in the place of each path that holds a name that goes. The paths are gone through
// once, however many go.
func (t *sitters) forgetPaths() error {
	gone := people.Of(t.gone...)
	if gone.None() {
		return nil
	}
	type scan struct {
		sha256 []byte
		path   string
	}
	rows, err := t.file.Query("SELECT sha256, path FROM thumbnail WHERE path<>''")
	scans, err := collect(rows, err, func(row scanner) (s scan, err error) {
		err = row.Scan(&s.sha256, &s.path)
		return s, err
	})
	if err != nil {
		return err
	}
	for _, s := range scans {
		if gone.In(s.path) == "" {
			continue
		}
		if _, err := t.file.Exec("UPDATE thumbnail SET path=? WHERE sha256=?", events.PathForgotten, s.sha256); err != nil {
			return translate(err)
		}
		t.forgot = true
	}
	return nil
}

// ScrubPending says that an erasure was begun whose traces are not all gone.
func (b *Book) ScrubPending() (pending bool, err error) {
	err = b.Read(func(tx *Tx) error {
		pending, err = tx.ScrubPending()
		return err
	})
	return pending, err
}

// ScrubPending is Book.ScrubPending inside a look.
func (t *sitters) ScrubPending() (bool, error) {
	v, err := t.file.meta(scrubPending)
	return v != "", err
}

// How long a scrub waits for other programs: a reader that holds the book longer than this holds it open. An act that
// finishes an earlier erasure in passing keeps nobody waiting.
const (
	scrubWaitMS      = 1000
	scrubInPassingMS = 100
)

// TracesLeft is what verify says of an erasure that was stopped halfway.
const TracesLeft = "an erasure was stopped before it was done: the name is out of the table, but its traces may lie in the file and its log; the next act that is written removes them, and so does `traybook erase`"

// Scrub writes the file anew without what was deleted, and empties the log.
func (b *Book) Scrub() error { return b.scrub(scrubWaitMS) }

func (b *Book) scrub(waitMS int) error {
	if _, err := b.db.Exec(fmt.Sprintf("PRAGMA busy_timeout=%d", waitMS)); err != nil {
		return translate(err)
	}
	defer b.db.Exec(fmt.Sprintf("PRAGMA busy_timeout=%d", busyTimeoutMS))
	for _, s := range []string{"PRAGMA secure_delete=ON", "VACUUM"} {
		if _, err := b.db.Exec(s); err != nil {
			if err = translate(err); errors.Is(err, events.ErrBusy) {
				return ErrTracesLeft
			}
			return err
		}
	}
	if err := b.emptyLog(); err != nil {
		return err
	}
	if err := b.change(func(tx *Tx) error { return tx.SetMeta(scrubPending, "") }); errors.Is(err, events.ErrBusy) {
		return ErrTracesLeft // they are gone, but the book still says that they may not be
	} else if err != nil {
		return err
	}
	return b.emptyLog()
}

// emptyLog brings the log into the file and cuts it to nothing.
func (b *Book) emptyLog() error {
	var busy, logged, moved int
	if err := b.db.QueryRow("PRAGMA wal_checkpoint(TRUNCATE)").Scan(&busy, &logged, &moved); err != nil {
		if err = translate(err); errors.Is(err, events.ErrBusy) {
			return ErrTracesLeft
		}
		return err
	}
	if busy != 0 {
		return ErrTracesLeft
	}
	return nil
}

// stone is what an erasure left by which the name of the sitter is known again.
type stone struct {
	sitter events.Entity
	entry  events.ID
	salt   events.ID
	digest events.Hash
}

// stones lists the stones of the book. That their entry was voided does not count: what was erased does not come back.
func (t *sitters) stones() ([]stone, error) {
	if t.laid != nil {
		return *t.laid, nil
	}
	found, err := t.file.entries("SELECT " + entryColumns + ` FROM entity t JOIN entry e ON e.stream=t.id
		WHERE t.kind='sitter' AND t.kind<>'picture' AND e.kind='sitter.erased' ORDER BY e.seq`)
	if err != nil {
		return nil, err
	}
	var out []stone
	for _, e := range found {
		d, ok := e.Data.(*events.SitterErasedData)
		if !ok || d.Salt == "" || d.Digest == "" {
			continue
		}
		s := stone{entry: e.ID}
		if s.salt, err = events.ParseID(d.Salt); err != nil {
			return nil, err
		}
		if s.digest, err = events.ParseHash(d.Digest); err != nil {
			return nil, err
		}
		if s.sitter, err = t.names.streamOf(e.ID); err != nil {
			return nil, err
		}
		out = append(out, s)
	}
	t.laid = &out
	return out, nil
}

// knownBy finds the first of some stones that knows one of the names. A name is worked out once for each salt.
func knownBy(stones []stone, names ...string) (stone, bool) {
	for _, name := range names {
		known := map[events.ID]events.Hash{}
		for _, s := range stones {
			if _, ok := known[s.salt]; !ok {
				known[s.salt] = people.Stone(name, s.salt)
			}
			if known[s.salt] == s.digest {
				return s, true
			}
		}
	}
	return stone{}, false
}

// Erased finds the reference of an erased sitter by a name, which the stone of the erasure knows again.
func (t *sitters) Erased(name string) (string, bool, error) {
	all, err := t.stones()
	s, ok := knownBy(all, name)
	return s.sitter.Name, ok, err
}

// LayStones gives the data of the entries that say of a sitter that the name is erased, one for each name that the sitter
// bore, the present one first. All stones of a book have one salt, so that a name is worked out once however many there
// are; fresh is the salt of the first. To be asked before the row goes.
func (t *sitters) LayStones(ref string, fresh events.ID) ([]events.SitterErasedData, error) {
	all, err := t.stones()
	if err != nil {
		return nil, err
	}
	if len(all) > 0 {
		fresh = all[len(all)-1].salt
	}
	under, err := t.namesUnder(ref)
	var out []events.SitterErasedData
	for _, name := range under {
		out = append(out, events.SitterErasedData{Sitter: ref, Salt: fresh.String(), Digest: people.Stone(name, fresh).String()})
	}
	return out, err
}

// isErased says whether a sitter was erased in this book; that the entry was voided does not count.
func (t *sitters) isErased(sitter int64) (bool, error) {
	n, err := t.file.ints("SELECT 1 FROM entry WHERE stream=? AND kind='sitter.erased' LIMIT 1", sitter)
	return len(n) > 0, err
}

// erasedHere says whether a reference stands for somebody who was erased.
func (t *sitters) erasedHere(ref string) (bool, error) {
	entity, ok, err := t.names.called(ref)
	if err != nil || !ok {
		return false, err
	}
	return t.isErased(entity.ID)
}

// obey forgets the sitter whom an entry that came from elsewhere says to be erased: who stands under the very reference,
// but where that entry is the first to name it and its chain came with it, for then the row under it here is that of
// another person unless the stone knows the name; and who stands under the same number since copies of one book parted, if
// the stone knows the name.
func (t *sitters) obey(e *events.Entry, sitter events.Entity) error {
	bare, rank := splitRank(sitter.Name)
	bearers, err := t.names.bearers(bare)
	if err != nil {
		return err
	}
	first, _ := pick(bearers, rank)
	ours := t.chains.grewHere(e.Branch)
	d, _ := e.Data.(*events.SitterErasedData)
	rows, err := t.numbered(bare)
	if err != nil {
		return err
	}
	for _, row := range rows {
		own := row.Ref == sitter.Name
		goes := own && (first.seq != e.Seq || ours || d.Salt == "")
		if !goes && (own || ours) {
			if goes, err = t.stoneKnows(d, row.Ref); err != nil {
				return err
			}
		}
		if !goes {
			continue
		}
		if err := t.forget(row.Ref); err != nil {
			return err
		}
	}
	return nil
}

// stoneKnows says whether a stone is that of a name which a sitter here bears or bore.
func (t *sitters) stoneKnows(d *events.SitterErasedData, ref string) (bool, error) {
	salt, err1 := events.ParseID(d.Salt)
	digest, err2 := events.ParseHash(d.Digest)
	if err1 != nil || err2 != nil {
		return false, nil
	}
	under, err := t.namesUnder(ref)
	return slices.ContainsFunc(under, func(name string) bool { return people.Stone(name, salt) == digest }), err
}

// nameOf is the name that stands under a reference, "" for none.
func (t *sitters) nameOf(ref string) (string, error) {
	var name string
	err := t.file.QueryRow("SELECT name FROM sitter WHERE ref=?", ref).Scan(&name)
	if errors.Is(err, sql.ErrNoRows) {
		return "", nil
	}
	return name, translate(err)
}

// knowsEntry says whether the book holds an entry of an id.
func (t *sitters) knowsEntry(id events.ID) (bool, error) {
	_, err := t.names.streamOf(id)
	if errors.Is(err, events.ErrNotFound) {
		return false, nil
	}
	return err == nil, err
}
