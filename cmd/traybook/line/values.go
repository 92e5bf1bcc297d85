package line

import (
	"slices"
	"strconv"
	"strings"

	"traybook/events"
)

// ParseField turns typed text into the value that a field holds. A value outside the field's bounds is an
// *events.FieldError, text that cannot be read a refusal.
func ParseField(k events.Kind, f events.Field, texts []string) (any, error) {
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
		d, err := ParseDilution(text)
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
	case "symptoms":
		words, err := symptoms(SplitList(texts))
		if err != nil {
			return nil, err
		}
		v = words
	case "many":
		words, err := choices(SplitList(texts), f.Choices)
		if err != nil {
			return nil, err
		}
		v = words
	case "nums":
		dim, _ := dimensionOf(f)
		values := []float64{}
		for _, t := range SplitList(texts) {
			x, err := Parse(dim, t)
			if err != nil {
				return nil, err
			}
			values = append(values, Tidy(x))
		}
		v = values
	default:
		dim, number := dimensionOf(f)
		if !number {
			v = text
			break
		}
		x, err := Parse(dim, text)
		if err != nil {
			return nil, err
		}
		v = Tidy(x)
		if f.Type == "count" {
			v = int64(x)
		}
	}
	if s, ok := v.(string); ok && s == "" {
		return nil, Refuse("write a value, or leave the option out", "nothing was given")
	}
	return v, f.CheckValue(k, v)
}

// Tidy drops what the conversion of a unit leaves behind the twelfth digit: 7 in are 177.8 mm.
func Tidy(v float64) float64 {
	t, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 12, 64), 64)
	if err != nil {
		return v
	}
	return t
}

// SplitList parts a list at semicolons or blanks where there are some, else at commas, so that a decimal comma can stand
// in a list parted otherwise.
func SplitList(texts []string) []string {
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

// symptoms reads the words for what the eye sees, everyday ones too; one that can mean several is asked.
func symptoms(words []string) ([]string, error) {
	var out []string
	for _, w := range words {
		s, err := Symptom(w)
		if err != nil {
			return nil, err
		}
		out = append(out, s)
	}
	return out, nil
}

// Symptom reads one word for what the eye sees.
func Symptom(word string) (string, error) {
	switch means := events.SymptomsCalled(word); len(means) {
	case 0:
		word = strings.ToLower(word)
		if near := Nearest(word, events.SymptomVocabulary()); near != "" {
			return "", Refuse("did you mean "+near+"?", "no %s", Quote(word))
		}
		return "", notOneOf(word, events.Symptoms)
	case 1:
		return means[0], nil
	default:
		return "", Refuse("write "+strings.Join(means[:len(means)-1], ", ")+" or "+means[len(means)-1], "%s can mean several things", Quote(word))
	}
}

func notOneOf(word string, from []string) error {
	if near := Nearest(word, from); near != "" {
		return Refuse("did you mean "+near+"?", "no %s", Quote(word))
	}
	return Refuse("it takes "+strings.Join(from, ", "), "no %s", Quote(word))
}

// parseDensity reads 0.1,0.7,1.9 as lightest, middle, darkest; one density alone is the middle; min=0.1 names its own.
func parseDensity(text string) (events.Density, error) {
	var d events.Density
	slots := map[string]**float64{"min": &d.Min, "mid": &d.Mid, "max": &d.Max}
	parts := SplitList([]string{text})
	if strings.Count(text, "=") == 1 {
		parts = []string{text} // mid=0,7
	}
	names := []string{"min", "mid", "max"}
	if len(parts) == 1 {
		names = []string{"mid"}
	}
	write := "write --density 0.1,0.7,1.9, or --density mid=0.7"
	if len(parts) != 1 && len(parts) != 3 && !strings.Contains(text, "=") || len(parts) == 0 {
		return d, Refuse(write, "density %s: three densities or the middle one", Quote(text))
	}
	for i, p := range parts {
		name, value, named := strings.Cut(p, "=")
		if !named {
			if i >= len(names) {
				return d, Refuse(write, "density %s: too many values", Quote(text))
			}
			name, value = names[i], p
		}
		slot, ok := slots[strings.ToLower(strings.TrimSpace(name))]
		if !ok || *slot != nil {
			return d, Refuse(write, "density %s: %s is not min, mid or max, or stands twice", Quote(text), Quote(name))
		}
		x, err := Parse(Plain, value)
		if err != nil {
			return d, err
		}
		*slot = &x
	}
	return d, nil
}
