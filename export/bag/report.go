package bag

import (
	"cmp"
	"slices"
	"strconv"
	"strings"
	"unicode"
)

// Kind names a sort of damage. The words are for people and stay as they are.
type Kind string

const (
	// Missing: a manifest lists it, or every bag of ours has it, and it is not there.
	Missing Kind = "missing"
	// Extra: it is there and no manifest lists it.
	Extra Kind = "extra"
	// Changed: its content does not have the digest a manifest gives.
	Changed Kind = "changed"
	// Doubled: one manifest, or the zip, names it twice.
	Doubled Kind = "doubled"
	// CaseTwins: two names that some systems take for one.
	CaseTwins Kind = "case-twins"
	// UnsafePath: a name that leads out of the bag, or might on some system.
	UnsafePath Kind = "unsafe-path"
	// BadLine: a line of a manifest or of bag-info.txt that cannot be read, or
	// a digest that cannot be one.
	BadLine Kind = "bad-line"
	// NotInEvery: listed in one manifest, but not in every one.
	NotInEvery Kind = "not-in-every-manifest"
	// WrongOxum: Payload-Oxum is absent or does not count what is there.
	WrongOxum Kind = "wrong-oxum"
	// BadDeclaration: bagit.txt does not say what it must say.
	BadDeclaration Kind = "bad-declaration"
	// PercentCode: a "%" that does not stand for "%", CR or LF.
	PercentCode Kind = "percent-code"
	// NotAFile: a link, a device or the like.
	NotAFile Kind = "not-a-file"
	// Unreadable: the medium or the zip does not give it back.
	Unreadable Kind = "unreadable"
	// CutOff: the zip ends before the list of its files.
	CutOff Kind = "cut-off"
	// TooLarge: beyond the limits stated by the constants of this package.
	TooLarge Kind = "too-large"
	// Layout: a zip without its one top folder, a bag that leaves files to be
	// fetched.
	Layout Kind = "layout"
)

// The limits of the verifier: what is beyond them is named, not read.
const (
	// MaxEntries bounds the files and folders of a bag.
	MaxEntries = 200_000
	// MaxTagFile bounds, in bytes, each manifest and bag-info.txt.
	MaxTagFile = 64 << 20
	// MaxPath bounds, in bytes, a name below the bag.
	MaxPath = 4096
	// MaxFile bounds, in bytes, one file as a zip declares it.
	MaxFile = 64 << 30
	// MaxTotal bounds, in bytes, all files of a zip together.
	MaxTotal = 1 << 40
	// MaxRatio bounds how many bytes one compressed byte of a zip may become
	// in a file of more than 64 MiB. Ours are stored: 1.
	MaxRatio  = 200
	ratioFrom = 64 << 20
	// MaxProblems bounds the list of a report, so that a hostile manifest
	// cannot make it endless.
	MaxProblems = 10_000
)

// Problem is one thing found wrong. Name is the path from the bag's root, or
// the manifest.
type Problem struct {
	Kind   Kind
	Name   string
	Detail string
}

// String is one line for people. Names that would move a terminal's cursor are
// shown in quotes.
func (p Problem) String() string {
	return string(p.Kind) + ": " + shown(p.Name) + ": " + p.Detail
}

func shown(name string) string {
	for _, r := range name {
		if !unicode.IsPrint(r) || r == unicode.ReplacementChar {
			return strconv.QuoteToGraphic(name)
		}
	}
	return name
}

// Report is what Verify found.
type Report struct {
	// Files and Bytes count the payload that is there.
	Files int
	Bytes int64
	// Info holds the lines of bag-info.txt in their order.
	Info []Label
	// Problems are sorted by name, then by kind. The bag is whole if and only
	// if there are none.
	Problems []Problem
	// Notes are remarks on what is allowed but not as this program writes it.
	Notes []Problem
	// CutOff: the zip was cut off, and what only follows from that is not
	// among the problems.
	CutOff bool
}

// Value is the value of a label of bag-info.txt, "" if it is not there.
func (r Report) Value(label string) string {
	for _, l := range r.Info {
		if strings.EqualFold(l.Name, label) {
			return l.Value
		}
	}
	return ""
}

func (r *Report) add(k Kind, name, detail string) {
	if len(r.Problems) < MaxProblems {
		r.Problems = append(r.Problems, Problem{k, name, detail})
	}
}

func (r *Report) note(k Kind, name, detail string) {
	if len(r.Notes) < MaxProblems {
		r.Notes = append(r.Notes, Problem{k, name, detail})
	}
}

func (r *Report) sort() {
	for _, list := range [][]Problem{r.Problems, r.Notes} {
		slices.SortStableFunc(list, func(a, b Problem) int {
			return cmp.Or(cmp.Compare(a.Name, b.Name), cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Detail, b.Detail))
		})
	}
}
