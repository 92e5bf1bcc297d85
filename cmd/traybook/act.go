package main

import (
	"crypto/rand"
	"errors"
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/clock"
	"traybook/cmd/traybook/quantity"
	"traybook/cmd/traybook/refusal"
	"traybook/events"
	"traybook/events/sqlite"
	"traybook/projections"
)

// desk is where one command works: inside one write of the book, at one moment. What it reads cannot change before it
// has written.
type desk struct {
	env     *Env
	c       *cli.Context
	tx      *sqlite.Tx
	zone    *time.Location
	now, at time.Time
	batch   events.ID // shared by the acts of one command where it writes several
	notes   []string  // what was assumed, to be said in the answer
	opened  bool      // this command opened the book's own chain
}

// atTheDesk runs f inside one write of the book.
func atTheDesk(env *Env, c *cli.Context, f func(*desk) error) error {
	return withBook(env, c, false, func(book *sqlite.Book) error {
		return book.Write(func(tx *sqlite.Tx) error {
			d, err := newDesk(env, c, tx)
			if err != nil {
				return err
			}
			return f(d)
		})
	})
}

func newDesk(env *Env, c *cli.Context, tx *sqlite.Tx) (*desk, error) {
	d := &desk{env: env, c: c, tx: tx}
	zone, err := zoneOf(env, tx)
	if err != nil {
		return nil, err
	}
	d.zone = zone
	d.now = moment(env.Now()).In(zone)
	if err := d.ownChain(); err != nil {
		return nil, err
	}
	at, fromMark, err := atOf(env, c, zone)
	if err != nil {
		return nil, err
	}
	d.at = moment(at)
	if fromMark {
		mark, err := projections.NewDesk(tx, d.now).UnusedMark()
		if err != nil {
			return nil, err
		}
		if mark == nil {
			return nil, refusal.New("traybook mark stamps a moment; or give the time: --at 14:05", "no moment is marked that was not used yet")
		}
		d.at = mark.At
		d.note("the time is that of the mark at %s", mark.At.Format("15:04:05"))
	}
	return d, nil
}

// moment is a time as acts hold it: no finer than a thousandth of a second.
func moment(t time.Time) time.Time { return t.Round(0).Truncate(time.Millisecond) }

func (d *desk) note(format string, args ...any) {
	d.notes = append(d.notes, refusal.New("", format, args...).Problem)
}

// zoneOf is the zone in which the book's bare times are meant.
func zoneOf(env *Env, tx *sqlite.Tx) (*time.Location, error) {
	name, err := tx.Meta("zone")
	if err != nil {
		return nil, err
	}
	if name == "" {
		if name, err = projections.NewDesk(tx, time.Time{}).ZoneOf(); err != nil {
			return nil, err
		}
	}
	if name == "" {
		return env.zone(), nil
	}
	return clock.Zone(name)
}

// keepZone puts the zone of the book where it is found at once. To be called when a book.opened came or was mended.
func keepZone(tx *sqlite.Tx) error {
	name, err := projections.NewDesk(tx, time.Time{}).ZoneOf()
	if err != nil {
		return err
	}
	return tx.SetMeta("zone", name)
}

// ownChain begins a chain of this file's own where it has none: a file made from another lengthens none of the chains
// that it was given.
func (d *desk) ownChain() error {
	own, err := d.tx.HasOwnChain()
	if err != nil || own {
		return err
	}
	d.opened = true
	e := d.entry(&events.BookOpenedData{Zone: d.zone.String()})
	e.At, e.Book = d.now, newID()
	d.note("this file was made from another; it goes on under a name of its own")
	return d.tx.EnsureOwn(e)
}

// entry puts an act into its envelope.
func (d *desk) entry(data events.Data) events.Entry {
	e := events.Entry{Kind: data.Kind(), At: d.at, Data: data, ID: newID(), Batch: d.batch, RecordedAt: d.now}
	if z := d.zone.String(); z != "" && z != "Local" {
		e.Zone = z
	}
	return e
}

// newID draws an id.
func newID() events.ID {
	var id events.ID
	rand.Read(id[:]) // never fails
	return id
}

// read takes an act's data from the words and options of the command line.
func (d *desk) read(kind events.Kind, words []string) (events.Data, error) {
	words, err := d.sittersIn(kind, words)
	if err != nil {
		return nil, err
	}
	data, err := parseAct(kind, d.c, words, d.known)
	if err != nil {
		return nil, err
	}
	return data, d.elapsed(data)
}

func (d *desk) known(word string) (events.ThingKind, bool) {
	t, ok, err := d.tx.Thing(word)
	return t.Kind, ok && err == nil
}

// elapsed takes --elapsed for the time of the act.
func (d *desk) elapsed(data events.Data) error {
	if !d.c.IsSet("elapsed") {
		return nil
	}
	f, ok := events.FieldOf(data.Kind(), "time_s")
	if !ok {
		return nil
	}
	if v, there := f.Value(data); there && v != 0.0 {
		return wrongLinef("give it once", "the time stands twice: --elapsed and the other")
	}
	s, err := quantity.Parse(quantity.Seconds, d.c.String("elapsed"))
	if err != nil {
		return wrongLine(err)
	}
	if err := f.CheckValue(data.Kind(), tidy(s)); err != nil {
		return err
	}
	return f.Put(data, tidy(s))
}

// unsaid calls a number missing that came out as 0: one that was typed as 0 was refused while it was read.
func unsaid(err error) error {
	var field *events.FieldError
	if errors.As(err, &field) && strings.HasPrefix(field.Why, "is 0; it must be more than") {
		return &events.FieldError{Kind: field.Kind, Field: field.Field, Why: "is missing"}
	}
	return err
}

// write writes one act and answers it.
func (d *desk) write(data events.Data) (projections.Answer, error) {
	if err := d.resolve(data); err != nil {
		return projections.Answer{}, err
	}
	names, err := d.tx.Sitters()
	if err != nil {
		return projections.Answer{}, err
	}
	former, err := d.tx.FormerNames()
	if err != nil {
		return projections.Answer{}, err
	}
	names = append(names, former...)
	e := d.entry(data)
	a, err := projections.Write(d.tx, &e, projections.WriteOptions{EvenSo: d.c.Bool("even-so"), Names: names})
	if err != nil {
		return a, unsaid(err)
	}
	a.Warnings = append(d.notes, a.Warnings...)
	d.notes = nil
	if e.Kind == events.BookOpened {
		err = keepZone(d.tx)
	}
	return a, err
}

// as is the book as of the act.
func (d *desk) as() *projections.Desk { return projections.NewDeskForAct(d.tx, d.at) }

// actCommand describes a command that writes one act.
type actCommand struct {
	kind     events.Kind
	name     string
	usage    string
	words    string // what words it takes, for its usage line
	examples string
	about    string
	more     []cli.Flag
	ready    func(*desk, events.Data) error // what the command adds before the book fills in the rest
}

func (a actCommand) command(env *Env, category string) *cli.Command {
	flags := append(actFlags(a.kind), a.more...)
	if f, ok := events.FieldOf(a.kind, "time_s"); ok && f.Required && a.kind != events.LightMetered {
		flags = append(flags, &cli.StringFlag{Name: "elapsed", Usage: "`4.2s` the time as a watch or a script measured it; the same as --time"})
	}
	if holdsText(a.kind) {
		flags = append(flags, &cli.BoolFlag{Name: "even-so", Usage: "keep a text that holds a sitter's name, or a number far ahead"})
	}
	words := a.words
	if words == "" {
		words = "[WORD…]"
	}
	return &cli.Command{
		Name: a.name, Usage: a.usage, UsageText: a.examples, ArgsUsage: words, Description: a.about, Category: category, Flags: flags,
		Action: func(c *cli.Context) error {
			var answer projections.Answer
			err := atTheDesk(env, c, func(d *desk) error {
				data, err := d.read(a.kind, c.Args().Slice())
				if err != nil {
					return err
				}
				if a.ready != nil {
					if err := a.ready(d, data); err != nil {
						return err
					}
				}
				answer, err = d.write(data)
				return err
			})
			if err != nil {
				return told(env, c, err)
			}
			return printAnswer(env, c, answer)
		},
	}
}

func holdsText(k events.Kind) bool {
	for _, f := range events.Fields(k) {
		if f.Type == "text" {
			return true
		}
	}
	return false
}

// group gathers commands under one noun.
func group(name, usage, category, examples string, subs ...*cli.Command) *cli.Command {
	return &cli.Command{Name: name, Usage: usage, UsageText: examples, Category: category, Subcommands: subs}
}

func lines(s ...string) string { return strings.Join(s, "\n") }
