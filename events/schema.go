package events

import (
	"reflect"
	"strconv"
	"strings"
	"sync"
)

// Field is one field of the data of a kind, read from the tags of its Go type. The tag `is` holds a type and rules:
//
//	name=KIND  introduces a thing of that kind     ref=KIND  names one that exists
//	sheet, sitter, entry, any                       references of their own form
//	text, word, date, zone, currency, dilution, hex32, hex64
//	num, count, stops, share, minutes, latitude, longitude, fnumber, nums, flag, density, set, symptoms
//	one=a|b|c  one of these                         many=a|b|c  several of these
//
// followed by bounds (>0 >=0 <=100), by `default=RULE` where the book may fill the field in itself (by a rule of package
// projections), `optional` where it may stay empty all the same, `amendable` where a name may be amended (see Amendable), and
// `clocked` where what times an act writes the field and no hand types it.
type Field struct {
	Name      string   // as in JSON, with its unit: time_s
	Type      string   // see above
	Of        string   // the kind of thing that a name or ref names
	Choices   []string // of one, many and symptoms
	Required  bool     // must stand in the finished entry
	Default   string   // the rule by which the book fills in what the writer left out; "" for none
	Clocked   bool     // written by what times an act, never typed
	amendable bool
	bounds    []bound
	index     []int
}

type bound struct {
	op    string
	limit float64
}

// Unit is the unit that stands in the field's name: s, mm, ml, c, m2, days, h, mm_s, px; "" without one.
func (f Field) Unit() string {
	for _, u := range []string{"_mm_s", "_s", "_mm", "_ml", "_c", "_m2", "_days", "_h", "_px"} {
		if strings.HasSuffix(f.Name, u) && f.Name != "cd_m2" {
			return u[1:]
		}
	}
	return ""
}

// Option is the field's name on the command line: without its unit, `_` as `-`.
func (f Field) Option() string {
	switch f.Name {
	case "subject_mm":
		return "distance"
	case "zone_stops":
		return "zone"
	}
	return strings.ReplaceAll(strings.TrimSuffix(f.Name, "_"+f.Unit()), "_", "-")
}

// names is the kind of thing that a name, a reference or a sitter's reference names.
func (f Field) names() EntityKind {
	if f.Type == "sitter" {
		return Sitter
	}
	return EntityKind(f.Of)
}

// Names says whether the field names a thing. The reading that served an act is an entry, not a thing.
func (f Field) Names() bool {
	switch f.Type {
	case "name", "ref", "sheet", "sitter", "any":
		return true
	}
	return false
}

// Amendable says whether an amendment may set the field. What names a thing mostly cannot be amended: stream, box, bath,
// session and what else an entry cites are found through columns beside its bytes, which are written once. Nothing is
// looked for by the camera that an act carries, which stands in the data alone; a sitter that an amendment sets is cited by
// the amendment, and found through it.
func (f Field) Amendable() bool { return !f.Names() || f.amendable }

// schemas read the fields of each kind when they are first asked for: one run of the program needs a few.
var schemas = func() map[Kind]func() []Field {
	m := make(map[Kind]func() []Field, len(typeOf))
	for k, t := range typeOf {
		m[k] = sync.OnceValue(func() []Field { return fieldsOf(t, nil) })
	}
	return m
}()

// Fields lists the fields of kind k in their stored order; nil for an unknown kind. The slice is shared: do not change it.
func Fields(k Kind) []Field {
	if f := schemas[k]; f != nil {
		return f()
	}
	return nil
}

// FieldOf finds the field of kind k by its JSON name.
func FieldOf(k Kind, name string) (Field, bool) {
	for _, f := range Fields(k) {
		if f.Name == name {
			return f, true
		}
	}
	return Field{}, false
}

func fieldsOf(t reflect.Type, at []int) []Field {
	var out []Field
	for i := range t.NumField() {
		sf := t.Field(i)
		if sf.Name == "_" { // says what holds for the kind as a whole: see places.go
			continue
		}
		index := append(append([]int(nil), at...), i)
		if sf.Anonymous {
			out = append(out, fieldsOf(sf.Type, index)...)
			continue
		}
		name, opts, _ := strings.Cut(sf.Tag.Get("json"), ",")
		f := Field{Name: name, index: index}
		words := strings.Fields(sf.Tag.Get("is"))
		f.Type, f.Of, _ = strings.Cut(words[0], "=")
		if f.Type == "one" || f.Type == "many" {
			f.Choices, f.Of = strings.Split(f.Of, "|"), ""
		}
		if f.Type == "symptoms" {
			f.Choices = Symptoms
		}
		optional := strings.Contains(opts, "omitempty")
		for _, w := range words[1:] {
			switch {
			case strings.HasPrefix(w, "default="):
				f.Default, optional = strings.TrimPrefix(w, "default="), false
			case w == "optional":
				optional = true
			case w == "amendable":
				f.amendable = true
			case w == "clocked":
				f.Clocked = true
			case strings.HasPrefix(w, ">=") || strings.HasPrefix(w, "<="):
				f.bounds = append(f.bounds, bound{w[:2], mustFloat(w[2:])})
			default:
				f.bounds = append(f.bounds, bound{w[:1], mustFloat(w[1:])})
			}
		}
		f.Required = !optional
		out = append(out, f)
	}
	return out
}

func mustFloat(s string) float64 {
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		panic("events: bound " + s + " in a tag is no number")
	}
	return v
}

// Value gives the field's value in d as a plain Go value (string, float64, int64, bool, []float64, []string, Set,
// Density), and whether it is there.
func (f Field) Value(d Data) (any, bool) {
	v := reflect.ValueOf(d).Elem().FieldByIndex(f.index)
	if v.Kind() == reflect.Pointer {
		if v.IsNil() {
			return nil, false
		}
		v = v.Elem()
	}
	switch v.Kind() {
	case reflect.String:
		return v.String(), v.String() != ""
	case reflect.Slice:
		return v.Interface(), v.Len() > 0
	case reflect.Int, reflect.Int64:
		return v.Int(), true
	}
	return v.Interface(), true
}

// Put sets the field in d. v is a plain Go value as Value gives it; nil clears an optional field.
func (f Field) Put(d Data, v any) error {
	dst := reflect.ValueOf(d).Elem().FieldByIndex(f.index)
	if v == nil {
		dst.SetZero()
		return nil
	}
	src := reflect.ValueOf(v)
	if dst.Kind() == reflect.Pointer {
		p := reflect.New(dst.Type().Elem())
		if !src.CanConvert(p.Elem().Type()) {
			return &FieldError{Kind: d.Kind(), Field: f.Name, Fault: cannotHold, Value: src.Kind().String()}
		}
		p.Elem().Set(src.Convert(p.Elem().Type()))
		dst.Set(p)
		return nil
	}
	if !src.CanConvert(dst.Type()) || src.Kind() != reflect.String && dst.Kind() == reflect.String {
		return &FieldError{Kind: d.Kind(), Field: f.Name, Fault: cannotHold, Value: src.Kind().String()}
	}
	dst.Set(src.Convert(dst.Type()))
	return nil
}
