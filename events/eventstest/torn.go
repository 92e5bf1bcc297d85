package eventstest

import (
	"errors"
	"runtime"
	"sync"
	"testing"

	"traybook/events"
)

// ErrTorn is what a card that fails under the book gives back.
var ErrTorn = errors.New("the page cannot be read")

// Log is what of a book a test may tear.
type Log interface {
	events.Writer
	events.SitterBook
}

// Torn is a real book of which one reading or writing fails: that with the number Fails, counted from 1; the others
// succeed. Asked counts all of them. First are the numbers of those that came by another row of calls than any before:
// where many questions come by the same calls, each of these stands for its like.
type Torn struct {
	Log
	Asked, Fails int
	First        []int

	seen map[[64]uintptr]bool
	met  *Met
}

// Met are the calls, in whatever row, by which questions went unanswered already. What shares it has every call that asks a
// book answer with an error once, at the price of little more than asking.
type Met struct {
	sync.Mutex
	calls map[uintptr]bool
}

// Tear runs f on a book as it is, and gives what it says; then once more for each question that came by a call that was not
// met before, with that question unanswered, and holds that f says so. f leaves the book as it is, or as it was.
func (m *Met) Tear(t testing.TB, log Log, f func(*Torn) error) error {
	t.Helper()
	whole := &Torn{Log: log, met: m}
	err := f(whole)
	for _, n := range whole.First {
		if err := f(&Torn{Log: log, Fails: n}); !errors.Is(err, ErrTorn) {
			t.Errorf("question %d of %d was not answered, and that was passed over: %v", n, whole.Asked, err)
		}
	}
	return err
}

func (m *Met) isNew(calls []uintptr) bool {
	m.Lock()
	defer m.Unlock()
	if m.calls == nil {
		m.calls = map[uintptr]bool{}
	}
	before := len(m.calls)
	for _, call := range calls {
		m.calls[call] = true
	}
	return len(m.calls) > before
}

// Ask counts one question to the book, and gives ErrTorn where it is the one that gets no answer. Who lays more of a book
// open than Log asks it for the rest.
func (r *Torn) Ask() error {
	if r.Asked++; r.Asked == r.Fails {
		return ErrTorn
	}
	if r.Fails == 0 {
		var calls [64]uintptr
		n := runtime.Callers(2, calls[:])
		if r.met != nil {
			if r.met.isNew(calls[:n]) {
				r.First = append(r.First, r.Asked)
			}
			return nil
		}
		if r.seen == nil {
			r.seen = map[[64]uintptr]bool{}
		}
		if !r.seen[calls] {
			r.seen[calls] = true
			r.First = append(r.First, r.Asked)
		}
	}
	return nil
}

func (r *Torn) Entity(name string) (events.Entity, bool, error) {
	if err := r.Ask(); err != nil {
		return events.Entity{}, false, err
	}
	return r.Log.Entity(name)
}

func (r *Torn) Entities(kind events.EntityKind) ([]events.Entity, error) {
	if err := r.Ask(); err != nil {
		return nil, err
	}
	return r.Log.Entities(kind)
}

func (r *Torn) LargestNumber(prefix string) (int, error) {
	if err := r.Ask(); err != nil {
		return 0, err
	}
	return r.Log.LargestNumber(prefix)
}

func (r *Torn) Entries(q events.Query) ([]events.Entry, error) {
	if err := r.Ask(); err != nil {
		return nil, err
	}
	return r.Log.Entries(q)
}

func (r *Torn) Find(prefix string) ([]events.Entry, error) {
	if err := r.Ask(); err != nil {
		return nil, err
	}
	return r.Log.Find(prefix)
}

func (r *Torn) StreamOf(id events.ID) (events.Entity, error) {
	if err := r.Ask(); err != nil {
		return events.Entity{}, err
	}
	return r.Log.StreamOf(id)
}

func (r *Torn) View(t events.Entity) (events.View, bool, error) {
	if err := r.Ask(); err != nil {
		return events.View{}, false, err
	}
	return r.Log.View(t)
}

func (r *Torn) ViewsOf(entities []events.Entity) ([]events.View, error) {
	if err := r.Ask(); err != nil {
		return nil, err
	}
	return r.Log.ViewsOf(entities)
}

func (r *Torn) Views(q events.ViewQuery) ([]events.View, error) {
	if err := r.Ask(); err != nil {
		return nil, err
	}
	return r.Log.Views(q)
}

func (r *Torn) ViewsHolding(q events.ViewQuery, texts [][]string) ([]events.View, error) {
	if err := r.Ask(); err != nil {
		return nil, err
	}
	return r.Log.ViewsHolding(q, texts)
}

func (r *Torn) Append(e *events.Entry) error {
	if err := r.Ask(); err != nil {
		return err
	}
	return r.Log.Append(e)
}

func (r *Torn) AddSitter(name, contact string) (string, error) {
	if err := r.Ask(); err != nil {
		return "", err
	}
	return r.Log.AddSitter(name, contact)
}

func (r *Torn) Sitters() ([]events.SitterRow, error) {
	if err := r.Ask(); err != nil {
		return nil, err
	}
	return r.Log.Sitters()
}

func (r *Torn) FormerNames() ([]events.SitterRow, error) {
	if err := r.Ask(); err != nil {
		return nil, err
	}
	return r.Log.FormerNames()
}

func (r *Torn) Erased(name string) (string, bool, error) {
	if err := r.Ask(); err != nil {
		return "", false, err
	}
	return r.Log.Erased(name)
}

// ErrFull is what a disk gives back on which nothing more has room.
var ErrFull = errors.New("no room is left on the disk")

// Full takes as many bytes as it has room for.
type Full struct{ Room int }

func (w *Full) Write(b []byte) (int, error) {
	n := min(len(b), w.Room)
	if w.Room -= n; n < len(b) {
		return n, ErrFull
	}
	return n, nil
}
