package acts

import (
	"slices"

	"traybook/events"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// What is refused of an order, and what is odd about one.
var (
	dueBefore    = wording.Refuses("due-before", "{due} lies before {day}, on which the order was taken", "give the day by which it is wanted, such as --due {day}, or leave it out")
	wantsNothing = wording.Refuses("wants-nothing", "the order asks for nothing", "say how many prints, as in 2 prints, or scan")
	halfASize    = wording.Refuses("half-a-size", "a size has a width and a height", "write it as 9x12cm")
	otherMoney   = wording.Refuses("other-money", "{order} is priced in {priced}, and the book keeps no rate between that and {paid}", "write what it came to in {priced}")
	paidNothing  = wording.Refuses("paid-nothing", "the order is paid, and nothing says how much", "give the price, as in 400 NOK")
	closedTwice  = wording.Refuses("closed-twice", "{order} was {ended} already at {at}", "`traybook history {order}` shows it; traybook void takes that back")

	noAddress     = wording.Warns("no-address", "no address of {sitter} is on file: traybook sitter add {sitter} --contact …")
	noPaperOfSize = wording.Warns("no-paper-of-size", "no box in the book holds paper of {width} × {height} mm, nor larger")
	paidMore      = wording.Warns("paid-more", "{came} came in for {order}, and its price is {price}")
	anothersOrder = wording.Warns("anothers-order", "{order} was taken for {sitter}, and this goes to {to}")
	stillOwed     = wording.Warns("still-owed", "{order}: {owed} is not paid; when it is: traybook order paid {order}")
	scanWaits     = wording.Warns("scan-waits", "{order} waits for its scan: traybook order close {order} when it is sent")
)

// orderWanted finds the order for which a sheet is handed over: of the sitter to whom it goes, the one that names the
// picture before one that names none, and of those the one due first. Where nobody is named it is the only order that names
// the picture.
func orderWanted(snap *snapshot.Snapshot, a *incomplete) (string, error) {
	x, ok := a.Data.(*events.SheetDeliveredData)
	if !ok {
		return "", nil
	}
	open, err := snap.OpenOrders()
	if err != nil || len(open) == 0 {
		return "", err
	}
	box, print, err := handable(snap, x.Sheet)
	if err != nil || !print && x.As == "" {
		return "", err
	}
	picture, _, _ := events.SplitSheet(x.Sheet)
	var named, any []string
	for _, o := range open {
		wanted := o.Prints() > o.HandedOver()
		if x.As == "scan" {
			wanted = o.WantsScan() && !o.ScanSent()
		}
		switch {
		case !wanted || o.Entry.At.After(a.At) || x.To != "" && o.Taken.Sitter != x.To || x.As == "" && !ofSize(o.Taken, box):
		case o.Taken.Picture == picture:
			named = append(named, o.Entity.Name)
		case o.Taken.Picture == "" && x.To != "":
			any = append(any, o.Entity.Name)
		}
	}
	if found := append(named, any...); len(found) > 0 && (x.To != "" || len(found) == 1) {
		return found[0], nil
	}
	return "", nil
}

// handable says whether a sheet is what an order of prints asks for, a print or a direct positive, and gives its box, nil
// where none is known.
func handable(snap *snapshot.Snapshot, sheet string) (b *snapshot.Box, print bool, err error) {
	_, s, err := snap.SheetByName(sheet)
	if s, err = wording.IgnoreMissing(s, err); s == nil || err != nil {
		return nil, false, err
	}
	b, err = wording.IgnoreMissing(snap.Box(s.Box))
	return b, s.Positive(b), err
}

// ofSize says whether a sheet of a box may be what an order asks for: of its size within a tenth, which trimming takes, either
// way round, or nothing says which size either has.
func ofSize(x *events.OrderTakenData, b *snapshot.Box) bool {
	if x.WidthMM == nil || x.HeightMM == nil || b == nil || b.Received == nil {
		return true
	}
	near := func(a, b float64) bool { return a <= b*1.1 && b <= a*1.1 }
	return near(max(*x.WidthMM, *x.HeightMM), max(b.Received.WidthMM, b.Received.HeightMM)) && near(min(*x.WidthMM, *x.HeightMM), min(b.Received.WidthMM, b.Received.HeightMM))
}

// orderer is the sitter for whom the order was taken.
func orderer(snap *snapshot.Snapshot, a *incomplete) (string, error) {
	x, ok := a.Data.(*events.SheetDeliveredData)
	if !ok || x.Order == "" {
		return "", nil
	}
	o, err := wording.IgnoreMissing(snap.Order(x.Order))
	if err != nil || o == nil || o.Taken == nil {
		return "", err
	}
	return o.Taken.Sitter, nil
}

// checkOrder refuses of an order what can be true of none.
func checkOrder(snap *snapshot.Snapshot, e *events.Entry) error {
	day := e.At.Format("2006-01-02")
	x, taken := e.Data.(*events.OrderTakenData)
	switch {
	case !taken:
		return checkOnOrder(snap, e)
	case x.Prints == nil && (x.Scan == nil || !*x.Scan):
		return wantsNothing.Refuse()
	case (x.WidthMM == nil) != (x.HeightMM == nil):
		return halfASize.Refuse()
	case x.Due != "" && x.Due < day[:min(len(day), len(x.Due))]:
		return dueBefore.Refuse(x.Due, day)
	case x.Paid != nil && *x.Paid && x.Price == nil:
		return paidNothing.Refuse()
	}
	return nil
}

// checkOnOrder refuses a payment in another money than the order's, and an end of what ended.
func checkOnOrder(snap *snapshot.Snapshot, e *events.Entry) error {
	whole, err := snap.OfWhole()
	if err != nil {
		return err
	}
	o, err := whole.Order(events.PlacesOf(e.Data).Stream.Name)
	if err != nil || o.Taken == nil {
		return err
	}
	switch x := e.Data.(type) {
	case *events.OrderPaidData:
		if x.Currency != "" && o.Taken.Currency != "" && x.Currency != o.Taken.Currency {
			return otherMoney.Refuse(x.Order, o.Taken.Currency, x.Currency)
		}
	case *events.OrderClosedData:
		if o.Closed != nil {
			return closedTwice.Refuse(x.Order, o.Closed.Ended, o.ClosedAt)
		}
	}
	return nil
}

// orderWarnings tell of an order that nobody can send, of a size of which there is no paper, and of money that is off.
func orderWarnings(snap *snapshot.Snapshot, e *events.Entry, say sayer) error {
	switch x := e.Data.(type) {
	case *events.OrderTakenData:
		if book, ok := snap.R.(events.SitterBook); ok {
			rows, err := book.Sitters()
			if err != nil {
				return err
			}
			if slices.ContainsFunc(rows, func(r events.SitterRow) bool { return r.Ref == x.Sitter && r.Contact == "" }) {
				say(noAddress, x.Sitter)
			}
		}
		if x.WidthMM == nil || x.HeightMM == nil {
			return nil
		}
		if there, err := paperOf(snap, *x.WidthMM, *x.HeightMM); err != nil || there {
			return err
		}
		say(noPaperOfSize, *x.WidthMM, *x.HeightMM)
	case *events.OrderPaidData:
		o, err := snap.Order(x.Order)
		if err != nil || o.Taken == nil || o.Taken.Price == nil {
			return err
		}
		if came := o.Came() + x.Price; came > *o.Taken.Price {
			say(paidMore, wording.Money(came, o.Taken.Currency), x.Order, wording.Money(*o.Taken.Price, o.Taken.Currency))
		}
	case *events.SheetDeliveredData:
		if x.Order == "" {
			return nil
		}
		o, err := snap.Order(x.Order)
		if err != nil || o.Taken == nil {
			return err
		}
		if x.To != "" && x.To != o.Taken.Sitter {
			say(anothersOrder, x.Order, o.Taken.Sitter, x.To)
		}
		then := o.With(x)
		if o.Closed != nil || then.HandedOver() < o.Prints() {
			return nil
		}
		if owed := o.Owed() - snapshot.ValueOr(x.Price, 0); owed > 0 {
			say(stillOwed, x.Order, wording.Money(owed, o.Taken.Currency))
		}
		if !then.Filled() {
			say(scanWaits, x.Order)
		}
	}
	return nil
}

// paperOf says whether a box in the book holds paper out of which a sheet of a size comes, either way round.
func paperOf(snap *snapshot.Snapshot, width, height float64) (bool, error) {
	boxes, err := snap.OpenEntities(events.Box)
	if err != nil {
		return false, err
	}
	for _, t := range boxes {
		b, err := snapshot.Listed(snap.Box(t.Name))
		if err != nil {
			return false, err
		}
		if b.Received != nil && max(b.Received.WidthMM, b.Received.HeightMM) >= max(width, height) && min(b.Received.WidthMM, b.Received.HeightMM) >= min(width, height) {
			return true, nil
		}
	}
	return false, nil
}

// ClosedBy is the end of an order that a sheet handed over brings, nil where it brings none: nothing more is waited for.
// written says that the book holds the sheet's entry already.
func ClosedBy(snap *snapshot.Snapshot, x *events.SheetDeliveredData, written bool) (*events.OrderClosedData, error) {
	if x.Order == "" {
		return nil, nil
	}
	o, err := snap.Order(x.Order)
	if err != nil || o.Taken == nil || o.Closed != nil {
		return nil, err
	}
	if !written {
		o = o.With(x)
	}
	if !o.Filled() {
		return nil, nil
	}
	return &events.OrderClosedData{Order: x.Order, Ended: "delivered"}, nil
}

// Settle puts into a payment what its order says: all that is owed, and in which money.
//
// Errors: a refusal where the order names no price or nothing is owed.
func Settle(snap *snapshot.Snapshot, x *events.OrderPaidData) error {
	o, err := snap.Order(x.Order)
	if err != nil || o.Taken == nil {
		return err
	}
	if x.Currency == "" {
		x.Currency = o.Taken.Currency
	}
	if x.Price != 0 {
		return nil
	}
	switch {
	case o.Taken.Price == nil:
		return noPrice.Refuse(x.Order)
	case o.Owed() == 0:
		return nothingOwed.Refuse(x.Order)
	}
	x.Price = o.Owed()
	return nil
}

var (
	noPrice     = wording.Refuses("no-price", "{order} names no price", "say how much came in: traybook order paid {order} 400 NOK")
	nothingOwed = wording.Refuses("nothing-owed", "of {order} nothing is owed", "`traybook history {order}` shows what came in")
)
