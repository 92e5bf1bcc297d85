package main

import (
	"fmt"
	"io"
	"time"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/line"
	"traybook/events/atomicfile"
	"traybook/events/sqlite"
	"traybook/export/page"
	"traybook/export/pages"
	"traybook/projections/wording"
)

func exportLabelsCommand(env *Env) *cli.Command {
	return &cli.Command{
		Name: "labels", Usage: "labels for the backs of prints, or for envelopes, with the number as a QR code",
		UsageText: lines("traybook export labels --out labels.pdf --year 2026", "traybook export labels --out labels.pdf --rows 8 --cols 3 --top 12mm --left 7mm --gap-x 3mm --skip 5"),
		Description: "One label for each print, or with --envelopes one for each picture: number, date, data and the number as a QR code. The sheet of\n" +
			"labels is told by its rows, columns and margins; the white below and to the right is taken to equal that above and to the left.",
		Flags: append([]cli.Flag{
			&cli.StringFlag{Name: "out", Usage: "`FILE` where to; - is standard output"},
			&cli.StringFlag{Name: "size", Usage: "`A4` or Letter (A4)"},
			number("rows", "`8` labels under each other (8)"),
			number("cols", "`3` labels beside each other (3)"),
			number("top", "`12mm` white above the labels (12 mm)"),
			number("left", "`7mm` white to their left (7 mm)"),
			number("gap-x", "`3mm` white between columns (0)"),
			number("gap-y", "`0mm` white between rows (0)"),
			number("skip", "`5` labels of the first sheet that are used already (0)"),
			&cli.BoolFlag{Name: "envelopes", Usage: "a label for each picture's envelope"},
			&cli.BoolFlag{Name: "names", Usage: "print the names of sitters"},
			typefaceFlag(),
		}, scopeFlags("labels")...),
		Action: func(c *cli.Context) error {
			env.long()
			return exportLabels(env, c)
		},
	}
}

func exportLabels(env *Env, c *cli.Context) error {
	if c.String("out") == "" {
		return line.WrongLinef("--out FILE, or --out - for standard output", "the labels need a place")
	}
	o := optionsOf(c)
	sheet := pages.LabelSheet{
		Rows: int(o.or("rows", line.Count, 8)), Cols: int(o.or("cols", line.Count, 3)),
		Top: o.or("top", line.Millimetres, 12), Left: o.or("left", line.Millimetres, 7),
		GapX: o.or("gap-x", line.Millimetres, 0), GapY: o.or("gap-y", line.Millimetres, 0), Skip: int(o.or("skip", line.Count, 0)),
	}
	if o.err != nil {
		return o.err
	}
	scope, err := archiveScope(c)
	if err != nil {
		return err
	}
	if sheet.Size, err = sizeWanted(c); err != nil {
		return err
	}
	n := 0
	pdf, err := pagesOf(env, c, func(tx, _ *sqlite.Tx, at time.Time, faces *page.Faces) (pdf []byte, err error) {
		l := pages.LabelOptions{LabelSheet: sheet, Envelopes: c.Bool("envelopes"), Created: at, Faces: faces}
		if c.Bool("names") {
			if l.Sitter, err = sitterNames(tx); err != nil {
				return nil, err
			}
		}
		pdf, n, err = pages.Labels(tx, at, scope, l)
		return pdf, err
	})
	if err != nil {
		return err
	}
	return placePages(env, c, pdf, wording.CountOf(n, "label"))
}

func exportCardsCommand(env *Env) *cli.Command {
	return &cli.Command{
		Name: "cards", Usage: "a card of A6 for whoever takes a print home: its number and day, how it is kept, what it does not bear",
		UsageText: lines("traybook export cards --out card.pdf --picture 2026-014 --names", "traybook export cards --sample > card.txt",
			"traybook export cards --out cards.pdf --words card.txt --year 2026"),
		Description: "One card for each print that was not found bad. The words are of a text file in the sitter's language: --sample gives those that\n" +
			"stand there without one, to be translated. # begins a heading, - a point, [unwashed] what stands on the card of a print that\n" +
			"still wants water; {number}, {date}, {subject} and {who} are filled in.",
		Flags: append([]cli.Flag{
			&cli.StringFlag{Name: "out", Usage: "`FILE` where to; - is standard output"},
			&cli.StringFlag{Name: "words", Usage: "`FILE` the words of the card"},
			&cli.BoolFlag{Name: "sample", Usage: "write the words that stand there without a file to standard output"},
			&cli.BoolFlag{Name: "names", Usage: "print the names of sitters"},
			typefaceFlag(),
		}, scopeFlags("cards")...),
		Action: func(c *cli.Context) error {
			if err := noWords(c); err != nil {
				return err
			}
			if c.Bool("sample") {
				_, err := io.WriteString(env.data(), pages.CardText)
				return err
			}
			env.long()
			return exportCards(env, c)
		},
	}
}

// mostWords bounds a file of words: a card holds some thousand letters.
const mostWords = 64 << 10

func exportCards(env *Env, c *cli.Context) error {
	if c.String("out") == "" {
		return line.WrongLinef("--out FILE, or --out - for standard output", "the cards need a place")
	}
	scope, err := archiveScope(c)
	if err != nil {
		return err
	}
	text := ""
	if name := c.String("words"); c.IsSet("words") {
		if text, err = wordsIn(name); err != nil {
			return line.Refuse("check its name; traybook export cards --sample > card.txt writes one", "%s cannot be read: %s", name, root(err))
		}
	}
	n := 0
	pdf, err := pagesOf(env, c, func(tx, _ *sqlite.Tx, at time.Time, faces *page.Faces) (pdf []byte, err error) {
		o := pages.CardOptions{Created: at, Faces: faces}
		if c.IsSet("words") {
			if o.Words, err = pages.ReadCardWords(text, faces); err != nil {
				return nil, err
			}
		}
		if c.Bool("names") {
			if o.Sitter, err = sitterNames(tx); err != nil {
				return nil, err
			}
		}
		pdf, n, err = pages.Cards(tx, at, scope, o)
		return pdf, err
	})
	if err != nil {
		return err
	}
	return placePages(env, c, pdf, wording.CountOf(n, "card"))
}

// wordsIn reads a text file.
func wordsIn(name string) (string, error) {
	f, err := atomicfile.OpenPlain(name)
	if err != nil {
		return "", err
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, mostWords+1))
	if err == nil && len(text) > mostWords {
		err = fmt.Errorf("it is longer than %d kB, and no text for a card", mostWords>>10)
	}
	return string(text), err
}
