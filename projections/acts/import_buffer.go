package acts

import (
	"fmt"
	"io"
	"time"

	"traybook/events"
)

// A file is taken in the order of its acts, which is known only when all of it was read, and a working life does not
// fit into memory as values. So lines are put into an import buffer first, as bytes, and taken from it in their order after.

// BufferStore keeps the bytes of an import buffer: they are written once, at the end, and read from anywhere.
type BufferStore interface {
	io.Writer
	io.ReaderAt
}

// ImportBuffer holds plain lines until they are taken into a book.
type ImportBuffer struct {
	EvenSo bool // take texts that hold a sitter's name
	store  BufferStore
	size   int64 // bytes in the store
	lines  []bufferedLine
	named  map[events.Ref]bool  // what the lines name for the first time, and the sheets they expose
	about  map[int]string       // by index: the entry that an amendment, a void or a note names
	people map[int]*events.Line // by index: lines that hold names of sitters; these never leave memory
	buf    []byte
	// ready is set by the import.
	place map[events.ID]int32 // by id: index
}

// bufferedLine is one line in the import buffer.
type bufferedLine struct {
	id      events.ID
	off     int64 // in the store
	length  int32
	number  int32 // of the line in its file
	sec     int64 // the instant of the act
	nsec    int32
	reading bool // it is a reading of the light
	opens   bool // it opens a book
	known   bool // the book holds it
}

func (l *bufferedLine) at() time.Time { return time.Unix(l.sec, int64(l.nsec)) }

// NewImportBuffer begins an import buffer. Without a store the lines lie in memory.
func NewImportBuffer(store BufferStore) *ImportBuffer {
	if store == nil {
		store = &memory{}
	}
	return &ImportBuffer{store: store, named: map[events.Ref]bool{}, about: map[int]string{}, people: map[int]*events.Line{}}
}

type memory struct{ b []byte }

func (m *memory) Write(p []byte) (int, error) {
	m.b = append(m.b, p...)
	return len(p), nil
}

func (m *memory) ReadAt(p []byte, off int64) (int, error) {
	n := copy(p, m.b[min(off, int64(len(m.b))):])
	if n < len(p) {
		return n, io.EOF
	}
	return n, nil
}

// Len is how many lines lie in the import buffer.
func (p *ImportBuffer) Len() int { return len(p.lines) }

// Add puts a plain line into the import buffer.
func (p *ImportBuffer) Add(l events.Line) error {
	i := len(p.lines)
	at := bufferedLine{id: l.ID, number: int32(l.N), sec: l.At.Unix(), nsec: int32(l.At.Nanosecond()), opens: l.Kind == events.BookOpened,
		reading: l.Kind == events.LightMetered}
	switch x := l.Data.(type) {
	case *events.EntryAmendedData:
		p.about[i] = x.Entry
	case *events.EntryVoidedData:
		if x.Entry != "" {
			p.about[i] = x.Entry
		}
	case *events.NoteWrittenData:
		if _, err := events.ParseID(x.About); err == nil {
			p.about[i] = x.About
		}
	}
	if len(peopleIn(l.Data)) > 0 {
		p.people[i] = &l
		p.lines = append(p.lines, at)
		return nil
	}
	p.note(l.Data)
	if x, ok := l.Data.(*events.SheetDevelopedData); ok && l.HasID {
		// A line with an id was in a book already, and that book took the sheet as developed, exposed or not: its number is
		// no slip, and it may be dated before anything else that is written of the picture.
		p.named[events.Ref{Kind: "sheet", Name: x.Sheet}] = true
	}
	if !l.HasID {
		var err error
		if l.ID, err = events.MadeID(l.Kind, l.At, l.Data); err != nil {
			return &events.LineError{N: l.N, Err: err}
		}
		at.id = l.ID
	}
	var err error
	if p.buf, err = l.AppendPlain(p.buf[:0]); err != nil {
		return &events.LineError{N: l.N, Err: err}
	}
	if _, err := p.store.Write(p.buf); err != nil {
		return fmt.Errorf("the lines cannot be kept while they are put in order: %w", err)
	}
	at.off, at.length = p.size, int32(len(p.buf))
	p.size += int64(len(p.buf))
	p.lines = append(p.lines, at)
	return nil
}

// peopleIn gives the fields of d that hold a name where a reference to a sitter belongs.
func peopleIn(d events.Data) []events.Field {
	var out []events.Field
	for _, name := range []string{"sitter", "to"} {
		f, ok := sitterField(d.Kind(), name)
		if !ok {
			continue
		}
		if v, there := f.Value(d); there && !events.IsSitter(v.(string)) {
			out = append(out, f)
		}
	}
	return out
}

func sitterField(k events.Kind, name string) (events.Field, bool) {
	switch k { // no other kind has one
	case events.SheetExposed, events.SheetDelivered, events.SitterConsented, events.SitterErased, events.OrderTaken:
	default:
		return events.Field{}, false
	}
	f, ok := events.FieldOf(k, name)
	return f, ok && f.Type == "sitter"
}

// note remembers what a line names for the first time, so that lines may stand in any order.
func (p *ImportBuffer) note(data events.Data) {
	places := events.PlacesOf(data)
	for _, r := range append(places.Others, places.Stream) {
		if r.New {
			p.named[events.Ref{Kind: r.Kind, Name: r.Name}] = true
			p.named[events.Ref{Name: r.Name}] = true
		}
	}
	switch x := data.(type) {
	case *events.SheetExposedData:
		if x.Sheet == "" && x.Picture != "" {
			p.named[events.Ref{Kind: "sheet", Name: events.Sheet(x.Picture, "n")}] = true
		}
		p.named[events.Ref{Kind: "sheet", Name: x.Sheet}] = true
	case *events.SheetReprintedData:
		p.named[events.Ref{Kind: "sheet", Name: x.Sheet}] = true
	}
}

// isAhead says whether something that the book does not hold yet is still to come from the import buffer.
func (p *ImportBuffer) isAhead(r events.Ref) bool {
	if r.Kind == "reading" {
		id, err := events.ParseID(r.Name)
		i, ok := p.place[id]
		return err == nil && ok && p.lines[i].reading
	}
	return p.named[events.Ref{Kind: r.Kind, Name: r.Name}]
}

// line takes one line from the import buffer.
func (p *ImportBuffer) line(i int, w *window) (events.Entry, error) {
	l := &p.lines[i]
	if who := p.people[i]; who != nil {
		return who.Entry, nil
	}
	raw, err := w.bytes(l.off, int(l.length))
	if err != nil {
		return events.Entry{}, fmt.Errorf("the lines that were kept while they were put in order cannot be read: %w", err)
	}
	e, err := events.ReadPlain(raw)
	e.ID = l.id
	return e, err
}

const windowSize = 1 << 18

// window reads ahead in a store whose lines are wanted nearly in their order.
type window struct {
	store BufferStore
	off   int64
	b     []byte
}

func (w *window) bytes(off int64, n int) ([]byte, error) {
	if from := off - w.off; from < 0 || from+int64(n) > int64(len(w.b)) {
		if cap(w.b) == 0 {
			w.b = make([]byte, windowSize)
		}
		w.b, w.off = w.b[:cap(w.b)], off
		got, err := w.store.ReadAt(w.b, off)
		w.b = w.b[:got]
		if got < n {
			return nil, err
		}
	}
	from := off - w.off
	return w.b[from : from+int64(n)], nil
}
