package snapshot

import (
	"slices"
	"time"

	"traybook/events"
)

// Order is what somebody wants made, with what came of it.
type Order struct {
	Entity   events.Entity
	Entry    events.Entry // that took it
	Taken    *events.OrderTakenData
	Paid     []events.Entry // OrderPaidData
	Closed   *events.OrderClosedData
	ClosedAt time.Time
	Handed   []events.Entry // SheetDeliveredData of the sheets that went for it
}

// Order folds one order by name. Errors: a *wording.Refusal where there is none.
func (snap *Snapshot) Order(name string) (*Order, error) {
	t, err := snap.Entity(events.Order, name)
	if err != nil {
		return nil, err
	}
	return snap.OrderOf(t)
}

// OrderOf folds one order.
func (snap *Snapshot) OrderOf(t events.Entity) (*Order, error) {
	own, err := snap.Stream(t)
	if err != nil {
		return nil, err
	}
	o := foldOrder(t, own)
	o.Handed, err = snap.Entries(events.Query{Cites: t.ID, Kinds: []events.Kind{events.SheetDelivered}})
	return o, err
}

// foldOrder folds what an order's own entries say.
func foldOrder(t events.Entity, entries []events.Entry) *Order {
	o := &Order{Entity: t}
	for _, e := range entries {
		switch x := e.Data.(type) {
		case *events.OrderTakenData:
			if o.Taken == nil {
				o.Entry, o.Taken = e, x
			}
		case *events.OrderPaidData:
			o.Paid = append(o.Paid, e)
		case *events.OrderClosedData:
			o.Closed, o.ClosedAt = x, e.At
		}
	}
	return o
}

// OpenOrders are the orders that somebody waits for at the snapshot's moment: the one due first comes first, one without a
// day last.
func (snap *Snapshot) OpenOrders() ([]*Order, error) {
	entities, err := snap.OpenEntities(events.Order)
	if err != nil {
		return nil, err
	}
	var out []*Order
	for _, t := range entities {
		o, err := snap.OrderOf(t)
		if err != nil {
			return nil, err
		}
		if o.Taken != nil && o.Closed == nil {
			out = append(out, o)
		}
	}
	SortOrders(out)
	return out, nil
}

// SortOrders puts orders by the day on which they are due, then by when they were taken.
func SortOrders(list []*Order) {
	slices.SortStableFunc(list, func(a, b *Order) int {
		switch {
		case a.Taken.Due == b.Taken.Due:
			return events.Compare(a.Entry, b.Entry)
		case a.Taken.Due == "", b.Taken.Due != "" && b.Taken.Due < a.Taken.Due:
			return 1
		}
		return -1
	})
}

// Prints is how many prints were asked for.
func (o *Order) Prints() int {
	if o.Taken.Prints == nil {
		return 0
	}
	return *o.Taken.Prints
}

// HandedOver is how many prints went for it: each sheet once, and each print that was made from a scan.
func (o *Order) HandedOver() int {
	var sheets []string
	fromScans := 0
	for _, e := range o.Handed {
		switch x := e.Data.(*events.SheetDeliveredData); {
		case x.As == "scan-print":
			fromScans++
		case x.As == "" && !slices.Contains(sheets, x.Sheet):
			sheets = append(sheets, x.Sheet)
		}
	}
	return len(sheets) + fromScans
}

// ScanSent says whether a scan went for it.
func (o *Order) ScanSent() bool {
	return slices.ContainsFunc(o.Handed, func(e events.Entry) bool { return e.Data.(*events.SheetDeliveredData).As == "scan" })
}

// With is the order as it stands when a sheet was handed over that the book does not hold yet.
func (o *Order) With(x *events.SheetDeliveredData) *Order {
	out := *o
	out.Handed = append(slices.Clone(o.Handed), events.Entry{Kind: x.Kind(), Data: x})
	return &out
}

// Filled says that all went for it that was asked for.
func (o *Order) Filled() bool {
	return o.HandedOver() >= o.Prints() && (!o.WantsScan() || o.ScanSent())
}

// WantsScan says whether a scan was asked for.
func (o *Order) WantsScan() bool { return o.Taken.Scan != nil && *o.Taken.Scan }

// Overdue says whether the day by which it was wanted has passed.
func (o *Order) Overdue(now time.Time) bool {
	return o.Closed == nil && o.Taken.Due != "" && runOut(o.Taken.Due, now.Format("2006-01-02"))
}

// Came is the money that came in for it, in the money of its price.
func (o *Order) Came() float64 {
	sum := 0.0
	if o.PaidAtOnce() && o.Taken.Price != nil {
		sum += *o.Taken.Price
	}
	for _, e := range append(slices.Clone(o.Paid), o.Handed...) {
		if price, currency := PriceOf(e.Data); currency == o.Taken.Currency || currency == "" {
			sum += price
		}
	}
	return sum
}

// PaidAtOnce says whether it was paid when it was taken.
func (o *Order) PaidAtOnce() bool { return o.Taken.Paid != nil && *o.Taken.Paid }

// Owed is what is still to be paid, 0 for nothing, or where no price was told.
func (o *Order) Owed() float64 {
	if o.Taken.Price == nil || o.Closed != nil && o.Closed.Ended == "withdrawn" {
		return 0
	}
	return max(0, *o.Taken.Price-o.Came())
}

// PriceOf is the money that came in with an act: a payment, a sheet handed over for money, an order paid at once, silver sold.
func PriceOf(d events.Data) (price float64, currency string) {
	switch x := d.(type) {
	case *events.OrderTakenData:
		if x.Paid != nil && *x.Paid {
			return ValueOr(x.Price, 0), x.Currency
		}
	case *events.OrderPaidData:
		return x.Price, x.Currency
	case *events.SheetDeliveredData:
		return ValueOr(x.Price, 0), x.Currency
	case *events.SilverRecoveredData:
		return ValueOr(x.Price, 0), x.Currency
	}
	return 0, ""
}
