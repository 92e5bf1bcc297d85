package sqlite

import (
	"database/sql"
	"errors"

	"traybook/events"
)

// LastOwn is the entry that this file's own chain took last; ok is false where there is none. acts passes over
// amendments and voids.
func (tx *Tx) LastOwn(acts bool) (e events.Entry, ok bool, err error) {
	own, err := tx.Meta("own_chain")
	if err != nil || own == "" {
		return e, false, err
	}
	text := "SELECT " + entryColumns + " FROM entry e WHERE e.chain=CAST(? AS INTEGER)"
	if acts {
		text += " AND e.kind NOT IN ('entry.amended','entry.voided')"
	}
	e, err = scanEntry(tx.tx.QueryRow(text+" ORDER BY e.seq DESC LIMIT 1", own))
	if errors.Is(err, sql.ErrNoRows) {
		return e, false, nil
	}
	return e, err == nil, translate(err)
}

// SetSitter puts another name and contact beside a reference that is in the table.
func (tx *Tx) SetSitter(row events.SitterRow) error {
	_, err := tx.tx.Exec("UPDATE sitter SET name=?, contact=? WHERE ref=?", row.Name, row.Contact, row.Ref)
	return translate(err)
}
