package projections

import (
	"maps"
	"slices"
	"sort"
	"time"

	"traybook/calc"
	"traybook/events"
)

// Bath is one mixing, from its own entries.
type Bath struct {
	Thing       events.Thing
	Mixed       *events.BathMixedData
	At          time.Time
	Discarded   *events.BathDiscardedData
	DiscardedAt time.Time
	Entries     []events.Entry

	topped  timeline[fill]
	temps   timeline[float64] // °C, as tested
	cleared timeline[float64] // used share, by the clearing time
}

// fill is what stands in the tray: its volume, and what that can treat.
type fill struct{ volumeML, capacityM2 float64 }

func foldBath(t events.Thing, entries []events.Entry) *Bath {
	b := &Bath{Thing: t, Entries: entries}
	for _, e := range entries {
		switch d := e.Data.(type) {
		case *events.BathMixedData:
			if b.Mixed == nil {
				b.Mixed, b.At = d, e.At
			}
		case *events.BathDiscardedData:
			b.Discarded, b.DiscardedAt = d, e.At
		}
	}
	if b.Mixed != nil {
		b.follow()
	}
	return b
}

// follow goes through what was added to a mixed bath and tested on it.
func (b *Bath) follow() {
	defCap, _, err := calc.BathDefaults(b.Mixed.Role, b.Mixed.VolumeML)
	first := 0.0
	if err == nil {
		first = orF(b.Mixed.CapacityM2, defCap)
	}
	is := fill{b.Mixed.VolumeML, first}
	for _, e := range b.Entries {
		switch d := e.Data.(type) {
		case *events.BathToppedData:
			is.volumeML += d.VolumeML
			switch {
			case d.CapacityM2 != nil:
				is.capacityM2 += *d.CapacityM2
			case d.With != "water": // fresh bath, or replenisher of the same strength, brings its share
				is.capacityM2 += first * d.VolumeML / b.Mixed.VolumeML
			}
			b.topped = append(b.topped, change[fill]{e.At, is})
		case *events.BathTestedData:
			if d.Test == "temperature" {
				b.temps = append(b.temps, change[float64]{e.At, d.Value})
			}
			if d.Test == "clearing-time" && b.Mixed.TimeS != nil {
				if u, err := calc.FixerUsedFromClearing(d.Value, *b.Mixed.TimeS/2); err == nil {
					b.cleared = append(b.cleared, change[float64]{e.At, u})
				}
			}
		}
	}
}

// Bath folds one bath by name.
func (d *Desk) Bath(name string) (*Bath, error) {
	if b, ok := d.baths[name]; ok {
		return b, nil
	}
	t, err := d.thing(events.Bath, name)
	if err != nil {
		return nil, err
	}
	entries, err := d.Home(t)
	if err != nil {
		return nil, err
	}
	b := foldBath(t, entries)
	d.baths[name] = b
	return b, nil
}

// bathUse is one stay of a sheet or strip in a bath.
type bathUse struct {
	entry   events.Entry
	sheet   string
	area    float64 // square metres of the sheet
	session string
	tempC   *float64
	again   bool    // the sheet lay in this bath before
	sum     float64 // square metres until this stay, it included, each sheet once
	other   int     // place of the last stay of another sheet, -1 for none
}

// bathCourse is what became of a bath: the stays in it, and its ways into the tray and out of it, in their order.
type bathCourse struct {
	uses  []bathUse
	turns []trayTurn
	first map[string]int // the first stay of each sheet in it
}

// trayTurn is a bath's way into the tray or out of it.
type trayTurn struct {
	at    time.Time
	tray  bool
	rank  int       // at one instant: a session's end comes last
	hours float64   // in the open tray until then
	since time.Time // in the tray: since when
}

// courseOf reads what became of a bath.
func (d *Desk) courseOf(b *Bath) (*bathCourse, error) {
	if c, ok := d.courses[b.Thing.ID]; ok {
		return c, nil
	}
	uses, err := d.usesOf(b)
	if err != nil {
		return nil, err
	}
	turns, err := d.trayTurns(b, uses)
	if err != nil {
		return nil, err
	}
	c := &bathCourse{uses: uses, turns: turns}
	c.addUp()
	d.courses[b.Thing.ID] = c
	return c, nil
}

// usesOf lists the stays in a bath in their order.
func (d *Desk) usesOf(b *Bath) ([]bathUse, error) {
	entries, err := d.entries(events.Query{Bath: b.Thing.ID})
	if err != nil {
		return nil, err
	}
	out := make([]bathUse, 0, len(entries))
	seen := map[string]bool{}
	for _, e := range entries {
		u := bathUse{entry: e, sheet: events.SheetOf(e.Data)}
		if c := events.CarriedOf(e.Data); c != nil {
			u.session = c.Session
		}
		switch x := e.Data.(type) {
		case *events.SheetDevelopedData:
			u.tempC = x.TempC
		case *events.SheetFixedData:
			u.tempC = x.TempC
		case *events.StripReadData:
			u.sheet = x.Strip
			u.tempC = x.TempC
		}
		u.again = u.sheet != "" && seen[u.sheet]
		seen[u.sheet] = true
		out = append(out, u)
	}
	return out, d.measure(out)
}

// addUp counts the area from stay to stay, and the hours from turn to turn.
func (c *bathCourse) addUp() {
	c.first = make(map[string]int, len(c.uses))
	sum := 0.0
	for i := range c.uses {
		u := &c.uses[i]
		if !u.again {
			sum += u.area
			c.first[u.sheet] = i
		}
		u.sum, u.other = sum, i-1
		if i > 0 && c.uses[i-1].sheet == u.sheet {
			u.other = c.uses[i-1].other
		}
	}
	hours, inTray, since := 0.0, false, time.Time{}
	for i := range c.turns {
		t := &c.turns[i]
		if t.tray && !inTray {
			since = t.at
		}
		if !t.tray && inTray {
			hours += t.at.Sub(since).Hours()
		}
		inTray = t.tray
		t.hours, t.since = hours, since
	}
}

// until is how many stays began at a moment or before; with before, those before it.
func (c *bathCourse) until(at time.Time, before bool) int {
	return sort.Search(len(c.uses), func(i int) bool {
		t := c.uses[i].entry.At
		return t.After(at) || before && !t.Before(at)
	})
}

// area is what was treated in the stays from one place to another, each sheet once, one sheet left out ("" = none).
func (c *bathCourse) area(from, to int, without string) float64 {
	if to <= from {
		return 0
	}
	area := c.uses[to-1].sum
	if from > 0 {
		area -= c.uses[from-1].sum
	}
	if i, lay := c.first[without]; lay && without != "" && i >= from && i < to {
		area -= c.uses[i].area
	}
	return max(0, area)
}

// lastUse is the last stay before a place, one sheet left out; nil for none.
func (c *bathCourse) lastUse(to int, without string) *bathUse {
	i := to - 1
	if i >= 0 && without != "" && c.uses[i].sheet == without {
		i = c.uses[i].other
	}
	if i < 0 {
		return nil
	}
	return &c.uses[i]
}

// measure fills in the areas of the sheets and strips that lay in a bath, parts counted, from the kept views of their
// homes and their boxes. The views are asked for together: a bath serves many sheets.
func (d *Desk) measure(uses []bathUse) error {
	homes := make([]events.Thing, len(uses))
	unread := map[int64]events.Thing{}
	for i, u := range uses {
		name := u.sheet
		if pic, _, ok := events.SplitSheet(name); ok {
			name = pic
		}
		t, ok, err := d.R.Thing(name)
		if err != nil {
			return err
		}
		if _, read := d.cuts[t.ID]; ok && !read {
			unread[t.ID] = t
		}
		homes[i] = t
	}
	views, err := d.R.ViewsOf(slices.Collect(maps.Values(unread)))
	if err != nil {
		return err
	}
	for id := range unread {
		d.cuts[id] = nil // read, and without a view
	}
	for _, v := range views {
		if v, err = d.viewThen(v); err != nil {
			return err
		}
		d.cuts[v.Thing.ID] = cutsIn(v)
	}
	for i := range uses {
		_, part, _ := events.SplitSheet(uses[i].sheet)
		c, ok := d.cuts[homes[i].ID][part]
		if !ok || c.box == "" {
			continue
		}
		b, err := quiet(d.Box(c.box))
		if err != nil {
			return err
		}
		if b != nil { // a box that is not there has no area; verify tells of it
			uses[i].area = b.Area() * c.share
		}
	}
	return nil
}

// viewThen is a kept view of a picture as it was at the desk's moment, where acts came later: an exposure that was taken
// back since, or said to be half a sheet, was none of that then.
func (d *Desk) viewThen(v events.View) (events.View, error) {
	if v.Thing.Kind != events.Picture || d.mended {
		return v, nil
	}
	ahead, err := d.Ahead()
	if err != nil || !ahead {
		return v, err
	}
	p := d.pictures[v.Thing.ID]
	if p == nil { // not laid open for it: a bath serves many pictures
		entries, err := d.Home(v.Thing)
		if err != nil {
			return v, err
		}
		p = foldPicture(v.Thing, entries)
	}
	return foldPictureView(events.View{Thing: v.Thing}, p)
}

// BathAge is how old a bath is at a moment.
type BathAge struct {
	TrayH      float64 // hours in the open tray
	BottleDays float64 // days since it was mixed, the tray left out, as long as there was a bath
	InTray     bool
	CapacityM2 float64 // 0 = no limit known
	LifeH      float64 // in the open tray; 0 = no limit known
	AreaM2     float64 // treated, each sheet once
	Used       float64 // share of the capacity
	State      string
	LastUse    time.Time
	Expired    bool
}

// AgeOf reckons a bath at a moment, leaving out what came at or after it when before is true (for the sheet that goes
// in), and, in any case, the stays of one sheet ("" = none).
func (d *Desk) AgeOf(b *Bath, at time.Time, before bool, without string) (BathAge, error) {
	var a BathAge
	if b.Mixed == nil {
		return a, nil
	}
	course, err := d.courseOf(b)
	if err != nil {
		return a, err
	}
	a.CapacityM2, a.LifeH = b.capacity(at)
	testedUsed, testedAt := b.testedUse(at)
	stays := course.until(at, before)
	a.AreaM2 = course.area(0, stays, without)
	if last := course.lastUse(stays, without); last != nil {
		a.LastUse = last.entry.At
	}
	if a.Used, err = calc.UsedShare(a.AreaM2, a.CapacityM2); err != nil {
		return a, err
	}
	if !testedAt.IsZero() {
		since, err := calc.UsedShare(course.area(course.until(testedAt, false), stays, without), a.CapacityM2)
		if err != nil {
			return a, err
		}
		a.Used = testedUsed + since
	}
	a.TrayH, a.InTray = course.trayHours(at)
	until := at
	if !b.DiscardedAt.IsZero() && b.DiscardedAt.Before(at) {
		until = b.DiscardedAt
	}
	a.BottleDays = max(0, until.Sub(b.At).Hours()-a.TrayH) / 24
	a.State = calc.BathState(a.Used, a.TrayH, a.LifeH)
	a.Expired = b.Mixed.Expires != "" && at.After(endOfDate(b.Mixed.Expires, at.Location()))
	if a.State != calc.BathSpent && (a.Expired || b.Mixed.BottleDays != nil && a.BottleDays > *b.Mixed.BottleDays) {
		a.State = calc.BathOld
	}
	if !b.DiscardedAt.IsZero() && !b.DiscardedAt.After(at) {
		a.State = Discarded
	}
	return a, nil
}

// Discarded is the state of a bath that is no more.
const Discarded = "discarded"

// capacity is what the bath can treat, toppings counted, and its life in the tray.
func (b *Bath) capacity(at time.Time) (capacityM2, lifeH float64) {
	defCap, defLife, err := calc.BathDefaults(b.Mixed.Role, b.Mixed.VolumeML)
	if err != nil {
		return 0, 0
	}
	capacityM2, lifeH = orF(b.Mixed.CapacityM2, defCap), orF(b.Mixed.LifeH, defLife)
	if c := b.topped.then(at); c != nil {
		capacityM2 = c.is.capacityM2
	}
	return capacityM2, lifeH
}

// volumeAt is what stands in the tray, toppings counted.
func (b *Bath) volumeAt(at time.Time) float64 {
	if c := b.topped.then(at); c != nil {
		return c.is.volumeML
	}
	return b.Mixed.VolumeML
}

// testedUse is the used share that the latest clearing-time test of a fixer tells, and when. Half the nominal time is
// the clearing time of the fresh bath.
func (b *Bath) testedUse(at time.Time) (float64, time.Time) {
	if c := b.cleared.then(at); c != nil {
		return c.is, c.at
	}
	return 0, time.Time{}
}

// TempAt is the bath's temperature at an instant: the latest test at or before it, else its nominal one. measured says
// which.
func (b *Bath) TempAt(at time.Time) (tempC float64, measured bool) {
	if c := b.temps.then(at); c != nil {
		return c.is, true
	}
	return orF(b.Mixed.TempC, 20), false
}

// trayTurns lists a bath's ways into the open tray and out. Mixed means in the tray; a move, or the end of a session that
// the bath was used or mixed in, takes it out; a move to the tray, or a use, brings it back.
func (d *Desk) trayTurns(b *Bath, uses []bathUse) ([]trayTurn, error) {
	var turns []trayTurn
	sessions := map[string]bool{}
	var order []string
	belongs := func(s string) {
		if s != "" && !sessions[s] {
			sessions[s] = true
			order = append(order, s)
		}
	}
	for _, e := range b.Entries {
		if c := events.CarriedOf(e.Data); c != nil {
			belongs(c.Session)
		}
		switch x := e.Data.(type) {
		case *events.BathMixedData:
			turns = append(turns, trayTurn{at: e.At, tray: true})
		case *events.BathMovedData:
			turns = append(turns, trayTurn{at: e.At, tray: x.To == "tray", rank: 1})
		case *events.BathDiscardedData:
			turns = append(turns, trayTurn{at: e.At, rank: 3})
		}
	}
	for _, u := range uses {
		belongs(u.session)
		turns = append(turns, trayTurn{at: u.entry.At, tray: true, rank: 1})
	}
	for _, name := range order {
		s, err := quiet(d.Session(name))
		if err != nil {
			return nil, err
		}
		if s != nil && !s.ClosedAt.IsZero() && s.ClosedAt.After(b.At) {
			turns = append(turns, trayTurn{at: s.ClosedAt, rank: 2})
		}
	}
	slices.SortStableFunc(turns, func(x, y trayTurn) int {
		if c := x.at.Compare(y.at); c != 0 {
			return c
		}
		return x.rank - y.rank
	})
	return turns, nil
}

// trayHours adds up the hours in the open tray until a moment.
func (c *bathCourse) trayHours(until time.Time) (hours float64, inTray bool) {
	i := sort.Search(len(c.turns), func(i int) bool { return c.turns[i].at.After(until) })
	if i == 0 {
		return 0, false
	}
	t := c.turns[i-1]
	if t.tray {
		return t.hours + until.Sub(t.since).Hours(), true
	}
	return t.hours, false
}

// endOfDate is the last instant of a date, month or year as written.
func endOfDate(s string, loc *time.Location) time.Time {
	t, err := time.ParseInLocation("2006-01-02"[:len(s)], s, loc)
	if err != nil {
		return time.Time{}
	}
	switch len(s) {
	case 4:
		return t.AddDate(1, 0, 0).Add(-1)
	case 7:
		return t.AddDate(0, 1, 0).Add(-1)
	}
	return t.AddDate(0, 0, 1).Add(-1)
}
