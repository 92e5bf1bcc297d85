package main

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"traybook/cmd/traybook/screen"
	"traybook/events"
	"traybook/export/scan"
	"traybook/projections"
)

var errNoFile = errors.New("is not a file; name a picture")

// suggestion is what the scan of a print with its white border offers to judge. Nothing of it is written unasked.
type suggestion struct {
	Sheet          string         `json:"sheet"`
	Density        events.Density `json:"density"` // absolute: over the scan's border, with the paper's own density added
	Evenness       float64        `json:"evenness_stops"`
	BorderEvenness float64        `json:"border_evenness_stops"`
	EdgeVeil       float64        `json:"edge_veil"`
	Sharpness      *float64       `json:"sharpness"` // 0 … 1
	Clipped        bool           `json:"clipped"`   // the border is as white as the scanner can tell
	Symptoms       []string       `json:"symptoms"`
	Command        string         `json:"command"`
}

// From where on a measured tone is worth a second look. Our own choice: a hand that judges overrules them.
const (
	veiled     = 0.15 // lightest tone over the paper's white
	edgeFogged = 0.05 // outer border over the inner
	weakShare  = 0.75 // of the paper's range, darkest tone
	flatRange  = 0.9  // from the lightest tone to the darkest
	softBelow  = 0.1
	dark       = 1.1 // median tone, where the lights are grey too
	light      = 0.3 // median tone, where the blacks are weak too
)

// suggest turns measures into what judge could be told.
func suggest(d *desk, r readScan) (*suggestion, error) {
	m := r.measured
	_, sheet, err := d.as().SheetByName(r.job.sheet)
	if err != nil {
		return nil, err
	}
	paper, _, err := d.as().PaperAt(sheet)
	if err != nil {
		return nil, err
	}
	if paper == nil {
		paper = &projections.Paper{}
	}
	s := &suggestion{Sheet: r.job.sheet, Evenness: hundredths(m.Evenness), BorderEvenness: hundredths(m.BorderEvenness),
		EdgeVeil: hundredths(m.EdgeVeil), Clipped: m.Border >= 0.995, Symptoms: symptomsOf(*m, paper.Dmax-paper.Dmin)}
	at := func(net float64) *float64 { v := hundredths(paper.Dmin + net); return &v }
	s.Density = events.Density{Min: at(m.White), Mid: at(m.Mid), Max: at(m.Black)}
	if m.Sharpness > 0 {
		v := hundredths(m.Sharpness)
		s.Sharpness = &v
	}
	verdict := "keep"
	if len(s.Symptoms) > 0 {
		verdict = "redo " + strings.Join(s.Symptoms, " ")
	}
	s.Command = fmt.Sprintf("traybook judge %s %s --density %g,%g,%g", s.Sheet, verdict, *s.Density.Min, *s.Density.Mid, *s.Density.Max)
	return s, nil
}

// symptomsOf are the symptoms that measured tones speak for. span is the paper's range of density, 0 where it is not
// known.
func symptomsOf(m scan.Measures, span float64) []string {
	out := []string{}
	add := func(is bool, symptom string) {
		if is {
			out = append(out, symptom)
		}
	}
	if span <= 0 {
		span = 1.9
	}
	weak := m.Black < weakShare*span
	add(m.Mid > dark && m.White > veiled, "too-dark")
	add(m.Mid < light && weak, "too-light")
	add(m.White > veiled && m.Mid <= dark, "veiled-whites")
	add(weak && m.Mid >= light, "weak-blacks")
	add(m.Black-m.White < flatRange, "flat")
	add(m.EdgeVeil > edgeFogged, "edge-fog")
	add(m.Sharpness > 0 && m.Sharpness < softBelow, "soft")
	return out
}

func hundredths(v float64) float64 { return math.Round(v*100) / 100 }

// tell offers it to a person.
func (s *suggestion) tell(out *screen.Screen) {
	if s == nil {
		return
	}
	parts := []string{fmt.Sprintf("measured: white %.2f, middle %.2f, black %.2f", *s.Density.Min, *s.Density.Mid, *s.Density.Max),
		fmt.Sprintf("quarters within %.2f stop", s.Evenness), fmt.Sprintf("veil at the edge %.2f", s.EdgeVeil)}
	if s.Sharpness != nil {
		parts = append(parts, fmt.Sprintf("sharpness %.2f", *s.Sharpness))
	}
	flow(out, parts)
	if s.Clipped {
		out.Hang(screen.Warn, "  ! ", "the border is as white as the scanner can tell: the densities may be too low")
	}
	out.Hang(screen.Plain, "  ", "your eye decides; to write it down: "+s.Command)
	out.Hang(screen.Faint, "  ", "the middle is the median of the picture; put the density of the tone that you metered in its place")
}
