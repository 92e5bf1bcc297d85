// Package demo holds a season of an invented photographer in an invented harbour town, as plain event lines, and makes
// a book of it. The clock and every id are fixed, so the same book comes out on every run.
package demo

import (
	"bytes"
	_ "embed"
	"fmt"
	"time"

	"traybook/events"
	"traybook/events/sqlite"
	"traybook/projections/acts"
)

// lines is the season, kept by hand: the plain event lines of forty pictures, in the order of the acts.
//
//go:embed season.ndjson
var lines []byte

// zoneName is the time zone of the town.
const zoneName = "Europe/Oslo"

// sitters are the names behind the references in the lines, by their order: sitter-1, sitter-2 … Nobody of that name is
// meant.
var sitters = []struct{ name, contact string }{
	{"Ingrid Vallö", "the ticket hatch, ferry steps"},
	{"Tor-Håkon Bremsund-Ekelien", "mate's cabin, the Skerrow Maid"},
	{"Ελένη Παπαδοπούλου", "the bakery above the quay"},
	{"Ярослав Ёлкин", "engine room, the Skerrow Maid"},
	{"Aud Lysholmen", "harbour office"},
	{"Mattis and Ylva, the pilot's children", "pilot house"},
	{"Old Berntine", "net loft, second stair"},
}

// Now is the moment at which the demo looks at its book: the last afternoon, with two sheets in the holder.
func Now() time.Time {
	zone, err := time.LoadLocation(zoneName)
	if err != nil {
		zone = time.FixedZone("", 2*60*60)
	}
	return time.Date(2026, 8, 9, 16, 0, 0, 0, zone)
}

// The ids that chance gives to any other book.
var (
	batch = events.ID{0x5e, 0xa5, 0x0a, 0x20, 0x26}
	book  = events.ID{0xde, 0x40, 0x20, 0x26}
)

// Build makes the book at path, which must not exist yet: the sitters first, then the season, taken in as any file of
// plain lines is.
func Build(path string, o sqlite.Options) (err error) {
	var in []acts.ImportLine
	for l, err := range events.ReadLines(bytes.NewReader(lines)) {
		if err != nil {
			return err
		}
		in = append(in, acts.ImportLine{Line: l, Number: l.N})
	}
	b, err := sqlite.Create(path, o)
	if err != nil {
		return err
	}
	defer func() {
		if shut := b.Close(); err == nil {
			err = shut
		}
	}()
	return b.Write(func(tx *sqlite.Tx) error {
		for i, s := range sitters {
			ref, err := tx.AddSitter(s.name, s.contact)
			if err != nil {
				return err
			}
			if want := fmt.Sprintf("sitter-%d", i+1); ref != want {
				return fmt.Errorf("%s was given the reference %s, not %s", s.name, ref, want)
			}
		}
		_, err := acts.ImportPlain(tx, in, Now(), batch, book, nil)
		return err
	})
}

// Made says whether the book at path is one that Build made, whatever was done with it since.
func Made(path string, o sqlite.Options) (bool, error) {
	o.ReadOnly = true
	b, err := sqlite.Open(path, o)
	if err != nil {
		return false, err
	}
	made := false
	err = b.Read(func(tx *sqlite.Tx) error {
		heads, err := tx.Heads()
		for _, h := range heads {
			made = made || h.Book == book
		}
		return err
	})
	if shut := b.Close(); err == nil {
		err = shut
	}
	return made, err
}
