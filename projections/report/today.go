package report

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/acts"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// WaitingSheet is a sheet exposed and not yet developed.
type WaitingSheet struct {
	Sheet   string  `json:"sheet"`
	Subject *string `json:"subject"`
	Box     *string `json:"box"`
	Exposed string  `json:"exposed"`
	WaitsS  float64 `json:"waits_s"` // since it was exposed
}

// ToPrint is a negative that was found good and has no print yet that counts.
type ToPrint struct {
	Sheet   string  `json:"sheet"`
	Subject *string `json:"subject"`
}

// RunningClock is a clock that takes the time of an act: its first press was written, its end was not.
type RunningClock struct {
	Clock    string   `json:"clock"` // its entry
	Act      string   `json:"act"`   // what it times: expose, reprint, develop, fix, wash and the like
	Sheet    *string  `json:"sheet"` // of an exposure and a copy, which have none yet, null
	Bath     *string  `json:"bath"`
	Since    string   `json:"since"`     // when the cap came off, or the sheet went in
	RunsS    float64  `json:"runs_s"`    // how long it has run
	PlannedS *float64 `json:"planned_s"` // how long it is to run; null where nothing was planned
	Text     string   `json:"text"`
}

// Want is something that wants words, and how to give them.
type Want struct {
	About string `json:"about"`
	What  string `json:"what"` // what is lacking, in words
	Do    string `json:"do"`   // the command
}

// StripAdvice is the next test strip worth making.
type StripAdvice struct {
	Box  string  `json:"box"`
	Name *string `json:"name"`
	On   string  `json:"on"` // scene or negative
	Why  string  `json:"why"`
}

// LightThen is the daylight to expect at one moment.
type LightThen struct {
	At          string   `json:"at"`
	AltitudeDeg float64  `json:"altitude_deg"`
	Lux         float64  `json:"lux"`                // on the ground
	EV100       *float64 `json:"ev100"`              // null at night
	TimeS       *float64 `json:"time_s"`             // at the index and aperture of the page
	TooBright   bool     `json:"too_bright_for_cap"` // the time is too short to time by hand
}

// LightToday is the daylight at the open session's place.
type LightToday struct {
	Place    *string   `json:"place"`
	Lat      float64   `json:"lat"` // of the place, north is +
	Lon      float64   `json:"lon"` // of the place, east is +
	Sky      string    `json:"sky"`
	Box      *string   `json:"box"`
	Index    *float64  `json:"index"`
	F        float64   `json:"f"`
	Now      LightThen `json:"now"`        // the light at this moment
	InAnHour LightThen `json:"in_an_hour"` // the light an hour later
	Sunset   *string   `json:"sunset"`
	Drift    float64   `json:"drift_stops_per_10min"` // how the light changes: + = it grows
}

// TodayReport is the page one opens in the morning and after lunch.
type TodayReport struct {
	At         string            `json:"at"`
	Sessions   []SessionLine     `json:"sessions"`   // open ones, the one opened last first
	Clocks     []RunningClock    `json:"clocks"`     // that run, the oldest first
	Waiting    []WaitingSheet    `json:"waiting"`    // the oldest first
	Unfinished []UnfinishedSheet `json:"unfinished"` // sheets that lack fixing or washing
	Undried    []string          `json:"undried"`    // washed within thirty days, and not dried
	Unjudged   []string          `json:"unjudged"`   // fixed within thirty days, and without a verdict
	ToPrint    []ToPrint         `json:"to_print"`   // of the pictures of late, by number
	Orders     []OrderLine       `json:"orders"`     // that somebody waits for, the one due first comes first
	Takings    []Money           `json:"takings"`    // of the day
	Baths      []BathLine        `json:"baths"`
	Paper      []BoxLine         `json:"paper"` // boxes with sheets left
	Light      *LightToday       `json:"light"`
	Wants      []Want            `json:"wants_words"` // what was written too shortly, and how to say more
	Strip      *StripAdvice      `json:"next_strip"`  // null where none is worth making
}

// How far back the page looks.
const (
	recentPictures = 40                  // numbered last
	recentActs     = 36 * time.Hour      // prints of older pictures
	recentMarks    = 7 * 24 * time.Hour  // moments marked
	recentWords    = 30 * 24 * time.Hour // verdicts and sessions without words
)

// Today gathers what stands open at the snapshot's moment. With all every bath and box is listed.
func Today(snap *snapshot.Snapshot, all bool) (TodayReport, error) {
	t := TodayReport{Sessions: []SessionLine{}, Clocks: []RunningClock{}, Waiting: []WaitingSheet{}, Unfinished: []UnfinishedSheet{}, ToPrint: []ToPrint{}, Orders: []OrderLine{}, Takings: []Money{}, Wants: []Want{}}
	now, err := snap.Moment()
	if err != nil {
		return t, err
	}
	t.At = events.FormatTime(now)
	open, err := openSessions(snap, now)
	if err != nil {
		return t, err
	}
	for _, s := range open {
		line, err := SessionLineOf(snap, s)
		if err != nil {
			return t, err
		}
		t.Sessions = append(t.Sessions, line)
	}
	if err := todayClocks(snap, &t, now); err != nil {
		return t, err
	}
	if err := todayWaiting(snap, &t, now); err != nil {
		return t, err
	}
	recent, err := recentStates(snap, now)
	if err != nil {
		return t, err
	}
	if t.Unfinished, err = unfinished(snap, recent); err != nil {
		return t, err
	}
	t.Undried, t.Unjudged = lacking(ofLate(recent, now), Undried), lacking(ofLate(recent, now), Unjudged)
	if err := todayToPrint(snap, &t, recent); err != nil {
		return t, err
	}
	if err := todayOrders(snap, &t, now); err != nil {
		return t, err
	}
	baths, err := Baths(snap, all)
	if err != nil {
		return t, err
	}
	stock, err := Stock(snap, all)
	if err != nil {
		return t, err
	}
	t.Baths, t.Paper = baths.Baths, stock.Boxes
	if t.Light, err = todayLight(snap, open, now); err != nil {
		return t, err
	}
	if err := todayWants(snap, &t, open, recent, now); err != nil {
		return t, err
	}
	t.Strip, err = adviseStrip(snap, t.Paper, now)
	return t, err
}

// openSessions lists the sessions open at a moment, the one opened last first.
func openSessions(snap *snapshot.Snapshot, now time.Time) ([]*snapshot.Session, error) {
	entities, err := snap.OpenEntities(events.Session)
	if err != nil {
		return nil, err
	}
	var out []*snapshot.Session
	for _, t := range entities {
		s, err := snapshot.Listed(snap.Session(t.Name))
		if err != nil {
			return nil, err
		}
		if s.OpenAt(now) {
			out = append(out, s)
		}
	}
	snapshot.SortSessions(out)
	return out, nil
}

func todayClocks(snap *snapshot.Snapshot, t *TodayReport, now time.Time) error {
	clocks, err := snap.RunningClocks(now)
	for _, e := range clocks {
		x := e.Data.(*events.ClockStartedData)
		since := snapshot.ClockBegan(e)
		t.Clocks = append(t.Clocks, RunningClock{Clock: e.ID.String(), Act: x.Act, Sheet: orNil(x.Sheet), Bath: orNil(x.Bath), Since: events.FormatTime(since),
			RunsS: max(0, now.Sub(since).Seconds()), PlannedS: x.PlannedS, Text: snapshot.ClockRuns(e, now)})
	}
	return err
}

func todayWaiting(snap *snapshot.Snapshot, t *TodayReport, now time.Time) error {
	entities, err := snap.OpenEntities(events.Picture)
	if err != nil {
		return err
	}
	var waiting []*snapshot.Sheet
	subjects := map[string]string{}
	for _, x := range entities {
		p, err := snap.PictureOf(x)
		if err != nil {
			return err
		}
		for _, s := range p.Sheets {
			if s.Waits() {
				waiting, subjects[s.Name] = append(waiting, s), p.Subject
			}
		}
	}
	acts.SortByExposure(waiting)
	for _, s := range waiting {
		if slices.ContainsFunc(t.Clocks, func(c RunningClock) bool { return c.Act == "develop" && c.Sheet != nil && *c.Sheet == s.Name }) {
			continue // it lies in the developer
		}
		at := s.Exposures[0].At
		t.Waiting = append(t.Waiting, WaitingSheet{Sheet: s.Name, Subject: orNil(subjects[s.Name]), Box: orNil(s.Box),
			Exposed: events.FormatTime(at), WaitsS: now.Sub(at).Seconds()})
	}
	return nil
}

// todayOrders lists what somebody waits for, and what came in today.
func todayOrders(snap *snapshot.Snapshot, t *TodayReport, now time.Time) error {
	open, err := snap.OpenOrders()
	if err != nil {
		return err
	}
	for _, o := range open {
		t.Orders = append(t.Orders, OrderLineOf(o, now))
	}
	t.Takings, err = takingsOf(snap, now)
	return err
}

// recentState is one picture that was worked on of late.
type recentState struct {
	name string
	st   snapshot.PictureState
	last time.Time
	rank int64
}

// recentStates reads the pictures numbered last and those printed or fixed within two days, by number.
func recentStates(snap *snapshot.Snapshot, now time.Time) ([]recentState, error) {
	views, err := snap.R.Views(events.ViewQuery{Kind: events.Picture, Limit: recentPictures})
	if err != nil {
		return nil, err
	}
	ahead, err := snap.Ahead()
	if err != nil {
		return nil, err
	}
	// To an older picture lead its prints of late, and what was fixed again.
	since, kinds := now.Add(-recentActs), []events.Kind{events.SheetReprinted, events.SheetFixed}
	if ahead { // the pictures numbered last may all lie ahead
		since, kinds = now.AddDate(0, 0, -14), []events.Kind{events.SheetExposed, events.SheetReprinted, events.SheetFixed}
	}
	acts, err := snap.Entries(events.Query{From: since, To: now, Kinds: kinds})
	if err != nil {
		return nil, err
	}
	worked, err := viewsOf(snap, acts)
	if err != nil {
		return nil, err
	}
	seen := map[int64]bool{}
	var out []recentState
	for _, v := range append(worked, views...) {
		if seen[v.Entity.ID] {
			continue
		}
		seen[v.Entity.ID] = true
		st, ok, err := snap.PictureState(v)
		if err != nil {
			return nil, err
		}
		if !ok {
			continue
		}
		last := time.UnixMicro(v.Last)
		if late, err := snap.AheadOf(v.Entity); err != nil {
			return nil, err
		} else if late {
			p, err := snap.PictureOf(v.Entity)
			if err != nil {
				return nil, err
			}
			last = p.Last
		}
		out = append(out, recentState{v.Entity.Name, st, last, v.Rank})
	}
	slices.SortStableFunc(out, func(a, b recentState) int { return cmp.Compare(a.rank, b.rank) })
	return out, nil
}

// todayLight calculates the daylight at the open session's place, now and in an hour, for the box and the aperture used
// last.
func todayLight(snap *snapshot.Snapshot, open []*snapshot.Session, now time.Time) (*LightToday, error) {
	i := slices.IndexFunc(open, func(s *snapshot.Session) bool { return s.Opened.Lat != nil && s.Opened.Lon != nil })
	if i < 0 {
		return nil, nil
	}
	o := open[i].Opened
	l := &LightToday{Place: orNil(o.Place), Lat: *o.Lat, Lon: *o.Lon, Sky: cmp.Or(o.Sky, "clear"), F: usualF}
	sky, _ := calc.SkyFactor(l.Sky)
	if err := usual(snap, l, o, now); err != nil {
		return nil, err
	}
	nowLight, err := l.then(now, sky, &l.Now)
	if err != nil {
		return nil, err
	}
	if _, err := l.then(now.Add(time.Hour), sky, &l.InAnHour); err != nil {
		return nil, err
	}
	l.Drift = nowLight.DriftStopsPer10Min
	if day, err := calc.SunOn(now, l.Lat, l.Lon); err == nil && !day.Sunset.IsZero() {
		l.Sunset = new(events.FormatTime(day.Sunset.In(now.Location()).Truncate(time.Minute)))
	}
	return l, nil
}

const usualF = 8 // until one was used

// usual finds the box and the aperture of the last exposure: those are the ones in hand.
func usual(snap *snapshot.Snapshot, l *LightToday, o *events.SessionOpenedData, now time.Time) error {
	last, err := snap.Entries(events.Query{Kinds: []events.Kind{events.SheetExposed}, From: now.AddDate(-1, 0, 0), To: now, Newest: true, Limit: 3})
	if err != nil {
		return err
	}
	box := ""
	if len(last) > 0 {
		x := last[len(last)-1].Data.(*events.SheetExposedData)
		l.F, box = x.F, x.Box
	} else {
		boxes, err := snap.OpenEntities(events.Box)
		if err != nil {
			return err
		}
		if len(boxes) > 0 {
			box = boxes[0].Name
		}
	}
	if box == "" {
		return nil
	}
	b, err := snap.Box(box)
	if err != nil {
		return err
	}
	l.Box = &box
	if p := b.PaperFor(now, snapshot.Negative, "", o.Light); p.Index > 0 {
		l.Index = &p.Index
	}
	return nil
}

func (l *LightToday) then(at time.Time, sky float64, out *LightThen) (calc.Light, error) {
	light, err := calc.LightAt(at, l.Lat, l.Lon, sky)
	if err != nil {
		return light, err
	}
	*out = LightThen{At: events.FormatTime(at), AltitudeDeg: light.AltitudeDeg, Lux: light.Lux}
	if light.Night {
		return light, nil
	}
	out.EV100 = &light.EV100
	if l.Index == nil {
		return light, nil
	}
	if s, bright, err := light.TimeFor(l.F, *l.Index); err == nil {
		out.TimeS, out.TooBright = &s, bright
	}
	return light, nil
}

// adviseStrip is the next test strip worth making: on a box in stock whose index nobody has measured for the negative,
// then for the print once there is a negative on it. The boxes used last come first.
func adviseStrip(snap *snapshot.Snapshot, boxes []BoxLine, now time.Time) (*StripAdvice, error) {
	byUse := slices.Clone(boxes)
	slices.SortStableFunc(byUse, func(a, b BoxLine) int { return usedAt(b).Compare(usedAt(a)) })
	for _, on := range []string{"scene", "negative"} {
		for _, l := range byUse {
			if l.SheetsLeft <= 0 {
				continue
			}
			b, err := snap.Box(l.Box)
			if err != nil {
				return nil, err
			}
			generation, what := snapshot.Negative, "negatives"
			if on == "negative" {
				generation, what = snapshot.Positive, "prints"
			}
			if on == "negative" && l.Exposed == 0 || ratedIndex(b, generation, now) {
				continue
			}
			return &StripAdvice{Box: l.Box, Name: l.Name, On: on, Why: fmt.Sprintf("no index was ever measured on it for %s", what)}, nil
		}
	}
	return nil, nil
}

func usedAt(l BoxLine) time.Time {
	if l.LastUsedAt == nil {
		return time.Time{}
	}
	t, err := events.ParseTime(*l.LastUsedAt)
	if err != nil {
		return time.Time{}
	}
	return t
}

// ratedIndex says whether an index was measured on the box for a generation.
func ratedIndex(b *snapshot.Box, generation string, now time.Time) bool {
	return slices.ContainsFunc(b.Ratings, func(e events.Entry) bool {
		x := e.Data.(*events.PaperRatedData)
		return x.Index != nil && !e.At.After(now) && (x.Generation == "" || x.Generation == generation)
	})
}

// todayToPrint lists the kept negatives of which no print is made, or only such as are to be done again or thrown away. A
// direct positive is its own print.
func todayToPrint(snap *snapshot.Snapshot, t *TodayReport, recent []recentState) error {
	for _, r := range recent {
		kept, box, printed := "", "", false
		for _, s := range r.st.Sheets {
			switch {
			case s.Part == "n" && s.Verdict == "keep" && !s.Reversed:
				kept, box = events.Sheet(r.name, s.Part), s.Box
			case s.Part != "n" && s.Verdict != "redo" && s.Verdict != "reject":
				printed = true
			}
		}
		if kept == "" || printed {
			continue
		}
		if box != "" {
			b, err := wording.IgnoreMissing(snap.Box(box))
			if err != nil {
				return err
			}
			if b.DirectPositive() {
				continue
			}
		}
		t.ToPrint = append(t.ToPrint, ToPrint{kept, orNil(r.st.Subject)})
	}
	return nil
}
