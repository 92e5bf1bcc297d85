package projections

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"

	"traybook/events"
)

// ImportWriter is what an import of plain lines needs: a book to write to and the table of sitters beside it.
type ImportWriter interface {
	events.Writer
	events.SitterBook
}

// ImportLine is one plain line and where it stood.
type ImportLine struct {
	events.Line
	Number int // from 1
}

// LineError says which line of a file was refused, and why.
type LineError struct {
	Number int
	Err    error
}

func (e *LineError) Error() string { return fmt.Sprintf("line %d: %v", e.Number, e.Err) }
func (e *LineError) Unwrap() error { return e.Err }

// Imported counts what an import did.
type Imported struct {
	Added, Known int
	Batch        events.ID
	Sitters      []string // references given to names that the file held
}

const manyLines = 50 // from here on a book does well to fold what comes in from memory

// ImportPlain takes plain lines into a book, whole or not at all (the caller's write rolls back on an error). Lines
// count by the time of the act, then by their place in the file; what a line leaves out is filled in as when the act
// is written by hand. recordedAt is the clock's now, batch names the import. Names of sitters go into the table
// first. The same file again adds nothing.
func ImportPlain(w ImportWriter, lines []ImportLine, recordedAt time.Time, batch, book events.ID, progress func(done int)) (Imported, error) {
	out := Imported{Batch: batch}
	if book, ok := w.(interface{ Many() }); ok && len(lines) > manyLines {
		book.Many()
	}
	if err := readyLines(w, lines, &out); err != nil {
		return out, err
	}
	fresh, err := newLines(w, lines, &out)
	if err != nil {
		return out, err
	}
	ahead := aheadOf(fresh)
	order, err := importOrder(w, fresh)
	if err != nil {
		return out, err
	}
	for i, l := range order {
		e := l.Entry
		e.RecordedAt, e.Batch = recordedAt, batch
		if e.Kind == events.BookOpened {
			e.Book = book // names the chain where the file has none of its own yet
		}
		d := NewDesk(w, e.At)
		if err := d.Fill(&e, false); err != nil {
			return out, &LineError{l.Number, err}
		}
		if err := events.Validate(e.Data); err != nil {
			return out, &LineError{l.Number, err}
		}
		if err := d.Check(&e, ahead); err != nil {
			return out, &LineError{l.Number, err}
		}
		if err := w.Append(&e); err != nil {
			return out, &LineError{l.Number, err}
		}
		out.Added++
		if progress != nil {
			progress(i + 1)
		}
	}
	return out, nil
}

// readyLines puts references in the place of sitters' names and gives ids to lines that brought none.
func readyLines(w ImportWriter, lines []ImportLine, out *Imported) error {
	given := map[string]string{}
	for i := range lines {
		l := &lines[i]
		for _, field := range []string{"sitter", "to"} {
			f, ok := events.FieldOf(l.Kind, field)
			if !ok || f.Type != "sitter" {
				continue
			}
			v, there := f.Value(l.Data)
			name, _ := v.(string)
			if !there || events.IsSitter(name) {
				continue
			}
			ref, known := given[name]
			if !known {
				var err error
				if ref, known, err = w.SitterRef(name); err != nil {
					return err
				}
				if !known {
					if ref, err = w.AddSitter(name, ""); err != nil {
						return err
					}
					out.Sitters = append(out.Sitters, ref)
				}
				given[name] = ref
			}
			if err := f.Put(l.Data, ref); err != nil {
				return &LineError{l.Number, err}
			}
		}
		if l.HasID {
			continue
		}
		id, err := events.MadeID(l.Kind, l.At, l.Data)
		if err != nil {
			return &LineError{l.Number, err}
		}
		l.ID = id
	}
	return nil
}

// newLines leaves out the lines that the book holds already and refuses doubled ones and ids with other content.
func newLines(w ImportWriter, lines []ImportLine, out *Imported) ([]ImportLine, error) {
	seen := make(map[events.ID]int, len(lines))
	fresh := make([]ImportLine, 0, len(lines))
	for _, l := range lines {
		if n, twice := seen[l.ID]; twice {
			return nil, &LineError{l.Number, fmt.Errorf("is line %d again; a file holds each line once", n)}
		}
		seen[l.ID] = l.Number
		kept, err := w.Find(l.ID.String())
		if err != nil {
			return nil, err
		}
		if len(kept) == 0 {
			fresh = append(fresh, l)
			continue
		}
		if !agrees(l.Entry, kept[0]) {
			return nil, &LineError{l.Number, fmt.Errorf("the id %s… is in the book with other content", l.ID.String()[:8])}
		}
		out.Known++
	}
	return fresh, nil
}

// agrees says whether a line says what a kept entry says. What the book filled in does not count.
func agrees(line, kept events.Entry) bool {
	if line.Kind != kept.Kind || !line.At.Equal(kept.At) {
		return false
	}
	for _, f := range events.Fields(line.Kind) {
		a, inLine := f.Value(line.Data)
		b, inBook := f.Value(kept.Data)
		fills := f.Fill || f.Name == "session" || f.Name == "camera" || f.Name == "reading"
		if !inLine && (fills || !inBook) {
			continue
		}
		if inLine != inBook {
			return false
		}
		x, err1 := json.Marshal(a)
		y, err2 := json.Marshal(b)
		if err1 != nil || err2 != nil || !bytes.Equal(x, y) {
			return false
		}
	}
	return true
}

// aheadOf tells what the lines of a file name for the first time, so that lines may stand in any order.
func aheadOf(lines []ImportLine) func(events.Ref) bool {
	named := map[events.Ref]bool{}
	for _, l := range lines {
		p := events.PlacesOf(l.Data)
		for _, r := range append(p.Others, p.Home) {
			if r.New {
				named[events.Ref{Kind: r.Kind, Name: r.Name}] = true
				named[events.Ref{Name: r.Name}] = true
			}
		}
		switch x := l.Data.(type) {
		case *events.SheetExposedData:
			if x.Sheet == "" && x.Picture != "" {
				named[events.Ref{Kind: "sheet", Name: events.Sheet(x.Picture, "n")}] = true
			}
			named[events.Ref{Kind: "sheet", Name: x.Sheet}] = true
		case *events.SheetReprintedData:
			named[events.Ref{Kind: "sheet", Name: x.Sheet}] = true
		}
	}
	return func(r events.Ref) bool { return named[events.Ref{Kind: r.Kind, Name: r.Name}] }
}

// importOrder sorts lines by the time of the act, then by their place; what names an entry comes after it, and must
// stand after it in the file too.
func importOrder(w ImportWriter, lines []ImportLine) ([]ImportLine, error) {
	place := make(map[events.ID]int, len(lines))
	at := make(map[events.ID]time.Time, len(lines))
	for _, l := range lines {
		place[l.ID] = l.Number
		at[l.ID] = l.At
	}
	key := make(map[events.ID]time.Time, len(lines))
	for _, l := range lines {
		key[l.ID] = l.At
		name := ""
		switch x := l.Data.(type) {
		case *events.EntryAmendedData:
			name = x.Entry
		case *events.EntryVoidedData:
			name = x.Entry
		case *events.NoteWrittenData:
			if _, err := events.ParseID(x.About); err == nil {
				name = x.About
			}
		}
		if name == "" {
			continue
		}
		target, err := events.ParseID(name)
		if err != nil {
			return nil, &LineError{l.Number, err}
		}
		n, inFile := place[target]
		if !inFile {
			continue // Check looks in the book
		}
		if n > l.Number {
			return nil, &LineError{l.Number, errors.New("names an entry of a later line; only an earlier one can be named")}
		}
		if k := key[target]; k.After(l.At) {
			key[l.ID] = k
		}
	}
	out := slices.Clone(lines)
	slices.SortStableFunc(out, func(a, b ImportLine) int {
		if c := key[a.ID].Compare(key[b.ID]); c != 0 {
			return c
		}
		return a.Number - b.Number
	})
	// A book.opened opens the book, whenever it says that it was.
	slices.SortStableFunc(out, func(a, b ImportLine) int {
		return opens(b.Kind) - opens(a.Kind)
	})
	return out, nil
}

func opens(k events.Kind) int {
	if k == events.BookOpened {
		return 1
	}
	return 0
}
