package sqlite

import (
	"database/sql"
	"errors"
	"fmt"
	"strings"

	"traybook/events"
)

var _ events.SitterBook = (*Tx)(nil)

// SitterRef finds the reference of a name.
func (tx *Tx) SitterRef(name string) (string, bool, error) {
	var ref string
	err := tx.tx.QueryRow("SELECT ref FROM sitter WHERE name=? ORDER BY length(ref), ref LIMIT 1", strings.TrimSpace(name)).Scan(&ref)
	if errors.Is(err, sql.ErrNoRows) {
		return "", false, nil
	}
	return ref, err == nil, translate(err)
}

// AddSitter writes a name in under the next reference. A number once given to a sitter, erased ones included, is not
// given again: the entries still hold it.
func (tx *Tx) AddSitter(name, contact string) (string, error) {
	n, err := tx.LargestNumber("sitter-")
	if err != nil {
		return "", err
	}
	var inTable sql.NullInt64
	if err := tx.tx.QueryRow("SELECT max(CAST(substr(ref,8) AS INTEGER)) FROM sitter").Scan(&inTable); err != nil {
		return "", translate(err)
	}
	ref := fmt.Sprintf("sitter-%d", max(n, int(inTable.Int64))+1)
	_, err = tx.tx.Exec("INSERT INTO sitter VALUES (?,?,?)", ref, strings.TrimSpace(name), contact)
	return ref, translate(err)
}

// Sitters lists everyone in the table, by number.
func (tx *Tx) Sitters() ([]events.SitterRow, error) {
	rows, err := tx.tx.Query("SELECT ref, name, contact FROM sitter ORDER BY length(ref), ref")
	if err != nil {
		return nil, translate(err)
	}
	defer rows.Close()
	var out []events.SitterRow
	for rows.Next() {
		var s events.SitterRow
		if err := rows.Scan(&s.Ref, &s.Name, &s.Contact); err != nil {
			return nil, translate(err)
		}
		out = append(out, s)
	}
	return out, translate(rows.Err())
}
