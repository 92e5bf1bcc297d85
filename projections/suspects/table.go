package suspects

// Sources, each as its page was read; what has none here is marked CommonPractice.
const (
	armyP84   = "US Army subcourse SS0509, lesson 8, Laboratory Procedures (1988), p. 84"
	armyP85   = "US Army subcourse SS0509, lesson 8, Laboratory Procedures (1988), p. 85"
	armyP86   = "US Army subcourse SS0509, lesson 8, Laboratory Procedures (1988), p. 86"
	armyP45   = "US Army subcourse SS0509, p. 45"
	armyTM    = "US Army TM 11-2323, s. 33"
	navyPaper = "US Navy 14262, Paper Handling, p. 7-43"
	navyTable = "US Navy NAVEDTRA 14209, Table 10-1 and text"
	navyFixer = "US Navy NAVEDTRA 14209, Life of a Fixing Bath"
	hasluck   = "Book of Photography (Hasluck), Excessive Contrast / Fog"
	hasluckS  = "Book of Photography (Hasluck), Stains; Temperature"
	clerc430  = "Clerc, Photography: Theory and Practice, s. 430-431"
	clerc556  = "Clerc, Photography: Theory and Practice, s. 556-557"
	clerc573  = "Clerc, Photography: Theory and Practice, s. 573"
	lightFog  = "Dictionary of Photography, art. Light Fog"
	bromide   = "Dictionary of Photography, art. Bromide Paper"
	practice1 = "Practical Photography, s. 135-137"
	practice2 = "Practical Photography, s. 299"
	practice3 = "Practical Photography, s. 324-325"
	practice5 = "Practical Photography, s. 587-592"
	practice8 = "Practical Photography, s. 810-812"
	beginners = "Practical Photography, Beginners' Difficulties, s. 153-157"
	modern    = "Modern Photography in Theory and Practice, ch. VIII"
	studio22  = "Studio Light (1922), temperature of a developer"
	handbook  = "Wellington Photographic Handbook, pp. 65-70"
	fixing    = "Encyclopedic Dictionary of Photography, fixing"
	filmLimit = "ANSI IT9.1-1996, as quoted (the limit for film)"
	derived   = "derived from the model of two generations"
	cp        = CommonPractice
)

// table lists the suspects of each symptom, likeliest first for one person with a box camera that has its trays inside. The
// order is our own, from common practice, where a source names the fault without saying how often it is met.
var table = map[string][]Suspicion{
	"too-dark": {
		{"lens-wide", "", "", cp}, {"negative-other", "p", "", derived}, {"cap-count", "", "", cp}, {"meter-misread", "", "", cp},
		{"copy-extension", "p", "", cp}, {"light-moved", "", "", cp}, {"index-off", "", "", cp}, {"filter-left", "n", "", cp}, {"box-mixed-up", "", "", cp},
		{"dev-warm", "", "", armyP86}, {"dev-long", "", "", clerc556}, {"paper-fogged", "", "", hasluck}, {"exposed-twice", "", "", cp},
	},
	"too-light": {
		{"negative-other", "p", "", derived}, {"copy-extension", "p", "", cp}, {"ring-wrong", "n", "", cp}, {"cap-count", "", "", cp}, {"extension-unwritten", "n", "", cp},
		{"dev-weak", "", "", bromide}, {"dev-cold", "", "", studio22}, {"light-moved", "", "", cp}, {"meter-misread", "", "", cp}, {"index-off", "", "", cp},
		{"dev-short", "", "", clerc556}, {"paper-old", "", "", navyPaper}, {"filter-left", "n", "", cp}, {"box-mixed-up", "", "", cp}, {"ring-wrong", "p", "", cp},
	},
	"dense": {
		{"lens-wide", "", "", cp}, {"cap-count", "", "", cp}, {"meter-misread", "", "", cp}, {"light-moved", "", "", cp}, {"index-off", "", "", cp},
		{"filter-left", "", "", cp}, {"box-mixed-up", "", "", cp}, {"dev-warm", "", "", armyP86}, {"dev-long", "", "", armyP86}, {"paper-fogged", "", "", hasluck}, {"exposed-twice", "", "", cp},
	},
	"thin": {
		{"ring-wrong", "", "", cp}, {"cap-count", "", "", cp}, {"extension-unwritten", "", "", cp}, {"light-moved", "", "", cp}, {"dev-weak", "", "", bromide},
		{"dev-cold", "", "", studio22}, {"meter-misread", "", "", cp}, {"index-off", "", "", cp}, {"dev-short", "", "", clerc556}, {"paper-old", "", "", navyPaper},
		{"filter-left", "", "", cp}, {"box-mixed-up", "", "", cp},
	},
	"flat": {
		{"negative-contrast", "p", "", navyTable}, {"dev-short", "", "", navyTable}, {"dev-weak", "", "", bromide}, {"light-flat", "n", "", cp}, {"flare", "", "", armyP84},
		{"dev-cold", "", "", studio22}, {"copy-glare", "p", "", derived}, {"paper-soft", "", "", cp}, {"pre-flash", "", "", cp}, {"dev-flashed-up", "", "", practice5}, {"paper-old", "", "", navyPaper},
	},
	"contrasty": {
		{"copy-two-hard", "p", "", derived}, {"light-hard", "n", "", cp}, {"paper-hard", "", "", cp}, {"negative-contrast", "p", "", practice3}, {"dev-long", "", "", hasluck},
		{"dev-warm", "", "", hasluck}, {"extension-unwritten", "n", "", practice3}, {"cap-count", "p", "", hasluck},
	},
	"weak-blacks": {
		{"dev-short", "", "", clerc573}, {"negative-fogged", "p", "", derived}, {"cap-count", "p", "", practice5}, {"dev-weak", "", "", bromide}, {"negative-other", "p", "", derived},
		{"dev-cold", "", "", studio22}, {"copy-glare", "p", "", derived}, {"flare", "", "", armyP84}, {"paper-soft", "", "", cp}, {"paper-old", "", "", navyPaper},
	},
	"fogged-highlights": {
		{"safelight", "", "", practice5}, {"negative-other", "p", "", derived}, {"flare", "", "", armyP84}, {"dev-long", "", "", clerc573}, {"dev-warm", "", "", clerc573},
		{"paper-fogged", "", "", practice5}, {"pre-flash", "", "", cp}, {"leak-camera", "", "", lightFog}, {"copy-glare", "p", "", derived},
	},
	"blank": {
		{"not-exposed", "", "", cp}, {"dev-weak", "", "", practice2}, {"baths-swapped", "", "", cp}, {"face-back", "", "", clerc430}, {"sheets-stuck", "", "", cp},
		{"cap-count", "", "", practice2}, {"negative-other", "p", "", derived},
	},
	"all-black": {
		{"opened-early", "", "", cp}, {"uncapped", "", "", cp}, {"leak-holder", "", "", clerc430}, {"paper-fogged", "", "", cp}, {"exposed-twice", "", "", cp}, {"cap-count", "", "", cp},
	},
	"faded": {
		{"fix-short", "", "soon", armyP85}, {"wash-short", "", "late", filmLimit}, {"one-fixer", "", "", fixing}, {"fix-exhausted", "", "", fixing}, {"air", "", "late", cp},
		{"fix-long", "", "soon", cp}, {"wash-short", "", "soon", filmLimit},
	},
	"bleached": {
		{"fix-long", "", "", cp}, {"fix-strong", "", "", handbook}, {"negative-other", "p", "", cp}, {"air", "", "late", cp},
	},
	"grey-fog": {
		{"paper-fogged", "", "", hasluck}, {"leak-camera", "", "", lightFog}, {"leak-sleeve", "", "", lightFog}, {"safelight", "", "", hasluck}, {"opened-early", "", "", cp},
		{"dev-contaminated", "", "", hasluck}, {"dev-long", "", "", hasluck}, {"dev-warm", "", "", hasluck}, {"pre-flash", "", "", cp}, {"dev-oxidised", "", "", clerc556},
	},
	"edge-fog": {
		{"leak-holder", "", "", clerc430}, {"paper-fogged", "", "", beginners}, {"leak-camera", "", "", lightFog}, {"paper-old", "", "", clerc430}, {"leak-sleeve", "", "", cp}, {"safelight", "", "", cp},
	},
	"dichroic-fog": {
		{"dev-contaminated", "", "", modern}, {"dev-weak", "", "", cp}, {"stop-missed", "", "", cp}, {"fix-exhausted", "", "", cp}, {"dev-flashed-up", "", "", practice5},
	},
	"glare-patch": {
		{"copy-glare", "p", "", derived}, {"flare", "n", "", armyP84}, {"flare", "p", "", armyP84}, {"sun-in-frame", "n", "", cp}, {"hole", "", "", lightFog},
	},
	"streaks-light": {
		{"negative-marked", "p", "", armyP84}, {"dev-still", "", "", navyTable}, {"dev-shallow", "", "", cp}, {"fixer-splash", "", "", navyTable}, {"sheets-stuck", "", "", cp}, {"stop-missed", "", "", cp},
	},
	"streaks-dark": {
		{"dev-still", "", "", navyTable}, {"leak-holder", "", "", armyP84}, {"negative-marked", "p", "", armyP84}, {"dev-shallow", "", "", cp}, {"stop-missed", "", "", cp}, {"leak-camera", "", "", lightFog}, {"hole", "", "", lightFog},
	},
	"mottled": {
		{"dev-still", "", "", navyTable}, {"dev-flashed-up", "", "", armyP45}, {"dev-shallow", "", "", cp}, {"dev-short", "", "", cp}, {"dev-weak", "", "", cp}, {"paper-old", "", "", navyPaper}, {"stop-missed", "", "", cp},
	},
	"solarised": {
		{"opened-early", "", "", cp}, {"sun-in-frame", "n", "", cp}, {"lens-wide", "n", "", cp}, {"leak-camera", "", "", lightFog}, {"leak-sleeve", "", "", lightFog},
	},
	"yellow-stain": {
		{"dev-oxidised", "", "soon", modern}, {"stop-missed", "", "soon", cp}, {"fix-exhausted", "", "soon", armyP86}, {"dev-long", "", "soon", clerc556}, {"fix-still", "", "soon", armyP86},
		{"wash-short", "", "late", filmLimit}, {"one-fixer", "", "late", fixing}, {"fix-short", "", "", armyP85}, {"fix-exhausted", "", "late", fixing}, {"paper-old", "", "", navyPaper}, {"wash-short", "", "soon", filmLimit},
	},
	"brown-stain": {
		{"fix-exhausted", "", "soon", armyP86}, {"dev-oxidised", "", "soon", modern}, {"stop-missed", "", "soon", cp}, {"fix-short", "", "soon", armyP85}, {"fixer-splash", "", "", hasluckS},
		{"one-fixer", "", "late", fixing}, {"wash-short", "", "late", filmLimit}, {"fix-short", "", "late", armyP85}, {"wash-short", "", "soon", filmLimit},
	},
	"purple-stain": {
		{"fix-still", "", "", hasluckS}, {"fix-short", "", "", armyP85}, {"fix-exhausted", "", "", cp}, {"tray-dirty", "", "", practice1}, {"opened-early", "", "", cp},
	},
	"milky": {
		{"fix-short", "", "", navyFixer}, {"fix-exhausted", "", "", navyFixer}, {"fix-cold", "", "", armyTM}, {"fix-still", "", "", armyP86}, {"fix-sulphur", "", "", practice8},
	},
	"scum": {
		{"fix-sulphur", "", "", practice8}, {"water-hard", "", "", practice8}, {"stop-missed", "", "", cp}, {"fix-exhausted", "", "", cp}, {"wash-short", "", "", cp},
	},
	"blistered": {
		{"wash-rough", "", "", handbook}, {"fix-strong", "", "", handbook}, {"dev-warm", "", "", cp}, {"acid-shock", "", "", cp},
	},
	"water-marks": {
		{"drops-left", "", "", cp}, {"water-hard", "", "", practice8},
	},
	"spots-white": {
		{"dust-paper", "", "", armyP84}, {"dust-negative", "p", "", cp}, {"dev-bells", "", "", navyTable}, {"fixer-splash", "", "", navyTable}, {"negative-marked", "p", "", derived},
	},
	"spots-dark": {
		{"negative-marked", "p", "", derived}, {"dev-grains", "", "", clerc430}, {"tray-dirty", "", "", clerc430}, {"hole", "", "", lightFog}, {"dev-bells", "p", "", navyTable},
	},
	"pinholes": {
		{"dust-paper", "n", "", armyP84}, {"negative-marked", "p", "", derived}, {"dust-paper", "p", "", armyP84}, {"acid-shock", "", "", cp}, {"dev-bells", "", "", navyTable},
	},
	"scratched": {
		{"scratch-wet", "", "", cp}, {"negative-marked", "p", "", cp}, {"scratch-dry", "", "", cp},
	},
	"finger-marks": {
		{"fingers", "", "", armyP84}, {"fixer-splash", "", "", hasluckS}, {"negative-marked", "p", "", cp},
	},
	"subject-moved": {
		{"sitter-moved", "n", "", armyP85}, {"negative-unsharp", "p", "", armyP85}, {"camera-moved", "", "", armyP85}, {"exposed-twice", "", "", cp},
	},
	"camera-shake": {
		{"camera-moved", "n", "", armyP85}, {"negative-unsharp", "p", "", armyP85}, {"camera-moved", "p", "", armyP85}, {"sitter-moved", "n", "", armyP85},
	},
	"out-of-focus": {
		{"focus-slipped", "n", "", armyP85}, {"negative-unsharp", "p", "", cp}, {"copy-focus", "p", "", cp}, {"register", "", "", armyP85}, {"depth", "n", "", cp}, {"focus-stop", "", "", cp}, {"focus-blue", "", "", cp},
	},
	"soft": {
		{"negative-unsharp", "p", "", cp}, {"camera-moved", "", "", armyP85}, {"lens-dim", "", "", armyP84}, {"copy-focus", "p", "", cp}, {"focus-slipped", "n", "", armyP85}, {"register", "", "", armyP85}, {"stop-small", "", "", cp}, {"focus-blue", "", "", cp},
	},
	"part-soft": {
		{"depth", "n", "", cp}, {"copy-askew", "p", "", cp}, {"paper-buckled", "", "", cp}, {"negative-unsharp", "p", "", cp}, {"board-askew", "", "", cp}, {"lens-circle", "", "", cp},
	},
	"double-image": {
		{"exposed-twice", "", "", cp}, {"camera-moved", "", "", armyP85}, {"uncapped", "", "", cp}, {"negative-marked", "p", "", cp},
	},
	"cut-off": {
		{"framed-wrong", "", "", armyP85}, {"glass-larger", "", "", cp}, {"holder-lip", "", "", cp}, {"hood-in-way", "", "", cp},
	},
	"vignetted": {
		{"negative-marked", "p", "", cp}, {"leak-holder", "", "", cp}, {"paper-fogged", "", "", beginners}, {"leak-camera", "", "", lightFog},
	},
	"light-corners": {
		{"lens-circle", "", "", cp}, {"hood-in-way", "", "", cp}, {"copy-lamps", "p", "", cp}, {"negative-marked", "p", "", cp}, {"holder-lip", "", "", cp},
	},
	"one-side-light": {
		{"copy-lamps", "p", "", cp}, {"negative-marked", "p", "", cp}, {"dev-shallow", "", "", cp}, {"hood-in-way", "", "", cp}, {"leak-camera", "", "", cp},
	},
	"mirrored": {
		{"seen-through", "", "", derived},
	},
	"sky-bare": {
		{"paper-blind", "", "", cp}, {"lens-wide", "n", "", cp}, {"negative-other", "p", "", derived},
	},
	"skin-dark": {
		{"paper-blind", "", "", cp}, {"extension-unwritten", "n", "", cp}, {"negative-other", "p", "", derived},
	},
}
