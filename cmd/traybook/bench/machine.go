package bench

import (
	"fmt"
	"strings"
	"time"

	"traybook/calc"
	"traybook/cmd/traybook/bench/timer"
	"traybook/events"
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
	CalledS   *float64
	Breakdown []string
	About     []string // what else to know: temperature, state of the bath
	Warnings  []string
	Changes   int // of water
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
	// Timed says in words how a time was taken.
	Timed(t timer.Taken, exposure bool) string
	Write(acts ...Act) (said []string, err error)
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
)

// Machine is the run. Feed it keys; it shows panels and writes through its door.
type Machine struct {
	door    Door
	stand   State
	place   Place
	call    Call
	timer   HandTimer
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

// question is something to be sure of: space, enter and y are yes, anything else no.
type question struct {
	text string
	yes  func(timer.Moment) error
}

// New begins a run.
func New(door Door) (*Machine, error) {
	m := &Machine{door: door, aside: map[string]bool{}}
	return m, m.look()
}

// look finds out from the book where the run stands.
func (m *Machine) look() error {
	stand, err := m.door.State()
	if err != nil {
		return err
	}
	m.stand = stand
	at := stand.Next(m.aside)
	if at.Step == AtRinse && at.Sheet == m.skipped {
		at.Step = AtFix
	}
	if m.wanted != nil {
		at, m.wanted = *m.wanted, nil
	}
	return m.enter(at)
}

// enter goes to a step.
func (m *Machine) enter(at Place) error {
	m.place, m.call, m.timer, m.asks, m.typed, m.sure, m.stuck = at, Call{}, nil, forNothing, "", nil, false
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

// Beats are the beats that fell due.
func (m *Machine) Beats(at timer.Moment) []timer.Beat {
	if m.timer == nil {
		return nil
	}
	return m.timer.Beats(at)
}

// Pause is how long nothing changes by itself; ok is false where it waits for a key.
func (m *Machine) Pause(at timer.Moment) (time.Duration, bool) {
	if m.timer == nil {
		return 0, false
	}
	return m.timer.Next(at)
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
		if k == ' ' || k == keyEnter || k == 'y' || k == 'Y' {
			return false, q.yes(at)
		}
		return false, nil
	}
	m.alarm, m.stamped = "", false
	if m.asks != forNothing && (m.typed != "" || !strings.ContainsRune("qQbBmMnNwWsSiI \r", k) && k != keyBackspace) {
		return false, m.typing(k)
	}
	switch k {
	case 'q', 'Q':
		return true, nil
	case 'm', 'M':
		return false, m.mark()
	case 'b', 'B', keyBackspace:
		return false, m.back()
	case 'i', 'I':
		m.why = !m.why
		return false, nil
	}
	switch {
	case m.timer != nil:
		return false, m.timing(k, at)
	case m.asks == forDistance || m.asks == forTemperature || m.stuck:
		if m.asks = forNothing; k == ' ' || k == keyEnter {
			return false, m.calculate()
		}
		return false, m.elsewhere(k)
	}
	switch m.place.Step {
	case AtReading, AtNegative:
		return false, m.withoutReading(k)
	case AtCall, AtCopyCall:
		return false, m.calling(k)
	case AtJudge:
		return false, m.judging(k)
	}
	return false, nil
}

// typing takes a key into the line that is being typed.
func (m *Machine) typing(k rune) error {
	switch {
	case k == keyEnter:
		return m.typedIn()
	case k == keyBackspace:
		r := []rune(m.typed)
		m.typed = string(r[:max(0, len(r)-1)])
	case k >= ' ' && k < 0x110000 && len(m.typed) < 40:
		m.typed += string(k)
	}
	return nil
}

// typedIn takes the line as it was typed.
func (m *Machine) typedIn() error {
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
		m.f = 0
		return m.write(func(at Place) *Place {
			switch at.Step {
			case AtReading:
				return &Place{Step: AtCall, Again: at.Again}
			default:
				return &Place{Step: AtCopyCall, Picture: at.Picture, Sheet: at.Sheet}
			}
		}, act)
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
		return m.write(nil, Act{Data: &events.BathTestedData{Bath: m.call.Where, Test: "temperature", Value: c, Unit: "C"}})
	}
	m.asks, m.typed = forNothing, ""
	return m.calculate()
}

// write writes acts and goes on to where the book then points, or to where after says.
func (m *Machine) write(after func(Place) *Place, acts ...Act) error {
	said, err := m.door.Write(acts...)
	if err != nil {
		m.alarm = m.door.Explain(err)
		return nil
	}
	m.told = said
	if after != nil {
		m.wanted = after(m.place)
	}
	return m.look()
}

// withoutReading takes a key where no reading was typed.
func (m *Machine) withoutReading(k rune) error {
	switch k {
	case ' ', keyEnter:
		if m.place.Step == AtReading && m.stand.Reading != nil {
			return m.enter(Place{Step: AtCall, Again: m.place.Again})
		}
		if p := m.stand.picture(m.place.Picture); m.place.Step == AtNegative && p != nil && p.Metered {
			return m.enter(Place{Step: AtCopyCall, Picture: m.place.Picture, Sheet: m.place.Sheet})
		}
		m.alarm = "no reading is written yet: type one, such as 8 4 for f/8 and 4 s"
	case 'n', 'N', 'w', 'W', 's', 'S':
		return m.elsewhere(k)
	}
	return nil
}

// elsewhere takes the keys that leave a picture for another.
func (m *Machine) elsewhere(k rune) error {
	switch k {
	case 'n', 'N':
		m.f = 0
		return m.enter(Place{Step: AtReading})
	case 'w', 'W', 's', 'S':
		if m.place.Picture != "" {
			m.aside[m.place.Picture] = true
		} else if m.place.Again != "" {
			m.aside[m.place.Again] = true
		}
		at := m.stand.Next(m.aside)
		if at.Step == AtCall && m.place.Step <= AtCall { // the reading is put aside, too
			s := m.stand
			s.Reading = nil
			at = s.Next(m.aside)
		}
		return m.enter(at)
	}
	return nil
}

// calling takes the keys at a called-for time.
func (m *Machine) calling(k rune) error {
	switch k {
	case ' ', keyEnter:
		at := m.place
		at.Step++
		return m.enter(at)
	case '+', '=':
		return m.aperture(1)
	case '-', '_':
		return m.aperture(-1)
	case 'f', 'F':
		if m.place.Step == AtCall {
			m.asks = forDistance
		}
	default:
		return m.elsewhere(k)
	}
	return nil
}

// aperture opens (−1) or closes (+1) the lens to the next whole stop.
func (m *Machine) aperture(by int) error {
	m.f = calc.WholeStopBeside(m.call.F, by > 0)
	return m.calculate()
}

// judging takes the verdict.
func (m *Machine) judging(k rune) error {
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
		return m.elsewhere(k)
	}
	data := &events.SheetJudgedData{Sheet: m.place.Sheet, Verdict: verdict}
	if stops != 0 {
		data.Stops = &stops
	}
	delete(m.aside, m.place.Picture)
	return m.write(nil, Act{Data: data})
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
func (m *Machine) back() error {
	step := m.place.Step
	switch {
	case m.timer != nil && m.timer.Running():
		m.sure = &question{"stop this timer and begin anew? Nothing of it is written.", func(timer.Moment) error { return m.calculate() }}
		return nil
	case m.asks == forDistance || m.asks == forTemperature:
		m.asks = forNothing
		return m.calculate()
	case step == AtCap || step == AtCopyCap:
		at := m.place
		at.Step--
		return m.enter(at)
	case step == AtCall:
		return m.enter(Place{Step: AtReading, Again: m.place.Again})
	case step == AtCopyCall:
		return m.enter(Place{Step: AtNegative, Picture: m.place.Picture, Sheet: m.place.Sheet})
	case step == AtReading || step == AtNegative:
		if book := m.stand.Next(m.aside); book.Step != step && book.Step != AtCall && book.Step != AtCopyCall {
			return m.enter(book)
		}
	}
	if m.stand.Last == nil {
		m.alarm = "there is nothing to take back here"
		return nil
	}
	last := *m.stand.Last
	m.sure = &question{"take back: " + last.Text + "?", func(timer.Moment) error {
		if err := m.door.TakeBack(last); err != nil {
			m.alarm = m.door.Explain(err)
			return nil
		}
		m.told = []string{"taken back: " + last.Text}
		m.aside, m.skipped = map[string]bool{}, ""
		return m.look()
	}}
	return nil
}

// timing takes a key at a timer.
func (m *Machine) timing(k rune, at timer.Moment) error {
	if m.timer.Taken() != nil { // taken, but the book could not take it
		if k == ' ' || k == keyEnter {
			return m.record()
		}
		return nil
	}
	if !m.timer.Running() {
		switch {
		case m.place.Step == AtRinse && (k == 's' || k == 'S'):
			m.skipped = m.place.Sheet
			return m.look()
		case (k == 'c' || k == 'C') && (m.place.Step == AtDevelop || m.place.Step == AtFix):
			m.asks = forTemperature
			m.timer = nil
			return nil
		case k == 'n' || k == 'N' || k == 'w' || k == 'W' || (k == 's' || k == 'S') && m.place.Step != AtCap && m.place.Step != AtCopyCap:
			return m.elsewhere(k)
		}
	}
	press, ok := PressOf(k)
	if !ok {
		return nil
	}
	m.timer.Press(press, at)
	if m.timer.Taken() == nil {
		return nil
	}
	return m.record()
}

// leastTime is what two presses are apart that come in one: no act lasts 0 s.
const leastTime = 0.001

// record writes what was timed.
func (m *Machine) record() error {
	t := *m.timer.Taken()
	t.S = max(t.S, leastTime)
	exposure := m.place.Step == AtCap || m.place.Step == AtCopyCap
	text := m.door.Timed(t, exposure)
	var planned, f *float64
	if t.PlannedS > 0 {
		planned, f = &t.PlannedS, &m.call.F
	}
	write := func(data events.Data) error { return m.write(nil, Act{At: t.Began, Data: data}) }
	switch m.place.Step {
	case AtCap:
		x := &events.SheetExposedData{F: m.call.F, TimeS: t.S, PlannedF: f, PlannedS: planned, Again: m.place.Again, Text: text}
		if m.far > 0 {
			x.SubjectMM = &m.far
		}
		m.f = 0
		return write(x)
	case AtCopyCap:
		m.f = 0
		return write(&events.SheetReprintedData{Picture: m.place.Picture, F: &m.call.F, TimeS: t.S, PlannedF: f, PlannedS: planned, Text: text})
	case AtDevelop:
		return write(&events.SheetDevelopedData{Sheet: m.place.Sheet, Bath: m.call.Where, TimeS: t.S, Text: text})
	case AtRinse:
		return write(&events.SheetRinsedData{Sheet: m.place.Sheet, Bath: m.call.Where, TimeS: &t.S, Text: text})
	case AtFix:
		return write(&events.SheetFixedData{Sheet: m.place.Sheet, Bath: m.call.Where, TimeS: t.S, Text: text})
	case AtWash:
		return m.writeWash(t, text)
	}
	return nil
}

// writeWash writes the wash of every sheet that lay in the same water.
func (m *Machine) writeWash(t timer.Taken, text string) error {
	var acts []Act
	sheets := m.washing()
	together, changes := len(sheets), max(m.call.Changes, 1)
	soak := max(float64(int64(t.S/float64(changes)*1000+0.5))/1000, leastTime)
	for _, sheet := range sheets {
		x := &events.SheetWashedData{Sheet: sheet, Changes: &changes, SoakS: &soak, Text: text}
		if together > 1 {
			x.Together = &together
		}
		acts = append(acts, Act{At: t.Began, Data: x})
	}
	return m.write(nil, acts...)
}

func (m *Machine) washing() []string {
	if p := m.stand.picture(m.place.Picture); p != nil {
		return p.toWash()
	}
	return nil
}

// CutOff ends a run that was left, whose terminal went away, or that was asked to stop. A time that was running is marked
// at its beginning, so that it is not lost; the mark's text is given, "" where there is none.
func (m *Machine) CutOff(at timer.Moment) (marked string, err error) {
	if m.timer == nil || !m.timer.Running() {
		return "", nil
	}
	began, ok := m.timer.Began()
	if !ok {
		return "", nil
	}
	text := fmt.Sprintf("%s: the timer was cut off after %s", m.title(), timer.Show(at.Wall.Sub(began)))
	_, err = m.door.Write(Act{At: began, Data: &events.MomentMarkedData{Text: text}})
	return text, err
}
