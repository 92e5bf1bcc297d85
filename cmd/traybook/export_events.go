package main

import (
	"io"
	"time"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/screen"
	"traybook/events/sqlite"
	"traybook/export"
	"traybook/projections/wording"
)

func exportEventsCommand(env *Env) *cli.Command {
	return &cli.Command{
		Name: "events", Usage: "the entries as lines of NDJSON, which import reads",
		UsageText: lines("traybook export events --out book.ndjson", "traybook export events --out - --picture 2026-014"),
		Description: "Without a narrowing option every entry with its hash: the whole book, from which import makes an equal one.\n" +
			"Narrowed, or as of an earlier moment, it is an extract: plain lines with their id, without what was taken back; a picture's\n" +
			"brings the readings it followed. The names of sitters are in neither.",
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "out", Usage: "`FILE` where to; - is standard output"},
			&cli.StringFlag{Name: "year", Usage: "`2026` the entries of one year"},
			&cli.StringFlag{Name: "session", Usage: "`SESSION` of one session"},
			&cli.StringFlag{Name: "picture", Usage: "`2026-014` of one picture"},
			asOfFlag(),
			&cli.BoolFlag{Name: "force", Usage: "replace a file that is there"},
		},
		Action: func(c *cli.Context) error {
			env.long()
			return exportEvents(env, c)
		},
	}
}

type linesJSON struct {
	Path    string `json:"path"`
	Entries int    `json:"entries"`
}

func exportEvents(env *Env, c *cli.Context) error {
	if err := noWords(c); err != nil {
		return err
	}
	out := c.String("out")
	if out == "" {
		return line.WrongLinef("--out FILE, or --out - for standard output", "the entries need a place")
	}
	scope, err := archiveScope(c)
	if err != nil {
		return err
	}
	n := 0
	write := func(w io.Writer) error {
		return withBook(env, c, true, func(book *sqlite.Book) error {
			return book.Read(func(tx *sqlite.Tx) (err error) {
				if scope.Whole() && !c.IsSet("as-of") {
					n, err = export.Lines(tx, w)
					return err
				}
				var at time.Time
				if c.IsSet("as-of") {
					if at, err = exportMoment(env, c, tx); err != nil {
						return err
					}
				}
				n, err = export.Extract(tx, scope, at, w)
				return err
			})
		})
	}
	if out == "-" {
		return write(env.data())
	}
	if err := writeOutput(env, c, out, mayReplaceLines(env, c), write); err != nil {
		return err
	}
	if c.Bool("json") {
		return writeJSON(env.Out, linesJSON{out, n})
	}
	s := screenOf(env, c)
	s.Say(screen.Plain, out+": "+wording.CountOf(n, "entry"))
	return s.Err()
}
