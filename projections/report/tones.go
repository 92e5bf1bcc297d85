package report

// From where on a measured tone is worth a second look. Our own choice: a hand that judges overrules them.
const (
	veiled     = 0.15 // lightest tone over the paper's white
	edgeFogged = 0.05 // outer border over the inner
	weakShare  = 0.75 // of the paper's range, darkest tone
	flatRange  = 0.9  // from the lightest tone to the darkest
	softBelow  = 0.1
	dark       = 1.1 // median tone, where the highlights are grey too
	light      = 0.3 // median tone, where the blacks are weak too
)

// unknownSpan is a paper's range of density where the box does not say it. Our own choice.
const unknownSpan = 1.9

// Tones are measured on a scan of a sheet: densities over the paper's white (lightest, median, darkest), how much denser
// the outer border is than the inner one, and sharpness from 0 to 1, 0 where it was not measured.
type Tones struct{ White, Mid, Black, EdgeVeil, Sharpness float64 }

// SymptomsOfTones are the symptoms that measured tones speak for. span is the paper's range of density, 0 where it is not
// known.
func SymptomsOfTones(t Tones, span float64) []string {
	out := []string{}
	add := func(is bool, symptom string) {
		if is {
			out = append(out, symptom)
		}
	}
	if span <= 0 {
		span = unknownSpan
	}
	weak := t.Black < weakShare*span
	add(t.Mid > dark && t.White > veiled, "too-dark")
	add(t.Mid < light && weak, "too-light")
	add(t.White > veiled && t.Mid <= dark, "fogged-highlights")
	add(weak && t.Mid >= light, "weak-blacks")
	add(t.Black-t.White < flatRange, "flat")
	add(t.EdgeVeil > edgeFogged, "edge-fog")
	add(t.Sharpness > 0 && t.Sharpness < softBelow, "soft")
	return out
}
