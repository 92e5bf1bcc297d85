package projections

// Crowded is a desk with no room, which every Tidy clears.
func (d *Desk) Crowded() *Desk {
	d.room = 0
	return d
}

// DefaultRuleNames lists the rules by which the book fills in what an act leaves out.
func DefaultRuleNames() []string {
	var out []string
	for _, r := range defaultRules {
		out = append(out, r.name)
	}
	return out
}
