package main

import (
	"bytes"
	"fmt"
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
		UsageText: lines("traybook erase sitter-3", "traybook erase \"Asta Holm\""),
		Description: "The row goes out of the table, and every trace of it out of the file and its log; the entries keep the reference\n" +
			"(sitter-3), behind which nobody stands any more. Entries whose text holds the name cannot be unwritten: they are listed,\n" +
			"and the exit code is 1. The name leaves the paths of scans, too, and a stone in the entry keeps it from coming back by a\n" +
			"merge or an import. Copies made earlier (backups, archives, exports) still hold the name: they are yours to destroy.\n" +
			"An erasure that was stopped halfway is finished by the next act, or by traybook erase alone.",
		Flags: []cli.Flag{&cli.StringFlag{Name: "at", Usage: "`14:05` when (now)"}},
		Action: func(c *cli.Context) error {
			who := strings.Join(c.Args().Slice(), " ")
			if who == "" {
				return finishErasure(env, c)
			}
			var done erased
			if err := withBook(env, c, false, func(book *sqlite.Book) error { return done.erase(env, c, book, who) }); err != nil {
				return err
			}
			return done.print(env, c)
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
			return writeJSON(env.Out, map[string]bool{"finished": true})
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
		former, err := tx.FormerNames()
		x.names = []events.SitterRow{x.row}
		for _, f := range former {
			if f.Ref == x.row.Ref {
				x.names = append(x.names, f)
			}
		}
		return err
	})
	if err != nil {
		if pending {
			return line.Refuse("nothing more is to be done for it", "the traces of an earlier erasure are gone now; %s", err)
		}
		return err
	}
	return book.EraseSitter(x.row.Ref, func(tx *sqlite.Tx) error {
		if x.left, err = stillHolding(tx, x.names); err != nil {
			return err
		}
		ac, err := newActContext(env, c, tx)
		if err != nil {
			return err
		}
		look := snapshot.New(tx, noMoment)
		for _, e := range x.left {
			x.texts = append(x.texts, short(e.ID)+" "+look.Sentence(e))
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

func (x *erased) print(env *Env, c *cli.Context) error {
	ids := make([]string, len(x.left))
	for i, e := range x.left {
		ids[i] = e.ID.String()
	}
	if c.Bool("json") {
		if err := writeJSON(env.Out, struct {
			answerJSON
			Sitter string   `json:"sitter"`
			Left   []string `json:"left"`
		}{answerOf(x.answer), x.row.Ref, ids}); err != nil {
			return err
		}
	} else {
		s := screenOf(env, c)
		s.Say(screen.Plain, x.row.Ref+" is erased: name and contact are gone from this file for good, and no void brings them back.")
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
