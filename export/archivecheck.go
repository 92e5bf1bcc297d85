package export

import (
	"bufio"
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
	// Head must be the hash of an entry of the archive, nil for none.
	Head *events.Hash
}

// ErrNoArchive says that a folder or file is there, and nothing in it is of an archive. An archive that has lost a part
// still shows by the others that it is one.
var ErrNoArchive = errors.New("no archive")

// CheckArchive checks an archive from the outside in: the bag, the chains of its entries, its tables and scans against
// the entries, and the copy of the book against them.
//
// Errors: path cannot be opened; it is no archive (ErrNoArchive). Damage is no error but a problem in the report.
func CheckArchive(path string, o ArchiveCheck) (ArchiveReport, error) {
	b, err := bag.Open(path)
	if err != nil {
		return ArchiveReport{}, err
	}
	defer b.Close()
	_, entries := b.Has(dataFolder + archiveEvents)
	_, copied := b.Has(dataFolder + archiveBook)
	if !b.Looks() && !entries && !copied {
		return ArchiveReport{}, ErrNoArchive
	}
	c := &archiveCheck{bag: b, o: o, byHash: map[events.Hash]int{}}
	found := b.Verify()
	c.report.Files, c.report.Bytes = found.Files, found.Bytes
	for _, p := range found.Problems {
		c.problem(string(p.Kind), "", "%s", p.String())
	}
	for _, n := range found.Notes {
		c.note(string(n.Kind), "", "%s", n.String())
	}
	if found.CutOff { // of what is gone, nothing more can be said than that it is
		return c.report, nil
	}
	c.info = found.Info
	c.scope = parseScope(found.Value(labelScope))
	c.report.Scope = c.scope.String()
	if c.asOf, err = time.Parse(time.RFC3339Nano, found.Value("As-Of")); err != nil {
		c.asOf = FarAhead
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
func parseScope(text string) Scope {
	if session, ok := strings.CutPrefix(text, "session "); ok {
		return Scope{Session: session}
	}
	if picture, ok := strings.CutPrefix(text, "picture "); ok {
		return Scope{Picture: picture}
	}
	if year, err := strconv.Atoi(text); err == nil && len(text) == 4 {
		return Scope{Year: year}
	}
	return Scope{}
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
	var unfit *events.UnfitError
	switch {
	case errors.As(err, &unfit):
		c.note("rule", l.ID.String(), "%s, line %d breaks a rule: %s; it is as it was written, and no book takes it in anew", archiveEvents, n, err)
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
	if c.o.Head != nil {
		if _, ok := c.byHash[*c.o.Head]; !ok {
			c.problem("cut-off", "", "the entry with the hash %s is not in the archive", c.o.Head)
		}
	}
}
