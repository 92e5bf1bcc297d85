package acts_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"traybook/events"
	"traybook/projections/acts"
)

// A tag that names a rule nobody wrote would leave its field empty in silence.
func TestEveryDefaultHasItsRule(t *testing.T) {
	unused := map[string]bool{}
	for _, name := range acts.DefaultRuleNames() {
		unused[name] = true
	}
	for _, k := range events.Kinds {
		for _, f := range events.Fields(k) {
			if f.Default == "" {
				continue
			}
			_, known := unused[f.Default]
			assert.True(t, known, "%s %s: no rule %q; write one into defaultRules in projections/acts/defaults.go", k, f.Name, f.Default)
			unused[f.Default] = false
		}
	}
	for name, is := range unused {
		assert.False(t, is, "no field names the rule %q", name)
	}
}
