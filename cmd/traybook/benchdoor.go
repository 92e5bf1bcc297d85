package main

import (
	"errors"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"traybook/calc"
	"traybook/cmd/traybook/bench"
	"traybook/cmd/traybook/bench/timer"
	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/said"
	"traybook/events"
	"traybook/events/sqlite"
	"traybook/projections/acts"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// benchDoor is the book as the guided run uses it.
type benchDoor struct {
	env  *Env
	c    *cli.Context
	book benchBook

	pressed time.Time        // when what is written was done, as a page told it; zero for now
	ids     func() events.ID // gives what is written its ids; nil draws them

	seen      int64 // the last entry when the state of the book was asked
	clockTold bool  // said once in a run, that of the machine stands before the last entry
}

var _ bench.Door = (*benchDoor)(nil)

// benchBook is the book, or a part of one write of it.
type benchBook interface {
	Read(f func(*sqlite.Tx) error) error
	Write(f func(*sqlite.Tx) error) error
}

// context is where one step of the run works.
func (b *benchDoor) context(tx *sqlite.Tx) (*actContext, error) {
	ac, err := newActContext(b.env, b.c, tx)
	if err == nil && !b.pressed.IsZero() && b.pressed.Before(ac.now) {
		ac.at = moment(b.pressed.In(ac.zone))
	}
	return ac, err
}

// write runs f in one write of the book.
func (b *benchDoor) write(f func(*actContext) error) error {
	return b.book.Write(func(tx *sqlite.Tx) error {
		ac, err := b.context(tx)
		if err != nil {
			return err
		}
		ac.ids = b.ids
		return f(ac)
	})
}

// look runs f on the book as it is; what f tries to write is taken back.
func (b *benchDoor) look(f func(*actContext) error) error {
	err := b.book.Write(func(tx *sqlite.Tx) error {
		ac, err := b.context(tx)
		if err != nil {
			return err
		}
		if err := f(ac); err != nil {
			return err
		}
		return errOnlyLooked
	})
	if errors.Is(err, errOnlyLooked) {
		return nil
	}
	return err
}

func (b *benchDoor) Explain(err error) string {
	problem, hint := problemOf(err)
	if hint != "" {
		problem += "; " + hint
	}
	return problem
}

func (b *benchDoor) Remark(t timer.Taken, exposure bool) string { return timerRemark(t, exposure) }

// timerRemark is what there is to remark of how a time was taken. Beside that of an exposure stands what was planned, and
// less than a second over is no more than a hand.
func timerRemark(t timer.Taken, exposure bool) string {
	over := t.OverS()
	if exposure || over < 1 {
		over = 0
	}
	return calledfor.TimerRemark(over, t.Slept.Seconds(), t.SetBack.Seconds())
}

// How far back the run looks for what was begun.
const (
	benchPictures = 24
	benchRecent   = 18 * time.Hour
)

func (b *benchDoor) State() (bench.State, error) {
	var out bench.State
	err := b.look(func(ac *actContext) error {
		ac.at = ac.now // a press that comes late meets the book as it is
		look := ac.as()
		var err error
		if b.seen, err = ac.tx.LastSeq(); err != nil {
			return err
		}
		if err := b.pictures(ac, look, &out); err != nil {
			return err
		}
		whole, err := look.OfWhole()
		if err != nil {
			return err
		}
		clocks, err := whole.RunningClocks(ac.now)
		if err != nil {
			return err
		}
		for i := range clocks {
			clocks[i].At = clocks[i].At.In(ac.zone)
		}
		out.Clocks = bench.ClocksOf(clocks)
		x := &events.SheetExposedData{F: 8}
		e, step, err := acts.Plan(look, ac.entry(x))
		if err != nil {
			if wording.Refused(err) { // two sessions open, no paper: told where the exposure is planned
				return nil
			}
			return err
		}
		out.Session = e.Data.(*events.SheetExposedData).Session
		if step.Serving == nil {
			return nil
		}
		r, ok := step.Serving.Data.(*events.LightMeteredData)
		if !ok || ac.now.Sub(step.Serving.At) > benchRecent {
			return nil
		}
		out.Reading = &bench.Reading{Text: snapshot.ReadingText(r), At: step.Serving.At.In(ac.zone)}
		if r.Text != "" {
			out.Reading.Text += "; " + r.Text
		}
		if r.F != nil {
			out.Reading.F = *r.F
		}
		return nil
	})
	return out, err
}

// pictures lists the pictures that were worked on of late or wait, in the order of their exposure, and what was done last.
func (b *benchDoor) pictures(ac *actContext, look *snapshot.Snapshot, out *bench.State) error {
	views, err := ac.tx.Views(events.ViewQuery{Kind: events.Picture, Limit: benchPictures})
	if err != nil {
		return err
	}
	waiting, err := acts.Waiting(look)
	if err != nil {
		return err
	}
	var names []string
	for _, v := range views {
		names = append(names, v.Entity.Name)
	}
	waits := map[string]bool{}
	for _, s := range waiting {
		name, _, _ := events.SplitSheet(s.Name)
		names, waits[name] = append(names, name), true
	}
	slices.Sort(names)
	for _, name := range slices.Compact(names) {
		p, err := look.Picture(name)
		if err != nil {
			return err
		}
		if len(p.All) == 0 || !waits[name] && ac.now.Sub(p.Last) > benchRecent {
			continue
		}
		out.Pictures = append(out.Pictures, benchPicture(p))
	}
	slices.SortStableFunc(out.Pictures, func(a, b bench.Picture) int { return a.Exposed.Compare(b.Exposed) })
	return b.last(ac, look, out)
}

func benchPicture(p *snapshot.Picture) bench.Picture {
	out := bench.Picture{Name: p.Entity.Name, Subject: p.Subject, Last: p.Last}
	var since time.Time // from when a reading on the negative serves the next print
	for _, s := range p.Sheets {
		x := bench.Sheet{Name: s.Name, State: s.State}
		if v := s.Verdict(); v != nil {
			x.Verdict = v.Verdict
		}
		ex := s.Exposure()
		if s.Generation != snapshot.Negative {
			if ex != nil {
				out.Prints = append(out.Prints, x)
			}
			continue
		}
		out.Negative = x
		if ex != nil {
			out.Exposed = ex.At
			if data, ok := ex.Data.(*events.SheetExposedData); ok {
				out.Again = data.Again
			}
		}
		if len(s.Developed) > 0 {
			since = s.Developed[0].At
		}
	}
	for _, e := range p.Entries {
		if r, ok := e.Data.(*events.LightMeteredData); ok && r.On == "negative" && !since.IsZero() && !e.At.Before(since) {
			out.Metered = true
		}
	}
	return out
}

// Acts that the run writes, and that it takes back.
var benchActs = []events.Kind{events.LightMetered, events.SheetExposed, events.SheetReprinted, events.SheetDeveloped, events.SheetRinsed,
	events.SheetFixed, events.SheetWashed, events.SheetJudged, events.MomentMarked, events.BathTested}

// last finds what was done last that still counts.
func (b *benchDoor) last(ac *actContext, look *snapshot.Snapshot, out *bench.State) error {
	recent, err := ac.tx.Entries(events.Query{From: ac.now.Add(-benchRecent), To: ac.now, Newest: true, Limit: 60})
	if err != nil {
		return err
	}
	if cam, err := ac.camera(); err == nil && cam != nil {
		out.Lens = bench.Lens{Widest: cam.FWidest, Smallest: cam.FSmallest}
	}
	var last *events.Entry
	newest := time.Time{}
	folded := events.Fold(recent)
	for i := range folded {
		e := &folded[i]
		if !slices.Contains(benchActs, e.Kind) {
			continue
		}
		if last == nil || e.Seq > last.Seq {
			last = e
		}
		if name, _, ok := events.SplitSheet(events.SheetOf(e.Data)); ok && !e.At.Before(newest) {
			out.Newest, newest = name, e.At
		}
		r, ok := e.Data.(*events.LightMeteredData)
		if ok && r.Picture != "" && !e.At.Before(newest) {
			out.Newest, newest = r.Picture, e.At
		}
		if ok && r.F != nil && r.TimeS != nil { // the newest comes first
			kept := &out.Scene
			if r.On == "negative" {
				kept = &out.OnNegative
			}
			if *kept == nil {
				*kept = &bench.Reading{Text: snapshot.ReadingText(r), At: e.At, F: *r.F, TimeS: *r.TimeS}
			}
		}
	}
	if last == nil {
		return nil
	}
	out.Last = &bench.Done{ID: last.ID.String(), Text: look.Sentence(*last)}
	if !last.Batch.IsZero() {
		out.Last.Batch = last.Batch.String()
	}
	return nil
}

func (b *benchDoor) TakeBack(done bench.Done) error {
	return b.write(func(ac *actContext) error {
		if done.Batch != "" {
			_, err := ac.voidBatch(done.Batch)
			return err
		}
		_, err := ac.void([]string{done.ID})
		return err
	})
}

// Changed says whether the book was written to since its state was asked, by whomever.
func (b *benchDoor) Changed() (bool, error) {
	changed := false
	err := b.book.Read(func(tx *sqlite.Tx) error {
		now, err := tx.LastSeq()
		changed = now != b.seen
		return err
	})
	return changed, err
}

func (b *benchDoor) Start(at time.Time, clocks ...*events.ClockStartedData) ([]events.Entry, error) {
	var out []events.Entry
	err := b.write(func(ac *actContext) (err error) {
		out, err = ac.startClocks(at, clocks...)
		return err
	})
	return out, err
}

// startClocks writes clocks that began at a moment, together.
func (ac *actContext) startClocks(at time.Time, clocks ...*events.ClockStartedData) ([]events.Entry, error) {
	var out []events.Entry
	if len(clocks) > 1 {
		ac.batch = newID()
	}
	ac.at = moment(at.In(ac.zone))
	for _, x := range clocks {
		a, err := ac.write(x)
		if err != nil {
			return nil, err
		}
		out = append(out, a.Entry)
	}
	return out, nil
}

func (b *benchDoor) Forget(clocks ...events.Entry) error {
	return b.write(func(ac *actContext) error { return ac.forgetClocks(clocks...) })
}

// forgetClocks takes back clocks whose act never happened.
func (ac *actContext) forgetClocks(clocks ...events.Entry) error {
	for _, e := range clocks {
		if _, err := ac.write(&events.EntryVoidedData{Entry: e.ID.String(), Why: "it never happened"}); err != nil {
			return err
		}
	}
	return nil
}

func (b *benchDoor) Ended(typed string, began, now time.Time) (time.Time, error) {
	return endedAt(typed, began, now)
}

// endedAt reads when something ended that began at a moment: 14:49, 14:49:10, or how long it lasted.
func endedAt(typed string, began, now time.Time) (time.Time, error) {
	typed = strings.TrimSpace(typed)
	end, err := line.ParseAt(typed, now, began.Location())
	if err != nil {
		s, long := line.Parse(line.Seconds, typed)
		if long != nil {
			return end, line.Refuse("type the time of day, 14:49 or 14:49:10, or how long it lasted, 90s or 1min 50s", "%s is no time", line.Quote(typed))
		}
		end = began.Add(timer.Duration(s))
	}
	between := "it began at " + began.Format("15:04:05") + ", and it is " + now.In(began.Location()).Format("15:04:05") + " now"
	switch {
	case end.After(now):
		return end, line.Refuse(between, "%s is still to come", line.Quote(typed))
	case !end.After(began) && began.Sub(end) < time.Minute && end.Second() == 0: // 14:47 of what began at 14:47:02
		return end, line.Refuse(between+"; give the seconds, too", "%s lies before it began", line.Quote(typed))
	case !end.After(began):
		return end, line.Refuse(between, "%s lies before it began", line.Quote(typed))
	}
	return end, nil
}

func (b *benchDoor) Try(acts ...bench.Act) ([]string, error) {
	var odd []string
	err := b.look(func(ac *actContext) error {
		for _, a := range acts {
			answer, err := ac.write(events.Clone(a.Data))
			if err != nil {
				return err
			}
			odd = append(odd, wording.Texts(answer.Warnings)...)
		}
		return nil
	})
	return odd, err
}

func (b *benchDoor) Write(acts ...bench.Act) ([]string, error) {
	var said []string
	err := b.write(func(ac *actContext) error {
		said = nil
		if len(acts) > 1 {
			ac.batch = newID()
		}
		pressed := ac.at
		for _, a := range acts {
			ac.at = pressed
			if !a.At.IsZero() {
				ac.at = moment(a.At.In(ac.zone))
			}
			answer, err := ac.write(events.Clone(a.Data))
			if err != nil {
				return err
			}
			line := answer.Understood
			if called := calledFor(answer); called != "" {
				line += "; " + called
			}
			said = append(said, line)
			for _, w := range answer.Warnings {
				said = append(said, "! "+w.Text())
			}
		}
		return nil
	})
	if told := clockTold(b.env); err == nil && told != nil && !b.clockTold {
		b.clockTold = true
		said = append(said, "! "+told.Text)
	}
	return said, err
}

// twoNumbers is a reading as a wet hand types it: aperture and time, without units; behind them words, such as what was read.
var twoNumbers = line.NewPattern(`^(?:[fF]/?)?(\d+(?:[.,]\d+)?)[ /]+(\d+(?:[.,/]\d+)?)((?: +[a-z][a-z-]+)*)$`)

func (b *benchDoor) Meter(typed, picture string) (bench.Act, error) {
	words := strings.Fields(typed)
	if m := twoNumbers.FindStringSubmatch(typed); m != nil {
		words = append([]string{"f/" + m[1], m[2] + "s"}, strings.Fields(m[3])...)
	}
	var out bench.Act
	err := b.look(func(ac *actContext) error {
		data, err := parseAct(events.LightMetered, nil, words, ac.known)
		if err != nil {
			return err
		}
		x := data.(*events.LightMeteredData)
		x.On = "scene"
		if picture != "" {
			x.On, x.Picture = "negative", picture
		}
		if x.F == nil && x.EV == nil && x.Lux == nil && x.CdM2 == nil {
			return line.Refuse("type aperture and time, such as 8 4 for f/8 and 4 s, or 11ev", "%s is no reading", line.Quote(typed))
		}
		out.Data = x
		return readyReading(ac, x)
	})
	return out, err
}

func (b *benchDoor) Number(field, typed string) (float64, error) {
	kind := events.SheetExposed
	dim := line.Millimetres
	if field == "temp_c" {
		kind, dim = events.SheetDeveloped, line.Celsius
	}
	if dim == line.Millimetres && strings.Trim(typed, "0123456789.,") == "" && typed != "" {
		typed += "m" // how far a subject is, is said in metres
	}
	v, err := line.Parse(dim, typed)
	if err != nil {
		return 0, err
	}
	f, _ := events.FieldOf(kind, field)
	return line.Tidy(v), f.CheckValue(kind, line.Tidy(v))
}

// Call calculates what a step calls for.
func (b *benchDoor) Call(at bench.Place, f, distanceMM float64) (bench.Call, error) {
	var out bench.Call
	err := b.look(func(ac *actContext) error {
		var err error
		switch at.Step {
		case bench.AtCall, bench.AtCap:
			out, err = ac.benchExposure(at, f, distanceMM)
		case bench.AtCopyCall, bench.AtCopyCap:
			out, err = ac.benchCopy(at, f)
		case bench.AtDevelop:
			out, err = ac.benchBath(&events.SheetDevelopedData{Sheet: at.Sheet})
		case bench.AtRinse:
			out, err = ac.benchRinse(at.Sheet)
		case bench.AtFix:
			out, err = ac.benchBath(&events.SheetFixedData{Sheet: at.Sheet})
		case bench.AtWash:
			out, err = ac.benchWash(at.Sheet)
		}
		if err != nil {
			return err
		}
		return ac.tryStep(at, distanceMM, &out)
	})
	return out, err
}

// tryStep writes the act that a step comes to, so that what is refused of it or odd in it is told before it is done. The
// look takes it back.
func (ac *actContext) tryStep(at bench.Place, distanceMM float64, call *bench.Call) error {
	s := call.PlannedS
	if s == 0 {
		return nil // nothing tells how long it lasts, and how long it lasted is told afterwards
	}
	var data events.Data
	switch at.Step {
	case bench.AtCall, bench.AtCap:
		x := &events.SheetExposedData{F: call.F, TimeS: s, Again: at.Again}
		if distanceMM > 0 {
			x.SubjectMM = &distanceMM
		}
		data = x
	case bench.AtCopyCall, bench.AtCopyCap:
		data = &events.SheetReprintedData{Picture: at.Picture, F: &call.F, TimeS: s}
	case bench.AtDevelop:
		data = &events.SheetDevelopedData{Sheet: at.Sheet, Bath: call.Where, TimeS: s}
	case bench.AtRinse:
		data = &events.SheetRinsedData{Sheet: at.Sheet, Bath: call.Where, TimeS: &s}
	case bench.AtFix:
		data = &events.SheetFixedData{Sheet: at.Sheet, Bath: call.Where, TimeS: s}
	default:
		return nil
	}
	answer, err := ac.write(data)
	if err != nil {
		return err
	}
	for _, w := range wording.Texts(answer.Warnings) {
		if !slices.Contains(call.Warnings, w) {
			call.Warnings = append(call.Warnings, w)
		}
	}
	return nil
}

func (ac *actContext) benchExposure(at bench.Place, f, distanceMM float64) (bench.Call, error) {
	if f == 0 {
		f = ac.widest()
	}
	x := &events.SheetExposedData{F: f, Again: at.Again}
	if distanceMM > 0 {
		x.SubjectMM = &distanceMM
	}
	e, step, err := acts.Plan(ac.as(), ac.entry(x))
	if err != nil {
		return bench.Call{}, err
	}
	out, err := ac.exposureCall(e, step)
	if err != nil {
		return out, err
	}
	if distanceMM > 0 {
		out.About = append(out.About, "at "+line.Format(line.Millimetres, distanceMM))
	} else {
		out.About = append(out.About, "taken for far away; say how far where it is nearer")
	}
	return out, nil
}

// widest is the aperture to begin with where a reading names none.
func (ac *actContext) widest() float64 {
	if cam, err := ac.camera(); err == nil && cam != nil {
		return cam.FWidest
	}
	return 8
}

// camera is the one that was described last, nil for none.
func (ac *actContext) camera() (*events.CameraDescribedData, error) {
	cameras, err := ac.tx.Entities(events.Camera)
	if err != nil || len(cameras) == 0 {
		return nil, err
	}
	cam, err := ac.as().Camera(cameras[len(cameras)-1].Name)
	if err != nil {
		return nil, err
	}
	return cam.At(ac.at), nil
}

func (ac *actContext) benchCopy(at bench.Place, f float64) (bench.Call, error) {
	x := &events.SheetReprintedData{Picture: at.Picture}
	if f > 0 {
		x.F = &f
	}
	e, step, err := acts.Plan(ac.as(), ac.entry(x))
	if err != nil {
		return bench.Call{}, err
	}
	if step.SetF == 0 { // no usual aperture for copies: that of the reading, else the one that copies are often made at
		usual := 11.0
		if step.Serving != nil {
			if r, ok := step.Serving.Data.(*events.LightMeteredData); ok && r.F != nil {
				usual = *r.F
			}
		}
		x.F = &usual
		if e, step, err = acts.Plan(ac.as(), ac.entry(x)); err != nil {
			return bench.Call{}, err
		}
	}
	return ac.exposureCall(e, step)
}

func (ac *actContext) exposureCall(e events.Entry, step calledfor.Step) (bench.Call, error) {
	before, err := acts.BeforeExposure(ac.as(), e, step)
	if err != nil {
		return bench.Call{}, err
	}
	out := bench.Call{Sheet: events.SheetOf(e.Data), Where: events.PlacesOf(e.Data).Box, Reading: events.ReadingOf(e.Data), F: step.SetF, Warnings: wording.Texts(append(before, step.Warnings...))}
	call, ok := step.Call()
	if ok {
		out.Told = call.Told()
	}
	if ok && !call.TooDark() {
		out.PlannedS = call.S
	}
	if c := step.Called; c != nil {
		if !call.TooDark() {
			out.PlannedS = c.SetTimeS
		}
		out.Breakdown = append(out.Breakdown, "from "+wording.Seconds(c.FromTimeS)+" at f/"+wording.Number(c.FromF))
		for _, f := range c.Stops {
			if math.Abs(f.Stops) >= 0.005 {
				out.Breakdown = append(out.Breakdown, "  "+f.Factor+" "+wording.StopsText(f.Stops))
			}
		}
	}
	if x, ok := e.Data.(*events.SheetExposedData); ok {
		lens, err := wording.IgnoreMissing(calledfor.CameraFor(ac.as(), e, x.Session, x.Camera))
		if err != nil {
			return bench.Call{}, err
		}
		if lens != nil && calc.ExactF(out.F) > calc.ExactF(lens.FWidest)*1.03 { // a ground glass is looked at with the lens wide open
			out.About = append(out.About, "the lens at "+line.Format(line.FNumber, out.F)+", or still at "+line.Format(line.FNumber, lens.FWidest)+" from focusing?")
		}
	}
	return out, nil
}

func (ac *actContext) benchBath(data events.Data) (bench.Call, error) {
	e, step, err := acts.Plan(ac.as(), ac.entry(data))
	if err != nil {
		return bench.Call{}, err
	}
	out := bench.Call{Sheet: events.SheetOf(e.Data), Where: events.PlacesOf(e.Data).Bath, Warnings: wording.Texts(step.Warnings)}
	if call, ok := step.Call(); ok {
		out.PlannedS, out.Told = wording.HandSeconds(call.S), call.Told()
	}
	bath, err := ac.as().Bath(out.Where)
	if err != nil {
		return out, err
	}
	if step.Bath != nil {
		out.TempC = &step.TempC
		out.About = []string{said.BathTemp(step.Bath.Age.Temp, ac.at) + ", " + wording.Percent(step.Used) + " used"}
	}
	if bath.Mixed != nil && bath.Mixed.TimeS != nil {
		out.Breakdown = []string{"fresh " + wording.Seconds(*bath.Mixed.TimeS)}
	}
	return out, nil
}

func (ac *actContext) benchRinse(sheet string) (bench.Call, error) {
	out := bench.Call{Sheet: sheet}
	for _, role := range []string{"stop", "water"} {
		b, err := acts.BathInUse(ac.as(), role)
		if err != nil {
			return out, err
		}
		if b == nil {
			continue
		}
		out.Where = b.Entity.Name
		if b.Mixed != nil && b.Mixed.TimeS != nil {
			out.PlannedS = *b.Mixed.TimeS
		}
		return out, nil
	}
	out.About = []string{"neither stop nor water is mixed: a rinse is written without a bath"}
	return out, nil
}

func (ac *actContext) benchWash(sheet string) (bench.Call, error) {
	p, err := ac.planWash(timedPlan{}, &events.SheetWashedData{Sheet: sheet})
	return bench.Call{Sheet: sheet, PlannedS: p.planned, Changes: p.changes}, err
}
