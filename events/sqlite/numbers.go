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
func (tx *Tx) LargestNumber(prefix string) (int, error) { return tx.names.largestNumber(prefix) }

// largestNumber is that of the names that the index holds.
func (n *nameIndex) largestNumber(prefix string) (int, error) {
	if largest, known := n.largest[prefix]; known {
		return largest, nil
	}
	// ':' follows '9': the range holds the prefix followed by digits. Longer numbers sort apart, hence the length first.
	var found sql.NullInt64
	err := n.file.QueryRow(`SELECT max(CAST(substr(name, ?) AS INTEGER)) FROM entity
		WHERE name >= ? AND name < ? AND substr(name, ?) NOT GLOB '*[^0-9]*' AND CAST(substr(name, ?) AS INTEGER) <= ?`,
		len(prefix)+1, prefix+"0", prefix+":", len(prefix)+1, len(prefix)+1, events.MaxNumber).Scan(&found)
	if err != nil {
		return 0, translate(err)
	}
	largest := int(found.Int64)
	if prefix == strings.TrimRight(prefix, digits) { // of a name, its digits begin behind it and nowhere else
		if n.largest == nil {
			n.largest = map[string]int{}
		}
		n.largest[prefix] = largest
	}
	return largest, nil
}

// countNumber keeps the largest numbers in step with a name that came in.
func (n *nameIndex) countNumber(name string) {
	prefix := strings.TrimRight(name, digits)
	before, asked := n.largest[prefix]
	if is, err := strconv.Atoi(name[len(prefix):]); asked && err == nil && is > before && is <= events.MaxNumber {
		n.largest[prefix] = is
	}
}
