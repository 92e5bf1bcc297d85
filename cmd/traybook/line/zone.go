package line

import (
	"slices"
	"sort"
	"strings"
	"time"
)

// Zone returns the zone of a name as the time zone database has it, such as
// Europe/Oslo or UTC.
//
// Errors: an empty name, "Local", which means another zone on every machine, and
// a name that the database does not have.
func Zone(name string) (*time.Location, error) {
	const advice = "write a name such as Europe/Oslo, America/Halifax or UTC"
	if name == "" || strings.EqualFold(name, "local") {
		return nil, Refuse(advice, "zone %s: names no place", Quote(name))
	}
	loc, err := time.LoadLocation(name)
	if err != nil {
		return nil, Refuse(advice, "zone %s: not in the time zone database", Quote(name))
	}
	return loc, nil
}

const slack = 26 * time.Hour // no offset is larger, nor any step of a clock

// shown is what a clock in the zone shows at a moment, written in UTC.
func shown(at time.Time, zone *time.Location) time.Time {
	_, offset := at.In(zone).Zone()
	return at.UTC().Add(time.Duration(offset) * time.Second)
}

// step is shorter than any time for which a zone has kept one offset. Changes are looked for step by step, not by
// time.Time.ZoneBounds: past the changes that a zone lists one by one, from 2038 on, that ends the last day of a leap year
// before it has begun.
const step = 15 * time.Minute

// candidates returns the moments, oldest first, at which a clock in the zone
// shows the wall time: one as a rule, none where the clock is put forward over
// it, two where the clock is put back over it. wall is written in UTC.
func candidates(wall time.Time, zone *time.Location) []time.Time {
	var found []time.Time
	for at := wall.Add(-slack); !at.After(wall.Add(slack)); at = at.Add(step) {
		t := wall.Add(at.Sub(shown(at, zone))).In(zone)
		if shown(t, zone).Equal(wall) && !slices.ContainsFunc(found, t.Equal) {
			found = append(found, t)
		}
	}
	slices.SortFunc(found, time.Time.Compare)
	return found
}

// resolve turns a wall time into the one moment it means in the zone.
func resolve(text string, wall time.Time, zone *time.Location) (time.Time, error) {
	found := candidates(wall, zone)
	if len(found) == 1 {
		return found[0], nil
	}
	shown := wall.Format("2006-01-02 15:04")
	if len(found) == 0 {
		before, after := aroundGap(wall, zone)
		return time.Time{}, Refuse("write "+before+" or "+after,
			"time %s: in %s the clock is put forward over %s", Quote(text), zone, shown)
	}
	const layout = "2006-01-02T15:04:05-07:00"
	return time.Time{}, Refuse(
		"write "+found[0].Format(layout)+" for the first or "+found[len(found)-1].Format(layout)+" for the second",
		"time %s: in %s the clock is put back and shows %s twice", Quote(text), zone, shown)
}

// aroundGap returns the last minute before and the first moment after the gap in
// which the wall time lies.
func aroundGap(wall time.Time, zone *time.Location) (before, after string) {
	const layout = "2006-01-02T15:04"
	at := gapEnd(wall, zone)
	return at.Add(-time.Minute).In(zone).Format(layout), at.Format(layout)
}

// gapEnd returns the moment at which the clock is put forward over the wall time.
func gapEnd(wall time.Time, zone *time.Location) time.Time {
	at := wall.Add(-slack)
	for !shown(at, zone).After(wall) {
		at = at.Add(step)
	}
	begins := at.Add(-step)
	seconds := sort.Search(int(step/time.Second), func(n int) bool { return shown(begins.Add(time.Duration(n)*time.Second), zone).After(wall) })
	return begins.Add(time.Duration(seconds) * time.Second).In(zone)
}

// firstMoment returns the first moment of a day in the zone. Where clocks are put
// forward at midnight, the day begins at one.
func firstMoment(y int, m time.Month, d int, zone *time.Location) time.Time {
	wall := time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
	if found := candidates(wall, zone); len(found) > 0 {
		return found[0]
	}
	return gapEnd(wall, zone)
}
