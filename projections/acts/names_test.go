package acts_test

import (
	"encoding/json"
	"os"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/names"
	"traybook/projections/acts"
	"traybook/projections/wording"
)

// readerOf knows the things named and nothing else.
type readerOf struct {
	events.Reader
	entities []string
}

func (r readerOf) Entity(name string) (events.Entity, bool, error) {
	for _, t := range r.entities {
		if t == name {
			return events.Entity{ID: 1, Name: t}, true, nil
		}
	}
	return events.Entity{}, false, nil
}

func asta() (names.List, error) {
	return names.Of(events.SitterRow{Ref: "sitter-1", Name: "Asta Lind"}), nil
}

func TestAnAmendmentIsReadForNames(t *testing.T) {
	text, err := events.SetValue("text", "with asta  lind")
	assert.NoError(t, err)
	err = acts.KeepNamesOut(readerOf{}, &events.EntryAmendedData{Entry: "e", Set: events.Set{text}}, asta)
	assert.ErrorContains(t, err, "text holds the name of sitter-1")
	time, err := events.SetValue("time_s", 4.5)
	assert.NoError(t, err)
	assert.NoError(t, acts.KeepNamesOut(readerOf{}, &events.EntryAmendedData{Entry: "e", Set: events.Set{time}}, asta))
}

// Each field of each kind that takes words of the writer's choice is read for a name in each disguise that the field can
// hold.
func TestEveryFieldIsReadForEveryDisguiseOfAName(t *testing.T) {
	raw, err := os.ReadFile("../../testdata/derived/disguises.json")
	require.NoError(t, err)
	var disguises map[string]string
	require.NoError(t, json.Unmarshal(raw, &disguises))
	list := names.Of(events.SitterRow{Ref: "sitter-1", Name: "Asta Holm"}, events.SitterRow{Ref: "sitter-2", Name: "Dev"}, events.SitterRow{Ref: "sitter-3", Name: "Strip"})
	known := func() (names.List, error) { return list, nil }
	fields, tried := 0, 0
	for _, k := range events.Kinds {
		for _, f := range events.Fields(k) {
			if !slices.Contains([]string{"text", "word", "name", "ref", "any"}, f.Type) || f.Of == "picture" { // a picture is a number
				continue
			}
			fields++
			data, _ := events.New(k)
			for how, text := range disguises {
				if f.CheckValue(k, text) != nil {
					continue
				}
				tried++
				require.NoError(t, f.Put(data, text))
				var no *wording.Refusal
				require.ErrorAs(t, acts.KeepNamesOut(readerOf{}, data, known), &no, "%s.%s, %s: %q", k, f.Name, how, text)
				require.Equal(t, f.Option()+" holds the name of sitter-1, and an entry can never be unwritten", no.Text())
				require.True(t, no.Of.EvenSo)
				require.True(t, acts.SaysName(data, list))
				if f.Names() {
					require.NoError(t, acts.KeepNamesOut(readerOf{entities: []string{text}}, data, known), "a name that stands is used on")
				}
			}
			if f.Names() {
				for _, number := range []string{"dev-2", "strip-3", "strip-3@2"} {
					require.NoError(t, f.Put(data, number))
					require.NoError(t, acts.KeepNamesOut(readerOf{}, data, known), "a number is nobody's name")
				}
			}
		}
	}
	t.Logf("%d fields, %d disguises, %d texts", fields, len(disguises), tried)
	assert.Greater(t, fields, 60)
	assert.Greater(t, tried, 40*len(disguises))
}
