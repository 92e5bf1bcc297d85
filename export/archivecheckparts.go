package export

import (
	"bufio"
	"encoding/csv"
	"errors"
	"io"
	"strings"

	"traybook/events"
)

// rows reads a table by its header and calls f with each record.
func (c *archiveCheck) rows(name string, f func(line int, cell func(column string) string)) {
	in, err := c.bag.Open(dataFolder + name)
	if err != nil {
		c.problem("missing", "", "%s cannot be read", name)
		return
	}
	defer in.Close()
	r := csv.NewReader(in)
	r.ReuseRecord = true
	head, err := r.Read()
	if err != nil {
		c.problem("table", "", "%s has no header", name)
		return
	}
	columns := map[string]int{}
	for i, h := range head {
		columns[strings.Clone(h)] = i
	}
	for n := 1; ; n++ {
		record, err := r.Read()
		if errors.Is(err, io.EOF) {
			return
		}
		if err != nil {
			c.problem("table", "", "%s, record %d cannot be read", name, n)
			return
		}
		f(n, func(column string) string {
			if i, ok := columns[column]; ok && i < len(record) {
				return record[i]
			}
			return ""
		})
	}
}

// checkTable holds the table of entries against the entries.
func (c *archiveCheck) checkTable() {
	seen := make([]bool, len(c.nodes))
	c.rows(archiveEntries, func(n int, cell func(string) string) {
		h, err := events.ParseHash(cell("hash"))
		at, ok := c.byHash[h]
		switch {
		case err != nil || !ok:
			c.problem("table", cell("id"), "%s, record %d is of an entry that %s does not hold", archiveEntries, n, archiveEvents)
		case seen[at]:
			c.problem("table", cell("id"), "%s, record %d stands there twice", archiveEntries, n)
		case c.nodes[at].id.String() != cell("id"):
			c.problem("table", cell("id"), "%s, record %d bears the id of another entry", archiveEntries, n)
		default:
			seen[at] = true
		}
	})
	if c.scope.Session != "" || c.scope.Picture != "" {
		return
	}
	for i, n := range c.nodes {
		inside := !n.at.After(c.asOf) && (c.scope.Year == 0 || n.at.Year() == c.scope.Year)
		if !seen[i] && inside && !c.mended[n.id] {
			c.problem("table", n.id.String(), "%s lacks the entry of line %d of %s", archiveEntries, n.line, archiveEvents)
		}
	}
}

// checkScans holds the scans against their entries and the digests of the bag.
func (c *archiveCheck) checkScans() {
	digests := c.digests()
	listed := map[events.ID]bool{}
	c.rows(archiveScans, func(n int, cell func(string) string) {
		id, err := events.ParseID(cell("entry"))
		data := c.scans[id]
		if err != nil || data == nil {
			c.problem("scan", cell("entry"), "%s, record %d names no scan that was attached", archiveScans, n)
			return
		}
		listed[id] = true
		file := cell("file")
		if file == "" {
			c.note("scan", id.String(), "the scan of %s was %s when the archive was made, and is not in it", data.Sheet, cell("state"))
			return
		}
		size, there := c.bag.Has(dataFolder + file)
		switch {
		case !there:
			c.problem("scan", id.String(), "the scan of %s, %s, is missing", data.Sheet, file)
		case digests[dataFolder+file] != data.SHA256:
			c.problem("scan", id.String(), "the scan of %s, %s, is not the one that was attached", data.Sheet, file)
		case size != data.Bytes:
			c.problem("scan", id.String(), "the scan of %s, %s, has %d bytes, and had %d", data.Sheet, file, size, data.Bytes)
		}
	})
	if !c.scope.Whole() {
		return
	}
	for _, n := range c.nodes {
		if data := c.scans[n.id]; data != nil && !listed[n.id] && !n.at.After(c.asOf) && !c.mended[n.id] && !c.mended[n.batch] {
			c.problem("scan", n.id.String(), "%s lacks the scan of %s", archiveScans, data.Sheet)
		}
	}
}

// digests are those that the bag states; the bag's own check holds the files against them.
func (c *archiveCheck) digests() map[string]string {
	out := map[string]string{}
	in, err := c.bag.Open("manifest-sha256.txt")
	if err != nil {
		return out
	}
	defer in.Close()
	for s := bufio.NewScanner(in); s.Scan(); {
		if digest, name, ok := strings.Cut(s.Text(), "  "); ok {
			out[name] = strings.ToLower(digest)
		}
	}
	return out
}

// checkBook holds the copy of the book against the entries.
func (c *archiveCheck) checkBook() error {
	if c.o.Book == nil {
		return nil
	}
	if _, ok := c.bag.Has(dataFolder + archiveBook); !ok {
		c.problem("missing", "", "%s, the copy of the book, is not there", archiveBook)
		return nil
	}
	seen := make([]bool, len(c.nodes))
	strangers := 0
	found, err := c.o.Book(func() (io.ReadCloser, error) { return c.bag.Open(dataFolder + archiveBook) }, func(h events.Hash) {
		if at, ok := c.byHash[h]; ok {
			seen[at] = true
		} else {
			strangers++
		}
	})
	if err != nil {
		return err
	}
	for _, f := range found {
		c.problem(f.Kind, f.Entry, "%s: %s", archiveBook, f.Text)
	}
	if len(found) > 0 {
		return nil
	}
	if strangers > 0 {
		c.problem("book", "", "%s holds %d entries that %s does not hold", archiveBook, strangers, archiveEvents)
	}
	for i, n := range c.nodes {
		if !seen[i] {
			c.problem("book", n.id.String(), "%s lacks the entry of line %d of %s", archiveBook, n.line, archiveEvents)
		}
	}
	return nil
}
