package projections

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"traybook/events"
)

// WriteOptions say how an act is taken.
type WriteOptions struct {
	EvenSo bool               // write what would be refused for a sitter's name in free text
	Names  []events.SitterRow // of the sitters, to keep them out of free text
}

// Write takes one act: fills in what it leaves out, refuses what is impossible, appends it, and says what the book made
// of it. It runs inside one write of the book, so that what it read cannot change before it is written.
//
// The entry needs Kind, At, Data, ID and RecordedAt (the clock's now); Zone where it is known.
func Write(w events.Writer, e *events.Entry, o WriteOptions) (Answer, error) {
	d := NewDeskForAct(w, e.At)
	if err := d.Fill(e, true); err != nil {
		return Answer{}, err
	}
	if err := events.Validate(e.Data); err != nil {
		return Answer{}, err
	}
	if err := d.Check(e, nil); err != nil {
		return Answer{}, err
	}
	if !o.EvenSo {
		if err := KeepNamesOut(e.Data, NamesOf(o.Names)); err != nil {
			return Answer{}, err
		}
	}
	surprises, err := NewDesk(w, time.Time{}).surprises(e)
	if err != nil {
		return Answer{}, err
	}
	if err := w.Append(e); err != nil {
		return Answer{}, err
	}
	a, err := AnswerTo(w, *e)
	a.Warnings = append(surprises, withoutSaid(a.Warnings, surprises)...)
	return a, err
}

// withoutSaid leaves out of the warnings of a step that its bath was discarded, where the surprises say when.
func withoutSaid(warnings, surprises []string) []string {
	return slices.DeleteFunc(warnings, func(w string) bool {
		bath, of := strings.CutSuffix(w, discardedBefore)
		return of && slices.ContainsFunc(surprises, func(s string) bool { return strings.HasPrefix(s, bath+" was discarded at ") })
	})
}

// AnswerTo says what the book makes of an entry that is kept.
func AnswerTo(r events.Reader, e events.Entry) (Answer, error) {
	d := NewDesk(r, time.Time{})
	a := Answer{Entry: e, Sheet: events.SheetOf(e.Data)}
	if c := events.CarriedOf(e.Data); c != nil {
		a.Session = c.Session
	}
	home, err := r.HomeOf(e.ID)
	if err != nil {
		return a, err
	}
	switch home.Kind {
	case events.Session:
		a.Session = home.Name
	case events.Picture:
		a.Picture = home.Name
		p, err := d.pictureOf(home)
		if err != nil {
			return a, err
		}
		s, err := d.Step(p, e)
		if err != nil {
			return a, err
		}
		a.Unserved = s.Serving == nil && fromALens(e.Data)
		a.CalledForS, a.DoneS, a.DeviationStops, a.Warnings, a.Before = s.CalledForS, s.DoneS, s.DeviationStops, s.Warnings, s.Before
		a.Next = nextOn(p, e)
	}
	a.Understood = d.Sentence(e)
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
	_, s, err := d.SheetByName(a.Sheet)
	if err != nil {
		return a, err
	}
	if e.Kind == events.SheetFixed {
		a.Understood += fixedInAll(s, e)
		return a, nil
	}
	left, err := d.washLeaves(s, e)
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
func fOr(f *float64, usual float64) string { return "f/" + Number(orF(f, usual)) }

// nextOn says what usually comes after an act on a sheet.
func nextOn(p *Picture, e events.Entry) string {
	_, part, ok := events.SplitSheet(events.SheetOf(e.Data))
	if !ok {
		return ""
	}
	s := p.Sheet(part)
	if s == nil {
		return ""
	}
	switch {
	case e.Kind == events.SheetJudged && s.Verdict() != nil && s.Verdict().Verdict == "keep" && s.Generation == Negative:
		return "meter the negative and reprint: traybook meter negative f/11 4s"
	case e.Kind == events.SheetJudged && s.Verdict() != nil && s.Verdict().Verdict != "keep":
		return "find out why: traybook why " + p.Thing.Name
	case e.Kind == events.SheetJudged || e.Kind == events.SheetDelivered:
		return ""
	}
	switch s.State {
	case Exposed:
		return "develop: traybook develop 60s, or all three with traybook tray"
	case Developed:
		return "rinse and fix: traybook rinse, traybook fix"
	case Rinsed:
		return "fix: traybook fix"
	case Fixed:
		return "wash: traybook wash"
	case Washed, Dried, Toned:
		if s.Verdict() == nil {
			return "judge it: traybook judge keep"
		}
	}
	return ""
}

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
	reading := ""
	switch x := e.Data.(type) {
	case *events.SheetExposedData:
		reading = x.Reading
		if year, _, ok := events.PictureNumber(x.Picture); ok && year != e.At.Year() {
			say("%s bears the number of another year than %d, in which it was exposed", x.Picture, e.At.Year())
		}
	case *events.SheetReprintedData:
		reading = x.Reading
	case *events.StripExposedData:
		reading = x.Reading
	}
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
			say("%s was %s already at %s (entry %s)", s.Name, what, clockOf(done[0].At), done[0].ID.String()[:6])
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
			say("by the book only %s came in", howMany(int(came), "sheet"))
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
