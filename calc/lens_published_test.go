package calc

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

const inch, foot = 25.4, 304.8

func TestPublishedLens(t *testing.T) {
	eachPublished(t, "lens.csv", func(t *testing.T, r row) float64 {
		n, must := func(k string) float64 { return r.num(t, k) }, ok(t)
		switch r.id {
		case "LENS-01":
			return must(ImageDistance(n("f"), n("u")))
		case "LENS-02":
			return must(ImageDistance(n("f"), n("u"))) / 1000
		case "LENS-03":
			return n("h") * must(Magnification(n("f"), n("u"))) / 1000
		case "LENS-04":
			return n("w") * must(Magnification(n("f"), n("u"))) / 1000
		case "LENS-07":
			return must(ImageDistanceAt(n("f")*inch, n("I")/n("O"))) / inch
		case "LENS-10":
			return must(ImageDistanceAt(n("f"), n("m")))
		case "LENS-13":
			return must(Magnification(n("f"), n("u")))
		case "BEF-01", "BEF-11":
			m := must(MagnificationFromExtension(n("f"), n("v")-n("f")))
			factor := must(ExtensionFactor(m, 1))
			if r.id == "BEF-11" {
				return factor * n("t")
			}
			return factor
		case "BEF-02":
			return n("t") * n("factor")
		case "BEF-06", "BEF-08":
			return must(ExtensionFactor(n("m"), 1))
		case "BEF-09":
			return must(Stops(must(ExtensionFactor(n("m"), 1))))
		case "BEF-10":
			return must(ExtensionFactor(n("m"), 1)) * n("t")
		case "PUP-01":
			return n("N") * math.Sqrt(must(ExtensionFactor(n("m"), n("P"))))
		case "PUP-02":
			return must(ExtensionFactor(n("m"), n("P")))
		}
		t.Fatalf("nothing computes %s", r.id)
		return 0
	})
}

func TestPublishedDepth(t *testing.T) {
	eachPublished(t, "depth.csv", func(t *testing.T, r row) float64 {
		n, must := func(k string) float64 { return r.num(t, k) }, ok(t)
		switch {
		case r.id == "HYP-02":
			// The Army's short form leaves the focal length out of both formulas; with
			// it in, the limit lies half a focal length further.
			f := n("f_in") * inch
			h := must(Hyperfocal(f, n("N"), n("c_in")*inch))
			near, _ := depthLimits(h-f, 0, h-f)
			exact, far := depthLimits(h, f, h)
			require.True(t, math.IsInf(far, 1))
			require.InDelta(t, near+f/2, exact, 1e-9)
			return near / foot
		case r.id == "HYP-03":
			return must(Hyperfocal(n("f"), n("N"), n("c"))) / 1000
		case r.id == "HYP-04":
			h := must(Hyperfocal(n("f"), n("N"), n("c")))
			near, _ := depthLimits(h, n("f"), h)
			return near / 1000
		case r.id == "HYP-05":
			return (must(Hyperfocal(n("f_in")*inch, n("N"), n("c_in")*inch)) - n("f_in")*inch) / foot
		case r.id == "DOF-01":
			near, _ := depthLimits(n("H"), 0, n("s"))
			return near
		case r.id == "DOF-03":
			return must(FocusBetween(n("d"), n("D")))
		case r.id == "DOF-04" || r.id == "DOF-06":
			s := 1.0
			if r.id == "DOF-06" {
				s = n("s_over_H") // in units of H instead of s
			}
			near, _ := depthLimits(s/n("s_over_H"), 0, s)
			return near
		case r.id == "DOF-05" || r.id == "DOF-07":
			s := 1.0
			if r.id == "DOF-07" {
				s = n("s_over_H")
			}
			_, far := depthLimits(s/n("s_over_H"), 0, s)
			return far
		case strings.HasPrefix(r.id, "RES-"):
			require.InDelta(t, n("N_exact"), ExactF(n("f_nominal")), 1e-4, "the number behind the mark")
			// Rayleigh's limit is half the disc, at the table's wavelength
			return 1000 / (must(AiryUM(ExactF(n("f_nominal")), 0)) / 2 * n("lambda_nm") / LightNM)
		}
		t.Fatalf("nothing computes %s", r.id)
		return 0
	})
}

func TestPublishedAngles(t *testing.T) {
	eachPublished(t, "angles.csv", func(t *testing.T, r row) float64 {
		f, err := Focus{FocalMM: r.num(t, "f"), SheetWidthMM: r.num(t, "d"), SheetHeightMM: 1}.Figure()
		require.NoError(t, err)
		require.InDelta(t, f.AngleWidthDeg, ok(t)(AngleOfView(r.num(t, "d"), r.num(t, "f"))), 1e-12)
		return f.AngleWidthDeg
	})
}
