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

// IsName says whether s can name a box, bath, session, camera, holder or strip.
func IsName(s string) bool { return isNameForm(s) }

// IsPicture says whether s has the form of a picture's number.
func IsPicture(s string) bool { return isPictureForm(s) }

// IsSitter says whether s has the form of a reference to a sitter, sitter-7@2 in a joined book included.
func IsSitter(s string) bool { return isSitterForm(s) }

// SplitSheet takes a sheet's name apart: its picture, and "n" or "p1", "p2" …
func SplitSheet(sheet string) (picture, part string, ok bool) {
	number, part, rank, ok := sheetForm(sheet)
	switch {
	case !ok:
		return "", "", false
	case rank == "":
		return number, part, true
	}
	return number + rank, part, true
}

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
				return &FieldError{d.Kind(), f.Name, "is missing"}
			}
			continue
		}
		if why := f.wrong(v); why != "" {
			return &FieldError{d.Kind(), f.Name, why}
		}
	}
	return crossCheck(d)
}

// CheckValue holds one value against the field's rules alone.
func (f Field) CheckValue(k Kind, v any) error {
	if why := f.wrong(v); why != "" {
		return &FieldError{k, f.Name, why}
	}
	return nil
}

func (f Field) wrong(v any) string {
	switch v := v.(type) {
	case string:
		return f.wrongString(v)
	case float64:
		return f.wrongNumber(v)
	case int64:
		return f.wrongNumber(float64(v))
	case []float64:
		if len(v) > MaxList {
			return fmt.Sprintf("has %d values; at most %d", len(v), MaxList)
		}
		for _, x := range v {
			if why := f.wrongNumber(x); why != "" {
				return why
			}
		}
	case []string:
		for i, s := range v {
			if !slices.Contains(f.Choices, s) {
				return fmt.Sprintf("holds %q; it takes %s", short(s), strings.Join(f.Choices, ", "))
			}
			if f.Type == "symptoms" && slices.Contains(v[:i], s) {
				return fmt.Sprintf("holds %q twice", s)
			}
		}
	case Density:
		for _, p := range []*float64{v.Min, v.Mid, v.Max} {
			if p != nil && (*p < 0 || *p > 5) {
				return fmt.Sprintf("holds %s; densities lie from 0 to 5", num(*p))
			}
		}
	}
	return ""
}

func (f Field) wrongString(s string) string {
	if strings.ContainsRune(s, 0) {
		return "holds a NUL character"
	}
	if !utf8.ValidString(s) {
		return "is not valid UTF-8"
	}
	if n := utf8.RuneCountInString(s); n > MaxText {
		return fmt.Sprintf("has %d characters; at most %d", n, MaxText)
	}
	form := ""
	switch f.Type {
	case "name", "ref":
		if f.Of == "picture" {
			if !isPictureForm(s) {
				form = "a picture's number such as 2026-014"
			}
		} else if !isRankedForm(s) { // dev-1@2 is the second dev-1 of a joined book
			form = "a name of small letters, digits, . _ - (at most 40), such as " + f.Of + "-1"
		}
	case "sheet":
		if !isSheetForm(s) {
			form = "a sheet such as 2026-014n or 2026-014p1"
		}
	case "sitter":
		if !isSitterForm(s) {
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
		if !isCurrencyForm(s) {
			form = "a currency of three capitals such as NOK"
		}
	case "dilution":
		if !dilutionPattern().MatchString(s) {
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
		return fmt.Sprintf("is %q; it takes %s", short(s), form)
	}
	return ""
}

func (f Field) wrongNumber(v float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "is no number"
	}
	if f.Type == "fnumber" && (v < 0.5 || v > 1024) {
		return fmt.Sprintf("is %s; an aperture lies from f/0.5 to f/1024", num(v))
	}
	for _, b := range f.bounds {
		switch {
		case b.op == ">" && v <= b.limit:
			return fmt.Sprintf("is %s; it must be more than %s", num(v), num(b.limit))
		case b.op == ">=" && v < b.limit:
			return fmt.Sprintf("is %s; it must be at least %s", num(v), num(b.limit))
		case b.op == "<=" && v > b.limit:
			return fmt.Sprintf("is %s; it must be at most %s", num(v), num(b.limit))
		}
	}
	return ""
}

func crossCheck(d Data) error {
	fail := func(field, why string) error { return &FieldError{d.Kind(), field, why} }
	switch d := d.(type) {
	case *CameraDescribedData:
		if d.FWidest > d.FSmallest {
			return fail("f_widest", fmt.Sprintf("is f/%s, smaller than f_smallest f/%s", num(d.FWidest), num(d.FSmallest)))
		}
	case *PaperReceivedData:
		if d.Dmin != nil && d.Dmax != nil && *d.Dmin >= *d.Dmax {
			return fail("dmin", "is not below dmax")
		}
	case *LightMeteredData:
		return checkReading(d)
	case *SheetExposedData:
		if pic, part, _ := SplitSheet(d.Sheet); pic != d.Picture || part != "n" {
			return fail("sheet", fmt.Sprintf("is %q; the negative of %s is %s", d.Sheet, d.Picture, Sheet(d.Picture, "n")))
		}
	case *SheetReprintedData:
		if pic, part, _ := SplitSheet(d.Sheet); pic != d.Picture || part == "n" {
			return fail("sheet", fmt.Sprintf("is %q; the prints of %s are %s and so on", d.Sheet, d.Picture, Sheet(d.Picture, "p1")))
		}
	case *SheetJudgedData:
		if d.Density != nil {
			last := math.Inf(-1)
			for _, p := range []*float64{d.Density.Min, d.Density.Mid, d.Density.Max} {
				if p == nil {
					continue
				}
				if *p < last {
					return fail("density", "does not rise from min over mid to max")
				}
				last = *p
			}
			if math.IsInf(last, -1) {
				return fail("density", "holds none of min, mid, max")
			}
		}
	case *EntryVoidedData:
		if (d.Entry == "") == (d.Batch == "") {
			return fail("", "takes either an entry or a batch")
		}
	case *EntryAmendedData:
		if len(d.Set) == 0 {
			return fail("set", "is empty")
		}
	}
	return nil
}

// checkReading wants one reading, whole: f and time at an index, ev at an index, lux, or cd_m2.
func checkReading(d *LightMeteredData) error {
	fail := func(field, why string) error { return &FieldError{d.Kind(), field, why} }
	pair := d.F != nil || d.TimeS != nil
	ways := 0
	for _, there := range []bool{pair, d.EV != nil, d.Lux != nil, d.CdM2 != nil} {
		if there {
			ways++
		}
	}
	switch {
	case ways == 0:
		return fail("", "has no reading; give f and time_s at an index, ev at an index, lux, or cd_m2")
	case ways > 1:
		return fail("", "has more than one reading; give one of f with time_s, ev, lux, cd_m2")
	case pair && (d.F == nil || d.TimeS == nil):
		return fail("", "has half a reading; f and time_s go together")
	case (pair || d.EV != nil) && d.Index == nil:
		return fail("index", "is missing; an aperture and time, or an EV, means nothing without the index it was read at")
	case d.Mode == "incident" && d.CdM2 != nil:
		return fail("cd_m2", "is a reflected reading, mode is incident")
	case d.Mode == "reflected" && d.Lux != nil:
		return fail("lux", "is an incident reading, mode is reflected")
	}
	return nil
}

func isDate(s string) bool {
	if !datePattern().MatchString(s) {
		return false
	}
	_, err := time.Parse("2006-01-02"[:len(s)], s)
	return err == nil
}

func num(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

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
