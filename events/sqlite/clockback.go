package sqlite

import (
	"database/sql"
	"errors"
	"time"

	"traybook/events"
)

// ClockSlack is how far the clocks of two machines, or one before and after it was set, may stand apart unremarked.
const ClockSlack = time.Minute

// ClockBack tells of something written while the clock stood before the last entry of the book's own chain. Which of
// the two clocks was wrong, the one of then or the one of now, the book cannot know.
type ClockBack struct {
	By         time.Duration // how far the clock stood before RecordedAt; more than ClockSlack
	RecordedAt time.Time     // of the last entry: what was written now is recorded at this moment, too
	Entry      events.ID     // the first entry that was recorded then
	Zone       string        // of that entry, "" for none
}

// ClockBack is that of the first write through this opening of the book that was moved up by more than ClockSlack; nil
// for none.
func (b *Book) ClockBack() *ClockBack { return b.clockBack }

// notBefore moves the moment at which e was recorded up to that of the entry it follows, where the clock stands before
// it, and notes it.
func (c *chains) notBefore(e *events.Entry, head Head) error {
	by := head.RecordedAt.Sub(e.RecordedAt)
	if by <= 0 {
		return nil
	}
	e.RecordedAt = head.RecordedAt.In(e.RecordedAt.Location())
	if c.clockBack != nil || by <= ClockSlack {
		return nil
	}
	first, err := c.firstRecorded(head.Chain, head.RecordedAt, true)
	if err != nil {
		return err
	}
	c.clockBack = &ClockBack{By: by, RecordedAt: head.RecordedAt, Entry: first.ID, Zone: first.Zone}
	return nil
}

// RecordedAhead is a run of entries at the end of a chain that were recorded after some moment.
type RecordedAhead struct {
	Chain int64
	Count int64        // entries
	First events.Entry // the first of them
	Until time.Time    // when the last of them was recorded
}

// RecordedAhead gives for each chain the entries that were recorded more than ClockSlack after now.
func (tx *Tx) RecordedAhead(now time.Time) ([]RecordedAhead, error) {
	heads, err := tx.chains.ends()
	if err != nil {
		return nil, err
	}
	from := now.Add(ClockSlack)
	var out []RecordedAhead
	for _, h := range heads {
		if !h.RecordedAt.After(from) {
			continue
		}
		first, err := tx.chains.firstRecorded(h.Chain, from.Add(time.Nanosecond), false)
		if err != nil {
			return nil, err
		}
		out = append(out, RecordedAhead{h.Chain, h.BookSeq - first.BookSeq + 1, first, h.RecordedAt})
	}
	return out, nil
}

// firstRecorded finds the first entry of a chain, whose end was recorded at from or later, that was; with parents also
// in what the chain grew from. Moments of recording never run back within a chain, so that few entries are read.
func (c *chains) firstRecorded(chain int64, from time.Time, parents bool) (events.Entry, error) {
	var found events.Entry
	most := c.heads[chain].BookSeq
	before := c.tail + 1 // entries of the chain stand below
	for {
		row := c.rows[chain]
		first, err := c.firstBetween(chain, row.first, before, func(e *events.Entry) bool {
			return e.BookSeq > most || !e.RecordedAt.Before(from)
		})
		if err != nil {
			return found, err
		}
		empty := row.first >= before // a chain that is being opened
		if !empty {
			if first == nil || first.BookSeq > most {
				return found, nil
			}
			found = *first
		}
		if !parents || row.parent == 0 || !empty && found.Seq != row.first {
			return found, nil
		}
		chain, most, before = row.parent, row.parentSeq, row.first
	}
}

// firstBetween finds by halving the first entry of a chain from place lo up to, not with, place hi that is late, where
// all that follow such a one are, too; nil for none.
func (c *chains) firstBetween(chain, lo, hi int64, late func(*events.Entry) bool) (*events.Entry, error) {
	var found *events.Entry
	for lo < hi {
		mid := lo + (hi-lo)/2
		e, err := scanEntry(c.file.QueryRow("SELECT "+entryColumns+" FROM entry e WHERE e.seq>=? AND e.seq<? AND e.chain=? ORDER BY e.seq LIMIT 1", mid, hi, chain))
		switch {
		case errors.Is(err, sql.ErrNoRows):
			hi = mid
		case err != nil:
			return nil, translate(err)
		case late(&e):
			found, hi = &e, mid
		default:
			lo = e.Seq + 1
		}
	}
	return found, nil
}
