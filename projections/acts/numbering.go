package acts

import (
	"fmt"
	"strconv"
	"strings"

	"traybook/events"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// mostLeftOut is how many numbers an act may leave out at once without being asked: a whole year's pictures, and no more. By
// our own choice.
const mostLeftOut = 1000

var (
	numbersUsedUp = wording.Refuses("numbers-used-up", "the numbers after {row} are used up: {row}{last} is taken", "name it yourself, by a number that is free")
	leavesOut     = wording.RefusesUnlessEvenSo("numbers-left-out", "{name} leaves more than {many} numbers out, and what follows would be counted on from there",
		"the next is {next}; --even-so keeps the number")
)

// NextNumber is the name that a thing gets where none is given: one more than the largest number that any entry has named.
// A year's pictures have three digits or more.
//
// Errors: the row has come to its end.
func NextNumber(r events.Reader, prefix string) (string, error) {
	n, err := r.LargestNumber(prefix)
	if err != nil {
		return "", err
	}
	return numbered(prefix, n+1)
}

func numbered(prefix string, n int) (string, error) {
	if n > events.MaxNumber {
		return "", numbersUsedUp.Refuse(prefix, events.MaxNumber)
	}
	if isYear(prefix) {
		return fmt.Sprintf("%s%03d", prefix, n), nil
	}
	return prefix + strconv.Itoa(n), nil
}

func isYear(prefix string) bool { return events.IsPicture(prefix + "001") }

// numberedRows are the rows that are counted on without being asked for a name.
var numberedRows = func() []string {
	rows := []string{"box-", "sitter-", "strip-"}
	for _, prefix := range bathPrefix {
		rows = append(rows, prefix)
	}
	return rows
}()

// rowOf parts a name into its row and what stands behind, "" where it belongs to none.
func rowOf(name string) (prefix, number string) {
	if _, _, ok := events.PictureNumber(name); ok {
		return name[:5], name[5:]
	}
	for _, p := range numberedRows {
		if rest, ok := strings.CutPrefix(name, p); ok && rest != "" && strings.Trim(rest, "0123456789") == "" {
			return p, rest
		}
	}
	return "", ""
}

// CheckNumbers asks before a number that an act gives leaves many out: one slip of a key would move the numbers of all
// that follow. The entry must be filled in and checked.
func CheckNumbers(snap *snapshot.Snapshot, e *events.Entry) error {
	p := events.PlacesOf(e.Data)
	for _, r := range append([]events.Ref{p.Stream}, p.Others...) {
		if err := checkNumber(snap, r); err != nil {
			return err
		}
	}
	if x, ok := e.Data.(*events.SheetReprintedData); ok {
		return checkPrintNumber(snap, x)
	}
	return nil
}

func checkNumber(snap *snapshot.Snapshot, r events.Ref) error {
	prefix, number := rowOf(r.Name)
	if prefix == "" {
		return nil
	}
	if _, there, err := snap.R.Entity(r.Name); there || err != nil {
		return err
	}
	if known, err := KnowsSitter(snap, r); known || err != nil {
		return err
	}
	largest, err := snap.R.LargestNumber(prefix)
	if err != nil {
		return err
	}
	return askedFor(r.Name, prefix, number, largest)
}

// checkPrintNumber is checkNumber for the prints of one picture.
func checkPrintNumber(snap *snapshot.Snapshot, x *events.SheetReprintedData) error {
	t, there, err := snap.R.Entity(x.Picture)
	if err != nil || !there {
		return err
	}
	largest, err := largestPrint(snap, t)
	if err != nil {
		return err
	}
	_, part, _ := events.SplitSheet(x.Sheet)
	return askedFor(x.Sheet, "p", strings.TrimPrefix(part, "p"), largest)
}

// askedFor refuses a number that leaves too many out. One with more digits than any number has is such a one.
func askedFor(name, prefix, number string, largest int) error {
	n, err := strconv.Atoi(number)
	if err == nil && n-largest-1 <= mostLeftOut {
		return nil
	}
	next, err := numbered(prefix, largest+1)
	if err != nil {
		return nil // the row is full, so that any number that is free is good
	}
	return leavesOut.Refuse(name, mostLeftOut, next)
}
