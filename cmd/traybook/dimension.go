package main

import (
	"strings"

	"traybook/cmd/traybook/quantity"
	"traybook/events"
)

// dimensionOf is what the number in a field measures; ok is false for a field that holds none.
func dimensionOf(f events.Field) (dim quantity.Dimension, ok bool) {
	switch f.Type {
	case "fnumber":
		return quantity.FNumber, true
	case "count":
		return quantity.Count, true
	case "stops":
		return quantity.Stops, true
	case "share":
		return quantity.Share, true
	case "minutes":
		return quantity.Minutes, true
	case "latitude":
		return quantity.Latitude, true
	case "longitude":
		return quantity.Longitude, true
	case "num", "nums":
	default:
		return 0, false
	}
	switch f.Name {
	case "ev":
		return quantity.EV, true
	case "lux":
		return quantity.Lux, true
	case "cd_m2":
		return quantity.CandelasPerSquareMetre, true
	case "sd_stops":
		return quantity.Stops, true
	case "cap_bias_s":
		return quantity.SignedSeconds, true
	}
	switch f.Unit() {
	case "s":
		return quantity.Seconds, true
	case "mm":
		return quantity.Millimetres, true
	case "ml":
		return quantity.Millilitres, true
	case "c":
		return quantity.Celsius, true
	case "m2":
		return quantity.SquareMetres, true
	case "days":
		return quantity.Days, true
	case "h":
		return quantity.Hours, true
	case "mm_s":
		return quantity.MillimetresPerSecond, true
	}
	return quantity.Plain, true
}

// exampleOf is a value to type for a field.
func exampleOf(f events.Field) string {
	if v, ok := examples[f.Name]; ok {
		return v
	}
	switch f.Type {
	case "one":
		return strings.Join(f.Choices, "|")
	case "many":
		return strings.Join(f.Choices[:2], ",") + ",…"
	case "symptoms":
		return "too-dark,flat"
	case "name", "ref":
		if f.Of == "picture" {
			return "2026-014"
		}
		return strings.ToUpper(f.Of)
	case "sheet":
		return "2026-014n"
	case "sitter":
		return "sitter-7"
	case "entry", "hex32":
		return "ID"
	case "date":
		return "2027-03"
	case "zone":
		return "Europe/Oslo"
	case "currency":
		return "NOK"
	case "dilution":
		return "1+9"
	case "density":
		return "0.1,0.7,1.9"
	case "text":
		return "TEXT"
	case "hex64":
		return "DIGITS"
	case "any", "word":
		return "WORD"
	case "nums":
		return "2s;4s;8s"
	}
	dim, _ := dimensionOf(f)
	return dimensionExample[dim]
}

var dimensionExample = map[quantity.Dimension]string{
	quantity.Plain: "3", quantity.Count: "25", quantity.Seconds: "4s", quantity.SignedSeconds: "-0.1s", quantity.Minutes: "5min",
	quantity.Hours: "8h", quantity.Days: "60d", quantity.Millimetres: "135mm", quantity.MillimetresPerSecond: "5mm/s",
	quantity.SquareMetres: "0.5m2", quantity.Millilitres: "1l", quantity.Celsius: "20C", quantity.FNumber: "f/8", quantity.EV: "11",
	quantity.Lux: "5000lx", quantity.CandelasPerSquareMetre: "40cd/m2", quantity.Stops: "-0.5", quantity.Ratio: "1+9",
	quantity.Share: "30%", quantity.Percent: "28%", quantity.Latitude: "59.9N", quantity.Longitude: "10.7E",
}

// examples are values for fields whose type does not suggest a good one.
var examples = map[string]string{
	"subject_mm": "2m", "near_mm": "1.8m", "far_mm": "2.5m", "focused_mm": "2m", "extension_mm": "9mm", "draw_max_mm": "300mm",
	"coc_mm": "0.2mm", "circle_mm": "180mm", "width_mm": "9cm", "height_mm": "12cm", "cap_sd_s": "0.1s", "f_smallest": "f/32",
	"f_widest": "f/5.6", "copy_f": "f/11", "copy_m": "1", "pupil_ratio": "1", "magnification": "1", "q10": "2", "iso_p": "500",
	"iso_r": "110", "dmin": "0.08", "dmax": "2.0", "reciprocity_p": "0.95", "develop_s": "60s", "fix_s": "2min", "filter_factor": "4",
	"flash": "30%", "flare": "1%", "part": "50%", "cost": "240", "price": "400", "threshold_s": "1.5s", "sd_stops": "0.2",
	"soak_s": "5min", "running_s": "30min", "rock_s": "10s", "first_image_s": "8s", "time_s": "60s", "value": "45s", "safelight_s": "2min",
	"densities": "0.1;0.4;0.9", "changes": "4", "together": "1", "step": "4", "parts": "2", "best": "4", "first_tone": "2", "full_black": "6",
	"place": "-1", "capacity_m2": "1m2", "life_h": "8h", "planned_s": "4s", "motion": "seated", "filter": "yellow", "aid": "soda",
	"missing": "0", "bytes": "1", "width_px": "800", "height_px": "600", "media": "image/jpeg", "unit": "s",
}
