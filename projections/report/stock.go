package report

import (
	"slices"
	"time"

	"traybook/events"
	"traybook/projections/snapshot"
)

// BoxLine is one box as `stock` tells it. Sheets are whole sheets of the box; parts count as parts.
type BoxLine struct {
	Box        string   `json:"box"`
	Name       *string  `json:"name"`
	WidthMM    *float64 `json:"width_mm"`  // of a sheet
	HeightMM   *float64 `json:"height_mm"` // of a sheet
	Base       *string  `json:"base"`
	Index      *float64 `json:"index"`          // of a negative without filter, as in force
	Measured   bool     `json:"index_measured"` // the index was measured, and is not the maker's
	SheetsLeft float64  `json:"sheets_left"`    // sheets left, parts of a sheet as parts
	Received   float64  `json:"received"`
	Exposed    float64  `json:"exposed"` // for pictures and strips
	Spoiled    float64  `json:"spoiled"`
	Cut        float64  `json:"cut"`     // into another box: what came in is left, exposed, spoiled or cut
	PerDay     float64  `json:"per_day"` // sheets a day over the last 90 days
	RunsOut    *string  `json:"runs_out"`
	CutFrom    *string  `json:"cut_from"` // the box whose sheets were cut into this one; null where it came so
	Expires    *string  `json:"expires"`
	Expired    bool     `json:"expired"` // its day is past
	LastUsedAt *string  `json:"last_used_at"`
}

// StockReport is the paper in the book.
type StockReport struct {
	Boxes []BoxLine `json:"boxes"`
}

const rateDays = 90 // over how many days the rate of use is taken

// Stock lists the boxes that hold paper at the snapshot's moment, the newest last; with all the empty ones too.
func Stock(snap *snapshot.Snapshot, all bool) (StockReport, error) {
	entities, err := someEntities(snap, events.Box, all)
	if err != nil {
		return StockReport{Boxes: []BoxLine{}}, err
	}
	slices.Reverse(entities)
	return stockOf(snap, entities, all)
}

func stockOf(snap *snapshot.Snapshot, boxes []events.Entity, all bool) (StockReport, error) {
	out := StockReport{Boxes: []BoxLine{}}
	now, err := snap.Moment()
	if err != nil {
		return out, err
	}
	for _, t := range boxes {
		b, err := snapshot.Listed(snap.Box(t.Name))
		if err != nil {
			return out, err
		}
		line, err := boxLine(snap, b, now)
		if err != nil {
			return out, err
		}
		if b.Received != nil && (all || line.SheetsLeft > 0) {
			out.Boxes = append(out.Boxes, line)
		}
	}
	return out, nil
}

// someEntities lists the open things of a kind, or all of them, the latest first.
func someEntities(snap *snapshot.Snapshot, kind events.EntityKind, all bool) ([]events.Entity, error) {
	if !all {
		return snap.OpenEntities(kind)
	}
	return entitiesOf(snap.R.Views(events.ViewQuery{Kind: kind}))
}

func entitiesOf(views []events.View, err error) ([]events.Entity, error) {
	out := make([]events.Entity, len(views))
	for i, v := range views {
		out[i] = v.Entity
	}
	return out, err
}

// SuppliesReport is a stretch of all boxes and baths, the empty and discarded too, the latest first.
type SuppliesReport struct {
	StockReport
	BathsReport
	Older int64 // the moment, in microseconds, before which the others came; 0 for none
}

// Supplies lists the boxes and baths that came before a moment in microseconds, or for 0 all, back to where one of the lists
// has the number of them.
func Supplies(snap *snapshot.Snapshot, before int64, most int) (out SuppliesReport, err error) {
	kinds := []events.EntityKind{events.Box, events.Bath}
	for _, kind := range kinds {
		views, err := snap.R.Views(events.ViewQuery{Kind: kind, To: max(0, before-1), Limit: most + 1})
		if err != nil {
			return out, err
		}
		if len(views) > most {
			out.Older = max(out.Older, views[most-1].Rank)
		}
	}
	var things [2][]events.Entity
	for i, kind := range kinds {
		if things[i], err = entitiesOf(snap.R.Views(events.ViewQuery{Kind: kind, RankFrom: out.Older, To: max(0, before-1)})); err != nil {
			return out, err
		}
	}
	if out.StockReport, err = stockOf(snap, things[0], true); err != nil {
		return out, err
	}
	out.BathsReport, err = bathsOf(snap, things[1], true)
	return out, err
}

func boxLine(snap *snapshot.Snapshot, b *snapshot.Box, now time.Time) (BoxLine, error) {
	l := BoxLine{Box: b.Entity.Name, CutFrom: orNil(b.CutFrom)}
	s, err := snap.StockOf(b)
	if err != nil || b.Received == nil {
		return l, err
	}
	r := b.Received
	l.Name, l.Base, l.WidthMM, l.HeightMM, l.Expires = orNil(r.Name), orNil(r.Base), &r.WidthMM, &r.HeightMM, orNil(r.Expires)
	l.Expired = r.Expires != "" && now.After(snapshot.EndOfDate(r.Expires, now.Location()))
	if p := b.PaperFor(now, snapshot.Negative, "", ""); p.Index > 0 {
		l.Index, l.Measured = &p.Index, p.Measured
	}
	l.SheetsLeft, l.Received, l.Exposed = tidySheets(s.Left), s.Received, tidySheets(s.Exposed)
	l.Spoiled, l.Cut = s.Spoiled, s.Cut
	var last time.Time
	since, gone := now.AddDate(0, 0, -rateDays), 0.0
	for _, u := range s.Uses {
		if u.At.After(last) {
			last = u.At
		}
		if u.At.After(since) {
			gone += u.Sheets
		}
	}
	for _, e := range b.Spoiled {
		if e.At.After(since) {
			gone += float64(e.Data.(*events.PaperSpoiledData).Sheets)
		}
	}
	if !last.IsZero() {
		l.LastUsedAt = new(events.FormatTime(last))
	}
	l.PerDay = gone / rateDays
	const mostDays = 100 * 365.25 // beyond, a date says nothing
	if days := l.SheetsLeft / max(l.PerDay, 1e-9); l.PerDay > 0 && l.SheetsLeft > 0 && days < mostDays {
		l.RunsOut = new(now.Add(time.Duration(days * 24 * float64(time.Hour))).Format("2006-01-02"))
	}
	return l, nil
}

// tidySheets drops the dust that adding thirds of sheets leaves.
func tidySheets(v float64) float64 {
	const grain = 1e6
	if v < 0 {
		return -tidySheets(-v)
	}
	return float64(int64(v*grain+0.5)) / grain
}
