package events

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"
)

// Fold gives the entries that count, as they count: voids first, then amendments, then the order of the acts. An id
// that came in two chains counts once. Voids and amendments themselves do not appear. Entries keep their stored bytes;
// amended ones get a copy of their data.
//
// It is a pure function of the set given: the order in which the entries arrived does not matter.
func Fold(entries []Entry) []Entry { return fold(entries, false) }

// FoldAll is Fold with the voided entries kept in their places, each with Voided naming the void.
func FoldAll(entries []Entry) []Entry { return fold(entries, true) }

func fold(entries []Entry, keepVoided bool) []Entry {
	uniq := entries
	if !inOrder(entries) || anyTwice(entries) {
		uniq = sortedOnce(entries)
	}
	m := newCorrections(uniq)
	out := make([]Entry, 0, len(uniq))
	changed := false
	for i := range uniq {
		e := uniq[i]
		if e.Kind == EntryVoided || e.Kind == EntryAmended {
			continue
		}
		if by, void := m.voided(e.ID, e.Batch); void {
			if !keepVoided {
				continue
			}
			e.Voided = by
		}
		if as := m.amendments(e.ID); len(as) > 0 {
			e = amend(e, as)
			changed = true
		}
		out = append(out, e)
	}
	if changed {
		slices.SortStableFunc(out, Compare)
	}
	return out
}

// inOrder says whether the entries stand in their order already, as those of one thing mostly do.
func inOrder(entries []Entry) bool {
	for i := 1; i < len(entries); i++ {
		if compare(&entries[i-1], &entries[i]) > 0 {
			return false
		}
	}
	return true
}

// fewEntries is how many are compared each with each before a table pays.
const fewEntries = 24

func anyTwice(entries []Entry) bool {
	if len(entries) <= fewEntries {
		for i := range entries {
			for j := range i {
				if entries[i].ID == entries[j].ID {
					return true
				}
			}
		}
		return false
	}
	seen := make(map[ID]bool, len(entries))
	for i := range entries {
		if seen[entries[i].ID] {
			return true
		}
		seen[entries[i].ID] = true
	}
	return false
}

// sortedOnce gives the entries in their order, each id once.
func sortedOnce(entries []Entry) []Entry {
	sorted := slices.Clone(entries)
	slices.SortStableFunc(sorted, Compare)
	seen := make(map[ID]bool, len(sorted))
	uniq := sorted[:0]
	for _, e := range sorted {
		if !seen[e.ID] {
			seen[e.ID] = true
			uniq = append(uniq, e)
		}
	}
	return uniq
}

// Compare orders entries by the instant of the act, then by when they were recorded, then by chain and place in it.
func Compare(a, b Entry) int { return compare(&a, &b) }

func compare(a, b *Entry) int {
	if c := a.At.Compare(b.At); c != 0 {
		return c
	}
	return compareRecorded(a, b)
}

func compareRecorded(a, b *Entry) int {
	if c := a.RecordedAt.Compare(b.RecordedAt); c != 0 {
		return c
	}
	if c := bytes.Compare(a.Book[:], b.Book[:]); c != 0 {
		return c
	}
	if c := cmp.Compare(a.BookSeq, b.BookSeq); c != 0 {
		return c
	}
	return bytes.Compare(a.Hash[:], b.Hash[:])
}

// corrections knows which voids and amendments stand.
type corrections struct {
	byEntry  map[ID][]*Entry // voids by the entry they name
	byBatch  map[ID][]*Entry // voids by batch
	amends   map[ID][]*Entry
	state    map[ID]ID // settled: the void that took an entry back, or zero
	busy     map[ID]bool
	standing map[ID][]*Entry // by batch: those of its voids that count, all while that is being worked out
}

func newCorrections(entries []Entry) *corrections {
	m := &corrections{}
	for i := range entries {
		e := &entries[i]
		switch d := e.Data.(type) {
		case *EntryVoidedData:
			if m.byEntry == nil {
				m.byEntry, m.byBatch = map[ID][]*Entry{}, map[ID][]*Entry{}
				m.state, m.busy, m.standing = map[ID]ID{}, map[ID]bool{}, map[ID][]*Entry{}
			}
			if id, err := ParseID(d.Entry); err == nil {
				m.byEntry[id] = append(m.byEntry[id], e)
			}
			if id, err := ParseID(d.Batch); err == nil {
				m.byBatch[id] = append(m.byBatch[id], e)
			}
		case *EntryAmendedData:
			if m.amends == nil {
				m.amends = map[ID][]*Entry{}
			}
			if id, err := ParseID(d.Entry); err == nil {
				m.amends[id] = append(m.amends[id], e)
			}
		}
	}
	return m
}

// voided says whether a void that itself stands names the entry or its batch. A batch's void does not take back
// itself.
func (m *corrections) voided(id, batch ID) (ID, bool) {
	if m.byEntry == nil {
		return ID{}, false
	}
	if by, done := m.state[id]; done {
		return by, !by.IsZero()
	}
	if len(m.byEntry[id]) == 0 && len(m.byBatch[batch]) == 0 {
		return ID{}, false
	}
	if m.busy[id] { // voids that take back each other: the one that is asked about counts
		return ID{}, false
	}
	m.busy[id] = true
	defer delete(m.busy, id)
	for _, candidates := range [][]*Entry{m.byEntry[id], m.standingOf(batch)} {
		for _, v := range candidates {
			if v.ID == id {
				continue
			}
			if _, void := m.voided(v.ID, v.Batch); !void {
				m.state[id] = v.ID
				return v.ID, true
			}
		}
	}
	m.state[id] = ID{}
	return ID{}, false
}

// standingOf gives of the voids of a batch those that count: the first two that stand, since a void does not take back
// itself. They are worked out once for all entries of the batch; while that goes on, all of them are given.
func (m *corrections) standingOf(batch ID) []*Entry {
	if len(m.byBatch[batch]) == 0 {
		return nil
	}
	if out, asked := m.standing[batch]; asked {
		return out
	}
	m.standing[batch] = m.byBatch[batch]
	var out []*Entry
	for _, v := range m.byBatch[batch] {
		if _, void := m.voided(v.ID, v.Batch); !void && len(out) < 2 {
			out = append(out, v)
		}
	}
	m.standing[batch] = out
	return out
}

// StandingVoids gives the voids of a batch that no other of the entries takes back, as far as they count: two at most.
func StandingVoids(batch ID, entries []Entry) []Entry {
	var out []Entry
	for _, v := range newCorrections(sortedOnce(entries)).standingOf(batch) {
		out = append(out, *v)
	}
	return out
}

// Corrections are all voids and amendments of a book, so that its entries can be held against them one by one.
type Corrections struct{ of *corrections }

// NewCorrections makes voids and amendments ready.
func NewCorrections(entries []Entry) Corrections {
	return Corrections{newCorrections(sortedOnce(entries))}
}

// AsItCounts is what FoldAll makes of an entry. A void or an amendment may bear Voided as well.
func (c Corrections) AsItCounts(e Entry) Entry {
	if by, void := c.of.voided(e.ID, e.Batch); void {
		e.Voided = by
	}
	if as := c.of.amendments(e.ID); len(as) > 0 {
		e = amend(e, as)
	}
	return e
}

// amendments gives the standing amendments of an entry, oldest recorded first.
func (m *corrections) amendments(id ID) []*Entry {
	if len(m.amends[id]) == 0 {
		return nil
	}
	var out []*Entry
	for _, a := range m.amends[id] {
		if _, void := m.voided(a.ID, a.Batch); !void {
			out = append(out, a)
		}
	}
	slices.SortStableFunc(out, func(a, b *Entry) int { return compareRecorded(a, b) })
	return out
}

// amend applies amendments in their order, so that field by field the latest wins. One that no longer fits (its void
// was voided in another book, say) is passed over: a fold never fails.
func amend(e Entry, amendments []*Entry) Entry {
	by := slices.Clone(e.Amended)
	for _, a := range amendments {
		if next, err := Apply(e, a.Data.(*EntryAmendedData).Set); err == nil {
			e, by = next, append(by, a.ID)
		}
	}
	e.Data, e.Amended = Clone(e.Data), by
	return e
}

// Apply gives e with the fields of set put anew, validated. What names a thing cannot be amended.
func Apply(e Entry, set Set) (Entry, error) {
	k := e.Kind
	if k == EntryAmended || k == EntryVoided {
		return e, &FieldError{Kind: k, Fault: kindIsFixed}
	}
	e.Data = Clone(e.Data)
	v := reflect.ValueOf(e.Data).Elem()
	for _, s := range set {
		null := string(s.Value) == "null"
		switch s.Name {
		case "at":
			var text string
			if err := json.Unmarshal(s.Value, &text); err != nil || null {
				return e, &FieldError{Kind: k, Field: "at", Fault: noTime}
			}
			t, err := ParseTime(text)
			if err == nil {
				err = checkYear(t)
			}
			if err != nil {
				return e, &FieldError{Kind: k, Field: "at", Fault: wrongTime, Value: err.Error()}
			}
			e.At = t
			continue
		case "zone":
			if _, own := FieldOf(k, "zone"); !own {
				var text string
				if err := json.Unmarshal(s.Value, &text); err != nil {
					return e, &FieldError{Kind: k, Field: "zone", Fault: noZone}
				}
				if err := (Field{Name: "zone", Type: "zone"}).CheckValue(k, text); err != nil && text != "" {
					return e, err
				}
				e.Zone = text
				continue
			}
		}
		f, ok := FieldOf(k, s.Name)
		if !ok {
			return e, &FieldError{Kind: k, Field: s.Name, Fault: notAField, Takes: fieldNames(k)}
		}
		if !f.Amendable() {
			return e, &FieldError{Kind: k, Field: s.Name, Fault: namesAThing}
		}
		if null && f.Required {
			return e, &FieldError{Kind: k, Field: s.Name, Fault: Required}
		}
		if !null {
			if err := checkInside(k, f, s.Value); err != nil {
				return e, err
			}
		}
		dst := v.FieldByIndex(f.index)
		fresh := reflect.New(dst.Type())
		if err := json.Unmarshal(s.Value, fresh.Interface()); err != nil {
			var t *json.UnmarshalTypeError
			if errors.As(err, &t) {
				return e, &FieldError{Kind: k, Field: s.Name, Fault: otherJSON, Value: t.Value}
			}
			return e, &FieldError{Kind: k, Field: s.Name, Fault: brokenJSON}
		}
		dst.Set(fresh.Elem())
	}
	return e, Validate(e.Data)
}

func fieldNames(k Kind) string {
	var names []string
	for _, f := range Fields(k) {
		if f.Amendable() {
			names = append(names, f.Name)
		}
	}
	return strings.Join(names, ", ")
}

// Clone gives a copy of d that can be changed without changing d.
func Clone(d Data) Data {
	c := reflect.New(reflect.TypeOf(d).Elem())
	c.Elem().Set(reflect.ValueOf(d).Elem())
	return c.Interface().(Data)
}

// SetValue makes one field of an amendment from a plain Go value.
func SetValue(name string, v any) (SetField, error) {
	raw, err := marshal(v)
	if err != nil {
		return SetField{}, fmt.Errorf("%s: cannot be written as JSON: %w", name, err)
	}
	return SetField{Name: name, Value: raw}, nil
}
