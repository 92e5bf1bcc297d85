package calc

import (
	"fmt"
	"maps"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"traybook/events/eventstest"
)

const heldRefusals = "testdata/refusals.txt"

// What each function says of an argument that is no number, with the bounds of that argument, is held word by word; of
// several such it tells the first. Beside a refusal there is no figure.
func TestEveryRefusalNamesItsBounds(t *testing.T) {
	var out strings.Builder
	for _, name := range slices.Sorted(maps.Keys(takingNumbers)) {
		v := reflect.ValueOf(takingNumbers[name])
		call := func(bad func(i int) bool, value float64) string {
			args := make([]reflect.Value, v.Type().NumIn())
			for i := range args {
				args[i] = reflect.ValueOf(1.0)
				if bad(i) {
					args[i] = reflect.ValueOf(value)
				}
				args[i] = args[i].Convert(v.Type().In(i))
			}
			said := v.Call(args)
			err, _ := said[len(said)-1].Interface().(error)
			if err == nil {
				return "taken"
			}
			for _, r := range said[:len(said)-1] {
				assert.True(t, r.IsZero(), "%s gives %v beside %q", name, r, err)
			}
			return err.Error()
		}
		for at := range v.Type().NumIn() {
			fmt.Fprintf(&out, "%s, argument %d: %s\n", name, at+1, call(func(i int) bool { return i == at }, math.NaN()))
		}
		fmt.Fprintf(&out, "%s, all: %s\n", name, call(func(int) bool { return true }, math.NaN()))
		for from := 1; from < v.Type().NumIn(); from++ {
			fmt.Fprintf(&out, "%s, all from %d on: %s\n", name, from+1, call(func(i int) bool { return i >= from }, math.Inf(1)))
		}
	}
	refusalsOfMore(&out)
	eventstest.Hold(t, heldRefusals, out.String())
}

// refusalsOfMore tells, of what takes more than plain numbers, what it says of each number in it that is none.
func refusalsOfMore(out *strings.Builder) {
	curve, _ := NewCurve(3, 110, 0.08, 2)
	noon := time.Date(2026, 6, 21, 10, 0, 0, 0, time.UTC)
	tell := func(name string, err error) { fmt.Fprintf(out, "%s: %v\n", name, err) }
	each := func(name string, of any, call func() error) {
		v := reflect.ValueOf(of).Elem()
		for i := range v.NumField() {
			f, field := v.Field(i), v.Type().Field(i)
			if !field.IsExported() || f.Kind() != reflect.Float64 {
				continue
			}
			was := f.Float()
			for _, bad := range []float64{math.NaN(), math.Inf(1), -1e300} {
				f.SetFloat(bad)
				tell(fmt.Sprintf("%s, %s %v", name, field.Name, bad), call())
			}
			f.SetFloat(was)
		}
	}
	exposure := Exposure{Reading: Reading{F: 8, TimeS: 4, Index: 3}, PaperIndex: 3, SetF: 8, ExtensionFactor: 1, FilterFactor: 1, P: 1, CapSDS: 0.1}
	each("CalledFor", &exposure, func() error { _, err := exposure.CalledFor(); return err })
	bath := BathCall{NominalS: 60, NominalC: 20, TempC: 20, Q10: 2, Used: 0.1}
	for _, bath.Fixer = range []bool{false, true} {
		each(fmt.Sprint("Time, fixer ", bath.Fixer), &bath, func() error { _, _, err := bath.Time(); return err })
	}
	motion := Motion{5, 5}
	each("Blur", &motion, func() error { _, err := motion.Blur(1, 1); return err })
	each("StillS", &motion, func() error { _, err := motion.StillS(1, 0.1); return err })
	wash := WashDone{Changes: 4, VolumeML: 1000, SoakS: 60, RunningS: 60, TempC: 20, AreaM2: 0.01, Together: 1}
	each("After", &wash, func() error { _, err := Unwashed().After(wash); return err })
	sheet := NewSheet(curve, 0.01)
	each("Check", &sheet, func() error { return sheet.Check() })
	focus := Focus{FocalMM: 135, SubjectMM: 2000, F: 8, COCMM: 0.2, SheetWidthMM: 100, SheetHeightMM: 125, Pupil: 1}
	each("Figure", &focus, func() error { _, err := focus.Figure(); return err })
	interval := Interval{1, 0.9, 1.1}
	each("FilterFactorFit", &interval, func() error { _, err := FilterFactorFit(Interval{2, 1.9, 2.1}, interval); return err })
	judged := JudgedSheet{CalledForS: 4, DoneS: 4, SD: 0.3}
	each("FitIndex", &judged, func() error { _, err := FitIndex([]JudgedSheet{judged, judged, judged, judged, judged}, 1); return err })
	press := CapPress{4, 4.1}
	each("FitCap", &press, func() error { _, err := FitCap([]CapPress{press, {4, 4}, {4, 4.2}, {4, 4.1}, {4, 3.9}}); return err })
	black := BlackTime{0.1, 40}
	each("FitBlack", &black, func() error { _, err := FitBlack([]BlackTime{black, {0.3, 44}, {0.5, 50}, {0.9, 60}}); return err })
	for _, bad := range []float64{math.NaN(), math.Inf(1), -1e300} {
		for _, c := range []struct {
			name string
			call func() error
		}{
			{"SunLux, latitude", func() error { _, err := SunLux(noon, bad, 10, 1); return err }},
			{"SunLux, longitude", func() error { _, err := SunLux(noon, 59, bad, 1); return err }},
			{"SunLux, sky", func() error { _, err := SunLux(noon, 59, 10, bad); return err }},
			{"SunOn", func() error { _, err := SunOn(noon, bad, 10); return err }},
			{"LightAt", func() error { _, err := LightAt(noon, 59, 10, bad); return err }},
			{"TimeFor, f", func() error { _, _, err := Light{EV100: 12}.TimeFor(bad, 3); return err }},
			{"TimeFor, index", func() error { _, _, err := Light{EV100: 12}.TimeFor(8, bad); return err }},
			{"CapUsableAt, f", func() error { _, _, err := CapUsableAt(noon, 59, 10, 1, bad, 3); return err }},
			{"CapUsableAt, index", func() error { _, _, err := CapUsableAt(noon, 59, 10, 1, 8, bad); return err }},
			{"CapUsableAt, sky", func() error { _, _, err := CapUsableAt(noon, 59, 10, bad, 8, 3); return err }},
			{"StripTimes, base", func() error { _, err := StripTimes(bad, 1, 3); return err }},
			{"StripTimes, step", func() error { _, err := StripTimes(1, bad, 3); return err }},
			{"StripAdded", func() error { _, err := StripAdded([]float64{1, bad}); return err }},
			{"SoakLeaves, soak", func() error { _, err := SoakLeaves(FibreBase, bad, 20); return err }},
			{"SoakLeaves, temperature", func() error { _, err := SoakLeaves(FibreBase, 60, bad); return err }},
			{"LogH", func() error { _, err := curve.LogH(bad); return err }},
			{"StopsFromDensity", func() error { _, err := curve.StopsFromDensity(bad, 1); return err }},
			{"FilterFactor", func() error { _, err := FilterFactor(2, bad); return err }},
			{"PreFlashThreshold", func() error { _, _, _, err := PreFlashThreshold([]float64{1, bad}, 2); return err }},
			{"RailTable", func() error { _, err := RailTable(135, 8, 0.2, 1, []float64{bad}); return err }},
			{"MagnificationOf", func() error { _, _, err := MagnificationOf(135, &bad, nil, nil); return err }},
		} {
			tell(fmt.Sprintf("%s %v", c.name, bad), c.call())
		}
	}
}
