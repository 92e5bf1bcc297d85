package export

import (
	"bufio"
	"bytes"
	"cmp"
	"io"
	"slices"
	"time"

	"traybook/events"
	"traybook/projections/snapshot"
)

// Lines writes every entry of a book as whole lines, in the order of arrival: every chain from its beginning. It says
// how many.
func Lines(src Source, w io.Writer) (int, error) {
	out, n := bufio.NewWriterSize(w, 1<<16), 0
	var line []byte
	err := src.Each(func(e events.Entry) error {
		n++
		line = append(e.AppendLine(line[:0]), '\n')
		_, err := out.Write(line)
		return err
	})
	if err != nil {
		return n, err
	}
	return n, out.Flush()
}

// Extract writes what a scope takes in as plain lines with their id: the entries that count, as they were written, each
// before its amendments, in the order of arrival. What was taken back is left out, and so is what is dated after asOf,
// where that is given. The readings that a picture's acts followed come along, wherever they stand. It says how many lines.
func Extract(src Source, scope Scope, asOf time.Time, w io.Writer) (int, error) {
	if err := scope.Check(); err != nil {
		return 0, err
	}
	queries, err := extractQueries(src, scope)
	if err != nil {
		return 0, err
	}
	var found []events.Entry
	for _, q := range queries {
		raw, err := src.Entries(q)
		if err != nil {
			return 0, err
		}
		found = append(found, raw...)
	}
	if !asOf.IsZero() {
		found = slices.DeleteFunc(found, func(e events.Entry) bool { return e.At.After(asOf) })
	}
	if scope.Picture != "" {
		readings, err := readingsOf(src, events.Fold(found))
		if err != nil {
			return 0, err
		}
		found = append(found, readings...)
	}
	keep := map[events.ID]bool{}
	for _, e := range events.Fold(found) {
		if scope.Year != 0 && e.At.Year() != scope.Year {
			continue
		}
		keep[e.ID] = true
		for _, a := range e.Amended {
			keep[a] = true
		}
	}
	slices.SortStableFunc(found, func(a, b events.Entry) int { return cmp.Compare(a.Seq, b.Seq) })
	out, n := bufio.NewWriter(w), 0
	for _, e := range found {
		if !keep[e.ID] {
			continue
		}
		keep[e.ID] = false
		n++
		if _, err := out.Write(append(plainLine(e), '\n')); err != nil {
			return n, err
		}
	}
	return n, out.Flush()
}

// extractQueries finds what belongs to a scope; what comes twice counts once.
func extractQueries(src Source, scope Scope) ([]events.Query, error) {
	name := scope.Picture + scope.Session
	if scope.Whole() {
		return []events.Query{{}}, nil
	}
	if scope.Year != 0 {
		day := 24 * time.Hour // no place is further from Greenwich
		return []events.Query{{From: time.Date(scope.Year, 1, 1, 0, 0, 0, 0, time.UTC).Add(-day),
			To: time.Date(scope.Year+1, 1, 1, 0, 0, 0, 0, time.UTC).Add(day)}}, nil
	}
	t, ok, err := src.Entity(name)
	if err != nil {
		return nil, err
	}
	kind := events.Picture
	if scope.Session != "" {
		kind = events.Session
	}
	if !ok || t.Kind != kind {
		return nil, snapshot.NoSuch(kind, name)
	}
	queries := []events.Query{{Stream: t.ID}}
	if kind == events.Session {
		queries = append(queries, events.Query{Session: t.ID})
	}
	return queries, nil
}

// readingsOf gives the readings that entries followed and that are not among them.
func readingsOf(src Source, entries []events.Entry) (out []events.Entry, err error) {
	have := map[string]bool{}
	for _, e := range entries {
		have[e.ID.String()] = true
	}
	for _, e := range entries {
		id := events.ReadingOf(e.Data)
		if id == "" || have[id] {
			continue
		}
		have[id] = true
		found, err := src.Find(id)
		if err != nil {
			return nil, err
		}
		out = append(out, found...)
	}
	return out, nil
}

// plainLine is an entry as a plain line with its id: its stored bytes without batch, chain and hash.
func plainLine(e events.Entry) []byte {
	mark := []byte(`,"id":"` + e.ID.String() + `"`)
	i := bytes.LastIndex(e.Stored, mark)
	if i < 0 {
		return e.Stored // every stored entry has its id; what has none is told by whoever reads it
	}
	return append(slices.Clone(e.Stored[:i+len(mark)]), '}')
}
