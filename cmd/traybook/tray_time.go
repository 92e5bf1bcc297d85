package main

import (
	"time"

	"traybook/cmd/traybook/screen"
	"traybook/projections"
)

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

// startOfTray is when the sheet went into the developer. A tray is written down when it is done, so it began its own
// length ago, but not before the sheet was exposed; with --at it began then.
func (d *desk) startOfTray(t *traySteps) (time.Time, error) {
	if d.c.IsSet("at") {
		return d.at, nil
	}
	total := t.develop.TimeS + t.fix.TimeS
	if t.rinse.TimeS != nil {
		total += *t.rinse.TimeS
	}
	start := d.at.Add(-seconds(total))
	_, s, err := projections.NewDesk(d.tx, time.Time{}).SheetByName(t.develop.Sheet)
	if err != nil {
		return start, err
	}
	// Neither before the exposure or what was done with the sheet since, nor before the developer was mixed.
	for _, e := range s.Entries {
		if e.At.After(start) && !e.At.After(d.at) {
			start = e.At
		}
	}
	b, err := d.everything().Bath(t.develop.Bath)
	if err == nil && b.At.After(start) && !b.At.After(d.at) {
		start = b.At
	}
	return start, err
}

func warn(s *screen.Screen, warnings []string) {
	for _, w := range warnings {
		s.Hang(screen.Warn, "  ! ", w)
	}
}
