package export

import (
	"bufio"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"traybook/events"
	"traybook/export/bag"
)

// Finding is one thing that a check found.
type Finding struct {
	Kind  string // sort of damage, one of the bag's or: line, chain, order, doubled-entry, cut-off, count, table, scan, book
	Entry string // id of the entry it is about, "" for none
	Text  string
}

// ArchiveReport is what the check of an archive found. The archive is whole if and only if Problems is empty.
type ArchiveReport struct {
	Files    int
	Bytes    int64
	Entries  int
	Heads    []ChainHead
	Scope    string
	Problems []Finding
	Notes    []Finding // forks, and what was left out when the bag was made: not damage
}

// ArchiveCheck says how an archive is checked.
type ArchiveCheck struct {
	// Book checks the copy of the book, of which name is a copy, and calls each with the hash of each of its entries. It
	// gives what it found. Nil leaves the book out.
	Book func(open func() (io.ReadCloser, error), each func(events.Hash)) ([]Finding, error)
	// Head must be the hash of an entry of the archive, zero for none.
	Head events.Hash
}

// CheckArchive checks an archive from the outside in: the bag, the chains of its entries, its tables and scans against
// the entries, and the copy of the book against them.
//
// Errors: path cannot be opened. Damage is no error but a problem in the report.
func CheckArchive(path string, o ArchiveCheck) (ArchiveReport, error) {
	b, err := bag.Open(path)
	if err != nil {
		return ArchiveReport{}, err
	}
	defer b.Close()
	c := &archiveCheck{bag: b, o: o, byHash: map[events.Hash]int{}}
	found := b.Verify()
	c.report.Files, c.report.Bytes = found.Files, found.Bytes
	for _, p := range found.Problems {
		c.problem(string(p.Kind), "", "%s", p.String())
	}
	for _, n := range found.Notes {
		c.note(string(n.Kind), "", "%s", n.String())
	}
	c.info = found.Info
	c.scope, _ = parseScope(found.Value(labelScope))
	c.report.Scope = c.scope.String()
	if c.asOf, err = time.Parse(time.RFC3339Nano, found.Value("As-Of")); err != nil {
		c.asOf = farAhead
	}
	c.checkEvents()
	c.checkTable()
	c.checkScans()
	if err := c.checkBook(); err != nil {
		return c.report, err
	}
	return c.report, nil
}

// parseScope reads what Scope.String wrote.
func parseScope(text string) (Scope, bool) {
	if session, ok := strings.CutPrefix(text, "session "); ok {
		return Scope{Session: session}, true
	}
	if picture, ok := strings.CutPrefix(text, "picture "); ok {
		return Scope{Picture: picture}, true
	}
	if year, err := strconv.Atoi(text); err == nil && len(text) == 4 {
		return Scope{Year: year}, true
	}
	return Scope{}, text == Scope{}.String()
}

type archiveCheck struct {
	bag    *bag.Bag
	o      ArchiveCheck
	info   []bag.Label
	scope  Scope
	asOf   time.Time
	nodes  []archiveNode
	byHash map[events.Hash]int
	mended map[events.ID]bool // entries, and batches, that an amendment or a void names
	scans  map[events.ID]*events.SheetAttachedData
	report ArchiveReport
}

// archiveNode is one line of events.ndjson.
type archiveNode struct {
	id, book, batch events.ID
	seq             int64
	line            int
	hash, prev      events.Hash
	at              time.Time
	recorded        int64
}

// mostFindings bounds the list, so that a hostile file cannot make it endless.
const mostFindings = 10_000

func (c *archiveCheck) problem(kind, entry, format string, args ...any) {
	if len(c.report.Problems) < mostFindings {
		c.report.Problems = append(c.report.Problems, Finding{kind, entry, fmt.Sprintf(format, args...)})
	}
}

func (c *archiveCheck) note(kind, entry, format string, args ...any) {
	if len(c.report.Notes) < mostFindings {
		c.report.Notes = append(c.report.Notes, Finding{kind, entry, fmt.Sprintf(format, args...)})
	}
}

const dataFolder = "data/"

// checkEvents reads every line for itself, then holds the lines against each other.
func (c *archiveCheck) checkEvents() {
	c.mended, c.scans = map[events.ID]bool{}, map[events.ID]*events.SheetAttachedData{}
	in, err := c.bag.Open(dataFolder + archiveEvents)
	if err != nil {
		c.problem("missing", "", "%s cannot be read: the archive has no entries", archiveEvents)
		return
	}
	defer in.Close()
	r := bufio.NewReaderSize(in, events.MaxLine+2)
	for n := 1; ; n++ {
		text, err := r.ReadSlice('\n')
		if errors.Is(err, bufio.ErrBufferFull) {
			c.problem("line", "", "%s, line %d is longer than an entry can be; nothing after it was read", archiveEvents, n)
			break
		}
		if text = []byte(strings.TrimRight(string(text), "\r\n")); len(text) > 0 {
			c.readLine(n, text)
		}
		if err != nil {
			if !errors.Is(err, io.EOF) {
				c.problem("unreadable", "", "%s breaks off at line %d", archiveEvents, n)
			}
			break
		}
	}
	c.report.Entries = len(c.nodes)
	c.linkLines()
	c.checkHeads()
}

func (c *archiveCheck) readLine(n int, text []byte) {
	l, err := events.ParseLine(text)
	switch {
	case err != nil:
		c.problem("line", "", "%s, line %d: %s", archiveEvents, n, err)
		return
	case !l.Whole:
		c.problem("line", "", "%s, line %d has no hash", archiveEvents, n)
		return
	}
	if first, ok := c.byHash[l.Hash]; ok {
		c.problem("doubled-entry", l.ID.String(), "%s, line %d holds the same entry as line %d", archiveEvents, n, c.nodes[first].line)
		return
	}
	switch d := l.Data.(type) {
	case *events.EntryAmendedData:
		c.mends(d.Entry)
	case *events.EntryVoidedData:
		c.mends(d.Entry)
		c.mends(d.Batch)
	case *events.SheetAttachedData:
		c.scans[l.ID] = d
	}
	c.byHash[l.Hash] = len(c.nodes)
	c.nodes = append(c.nodes, archiveNode{l.ID, l.Book, l.Batch, l.BookSeq, n, l.Hash, l.Prev, l.At, l.RecordedAt.UnixMicro()})
}

func (c *archiveCheck) mends(id string) {
	if x, err := events.ParseID(id); err == nil {
		c.mended[x] = true
	}
}

// linkLines holds each entry against the one that it follows.
func (c *archiveCheck) linkLines() {
	child := map[events.Hash]int{} // of the same chain, by the hash of the entry before
	for i := range c.nodes {
		n := &c.nodes[i]
		bad := func(kind, format string, args ...any) {
			c.problem(kind, n.id.String(), "%s, line %d: %s", archiveEvents, n.line, fmt.Sprintf(format, args...))
		}
		if n.prev == (events.Hash{}) {
			if n.seq != 1 {
				bad("chain", "it begins a chain, but is number %d of it", n.seq)
			}
			continue
		}
		at, known := c.byHash[n.prev]
		if !known {
			bad("chain", "the entry before it is not there (number %d of chain %s…)", n.seq-1, n.book.String()[:8])
			continue
		}
		before := &c.nodes[at]
		if at > i {
			bad("order", "it stands before the entry that it follows, in line %d", before.line)
		}
		if before.book != n.book {
			if n.seq != 1 {
				bad("chain", "it goes on another chain in its middle")
			}
			continue
		}
		if n.seq != before.seq+1 {
			bad("chain", "it is number %d after number %d", n.seq, before.seq)
		}
		if n.recorded < before.recorded {
			bad("chain", "it was recorded before the entry that it follows")
		}
		if twin, ok := child[n.prev]; ok {
			c.note("fork", n.id.String(), "lines %d and %d both follow line %d: two copies of the book went on", c.nodes[twin].line, n.line, before.line)
		} else {
			child[n.prev] = i
		}
	}
	for i := range c.nodes {
		n := &c.nodes[i]
		if _, followed := child[n.hash]; !followed {
			c.report.Heads = append(c.report.Heads, ChainHead{n.book, n.seq, n.hash})
		}
	}
}

// checkHeads holds the ends of the chains against those noted beside the payload: a chain cannot see that its own end
// was cut off.
func (c *archiveCheck) checkHeads() {
	noted := 0
	for _, l := range c.info {
		switch l.Name {
		case labelEntries:
			if want, err := strconv.Atoi(l.Value); err != nil || want != len(c.nodes) {
				c.problem("count", "", "%s holds %d entries, and %s says %s", archiveEvents, len(c.nodes), "bag-info.txt", l.Value)
			}
		case labelHead:
			noted++
			if !slices.ContainsFunc(c.report.Heads, func(h ChainHead) bool { return h.String() == l.Value }) {
				c.problem("cut-off", "", "no chain ends with %s, as bag-info.txt says: entries are missing at its end, or were added", l.Value)
			}
		}
	}
	if noted == 0 {
		c.problem("cut-off", "", "bag-info.txt names no chain's end, so that a cut-off end would not show")
	} else if noted < len(c.report.Heads) {
		c.problem("chain", "", "there are %d chains' ends, and bag-info.txt names %d", len(c.report.Heads), noted)
	}
	if c.o.Head != (events.Hash{}) {
		if _, ok := c.byHash[c.o.Head]; !ok {
			c.problem("cut-off", "", "the entry with the hash %s is not in the archive", c.o.Head)
		}
	}
}

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
