package web

import (
	"fmt"
	"html/template"
	"math"
	"strings"

	"traybook/calc"
	"traybook/projections/why"
)

// grey is a density as a screen shows it: white is bare paper, coded as sRGB.
func grey(density, dmin float64) string {
	v := math.Pow(10, -max(0, density-dmin))
	if v <= 0.0031308 {
		v *= 12.92
	} else {
		v = 1.055*math.Pow(v, 1/2.4) - 0.055
	}
	n := int(math.Round(255 * min(1, max(0, v))))
	return fmt.Sprintf("#%02x%02x%02x", n, n, n)
}

// tonesSVG draws tones beside each other, from four stops below the mid-tone to four above; with marks each under its stop.
func tonesSVG(densities []float64, dmin float64, title string, marks bool) template.HTML {
	const w, h = 30, 54
	tall := h
	if marks {
		tall += 18
	}
	var b strings.Builder
	fit := ""
	if !marks { // plain bands may fill any frame
		fit = ` preserveAspectRatio="none"`
	}
	fmt.Fprintf(&b, `<svg class="tones" viewBox="0 0 %d %d"%s role="img" aria-label="%s">`, w*len(densities), tall, fit, template.HTMLEscapeString(title))
	for i, d := range densities {
		fmt.Fprintf(&b, `<rect x="%d" y="0" width="%d" height="%d" fill="%s"/>`, i*w, w+1, h, grey(d, dmin))
		if marks {
			fmt.Fprintf(&b, `<text x="%d" y="%d" text-anchor="middle" font-size="11">%s</text>`, i*w+w/2, h+14, template.HTMLEscapeString(why.StopMark(calc.FirstZone+i)))
		}
	}
	fmt.Fprintf(&b, `<rect class="redden" x="0" y="0" width="%d" height="%d"/></svg>`, w*len(densities), h) // for the dim light
	return template.HTML(b.String())
}

// gaugeSVG draws a share of a whole, from 0 to 1; more than all of it fills the gauge.
func gaugeSVG(share float64, title, class string) template.HTML {
	full := 200 * min(1, max(0, share))
	return template.HTML(fmt.Sprintf(`<svg class="gauge %s" viewBox="0 0 200 10" preserveAspectRatio="none" role="img" aria-label="%s"><rect class="whole" x="0" y="0" width="200" height="10"/><rect class="part" x="0" y="0" width="%.1f" height="10"/></svg>`,
		class, template.HTMLEscapeString(title), full))
}
