package main

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/line"
	"traybook/events"
	"traybook/events/atomicfile"
	"traybook/events/sqlite"
	"traybook/export/page"
	"traybook/projections/wording"
)

// typefaceFlag names typefaces for what those built in do not hold.
func typefaceFlag() cli.Flag {
	return &cli.StringSliceFlag{Name: "typeface", Usage: "`FILE` a TrueType or OpenType font for characters that the built-in ones lack, Chinese ones say; may stand several times"}
}

// facesWanted are the built-in typefaces and those that the command line names.
func facesWanted(c *cli.Context) (*page.Faces, error) {
	var readers []*page.Typeface
	for _, name := range c.StringSlice("typeface") {
		data, err := typefaceIn(name)
		if err != nil {
			return nil, line.Refuse("check its name; a font ends in .ttf, .otf or .ttc", "the typeface %s cannot be read: %s", name, root(err))
		}
		t, err := page.OpenTypeface(data)
		switch {
		case errors.Is(err, page.ErrRestricted):
			return nil, line.Refuse("name one whose licence allows it", "the typeface %s cannot stand in a document: %s", name, err)
		case err != nil:
			return nil, line.Refuse("name a whole TrueType or OpenType font with outlines: .ttf, .otf or .ttc", "the typeface %s cannot be used: %s", name, err)
		}
		readers = append(readers, t)
	}
	return page.NewFaces(readers...), nil
}

// typefaceIn reads the file of a font.
func typefaceIn(name string) ([]byte, error) {
	f, err := atomicfile.OpenPlain(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, page.MostTypeface+1))
}

// tellUndrawn says which characters no typeface could draw and which entries hold them, before the pages get their place.
// Pages of no book have a nil tx; names says that those of sitters stand on them.
func tellUndrawn(env *Env, tx *sqlite.Tx, faces *page.Faces, names bool) error {
	lacking := faces.Undrawn()
	if lacking == "" {
		return nil
	}
	var where []string
	if tx != nil {
		var err error
		if where, err = holdersOf(tx, lacking, names); err != nil {
			return err
		}
	}
	env.undrawn = undrawnLine(lacking, where)
	_, err := fmt.Fprintln(env.Err, env.undrawn)
	return err
}

// toldFirst says something before the first byte goes out.
type toldFirst struct {
	io.Writer
	tell func() error // nil once it was said
}

func (t *toldFirst) Write(p []byte) (int, error) {
	if tell := t.tell; tell != nil {
		t.tell = nil
		if err := tell(); err != nil {
			return 0, err
		}
	}
	return t.Writer.Write(p)
}

// holdersOf names what of a book holds any of some characters: its entries, and with names its sitters.
func holdersOf(tx *sqlite.Tx, characters string, names bool) (where []string, err error) {
	holds := func(text string) bool { return strings.ContainsAny(page.Clean(text), characters) }
	if names {
		rows, err := tx.Sitters()
		if err != nil {
			return nil, err
		}
		for _, r := range rows {
			if holds(r.Name) {
				where = append(where, "the name of "+r.Ref)
			}
		}
	}
	err = tx.Each(func(e events.Entry) error {
		if !holds(string(e.Stored)) {
			return nil
		}
		of, err := tx.StreamOf(e.ID)
		where = append(where, strings.TrimSpace(of.Name+" entry "+short(e.ID)))
		return err
	})
	return where, err
}

// undrawnLine tells of characters that stand as ▯, in one line.
func undrawnLine(lacking string, where []string) string {
	const mostCharacters, mostPlaces = 40, 8
	var shown []string
	for _, r := range lacking {
		if len(shown) == mostCharacters {
			shown = append(shown, "…")
			break
		}
		if unicode.IsGraphic(r) && !unicode.Is(unicode.M, r) {
			shown = append(shown, string(r))
		} else {
			shown = append(shown, fmt.Sprintf("U+%04X", r))
		}
	}
	text := fmt.Sprintf("%s cannot be drawn, ▯ stands instead: %s", wording.CountOf(len([]rune(lacking)), "character"), strings.Join(shown, " "))
	if len(where) > mostPlaces {
		where = append(where[:mostPlaces:mostPlaces], fmt.Sprintf("%d more", len(where)-mostPlaces))
	}
	if len(where) > 0 {
		text += ", in " + strings.Join(where, ", ")
	}
	return text + "; --typeface FILE names a font that has them"
}
