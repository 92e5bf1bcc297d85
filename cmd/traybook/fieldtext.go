package main

import (
	"fmt"
	"strings"

	"traybook/cmd/traybook/quantity"
	"traybook/events"
	"traybook/projections"
)

// showField writes the value of a field for a person, with its unit.
func showField(f events.Field, v any) string {
	dim, number := dimensionOf(f)
	switch v := v.(type) {
	case float64:
		if number {
			return quantity.Format(dim, v)
		}
		return projections.Number(v)
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
			texts[i] = showField(f, x)
		}
		return strings.Join(texts, ", ")
	case events.Density:
		var texts []string
		for _, p := range []struct {
			name string
			v    *float64
		}{{"min", v.Min}, {"mid", v.Mid}, {"max", v.Max}} {
			if p.v != nil {
				texts = append(texts, p.name+" "+quantity.Format(quantity.Plain, *p.v))
			}
		}
		return strings.Join(texts, ", ")
	case nil:
		return "nothing"
	}
	return fmt.Sprint(v)
}
