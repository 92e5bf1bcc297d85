package projections

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"traybook/calc"
	"traybook/events"
)

// WaitingSheet is a sheet exposed and not yet developed.
type WaitingSheet struct {
	Sheet   string  `json:"sheet"`
	Subject *string `json:"subject"`
	Box     *string `json:"box"`
	Exposed string  `json:"exposed"`
	WaitsS  float64 `json:"waits_s"`
}

// UnfinishedSheet is a sheet that was begun and not brought to its end.
type UnfinishedSheet struct {
	Sheet   string  `json:"sheet"`
	Subject *string `json:"subject"`
	State   string  `json:"state"`
	Needs   string  `json:"needs"` // fix or wash
}

// Want is something that wants words, and how to give them.
type Want struct {
	About string `json:"about"`
	What  string `json:"what"`
	Do    string `json:"do"` // the command
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
	Lux         float64  `json:"lux"`
	EV100       *float64 `json:"ev100"`  // null at night
	TimeS       *float64 `json:"time_s"` // at the index and aperture of the page
	TooBright   bool     `json:"too_bright_for_cap"`
}

// LightToday is the daylight at the open session's place.
type LightToday struct {
	Place    *string   `json:"place"`
	Lat      float64   `json:"lat"`
	Lon      float64   `json:"lon"`
	Sky      string    `json:"sky"`
	Box      *string   `json:"box"`
	Index    *float64  `json:"index"`
	F        float64   `json:"f"`
	Now      LightThen `json:"now"`
	InAnHour LightThen `json:"in_an_hour"`
	Sunset   *string   `json:"sunset"`
	Drift    float64   `json:"drift_stops_per_10min"`
}

// TodayReport is the page one opens in the morning and after lunch.
type TodayReport struct {
	At         string            `json:"at"`
	Sessions   []SessionLine     `json:"sessions"` // open ones, the one opened last first
	Waiting    []WaitingSheet    `json:"waiting"`  // the oldest first
	Unfinished []UnfinishedSheet `json:"unfinished"`
	Baths      []BathLine        `json:"baths"`
	Paper      []BoxLine         `json:"paper"`
	Light      *LightToday       `json:"light"`
	Wants      []Want            `json:"wants_words"`
	Strip      *StripAdvice      `json:"next_strip"`
}

// How far back the page looks.
const (
	recentPictures = 40                  // numbered last
	recentActs     = 36 * time.Hour      // prints of older pictures
	recentMarks    = 7 * 24 * time.Hour  // moments marked
	recentWords    = 30 * 24 * time.Hour // verdicts and sessions without words
)

// Today gathers what stands open at the desk's moment. With all every bath and box is listed.
func (d *Desk) Today(all bool) (TodayReport, error) {
	t := TodayReport{Sessions: []SessionLine{}, Waiting: []WaitingSheet{}, Unfinished: []UnfinishedSheet{}, Wants: []Want{}}
	now, err := d.Moment()
	if err != nil {
		return t, err
	}
	t.At = events.FormatTime(now)
	open, err := d.openSessions(now)
	if err != nil {
		return t, err
	}
	for _, s := range open {
		line, err := d.SessionLineOf(s)
		if err != nil {
			return t, err
		}
		t.Sessions = append(t.Sessions, line)
	}
	if err := d.todayWaiting(&t, now); err != nil {
		return t, err
	}
	recent, err := d.recentStates(now)
	if err != nil {
		return t, err
	}
	t.Unfinished = unfinished(recent)
	baths, err := d.Baths(all)
	if err != nil {
		return t, err
	}
	stock, err := d.Stock(all)
	if err != nil {
		return t, err
	}
	t.Baths, t.Paper = baths.Baths, stock.Boxes
	if t.Light, err = d.todayLight(open, now); err != nil {
		return t, err
	}
	if err := d.todayWants(&t, open, recent, now); err != nil {
		return t, err
	}
	t.Strip, err = d.nextStrip(t.Paper, now)
	return t, err
}

// openSessions lists the sessions open at a moment, the one opened last first.
func (d *Desk) openSessions(now time.Time) ([]*Session, error) {
	things, err := d.openThings(events.Session)
	if err != nil {
		return nil, err
	}
	var out []*Session
	for _, t := range things {
		s, err := d.Session(t.Name)
		if err != nil {
			return nil, err
		}
		if s.OpenAt(now) {
			out = append(out, s)
		}
	}
	sortSessions(out)
	return out, nil
}

func (d *Desk) todayWaiting(t *TodayReport, now time.Time) error {
	things, err := d.openThings(events.Picture)
	if err != nil {
		return err
	}
	var waiting []*Sheet
	subjects := map[string]string{}
	for _, x := range things {
		p, err := d.pictureOf(x)
		if err != nil {
			return err
		}
		for _, s := range p.Sheets {
			if s.Waits() {
				waiting, subjects[s.Name] = append(waiting, s), p.Subject
			}
		}
	}
	sortByExposure(waiting)
	for _, s := range waiting {
		at := s.Exposures[0].At
		t.Waiting = append(t.Waiting, WaitingSheet{Sheet: s.Name, Subject: orNil(subjects[s.Name]), Box: orNil(s.Box),
			Exposed: events.FormatTime(at), WaitsS: now.Sub(at).Seconds()})
	}
	return nil
}

// recentState is one picture that was worked on of late.
type recentState struct {
	name string
	st   PictureState
	last time.Time
}

// recentStates reads the pictures numbered last and those printed or fixed within two days, by number.
func (d *Desk) recentStates(now time.Time) ([]recentState, error) {
	views, err := d.R.Views(events.ViewQuery{Kind: events.Picture, Limit: recentPictures})
	if err != nil {
		return nil, err
	}
	ahead, err := d.Ahead()
	if err != nil {
		return nil, err
	}
	// To an older picture lead its prints of late, and what was fixed again.
	since, kinds := now.Add(-recentActs), []events.Kind{events.SheetReprinted, events.SheetFixed}
	if ahead { // the pictures numbered last may all lie ahead
		since, kinds = now.AddDate(0, 0, -14), []events.Kind{events.SheetExposed, events.SheetReprinted, events.SheetFixed}
	}
	acts, err := d.entries(events.Query{From: since, To: now, Kinds: kinds})
	if err != nil {
		return nil, err
	}
	worked, err := d.viewsOf(acts)
	if err != nil {
		return nil, err
	}
	seen := map[int64]bool{}
	var out []recentState
	for _, v := range append(worked, views...) {
		if seen[v.Thing.ID] {
			continue
		}
		seen[v.Thing.ID] = true
		st, ok, err := d.pictureState(v)
		if err != nil {
			return nil, err
		}
		if !ok {
			continue
		}
		last := time.UnixMicro(v.Last)
		if ahead {
			p, err := d.pictureOf(v.Thing)
			if err != nil {
				return nil, err
			}
			last = p.Last
		}
		out = append(out, recentState{v.Thing.Name, st, last})
	}
	slices.SortStableFunc(out, func(a, b recentState) int {
		ya, na, _ := events.PictureNumber(a.name)
		yb, nb, _ := events.PictureNumber(b.name)
		return (ya-yb)*1_000_000 + na - nb
	})
	return out, nil
}

// todayLight reckons the daylight at the open session's place, now and in an hour, for the box and the aperture used
// last.
func (d *Desk) todayLight(open []*Session, now time.Time) (*LightToday, error) {
	i := slices.IndexFunc(open, func(s *Session) bool { return s.Opened.Lat != nil && s.Opened.Lon != nil })
	if i < 0 {
		return nil, nil
	}
	o := open[i].Opened
	l := &LightToday{Place: orNil(o.Place), Lat: *o.Lat, Lon: *o.Lon, Sky: cmp.Or(o.Sky, "clear"), F: usualF}
	sky, _ := calc.SkyFactor(l.Sky)
	if err := d.usual(l, o, now); err != nil {
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
func (d *Desk) usual(l *LightToday, o *events.SessionOpenedData, now time.Time) error {
	last, err := d.entries(events.Query{Kinds: []events.Kind{events.SheetExposed}, From: now.AddDate(-1, 0, 0), To: now, Newest: true, Limit: 3})
	if err != nil {
		return err
	}
	box := ""
	if len(last) > 0 {
		x := last[len(last)-1].Data.(*events.SheetExposedData)
		l.F, box = x.F, x.Box
	} else {
		boxes, err := d.openThings(events.Box)
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
	b, err := d.Box(box)
	if err != nil {
		return err
	}
	l.Box = &box
	if p := b.PaperFor(now, Negative, "", o.Light); p.Index > 0 {
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

// nextStrip is the next test strip worth making: on a box in stock whose index nobody has measured for the negative,
// then for the print once there is a negative on it. The boxes used last come first.
func (d *Desk) nextStrip(boxes []BoxLine, now time.Time) (*StripAdvice, error) {
	byUse := slices.Clone(boxes)
	slices.SortStableFunc(byUse, func(a, b BoxLine) int { return usedAt(b).Compare(usedAt(a)) })
	for _, on := range []string{"scene", "negative"} {
		for _, l := range byUse {
			if l.SheetsLeft <= 0 {
				continue
			}
			b, err := d.Box(l.Box)
			if err != nil {
				return nil, err
			}
			generation, what := Negative, "negatives"
			if on == "negative" {
				generation, what = Positive, "prints"
			}
			if on == "negative" && l.Exposed == 0 || b.rated(generation, now) {
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

// rated says whether an index was measured on the box for a generation.
func (b *Box) rated(generation string, now time.Time) bool {
	return slices.ContainsFunc(b.Ratings, func(e events.Entry) bool {
		x := e.Data.(*events.PaperRatedData)
		return x.Index != nil && !e.At.After(now) && (x.Generation == "" || x.Generation == generation)
	})
}
