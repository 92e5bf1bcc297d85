package snapshot

import (
	"sort"
	"time"

	"traybook/events"
)

// Timeline is how something stood after each change of it, in the order of the changes. Whoever asks for many moments
// finds each without going through all changes before it.
type Timeline[T any] []Change[T]

// Change is a value and the moment from which it holds.
type Change[T any] struct {
	At    time.Time
	Value T
}

// Then is how it stood at a moment, with the change that made it so; nil before the first.
func (l Timeline[T]) Then(at time.Time) *Change[T] {
	i := sort.Search(len(l), func(i int) bool { return l[i].At.After(at) })
	if i == 0 {
		return nil
	}
	return &l[i-1]
}

// upTo is how many entries, in their order, were done at a moment or before.
func upTo(entries []events.Entry, at time.Time) int {
	return sort.Search(len(entries), func(i int) bool { return entries[i].At.After(at) })
}

// Latest picks the last reading at or before an act that fits, out of lists each in its order. One before since is none.
func Latest(act events.Entry, since time.Time, fits func(*events.LightMeteredData) bool, lists ...[]events.Entry) *events.Entry {
	var out *events.Entry
	for _, list := range lists {
		for i := upTo(list, act.At) - 1; i >= 0 && !list[i].At.Before(since); i-- {
			r, ok := list[i].Data.(*events.LightMeteredData)
			if ok && fits(r) {
				if out == nil || events.Compare(list[i], *out) > 0 {
					out = &list[i]
				}
				break
			}
		}
	}
	return out
}

// ReadingsOf sorts readings by what they were taken on: the scene or a negative.
func ReadingsOf(entries []events.Entry) map[string][]events.Entry {
	out := map[string][]events.Entry{}
	for _, e := range entries {
		if r, ok := e.Data.(*events.LightMeteredData); ok {
			out[r.On] = append(out[r.On], e)
		}
	}
	return out
}
