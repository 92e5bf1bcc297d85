package projections

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"traybook/calc"
	"traybook/events"
)

const (
	farAhead = 10 * time.Minute // a clock may be a little off
	// An hour of the evening that is typed in the small hours is that of the day before.
	likelyYesterday = 6 * time.Hour
	longAgo         = 366 * 24 * time.Hour // an act this old is more likely a slip of the year
)

// surprises are what a careful hand would want to know of an act that is about to be written. None of them stops it: a
// notebook must take what happened. The desk sees everything written so far.
func (d *Desk) surprises(e *events.Entry) ([]string, error) {
	var out []string
	say := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	if ahead := e.At.Sub(e.RecordedAt); ahead > farAhead {
		meant := ""
		if day := e.RecordedAt.In(e.At.Location()); ahead > likelyYesterday && e.At.YearDay() == day.YearDay() && e.At.Year() == day.Year() {
			meant = e.At.Format("; was it yesterday? take it back and write it with --at 'yesterday 15:04'")
		}
		say("the time lies %s ahead of now%s", roughly(ahead), meant)
	} else if -ahead > longAgo {
		say("the time lies %s back", roughly(-ahead))
	} else if -ahead > 12*time.Hour {
		say("written for %s", clockOf(e.At))
	}
	if err := d.sessionSurprises(e, say); err != nil {
		return nil, err
	}
	odd, err := d.ValueSurprises(*e)
	if err != nil {
		return nil, err
	}
	out = append(out, odd...)
	if err := d.pictureSurprises(e, say); err != nil {
		return nil, err
	}
	if r, ok := e.Data.(*events.LightMeteredData); ok {
		slip, err := d.slipOf(e, r)
		if err != nil {
			return nil, err
		}
		if slip != "" {
			say("%s", slip)
		}
	}
	sheet := events.SheetOf(e.Data)
	pic, part, isSheet := events.SplitSheet(sheet)
	if isSheet {
		t, there, err := d.R.Thing(pic)
		if err != nil {
			return nil, err
		}
		if there {
			p, err := d.pictureOf(t)
			if err != nil {
				return nil, err
			}
			if s := p.Sheet(part); s != nil {
				sheetSurprises(e, s, say)
				if err := d.turnedRound(e, s, say); err != nil {
					return nil, err
				}
				if err := d.apartSurprises(e, s, say); err != nil {
					return nil, err
				}
			} else if e.Kind == events.SheetDeveloped {
				say("%s was never exposed by the book: expose or reprint it there too, if it was", sheet)
			}
		}
	}
	if err := d.bathSurprises(e, say); err != nil {
		return nil, err
	}
	box, takes := boxTaken(e)
	if box == "" {
		return out, nil
	}
	return out, d.boxSurprises(e, box, takes, say)
}

// boxTaken is the box that an act takes paper from, "" for none, and how many sheets it takes.
func boxTaken(e *events.Entry) (box string, sheets float64) {
	switch x := e.Data.(type) {
	case *events.PaperSpoiledData:
		return x.Box, float64(x.Sheets)
	case *events.PaperCutData:
		return x.Box, float64(x.Sheets)
	case *events.PaperCountedData:
		return x.Box, 0
	}
	sheets = 1
	if f, ok := events.FieldOf(e.Kind, "part"); ok {
		if v, there := f.Value(e.Data); there {
			sheets, _ = v.(float64)
		}
	}
	return events.PlacesOf(e.Data).Box, sheets
}

// pictureSurprises tells of an exposure that lies before the reading it followed, and of a picture numbered for another
// year than that in which its negative was exposed.
func (d *Desk) pictureSurprises(e *events.Entry, say func(string, ...any)) error {
	if x, exposed := e.Data.(*events.SheetExposedData); exposed {
		if year, _, ok := events.PictureNumber(x.Picture); ok && year != e.At.Year() {
			say("%s bears the number of another year than %d, in which it was exposed", x.Picture, e.At.Year())
		}
	}
	reading := events.ReadingOf(e.Data)
	if reading == "" {
		return nil
	}
	r, err := quiet(d.reading(reading))
	if err == nil && r != nil && e.At.Before(r.At) {
		say("the time lies before the reading that served it, at %s", clockOf(r.At))
	}
	return err
}

// longOpen is how long an outing may last before it looks forgotten.
const longOpen = 20 * time.Hour

// sessionSurprises tells of a session that was closed before, and of one that was left open or not opened.
func (d *Desk) sessionSurprises(e *events.Entry, say func(string, ...any)) error {
	name := ""
	switch x := e.Data.(type) {
	case *events.SessionClosedData:
		name = x.Session
	case *events.SheetExposedData:
		name = x.Session
	case *events.LightMeteredData:
		if name = x.Session; name == "" && x.On == "negative" {
			return nil
		}
	default:
		return nil
	}
	if name == "" {
		say("no session is open, so it belongs to none; `traybook session open` begins one")
		return nil
	}
	s, err := d.Session(name)
	if err != nil || s.Opened == nil {
		return err
	}
	switch open := e.At.Sub(s.At); {
	case !s.ClosedAt.IsZero() && e.Kind == events.SessionClosed:
		say("%s was closed already at %s", name, clockOf(s.ClosedAt))
	case e.Kind == events.SessionClosed || open < longOpen:
	case s.ClosedAt.IsZero():
		say("session %s has been open for %s; `traybook session close` ends it", name, roughly(open))
	}
	return nil
}

func sheetSurprises(e *events.Entry, s *Sheet, say func(string, ...any)) {
	twice := func(done []events.Entry, what string) {
		if len(done) > 0 {
			say("%s was %s already at %s (entry %s)", s.Name, what, clockOf(done[0].At), ShortID(done[0].ID.String()))
		}
	}
	switch e.Kind {
	case events.SheetExposed, events.SheetReprinted:
		twice(s.Exposures, "exposed")
		return
	case events.SheetDeveloped:
		twice(s.Developed, "developed")
	case events.SheetFixed:
		if len(s.Developed) == 0 {
			say("%s goes into the fixer without having been developed", s.Name)
		}
	case events.SheetWashed:
		if len(s.Fixed) == 0 {
			say("%s is washed without having been fixed", s.Name)
		}
	case events.SheetJudged:
		if x := e.Data.(*events.SheetJudgedData); x.Verdict == "keep" && len(s.Developed) == 0 {
			say("%s is kept without having been developed", s.Name)
		} else if left := leftOut(s, e.At, x); left != "" {
			say("%s was judged %s before; the latest judgement stands alone, so name all that is seen", s.Name, left)
		}
	}
	if ex := s.Exposure(); ex != nil && e.At.Before(ex.At) {
		say("the time lies before the exposure of %s at %s", s.Name, clockOf(ex.At))
	}
}

// apartSurprises tells baths that lie too far apart in temperature: this one, and the last before it of which a
// temperature was written.
func (d *Desk) apartSurprises(e *events.Entry, s *Sheet, say func(string, ...any)) error {
	now, known, err := d.writtenTemp(*e)
	if err != nil || !known {
		return err
	}
	for _, before := range slices.Backward(s.Entries) {
		if before.At.After(e.At) {
			continue
		}
		was, known, err := d.writtenTemp(before)
		if err != nil {
			return err
		}
		if known {
			if calc.BathsApart(was, now) {
				say("%s comes from %s °C into %s °C: %s", s.Name, Number(was), Number(now), calc.WarnBathsApart)
			}
			return nil
		}
	}
	return nil
}

// writtenTemp is the temperature of the bath that a sheet went into, as the act or a test of the bath tells it; what a
// bath should have is not known to be so.
func (d *Desk) writtenTemp(e events.Entry) (tempC float64, known bool, err error) {
	var own *float64
	switch x := e.Data.(type) {
	case *events.SheetDevelopedData:
		own = x.TempC
	case *events.SheetFixedData:
		own = x.TempC
	case *events.SheetWashedData:
		own = x.TempC
	case *events.SheetRinsedData:
	default:
		return 0, false, nil
	}
	if own != nil {
		return *own, true, nil
	}
	name := events.PlacesOf(e.Data).Bath
	if name == "" {
		return 0, false, nil
	}
	b, err := quiet(d.Bath(name))
	if err != nil || b == nil || b.Mixed == nil {
		return 0, false, err
	}
	tempC, known = b.TempAt(e.At)
	return tempC, known, nil
}

// turnedRound tells of a judgement whose sign and whose symptom go opposite ways: the next print starts from the stops,
// and would go the wrong way. On paper that gives a negative of what it sees, more exposure is darker; what a positive
// paper asks for is left to the hand.
func (d *Desk) turnedRound(e *events.Entry, s *Sheet, say func(string, ...any)) error {
	x, ok := e.Data.(*events.SheetJudgedData)
	if !ok || x.Stops == nil || *x.Stops == 0 || s.Exposure() == nil {
		return nil
	}
	seen, sign := "", 0.0
	for _, symptom := range x.Symptoms {
		switch toward := map[string]float64{"too-dark": -1, "dense": -1, "too-light": 1, "thin": 1}[symptom]; {
		case toward == 0:
		case sign != 0 && toward != sign:
			return nil
		default:
			seen, sign = symptom, toward
		}
	}
	if sign**x.Stops >= 0 {
		return nil
	}
	b, err := quiet(d.Box(events.PlacesOf(s.Exposure().Data).Box))
	if err != nil || b != nil && b.Received != nil && b.Received.Works == "direct-positive" {
		return err
	}
	makes := "darker"
	if *x.Stops < 0 {
		makes = "lighter"
	}
	say("%s, and %s makes it %s still; if %s was meant: traybook amend last stops=%s",
		seen, StopsText(*x.Stops), makes, StopsText(-*x.Stops), strconv.FormatFloat(-*x.Stops, 'f', -1, 64))
	return nil
}

// leftOut are the symptoms that the judgement before named and a new one of a sheet that failed does not; "" for none.
func leftOut(s *Sheet, at time.Time, x *events.SheetJudgedData) string {
	v := s.Verdict()
	if v == nil || x.Verdict == "keep" || v.Verdict == "keep" || at.Before(s.Judged[len(s.Judged)-1].At) {
		return ""
	}
	var left []string
	for _, symptom := range v.Symptoms {
		if !slices.Contains(x.Symptoms, symptom) {
			left = append(left, symptom)
		}
	}
	return strings.Join(left, ", ")
}

func (d *Desk) bathSurprises(e *events.Entry, say func(string, ...any)) error {
	name := events.PlacesOf(e.Data).Bath
	if name == "" {
		return nil
	}
	b, err := d.Bath(name)
	if err != nil || b.Mixed == nil {
		return err
	}
	if !b.DiscardedAt.IsZero() && b.DiscardedAt.Before(e.At) {
		say("%s was discarded at %s", name, clockOf(b.DiscardedAt))
	}
	if e.At.Before(b.At) {
		say("the time lies before %s was mixed at %s", name, clockOf(b.At))
	}
	wants := map[events.Kind]string{events.SheetDeveloped: "developer", events.SheetFixed: "fixer", events.SheetToned: "toner"}[e.Kind]
	if wants != "" && b.Mixed.Role != wants {
		say("%s is a %s, not a %s", name, b.Mixed.Role, wants)
	}
	return nil
}

func (d *Desk) boxSurprises(e *events.Entry, name string, takes float64, say func(string, ...any)) error {
	b, err := d.Box(name)
	if err != nil {
		return err
	}
	if b.Received != nil && e.At.Before(b.At) {
		say("the time lies before %s came in at %s", name, clockOf(b.At))
	}
	if x, ok := e.Data.(*events.PaperCountedData); ok {
		if came := b.cameUntil(e.At); came > 0 && float64(x.Sheets) > came {
			say("by the book only %s came in", CountOf(came, "sheet"))
		}
		return nil
	}
	v, kept, err := d.R.View(b.Thing)
	if err != nil || !kept {
		return err
	}
	if v.Open && v.Stock > 200+int64(takes) || b.countedSince(e.At) { // far from empty by any count, or counted without it
		return nil
	}
	s, err := d.StockOf(b)
	if err != nil {
		return err
	}
	switch left := s.Left - takes; {
	case left < 0 && takes > 1 && s.Left >= 0:
		say("by the book %s held only %s sheets, so it holds %s after this; count it with `traybook paper count`", name, Number(s.Left), Number(left))
	case left < 0:
		say("by the book %s holds %s sheets after this; count it with `traybook paper count`", name, Number(left))
	case left == 0:
		say("that was the last sheet of %s by the book", name)
	}
	return nil
}

func clockOf(t time.Time) string { return t.Format("2006-01-02 15:04") }

func roughly(d time.Duration) string {
	switch h := d.Hours(); {
	case h < 1:
		return fmt.Sprintf("%.0f minutes", d.Minutes())
	case h < 48:
		return fmt.Sprintf("%.0f hours", h)
	case h < 24*700:
		return fmt.Sprintf("%.0f days", h/24)
	default:
		return fmt.Sprintf("%.0f years", math.Round(h/24/365.25))
	}
}
