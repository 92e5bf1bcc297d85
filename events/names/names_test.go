package names_test

import (
	"encoding/json"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/names"
)

func sitters(of ...string) names.List {
	var rows []events.SitterRow
	for _, n := range of {
		rows = append(rows, events.SitterRow{Ref: n, Name: n})
	}
	return names.Of(rows...)
}

func TestANameIsFoundInEveryDisguise(t *testing.T) {
	raw, err := os.ReadFile("../../testdata/derived/disguises.json")
	require.NoError(t, err)
	var disguises map[string]string
	require.NoError(t, json.Unmarshal(raw, &disguises))
	l := sitters("Tora Dahl", "Asta Holm", "Bo")
	for how, text := range disguises {
		for _, around := range []string{"%", "for %", "with %, at noon", "(%)", "%; seen\n"} {
			whole := strings.ReplaceAll(around, "%", text)
			assert.Equal(t, "Asta Holm", l.In(whole), "%s: %q", how, whole)
		}
	}
	assert.Greater(t, len(disguises), 60)
}

func TestWhatIsNoNameIsLeft(t *testing.T) {
	l := sitters("Ina", "Bo", "Al Li", "Asta Holm", "Ali", "Jo Ann Vik", "渡辺", "Åse Ødegård", "Νίκος", "Анна", "★")
	for text, want := range map[string]string{
		"in a box": "", "i\tna": "", "in\u00a0a session": "", "Bob, abo and robot": "", "all the paper": "", "as tall as Holm": "", "Asta and Holm": "",
		"Asta": "", "Holmen, Asta": "", "Astarte Holm": "", "A. Holm": "", "": "", " \n": "", "a b": "", "★": "",
		"Holm.Asta": "Asta Holm", "Ann-Jo Vik": "Jo Ann Vik", "joann vik": "Jo Ann Vik", "Vik, Jo Ann": "Jo Ann Vik", "alli": "Al Li", "Bo's boat": "Bo", "bo, li": "Bo",
		"渡辺は船長": "渡辺", "Aase Odegaard": "Åse Ødegård", "ASE ODEGARD": "Åse Ødegård", "åse oedegård": "Åse Ødegård", "aaseodegaard": "Åse Ødegård", "ΝΊΚΟΣ": "Νίκος", "анна": "Анна", "АННЫ": "",
	} {
		assert.Equal(t, want, l.In(text), "%q", text)
	}
	assert.Equal(t, "", names.List{}.In("Ina"))
	assert.True(t, sitters("", " ", "★").None())
}

// A name may go on in the next line, whichever way the line ends, and behind a hyphen in an indented one.
func TestANameGoesOnInTheNextLine(t *testing.T) {
	l := sitters("Asta Holm", "Bo")
	for _, end := range []string{"\n", "\r", "\r\n", "\u2028", "\u2029", "\u0085", "-\n  ", "\u00ad\n\t", "\u2010 "} {
		assert.Equal(t, "Asta Holm", l.In("of As"+end+"ta Holm"), "%q", end)
		assert.Equal(t, "Asta Holm", l.In("of Asta"+end+"Holm"), "%q", end)
	}
	for _, gap := range []string{" ", "\t", "\u00a0", "\u3000"} { // in one line a word ends there
		assert.Equal(t, "", l.In("of As"+gap+"ta Holm"), "%q", gap)
	}
}

// A name is found by whichever of its words comes first, of two letters or of one, and by two that begin alike.
func TestANameIsFoundByEachOfItsWords(t *testing.T) {
	for name, texts := range map[string][]string{"Asta Asmund Holm": {"Asmund Asta Holm", "Holm, Asta Asmund", "Holm Asmund Asta"}, "O Li Aas": {"Li O Aas", "Aas, O Li"}} {
		for _, text := range texts {
			assert.Equal(t, name, sitters(name).In(text), text)
		}
	}
}

func TestOneNameHasOneStone(t *testing.T) {
	assert.Equal(t, names.Key("Asta Holm"), names.Key(" HOLM, Ásta\u200b "))
	assert.NotEqual(t, names.Key("Asta Holm"), names.Key("Asta Holme"))
	salt := events.ID{1, 2, 3}
	stone := names.Stone("Asta Holm", salt)
	assert.Equal(t, "c9afcd71abdd4c7b428d6ec249fe58e29005890a20c0654d74f9b0da562de6d3", stone.String(), "a stone that was laid is known for ever")
	assert.Equal(t, stone, names.Stone("asta  HOLM", salt))
	assert.NotEqual(t, stone, names.Stone("Asta Holm", events.ID{1, 2, 4}))
	assert.NotEqual(t, stone, names.Stone("Asta Home", salt))
}

func FuzzNames(f *testing.F) {
	f.Add("Asta Holm", "with Asta Holm")
	f.Add("a s", "s\u00ad\na")
	f.Fuzz(func(t *testing.T, name, text string) {
		if len(name) > 200 || len(text) > 2000 { // a sitter's name is at most 200 characters long
			return
		}
		l := sitters(name)
		l.In(text)
		if !l.None() && l.In(name) == "" {
			t.Errorf("%q is not found in itself", name)
		}
	})
}
