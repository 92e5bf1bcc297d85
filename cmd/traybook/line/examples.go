package line

import (
	"strings"

	"traybook/events"
)

// dimensionOf is what the number in a field measures; ok is false for a field that holds none.
func dimensionOf(f events.Field) (dim Dimension, ok bool) {
	switch f.Type {
	case "fnumber":
		return FNumber, true
	case "count":
		return Count, true
	case "stops":
		return Stops, true
	case "share":
		return Share, true
	case "minutes":
		return Minutes, true
	case "latitude":
		return Latitude, true
	case "longitude":
		return Longitude, true
	case "num", "nums":
	default:
		return 0, false
	}
	switch f.Name {
	case "ev":
		return EV, true
	case "lux":
		return Lux, true
	case "cd_m2":
		return CandelasPerSquareMetre, true
	case "sd_stops":
		return Stops, true
	case "cap_bias_s":
		return SignedSeconds, true
	}
	switch f.Unit() {
	case "s":
		return Seconds, true
	case "mm":
		return Millimetres, true
	case "ml":
		return Millilitres, true
	case "c":
		return Celsius, true
	case "m2":
		return SquareMetres, true
	case "days":
		return Days, true
	case "h":
		return Hours, true
	case "mm_s":
		return MillimetresPerSecond, true
	}
	return Plain, true
}

// ExampleOf is a value to type for a field.
func ExampleOf(f events.Field) string {
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

var dimensionExample = map[Dimension]string{
	Plain: "3", Count: "25", Seconds: "4s", SignedSeconds: "-0.1s", Minutes: "5min",
	Hours: "8h", Days: "60d", Millimetres: "135mm", MillimetresPerSecond: "5mm/s",
	SquareMetres: "0.5m2", Millilitres: "1l", Celsius: "20C", FNumber: "f/8", EV: "11",
	Lux: "5000lx", CandelasPerSquareMetre: "40cd/m2", Stops: "-0.5", Ratio: "1+9",
	Share: "30%", Percent: "28%", Latitude: "59.9N", Longitude: "10.7E",
}

// examples are values for fields whose type does not suggest a good one.
var examples = map[string]string{
	"subject_mm": "2m", "near_mm": "1.8m", "far_mm": "2.5m", "focused_mm": "2m", "extension_mm": "9mm", "draw_max_mm": "300mm",
	"coc_mm": "0.2mm", "circle_mm": "180mm", "width_mm": "9cm", "height_mm": "12cm", "cap_sd_s": "0.1s", "f_smallest": "f/32",
	"f_widest": "f/5.6", "copy_f": "f/11", "copy_m": "1", "pupil_ratio": "1", "magnification": "1", "q10": "2", "iso_p": "500",
	"iso_r": "110", "dmin": "0.08", "dmax": "2.0", "reciprocity_p": "0.95", "develop_s": "60s", "fix_s": "2min", "filter_factor": "4",
	"pre_flash": "30%", "cap_share": "4%", "flare": "1%", "part": "50%", "cost": "240", "price": "400", "prints": "2", "second_exposure_s": "30s", "where": "album 3", "grams": "12.5", "due": "2026-06-12", "threshold_s": "1.5s", "sd_stops": "0.2",
	"soak_s": "5min", "running_s": "30min", "rock_s": "10s", "time_of_appearance_s": "8s", "time_s": "60s", "value": "45s", "safelight_s": "2min",
	"densities": "0.1;0.4;0.9", "changes": "4", "together": "1", "step": "4", "parts": "2", "best": "4", "threshold": "2", "maximum_black": "6",
	"zone_stops": "-1", "capacity_m2": "1m2", "life_h": "8h", "planned_s": "4s", "motion": "seated", "filter": "yellow", "aid": "soda",
	"missing": "0", "bytes": "1", "width_px": "800", "height_px": "600", "media": "image/jpeg", "unit": "s",
}
