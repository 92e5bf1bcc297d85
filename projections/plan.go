package projections

import (
	"slices"
	"strings"
	"time"

	"traybook/events"
)

// Plan says what an act would call for, without writing it: the act as the book would fill it in, and its step. The act
// may lack its time. The desk must be as of the act.
func (d *Desk) Plan(e events.Entry) (events.Entry, Step, error) {
	e.Data = events.Clone(e.Data)
	if err := d.ApplyDefaults(&e, true); err != nil {
		return e, Step{}, err
	}
	places := events.PlacesOf(e.Data)
	for _, r := range []events.Ref{{Kind: events.Box, Name: places.Box}, {Kind: events.Bath, Name: places.Bath}, {Kind: events.Session, Name: places.Session}} {
		if r.Name == "" {
			continue
		}
		if err := d.checkRef(&e, r, nil); err != nil { // Step would take a name that is not there for one that tells nothing
			return e, Step{}, err
		}
	}
	home := places.Home
	p := &Picture{Thing: events.Thing{Kind: events.Picture, Name: home.Name}}
	t, there, err := d.R.Thing(home.Name)
	if err != nil {
		return e, Step{}, err
	}
	if there && t.Kind == events.Picture {
		if p, err = d.pictureOf(t); err != nil {
			return e, Step{}, err
		}
	}
	s, err := d.Step(p, e)
	return e, s, err
}

// BoxInHand is the box that an act of a kind would take from as of the desk's moment: the one last used for it.
func (d *Desk) BoxInHand(k events.Kind) (*Box, error) {
	data, _ := events.New(k)
	name, err := boxInUse(d, &incomplete{Entry: &events.Entry{Kind: k, At: d.AsOf, Data: data}})
	if err != nil {
		return nil, err
	}
	return d.Box(name)
}

// NewestNegative is the picture whose negative was developed last as of the desk's moment.
func (d *Desk) NewestNegative() (string, error) {
	return newestNegative(d, &incomplete{Entry: &events.Entry{At: d.AsOf, Data: &events.SheetReprintedData{}}})
}

// NewestPicture is the picture with the largest number that has an exposure which counts, "" for none.
func (d *Desk) NewestPicture() (string, error) {
	const few = 20 // numbers voided in a row before a picture is looked for no longer
	views, err := d.R.Views(events.ViewQuery{Kind: events.Picture, Limit: few})
	if err != nil {
		return "", err
	}
	for _, v := range views {
		p, err := d.pictureOf(v.Thing)
		if err != nil {
			return "", err
		}
		if len(p.Sheets) > 0 {
			return v.Thing.Name, nil
		}
	}
	return "", nil
}

// NewestSheet is the sheet of a picture that was exposed last, nil for none.
func (p *Picture) NewestSheet() *Sheet {
	var out *Sheet
	for _, s := range p.Sheets {
		if e := s.Exposure(); e != nil && (out == nil || events.Compare(*e, *out.Exposure()) >= 0) {
			out = s
		}
	}
	return out
}

// UnusedMark finds the latest moment marked that no act has taken its time from; nil for none. A mark is used when an
// act began at its very instant.
func (d *Desk) UnusedMark() (*events.Entry, error) {
	const recent = 3 // sessions in which a mark may still wait
	homes, err := d.R.Views(events.ViewQuery{Kind: events.Session, Limit: recent})
	if err != nil {
		return nil, err
	}
	var things []events.Thing
	for _, v := range homes {
		things = append(things, v.Thing)
	}
	if t, ok, err := d.R.Thing(events.BookThing); err != nil {
		return nil, err
	} else if ok {
		things = append(things, t)
	}
	var marks []events.Entry
	for _, t := range things {
		found, err := d.entries(events.Query{Home: t.ID, Kinds: []events.Kind{events.MomentMarked}, Newest: true, Limit: 100})
		if err != nil {
			return nil, err
		}
		marks = append(marks, found...)
	}
	slices.SortFunc(marks, func(a, b events.Entry) int { return events.Compare(b, a) })
	for i := range marks {
		used, err := d.markUsed(marks[i])
		if err != nil {
			return nil, err
		}
		if !used {
			return &marks[i], nil
		}
	}
	return nil, nil
}

func (d *Desk) markUsed(mark events.Entry) (bool, error) {
	same, err := d.entries(events.Query{From: mark.At, To: mark.At})
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
func WaitingNames(sheets []*Sheet) string {
	names := make([]string, len(sheets))
	for i, s := range sheets {
		names[i] = s.Name
	}
	return strings.Join(names, ", ")
}

// ZoneOf is the zone in which the book's bare times are meant: that of the book.opened that counts and was recorded
// last, "" where there is none.
func (d *Desk) ZoneOf() (string, error) {
	t, ok, err := d.R.Thing(events.BookThing)
	if err != nil || !ok {
		return "", err
	}
	found, err := d.entries(events.Query{Home: t.ID, Kinds: []events.Kind{events.BookOpened}})
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
