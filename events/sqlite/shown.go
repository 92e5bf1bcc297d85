package sqlite

import (
	"encoding/json"
	"slices"

	"traybook/events"
)

// shown gives entries with the names by which this book shows what they name. In a joined book a chain's 2026-014 may be
// this book's 2026-014@2, and whoever reads the entry must not take it for the other. The stored bytes stay as they are,
// and so does the data of the entries given.
func (tx *Tx) shown(entries []events.Entry) ([]events.Entry, error) {
	joined, err := tx.joined()
	if err != nil || !joined {
		return entries, err
	}
	out := make([]events.Entry, len(entries))
	for i, e := range entries {
		if out[i], err = tx.shownOne(e); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// joined says whether the book holds more than one chain.
func (tx *Tx) joined() (bool, error) {
	if tx.chains == nil && !tx.oneChain {
		var more bool
		if err := tx.tx.QueryRow("SELECT EXISTS (SELECT 1 FROM chain WHERE id>1)").Scan(&more); err != nil {
			return false, translate(err)
		}
		tx.oneChain = !more
		if more {
			if err := tx.loadChains(); err != nil {
				return false, err
			}
		}
	}
	return tx.chains != nil && len(tx.chains.rows) > 1, nil // a write that joins another book has loaded them
}

func (tx *Tx) shownOne(e events.Entry) (events.Entry, error) {
	if x, ok := e.Data.(*events.EntryAmendedData); ok {
		return tx.shownSet(e, x)
	}
	copied := false
	for _, f := range events.Fields(e.Kind) {
		if !f.Names() {
			continue
		}
		v, _ := f.Value(e.Data)
		written, ok := v.(string)
		if !ok || written == "" {
			continue
		}
		name, err := tx.nameShown(f, written, &e)
		if err != nil {
			return e, err
		}
		if name == written {
			continue
		}
		if !copied {
			e.Data, copied = events.Clone(e.Data), true
		}
		if err := f.Put(e.Data, name); err != nil {
			return e, err
		}
	}
	return e, nil
}

// carriedCamera is the one field with a name that an amendment may set.
var carriedCamera = events.Field{Name: "camera", Type: "ref", Of: string(events.Camera)}

// shownSet does the same with the camera that an amendment sets.
func (tx *Tx) shownSet(e events.Entry, x *events.EntryAmendedData) (events.Entry, error) {
	for i, s := range x.Set {
		var written string
		if s.Name != carriedCamera.Name || json.Unmarshal(s.Value, &written) != nil || written == "" {
			continue
		}
		name, err := tx.nameShown(carriedCamera, written, &e)
		if err != nil || name == written {
			return e, err
		}
		set := slices.Clone(x.Set)
		if set[i], err = events.SetValue(s.Name, name); err != nil {
			return e, err
		}
		own := *x
		own.Set = set
		e.Data = &own
		return e, nil
	}
	return e, nil
}

// nameShown is the name by which this book shows what a field of an entry names.
func (tx *Tx) nameShown(f events.Field, written string, e *events.Entry) (string, error) {
	picture, part, isSheet := events.SplitSheet(written)
	r := events.Ref{Kind: events.ThingKind(f.Of), Name: written}
	switch {
	case f.Type == "sitter":
		r.Kind = events.Sitter
	case isSheet && (f.Type == "sheet" || f.Type == "any"):
		r = events.Ref{Kind: events.Picture, Name: picture}
	}
	bare, rank := splitRank(r.Name)
	rows, err := tx.bearers(bare)
	if err != nil || len(rows) == 0 || len(rows) == 1 && rank == 1 {
		return written, err
	}
	row, ok, err := tx.meant(r, e)
	if err != nil || !ok {
		return written, err
	}
	name := row.thing(bare).Name
	if r.Name == picture && part != "" {
		name = events.Sheet(name, part)
	}
	return name, nil
}
