package main

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/bench/keys"
	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/screen"
	"traybook/events"
	"traybook/events/sqlite"
	"traybook/projections/acts"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// actContext is where one command works: inside one write of the book, at one moment. What it reads cannot change before it
// has written.
type actContext struct {
	env     *Env
	c       *cli.Context
	tx      *sqlite.Tx
	zone    *time.Location
	now, at time.Time
	batch   events.ID         // shared by the acts of one command where it writes several
	notes   []wording.Warning // what was assumed, to be said in the answer
	opened  bool              // this command opened the book's own chain
	ids     func() events.ID  // gives the entries their ids; nil draws them
	also    []wording.Answer  // to acts that the command wrote besides
	meant   *line.Meaning     // what the person said, when asked, that a word of the line means; nil for nothing
}

// inContext runs f inside one write of the book.
func inContext(env *Env, c *cli.Context, f func(*actContext) error) error {
	return withBook(env, c, false, func(book *sqlite.Book) error {
		return book.Write(func(tx *sqlite.Tx) error {
			ac, err := newActContext(env, c, tx)
			if err != nil {
				return err
			}
			return f(ac)
		})
	})
}

func newActContext(env *Env, c *cli.Context, tx *sqlite.Tx) (*actContext, error) {
	ac := &actContext{env: env, c: c, tx: tx}
	zone, err := zoneOf(env, tx)
	if err != nil {
		return nil, err
	}
	ac.zone = zone
	ac.now = moment(env.Now()).In(zone)
	if env.together() {
		ac.batch = env.page.batch
	}
	if err := ac.ownChain(); err != nil {
		return nil, err
	}
	at, fromMark, err := atOf(c, ac.now, zone)
	if err != nil {
		return nil, err
	}
	ac.at = moment(at)
	if fromMark {
		mark, err := acts.UnusedMark(snapshot.New(tx, ac.now))
		if err != nil {
			return nil, err
		}
		if mark == nil {
			return nil, line.Refuse("traybook mark stamps a moment; or give the time: --at 14:05", "no moment is marked that was not used yet")
		}
		ac.at = mark.At
		ac.note("the time is that of the mark at %s", mark.At.Format("15:04:05"))
	}
	return ac, nil
}

// moment is a time as acts hold it: no finer than a thousandth of a second.
func moment(t time.Time) time.Time { return t.Round(0).Truncate(time.Millisecond) }

func (ac *actContext) note(format string, args ...any) {
	ac.notes = append(ac.notes, wording.Remark(fmt.Sprintf(format, args...)))
}

// zoneOf is the zone in which the book's bare times are meant.
func zoneOf(env *Env, tx *sqlite.Tx) (*time.Location, error) {
	name, err := tx.Meta("zone")
	if err != nil {
		return nil, err
	}
	if name == "" {
		if name, err = acts.ZoneOf(snapshot.New(tx, time.Time{})); err != nil {
			return nil, err
		}
	}
	if name == "" {
		return env.zone(), nil
	}
	return line.Zone(name)
}

// keepZone puts the zone of the book where it is found at once. To be called when a book.opened came or was mended.
func keepZone(tx *sqlite.Tx) error {
	name, err := acts.ZoneOf(snapshot.New(tx, time.Time{}))
	if err != nil {
		return err
	}
	return tx.SetMeta("zone", name)
}

// ownChain begins a chain of this file's own where it has none: a file made from another lengthens none of the chains
// that it was given.
func (ac *actContext) ownChain() error {
	own, err := ac.tx.HasOwnChain()
	if err != nil || own {
		return err
	}
	ac.opened = true
	e := ac.entry(&events.BookOpenedData{Zone: ac.zone.String()})
	e.At, e.Book = ac.now, newID()
	ac.note("this file was made from another; it goes on under a name of its own")
	return ac.tx.EnsureOwn(e)
}

// entry puts an act into its envelope.
func (ac *actContext) entry(data events.Data) events.Entry {
	e := events.Entry{Kind: data.Kind(), At: ac.at, Data: data, ID: ac.newID(), Batch: ac.batch, RecordedAt: ac.now}
	if z := ac.zone.String(); z != "" && z != "Local" {
		e.Zone = z
	}
	return e
}

func (ac *actContext) newID() events.ID {
	if ac.ids != nil {
		return ac.ids()
	}
	return newID()
}

// newID draws an id.
func newID() events.ID {
	var id events.ID
	rand.Read(id[:]) // never fails
	return id
}

// read takes an act's data from the words and options of the command line.
func (ac *actContext) read(kind events.Kind, words []string) (events.Data, error) {
	words, err := ac.sittersIn(kind, words)
	if err != nil {
		return nil, err
	}
	if ac.meant != nil {
		i := slices.Index(words, ac.meant.Word)
		words = slices.Delete(slices.Clone(words), i, i+1)
	}
	data, err := parseAct(kind, ac.c, words, ac.known)
	if err != nil {
		return nil, err
	}
	if ac.meant != nil {
		if err := ac.meant.Put(data); err != nil {
			return nil, err
		}
	}
	return data, ac.elapsed(data)
}

func (ac *actContext) known(word string) (events.EntityKind, bool) {
	t, ok, err := ac.tx.Entity(word)
	return t.Kind, ok && err == nil
}

// elapsed takes --elapsed for the time of the act.
func (ac *actContext) elapsed(data events.Data) error {
	if !ac.c.IsSet("elapsed") {
		return nil
	}
	f, ok := events.FieldOf(data.Kind(), "time_s")
	if !ok {
		return nil
	}
	if v, there := f.Value(data); there && v != 0.0 {
		return line.WrongLinef("give it once", "the time stands twice: --elapsed and the other")
	}
	s, err := line.Parse(line.Seconds, ac.c.String("elapsed"))
	if err != nil {
		return line.WrongLine(err)
	}
	if err := f.CheckValue(data.Kind(), line.Tidy(s)); err != nil {
		return err
	}
	return f.Put(data, line.Tidy(s))
}

// endsClock has an act that is given with its time end the clock that runs for it, and tells of one that runs on. What the
// line does not say is then as the clock has it.
func (ac *actContext) endsClock(data events.Data) error {
	field, timed := events.FieldOf(data.Kind(), "clock")
	if !timed {
		return nil
	}
	running, err := snapshot.New(ac.tx, noMoment).RunningClocks(ac.now)
	if err != nil || len(running) == 0 {
		return err
	}
	if err := ac.resolve(data); err != nil {
		return err
	}
	var ends *events.Entry
	var began time.Time
	for i := range running {
		clock := &running[i]
		clock.At = clock.At.In(ac.zone)
		at, fits := snapshot.ClockFits(*clock, data, ac.at)
		switch {
		case fits && ac.c.IsSet("at"):
			if ends == nil || at.Sub(snapshot.ClockBegan(*clock)).Abs() < began.Sub(snapshot.ClockBegan(*ends)).Abs() {
				ends, began = clock, at
			}
		case !ac.c.IsSet("at"):
			if _, fits := snapshot.ClockFits(*clock, data, clock.At); fits {
				ac.note("%s: its clock runs on; --at %s would have ended it with this act, traybook void %s says that it never happened",
					snapshot.ClockRuns(*clock, ac.now), snapshot.ClockBegan(*clock).Format("15:04"), short(clock.ID))
			}
		}
	}
	if ends == nil {
		return nil
	}
	kept, err := ends.Data.(*events.ClockStartedData).ActData()
	if err != nil {
		return err
	}
	if err := events.FillFrom(kept, data); err != nil {
		return err
	}
	ac.at = moment(began.In(ac.zone))
	ac.note("it ends the clock that ran since %s", snapshot.ClockBegan(*ends).Format("15:04:05"))
	return field.Put(data, ends.ID.String())
}

// unsaid calls a number missing that came out as 0: one that was typed as 0 was refused while it was read.
func unsaid(err error) error {
	var field *events.FieldError
	if errors.As(err, &field) && field.Fault == events.NotMore && field.Value == "0" {
		return &events.FieldError{Kind: field.Kind, Field: field.Field, Fault: events.Missing}
	}
	return err
}

// write writes one act and answers it.
func (ac *actContext) write(data events.Data) (wording.Answer, error) {
	if err := ac.resolve(data); err != nil {
		return wording.Answer{}, err
	}
	names, err := ac.tx.Sitters()
	if err != nil {
		return wording.Answer{}, err
	}
	former, err := ac.tx.FormerNames()
	if err != nil {
		return wording.Answer{}, err
	}
	names = append(names, former...)
	e := ac.entry(data)
	a, err := acts.Write(ac.tx, &e, acts.WriteOptions{EvenSo: ac.c.Bool("even-so"), Names: names})
	if err != nil {
		return a, unsaid(err)
	}
	a.Warnings = append(ac.notes, a.Warnings...)
	ac.notes = nil
	if e.Kind == events.BookOpened {
		err = keepZone(ac.tx)
	}
	return a, err
}

// as is the book as of the act.
func (ac *actContext) as() *snapshot.Snapshot { return snapshot.NewForAct(ac.tx, ac.at) }

// actCommand describes a command that writes one act.
type actCommand struct {
	kind     events.Kind
	name     string
	usage    string
	words    string // what words it takes, for its usage line
	examples string
	about    string
	more     []cli.Flag
	many     bool                                 // it may be done to many sheets in one line
	ready    func(*actContext, events.Data) error // what the command adds before the book fills in the rest
	after    func(*actContext, events.Data) error // what it writes besides, in the same batch
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
	cmd := &cli.Command{
		Name: a.name, Usage: a.usage, UsageText: a.examples, ArgsUsage: words, Description: a.about, Category: category, Flags: flags,
		Action: func(c *cli.Context) error {
			var answers []wording.Answer
			err := asking(env, c, func(ac *actContext) error {
				answer, err := ac.do(a, c.Args().Slice(), nil)
				answers = append([]wording.Answer{answer}, ac.also...)
				return err
			})
			if err != nil {
				return told(env, c, err)
			}
			if len(answers) > 1 {
				return printBatch(env, c, answers)
			}
			return printAnswer(env, c, answers...)
		},
	}
	if a.many {
		return forMany(env, a, cmd)
	}
	return cmd
}

// do reads an act from the words of a line, makes it ready and writes it. more adds what the line does not say; nil for nothing.
func (ac *actContext) do(a actCommand, words []string, more func(events.Data)) (wording.Answer, error) {
	data, err := ac.read(a.kind, words)
	if err != nil {
		return wording.Answer{}, err
	}
	if more != nil {
		more(data)
	}
	if err := ac.endsClock(data); err != nil {
		return wording.Answer{}, err
	}
	if a.ready != nil {
		if err := a.ready(ac, data); err != nil {
			return wording.Answer{}, err
		}
	}
	answer, err := ac.write(data)
	if err != nil || a.after == nil {
		return answer, err
	}
	return answer, a.after(ac, data)
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

// choice is one answer to a question: a key, and what it means.
type choice struct {
	key  rune
	says string
}

// askKey puts a question that one press answers, on the stream for everything but data. The book is closed meanwhile.
// Errors: a refusal where the person leaves, keys.ErrNoTerminal where nobody can be asked.
func askKey(env *Env, c *cli.Context, question string, choices ...choice) (rune, error) {
	if !env.canAsk() || !env.terminal(env.ErrFD) {
		return 0, keys.ErrNoTerminal
	}
	until := env.Until() // before the question is seen: a Ctrl-C that follows it at once is an answer, too
	s := screen.Detect(env.Err, env.ErrFD, c.Bool("no-color"), env.Around)
	s.Say(screen.Plain, question)
	for _, x := range append(choices, choice{'q', "leave; nothing is written"}) {
		s.Hang(screen.Plain, "  "+string(x.key)+"  ", x.says)
	}
	var pressed rune
	tty := keys.Tty{In: env.In, InFD: env.InFD, Out: env.Err, Now: env.Tick, Plain: true}
	err := keys.Use(until, tty, func(t *keys.Terminal) error {
		for {
			k, ok, err := t.Next(until, -1)
			switch {
			case err != nil:
				return err
			case !ok:
				continue
			case k.Leaves() || k.Rune == 'q' || k.Rune == 'Q' || k.Rune == keys.Escape:
				return errLeft
			}
			for _, x := range choices {
				if strings.EqualFold(string(x.key), string(k.Rune)) {
					pressed = x.key
					return nil
				}
			}
		}
	})
	switch {
	case errors.Is(err, errLeft):
		return 0, line.Refuse("", "left without an answer; nothing was written")
	case errors.Is(err, context.Canceled):
		return 0, context.Canceled
	}
	return pressed, err
}

// asking is inContext for an act whose words may be unclear: what one means is asked, and the act done again with the
// answer. Where nobody can be asked it is refused, and so is a second one: a terminal's keys are read once in a run.
func asking(env *Env, c *cli.Context, f func(*actContext) error) error {
	err := inContext(env, c, f)
	var unclear *line.Unclear
	if !errors.As(err, &unclear) {
		return err
	}
	var choices []choice
	for _, m := range unclear.Means {
		choices = append(choices, choice{m.Key, m.Says})
	}
	key, no := askKey(env, c, "What does "+line.Quote(unclear.Word)+" mean?", choices...)
	switch {
	case errors.Is(no, keys.ErrNoTerminal):
		return err
	case no != nil:
		return no
	}
	i := slices.IndexFunc(unclear.Means, func(m line.Meaning) bool { return m.Key == key })
	return inContext(env, c, func(ac *actContext) error {
		ac.meant = &unclear.Means[i]
		return f(ac)
	})
}
