package acts

import (
	"slices"
	"strconv"
	"strings"

	"traybook/events"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// What is refused of an act that is impossible.
var (
	// NoEntry refuses the beginning of an id that fits none.
	NoEntry = wording.Refuses("no-entry", "there is no entry {id:%q}", "`traybook history` shows the ids; four digits or more name one")

	fitsSeveral      = wording.Refuses("fits-several", "{id:%q} fits {many} entries", "give more of its digits")
	saidTwice        = wording.Refuses("said-twice", "{one} and {other} stand together, and one thing is said once", "give one of the two; an amendment takes the other out, as in {one}=")
	nameTaken        = wording.Refuses("name-taken", "{name:%q} is a {is} already, so it cannot be a {kind}", "give another name")
	takenBack        = wording.Refuses("taken-back", "the {kind} {name:%q} was taken back", "name another; `traybook history {name} --all` shows the void, which can be voided itself")
	cutIntoItself    = wording.Refuses("cut-into-itself", "a box cannot be cut into itself", "leave --into out for a new box")
	sheetUnexposed   = wording.Refuses("sheet-unexposed", "the sheet {sheet} was never exposed", "`traybook history {picture}` shows what there is")
	noReading        = wording.Refuses("no-reading", "the entry {id} is no reading of the light; it says: {says}", "leave --reading out, or give the id of a reading as `traybook history` shows it")
	readingTakenBack = wording.Refuses("reading-taken-back", "the reading {id} was taken back", "name another, or leave --reading out")
	factorAlone      = wording.Refuses("factor-alone", "a filter's factor counts only with its filter", "name it with --filter")
	ratesNothing     = wording.Refuses("rates-nothing", "the rating of {box} holds no figure, so it would rate nothing", "give what was measured, such as --index 4, or --unexposed clean; `traybook note {box} \"…\"` keeps a remark")
)

// Check refuses what is impossible: a name that is taken, a reference to nothing, a sheet that was never exposed. The
// entry must be filled in and valid. ahead says whether something that the book does not hold yet is still to come
// (in the same import); nil means that nothing is.
func Check(snap *snapshot.Snapshot, e *events.Entry, ahead func(events.Ref) bool) error {
	p := events.PlacesOf(e.Data)
	refs := p.Others
	if p.Entry == "" && p.Stream.Kind != events.Book {
		refs = append([]events.Ref{p.Stream}, refs...)
	}
	for _, r := range []events.Ref{{Kind: events.Box, Name: p.Box}, {Kind: events.Bath, Name: p.Bath}, {Kind: events.Session, Name: p.Session}} {
		if r.Name != "" {
			refs = append(refs, r)
		}
	}
	if c := events.CarriedOf(e.Data); c != nil && c.Camera != "" {
		refs = append(refs, events.Ref{Kind: events.Camera, Name: c.Camera})
	}
	for _, r := range refs {
		if err := checkRef(snap, e, r, ahead); err != nil {
			return err
		}
	}
	if err := checkSheet(snap, e, ahead); err != nil {
		return err
	}
	if ahead == nil { // a file may hold what another version took
		if err := checkByHand(snap, e); err != nil {
			return err
		}
	}
	return checkEntryRef(snap, e, ahead)
}

// checkByHand refuses what can be true of no act: parts that do not come out of a sheet, a rating that rates nothing, one
// thing said in two ways.
func checkByHand(snap *snapshot.Snapshot, e *events.Entry) error {
	switch x := e.Data.(type) {
	case *events.PaperCutData:
		return checkCut(snap, x)
	case *events.PaperRatedData:
		return checkRating(x)
	case *events.OrderTakenData, *events.OrderPaidData, *events.OrderClosedData:
		return checkOrder(snap, e)
	}
	return saidOnce(e.Data)
}

// eitherOr are pairs of fields that say one thing in two ways.
var eitherOr = [][2]string{{"motion", "motion_mm_s"}, {"pre_flash", "pre_flash_s"}}

// saidOnce refuses an act that says one thing in two ways.
func saidOnce(data events.Data) error {
	for _, pair := range eitherOr {
		both := 0
		for _, name := range pair {
			if f, ok := events.FieldOf(data.Kind(), name); ok {
				if _, there := f.Value(data); there {
					both++
				}
			}
		}
		if both == 2 {
			return saidTwice.Refuse(pair[0], pair[1])
		}
	}
	return nil
}

// onlyOnce are the kinds that give a name once; describing a camera or loading a holder again is usual.
var onlyOnce = map[events.Kind]*wording.Sentence{
	events.SessionOpened: wording.Refuses("session-given", "{kind} {name:%q} is open already or was; give the new session another name", ""),
	events.PaperReceived: wording.Refuses("box-given", "{kind} {name:%q} is in the book already; leave out --box for the next number", ""),
	events.BathMixed:     wording.Refuses("bath-given", "{kind} {name:%q} is in the book already; leave out --bath for the next number", ""),
	events.OrderTaken:    wording.Refuses("order-given", "{kind} {name:%q} is in the book already; leave out --order for the next number", ""),
	events.StripExposed:  wording.Refuses("strip-given", "{kind} {name:%q} is in the book already; give the new strip another name", ""),
}

func checkRef(snap *snapshot.Snapshot, e *events.Entry, r events.Ref, ahead func(events.Ref) bool) error {
	t, there, err := snap.R.Entity(r.Name)
	if err != nil {
		return err
	}
	if !there {
		if r.New || ahead != nil && ahead(r) {
			return nil
		}
		if known, err := KnowsSitter(snap, r); known || err != nil {
			return err
		}
		if ahead != nil {
			if first, err := firstNamed(snap, e, r); first || err != nil {
				return err
			}
		}
		if r.Kind == "" {
			return snapshot.NothingCalled.Refuse(r.Name)
		}
		return snapshot.NoSuch(r.Kind, r.Name)
	}
	if r.Kind != "" && t.Kind != r.Kind {
		if !r.New {
			return snapshot.AnotherKind(t, r.Kind)
		}
		return nameTaken.Refuse(r.Name, t.Kind, r.Kind)
	}
	if ahead == nil && !r.New {
		whole, err := snap.OfWhole()
		if err != nil {
			return err
		}
		given, err := exists(whole, t)
		if err != nil {
			return err
		}
		if !given {
			return takenBack.Refuse(t.Kind, t.Name)
		}
	}
	if once := onlyOnce[e.Kind]; once != nil && r.New {
		given, err := isGiven(snap, t, e.Kind)
		if err != nil {
			return err
		}
		if given {
			return once.Refuse(r.Kind, r.Name)
		}
	}
	if d2, ok := e.Data.(*events.PaperCutData); ok && r.New && d2.Into == d2.Box {
		return cutIntoItself.Refuse()
	}
	return nil
}

// exists says whether an entry that counts tells of a thing: the one that gives it its name, or, of a picture, the
// development of a sheet that was never exposed.
func exists(snap *snapshot.Snapshot, t events.Entity) (bool, error) {
	given, err := snap.Given(t, nil)
	if given || err != nil || t.Kind != events.Picture {
		return given, err
	}
	developed, err := snap.Entries(events.Query{Stream: t.ID, Kinds: []events.Kind{events.SheetDeveloped}})
	return len(developed) > 0, err
}

// firstNamed says whether a line of a file may be the first to name a thing that nothing else gives its name. A holder
// is only ever loaded, and few write that down: its check or its exposure names it as well. A picture is named by the
// reading for it, or by a negative that went into the developer without ever being exposed, if its number is not past
// the next: a higher one is a slip.
func firstNamed(snap *snapshot.Snapshot, e *events.Entry, r events.Ref) (bool, error) {
	switch x := e.Data.(type) {
	case *events.LightMeteredData:
		if r.Kind != events.Picture {
			return false, nil
		}
	case *events.SheetDevelopedData:
		if _, part, ok := events.SplitSheet(x.Sheet); r.Kind != events.Picture || !ok || part != "n" {
			return false, nil
		}
	default:
		return r.Kind == events.Holder, nil
	}
	year, number, _ := strings.Cut(r.Name, "-")
	n, err := strconv.Atoi(number)
	if err != nil {
		return false, nil
	}
	largest, err := snap.R.LargestNumber(year + "-")
	return n <= largest+1, err
}

// KnowsSitter says whether a reference stands in the table of sitters. A name goes into that table before any entry
// holds its reference.
func KnowsSitter(snap *snapshot.Snapshot, r events.Ref) (bool, error) {
	book, ok := snap.R.(events.SitterBook)
	if r.Kind != events.Sitter || !ok {
		return false, nil
	}
	if snap.Sitters != nil {
		return snap.Sitters[r.Name], nil
	}
	rows, err := book.Sitters()
	if !snap.Follows() || err != nil {
		return slices.ContainsFunc(rows, func(s events.SitterRow) bool { return s.Ref == r.Name }), err
	}
	snap.Sitters = map[string]bool{}
	for _, s := range rows {
		snap.Sitters[s.Ref] = true
	}
	return snap.Sitters[r.Name], nil
}

// isGiven says whether an entry of the kind gave the thing its name, voided or not: numbers and names are given once.
func isGiven(snap *snapshot.Snapshot, t events.Entity, k events.Kind) (bool, error) {
	raw, err := snap.R.Entries(events.Query{Stream: t.ID, Kinds: []events.Kind{k}})
	if err != nil {
		return false, err
	}
	for _, e := range raw {
		if e.Kind == k {
			return true, nil
		}
	}
	return false, nil
}

// checkSheet wants a sheet to have been exposed by some entry that counts, or developed without.
func checkSheet(snap *snapshot.Snapshot, e *events.Entry, ahead func(events.Ref) bool) error {
	sheet := events.SheetOf(e.Data)
	if sheet == "" || e.Kind == events.SheetExposed {
		return nil
	}
	if e.Kind == events.SheetReprinted { // a print needs its negative
		pic, _, _ := events.SplitSheet(sheet)
		sheet = events.Sheet(pic, "n")
	}
	pic, part, _ := events.SplitSheet(sheet)
	if ahead != nil && ahead(events.Ref{Kind: "sheet", Name: sheet}) {
		return nil
	}
	t, there, err := snap.R.Entity(pic)
	if err != nil {
		return err
	}
	if !there {
		if ahead != nil && part == "n" && e.Kind == events.SheetDeveloped {
			return nil // checkRef has let it pass
		}
		return snapshot.NoSuch(events.Picture, pic)
	}
	// The whole history counts, not the one up to the act: a back-dated act may stand before its cause.
	s, named, err := snap.EverOf(t, part)
	if err != nil {
		return err
	}
	if s.Developed && e.Kind != events.SheetReprinted {
		return nil // it came out of the developer, exposed or not
	}
	if ahead != nil && !named && part == "n" && e.Kind == events.SheetDeveloped {
		return nil // by its file it was never exposed
	}
	if !named && e.Kind == events.SheetDeveloped {
		// A sheet taken from the box and never exposed goes into the developer all the same, and comes out blank: what
		// happened is written down. Only the next print can be meant; any other number is a slip.
		next, err := nextPrintOf(snap, t)
		if err != nil || sheet == next {
			return err
		}
	}
	if !s.Exposed {
		return sheetUnexposed.Refuse(sheet, pic)
	}
	return nil
}

// checkEntryRef wants readings to be readings, and what is amended or voided to be there.
func checkEntryRef(snap *snapshot.Snapshot, e *events.Entry, ahead func(events.Ref) bool) error {
	switch x := e.Data.(type) {
	case *events.EntryAmendedData:
		target, err := Entry(snap, x.Entry)
		if err != nil {
			return err
		}
		if _, err = events.Apply(*target, x.Set); err != nil {
			return err
		}
		return checkMended(snap, e, target.ID, x.Set, ahead)
	case *events.EntryVoidedData:
		if x.Batch != "" {
			return nil
		}
		_, err := Entry(snap, x.Entry)
		return err
	}
	reading := events.ReadingOf(e.Data)
	if reading == "" || ahead != nil && ahead(events.Ref{Kind: "reading", Name: reading}) {
		return nil
	}
	r, err := Entry(snap, reading)
	if err != nil {
		return err
	}
	if r.Kind != events.LightMetered {
		return noReading.Refuse(reading[:8], snap.Sentence(*r))
	}
	if ahead != nil {
		return nil
	}
	whole, err := snap.OfWhole()
	if err != nil {
		return err
	}
	standing, err := whole.Reading(r.ID.String())
	if err == nil && standing == nil {
		return readingTakenBack.Refuse(reading[:8])
	}
	return err
}

// checkRating refuses a rating that holds no figure: it would stand as the latest, and change nothing.
func checkRating(x *events.PaperRatedData) error {
	for _, v := range []*float64{x.Index, x.ISOR, x.ReciprocityP, x.DevelopS, x.ThresholdS} {
		if v != nil {
			return nil
		}
	}
	if x.FilterFactor != nil && x.Filter != "" || x.Unexposed != "" {
		return nil
	}
	if x.FilterFactor != nil {
		return factorAlone.Refuse()
	}
	return ratesNothing.Refuse(x.Box)
}

// checkMended wants the camera that an amendment names to be one, and what a hand mends to be possible.
func checkMended(snap *snapshot.Snapshot, e *events.Entry, id events.ID, set events.Set, ahead func(events.Ref) bool) error {
	camera := slices.ContainsFunc(set, func(s events.SetField) bool { return s.Name == "camera" && string(s.Value) != "null" })
	if !camera && ahead != nil {
		return nil
	}
	whole, err := snap.OfWhole()
	if err != nil {
		return err
	}
	before, err := whole.AsItCounts(id)
	if err != nil {
		return err
	}
	after, err := events.Apply(before, set)
	if err != nil {
		return err
	}
	if c := events.CarriedOf(after.Data); camera && c != nil && c.Camera != "" {
		if err := checkRef(snap, e, events.Ref{Kind: events.Camera, Name: c.Camera}, ahead); err != nil {
			return err
		}
	}
	if ahead != nil {
		return nil
	}
	err = checkByHand(snap, &after)
	if was := checkByHand(snap, &before); wording.RefusalIn(err).Same(wording.RefusalIn(was)) {
		return nil // it stood so already, from a file: whoever mends a word of it need not mend that
	}
	return err
}

// Entry finds one entry by its id or by the four or more first digits that fit it alone.
func Entry(snap *snapshot.Snapshot, id string) (*events.Entry, error) {
	found, err := snap.R.Find(strings.ToLower(id))
	if err != nil {
		return nil, err
	}
	ids := map[events.ID]bool{}
	for _, e := range found {
		ids[e.ID] = true
	}
	switch len(ids) {
	case 0:
		return nil, NoEntry.Refuse(id)
	case 1:
		return &found[0], nil
	}
	return nil, fitsSeveral.Refuse(id, len(ids))
}
