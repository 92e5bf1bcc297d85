package events

import "strings"

// ThingKind is a kind of named thing.
type ThingKind string

// The kinds of thing that entries name. Book stands for the book itself, home of what belongs nowhere else.
const (
	Picture ThingKind = "picture"
	Box     ThingKind = "box"
	Bath    ThingKind = "bath"
	Session ThingKind = "session"
	Camera  ThingKind = "camera"
	Holder  ThingKind = "holder"
	Strip   ThingKind = "strip"
	Sitter  ThingKind = "sitter"
	Book    ThingKind = "book"
)

// BookThing is the name of the book itself as a home.
const BookThing = "(book)"

// Ref names a thing of a kind. New says that the entry may be the first to name it.
type Ref struct {
	Kind ThingKind
	Name string
	New  bool
}

// Places says where an entry belongs: its one home, what it uses, and what else it names. An amendment, a void and a
// note about an entry have the home of that entry; their Home is then empty and Entry names it.
type Places struct {
	Home    Ref
	Entry   string
	Box     string // paper it takes from a box that is not its home
	Bath    string // bath it uses that is not its home
	Session string // session it belongs to that is not its home
	Others  []Ref
}

// PlacesOf reads where an entry with data d belongs.
func PlacesOf(d Data) Places {
	var p Places
	if c := CarriedOf(d); c != nil {
		p.Session = c.Session
	}
	also := func(k ThingKind, name string) {
		if name != "" {
			p.Others = append(p.Others, Ref{Kind: k, Name: name})
		}
	}
	ofSheet := func(sheet string) {
		pic, _, _ := SplitSheet(sheet)
		p.Home = Ref{Kind: Picture, Name: pic}
	}
	switch d := d.(type) {
	case *BookOpenedData, *BookSalvagedData:
		p.Home = Ref{Book, BookThing, true}
	case *CameraDescribedData:
		p.Home = Ref{Camera, d.Camera, true}
	case *CameraCheckedData:
		p.Home, p.Session = Ref{Kind: Camera, Name: d.Camera}, d.Session
		also(Holder, d.Holder)
	case *SessionOpenedData:
		p.Home = Ref{Session, d.Session, true}
		also(Camera, d.Camera)
	case *SessionClosedData:
		p.Home = Ref{Kind: Session, Name: d.Session}
	case *PaperReceivedData:
		p.Home = Ref{Box, d.Box, true}
	case *PaperRatedData:
		p.Home = Ref{Kind: Box, Name: d.Box}
	case *PaperCountedData:
		p.Home = Ref{Kind: Box, Name: d.Box}
	case *PaperSpoiledData:
		p.Home = Ref{Kind: Box, Name: d.Box}
	case *PaperCutData:
		p.Home = Ref{Kind: Box, Name: d.Box}
		p.Others = append(p.Others, Ref{Box, d.Into, true})
	case *HolderLoadedData:
		p.Home, p.Box = Ref{Holder, d.Holder, true}, d.Box
	case *BathMixedData:
		p.Home = Ref{Bath, d.Bath, true}
	case *BathMovedData:
		p.Home = Ref{Kind: Bath, Name: d.Bath}
	case *BathToppedData:
		p.Home = Ref{Kind: Bath, Name: d.Bath}
	case *BathTestedData:
		p.Home = Ref{Kind: Bath, Name: d.Bath}
	case *BathDiscardedData:
		p.Home = Ref{Kind: Bath, Name: d.Bath}
	case *LightMeteredData:
		switch {
		case d.Picture != "":
			p.Home = Ref{Kind: Picture, Name: d.Picture}
		case d.Session != "":
			p.Home, p.Session = Ref{Kind: Session, Name: d.Session}, ""
		default:
			p.Home = Ref{Book, BookThing, true}
		}
	case *SheetExposedData:
		p.Home, p.Box = Ref{Picture, d.Picture, true}, d.Box
		also(Box, d.PlannedBox)
		also(Holder, d.Holder)
		also(Picture, d.Again)
		also(Sitter, d.Sitter)
	case *SheetReprintedData:
		p.Home, p.Box = Ref{Kind: Picture, Name: d.Picture}, d.Box
		also(Holder, d.Holder)
	case *StripExposedData:
		p.Home, p.Box = Ref{Strip, d.Strip, true}, d.Box
		also(Picture, d.Picture)
	case *StripReadData:
		p.Home, p.Bath = Ref{Kind: Strip, Name: d.Strip}, d.Bath
	case *SheetDevelopedData:
		ofSheet(d.Sheet)
		p.Bath = d.Bath
	case *SheetRinsedData:
		ofSheet(d.Sheet)
		p.Bath = d.Bath
	case *SheetFixedData:
		ofSheet(d.Sheet)
		p.Bath = d.Bath
	case *SheetWashedData:
		ofSheet(d.Sheet)
		p.Bath = d.Bath
	case *SheetTonedData:
		ofSheet(d.Sheet)
		p.Bath = d.Bath
	case *SheetDriedData:
		ofSheet(d.Sheet)
	case *SheetWorkedData:
		ofSheet(d.Sheet)
	case *SheetTestedData:
		ofSheet(d.Sheet)
	case *SheetJudgedData:
		ofSheet(d.Sheet)
	case *SheetAttachedData:
		ofSheet(d.Sheet)
	case *SheetDeliveredData:
		ofSheet(d.Sheet)
		also(Sitter, d.To)
	case *SitterConsentedData:
		p.Home = Ref{Sitter, d.Sitter, true}
	case *SitterErasedData:
		p.Home = Ref{Sitter, d.Sitter, true}
	case *MomentMarkedData:
		p.Home = Ref{Book, BookThing, true}
		if d.Session != "" {
			p.Home, p.Session = Ref{Kind: Session, Name: d.Session}, ""
		}
	case *NoteWrittenData:
		p.Home, p.Entry = noteHome(d.About)
	case *EntryAmendedData:
		p.Entry = d.Entry
	case *EntryVoidedData:
		p.Entry = d.Entry
		if d.Batch != "" {
			p.Home = Ref{Book, BookThing, true}
		}
	}
	return p
}

// noteHome reads what a note is about as far as its form tells: a sheet, a sitter, the id of an entry, else a name,
// whose kind only the book knows.
func noteHome(about string) (Ref, string) {
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
