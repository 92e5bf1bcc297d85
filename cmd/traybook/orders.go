package main

import (
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/said"
	"traybook/cmd/traybook/screen"
	"traybook/events"
	"traybook/events/names"
	"traybook/projections/acts"
	"traybook/projections/report"
	"traybook/projections/wording"
)

func orderCommand(env *Env) *cli.Command {
	take := actCommand{
		kind: events.OrderTaken, name: "take", usage: "who wants what by when", words: "[SITTER] [PICTURE] [N prints] [SIZE] [scan] [PRICE CURRENCY] [paid]",
		examples: lines("traybook order take \"Asta Holm\" 2 prints 2026-014 --due 2026-06-12 800 NOK", "traybook order take sitter-3 scan 2026-014 paid 150 NOK",
			"traybook order take sitter-3 3 prints 18x24cm"),
		about: "It stands in traybook today until it is delivered: traybook deliver finds the order of the one to whom a print goes, and the\n" +
			"last print closes it. Without a number it is one print. One money as it is typed; no rate is kept.",
		ready: func(_ *actContext, data events.Data) error {
			x := data.(*events.OrderTakenData)
			if x.Prints == nil && (x.Scan == nil || !*x.Scan) {
				x.Prints = new(1)
			}
			return nil
		},
	}
	paid := actCommand{
		kind: events.OrderPaid, name: "paid", usage: "money came in for an order: all that is owed, or so much", words: "ORDER [PRICE CURRENCY]",
		examples: lines("traybook order paid order-3", "traybook order paid order-3 400 NOK"),
		ready: func(ac *actContext, data events.Data) error {
			return acts.Settle(ac.as(), data.(*events.OrderPaidData))
		},
	}
	end := actCommand{
		kind: events.OrderClosed, name: "close", usage: "nothing more is waited for: the scan is sent, or it was withdrawn", words: "ORDER [delivered|withdrawn]",
		examples: lines("traybook order close order-3", "traybook order close order-3 withdrawn"),
		ready: func(_ *actContext, data events.Data) error {
			if x := data.(*events.OrderClosedData); x.Ended == "" {
				x.Ended = "delivered"
			}
			return nil
		},
	}
	return group("order", "who wants what by when: take, paid, close", forActs,
		lines("traybook order take \"Asta Holm\" 2 prints 2026-014 --due 2026-06-12 800 NOK", "traybook order paid order-3", "traybook order close order-3"),
		take.command(env, ""), paid.command(env, ""), end.command(env, ""))
}

func ordersCommand(env *Env) *cli.Command {
	return &cli.Command{
		Name: "orders", Usage: "what is wanted by whom, and what is owed", Category: forLook,
		UsageText: "traybook orders\ntraybook orders --all --as-of 2026-05-03",
		Flags: []cli.Flag{
			&cli.BoolFlag{Name: "all", Usage: "list those that ended and are paid too"},
			asOfFlag(),
		},
		Action: func(c *cli.Context) error {
			if err := noWords(c); err != nil {
				return err
			}
			return runQuery(env, c, func(q *query) error {
				r, err := report.Orders(q.snap, c.Bool("all"))
				if err != nil {
					return err
				}
				if done, err := q.json(r); done {
					return err
				}
				rows, err := q.tx.Sitters()
				if err != nil {
					return err
				}
				return q.show(func(s *screen.Screen) { showOrders(s, r, rows) })
			})
		},
	}
}

func showOrders(s *screen.Screen, r report.OrdersReport, rows []events.SitterRow) {
	if len(r.Orders) == 0 {
		s.Say(screen.Plain, "Nobody waits for anything. traybook order take takes an order; --all lists those that ended.")
	}
	for _, o := range r.Orders {
		tone := screen.Plain
		switch {
		case o.Overdue:
			tone = screen.Warn
		case o.Ended != nil:
			tone = screen.Faint
		}
		contact := ""
		if i := slices.IndexFunc(rows, func(row events.SitterRow) bool { return row.Ref == o.Sitter }); i >= 0 {
			contact = orNothing("reached at ", rows[i].Contact)
		}
		s.Hang(tone, "", said.Order(o, nameIn(rows)))
		if more := joined(" · ", contact, said.Text(o.Text)); more != "" {
			s.Hang(screen.Faint, "  ", more)
		}
	}
	for _, m := range r.Owed {
		s.Say(screen.Plain, "owed "+wording.Money(m.Amount, m.Currency))
	}
}

// nameIn gives the name behind a sitter's reference, or the reference where none is known.
func nameIn(rows []events.SitterRow) func(string) string {
	return func(ref string) string {
		if i := slices.IndexFunc(rows, func(r events.SitterRow) bool { return r.Ref == ref }); i >= 0 {
			return rows[i].Name
		}
		return ref
	}
}

// readyDelivery finds the order for which a sheet goes, so that what ends with it is written in the same batch, and has a price
// without its money take the order's.
func readyDelivery(ac *actContext, data events.Data) error {
	if err := ac.resolve(data); err != nil {
		return err
	}
	if err := acts.ApplyDefaults(ac.as(), &events.Entry{Kind: data.Kind(), At: ac.at, Data: data}, true); err != nil {
		return err
	}
	x := data.(*events.SheetDeliveredData)
	if x.Order == "" {
		return nil
	}
	o, err := ac.as().Order(x.Order)
	if err != nil {
		return err
	}
	if x.Price != nil && x.Currency == "" && o.Taken != nil {
		x.Currency = o.Taken.Currency
	}
	end, err := acts.ClosedBy(ac.as(), x, false)
	if end != nil && ac.batch.IsZero() {
		ac.batch = newID()
	}
	return err
}

// closesOrder writes the end of the order that a sheet just handed over was the last of.
func closesOrder(ac *actContext, data events.Data) error {
	end, err := acts.ClosedBy(ac.as(), data.(*events.SheetDeliveredData), true)
	if err != nil || end == nil {
		return err
	}
	answer, err := ac.write(end)
	ac.also = append(ac.also, answer)
	return err
}

// goesTo finds the sitter whom the words of a line mean that takes one: a name of several words, quoted or not, as it is
// written in or nearly so. What is only near is asked. Whoever orders and is not known is written in.
func (ac *actContext) goesTo(kind events.Kind, words []string, rows []events.SitterRow) ([]string, error) {
	if kind != events.SheetDelivered && kind != events.OrderTaken || ac.meant != nil {
		return words, nil
	}
	field := map[events.Kind]string{events.SheetDelivered: "to", events.OrderTaken: "sitter"}[kind]
	if ac.c.IsSet(field) || slices.ContainsFunc(words, events.IsSitter) {
		return words, nil
	}
	for i := range words {
		for n := min(4, len(words)-i); n > 1; n-- {
			if ref := bearer(rows, strings.Join(words[i:i+n], " ")); ref != "" {
				return slices.Concat(words[:i], []string{ref}, words[i+n:]), nil
			}
		}
	}
	for i, w := range words {
		if !likeName(w) {
			continue
		}
		if ref := bearer(rows, w); ref != "" {
			return slices.Concat(words[:i], []string{ref}, words[i+1:]), nil
		}
		if near := nearTo(rows, w); len(near) > 0 {
			return nil, unclearName(kind, field, w, near)
		}
		if kind == events.OrderTaken && strings.Contains(w, " ") {
			ref, err := ac.sitter(w)
			return slices.Concat(words[:i], []string{ref}, words[i+1:]), err
		}
	}
	return words, nil
}

// bearer is the reference of the sitter who is written in under a name, whatever its case, accents and order; "" for nobody.
func bearer(rows []events.SitterRow, name string) string {
	key := names.Key(name)
	i := slices.IndexFunc(rows, func(r events.SitterRow) bool { return key != "" && names.Key(r.Name) == key })
	if i < 0 {
		return ""
	}
	return rows[i].Ref
}

// likeName says whether a word may be somebody's name: letters, beginning with a large one.
func likeName(w string) bool {
	first, _ := utf8.DecodeRuneInString(w)
	return len(w) > 2 && unicode.IsUpper(first) && !strings.ContainsFunc(w, func(r rune) bool { return !unicode.IsLetter(r) && !strings.ContainsRune(" -'’.", r) })
}

// nearTo are the sitters whose names a word is a part of, else the one whose name it nearly is.
func nearTo(rows []events.SitterRow, word string) []events.SitterRow {
	var part []events.SitterRow
	var all []string
	for _, r := range rows {
		all = append(all, r.Name)
		if slices.Contains(strings.Fields(names.Key(r.Name)), names.Key(word)) {
			part = append(part, r)
		}
	}
	if near := line.Nearest(word, all); len(part) == 0 && near != "" {
		return []events.SitterRow{rows[slices.Index(all, near)]}
	}
	return part
}

// mostMeant is how many sitters a question offers.
const mostMeant = 4

// unclearName asks whose name a word is that is a part of a sitter's name, or nearly one.
func unclearName(kind events.Kind, field, word string, near []events.SitterRow) error {
	u := &line.Unclear{Word: word}
	var who []string
	for i, r := range near[:min(mostMeant, len(near))] {
		who = append(who, r.Name+" ("+r.Ref+")")
		u.Means = append(u.Means, line.Meaning{Key: rune('1' + i), Word: word, Field: field, Value: r.Ref, Says: r.Name + ", " + r.Ref})
	}
	u.Means = append(u.Means, line.Meaning{Key: 'n', Word: word, Field: field, Value: word, Says: "somebody who is not written in yet"})
	hint := "write " + near[0].Ref + ", or --" + field + " " + line.Quote(word) + " for somebody new"
	if kind == events.SheetDelivered {
		u.Means = append(u.Means, line.Meaning{Key: 'r', Word: word, Field: "text", Value: word, Says: "a remark"})
		hint += ", or --text for a remark"
	}
	u.Refusal = line.Refuse(hint, "%s may be %s", line.Quote(word), strings.Join(who, " or "))
	u.Line = true
	return u
}
