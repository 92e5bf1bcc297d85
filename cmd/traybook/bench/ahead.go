package bench

import (
	"slices"
	"time"

	"traybook/cmd/traybook/bench/timer"
)

// Dream is a book in which presses are tried out: what they write is taken back.
type Dream struct {
	Door  Door
	Apart func(f func() error) error // takes back what f wrote
	Stand func(now time.Time)        // sets the clock
	// Draw keeps the view of a machine and gives its number.
	Draw func(m *Machine, now time.Time) (int, error)
	// Lead keeps where a press leads from a view.
	Lead func(from int, e Edge)

	drawn   map[string]int // views by their hands
	stepped map[int]bool   // whose presses were tried
}

// Edge is where a press leads, and whether it writes. Of a clock that runs it may depend on how long: from FromS until ToS
// after it began, seconds; nil for no bound.
type Edge struct {
	Key        rune
	FromS, ToS *float64
	To         int
	Writes     bool
}

// How far the dream goes: far enough for a sheet to be exposed, developed, rinsed, fixed and judged.
const (
	dreamSteps = 14
	dreamViews = 32
)

// beside are the keys that are tried beside the one of the large button, each one step far.
var beside = map[Step][]rune{AtJudge: {'r', '+', '-'}, AtRinse: {'s'}, AtWash: {'s'}}

// stand is where the dream has come to.
type stand struct {
	m      *Machine
	hand   Hand
	before []Press
	node   int
	now    time.Time
}

// Ahead walks what lies straight ahead of a hand: the views that follow when the large button is pressed again and again, as
// the book would answer, each at its time; and one step beside them.
func (d *Dream) Ahead(h Hand, before []Press, now time.Time) error {
	d.drawn, d.stepped = map[string]int{}, map[int]bool{}
	d.Stand(now)
	m, err := Look(d.Door, h, before, MomentOf(now))
	if err != nil {
		return err
	}
	at := stand{m: m, hand: m.Hand(), before: before, now: now}
	if !m.Open() {
		at.before = nil
	}
	if at.node, err = d.draw(m, at.hand, now); err != nil {
		return err
	}
	for range dreamSteps {
		next, err := d.step(at)
		if err != nil || next == nil {
			return err
		}
		at = *next
	}
	return nil
}

// draw draws a view, once for each hand.
func (d *Dream) draw(m *Machine, h Hand, now time.Time) (int, error) {
	key := handKey(h, m.Open())
	if node, ok := d.drawn[key]; ok {
		return node, nil
	}
	node, err := d.Draw(m, now)
	if err == nil {
		d.drawn[key] = node
	}
	return node, err
}

// try makes one press of a hand taken up anew, and draws what it leads to: the node is −1 where it comes to nothing.
func (d *Dream) try(at stand, key rune, now time.Time) (next stand, wrote bool, err error) {
	d.Stand(now)
	p := Press{Key: key, At: now}
	out, err := Take(d.Door, at.hand, at.before, p)
	if err != nil || out.Moved != "" || out.Refused != "" {
		return stand{node: -1}, false, err
	}
	next, err = d.led(at, out.Machine, p)
	return next, out.Wrote, err
}

// goOn makes one press of the machine itself.
func (d *Dream) goOn(at stand, key rune, now time.Time) (next stand, wrote bool, err error) {
	d.Stand(now)
	p := Press{Key: key, At: now}
	g := &guard{Door: d.Door}
	at.m.door = g
	if err := at.m.take(p); err != nil || g.failed != nil {
		return stand{node: -1}, false, err
	}
	next, err = d.led(at, at.m, p)
	return next, g.wrote, err
}

// led is where a press led.
func (d *Dream) led(at stand, m *Machine, p Press) (next stand, err error) {
	if m.alarm != "" {
		return stand{node: -1}, nil
	}
	m.told, m.stamped = nil, false // what was written is told with its own time
	next = stand{m: m, hand: m.Hand(), now: p.At}
	if m.Open() {
		next.before = append(slices.Clone(at.before), p)
	}
	next.node, err = d.draw(m, next.hand, p.At)
	return next, err
}

// step tries the presses at one stand, and goes on with that of the large button. nil is the end.
func (d *Dream) step(at stand) (*stand, error) {
	v := at.m.View(MomentOf(at.now))
	if len(v.Choices) == 0 || d.stepped[at.node] {
		return nil, nil
	}
	d.stepped[at.node] = true
	if v.Clock != nil && !at.m.Open() {
		return d.ending(at, *v.Clock)
	}
	first := v.Choices[0].Key
	if v.Wants != "" && first != ' ' {
		return nil, nil // what is typed is not known beforehand
	}
	for _, c := range v.Choices[1:] {
		if c.Key == 'm' {
			d.Lead(at.node, Edge{Key: 'm', To: at.node, Writes: true})
		}
		if c.Key == first || !slices.Contains(beside[at.hand.Step], c.Key) && !(at.m.Open() && (c.Key == 'y' || c.Key == 'n')) || len(d.drawn) >= dreamViews {
			continue
		}
		err := d.Apart(func() error {
			next, wrote, err := d.try(at, c.Key, at.now.Add(time.Second))
			if err == nil && next.node >= 0 {
				d.Lead(at.node, Edge{Key: c.Key, To: next.node, Writes: wrote})
			}
			return err
		})
		if err != nil {
			return nil, err
		}
	}
	if len(d.drawn) >= dreamViews {
		return nil, nil
	}
	next, wrote, err := d.goOn(at, first, at.now.Add(time.Second))
	if err != nil || next.node < 0 {
		return nil, err
	}
	d.Lead(at.node, Edge{Key: first, To: next.node, Writes: wrote})
	return &next, nil
}

// ending tries how a clock that runs is ended, which depends on when.
func (d *Dream) ending(at stand, r Running) (*stand, error) {
	c := at.m.clock
	counts := c.data().CountInS != nil
	bounds := []float64{0, 1}
	if r.PlannedS > 0 {
		bounds = []float64{0, r.PlannedS / 3, r.PlannedS, 3 * r.PlannedS}
	}
	asked, measured, written := -1, -1, stand{node: -1}
	usual := r.Began.Add(timer.Duration(r.PlannedS) + 1100*time.Millisecond)
	if usual.Before(at.now) {
		usual = at.now
	}
	keys := []rune{' '}
	if counts {
		keys = append(keys, 't')
		if at.now.Before(r.Began) { // the cap may be lifted before it is counted in
			err := d.Apart(func() error {
				next, wrote, err := d.try(at, 't', at.now)
				if measured = next.node; err == nil && measured >= 0 {
					d.Lead(at.node, Edge{Key: 't', ToS: new(float64), To: next.node, Writes: wrote})
				}
				return err
			})
			if err != nil {
				return nil, err
			}
		}
	}
	// The questions first: what ends the clock changes the book for all that follows.
	type led struct {
		key      rune
		from, to *float64
		asked    bool
	}
	var all []led
	for _, key := range keys {
		for i, from := range bounds {
			x := led{key: key, from: &bounds[i]}
			mid := from + 1
			if i+1 < len(bounds) {
				x.to, mid = &bounds[i+1], (from+bounds[i+1])/2
			}
			t := c.Resume(MomentOf(r.Began))
			press, _ := PressOf(key)
			when := r.Began.Add(timer.Duration(mid))
			t.Press(press, MomentOf(when))
			if x.asked = t.Asked(); !x.asked && t.Taken() == nil {
				continue
			}
			all = append(all, x)
			if x.asked && asked < 0 {
				err := d.Apart(func() error {
					next, _, err := d.try(at, key, when)
					asked = next.node
					return err
				})
				if err != nil {
					return nil, err
				}
			}
		}
	}
	end := ' '
	var err error
	if written, _, err = d.goOn(at, end, usual); err != nil {
		return nil, err
	}
	if written.m != nil && written.m.Open() { // so late that it is asked about: said to be so
		if written, _, err = d.goOn(written, 'y', usual); err != nil {
			return nil, err
		}
	}
	for _, x := range all {
		to := written.node
		if x.asked {
			to = asked
		}
		if measured >= 0 && x.key == 't' && !x.asked && to >= 0 { // as it is measured after a count-in
			d.Lead(measured, Edge{Key: ' ', FromS: x.from, ToS: x.to, To: to, Writes: true})
		}
		if to >= 0 {
			d.Lead(at.node, Edge{Key: x.key, FromS: x.from, ToS: x.to, To: to, Writes: !x.asked})
		}
	}
	if asked >= 0 {
		d.Lead(asked, Edge{Key: ' ', To: at.node})
		if written.node >= 0 {
			d.Lead(asked, Edge{Key: 'y', To: written.node, Writes: true})
		}
	}
	if written.node < 0 || len(d.drawn) >= dreamViews {
		return nil, nil
	}
	return &written, nil
}
