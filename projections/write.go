package projections

import (
	"slices"
	"strings"
	"time"

	"traybook/events"
	"traybook/events/names"
)

// WriteOptions say how an act is taken.
type WriteOptions struct {
	EvenSo bool               // write what would be refused for a sitter's name in free text, or for a number far ahead
	Names  []events.SitterRow // of the sitters, to keep them out of free text
}

// Write takes one act: fills in what it leaves out, refuses what is impossible, appends it, and says what the book made
// of it. It runs inside one write of the book, so that what it read cannot change before it is written.
//
// The entry needs Kind, At, Data, ID and RecordedAt (the clock's now); Zone where it is known.
func Write(w events.Writer, e *events.Entry, o WriteOptions) (Answer, error) {
	d := NewDeskForAct(w, e.At)
	if err := d.ApplyDefaults(e, true); err != nil {
		return Answer{}, err
	}
	if err := events.Validate(e.Data); err != nil {
		return Answer{}, err
	}
	if err := d.Check(e, nil); err != nil {
		return Answer{}, err
	}
	if !o.EvenSo {
		if err := d.CheckNumbers(e); err != nil {
			return Answer{}, err
		}
		if err := KeepNamesOut(w, e.Data, func() (names.List, error) { return names.Of(o.Names...), nil }); err != nil {
			return Answer{}, err
		}
	}
	surprises, err := NewDesk(w, time.Time{}).surprises(e)
	if err != nil {
		return Answer{}, err
	}
	if err := w.Append(e); err != nil {
		return Answer{}, err
	}
	a, err := AnswerTo(w, *e)
	a.Warnings = append(surprises, withoutSaid(a.Warnings, surprises)...)
	return a, err
}

// withoutSaid leaves out of the warnings of a step that its bath was discarded, where the surprises say when.
func withoutSaid(warnings, surprises []string) []string {
	return slices.DeleteFunc(warnings, func(w string) bool {
		bath, of := strings.CutSuffix(w, discardedBefore)
		return of && slices.ContainsFunc(surprises, func(s string) bool { return strings.HasPrefix(s, bath+" was discarded at ") })
	})
}

// AnswerTo says what the book makes of an entry that is kept.
func AnswerTo(r events.Reader, e events.Entry) (Answer, error) {
	d := NewDesk(r, time.Time{})
	a := Answer{Entry: e, Sheet: events.SheetOf(e.Data)}
	if c := events.CarriedOf(e.Data); c != nil {
		a.Session = c.Session
	}
	home, err := r.HomeOf(e.ID)
	if err != nil {
		return a, err
	}
	switch home.Kind {
	case events.Session:
		a.Session = home.Name
	case events.Picture:
		a.Picture = home.Name
		p, err := d.pictureOf(home)
		if err != nil {
			return a, err
		}
		s, err := d.Step(p, e)
		if err != nil {
			return a, err
		}
		a.Unserved = s.Serving == nil && fromALens(e.Data)
		a.CalledForS, a.DoneS, a.DeviationStops, a.Warnings, a.Before = s.CalledForS, s.DoneS, s.DeviationStops, s.Warnings, s.Before
		if a.Next, err = nextOn(r, p, e); err != nil {
			return a, err
		}
	}
	a.Understood = d.Sentence(e)
	if x, ok := e.Data.(*events.LightMeteredData); ok && x.On == "negative" {
		a.Next = "reprint: traybook reprint " + fOr(x.F, 11) + " shows what it calls for"
	} else if ok {
		a.Next = "expose: traybook expose " + fOr(x.F, 8) + " shows what it calls for"
	}
	if e.Kind == events.BathMixed && a.Session != "" {
		a.Next = nextAfter[events.SessionOpened]
	}
	if a.Next == "" {
		a.Next = nextAfter[e.Kind]
	}
	if e.Kind != events.SheetWashed && e.Kind != events.SheetFixed {
		return a, nil
	}
	_, s, err := d.SheetByName(a.Sheet)
	if err != nil {
		return a, err
	}
	if e.Kind == events.SheetFixed {
		a.Understood += fixedInAll(s, e)
		return a, nil
	}
	left, err := d.washLeaves(s, e)
	a.Understood += left
	return a, err
}

// fromALens says whether an act is an exposure through the camera's lens, which a reading calls for.
func fromALens(data events.Data) bool {
	switch x := data.(type) {
	case *events.SheetExposedData:
		return true
	case *events.SheetReprintedData:
		return x.Way == "" || x.Way == "camera"
	}
	return false
}

var nextAfter = map[events.Kind]string{
	events.BookOpened:      "describe the camera: traybook camera describe quay-box --focal 135mm --f-widest 5.6 --f-smallest 32",
	events.CameraDescribed: "bring paper in: traybook paper receive \"glossy paper\" rc 9x12cm --sheets 100 --index 3",
	events.PaperReceived:   "mix the baths: traybook bath mix developer 1l 1+9 60s",
	events.BathMixed:       "open a session: traybook session open",
	events.SessionOpened:   "meter the light: traybook meter f/8 4s",
	events.StripExposed:    "develop it and read it: traybook strip read",
}

// fOr is an aperture as it is typed: the one that was read at, else a usual one.
func fOr(f *float64, usual float64) string { return "f/" + Number(orF(f, usual)) }
