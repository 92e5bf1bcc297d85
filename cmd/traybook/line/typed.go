package line

import (
	"slices"
	"strings"
	"sync"
	"unicode"

	"traybook/events"
)

// Commands are the names of the commands inside a command, as "mix" in bath mix.
var Commands = strings.Fields("add archive book cards check close consent count csv cut day describe develop dilute discard events expose exposure " +
	"fix focus labels light list mix move open paid paper pdf pictures rate read receive replenish spoil strip take test tones wall wash")

// argumentWords are what else a command of small letters alone goes on with.
var argumentWords = sync.OnceValue(func() map[string]bool {
	out := map[string]bool{"last": true, "mark": true, "running": true}
	for _, c := range Commands {
		out[c] = true
	}
	for _, k := range events.Kinds {
		for _, f := range events.Fields(k) {
			for _, c := range f.Choices {
				out[c] = true
			}
		}
	}
	for _, s := range events.SymptomVocabulary() {
		out[s] = true
	}
	return out
})

var aDigest = NewPattern(`^[0-9a-f]{64}$`)

// Typed is how many of the words belong together because a person types or copies them as they stand: a command of this
// program, a digest. 0 for none. A command ends at its closing quote where it stands in one, else where prose goes on.
func Typed(words []string) int {
	first := strings.TrimLeft(words[0], "(")
	if aDigest.MatchString(strings.TrimRight(first, ".,;:)")) {
		return 1
	}
	if first == "`traybook" {
		if end := slices.IndexFunc(words[1:], func(w string) bool { return strings.Contains(w, "`") }); end >= 0 {
			return end + 2
		}
	}
	if first != "traybook" || len(words) == 1 {
		return 0
	}
	quoted := false
	for i, w := range words[1:] {
		inQuotes := quoted
		if strings.Count(w, `"`)%2 == 1 {
			quoted = !quoted
		}
		if i > 0 && !inQuotes && !goesOn(words[i], w) {
			return i + 1
		}
		if !quoted && strings.TrimRight(w, ".,;:)`") != w {
			return i + 2
		}
	}
	return len(words)
}

// goesOn says whether a command goes on with a word, by its look and by the word before.
func goesOn(before, word string) bool {
	bare := strings.TrimRight(word, ".,;:)`")
	letters := strings.IndexFunc(bare, func(r rune) bool { return !unicode.IsLetter(r) }) < 0
	switch {
	case before == "|" || before == "traybook":
		return true
	case bare == "" || strings.Trim(bare, "·–—→") == "":
		return false
	case !letters:
		return true
	case bare == strings.ToUpper(bare):
		return len(bare) > 1
	case bare != strings.ToLower(bare):
		return strings.HasPrefix(before, "--")
	}
	return argumentWords()[bare]
}
