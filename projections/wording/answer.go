package wording

import (
	"errors"

	"traybook/events"
)

// Refusal is a plain no: what, why and what to do, for the person who asked. Nothing was written.
type Refusal struct {
	Text   string // what and why
	Hint   string // what to do, "" where the text says it
	EvenSo bool   // who insists may have it written all the same
}

func (r *Refusal) Error() string {
	if r.Hint == "" {
		return r.Text
	}
	return r.Text + "; " + r.Hint
}

// IgnoreMissing takes a plain no for nothing there: what is named is gone, and whoever looks back goes on without it.
func IgnoreMissing[T any](v T, err error) (T, error) {
	if Refused(err) {
		var nothing T
		return nothing, nil
	}
	return v, err
}

func Refused(err error) bool {
	var no *Refusal
	return errors.As(err, &no)
}

// Answer is what the book says back to an act.
type Answer struct {
	Entry          events.Entry // as kept, filled in
	Picture        string       // the picture it belongs to, "" for none
	Sheet          string
	Session        string
	CalledForS     *float64 // seconds the act called for; nil where nothing serves
	DoneS          *float64 // seconds done
	DeviationStops *float64 // log2(done ÷ called-for at the aperture used); of a fixing or a wash, all up to this one together
	Before         float64  // what earlier fixings, or washes since the last one, gave as a share of what they called for
	Understood     string   // one line: what the book took from it
	Unserved       bool     // an exposure through the lens that no reading and no earlier print serves
	Warnings       []string // what surprises, each with what to do
	Next           string   // what usually comes next
}
