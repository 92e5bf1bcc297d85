package quantity

import (
	"strings"

	"traybook/cmd/traybook/pattern"
	"traybook/cmd/traybook/refusal"
)

var (
	sexagesimal = pattern.New(`^(\d{1,3})(?:° *|d *| +)(\d{1,2}(?:[.,]\d+)?)(?:' *| *$)(?:(\d{1,2}(?:[.,]\d+)?)"? *)?$`)
	decimalDeg  = pattern.New(`^\d{1,3}(?:[.,]\d{1,12})?°?$`)
)

// degrees reads a latitude or longitude: 59.91, -59.91, 59.91N, N 59°54'30".
func degrees(dim Dimension, text string) (float64, error) {
	r := dim.rule()
	s := plain(text)
	positive, negative := "n", "s"
	if dim == Longitude {
		positive, negative = "e", "w"
	}
	factor, signed, s := sign(s)
	letter := ""
	for _, l := range []string{"n", "s", "e", "w"} {
		if strings.HasPrefix(s, l) || strings.HasSuffix(s, l) {
			letter = l
			s = strings.TrimSpace(strings.TrimSuffix(strings.TrimPrefix(s, l), l))
			break
		}
	}
	switch {
	case letter != "" && letter != positive && letter != negative:
		return 0, refusal.New(r.write, "%s %s: %s belongs to the other coordinate", r.name, refusal.Quote(text), strings.ToUpper(letter))
	case letter != "" && signed:
		return 0, refusal.New(r.write, "%s %s: a sign and a letter both", r.name, refusal.Quote(text))
	case letter == negative:
		factor = -1
	}
	v, ok := angle(s)
	if !ok {
		return 0, refusal.New(r.write, "%s %s: not degrees", r.name, refusal.Quote(text))
	}
	if v > r.most {
		return 0, refusal.New(r.write, "%s %s: more than %s degrees", r.name, refusal.Quote(text), digits(r.most, 3))
	}
	return r.checked(text, factor*v)
}

func angle(s string) (float64, bool) {
	if decimalDeg.MatchString(s) {
		return asFloat(strings.TrimSuffix(s, "°")), true
	}
	m := sexagesimal.FindStringSubmatch(s)
	if m == nil {
		return 0, false
	}
	minutes, seconds := asFloat(m[2]), 0.0
	if m[3] != "" {
		seconds = asFloat(m[3])
	}
	if minutes >= 60 || seconds >= 60 {
		return 0, false
	}
	return asFloat(m[1]) + minutes/60 + seconds/3600, true
}

var onlyDigits = pattern.New(`^\d+,\d+$`)

// ParseLatLon reads a place as latitude and longitude in degrees, north and east
// positive: "59.91N 10.75E", "59.91, 10.75", "-33.9;18.4". With a decimal comma
// the two are parted by a space or a semicolon.
//
// What can be parted in two ways is refused.
func ParseLatLon(text string) (lat, lon float64, err error) {
	s := plain(text)
	refused := refusal.New("write 59.91N 10.75E", "place %s: not two coordinates", refusal.Quote(text))
	if len(s) > longestText || onlyDigits.MatchString(s) {
		return 0, 0, refused
	}
	by := ","
	for _, mark := range []string{";", ", ", " "} {
		if strings.Contains(s, mark) {
			by = mark
			break
		}
	}
	found := 0
	parts := strings.Split(s, by)
	for i := 1; i < len(parts); i++ {
		la, err1 := degrees(Latitude, strings.TrimSpace(strings.Join(parts[:i], by)))
		lo, err2 := degrees(Longitude, strings.TrimSpace(strings.Join(parts[i:], by)))
		if err1 == nil && err2 == nil {
			lat, lon = la, lo
			found++
		}
	}
	if found != 1 {
		return 0, 0, refused
	}
	return lat, lon, nil
}
