package main

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/screen"
)

var shortExamples = []string{
	"traybook init",
	"traybook today",
	"traybook demo",
	"traybook figure exposure --ev 11 --index 3 --f f/8",
}

func helpScreen(env *Env) *screen.Screen { return screen.Detect(env.Out, env.OutFD, true, env.Around) }

// printShort is the answer to the bare name of the program.
func printShort(env *Env) error {
	s := helpScreen(env)
	s.Say(screen.Plain, "traybook: a lab notebook for a camera with its darkroom inside.")
	s.Blank()
	printExamples(s, shortExamples)
	s.Blank()
	s.Say(screen.Plain, "traybook help lists the commands; traybook help COMMAND tells about one.")
	return s.Err()
}

// printHelp tells about the program or about one command, the examples first.
func printHelp(env *Env, app *cli.App, path []string) error {
	s := helpScreen(env)
	if len(path) == 0 {
		appHelp(s, app)
		return s.Err()
	}
	list, name := app.Commands, app.Name
	var found *cli.Command
	for _, word := range path {
		i := slices.IndexFunc(list, func(c *cli.Command) bool { return c.HasName(word) })
		if i < 0 {
			break
		}
		found = list[i]
		list, name = found.Subcommands, name+" "+found.Name
	}
	commandHelp(s, app, found, name)
	return s.Err()
}

func appHelp(s *screen.Screen, app *cli.App) {
	s.Say(screen.Plain, app.Name+": "+app.Usage)
	section(s, "EXAMPLES")
	printExamples(s, shortExamples)
	for _, h := range headings {
		var rows [][2]string
		for _, c := range app.Commands {
			if c.Category == h && !c.Hidden {
				rows = append(rows, [2]string{c.Name, c.Usage})
			}
		}
		if len(rows) > 0 {
			section(s, strings.ToUpper(h))
			columns(s, rows)
		}
	}
	section(s, "OPTIONS OF EVERY COMMAND")
	columns(s, flagRows(app.Flags, ""))
	s.Blank()
	s.Say(screen.Plain, "traybook help COMMAND tells about one command. A command may be shortened as long as no other begins so.")
}

func commandHelp(s *screen.Screen, app *cli.App, c *cli.Command, name string) {
	s.Say(screen.Plain, name+": "+c.Usage)
	if c.UsageText != "" {
		section(s, "EXAMPLES")
		printExamples(s, strings.Split(strings.TrimSpace(c.UsageText), "\n"))
	}
	section(s, "USAGE")
	usage := name
	if len(c.Subcommands) > 0 {
		usage += " COMMAND"
	}
	if c.ArgsUsage != "" {
		usage += " " + c.ArgsUsage
	}
	s.Hang(screen.Plain, "  ", usage+" [options]")
	if c.Description != "" {
		s.Blank()
		for _, p := range paragraphs(c.Description) {
			s.Hang(screen.Plain, "  ", p)
		}
	}
	var rows [][2]string
	for _, sub := range c.Subcommands {
		if !sub.Hidden {
			rows = append(rows, [2]string{sub.Name, sub.Usage})
		}
	}
	if len(rows) > 0 {
		section(s, "COMMANDS")
		columns(s, rows)
	}
	for _, cat := range flagCategories(c.Flags) {
		title := "OPTIONS"
		if cat != "" {
			title += ": " + cat
		}
		section(s, title)
		columns(s, flagRows(c.Flags, cat))
	}
	section(s, "OPTIONS OF EVERY COMMAND")
	columns(s, flagRows(app.Flags, ""))
}

// paragraphs are the parts of a description: one ends with a line that ends a sentence, other lines run on.
func paragraphs(description string) []string {
	var out []string
	open := false
	for _, line := range strings.Split(description, "\n") {
		if line = strings.TrimSpace(line); line == "" {
			open = false
			continue
		}
		if open {
			out[len(out)-1] += " " + line
		} else {
			out = append(out, line)
		}
		open = !strings.HasSuffix(line, ".")
	}
	return out
}

func section(s *screen.Screen, title string) {
	s.Blank()
	s.Say(screen.Plain, title)
}

func printExamples(s *screen.Screen, lines []string) {
	for _, l := range lines {
		if l = strings.TrimSpace(l); screen.Width(l)+2 <= s.Width {
			io.WriteString(s.W, "  "+screen.Clean(l)+"\n")
		} else {
			s.Hang(screen.Plain, "  ", strings.Join(strings.Fields(l), " "))
		}
	}
}

// flagCategories lists the headings of the options in the order of their first use.
func flagCategories(flags []cli.Flag) []string {
	var out []string
	for _, f := range flags {
		if cat := categoryOf(f); hiddenFlag(f) || slices.Contains(out, cat) {
			continue
		} else {
			out = append(out, cat)
		}
	}
	return out
}

func categoryOf(f cli.Flag) string {
	if c, ok := f.(cli.CategorizableFlag); ok {
		return c.GetCategory()
	}
	return ""
}

func hiddenFlag(f cli.Flag) bool {
	v, ok := f.(cli.VisibleFlag)
	return ok && !v.IsVisible()
}

func flagRows(flags []cli.Flag, category string) [][2]string {
	var rows [][2]string
	for _, f := range flags {
		if hiddenFlag(f) || categoryOf(f) != category {
			continue
		}
		example, usage := flagUsage(f)
		left := "--" + f.Names()[0]
		if example != "" {
			left += " " + example
		}
		rows = append(rows, [2]string{left, usage})
	}
	return rows
}

// columns writes names and what they mean side by side; a name too long for its column has a line of its own.
func columns(s *screen.Screen, rows [][2]string) {
	most := 24
	if s.Width < 70 {
		most = 18
	}
	wide := 0
	for _, r := range rows {
		if w := screen.Width(r[0]); w > wide && w <= most {
			wide = w
		}
	}
	for _, r := range rows {
		mark := "  " + screen.Pad(screen.Clean(r[0]), wide, false) + "  "
		if screen.Width(r[0]) > wide {
			fmt.Fprintf(s.W, "  %s\n", screen.Truncate(screen.Clean(r[0]), s.Width-2))
			mark = strings.Repeat(" ", wide+4)
		}
		s.Hang(screen.Plain, mark, r[1])
	}
}

// cautionsTold is the book's own note that its reader has seen the cautions once.
const cautionsTold = "cautions_told"

// cautions are the usual cautions for baths outdoors and inside a closed camera: common practice of the trade; the
// maker's sheet and the rules of the place come first.
var cautions = []string{
	"Gloves, inside the sleeve too; one hand or one pair of tongs for each tray; wash hands and sleeve before you touch sitter, food or phone.",
	"Eye protection, water for the eyes and a spill kit at hand. Air out the camera between sheets.",
	"Acid into water, never water into acid; no glacial acid in the field; powders out of the wind, never inside the closed camera.",
	"Bottles labelled, never food or drink bottles; trays lidded, never left unattended among people; children and animals away.",
	"Developing agents can make skin sensitive; fixer and acid give off sulphur dioxide: with asthma or in pregnancy keep from fumes and powders.",
	"Never fixer with bleach or strong acid, never sulphide toner with acid; toners in open air.",
	"Exhausted fixer carries silver: carry it home, as toner and bleach, each in its own can, never into drain, soil, harbour or septic tank; ask the local authority.",
	"A wet print still carries fixer: rinse, blot and sleeve it before you hand it over, and say so.",
	"The maker's sheet and the rules of the place come first.",
}

func printCautions(env *Env, c *cli.Context) error {
	s := screenOf(env, c)
	s.Blank()
	s.Say(screen.Strong, "The usual cautions, told once (traybook bath mix --help has them again):")
	for _, line := range cautions {
		s.Hang(screen.Plain, "  - ", line)
	}
	return s.Err()
}
