package acts

// DefaultRuleNames lists the rules by which the book fills in what an act leaves out.
func DefaultRuleNames() []string {
	var out []string
	for _, r := range defaultRules {
		out = append(out, r.name)
	}
	return out
}
