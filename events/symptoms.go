package events

import (
	"maps"
	"slices"
	"strings"
)

// Symptoms is every word for what the eye sees on a sheet.
var Symptoms = []string{
	"too-dark", "too-light", "dense", "thin", "flat", "contrasty", "grey-fog", "fogged-highlights", "weak-blacks", "edge-fog",
	"dichroic-fog", "glare-patch", "streaks-light", "streaks-dark", "yellow-stain", "brown-stain", "purple-stain",
	"mottled", "blistered", "scum", "spots-white", "spots-dark", "pinholes", "scratched", "water-marks",
	"finger-marks", "subject-moved", "camera-shake", "out-of-focus", "soft", "part-soft", "double-image", "cut-off",
	"vignetted", "light-corners", "one-side-light", "solarised", "mirrored", "blank", "all-black", "milky",
	"bleached", "faded", "sky-bare", "skin-dark",
}

// everydaySymptoms are the words that a hand uses for symptoms. Where one can mean several, all stand.
var everydaySymptoms = map[string][]string{
	"overexposed": {"too-dark"}, "dark": {"too-dark"}, "underexposed": {"too-light"}, "light": {"too-light"}, "pale": {"too-light"},
	"hard": {"contrasty"}, "harsh": {"contrasty"}, "low-contrast": {"flat"}, "muddy": {"flat"},
	"fogged": {"grey-fog"}, "hazy": {"fogged-highlights"}, "leak": {"edge-fog"}, "black": {"all-black"},
	"blurred": {"soft"}, "moved": {"subject-moved"}, "shaken": {"camera-shake"}, "shaky": {"camera-shake"}, "wobbly": {"camera-shake"},
	"ghost": {"double-image"}, "double": {"double-image"}, "black-spots": {"spots-dark"}, "white-spots": {"spots-white"},
	"stained": {"yellow-stain", "brown-stain", "purple-stain"}, "spotty": {"spots-white", "spots-dark", "pinholes"},
}

// SymptomsCalled gives the symptoms that a word may mean: a symptom itself, or those of an everyday word, several where
// only the eye can tell; nil for any other word. Capitals, and spaces for hyphens, are passed over.
func SymptomsCalled(word string) []string {
	word = strings.Join(strings.Fields(strings.ToLower(word)), "-")
	if slices.Contains(Symptoms, word) {
		return []string{word}
	}
	return everydaySymptoms[word]
}

// SymptomVocabulary is every word that SymptomsCalled knows, the symptoms first.
func SymptomVocabulary() []string {
	return append(slices.Clone(Symptoms), slices.Sorted(maps.Keys(everydaySymptoms))...)
}
