package main

import "github.com/urfave/cli/v2"

// figureCommand gathers the figures: arithmetic of the trade that touches no book.
func figureCommand(env *Env) *cli.Command {
	return &cli.Command{
		Name: "figure", Usage: "reckon exposure, focus, strips, baths, light, paper and tones", Category: forFigure,
		UsageText: "traybook figure exposure --ev 11 --index 3 --f f/8\n" +
			"traybook figure focus --focal 135mm --distance 2m --f f/8\n" +
			"traybook figure develop --nominal 60s --temp 17C",
		Description: "A figure touches no book. Options take units (135mm, 2m, 5in, 1/4s, 68F, 1+9); a bare number is in the unit that its name in the JSON answer ends with.",
		Subcommands: []*cli.Command{
			onPaper(env, figureExposure(env), exposureSheet), onPaper(env, figureFocus(env), railSheet), figureStrip(env),
			onPaper(env, figureDevelop(env), developSheet), onPaper(env, figureFix(env), fixSheet), figureWash(env),
			figureDilute(env), figureLight(env), figurePaper(env), onPaper(env, figureTones(env), quadrantSheet), figureWall(env),
		},
	}
}
