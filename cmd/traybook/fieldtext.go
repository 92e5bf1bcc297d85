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
			return amount(dim, v)
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

// amount writes a value, given in the unit of its dimension, for a person: times and stops as all that is told writes them.
func amount(dim quantity.Dimension, v float64) string {
	switch dim {
	case quantity.Seconds, quantity.SignedSeconds:
		return projections.Seconds(v)
	case quantity.Minutes:
		return projections.Seconds(v * 60)
	case quantity.Hours:
		return projections.Seconds(v * 3600)
	case quantity.Stops:
		return projections.StopsText(v)
	}
	return quantity.Format(dim, v)
}
