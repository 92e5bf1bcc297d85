package calledfor

import (
	"fmt"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// FixedInAll says what the fixings of a sheet up to this one add up to.
func FixedInAll(s *snapshot.Sheet, e events.Entry) string {
	n, sum := 0, 0.0
	for _, f := range s.Fixed {
		n++
		sum += f.Data.(*events.SheetFixedData).TimeS
		if f.ID == e.ID {
			break
		}
	}
	if n < 2 {
		return ""
	}
	return fmt.Sprintf("; %d fixings add: %s in all", n, wording.Seconds(sum))
}

// WashLeaves says what is left in a sheet after this wash and the ones before it, and what the figure is worth.
func WashLeaves(snap *snapshot.Snapshot, s *snapshot.Sheet, e events.Entry) (string, error) {
	r, known, err := WashOf(snap, s.UpTo(e))
	if err != nil || !known {
		return "", err
	}
	text := "; estimated less than 0.01 % of the hypo is left"
	if r.Residual >= 1e-4 {
		text = fmt.Sprintf("; estimated %s %% of the hypo is left, %s g/m²", wording.Number(r.Residual*100), wording.Number(r.GPerM2))
	}
	if r.Short {
		text += ", short"
	}
	return text + " (a model, no test; the limit of " + wording.Number(calc.WashLimit) + " g/m² was set for film)", nil
}
