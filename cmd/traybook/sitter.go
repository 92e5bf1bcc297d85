package main

import (
	"fmt"
	"strings"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/screen"
	"traybook/events"
	"traybook/events/sqlite"
	"traybook/projections/snapshot"
)

func sitterCommand(env *Env) *cli.Command {
	consent := actCommand{
		kind: events.SitterConsented, name: "consent", usage: "what a sitter allows: keep, show, publish", words: "SITTER keep|show|publish",
		examples: lines("traybook sitter consent sitter-3 show --until 2028-01", "traybook sitter consent sitter-3 publish withdrawn"),
	}
	return group("sitter", "sitters: add, list, consent, pictures", forSetUp,
		lines("traybook sitter add \"Asta Holm\" --contact \"the pilot's house\"", "traybook sitter list", "traybook sitter consent sitter-3 show"),
		sitterAdd(env), sitterList(env), consent.command(env, ""), sitterPictures(env))
}

type sitterJSON struct {
	Sitter   string   `json:"sitter"`
	Name     string   `json:"name"`
	Contact  string   `json:"contact"` // how the sitter is reached
	Pictures []string `json:"pictures"`
	Allows   []string `json:"allows"` // what the sitter agreed to: keep, show, publish
}

func sitterAdd(env *Env) *cli.Command {
	return &cli.Command{
		Name: "add", Usage: "write a sitter's name in, or mend name and contact", ArgsUsage: "NAME | SITTER",
		UsageText: lines("traybook sitter add \"Asta Holm\" --contact \"the pilot's house\"", "traybook sitter add sitter-3 --name \"Asta Holm-Vik\""),
		Description: "Names and contacts stand in a table beside the entries, which hold the reference only (sitter-3), so that\n" +
			"traybook erase can forget a person.",
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "contact", Usage: "`TEXT` how the sitter is reached"},
			&cli.StringFlag{Name: "name", Usage: "`NAME` the name that shall stand there from now on"},
		},
		Action: func(c *cli.Context) error {
			who := strings.Join(strings.Fields(strings.Join(c.Args().Slice(), " ")), " ")
			if who == "" {
				return line.WrongLinef("traybook sitter add \"Asta Holm\"", "no name is given")
			}
			var row events.SitterRow
			fresh := false
			was, again := "", false
			err := withBook(env, c, false, func(book *sqlite.Book) error {
				return book.Write(func(tx *sqlite.Tx) (err error) {
					if row, fresh, err = putSitter(tx, who, c); err == nil && fresh {
						was, again, err = tx.Erased(row.Name)
					}
					return err
				})
			})
			if err != nil {
				return err
			}
			if c.Bool("json") {
				return writeJSON(env.Out, sitterJSON{row.Ref, row.Name, row.Contact, []string{}, []string{}})
			}
			s := screenOf(env, c)
			verb := "mended"
			if fresh {
				verb = "written in"
			}
			s.Say(screen.Plain, row.Ref+": "+row.Name+" "+verb)
			if again {
				s.Hang(screen.Warn, "  ! ", fmt.Sprintf(comesAgain, was))
			}
			return s.Err()
		},
	}
}

func putSitter(tx *sqlite.Tx, who string, c *cli.Context) (row events.SitterRow, fresh bool, err error) {
	row, err = findSitter(tx, who)
	if err != nil {
		if events.IsSitter(who) {
			return row, false, err
		}
		row = events.SitterRow{Name: who, Contact: c.String("contact")}
		if c.IsSet("name") {
			return row, false, line.WrongLinef("traybook sitter list shows them", "there is no sitter %s whose name could be mended", line.Quote(who))
		}
		row.Ref, err = tx.AddSitter(row.Name, row.Contact)
		return row, true, err
	}
	if !c.IsSet("contact") && !c.IsSet("name") {
		return row, false, line.Refuse("mend it with --contact or --name", "%s is written in already, as %s", row.Name, row.Ref)
	}
	if c.IsSet("contact") {
		row.Contact = c.String("contact")
	}
	if name := strings.Join(strings.Fields(c.String("name")), " "); name != "" {
		row.Name = name
	}
	return row, false, tx.SetSitter(row)
}

// findSitter finds a sitter by reference or name.
func findSitter(tx *sqlite.Tx, who string) (events.SitterRow, error) {
	rows, err := tx.Sitters()
	if err != nil {
		return events.SitterRow{}, err
	}
	who = strings.Join(strings.Fields(who), " ")
	for _, r := range rows {
		if strings.EqualFold(r.Ref, who) || strings.EqualFold(r.Name, who) {
			return r, nil
		}
	}
	return events.SitterRow{}, line.Refuse("traybook sitter list shows them", "there is no sitter %s", line.Quote(who))
}

type sittersJSON struct {
	Sitters []sitterJSON `json:"sitters"`
}

func sitterList(env *Env) *cli.Command {
	return &cli.Command{
		Name: "list", Usage: "everyone who is written in, and what they allow", UsageText: "traybook sitter list",
		Action: func(c *cli.Context) error {
			if err := noWords(c); err != nil {
				return err
			}
			var out []sitterJSON
			err := withBook(env, c, true, func(book *sqlite.Book) error {
				return book.Read(func(tx *sqlite.Tx) (err error) {
					out, err = tellSitters(env, tx)
					return err
				})
			})
			if err != nil {
				return err
			}
			if c.Bool("json") {
				return writeJSON(env.Out, sittersJSON{orEmpty(out)})
			}
			s := screenOf(env, c)
			if len(out) == 0 {
				s.Say(screen.Plain, "Nobody is written in yet: traybook sitter add \"NAME\"")
				return s.Err()
			}
			t := screen.Table{Columns: []screen.Column{{Title: "sitter"}, {Title: "name", Elastic: true}, {Title: "contact", Elastic: true}, {Title: "allows"}, {Title: "pictures", Elastic: true}}}
			for _, r := range out {
				t.Add(r.Sitter, r.Name, r.Contact, strings.Join(r.Allows, ", "), strings.Join(r.Pictures, ", "))
			}
			s.Table(t)
			return s.Err()
		},
	}
}

func tellSitters(env *Env, tx *sqlite.Tx) ([]sitterJSON, error) {
	rows, err := tx.Sitters()
	if err != nil {
		return nil, err
	}
	look := snapshot.New(tx, moment(env.Now()))
	var out []sitterJSON
	for _, r := range rows {
		pictures, err := look.PicturesOf(r.Ref)
		if err != nil {
			return nil, err
		}
		allows, err := look.AllowedBy(r.Ref)
		if err != nil {
			return nil, err
		}
		out = append(out, sitterJSON{r.Ref, r.Name, r.Contact, orEmpty(pictures), orEmpty(allows)})
	}
	return out, nil
}

type sitterPicturesJSON struct {
	Sitter   string   `json:"sitter"` // the reference
	Name     string   `json:"name"`
	Pictures []string `json:"pictures"`
}

func sitterPictures(env *Env) *cli.Command {
	return &cli.Command{
		Name: "pictures", Usage: "the pictures of a sitter", ArgsUsage: "SITTER", UsageText: "traybook sitter pictures \"Asta Holm\"",
		Action: func(c *cli.Context) error {
			who := strings.Join(c.Args().Slice(), " ")
			if who == "" {
				return line.WrongLinef("traybook sitter pictures sitter-3", "no sitter is named")
			}
			var row events.SitterRow
			var pictures []string
			err := withBook(env, c, true, func(book *sqlite.Book) error {
				return book.Read(func(tx *sqlite.Tx) (err error) {
					if row, err = findSitter(tx, who); err != nil {
						return err
					}
					pictures, err = snapshot.New(tx, moment(env.Now())).PicturesOf(row.Ref)
					return err
				})
			})
			if err != nil {
				return err
			}
			if c.Bool("json") {
				return writeJSON(env.Out, sitterPicturesJSON{row.Ref, row.Name, orEmpty(pictures)})
			}
			s := screenOf(env, c)
			text := "no picture yet"
			if len(pictures) > 0 {
				text = strings.Join(pictures, ", ")
			}
			s.Say(screen.Plain, row.Name+" ("+row.Ref+"): "+text)
			return s.Err()
		},
	}
}
