package acts

import (
	"slices"
	"strings"
	"time"

	"traybook/events"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
)

// Plan says what an act would call for, without writing it: the act as the book would fill it in, and its step. The act
// may lack its time. The snapshot must be as of the act.
func Plan(snap *snapshot.Snapshot, e events.Entry) (events.Entry, calledfor.Step, error) {
	e.Data = events.Clone(e.Data)
	if err := ApplyDefaults(snap, &e, true); err != nil {
		return e, calledfor.Step{}, err
	}
	places := events.PlacesOf(e.Data)
	for _, r := range []events.Ref{{Kind: events.Box, Name: places.Box}, {Kind: events.Bath, Name: places.Bath}, {Kind: events.Session, Name: places.Session}} {
		if r.Name == "" {
			continue
		}
		if err := checkRef(snap, &e, r, nil); err != nil { // Step would take a name that is not there for one that tells nothing
			return e, calledfor.Step{}, err
		}
	}
	stream := places.Stream
	p := &snapshot.Picture{Entity: events.Entity{Kind: events.Picture, Name: stream.Name}}
	t, there, err := snap.R.Entity(stream.Name)
	if err != nil {
		return e, calledfor.Step{}, err
	}
	if there && t.Kind == events.Picture {
		if p, err = snap.PictureOf(t); err != nil {
			return e, calledfor.Step{}, err
		}
	}
	s, err := calledfor.StepOf(snap, p, e)
	return e, s, err
}

// BoxInHand is the box that an act of a kind would take from as of the snapshot's moment: the one last used for it.
func BoxInHand(snap *snapshot.Snapshot, k events.Kind) (*snapshot.Box, error) {
	data, _ := events.New(k)
	name, err := boxInUse(snap, &incomplete{Entry: &events.Entry{Kind: k, At: snap.AsOf, Data: data}})
	if err != nil {
		return nil, err
	}
	return snap.Box(name)
}

// NewestNegative is the picture whose negative was developed last as of the snapshot's moment.
func NewestNegative(snap *snapshot.Snapshot) (string, error) {
	return newestNegative(snap, &incomplete{Entry: &events.Entry{At: snap.AsOf, Data: &events.SheetReprintedData{}}})
}

// NewestPicture is the picture with the largest number that has an exposure which counts, "" for none.
func NewestPicture(snap *snapshot.Snapshot) (string, error) {
	const few = 20 // numbers voided in a row before a picture is looked for no longer
	views, err := snap.R.Views(events.ViewQuery{Kind: events.Picture, Limit: few})
	if err != nil {
		return "", err
	}
	for _, v := range views {
		p, err := snap.PictureOf(v.Entity)
		if err != nil {
			return "", err
		}
		if len(p.Sheets) > 0 {
			return v.Entity.Name, nil
		}
	}
	return "", nil
}

// NewestSheet is the sheet of a picture that was exposed last, nil for none.
func NewestSheet(p *snapshot.Picture) *snapshot.Sheet {
	var out *snapshot.Sheet
	for _, s := range p.Sheets {
		if e := s.Exposure(); e != nil && (out == nil || events.Compare(*e, *out.Exposure()) >= 0) {
			out = s
		}
	}
	return out
}

// UnusedMark finds the latest moment marked that no act has taken its time from; nil for none. A mark is used when an
// act began at its very instant.
func UnusedMark(snap *snapshot.Snapshot) (*events.Entry, error) {
	const recent = 3 // sessions in which a mark may still wait
	streams, err := snap.R.Views(events.ViewQuery{Kind: events.Session, Limit: recent})
	if err != nil {
		return nil, err
	}
	var entities []events.Entity
	for _, v := range streams {
		entities = append(entities, v.Entity)
	}
	if t, ok, err := snap.R.Entity(events.BookEntity); err != nil {
		return nil, err
	} else if ok {
		entities = append(entities, t)
	}
	var marks []events.Entry
	for _, t := range entities {
		found, err := snap.Entries(events.Query{Stream: t.ID, Kinds: []events.Kind{events.MomentMarked}, Newest: true, Limit: 100})
		if err != nil {
			return nil, err
		}
		marks = append(marks, found...)
	}
	slices.SortFunc(marks, func(a, b events.Entry) int { return events.Compare(b, a) })
	for i := range marks {
		used, err := markUsed(snap, marks[i])
		if err != nil {
			return nil, err
		}
		if !used {
			return &marks[i], nil
		}
	}
	return nil, nil
}

func markUsed(snap *snapshot.Snapshot, mark events.Entry) (bool, error) {
	same, err := snap.Entries(events.Query{From: mark.At, To: mark.At})
	if err != nil {
		return false, err
	}
	for _, e := range same {
		if e.Kind != events.MomentMarked && e.At.Equal(mark.At) && events.Compare(mark, e) < 0 {
			return true, nil
		}
	}
	return false, nil
}

// WaitingNames lists the names of sheets, as a person reads them.
func WaitingNames(sheets []*snapshot.Sheet) string {
	names := make([]string, len(sheets))
	for i, s := range sheets {
		names[i] = s.Name
	}
	return strings.Join(names, ", ")
}

// ZoneOf is the zone in which the book's bare times are meant: that of the book.opened that counts and was recorded
// last, "" where there is none.
func ZoneOf(snap *snapshot.Snapshot) (string, error) {
	t, ok, err := snap.R.Entity(events.BookEntity)
	if err != nil || !ok {
		return "", err
	}
	found, err := snap.Entries(events.Query{Stream: t.ID, Kinds: []events.Kind{events.BookOpened}})
	if err != nil {
		return "", err
	}
	zone, when := "", time.Time{}
	for _, e := range found {
		if x := e.Data.(*events.BookOpenedData); !e.RecordedAt.Before(when) {
			zone, when = x.Zone, e.RecordedAt
		}
	}
	return zone, nil
}
