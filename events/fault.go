package events

import (
	"fmt"
	"strings"
)

// Fault is a way in which a field can be wrong, and its one wording: behind the semicolon stands what may stand there.
// {value} is what does stand there, {takes} what the field takes.
type Fault string

// The faults.
const (
	Missing       Fault = "is missing"
	NotMore       Fault = "is {value}; it must be more than {takes}"
	Required      Fault = "is required and cannot be removed"
	OtherMode     Fault = "is {value} reading, mode is {takes}"
	NoReading     Fault = "has no reading; give f and time_s at an index, ev at an index, lux, or cd_m2"
	ManyReadings  Fault = "has more than one reading; give one of f with time_s, ev, lux, cd_m2"
	HalfReading   Fault = "has half a reading; f and time_s go together"
	WidestSmaller Fault = "is f/{value}, smaller than f_smallest f/{takes}"

	tooLittle      Fault = "is {value}; it must be at least {takes}"
	tooMuch        Fault = "is {value}; it must be at most {takes}"
	tooManyValues  Fault = "has {value} values; at most {takes}"
	tooLong        Fault = "has {value} characters; at most {takes}"
	notAmong       Fault = "holds {value}; it takes {takes}"
	heldTwice      Fault = "holds {value} twice"
	heldNull       Fault = "holds a null"
	heldNUL        Fault = "holds a NUL character"
	notUTF8        Fault = "is not valid UTF-8"
	wrongForm      Fault = "is {value}; it takes {takes}"
	noNumber       Fault = "is no number"
	noAperture     Fault = "is {value}; an aperture lies from f/0.5 to f/1024"
	noDensity      Fault = "holds {value}; densities lie from 0 to 5"
	densityFalls   Fault = "does not rise from min over mid to max"
	densityEmpty   Fault = "holds none of min, mid, max"
	dminAbove      Fault = "is not below dmax"
	noIndex        Fault = "is missing; an aperture and time, or an EV, means nothing without the index it was read at"
	otherNegative  Fault = "is {value}; the negative of {of} is {takes}"
	otherPrint     Fault = "is {value}; the prints of {of} are {takes} and so on"
	entryOrBatch   Fault = "takes either an entry or a batch"
	isEmpty        Fault = "is empty"
	isNull         Fault = "is null; leave out what is not known"
	otherJSON      Fault = "is a JSON {value}; that does not fit"
	noObject       Fault = "data is a JSON {value}; it takes an object"
	brokenJSON     Fault = "is not whole JSON"
	unreadable     Fault = "{value}"
	unreadableData Fault = "data {value}"
	notOfKind      Fault = "is not a field of this kind"
	notAField      Fault = "is not a field of this kind; it has {takes}"
	cannotHold     Fault = "cannot hold {value}"
	noTime         Fault = "takes a time such as 2026-05-03T14:05:10+02:00"
	wrongTime      Fault = "takes a time: {value}"
	noZone         Fault = "takes a time zone such as Europe/Oslo"
	kindIsFixed    Fault = "cannot be amended; void it and write anew"
	namesAThing    Fault = "names a thing and cannot be amended; void the entry and write anew"
)

// FieldError says which field of which kind is wrong, and how.
type FieldError struct {
	Kind  Kind
	Field string // "" where the whole is wrong
	Fault Fault
	Value string // what stands there, as it is told
	Takes string // what the field takes
	Of    string // what the value goes by
}

// Says is what is wrong.
func (e *FieldError) Says() string {
	says, _, _ := strings.Cut(string(e.Fault), "; ")
	return e.tell(says)
}

// May is what may stand there, "" where that goes without saying.
func (e *FieldError) May() string {
	_, may, _ := strings.Cut(string(e.Fault), "; ")
	return e.tell(may)
}

// Why is both in one.
func (e *FieldError) Why() string { return e.tell(string(e.Fault)) }

func (e *FieldError) tell(text string) string {
	return strings.NewReplacer("{value}", e.Value, "{takes}", e.Takes, "{of}", e.Of).Replace(text)
}

func (e *FieldError) Error() string {
	if e.Field == "" {
		return fmt.Sprintf("%s: %s", e.Kind, e.Why())
	}
	return fmt.Sprintf("%s: %s %s", e.Kind, e.Field, e.Why())
}
