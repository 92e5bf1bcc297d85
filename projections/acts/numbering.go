package acts

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"traybook/events"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// How many numbers may be left out at once without being asked. Who types a number that is ten or more ahead has mostly
// struck a wrong key; a file was numbered elsewhere, and who begins a row may begin it anywhere in a year's pictures. By our
// own choice.
const (
	mostLeftOut        = 9
	mostLeftOutOfAFile = 1000
)

var (
	numbersUsedUp  = wording.Refuses("numbers-used-up", "the numbers after {row} are used up: {row}{last} is taken", "name it yourself, by a number that is free")
	numbersSkipped = wording.Warns("numbers-skipped", "{name} leaves out {count}; the next was {next}")
	leavesOut      = wording.RefusesUnlessEvenSo("numbers-left-out", "{name} leaves more than {many} numbers out, and what follows would be counted on from there",
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
	rows := []string{"box-", "sitter-", "strip-", "order-"}
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
// that follow. The entry must be filled in and checked; ofAFile says that it comes from a file.
func CheckNumbers(snap *snapshot.Snapshot, e *events.Entry, ofAFile bool) error {
	return eachGap(snap, e, func(g gap) error {
		most := mostLeftOut
		if ofAFile || g.largest == 0 {
			most = mostLeftOutOfAFile
		}
		if g.number-g.largest-1 <= most {
			return nil
		}
		return leavesOut.Refuse(g.name, most, g.next)
	})
}

// gap is a number that an act gives and that does not follow on the largest of its row.
type gap struct {
	name            string
	number, largest int
	next            string // the name that would follow
}

// eachGap calls f for each gap that an act makes, to the first error.
func eachGap(snap *snapshot.Snapshot, e *events.Entry, f func(gap) error) error {
	p := events.PlacesOf(e.Data)
	for _, r := range append([]events.Ref{p.Stream}, p.Others...) {
		prefix, number := rowOf(r.Name)
		if prefix == "" {
			continue
		}
		if _, there, err := snap.R.Entity(r.Name); err != nil {
			return err
		} else if there {
			continue
		}
		if known, err := KnowsSitter(snap, r); err != nil {
			return err
		} else if known {
			continue
		}
		largest, err := snap.R.LargestNumber(prefix)
		if err == nil {
			err = gapAt(r.Name, prefix, number, largest, f)
		}
		if err != nil {
			return err
		}
	}
	x, ok := e.Data.(*events.SheetReprintedData)
	if !ok {
		return nil
	}
	t, there, err := snap.R.Entity(x.Picture)
	if err != nil || !there {
		return err
	}
	largest, err := snap.LargestPrint(t)
	if err != nil {
		return err
	}
	_, part, _ := events.SplitSheet(x.Sheet)
	return gapAt(x.Sheet, "p", strings.TrimPrefix(part, "p"), largest, f)
}

// gapAt calls f where a number does not follow on the largest. One with more digits than any number has lies far beyond.
func gapAt(name, prefix, number string, largest int, f func(gap) error) error {
	n, err := strconv.Atoi(number)
	if err != nil {
		n = math.MaxInt
	}
	if n <= largest+1 {
		return nil
	}
	next, err := numbered(prefix, largest+1)
	if err != nil {
		return nil // the row is full, so that any number that is free is good
	}
	return f(gap{name, n, largest, next})
}

// gapWarnings tell of numbers that an act leaves out in the midst of a row.
func gapWarnings(snap *snapshot.Snapshot, e *events.Entry, say sayer) error {
	return eachGap(snap, e, func(g gap) error {
		if left := g.number - g.largest - 1; g.largest > 0 && left <= mostLeftOut {
			say(numbersSkipped, g.name, wording.CountOf(left, "number"), g.next)
		}
		return nil
	})
}
