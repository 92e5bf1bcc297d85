package projections

import (
	"slices"
	"strings"

	"traybook/events"
)

// SymptomWords is one symptom in plain words: what the eye sees on a negative, and on a print. "" = it is not seen there.
type SymptomWords struct {
	Symptom    string `json:"symptom"`
	Family     string `json:"family"`
	OnNegative string `json:"on_negative"`
	OnPrint    string `json:"on_print"`
}

// SymptomHelp lists every symptom in plain words, family by family.
func SymptomHelp() []SymptomWords { return slices.Clone(symptomWords) }

const (
	ofTone  = "tone"
	ofFog   = "fog and streaks"
	ofStain = "stain and surface"
	ofMarks = "spots and marks"
	ofSharp = "sharpness"
	ofFrame = "frame and corners"
	ofPaper = "how this paper sees"
)

// The texts are short enough for two columns of a screen.
var symptomWords = []SymptomWords{
	{"too-dark", ofTone, "more density than wanted all over", "the whole picture is too dark"},
	{"too-light", ofTone, "less density than wanted all over", "the whole picture is too light"},
	{"dense", ofTone, "too dark all over, as too-dark", ""},
	{"thin", ofTone, "too light all over, as too-light", ""},
	{"flat", ofTone, "little between darkest and lightest", "greys, neither black nor white"},
	{"harsh", ofTone, "black and bare paper, little between", "soot and chalk, little between"},
	{"weak-blacks", ofTone, "", "lights are right, blacks only grey"},
	{"veiled-whites", ofTone, "border clean, clear parts grey", "border white, lights grey"},
	{"blank", ofTone, "white paper, no picture", "white paper, no picture"},
	{"black", ofTone, "black all over", "black all over"},
	{"faded", ofTone, "lost density since it was dry", "lost density since it was dry"},
	{"bleached", ofTone, "light tones eaten away", "lights eaten away"},
	{"grey-fog", ofFog, "grey over picture and border", "grey over picture and border"},
	{"edge-fog", ofFog, "dark from the edge inwards", "dark from the edge inwards"},
	{"green-fog", ofFog, "green sheen, weak picture", "green sheen, weak picture"},
	{"glare-patch", ofFog, "a patch where light shone in", "a dark patch where the negative glared"},
	{"streaks-light", ofFog, "light streaks", "light streaks"},
	{"streaks-dark", ofFog, "dark streaks", "dark streaks"},
	{"mottled", ofFog, "cloudy patches, uneven", "cloudy patches, uneven"},
	{"part-reversed", ofFog, "tones turned round in places", "tones turned round in places"},
	{"yellow-stain", ofStain, "yellow in the whites", "yellow in the whites"},
	{"brown-stain", ofStain, "brown in the whites", "brown in the whites"},
	{"purple-stain", ofStain, "pink or purple patches", "pink or purple patches"},
	{"milky", ofStain, "cloudy, not cleared in the fixer", "cloudy whites, not cleared"},
	{"scum", ofStain, "a white bloom that rubs off", "a white bloom that rubs off"},
	{"blistered", ofStain, "blisters, net or frills in the layer", "blisters, net or frills in the layer"},
	{"water-marks", ofStain, "rims of dried drops", "rims of dried drops"},
	{"spots-white", ofMarks, "white spots", "white spots"},
	{"spots-dark", ofMarks, "dark spots", "dark spots"},
	{"pinholes", ofMarks, "tiny clear holes", "tiny holes, or their dark prints"},
	{"scratched", ofMarks, "lines scratched or rubbed", "lines scratched or rubbed"},
	{"finger-marks", ofMarks, "prints of fingers", "prints of fingers"},
	{"moved", ofSharp, "the subject is smeared, the rest sharp", "the subject is smeared, the rest sharp"},
	{"shaken", ofSharp, "everything smeared one way", "everything smeared one way"},
	{"out-of-focus", ofSharp, "another plane is sharp", "another plane is sharp"},
	{"soft", ofSharp, "no plane is sharp", "nowhere sharp"},
	{"part-soft", ofSharp, "one side or corner unsharp", "one side or corner unsharp"},
	{"double-image", ofSharp, "two pictures on one sheet", "two pictures on one sheet"},
	{"cut-off", ofFrame, "part of the subject is missing", "part of the subject is missing"},
	{"dark-corners", ofFrame, "corners too dark", "corners too dark"},
	{"light-corners", ofFrame, "corners too light", "corners too light"},
	{"one-side-light", ofFrame, "one side lighter than the other", "one side lighter than the other"},
	{"mirrored", ofFrame, "", "left and right changed round"},
	{"sky-bare", ofPaper, "sky all black: it sees blue only", "sky bare white: it sees blue only"},
	{"skin-dark", ofPaper, "skin and reds thin", "skin and reds too dark"},
}

// alsoCalled are other words that people use, and what they may mean.
var alsoCalled = map[string][]string{
	"underexposed": {"thin", "too-light", "too-dark"}, "overexposed": {"dense", "too-dark", "too-light"},
	"dark": {"too-dark", "dense"}, "light": {"too-light", "thin"}, "pale": {"too-light", "thin"}, "bright": {"too-light"},
	"blurry": {"soft", "out-of-focus", "moved"}, "blurred": {"soft", "out-of-focus", "moved"}, "unsharp": {"soft", "out-of-focus"}, "focus": {"out-of-focus"},
	"contrasty": {"harsh"}, "hard": {"harsh"}, "dull": {"flat"}, "grey": {"grey-fog", "flat", "weak-blacks"}, "gray": {"grey-fog", "flat"}, "fog": {"grey-fog", "edge-fog", "green-fog"}, "foggy": {"grey-fog", "veiled-whites"}, "fogged": {"grey-fog", "edge-fog"}, "veil": {"veiled-whites", "grey-fog"},
	"stain": {"yellow-stain", "brown-stain", "purple-stain"}, "stained": {"yellow-stain", "brown-stain", "purple-stain"}, "yellow": {"yellow-stain"}, "brown": {"brown-stain"}, "pink": {"purple-stain"}, "red": {"purple-stain"}, "green": {"green-fog"},
	"uneven": {"mottled", "one-side-light"}, "patchy": {"mottled"}, "streaks": {"streaks-light", "streaks-dark"}, "spots": {"spots-white", "spots-dark"}, "dust": {"spots-white", "pinholes"},
	"white": {"blank", "spots-white"}, "empty": {"blank"}, "nothing": {"blank"}, "reversed": {"mirrored", "part-reversed"}, "mirror": {"mirrored"}, "solarised": {"part-reversed"},
	"leak": {"edge-fog", "streaks-dark", "streaks-light"}, "vignette": {"dark-corners", "light-corners"}, "corners": {"dark-corners", "light-corners"},
	"cloudy": {"milky", "mottled"}, "double": {"double-image"}, "motion": {"moved", "shaken"}, "scratches": {"scratched"}, "fingerprints": {"finger-marks"}, "drops": {"water-marks"},
}

// SymptomsNear gives the symptoms that a word which is none may have meant, the likeliest first, at most four.
func SymptomsNear(word string) []string {
	word = strings.ToLower(strings.TrimSpace(strings.NewReplacer("_", "-", " ", "-").Replace(word)))
	if word == "" {
		return nil
	}
	var out []string
	add := func(s string) {
		if !slices.Contains(out, s) && len(out) < 4 {
			out = append(out, s)
		}
	}
	for _, s := range alsoCalled[strings.ReplaceAll(word, "-", "")] {
		add(s)
	}
	for most := 0; most <= 2; most++ { // the nearest first
		for _, s := range events.Symptoms {
			if most <= len([]rune(word))/3 && lettersOff(word, s) == most {
				add(s)
			}
		}
	}
	if len([]rune(word)) >= 3 {
		for _, s := range events.Symptoms {
			if strings.HasPrefix(s, word) || strings.Contains("-"+s, "-"+word) {
				add(s)
			}
		}
	}
	return out
}

// lettersOff counts letters left out, put in or changed between two words.
func lettersOff(a, b string) int {
	x, y := []rune(a), []rune(b)
	row := make([]int, len(y)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(x); i++ {
		diagonal := row[0]
		row[0] = i
		for j := 1; j <= len(y); j++ {
			cost := 1
			if x[i-1] == y[j-1] {
				cost = 0
			}
			diagonal, row[j] = row[j], min(row[j]+1, row[j-1]+1, diagonal+cost)
		}
	}
	return row[len(y)]
}
