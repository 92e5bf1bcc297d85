package events

import "reflect"

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
	BathReplenished Kind = "bath.replenished"
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
	ClockStarted    Kind = "clock.started"
	OrderTaken      Kind = "order.taken"
	OrderPaid       Kind = "order.paid"
	OrderClosed     Kind = "order.closed"
	SheetStored     Kind = "sheet.stored"
	SilverRecovered Kind = "silver.recovered"
	SheetReversed   Kind = "sheet.reversed"
)

// Data is what an entry of one kind says. Each kind has one Go type; the fields carry their rules in the tag `is`
// (see schema.go), so that validation, the command line, CSV and the documents all read the same list.
type Data interface{ Kind() Kind }

// Carried are the two fields that every act may carry: the session it belongs to and the camera it was done with.
// The book fills them in when the entry is written.
type Carried struct {
	Session string `json:"session,omitempty" is:"ref=session default=open-session optional"`
	Camera  string `json:"camera,omitempty" is:"ref=camera amendable default=camera optional"`
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

// dataTypes has the type of each kind's data, in the order of the contract.
var dataTypes = []Data{
	&BookOpenedData{}, &BookSalvagedData{}, &CameraDescribedData{}, &CameraCheckedData{}, &SessionOpenedData{}, &SessionClosedData{},
	&PaperReceivedData{}, &PaperRatedData{}, &PaperCountedData{}, &PaperSpoiledData{}, &PaperCutData{}, &HolderLoadedData{},
	&BathMixedData{}, &BathMovedData{}, &BathReplenishedData{}, &BathTestedData{}, &BathDiscardedData{}, &LightMeteredData{},
	&SheetExposedData{}, &SheetReprintedData{}, &StripExposedData{}, &StripReadData{}, &SheetDevelopedData{}, &SheetRinsedData{},
	&SheetFixedData{}, &SheetWashedData{}, &SheetDriedData{}, &SheetTonedData{}, &SheetWorkedData{}, &SheetTestedData{},
	&SheetJudgedData{}, &SheetAttachedData{}, &SheetDeliveredData{}, &SitterConsentedData{}, &SitterErasedData{},
	&MomentMarkedData{}, &NoteWrittenData{}, &EntryAmendedData{}, &EntryVoidedData{},
	&ClockStartedData{}, &OrderTakenData{}, &OrderPaidData{}, &OrderClosedData{},
	&SheetStoredData{}, &SilverRecoveredData{}, &SheetReversedData{},
}

// Kinds lists every kind in the order of the contract.
var Kinds = func() []Kind {
	out := make([]Kind, len(dataTypes))
	for i, d := range dataTypes {
		out[i] = d.Kind()
	}
	return out
}()

// typeOf is the type of the data of each kind.
var typeOf = func() map[Kind]reflect.Type {
	out := make(map[Kind]reflect.Type, len(dataTypes))
	for _, d := range dataTypes {
		out[d.Kind()] = reflect.TypeOf(d).Elem()
	}
	return out
}()

// New gives an empty value of the data of kind k, or false for a kind that this program does not know.
func New(k Kind) (Data, bool) {
	t, ok := typeOf[k]
	if !ok {
		return nil, false
	}
	return reflect.New(t).Interface().(Data), true
}
