package main

import (
	_ "embed"
	"fmt"
	"io"
	"runtime/debug"
	"strings"

	"github.com/urfave/cli/v2"

	"traybook/events/sqlite"
)

const version = "0.1.0"

// licenceTexts are those of all that the program is built of. `go run -C tools ./release licences` writes them.
//
//go:embed licences.txt
var licenceTexts string

// edition is what this program is: what a report of a fault has to say.
type edition struct {
	Version  string `json:"version"`
	Commit   string `json:"commit"`    // that it was built of, "" where that is not known
	CommitAt string `json:"commit_at"` // RFC 3339
	Changed  bool   `json:"changed"`   // built with changes that are in no commit
	SQLite   string `json:"sqlite"`    // version of the SQLite inside
	Layout   int    `json:"layout"`    // of the books that it writes
}

func thisEdition() edition {
	a := edition{Version: version, SQLite: sqlite.LibraryVersion(), Layout: sqlite.Layout}
	if built, ok := debug.ReadBuildInfo(); ok {
		for _, s := range built.Settings {
			switch s.Key {
			case "vcs.revision":
				a.Commit = s.Value
			case "vcs.time":
				a.CommitAt = s.Value
			case "vcs.modified":
				a.Changed = s.Value == "true"
			}
		}
	}
	return a
}

func printVersion(env *Env, asJSON bool) error {
	a := thisEdition()
	if asJSON {
		return writeJSON(env.Out, a)
	}
	commit := "commit not known"
	if a.Commit != "" {
		commit = "commit " + a.Commit[:min(12, len(a.Commit))]
		if day, _, ok := strings.Cut(a.CommitAt, "T"); ok {
			commit += " of " + day
		}
		if a.Changed {
			commit += ", with changes since"
		}
	}
	_, err := fmt.Fprintf(env.Out, "traybook %s\n%s\nSQLite %s\nlayout %d of the book\n", a.Version, commit, a.SQLite, a.Layout)
	return err
}

func licencesCommand(env *Env) *cli.Command {
	return &cli.Command{
		Name: "licences", Usage: "the licences of all that the program is built of", Category: forTry,
		UsageText: "traybook licences",
		Action: func(c *cli.Context) error {
			if err := noWords(c); err != nil {
				return err
			}
			if c.Bool("json") {
				return writeJSON(env.Out, textJSON{licenceTexts})
			}
			_, err := io.WriteString(env.Out, licenceTexts)
			return err
		},
	}
}
