package sqlite

import (
	"database/sql"
	"errors"
	"strings"

	"traybook/events"
)

// LastOwn is the entry that this file's own chain took last; ok is false where there is none. acts passes over
// amendments and voids.
func (tx *Tx) LastOwn(acts bool) (e events.Entry, ok bool, err error) {
	if err := tx.loadChains(); err != nil || tx.chains.own == 0 {
		return e, false, err
	}
	own := tx.chains.own
	last := tx.chains.rows[own].last
	if own == tx.chains.tailOf {
		last = tx.chains.tail
	}
	text := "SELECT " + entryColumns + " FROM entry e WHERE e.chain=? AND e.seq<=?"
	if acts {
		text += " AND e.kind NOT IN ('entry.amended','entry.voided')"
	}
	e, err = scanEntry(tx.tx.QueryRow(text+" ORDER BY e.seq DESC LIMIT 1", own, last))
	if errors.Is(err, sql.ErrNoRows) {
		return e, false, nil
	}
	return e, err == nil, translate(err)
}

// SetSitter puts another name and contact beside a reference that is in the table.
func (tx *Tx) SetSitter(row events.SitterRow) error {
	if err := fitsSitter(row.Name, row.Contact); err != nil {
		return err
	}
	if err := tx.keepFormer(row.Ref, row.Name); err != nil {
		return err
	}
	_, err := tx.tx.Exec("UPDATE sitter SET name=?, contact=? WHERE ref=?", row.Name, row.Contact, row.Ref)
	return translate(err)
}

// Batch gives the entries written under batches whose id begins with the hex digits, four or more.
func (tx *Tx) Batch(prefix string) ([]events.Entry, error) {
	low, high, ok := idRange(prefix)
	if !ok {
		return nil, nil
	}
	return tx.query("SELECT "+entryColumns+" FROM entry e WHERE e.batch BETWEEN ? AND ? ORDER BY e.seq", low[:], high[:])
}

// idRange gives the smallest and the largest id that begin with hex digits.
func idRange(prefix string) (low, high events.ID, ok bool) {
	if len(prefix) < 4 || len(prefix) > 32 || strings.Trim(prefix, "0123456789abcdef") != "" {
		return low, high, false
	}
	low, _ = events.ParseID(prefix + strings.Repeat("0", 32-len(prefix)))
	high, _ = events.ParseID(prefix + strings.Repeat("f", 32-len(prefix)))
	return low, high, true
}
