package calc

import (
	"go/ast"
	"go/parser"
	"go/token"
	"math"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// takingNumbers are the functions that take numbers alone and may refuse them.
var takingNumbers = map[string]any{
	"AgedPaper":                  AgedPaper,
	"OldDeveloperGrowth":         OldDeveloperGrowth,
	"FaceToSun":                  FaceToSun,
	"SheetArea":                  SheetArea,
	"UsedShare":                  UsedShare,
	"AiryUM":                     AiryUM,
	"RailBlur":                   RailBlur,
	"FocusBlur":                  FocusBlur,
	"ApertureOfLeastBlur":        ApertureOfLeastBlur,
	"CapScatterStops":            CapScatterStops,
	"SetTime":                    SetTime,
	"RangeAfterFlare":            RangeAfterFlare,
	"PaperSuits":                 PaperSuits,
	"CopyGeometry":               CopyGeometry,
	"FieldSize":                  FieldSize,
	"Daylight":                   Daylight,
	"FacingSun":                  FacingSun,
	"HarderBy":                   HarderBy,
	"Hyperfocal":                 Hyperfocal,
	"FocusBetween":               FocusBetween,
	"RailTolerance":              RailTolerance,
	"TemperatureFactor":          TemperatureFactor,
	"DevelopTime":                DevelopTime,
	"FactorialTime":              FactorialTime,
	"FactorFromTimes":            FactorFromTimes,
	"FixTime":                    FixTime,
	"FixTimeFromClearing":        FixTimeFromClearing,
	"FixerUsedFromClearing":      FixerUsedFromClearing,
	"PreFlashedR":                PreFlashedR,
	"PreFlashShare":              PreFlashShare,
	"HmFromIndex":                HmFromIndex,
	"HmFromISOP":                 HmFromISOP,
	"IndexFromISOP":              IndexFromISOP,
	"RangeStops":                 RangeStops,
	"GradeOfRange":               GradeOfRange,
	"Magnification":              Magnification,
	"ImageDistance":              ImageDistance,
	"ImageDistanceAt":            ImageDistanceAt,
	"Extension":                  Extension,
	"MagnificationFromExtension": MagnificationFromExtension,
	"SubjectDistance":            SubjectDistance,
	"ExtensionFactor":            ExtensionFactor,
	"AngleOfView":                AngleOfView,
	"EV100ForCap":                EV100ForCap,
	"SlipBounds":                 SlipBounds,
	"NearestMark":                NearestMark,
	"EV100FromEV":                EV100FromEV,
	"EV100FromExposure":          EV100FromExposure,
	"ExposureTime":               ExposureTime,
	"EV100FromLux":               EV100FromLux,
	"EV100FromLuminance":         EV100FromLuminance,
	"Dilute":                     Dilute,
	"DiluteStrength":             DiluteStrength,
	"CrissCross":                 CrissCross,
	"GramsFor":                   GramsFor,
	"NewCurve":                   NewCurve,
	"NewDirectPositiveCurve":     NewDirectPositiveCurve,
	"Reciprocity":                Reciprocity,
	"ReciprocityInverse":         ReciprocityInverse,
	"Stops":                      Stops,
	"Ratio":                      Ratio,
	"MoveTime":                   MoveTime,
	"WashChange":                 WashChange,
	"WashResidual":               WashResidual,
	"WashChangesFor":             WashChangesFor,
	"LeastWater":                 LeastWater,
}

// What is no number, or beyond any, is refused wherever it is put in, by a *RangeError: a time or a place that was
// calculated from it would look like any other.
func TestWhatIsNoNumberIsRefusedEverywhere(t *testing.T) {
	for _, name := range takersOfNumbers(t) {
		assert.Contains(t, takingNumbers, name, "put it into takingNumbers in calc/refused_test.go")
	}
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

// takersOfNumbers are the exported functions whose parameters are float64s alone, and which may refuse them.
func takersOfNumbers(t *testing.T) (out []string) {
	t.Helper()
	paths, err := filepath.Glob("*.go")
	require.NoError(t, err)
	plain := func(e ast.Expr) bool { id, ok := e.(*ast.Ident); return ok && id.Name == "float64" }
	for _, path := range paths {
		if strings.HasSuffix(path, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.SkipObjectResolution)
		require.NoError(t, err)
		for _, d := range file.Decls {
			f, ok := d.(*ast.FuncDecl)
			if !ok || f.Recv != nil || !f.Name.IsExported() || f.Type.Results == nil || len(f.Type.Params.List) == 0 {
				continue
			}
			last, _ := f.Type.Results.List[len(f.Type.Results.List)-1].Type.(*ast.Ident)
			if last != nil && last.Name == "error" && !slices.ContainsFunc(f.Type.Params.List, func(p *ast.Field) bool { return !plain(p.Type) }) {
				out = append(out, f.Name.Name)
			}
		}
	}
	require.Greater(t, len(out), 40, "the walk found the package")
	return out
}
