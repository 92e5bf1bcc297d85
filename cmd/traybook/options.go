package main

import (
	"errors"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/argv"
	"traybook/cmd/traybook/clock"
	"traybook/cmd/traybook/quantity"
	"traybook/cmd/traybook/refusal"
	"traybook/events"
)

// actFlags are the options of an act: one for each field of its kinds, and --at. Options of several kinds that bear one
// name are one option.
func actFlags(kinds ...events.Kind) []cli.Flag {
	var out []cli.Flag
	var seen []string
	add := func(f cli.Flag) {
		if name := f.Names()[0]; !slices.Contains(seen, name) {
			seen = append(seen, name)
			out = append(out, f)
		}
	}
	for _, k := range kinds {
		if sized(k) {
			add(&cli.StringFlag{Name: "size", Usage: "`9x12cm` size of a sheet, width by height"})
		}
		for _, f := range events.Fields(k) {
			if f.Type != "set" {
				add(fieldFlag(f))
			}
		}
	}
	add(&cli.StringFlag{Name: "at", Usage: "`14:05` when it began; also yesterday 14:05, 2026-05-03T14:05, 10m ago, mark"})
	return out
}

func fieldFlag(f events.Field) cli.Flag {
	usage := "`" + exampleOf(f) + "` " + fieldWords[f.Name]
	switch f.Type {
	case "flag":
		return &cli.BoolFlag{Name: f.Option(), Usage: fieldWords[f.Name]}
	case "many", "symptoms", "nums":
		return &cli.StringSliceFlag{Name: f.Option(), Usage: usage}
	}
	return &cli.StringFlag{Name: f.Option(), Usage: usage}
}

// sized says whether a kind has the width and height of a sheet of paper.
func sized(k events.Kind) bool {
	_, ok := events.FieldOf(k, "width_mm")
	return ok
}

// act is an act while its words and options are read.
type act struct {
	kind      events.Kind
	data      events.Data
	from      map[string]string // what filled each field, as typed
	known     func(word string) (events.ThingKind, bool)
	unitGiven bool // --unit says the unit of a bath's test
}

// parseAct reads the data of an act from its words and its options. known tells what thing of the book bears a name; it
// may be nil. What the book fills in stays empty; sheets (2026-014n, n, p1), entries (the beginning of an id) and
// sitters (a name) stay as typed for the book to look up.
func parseAct(kind events.Kind, c *cli.Context, words []string, known func(string) (events.ThingKind, bool)) (events.Data, error) {
	data, ok := events.New(kind)
	if !ok {
		return nil, errors.New("no such act")
	}
	a := &act{kind: kind, data: data, from: map[string]string{}, known: known, unitGiven: c != nil && c.IsSet("unit")}
	if err := a.say(words); err != nil {
		return nil, err
	}
	if c == nil {
		return data, nil
	}
	if c.IsSet("size") && sized(kind) {
		if err := a.putSize(c.String("size"), "--size "+c.String("size")); err != nil {
			return nil, err
		}
	}
	for _, f := range events.Fields(kind) {
		name := f.Option()
		if f.Type == "set" || !c.IsSet(name) || a.twin(f, c) {
			continue
		}
		var texts []string
		switch f.Type {
		case "flag":
			if err := a.put(f, c.Bool(name), "--"+name); err != nil {
				return nil, err
			}
			continue
		case "many", "symptoms", "nums":
			texts = c.StringSlice(name)
		default:
			texts = []string{c.String(name)}
		}
		read := a.read
		if kind == events.BathTested && f.Name == "value" {
			read = func(_ events.Field, texts []string, from string) error { return a.fill(a.measured(texts[0]), from) }
		}
		if err := read(f, texts, "--"+name); err != nil {
			return nil, err
		}
	}
	return data, nil
}

// twin passes over one of two fields that share an option: --flash is a share or a time, --motion a word or a speed.
func (a *act) twin(f events.Field, c *cli.Context) bool {
	text := strings.TrimSpace(c.String(f.Option()))
	switch f.Name {
	case "flash", "flash_s":
		_, err := quantity.Parse(quantity.Share, text)
		return (err == nil) == (f.Name == "flash_s")
	case "motion", "motion_mm_s":
		return startsWithDigit(text) == (f.Name == "motion")
	}
	return false
}

func startsWithDigit(s string) bool { return s != "" && s[0] >= '0' && s[0] <= '9' }

// read parses what was typed for a field and puts it there. from is how it was said.
func (a *act) read(f events.Field, texts []string, from string) error {
	v, err := parseField(a.kind, f, texts)
	if err != nil {
		var bounds *events.FieldError
		if errors.As(err, &bounds) {
			return err // told with the option's name where errors are told
		}
		problem, hint := refusal.Parts(err)
		if strings.HasPrefix(from, "--") {
			problem = from + ": " + problem
		}
		return wrongLine(refusal.New(hint, "%s", problem))
	}
	return a.put(f, v, from)
}

func (a *act) put(f events.Field, v any, from string) error {
	if before, ok := a.from[f.Name]; ok {
		return wrongLinef("give it once", "%s stands twice: %s and %s", f.Option(), before, from)
	}
	a.from[f.Name] = from
	return f.Put(a.data, v)
}

func (a *act) putSize(text, from string) error {
	w, h, err := quantity.ParseSize(text)
	if err != nil {
		return wrongLine(err)
	}
	for _, side := range []struct {
		name string
		v    float64
	}{{"width_mm", w}, {"height_mm", h}} {
		f, _ := events.FieldOf(a.kind, side.name)
		if err := a.put(f, tidy(side.v), from); err != nil {
			return err
		}
	}
	return nil
}

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

// atMark is what --at says for the moment stamped by mark.
const atMark = "mark"

// atOf is when the act was done: now, or what --at says in the zone. fromMark asks for the moment stamped by mark.
func atOf(env *Env, c *cli.Context, zone *time.Location) (at time.Time, fromMark bool, err error) {
	if !c.IsSet("at") {
		return env.Now().In(zone), false, nil
	}
	text := strings.TrimSpace(c.String("at"))
	if strings.EqualFold(text, atMark) {
		return time.Time{}, true, nil
	}
	at, err = clock.ParseAt(text, env.Now(), zone)
	return at, false, wrongLine(err)
}

// explainField tells an error of a field in the words of the command line.
func explainField(e *events.FieldError) (problem, hint string) {
	f, ok := events.FieldOf(e.Kind, e.Field)
	if !ok {
		return e.Why, ""
	}
	if e.Why == "is missing" {
		return fieldWords[f.Name] + " is missing", "give --" + f.Option() + " " + exampleOf(f)
	}
	return "--" + f.Option() + " " + e.Why, ""
}
