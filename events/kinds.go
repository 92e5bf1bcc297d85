package events

// Kind names a sort of entry. The list never shrinks.
type Kind string

// Every kind that a book can hold.
const (
	BookOpened      Kind = "book.opened"
	BookSalvaged    Kind = "book.salvaged"
	CameraDescribed Kind = "camera.described"
	CameraChecked   Kind = "camera.checked"
	SessionOpened   Kind = "session.opened"
	SessionClosed   Kind = "session.closed"
	PaperReceived   Kind = "paper.received"
	PaperRated      Kind = "paper.rated"
	PaperCounted    Kind = "paper.counted"
	PaperSpoiled    Kind = "paper.spoiled"
	PaperCut        Kind = "paper.cut"
	HolderLoaded    Kind = "holder.loaded"
	BathMixed       Kind = "bath.mixed"
	BathMoved       Kind = "bath.moved"
	BathTopped      Kind = "bath.topped"
	BathTested      Kind = "bath.tested"
	BathDiscarded   Kind = "bath.discarded"
	LightMetered    Kind = "light.metered"
	SheetExposed    Kind = "sheet.exposed"
	SheetReprinted  Kind = "sheet.reprinted"
	StripExposed    Kind = "strip.exposed"
	StripRead       Kind = "strip.read"
	SheetDeveloped  Kind = "sheet.developed"
	SheetRinsed     Kind = "sheet.rinsed"
	SheetFixed      Kind = "sheet.fixed"
	SheetWashed     Kind = "sheet.washed"
	SheetDried      Kind = "sheet.dried"
	SheetToned      Kind = "sheet.toned"
	SheetWorked     Kind = "sheet.worked"
	SheetTested     Kind = "sheet.tested"
	SheetJudged     Kind = "sheet.judged"
	SheetAttached   Kind = "sheet.attached"
	SheetDelivered  Kind = "sheet.delivered"
	SitterConsented Kind = "sitter.consented"
	SitterErased    Kind = "sitter.erased"
	MomentMarked    Kind = "moment.marked"
	NoteWritten     Kind = "note.written"
	EntryAmended    Kind = "entry.amended"
	EntryVoided     Kind = "entry.voided"
)

// Data is what an entry of one kind says. Each kind has one Go type; the fields carry their rules in the tag `is`
// (see schema.go), so that validation, the command line, CSV and the documents all read the same list.
type Data interface{ Kind() Kind }

// Carried are the two fields that every act may carry: the session it belongs to and the camera it was done with.
// The book fills them in when the entry is written.
type Carried struct {
	Session string `json:"session,omitempty" is:"ref=session"`
	Camera  string `json:"camera,omitempty" is:"ref=camera mend"`
}

// carrier is met by the data of every act.
type carrier interface{ carried() *Carried }

func (c *Carried) carried() *Carried { return c }

// CarriedOf gives the session and camera of d where its kind carries them, else nil.
func CarriedOf(d Data) *Carried {
	if c, ok := d.(carrier); ok {
		return c.carried()
	}
	return nil
}

// newData makes an empty value for each kind.
var newData = map[Kind]func() Data{
	BookOpened:      func() Data { return new(BookOpenedData) },
	BookSalvaged:    func() Data { return new(BookSalvagedData) },
	CameraDescribed: func() Data { return new(CameraDescribedData) },
	CameraChecked:   func() Data { return new(CameraCheckedData) },
	SessionOpened:   func() Data { return new(SessionOpenedData) },
	SessionClosed:   func() Data { return new(SessionClosedData) },
	PaperReceived:   func() Data { return new(PaperReceivedData) },
	PaperRated:      func() Data { return new(PaperRatedData) },
	PaperCounted:    func() Data { return new(PaperCountedData) },
	PaperSpoiled:    func() Data { return new(PaperSpoiledData) },
	PaperCut:        func() Data { return new(PaperCutData) },
	HolderLoaded:    func() Data { return new(HolderLoadedData) },
	BathMixed:       func() Data { return new(BathMixedData) },
	BathMoved:       func() Data { return new(BathMovedData) },
	BathTopped:      func() Data { return new(BathToppedData) },
	BathTested:      func() Data { return new(BathTestedData) },
	BathDiscarded:   func() Data { return new(BathDiscardedData) },
	LightMetered:    func() Data { return new(LightMeteredData) },
	SheetExposed:    func() Data { return new(SheetExposedData) },
	SheetReprinted:  func() Data { return new(SheetReprintedData) },
	StripExposed:    func() Data { return new(StripExposedData) },
	StripRead:       func() Data { return new(StripReadData) },
	SheetDeveloped:  func() Data { return new(SheetDevelopedData) },
	SheetRinsed:     func() Data { return new(SheetRinsedData) },
	SheetFixed:      func() Data { return new(SheetFixedData) },
	SheetWashed:     func() Data { return new(SheetWashedData) },
	SheetDried:      func() Data { return new(SheetDriedData) },
	SheetToned:      func() Data { return new(SheetTonedData) },
	SheetWorked:     func() Data { return new(SheetWorkedData) },
	SheetTested:     func() Data { return new(SheetTestedData) },
	SheetJudged:     func() Data { return new(SheetJudgedData) },
	SheetAttached:   func() Data { return new(SheetAttachedData) },
	SheetDelivered:  func() Data { return new(SheetDeliveredData) },
	SitterConsented: func() Data { return new(SitterConsentedData) },
	SitterErased:    func() Data { return new(SitterErasedData) },
	MomentMarked:    func() Data { return new(MomentMarkedData) },
	NoteWritten:     func() Data { return new(NoteWrittenData) },
	EntryAmended:    func() Data { return new(EntryAmendedData) },
	EntryVoided:     func() Data { return new(EntryVoidedData) },
}

// Kinds lists every kind in the order of the contract.
var Kinds = []Kind{
	BookOpened, BookSalvaged, CameraDescribed, CameraChecked, SessionOpened, SessionClosed,
	PaperReceived, PaperRated, PaperCounted, PaperSpoiled, PaperCut, HolderLoaded,
	BathMixed, BathMoved, BathTopped, BathTested, BathDiscarded, LightMetered,
	SheetExposed, SheetReprinted, StripExposed, StripRead, SheetDeveloped, SheetRinsed, SheetFixed,
	SheetWashed, SheetDried, SheetToned, SheetWorked, SheetTested, SheetJudged, SheetAttached, SheetDelivered,
	SitterConsented, SitterErased, MomentMarked, NoteWritten, EntryAmended, EntryVoided,
}

// New gives an empty value of the data of kind k, or false for a kind that this program does not know.
func New(k Kind) (Data, bool) {
	f, ok := newData[k]
	if !ok {
		return nil, false
	}
	return f(), true
}
