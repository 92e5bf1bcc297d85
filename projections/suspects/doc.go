// Package suspects holds, for each symptom, what may have made it, likeliest first: what each would be, by which causes a
// log would show it, what rules it in or out, the test of two minutes that tells it from the others, the line that takes
// the result down, and the source. It is a table; package why holds it against a log.
package suspects

import "slices"

// Suspect is one thing that may have spoiled a sheet.
type Suspect struct {
	Code string
	What string // what it would be, as the rest of "it may be that …"
	// Causes are the causes of findings under which a log shows it; none where no log can.
	Causes []string
	// Checks are the codes of what in a log rules it out, or in, the strongest first. Package why knows them.
	Checks []string
	Test   string // what one person does in minutes, in the field, with what is at hand; harmless
	Line   string // what is typed to take the result down; {box}, {dev}, {fix}, {holder}, {sheet}, {entry} are filled in
}

// Look is the line by which a look at the sheet itself is taken down.
const Look = "traybook test look bad|clear {sheet} --suspect "

// Suspicion is a suspect of one symptom.
type Suspicion struct {
	Suspect string // its code
	// On says on which sheets: "n" on the sheet from the camera, "p" on a print; "" = on both.
	On string
	// When says when it was seen: "soon" within Weeks of its last bath, "late" after; "" = either.
	When string
	// Source is where it is published; CommonPractice where it is the trade's and no source was found.
	Source string
}

// CommonPractice marks what no source was found for.
const CommonPractice = "common practice"

// WeeksH is how long after its last bath, in hours, a sheet must be before what was left in it by a short wash shows: days
// to weeks (published: yellowing "after days to weeks"; the seven days are our own choice).
const WeeksH = 7 * 24.0

// ByCode finds a suspect.
func ByCode(code string) (*Suspect, bool) {
	i := slices.IndexFunc(list, func(s Suspect) bool { return s.Code == code })
	if i < 0 {
		return nil, false
	}
	return &list[i], true
}

// Codes lists the codes of all suspects.
func Codes() []string {
	var out []string
	for _, s := range list {
		out = append(out, s.Code)
	}
	return out
}

// Of lists the suspects of a symptom, likeliest first: of a print or of the sheet from the camera, seen soon or late.
func Of(symptom string, print, late bool) []Suspicion {
	on, when := "n", "soon"
	if print {
		on = "p"
	}
	if late {
		when = "late"
	}
	var out []Suspicion
	for _, x := range table[symptom] {
		if (x.On == "" || x.On == on) && (x.When == "" || x.When == when) {
			out = append(out, x)
		}
	}
	return out
}
