package report

import (
	"slices"
	"time"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// BathLine is one bath as `baths` tells it.
type BathLine struct {
	Bath         string            `json:"bath"`
	Role         string            `json:"role"`
	Name         string            `json:"name"`
	Dilution     *string           `json:"dilution"`
	State        string            `json:"state"`
	AreaM2       float64           `json:"area_m2"`        // treated, each sheet once
	CapacityM2   *float64          `json:"capacity_m2"`    // null where no limit is known
	Used         *float64          `json:"used"`           // share of the capacity
	AgeH         float64           `json:"age_h"`          // hours in the open tray
	LifeH        *float64          `json:"life_h"`         // in the open tray
	CalledForS   *float64          `json:"called_for_s"`   // what it calls for now at temp_c; null where nothing tells it, or it was discarded
	LowS         *float64          `json:"low_s"`          // bounds within which that is known; null where nothing is known of them
	HighS        *float64          `json:"high_s"`         // upper bound; null where nothing is known of them
	TempC        float64           `json:"temp_c"`         // as last measured, while that is not doubtful; else nominal
	TimeS        *float64          `json:"time_s"`         // the same at nominal_c
	NominalS     *float64          `json:"nominal_s"`      // fresh, at nominal_c; null where none was written
	NominalC     float64           `json:"nominal_c"`      // temperature for which its times are given
	TempMeasured bool              `json:"temp_measured"`  // temp_c was measured, and is not its nominal one
	TempAt       *string           `json:"temp_at"`        // when it was last measured; null for never
	Temp         snapshot.BathTemp `json:"-"`              // the same for who tells it in words
	TooCold      bool              `json:"too_cold"`       // for a developer to work: it calls for no time
	InTray       bool              `json:"in_tray"`        // it stands in its tray
	InBottle     float64           `json:"in_bottle_days"` // since it was mixed, the tray left out, as long as there was a bath
	BottleDays   *float64          `json:"bottle_days"`    // that it keeps in a full bottle
	Expires      *string           `json:"expires"`
	MixedAt      string            `json:"mixed_at"`
	LastUsedAt   *string           `json:"last_used_at"`
	DiscardedAt  *string           `json:"discarded_at"`
	Sheets       int               `json:"sheets"`         // treated
	SheetsLeft   *float64          `json:"sheets_left"`    // of the size treated so far, until it is exhausted
	ExhaustedInH *float64          `json:"exhausted_in_h"` // tray hours until it is exhausted at the rate so far
	PastLifeInH  *float64          `json:"past_life_in_h"` // tray hours until it is past its life
	Warnings     []wording.Warning `json:"warnings"`
}

// Call is what it calls for as it is told; ok is false where it calls for nothing.
func (l BathLine) Call() (c wording.Call, ok bool) {
	if l.CalledForS == nil {
		return c, false
	}
	return wording.Call{S: *l.CalledForS, LowS: l.LowS, HighS: l.HighS}, true
}

// BathsReport is the baths in the book.
type BathsReport struct {
	Baths []BathLine `json:"baths"`
}

const bathDays = 30 // a bath used or mixed within so many days is still at hand

// Baths lists the baths that are not discarded and were used or mixed within 30 days of the snapshot's moment, in the
// order of their mixing; with all every bath.
func Baths(snap *snapshot.Snapshot, all bool) (BathsReport, error) {
	entities, err := someEntities(snap, events.Bath, all)
	if err != nil {
		return BathsReport{Baths: []BathLine{}}, err
	}
	slices.Reverse(entities)
	return bathsOf(snap, entities, all)
}

func bathsOf(snap *snapshot.Snapshot, baths []events.Entity, all bool) (BathsReport, error) {
	out := BathsReport{Baths: []BathLine{}}
	now, err := snap.Moment()
	if err != nil {
		return out, err
	}
	since := now.AddDate(0, 0, -bathDays)
	for _, t := range baths {
		b, err := snapshot.Listed(snap.Bath(t.Name))
		if err != nil {
			return out, err
		}
		if b.Mixed == nil || !all && b.Discarded != nil {
			continue
		}
		if recent, err := bathSince(snap, b, since); err != nil {
			return out, err
		} else if !all && !recent {
			continue
		}
		line, err := BathLineOf(snap, b, now)
		if err != nil {
			return out, err
		}
		out.Baths = append(out.Baths, line)
	}
	return out, nil
}

// bathSince says whether a bath was mixed, moved, replenished, tested or used since a moment. Only the newest use is looked
// up, so that an old bath nobody threw away costs little.
func bathSince(snap *snapshot.Snapshot, b *snapshot.Bath, since time.Time) (bool, error) {
	for _, e := range b.Entries {
		used := e.Kind == events.BathMixed || e.Kind == events.BathReplenished || e.Kind == events.BathTested
		if used && !e.At.Before(since) {
			return true, nil
		}
	}
	q := events.Query{Bath: b.Entity.ID, From: since, Newest: true, Limit: 3}
	if !snap.AsOf.IsZero() {
		q.To = snap.AsOf
	}
	uses, err := snap.Entries(q)
	return len(uses) > 0, err
}

// BathLineOf is one bath as it stands at a moment: what every list, table and page tells of it.
func BathLineOf(snap *snapshot.Snapshot, b *snapshot.Bath, now time.Time) (BathLine, error) {
	m := b.Mixed
	l := BathLine{Bath: b.Entity.Name, Role: m.Role, Name: m.Name, Dilution: orNil(m.Dilution), NominalS: m.TimeS, NominalC: snapshot.ValueOr(m.TempC, calc.BathTempC),
		BottleDays: m.BottleDays, Expires: orNil(m.Expires), MixedAt: events.FormatTime(b.At), Warnings: []wording.Warning{}}
	age, err := snap.AgeOf(b, now, false, "")
	if err != nil {
		return l, err
	}
	l.State, l.AreaM2, l.AgeH, l.InBottle, l.InTray = age.State, round(age.AreaM2, 1e9), round(age.TrayH, 1e9), age.BottleDays, age.InTray
	l.Temp, l.TempC, l.TempMeasured = age.Temp, age.Temp.C, age.Temp.Known()
	if !age.Temp.Measured.IsZero() {
		l.TempAt = new(events.FormatTime(age.Temp.Measured))
	}
	if age.CapacityM2 > 0 {
		l.CapacityM2, l.Used = &age.CapacityM2, new(round(age.Used, 1e9))
	}
	if age.LifeH > 0 {
		l.LifeH, l.PastLifeInH = &age.LifeH, new(max(0, age.LifeH-age.TrayH))
	}
	if !age.LastUse.IsZero() {
		l.LastUsedAt = new(events.FormatTime(age.LastUse))
	}
	if !b.DiscardedAt.IsZero() {
		l.DiscardedAt = new(events.FormatTime(b.DiscardedAt))
	}
	treated, err := TreatedIn(snap, b)
	if err != nil {
		return l, err
	}
	l.Sheets = len(treated)
	if l.Sheets > 0 && age.CapacityM2 > 0 && age.AreaM2 > 0 {
		left := max(0, 1-age.Used) * age.CapacityM2
		l.SheetsLeft = new(round(left/(age.AreaM2/float64(l.Sheets)), 10))
		if age.TrayH > 0 {
			l.ExhaustedInH = new(left / (age.AreaM2 / age.TrayH))
		}
	}
	if age.State == snapshot.Discarded {
		l.SheetsLeft, l.ExhaustedInH, l.PastLifeInH = nil, nil, nil
		return l, nil
	}
	need, err := calledfor.NeedNow(snap, b, nil, now)
	l.TooCold = need.TooCold()
	l.CalledForS, l.Warnings = need.TimeS, append(l.Warnings, need.Warnings...)
	if m.Role == "developer" || m.Role == "fixer" {
		l.LowS, l.HighS = need.Bounds()
	}
	if l.TimeS = need.TimeS; need.NominalS > 0 && (m.Role == "developer" || m.Role == "fixer") {
		l.TimeS = nil
		if t, _, err := need.At(need.NominalC).Time(); err == nil {
			l.TimeS = &t
		}
	}
	return l, err
}

// Treated is one sheet or strip that was in a bath.
type Treated struct {
	Sheet string
	Last  time.Time // when it went in last
}

// TreatedIn lists the sheets and strips that were in a bath, each once, in the order in which they came first.
func TreatedIn(snap *snapshot.Snapshot, b *snapshot.Bath) ([]Treated, error) {
	course, err := snap.CourseOf(b)
	if err != nil {
		return nil, err
	}
	var out []Treated
	for _, u := range course.Uses {
		switch {
		case u.Sheet == "":
		case u.Again:
			out[slices.IndexFunc(out, func(t Treated) bool { return t.Sheet == u.Sheet })].Last = u.Entry.At
		default:
			out = append(out, Treated{u.Sheet, u.Entry.At})
		}
	}
	return out, nil
}

// round drops the dust of adding.
func round(v, grain float64) float64 {
	if v < 0 || v > 1e6 {
		return v
	}
	return float64(int64(v*grain+0.5)) / grain
}
