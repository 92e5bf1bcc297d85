package snapshot

import (
	"fmt"

	"traybook/events"
	"traybook/projections/wording"
)

// What is refused of what is not there.
var (
	// NothingCalled refuses a name that nothing bears.
	NothingCalled = wording.Refuses("nothing-called", "nothing is called {name:%q}", whatThereIs)
	// NoSuchSheet refuses a sheet of a picture that has none of that name.
	NoSuchSheet = wording.Refuses("no-such-sheet", "there is no sheet {sheet}", "`traybook history {picture}` shows what there is")

	noSuch         = wording.Refuses("no-such-thing", "there is no {kind} {name:%q}", "{where}")
	anotherKind    = wording.Refuses("another-kind", "{name:%q} is a {is}, not a {kind}", "{where}")
	notASheet      = wording.Refuses("not-a-sheet", "{name:%q} is no sheet", "a sheet is called 2026-014n or 2026-014p1")
	everyVoided    = wording.Refuses("every-entry-voided", "every entry of {name} was voided", "`traybook history {name} --all` shows them")
	nothingWritten = wording.Refuses("nothing-written", "nothing is written of {name}", whatThereIs)
	nothingBy      = wording.Refuses("nothing-written-by", "nothing was written of {name} by {at}", "give a later --as-of, or leave it out")
)

const whatThereIs = "`traybook pictures`, `stock`, `baths` and `sessions` list what there is"

// NoSuch refuses a name that nothing bears where a thing of a kind is wanted.
func NoSuch(kind events.EntityKind, name string) *wording.Refusal {
	return noSuch.Refuse(kind, name, whereToLook(kind))
}

// AnotherKind refuses the name of a thing where one of another kind is wanted.
func AnotherKind(t events.Entity, wanted events.EntityKind) *wording.Refusal {
	return anotherKind.Refuse(t.Name, t.Kind, wanted, whereToLook(wanted))
}

// whereToLook says where the things of a kind are listed or made.
func whereToLook(kind events.EntityKind) string {
	switch kind {
	case events.Box:
		return "`traybook stock` lists the boxes, `traybook paper receive` brings one in"
	case events.Bath:
		return "`traybook baths` lists the baths, `traybook bath mix` makes one"
	case events.Session:
		return "`traybook sessions` lists the sessions, `traybook session open` begins one"
	case events.Picture:
		return "`traybook pictures` lists the pictures"
	case events.Camera:
		return "`traybook camera describe` describes one"
	case events.Holder:
		return "`traybook load` loads one"
	case events.Order:
		return "`traybook orders` lists what is wanted, `traybook order take` takes an order"
	case events.Strip:
		return "`traybook strip` exposes one"
	}
	return ""
}

// NothingOf refuses to tell of a thing of which nothing counts.
func (snap *Snapshot) NothingOf(t events.Entity) error {
	all, err := snap.StreamAll(t)
	if err != nil {
		return err
	}
	if len(all) > 0 {
		return everyVoided.Refuse(t.Name)
	}
	if snap.AsOf.IsZero() {
		return nothingWritten.Refuse(t.Name)
	}
	return nothingBy.Refuse(t.Name, snap.AsOf)
}

// Listed is for what the book itself listed, by no word of a hand: that it is not to be found, or is something else, is
// damage to the book.
func Listed[T any](v T, err error) (T, error) {
	if wording.Refused(err) {
		return v, fmt.Errorf("%w: of what it lists something is not to be found; `traybook rebuild` makes the lists anew", events.ErrDamaged)
	}
	return v, err
}
