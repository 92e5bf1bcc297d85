package events

// Symptoms is every word for what the eye sees on a sheet.
var Symptoms = []string{
	"too-dark", "too-light", "dense", "thin", "flat", "harsh", "grey-fog", "veiled-whites", "weak-blacks", "edge-fog",
	"green-fog", "glare-patch", "streaks-light", "streaks-dark", "yellow-stain", "brown-stain", "purple-stain",
	"mottled", "blistered", "scum", "spots-white", "spots-dark", "pinholes", "scratched", "water-marks",
	"finger-marks", "moved", "shaken", "out-of-focus", "soft", "part-soft", "double-image", "cut-off",
	"dark-corners", "light-corners", "one-side-light", "part-reversed", "mirrored", "blank", "black", "milky",
	"bleached", "faded", "sky-bare", "skin-dark",
}
