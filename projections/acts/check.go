package acts

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"traybook/events"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
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
		if err := checkByHand(snap, e.Data); err != nil {
			return err
		}
	}
	return checkEntryRef(snap, e, ahead)
}

// checkByHand refuses what can be true of no act: parts that do not come out of a sheet, a rating that rates nothing, one
// thing said in two ways.
func checkByHand(snap *snapshot.Snapshot, data events.Data) error {
	switch x := data.(type) {
	case *events.PaperCutData:
		return checkCut(snap, x)
	case *events.PaperRatedData:
		return checkRating(x)
	}
	return saidOnce(data)
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
			return &wording.Refusal{Text: fmt.Sprintf("%s and %s stand together, and one thing is said once", pair[0], pair[1]),
				Hint: "give one of the two; an amendment takes the other out, as in " + pair[0] + "="}
		}
	}
	return nil
}

// onlyOnce are the kinds that give a name once; describing a camera or loading a holder again is usual.
var onlyOnce = map[events.Kind]string{
	events.SessionOpened: "is open already or was; give the new session another name",
	events.PaperReceived: "is in the book already; leave out --box for the next number",
	events.BathMixed:     "is in the book already; leave out --bath for the next number",
	events.StripExposed:  "is in the book already; give the new strip another name",
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
		kind := string(r.Kind)
		if kind == "" {
			return &wording.Refusal{Text: fmt.Sprintf("nothing is called %q", r.Name), Hint: snapshot.WhatThereIs}
		}
		return &wording.Refusal{Text: fmt.Sprintf("there is no %s %q", kind, r.Name), Hint: snapshot.WhereToLook(r.Kind)}
	}
	if r.Kind != "" && t.Kind != r.Kind {
		if !r.New {
			return &wording.Refusal{Text: fmt.Sprintf("%q is a %s, not a %s", r.Name, t.Kind, r.Kind), Hint: snapshot.WhereToLook(r.Kind)}
		}
		return &wording.Refusal{Text: fmt.Sprintf("%q is a %s already, so it cannot be a %s", r.Name, t.Kind, r.Kind), Hint: "give another name"}
	}
	if ahead == nil && !r.New {
		given, err := exists(snapshot.New(snap.R, time.Time{}), t)
		if err != nil {
			return err
		}
		if !given {
			return &wording.Refusal{Text: fmt.Sprintf("the %s %q was taken back", t.Kind, t.Name), Hint: "name another; `traybook history " + t.Name + " --all` shows the void, which can be voided itself"}
		}
	}
	if why, once := onlyOnce[e.Kind]; once && r.New {
		given, err := isGiven(snap, t, e.Kind)
		if err != nil {
			return err
		}
		if given {
			return &wording.Refusal{Text: fmt.Sprintf("%s %q %s", r.Kind, r.Name, why)}
		}
	}
	if d2, ok := e.Data.(*events.PaperCutData); ok && r.New && d2.Into == d2.Box {
		return &wording.Refusal{Text: "a box cannot be cut into itself", Hint: "leave --into out for a new box"}
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
	if snap.Follows == nil || err != nil {
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
		return &wording.Refusal{Text: fmt.Sprintf("there is no picture %s", pic), Hint: snapshot.WhereToLook(events.Picture)}
	}
	// The whole history counts, not the one up to the act: a back-dated act may stand before its cause.
	p, err := snap.OfWhole().PictureOf(t)
	if err != nil {
		return err
	}
	s := p.Sheet(part)
	if s != nil && len(s.Developed) > 0 && e.Kind != events.SheetReprinted {
		return nil // it came out of the developer, exposed or not
	}
	if ahead != nil && s == nil && part == "n" && e.Kind == events.SheetDeveloped {
		return nil // by its file it was never exposed
	}
	if s == nil && e.Kind == events.SheetDeveloped {
		// A sheet taken from the box and never exposed goes into the developer all the same, and comes out blank: what
		// happened is written down. Only the next print can be meant; any other number is a slip.
		next, err := nextPrintOf(snap, t)
		if err != nil || sheet == next {
			return err
		}
	}
	if s == nil || len(s.Exposures) == 0 {
		return &wording.Refusal{Text: fmt.Sprintf("the sheet %s was never exposed", sheet), Hint: fmt.Sprintf("`traybook history %s` shows what there is", pic)}
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
		return &wording.Refusal{Text: fmt.Sprintf("the entry %s is no reading of the light; it says: %s", reading[:8], snap.Sentence(*r)),
			Hint: "leave --reading out, or give the id of a reading as `traybook history` shows it"}
	}
	if ahead != nil {
		return nil
	}
	standing, err := snapshot.New(snap.R, time.Time{}).Reading(r.ID.String())
	if err == nil && standing == nil {
		return &wording.Refusal{Text: fmt.Sprintf("the reading %s was taken back", reading[:8]), Hint: "name another, or leave --reading out"}
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
	if x.FilterFactor != nil && x.Filter != "" {
		return nil
	}
	if x.FilterFactor != nil {
		return &wording.Refusal{Text: "a filter's factor counts only with its filter", Hint: "name it with --filter"}
	}
	return &wording.Refusal{Text: "the rating of " + x.Box + " holds no figure, so it would rate nothing", Hint: "give what was measured, such as --index 4; `traybook note " + x.Box + " \"…\"` keeps a remark"}
}

// checkMended wants the camera that an amendment names to be one, and what a hand mends to be possible.
func checkMended(snap *snapshot.Snapshot, e *events.Entry, id events.ID, set events.Set, ahead func(events.Ref) bool) error {
	camera := slices.ContainsFunc(set, func(s events.SetField) bool { return s.Name == "camera" && string(s.Value) != "null" })
	if !camera && ahead != nil {
		return nil
	}
	before, err := snapshot.New(snap.R, time.Time{}).AsItCounts(id)
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
	err = checkByHand(snap, after.Data)
	if was := checkByHand(snap, before.Data); wording.Refused(err) && wording.Refused(was) && was.Error() == err.Error() {
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
		return nil, &wording.Refusal{Text: fmt.Sprintf("there is no entry %q", id), Hint: "`traybook history` shows the ids; four digits or more name one"}
	case 1:
		return &found[0], nil
	}
	return nil, &wording.Refusal{Text: fmt.Sprintf("%q fits %d entries", id, len(ids)), Hint: "give more of its digits"}
}
