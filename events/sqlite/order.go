package sqlite

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"traybook/events"
)

// A page of the file whose rows stand out of order sends a search back to where it has been. Whoever asks for the rows
// behind the last one he saw would be given the same ones for ever, so every walk holds that it gets on.

// inOrder is a walk through the entries by their numbers in the file.
type inOrder struct{ last int64 }

// beforeAll is smaller than the number of any row.
const beforeAll = int64(math.MinInt64)

// next takes the number of the next row.
//
// Errors: it is none behind the last (events.ErrDamaged).
func (o *inOrder) next(seq int64) error {
	if seq <= o.last {
		return fmt.Errorf("%w: %s%s", events.ErrDamaged, misplaced(seq, o.last), verifyTells)
	}
	o.last = seq
	return nil
}

// misplaced says where a row stands that should have come before.
func misplaced(seq, last int64) string {
	if last == 0 {
		return fmt.Sprintf("an entry has the number %d, where the first must have 1", seq)
	}
	return fmt.Sprintf("entry number %d stands behind number %d, so the order of the entries is lost", seq, last)
}

// fallingRanks holds that views come by falling rank, none above the largest that was asked for.
//
// Errors: they do not (events.ErrDamaged).
func fallingRanks(views []events.View, most int64) error {
	if most == 0 {
		most = math.MaxInt64
	}
	for _, v := range views {
		if v.Rank > most {
			return fmt.Errorf("%w: the kept views are out of order; `traybook verify` tells where, `traybook rebuild` makes them anew", events.ErrDamaged)
		}
		most = v.Rank
	}
	return nil
}

// chainsInOrder holds that the chains are numbered from 1 on and that each grew from an earlier one, so that going from
// a chain to what it grew from comes to an end.
//
// Errors: they are not (events.ErrDamaged).
func chainsInOrder(rows map[int64]*chainRow) error {
	for _, id := range slices.Sorted(maps.Keys(rows)) {
		if text := rows[id].misgrown(id, len(rows)); text != "" {
			return fmt.Errorf("%w: %s%s", events.ErrDamaged, text, verifyTells)
		}
	}
	return nil
}

// misgrown says what is wrong with the place of a chain among n chains, "" for nothing.
func (r *chainRow) misgrown(id int64, n int) string {
	switch {
	case id < 1 || id > int64(n):
		return fmt.Sprintf("the list of chains holds a number %d, where there are %d", id, n)
	case r.parent < 0 || r.parent >= id:
		return fmt.Sprintf("chain %d is said to have grown from chain %d, which did not come before it", id, r.parent)
	}
	return ""
}
