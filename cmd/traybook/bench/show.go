package bench

import (
	"fmt"
	"strings"
	"time"

	"traybook/cmd/traybook/bench/timer"
	"traybook/cmd/traybook/line"
	"traybook/events"
	"traybook/projections/wording"
)

// verbs name the steps.
var verbs = map[Step]string{
	AtReading: "meter the scene", AtCall: "expose", AtCap: "expose", AtDevelop: "develop", AtRinse: "rinse", AtFix: "fix",
	AtJudge: "judge", AtNegative: "meter the negative", AtCopyCall: "reprint", AtCopyCap: "reprint", AtWash: "wash",
}

// Greeting is said once, on the first panel of a run.
const Greeting = "A screen is daylight to paper: keep it from an open sleeve or holder. d dims it."

func (m *Machine) title() string {
	parts := []string{verbs[m.place.Step]}
	switch {
	case m.place.Step == AtNegative:
		parts[0] += " " + m.place.Sheet
	case m.place.Step == AtWash:
		parts[0] += " " + strings.Join(m.washing(), ", ")
	case m.call.Sheet != "":
		parts[0] += " " + m.call.Sheet
	}
	if m.call.Where != "" {
		parts = append(parts, m.call.Where)
	}
	if m.place.Again != "" {
		parts = append(parts, m.place.Again+" once more")
	}
	if p := m.stand.picture(m.place.Picture); p != nil && p.Subject != "" {
		parts = append(parts, p.Subject)
	}
	return strings.Join(parts, " · ")
}

// OverText tells of a clock whose called-for time is over.
func OverText(clock string) string { return timer.OutNow + ": " + clock }

// View is what to show at a moment, as data: the terminal makes a Panel of it, a page whatever it likes. Its words are the
// same on both.
type View struct {
	Step    string // the verb of the step: develop
	Picture string
	Sheet   string // "" of an exposure that has no number yet
	Where   string // box or bath

	Title  string
	Figure string // to be seen from afar: 1:51
	Word   string // what to do now
	Body   []string
	Alarm  string // what went wrong
	Asks   string // the question of the line that is typed, or of what to be sure of; "" for none
	Typed  string // what is typed of it so far
	Types  string // how to type it; "" where nothing is typed

	Wants    string    // what the line is: reading, distance, temperature, end; "" for no line
	Steppers []Stepper // by which a line is made without typing it: their words with a space between
	Aperture *Stepper  // by which another one is asked for, nil where none can be

	Choices []Choice // the first is what one large button does
	Sure    bool     // the choices are the answers: yes and no, or several

	Clock  *Running  // that is shown, where it runs
	Others []Running // the clocks that run beside it, the most urgent first
	Waits  []string  // sheets that wait for the developer
	Call   Call      // what the step calls for
}

// Running is a clock that runs. Who shows it counts from Began, never by ticks.
type Running struct {
	ID       string // its entry, "" where the book could not take it
	Act      string // expose, reprint, develop, rinse, fix, wash
	Sheets   []string
	Where    string
	Pressed  time.Time // its first press
	Began    time.Time // when the cap came off, or comes off, or the sheet went in
	PlannedS float64   // 0 for nothing called for: the call comes at Began + PlannedS
	RockS    float64   // how often a hand is called meanwhile, 0 for never
	Asked    bool      // an odd time is asked about
	Text     string
	Spans    []Span  // what it shows, second for second
	Sounds   []Sound // when it sounds
}

func (m *Machine) running(c *Clock, at timer.Moment, t HandTimer) Running {
	x := c.data()
	out := Running{Act: x.Act, Sheets: c.Sheets(), Where: events.PlacesOf(x).Bath, Pressed: c.Entries[0].At, Began: c.Began(), PlannedS: c.PlannedS(),
		RockS: c.rockS(), Text: c.Text(at.Wall)}
	if out.Where == "" {
		out.Where = x.Box
	}
	out.Spans, out.Sounds = c.course()
	if c.Kept {
		out.ID = c.ID()
	}
	if t != nil {
		out.Asked = t.Asked()
	}
	return out
}

// View is what to show at a moment.
func (m *Machine) View(at timer.Moment) View {
	v := m.view(at)
	v.Step, v.Picture, v.Sheet, v.Where, v.Call = verbs[m.place.Step], m.place.Picture, m.call.Sheet, m.call.Where, m.call
	v.Alarm, v.Waits = m.alarm, m.stand.waiting()
	if v.Wants = wants[m.asks]; v.Wants != "" {
		v.Steppers = m.steppers(at.Wall)
	} else if (m.place.Step == AtCall || m.place.Step == AtCopyCall) && !m.stuck {
		v.Aperture = new(m.apertures(m.call.F))
	}
	for i := range m.stand.Clocks {
		c := &m.stand.Clocks[i]
		if m.clock != nil && c.ID() == m.clock.ID() {
			continue
		}
		r := m.running(c, at, nil)
		v.Others = append(v.Others, r)
		if past := at.Wall.Sub(r.Began).Seconds(); r.PlannedS > 0 && past >= r.PlannedS {
			v.Body = append(v.Body, "! "+OverText(r.Text))
		} else {
			v.Body = append(v.Body, "also "+r.Text)
		}
	}
	if m.timer != nil && m.timer.Running() && m.clock != nil {
		v.Clock = new(m.running(m.clock, at, m.timer))
		if !m.clock.Kept {
			v.Body = append(v.Body, "! this time is not in the book, and is lost if this is closed")
		}
	}
	if m.sure != nil {
		v.Asks, v.Typed, v.Types, v.Sure = m.sure.text, "", "", true
		v.Wants, v.Steppers, v.Aperture = "", nil, nil
		v.Choices = append(choices(" ", "yes"), choices("n", "no")...)
		if len(m.sure.answers) > 0 {
			v.Choices = nil
			for _, a := range m.sure.answers {
				v.Choices = append(v.Choices, Choice{a.key, a.label})
			}
			v.Choices = append(v.Choices, Choice{'b', "back"})
		}
		return v
	}
	if !m.greeted {
		v.Body = append([]string{Greeting}, v.Body...)
	}
	if len(m.told) > 0 && (m.timer == nil || !m.timer.Running() || m.stamped) {
		v.Body = append(v.Body, "")
		v.Body = append(v.Body, m.told...)
	}
	if m.timer != nil && m.timer.Asked() {
		v.Choices = append(v.Choices, choices("q", "leave")...)
		return v
	}
	v.Choices = append(v.Choices, choices("b", "back")...)
	v.Choices = append(v.Choices, choices("m", "mark")...)
	v.Choices = append(v.Choices, choices("q", "leave")...)
	return v
}

// Panel is the view as a terminal shows it.
func (m *Machine) Panel(at timer.Moment) Panel {
	v := m.View(at)
	p := Panel{Title: v.Title, Figure: v.Figure, Word: v.Word, Body: v.Body, Asks: v.Asks, Alarm: v.Alarm, Keys: Keys(v.Choices)}
	switch {
	case v.Sure && len(m.sure.answers) == 0:
		p.Keys = "space yes · any other key no"
	case v.Types != "":
		p.Asks += v.Typed + "_"
		p.Keys = v.Types + " · " + p.Keys
	}
	return p
}

func (m *Machine) view(at timer.Moment) View {
	if m.timer != nil {
		return m.timerView(at)
	}
	v := View{Title: m.title(), Typed: m.typed}
	switch m.asks {
	case forDistance:
		v.Asks, v.Types = "how far is the subject from the lens? ", "type it in metres, such as 2; enter goes on"
		return v
	case forTemperature:
		v.Asks, v.Types = "how warm is "+m.call.Where+"? ", "type it, such as 18; enter goes on"
		return v
	}
	switch m.place.Step {
	case AtReading:
		v.Asks, v.Types = "reading: ", "type aperture and time, such as 8 4, then enter"
		if m.stand.Session == "" {
			v.Body = append(v.Body, "no session is open: traybook session open begins one")
		}
		if r := m.stand.Reading; r != nil {
			v.Body = append(v.Body, "the last one: "+r.Text+", at "+r.At.Format("15:04"))
			v.Choices = choices(" ", "goes by the last one")
		}
		v.Body = append(v.Body, m.waits()...)
		v.Choices = append(v.Choices, m.goRound("what waits")...)
	case AtNegative:
		v.Body = append(v.Body, "Meter a card, or the lightest patch of the negative, in the copying light.")
		v.Asks, v.Types = "reading: ", "type aperture and time, such as 11 2, then enter"
		if pic := m.stand.picture(m.place.Picture); pic != nil && pic.Metered {
			v.Types, v.Choices = "type aperture and time, then enter", choices(" ", "goes by the last one")
		}
		v.Choices = append(append(v.Choices, choices("s", "print it later")...), choices("n", "next picture")...)
	case AtCall, AtCopyCall:
		m.callView(&v)
	case AtJudge:
		v.Word = "keep or redo?"
		v.Body = append(v.Body, "What the eye sees can be told in the evening: traybook judge.")
		v.Choices = append(append(append(choices(" ", "keep"), choices("r", "redo")...), choices("+-", "redo with half a stop more, less")...), choices("x", "reject")...)
	}
	return v
}

// goRound is the key that goes round what waits, where there is more than one place to go.
func (m *Machine) goRound(label string) []Choice {
	if len(m.stand.round()) < 2 {
		return nil
	}
	return choices("w", label)
}

// waits tells what waits, in one line.
func (m *Machine) waits() []string {
	names := m.stand.waiting()
	switch n := len(names); {
	case n == 0 || n == 1 && names[0] == m.call.Sheet:
		return nil
	case n > 4:
		return []string{fmt.Sprintf("%d sheets wait for the developer: %s …", n, strings.Join(names[:4], ", "))}
	default:
		return []string{"waits for the developer: " + strings.Join(names, ", ")}
	}
}

func (m *Machine) callView(v *View) {
	c := m.call
	if c.PlannedS > 0 {
		v.Figure = timer.Show(timer.Duration(c.PlannedS))
		if c.PlannedS >= 60 {
			v.Figure = timer.Show(timer.Duration(float64(int(c.PlannedS + 0.5))))
		}
	}
	if c.F > 0 {
		v.Word = line.Format(line.FNumber, c.F)
		if c.PlannedS > 0 {
			v.Word += " · " + wording.Seconds(c.PlannedS)
		}
	}
	if c.Told == "" {
		v.Body = append(v.Body, "nothing tells what it calls for; two presses measure what is done")
	} else {
		v.Body = append(v.Body, c.Told)
	}
	if m.why {
		v.Body = append(v.Body, c.Breakdown...)
	}
	v.Body = append(v.Body, c.About...)
	v.Body = append(v.Body, warned(c.Warnings)...)
	v.Choices = append(append(choices(" ", "go on"), choices("+-", "aperture")...), choices("i", "why this time")...)
	if m.place.Step == AtCall {
		v.Choices = append(append(v.Choices, choices("f", "how far")...), m.goRound("what waits")...)
	} else {
		v.Choices = append(v.Choices, choices("s", "print it later")...)
	}
}

func warned(warnings []string) []string {
	var out []string
	for _, w := range warnings {
		out = append(out, "! "+w)
	}
	return out
}

func (m *Machine) timerView(at timer.Moment) View {
	f := m.timer.Face(at)
	v := View{Title: m.title(), Figure: f.Big, Word: f.Word, Body: []string{f.Line}, Choices: append(TimerChoices(m.timer), RunningChoices(m.timer)...)}
	if m.place.Step == AtWash {
		v.Body = []string{fmt.Sprintf("%d changes of water, fresh at every beat; called for %s in all", m.call.Changes, wording.Seconds(m.call.PlannedS))}
		if m.timer.Asked() {
			v.Body = append(v.Body, "it counts on")
		}
	}
	if m.timer.Taken() != nil {
		v.Choices = choices(" ", "try again to write it")
		return v
	}
	if m.timer.Running() {
		if m.clock != nil && !m.timer.CountsIn() {
			v.Body = append(v.Body, m.clock.Text(at.Wall))
		}
		if m.asks == forEnd {
			v.Asks, v.Typed, v.Types = "out at? ", m.typed, "type 14:49 or how long, such as 90s; enter goes on"
			if m.clock.Exposes() {
				v.Asks = "closed at? "
			}
			v.Choices = nil
			return v
		}
		if !m.timer.Asked() && m.clock != nil && m.clock.Kept {
			v.Choices = append(v.Choices, m.goRound("leave it running")...)
		}
		return v
	}
	v.Body = append(v.Body, m.call.About...)
	if m.why {
		v.Body = append(v.Body, m.call.Breakdown...)
	}
	v.Body = append(v.Body, warned(m.call.Warnings)...)
	switch m.place.Step {
	case AtDevelop:
		v.Body = append(v.Body, m.waits()...)
		v.Choices = append(append(append(v.Choices, choices("n", "next picture")...), choices("c", "temperature")...), m.goRound("another")...)
	case AtFix:
		v.Choices = append(v.Choices, choices("c", "temperature")...)
	case AtRinse:
		v.Choices = append(v.Choices, choices("s", "leave it out")...)
	case AtWash:
		v.Choices = append(v.Choices, choices("s", "later")...)
	}
	return v
}
