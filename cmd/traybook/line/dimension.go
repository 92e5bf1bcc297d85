package line

import "sync"

// Dimension is what a number measures, and with it the unit a bare number has.
type Dimension int

// The dimensions, each with the unit in which Parse returns its value.
const (
	Plain                  Dimension = iota // a number without a unit; may be negative
	Count                                   // things, whole and not negative
	Seconds                                 // time, s, not negative
	SignedSeconds                           // a difference of times, s; may be negative
	Minutes                                 // time, min, not negative
	Hours                                   // time, h, not negative
	Days                                    // time, days, not negative
	Millimetres                             // length, mm, not negative
	MillimetresPerSecond                    // speed, mm/s, not negative
	SquareMetres                            // area, m², not negative
	Millilitres                             // volume, ml, not negative
	Celsius                                 // temperature, °C
	FNumber                                 // relative aperture number, above 0
	EV                                      // exposure value; may be negative
	Lux                                     // illuminance, lx, above 0
	CandelasPerSquareMetre                  // luminance, cd/m², above 0
	Stops                                   // difference of exposures, stops (powers of two); may be negative
	Ratio                                   // parts of water to one part of concentrate: 1+9 is 9
	Share                                   // part of a whole: 20% is 0.2; may pass 1
	Percent                                 // per cent: 28% is 28; 0 … 100
	Latitude                                // degrees, north positive, −90 … 90
	Longitude                               // degrees, east positive, −180 … 180
)

// rule is what Parse needs to know of a dimension.
type rule struct {
	name    string             // as it stands in an error
	units   map[string]float64 // factor to the contract's unit; the empty unit is a bare number
	chained bool               // several terms may follow each other: 1m30s, 5ft6in
	follow  map[string]string  // the unit of a bare number after a term of this unit: 1m30
	least   float64
	most    float64
	above   bool // least itself is refused
	whole   bool
	signed  bool
	write   string // what to type, in an error
	hints   map[string]string
}

const (
	inch      = 25.4 // mm, exact by definition
	foot      = 12 * inch
	usOunce   = 29.5735295625 // ml, 231 cubic inches / 128, exact by definition
	ukOunce   = 28.4130625    // ml, 4.54609 l / 160, exact by definition
	footLux   = 1 / 0.09290304
	piFoot    = 3.14159265358979323846 * 0.09290304
	aDay      = 86400.0
	tooMuch   = 1e12
	longTime  = 400 * aDay
	ounceHint = "an ounce is 29.57 ml in the US and 28.41 ml in the UK; write ml, or 8 us fl oz, or 8 uk fl oz"
)

func timeUnits(per float64) map[string]float64 {
	in := map[string]float64{"": per}
	for _, u := range []struct {
		s     float64
		names []string
	}{
		{0.001, []string{"ms"}},
		{1, []string{"s", "sec", "secs", "second", "seconds", `"`}},
		{60, []string{"m", "min", "mins", "minute", "minutes", "'"}},
		{3600, []string{"h", "hr", "hrs", "hour", "hours"}},
		{aDay, []string{"d", "day", "days"}},
		{7 * aDay, []string{"w", "week", "weeks"}},
	} {
		for _, n := range u.names {
			in[n] = u.s
		}
	}
	for n := range in {
		in[n] /= per
	}
	return in
}

func timeRule(per float64, write string) rule {
	return rule{
		name: "time", units: timeUnits(per), chained: true, most: longTime / per, write: write,
		follow: map[string]string{
			"h": "min", "hr": "min", "hrs": "min", "hour": "min", "hours": "min",
			"m": "s", "min": "s", "mins": "s", "minute": "s", "minutes": "s", "'": "s",
			"d": "h", "day": "h", "days": "h",
		},
		hints: map[string]string{
			"mo": "a month has no fixed length; write days or weeks", "month": "a month has no fixed length; write days or weeks",
			"months": "a month has no fixed length; write days or weeks", "y": "write days", "year": "write days", "years": "write days",
		},
	}
}

func signedTime() rule {
	r := timeRule(1, "write 0.2s, -0.2s or -1/4s")
	r.least, r.signed = -r.most, true
	return r
}

var rules = sync.OnceValue(func() []rule {
	return []rule{
		Plain: {name: "number", units: map[string]float64{"": 1}, least: -tooMuch, most: tooMuch, signed: true, write: "write a plain number such as 1.05"},
		Count: {name: "count", units: map[string]float64{"": 1, "sheet": 1, "sheets": 1, "x": 1}, most: 1e6, whole: true, write: "write a whole number such as 25"},

		Seconds:       timeRule(1, "write 4s, 1/4s or 1m30s"),
		SignedSeconds: signedTime(),
		Minutes:       timeRule(60, "write 5, 5min or 1h30m"),
		Hours:         timeRule(3600, "write 8, 8h or 1h30m"),
		Days:          timeRule(aDay, "write 30, 30d, 6w or 12h"),

		Millimetres: {
			name: "length", chained: true, most: 1e9, write: `write 135mm, 13.5cm, 2m, 5in or 6ft`,
			units: map[string]float64{
				"": 1, "mm": 1, "cm": 10, "dm": 100, "m": 1000, "km": 1e6, "µm": 0.001, "um": 0.001,
				"metre": 1000, "metres": 1000, "meter": 1000, "meters": 1000,
				"in": inch, "inch": inch, "inches": inch, `"`: inch, "ft": foot, "foot": foot, "feet": foot, "'": foot,
			},
			follow: map[string]string{"m": "cm", "ft": "in", "'": "in", "foot": "in", "feet": "in"},
			hints: map[string]string{
				"yd": "write ft, in or m", "yards": "write ft, in or m",
				"s": "this is a length, not a time; write 135mm, 2m, 5in or 6ft",
			},
		},
		MillimetresPerSecond: {name: "speed", most: 1e6, write: "write 300mm/s, 0.3m/s or 4km/h",
			units: map[string]float64{"": 1, "mm/s": 1, "cm/s": 10, "m/s": 1000, "km/h": 1e6 / 3600}},
		SquareMetres: {name: "area", most: 1e6, write: "write 0.5m2 or 5000cm2",
			units: map[string]float64{
				"": 1, "m2": 1, "sqm": 1, "dm2": 1e-2, "cm2": 1e-4, "mm2": 1e-6,
				"in2": inch * inch * 1e-6, "sqin": inch * inch * 1e-6, "ft2": foot * foot * 1e-6, "sqft": foot * foot * 1e-6,
			}},
		Millilitres: {name: "volume", most: 1e6, write: "write 500ml or 1.5l",
			units: map[string]float64{
				"": 1, "ml": 1, "cc": 1, "cm3": 1, "cl": 10, "dl": 100, "l": 1000, "litre": 1000, "litres": 1000, "liter": 1000, "liters": 1000,
				"usfloz": usOunce, "usoz": usOunce, "ukfloz": ukOunce, "ukoz": ukOunce,
			},
			hints: map[string]string{
				"oz": ounceHint, "floz": ounceHint, "ounce": ounceHint, "ounces": ounceHint, "fluidounce": ounceHint, "fluidounces": ounceHint,
				"pt": "pints differ between the US and the UK; write ml or l", "pint": "pints differ between the US and the UK; write ml or l",
				"qt": "quarts differ between the US and the UK; write ml or l", "quart": "quarts differ between the US and the UK; write ml or l",
				"gal": "gallons differ between the US and the UK; write ml or l", "gallon": "gallons differ between the US and the UK; write ml or l",
				"g": "this is a volume, not a weight; write ml or l", "m": "write ml or l",
			}},
		Celsius: {name: "temperature", least: -60, most: 120, signed: true, write: "write 20C or 68F",
			units: map[string]float64{"": 1, "c": 1, "°c": 1, "°": 1, "degc": 1, "celsius": 1, "f": 1, "°f": 1, "degf": 1, "fahrenheit": 1, "k": 1}},
		FNumber: {name: "aperture", least: 0.5, most: 2000, write: "write f/8 or 8", units: map[string]float64{"": 1}},
		EV:      {name: "exposure value", least: -20, most: 30, signed: true, write: "write 12 or 11.5", units: map[string]float64{"": 1, "ev": 1}},
		Lux: {name: "illuminance", most: 1e6, above: true, write: "write 800 or 800lx",
			units: map[string]float64{"": 1, "lx": 1, "lux": 1, "klx": 1000, "klux": 1000, "fc": footLux}},
		CandelasPerSquareMetre: {name: "luminance", most: 1e7, above: true, write: "write 400 or 400cd/m2",
			units: map[string]float64{"": 1, "cd/m2": 1, "cdm2": 1, "nit": 1, "nits": 1, "fl": 1 / piFoot}},
		Stops: {name: "stops", least: -40, most: 40, signed: true, write: "write -0.5, +1/3 or 1 1/3",
			units: map[string]float64{"": 1, "stop": 1, "stops": 1, "ev": 1}},
		Ratio: {name: "dilution", most: 1e4, write: "write 1+9: one part of concentrate and nine of water"},
		Share: {name: "share", most: 10, write: "write 20% or 0.2", units: map[string]float64{"": 1, "%": 0.01}},
		Percent: {name: "percentage", most: 100, write: "write 28 or 28%",
			units: map[string]float64{"": 1, "%": 1}},
		Latitude:  {name: "latitude", least: -90, most: 90, signed: true, write: "write 59.91 or 59.91N"},
		Longitude: {name: "longitude", least: -180, most: 180, signed: true, write: "write 10.75 or 10.75E"},
	}
})

func (d Dimension) rule() *rule {
	if d < 0 || int(d) >= len(rules()) {
		return &rules()[Plain]
	}
	return &rules()[d]
}
