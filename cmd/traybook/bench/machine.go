package bench

import (
	"fmt"
	"strings"
	"time"
	"unicode"

	"traybook/calc"
	"traybook/cmd/traybook/bench/timer"
	"traybook/events"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// Act is one act to write. A zero At is now.
type Act struct {
	At   time.Time
	Data events.Data
}

// Call is what a step calls for.
type Call struct {
	Sheet     string // that the act will be about
	Where     string // box or bath
	PlannedS  float64
	F         float64
	Told      string // what is called for, with the bounds within which it is known; "" where nothing tells it
	Breakdown []string
	About     []string // what else to know: temperature, state of the bath
	Warnings  []string
	Changes   int      // of water
	Reading   string   // that an exposure or a copy goes by
	TempC     *float64 // of the bath
}

// Door is the book as the run uses it. Every method looks at the book anew, and Write writes whole or not at all.
type Door interface {
	State() (State, error)
	// Call calculates what a step calls for at an aperture (0 = the usual) and a distance in millimetres (0 = far).
	Call(at Place, f, distanceMM float64) (Call, error)
	// Meter reads a reading as it was typed: of the scene, or of a picture's negative.
	Meter(typed, picture string) (Act, error)
	// Number reads a temperature in °C or a distance in mm as it was typed.
	Number(field, typed string) (float64, error)
	// Remark is what there is to remark of how a time was taken; "" for nothing.
	Remark(t timer.Taken, exposure bool) string
	Write(acts ...Act) (said []string, err error)
	// Try says what Write would warn of, and writes nothing.
	Try(acts ...Act) (warned []string, err error)
	// Start writes clocks that began at a moment, together, and gives their entries.
	Start(at time.Time, clocks ...*events.ClockStartedData) ([]events.Entry, error)
	// Forget takes clocks back: what they were started for never happened.
	Forget(clocks ...events.Entry) error
	// Ended reads when an act ended as it was typed: a time of day, or how long it lasted. It lies between the two.
	Ended(typed string, began, now time.Time) (time.Time, error)
	// Changed says whether the book was written to since State was asked last, by whomever.
	Changed() (bool, error)
	TakeBack(Done) error
	// Explain says an error in words for the one who works.
	Explain(error) string
}

// asking is what a line is being typed for.
type asking int

const (
	forNothing asking = iota
	forReading
	forDistance
	forTemperature
	forEnd
)

// Machine is the run. Feed it keys; it shows panels and writes through its door.
type Machine struct {
	door    Door
	stand   State
	place   Place
	call    Call
	timer   HandTimer
	clock   *Clock               // of the timer, where it runs
	timers  map[string]HandTimer // of the clocks that run, by the clock's name
	asks    asking
	typed   string
	f, far  float64 // aperture and distance for the next exposure, 0 = as usual
	why     bool    // the breakdown is shown
	told    []string
	alarm   string
	stamped bool // the moment was marked by the last key: told beside a running timer too
	sure    *question
	wanted  *Place // where a hand asked to go instead of where the book points
	skipped string // the sheet whose rinse is left out
	aside   map[string]bool
	greeted bool
	stuck   bool // what the step calls for could not be calculated
}

// question is something to be sure of: space, enter and y are yes, anything else no. One with answers takes one of them, and
// anything else for none.
type question struct {
	text    string
	yes     func(timer.Moment) error
	answers []answer
}

// answer is one of several that a question takes.
type answer struct {
	key   rune
	label string
	do    func(timer.Moment) error
}

// by is what a key answers, nil for nothing.
func (q *question) by(k rune) func(timer.Moment) error {
	if len(q.answers) == 0 && (k == ' ' || k == keyEnter || k == 'y' || k == 'Y') {
		return q.yes
	}
	for _, a := range q.answers {
		if unicode.ToLower(k) == a.key {
			return a.do
		}
	}
	return nil
}

// New begins a run at a moment: at the clock that runs, else where the book stands.
func New(door Door, at timer.Moment) (*Machine, error) {
	m := &Machine{door: door, aside: map[string]bool{}, timers: map[string]HandTimer{}}
	var err error
	if m.stand, err = door.State(); err != nil {
		return nil, err
	}
	if len(m.stand.Clocks) > 0 {
		m.enterClock(&m.stand.Clocks[0], at)
		return m, nil
	}
	return m, m.goOn(at)
}

// enterClock goes to a clock that runs.
func (m *Machine) enterClock(c *Clock, at timer.Moment) {
	m.place, m.asks, m.typed, m.sure, m.stuck = c.Place(), forNothing, "", nil, false
	x := c.data()
	m.call = Call{Sheet: x.Sheet, Where: events.PlacesOf(x).Bath, PlannedS: c.PlannedS(), F: snapshot.ValueOr(x.F, 0), Changes: c.changes()}
	if m.call.Where == "" {
		m.call.Where = x.Box
	}
	m.timer, m.clock = m.timerOf(c, at), c
}

// Refresh looks whether the book was written to by another: another device, another window, the command line. It goes on
// where the hand is, unless what it was at was done meanwhile.
func (m *Machine) Refresh(at timer.Moment) error {
	changed, err := m.door.Changed()
	if err != nil || !changed {
		return err
	}
	was := m.place
	before := m.stand
	if m.stand, err = m.door.State(); err != nil {
		return err
	}
	switch {
	case m.clock != nil && m.clock.Kept:
		if c := m.stand.clockByID(m.clock.ID()); c != nil {
			m.clock = c
			return nil
		}
		m.told = []string{"ended elsewhere: " + m.clock.Text(at.Wall)}
		return m.goOn(at)
	case m.timer != nil && m.timer.Running() || m.sure != nil || m.typed != "":
		return nil
	}
	if c := m.stand.clock(was); c != nil && was.Step != AtCall && was.Step != AtCopyCall {
		m.enterClock(c, at)
		return nil
	}
	p, old := m.stand.picture(was.Picture), before.picture(was.Picture)
	if was.Picture == "" || p == nil || old == nil {
		return nil
	}
	now, _ := p.next()
	if then, _ := old.next(); now != then {
		return m.goOn(at)
	}
	return nil
}

// look finds out from the book where the run stands.
func (m *Machine) look(now timer.Moment) error {
	stand, err := m.door.State()
	if err != nil {
		return err
	}
	m.stand = stand
	return m.goOn(now)
}

// goOn goes to where the book points.
func (m *Machine) goOn(now timer.Moment) error {
	for id := range m.timers {
		if m.stand.clockByID(id) == nil {
			delete(m.timers, id)
		}
	}
	at := m.stand.Next(m.aside)
	if at.Step == AtRinse && at.Sheet == m.skipped {
		at.Step = AtFix
	}
	if m.wanted != nil {
		at, m.wanted = *m.wanted, nil
	}
	return m.enter(at, now)
}

// enter goes to a step: to its clock, where that runs.
func (m *Machine) enter(at Place, now timer.Moment) error {
	m.place, m.call, m.timer, m.clock, m.asks, m.typed, m.sure, m.stuck = at, Call{}, nil, nil, forNothing, "", nil, false
	if c := m.stand.clock(at); c != nil && at.Step != AtCall && at.Step != AtCopyCall {
		m.enterClock(c, now)
		return nil
	}
	switch at.Step {
	case AtReading, AtNegative:
		m.asks = forReading
		return nil
	case AtJudge:
		m.call.Sheet = at.Sheet
		return nil
	}
	if at.Step == AtCall && m.f == 0 && m.stand.Reading != nil {
		m.f = m.stand.Reading.F
	}
	return m.calculate()
}

// calculate asks what the step calls for. A refusal is no end of the run: it stands on the panel.
func (m *Machine) calculate() error {
	call, err := m.door.Call(m.place, m.f, m.far)
	if m.stuck = err != nil; m.stuck {
		m.alarm = m.door.Explain(err)
		m.call = Call{Sheet: m.place.Sheet}
		return nil
	}
	m.call = call
	switch m.place.Step {
	case AtCap, AtCopyCap:
		m.timer = timer.NewCap(call.PlannedS)
	case AtDevelop, AtFix:
		m.timer = timer.NewBath(call.PlannedS, timer.RockS)
	case AtRinse:
		m.timer = timer.NewBath(call.PlannedS, 0)
	case AtWash:
		m.timer = timer.NewBath(call.PlannedS, call.PlannedS/float64(max(call.Changes, 1)))
	}
	return nil
}

// Beats are the beats that fell due: of the clock that is shown all, of the others those that call a hand.
func (m *Machine) Beats(at timer.Moment) []timer.Beat {
	var out []timer.Beat
	if m.timer != nil {
		out = m.timer.Beats(at)
	}
	for i := range m.stand.Clocks {
		c := &m.stand.Clocks[i]
		if m.clock != nil && c.ID() == m.clock.ID() {
			continue
		}
		for _, b := range m.timerOf(c, at).Beats(at) {
			if b == timer.End || b == timer.Over {
				out = append(out, b)
			}
		}
	}
	return out
}

// timerOf is the timer of a clock that runs, which goes on where it was.
func (m *Machine) timerOf(c *Clock, at timer.Moment) HandTimer {
	t := m.timers[c.ID()]
	if t == nil {
		t = c.Resume(at)
		m.timers[c.ID()] = t
	}
	return t
}

// Pause is how long nothing changes by itself; ok is false where it waits for a key.
func (m *Machine) Pause(at timer.Moment) (wait time.Duration, ok bool) {
	if m.timer != nil {
		wait, ok = m.timer.Next(at)
	}
	for i := range m.stand.Clocks { // told to the second
		if c := &m.stand.Clocks[i]; m.clock == nil || c.ID() != m.clock.ID() {
			if next := time.Second; !ok || next < wait {
				wait, ok = next, true
			}
		}
	}
	return wait, ok
}

// Typing says that a line is being typed, so that letters are letters.
func (m *Machine) Typing() bool { return m.typed != "" }

// Keys by their codes.
const (
	keyEnter     = '\r'
	keyBackspace = 127
)

// Key takes a key. left says that the run is over. Errors are those of a book that cannot be read.
func (m *Machine) Key(k rune, at timer.Moment) (left bool, err error) {
	m.greeted = true
	if m.sure != nil {
		q := m.sure
		m.sure = nil
		if do := q.by(k); do != nil {
			return false, do(at)
		}
		return false, nil
	}
	m.alarm, m.stamped = "", false
	if m.timer != nil && m.timer.Asked() {
		return k == 'q' || k == 'Q', m.timing(k, at)
	}
	if m.asks != forNothing && (m.typed != "" || !strings.ContainsRune("qQbBmMnNwWsSiI \r", k) && k != keyBackspace) {
		return false, m.typing(k, at)
	}
	switch k {
	case 'q', 'Q':
		return true, nil
	case 'm', 'M':
		return false, m.mark()
	case 'b', 'B', keyBackspace:
		return false, m.back(at)
	case 'i', 'I':
		m.why = !m.why
		return false, nil
	}
	switch {
	case m.asks == forEnd:
		return false, nil
	case m.timer != nil:
		return false, m.timing(k, at)
	case m.asks == forDistance || m.asks == forTemperature || m.stuck:
		if m.asks = forNothing; k == ' ' || k == keyEnter {
			return false, m.calculate()
		}
		return false, m.elsewhere(k, at)
	}
	switch m.place.Step {
	case AtReading, AtNegative:
		return false, m.withoutReading(k, at)
	case AtCall, AtCopyCall:
		return false, m.calling(k, at)
	case AtJudge:
		return false, m.judging(k, at)
	}
	return false, nil
}

// typing takes a key into the line that is being typed.
func (m *Machine) typing(k rune, at timer.Moment) error {
	switch {
	case k == keyEnter:
		return m.typedIn(at)
	case k == keyBackspace:
		r := []rune(m.typed)
		m.typed = string(r[:max(0, len(r)-1)])
	case k >= ' ' && k < 0x110000 && len(m.typed) < 40:
		m.typed += string(k)
	}
	return nil
}

// typedIn takes the line as it was typed.
func (m *Machine) typedIn(now timer.Moment) error {
	typed := strings.TrimSpace(m.typed)
	switch m.asks {
	case forReading:
		picture := ""
		if m.place.Step == AtNegative {
			picture = m.place.Picture
		}
		act, err := m.door.Meter(typed, picture)
		if err != nil {
			m.alarm = m.door.Explain(err)
			return nil
		}
		return m.read(act, now)
	case forDistance:
		mm, err := m.door.Number("subject_mm", typed)
		if err != nil {
			m.alarm = m.door.Explain(err)
			return nil
		}
		m.far = mm
	case forTemperature:
		c, err := m.door.Number("temp_c", typed)
		if err != nil {
			m.alarm = m.door.Explain(err)
			return nil
		}
		act := Act{Data: &events.BathTestedData{Bath: m.call.Where, Test: "temperature", Value: c, Unit: "C"}}
		return m.warned(now, act, func(now timer.Moment) error { return m.write(now, nil, act) })
	case forEnd:
		return m.endAt(typed, now)
	}
	m.asks, m.typed = forNothing, ""
	return m.calculate()
}

// read writes a reading. Of one on the negative it asks what was read, where that was not typed.
func (m *Machine) read(act Act, now timer.Moment) error {
	if x := act.Data.(*events.LightMeteredData); x.On == "negative" && x.Mode == "reflected" && x.Of == "" && x.ZoneStops == nil {
		m.sure = &question{text: "what was read?"}
		for _, tone := range []struct{ of, label string }{{"card", "a card"}, {"mid", "the mid-tone"}, {"lightest", "the lightest patch"}, {"darkest", "the darkest patch"}} {
			m.sure.answers = append(m.sure.answers, answer{rune(tone.of[0]), tone.label, func(now timer.Moment) error {
				x.Of = tone.of
				return m.read(act, now)
			}})
		}
		return nil
	}
	return m.warned(now, act, func(now timer.Moment) error {
		m.f = 0
		return m.write(now, func(at Place) *Place {
			switch at.Step {
			case AtReading:
				return &Place{Step: AtCall, Again: at.Again}
			default:
				return &Place{Step: AtCopyCall, Picture: at.Picture, Sheet: at.Sheet}
			}
		}, act)
	})
}

// warned asks before an act whose value is odd is written, and tells what is odd.
func (m *Machine) warned(now timer.Moment, act Act, write func(timer.Moment) error) error {
	odd, err := m.door.Try(act)
	if err != nil {
		m.alarm = m.door.Explain(err)
		return nil
	}
	if len(odd) == 0 {
		return write(now)
	}
	m.sure = &question{text: strings.Join(odd, "; ") + ". Is it right?", yes: write}
	return nil
}

// endAt ends the clock at a time that a hand tells. An odd one is asked about before.
func (m *Machine) endAt(typed string, now timer.Moment) error {
	end, err := m.door.Ended(typed, m.clock.Began(), now.Wall)
	if err != nil {
		m.alarm = m.door.Explain(err)
		return nil
	}
	took := end.Sub(m.clock.Began())
	write := func(now timer.Moment) error {
		m.asks, m.typed = forNothing, ""
		m.timer.End(end)
		return m.record(now)
	}
	if planned := timer.Duration(m.clock.PlannedS()); timer.Odd(took, planned) {
		m.sure = &question{text: fmt.Sprintf("%s, where %s is called for: is that what was done?", wording.Seconds(took.Seconds()), wording.Seconds(planned.Seconds())), yes: write}
		return nil
	}
	return write(now)
}

// write writes acts and goes on to where the book then points, or to where after says.
func (m *Machine) write(now timer.Moment, after func(Place) *Place, acts ...Act) error {
	said, err := m.door.Write(acts...)
	if err != nil {
		m.alarm = m.door.Explain(err)
		return nil
	}
	m.told = said
	if after != nil {
		m.wanted = after(m.place)
	}
	m.clock = nil
	return m.look(now)
}

// withoutReading takes a key where no reading was typed.
func (m *Machine) withoutReading(k rune, now timer.Moment) error {
	switch k {
	case ' ', keyEnter:
		if m.place.Step == AtReading && m.stand.Reading != nil {
			return m.enter(Place{Step: AtCall, Again: m.place.Again}, now)
		}
		if p := m.stand.picture(m.place.Picture); m.place.Step == AtNegative && p != nil && p.Metered {
			return m.enter(Place{Step: AtCopyCall, Picture: m.place.Picture, Sheet: m.place.Sheet}, now)
		}
		m.alarm = "no reading is written yet: type one, such as 8 4 for f/8 and 4 s"
	case 'n', 'N', 'w', 'W', 's', 'S':
		return m.elsewhere(k, now)
	}
	return nil
}

// elsewhere takes the keys that leave a picture for another: n the next one, s what else there is, w round all that waits.
func (m *Machine) elsewhere(k rune, now timer.Moment) error {
	switch k {
	case 'n', 'N':
		m.f = 0
		return m.enter(Place{Step: AtReading}, now)
	case 's', 'S':
		m.putAside()
		return m.enter(m.stand.Next(m.aside), now)
	case 'w', 'W':
		to := m.stand.after(m.place)
		m.putAside()
		if to.Picture == "" {
			clear(m.aside)
		}
		delete(m.aside, to.Picture)
		m.f = 0
		return m.enter(to, now)
	}
	return nil
}

// putAside has the book point elsewhere for now.
func (m *Machine) putAside() {
	if m.place.Picture != "" {
		m.aside[m.place.Picture] = true
	} else if m.place.Again != "" {
		m.aside[m.place.Again] = true
	}
}

// calling takes the keys at a called-for time.
func (m *Machine) calling(k rune, now timer.Moment) error {
	switch k {
	case ' ', keyEnter:
		at := m.place
		at.Step++
		return m.enter(at, now)
	case '+', '=':
		return m.aperture(1)
	case '-', '_':
		return m.aperture(-1)
	case 'f', 'F':
		if m.place.Step == AtCall {
			m.asks = forDistance
		}
	default:
		return m.elsewhere(k, now)
	}
	return nil
}

// aperture opens (−1) or closes (+1) the lens to the next whole stop.
func (m *Machine) aperture(by int) error {
	m.f = calc.WholeStopBeside(m.call.F, by > 0)
	return m.calculate()
}

// judging takes the verdict.
func (m *Machine) judging(k rune, now timer.Moment) error {
	verdict, stops := "", 0.0
	switch k {
	case ' ', keyEnter, 'k', 'K':
		verdict = "keep"
	case 'r', 'R':
		verdict = "redo"
	case '+', '=':
		verdict, stops = "redo", 0.5
	case '-', '_':
		verdict, stops = "redo", -0.5
	case 'x', 'X':
		verdict = "reject"
	default:
		return m.elsewhere(k, now)
	}
	data := &events.SheetJudgedData{Sheet: m.place.Sheet, Verdict: verdict}
	if stops != 0 {
		data.Stops = &stops
	}
	write := func(now timer.Moment) error {
		delete(m.aside, m.place.Picture)
		return m.write(now, nil, Act{Data: data})
	}
	if verdict == "reject" {
		m.sure = &question{text: "reject " + m.place.Sheet + "? It is neither printed nor made again.", yes: write}
		return nil
	}
	return write(now)
}

// mark stamps the moment; today lists it as wanting words.
func (m *Machine) mark() error {
	text := ""
	if m.call.Sheet != "" {
		text = "at " + m.call.Sheet
	}
	said, err := m.door.Write(Act{Data: &events.MomentMarkedData{Text: text}})
	if err != nil {
		m.alarm = m.door.Explain(err)
		return nil
	}
	m.told, m.stamped = said, true
	m.stand, err = m.door.State()
	return err
}

// back goes back a step: over what is not written at once, over what is written by taking it back.
func (m *Machine) back(now timer.Moment) error {
	step := m.place.Step
	switch {
	case m.asks == forEnd:
		m.asks, m.typed = forNothing, ""
		return nil
	case m.timer != nil && m.timer.Running():
		m.never()
		return nil
	case m.asks == forDistance || m.asks == forTemperature:
		m.asks = forNothing
		return m.calculate()
	case step == AtCap || step == AtCopyCap:
		at := m.place
		at.Step--
		return m.enter(at, now)
	case step == AtCall:
		return m.enter(Place{Step: AtReading, Again: m.place.Again}, now)
	case step == AtCopyCall:
		return m.enter(Place{Step: AtNegative, Picture: m.place.Picture, Sheet: m.place.Sheet}, now)
	case step == AtReading || step == AtNegative:
		if book := m.stand.Next(m.aside); book.Step != step && book.Step != AtCall && book.Step != AtCopyCall {
			return m.enter(book, now)
		}
	}
	if m.stand.Last == nil {
		m.alarm = "there is nothing to take back here"
		return nil
	}
	last := *m.stand.Last
	m.sure = &question{text: "take back: " + last.Text + "?", yes: func(now timer.Moment) error {
		if err := m.door.TakeBack(last); err != nil {
			m.alarm = m.door.Explain(err)
			return nil
		}
		m.told = []string{"taken back: " + last.Text}
		m.aside, m.skipped = map[string]bool{}, ""
		return m.look(now)
	}}
	return nil
}

// never asks whether what the clock was started for never happened, and takes the clock back.
func (m *Machine) never() {
	what := "was the sheet never in? Its clock is taken back; nothing else is written."
	if m.place.Step == AtCap || m.place.Step == AtCopyCap {
		what = "was the cap never lifted? Its clock is taken back; nothing else is written."
	}
	m.sure = &question{text: what, yes: func(now timer.Moment) error {
		at := m.place
		m.f = m.call.F
		if m.clock != nil && m.clock.Kept {
			if err := m.door.Forget(m.clock.Entries...); err != nil {
				m.alarm = m.door.Explain(err)
				return nil
			}
			m.told = []string{"taken back: the clock of " + m.title()}
		}
		var err error
		if m.stand, err = m.door.State(); err != nil {
			return err
		}
		if at.Step == AtCap && m.stand.Reading == nil {
			return m.goOn(now)
		}
		return m.enter(at, now)
	}}
}

// timing takes a key at a timer.
func (m *Machine) timing(k rune, at timer.Moment) error {
	if m.timer.Taken() != nil { // taken, but the book could not take it
		if k == ' ' || k == keyEnter {
			return m.record(at)
		}
		return nil
	}
	if !m.timer.Running() {
		switch {
		case m.place.Step == AtRinse && (k == 's' || k == 'S'):
			m.skipped = m.place.Sheet
			return m.look(at)
		case (k == 'c' || k == 'C') && (m.place.Step == AtDevelop || m.place.Step == AtFix):
			m.asks = forTemperature
			m.timer = nil
			return nil
		case k == 'n' || k == 'N' || k == 'w' || k == 'W' || (k == 's' || k == 'S') && m.place.Step != AtCap && m.place.Step != AtCopyCap:
			return m.elsewhere(k, at)
		}
	} else if !m.timer.Asked() {
		switch k {
		case 'x', 'X':
			m.never()
			return nil
		case 'o', 'O':
			if !m.timer.CountsIn() {
				m.asks = forEnd
			}
			return nil
		case 'w', 'W':
			if m.clock.Kept && len(m.stand.round())+len(m.stand.Clocks) > 1 {
				return m.elsewhere(k, at)
			}
			return nil
		}
	}
	press, ok := PressOf(k)
	if !ok {
		return nil
	}
	ran, countedIn := m.timer.Running(), m.timer.CountsIn()
	m.timer.Press(press, at)
	switch {
	case m.timer.Taken() != nil:
		return m.record(at)
	case !ran && m.timer.Running(), countedIn && !m.timer.CountsIn() && press == timer.Measure:
		return m.start(at)
	}
	return nil
}

// start writes the clock that was just started: before the screen changes, so that nothing that cuts the run loses it. Where
// the book does not take it the time is taken all the same, and that is said. A cap that is timed by two presses after all,
// in the middle of its count-in, has a new clock.
func (m *Machine) start(at timer.Moment) error {
	clocks, err := m.clocks()
	if err != nil {
		return err
	}
	if c := m.clock; c != nil && c.Kept {
		if err := m.door.Forget(c.Entries...); err != nil {
			m.alarm = m.door.Explain(err)
			return nil
		}
	}
	entries, err := m.door.Start(at.Wall, clocks...)
	if err != nil {
		m.alarm = "this time is not in the book, and is lost if this is closed: " + m.door.Explain(err)
		entries = nil
		for _, c := range clocks {
			entries = append(entries, events.Entry{Kind: events.ClockStarted, At: at.Wall, Data: c})
		}
		m.clock = &Clock{Entries: entries}
		return nil
	}
	m.clock = &Clock{Entries: entries, Kept: true}
	m.timers[m.clock.ID()] = m.timer
	m.stand, err = m.door.State()
	return err
}

// clocks are what the running timer takes the time of, a clock for each sheet.
func (m *Machine) clocks() ([]*events.ClockStartedData, error) {
	var acts []events.Data
	switch m.place.Step {
	case AtCap:
		x := &events.SheetExposedData{F: m.call.F, Box: m.call.Where, Reading: m.call.Reading, Again: m.place.Again}
		if m.far > 0 {
			x.SubjectMM = &m.far
		}
		acts = append(acts, x)
	case AtCopyCap:
		acts = append(acts, &events.SheetReprintedData{Picture: m.place.Picture, F: &m.call.F, Box: m.call.Where, Reading: m.call.Reading})
	case AtDevelop:
		acts = append(acts, &events.SheetDevelopedData{Sheet: m.place.Sheet, Bath: m.call.Where})
	case AtRinse:
		acts = append(acts, &events.SheetRinsedData{Sheet: m.place.Sheet, Bath: m.call.Where})
	case AtFix:
		acts = append(acts, &events.SheetFixedData{Sheet: m.place.Sheet, Bath: m.call.Where})
	case AtWash:
		for _, sheet := range m.washing() {
			changes := max(m.call.Changes, 1)
			acts = append(acts, &events.SheetWashedData{Sheet: sheet, Changes: &changes})
		}
	}
	var out []*events.ClockStartedData
	for _, a := range acts {
		x, err := StartOf(a, m.timer, m.call.PlannedS, m.call.F)
		if err != nil {
			return nil, err
		}
		out = append(out, x)
	}
	return out, nil
}

// StartOf is the clock of an act whose timer was just started.
func StartOf(act events.Data, t HandTimer, plannedS, f float64) (*events.ClockStartedData, error) {
	x, err := events.ClockFor(act)
	if err != nil {
		return nil, err
	}
	if x.Picture == "" {
		x.Picture, _, _ = events.SplitSheet(x.Sheet)
	}
	if plannedS > 0 {
		x.PlannedS = &plannedS
		if f > 0 && x.PlannedF == nil {
			x.PlannedF = &f
		}
	}
	if t.CountsIn() {
		counts := timer.CountInS
		x.CountInS = &counts
	}
	return x, nil
}

// record writes what was timed.
func (m *Machine) record(now timer.Moment) error {
	t := *m.timer.Taken()
	acts, err := m.clock.Acts(t, m.door.Remark(t, m.clock.Exposes()))
	if err != nil {
		return err
	}
	if m.clock.Exposes() {
		m.f = 0
	}
	return m.write(now, nil, acts...)
}

func (m *Machine) washing() []string {
	if m.clock != nil {
		return m.clock.Sheets()
	}
	if p := m.stand.picture(m.place.Picture); p != nil {
		return p.toWash()
	}
	return nil
}

// Left tells whoever leaves what runs on, and what is lost.
func (m *Machine) Left(at timer.Moment) []string {
	var out []string
	if m.timer != nil && m.timer.Running() && m.clock != nil && !m.clock.Kept {
		out = append(out, m.clock.Text(at.Wall)+" is not in the book: write it down with its time")
	}
	for i := range m.stand.Clocks {
		out = append(out, m.stand.Clocks[i].Text(at.Wall)+": its clock runs on; traybook bench comes back to it")
	}
	return out
}
