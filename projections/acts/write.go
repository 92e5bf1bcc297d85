package acts

import (
	"slices"

	"traybook/events"
	"traybook/events/names"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
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
func Write(w events.Writer, e *events.Entry, o WriteOptions) (wording.Answer, error) {
	f := snapshot.NewFollower(w)
	snap := f.SnapshotAt(e.At)
	if err := ApplyDefaults(snap, e, true); err != nil {
		return wording.Answer{}, err
	}
	if err := events.Validate(e.Data); err != nil {
		return wording.Answer{}, err
	}
	if err := Check(snap, e, nil); err != nil {
		return wording.Answer{}, err
	}
	if !o.EvenSo {
		if err := CheckNumbers(snap, e, false); err != nil {
			return wording.Answer{}, err
		}
		if err := KeepNamesOut(w, e.Data, func() (names.List, error) { return names.Of(o.Names...), nil }); err != nil {
			return wording.Answer{}, err
		}
	}
	whole, err := snap.OfWhole()
	if err != nil {
		return wording.Answer{}, err
	}
	warnings, err := warningsOf(whole, e)
	if err != nil {
		return wording.Answer{}, err
	}
	ahead, err := snap.Ahead()
	if err != nil {
		return wording.Answer{}, err
	}
	if err := f.Append(w, e); err != nil {
		return wording.Answer{}, err
	}
	if ahead { // amendments that came later count for the act, and not for what comes next
		snap = snapshot.New(w, e.At)
	}
	a, err := answer(snap, *e)
	a.Warnings = append(warnings, withoutSaid(a.Warnings, warnings)...)
	return a, err
}

// withoutSaid leaves out of the warnings of a step that its bath was discarded, where the surprises say when.
func withoutSaid(warnings, surprises []wording.Warning) []wording.Warning {
	return slices.DeleteFunc(warnings, func(w wording.Warning) bool {
		return w.Of == calledfor.DiscardedBefore && slices.ContainsFunc(surprises, func(s wording.Warning) bool {
			return s.Of == bathDiscarded && s.Field("bath") == w.Field("bath")
		})
	})
}

// AnswerTo says what the book makes of an entry that is kept.
func AnswerTo(r events.Reader, e events.Entry) (wording.Answer, error) {
	return answer(snapshot.New(r, e.At), e)
}

// answer says what the book makes of an entry that is kept. The snapshot is as of the act.
func answer(then *snapshot.Snapshot, e events.Entry) (wording.Answer, error) {
	a := wording.Answer{Entry: e, Sheet: events.SheetOf(e.Data)}
	if c := events.CarriedOf(e.Data); c != nil {
		a.Session = c.Session
	}
	snap, err := then.OfWhole()
	if err != nil {
		return a, err
	}
	stream, err := snap.R.StreamOf(e.ID)
	if err != nil {
		return a, err
	}
	switch stream.Kind {
	case events.Session:
		a.Session = stream.Name
	case events.Picture:
		a.Picture = stream.Name
		p, err := snap.PictureOf(stream)
		if err != nil {
			return a, err
		}
		s, err := calledfor.StepOf(snap, p, e)
		if err != nil {
			return a, err
		}
		a.Unserved = s.Serving == nil && fromALens(e.Data)
		a.LowS, a.HighS = s.Bounds()
		a.CalledForS, a.DoneS, a.DeviationStops, a.Warnings, a.Before = s.CalledForS, s.DoneS, s.DeviationStops, s.Warnings, s.Before
		if a.Next, err = nextOn(then, p, e); err != nil {
			return a, err
		}
	}
	a.Understood = snap.Sentence(e)
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
	_, s, err := snap.SheetByName(a.Sheet)
	if err != nil {
		return a, err
	}
	if e.Kind == events.SheetFixed {
		a.Understood += calledfor.FixedInAll(s, e)
		return a, nil
	}
	left, err := calledfor.WashLeaves(snap, s, e)
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
func fOr(f *float64, usual float64) string { return "f/" + wording.Number(snapshot.ValueOr(f, usual)) }
