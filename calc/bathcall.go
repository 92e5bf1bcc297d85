package calc

// BathCall is a developer or a fixer as a sheet finds it: the one place that
// knows which formula serves which bath.
type BathCall struct {
	Fixer    bool    // else a developer
	NominalS float64 // seconds, in the fresh bath at NominalC
	NominalC float64 // °C
	TempC    float64 // °C, as the bath stands
	Q10      float64 // how much faster it works when 10 °C warmer
	Used     float64 // share of its capacity that it has seen, 0 to 10
}

// Time is the time in seconds that the bath calls for, with warnings: DevelopTime
// or FixTime, and their errors.
func (b BathCall) Time() (timeS float64, warnings []string, err error) {
	if b.Fixer {
		return FixTime(b.NominalS, b.NominalC, b.TempC, b.Q10, b.Used)
	}
	return DevelopTime(b.NominalS, b.NominalC, b.TempC, b.Q10, b.Used)
}

// Warmth is the factor on the time for the temperature: TemperatureFactor.
func (b BathCall) Warmth() (float64, error) {
	return TemperatureFactor(b.NominalC, b.TempC, b.Q10)
}

// Growth is the factor on the time for the share of the capacity used: 1 + 0.5·u
// of a developer, 2^u of a fixer. See DevelopTime and FixTime for the sources.
func (b BathCall) Growth() float64 {
	if b.Fixer {
		return FixerGrowth(b.Used)
	}
	return DeveloperGrowth(b.Used)
}

// At is the same bath at another temperature, °C.
func (b BathCall) At(tempC float64) BathCall {
	b.TempC = tempC
	return b
}
