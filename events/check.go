package events

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"
)

// Limits on foreign and own bytes. What is longer is refused with a line that names the limit.
const (
	MaxText = 4000      // characters in one text
	MaxLine = 64 * 1024 // bytes in one line of NDJSON
	MaxList = 1000      // values in one list
	maxWord = 80        // characters in a filter, a unit, a media type
)

// IsSitter says whether s has the form of a reference to a sitter, sitter-7@2 in a joined book included.
func IsSitter(s string) bool { return sitterForm().MatchString(s) }

// Sheet joins what SplitSheet parts: Sheet("2026-014@2", "n") is 2026-014n@2.
func Sheet(picture, part string) string {
	number, rank, ok := strings.Cut(picture, "@")
	if !ok {
		return number + part
	}
	return number + part + "@" + rank
}

// Validate holds d against the rules of its kind and says which field is wrong and why. Whether what it names exists
// is for the one who keeps the book.
func Validate(d Data) error {
	for _, f := range Fields(d.Kind()) {
		v, there := f.Value(d)
		if !there {
			if f.Required {
				return &FieldError{Kind: d.Kind(), Field: f.Name, Fault: Missing}
			}
			continue
		}
		if err := f.CheckValue(d.Kind(), v); err != nil {
			return err
		}
	}
	return crossCheck(d)
}

// CheckValue holds one value against the field's rules alone.
func (f Field) CheckValue(k Kind, v any) error {
	if wrong := f.wrong(v); wrong != nil {
		wrong.Kind, wrong.Field = k, f.Name
		return wrong
	}
	return nil
}

// wrong is what is wrong with a value, nil for nothing.
func (f Field) wrong(v any) *FieldError {
	switch v := v.(type) {
	case string:
		return f.wrongString(v)
	case float64:
		return f.wrongNumber(v)
	case int64:
		return f.wrongNumber(float64(v))
	case []float64:
		if len(v) > MaxList {
			return &FieldError{Fault: tooManyValues, Value: strconv.Itoa(len(v)), Takes: strconv.Itoa(MaxList)}
		}
		for _, x := range v {
			if wrong := f.wrongNumber(x); wrong != nil {
				return wrong
			}
		}
	case []string:
		for i, s := range v {
			if !slices.Contains(f.Choices, s) {
				return &FieldError{Fault: notAmong, Value: quoted(s), Takes: strings.Join(f.Choices, ", ")}
			}
			if f.Type == "symptoms" && slices.Contains(v[:i], s) {
				return &FieldError{Fault: heldTwice, Value: quoted(s)}
			}
		}
	case Density:
		for _, p := range []*float64{v.Min, v.Mid, v.Max} {
			if p != nil && (*p < 0 || *p > 5) {
				return &FieldError{Fault: noDensity, Value: num(*p)}
			}
		}
	}
	return nil
}

func (f Field) wrongString(s string) *FieldError {
	if strings.ContainsRune(s, 0) {
		return &FieldError{Fault: heldNUL}
	}
	if !utf8.ValidString(s) {
		return &FieldError{Fault: notUTF8}
	}
	if n := utf8.RuneCountInString(s); n > MaxText {
		return &FieldError{Fault: tooLong, Value: strconv.Itoa(n), Takes: strconv.Itoa(MaxText)}
	}
	form := ""
	switch f.Type {
	case "name", "ref":
		if f.Of == "picture" {
			if !IsPicture(s) {
				form = "a picture's number such as 2026-014"
			}
		} else if !isRankedName(s) {
			form = "a name of small letters, digits, . _ - (at most 40), such as " + f.Of + "-1"
		}
	case "sheet":
		if _, _, ok := SplitSheet(s); !ok {
			form = "a sheet such as 2026-014n or 2026-014p1"
		}
	case "sitter":
		if !sitterForm().MatchString(s) {
			form = "a reference such as sitter-7"
		}
	case "entry":
		if len(s) != 32 || !isHex(s) {
			form = "the id of an entry, 32 hex digits"
		}
	case "hex32":
		if len(s) != 32 || !isHex(s) {
			form = "32 hex digits"
		}
	case "hex64":
		if len(s) != 64 || !isHex(s) {
			form = "64 hex digits"
		}
	case "date":
		if !isDate(s) {
			form = "a date such as 2026-05-03, 2026-05 or 2026"
		}
	case "zone":
		if !isZone(s) {
			form = "a time zone such as Europe/Oslo"
		}
	case "currency":
		if !currencyForm().MatchString(s) {
			form = "a currency of three capitals such as NOK"
		}
	case "dilution":
		if !dilutionForm().MatchString(s) {
			form = "a dilution such as 1+9, or stock"
		}
	case "one":
		if !slices.Contains(f.Choices, s) {
			form = "one of " + strings.Join(f.Choices, ", ")
		}
	case "word":
		if utf8.RuneCountInString(s) > maxWord {
			form = fmt.Sprintf("a word of at most %d characters", maxWord)
		}
	}
	if form != "" {
		return &FieldError{Fault: wrongForm, Value: quoted(s), Takes: form}
	}
	return nil
}

func (f Field) wrongNumber(v float64) *FieldError {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return &FieldError{Fault: noNumber}
	}
	if f.Type == "fnumber" && (v < 0.5 || v > 1024) {
		return &FieldError{Fault: noAperture, Value: num(v)}
	}
	for _, b := range f.bounds {
		switch {
		case b.op == ">" && v <= b.limit:
			return &FieldError{Fault: NotMore, Value: num(v), Takes: num(b.limit)}
		case b.op == ">=" && v < b.limit:
			return &FieldError{Fault: tooLittle, Value: num(v), Takes: num(b.limit)}
		case b.op == "<=" && v > b.limit:
			return &FieldError{Fault: tooMuch, Value: num(v), Takes: num(b.limit)}
		}
	}
	return nil
}

func crossCheck(d Data) error {
	fail := func(field string, fault Fault) error { return &FieldError{Kind: d.Kind(), Field: field, Fault: fault} }
	switch d := d.(type) {
	case *CameraDescribedData:
		if d.FWidest > d.FSmallest {
			return &FieldError{Kind: d.Kind(), Field: "f_widest", Fault: WidestSmaller, Value: num(d.FWidest), Takes: num(d.FSmallest)}
		}
	case *PaperReceivedData:
		if d.Dmin != nil && d.Dmax != nil && *d.Dmin >= *d.Dmax {
			return fail("dmin", dminAbove)
		}
	case *LightMeteredData:
		return checkReading(d)
	case *SheetExposedData:
		if pic, part, _ := SplitSheet(d.Sheet); pic != d.Picture || part != "n" {
			return &FieldError{Kind: d.Kind(), Field: "sheet", Fault: otherNegative, Value: strconv.Quote(d.Sheet), Of: d.Picture, Takes: Sheet(d.Picture, "n")}
		}
	case *SheetReprintedData:
		if pic, part, _ := SplitSheet(d.Sheet); pic != d.Picture || part == "n" {
			return &FieldError{Kind: d.Kind(), Field: "sheet", Fault: otherPrint, Value: strconv.Quote(d.Sheet), Of: d.Picture, Takes: Sheet(d.Picture, "p1")}
		}
	case *SheetJudgedData:
		if d.Density != nil {
			last := math.Inf(-1)
			for _, p := range []*float64{d.Density.Min, d.Density.Mid, d.Density.Max} {
				if p == nil {
					continue
				}
				if *p < last {
					return fail("density", densityFalls)
				}
				last = *p
			}
			if math.IsInf(last, -1) {
				return fail("density", densityEmpty)
			}
		}
	case *EntryVoidedData:
		if (d.Entry == "") == (d.Batch == "") {
			return fail("", entryOrBatch)
		}
	case *EntryAmendedData:
		if len(d.Set) == 0 {
			return fail("set", isEmpty)
		}
	}
	return nil
}

// checkReading wants one reading, whole: f and time at an index, ev at an index, lux, or cd_m2.
func checkReading(d *LightMeteredData) error {
	fail := func(field string, fault Fault) error { return &FieldError{Kind: d.Kind(), Field: field, Fault: fault} }
	pair := d.F != nil || d.TimeS != nil
	ways := 0
	for _, there := range []bool{pair, d.EV != nil, d.Lux != nil, d.CdM2 != nil} {
		if there {
			ways++
		}
	}
	switch {
	case ways == 0:
		return fail("", NoReading)
	case ways > 1:
		return fail("", ManyReadings)
	case pair && (d.F == nil || d.TimeS == nil):
		return fail("", HalfReading)
	case (pair || d.EV != nil) && d.Index == nil:
		return fail("index", noIndex)
	case d.Mode == "incident" && d.CdM2 != nil:
		return &FieldError{Kind: d.Kind(), Field: "cd_m2", Fault: OtherMode, Value: "a reflected", Takes: d.Mode}
	case d.Mode == "reflected" && d.Lux != nil:
		return &FieldError{Kind: d.Kind(), Field: "lux", Fault: OtherMode, Value: "an incident", Takes: d.Mode}
	}
	return nil
}

func isDate(s string) bool {
	if !dateForm().MatchString(s) {
		return false
	}
	_, err := time.Parse("2006-01-02"[:len(s)], s)
	return err == nil
}

func num(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// quoted is a text in quotes as an error tells it.
func quoted(s string) string { return strconv.Quote(short(s)) }

func short(s string) string {
	if utf8.RuneCountInString(s) <= 60 {
		return s
	}
	return string([]rune(s)[:59]) + "…"
}

// appendJSONString writes s as JSON with nothing escaped that need not be.
func appendJSONString(dst []byte, s string) []byte {
	b, err := marshal(s)
	if err != nil {
		return append(dst, `""`...)
	}
	return append(dst, b...)
}

func marshal(v any) ([]byte, error) {
	var b strings.Builder
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(v); err != nil {
		return nil, err
	}
	return []byte(strings.TrimSuffix(b.String(), "\n")), nil
}
