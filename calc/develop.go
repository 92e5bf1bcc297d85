package calc

import (
	"errors"
	"math"
)

// Defaults and limits of development.
const (
	// BathTempC is the temperature times are named for unless a bath says
	// otherwise.
	BathTempC = 20.0
	// DefaultQ10 is the factor by which a bath works faster when 10 degrees
	// warmer. Published: 2.0 to 2.8 by source; the low end is taken.
	DefaultQ10 = 2.0
	// DeveloperSlowC is under which hydroquinone hardly works, HydroquinoneStopsC
	// where it has stopped: a warning each, for not every developer has it. Below
	// DeveloperStopsC no time is called for. Common practice.
	DeveloperSlowC     = 16.0
	HydroquinoneStopsC = 13.0
	DeveloperStopsC    = 10.0
	// BathTempHoldsH is for how many hours the temperature of a bath counts that
	// was measured: a litre in an open tray is as warm as the air by then. Common
	// practice.
	BathTempHoldsH = 4.0
	// BathWarmC is the temperature over which a bath fogs and softens the
	// gelatine. Common practice.
	BathWarmC = 26.0
	// BathsApartC is how far the temperatures of two baths that follow each other
	// may lie apart. Common practice.
	BathsApartC = 5.0
	// DeveloperSlowing is the growth of the called-for time when a developer has
	// seen its whole capacity: × (1 + 0.5·u). Common practice.
	DeveloperSlowing = 0.5
)

// ErrDeveloperCold is the error where a developer is so cold that no time is
// called for.
var ErrDeveloperCold = errors.New("no time is called for below 10 °C, where a developer is too cold to work; warm the bath")

// TemperatureFactor is the factor on a bath's time when it stands at tempC
// instead of nominalC: q10^((nominal − temp)/10). Temperatures −5 to 60 °C, q10
// 1 to 10. Published rule; see DefaultQ10.
func TemperatureFactor(nominalC, tempC, q10 float64) (float64, error) {
	if err := firstError(
		within("nominal temperature", nominalC, -5, 60, "°C"),
		within("temperature of the bath", tempC, -5, 60, "°C"),
		within("q10", q10, 1, 10, ""),
	); err != nil {
		return 0, err
	}
	return math.Pow(q10, (nominalC-tempC)/10), nil
}

// DevelopTime is the time in seconds a developer calls for: its nominal time
// (more than 0, up to a day) at nominalC, moved to tempC by q10 and grown by the
// share of its capacity that it has seen (0 to 10):
//
//	t = t0 · q10^((T0 − T)/10) · (1 + 0.5·u)
//
// Published (q10) and common practice (u). Warnings tell of a bath that is slow,
// warm or exhausted. Below 10 °C the error is ErrDeveloperCold, outside the ranges a
// *RangeError.
func DevelopTime(nominalS, nominalC, tempC, q10, usedShare float64) (timeS float64, warnings []Warning, err error) {
	if err := firstError(
		above("nominal time of development", nominalS, 0, 86400, "s"),
		within("used share of the developer", usedShare, 0, 10, ""),
	); err != nil {
		return 0, nil, err
	}
	factor, err := TemperatureFactor(nominalC, tempC, q10)
	if err != nil {
		return 0, nil, err
	}
	if tempC < DeveloperStopsC {
		return 0, nil, ErrDeveloperCold
	}
	warnings = bathWarnings(tempC, usedShare)
	switch {
	case tempC < HydroquinoneStopsC:
		warnings = append([]Warning{{Code: WarnHydroquinoneStopped}}, warnings...)
	case tempC < DeveloperSlowC:
		warnings = append([]Warning{{Code: WarnDeveloperSlow}}, warnings...)
	}
	return nominalS * factor * DeveloperGrowth(usedShare), warnings, nil
}

// DeveloperGrowth is the factor on a developer's time at a share of its
// capacity: 1 + 0.5·u. Common practice.
func DeveloperGrowth(usedShare float64) float64 {
	return 1 + DeveloperSlowing*math.Max(0, usedShare)
}

func bathWarnings(tempC, usedShare float64) []Warning {
	var w []Warning
	if tempC > BathWarmC {
		w = append(w, Warning{Code: WarnBathWarm})
	}
	if usedShare >= BathExhaustedShare {
		w = append(w, Warning{Code: WarnBathExhausted})
	}
	return w
}

// BathsApart is true where two baths that follow each other differ by more than
// 5 °C. Common practice.
func BathsApart(aC, bC float64) bool { return math.Abs(aC-bC) > BathsApartC }

// The ratios at which development is judged.
const (
	// DevelopLossBelow and DevelopDarkAbove bound what gives a perfect print,
	// provided that the exposure is adjusted to it. Published: Clerc s. 557, from
	// the minimum, 140 s, to 200 s of his sample; the loss below is our own model.
	DevelopLossBelow = 0.85
	DevelopDarkAbove = 1.4
	// DevelopFogAbove is the outer limit: stain and fog. Published: Clerc s. 573
	// and 556–557, where twice the time of maximum black already stains.
	DevelopFogAbove = 2.0
)

// Constants of DevelopmentEffect. Our own model, fitted to the words of the
// sources: at 0.7 the blacks are grey, to 1.4 all is clean, from 2 fog.
const (
	developBlackPower = 1.5  // how fast blacks go grey below DevelopLossBelow
	developSpeed      = 0.35 // stops per doubling between the two bounds
	developSpeedLoss  = 0.7  // stops lost per halving below DevelopLossBelow
	developSpeedGain  = 0.7  // stops gained per doubling above DevelopDarkAbove
	developFogPerUnit = 0.10 // density per unit of r above DevelopFogAbove
	developFogMost    = 0.60
)

// DevEffect is what a development other than called for does to a sheet.
type DevEffect struct {
	// SpeedStops moves the whole curve: − as if less light had fallen.
	SpeedStops float64
	// BlackShare is what comes out of the density above base, 0 to 1.
	BlackShare float64
	// Fog is density without light.
	Fog float64
	// Stained is true from twice the called-for time on.
	Stained bool
}

// DevelopmentEffect is what a ratio r of development given to called for does.
// Below 0.85 density is lost, at 0.7 the blacks are grey; up to 1.4 only the speed
// moves, which the exposure makes up for; above it the mid-tones darken; above 2
// fog comes and stain. A NaN or less than 0 counts as 0. Our own model.
func DevelopmentEffect(r float64) DevEffect {
	speed := func(r float64) float64 { return developSpeed * math.Log2(r) }
	switch {
	case !(r > 0):
		return DevEffect{SpeedStops: -20}
	case r < DevelopLossBelow:
		return DevEffect{
			SpeedStops: math.Max(-20, speed(DevelopLossBelow)+developSpeedLoss*math.Log2(r/DevelopLossBelow)),
			BlackShare: 1 - math.Pow((DevelopLossBelow-r)/DevelopLossBelow, developBlackPower),
		}
	case r <= DevelopDarkAbove:
		return DevEffect{SpeedStops: speed(r), BlackShare: 1}
	}
	return DevEffect{
		SpeedStops: speed(DevelopDarkAbove) + developSpeedGain*math.Log2(math.Min(r, 20)/DevelopDarkAbove),
		BlackShare: 1,
		Fog:        math.Min(developFogMost, developFogPerUnit*math.Max(0, r-DevelopFogAbove)),
		Stained:    r >= DevelopFogAbove,
	}
}

// FactorialTime is the whole time of development in seconds from the time of the
// appearance of the image (more than 0, up to an hour) and a factor (more than 1, up to
// 200). Published: Watkins's method.
func FactorialTime(timeOfAppearanceS, factor float64) (float64, error) {
	if err := firstError(
		above("time of appearance", timeOfAppearanceS, 0, 3600, "s"),
		above("factor of development", factor, 1, 200, ""),
	); err != nil {
		return 0, err
	}
	return timeOfAppearanceS * factor, nil
}

// FactorFromTimes is the factor of development, called-for time over the time of
// appearance, both in seconds: the inverse of FactorialTime.
func FactorFromTimes(timeS, timeOfAppearanceS float64) (float64, error) {
	if err := firstError(
		above("time of appearance", timeOfAppearanceS, 0, 3600, "s"),
		above("time of development", timeS, 0, 86400, "s"),
	); err != nil {
		return 0, err
	}
	factor := timeS / timeOfAppearanceS
	if err := above("factor of development", factor, 1, 200, ""); err != nil {
		return 0, err
	}
	return factor, nil
}

// EarlyImageShare is the share of the usual time of appearance under which
// an image comes so early that the sheet was over-exposed. Published: US Army
// subcourse SS0509 p. 45.
const EarlyImageShare = 1.0 / 3

// EarlyImage is true where an image that appears after firstS seconds, the usual being
// usualS, points to over-exposure. A sheet then pulled early by inspection
// accuses the exposure, not the development.
func EarlyImage(firstS, usualS float64) bool {
	return firstS > 0 && usualS > 0 && firstS < EarlyImageShare*usualS
}
