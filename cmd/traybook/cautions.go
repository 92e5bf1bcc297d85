package main

import (
	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/screen"
)

// cautionsTold is the book's own note that its reader has seen the cautions once.
const cautionsTold = "cautions_told"

// cautions are the usual cautions for baths outdoors and inside a closed camera: common practice of the trade; the
// maker's sheet and the rules of the place come first.
var cautions = []string{
	"Gloves, inside the sleeve too; one hand or one pair of tongs for each tray; wash hands and sleeve before you touch sitter, food or phone.",
	"Eye protection, and water for the eyes at hand. Air out the camera between sheets.",
	"Acid into water, never water into acid; no glacial acid in the field; powders out of the wind, never inside the closed camera.",
	"Bottles labelled, never food or drink bottles; trays lidded, never left unattended among people; children and animals away.",
	"Developing agents can make skin sensitive; fixer and acid give off sulphur dioxide: with asthma or in pregnancy keep from fumes and powders.",
	"Never fixer with bleach or strong acid, never sulphide toner with acid; toners in open air.",
	"Spent fixer carries silver: carry it home, never into drain, soil, harbour or septic tank; ask the local authority.",
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
