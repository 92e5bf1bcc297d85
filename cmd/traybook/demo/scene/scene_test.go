package scene

import (
	"image"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/calc"
)

func good(t testing.TB, print bool) Facts {
	t.Helper()
	hm, err := calc.HmFromIndex(4)
	require.NoError(t, err)
	c, err := calc.NewCurve(hm, 110, calc.DefaultDmin, calc.DefaultDmaxGlossy)
	require.NoError(t, err)
	return Facts{Name: "2026-001", Subject: "The ferry at the steps", Print: print,
		Tones: calc.TwoGenerations{Neg: calc.NewSheet(c, calc.CameraFlare), Print: calc.NewSheet(c, calc.CopyFlare), CopyMeteredMid: true}}
}

// look is what a scanner would measure within the border.
type look struct{ light, dark, mid, border, steep, left, right float64 }

func lookAt(img *image.Gray) look {
	var v []float64
	b := img.Bounds().Inset(40)
	var steep, left, right float64
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			p := float64(img.GrayAt(x, y).Y)
			v = append(v, p)
			steep += math.Abs(p - float64(img.GrayAt(x-1, y).Y))
			if x < b.Min.X+30 {
				left += p
			} else if x >= b.Max.X-30 {
				right += p
			}
		}
	}
	slices.Sort(v)
	n := float64(b.Dy() * 30)
	return look{v[len(v)*199/200], v[len(v)/200], v[len(v)/2], float64(img.GrayAt(5, 5).Y), steep / float64(len(v)), left / n, right / n}
}

// Each slip shows as it does on paper.
func TestASheetThatFailedLooksFailedInItsWay(t *testing.T) {
	for _, c := range []struct {
		slip   string
		print  bool
		put    func(*Facts)
		differ func(good, bad look) bool
	}{
		{"print over-exposed", true, func(f *Facts) { f.Tones.Print.ExposureStops = 1.5 }, func(g, b look) bool { return b.mid < g.mid-25 }},
		{"print under-exposed", true, func(f *Facts) { f.Tones.Print.ExposureStops = -1.5 }, func(g, b look) bool { return b.mid > g.mid+25 }},
		{"print developed short", true, func(f *Facts) { f.Tones.Print.DevRatio = 0.5 }, func(g, b look) bool { return b.dark > g.dark+10 }},
		{"negative under-exposed", false, func(f *Facts) { f.Tones.Neg.ExposureStops = -2 }, func(g, b look) bool { return b.mid > g.mid+30 }},
		{"negative over-exposed", false, func(f *Facts) { f.Tones.Neg.ExposureStops = 2 }, func(g, b look) bool { return b.mid < g.mid-30 }},
		{"print fogged", true, func(f *Facts) { f.Tones.Print.FogShare = 2 }, func(g, b look) bool { return b.border < g.border-10 }},
		{"print pre-flashed too much", true, func(f *Facts) { f.Tones.Print.PreFlashShare = 2 }, func(g, b look) bool { return b.light < g.light-10 }},
		{"out of focus", true, func(f *Facts) { f.Blur = 0.02 }, func(g, b look) bool { return b.steep < 0.8*g.steep }},
		{"camera-shake", true, func(f *Facts) { f.Shake = 0.02 }, func(g, b look) bool { return b.steep < 0.8*g.steep }},
		{"light at one edge", false, func(f *Facts) { f.OneSide = 20 }, func(g, b look) bool { return b.right < g.right-25 && b.left > g.left-12 }},
		{"milky", true, func(f *Facts) { f.Milky = 1 }, func(g, b look) bool { return b.light < g.light-5 }},
		{"stained", true, func(f *Facts) { f.Stain = 1 }, func(g, b look) bool { return b.border < g.border-10 }},
	} {
		t.Run(c.slip, func(t *testing.T) {
			g, b := good(t, c.print), good(t, c.print)
			c.put(&b)
			gl, bl := lookAt(Render(g)), lookAt(Render(b))
			assert.True(t, c.differ(gl, bl), "well done %+v, failed %+v", gl, bl)
		})
	}
}

func TestMovedAndDoubledDifferFromTheStill(t *testing.T) {
	for _, put := range []func(*Facts){func(f *Facts) { f.Motion = 0.04 }, func(f *Facts) { f.Double = true }, func(f *Facts) { f.Mottled = 1 }} {
		g, b := good(t, true), good(t, true)
		put(&b)
		x, y := Render(g), Render(b)
		changed := 0
		for i := range x.Pix {
			if d := int(x.Pix[i]) - int(y.Pix[i]); d > 15 || d < -15 {
				changed++
			}
		}
		assert.Greater(t, changed, len(x.Pix)/100)
	}
}

func TestTheSameFactsGiveTheSameScan(t *testing.T) {
	a, b := Render(good(t, true)), Render(good(t, true))
	require.Equal(t, a.Pix, b.Pix)
	other := good(t, true)
	other.Name = "2026-002"
	require.NotEqual(t, a.Pix, Render(other).Pix, "another picture is another view")
	other.Upright = true
	require.Equal(t, image.Pt(shortSide, longSide), Render(other).Bounds().Size())
}

func TestMotifOfSubjects(t *testing.T) {
	for subject, want := range map[string]motif{
		"Mooring ropes": still, "Gauge glass": still, "The mate, full length": sitter, "Saloon through the door": inside, "Empty steps": harbour,
	} {
		assert.Equal(t, want, motifOf(subject, false), subject)
	}
	assert.Equal(t, sitter, motifOf("Nothing that is known", true))
}

func BenchmarkRender(b *testing.B) {
	f := good(b, true)
	for b.Loop() {
		Render(f)
	}
}
