package line

import "strings"

var (
	dayWord  = NewPattern(`^(today|yesterday|\d{4}-\d\d-\d\d)$`)
	hourWord = NewPattern(`^\d{1,2}:\d\d(:\d\d)?$`)
	spanWord = NewPattern(`^\d+([.,]\d+)?[a-z]*$`)
)

// JoinTimes puts the words of a time together that were typed without quotes: --at yesterday 14:05, --at 10m ago.
func JoinTimes(args []string) []string {
	var out []string
	for i := 0; i < len(args); i++ {
		word := args[i]
		if word == "--" {
			return append(out, args[i:]...)
		}
		out = append(out, word)
		value, glued := strings.CutPrefix(word, "--at=")
		if !glued && word != "--at" {
			continue
		}
		if !glued {
			if i+1 == len(args) {
				return out
			}
			i++
			value = args[i]
			out = append(out, value)
		}
		rest := args[i+1:]
		n, span := 0, spanWord.MatchString(strings.ToLower(value))
		switch {
		case len(rest) > 0 && (span && rest[0] == "ago" || dayWord.MatchString(strings.ToLower(value)) && hourWord.MatchString(rest[0])):
			n = 1
		case len(rest) > 1 && span && rest[1] == "ago":
			n = 2
		}
		if n > 0 {
			out[len(out)-1] += " " + strings.Join(rest[:n], " ")
			i += n
		}
	}
	return out
}
