package acts

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"traybook/events"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// defaultRules are the rules that the tags of the kinds name (`default=…`), in the order in which they are applied: the
// camera is that of the session, the box may be that of the holder, a reading serves a sheet that has its name. Each gives
// what belongs into an empty field, "" where the field may stay empty.
var defaultRules = []struct {
	name string
	find func(*snapshot.Snapshot, *incomplete) (string, error)
}{
	{"open-session", openSession},
	{"camera", cameraOf},
	{"next-box", func(snap *snapshot.Snapshot, _ *incomplete) (string, error) { return NextNumber(snap.R, "box-") }},
	{"next-bath", nextBath},
	{"next-order", func(snap *snapshot.Snapshot, _ *incomplete) (string, error) { return NextNumber(snap.R, "order-") }},
	{"next-picture", nextPicture},
	{"newest-negative", newestNegative},
	{"negative", negativeOf},
	{"next-print", nextPrint},
	{"box-in-use", boxInUse},
	{"waiting-sheet", waitingSheet},
	{"unrinsed-sheet", func(snap *snapshot.Snapshot, a *incomplete) (string, error) {
		return sheetAfter(snap, a, "developed and not yet rinsed", snapshot.Developed)
	}},
	{"unfixed-sheet", func(snap *snapshot.Snapshot, a *incomplete) (string, error) {
		return sheetAfter(snap, a, "developed and not yet fixed", snapshot.Rinsed, snapshot.Developed)
	}},
	{"unwashed-sheet", func(snap *snapshot.Snapshot, a *incomplete) (string, error) {
		return sheetAfter(snap, a, "fixed and not yet washed", snapshot.Fixed)
	}},
	{"last-sheet", lastSheet},
	{"sheet-to-judge", sheetToJudge},
	{"developer-in-use", bathInUse("developer")},
	{"fixer-in-use", bathInUse("fixer")},
	{"toner-in-use", bathInUse("toner")},
	{"reversal-bath", reversalBath},
	{"serving-reading", servingReading},
	{"order-wanted", orderWanted},
	{"orderer", orderer},
}

// incomplete is an act while the book fills in what it leaves out. strict refuses an exposure that could belong to either
// of two open sessions; without it the one opened last is taken.
type incomplete struct {
	*events.Entry
	strict bool
}

// ApplyDefaults puts in, once, what an act leaves out: session, camera, picture, sheet, box, bath, reading. What it puts in
// stands in the entry for ever; nothing written later takes it over. The snapshot must be as of the act. strict refuses an
// exposure that could belong to either of two open sessions.
func ApplyDefaults(snap *snapshot.Snapshot, e *events.Entry, strict bool) error {
	a := &incomplete{e, strict}
	for _, rule := range defaultRules {
		for _, f := range events.Fields(e.Kind) {
			if f.Default != rule.name {
				continue
			}
			if _, there := f.Value(e.Data); there {
				continue
			}
			v, err := rule.find(snap, a)
			if err != nil {
				return err
			}
			if v == "" {
				continue
			}
			if err := f.Put(e.Data, v); err != nil {
				return err
			}
		}
	}
	return nil
}

// What is refused where nothing tells what an act left out.
var (
	noneOpen        = wording.Refuses("none-open", "no session is open", "`traybook sessions` lists them, `traybook session open` begins one")
	severalOpen     = wording.Refuses("several-open", "several sessions are open: {sessions}", "add --session {latest}, or close the other: traybook session close {other}")
	whichCamera     = wording.Refuses("which-camera", "it is not clear which camera was checked", "name it with --camera")
	negativeAlready = wording.Refuses("negative-already", "{picture} has its negative already",
		"another negative is another picture: leave out --picture; the same sheet exposed twice: --sheet {sheet}")
	noNegative     = wording.Refuses("no-negative", "no negative is developed yet that could be printed", "name one with --picture 2026-014")
	noPaper        = wording.Refuses("no-paper", "there is no paper in the book", "`traybook paper receive` brings a box in")
	whichBox       = wording.Refuses("which-box", "several boxes hold paper and none was used yet: {boxes}", "say which with --box")
	noSheetInState = wording.Refuses("no-sheet-in-state", "no sheet is {state}", nameASheet)
	noSheetYet     = wording.Refuses("no-sheet-yet", "no sheet was worked on yet", nameASheet)
	noBathInUse    = wording.Refuses("no-bath-in-use", "there is no {role}", "`traybook bath mix {role}` makes one, --bath names one")
	noBathYet      = wording.Refuses("no-bath-yet", "there was no {role} at {at}: {bath} was mixed at {mixed}", "give a later --at, or put right when it was mixed: traybook amend {entry} at=…")
)

const nameASheet = "name one with --sheet 2026-014n"

// session is the session that the act belongs to, "" for none.
func (a *incomplete) session() string { return events.SessionOf(a.Data) }

// bathPrefix is what the numbers of baths begin with, by role.
var bathPrefix = map[string]string{
	"developer": "dev-", "fixer": "fix-", "stop": "stop-", "water": "water-", "washing-aid": "washing-aid-", "toner": "toner-", "bleach": "bleach-", "clearing-bath": "clear-",
}

func nextBath(snap *snapshot.Snapshot, a *incomplete) (string, error) {
	prefix := bathPrefix[a.Data.(*events.BathMixedData).Role]
	if prefix == "" { // an unknown role is refused by the check that follows
		return "", nil
	}
	return NextNumber(snap.R, prefix)
}

func openSession(snap *snapshot.Snapshot, a *incomplete) (string, error) {
	var open []*snapshot.Session
	var err error
	if a.strict {
		open, err = snap.SessionsAt(a.At)
	} else if last, err2 := snap.LastOpened(a.At); last != nil || err2 != nil {
		open, err = []*snapshot.Session{last}, err2
	}
	if err != nil {
		return "", err
	}
	switch {
	case len(open) == 0 && a.Kind == events.SessionClosed:
		return "", noneOpen.Refuse()
	case len(open) == 0:
		return "", nil
	case len(open) > 1 && (a.Kind == events.SheetExposed || a.Kind == events.SessionClosed):
		names := make([]string, len(open))
		for i, s := range open {
			names[i] = s.Entity.Name
		}
		return "", severalOpen.Refuse(names, names[1], names[0])
	}
	return open[0].Entity.Name, nil
}

// cameraOf is the session's camera, else the only one that is described.
func cameraOf(snap *snapshot.Snapshot, a *incomplete) (string, error) {
	if events.CarriedOf(a.Data) != nil && !events.ByCamera(a.Kind) {
		return "", nil
	}
	if session := a.session(); session != "" {
		s, err := wording.IgnoreMissing(snap.Session(session))
		if err != nil {
			return "", err
		}
		if s != nil && s.Opened != nil && s.Opened.Camera != "" {
			return s.Opened.Camera, nil
		}
	}
	cameras, err := snap.R.Entities(events.Camera)
	if err != nil {
		return "", err
	}
	var described []string
	for _, t := range cameras {
		c, err := snap.Camera(t.Name)
		if err != nil {
			return "", err
		}
		if len(c.Descriptions) > 0 {
			described = append(described, t.Name)
		}
	}
	switch {
	case len(described) == 1:
		return described[0], nil
	case a.Kind == events.CameraChecked:
		return "", whichCamera.Refuse()
	}
	return "", nil
}

// nextPicture is the picture of the sheet that is named, else one more than the largest number of the year.
func nextPicture(snap *snapshot.Snapshot, a *incomplete) (string, error) {
	if sheet := events.SheetOf(a.Data); sheet != "" {
		picture, _, _ := events.SplitSheet(sheet)
		return picture, nil
	}
	return NextNumber(snap.R, fmt.Sprintf("%04d-", a.At.Year()))
}

// negativeOf names the negative of a picture that has none yet.
func negativeOf(snap *snapshot.Snapshot, a *incomplete) (string, error) {
	x := a.Data.(*events.SheetExposedData)
	t, there, err := snap.R.Entity(x.Picture)
	if err != nil {
		return "", err
	}
	if there && t.Kind == events.Picture {
		n, _, err := snap.EverOf(t, "n")
		if err != nil {
			return "", err
		}
		if n.Exposed {
			return "", negativeAlready.Refuse(x.Picture, events.Sheet(t.Name, "n"))
		}
	}
	return events.Sheet(x.Picture, "n"), nil
}

// newestNegative is the picture of the print that is named, else of the negative that was developed last.
func newestNegative(snap *snapshot.Snapshot, a *incomplete) (string, error) {
	if sheet := events.SheetOf(a.Data); sheet != "" {
		picture, _, _ := events.SplitSheet(sheet)
		return picture, nil
	}
	newest, err := snap.Newest(snapshot.NegativeKey, func() (newest string, err error) {
		err = lookBack(snap, events.Query{Kinds: []events.Kind{events.SheetDeveloped}, To: a.At}, 0, func(e events.Entry) (bool, error) {
			picture, part, ok := events.SplitSheet(events.SheetOf(e.Data))
			if ok && part == "n" {
				newest = picture
			}
			return newest != "", nil
		})
		return newest, err
	})
	if err != nil || newest != "" {
		return newest, err
	}
	return "", noNegative.Refuse()
}

// firstLook is how many acts are looked at first where the newest of some sort is sought.
const firstLook = 8

// lookBack gives the acts of a query from the newest back until take takes one: the newest few, as many as the query says,
// and where it is none of them four times as many, and so on to the first, or to so many (0 = all).
func lookBack(snap *snapshot.Snapshot, q events.Query, most int, take func(events.Entry) (bool, error)) error {
	seen := map[events.ID]bool{}
	for q.Newest, q.Limit = true, cmp.Or(q.Limit, firstLook); ; q.Limit *= 4 {
		last := most > 0 && q.Limit >= most
		if last {
			q.Limit = most
		}
		raw, err := snap.R.Entries(q)
		if err != nil {
			return err
		}
		for _, e := range slices.Backward(snap.Fold(raw, events.Fold)) {
			if seen[e.ID] {
				continue
			}
			if taken, err := take(e); taken || err != nil {
				return err
			}
			seen[e.ID] = true
		}
		found := 0 // voids and amendments come on top
		for _, e := range raw {
			if len(q.Kinds) == 0 || slices.Contains(q.Kinds, e.Kind) {
				found++
			}
		}
		if last || found < q.Limit {
			return nil
		}
	}
}

// nextPrint is one more than the largest print number that any entry of the picture names, voided ones included.
func nextPrint(snap *snapshot.Snapshot, a *incomplete) (string, error) {
	t, err := snap.Entity(events.Picture, a.Data.(*events.SheetReprintedData).Picture)
	if err != nil {
		return "", err
	}
	return nextPrintOf(snap, t)
}

func nextPrintOf(snap *snapshot.Snapshot, t events.Entity) (string, error) {
	largest, err := snap.LargestPrint(t)
	if err != nil {
		return "", err
	}
	part, err := numbered("p", largest+1)
	return events.Sheet(t.Name, part), err
}

// boxInUse is the box of the holder that is named; else the box last used by acts of this kind, in this session or at
// all; else by any exposure; else the only one that holds paper.
func boxInUse(snap *snapshot.Snapshot, a *incomplete) (string, error) {
	if x, ok := a.Data.(*events.SheetExposedData); ok && x.Holder != "" {
		if box, err := boxOfHolder(snap, x.Holder); box != "" || err != nil {
			return box, err
		}
	}
	kinds := []events.Kind{events.SheetExposed, events.SheetReprinted}
	if a.Kind == events.SheetReprinted {
		kinds = []events.Kind{events.SheetReprinted, events.SheetExposed}
	}
	var session events.Entity
	if name := a.session(); name != "" {
		t, _, err := snap.R.Entity(name)
		if err != nil {
			return "", err
		}
		session = t
	}
	for _, k := range kinds {
		q := events.Query{Kinds: []events.Kind{k}, To: a.At, Newest: true, Limit: 3}
		if session.ID != 0 {
			in := q
			in.Session = session.ID
			if name, err := boxOfNewest(snap, a.session(), in); err != nil || name != "" {
				return name, err
			}
		}
		if name, err := boxOfNewest(snap, "", q); err != nil || name != "" {
			return name, err
		}
	}
	views, err := snap.R.Views(events.ViewQuery{Kind: events.Box, OpenOnly: true})
	if err != nil {
		return "", err
	}
	switch len(views) {
	case 0:
		return "", noPaper.Refuse()
	case 1:
		return views[0].Entity.Name, nil
	}
	names := make([]string, len(views))
	for i, v := range views {
		names[i] = v.Entity.Name
	}
	return "", whichBox.Refuse(names)
}

func boxOfHolder(snap *snapshot.Snapshot, holder string) (string, error) {
	t, err := snap.Entity(events.Holder, holder)
	if err != nil {
		return "", err
	}
	return snap.Newest(snapshot.HolderKey(holder), func() (box string, err error) {
		entries, err := snap.Stream(t)
		for _, l := range entries {
			if x, ok := l.Data.(*events.HolderLoadedData); ok {
				box = x.Box
			}
		}
		return box, err
	})
}

func boxOfNewest(snap *snapshot.Snapshot, session string, q events.Query) (string, error) {
	return snap.Newest(snapshot.BoxKey(q.Kinds[0], session), func() (string, error) {
		found, err := snap.Entries(q)
		if err != nil || len(found) == 0 {
			return "", err
		}
		return events.PlacesOf(found[len(found)-1].Data).Box, nil
	})
}

// waitingSheet is the only sheet that is exposed and waits for the developer, else the one exposed first.
func waitingSheet(snap *snapshot.Snapshot, _ *incomplete) (string, error) {
	s, err := snap.FirstWaiting(func() ([]*snapshot.Sheet, error) { return Waiting(snap) })
	if err != nil {
		return "", err
	}
	if s == nil {
		return "", noneWaits(snap)
	}
	return s.Name, nil
}

// sheetAfter is the sheet that was last in the bath before: the newest in one of the states.
func sheetAfter(snap *snapshot.Snapshot, a *incomplete, what string, states ...string) (string, error) {
	s, err := lastInHand(snap, a.At, []events.Kind{events.SheetDeveloped, events.SheetRinsed, events.SheetFixed},
		func(s *snapshot.Sheet) bool { return slices.Contains(states, s.State) })
	if err != nil {
		return "", err
	}
	if s == nil {
		return "", noSheetInState.Refuse(what)
	}
	return s.Name, nil
}

// lastSheet is the sheet that was last worked on.
func lastSheet(snap *snapshot.Snapshot, a *incomplete) (string, error) {
	found, err := snap.Entries(events.Query{Kinds: []events.Kind{events.SheetExposed, events.SheetReprinted, events.SheetDeveloped,
		events.SheetRinsed, events.SheetFixed, events.SheetWashed, events.SheetDried, events.SheetToned, events.SheetReversed}, To: a.At, Newest: true, Limit: 1})
	if err != nil {
		return "", err
	}
	if len(found) == 0 {
		return "", noSheetYet.Refuse()
	}
	return events.SheetOf(found[len(found)-1].Data), nil
}

// sheetToJudge is the sheet that was last worked on; where that one was only exposed, the latest that waits to be judged:
// a hand exposes the next while the last one dries. Where none waits, the exposed one stays.
func sheetToJudge(snap *snapshot.Snapshot, a *incomplete) (string, error) {
	sheet, err := lastSheet(snap, a)
	if err != nil {
		return "", err
	}
	_, last, err := snap.SheetByName(sheet)
	if err != nil || len(last.Developed) > 0 {
		return sheet, err
	}
	waits, err := lastInHand(snap, a.At, []events.Kind{events.SheetDeveloped, events.SheetRinsed, events.SheetFixed, events.SheetWashed,
		events.SheetDried, events.SheetToned}, func(s *snapshot.Sheet) bool { return s.Verdict() == nil })
	if waits != nil {
		sheet = waits.Name
	}
	return sheet, err
}

// bathInUse is the bath of a role that was used or mixed last and is not discarded.
func bathInUse(role string) func(*snapshot.Snapshot, *incomplete) (string, error) {
	return func(snap *snapshot.Snapshot, _ *incomplete) (string, error) {
		b, err := BathInUse(snap, role)
		if err != nil {
			return "", err
		}
		if b != nil {
			return b.Entity.Name, nil
		}
		whole, err := snap.OfWhole()
		if err != nil {
			return "", err
		}
		later, err := BathInUse(whole, role)
		if err != nil {
			return "", err
		}
		if later != nil && later.At.After(snap.AsOf) {
			return "", noBathYet.Refuse(role, snap.AsOf, later.Entity.Name, later.At, wording.ShortID(mixing(later).String()))
		}
		return "", noBathInUse.Refuse(role)
	}
}

// reversalBath is the bath of a step of the reversal; the second exposure has none.
func reversalBath(snap *snapshot.Snapshot, a *incomplete) (string, error) {
	role := reversalRole[a.Data.(*events.SheetReversedData).Stage]
	if role == "" {
		return "", nil
	}
	return bathInUse(role)(snap, a)
}

// reversalRole is the bath that a step of the reversal takes.
var reversalRole = map[string]string{"bleach": "bleach", "clear": "clearing-bath"}

// mixing is the entry by which a bath was mixed.
func mixing(b *snapshot.Bath) events.ID {
	for _, e := range b.Entries {
		if e.Kind == events.BathMixed {
			return e.ID
		}
	}
	return events.ID{}
}

// servingReading is the reading that serves an exposure, a print or a strip as it is written, so that nothing written later
// takes it over; "" where none serves.
func servingReading(snap *snapshot.Snapshot, a *incomplete) (string, error) {
	var r *events.Entry
	var err error
	switch x := a.Data.(type) {
	case *events.SheetExposedData:
		p := &snapshot.Picture{}
		t, there, err := snap.R.Entity(x.Picture)
		if err == nil && there && t.Kind == events.Picture {
			p, err = snap.PictureOf(t)
		}
		if err != nil {
			return "", err
		}
		if r, err = calledfor.ServesNegative(snap, p, *a.Entry, x); err != nil {
			return "", err
		}
	case *events.SheetReprintedData:
		t, there, err := snap.R.Entity(x.Picture)
		// A print may be dated before its negative, which a later line of a file brings; only the camera's lens has a reading.
		if err != nil || !there || x.Way == "contact" || x.Way == "enlarger" {
			return "", err
		}
		p, err := snap.PictureOf(t)
		if err != nil {
			return "", err
		}
		if r, _, err = calledfor.ServesPrint(snap, p, *a.Entry, x); err != nil {
			return "", err
		}
	case *events.StripExposedData:
		if r, err = servesStrip(snap, a, x); err != nil {
			return "", err
		}
	}
	if r == nil {
		return "", nil
	}
	return r.ID.String(), nil
}

// servesStrip is the reading that a strip on the scene or a negative was planned by.
func servesStrip(snap *snapshot.Snapshot, a *incomplete, x *events.StripExposedData) (*events.Entry, error) {
	if x.On == "pre-flash" || x.Session == "" {
		return nil, nil
	}
	s, err := snap.Session(x.Session)
	if err != nil {
		return nil, err
	}
	candidates := [][]events.Entry{s.ReadingsByUse[x.On]}
	if x.Picture != "" {
		p, err := snap.Picture(x.Picture)
		if err != nil {
			return nil, err
		}
		candidates = append(candidates, p.Readings[x.On])
	}
	return snapshot.Latest(*a.Entry, time.Time{}, func(*events.LightMeteredData) bool { return true }, candidates...), nil
}
