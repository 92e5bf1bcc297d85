package main

import "github.com/urfave/cli/v2"

// figureCommand gathers the figures: arithmetic of the trade that touches no book.
func figureCommand(env *Env) *cli.Command {
	return &cli.Command{
		Name: "figure", Usage: "reckon exposure, focus, baths, paper, light; writes nothing", Category: forFigure,
		UsageText: "traybook figure exposure --ev 11 --index 3 --f f/8\ntraybook figure focus --focal 135mm --distance 2m --f f/8",
		Subcommands: []*cli.Command{
			figureStrip(env),
		},
	}
}
