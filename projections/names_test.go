package projections_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"traybook/events"
	"traybook/projections"
)

func TestNamesAreFoundHoweverTheyAreWritten(t *testing.T) {
	names := projections.NamesOf([]events.SitterRow{{Ref: "sitter-1", Name: "Åse  Lind"}, {Ref: "sitter-2"}, {Ref: "sitter-3", Name: "渡辺"}, {Ref: "sitter-4", Name: "Νίκος"}})
	for text, want := range map[string]string{
		"for Åse Lind":                "sitter-1",
		"for åse\tLIND, at noon":      "sitter-1",
		"ÅSE\r\n  lind":               "sitter-1",
		"A\u030ase\u00a0\u2009Lind's": "sitter-1",
		"(Åse Lind)":                  "sitter-1",
		"Åse Linds boat, åse linden":  "sitter-1",
		"Åse Linden, then Åse Lind":   "sitter-1",
		"Åse Linden":                  "",
		"ΝΊΚΟΣ":                       "sitter-4",
		"Blåse Lind":                  "",
		"渡辺は船長":                       "sitter-3",
		"Åse L.":                      "",
		"":                            "",
	} {
		assert.Equal(t, want, names.In(text), "%q", text)
	}
}

func TestAnAmendmentIsReadForNames(t *testing.T) {
	names := projections.NamesOf([]events.SitterRow{{Ref: "sitter-1", Name: "Asta Lind"}})
	text, err := events.SetValue("text", "with asta  lind")
	assert.NoError(t, err)
	err = projections.KeepNamesOut(&events.EntryAmendedData{Entry: "e", Set: events.Set{text}}, names)
	assert.ErrorContains(t, err, "text holds the name of sitter-1")
	time, err := events.SetValue("time_s", 4.5)
	assert.NoError(t, err)
	assert.NoError(t, projections.KeepNamesOut(&events.EntryAmendedData{Entry: "e", Set: events.Set{time}}, names))
}
