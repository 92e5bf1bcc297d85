package why

// SetsOf gives every set of so many of what may have been left out, by the factor of each, by their places.
func SetsOf(factors []string, size int) (out [][]int) {
	all := make([]omission, len(factors))
	for i, f := range factors {
		all[i] = omission{factor: f, stops: float64(i)}
	}
	eachSet(all, size, func(set []omission) {
		places := []int{}
		for _, o := range set {
			places = append(places, int(o.stops))
		}
		out = append(out, places)
	})
	return out
}

// Inverted is a mark in a print as it is on the negative.
var Inverted = inverted

// RulingCodes are the codes of the checks that rule suspects in or out.
func RulingCodes() []string {
	var out []string
	for code := range rulings {
		out = append(out, code)
	}
	return out
}
