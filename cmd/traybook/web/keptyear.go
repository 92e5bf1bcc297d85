package web

import (
	"fmt"
	"sync"
	"time"

	"traybook/projections/report"
)

// keptYears are the years that were told since the book changed last. A year goes through all of its pictures and finds why
// the failed ones failed, which takes about a second for thousands of them; a look through several years, or back from a
// picture, asks for the same ones again.
type keptYears struct {
	mu    sync.Mutex
	state string // of the book
	years map[int]keptYear
}

type keptYear struct {
	now  time.Time
	told report.YearReport // shared, not to be changed
}

// mostYears is how many years are kept.
const mostYears = 8

// of gives a year, told anew where the book changed.
func (k *keptYears) of(v *View, year int) (report.YearReport, error) {
	state, err := v.state()
	if err != nil {
		return report.YearReport{}, err
	}
	k.mu.Lock()
	kept, known := k.years[year]
	known = known && k.state == state && !v.Now.Before(kept.now)
	k.mu.Unlock()
	if known {
		return kept.told, nil
	}
	told, err := report.Year(v.Snap, year, report.Causes(v.Snap))
	if err != nil {
		return told, err
	}
	ahead, err := v.Snap.Ahead()
	if err != nil || ahead { // what lies ahead comes to its time though nothing is written
		return told, err
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.state != state || len(k.years) >= mostYears {
		k.state, k.years = state, map[int]keptYear{}
	}
	k.years[year] = keptYear{v.Now, told}
	return told, nil
}

// state tells one state of the book from any other: how many entries it holds, and the hashes at the ends of its chains,
// which are of all before them.
func (v *View) state() (string, error) {
	n, err := v.Tx.LastSeq()
	if err != nil {
		return "", err
	}
	heads, err := v.Tx.Heads()
	out := fmt.Sprint(n)
	for _, h := range heads {
		out += " " + h.Hash.String()
	}
	return out, err
}
