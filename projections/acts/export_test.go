package acts

// DefaultRuleNames lists the rules by which the book fills in what an act leaves out.
func DefaultRuleNames() []string {
	var out []string
	for _, r := range defaultRules {
		out = append(out, r.name)
	}
	return out
}

// WarningsOf are all that is odd about an act that is about to be written.
var WarningsOf = warningsOf
