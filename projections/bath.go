package projections

import (
	"maps"
	"slices"
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
}

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
	return b
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
	again   bool // the sheet lay in this bath before
}

// bathCourse is what became of a bath: the stays in it, and its ways into the tray and out of it, in their order.
type bathCourse struct {
	uses  []bathUse
	turns []trayTurn
}

// trayTurn is a bath's way into the tray or out of it.
type trayTurn struct {
	at   time.Time
	tray bool
	rank int // at one instant: a session's end comes last
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
	c := &bathCourse{uses, turns}
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
	late := func(t time.Time) bool { return t.After(at) || before && !t.Before(at) }
	var areaSinceTest float64
	a.CapacityM2, a.LifeH = b.capacity(at)
	testedUsed, testedAt := b.testedUse(at)
	for i := range course.uses {
		u := &course.uses[i]
		if late(u.entry.At) {
			break
		}
		if u.sheet == without && without != "" {
			continue
		}
		a.LastUse = u.entry.At
		if u.again {
			continue
		}
		a.AreaM2 += u.area
		if u.entry.At.After(testedAt) {
			areaSinceTest += u.area
		}
	}
	if a.Used, err = calc.UsedShare(a.AreaM2, a.CapacityM2); err != nil {
		return a, err
	}
	if !testedAt.IsZero() {
		since, err := calc.UsedShare(areaSinceTest, a.CapacityM2)
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
	first := orF(b.Mixed.CapacityM2, defCap)
	capacityM2, lifeH = first, orF(b.Mixed.LifeH, defLife)
	for _, e := range b.Entries {
		d, ok := e.Data.(*events.BathToppedData)
		if !ok || e.At.After(at) {
			continue
		}
		switch {
		case d.CapacityM2 != nil:
			capacityM2 += *d.CapacityM2
		case d.With != "water": // fresh bath, or replenisher of the same strength, brings its share
			capacityM2 += first * d.VolumeML / b.Mixed.VolumeML
		}
	}
	return capacityM2, lifeH
}

// testedUse is the used share that the latest clearing-time test of a fixer tells, and when. Half the nominal time is
// the clearing time of the fresh bath.
func (b *Bath) testedUse(at time.Time) (float64, time.Time) {
	var used float64
	var when time.Time
	for _, e := range b.Entries {
		d, ok := e.Data.(*events.BathTestedData)
		if !ok || d.Test != "clearing-time" || e.At.After(at) || b.Mixed.TimeS == nil {
			continue
		}
		if u, err := calc.FixerUsedFromClearing(d.Value, *b.Mixed.TimeS/2); err == nil {
			used, when = u, e.At
		}
	}
	return used, when
}

// TempAt is the bath's temperature at an instant: the latest test at or before it, else its nominal one. measured says
// which.
func (b *Bath) TempAt(at time.Time) (tempC float64, measured bool) {
	tempC = orF(b.Mixed.TempC, 20)
	for _, e := range b.Entries {
		if d, ok := e.Data.(*events.BathTestedData); ok && d.Test == "temperature" && !e.At.After(at) {
			tempC, measured = d.Value, true
		}
	}
	return tempC, measured
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
			turns = append(turns, trayTurn{e.At, true, 0})
		case *events.BathMovedData:
			turns = append(turns, trayTurn{e.At, x.To == "tray", 1})
		case *events.BathDiscardedData:
			turns = append(turns, trayTurn{e.At, false, 3})
		}
	}
	for _, u := range uses {
		belongs(u.session)
		turns = append(turns, trayTurn{u.entry.At, true, 1})
	}
	for _, name := range order {
		s, err := quiet(d.Session(name))
		if err != nil {
			return nil, err
		}
		if s != nil && !s.ClosedAt.IsZero() && s.ClosedAt.After(b.At) {
			turns = append(turns, trayTurn{s.ClosedAt, false, 2})
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
	var since time.Time
	for _, t := range c.turns {
		if t.at.After(until) {
			break
		}
		if t.tray && !inTray {
			since = t.at
		}
		if !t.tray && inTray {
			hours += t.at.Sub(since).Hours()
		}
		inTray = t.tray
	}
	if inTray {
		hours += until.Sub(since).Hours()
	}
	return hours, inTray
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
