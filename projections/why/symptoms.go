package why

import "slices"

// SymptomWords is one symptom in plain words: what the eye sees on a negative, and on a print. "" = it is not seen there.
type SymptomWords struct {
	Symptom    string `json:"symptom"`
	Family     string `json:"family"`      // its group: tone, fog and streaks, sharpness and others
	OnNegative string `json:"on_negative"` // how it looks on a negative; "" = it is not seen there
	OnPrint    string `json:"on_print"`    // how it looks on a print; "" = it is not seen there
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
	{"contrasty", ofTone, "black and bare paper, little between", "soot and chalk, little between"},
	{"weak-blacks", ofTone, "", "highlights right, blacks only grey"},
	{"fogged-highlights", ofTone, "border clean, clear parts grey", "border white, highlights grey"},
	{"blank", ofTone, "white paper, no picture", "white paper, no picture"},
	{"all-black", ofTone, "black all over", "black all over"},
	{"faded", ofTone, "lost density since it was dry", "lost density since it was dry"},
	{"bleached", ofTone, "light tones eaten away", "highlights eaten away"},
	{"grey-fog", ofFog, "grey over picture and border", "grey over picture and border"},
	{"edge-fog", ofFog, "dark from the edge inwards", "dark from the edge inwards"},
	{"dichroic-fog", ofFog, "green sheen, weak picture", "green sheen, weak picture"},
	{"glare-patch", ofFog, "a patch where light shone in", "a dark patch where the negative glared"},
	{"streaks-light", ofFog, "light streaks", "light streaks"},
	{"streaks-dark", ofFog, "dark streaks", "dark streaks"},
	{"mottled", ofFog, "cloudy patches, uneven", "cloudy patches, uneven"},
	{"solarised", ofFog, "tones turned round in places", "tones turned round in places"},
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
	{"subject-moved", ofSharp, "the subject is smeared, the rest sharp", "the subject is smeared, the rest sharp"},
	{"camera-shake", ofSharp, "everything smeared one way", "everything smeared one way"},
	{"out-of-focus", ofSharp, "another plane is sharp", "another plane is sharp"},
	{"soft", ofSharp, "no plane is sharp", "nowhere sharp"},
	{"part-soft", ofSharp, "one side or corner unsharp", "one side or corner unsharp"},
	{"double-image", ofSharp, "two pictures on one sheet", "two pictures on one sheet"},
	{"cut-off", ofFrame, "part of the subject is missing", "part of the subject is missing"},
	{"vignetted", ofFrame, "corners too dark", "corners too dark"},
	{"light-corners", ofFrame, "corners too light", "corners too light"},
	{"one-side-light", ofFrame, "one side lighter than the other", "one side lighter than the other"},
	{"mirrored", ofFrame, "", "left and right changed round"},
	{"sky-bare", ofPaper, "sky all black: it sees blue only", "sky bare white: it sees blue only"},
	{"skin-dark", ofPaper, "skin and reds thin", "skin and reds too dark"},
}
