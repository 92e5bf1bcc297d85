package events

import (
	"cmp"
	"errors"
	"sync"
	"sync/atomic"
	"time"
)

// Entity is something that entries have named: a picture, a box, a bath …
type Entity struct {
	ID   int64 // number in this file only
	Kind EntityKind
	Name string // as people meet it: with @2 where two joined books gave the same name
}

// View is what one stream's own entries add up to, kept so that lists need no folding. It is derived and can be thrown
// away. State is JSON; the rest is what lists search and sort by.
type View struct {
	Entity Entity
	Rank   int64 // order among its kind: pictures by number, all else by the instant of the first act
	Open   bool  // waits for something: a sheet undeveloped, a session unclosed, a bath not discarded, paper left
	Last   int64 // instant of the last act, microseconds since 1970
	Stock  int64 // of a box: the sheets that its own entries account for
	State  []byte
}

// Query asks for entries. Exactly one of Stream, Box, Bath, Session, Cites may be set; none means the whole book. What
// comes back includes the voids and amendments of what was found: pass it through Fold.
//
// Counted has the voids of a batch come as they count when all voids do: of those that stand the first two, and without the
// voids of voids that decide it. It is for who does not ask as of a moment, since a batch may be of many things, and may be
// taken back and brought back many times.
type Query struct {
	Stream, Box, Bath, Session, Cites int64 // a thing's ID
	Kinds                             []Kind
	From, To                          time.Time // instants as written, both included; zero = open
	Newest                            bool      // newest first
	Counted                           bool
	Written                           bool // in the order of writing, the latest first
	Limit                             int
}

// Reader is what anyone who looks at a book may ask.
type Reader interface {
	// Entity finds a thing by name, whatever its kind.
	Entity(name string) (Entity, bool, error)
	// Entities lists the things of a kind by name order of their giving.
	Entities(kind EntityKind) ([]Entity, error)
	// LargestNumber is the largest n, up to MaxNumber, that any entry, voided or not, has named as prefix+n ("2026-",
	// "box-"), 0 for none.
	LargestNumber(prefix string) (int, error)
	// Entries runs a query. What an entry names bears the name by which this book shows it: in a joined book a chain's
	// 2026-014 may be 2026-014@2 here. The stored bytes stay as they are.
	Entries(q Query) ([]Entry, error)
	// Find gives the entries whose id begins with the hex digits given (four or more), with their voids and amendments
	// left out, as they are written.
	Find(prefix string) ([]Entry, error)
	// StreamOf is the stream of an entry that is kept.
	StreamOf(id ID) (Entity, error)
	// View is the kept view of one thing.
	View(t Entity) (View, bool, error)
	// ViewsOf gives the kept views of several things, in no certain order; a thing without one is left out.
	ViewsOf(entities []Entity) ([]View, error)
	// Views lists kept views.
	Views(q ViewQuery) ([]View, error)
	// ViewsHolding is Views without those whose state holds, of some list of texts, none of them in any case of its letters. It
	// may give others that do not hold them: whoever asks looks at each.
	ViewsHolding(q ViewQuery, texts [][]string) ([]View, error)
}

// ViewQuery asks for kept views of one kind, by descending rank.
type ViewQuery struct {
	Kind         EntityKind
	OpenOnly     bool
	LastSince    int64 // microseconds; 0 = any
	RankFrom, To int64 // inclusive; zero To = open
	Limit        int
}

// MaxNumber bounds the numbers that are counted on from. What bears a larger one (dev-9223372036854775807) has it for a
// name.
const MaxNumber = 999_999

// Errors of the log, each with the text for the person who meets it put around it by the caller.
var (
	ErrNotFound = errors.New("not found")
	ErrBusy     = errors.New("the book is in use by another program; try again")
	ErrDamaged  = errors.New("the book is damaged")
	ErrNewer    = errors.New("the book was written by a newer version of traybook")
)

// Writer is a Reader inside one transaction that can also append.
type Writer interface {
	Reader
	// Append seals e as the next entry of the book's own chain and keeps it. What it names must exist.
	Append(e *Entry) error
}

// SitterBook is the table of sitters beside the chain: who stands behind a reference. Names never enter an entry.
type SitterBook interface {
	// AddSitter writes a name in under the next reference, which it gives.
	AddSitter(name, contact string) (ref string, err error)
	// Erased finds the reference of an erased sitter by a name, which the stone of the erasure knows again.
	Erased(name string) (ref string, ok bool, err error)
	// FormerNames lists the names that sitters bore before they were written otherwise.
	FormerNames() ([]SitterRow, error)
	// Sitters lists everyone, by reference.
	Sitters() ([]SitterRow, error)
}

// SitterRow is one sitter.
type SitterRow struct{ Ref, Name, Contact string }

// ByTwo goes through n things on two goroutines until they meet: one is called for the first, the second and so on, other for the
// last and those before it. Where it comes to an error no more of them are taken. A fault of other is the caller's to see.
func ByTwo(n int, one, other func(i int) error) (err error) {
	var taken atomic.Int64
	take := func(f func(int) error, from, step int) error {
		for i := from; taken.Add(1) <= int64(n); i += step {
			if err := f(i); err != nil {
				taken.Store(int64(n))
				return err
			}
		}
		return nil
	}
	var failed error
	wait := Beside(func() { failed = take(other, n-1, -1) })
	defer func() {
		wait()
		err = cmp.Or(err, failed)
	}()
	return take(one, 0, 1)
}

// Beside runs f on a goroutine of its own. What it returns waits for the end of f, and a fault of f is then the caller's.
func Beside(f func()) (wait func()) {
	var running sync.WaitGroup
	var fault any
	running.Go(func() {
		defer func() { fault = recover() }()
		f()
	})
	return func() {
		running.Wait()
		if fault != nil {
			panic(fault)
		}
	}
}
