package sqlite

import (
	"database/sql"
	"strconv"
	"strings"

	"traybook/events"
)

const digits = "0123456789"

// LargestNumber is the largest n, up to events.MaxNumber, of the things named prefix+n, whether their entries still count
// or not. The names of a row are gone through once in a write, for a file that brings n of them asks n times.
func (tx *Tx) LargestNumber(prefix string) (int, error) {
	if n, known := tx.largest[prefix]; known {
		return n, nil
	}
	// ':' follows '9': the range holds the prefix followed by digits. Longer numbers sort apart, hence the length first.
	var found sql.NullInt64
	err := tx.tx.QueryRow(`SELECT max(CAST(substr(name, ?) AS INTEGER)) FROM entity
		WHERE name >= ? AND name < ? AND substr(name, ?) NOT GLOB '*[^0-9]*' AND CAST(substr(name, ?) AS INTEGER) <= ?`,
		len(prefix)+1, prefix+"0", prefix+":", len(prefix)+1, len(prefix)+1, events.MaxNumber).Scan(&found)
	if err != nil {
		return 0, translate(err)
	}
	n := int(found.Int64)
	if prefix == strings.TrimRight(prefix, digits) { // of a name, its digits begin behind it and nowhere else
		if tx.largest == nil {
			tx.largest = map[string]int{}
		}
		tx.largest[prefix] = n
	}
	return n, nil
}

// countNumber keeps the largest numbers in step with a name that came in.
func (tx *Tx) countNumber(name string) {
	prefix := strings.TrimRight(name, digits)
	before, asked := tx.largest[prefix]
	if n, err := strconv.Atoi(name[len(prefix):]); asked && err == nil && n > before && n <= events.MaxNumber {
		tx.largest[prefix] = n
	}
}
