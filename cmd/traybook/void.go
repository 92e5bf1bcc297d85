package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/screen"
	"traybook/events"
	"traybook/projections/wording"
)

// noMoment as a snapshot's moment shows everything.
var noMoment time.Time

func voidCommand(env *Env) *cli.Command {
	return &cli.Command{
		Name: "void", Usage: "take an entry back; it stays in the book, struck through", ArgsUsage: "ENTRY|last", Category: forMend,
		UsageText: lines("traybook void last", "traybook void 80a3 --why \"wrong box\"", "traybook void 80a3 --with-later", "traybook void --batch 1ab38eb7"),
		Description: "ENTRY is the beginning of its id, four digits or more, or last: the entry that this book wrote last, a void included, so\n" +
			"that a second void last brings back what the first took. What later acts depend on is refused, with their list.",
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "batch", Usage: "`ID` every entry of one import or one tray"},
			&cli.StringFlag{Name: "why", Usage: "`TEXT` the reason"},
			&cli.BoolFlag{Name: "with-later", Usage: "take back the later acts that depend on it, too"},
			&cli.BoolFlag{Name: "even-so", Usage: "leave the later acts that depend on it"},
			&cli.StringFlag{Name: "at", Usage: "`14:05` when it was taken back (now)"},
		},
		Action: func(c *cli.Context) error {
			words := c.Args().Slice()
			switch {
			case len(words) > 1:
				return line.WrongLinef("void one entry at a time; a reason goes with --why", "void takes one entry, and %q was given too", words[1])
			case len(words) == 1 && c.IsSet("batch"):
				return line.WrongLinef("give one of the two", "void takes an entry or a batch")
			case len(words) == 0 && !c.IsSet("batch"):
				return line.WrongLinef("traybook void last", "no entry is named")
			case c.Bool("with-later") && c.Bool("even-so"):
				return line.WrongLinef("give one of the two", "--with-later takes the later acts back and --even-so leaves them")
			}
			var done voided
			if err := inContext(env, c, func(ac *actContext) (err error) {
				done, err = ac.void(words)
				return err
			}); err != nil {
				return err
			}
			return done.print(env, c)
		},
	}
}

// voided is what a void did.
type voided struct {
	answers []wording.Answer
	took    []string // what was taken back, in short
	left    []string // what stood on it and stays

	restored bool // it was a void that was taken back
}

func (ac *actContext) void(words []string) (voided, error) {
	if ac.c.IsSet("batch") {
		return ac.voidBatch(ac.c.String("batch"))
	}
	e, err := ac.target(words[0], false)
	if err != nil {
		if word := strings.ToLower(words[0]); wording.Refused(err) && likeID.MatchString(word) {
			if members, wrong := ac.tx.Batch(word); wrong == nil && len(members) > 0 {
				return voided{}, line.Refuse("traybook void --batch "+word+" takes all of them back", "%s is a batch of %s, not an entry", word, wording.CountOf(len(members), "entry"))
			}
		}
		return voided{}, err
	}
	if !e.Voided.IsZero() {
		return voided{}, line.Refuse(fmt.Sprintf("to bring it back, void the void: traybook void %s", short(e.Voided)), "the entry %s was taken back already", short(e.ID))
	}
	if err := mayVoid(e); err != nil {
		return voided{}, err
	}
	later, err := ac.laterOn(e)
	if err != nil {
		return voided{}, err
	}
	var out voided
	if ac.c.Bool("with-later") && len(later) > 0 {
		ac.batch = newID()
	} else {
		out.left, later = ac.listed(later), nil
	}
	if !e.Batch.IsZero() && ac.batch.IsZero() {
		ac.note("it was written with others at once; traybook void --batch %s takes those back, too", short(e.Batch))
	}
	slices.Reverse(later) // the latest first, so that none stands on nothing at any moment
	for _, v := range append(later, e) {
		if err := ac.voidOne(v, &out); err != nil {
			return out, err
		}
	}
	return out, nil
}

func (ac *actContext) voidOne(e events.Entry, out *voided) error {
	text := "taken back: " + ac.inShort(e) + " · " + wording.ClockOf(e.At.In(ac.zone))
	if v, ok := e.Data.(*events.EntryVoidedData); ok {
		text, out.restored = "counts again: "+ac.whatVoidTook(v), true
	}
	if err := ac.voidClocks(e); err != nil {
		return err
	}
	a, err := ac.write(&events.EntryVoidedData{Entry: e.ID.String(), Why: ac.c.String("why")})
	if err != nil {
		return err
	}
	out.answers, out.took = append(out.answers, a), append(out.took, text)
	return nil
}

// voidClocks takes back the clocks that acts to be voided ended, where no other act stands by them: a clock whose act never
// happened would run again. They come before the acts, so that the last entry is what was taken back.
func (ac *actContext) voidClocks(acts ...events.Entry) error {
	going := func(e events.Entry) bool {
		return slices.ContainsFunc(acts, func(a events.Entry) bool { return a.ID == e.ID })
	}
	seen := map[string]bool{}
	for _, act := range acts {
		name := events.ClockOf(act.Data)
		id, err := events.ParseID(name)
		if err != nil || seen[name] { // no clock took its time
			continue
		}
		seen[name] = true
		clock, err := ac.everything().AsItCounts(id)
		if errors.Is(err, events.ErrNotFound) || err == nil && !clock.Voided.IsZero() {
			continue
		}
		if err != nil {
			return err
		}
		ended, err := ac.everything().ClockEndedBy(clock)
		if err != nil {
			return err
		}
		if len(slices.DeleteFunc(ended, going)) > 0 {
			continue
		}
		if _, err := ac.write(&events.EntryVoidedData{Entry: name, Why: "with the act that it timed"}); err != nil {
			return err
		}
	}
	return nil
}

// whatVoidTook names what a void took back.
func (ac *actContext) whatVoidTook(v *events.EntryVoidedData) string {
	if v.Batch != "" {
		return "batch " + v.Batch[:8]
	}
	id, err := events.ParseID(v.Entry)
	if err != nil {
		return v.Entry
	}
	e, err := ac.everything().AsItCounts(id)
	if err != nil {
		return v.Entry
	}
	return ac.inShort(e)
}

// mayVoid refuses what cannot be unsaid.
func mayVoid(e events.Entry) error {
	switch e.Kind {
	case events.BookOpened, events.BookSalvaged:
		return line.Refuse("amend it instead: traybook amend "+short(e.ID)+" zone=Europe/Oslo", "%s begins the book and cannot be taken back", short(e.ID))
	case events.SitterErased:
		return line.Refuse("write the sitter in anew: traybook sitter add", "what was erased is gone and does not come back")
	}
	return nil
}

// laterOn lists the acts that depend on entries; it refuses them unless the command line says what becomes of them.
func (ac *actContext) laterOn(entries ...events.Entry) ([]events.Entry, error) {
	later, err := ac.everything().AllDependents(entries...)
	if err != nil || len(later) == 0 || ac.c.Bool("with-later") || ac.c.Bool("even-so") {
		return later, err
	}
	list := ac.listed(later)
	noun := "acts depend"
	if len(list) == 1 {
		noun = "act depends"
	}
	return nil, line.Refuse("--with-later takes them back, too; --even-so leaves them; nothing was written",
		"%d later %s on it: %s", len(later), noun, wording.FirstOf(list, showStanding, "; "))
}

func (ac *actContext) listed(entries []events.Entry) []string {
	var out []string
	for _, e := range entries {
		out = append(out, ac.inShort(e))
	}
	return out
}

func (ac *actContext) voidBatch(prefix string) (voided, error) {
	var out voided
	prefix = strings.ToLower(strings.TrimSpace(prefix))
	if !likeID.MatchString(prefix) {
		return out, line.WrongLinef("give the first digits of the batch as the import or the tray named it", "%s is no batch", line.Quote(prefix))
	}
	members, err := ac.tx.Batch(prefix)
	if err != nil {
		return out, err
	}
	batches := map[events.ID]bool{}
	var standing []events.Entry
	for _, m := range members {
		batches[m.Batch] = true
		e, err := ac.everything().AsItCounts(m.ID)
		if err != nil {
			return out, err
		}
		if e.Voided.IsZero() {
			standing = append(standing, e)
		}
		if e.Kind == events.BookOpened {
			return out, line.Refuse("remove the file, or void single entries", "the batch %s begins the book and cannot be taken back", prefix)
		}
	}
	switch {
	case len(batches) == 0:
		return out, line.Refuse("an import and a tray name theirs when they are written", "no entry belongs to a batch %s", prefix)
	case len(batches) > 1:
		return out, line.Refuse("give more of its digits", "%s fits %d batches", prefix, len(batches))
	case len(standing) == 0:
		return out, line.Refuse("traybook history --all shows the voids", "the batch %s was taken back already", prefix)
	}
	later, err := ac.laterOn(standing...)
	if err != nil {
		return out, err
	}
	batch := standing[0].Batch
	if ac.c.Bool("with-later") && len(later) > 0 {
		ac.batch = newID()
		slices.Reverse(later)
		for _, e := range later {
			if err := ac.voidOne(e, &out); err != nil {
				return out, err
			}
		}
	} else {
		out.left = ac.listed(later)
	}
	if err := ac.voidClocks(standing...); err != nil {
		return out, err
	}
	a, err := ac.write(&events.EntryVoidedData{Batch: batch.String(), Why: ac.c.String("why")})
	if err != nil {
		return out, err
	}
	out.answers = append(out.answers, a)
	out.took = append(out.took, fmt.Sprintf("taken back: batch %s, %s", short(batch), wording.CountOf(len(standing), "entry")))
	return out, nil
}

func (v *voided) print(env *Env, c *cli.Context) error {
	if c.Bool("json") {
		return printAnswer(env, c, v.answers...)
	}
	s := screenOf(env, c)
	for i := len(v.took) - 1; i >= 0; i-- {
		s.Hang(screen.Plain, "  ", v.took[i])
	}
	printStanding(s, "later act stood on it and stays", "later acts stood on it and stay", v.left)
	last := v.answers[len(v.answers)-1]
	words, id := "void ", short(last.Entry.ID)
	if !last.Entry.Batch.IsZero() {
		words, id = "void --batch ", short(last.Entry.Batch)
	}
	if v.restored {
		flow(s, []string{env.takeBack("to take it back again", words, id)})
	} else {
		flow(s, []string{"it stays in the book, struck through", env.takeBack("to bring it back", words, id)})
	}
	for _, a := range v.answers {
		warn(s, "  ", a.Warnings)
	}
	return s.Err()
}
