package bench

import (
	"slices"
	"time"

	"traybook/cmd/traybook/bench/timer"
	"traybook/events"
	"traybook/projections/snapshot"
)

// Clock is a clock that runs: one for each sheet that lies in the same water, mostly one. The book holds its first press,
// so that it runs on whatever becomes of the program, the terminal and the machine that started it.
type Clock struct {
	Entries []events.Entry // each of kind clock.started
	Kept    bool           // in the book; else it is lost with the program
}

// data is what the clock says of its first sheet.
func (c *Clock) data() *events.ClockStartedData { return c.Entries[0].Data.(*events.ClockStartedData) }

// ID names the clock: the entry of its first sheet.
func (c *Clock) ID() string { return c.Entries[0].ID.String() }

// clockSteps are the steps that clocks are started at.
var clockSteps = map[string]Step{"expose": AtCap, "reprint": AtCopyCap, "develop": AtDevelop, "rinse": AtRinse, "fix": AtFix, "wash": AtWash}

// Place is the step that the clock belongs to.
func (c *Clock) Place() Place {
	x := c.data()
	return Place{Step: clockSteps[x.Act], Picture: x.Picture, Sheet: x.Sheet, Again: x.Again}
}

// Sheets are those whose time it takes; none of an exposure and a copy, which have no number yet.
func (c *Clock) Sheets() []string {
	var out []string
	for _, e := range c.Entries {
		if s := e.Data.(*events.ClockStartedData).Sheet; s != "" {
			out = append(out, s)
		}
	}
	return out
}

// PlannedS is what was called for, 0 for nothing.
func (c *Clock) PlannedS() float64 { return snapshot.ValueOr(c.data().PlannedS, 0) }

// Began is when the cap came off, or comes off after its count-in, or when the sheet went in.
func (c *Clock) Began() time.Time { return snapshot.ClockBegan(c.Entries[0]) }

// Exposes says that the clock stands at the cap.
func (c *Clock) Exposes() bool { return c.data().Act == "expose" || c.data().Act == "reprint" }

// Text says what is done since when: "2026-009n in the developer dev-1 since 14:47:02 (58 s of 1 min 51 s)".
func (c *Clock) Text(now time.Time) string {
	first := c.Entries[0]
	if sheets := c.Sheets(); len(sheets) > 1 {
		first.Data = events.Clone(first.Data)
		x := first.Data.(*events.ClockStartedData)
		for _, s := range sheets[1:] {
			x.Sheet += ", " + s
		}
	}
	return snapshot.ClockRuns(first, now)
}

// changes is how often the water of a wash is changed.
func (c *Clock) changes() int {
	if n := c.data().Changes; n != nil {
		return *n
	}
	return 1
}

// rockS is how often a hand is called meanwhile, seconds.
func (c *Clock) rockS() float64 {
	switch x := c.data(); x.Act {
	case "develop", "fix":
		return snapshot.ValueOr(x.RockS, timer.RockS)
	case "wash":
		if x.Changes != nil {
			return c.PlannedS() / float64(c.changes())
		}
	}
	return 0
}

// Resume is a timer that takes the clock up at a moment.
func (c *Clock) Resume(now timer.Moment) HandTimer {
	if c.Exposes() {
		return timer.ResumeCap(c.PlannedS(), c.data().CountInS != nil, c.Entries[0].At, now)
	}
	return timer.ResumeBath(c.PlannedS(), c.rockS(), c.Entries[0].At, now)
}

// Acts are those that end the clock with the time that was taken; remark is what there is to remark of that, "" for nothing.
func (c *Clock) Acts(t timer.Taken, remark string) ([]Act, error) {
	var out []Act
	for _, e := range c.Entries {
		x := e.Data.(*events.ClockStartedData)
		data, err := x.ActData()
		if err != nil {
			return nil, err
		}
		if err := c.end(data, e, t, remark); err != nil {
			return nil, err
		}
		began := t.Began
		if began.Before(e.At) { // the clock of this machine was set back; an act begins with its clock
			began = c.Began()
		}
		out = append(out, Act{At: began, Data: data})
	}
	return out, nil
}

// leastTime is what two presses are apart that come in one: no act lasts 0 s.
const leastTime = 0.001

func (c *Clock) end(data events.Data, e events.Entry, t timer.Taken, remark string) error {
	s, id := max(t.S, leastTime), ""
	if c.Kept {
		id = e.ID.String()
	}
	switch x := data.(type) {
	case *events.SheetExposedData:
		x.TimeS, x.Clock = s, id
	case *events.SheetReprintedData:
		x.TimeS, x.Clock = s, id
	case *events.SheetDevelopedData:
		x.TimeS, x.Clock = s, id
	case *events.SheetRinsedData:
		x.TimeS, x.Clock = &s, id
	case *events.SheetFixedData:
		x.TimeS, x.Clock = s, id
	case *events.SheetWashedData:
		x.Clock = id
		if x.Changes == nil {
			x.RunningS = &s
		} else {
			soak := max(float64(int64(s/float64(c.changes())*1000+0.5))/1000, leastTime)
			x.SoakS = &soak
		}
		if n := len(c.Entries); n > 1 {
			x.Together = &n
		}
	}
	return SayHow(data, t, remark)
}

// SayHow puts into an act how its time was taken, and behind its text what there is to remark of that.
func SayHow(data events.Data, t timer.Taken, remark string) error {
	timed, _ := events.FieldOf(data.Kind(), "timed")
	if err := timed.Put(data, t.How); err != nil || remark == "" {
		return err
	}
	text, _ := events.FieldOf(data.Kind(), "text")
	if said, there := text.Value(data); there {
		remark = said.(string) + "; " + remark
	}
	return text.Put(data, remark)
}

// ClocksOf puts the running clocks of a book together that were started with one press, in the order of their urgency:
// an open cap, a sheet in a tray, a wash.
func ClocksOf(running []events.Entry) []Clock {
	var out []Clock
	for _, e := range running {
		i := slices.IndexFunc(out, func(c Clock) bool { return !e.Batch.IsZero() && c.Entries[0].Batch == e.Batch })
		if i < 0 {
			out = append(out, Clock{Kept: true})
			i = len(out) - 1
		}
		out[i].Entries = append(out[i].Entries, e)
	}
	slices.SortStableFunc(out, func(a, b Clock) int { return a.pressing() - b.pressing() })
	return out
}

func (c *Clock) pressing() int {
	switch {
	case c.Exposes():
		return 0
	case c.data().Act == "wash":
		return 2
	}
	return 1
}

// clock finds the running clock of a step, nil for none. Of exposures one is as good as the other.
func (s State) clock(at Place) *Clock {
	for i := range s.Clocks {
		c := &s.Clocks[i]
		of := c.Place()
		same := of.Step == at.Step || of.Step == AtCap && at.Step == AtCall || of.Step == AtCopyCap && at.Step == AtCopyCall
		switch {
		case !same:
		case of.Step == AtCap:
			return c
		case of.Step == AtCopyCap && of.Picture == at.Picture:
			return c
		case slices.Contains(c.Sheets(), at.Sheet):
			return c
		}
	}
	return nil
}

// clockByID finds a running clock by the entry of one of its sheets, nil for none.
func (s State) clockByID(id string) *Clock {
	for i := range s.Clocks {
		if slices.ContainsFunc(s.Clocks[i].Entries, func(e events.Entry) bool { return e.ID.String() == id }) {
			return &s.Clocks[i]
		}
	}
	return nil
}
