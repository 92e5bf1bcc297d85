package main

import (
	"slices"
	"strconv"
	"strings"

	"traybook/cmd/traybook/argv"
	"traybook/cmd/traybook/quantity"
	"traybook/cmd/traybook/refusal"
	"traybook/events"
)

// parseField turns typed text into the value that a field holds. A value outside the field's bounds is an
// *events.FieldError, text that cannot be read a refusal.
func parseField(k events.Kind, f events.Field, texts []string) (any, error) {
	text := strings.TrimSpace(strings.Join(texts, " "))
	var v any
	switch f.Type {
	case "name", "ref", "one":
		text = strings.ToLower(text)
		if f.Type == "one" && !slices.Contains(f.Choices, text) {
			return nil, notOneOf(text, f.Choices)
		}
		v = text
	case "sheet", "entry", "hex32":
		return strings.ToLower(text), nil // short forms are the book's to look up
	case "sitter", "any":
		return text, nil
	case "currency":
		v = strings.ToUpper(text)
	case "dilution":
		d, err := quantity.ParseDilution(text)
		if err != nil {
			return nil, err
		}
		v = d
	case "density":
		d, err := parseDensity(text)
		if err != nil {
			return nil, err
		}
		v = d
	case "many", "symptoms":
		words, err := choices(splitList(texts), f.Choices)
		if err != nil {
			return nil, err
		}
		v = words
	case "nums":
		dim, _ := dimensionOf(f)
		values := []float64{}
		for _, t := range splitList(texts) {
			x, err := quantity.Parse(dim, t)
			if err != nil {
				return nil, err
			}
			values = append(values, tidy(x))
		}
		v = values
	default:
		dim, number := dimensionOf(f)
		if !number {
			v = text
			break
		}
		x, err := quantity.Parse(dim, text)
		if err != nil {
			return nil, err
		}
		v = tidy(x)
		if f.Type == "count" {
			v = int64(x)
		}
	}
	if s, ok := v.(string); ok && s == "" {
		return nil, refusal.New("write a value, or leave the option out", "nothing was given")
	}
	return v, f.CheckValue(k, v)
}

// tidy drops what the conversion of a unit leaves behind the twelfth digit: 7 in are 177.8 mm.
func tidy(v float64) float64 {
	t, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 12, 64), 64)
	if err != nil {
		return v
	}
	return t
}

// splitList parts a list at semicolons or blanks where there are some, else at commas, so that a decimal comma can stand
// in a list parted otherwise.
func splitList(texts []string) []string {
	var out []string
	for _, t := range texts {
		parting := ","
		if strings.ContainsAny(t, "; ") {
			parting = "; "
			t = strings.ReplaceAll(t, ", ", " ")
		}
		out = append(out, strings.FieldsFunc(t, func(r rune) bool { return strings.ContainsRune(parting, r) })...)
	}
	return out
}

func choices(words, from []string) ([]string, error) {
	var out []string
	for _, w := range words {
		w = strings.ToLower(w)
		if !slices.Contains(from, w) {
			return nil, notOneOf(w, from)
		}
		out = append(out, w)
	}
	return out, nil
}

func notOneOf(word string, from []string) error {
	if near := argv.Nearest(word, from); near != "" {
		return refusal.New("did you mean "+near+"?", "no %s", refusal.Quote(word))
	}
	return refusal.New("it takes "+strings.Join(from, ", "), "no %s", refusal.Quote(word))
}

// parseDensity reads 0.1,0.7,1.9 as lightest, middle, darkest; one density alone is the middle; min=0.1 names its own.
func parseDensity(text string) (events.Density, error) {
	var d events.Density
	slots := map[string]**float64{"min": &d.Min, "mid": &d.Mid, "max": &d.Max}
	parts := splitList([]string{text})
	if strings.Count(text, "=") == 1 {
		parts = []string{text} // mid=0,7
	}
	names := []string{"min", "mid", "max"}
	if len(parts) == 1 {
		names = []string{"mid"}
	}
	write := "write --density 0.1,0.7,1.9, or --density mid=0.7"
	if len(parts) != 1 && len(parts) != 3 && !strings.Contains(text, "=") || len(parts) == 0 {
		return d, refusal.New(write, "density %s: three densities or the middle one", refusal.Quote(text))
	}
	for i, p := range parts {
		name, value, named := strings.Cut(p, "=")
		if !named {
			if i >= len(names) {
				return d, refusal.New(write, "density %s: too many values", refusal.Quote(text))
			}
			name, value = names[i], p
		}
		slot, ok := slots[strings.ToLower(strings.TrimSpace(name))]
		if !ok || *slot != nil {
			return d, refusal.New(write, "density %s: %s is not min, mid or max, or stands twice", refusal.Quote(text), refusal.Quote(name))
		}
		x, err := quantity.Parse(quantity.Plain, value)
		if err != nil {
			return d, err
		}
		*slot = &x
	}
	return d, nil
}
