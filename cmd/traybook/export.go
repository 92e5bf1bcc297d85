package main

import "github.com/urfave/cli/v2"

// exportCommand gathers what leaves the book.
func exportCommand(env *Env) *cli.Command {
	return group("export", "the book as tables, pages, entries, or all of it in an archive", forKeep,
		lines("traybook export csv --out tables", "traybook export pdf --out log.pdf", "traybook export archive --out skerrow-2026 --year 2026", "traybook export archive --out skerrow.zip"),
		exportCSVCommand(env), exportPDFCommand(env), exportLabelsCommand(env), exportWallCommand(env), exportEventsCommand(env), exportArchiveCommand(env),
	)
}
