package line

import (
	"fmt"
	"slices"
	"strings"

	"traybook/events"
)

// What a word looks like. Where a word could be two things, neither is guessed.
var (
	likeNumber  = NewPattern(`^[+−-]?\d+(?:[.,/]\d+)?$`)
	likeFNumber = NewPattern(`^(?i:f)[/:]?\d+(?:[.,]\d+)?$`)
	likeEV      = NewPattern(`^(?i)(?:ev *([+-]?\d.*)|([+-]?\d+(?:[.,]\d+)?) *ev)$`)
	likeIndex   = NewPattern(`^(?i)(?:ei|iso|index) *(\d.*)$`)
	likeTemp    = NewPattern(`^-?\d+(?:[.,]\d+)? *(?:°? *[CFcf]|°|deg)$`)
	likeTime    = NewPattern(`^(?i)(?:\d[\d.,/]* *(?:ms|s|sec|secs|seconds?|m|mins?|minutes?|h|hrs?|hours?|'|") *)+\d*$`)
	likeLength  = NewPattern(`^(?i)\d[\d.,/]* *(?:mm|cm|dm|m|km|in|inch|inches|ft|feet|yd)(?: *\d+(?: *(?:cm|mm|in))?)?$`)
	likeVolume  = NewPattern(`^(?i)\d[\d.,/]* *(?:ml|cl|dl|l|litres?|liters?|cc)$`)
	likeLux     = NewPattern(`^(?i)\d[\d.,]* *(?:lx|lux|klx|fc)$`)
	likeCd      = NewPattern(`^(?i)\d[\d.,]* *(?:cd/m2|cd/m²|nits?)$`)
	likeStops   = NewPattern(`^(?i)(?:[+−–-] *[\d½⅓⅔¼¾][\d.,/½⅓⅔¼¾]*(?: *stops?)?|[\d½⅓⅔¼¾][\d.,/½⅓⅔¼¾]* *stops?)$`)
	likeMix     = NewPattern(`^\d+(?:[.,]\d+)?(?:\+\d+(?:[.,]\d+)?)+$`)
	likeSize    = NewPattern(`^(?i)\d[\d.,]* *(?:cm|mm|in)? *[x×] *\d[\d.,]* *(?:cm|mm|in)?$`)
	LikePicture = NewPattern(`^\d{4}-\d{3,9}(?:@\d{1,3})?$`)
	LikeSheet   = NewPattern(`^(?:(?:\d{4}-)?\d{1,9})?(?:n|p[1-9]\d{0,5})(?:@\d{1,3})?$`)
	likeBox     = NewPattern(`^box-\d+$`)
	likeBath    = NewPattern(`^(?:dev|developer|stop|fix|fixer|water|wash|aid|washing-aid|tone|toner|bleach|clear)-\d+$`)
	likeGrams   = NewPattern(`^(?i)(\d[\d.,]*) *(?:g|grams?)$`)
	likeMoney   = NewPattern(`^[A-Z]{3}$`)
	likeUnit    = NewPattern(`^(?i)(?:ms|s|sec|secs|seconds?|m|mins?|minutes?|h|hours?|mm|cm|in|ft|ml|l|litres?|c|f|°c|°f|lx|lux|stops?|ev)$`)
)

// spelled are the bases of paper as they stand on a packet.
var spelled = map[string]string{"fibre": "fb", "fiber": "fb", "resin-coated": "rc"}

// classify takes a word for what it looks like, nil where it looks like nothing that this act knows.
func (a *Act) classify(word string) *match {
	lower := strings.ToLower(word)
	if whole, ok := spelled[lower]; ok && a.withChoice(whole) != nil {
		lower = whole
	}
	if f := a.withChoice(lower); f != nil {
		return &match{field: *f, value: lower}
	}
	if f := a.field(strings.ReplaceAll(lower, "-", "_")); f != nil && f.Type == "flag" {
		return &match{field: *f}
	}
	if a.Kind == events.BathTested && StartsWithDigit(strings.TrimLeft(word, "+-")) {
		return a.Measured(word)
	}
	for _, l := range a.scores() {
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
	if likeSize.MatchString(word) && Sized(a.Kind) {
		return &match{size: true, value: word}
	}
	return a.named(lower)
}

type score struct {
	like  *Pattern
	field *events.Field
}

// scores are the fields of this act that a word may be told to belong to by its look.
func (a *Act) scores() []score {
	return []score{
		{likeFNumber, a.field("f")}, {likeEV, a.field("ev")}, {likeIndex, a.field("index")}, {likeTemp, a.field("temp_c")},
		{likeLux, a.field("lux")}, {likeCd, a.field("cd_m2")}, {likeStops, a.field("stops", "zone_stops")}, {likeMix, a.field("dilution")},
		{likeVolume, a.field("volume_ml")}, {likeTime, a.timeField()}, {likeLength, a.field("subject_mm", "focal_mm")},
		{LikePicture, a.pictureField()}, {LikeSheet, a.field("sheet")}, {likeBox, a.field("box")}, {likeBath, a.field("bath")},
		{NewPattern(`^sitter-\d+$`), a.sitterField()}, {NewPattern(`^order-\d+$`), a.field("order")}, {likeGrams, a.field("grams")},
	}
}

func (a *Act) timeField() *events.Field {
	if a.Kind == events.SheetWashed {
		return a.field("soak_s")
	}
	return a.field("time_s", "times_s", "safelight_s", "minutes")
}

func (a *Act) pictureField() *events.Field {
	if f := a.field("picture"); f != nil {
		return f
	}
	return a.field("sheet")
}

func (a *Act) sitterField() *events.Field {
	for _, f := range events.Fields(a.Kind) {
		if f.Type == "sitter" {
			return &f
		}
	}
	return nil
}

// nearestSubject is how near, in mm, a length is taken for the distance of a subject without being asked: a camera that
// holds a sheet of paper seldom comes so near. By our own choice.
const nearestSubject = 100

// sure refuses a word that its look alone does not tell: 2m is two minutes or two metres, 46mm the draw of the lens or the
// distance of the subject.
func (a *Act) sure(f *events.Field, value, word string) *match {
	if (f.Name == "time_s" || f.Name == "times_s") && a.has("subject_mm", "focal_mm") && NewPattern(`^[\d.,/]+ *m$`).MatchString(word) {
		n := strings.TrimRight(word, " m")
		return &match{err: Refuse("write "+n+"min, or --distance "+n+"m", "%s can be minutes or metres", Quote(word))}
	}
	if f.Name == "subject_mm" && a.has("extension_mm") {
		if mm, err := Parse(Millimetres, value); err == nil && mm < nearestSubject {
			return &match{err: Refuse("write --extension "+word+", or --distance "+word, "%s can be how far the lens is drawn out or how near the subject is", Quote(word))}
		}
	}
	return &match{field: *f, value: value}
}

// Measured reads the value of a bath's test, whose unit depends on what was tested.
func (a *Act) Measured(word string) *match {
	value, unit := *a.field("value"), ""
	test, _ := a.field("test").Value(a.Data)
	for _, try := range []struct {
		dim  Dimension
		like *Pattern
		test string
		unit string
	}{{Celsius, likeTemp, "temperature", "C"}, {Seconds, likeTime, "clearing-time time-of-appearance", "s"}} {
		words := strings.Fields(try.test)
		if !try.like.MatchString(word) && (test == nil || !slices.Contains(words, fmt.Sprint(test))) {
			continue
		}
		v, err := Parse(try.dim, word)
		if err != nil {
			return &match{err: err}
		}
		unit, word = try.unit, fmt.Sprint(v)
		break
	}
	if f := a.field("unit"); unit != "" && a.From["unit"] == "" && !a.UnitGiven {
		if err := a.Read(*f, []string{unit}, unit); err != nil {
			return &match{err: err}
		}
	}
	return &match{field: value, value: word}
}

// named takes a word for a thing of the book that bears this name.
func (a *Act) named(lower string) *match {
	if a.Known == nil {
		return nil
	}
	kind, ok := a.Known(lower)
	if !ok {
		return nil
	}
	for _, f := range events.Fields(a.Kind) {
		if f.Of == string(kind) && (f.Type == "ref" || f.Default != "") && a.From[f.Name] == "" {
			return &match{field: f, value: lower}
		}
	}
	if f := a.field("sheet"); kind == events.Picture && f != nil {
		return &match{field: *f, value: lower}
	}
	return nil
}
