package calc

import (
	"math"
	"reflect"
	"testing"

	"github.com/stretchr/testify/assert"
)

// takingNumbers are the functions that take numbers alone and may refuse them.
var takingNumbers = map[string]any{
	"AgedPaper":                  AgedPaper,
	"OldDeveloperGrowth":         OldDeveloperGrowth,
	"Av":                         Av,
	"FFromAv":                    FFromAv,
	"Tv":                         Tv,
	"TimeFromTv":                 TimeFromTv,
	"Sv":                         Sv,
	"Bv":                         Bv,
	"SpeedDegrees":               SpeedDegrees,
	"SheetArea":                  SheetArea,
	"UsedShare":                  UsedShare,
	"SheetsFor":                  SheetsFor,
	"AiryUM":                     AiryUM,
	"RayleighLines":              RayleighLines,
	"RailBlur":                   RailBlur,
	"FocusBlur":                  FocusBlur,
	"ApertureOfLeastBlur":        ApertureOfLeastBlur,
	"CapScatterStops":            CapScatterStops,
	"StartStopSD":                StartStopSD,
	"HandShortS":                 HandShortS,
	"SetTime":                    SetTime,
	"RangeAfterFlare":            RangeAfterFlare,
	"FlareFromRanges":            FlareFromRanges,
	"MeanGradient":               MeanGradient,
	"PaperSuits":                 PaperSuits,
	"CopyGeometry":               CopyGeometry,
	"FieldSize":                  FieldSize,
	"Daylight":                   Daylight,
	"FacingSun":                  FacingSun,
	"TwilightLux":                TwilightLux,
	"COCFor":                     COCFor,
	"Hyperfocal":                 Hyperfocal,
	"NearFar":                    NearFar,
	"DepthLimits":                DepthLimits,
	"FocusBetween":               FocusBetween,
	"CopyDepth":                  CopyDepth,
	"RailTolerance":              RailTolerance,
	"TemperatureFactor":          TemperatureFactor,
	"Q10FromTimes":               Q10FromTimes,
	"DevelopTime":                DevelopTime,
	"DevelopRatio":               DevelopRatio,
	"FactorialTime":              FactorialTime,
	"FactorFromTimes":            FactorFromTimes,
	"MixedFactor":                MixedFactor,
	"FixTime":                    FixTime,
	"FixTimeFromClearing":        FixTimeFromClearing,
	"FixerUsedFromClearing":      FixerUsedFromClearing,
	"FixerDeadClearing":          FixerDeadClearing,
	"PreFlashedR":                PreFlashedR,
	"PreFlashShare":              PreFlashShare,
	"HmFromIndex":                HmFromIndex,
	"HmFromISOP":                 HmFromISOP,
	"ISOPFromHm":                 ISOPFromHm,
	"IndexFromISOP":              IndexFromISOP,
	"SpeedStops":                 SpeedStops,
	"FilterFactorFromSpeeds":     FilterFactorFromSpeeds,
	"ISORange":                   ISORange,
	"RangeStops":                 RangeStops,
	"GradeOfRange":               GradeOfRange,
	"Magnification":              Magnification,
	"ImageDistance":              ImageDistance,
	"ImageDistanceAt":            ImageDistanceAt,
	"Extension":                  Extension,
	"MagnificationFromExtension": MagnificationFromExtension,
	"SubjectDistance":            SubjectDistance,
	"ExtensionFactor":            ExtensionFactor,
	"WorkingF":                   WorkingF,
	"ImageSize":                  ImageSize,
	"FarDistance":                FarDistance,
	"FarFocal":                   FarFocal,
	"AngleOfView":                AngleOfView,
	"EV100ForCap":                EV100ForCap,
	"SlipBounds":                 SlipBounds,
	"NearestMark":                NearestMark,
	"NearestFullStop":            NearestFullStop,
	"EV":                         EV,
	"EV100FromEV":                EV100FromEV,
	"EVFromEV100":                EVFromEV100,
	"EV100FromExposure":          EV100FromExposure,
	"ExposureTime":               ExposureTime,
	"EV100FromLux":               EV100FromLux,
	"LuxFromEV100":               LuxFromEV100,
	"EV100FromLuminance":         EV100FromLuminance,
	"LuminanceFromEV100":         LuminanceFromEV100,
	"LuxFromFootcandles":         LuxFromFootcandles,
	"PaperLux":                   PaperLux,
	"Dilute":                     Dilute,
	"DiluteStrength":             DiluteStrength,
	"MixStrength":                MixStrength,
	"CrissCross":                 CrissCross,
	"PercentSolution":            PercentSolution,
	"GramsFor":                   GramsFor,
	"GrainsFor":                  GrainsFor,
	"NewCurve":                   NewCurve,
	"NewDirectPositiveCurve":     NewDirectPositiveCurve,
	"Reciprocity":                Reciprocity,
	"ReciprocityInverse":         ReciprocityInverse,
	"AddedTime":                  AddedTime,
	"AddedTimeFactor":            AddedTimeFactor,
	"Stops":                      Stops,
	"Ratio":                      Ratio,
	"MoveTime":                   MoveTime,
	"FilterFactorOfDensity":      FilterFactorOfDensity,
	"IndexBehindFilter":          IndexBehindFilter,
	"BurnDodge":                  BurnDodge,
	"SunnyF":                     SunnyF,
	"WashChange":                 WashChange,
	"WashResidual":               WashResidual,
	"WashChangesFor":             WashChangesFor,
	"LeastWater":                 LeastWater,
}

// What is no number, or beyond any, is refused wherever it is put in, by a *RangeError: a time or a place that was
// calculated from it would look like any other.
func TestWhatIsNoNumberIsRefusedEverywhere(t *testing.T) {
	for name, f := range takingNumbers {
		v := reflect.ValueOf(f)
		for at := range v.Type().NumIn() {
			for _, bad := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
				args := make([]reflect.Value, v.Type().NumIn())
				for i := range args {
					args[i] = reflect.ValueOf(1.0)
				}
				args[at] = reflect.ValueOf(bad)
				out := v.Call(args)
				err, _ := out[len(out)-1].Interface().(error)
				var re *RangeError
				assert.ErrorAs(t, err, &re, "%s with %v as argument %d", name, bad, at+1)
			}
		}
	}
}
