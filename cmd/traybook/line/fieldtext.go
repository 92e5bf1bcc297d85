package line

import (
	"fmt"
	"strings"

	"traybook/events"
	"traybook/projections/wording"
)

// ShowField writes the value of a field for a person, with its unit.
func ShowField(f events.Field, v any) string {
	dim, number := dimensionOf(f)
	switch v := v.(type) {
	case float64:
		if number {
			return Amount(dim, v)
		}
		return wording.Number(v)
	case int64:
		return fmt.Sprint(v)
	case bool:
		if v {
			return "yes"
		}
		return "no"
	case []string:
		return strings.Join(v, ", ")
	case []float64:
		texts := make([]string, len(v))
		for i, x := range v {
			texts[i] = ShowField(f, x)
		}
		return strings.Join(texts, ", ")
	case events.Density:
		var texts []string
		for _, p := range []struct {
			name string
			v    *float64
		}{{"min", v.Min}, {"mid", v.Mid}, {"max", v.Max}} {
			if p.v != nil {
				texts = append(texts, p.name+" "+Format(Plain, *p.v))
			}
		}
		return strings.Join(texts, ", ")
	case nil:
		return "nothing"
	}
	return fmt.Sprint(v)
}

// Amount writes a value, given in the unit of its dimension, for a person: times and stops as all that is told writes them.
func Amount(dim Dimension, v float64) string {
	switch dim {
	case Seconds, SignedSeconds:
		return wording.Seconds(v)
	case Minutes:
		return wording.Seconds(v * 60)
	case Hours:
		return wording.Seconds(v * 3600)
	case Stops:
		return wording.StopsText(v)
	}
	return Format(dim, v)
}
