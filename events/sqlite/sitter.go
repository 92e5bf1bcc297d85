package sqlite

import (
	"database/sql"
	"errors"
	"fmt"
	"strings"
	"unicode/utf8"

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
	if err := fitsSitter(name, contact); err != nil {
		return "", err
	}
	n, err := tx.largestSitter()
	if err != nil {
		return "", err
	}
	if n++; n > events.MaxNumber {
		return "", fmt.Errorf("the numbers of sitters are used up: sitter-%d is taken", events.MaxNumber)
	}
	ref := fmt.Sprintf("sitter-%d", n)
	_, err = tx.tx.Exec("INSERT INTO sitter VALUES (?,?,?)", ref, strings.TrimSpace(name), contact)
	if err == nil {
		tx.lastSitter = n
	}
	return ref, translate(err)
}

// largestSitter is the largest number that a sitter was given, whether an entry holds it or the table alone.
func (tx *Tx) largestSitter() (int, error) {
	n, err := tx.LargestNumber("sitter-")
	if err != nil {
		return 0, err
	}
	if tx.lastSitter > 0 {
		return max(n, tx.lastSitter), nil
	}
	var inTable sql.NullInt64
	err = tx.tx.QueryRow("SELECT max(CAST(substr(ref,8) AS INTEGER)) FROM sitter WHERE CAST(substr(ref,8) AS INTEGER) <= ?", events.MaxNumber).Scan(&inTable)
	return max(n, int(inTable.Int64)), translate(err)
}

// maxSitterName is how many characters a sitter's name may have; a contact may have as many as any text.
const maxSitterName = 200

func fitsSitter(name, contact string) error {
	if n := utf8.RuneCountInString(name); n > maxSitterName {
		return fmt.Errorf("the sitter's name has %d characters; at most %d", n, maxSitterName)
	}
	if n := utf8.RuneCountInString(contact); n > events.MaxText {
		return fmt.Errorf("the sitter's contact has %d characters; at most %d", n, events.MaxText)
	}
	return nil
}

// Sitters lists everyone in the table, by number.
func (tx *Tx) Sitters() ([]events.SitterRow, error) {
	rows, err := tx.tx.Query("SELECT ref, name, contact FROM sitter ORDER BY length(ref), ref")
	return collect(rows, err, func(row scanner) (s events.SitterRow, err error) {
		err = row.Scan(&s.Ref, &s.Name, &s.Contact)
		return s, err
	})
}
