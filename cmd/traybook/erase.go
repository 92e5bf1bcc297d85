package main

import (
	"bufio"
	"bytes"
	"fmt"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/screen"
	"traybook/events"
	"traybook/events/names"
	"traybook/events/sqlite"
	"traybook/projections/acts"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

func eraseCommand(env *Env) *cli.Command {
	return &cli.Command{
		Name: "erase", Usage: "forget a sitter: name and contact leave the book for good", ArgsUsage: "[SITTER]", Category: forMend,
		UsageText: lines("traybook erase sitter-3", "traybook erase \"Asta Holm\" --yes"),
		Description: "The row goes out of the table, and every trace of it out of the file and its log; the entries keep the reference\n" +
			"(sitter-3), behind which nobody stands any more. Entries whose text holds the name cannot be unwritten: they are listed,\n" +
			"and the exit code is 1. The name leaves the paths of scans, too, and a stone in the entry keeps it from coming back by a\n" +
			"merge or an import. Copies made earlier (backups, archives, exports) still hold the name: they are yours to destroy.\n" +
			"At a terminal it shows what goes and asks first; elsewhere, and for who is sure, it takes --yes. An erasure that was\n" +
			"stopped halfway is finished by the next act, or by traybook erase alone.",
		Flags: []cli.Flag{
			&cli.BoolFlag{Name: "yes", Usage: "erase without being asked"},
			&cli.StringFlag{Name: "at", Usage: "`14:05` when (now)"},
		},
		Action: func(c *cli.Context) error {
			who := strings.Join(c.Args().Slice(), " ")
			if who == "" {
				return finishErasure(env, c)
			}
			var done erased
			err := withBook(env, c, false, func(book *sqlite.Book) error { return done.erase(env, c, book, who) })
			if !done.gone {
				return err
			}
			// Traces that another program keeps in the file are an error; what was done, and what is left, is told all the same.
			if told := done.print(env, c, err == nil); err == nil {
				err = told
			}
			return err
		},
	}
}

// finishErasure removes the traces of an erasure that was stopped halfway.
func finishErasure(env *Env, c *cli.Context) error {
	return withBook(env, c, false, func(book *sqlite.Book) error {
		pending, err := book.ScrubPending()
		if err != nil {
			return err
		}
		if !pending {
			return line.WrongLinef("traybook erase sitter-3", "no sitter is named")
		}
		if err := book.Scrub(); err != nil {
			return err
		}
		if c.Bool("json") {
			return writeJSON(env.Out, finishedJSON{true})
		}
		s := screenOf(env, c)
		s.Say(screen.Plain, "the traces of the erasure that was stopped are gone now")
		return s.Err()
	})
}

// erased is what an erasure did.
type erased struct {
	row    events.SitterRow
	names  []events.SitterRow // the name and those borne before
	stones []events.SitterErasedData
	answer wording.Answer
	left   []events.Entry // whose bytes still hold the name
	texts  []string
	paths  int  // of scans, in which the name stands
	gone   bool // the row is out of the table
}

func (x *erased) erase(env *Env, c *cli.Context, book *sqlite.Book, who string) error {
	pending, err := book.ScrubPending()
	if err != nil {
		return err
	}
	if pending {
		if err := book.Scrub(); err != nil {
			return err
		}
	}
	err = book.Read(func(tx *sqlite.Tx) (err error) {
		if x.row, err = findSitter(tx, who); err != nil {
			return err
		}
		if x.stones, err = tx.LayStones(x.row.Ref, newID()); err != nil {
			return err
		}
		if x.names, err = namesOf(tx, x.row); err != nil {
			return err
		}
		sought := names.Of(x.names...)
		if err := tx.EachThumbnail(func(t events.Thumbnail) error {
			if sought.In(t.Path) != "" {
				x.paths++
			}
			return nil
		}); err != nil {
			return err
		}
		return x.look(tx)
	})
	if err == nil && !c.Bool("yes") {
		err = x.ask(env, c)
	}
	if err != nil && pending {
		return &about{"the traces of an earlier erasure are gone now; ", err}
	}
	if err != nil {
		return err
	}
	asShown := func(tx *sqlite.Tx) error { // who was asked may have answered after a while
		now, err := namesOf(tx, x.row)
		if err == nil && !slices.Equal(now, x.names) {
			return errChanged
		}
		return err
	}
	err = book.EraseSitter(x.row.Ref, asShown, func(tx *sqlite.Tx) error {
		if err := x.look(tx); err != nil {
			return err
		}
		ac, err := newActContext(env, c, tx)
		if err != nil {
			return err
		}
		// Not by write: that would look the reference up in the table.
		for i := range x.stones {
			e := ac.entry(&x.stones[i])
			if x.answer, err = acts.Write(tx, &e, acts.WriteOptions{}); err != nil {
				return err
			}
		}
		return nil
	})
	x.gone = err == nil || book.Written()
	return err
}

// namesOf are all rows under a sitter's reference as they stand in the book: the present name with its contact, then those borne
// before.
func namesOf(tx *sqlite.Tx, row events.SitterRow) ([]events.SitterRow, error) {
	all, err := tx.Sitters()
	if err != nil {
		return nil, err
	}
	former, err := tx.FormerNames()
	return slices.DeleteFunc(append(all, former...), func(r events.SitterRow) bool { return r.Ref != row.Ref }), err
}

// look finds the entries that go on holding the name.
func (x *erased) look(tx *sqlite.Tx) (err error) {
	if x.left, err = stillHolding(tx, x.names); err != nil {
		return err
	}
	x.texts = nil
	as := snapshot.New(tx, noMoment)
	for _, e := range x.left {
		x.texts = append(x.texts, short(e.ID)+" "+as.Sentence(e))
	}
	return nil
}

// ask shows a person what goes and what stays, and takes nothing but a yes. Nobody at a terminal has to say so beforehand.
func (x *erased) ask(env *Env, c *cli.Context) error {
	if !env.terminal(env.InFD) {
		return line.Refuse("say that it is meant: traybook erase "+x.row.Ref+" --yes", "an erasure cannot be taken back, and nobody is here to be asked; nothing was erased")
	}
	s := screen.Detect(env.Err, env.ErrFD, c.Bool("no-color"), env.Around)
	s.Say(screen.Plain, "This goes for good, and no void brings it back:")
	for i, r := range x.names {
		parts := []string{x.row.Ref + ": " + r.Name}
		if i > 0 {
			parts = []string{"borne before: " + r.Name}
		}
		if r.Contact != "" {
			parts = append(parts, "contact "+r.Contact)
		}
		s.Hang(screen.Plain, "  ", strings.Join(parts, " · "))
	}
	if x.paths > 0 {
		s.Hang(screen.Plain, "  ", "the name in the paths of "+wording.CountOf(x.paths, "scan"))
	}
	printStanding(s, "entry holds the name in its text and cannot be unwritten", "entries hold the name in their text and cannot be unwritten", x.texts)
	env.long() // who is asked can leave
	answer, err := ask(env, bufio.NewReader(env.In), "Erase "+x.row.Name+"? yes or no", "no", line.Refuse("traybook erase "+x.row.Ref+" --yes asks nothing", "the answer was cut off; nothing was erased"))
	if err != nil {
		return err
	}
	if answer = strings.ToLower(answer); answer != "yes" && answer != "y" {
		return line.Refuse("traybook erase "+x.row.Ref+" asks again", "nothing was erased")
	}
	return nil
}

// stillHolding finds the entries whose words hold one of the names, those that name a session or another thing so among them.
func stillHolding(tx *sqlite.Tx, rows []events.SitterRow) ([]events.Entry, error) {
	sought := names.Of(rows...)
	if sought.None() {
		return nil, nil
	}
	var out []events.Entry
	err := tx.Each(func(e events.Entry) error {
		// What a field holds stands in the line as it is, but for what JSON writes with a backslash.
		if bytes.IndexByte(e.Stored, '\\') < 0 && sought.In(string(e.Stored)) == "" {
			return nil
		}
		if acts.SaysName(e.Data, sought) {
			out = append(out, e)
		}
		return nil
	})
	return out, err
}

// finishedJSON tells that an erasure which was stopped is finished.
type finishedJSON struct {
	Finished bool `json:"finished"` // true where one was
}

type erasedJSON struct {
	answerJSON
	Sitter string   `json:"sitter"`
	Left   []string `json:"left"`
}

// print tells what was done. clean says that no trace is left in the file.
func (x *erased) print(env *Env, c *cli.Context, clean bool) error {
	ids := make([]string, len(x.left))
	for i, e := range x.left {
		ids[i] = e.ID.String()
	}
	if c.Bool("json") {
		if err := writeJSON(env.Out, erasedJSON{answerOf(x.answer), x.row.Ref, ids}); err != nil {
			return err
		}
	} else {
		s := screenOf(env, c)
		if clean {
			s.Say(screen.Plain, x.row.Ref+" is erased: name and contact are gone from this file for good, and no void brings them back.")
		} else {
			s.Say(screen.Plain, x.row.Ref+" is out of the table, and no void brings it back; its traces are not out of the file yet.")
		}
		s.Say(screen.Plain, "Backups, archives and exports made before still hold the name; scans still show the face. They are yours to destroy.")
		if len(x.left) > 0 {
			printStanding(s, "entry still holds the name in its text", "entries still hold the name in their text", x.texts)
		}
		if s.Err() != nil {
			return s.Err()
		}
	}
	if len(x.left) == 0 {
		return nil
	}
	count := "1 entry still holds the name in its text"
	if n := len(x.left); n > 1 {
		count = fmt.Sprintf("%d entries still hold the name in their text", n)
	}
	return line.Refuse("an entry can never be unwritten; what must not stay has to be left behind with the whole book", "%s", count)
}
