package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"unicode"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/refusal"
	"traybook/cmd/traybook/screen"
	"traybook/events"
	"traybook/events/sqlite"
	"traybook/projections"
)

func eraseCommand(env *Env) *cli.Command {
	return &cli.Command{
		Name: "erase", Usage: "forget a sitter: name and contact leave the book for good", ArgsUsage: "SITTER", Category: forMend,
		UsageText: lines("traybook erase sitter-3", "traybook erase \"Asta Holm\""),
		Description: "The row goes out of the table, and every trace of it out of the file and its log; the entries keep the reference\n" +
			"(sitter-3), behind which nobody stands any more. Entries whose text holds the name cannot be unwritten: they are listed,\n" +
			"and the exit code is 1. Copies made earlier (backups, archives, exports) still hold the name: they are yours to destroy.",
		Flags: []cli.Flag{&cli.StringFlag{Name: "at", Usage: "`14:05` when (now)"}},
		Action: func(c *cli.Context) error {
			who := strings.Join(c.Args().Slice(), " ")
			if who == "" {
				return wrongLinef("traybook erase sitter-3", "no sitter is named")
			}
			var done erased
			if err := withBook(env, c, false, func(book *sqlite.Book) error { return done.erase(env, c, book, who) }); err != nil {
				return err
			}
			return done.print(env, c)
		},
	}
}

// erased is what an erasure did.
type erased struct {
	row    events.SitterRow
	answer projections.Answer
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
		x.row, err = findSitter(tx, who)
		return err
	})
	if err != nil {
		if pending {
			return refusal.New("nothing more is to be done for it", "the traces of an earlier erasure are gone now; %s", err)
		}
		return err
	}
	return book.EraseSitter(x.row.Ref, func(tx *sqlite.Tx) error {
		if x.left, err = stillHolding(tx, x.row.Name); err != nil {
			return err
		}
		d, err := newDesk(env, c, tx)
		if err != nil {
			return err
		}
		look := projections.NewDesk(tx, noMoment)
		for _, e := range x.left {
			x.texts = append(x.texts, short(e.ID)+" "+look.Sentence(e))
		}
		// Not by write: that would look the reference up in the table.
		e := d.entry(&events.SitterErasedData{Sitter: x.row.Ref})
		x.answer, err = projections.Write(tx, &e, projections.WriteOptions{})
		return err
	})
}

// stillHolding finds the entries whose stored bytes hold a name, in whatever field, as texts are searched for names.
func stillHolding(tx *sqlite.Tx, name string) ([]events.Entry, error) {
	names := projections.NamesOf([]events.SitterRow{{Ref: "sought", Name: name}})
	if len(names) == 0 {
		return nil, nil
	}
	first, _, _ := strings.Cut(projections.FoldName(name), " ")
	var out []events.Entry
	err := tx.Each(func(e events.Entry) error {
		if plain(e.Stored) && !bytes.Contains(bytes.ToLower(e.Stored), []byte(first)) {
			return nil
		}
		var said any
		if err := json.Unmarshal(e.Stored, &said); err != nil {
			return err
		}
		if says(said, names) {
			out = append(out, e)
		}
		return nil
	})
	return out, err
}

// plain says whether each letter stands in the bytes as itself, and in one form only.
func plain(b []byte) bool {
	return bytes.IndexByte(b, '\\') < 0 && bytes.IndexFunc(b, func(r rune) bool { return r > unicode.MaxASCII }) < 0
}

// says looks through what JSON holds for a text that holds a name.
func says(v any, names projections.Names) bool {
	switch v := v.(type) {
	case string:
		return names.In(v) != ""
	case []any:
		return slices.ContainsFunc(v, func(x any) bool { return says(x, names) })
	case map[string]any:
		for _, x := range v {
			if says(x, names) {
				return true
			}
		}
	}
	return false
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
	return refusal.New("an entry can never be unwritten; what must not stay has to be left behind with the whole book", "%s", count)
}
