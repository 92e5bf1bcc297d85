package main

import (
	"fmt"
	"slices"
	"strings"

	"traybook/cmd/traybook/pattern"
	"traybook/cmd/traybook/quantity"
	"traybook/cmd/traybook/refusal"
	"traybook/events"
)

// What a word looks like. Where a word could be two things, neither is guessed.
var (
	likeNumber  = pattern.New(`^[+−-]?\d+(?:[.,/]\d+)?$`)
	likeFNumber = pattern.New(`^(?i:f)[/:]?\d+(?:[.,]\d+)?$`)
	likeEV      = pattern.New(`^(?i)(?:ev *([+-]?\d.*)|([+-]?\d+(?:[.,]\d+)?) *ev)$`)
	likeIndex   = pattern.New(`^(?i)(?:ei|iso|index) *(\d.*)$`)
	likeTemp    = pattern.New(`^-?\d+(?:[.,]\d+)? *(?:°? *[CFcf]|°|deg)$`)
	likeTime    = pattern.New(`^(?i)(?:\d[\d.,/]* *(?:ms|s|sec|secs|seconds?|m|mins?|minutes?|h|hrs?|hours?|'|") *)+\d*$`)
	likeLength  = pattern.New(`^(?i)\d[\d.,/]* *(?:mm|cm|dm|m|km|in|inch|inches|ft|feet|yd)(?: *\d+(?: *(?:cm|mm|in))?)?$`)
	likeVolume  = pattern.New(`^(?i)\d[\d.,/]* *(?:ml|cl|dl|l|litres?|liters?|cc)$`)
	likeLux     = pattern.New(`^(?i)\d[\d.,]* *(?:lx|lux|klx|fc)$`)
	likeCd      = pattern.New(`^(?i)\d[\d.,]* *(?:cd/m2|cd/m²|nits?)$`)
	likeStops   = pattern.New(`^(?i)(?:[+−–-] *[\d½⅓⅔¼¾][\d.,/½⅓⅔¼¾]*(?: *stops?)?|[\d½⅓⅔¼¾][\d.,/½⅓⅔¼¾]* *stops?)$`)
	likeMix     = pattern.New(`^\d+(?:[.,]\d+)?(?:\+\d+(?:[.,]\d+)?)+$`)
	likeSize    = pattern.New(`^(?i)\d[\d.,]* *(?:cm|mm|in)? *[x×] *\d[\d.,]* *(?:cm|mm|in)?$`)
	likePicture = pattern.New(`^\d{4}-\d{3,9}(?:@\d{1,3})?$`)
	likeSheet   = pattern.New(`^(?:(?:\d{4}-)?\d{1,9})?(?:n|p[1-9]\d{0,5})(?:@\d{1,3})?$`)
	likeBox     = pattern.New(`^box-\d+$`)
	likeBath    = pattern.New(`^(?:dev|developer|stop|fix|fixer|water|wash|aid|wash-aid|tone|toner)-\d+$`)
	likeUnit    = pattern.New(`^(?i)(?:ms|s|sec|secs|seconds?|m|mins?|minutes?|h|hours?|mm|cm|in|ft|ml|l|litres?|c|f|°c|°f|lx|lux|stops?|ev)$`)
)

// spelled are the bases of paper as they stand on a packet.
var spelled = map[string]string{"fibre": "fb", "fiber": "fb", "resin-coated": "rc"}

// looks takes a word for what it looks like, nil where it looks like nothing that this act knows.
func (a *act) looks(word string) *sense {
	lower := strings.ToLower(word)
	if whole, ok := spelled[lower]; ok && a.withChoice(whole) != nil {
		lower = whole
	}
	if f := a.withChoice(lower); f != nil {
		return &sense{field: *f, value: lower}
	}
	if f := a.field(strings.ReplaceAll(lower, "-", "_")); f != nil && f.Type == "flag" {
		return &sense{field: *f}
	}
	if a.kind == events.BathTested && startsWithDigit(strings.TrimLeft(word, "+-")) {
		return a.measured(word)
	}
	for _, l := range a.likes() {
		if m := l.like.FindStringSubmatch(word); m != nil && l.field != nil {
			value := word
			for _, part := range m[1:] {
				if part != "" {
					value = part
				}
			}
			return a.sure(l.field, value, word)
		}
	}
	if likeSize.MatchString(word) && sized(a.kind) {
		return &sense{size: true, value: word}
	}
	return a.named(lower)
}

type liking struct {
	like  *pattern.Pattern
	field *events.Field
}

// likes are the fields of this act that a word may be told to belong to by its look.
func (a *act) likes() []liking {
	return []liking{
		{likeFNumber, a.field("f")}, {likeEV, a.field("ev")}, {likeIndex, a.field("index")}, {likeTemp, a.field("temp_c")},
		{likeLux, a.field("lux")}, {likeCd, a.field("cd_m2")}, {likeStops, a.field("stops", "place")}, {likeMix, a.field("dilution")},
		{likeVolume, a.field("volume_ml")}, {likeTime, a.timeField()}, {likeLength, a.field("subject_mm", "focal_mm")},
		{likePicture, a.pictureField()}, {likeSheet, a.field("sheet")}, {likeBox, a.field("box")}, {likeBath, a.field("bath")},
		{pattern.New(`^sitter-\d+$`), a.sitterField()},
	}
}

func (a *act) timeField() *events.Field {
	if a.kind == events.SheetWashed {
		return a.field("soak_s")
	}
	return a.field("time_s", "times_s", "safelight_s", "minutes")
}

func (a *act) pictureField() *events.Field {
	if f := a.field("picture"); f != nil {
		return f
	}
	return a.field("sheet")
}

func (a *act) sitterField() *events.Field {
	for _, f := range events.Fields(a.kind) {
		if f.Type == "sitter" {
			return &f
		}
	}
	return nil
}

// sure refuses a word that its look alone does not tell: 2m is two minutes or two metres.
func (a *act) sure(f *events.Field, value, word string) *sense {
	if (f.Name == "time_s" || f.Name == "times_s") && a.has("subject_mm", "focal_mm") && pattern.New(`^[\d.,/]+ *m$`).MatchString(word) {
		n := strings.TrimRight(word, " m")
		return &sense{err: refusal.New("write "+n+"min, or --distance "+n+"m", "%s can be minutes or metres", refusal.Quote(word))}
	}
	return &sense{field: *f, value: value}
}

// measured reads the value of a bath's test, whose unit depends on what was tested.
func (a *act) measured(word string) *sense {
	value, unit := *a.field("value"), ""
	test, _ := a.field("test").Value(a.data)
	for _, try := range []struct {
		dim  quantity.Dimension
		like *pattern.Pattern
		test string
		unit string
	}{{quantity.Celsius, likeTemp, "temperature", "C"}, {quantity.Seconds, likeTime, "clearing-time first-image", "s"}} {
		words := strings.Fields(try.test)
		if !try.like.MatchString(word) && (test == nil || !slices.Contains(words, fmt.Sprint(test))) {
			continue
		}
		v, err := quantity.Parse(try.dim, word)
		if err != nil {
			return &sense{err: err}
		}
		unit, word = try.unit, fmt.Sprint(v)
		break
	}
	if f := a.field("unit"); unit != "" && a.from["unit"] == "" && !a.unitGiven {
		if err := a.read(*f, []string{unit}, unit); err != nil {
			return &sense{err: err}
		}
	}
	return &sense{field: value, value: word}
}

// named takes a word for a thing of the book that bears this name.
func (a *act) named(lower string) *sense {
	if a.known == nil {
		return nil
	}
	kind, ok := a.known(lower)
	if !ok {
		return nil
	}
	for _, f := range events.Fields(a.kind) {
		if f.Of == string(kind) && (f.Type == "ref" || f.Default != "") && a.from[f.Name] == "" {
			return &sense{field: f, value: lower}
		}
	}
	if f := a.field("sheet"); kind == events.Picture && f != nil {
		return &sense{field: *f, value: lower}
	}
	return nil
}
