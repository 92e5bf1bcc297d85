package events

import (
	"encoding/json"
	"reflect"
	"strings"
	"sync"
)

// EntityKind is a kind of named thing.
type EntityKind string

// The kinds of thing that entries name. Book stands for the book itself, stream of what belongs nowhere else.
const (
	Picture EntityKind = "picture"
	Box     EntityKind = "box"
	Bath    EntityKind = "bath"
	Session EntityKind = "session"
	Camera  EntityKind = "camera"
	Holder  EntityKind = "holder"
	Strip   EntityKind = "strip"
	Sitter  EntityKind = "sitter"
	Order   EntityKind = "order"
	Book    EntityKind = "book"
)

// BookEntity is the name of the book itself as a stream.
const BookEntity = "(book)"

// Ref names a thing of a kind. New says that the entry may be the first to name it.
type Ref struct {
	Kind EntityKind
	Name string
	New  bool
}

// Places says where an entry belongs: its one stream, what it uses, and what else it names. An amendment, a void and a
// note about an entry have the stream of that entry; their Stream is then empty and Entry names it.
type Places struct {
	Stream  Ref
	Entry   string
	Box     string // paper it takes from a box that is not its stream
	Bath    string // bath it uses that is not its stream
	Session string // session it belongs to that is not its stream
	Others  []Ref
}

// placing is where the entries of a kind belong, read from the tags of its Go type. The tag of the blank field names the
// fields that may hold the stream, the first that is filled in holds it: `is:"stream=picture|session|book"`. `book` is the
// book itself. The word `camera` says that the book fills in the camera, since what the act says is calculated by it.
type placing struct {
	streams  []Field // a Field without a name is the book itself
	cites    []Field // the names and references, in their order
	byCamera bool
}

var placings = func() map[Kind]func() placing {
	m := make(map[Kind]func() placing, len(typeOf))
	for k, t := range typeOf {
		m[k] = sync.OnceValue(func() placing { return placingOf(k, t) })
	}
	return m
}()

func placingOf(k Kind, t reflect.Type) placing {
	var p placing
	blank, _ := t.FieldByName("_")
	for _, w := range strings.Fields(blank.Tag.Get("is")) {
		p.byCamera = p.byCamera || w == "camera"
		names, found := strings.CutPrefix(w, "stream=")
		if !found {
			continue
		}
		for _, name := range strings.Split(names, "|") {
			f, _ := FieldOf(k, name)
			p.streams = append(p.streams, f)
		}
	}
	for _, f := range Fields(k) {
		if f.Type == "name" || f.Type == "sitter" || f.Type == "ref" && !f.amendable {
			p.cites = append(p.cites, f)
		}
	}
	return p
}

// ByCamera says whether the book fills in the camera that an act of kind k carries: what such an act says is calculated
// by the camera's description.
func ByCamera(k Kind) bool { return placings[k]().byCamera }

// PlacesOf reads where an entry with data d belongs. What an entry uses or names beside its stream: the fields box, bath
// and session have columns of their own, the rest are Others. So is the sitter that an amendment sets.
func PlacesOf(d Data) Places {
	var p Places
	value := reflect.ValueOf(d).Elem()
	placing := placings[d.Kind()]()
	stream := p.place(value, placing.streams)
	for _, f := range placing.cites {
		name := value.FieldByIndex(f.index).String()
		switch {
		case f.Name == stream || name == "":
		case f.Name == "box":
			p.Box = name
		case f.Name == "bath":
			p.Bath = name
		case f.Name == "session":
			p.Session = name
		default:
			p.Others = append(p.Others, Ref{Kind: f.names(), Name: name, New: f.Type == "name"})
		}
	}
	if x, ok := d.(*EntryAmendedData); ok {
		if ref := x.sitterSet(); ref != "" {
			p.Others = append(p.Others, Ref{Kind: Sitter, Name: ref})
		}
	}
	return p
}

// sitterSet is the sitter that an amendment sets, "" where it sets none.
func (x *EntryAmendedData) sitterSet() string {
	for _, s := range x.Set {
		var ref string
		if s.Name == string(Sitter) && json.Unmarshal(s.Value, &ref) == nil && IsSitter(ref) {
			return ref
		}
	}
	return ""
}

// place finds the stream, and gives the field that holds it.
func (p *Places) place(value reflect.Value, streams []Field) string {
	for i, f := range streams {
		if f.Name == "" {
			p.Stream = Ref{Book, BookEntity, true}
			return ""
		}
		name := value.FieldByIndex(f.index).String()
		if name == "" && i < len(streams)-1 {
			continue
		}
		switch f.Type {
		case "entry":
			p.Entry = name
		case "any":
			p.Stream, p.Entry = noteStream(name)
		case "sheet":
			picture, _, _ := SplitSheet(name)
			p.Stream = Ref{Kind: Picture, Name: picture}
		default:
			p.Stream = Ref{f.names(), name, f.Type != "ref"}
		}
		return f.Name
	}
	return ""
}

// noteStream reads what a note is about as far as its form tells: a sheet, a sitter, the id of an entry, else a name,
// whose kind only the book knows.
func noteStream(about string) (Ref, string) {
	if pic, _, ok := SplitSheet(about); ok {
		return Ref{Kind: Picture, Name: pic}, ""
	}
	if IsPicture(about) {
		return Ref{Kind: Picture, Name: about}, ""
	}
	if IsSitter(about) {
		return Ref{Sitter, about, true}, ""
	}
	if len(about) == 32 && isHex(about) {
		return Ref{Name: about}, about
	}
	return Ref{Name: about}, ""
}

// SheetOf gives the sheet that d is about, "" where it is about none.
func SheetOf(d Data) string { return textIn(d, "sheet") }

// SessionOf gives the session that d names, "" where it names none.
func SessionOf(d Data) string { return textIn(d, "session") }

// ReadingOf gives the entry of the reading that d followed, "" where it names none.
func ReadingOf(d Data) string { return textIn(d, "reading") }

// textIn gives a field that holds a text, "" where d has none of the name.
func textIn(d Data, name string) string {
	f, ok := FieldOf(d.Kind(), name)
	if !ok {
		return ""
	}
	v, _ := f.Value(d)
	text, _ := v.(string)
	return text
}

// PictureNumber takes 2026-014 apart: 2026, 14. The number of the second of two books in a merged one (2026-014@2)
// reads the same.
func PictureNumber(name string) (year, n int, ok bool) {
	name, _, _ = strings.Cut(name, "@")
	if !IsPicture(name) {
		return 0, 0, false
	}
	for _, c := range name[:4] {
		year = year*10 + int(c-'0')
	}
	for _, c := range name[5:] {
		n = n*10 + int(c-'0')
	}
	return year, n, true
}
