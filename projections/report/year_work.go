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

// yearWork is a year while it is told. What was seen of its pictures is counted in their order.
type yearWork struct {
	d                  *snapshot.Snapshot
	r                  YearReport
	acts               []events.Entry
	views              []events.View  // of its pictures
	seen               []*yearPicture // what was seen of each of them
	until              time.Time      // consents count as of this
	causes             map[string]*CauseLine
	money              map[string]purse
	symptoms           map[string]int
	consents           map[string]*consent
	paper, light, hour map[string]*Split
	minutes            []float64
	later              int
}

// newYearWork finds what belongs to a year.
func newYearWork(snap *snapshot.Snapshot, year int) (*yearWork, error) {
	if year < 1800 || year > 9999 {
		return nil, noYear.Refuse(year)
	}
	r := YearReport{Causes: []CauseLine{}, Symptoms: []SymptomLine{}, ByPaper: []Split{}, ByLight: []Split{}, ByHour: []Split{},
		Baths: []DiscardedBath{}, BathRoles: []RoleShare{}, SpentFixer: []FixerGone{}, MayNotLast: []MayNotLast{},
		Undelivered: []Undelivered{}, ConsentMissing: []ConsentMissing{}, TakingsByDay: []DayTakings{}, Changes: []YearChange{}}
	r.Year = year
	now, err := snap.Moment()
	if err != nil {
		return nil, err
	}
	r.AsOf = events.FormatTime(now)
	w := &yearWork{d: snap, r: r, until: yearEnd(year, now), causes: map[string]*CauseLine{}, symptoms: map[string]int{}, consents: map[string]*consent{},
		paper: map[string]*Split{}, light: map[string]*Split{}, hour: map[string]*Split{}}
	w.views, err = yearPictures(snap, year)
	w.seen = make([]*yearPicture, len(w.views))
	return w, err
}

// sum adds up what the kept views of the pictures and the acts of the year's days say, and the year before beside it.
func (w *yearWork) sum(snap *snapshot.Snapshot) (err error) {
	r := &w.r
	if w.acts, err = yearActs(snap, r.Year); err != nil {
		return err
	}
	if r.YearFigures, err = figures(snap, r.Year, w.views, w.acts); err != nil {
		return err
	}
	_, r.TakingsByDay = takings(w.acts)
	if err := discarded(snap, w.acts, r); err != nil {
		return err
	}
	return compare(snap, r.Year-1, r)
}

// tell counts what was seen.
func (w *yearWork) tell() (YearReport, error) {
	for _, x := range w.seen {
		if err := w.count(x); err != nil {
			return w.r, err
		}
	}
	w.finish()
	return w.r, nil
}

// yearPicture is what a year asks of one picture.
type yearPicture struct {
	*snapshot.Picture
	light   string // of its exposure, "" where none is written
	exposed bool   // on a negative, so that its light and hour count
	minutes float64
	inHand  string // the print that was in hand after them, "" for none within a day
	later   bool   // it was in hand later than that
	boxes   []*snapshot.Box
	short   []calledfor.Short // of its sheets that are of value
	failed  bool              // a sheet of it, and its causes were looked for
	causes  []CauseShare
}

// lookAt reads and works out what a year asks of one picture.
func lookAt(snap *snapshot.Snapshot, t events.Entity, why func(string) ([]CauseShare, error)) (*yearPicture, error) {
	snap.Tidy()
	p, err := snap.PictureOf(t)
	if err != nil {
		return nil, err
	}
	x := &yearPicture{Picture: p, short: make([]calledfor.Short, len(p.Sheets))}
	if err := x.timeInHand(snap); err != nil {
		return nil, err
	}
	if n := p.NegativeSheet(); n != nil && n.Exposure() != nil {
		var e *events.SheetExposedData
		if e, x.exposed = n.Exposure().Data.(*events.SheetExposedData); x.exposed {
			if x.light, err = calledfor.LightOf(snap, e); err != nil {
				return nil, err
			}
		}
	}
	for i, s := range p.Sheets {
		b, err := wording.IgnoreMissing(snap.Box(s.Box))
		if err != nil {
			return nil, err
		}
		x.boxes = append(x.boxes, b)
		v := s.Verdict()
		x.failed = x.failed || why != nil && v != nil && failed(v.Verdict)
		if valued(s) {
			if x.short[i], err = calledfor.ShortOf(snap, p, s); err != nil {
				return nil, err
			}
		}
	}
	if x.failed {
		x.causes, err = wording.IgnoreMissing(why(p.Entity.Name))
	}
	return x, err
}

// valued says whether a sheet was kept or handed over.
func valued(s *snapshot.Sheet) bool {
	v := s.Verdict()
	return s.State == snapshot.Delivered || v != nil && v.Verdict == "keep"
}

// count counts one picture in.
func (w *yearWork) count(x *yearPicture) error {
	p := x.Picture
	if len(p.Sheets) == 0 {
		return nil
	}
	switch {
	case x.inHand != "":
		w.minutes = append(w.minutes, x.minutes)
	case x.later:
		w.later++
	}
	var splits []*Split
	if x.exposed {
		splits = append(splits, splitOf(w.light, cmp.Or(x.light, "not written")), splitOf(w.hour, fmt.Sprintf("%02d", p.NegativeSheet().Exposure().At.Hour())))
	}
	var keptPrints []string
	delivered, anyValued := false, false
	for i, s := range p.Sheets {
		b, verdict := x.boxes[i], ""
		if v := s.Verdict(); v != nil {
			verdict = v.Verdict
			if failed(verdict) {
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
		if s.Box != "" {
			name := s.Box
			if b != nil && b.Received != nil {
				name = b.Received.Name
			}
			for _, split := range append(splits, splitOf(w.paper, name)) {
				split.add(p.Entity.Name, verdict)
				if s.Name == x.inHand {
					split.minutes = append(split.minutes, x.minutes)
				}
			}
		}
		if valued(s) {
			anyValued = true
			w.lasting(s, x.short[i])
		}
		if failed(verdict) && x.failed {
			w.blame(x, s, b)
		}
	}
	if len(keptPrints) > 0 && !delivered {
		w.r.Undelivered = append(w.r.Undelivered, Undelivered{p.Entity.Name, keptPrints, orNil(p.Sitter)})
	}
	if anyValued && p.Sitter != "" {
		return w.consented(p)
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

// blame gives a failed sheet to the foremost cause found on it; where none was found on it, to the foremost on another
// sheet of the picture, for a print bears its negative's faults.
func (w *yearWork) blame(x *yearPicture, s *snapshot.Sheet, b *snapshot.Box) {
	var own []CauseShare
	for _, c := range x.causes {
		if c.Sheet == s.Name {
			own = append(own, c)
		}
	}
	if len(own) == 0 {
		own = x.causes
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

// timeInHand calculates the minutes from the reading of the scene to the first print that was kept or delivered and is out
// of the water.
func (x *yearPicture) timeInHand(snap *snapshot.Snapshot) error {
	p := x.Picture
	n := p.NegativeSheet()
	if n == nil || n.Exposure() == nil {
		return nil
	}
	e, ok := n.Exposure().Data.(*events.SheetExposedData)
	if !ok {
		return nil
	}
	reading, err := wording.IgnoreMissing(calledfor.ServesNegative(snap, p, *n.Exposure(), e))
	if err != nil || reading == nil {
		return err
	}
	var done time.Time
	sheet := ""
	for _, s := range p.Sheets {
		b, err := wording.IgnoreMissing(snap.Box(s.Box))
		if err != nil {
			return err
		}
		if !isPrint(s.Part, s.Reversed(), b) || !valued(s) {
			continue
		}
		at, err := outOfTheWater(snap, p, s)
		if err != nil {
			return err
		}
		if !at.IsZero() && (done.IsZero() || at.Before(done)) {
			done, sheet = at, s.Name
		}
	}
	if done.IsZero() || done.Before(reading.At) {
		return nil
	}
	if x.minutes = done.Sub(reading.At).Minutes(); x.minutes > 24*60 {
		x.later = true
		return nil
	}
	x.inHand = sheet
	return nil
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
	r := &w.r
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
