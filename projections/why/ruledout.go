package why

import (
	"fmt"
	"math"
	"slices"
	"time"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
	"traybook/projections/suspects"
	"traybook/projections/wording"
)

// ruling is what a log says of one suspect: that it was it, that it was not, or that the entry is missing which would tell.
type ruling struct {
	by      string // the code of the check that says it
	state   string // Found, RuledOut or Lacking
	because string
	entries []string
}

// The states of a suspect.
const (
	Found    = "found"     // a test or a look said so
	RuledOut = "ruled-out" // by an entry
	Lacking  = "lacking"   // an entry is missing that would have told
	Open     = "open"      // no log can see it
)

func out(because string, entries ...*events.Entry) *ruling {
	return &ruling{"", RuledOut, because, idsOf(entries...)}
}
func found(because string, entries ...*events.Entry) *ruling {
	return &ruling{"", Found, because, idsOf(entries...)}
}
func lacking(what string) *ruling { return &ruling{"", Lacking, what, []string{}} }

// How far in time an entry tells of a sheet. Common practice, but for what the comments say.
const (
	tellsBefore = 30 * 24 * time.Hour // a good test before the sheet
	tellsAfter  = 90 * 24 * time.Hour // a good test after it: neither a leak nor fog mends itself
	nearKept    = 24 * time.Hour      // a kept sheet of the same camera, bath or reading
	boxKept     = 3 * 24 * time.Hour  // of the same box
	holderKept  = 7 * 24 * time.Hour  // of the same holder
	bathTold    = 24 * time.Hour      // a test of a bath, either way
	pairStops   = 0.3                 // two readings that agree
)

// court holds the suspects of one sheet against what the log says.
type court struct {
	r       *replay
	l       *calledfor.SheetLog
	suspect *suspects.Suspect
	late    bool // it was seen weeks after its last bath
}

// rulings are the checks by the codes of the table. Each gives nil where the log says nothing either way.
var rulings = map[string]func(*court) (*ruling, error){
	"box unexposed": (*court).boxUnexposed,
	"box-kept": func(c *court) (*ruling, error) {
		return c.kept("of the same box", boxKept, false, func(n *neighbour) (bool, error) { return n.box == c.l.Sheet.Box, nil })
	},
	"camera-kept": func(c *court) (*ruling, error) {
		return c.kept("of the same camera", nearKept, false, func(n *neighbour) (bool, error) { return n.camera != "" && n.camera == cameraOf(c.l), nil })
	},
	"holder-kept": func(c *court) (*ruling, error) {
		return c.kept("from the same holder", holderKept, false, func(n *neighbour) (bool, error) { return c.l.X.Holder != "" && n.holder == c.l.X.Holder, nil })
	},
	"reading-kept": func(c *court) (*ruling, error) {
		serving := c.l.Step.Serving
		return c.kept("by the same reading", nearKept, false, func(n *neighbour) (bool, error) { return serving != nil && n.reading == serving.ID.String(), nil })
	},
	"dev-kept":  func(c *court) (*ruling, error) { return c.bathKept(c.l.Sheet.Developed) },
	"fix-kept":  func(c *court) (*ruling, error) { return c.bathKept(c.l.Sheet.Fixed) },
	"dev-fresh": func(c *court) (*ruling, error) { return c.fresh("developer") },
	"fix-fresh": func(c *court) (*ruling, error) { return c.fresh("fixer") },
	"dev-temp":  func(c *court) (*ruling, error) { return c.temperature("developer") },
	"fix-temp":  func(c *court) (*ruling, error) { return c.temperature("fixer") },
	"dev-stain": func(c *court) (*ruling, error) { return c.stained(c.l.Sheet.Developed) },
	"fix-stain": func(c *court) (*ruling, error) { return c.stained(c.l.Sheet.Fixed) },
	"rocked":    func(c *court) (*ruling, error) { return c.rocked(c.l.Sheet.Developed, true) },
	"rocked-fix": func(c *court) (*ruling, error) {
		return c.rocked(c.l.Sheet.Fixed, false)
	},
	"hypo-test":          func(c *court) (*ruling, error) { return c.sheetTest("hypo") },
	"silver-test":        func(c *court) (*ruling, error) { return c.sheetTest("silver") },
	"camera light":       func(c *court) (*ruling, error) { return c.checked("light") },
	"camera bellows":     func(c *court) (*ruling, error) { return c.checked("bellows") },
	"camera sleeve":      func(c *court) (*ruling, error) { return c.checked("sleeve") },
	"camera holder":      func(c *court) (*ruling, error) { return c.checked("holder") },
	"camera safelight":   func(c *court) (*ruling, error) { return c.checked("safelight") },
	"camera lens":        func(c *court) (*ruling, error) { return c.checked("lens") },
	"camera rail":        func(c *court) (*ruling, error) { return c.checked("rail") },
	"camera copy-square": func(c *court) (*ruling, error) { return c.checked("copy-square") },
	"camera meter":       func(c *court) (*ruling, error) { return c.checked("meter") },
	"camera cap":         func(c *court) (*ruling, error) { return c.checked("cap") },
	"border-clean":       func(c *court) (*ruling, error) { return c.border("clean") },
	"border-grey":        func(c *court) (*ruling, error) { return c.border("grey") },
	"paper-in-date":      (*court).inDate,
	"dev-appearance":     (*court).appeared,
	"dev-time":           (*court).developedInTime,
	"dev-first":          (*court).developedFirst,
	"bath-deep":          (*court).deep,
	"rinsed":             (*court).rinsed,
	"fixed-long":         func(c *court) (*ruling, error) { return c.fixedFor(1, math.Inf(1)) },
	"fixed-not-long":     func(c *court) (*ruling, error) { return c.fixedFor(0, calc.FixBleachRatio) },
	"fixed-twice":        (*court).fixedTwice,
	"fix-cleared":        (*court).cleared,
	"washed":             (*court).washed,
	"seen-soon":          (*court).seenSoon,
	"time-measured":      (*court).timeMeasured,
	"aperture-twice":     (*court).apertureTwice,
	"reading-again":      (*court).readAgain,
	"distance-written":   (*court).distance,
	"size-written":       (*court).size,
	"negative-kept":      (*court).negativeKept,
	"metered-on-it":      (*court).meteredOnIt,
	"exposed-as-called":  (*court).asCalled,
	"holder-once":        (*court).holderOnce,
	"at-rest":            (*court).atRest,
	"focus-written":      (*court).focusWritten,
	"depth-written":      (*court).depthWritten,
	"extension-written":  (*court).extensionWritten,
	"range-read":         (*court).rangeRead,
	"no-pre-flash":       (*court).noPreFlash,
	"stop-not-small":     (*court).stopNotSmall,
}

// rule says what the log tells of a suspect: a look at the sheet for it first, then its checks in their order. The first
// that says either way counts; what is lacking is told only where none does.
func (c *court) rule() (*ruling, error) {
	if said := c.looked(); said != nil {
		said.by = "look"
		return said, nil
	}
	var lacks *ruling
	for _, code := range c.suspect.Checks {
		said, err := rulings[code](c)
		if err != nil {
			return nil, err
		}
		if said != nil {
			said.by = code
		}
		switch {
		case said == nil:
		case said.state != Lacking:
			return said, nil
		case lacks == nil:
			lacks = said
		}
	}
	return lacks, nil
}

// looked takes a look at the sheet for this suspect at its word.
func (c *court) looked() *ruling {
	for _, e := range slices.Backward(c.l.Sheet.Entries) {
		x, ok := e.Data.(*events.SheetTestedData)
		if !ok || x.Test != "look" || x.Suspect != c.suspect.Code {
			continue
		}
		if x.Result == "clear" {
			return out("a look at the sheet said no", &e)
		}
		return found("a look at the sheet said so", &e)
	}
	return nil
}

// day is how an entry's day is told.
func day(e *events.Entry) string { return e.At.Format("2006-01-02") }

// when is the moment of the sheet: of its exposure, else of its first entry.
func (c *court) when() time.Time {
	if c.l.Exposure != nil {
		return c.l.Exposure.At
	}
	return c.l.Sheet.Entries[0].At
}

// nearest picks, of tests that were good or bad, the one that tells of a moment: a bad one before it, or a good one either
// side. before is how long a test before it tells, after how long one after it does.
func nearest(tests []tried, at time.Time, before, after time.Duration) *tried {
	var last, next *tried
	for i := range tests {
		t := &tests[i]
		switch d := at.Sub(t.entry.At); {
		case d >= 0 && d <= before && (last == nil || !t.entry.At.Before(last.entry.At)):
			last = t
		case d < 0 && -d <= after && (next == nil || t.entry.At.Before(next.entry.At)):
			next = t
		}
	}
	if last != nil && !last.good || next == nil {
		return last
	}
	return next
}

type tried struct {
	entry *events.Entry
	good  bool
}

// checked holds the checks of one part of the camera against the moment of the exposure.
func (c *court) checked(what string) (*ruling, error) {
	name := cameraOf(c.l)
	if name == "" {
		return nil, nil
	}
	cam, err := wording.IgnoreMissing(c.r.d.Camera(name))
	if err != nil || cam == nil {
		return nil, err
	}
	var tests []tried
	for i := range cam.Checks {
		e := &cam.Checks[i]
		x := e.Data.(*events.CameraCheckedData)
		if x.What == what && (x.Holder == "" || x.Holder == c.l.X.Holder) {
			tests = append(tests, tried{e, x.Result == "good"})
		}
	}
	t := nearest(tests, c.when(), tellsBefore, tellsAfter)
	switch {
	case t == nil:
		return nil, nil
	case t.good:
		return out(fmt.Sprintf("the check of the %s was good on %s", what, day(t.entry)), t.entry), nil
	case t.entry.At.After(c.when().Add(leakBefore)):
		return nil, nil
	}
	return found(fmt.Sprintf("the check of the %s was bad on %s", what, day(t.entry)), t.entry), nil
}

// cameraOf is the name of the camera of an exposure, "" where none is known.
func cameraOf(l *calledfor.SheetLog) string {
	if l.X.Camera == "" && l.Camera != nil {
		return l.Camera.Camera
	}
	return l.X.Camera
}

// boxUnexposed tells how a sheet came out that was developed straight from the box.
func (c *court) boxUnexposed() (*ruling, error) {
	if c.l.Box == nil {
		return nil, nil
	}
	var tests []tried
	for i := range c.l.Box.Ratings {
		e := &c.l.Box.Ratings[i]
		if x := e.Data.(*events.PaperRatedData); x.Unexposed != "" {
			tests = append(tests, tried{e, x.Unexposed == "clean"})
		}
	}
	t := nearest(tests, c.when(), tellsBefore, tellsAfter)
	if t == nil {
		return nil, nil
	}
	x := t.entry.Data.(*events.PaperRatedData)
	said := fmt.Sprintf("an unexposed sheet of %s came out %s on %s", c.l.Sheet.Box, map[string]string{"clean": "clean", "grey": "grey", "edges": "dark at its edges"}[x.Unexposed], day(t.entry))
	if t.good {
		return out(said, t.entry), nil
	}
	return found(said, t.entry), nil
}

func (c *court) inDate() (*ruling, error) {
	if c.l.Box == nil || c.l.Box.Received == nil {
		return nil, nil
	}
	expires := c.l.Box.Received.Expires
	if expires == "" {
		return lacking("the date of the paper (--expires)"), nil
	}
	if c.l.Aged.Months > 0 || len(c.l.Box.Entries) == 0 || c.when().After(snapshot.EndOfDate(expires, c.when().Location())) {
		return nil, nil
	}
	return out("the paper is good until "+expires, &c.l.Box.Entries[0]), nil
}

// neighbour is another sheet that was kept, from near in time.
type neighbour struct {
	sheet                        string
	at                           time.Time
	box, camera, holder, reading string
	verdict                      *events.Entry
}

// neighbours are the kept sheets of the same box within a week of this one, each with its verdict. They are asked for once a
// sheet.
func (c *court) neighbours() ([]neighbour, error) {
	if c.l.Box == nil || c.l.Exposure == nil {
		return nil, nil
	}
	if known, asked := c.r.kept[c.l.Sheet.Name]; asked {
		return known, nil
	}
	uses, err := c.r.usesNear(c.l.Box.Entity.ID, c.when())
	if err != nil {
		return nil, err
	}
	uses = slices.Clone(uses)
	slices.SortStableFunc(uses, func(a, b boxExposure) int {
		return int(a.entry.At.Sub(c.when()).Abs()-b.entry.At.Sub(c.when()).Abs()) / int(time.Second)
	})
	var all []neighbour
	for i := range uses {
		if len(all) == mostKept {
			break
		}
		u := &uses[i]
		name, picture, part := u.sheet, u.picture, u.part
		if picture == c.r.p.Entity.Name || (part == "n") != (c.l.Sheet.Generation == snapshot.Negative) || u.entry.At.Sub(c.when()).Abs() > holderKept {
			continue
		}
		if verdict, err := c.r.verdictOf(picture, part); err != nil {
			return nil, err
		} else if verdict != "keep" {
			continue
		}
		p, s, err := c.r.d.SheetByName(name)
		if err != nil && !wording.Refused(err) {
			return nil, err
		}
		if err != nil || s.Verdict() == nil || s.Verdict().Verdict != "keep" {
			continue
		}
		n := neighbour{sheet: name, at: u.entry.At, box: s.Box, verdict: &s.Judged[len(s.Judged)-1]}
		x := calledfor.ExposureOf(s)
		n.camera, n.holder = x.Camera, x.Holder
		if n.camera == "" {
			n.camera = p.Camera
		}
		switch d := u.entry.Data.(type) {
		case *events.SheetExposedData:
			n.reading = d.Reading
		case *events.SheetReprintedData:
			n.reading = d.Reading
		}
		all = append(all, n)
	}
	c.r.kept[c.l.Sheet.Name] = all
	return all, nil
}

// boxExposure is one exposure on a box.
type boxExposure struct {
	sheet, picture, part string
	entry                *events.Entry
}

// mostUses is how many exposures on a box are looked through for its neighbours: a box of hundreds costs no more.
const mostUses = 3 * leanLook

// usesNear gives the exposures on a box about a moment. They are asked for once for all sheets of a week: a picture may have a
// hundred prints.
func (r *Replays) usesNear(box int64, at time.Time) ([]boxExposure, error) {
	week := at.UTC().Truncate(holderKept)
	key := boxWeek{box, week.Unix()}
	uses, asked := r.uses[key]
	if asked {
		return uses, nil
	}
	found, err := r.d.Entries(events.Query{Box: box, Kinds: []events.Kind{events.SheetExposed, events.SheetReprinted},
		From: week.Add(-holderKept), To: week.Add(2 * holderKept), Newest: true, Limit: mostUses})
	if err != nil {
		return nil, err
	}
	for i := range found {
		u := boxExposure{sheet: events.SheetOf(found[i].Data), entry: &found[i]}
		u.picture, u.part, _ = events.SplitSheet(u.sheet)
		uses = append(uses, u)
	}
	r.uses[key] = uses
	return uses, nil
}

// boxWeek is a box in a week of seven days, named by its beginning.
type boxWeek struct{ box, week int64 }

// mostKept is how many kept neighbours are looked at, so that a box of hundreds costs no more than a small one.
const mostKept = 6

// kept rules a suspect out by a sheet that was kept and shared what is suspected.
func (c *court) kept(how string, within time.Duration, after bool, shares func(*neighbour) (bool, error)) (*ruling, error) {
	all, err := c.neighbours()
	if err != nil {
		return nil, err
	}
	for i := range all {
		n := &all[i]
		if n.at.Sub(c.when()).Abs() > within || after && !n.at.After(c.when()) {
			continue
		}
		shared, err := shares(n)
		if err != nil {
			return nil, err
		}
		if shared {
			return out(fmt.Sprintf("%s, %s, was kept", n.sheet, how), n.verdict), nil
		}
	}
	return nil, nil
}

// bathKept rules a bath out by a sheet that went through it later and was kept: a bath only gets worse.
func (c *court) bathKept(stays []events.Entry) (*ruling, error) {
	if len(stays) == 0 {
		return nil, nil
	}
	bath := events.PlacesOf(stays[0].Data).Bath
	return c.kept("later through the same "+bath, nearKept, true, func(n *neighbour) (bool, error) {
		_, s, err := c.r.d.SheetByName(n.sheet)
		if err != nil {
			return false, err
		}
		return slices.ContainsFunc(s.Entries, func(e events.Entry) bool { return e.Kind == stays[0].Kind && events.PlacesOf(e.Data).Bath == bath }), nil
	})
}

// stay is the first stay of the sheet in a bath of a role, nil for none.
func (c *court) stay(role string) (*calledfor.Stay, error) {
	key := stayKey{c.l, role}
	if s, asked := c.r.stays[key]; asked {
		return s, nil
	}
	in, _, err := calledfor.Stays(c.r.d, c.r.p, c.l.Sheet, role)
	if err != nil {
		return nil, err
	}
	var s *calledfor.Stay
	if len(in) > 0 {
		s = in[0]
	}
	c.r.stays[key] = s
	return s, nil
}

type stayKey struct {
	l    *calledfor.SheetLog
	role string
}

// freshShare is the share of its capacity up to which a bath counts as fresh. Common practice.
const freshShare = 0.5

func (c *court) fresh(role string) (*ruling, error) {
	s, err := c.stay(role)
	if err != nil || s == nil {
		return nil, err
	}
	age := s.Need.Age
	switch {
	case age.CapacityM2 == 0 && age.LifeH == 0, age.CapacityM2 > 0 && age.Used >= freshShare || age.LifeH > 0 && age.TrayH >= age.LifeH || s.IsOld():
		return nil, nil
	}
	return out(fmt.Sprintf("%s had seen %s of what it can treat and stood %s", s.Bath.Entity.Name, wording.Percent(age.Used), wording.Seconds(age.TrayH*3600)), mixing(s.Bath), &s.Entry), nil
}

func (c *court) temperature(role string) (*ruling, error) {
	s, err := c.stay(role)
	if err != nil || s == nil {
		return nil, err
	}
	var by *float64
	switch x := s.Entry.Data.(type) {
	case *events.SheetDevelopedData:
		by = x.TempC
	case *events.SheetFixedData:
		by = x.TempC
	}
	if by == nil && !s.Need.Age.Temp.Known() {
		return lacking("the " + role + "'s temperature (--temp)"), nil
	}
	if s.Need.Stopped {
		return nil, nil
	}
	return out(fmt.Sprintf("%s was measured at %s °C, and its time allows for it", s.Bath.Entity.Name, wording.Number(s.Need.TempC)), &s.Entry), nil
}

// bathTests are the tests of the first bath of some stays by their name, each good or bad.
func (c *court) bathTests(stays []events.Entry, test string, good func(v float64) (ok, told bool)) (*tried, string, error) {
	if len(stays) == 0 {
		return nil, "", nil
	}
	name := events.PlacesOf(stays[0].Data).Bath
	b, err := wording.IgnoreMissing(c.r.d.Bath(name))
	if err != nil || b == nil {
		return nil, "", err
	}
	var tests []tried
	for i := range b.Entries {
		if x, ok := b.Entries[i].Data.(*events.BathTestedData); ok && x.Test == test {
			if ok, told := good(x.Value); told {
				tests = append(tests, tried{&b.Entries[i], ok})
			}
		}
	}
	return nearest(tests, stays[0].At, bathTold, bathTold), name, nil
}

// stained tells what an unexposed snip said of a bath: 0 is no stain.
func (c *court) stained(stays []events.Entry) (*ruling, error) {
	t, name, err := c.bathTests(stays, "stain", func(v float64) (bool, bool) { return v == 0, true })
	switch {
	case err != nil || t == nil:
		return nil, err
	case t.good:
		return out(fmt.Sprintf("%s was tried on %s and stained nothing", name, day(t.entry)), t.entry), nil
	}
	return found(fmt.Sprintf("%s was tried on %s, and was bad", name, day(t.entry)), t.entry), nil
}

// appeared holds the time in which a snip held to daylight came up against the developing time: within a third of it the
// developer works, over half of it it is weak. The usual image comes after a sixth; common practice.
func (c *court) appeared() (*ruling, error) {
	if c.l.Dev == nil || c.l.Dev.Need.TimeS == nil {
		return nil, nil
	}
	called := *c.l.Dev.Need.TimeS
	t, name, err := c.bathTests(c.l.Sheet.Developed, "time-of-appearance", func(v float64) (bool, bool) { return v <= called/3, v <= called/3 || v > called/2 })
	if err != nil || t == nil {
		return nil, err
	}
	v := wording.Seconds(t.entry.Data.(*events.BathTestedData).Value)
	if t.good {
		return out(fmt.Sprintf("a snip came up in %s after %s", name, v), t.entry), nil
	}
	return found(fmt.Sprintf("a snip came up in %s only after %s", name, v), t.entry), nil
}

// cleared holds a clearing time against the fixer's: it fixes in twice the fresh bath's, and is dead at double (published,
// as the reference of fixing times).
func (c *court) cleared() (*ruling, error) {
	s, err := c.stay("fixer")
	if err != nil || s == nil || s.Need.NominalS == 0 {
		return nil, err
	}
	nominal := s.Need.NominalS
	t, name, err := c.bathTests(c.l.Sheet.Fixed, "clearing-time", func(v float64) (bool, bool) { return v <= 0.75*nominal, v <= 0.75*nominal || v >= nominal })
	if err != nil || t == nil {
		return nil, err
	}
	v := wording.Seconds(t.entry.Data.(*events.BathTestedData).Value)
	if t.good {
		return out(fmt.Sprintf("%s cleared in %s on %s", name, v, day(t.entry)), t.entry), nil
	}
	return found(fmt.Sprintf("%s cleared only in %s on %s", name, v, day(t.entry)), t.entry), nil
}

func (c *court) developedInTime() (*ruling, error) {
	if len(c.l.Sheet.Developed) == 0 {
		return lacking("the development"), nil
	}
	if c.l.Dev == nil {
		return lacking("the developer's time (bath mix --time)"), nil
	}
	if c.l.Dev.Given < math.Log2(calc.DevelopLossBelow)-1e-9 || c.l.Dev.Given > math.Log2(calc.DevelopDarkAbove)+1e-9 {
		return nil, nil
	}
	return out(fmt.Sprintf("%s were given and %s called for", wording.Seconds(c.l.Dev.Done), wording.Seconds(*c.l.Dev.Need.TimeS)), &c.l.Dev.Entry), nil
}

func (c *court) developedFirst() (*ruling, error) {
	s := c.l.Sheet
	if len(s.Developed) == 0 || len(s.Fixed) == 0 || s.Fixed[0].At.Before(s.Developed[0].At) {
		return nil, nil
	}
	return out(fmt.Sprintf("it was developed at %s and fixed at %s", s.Developed[0].At.Format("15:04"), s.Fixed[0].At.Format("15:04")), &s.Developed[0], &s.Fixed[0]), nil
}

func (c *court) rocked(stays []events.Entry, asks bool) (*ruling, error) {
	for i := range stays {
		var rock *float64
		switch x := stays[i].Data.(type) {
		case *events.SheetDevelopedData:
			rock = x.RockS
		case *events.SheetFixedData:
			rock = x.RockS
		}
		switch {
		case rock == nil && asks:
			return lacking("how often the tray was rocked (--rock)"), nil
		case rock == nil || *rock > stillS:
			return nil, nil
		case i == len(stays)-1:
			return out("it was rocked every "+wording.Seconds(*rock), &stays[i]), nil
		}
	}
	return nil, nil
}

func (c *court) deep() (*ruling, error) {
	s, err := c.stay("developer")
	if err != nil || s == nil || c.l.Box == nil {
		return nil, err
	}
	area := c.l.Box.Area() * calledfor.PartOfSheet(c.l.Sheet)
	if area <= 0 {
		return nil, nil
	}
	volume := s.Bath.VolumeAt(s.Entry.At)
	if volume/(area*1000) < thinMM {
		return nil, nil
	}
	return out(fmt.Sprintf("%s held %s ml, which covers the sheet well", s.Bath.Entity.Name, wording.Number(volume)), mixing(s.Bath)), nil
}

func (c *court) rinsed() (*ruling, error) {
	if len(c.l.Sheet.Rinsed) == 0 {
		return nil, nil
	}
	e := &c.l.Sheet.Rinsed[0]
	x := e.Data.(*events.SheetRinsedData)
	const least = 8.0 // seconds; 10 to 15 are asked for. Common practice
	if x.TimeS != nil && *x.TimeS < least {
		return nil, nil
	}
	return out("it was rinsed at "+e.At.Format("15:04"), e), nil
}

// fixedFor rules out by all fixing together, as a share of what it called for.
func (c *court) fixedFor(least, most float64) (*ruling, error) {
	if len(c.l.Sheet.Fixed) == 0 {
		return lacking("the fixing"), nil
	}
	in, _, err := calledfor.Stays(c.r.d, c.r.p, c.l.Sheet, "fixer")
	if err != nil || len(in) == 0 {
		return nil, err
	}
	if in[0].Need.NominalS == 0 {
		return lacking("the fixer's time (bath mix --time)"), nil
	}
	share, done := 0.0, 0.0
	for _, s := range in {
		share += math.Exp2(s.Ratio())
		done += s.Done
	}
	if share < least*calc.FixShortBelow || share >= most {
		return nil, nil
	}
	return out(fmt.Sprintf("it was fixed %s, %s of what was called for", wording.Seconds(done), wording.Percent(share)), &in[0].Entry), nil
}

func (c *court) fixedTwice() (*ruling, error) {
	if n := len(c.l.Sheet.Fixed); n > 1 && events.PlacesOf(c.l.Sheet.Fixed[0].Data).Bath != events.PlacesOf(c.l.Sheet.Fixed[n-1].Data).Bath {
		return out("it was fixed in two baths", &c.l.Sheet.Fixed[0], &c.l.Sheet.Fixed[n-1]), nil
	}
	return nil, nil
}

func (c *court) sheetTest(test string) (*ruling, error) {
	for _, e := range slices.Backward(c.l.Sheet.Entries) {
		x, ok := e.Data.(*events.SheetTestedData)
		if !ok || x.Test != test {
			continue
		}
		if x.Result == "clear" {
			return out("a test found no "+test+" in it", &e), nil
		}
		return found("a test found "+test+" left in it", &e), nil
	}
	return nil, nil
}

func (c *court) washed() (*ruling, error) {
	washes := c.l.Sheet.WashedSince()
	if len(washes) == 0 {
		return lacking("the wash"), nil
	}
	w, known, err := calledfor.WashOf(c.r.d, c.l.Sheet)
	if err != nil || !known || w.Short {
		return nil, err
	}
	return out("it was washed as called for, or nearly", &washes[0]), nil
}

func (c *court) seenSoon() (*ruling, error) {
	if c.late || len(c.l.Sheet.Fixed) == 0 || len(c.l.Sheet.Judged) == 0 {
		return nil, nil
	}
	e := &c.l.Sheet.Judged[len(c.l.Sheet.Judged)-1]
	return out("it was seen on the day or in the week, and what a short wash leaves shows after weeks", e), nil
}

func (c *court) border(is string) (*ruling, error) {
	for _, e := range slices.Backward(c.l.Sheet.Judged) {
		if x := e.Data.(*events.SheetJudgedData); x.Border == is {
			return out("its border is "+is, &e), nil
		}
	}
	return nil, nil
}

// timed is how the time of an exposure was taken, "" where nothing says.
func timed(l *calledfor.SheetLog) string {
	if l.Exposure != nil {
		switch x := l.Exposure.Data.(type) {
		case *events.SheetExposedData:
			return x.Timed
		case *events.SheetReprintedData:
			return x.Timed
		}
	}
	return ""
}

func (c *court) timeMeasured() (*ruling, error) {
	if timed(c.l) != "measured" {
		return nil, nil
	}
	return out("a clock took the time, "+wording.Seconds(c.l.X.TimeS), c.l.Exposure), nil
}

// apertureTwice: plan and hand are both written with time and aperture, and a clock ran from cap to cap. An aperture that
// only stands in the entry as it was planned says nothing of the ring.
func (c *court) apertureTwice() (*ruling, error) {
	if timed(c.l) != "measured" || c.l.X.PlannedF == 0 || c.l.X.PlannedS == 0 || calc.ExactF(c.l.X.PlannedF) != calc.ExactF(c.l.X.F) {
		return nil, nil
	}
	return out(fmt.Sprintf("f/%s was planned and f/%s written as the clock ran", wording.Number(c.l.X.PlannedF), wording.Number(c.l.X.F)), c.l.Exposure), nil
}

// readAgain finds another reading of the same thing within the hour that agrees.
func (c *court) readAgain() (*ruling, error) {
	first := c.l.Step.Serving
	if c.l.Exposure == nil || first == nil || first.Kind != events.LightMetered {
		return nil, nil
	}
	was := snapshot.Metered(first)
	ev, err := calledfor.ReadingOf(was).EV100()
	if err != nil {
		return nil, nil
	}
	lists := [][]events.Entry{c.r.p.Entries}
	if c.l.X.Session != "" {
		s, err := wording.IgnoreMissing(c.r.d.Session(c.l.X.Session))
		if err != nil {
			return nil, err
		}
		if s != nil {
			lists = append(lists, s.Readings)
		}
	}
	for _, list := range lists {
		for i := range list {
			e := &list[i]
			x, ok := e.Data.(*events.LightMeteredData)
			if !ok || e.ID == first.ID || x.On != was.On || x.Of != was.Of || x.Mode != was.Mode || x.Filter != was.Filter || e.At.Sub(c.when()).Abs() > time.Hour {
				continue
			}
			if v, err := calledfor.ReadingOf(x).EV100(); err == nil && math.Abs(v-ev) <= pairStops {
				return out("a second reading at "+e.At.Format("15:04")+" agrees", first, e), nil
			}
		}
	}
	return nil, nil
}

func (c *court) distance() (*ruling, error) {
	x, ok := exposed(c.l)
	if !ok {
		return nil, nil
	}
	if x.SubjectMM == nil && x.ExtensionMM == nil {
		return lacking("the distance of the subject (--distance)"), nil
	}
	return out("the bellows were counted "+where(c.l), c.l.Exposure), nil
}

func (c *court) size() (*ruling, error) {
	if c.l.Exposure == nil {
		return nil, nil
	}
	x, ok := c.l.Exposure.Data.(*events.SheetReprintedData)
	if !ok || x.Way == "contact" || x.Way == "enlarger" {
		return nil, nil
	}
	if x.Magnification == nil && x.ExtensionMM == nil {
		return lacking("the size of the copy (--magnification)"), nil
	}
	return out("the copy was counted "+where(c.l), c.l.Exposure), nil
}

func exposed(l *calledfor.SheetLog) (*events.SheetExposedData, bool) {
	if l.Exposure == nil {
		return nil, false
	}
	x, ok := l.Exposure.Data.(*events.SheetExposedData)
	return x, ok
}

func (c *court) negativeKept() (*ruling, error) {
	if c.r.neg == nil || c.r.neg == c.l {
		return nil, nil
	}
	s := c.r.neg.Sheet
	if v := s.Verdict(); v == nil || v.Verdict != "keep" {
		return nil, nil
	}
	return out("the negative was found good", &s.Judged[len(s.Judged)-1]), nil
}

func (c *court) meteredOnIt() (*ruling, error) {
	if !c.l.Metered || c.l.Step.Serving == nil {
		return nil, nil
	}
	return out("the copy was read on this very negative", c.l.Step.Serving), nil
}

func (c *court) asCalled() (*ruling, error) {
	if c.l.Exposure == nil {
		return nil, nil
	}
	if c.l.Step.DeviationStops == nil {
		return lacking("a reading of the light (traybook meter)"), nil
	}
	if *c.l.Step.DeviationStops >= 0.5 {
		return nil, nil
	}
	return out("it got the exposure that was called for", c.l.Exposure), nil
}

func (c *court) holderOnce() (*ruling, error) {
	if c.l.X.Holder == "" || len(c.l.Sheet.Exposures) != 1 {
		return nil, nil
	}
	return out("holder "+c.l.X.Holder+" was exposed once on its loading", c.l.Exposure), nil
}

func (c *court) atRest() (*ruling, error) {
	x, ok := exposed(c.l)
	if !ok {
		return nil, nil
	}
	if x.Motion == "" && x.MotionMMS == nil {
		return lacking("what the subject did (--motion)"), nil
	}
	if x.Motion == "rest" {
		return out("the subject was at rest", c.l.Exposure), nil
	}
	return nil, nil
}

func (c *court) focusWritten() (*ruling, error) {
	x, ok := exposed(c.l)
	if !ok {
		return nil, nil
	}
	if x.FocusedMM == nil || x.SubjectMM == nil {
		return lacking("where the rail stood (--focused)"), nil
	}
	return out(fmt.Sprintf("the rail was written at %s m for a subject at %s m", wording.Number(*x.FocusedMM/1000), wording.Number(*x.SubjectMM/1000)), c.l.Exposure), nil
}

func (c *court) depthWritten() (*ruling, error) {
	x, ok := exposed(c.l)
	if !ok {
		return nil, nil
	}
	if x.NearMM == nil && x.FarMM == nil {
		return lacking("the nearest and the farthest that mattered (--near, --far)"), nil
	}
	return out("near and far lie within the depth of field", c.l.Exposure), nil
}

func (c *court) extensionWritten() (*ruling, error) {
	if c.l.Exposure == nil {
		return nil, nil
	}
	x, ok := c.l.Exposure.Data.(*events.SheetReprintedData)
	if !ok || x.ExtensionMM == nil || x.Magnification == nil {
		return nil, nil
	}
	return out(fmt.Sprintf("the rail stood %s mm out, as the size wants", wording.Number(*x.ExtensionMM)), c.l.Exposure), nil
}

func (c *court) rangeRead() (*ruling, error) {
	_, read, err := c.r.sceneRange()
	if err != nil {
		return nil, err
	}
	if !read {
		return lacking("readings of the shadows and the highlights (traybook meter shadow …, light …)"), nil
	}
	return out("shadows and highlights were read, and fit the paper", c.l.Exposure), nil
}

func (c *court) noPreFlash() (*ruling, error) {
	if c.l.Exposure == nil || c.l.X.PreFlash > 0 {
		return nil, nil
	}
	return out("no pre-flash is written", c.l.Exposure), nil
}

func (c *court) stopNotSmall() (*ruling, error) {
	if c.l.Exposure == nil || c.l.Camera == nil || c.l.X.F == 0 || c.l.X.F > c.l.Camera.FSmallest/1.9 {
		return nil, nil
	}
	return out(fmt.Sprintf("f/%s is far from the smallest stop, f/%s", wording.Number(c.l.X.F), wording.Number(c.l.Camera.FSmallest)), c.l.Exposure), nil
}
