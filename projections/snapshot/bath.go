package snapshot

import (
	"maps"
	"slices"
	"sort"
	"time"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/wording"
)

// Bath is one mixing, from its own entries.
type Bath struct {
	Entity      events.Entity
	Mixed       *events.BathMixedData
	At          time.Time
	Discarded   *events.BathDiscardedData
	DiscardedAt time.Time
	Entries     []events.Entry

	replenished Timeline[fill]
	temps       Timeline[float64] // °C, as tested
	cleared     Timeline[float64] // used share, by the clearing time
}

// fill is what stands in the tray: its volume, and what that can treat.
type fill struct{ volumeML, capacityM2 float64 }

func foldBath(t events.Entity, entries []events.Entry) *Bath {
	b := &Bath{Entity: t, Entries: entries}
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
		first = ValueOr(b.Mixed.CapacityM2, defCap)
	}
	is := fill{b.Mixed.VolumeML, first}
	for _, e := range b.Entries {
		switch d := e.Data.(type) {
		case *events.BathReplenishedData:
			is.volumeML += d.VolumeML
			switch {
			case d.CapacityM2 != nil:
				is.capacityM2 += *d.CapacityM2
			case d.With != "water": // fresh bath, or replenisher of the same strength, brings its share
				is.capacityM2 += first * d.VolumeML / b.Mixed.VolumeML
			}
			b.replenished = append(b.replenished, Change[fill]{e.At, is})
		case *events.BathTestedData:
			if d.Test == "temperature" {
				b.temps = append(b.temps, Change[float64]{e.At, d.Value})
			}
			if d.Test == "clearing-time" && b.Mixed.TimeS != nil {
				if u, err := calc.FixerUsedFromClearing(d.Value, *b.Mixed.TimeS/calc.FixPerClearing); err == nil {
					b.cleared = append(b.cleared, Change[float64]{e.At, u})
				}
			}
		}
	}
}

// Bath folds one bath by name.
func (snap *Snapshot) Bath(name string) (*Bath, error) {
	if b, ok := snap.baths[name]; ok {
		if !snap.comesToMore(b.Entity.ID) {
			return b, nil
		}
		snap.letGo(b.Entity)
	}
	t, err := snap.Entity(events.Bath, name)
	if err != nil {
		return nil, err
	}
	entries, err := snap.openStream(t)
	if err != nil {
		return nil, err
	}
	b := foldBath(t, entries)
	snap.baths[name] = b
	return b, nil
}

// bathUse is one stay of a sheet or strip in a bath.
type bathUse struct {
	Entry   events.Entry
	Sheet   string
	area    float64 // square metres of the sheet
	session string
	tempC   *float64
	Again   bool    // the sheet lay in this bath before
	sum     float64 // square metres until this stay, it included, each sheet once
	other   int     // place of the last stay of another sheet, -1 for none
	warmth  int     // place of the last stay with a temperature, it included, -1 for none
}

// bathCourse is what became of a bath: the stays in it, and its ways into the tray and out of it, in their order.
type bathCourse struct {
	Uses  []bathUse
	turns []trayTurn
	first map[string]int // the first stay of each sheet in it

	sessions    map[string]bool // that it was mixed or used in
	open        []string        // those of them that were not closed yet
	came, later []events.Entry  // stays that are not taken in yet, and those after the snapshot's moment
}

// trayTurn is a bath's way into the tray or out of it.
type trayTurn struct {
	at    time.Time
	tray  bool
	rank  int       // at one instant: a session's end comes last
	hours float64   // in the open tray until then
	since time.Time // in the tray: since when
}

// CourseOf reads what became of a bath. A follower takes in what comes to it.
func (snap *Snapshot) CourseOf(b *Bath) (*bathCourse, error) {
	if c, ok := snap.courses[b.Entity.ID]; ok {
		goesOn, err := snap.goOn(c)
		if goesOn || err != nil {
			return c, err
		}
	}
	raw, err := snap.R.Entries(snap.counted(events.Query{Bath: b.Entity.ID}))
	if err != nil {
		return nil, err
	}
	c := &bathCourse{first: map[string]int{}, sessions: map[string]bool{}}
	entries, later := snap.foldUntil(raw, events.Fold)
	c.later = later
	uses, err := snap.usesOf(entries)
	if err != nil {
		return nil, err
	}
	var turns []trayTurn
	for _, e := range b.Entries {
		if carried := events.CarriedOf(e.Data); carried != nil {
			c.belongs(carried.Session)
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
	turns = append(turns, c.turnsOf(uses)...)
	ends, err := snap.endsOf(c, b)
	if err != nil {
		return nil, err
	}
	c.addUses(uses)
	c.addTurns(append(turns, ends...))
	snap.courses[b.Entity.ID] = c
	return c, nil
}

// goOn takes in what came to a course; goesOn is false where it comes before what is in already.
func (snap *Snapshot) goOn(c *bathCourse) (goesOn bool, err error) {
	if snap.follows == nil {
		return true, nil
	}
	var uses []bathUse
	if c.take(snap.AsOf); len(c.came) > 0 {
		if uses, err = snap.usesOf(c.came); err != nil {
			return false, err
		}
		c.came = nil
	}
	turns := c.turnsOf(uses)
	ends, err := snap.endsOf(c, nil)
	if err != nil {
		return false, err
	}
	turns = append(turns, ends...)
	if n := len(c.turns); n > 0 && slices.ContainsFunc(turns, func(t trayTurn) bool { return inTurn(c.turns[n-1], t) > 0 }) {
		return false, nil
	}
	c.addUses(uses)
	c.addTurns(turns)
	return true, nil
}

// take moves the stays that have come to their time to those that came.
func (c *bathCourse) take(now time.Time) {
	n := upTo(c.later, now)
	c.came, c.later = append(c.came, c.later[:n]...), c.later[n:]
}

// follow keeps a stay that was just written.
func (c *bathCourse) follow(now time.Time, e events.Entry) {
	c.take(now)
	c.came = append(c.came, e)
}

// belongs says that a bath was mixed or used in a session, whose end takes it out of the tray.
func (c *bathCourse) belongs(session string) {
	if session != "" && !c.sessions[session] {
		c.sessions[session] = true
		c.open = append(c.open, session)
	}
}

// usesOf makes stays in a bath of their entries, in their order.
func (snap *Snapshot) usesOf(entries []events.Entry) ([]bathUse, error) {
	out := make([]bathUse, 0, len(entries))
	for _, e := range entries {
		u := bathUse{Entry: e, Sheet: events.SheetOf(e.Data)}
		if c := events.CarriedOf(e.Data); c != nil {
			u.session = c.Session
		}
		switch x := e.Data.(type) {
		case *events.SheetDevelopedData:
			u.tempC = x.TempC
		case *events.SheetFixedData:
			u.tempC = x.TempC
		case *events.StripReadData:
			u.Sheet = x.Strip
			u.tempC = x.TempC
		}
		out = append(out, u)
	}
	return out, snap.measure(out)
}

// addUses counts the area on from stay to stay.
func (c *bathCourse) addUses(uses []bathUse) {
	sum := 0.0
	if n := len(c.Uses); n > 0 {
		sum = c.Uses[n-1].sum
	}
	for _, u := range uses {
		i := len(c.Uses)
		if _, lay := c.first[u.Sheet]; lay && u.Sheet != "" {
			u.Again = true
		} else {
			sum += u.area
			c.first[u.Sheet] = i
		}
		u.sum, u.other, u.warmth = sum, i-1, -1
		if i > 0 && c.Uses[i-1].Sheet == u.Sheet {
			u.other = c.Uses[i-1].other
		}
		switch {
		case u.tempC != nil:
			u.warmth = i
		case i > 0:
			u.warmth = c.Uses[i-1].warmth
		}
		c.Uses = append(c.Uses, u)
	}
}

// addTurns counts the hours on from turn to turn.
func (c *bathCourse) addTurns(turns []trayTurn) {
	slices.SortStableFunc(turns, inTurn)
	var last trayTurn
	if n := len(c.turns); n > 0 {
		last = c.turns[n-1]
	}
	for _, t := range turns {
		t.hours, t.since = last.hours, last.since
		if t.tray && !last.tray {
			t.since = t.at
		}
		if !t.tray && last.tray {
			t.hours += t.at.Sub(last.since).Hours()
		}
		c.turns, last = append(c.turns, t), t
	}
}

// inTurn is the order of a bath's ways.
func inTurn(x, y trayTurn) int {
	if c := x.at.Compare(y.at); c != 0 {
		return c
	}
	return x.rank - y.rank
}

// until is how many stays began at a moment or before; with before, those before it.
func (c *bathCourse) until(at time.Time, before bool) int {
	return sort.Search(len(c.Uses), func(i int) bool {
		t := c.Uses[i].Entry.At
		return t.After(at) || before && !t.Before(at)
	})
}

// area is what was treated in the stays from one place to another, each sheet once, one sheet left out ("" = none).
func (c *bathCourse) area(from, to int, without string) float64 {
	if to <= from {
		return 0
	}
	area := c.Uses[to-1].sum
	if from > 0 {
		area -= c.Uses[from-1].sum
	}
	if i, lay := c.first[without]; lay && without != "" && i >= from && i < to {
		area -= c.Uses[i].area
	}
	return max(0, area)
}

// lastUse is the last stay before a place, one sheet left out; nil for none.
func (c *bathCourse) lastUse(to int, without string) *bathUse {
	i := to - 1
	if i >= 0 && without != "" && c.Uses[i].Sheet == without {
		i = c.Uses[i].other
	}
	if i < 0 {
		return nil
	}
	return &c.Uses[i]
}

// measure fills in the areas of the sheets and strips that lay in a bath, parts counted, from the kept views of their
// streams and their boxes. The views are asked for together: a bath serves many sheets.
func (snap *Snapshot) measure(uses []bathUse) error {
	streams := make([]events.Entity, len(uses))
	unread := map[int64]events.Entity{}
	for i, u := range uses {
		name := u.Sheet
		if pic, _, ok := events.SplitSheet(name); ok {
			name = pic
		}
		t, ok, err := snap.R.Entity(name)
		if err != nil {
			return err
		}
		if _, read := snap.cuts[t.ID]; ok && !read {
			unread[t.ID] = t
		}
		streams[i] = t
	}
	views, err := snap.R.ViewsOf(slices.Collect(maps.Values(unread)))
	if err != nil {
		return err
	}
	for id := range unread {
		snap.cuts[id] = nil // read, and without a view
	}
	for _, v := range views {
		if v, err = snap.viewThen(v); err != nil {
			return err
		}
		snap.cuts[v.Entity.ID] = cutsIn(v)
	}
	for i := range uses {
		_, part, _ := events.SplitSheet(uses[i].Sheet)
		c, ok := snap.cuts[streams[i].ID][part]
		if !ok || c.box == "" {
			continue
		}
		b, err := wording.IgnoreMissing(snap.Box(c.box))
		if err != nil {
			return err
		}
		if b != nil { // a box that is not there has no area; verify tells of it
			uses[i].area = b.Area() * c.share
		}
	}
	return nil
}

// viewThen is a kept view of a picture as it was at the snapshot's moment, where acts came later: an exposure that was taken
// back since, or said to be half a sheet, was none of that then.
func (snap *Snapshot) viewThen(v events.View) (events.View, error) {
	if v.Entity.Kind != events.Picture || snap.mended {
		return v, nil
	}
	ahead, err := snap.AheadOf(v.Entity)
	if err != nil || !ahead {
		return v, err
	}
	p := snap.pictures[v.Entity.ID]
	if p == nil { // not laid open for it: a bath serves many pictures
		entries, err := snap.Stream(v.Entity)
		if err != nil {
			return v, err
		}
		p = foldPicture(v.Entity, entries)
	}
	return foldPictureView(events.View{Entity: v.Entity}, p)
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
	Temp       BathTemp
}

// BathTemp is the temperature of a bath at a moment.
type BathTemp struct {
	C        float64   // as last measured; the nominal one where it was not, or where that is doubtful by now
	Measured time.Time // by a test or beside an act in the bath; zero for never
	Doubtful bool      // measured longer ago than calc.BathTempHoldsH
}

// Known says that the temperature was measured, and lately.
func (t BathTemp) Known() bool { return !t.Measured.IsZero() && !t.Doubtful }

// AgeOf calculates a bath at a moment, leaving out what came at or after it when before is true (for the sheet that goes
// in), and, in any case, the stays of one sheet ("" = none).
func (snap *Snapshot) AgeOf(b *Bath, at time.Time, before bool, without string) (BathAge, error) {
	var a BathAge
	if b.Mixed == nil {
		return a, nil
	}
	course, err := snap.CourseOf(b)
	if err != nil {
		return a, err
	}
	a.CapacityM2, a.LifeH = b.capacity(at)
	testedUsed, testedAt := b.testedUse(at)
	stays := course.until(at, before)
	a.AreaM2 = course.area(0, stays, without)
	if last := course.lastUse(stays, without); last != nil {
		a.LastUse = last.Entry.At
	}
	a.Temp = b.tempAt(at, course, stays)
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
	a.Expired = b.Mixed.Expires != "" && at.After(EndOfDate(b.Mixed.Expires, at.Location()))
	if a.State != calc.BathExhausted && (a.Expired || b.Mixed.BottleDays != nil && a.BottleDays > *b.Mixed.BottleDays) {
		a.State = calc.BathPastLife
	}
	if !b.DiscardedAt.IsZero() && !b.DiscardedAt.After(at) {
		a.State = Discarded
	}
	return a, nil
}

// Discarded is the state of a discarded bath.
const Discarded = "discarded"

// capacity is what the bath can treat, replenishments counted, and its life in the tray.
func (b *Bath) capacity(at time.Time) (capacityM2, lifeH float64) {
	defCap, defLife, err := calc.BathDefaults(b.Mixed.Role, b.Mixed.VolumeML)
	if err != nil {
		return 0, 0
	}
	capacityM2, lifeH = ValueOr(b.Mixed.CapacityM2, defCap), ValueOr(b.Mixed.LifeH, defLife)
	if c := b.replenished.Then(at); c != nil {
		capacityM2 = c.Value.capacityM2
	}
	return capacityM2, lifeH
}

// VolumeAt is what stands in the tray, replenishments counted.
func (b *Bath) VolumeAt(at time.Time) float64 {
	if c := b.replenished.Then(at); c != nil {
		return c.Value.volumeML
	}
	return b.Mixed.VolumeML
}

// testedUse is the used share that the latest clearing-time test of a fixer tells, and when. Half the nominal time is
// the clearing time of the fresh bath.
func (b *Bath) testedUse(at time.Time) (float64, time.Time) {
	if c := b.cleared.Then(at); c != nil {
		return c.Value, c.At
	}
	return 0, time.Time{}
}

// tempAt is the bath's temperature at an instant: as the latest test at or before it or the latest of so many stays says,
// while that holds; else its nominal one.
func (b *Bath) tempAt(at time.Time, course *bathCourse, stays int) BathTemp {
	t := BathTemp{C: ValueOr(b.Mixed.TempC, calc.BathTempC)}
	measured := t.C
	if c := b.temps.Then(at); c != nil {
		measured, t.Measured = c.Value, c.At
	}
	if stays > 0 {
		if i := course.Uses[stays-1].warmth; i >= 0 && !course.Uses[i].Entry.At.Before(t.Measured) {
			measured, t.Measured = *course.Uses[i].tempC, course.Uses[i].Entry.At
		}
	}
	if t.Doubtful = !t.Measured.IsZero() && at.Sub(t.Measured).Hours() > calc.BathTempHoldsH; !t.Doubtful {
		t.C = measured
	}
	return t
}

// turnsOf gives the ways into the open tray that stays are. Mixed means in the tray; a move, or the end of a session that
// the bath was used or mixed in, takes it out; a move to the tray, or a use, brings it back.
func (c *bathCourse) turnsOf(uses []bathUse) []trayTurn {
	var turns []trayTurn
	for _, u := range uses {
		c.belongs(u.session)
		turns = append(turns, trayTurn{at: u.Entry.At, tray: true, rank: 1})
	}
	return turns
}

// endsOf gives the ways out of the tray that the ends of its sessions are, those that are not in yet. One that ended
// before the bath was mixed takes nothing out.
func (snap *Snapshot) endsOf(c *bathCourse, b *Bath) ([]trayTurn, error) {
	var turns []trayTurn
	var open []string
	for _, name := range c.open {
		s, err := wording.IgnoreMissing(snap.Session(name))
		if err != nil {
			return nil, err
		}
		switch {
		case s == nil:
		case s.ClosedAt.IsZero():
			open = append(open, name)
		case b == nil || s.ClosedAt.After(b.At):
			turns = append(turns, trayTurn{at: s.ClosedAt, rank: 2})
		}
	}
	c.open = open
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

// EndOfDate is the last instant of a date, month or year as written.
func EndOfDate(s string, loc *time.Location) time.Time {
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
