package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/screen"
	"traybook/events"
	"traybook/events/sqlite"
	"traybook/projections/wording"
)

func salvageCommand(env *Env) *cli.Command {
	return &cli.Command{
		Name: "salvage", Usage: "save what can be read of a damaged book into a new one", ArgsUsage: "[DAMAGED] NEW", Category: forKeep,
		UsageText: lines("traybook salvage saved.db", "traybook salvage damaged.db saved.db"),
		Description: "The damaged book is only looked at. An entry is believed where its hash bears it out; a chain is kept whole up to its first\n" +
			"gap, and what comes after is written anew under its own id. The new book begins with a book.salvaged that says what is\n" +
			"missing, and it verifies. Before anything else make a plain copy of the damaged file, with its -wal beside it.",
		Action: func(c *cli.Context) error {
			words := c.Args().Slice()
			if len(words) < 1 || len(words) > 2 {
				return line.WrongLinef("traybook salvage NEW, or traybook salvage DAMAGED NEW", "salvage takes the name of the new book, and the damaged one where it is not the book")
			}
			old, fresh := "", words[len(words)-1]
			if len(words) == 2 {
				old = words[0]
			} else {
				var err error
				if old, err = bookPath(env, c); err != nil {
					return err
				}
			}
			return salvage(env, c, old, fresh)
		},
	}
}

type salvagedJSON struct {
	Path       string        `json:"path"`
	Kept       int64         `json:"kept"`
	Rewritten  int64         `json:"rewritten"` // entries that were chained anew
	Missing    int64         `json:"missing"`
	Head       string        `json:"head"`
	Sitters    int           `json:"sitters"`
	Thumbnails int           `json:"thumbnails"` // small pictures that were saved
	Problems   []findingJSON `json:"problems"`
}

func salvage(env *Env, c *cli.Context, old, fresh string) error {
	if _, err := os.Stat(old); errors.Is(err, fs.ErrNotExist) {
		return line.Refuse("name the damaged one: traybook salvage DAMAGED NEW", "there is no book at %s", old)
	}
	if _, err := os.Lstat(fresh); err == nil {
		if c.NArg() == 1 { // the damaged book alone was named
			return line.Refuse("name the new book behind the damaged one: traybook salvage "+fresh+" saved.db", "%s is there already", fresh)
		}
		return thereAlready(fresh, false)
	}
	if err := mayStand(env, c, fresh); err != nil {
		return err
	}
	if samePlace(fresh, old) {
		return line.Refuse("name another place for the new book", "%s is the damaged book itself", fresh)
	}
	for _, end := range []string{"-wal", "-shm", "-journal"} {
		if samePlace(fresh, old+end) {
			return line.Refuse("name another place for the new book", "%s is where the damaged book has its log", fresh)
		}
	}
	now := moment(env.Now()).In(env.zone())
	env.long()
	done, err := sqlite.Salvage(old, fresh, bookOptions(false), events.Entry{ID: newID(), Book: newID(), At: now, RecordedAt: now})
	if err != nil {
		return err
	}
	if done.Kept+done.Rewritten == 0 {
		os.Remove(fresh)
		return line.Refuse("go back to the latest backup; no new book was made", "not one entry can be read in %s", old)
	}
	env.written = true
	env.clockBack = func() *sqlite.ClockBack { return done.ClockBack }
	if c.Bool("json") {
		problems := []findingJSON{}
		for _, p := range done.Problems {
			problems = append(problems, findingJSON{p.Kind, orNull(p.Entry), p.Text})
		}
		return writeJSON(env.Out, salvagedJSON{fresh, done.Kept, done.Rewritten, done.Missing, done.Head.String(), done.Sitters, done.Thumbnails, problems})
	}
	s := screenOf(env, c)
	for _, p := range done.Problems {
		s.Hang(screen.Bad, "  ✗ ", p.Text)
	}
	flow(s, []string{fresh + ": " + wording.CountOf(done.Kept, "entry") + " saved as they were", fmt.Sprintf("%d written anew behind a gap", done.Rewritten),
		fmt.Sprintf("%d missing", done.Missing), wording.CountOf(done.Sitters, "sitter"), wording.CountOf(done.Thumbnails, "small picture"),
		"to check it: traybook verify --book " + fresh})
	return s.Err()
}
