package acts

import (
	"slices"
	"strconv"
	"time"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

const (
	farAhead = 10 * time.Minute // a clock may be a little off
	// An hour of the evening that is typed in the small hours is that of the day before.
	likelyYesterday = 6 * time.Hour
	longAgo         = 366 * 24 * time.Hour // an act this old is more likely a slip of the year
)

// The warnings about an act.
var (
	aheadOfNow          = wording.Warns("ahead-of-now", "the time lies {by} ahead of now")
	aheadYesterday      = wording.Warns("ahead-of-now-yesterday", "the time lies {by} ahead of now; was it yesterday? take it back and write it with --at 'yesterday {clock}'")
	longBack            = wording.Warns("long-back", "the time lies {by} back")
	writtenFor          = wording.Warns("written-for", "written for {at}")
	beforeReading       = wording.Warns("before-reading", "the time lies before the reading that served it, at {at}")
	beforeExposure      = wording.Warns("before-exposure", "the time lies before the exposure of {sheet} at {at}")
	beforeMixed         = wording.Warns("before-mixed", "the time lies before {bath} was mixed at {at}")
	beforeReceived      = wording.Warns("before-received", "the time lies before {box} came in at {at}")
	anotherYear         = wording.Warns("another-year", "{picture} bears the number of another year than {year}, in which it was exposed")
	noSessionOpen       = wording.Warns("no-session-open", "no session is open, so it belongs to none; `traybook session open` begins one")
	closedAlready       = wording.Warns("closed-already", "{session} was closed already at {at}")
	longOpen            = wording.Warns("long-open", "session {session} has been open for {for}; `traybook session close` ends it")
	exposedAlready      = wording.Warns("exposed-already", "{sheet} was exposed already at {at} (entry {entry})")
	developedAlready    = wording.Warns("developed-already", "{sheet} was developed already at {at} (entry {entry})")
	neverExposed        = wording.Warns("never-exposed", "{sheet} was never exposed by the book: expose or reprint it there too, if it was")
	fixedUndeveloped    = wording.Warns("fixed-undeveloped", "{sheet} goes into the fixer without having been developed")
	washedUnfixed       = wording.Warns("washed-unfixed", "{sheet} is washed without having been fixed")
	reversedFixed       = wording.Warns("reversed-fixed", "{sheet} was fixed already: no silver salt is left in it of which a positive could come")
	reversedUndeveloped = wording.Warns("reversed-undeveloped", "{sheet} is reversed without having been developed")
	secondUnbleached    = wording.Warns("second-unbleached", "{sheet} is exposed a second time without a bleach: all of it will come out black")
	keptUndeveloped     = wording.Warns("kept-undeveloped", "{sheet} is kept without having been developed")
	judgedBefore        = wording.Warns("judged-before", "{sheet} was judged {symptoms} before; the latest judgement stands alone, so name all that is seen")
	bathsApart          = wording.Warns("baths-apart", "{sheet} comes from {before} °C into {after} °C: baths more than 5 °C apart can blister or wrinkle the gelatine; bring them together before the next sheet")
	signTurned          = wording.Warns("sign-turned", "{symptom}, and {stops:stops} makes it {more} still; if {other:stops} was meant: traybook amend last stops={typed}")
	bathDiscarded       = wording.Warns("bath-discarded", "{bath} was discarded at {at}")
	silverBeyond        = wording.Warns("silver-beyond", "{silver} g/l of silver is more than the paper that {bath} has seen holds, about {most} g/l: read the strip again")
	otherRole           = wording.Warns("other-role", "{bath} is a {role}, not a {wanted}")
	moreThanCame        = wording.Warns("more-than-came", "by the book only {came} came in")
	moreThanHeld        = wording.Warns("more-than-held", "by the book {box} held only {held} sheets, so it holds {left} after this; count it with `traybook paper count`")
	lessThanNone        = wording.Warns("less-than-none", "by the book {box} holds {left} sheets after this; count it with `traybook paper count`")
	readUntold          = wording.Warns("read-untold", "what was read on the negative is not told, so it is taken for the mid-tone; of the lightest patch that is about 2 stops off: traybook amend last of=card, or mid, lightest, darkest")
	lastOfBox           = wording.Warns("last-of-box", "that was the last sheet of {box} by the book")
)

// ofTime are those that are about the time of an act.
var ofTime = []*wording.Sentence{aheadOfNow, aheadYesterday, longBack, beforeReading, beforeExposure, beforeMixed, beforeReceived}

// sayer takes a warning.
type sayer func(of *wording.Sentence, fields ...any)

// warningsOf are what a careful hand would want to know of an act that is about to be written. None of them stops it: a
// notebook must take what happened. The snapshot sees everything written so far.
func warningsOf(snap *snapshot.Snapshot, e *events.Entry) ([]wording.Warning, error) {
	var out []wording.Warning
	say := func(of *wording.Sentence, fields ...any) { out = append(out, of.Warn(fields...)) }
	if ahead := e.At.Sub(e.RecordedAt); ahead > farAhead {
		if day := e.RecordedAt.In(e.At.Location()); ahead > likelyYesterday && e.At.YearDay() == day.YearDay() && e.At.Year() == day.Year() {
			say(aheadYesterday, ahead, e.At.Format("15:04"))
		} else {
			say(aheadOfNow, ahead)
		}
	} else if -ahead > longAgo {
		say(longBack, -ahead)
	} else if -ahead > 12*time.Hour {
		say(writtenFor, e.At)
	}
	if err := sessionWarnings(snap, e, say); err != nil {
		return nil, err
	}
	odd, err := ValueWarnings(snap, *e)
	if err != nil {
		return nil, err
	}
	out = append(out, odd...)
	if err := pictureWarnings(snap, e, say); err != nil {
		return nil, err
	}
	if err := gapWarnings(snap, e, say); err != nil {
		return nil, err
	}
	if r, ok := e.Data.(*events.LightMeteredData); ok {
		if r.On == "negative" && r.Mode == "reflected" && r.Of == "" && r.ZoneStops == nil {
			say(readUntold)
		}
		slip, err := slipOf(snap, e, r)
		if err != nil {
			return nil, err
		}
		out = append(out, slip...)
	}
	sheet := events.SheetOf(e.Data)
	pic, part, isSheet := events.SplitSheet(sheet)
	var p *snapshot.Picture
	var s *snapshot.Sheet
	if isSheet {
		t, there, err := snap.R.Entity(pic)
		if err != nil {
			return nil, err
		}
		if there {
			if p, err = snap.PictureOf(t); err != nil {
				return nil, err
			}
			if s = p.Sheet(part); s != nil {
				sheetWarnings(e, s, say)
				if err := turnedRound(snap, e, s, say); err != nil {
					return nil, err
				}
				if err := apartWarnings(snap, e, s, say); err != nil {
					return nil, err
				}
			} else if e.Kind == events.SheetDeveloped {
				say(neverExposed, sheet)
			}
		}
	}
	if err := bathWarnings(snap, e, say); err != nil {
		return nil, err
	}
	if err := orderWarnings(snap, e, say); err != nil {
		return nil, err
	}
	if err := safetyWarnings(snap, e, p, s, say); err != nil {
		return nil, err
	}
	box, takes := boxTaken(e)
	if box == "" {
		return out, nil
	}
	return out, boxWarnings(snap, e, box, takes, say)
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

// pictureWarnings tells of an exposure that lies before the reading it followed, and of a picture numbered for another
// year than that in which its negative was exposed.
func pictureWarnings(snap *snapshot.Snapshot, e *events.Entry, say sayer) error {
	if x, exposed := e.Data.(*events.SheetExposedData); exposed {
		if year, _, ok := events.PictureNumber(x.Picture); ok && year != e.At.Year() {
			say(anotherYear, x.Picture, e.At.Year())
		}
	}
	reading := events.ReadingOf(e.Data)
	if reading == "" {
		return nil
	}
	r, err := wording.IgnoreMissing(snap.Reading(reading))
	if err == nil && r != nil && e.At.Before(r.At) {
		say(beforeReading, r.At)
	}
	return err
}

// LongOpen is how long an outing may last before it looks forgotten.
const LongOpen = 20 * time.Hour

// sessionWarnings tells of a session that was closed before, and of one that was left open or not opened.
func sessionWarnings(snap *snapshot.Snapshot, e *events.Entry, say sayer) error {
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
		say(noSessionOpen)
		return nil
	}
	s, err := snap.Session(name)
	if err != nil || s.Opened == nil {
		return err
	}
	switch open := e.At.Sub(s.At); {
	case !s.ClosedAt.IsZero() && e.Kind == events.SessionClosed:
		say(closedAlready, name, s.ClosedAt)
	case e.Kind == events.SessionClosed || open < LongOpen:
	case s.ClosedAt.IsZero():
		say(longOpen, name, open)
	}
	return nil
}

func sheetWarnings(e *events.Entry, s *snapshot.Sheet, say sayer) {
	already := func(done []events.Entry, of *wording.Sentence) {
		if len(done) > 0 {
			say(of, s.Name, done[0].At, wording.ShortID(done[0].ID.String()))
		}
	}
	switch e.Kind {
	case events.SheetExposed, events.SheetReprinted:
		already(s.Exposures, exposedAlready)
		return
	case events.SheetDeveloped:
		if s.Reversed() {
			already(s.Second, developedAlready)
		} else {
			already(s.Developed, developedAlready)
		}
	case events.SheetReversed:
		switch x := e.Data.(*events.SheetReversedData); {
		case len(s.Fixed) > 0:
			say(reversedFixed, s.Name)
		case len(s.Developed) == 0:
			say(reversedUndeveloped, s.Name)
		case x.Stage == "expose" && len(s.Reversals) == 0:
			say(secondUnbleached, s.Name)
		}
	case events.SheetFixed:
		if len(s.Developed) == 0 {
			say(fixedUndeveloped, s.Name)
		}
	case events.SheetWashed:
		if len(s.Fixed) == 0 {
			say(washedUnfixed, s.Name)
		}
	case events.SheetJudged:
		if x := e.Data.(*events.SheetJudgedData); x.Verdict == "keep" && len(s.Developed) == 0 {
			say(keptUndeveloped, s.Name)
		} else if left := leftOut(s, e.At, x); len(left) > 0 {
			say(judgedBefore, s.Name, left)
		}
	}
	if ex := s.Exposure(); ex != nil && e.At.Before(ex.At) {
		say(beforeExposure, s.Name, ex.At)
	}
}

// apartWarnings tells baths that lie too far apart in temperature: this one, and the last before it of which a
// temperature was written.
func apartWarnings(snap *snapshot.Snapshot, e *events.Entry, s *snapshot.Sheet, say sayer) error {
	now, known, err := writtenTemp(snap, *e)
	if err != nil || !known {
		return err
	}
	for _, before := range slices.Backward(s.Entries) {
		if before.At.After(e.At) {
			continue
		}
		was, known, err := writtenTemp(snap, before)
		if err != nil {
			return err
		}
		if known {
			if calc.BathsApart(was, now) {
				say(bathsApart, s.Name, was, now)
			}
			return nil
		}
	}
	return nil
}

// writtenTemp is the temperature of the bath that a sheet went into, as the act or a test of the bath tells it; what a
// bath should have is not known to be so.
func writtenTemp(snap *snapshot.Snapshot, e events.Entry) (tempC float64, known bool, err error) {
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
	b, err := wording.IgnoreMissing(snap.Bath(name))
	if err != nil || b == nil || b.Mixed == nil {
		return 0, false, err
	}
	age, err := snap.AgeOf(b, e.At, true, "")
	return age.Temp.C, age.Temp.Known(), err
}

// turnedRound tells of a judgement whose sign and whose symptom go opposite ways: the next print starts from the stops,
// and would go the wrong way. On paper that gives a negative of what it sees, more exposure is darker; what a positive
// paper asks for is left to the hand.
func turnedRound(snap *snapshot.Snapshot, e *events.Entry, s *snapshot.Sheet, say sayer) error {
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
	b, err := wording.IgnoreMissing(snap.Box(events.PlacesOf(s.Exposure().Data).Box))
	if err != nil || s.Reversed() || b.DirectPositive() {
		return err
	}
	makes := "darker"
	if *x.Stops < 0 {
		makes = "lighter"
	}
	say(signTurned, seen, *x.Stops, makes, -*x.Stops, strconv.FormatFloat(-*x.Stops, 'f', -1, 64))
	return nil
}

// leftOut are the symptoms that the judgement before named and a new one of a sheet that failed does not.
func leftOut(s *snapshot.Sheet, at time.Time, x *events.SheetJudgedData) []string {
	v := s.Verdict()
	if v == nil || x.Verdict == "keep" || v.Verdict == "keep" || at.Before(s.Judged[len(s.Judged)-1].At) {
		return nil
	}
	var left []string
	for _, symptom := range v.Symptoms {
		if !slices.Contains(x.Symptoms, symptom) {
			left = append(left, symptom)
		}
	}
	return left
}

func bathWarnings(snap *snapshot.Snapshot, e *events.Entry, say sayer) error {
	if x, ok := e.Data.(*events.BathTestedData); ok && x.Test == "silver-strip" {
		return silverWarning(snap, e, x, say)
	}
	name := events.PlacesOf(e.Data).Bath
	if name == "" {
		return nil
	}
	b, err := snap.Bath(name)
	if err != nil || b.Mixed == nil {
		return err
	}
	if !b.DiscardedAt.IsZero() && b.DiscardedAt.Before(e.At) {
		say(bathDiscarded, name, b.DiscardedAt)
	}
	if e.At.Before(b.At) {
		say(beforeMixed, name, b.At)
	}
	wants := map[events.Kind]string{events.SheetDeveloped: "developer", events.SheetFixed: "fixer", events.SheetToned: "toner"}[e.Kind]
	if x, ok := e.Data.(*events.SheetReversedData); ok {
		wants = reversalRole[x.Stage]
	}
	if wants != "" && b.Mixed.Role != wants {
		say(otherRole, name, b.Mixed.Role, wants)
	}
	return nil
}

// silverWarning tells a strip that finds more silver than the paper brought that was fixed there.
func silverWarning(snap *snapshot.Snapshot, e *events.Entry, x *events.BathTestedData, say sayer) error {
	b, err := snap.Bath(x.Bath)
	if err != nil || b.Mixed == nil {
		return err
	}
	age, err := snap.AgeOf(b, e.At, true, "")
	if most := calc.PaperSilverGM2 * age.AreaM2 / (b.Mixed.VolumeML / 1000); err == nil && age.AreaM2 > 0 && x.Value > 1.5*most {
		say(silverBeyond, x.Value, x.Bath, most)
	}
	return err
}

func boxWarnings(snap *snapshot.Snapshot, e *events.Entry, name string, takes float64, say sayer) error {
	b, err := snap.Box(name)
	if err != nil {
		return err
	}
	if b.Received != nil && e.At.Before(b.At) {
		say(beforeReceived, name, b.At)
	}
	if x, ok := e.Data.(*events.PaperCountedData); ok {
		if came := b.CameUntil(e.At); came > 0 && float64(x.Sheets) > came {
			say(moreThanCame, wording.CountOf(came, "sheet"))
		}
		return nil
	}
	v, kept, err := snap.R.View(b.Entity)
	if err != nil || !kept {
		return err
	}
	if v.Open && v.Stock > 200+int64(takes) || b.CountedSince(e.At) { // far from empty by any count, or counted without it
		return nil
	}
	s, err := snap.StockOf(b)
	if err != nil {
		return err
	}
	switch left := s.Left - takes; {
	case left < 0 && takes > 1 && s.Left >= 0:
		say(moreThanHeld, name, s.Left, left)
	case left < 0:
		say(lessThanNone, name, left)
	case left == 0:
		say(lastOfBox, name)
	}
	return nil
}

// TimeWarnings are what is odd about the time of an act: before its cause, or far from the moment it is written at.
func TimeWarnings(snap *snapshot.Snapshot, e events.Entry) ([]wording.Warning, error) {
	all, err := warningsOf(snap, &e)
	return slices.DeleteFunc(all, func(w wording.Warning) bool { return !slices.Contains(ofTime, w.Of) }), err
}
