package line

import (
	"strconv"
	"strings"

	"traybook/events"
	"traybook/projections/wording"
)

// Meaning is one thing that a word can mean: a text for a field.
type Meaning struct {
	Key   rune // by which it is chosen
	Word  string
	Field string // where it belongs
	Value string
	Says  string // what it means
}

// Unclear is the refusal of a word that can mean several things. A person at a terminal can be asked which.
type Unclear struct {
	*wording.Refusal
	Word  string
	Means []Meaning
}

// Unwrap gives the refusal, for whoever cannot ask.
func (u *Unclear) Unwrap() error { return u.Refusal }

const (
	mostStops     = 20 // that judge takes
	longestNumber = 3  // digits of what names a picture alone
)

// bareJudged says what a number alone can mean to judge: the picture, a change in stops, or the step of the scale. None
// is taken unasked, for each is usual somewhere.
func (a *Act) bareJudged(word string) error {
	u := &Unclear{Word: word}
	var could, ways []string
	n, err := strconv.Atoi(word)
	whole, padded := err == nil && n >= 0, len(word) > 1 && word[0] == '0' && err == nil // 009 is a picture
	if whole && n > 0 && len(word) <= longestNumber && a.From["sheet"] == "" {
		number := strconv.Itoa(n)
		could, ways = append(could, "a picture"), append(ways, number+"n or "+number+"p1 for a sheet of picture "+number)
		u.Means = append(u.Means, Meaning{'p', word, "sheet", number, "picture " + number + " of this year: its sheet exposed last"})
	}
	if stops, err := Parse(Stops, word); err == nil && !padded && stops > 0 && stops <= mostStops && a.From["stops"] == "" {
		could, ways = append(could, "stops"), append(ways, "+"+word+" or -"+word+" for stops")
		u.Means = append(u.Means, Meaning{'+', word, "stops", "+" + word, wording.StopsText(stops) + ": it wants more exposure"},
			Meaning{'-', word, "stops", "-" + word, wording.StopsText(-stops) + ": it wants less exposure"})
	}
	if whole && !padded && n <= 1000 && a.From["step"] == "" {
		could, ways = append(could, "a step"), append(ways, "--step "+word+" for a step of the scale")
		u.Means = append(u.Means, Meaning{'s', word, "step", word, "step " + word + " of the scale"})
	}
	if len(ways) == 0 {
		return WrongLinef(a.takes(), "%s is a number alone, and nothing here that is not said yet can be that number", Quote(word))
	}
	u.Refusal = Refuse("write "+strings.Join(ways, ", or "), "%s is a number alone: it can be %s", Quote(word), orList(could))
	u.Line = true
	return u
}

// orList joins words by commas and an or.
func orList(words []string) string {
	last := len(words) - 1
	if last < 1 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:last], ", ") + " or " + words[last]
}

// Put puts what a person said that a word means into an act.
func (m Meaning) Put(data events.Data) error {
	f, _ := events.FieldOf(data.Kind(), m.Field)
	if _, there := f.Value(data); there {
		return WrongLinef("give it once", "%s stands twice", f.Option())
	}
	v, err := ParseField(data.Kind(), f, []string{m.Value})
	if err != nil {
		return err
	}
	return f.Put(data, v)
}
