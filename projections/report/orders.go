package report

import (
	"slices"
	"time"

	"traybook/events"
	"traybook/projections/snapshot"
)

// OrderLine is one order as `orders` tells it.
type OrderLine struct {
	Order    string   `json:"order"`
	Sitter   string   `json:"sitter"`
	Picture  *string  `json:"picture"`
	Prints   int      `json:"prints"`
	Handed   int      `json:"delivered"` // sheets that went for it
	Scan     bool     `json:"scan"`      // a scan is wanted too
	ScanSent bool     `json:"scan_sent"` // the scan went
	WidthMM  *float64 `json:"width_mm"`  // of a print; null where it was not written
	HeightMM *float64 `json:"height_mm"` // of a print; null where it was not written
	Taken    string   `json:"taken"`
	Due      *string  `json:"due"`
	Overdue  bool     `json:"overdue"` // its day is past, and it is not delivered
	Price    *float64 `json:"price"`
	Currency string   `json:"currency"` // "" where none was written
	Paid     float64  `json:"paid"`
	Owed     float64  `json:"owed"`
	Ended    *string  `json:"ended"` // delivered or withdrawn; null while somebody waits
	EndedAt  *string  `json:"ended_at"`
	Text     *string  `json:"text"`
}

// OrdersReport is what is wanted, and what of it is owed.
type OrdersReport struct {
	Orders []OrderLine `json:"orders"` // the one due first comes first
	Owed   []Money     `json:"owed"`
}

// owedFor is for how long an order that ended unpaid is still listed.
const owedFor = 366 * 24 * time.Hour

// Orders lists what somebody waits for at the snapshot's moment, the one due first comes first, and behind it what ended
// within a year and is not paid; with all every order.
func Orders(snap *snapshot.Snapshot, all bool) (OrdersReport, error) {
	out := OrdersReport{Orders: []OrderLine{}, Owed: []Money{}}
	now, err := snap.Moment()
	if err != nil {
		return out, err
	}
	open, err := snap.OpenOrders()
	if err != nil {
		return out, err
	}
	q := events.ViewQuery{Kind: events.Order}
	if !all {
		q.LastSince = now.Add(-owedFor).UnixMicro()
	}
	known, err := entitiesOf(snap.R.Views(q))
	if err != nil {
		return out, err
	}
	var ended []*snapshot.Order
	for _, t := range known {
		if slices.ContainsFunc(open, func(o *snapshot.Order) bool { return o.Entity.ID == t.ID }) {
			continue
		}
		o, err := snap.OrderOf(t)
		if err != nil {
			return out, err
		}
		if o.Taken != nil && (all || o.Owed() > 0) {
			ended = append(ended, o)
		}
	}
	snapshot.SortOrders(ended)
	owed := purse{}
	for _, o := range append(open, ended...) {
		line := OrderLineOf(o, now)
		if out.Orders = append(out.Orders, line); line.Owed > 0 {
			owed[line.Currency] += line.Owed
		}
	}
	out.Owed = owed.lines()
	return out, nil
}

// OrderLineOf is one order as it stands at a moment: what every list and table tells of it.
func OrderLineOf(o *snapshot.Order, now time.Time) OrderLine {
	x := o.Taken
	line := OrderLine{Order: o.Entity.Name, Sitter: x.Sitter, Picture: orNil(x.Picture), Prints: o.Prints(), Handed: o.HandedOver(), Scan: o.WantsScan(), ScanSent: o.ScanSent(),
		WidthMM: x.WidthMM, HeightMM: x.HeightMM, Taken: events.FormatTime(o.Entry.At), Due: orNil(x.Due), Overdue: o.Overdue(now),
		Price: x.Price, Currency: x.Currency, Paid: o.Came(), Owed: o.Owed(), Text: orNil(x.Text)}
	if o.Closed != nil {
		line.Ended, line.EndedAt = &o.Closed.Ended, new(events.FormatTime(o.ClosedAt))
	}
	return line
}

// DayTakings is the money that came in on one day.
type DayTakings struct {
	Day    string  `json:"day"`
	Amount []Money `json:"amount"`
}

// bringMoney are the kinds of act with which money comes in.
var bringMoney = []events.Kind{events.OrderTaken, events.OrderPaid, events.SheetDelivered, events.SilverRecovered}

// takings adds up the money that came in with acts, by day.
func takings(acts []events.Entry) (sum []Money, days []DayTakings) {
	whole, byDay := purse{}, map[string]purse{}
	var order []string
	for _, e := range acts {
		price, currency := snapshot.PriceOf(e.Data)
		if price == 0 {
			continue
		}
		day := e.At.Format("2006-01-02")
		if byDay[day] == nil {
			order, byDay[day] = append(order, day), purse{}
		}
		byDay[day][currency] += price
		whole[currency] += price
	}
	slices.Sort(order)
	days = []DayTakings{}
	for _, day := range order {
		days = append(days, DayTakings{day, byDay[day].lines()})
	}
	return whole.lines(), days
}

// takingsOf is what came in on the local day of a moment, up to it.
func takingsOf(snap *snapshot.Snapshot, now time.Time) ([]Money, error) {
	morning := time.Date(now.Year(), now.Month(), now.Day(), 0, 0, 0, 0, now.Location())
	acts, err := snap.Entries(events.Query{From: morning, To: now, Kinds: bringMoney})
	sum, _ := takings(acts)
	return sum, err
}
