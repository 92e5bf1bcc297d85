package pages

import (
	"strings"
	"time"

	"traybook/events"
	"traybook/export"
	"traybook/export/page"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// CardText are the words of a card for whoever takes a print home, as they are without a file of one's own. How a print is
// kept is common practice. A line is a paragraph, one behind # a heading, one behind - a point of a list; one behind
// [unwashed] stands on the card of a print that still wants fixer or water. A line of which every field is empty is left out.
const CardText = `# Your picture
{number}, made on {date}
{subject}
{who}

A print of silver on paper, made by hand in a wooden camera with its darkroom inside.

# So that it lasts
- Dark, dry and cool, in a paper envelope or between clean paper.
- In a frame: behind a mat, so that it does not touch the glass, and out of the sun.
- Held by its edges, with clean dry hands.

# What it does not bear
- Sticky tape, glue, rubber bands, laminating, plastic with a smell.
- Kitchen, bathroom, cellar and attic; damp, steam, fresh paint.
- Wiping with a wet cloth. A soft dry brush takes the dust off.

[unwashed] # It still wants its water
[unwashed] - It carries salts that will stain it. Keep it flat by itself, wash your hands after touching it, and bring it back to be washed.

If it gets wet: lay it face up on clean paper, touch nothing, let it dry in the air.
Another print: name the number {number}.
`

// A card is A6, upright.
const (
	cardMargin = 9.0  // mm
	cardCode   = 15.0 // side of the symbol
	mostOnCard = 200  // lines of a file of words; a card holds some thirty
)

// CardWords are the words of a card, read from a text.
type CardWords []cardLine

type cardLine struct {
	text     string
	head     bool
	point    bool
	unwashed bool
}

var (
	noSuchField   = wording.Refuses("no-card-field", "line {line} of the words: {field} is no field of a card", "there are {fields}")
	wordsTooMany  = wording.Refuses("card-lines", "the words have {lines} lines; a card holds some thirty", "take some out")
	wordsTooLong  = wording.Refuses("card-too-long", "the words are longer than a card of A6: {number} would need {over:%.0f} mm more", "take some out, or shorten them")
	wordsUnknown  = wording.Refuses("card-letters", "the words hold letters that no typeface at hand has: {letters}", "name one that has them by --typeface FILE, or write them otherwise")
	nothingToTell = wording.Refuses("no-cards", "there is no print in this scope to give a card to", "a print that was rejected, or is to be done again, gets none")
)

const cardFields = "{number}, {date}, {subject}, {who}"

// ReadCardWords reads the words of a card, which faces are to print; nil are those built in.
//
// Errors: a refusal of a field that no card has, of letters that cannot be printed, and of far too many lines.
func ReadCardWords(text string, faces *page.Faces) (CardWords, error) {
	lines := strings.Split(strings.TrimRight(strings.TrimPrefix(page.Clean(text), "\uFEFF"), "\n \t"), "\n")
	if len(lines) > mostOnCard {
		return nil, wordsTooMany.Refuse(len(lines))
	}
	var out CardWords
	for i, l := range lines {
		c := cardLine{}
		l = strings.TrimSpace(l)
		if rest, ok := strings.CutPrefix(l, "[unwashed]"); ok {
			c.unwashed, l = true, strings.TrimSpace(rest)
		}
		for mark, is := range map[string]*bool{"# ": &c.head, "- ": &c.point} {
			if rest, ok := strings.CutPrefix(l, mark); ok {
				*is, l = true, strings.TrimSpace(rest)
				break
			}
		}
		c.text = l
		if field := slotOf(c.fill(careCard{})); field != "" {
			return nil, noSuchField.Refuse(i+1, field, cardFields)
		}
		if no := faces.Unprintable(l); no != "" {
			return nil, wordsUnknown.Refuse(no)
		}
		out = append(out, c)
	}
	return out, nil
}

// slotOf is the first field in braces of a text, "" for none.
func slotOf(text string) string {
	_, rest, open := strings.Cut(text, "{")
	name, _, closed := strings.Cut(rest, "}")
	if !open || !closed {
		return ""
	}
	return "{" + name + "}"
}

// careCard is what stands on one.
type careCard struct {
	number, date, subject, who string
	unwashed                   bool
}

// fill puts what a card is about into a line.
func (l cardLine) fill(c careCard) string {
	return strings.TrimSpace(strings.NewReplacer("{number}", c.number, "{date}", c.date, "{subject}", c.subject, "{who}", c.who).Replace(l.text))
}

// empty says of a line that the card has nothing of what its fields tell.
func (l cardLine) empty(c careCard) bool {
	return strings.Contains(l.text, "{") && l.fill(c) == l.fill(careCard{})
}

// CardOptions say how cards are drawn.
type CardOptions struct {
	Words        CardWords // nil for CardText
	Created      time.Time
	Sitter       func(ref string) string // the name behind a reference; nil prints no names
	Faces        *page.Faces             // nil for those built in
	Uncompressed bool
}

// Cards draws a card of A6 for each print that was not found bad: its number and day, how it is kept, what it does not bear. It
// says how many there are.
func Cards(src export.Source, asOf time.Time, scope export.Scope, o CardOptions) (pdf []byte, n int, err error) {
	if o.Words == nil {
		if o.Words, err = ReadCardWords(CardText, o.Faces); err != nil {
			return nil, 0, err
		}
	}
	chosen, err := export.Choose(src, asOf, scope)
	if err != nil {
		return nil, 0, err
	}
	cards, err := cardsOf(chosen, o)
	if err != nil {
		return nil, 0, err
	}
	if len(cards) == 0 {
		return nil, 0, nothingToTell.Refuse()
	}
	d := page.New(page.Options{Size: "A6", Margin: cardMargin, Title: "Cards, " + scope.String(), Created: o.Created, Uncompressed: o.Uncompressed, NoNote: true, Faces: o.Faces})
	for _, c := range cards {
		d.NewPage()
		if over := drawCareCard(d, o.Words, c); over > 0 {
			return nil, 0, wordsTooLong.Refuse(c.number, over)
		}
	}
	pdf, err = d.Bytes()
	return pdf, len(cards), err
}

func cardsOf(chosen *export.Selection, o CardOptions) ([]careCard, error) {
	var out []careCard
	err := chosen.EachPicture(func(p *snapshot.Picture) error {
		for _, s := range p.Sheets {
			e, v := s.Exposure(), s.Verdict()
			if e == nil || v != nil && v.Verdict != "keep" || chosen.Scope.Session != "" && !chosen.OfSession(*e) {
				continue
			}
			_, box, err := calledfor.PaperAt(chosen.Snap, s)
			if err != nil {
				return err
			}
			if !s.Positive(box) {
				continue
			}
			short, err := calledfor.ShortOf(chosen.Snap, p, s)
			if err != nil {
				return err
			}
			c := careCard{number: s.Name, date: e.At.Format("2006-01-02"), subject: p.Subject, unwashed: short != (calledfor.Short{})}
			if o.Sitter != nil {
				c.who = o.Sitter(goesTo(p, s))
			}
			out = append(out, c)
		}
		return nil
	})
	return out, err
}

// goesTo is the reference of whoever got a sheet, else of whom it shows; "" for nobody who is known.
func goesTo(p *snapshot.Picture, s *snapshot.Sheet) string {
	for i := len(s.Entries) - 1; i >= 0; i-- {
		if x, ok := s.Entries[i].Data.(*events.SheetDeliveredData); ok && x.To != "" {
			return x.To
		}
	}
	return p.Sitter
}

var (
	cardHead  = page.Set(11, page.Bold).Heading(1)
	cardWords = page.Set(8, page.Regular)
)

// drawCareCard draws one card and says by how many mm it is too long.
func drawCareCard(d *page.Doc, words CardWords, c careCard) (over float64) {
	a := d.Area()
	y, gap := a.Y, 0.0
	for _, l := range words {
		if l.unwashed && !c.unwashed || l.empty(c) {
			continue
		}
		text := l.fill(c)
		switch {
		case text == "":
			if gap = 1.6; y == a.Y {
				gap = 0
			}
			continue
		case l.head:
			y = d.Para(a.X, y+gap, a.W, cardHead, text, 0) + 0.4
		case l.point:
			y = d.Item(a.X, y+gap, a.W, 3, cardWords, "–", text) + 0.3
		default:
			y = d.Para(a.X, y+gap, a.W, cardWords, text, 0) + 0.3
		}
		gap = 0
	}
	d.QR(a.Right()-cardCode, a.Bottom()-cardCode, cardCode, c.number)
	d.Text(a.X, a.Bottom()-page.LineHeight(cardHead.Size), a.W-cardCode-2, cardHead, c.number)
	return y - (a.Bottom() - cardCode)
}
