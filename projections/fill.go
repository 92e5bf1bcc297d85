package projections

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"traybook/events"
)

// Fill puts in, once, what an act leaves out: session, camera, picture, sheet, box, bath, reading. What it puts in
// stands in the entry for ever; nothing written later takes it over. The desk must be as of the act. strict refuses
// an exposure that could belong to either of two open sessions; without it the one opened last is taken.
func (d *Desk) Fill(e *events.Entry, strict bool) error {
	if err := d.fillSession(e, strict); err != nil {
		return err
	}
	if err := d.fillCamera(e); err != nil {
		return err
	}
	switch x := e.Data.(type) {
	case *events.PaperReceivedData:
		return d.fillNumber(&x.Box, "box-")
	case *events.BathMixedData:
		return d.fillNumber(&x.Bath, bathPrefix[x.Role])
	case *events.PaperRatedData:
		return d.fillBox(&x.Box, e, "")
	case *events.PaperCountedData:
		return d.fillBox(&x.Box, e, "")
	case *events.PaperSpoiledData:
		return d.fillBox(&x.Box, e, "")
	case *events.PaperCutData:
		return d.fillBox(&x.Box, e, "")
	case *events.HolderLoadedData:
		return d.fillBox(&x.Box, e, "")
	case *events.StripExposedData:
		if err := d.fillBox(&x.Box, e, ""); err != nil {
			return err
		}
		return d.fillStripReading(e, x)
	case *events.SheetExposedData:
		return d.fillExposed(e, x)
	case *events.SheetReprintedData:
		return d.fillReprinted(e, x)
	case *events.SheetDevelopedData:
		if err := d.fillWaiting(&x.Sheet); err != nil {
			return err
		}
		return d.fillBath(&x.Bath, "developer")
	case *events.SheetRinsedData:
		return d.fillAfter(&x.Sheet, e, "developed and not yet rinsed", Developed)
	case *events.SheetFixedData:
		if err := d.fillAfter(&x.Sheet, e, "developed and not yet fixed", Rinsed, Developed); err != nil {
			return err
		}
		return d.fillBath(&x.Bath, "fixer")
	case *events.SheetWashedData:
		return d.fillAfter(&x.Sheet, e, "fixed and not yet washed", Fixed)
	case *events.SheetTonedData:
		if err := d.fillNewest(&x.Sheet, e); err != nil {
			return err
		}
		return d.fillBath(&x.Bath, "toner")
	case *events.SheetDriedData:
		return d.fillNewest(&x.Sheet, e)
	case *events.SheetWorkedData:
		return d.fillNewest(&x.Sheet, e)
	case *events.SheetTestedData:
		return d.fillNewest(&x.Sheet, e)
	case *events.SheetJudgedData:
		return d.fillNewest(&x.Sheet, e)
	case *events.SheetAttachedData:
		return d.fillNewest(&x.Sheet, e)
	case *events.SheetDeliveredData:
		return d.fillNewest(&x.Sheet, e)
	}
	return nil
}

// bathPrefix is what the numbers of baths begin with, by role.
var bathPrefix = map[string]string{
	"developer": "dev-", "fixer": "fix-", "stop": "stop-", "water": "water-", "wash-aid": "wash-aid-", "toner": "toner-",
}

func (d *Desk) fillNumber(name *string, prefix string) error {
	if *name != "" || prefix == "" {
		return nil
	}
	n, err := d.R.LargestNumber(prefix)
	if err != nil {
		return err
	}
	*name = prefix + strconv.Itoa(n+1)
	return nil
}

func (d *Desk) fillSession(e *events.Entry, strict bool) error {
	var field *string
	switch x := e.Data.(type) {
	case *events.CameraCheckedData:
		field = &x.Session
	case *events.SessionClosedData:
		field = &x.Session
	default:
		if c := events.CarriedOf(e.Data); c != nil {
			field = &c.Session
		}
	}
	if field == nil || *field != "" {
		return nil
	}
	open, err := d.sessionsAt(e.At)
	if err != nil {
		return err
	}
	switch {
	case len(open) == 0 && e.Kind == events.SessionClosed:
		return &Refusal{Text: "no session is open", Hint: "`traybook sessions` lists them, `traybook session open` begins one"}
	case len(open) == 0:
		return nil
	case len(open) > 1 && strict && (e.Kind == events.SheetExposed || e.Kind == events.SessionClosed):
		names := make([]string, len(open))
		for i, s := range open {
			names[i] = s.Thing.Name
		}
		return &Refusal{Text: "several sessions are open: " + strings.Join(names, ", "), Hint: fmt.Sprintf("add --session %s, or close the other: traybook session close %s", names[1], names[0])}
	}
	*field = open[0].Thing.Name
	return nil
}

func (d *Desk) fillCamera(e *events.Entry) error {
	var field *string
	session := ""
	switch x := e.Data.(type) {
	case *events.CameraCheckedData:
		field, session = &x.Camera, x.Session
	case *events.SessionOpenedData:
		field = &x.Camera
	case *events.SheetExposedData, *events.SheetReprintedData, *events.StripExposedData, *events.LightMeteredData:
		c := events.CarriedOf(e.Data)
		field, session = &c.Camera, c.Session
	}
	if field == nil || *field != "" {
		return nil
	}
	if session != "" {
		s, err := quiet(d.Session(session))
		if err != nil {
			return err
		}
		if s != nil && s.Opened != nil && s.Opened.Camera != "" {
			*field = s.Opened.Camera
			return nil
		}
	}
	cameras, err := d.R.Things(events.Camera)
	if err != nil {
		return err
	}
	var described []string
	for _, t := range cameras {
		c, err := d.Camera(t.Name)
		if err != nil {
			return err
		}
		if len(c.Descriptions) > 0 {
			described = append(described, t.Name)
		}
	}
	if len(described) == 1 {
		*field = described[0]
	}
	if *field == "" && e.Kind == events.CameraChecked {
		return &Refusal{Text: "it is not clear which camera was checked", Hint: "name it with --camera"}
	}
	return nil
}

func (d *Desk) fillExposed(e *events.Entry, x *events.SheetExposedData) error {
	if x.Sheet != "" && x.Picture == "" {
		x.Picture, _, _ = events.SplitSheet(x.Sheet)
	}
	if x.Picture == "" {
		prefix := fmt.Sprintf("%04d-", e.At.Year())
		n, err := d.R.LargestNumber(prefix)
		if err != nil {
			return err
		}
		x.Picture = fmt.Sprintf("%s%03d", prefix, n+1)
	}
	if x.Sheet == "" {
		t, there, err := d.R.Thing(x.Picture)
		if err != nil {
			return err
		}
		if there && t.Kind == events.Picture {
			p, err := NewDesk(d.R, time.Time{}).pictureOf(t)
			if err != nil {
				return err
			}
			if n := p.NegativeSheet(); n != nil && len(n.Exposures) > 0 {
				return &Refusal{Text: fmt.Sprintf("%s has its negative already", x.Picture),
					Hint: fmt.Sprintf("another negative is another picture: leave out --picture; the same sheet exposed twice: --sheet %s", n.Name)}
			}
		}
		x.Sheet = events.Sheet(x.Picture, "n")
	}
	if x.Box == "" && x.Holder != "" {
		if err := d.boxOfHolder(&x.Box, x.Holder); err != nil {
			return err
		}
	}
	if err := d.fillBox(&x.Box, e, events.SheetExposed); err != nil {
		return err
	}
	if x.Reading != "" {
		return nil
	}
	p := &Picture{}
	if t, ok, err := d.R.Thing(x.Picture); err != nil {
		return err
	} else if ok && t.Kind == events.Picture {
		if p, err = d.pictureOf(t); err != nil {
			return err
		}
	}
	r, err := d.servesNegative(p, *e, x)
	if r != nil {
		x.Reading = r.ID.String()
	}
	return err
}

func (d *Desk) boxOfHolder(box *string, holder string) error {
	t, err := d.thing(events.Holder, holder)
	if err != nil {
		return err
	}
	entries, err := d.Home(t)
	if err != nil {
		return err
	}
	for _, l := range entries {
		if x, ok := l.Data.(*events.HolderLoadedData); ok {
			*box = x.Box
		}
	}
	return nil
}

func (d *Desk) fillReprinted(e *events.Entry, x *events.SheetReprintedData) error {
	if x.Sheet != "" && x.Picture == "" {
		x.Picture, _, _ = events.SplitSheet(x.Sheet)
	}
	if x.Picture == "" {
		name, err := d.newestNegative(e)
		if err != nil {
			return err
		}
		x.Picture = name
	}
	_, there, err := d.R.Thing(x.Picture)
	if err != nil {
		return err
	}
	if !there && x.Sheet != "" { // the print may be dated before its negative, which a later line of a file brings
		return d.fillBox(&x.Box, e, events.SheetReprinted, events.SheetExposed)
	}
	t, err := d.thing(events.Picture, x.Picture)
	if err != nil {
		return err
	}
	if x.Sheet == "" {
		n, err := d.nextPrint(t)
		if err != nil {
			return err
		}
		x.Sheet = events.Sheet(x.Picture, "p"+strconv.Itoa(n))
	}
	if err := d.fillBox(&x.Box, e, events.SheetReprinted, events.SheetExposed); err != nil {
		return err
	}
	if x.Reading != "" || x.Way == "contact" || x.Way == "enlarger" {
		return nil
	}
	p, err := d.pictureOf(t)
	if err != nil {
		return err
	}
	r, _, err := d.servesPrint(p, *e, x)
	if r != nil {
		x.Reading = r.ID.String()
	}
	return err
}

// nextPrint is one more than the largest print number that any entry of the picture names, voided ones included.
func (d *Desk) nextPrint(t events.Thing) (int, error) {
	raw, err := d.R.Entries(events.Query{Home: t.ID})
	if err != nil {
		return 0, err
	}
	largest := 0
	for _, e := range raw {
		if part := partOf(e.Data); strings.HasPrefix(part, "p") {
			if n, err := strconv.Atoi(part[1:]); err == nil {
				largest = max(largest, n)
			}
		}
	}
	return largest + 1, nil
}

func (d *Desk) newestNegative(e *events.Entry) (string, error) {
	found, err := d.entries(events.Query{Kinds: []events.Kind{events.SheetDeveloped}, To: e.At, Newest: true, Limit: 40})
	if err != nil {
		return "", err
	}
	for _, f := range slices.Backward(found) {
		if pic, part, ok := events.SplitSheet(events.SheetOf(f.Data)); ok && part == "n" {
			return pic, nil
		}
	}
	return "", &Refusal{Text: "no negative is developed yet that could be printed", Hint: "name one with --picture 2026-014"}
}

// fillBox takes the box last used by acts of the kinds given, tried in order; else the box last used at all; else the
// only one that holds paper.
func (d *Desk) fillBox(box *string, e *events.Entry, kinds ...events.Kind) error {
	if *box != "" {
		return nil
	}
	for _, k := range append(kinds, events.SheetExposed, events.SheetReprinted) {
		if k == "" {
			continue
		}
		q := events.Query{Kinds: []events.Kind{k}, To: e.At, Newest: true, Limit: 3}
		if c := events.CarriedOf(e.Data); c != nil && c.Session != "" {
			t, ok, err := d.R.Thing(c.Session)
			if err != nil {
				return err
			}
			if ok {
				in := q
				in.Session = t.ID
				if name, err := d.boxOfNewest(in); err != nil || name != "" {
					*box = name
					return err
				}
			}
		}
		if name, err := d.boxOfNewest(q); err != nil || name != "" {
			*box = name
			return err
		}
	}
	views, err := d.R.Views(events.ViewQuery{Kind: events.Box, OpenOnly: true})
	if err != nil {
		return err
	}
	switch len(views) {
	case 0:
		return &Refusal{Text: "there is no paper in the book", Hint: "`traybook paper receive` brings a box in"}
	case 1:
		*box = views[0].Thing.Name
		return nil
	}
	names := make([]string, len(views))
	for i, v := range views {
		names[i] = v.Thing.Name
	}
	return &Refusal{Text: "several boxes hold paper and none was used yet: " + strings.Join(names, ", "), Hint: "say which with --box"}
}

func (d *Desk) boxOfNewest(q events.Query) (string, error) {
	found, err := d.entries(q)
	if err != nil || len(found) == 0 {
		return "", err
	}
	return events.PlacesOf(found[len(found)-1].Data).Box, nil
}

// fillWaiting takes the only sheet that is exposed and waits for the developer, else the one exposed first.
func (d *Desk) fillWaiting(sheet *string) error {
	if *sheet != "" {
		return nil
	}
	waiting, err := d.Waiting()
	if err != nil {
		return err
	}
	if len(waiting) == 0 {
		return d.noneWaits()
	}
	*sheet = waiting[0].Name
	return nil
}

// Waiting lists the sheets exposed and not yet developed as of the desk's moment, the oldest first.
func (d *Desk) Waiting() ([]*Sheet, error) {
	views, err := d.R.Views(events.ViewQuery{Kind: events.Picture, OpenOnly: true})
	if err != nil {
		return nil, err
	}
	things := make([]events.Thing, 0, len(views))
	seen := map[int64]bool{}
	for _, v := range slices.Backward(views) {
		things, seen[v.Thing.ID] = append(things, v.Thing), true
	}
	// As of an earlier moment a sheet may have waited that waits no more: look through the open sessions' pictures too.
	if !d.AsOf.IsZero() {
		open, err := d.sessionsAt(d.AsOf)
		if err != nil {
			return nil, err
		}
		for _, s := range open {
			exposures, err := d.entries(events.Query{Session: s.Thing.ID, Kinds: []events.Kind{events.SheetExposed, events.SheetReprinted}})
			if err != nil {
				return nil, err
			}
			for _, e := range exposures {
				t, ok, err := d.R.Thing(events.PlacesOf(e.Data).Home.Name)
				if err != nil {
					return nil, err
				}
				if ok && !seen[t.ID] {
					things, seen[t.ID] = append(things, t), true
				}
			}
		}
	}
	var out []*Sheet
	for _, t := range things {
		p, err := d.pictureOf(t)
		if err != nil {
			return nil, err
		}
		for _, s := range p.Sheets {
			if s.Waits() {
				out = append(out, s)
			}
		}
	}
	sortByExposure(out)
	return out, nil
}

// noneWaits refuses an act in the developer that no sheet is there for. One that was exposed after the act's own time is
// told: a late act, or one that took the time of an earlier mark, would else look as if the sheet were not in the book.
func (d *Desk) noneWaits() error {
	if !d.AsOf.IsZero() {
		later, err := NewDesk(d.R, time.Time{}).Waiting()
		if err != nil {
			return err
		}
		if len(later) > 0 {
			return &Refusal{Text: "no exposed sheet waits for the developer at " + clockOf(d.AsOf),
				Hint: fmt.Sprintf("%s was exposed at %s: give a later --at", later[0].Name, clockOf(later[0].Exposures[0].At))}
		}
	}
	return &Refusal{Text: "no exposed sheet waits for the developer", Hint: "name one with --sheet 2026-014n"}
}

func sortByExposure(ss []*Sheet) {
	for i := 1; i < len(ss); i++ {
		for j := i; j > 0 && events.Compare(ss[j].Exposures[0], ss[j-1].Exposures[0]) < 0; j-- {
			ss[j], ss[j-1] = ss[j-1], ss[j]
		}
	}
}

// fillAfter takes the sheet that was last in the bath before: the newest in one of the states.
func (d *Desk) fillAfter(sheet *string, e *events.Entry, what string, states ...string) error {
	if *sheet != "" {
		return nil
	}
	s, err := d.lastInHand(e.At, []events.Kind{events.SheetDeveloped, events.SheetRinsed, events.SheetFixed},
		func(s *Sheet) bool { return slices.Contains(states, s.State) })
	if err != nil {
		return err
	}
	if s == nil {
		return &Refusal{Text: "no sheet is " + what, Hint: "name one with --sheet 2026-014n"}
	}
	*sheet = s.Name
	return nil
}

// lastInHand is, of the sheets that were last worked on in one of the ways, the latest that is wanted; nil for none.
func (d *Desk) lastInHand(at time.Time, ways []events.Kind, wanted func(*Sheet) bool) (*Sheet, error) {
	found, err := d.entries(events.Query{Kinds: ways, To: at, Newest: true, Limit: 60})
	if err != nil {
		return nil, err
	}
	for _, f := range slices.Backward(found) {
		if _, s, err := d.SheetByName(events.SheetOf(f.Data)); err != nil || wanted(s) {
			return s, err
		}
	}
	return nil, nil
}

// Unfixed are the sheets that came out of the developer within a day and were not fixed, but for those thrown away; the
// last one first. Light takes them soon, so that a session that ends names them; an older one is lost or was fixed unwritten.
func (d *Desk) Unfixed() ([]*Sheet, error) {
	found, err := d.entries(events.Query{Kinds: []events.Kind{events.SheetDeveloped}, From: d.AsOf.Add(-24 * time.Hour), To: d.AsOf})
	if err != nil {
		return nil, err
	}
	var out []*Sheet
	for _, f := range slices.Backward(found) {
		_, s, err := d.SheetByName(events.SheetOf(f.Data))
		if err != nil {
			return nil, err
		}
		if (s.State == Developed || s.State == Rinsed) && !s.thrown() && !slices.Contains(out, s) {
			out = append(out, s)
		}
	}
	return out, nil
}

// fillNewest takes the sheet that was last worked on.
func (d *Desk) fillNewest(sheet *string, e *events.Entry) error {
	if *sheet != "" {
		return nil
	}
	found, err := d.entries(events.Query{Kinds: []events.Kind{events.SheetExposed, events.SheetReprinted, events.SheetDeveloped,
		events.SheetRinsed, events.SheetFixed, events.SheetWashed, events.SheetDried, events.SheetToned}, To: e.At, Newest: true, Limit: 1})
	if err != nil {
		return err
	}
	if len(found) == 0 {
		return &Refusal{Text: "no sheet was worked on yet", Hint: "name one with --sheet 2026-014n"}
	}
	*sheet = events.SheetOf(found[len(found)-1].Data)
	if e.Kind != events.SheetJudged {
		return nil
	}
	return d.ripeFor(sheet, e.At)
}

// ripeFor takes, in the place of a sheet that was only exposed, the one that was last worked on and waits to be judged: a
// hand exposes the next while the last one dries. Where none waits, the exposed one stays.
func (d *Desk) ripeFor(sheet *string, at time.Time) error {
	_, last, err := d.SheetByName(*sheet)
	if err != nil || len(last.Developed) > 0 {
		return err
	}
	waits, err := d.lastInHand(at, []events.Kind{events.SheetDeveloped, events.SheetRinsed, events.SheetFixed, events.SheetWashed,
		events.SheetDried, events.SheetToned}, func(s *Sheet) bool { return s.Verdict() == nil })
	if waits != nil {
		*sheet = waits.Name
	}
	return err
}

// fillBath takes the bath of a role that was used or mixed last and is not discarded.
func (d *Desk) fillBath(bath *string, role string) error {
	if *bath != "" {
		return nil
	}
	b, err := d.BathInUse(role)
	if err != nil {
		return err
	}
	if b == nil {
		return &Refusal{Text: "there is no " + role, Hint: "`traybook bath mix " + role + "` makes one, --bath names one"}
	}
	*bath = b.Thing.Name
	return nil
}

const recentBaths = 40 // mixed last: among these the one in use is looked for

// BathInUse is the bath of a role that was used or mixed last before the desk's moment and is not discarded, nil for
// none.
func (d *Desk) BathInUse(role string) (*Bath, error) {
	q := events.ViewQuery{Kind: events.Bath, Limit: recentBaths}
	if !d.AsOf.IsZero() {
		q.To = d.AsOf.UnixMicro()
	}
	views, err := d.R.Views(q)
	if err != nil {
		return nil, err
	}
	var out *Bath
	var last int64
	for _, v := range views {
		if !roleInView(v, role) {
			continue
		}
		b, err := d.Bath(v.Thing.Name)
		if err != nil {
			return nil, err
		}
		if b.Mixed == nil || b.Discarded != nil {
			continue
		}
		course, err := d.courseOf(b)
		if err != nil {
			return nil, err
		}
		when := b.At.UnixMicro()
		if len(course.uses) > 0 {
			when = max(when, course.uses[len(course.uses)-1].entry.At.UnixMicro())
		}
		if out == nil || when > last {
			out, last = b, when
		}
	}
	return out, nil
}

// fillStripReading notes the reading that a strip on the scene or a negative was planned by.
func (d *Desk) fillStripReading(e *events.Entry, x *events.StripExposedData) error {
	if x.Reading != "" || x.On == "flash" || x.Session == "" {
		return nil
	}
	s, err := d.Session(x.Session)
	if err != nil {
		return err
	}
	candidates := s.Readings
	if x.Picture != "" {
		p, err := d.Picture(x.Picture)
		if err != nil {
			return err
		}
		candidates = slices.Concat(candidates, p.Entries)
	}
	if r := latest(candidates, *e, func(r *events.LightMeteredData) bool { return r.On == x.On }); r != nil {
		x.Reading = r.ID.String()
	}
	return nil
}
