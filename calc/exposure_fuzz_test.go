package calc

import (
	"errors"
	"math"
	"testing"
	"time"
)

// refusedOrFinite fails unless the numbers are finite or the error names a
// range.
func refusedOrFinite(t *testing.T, what string, err error, numbers ...float64) {
	t.Helper()
	if err != nil {
		var re *RangeError
		if !errors.As(err, &re) || re.Quantity == "" {
			t.Fatalf("%s: an error that names no quantity: %v", what, err)
		}
		return
	}
	for i, v := range numbers {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			t.Fatalf("%s: number %d is %v", what, i, v)
		}
	}
}

func FuzzCalledFor(f *testing.F) {
	f.Add(8.0, 1.0, 100.0, 0.0, 0.0, 0.0, 3.0, 11.0, 4.0, 2.0, 0.86, 0.0, false)
	f.Add(0.0, 0.0, 3.0, -8.0, 0.0, 0.0, 3.0, 2.8, 0.0, 0.0, 0.4, 1.8, true)
	f.Add(0.0, 0.0, 0.0, 0.0, 1e-6, 0.0, 1e-3, 1024.0, 1e6, 1e9, 0.4, 20.0, false)
	f.Add(math.MaxFloat64, math.SmallestNonzeroFloat64, math.Inf(1), math.NaN(), -1.0, 1e300, 0.0, 0.0, 1.0, 1.0, 1.0, 0.0, true)
	f.Fuzz(func(t *testing.T, rf, rt, ri, ev, lux, lum, index, setF, ext, filter, p, place float64, useEV bool) {
		e := Exposure{Reading: Reading{F: rf, TimeS: rt, Index: ri, Lux: lux, CdM2: lum}, PaperIndex: index, SetF: setF,
			ExtensionFactor: ext, FilterFactor: filter, P: p, ZoneStops: place}
		if useEV {
			e.EV = &ev
		}
		c, err := e.CalledFor()
		refusedOrFinite(t, "called-for", err, c.TimeS, c.SetTimeS, c.ErrorStops, c.CapSDStops, c.EV100, c.FromTimeS, sumStops(c))
		if err == nil && (c.TimeS <= 0 || c.SetTimeS <= 0) {
			t.Fatalf("a time of %v s, set %v s", c.TimeS, c.SetTimeS)
		}
	})
}

func FuzzNumbers(f *testing.F) {
	f.Add(8.0, 1.0, 3.0)
	f.Add(0.0, -1.0, 0.0)
	f.Add(math.NaN(), math.Inf(1), math.MaxFloat64)
	f.Add(math.SmallestNonzeroFloat64, 1e9, 1e-9)
	f.Fuzz(func(t *testing.T, a, b, c float64) {
		for name, fn := range map[string]func() (float64, error){
			"stops": func() (float64, error) { return Stops(a) }, "ratio": func() (float64, error) { return Ratio(a) },
			"move": func() (float64, error) { return MoveTime(a, b) }, "filters": func() (float64, error) { return FilterFactor(a, b, c) },
			"mark":          func() (float64, error) { return NearestMark(a) },
			"ev100":         func() (float64, error) { return EV100FromEV(a, b) },
			"exposure":      func() (float64, error) { return EV100FromExposure(a, b, c) },
			"exposure time": func() (float64, error) { return ExposureTime(a, b, c) }, "lux": func() (float64, error) { return EV100FromLux(a, b) },
			"lum":         func() (float64, error) { return EV100FromLuminance(a, b) },
			"reciprocity": func() (float64, error) { return Reciprocity(a, b) },
			"counts for":  func() (float64, error) { return ReciprocityInverse(a, b) },
			"scatter":     func() (float64, error) { return CapScatterStops(a, b) },
			"set":         func() (float64, error) { return SetTime(a) },
			"m":           func() (float64, error) { return Magnification(a, b) }, "v": func() (float64, error) { return ImageDistance(a, b) },
			"v at": func() (float64, error) { return ImageDistanceAt(a, b) }, "extension": func() (float64, error) { return Extension(a, b) },
			"m of": func() (float64, error) { return MagnificationFromExtension(a, b) }, "u": func() (float64, error) { return SubjectDistance(a, b) },
			"factor":     func() (float64, error) { return ExtensionFactor(a, b) },
			"angle":      func() (float64, error) { return AngleOfView(a, b) },
			"hyperfocal": func() (float64, error) { return Hyperfocal(a, b, c) },
			"between":    func() (float64, error) { return FocusBetween(a, b) },
			"rail":       func() (float64, error) { return RailTolerance(a, b, c) }, "airy": func() (float64, error) { return AiryUM(a, b) },
			"rail blur": func() (float64, error) { return RailBlur(a, b, c) }, "focus blur": func() (float64, error) { return FocusBlur(a, 8, b, c) },
			"least": func() (float64, error) { return ApertureOfLeastBlur(a, b) }, "motion": func() (float64, error) { return Motion{a, b}.Blur(0.1, c) },
			"walking": func() (float64, error) { return MotionBlur("walking", a, b) }, "field": func() (float64, error) { return FieldSize(a, b) },
			"daylight": func() (float64, error) { return Daylight(a, b) },
			"facing":   func() (float64, error) { return FacingSun(a, b) },
			"for cap":  func() (float64, error) { return EV100ForCap(a, b) },
		} {
			v, err := fn()
			refusedOrFinite(t, name, err, v)
		}
		if times, err := StripTimes(a, b, int(math.Max(-1, math.Min(50, c)))); err == nil {
			for _, v := range times {
				refusedOrFinite(t, "strip", nil, v)
			}
		} else {
			refusedOrFinite(t, "strip", err)
		}
		low, high, _, err := SlipBounds(a)
		refusedOrFinite(t, "slip", err, low, high)
		setup, err := CopyGeometry(a, b, c, 90, 120, 1)
		refusedOrFinite(t, "copy", err, setup.SubjectMM, setup.TotalMM, setup.Stops, setup.LargestM)
	})
}

func FuzzFocus(f *testing.F) {
	f.Add(135.0, 2000.0, 0.0, 8.0, 0.2, 90.0, 120.0, 1.0)
	f.Add(135.0, 0.0, 1.0, 11.0, 0.0, 0.0, 0.0, 0.0)
	f.Add(1e5, 1e9, 0.0, 0.5, 1e-300, 1e6, 1e6, 10.0)
	f.Fuzz(func(t *testing.T, focal, u, m, mark, c, w, h, pupil float64) {
		r, err := Focus{FocalMM: focal, SubjectMM: u, Magnification: m, F: mark, COCMM: c, SheetWidthMM: w, SheetHeightMM: h, Pupil: pupil}.Figure()
		refusedOrFinite(t, "focus", err, r.ImageDistanceMM, r.ExtensionMM, r.Magnification, r.ExposureFactor, r.Stops, r.NearMM,
			r.HyperfocalMM, r.RailToleranceMM, r.AngleWidthDeg, r.AngleHeightDeg, r.AngleDiagonalDeg, r.AiryUM)
		for _, v := range []float64{r.FarMM, r.SubjectMM, r.FieldWidthMM, r.FieldHeightMM} {
			if math.IsNaN(v) || math.IsInf(v, -1) {
				t.Fatalf("a distance of %v", v)
			}
		}
	})
}

func FuzzLightAt(f *testing.F) {
	f.Add(int64(1777800000), 59.0, 10.5, 1.0, 16.0, 3.0)
	f.Add(int64(0), -90.0, -360.0, 100.0, 0.5, 1e6)
	f.Add(int64(math.MinInt64), math.NaN(), 0.0, 0.0, 0.0, 0.0)
	f.Fuzz(func(t *testing.T, unix int64, lat, lon, sky, mark, index float64) {
		at := time.Unix(unix, 0)
		l, err := LightAt(at, lat, lon, sky)
		refusedOrFinite(t, "light", err, l.AltitudeDeg, l.AzimuthDeg, l.Lux, l.EV100, l.DriftStopsPer10Min, l.HighestDeg)
		if err != nil {
			return
		}
		timeS, _, err := l.TimeFor(mark, index)
		refusedOrFinite(t, "time", err, timeS)
		_, _, err = CapUsableAt(at, lat, lon, sky, mark, index)
		refusedOrFinite(t, "cap", err)
	})
}
