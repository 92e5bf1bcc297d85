package line

import (
	"strings"

	"traybook/projections/wording"
)

var isDilution = NewPattern(`^\d+(?:[.,]\d+)?(?: *\+ *\d+(?:[.,]\d+)?){1,3}$`)

// ParseDilution reads a dilution in parts, as 1+9 or, for a developer in two
// parts, 1+1+8, and returns it normalised: no spaces, a decimal point. "stock"
// is 1+0.
//
// A colon is refused, since 1:10 is read both as 1+9 and as 1+10.
func ParseDilution(text string) (string, error) {
	r := Ratio.rule()
	s := plain(text)
	if s == "stock" || s == "undiluted" {
		return "1+0", nil
	}
	if strings.ContainsAny(s, ":/") {
		return "", Refuse(r.write, "dilution %s: can be read in two ways", Quote(text))
	}
	if len(s) > longestText || !isDilution.MatchString(s) {
		return "", Refuse(r.write, "dilution %s: not in parts", Quote(text))
	}
	parts := strings.Split(s, "+")
	for i, p := range parts {
		v, err := r.checked(text, asFloat(strings.TrimSpace(p)))
		if err != nil {
			return "", err
		}
		parts[i] = wording.Significant(v, 6)
	}
	if parts[0] == "0" {
		return "", Refuse(r.write, "dilution %s: no concentrate in it", Quote(text))
	}
	return strings.Join(parts, "+"), nil
}

// ratio returns the parts of water to one part of concentrate.
func ratio(text string) (float64, error) {
	r := Ratio.rule()
	norm, err := ParseDilution(text)
	if err != nil {
		return 0, err
	}
	parts := strings.Split(norm, "+")
	if len(parts) != 2 {
		return 0, Refuse("give the concentrate as one part, such as 1+4", "dilution %s: has more than two parts", Quote(text))
	}
	return r.checked(text, asFloat(parts[1])/asFloat(parts[0]))
}
