package bench

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"traybook/cmd/traybook/bench/timer"
	"traybook/events"
	"traybook/projections/wording"
)

// Hand is where a hand is in the run, as a page keeps it between two requests: what a Machine knows beyond the book, and by
// what it finds again that the book has not gone on elsewhere. What is asked at the moment is no part of it: the presses
// that led to a question are made again, since none of them wrote anything.
type Hand struct {
	Step    Step     `json:"step"`
	Picture string   `json:"picture,omitempty"`
	Sheet   string   `json:"sheet,omitempty"`
	Again   string   `json:"again,omitempty"`
	Asks    asking   `json:"asks,omitempty"`
	F       float64  `json:"f,omitempty"`
	FarMM   float64  `json:"far,omitempty"`
	Aside   []string `json:"aside,omitempty"`
	Skipped string   `json:"skipped,omitempty"`
	Why     bool     `json:"why,omitempty"`

	Runs    bool   `json:"runs,omitempty"`     // its clock runs
	CountIn bool   `json:"count_in,omitempty"` // and began with a count-in
	Points  string `json:"points,omitempty"`   // what the picture wants next
	Name    string `json:"name,omitempty"`     // the sheet that the act will be about
	Where   string `json:"where,omitempty"`    // its box or bath
	Reading string `json:"reading,omitempty"`  // the reading that an exposure goes by
}

// Press is one press of a page: a key, or a line, or an aperture.
type Press struct {
	Key  rune
	Line string
	F    float64
	At   time.Time
	// Began is when the page saw the clock pressed that it shows; zero where it shows none.
	Began time.Time
}

// MomentOf is a time of day as the machine takes it from a page, which counts by the time of day alone.
func MomentOf(t time.Time) timer.Moment {
	return timer.Moment{Run: t.Sub(time.Unix(0, 0)), Wall: t.Round(0)}
}

// points says what a picture wants next, "" where nothing.
func (s State) points(picture string) string {
	p := s.picture(picture)
	if p == nil {
		return ""
	}
	at, ok := p.next()
	if !ok {
		return ""
	}
	return fmt.Sprint(verbs[at.Step], " ", at.Sheet)
}

// Hand is where the hand is.
func (m *Machine) Hand() Hand {
	h := Hand{Step: m.place.Step, Picture: m.place.Picture, Sheet: m.place.Sheet, Again: m.place.Again, Asks: m.asks, F: m.f, FarMM: m.far,
		Skipped: m.skipped, Why: m.why, Runs: m.clock != nil, Points: m.stand.points(m.place.Picture), Name: m.expects(), Where: m.call.Where, Reading: m.call.Reading}
	h.CountIn = m.clock != nil && m.clock.data().CountInS != nil
	for name := range m.aside {
		h.Aside = append(h.Aside, name)
	}
	slices.Sort(h.Aside)
	return h
}

// handKey tells hands apart.
func handKey(h Hand, open bool) string {
	b, err := json.Marshal(h)
	if err != nil {
		return ""
	}
	return fmt.Sprint(open, string(b))
}

// expects is the sheet that the act will be about; of an exposure or a copy that runs the one that it will be given.
func (m *Machine) expects() string {
	if m.clock != nil && m.clock.Exposes() {
		call, err := m.door.Call(m.place, m.call.F, m.far)
		if err != nil {
			return ""
		}
		return call.Sheet
	}
	if m.place.Step == AtWash {
		return strings.Join(m.washing(), ", ")
	}
	return m.call.Sheet
}

// Open says that something is asked which the presses since led to, and which the book and the hand do not tell.
func (m *Machine) Open() bool {
	if m.sure != nil {
		return true
	}
	if m.timer == nil || m.timer.Taken() != nil {
		return m.timer != nil
	}
	c, isCap := m.timer.(*timer.Cap)
	return m.timer.Asked() || isCap && c.Corrected()
}

// NoStep is told of a hand that names no step of the run.
var NoStep = wording.Refuses("no-step", "this page names no step of the run", "open it again")

// Resume takes a hand up. moved says in one line that the book has gone on elsewhere, so that the hand is where the book
// points now.
func Resume(door Door, h Hand, at timer.Moment) (m *Machine, moved string, err error) {
	if verbs[h.Step] == "" || h.Asks < forNothing || h.Asks > forEnd {
		return nil, "", NoStep.Refuse()
	}
	m = &Machine{door: door, aside: map[string]bool{}, timers: map[string]HandTimer{}, greeted: true, f: h.F, far: h.FarMM, skipped: h.Skipped, why: h.Why}
	for _, name := range h.Aside {
		m.aside[name] = true
	}
	if m.stand, err = door.State(); err != nil {
		return nil, "", err
	}
	place := Place{h.Step, h.Picture, h.Sheet, h.Again}
	clock := m.stand.clock(place)
	if h.Step == AtCall || h.Step == AtCopyCall {
		clock = nil
	}
	what := strings.Join(nonEmpty(verbs[h.Step]+" "+h.Name, h.Where), " · ")
	switch {
	case h.Runs && clock == nil:
		moved = "ended elsewhere: " + what
	case m.stand.points(h.Picture) != h.Points:
		moved = "the book has gone on elsewhere: " + what
	case !h.Runs && clock != nil:
		moved = "begun elsewhere: " + clock.Text(at.Wall)
		err = m.enter(place, at)
		return m, moved, err
	}
	if moved != "" {
		m.told = []string{moved}
		return m, moved, m.goOn(at)
	}
	if err = m.enter(place, at); err != nil {
		return nil, "", err
	}
	if h.Name != m.expects() || h.Where != m.call.Where || !h.Runs && h.Reading != m.call.Reading {
		moved = "the book has gone on elsewhere: " + what + " is " + m.title() + " now"
		m.told = []string{moved}
		return m, moved, nil
	}
	switch m.asks = h.Asks; h.Asks {
	case forTemperature:
		m.timer = nil
	case forEnd:
		if m.clock == nil {
			m.asks = forNothing
		}
	}
	return m, "", nil
}

func nonEmpty(list ...string) []string {
	return slices.DeleteFunc(list, func(s string) bool { return strings.TrimSpace(s) == "" })
}

// Outcome is what a press came to. Of Moved and Refused at most one says something: then nothing was written.
type Outcome struct {
	Machine *Machine
	Wrote   bool
	Moved   string // the book has gone on elsewhere, and the press does not fit
	Refused string // the book does not take it
}

// Take takes one press of a hand. before are the presses that led to what is asked; none of them may write. An error is one
// of the book: nothing was taken, and the same press may be made again.
func Take(door Door, h Hand, before []Press, p Press) (Outcome, error) {
	g := &guard{Door: door, shut: true}
	m, moved, err := Resume(g, h, MomentOf(p.At))
	if err != nil || moved != "" {
		return Outcome{Machine: m, Moved: moved}, err
	}
	if m.clock != nil && !p.Began.IsZero() {
		if off := m.clock.Entries[0].At.Sub(p.Began); off.Abs() > sameClock {
			moved = "another clock runs there now: " + m.clock.Text(p.At)
			m.told = []string{moved}
			return Outcome{Machine: m, Moved: moved}, nil
		}
	}
	for _, b := range before {
		if err := m.take(b); err != nil {
			return Outcome{}, err
		}
	}
	if len(before) > 0 && !m.Open() || g.tried {
		moved = "the book has gone on elsewhere: what was asked is not asked any more"
		if m, _, err = Resume(door, h, MomentOf(p.At)); err == nil {
			m.told = []string{moved}
		}
		return Outcome{Machine: m, Moved: moved}, err
	}
	g.shut = false
	if err := m.take(p); err != nil {
		return Outcome{}, err
	}
	if g.failed == nil {
		return Outcome{Machine: m, Wrote: g.wrote}, nil
	}
	if !wording.Refused(g.failed) {
		return Outcome{}, g.failed
	}
	out := Outcome{Refused: door.Explain(g.failed)}
	if out.Machine, _, err = Resume(door, h, MomentOf(p.At)); err == nil {
		out.Machine.alarm = out.Refused
	}
	return out, err
}

// sameClock is how far the page's clock and the book's may tell one press apart.
const sameClock = 2 * time.Second

// take takes one press.
func (m *Machine) take(p Press) error {
	at := MomentOf(p.At)
	switch {
	case p.Line != "":
		if m.sure != nil || m.asks == forNothing {
			return nil
		}
		m.greeted, m.alarm, m.stamped, m.typed = true, "", false, p.Line
		return m.typedIn(at)
	case p.F > 0:
		if m.sure != nil || m.place.Step != AtCall && m.place.Step != AtCopyCall || m.asks != forNothing {
			return nil
		}
		m.alarm, m.f = "", p.F
		return m.calculate()
	}
	_, err := m.Key(p.Key, at)
	return err
}

var errShut = errors.New("nothing is written while a hand is taken up")

// guard notes what is written through a door, and lets nothing through while it is shut.
type guard struct {
	Door
	shut, tried, wrote bool
	failed             error
}

// writes runs what writes.
func (g *guard) writes(f func() error) error {
	if g.shut {
		g.tried = true
		return errShut
	}
	err := f()
	g.wrote = g.wrote || err == nil
	if g.failed == nil {
		g.failed = err
	}
	return err
}

// Write writes acts.
func (g *guard) Write(acts ...Act) (said []string, err error) {
	err = g.writes(func() error { said, err = g.Door.Write(acts...); return err })
	return said, err
}

// Start writes clocks.
func (g *guard) Start(at time.Time, clocks ...*events.ClockStartedData) (out []events.Entry, err error) {
	err = g.writes(func() error { out, err = g.Door.Start(at, clocks...); return err })
	return out, err
}

// Forget takes clocks back.
func (g *guard) Forget(clocks ...events.Entry) error {
	return g.writes(func() error { return g.Door.Forget(clocks...) })
}

// TakeBack takes back what was done.
func (g *guard) TakeBack(d Done) error {
	return g.writes(func() error { return g.Door.TakeBack(d) })
}

// Look takes a hand up to look. What it was at may have been done elsewhere meanwhile: then it goes on where the book points,
// and says so. before are the presses that led to what is asked.
func Look(door Door, h Hand, before []Press, at timer.Moment) (*Machine, error) {
	g := &guard{Door: door, shut: true}
	m, moved, err := Resume(g, h, at)
	if err != nil || moved != "" {
		return m, err
	}
	for _, b := range before {
		if err := m.take(b); err != nil {
			return nil, err
		}
	}
	return m, nil
}

// GoOn is a hand that goes on to where the book points, after a press of it that the book has taken already.
func GoOn(door Door, h Hand, at timer.Moment) (*Machine, error) {
	m := &Machine{door: door, aside: map[string]bool{}, timers: map[string]HandTimer{}, greeted: true, far: h.FarMM, skipped: h.Skipped, why: h.Why}
	for _, name := range h.Aside {
		m.aside[name] = true
	}
	return m, m.look(at)
}

// Alarm is what went wrong with the last press, "" for nothing.
func (m *Machine) Alarm() string { return m.alarm }
