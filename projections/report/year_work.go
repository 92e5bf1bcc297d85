package report

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"time"

	"traybook/events"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// yearWork goes through a year's pictures, one after another; none is kept in memory longer than it is looked at.
type yearWork struct {
	d                  *snapshot.Snapshot
	r                  *YearReport
	why                func(string) ([]CauseShare, error)
	until              time.Time // consents count as of this
	causes             map[string]*CauseLine
	money              map[string]purse
	symptoms           map[string]int
	consents           map[string]*consent
	paper, light, hour map[string]*Split
	minutes            []float64
	later              int
}

func (w *yearWork) picture(t events.Entity) error {
	snap := w.d
	snap.Tidy()
	p, err := snap.PictureOf(t)
	if err != nil {
		return err
	}
	if len(p.Sheets) == 0 {
		return nil
	}
	minutes, fast, printed, err := w.inHand(p)
	if err != nil {
		return err
	}
	var splits []*Split
	if n := p.NegativeSheet(); n != nil && n.Exposure() != nil {
		if x, ok := n.Exposure().Data.(*events.SheetExposedData); ok {
			light, err := calledfor.LightOf(snap, x)
			if err != nil {
				return err
			}
			splits = append(splits, splitOf(w.light, cmp.Or(light, "not written")), splitOf(w.hour, fmt.Sprintf("%02d", n.Exposure().At.Hour())))
		}
	}
	var keptPrints []string
	delivered, valued, anyFailed := false, false, false
	for _, s := range p.Sheets {
		b, err := wording.IgnoreMissing(snap.Box(s.Box))
		if err != nil {
			return err
		}
		verdict := ""
		if v := s.Verdict(); v != nil {
			verdict = v.Verdict
			if failed(verdict) {
				anyFailed = true
				for _, sym := range v.Symptoms {
					w.symptoms[sym]++
				}
			}
		}
		if isPrint(s.Part, s.Reversed(), b) {
			delivered = delivered || s.State == snapshot.Delivered
			if verdict == "keep" {
				keptPrints = append(keptPrints, s.Name)
			}
		}
		valued = valued || verdict == "keep" || s.State == snapshot.Delivered
		if s.Box != "" {
			name := s.Box
			if b != nil && b.Received != nil {
				name = b.Received.Name
			}
			for _, split := range append(splits, splitOf(w.paper, name)) {
				split.add(p.Entity.Name, verdict)
				if fast && s.Name == printed {
					split.minutes = append(split.minutes, minutes)
				}
			}
		}
		if verdict == "keep" || s.State == snapshot.Delivered {
			if err := w.lasting(p, s); err != nil {
				return err
			}
		}
	}
	if len(keptPrints) > 0 && !delivered {
		w.r.Undelivered = append(w.r.Undelivered, Undelivered{p.Entity.Name, keptPrints, orNil(p.Sitter)})
	}
	if valued && p.Sitter != "" {
		if err := w.consented(p); err != nil {
			return err
		}
	}
	if anyFailed && w.why != nil {
		return w.blame(p)
	}
	return nil
}

func splitOf(m map[string]*Split, key string) *Split {
	if m[key] == nil {
		m[key] = &Split{Key: key}
	}
	return m[key]
}

func (s *Split) add(picture, verdict string) {
	if s.last != picture {
		s.Pictures, s.last = s.Pictures+1, picture
	}
	s.Sheets++
	switch {
	case verdict == "keep":
		s.Kept++
	case failed(verdict):
		s.Failed++
	}
}

// blame gives each failed sheet to the foremost cause found on it; where none was found on it, to the foremost on
// another sheet of the picture, for a print bears its negative's faults.
func (w *yearWork) blame(p *snapshot.Picture) error {
	found, err := wording.IgnoreMissing(w.why(p.Entity.Name))
	if err != nil {
		return err
	}
	for _, s := range p.Sheets {
		v := s.Verdict()
		if v == nil || !failed(v.Verdict) {
			continue
		}
		var own []CauseShare
		for _, c := range found {
			if c.Sheet == s.Name {
				own = append(own, c)
			}
		}
		if len(own) == 0 {
			own = found
		}
		b, err := wording.IgnoreMissing(w.d.Box(s.Box))
		if err != nil {
			return err
		}
		sum, leading := 0.0, Unexplained
		for _, c := range own {
			sum += c.Explains
		}
		for i, c := range own {
			w.cause(c.Cause).Explains += c.Explains / max(1, sum)
			if i == 0 && c.Explains >= leadingShare {
				leading = c.Cause
			}
		}
		if sum < 1 {
			w.cause(Unexplained).Explains += 1 - sum
		}
		w.cause(leading).Sheets++
		if currency, cost, ok := paperCost(b, calledfor.PartOfSheet(s)); ok {
			w.money[leading][currency] += cost
		}
	}
	return nil
}

// leadingShare is the share under which a cause does not stand for a sheet. Our own choice.
const leadingShare = 0.2

func (w *yearWork) cause(name string) *CauseLine {
	if w.causes[name] == nil {
		w.causes[name] = &CauseLine{Cause: name}
		if w.money == nil {
			w.money = map[string]purse{}
		}
		w.money[name] = purse{}
	}
	return w.causes[name]
}

// inHand calculates the minutes from the reading of the scene to the first print that was kept or delivered and is out of
// the water; fast is false where there is none within a day.
func (w *yearWork) inHand(p *snapshot.Picture) (minutes float64, fast bool, sheet string, err error) {
	n := p.NegativeSheet()
	if n == nil || n.Exposure() == nil {
		return 0, false, "", nil
	}
	x, ok := n.Exposure().Data.(*events.SheetExposedData)
	if !ok {
		return 0, false, "", nil
	}
	reading, err := wording.IgnoreMissing(calledfor.ServesNegative(w.d, p, *n.Exposure(), x))
	if err != nil || reading == nil {
		return 0, false, "", err
	}
	var done time.Time
	for _, s := range p.Sheets {
		b, err := wording.IgnoreMissing(w.d.Box(s.Box))
		if err != nil {
			return 0, false, "", err
		}
		if v := s.Verdict(); !isPrint(s.Part, s.Reversed(), b) || s.State != snapshot.Delivered && (v == nil || v.Verdict != "keep") {
			continue
		}
		at, err := outOfTheWater(w.d, p, s)
		if err != nil {
			return 0, false, "", err
		}
		if !at.IsZero() && (done.IsZero() || at.Before(done)) {
			done, sheet = at, s.Name
		}
	}
	if done.IsZero() || done.Before(reading.At) {
		return 0, false, "", nil
	}
	minutes = done.Sub(reading.At).Minutes()
	if minutes > 24*60 {
		w.later++
		return 0, false, "", nil
	}
	w.minutes = append(w.minutes, minutes)
	return minutes, true, sheet, nil
}

// outOfTheWater is when a print left its last bath, or was handed over where that came first; zero where neither is
// written.
func outOfTheWater(snap *snapshot.Snapshot, p *snapshot.Picture, s *snapshot.Sheet) (time.Time, error) {
	var at time.Time
	last := s.Fixed
	if len(s.Washed) > 0 {
		last = s.Washed
	}
	if len(last) > 0 {
		e := last[len(last)-1]
		step, err := calledfor.StepOf(snap, p, e)
		if err != nil {
			return at, err
		}
		at = e.At.Add(time.Duration(snapshot.ValueOr(step.DoneS, 0) * float64(time.Second)))
	}
	for _, e := range s.Entries {
		if (e.Kind == events.SheetDelivered || e.Kind == events.SheetDried) && (at.IsZero() || e.At.Before(at)) {
			at = e.At
		}
	}
	return at, nil
}

// finish sorts what was gathered.
func (w *yearWork) finish() {
	r := w.r
	for _, name := range slices.Sorted(maps.Keys(w.causes)) {
		c := w.causes[name]
		c.Money, c.Explains = w.money[name].lines(), round(c.Explains, 1e9)
		r.Causes = append(r.Causes, *c)
	}
	slices.SortStableFunc(r.Causes, func(a, b CauseLine) int {
		if c := cmp.Compare(b.Sheets, a.Sheets); c != 0 {
			return c
		}
		return cmp.Compare(b.Explains, a.Explains)
	})
	for _, name := range slices.Sorted(maps.Keys(w.symptoms)) {
		r.Symptoms = append(r.Symptoms, SymptomLine{name, w.symptoms[name]})
	}
	slices.SortStableFunc(r.Symptoms, func(a, b SymptomLine) int { return b.Sheets - a.Sheets })
	r.ByPaper, r.ByLight, r.ByHour = splits(w.paper), splits(w.light), splits(w.hour)
	if len(w.minutes) > 0 {
		r.Minutes = &Minutes{Median: middle(w.minutes, 0), Quickest: slices.Min(w.minutes), Slowest: slices.Max(w.minutes), Prints: len(w.minutes), Later: w.later}
	}
}

func splits(m map[string]*Split) []Split {
	out := []Split{}
	for _, key := range slices.Sorted(maps.Keys(m)) {
		s := m[key]
		s.KeptShare = shareOf(s.Kept, s.Kept+s.Failed)
		if len(s.minutes) > 0 {
			s.Minutes = new(middle(s.minutes, 0))
		}
		out = append(out, *s)
	}
	return out
}
