package line

import (
	"errors"
	"strings"

	"traybook/events"
)

// Sized says whether a kind has the width and height of a sheet of paper.
func Sized(k events.Kind) bool {
	_, ok := events.FieldOf(k, "width_mm")
	return ok
}

// Act is an act while its words and options are read.
type Act struct {
	Kind      events.Kind
	Data      events.Data
	From      map[string]string // what filled each field, as typed
	Known     func(word string) (events.EntityKind, bool)
	UnitGiven bool // --unit says the unit of a bath's test
	NameGiven bool // --name says what stands on the label
	Example   string
}

// StartsWithDigit is true of what may be a number, a time or an id.
func StartsWithDigit(s string) bool { return s != "" && s[0] >= '0' && s[0] <= '9' }

// Read parses what was typed for a field and puts it there. from is how it was said.
func (a *Act) Read(f events.Field, texts []string, from string) error {
	v, err := ParseField(a.Kind, f, texts)
	if err != nil {
		var bounds *events.FieldError
		if errors.As(err, &bounds) {
			return err // told with the option's name where errors are told
		}
		problem, hint := Parts(err)
		if strings.HasPrefix(from, "--") {
			problem = from + ": " + problem
		}
		return WrongLine(Refuse(hint, "%s", problem))
	}
	return a.Put(f, v, from)
}

// Put sets a field to a value that was read. A field that stands twice on the line is refused; from is how it was said.
func (a *Act) Put(f events.Field, v any, from string) error {
	if before, ok := a.From[f.Name]; ok {
		return WrongLinef("give it once", "%s stands twice: %s and %s", f.Option(), before, from)
	}
	a.From[f.Name] = from
	return f.Put(a.Data, v)
}

// PutSize reads a size such as 9x12cm and sets width and height.
func (a *Act) PutSize(text, from string) error {
	w, h, err := ParseSize(text)
	if err != nil {
		return WrongLine(err)
	}
	for _, side := range []struct {
		name string
		v    float64
	}{{"width_mm", w}, {"height_mm", h}} {
		f, _ := events.FieldOf(a.Kind, side.name)
		if err := a.Put(f, Tidy(side.v), from); err != nil {
			return err
		}
	}
	return nil
}
