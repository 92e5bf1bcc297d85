package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/said"
	"traybook/cmd/traybook/screen"
	"traybook/events"
	"traybook/events/sqlite"
	"traybook/projections/acts"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// planKept is where the book keeps what it showed last, planHolds how long that counts as the plan.
const (
	planKept  = "plan"
	planHolds = 30 * time.Minute
)

// shownPlan is a called-for time that was shown before the act. It becomes the plan of the act only because it was
// shown: a time that nobody saw was nobody's plan, and `why` would lay to the hand what was left out in the calculation.
// It is the plan of what it was shown for: a sheet of a box behind a filter, at a distance, with an aperture, by a reading. Where
// no distance was given only the reading tells one picture from the next.
type shownPlan struct {
	Sheet   string    `json:"sheet"`
	For     string    `json:"for"`
	Reading string    `json:"reading"`
	F       float64   `json:"f"`
	S       float64   `json:"s"`
	At      time.Time `json:"at"`
}

// plan is what planned looks at in the data of an exposure.
type plan struct {
	time               float64
	plannedF, plannedS **float64
}

// planned answers an exposure without its time with what it calls for, and puts what was shown so into the exposure
// that follows.
func (ac *actContext) planned(data events.Data, p *plan) error {
	if p.time == 0 {
		return ac.callFor(data)
	}
	text, err := ac.tx.Meta(planKept)
	if err != nil || text == "" || *p.plannedS != nil || *p.plannedF != nil {
		return err
	}
	var shown shownPlan
	if json.Unmarshal([]byte(text), &shown) != nil {
		return ac.tx.SetMeta(planKept, "")
	}
	if age := ac.at.Sub(shown.At); age < -planHolds || age > planHolds {
		return nil
	}
	if err := ac.resolve(data); err != nil {
		return err
	}
	e, step, err := acts.Plan(ac.as(), ac.entry(data))
	if err != nil || events.SheetOf(e.Data) != shown.Sheet || step.SetF != shown.F || plannedFor(e.Data) != shown.For || readingOf(step) != shown.Reading {
		return nil // what is wrong with it is said when it is written
	}
	f, s := shown.F, shown.S
	*p.plannedF, *p.plannedS = &f, &s
	ac.note("planned %s at f/%s, as shown at %s", wording.Seconds(s), wording.Number(f), shown.At.In(ac.zone).Format("15:04"))
	return ac.tx.SetMeta(planKept, "")
}

// plannedFor is what beside its sheet and aperture a plan was made for.
func plannedFor(data events.Data) string {
	number := func(v *float64) float64 { return snapshot.ValueOr(v, 0) }
	switch x := data.(type) {
	case *events.SheetExposedData:
		return fmt.Sprintf("%s, filter %q, %g mm, extension %g mm", x.Box, x.Filter, number(x.SubjectMM), number(x.ExtensionMM))
	case *events.SheetReprintedData:
		return fmt.Sprintf("%s, filter %q, %g:1, extension %g mm", x.Box, x.Filter, number(x.Magnification), number(x.ExtensionMM))
	}
	return ""
}

// readingOf is the reading, or the earlier print, from which a time was worked out; "" for none.
func readingOf(step calledfor.Step) string {
	if step.Serving == nil {
		return ""
	}
	return step.Serving.ID.String()
}

// callFor ends an act that lacks its time: it carries what the act calls for. What is shown of an exposure is kept as
// its plan.
func (ac *actContext) callFor(data events.Data) error {
	notes := slices.Clone(ac.notes) // what resolving writes in is taken back with the rest
	if err := ac.resolve(data); err != nil {
		return err
	}
	e, step, err := acts.Plan(ac.as(), ac.entry(data))
	if err != nil {
		return err
	}
	if err := ac.complete(e.Data); err != nil {
		return err
	}
	odd, err := acts.ValueWarnings(ac.as(), e)
	if err != nil {
		return err
	}
	notes = append(notes, odd...)
	if e.Kind == events.SheetExposed || e.Kind == events.SheetReprinted {
		before, err := acts.BeforeExposure(ac.as(), e, step)
		if err != nil {
			return err
		}
		notes = append(notes, before...)
	}
	out := &calledForOnly{entry: e, step: step, notes: notes}
	if step.CalledForS == nil {
		return out
	}
	out.setS = *step.CalledForS
	switch e.Kind {
	case events.SheetExposed, events.SheetReprinted:
		if step.Called != nil {
			out.setS = step.Called.SetTimeS
		}
		raw, err := json.Marshal(shownPlan{Sheet: events.SheetOf(e.Data), For: plannedFor(e.Data), Reading: readingOf(step), F: step.SetF, S: out.setS, At: ac.at})
		if err != nil {
			return err
		}
		out.keep = string(raw)
	default:
		out.setS = wording.HandSeconds(out.setS)
	}
	return out
}

// complete refuses an act that lacks more than its time.
func (ac *actContext) complete(data events.Data) error {
	trial := events.Clone(data)
	f, ok := events.FieldOf(trial.Kind(), "time_s")
	if !ok {
		return nil
	}
	if err := f.Put(trial, 1.0); err != nil {
		return err
	}
	return events.Validate(trial)
}

// calledForOnly says that an act had no time: nothing was written, and what it calls for is the answer.
type calledForOnly struct {
	entry events.Entry
	step  calledfor.Step
	setS  float64
	keep  string
	notes []wording.Warning
}

func (c *calledForOnly) Error() string { return "no time was given, so no entry was written" }

// told answers an act without its time; other errors pass through.
func told(env *Env, c *cli.Context, err error) error {
	var only *calledForOnly
	if !errors.As(err, &only) {
		return err
	}
	if only.keep != "" {
		// The plan is a convenience: where it cannot be kept, the answer still stands.
		_ = withBook(env, c, false, func(book *sqlite.Book) error {
			return book.Write(func(tx *sqlite.Tx) error { return tx.SetMeta(planKept, only.keep) })
		})
	}
	if err := only.print(env, c); err != nil {
		return err
	}
	hint := "do it, then write it down with its time"
	if call, ok := only.step.Call(); ok && !call.TooDark() {
		hint += ", such as " + wording.Seconds(only.setS)
	}
	return line.Refuse(hint, "%s", only.Error())
}

// plannedJSON is what a sheet calls for, where nothing is written.
type plannedJSON struct {
	Sheet      string            `json:"sheet"`
	CalledForS *float64          `json:"called_for_s"` // null where nothing calls for a time
	LowS       *float64          `json:"low_s"`        // between low and high it is known
	HighS      *float64          `json:"high_s"`       // upper bound; null where nothing is known of them
	SetTimeS   *float64          `json:"set_time_s"`   // the nearest time that a hand with a watch aims at; null where nothing calls for a time
	Stops      []factorJSON      `json:"stops"`        // what makes up the exposure, factor by factor
	Warnings   []wording.Warning `json:"warnings"`
}

func (o *calledForOnly) print(env *Env, c *cli.Context) error {
	sheet := events.SheetOf(o.entry.Data)
	warnings := append(o.notes, o.step.Warnings...)
	if c.Bool("json") {
		out := plannedJSON{Sheet: sheet, CalledForS: o.step.CalledForS, Stops: []factorJSON{}, Warnings: orEmpty(warnings)}
		if o.step.CalledForS != nil {
			out.SetTimeS = &o.setS
			out.LowS, out.HighS = o.step.Bounds()
		}
		if o.step.Called != nil {
			for _, f := range o.step.Called.Stops {
				out.Stops = append(out.Stops, factorJSON{f.Factor, f.Stops})
			}
		}
		return writeJSON(env.Out, out)
	}
	s := screenOf(env, c)
	if o.step.CalledForS == nil {
		text := sheet + ": nothing tells what it calls for (no reading, no nominal time)"
		if x, ok := o.entry.Data.(*events.SheetReprintedData); ok && o.step.Serving == nil && (x.Way == "" || x.Way == "camera") {
			text = sheet + ": no reading tells what it calls for; traybook meter negative f/11 2s card writes one"
		} else if o.step.Serving == nil && o.entry.Kind == events.SheetExposed {
			text = sheet + ": no reading tells what it calls for; traybook meter f/8 4s writes one"
		}
		if b := o.step.Bath; b != nil && b.TooCold() {
			text = sheet + ": " + line.Format(line.Celsius, b.TempC) + " is too cold to develop at"
		}
		s.Say(screen.Plain, text)
	} else {
		where := ""
		if o.step.SetF > 0 {
			where = " at f/" + wording.Number(o.step.SetF)
		}
		call, _ := o.step.Call()
		text := sheet + where + ": " + wording.TooDark
		if !call.TooDark() {
			text = sheet + " calls for " + call.Time() + where
			if wording.Seconds(o.setS) != call.Time() {
				text += "; set " + wording.Seconds(o.setS)
			}
			if call.LowS != nil {
				text += "; " + wording.Between(*call.LowS, *call.HighS)
			}
		}
		s.Say(screen.Strong, text)
		if called := o.step.Called; called != nil {
			text := "from " + wording.Seconds(called.FromTimeS) + " at f/" + wording.Number(called.FromF)
			for _, f := range called.Stops {
				if math.Abs(f.Stops) < 0.005 {
					continue
				}
				text += ", " + f.Factor + " " + wording.StopsText(f.Stops)
			}
			s.Hang(screen.Plain, "  ", text)
		}
		if bath := o.step.Bath; bath != nil {
			temp := said.BathTemp(bath.Age.Temp, o.entry.At)
			if _, own := tempIn(o.entry.Data); own {
				temp = line.Format(line.Celsius, bath.TempC)
			}
			s.Hang(screen.Plain, "  ", "at "+temp+", "+wording.Percent(bath.Age.Used)+" used")
		}
	}
	warn(s, "  ", warnings)
	return s.Err()
}

// tempIn is the temperature that an act itself gives.
func tempIn(data events.Data) (any, bool) {
	f, ok := events.FieldOf(data.Kind(), "temp_c")
	if !ok {
		return nil, false
	}
	return f.Value(data)
}
