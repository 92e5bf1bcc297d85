package acts

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"traybook/events"
	"traybook/events/names"
	"traybook/projections/snapshot"
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

// Imported counts what an import did.
type Imported struct {
	Added, Known int
	LeftOut      int // lines that open a book, where it is open already, and what mends them
	Batch        events.ID
	Sitters      []string // references given to names that the file held
	Erased       int      // names in the file of people who were erased; their old references stand in the lines
}

const manyLines = 50 // from here on a book does well to fold what comes in from memory

// ImportPlain takes plain lines into a book, whole or not at all: see ImportBuffered.
func ImportPlain(w ImportWriter, lines []ImportLine, recordedAt time.Time, batch, book events.ID, progress func(done int)) (Imported, error) {
	p := NewImportBuffer(nil)
	for _, l := range lines {
		l.N = l.Number
		if err := p.Add(l.Line); err != nil {
			return Imported{Batch: batch}, err
		}
	}
	return ImportBuffered(w, p, recordedAt, batch, book, progress)
}

// ImportBuffered takes plain lines into a book, whole or not at all (the caller's write rolls back on an error). Lines
// count by the time of the act, then by their place in the file; what a line leaves out is filled in as when the act
// is written by hand. recordedAt is the clock's now, batch names the import. Names of sitters go into the table
// first. The same file again adds nothing. An import buffer is taken in once.
func ImportBuffered(w ImportWriter, p *ImportBuffer, recordedAt time.Time, batch, book events.ID, progress func(done int)) (Imported, error) {
	out := Imported{Batch: batch}
	if book, ok := w.(interface{ Many() }); ok && p.Len() > manyLines {
		book.Many()
	}
	if err := readyPeople(w, p, &out); err != nil {
		return out, err
	}
	if err := passKnown(w, p, &out); err != nil {
		return out, err
	}
	order, err := importOrder(p)
	if err != nil {
		return out, err
	}
	sitters := SittersOf(w) // those that the file brought among them
	if p.EvenSo {
		sitters = func() (names.List, error) { return names.List{}, nil }
	}
	f, ahead := snapshot.NewFollower(w), &window{store: p.store}
	for _, i := range order {
		wrong := func(err error) error { return &events.LineError{N: int(p.lines[i].number), Err: err} }
		e, err := p.line(int(i), ahead)
		if err != nil {
			return out, wrong(err)
		}
		e.RecordedAt, e.Batch = recordedAt, batch
		if e.Kind == events.BookOpened {
			e.Book = book // names the chain where the file has none of its own yet
		}
		if err := take(f, w, &e, p, sitters); err != nil {
			return out, wrong(err)
		}
		if out.Added++; progress != nil {
			progress(out.Added)
		}
	}
	return out, nil
}

// take writes one act of a file.
func take(f *snapshot.Follower, w ImportWriter, e *events.Entry, p *ImportBuffer, sitters func() (names.List, error)) error {
	snap := f.SnapshotAt(e.At)
	if err := ApplyDefaults(snap, e, false); err != nil {
		return err
	}
	if err := events.Validate(e.Data); err != nil {
		return err
	}
	if err := Check(snap, e, p.isAhead); err != nil {
		return err
	}
	if !p.EvenSo {
		if err := CheckNumbers(snap, e, true); err != nil {
			return err
		}
	}
	if err := KeepNamesOut(w, e.Data, sitters); err != nil {
		return err
	}
	return f.Append(w, e)
}

// readyPeople puts references in the place of sitters' names and gives ids to the lines that held them.
func readyPeople(w ImportWriter, p *ImportBuffer, out *Imported) error {
	given, table := map[string]string{}, &sittersTable{}
	for _, i := range slices.Sorted(maps.Keys(p.people)) {
		l := p.people[i]
		for _, f := range peopleIn(l.Data) {
			v, _ := f.Value(l.Data)
			name := v.(string)
			ref, known := given[name]
			if !known {
				var err error
				if ref, known, err = table.called(w, name); err != nil {
					return err
				}
				if !known { // nobody who was erased comes back by a file: the reference stands for them
					if ref, known, err = w.Erased(name); err != nil {
						return err
					}
					if known {
						out.Erased++
					}
				}
				if !known {
					if ref, err = w.AddSitter(name, ""); err != nil {
						return err
					}
					out.Sitters = append(out.Sitters, ref)
					table.put(name, ref)
				}
				given[name] = ref
			}
			if err := f.Put(l.Data, ref); err != nil {
				return &events.LineError{N: l.N, Err: err}
			}
		}
		p.note(l.Data)
		if !l.HasID {
			id, err := events.MadeID(l.Kind, l.At, l.Data)
			if err != nil {
				return &events.LineError{N: l.N, Err: err}
			}
			l.ID = id
		}
		p.lines[i].id = l.ID
	}
	return nil
}

// sittersTable is the table of sitters, read once for all the names of a file.
type sittersTable struct{ written, folded map[string]string }

// called finds the sitter of a name as it was written in, else the one whose name differs in case and white space alone.
func (s *sittersTable) called(w ImportWriter, name string) (ref string, known bool, err error) {
	if s.written == nil {
		rows, err := w.Sitters()
		if err != nil {
			return "", false, err
		}
		s.written, s.folded = map[string]string{}, map[string]string{}
		for _, r := range rows {
			s.put(r.Name, r.Ref)
		}
	}
	if ref, known = s.written[strings.TrimSpace(name)]; !known {
		ref, known = s.folded[FoldName(name)]
	}
	return ref, known, nil
}

// put keeps the first reference of a name.
func (s *sittersTable) put(name, ref string) {
	putFirst(s.written, strings.TrimSpace(name), ref)
	putFirst(s.folded, FoldName(name), ref)
}

func putFirst(in map[string]string, key, ref string) {
	if _, there := in[key]; !there {
		in[key] = ref
	}
}

// passKnown passes over the lines that the book holds already and refuses doubled ones and ids with other content. A
// book is opened once: the line with which another one was opened would put that one's zone in the place of this one's.
func passKnown(w ImportWriter, p *ImportBuffer, out *Imported) error {
	anything, err := w.Entries(events.Query{Limit: 1})
	if err != nil {
		return err
	}
	p.place = make(map[events.ID]int32, len(p.lines))
	ahead := &window{store: p.store}
	open := len(anything) > 0
	leftOut := map[events.ID]bool{}
	for i := range p.lines {
		l := &p.lines[i]
		if about, err := events.ParseID(p.about[i]); err == nil && leftOut[about] {
			l.known, leftOut[l.id] = true, true
			out.LeftOut++
			continue
		}
		if before, twice := p.place[l.id]; twice {
			return &events.LineError{N: int(l.number), Err: fmt.Errorf("is line %d again; a file holds each line once", p.lines[before].number)}
		}
		p.place[l.id] = int32(i)
		var kept []events.Entry
		if len(anything) > 0 {
			if kept, err = w.Find(l.id.String()); err != nil {
				return err
			}
		}
		if len(kept) == 0 {
			if l.opens && open {
				l.known, leftOut[l.id] = true, true
				out.LeftOut++
			}
			open = open || l.opens
			continue
		}
		e, err := p.line(i, ahead)
		if err != nil {
			return &events.LineError{N: int(l.number), Err: err}
		}
		if !agrees(e, kept[0]) {
			return &events.LineError{N: int(l.number), Err: fmt.Errorf("the id %s… is in the book with other content", l.id.String()[:8])}
		}
		l.known = true
		out.Known++
	}
	return nil
}

// agrees says whether a line says what a kept entry says. What the book filled in does not count.
func agrees(line, kept events.Entry) bool {
	if line.Kind != kept.Kind || !line.At.Equal(kept.At) {
		return false
	}
	for _, f := range events.Fields(line.Kind) {
		a, inLine := f.Value(line.Data)
		b, inBook := f.Value(kept.Data)
		if !inLine && (f.Default != "" || !inBook) {
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

// importOrder sorts lines by the time of the act, then by their place; what names an entry comes after it, and must
// stand after it in the file too.
func importOrder(p *ImportBuffer) ([]int32, error) {
	later := map[int32]time.Time{} // lines that must wait for what they name
	key := func(i int32) time.Time {
		if t, ok := later[i]; ok {
			return t
		}
		return p.lines[i].at()
	}
	for _, i := range slices.Sorted(maps.Keys(p.about)) {
		l := &p.lines[i]
		if l.known {
			continue
		}
		target, err := events.ParseID(p.about[i])
		if err != nil {
			return nil, &events.LineError{N: int(l.number), Err: err}
		}
		j, inFile := p.place[target]
		if !inFile || p.lines[j].known {
			continue // Check looks in the book
		}
		if p.lines[j].number > l.number {
			return nil, &events.LineError{N: int(l.number), Err: errors.New("names an entry of a later line; only an earlier one can be named")}
		}
		if k := key(j); k.After(l.at()) {
			later[int32(i)] = k
		}
	}
	order := make([]int32, 0, len(p.lines))
	for i := range p.lines {
		if !p.lines[i].known {
			order = append(order, int32(i))
		}
	}
	slices.SortStableFunc(order, func(a, b int32) int {
		x, y := &p.lines[a], &p.lines[b]
		switch {
		case x.opens != y.opens: // a book.opened opens the book, whenever it says that it was
			return before(x.opens)
		case len(later) == 0 && x.sec != y.sec:
			return before(x.sec < y.sec)
		}
		if c := key(a).Compare(key(b)); c != 0 {
			return c
		}
		return int(x.number - y.number)
	})
	return order, nil
}

func before(is bool) int {
	if is {
		return -1
	}
	return 1
}
