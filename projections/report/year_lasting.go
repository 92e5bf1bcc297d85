package report

import (
	"traybook/events"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
)

// lasting lists a kept or delivered sheet that was fixed or washed short and has not been tested clear since.
func (w *yearWork) lasting(s *snapshot.Sheet, short calledfor.Short) {
	var why []string
	for _, text := range []string{short.Fixing, short.Washing} {
		if text != "" {
			why = append(why, text)
		}
	}
	if len(why) > 0 {
		w.r.MayNotLast = append(w.r.MayNotLast, MayNotLast{s.Name, s.State == snapshot.Delivered, why})
	}
}

// consent is what a sitter allows as of a moment.
type consent struct {
	allowed map[string]bool
	erased  bool
}

var consents = []string{"keep", "show", "publish"}

// consented lists a picture whose sitter has not consented to all that may be done with it.
func (w *yearWork) consented(p *snapshot.Picture) error {
	c := w.consents[p.Sitter]
	if c == nil {
		c = &consent{allowed: map[string]bool{}}
		t, ok, err := w.d.R.Entity(p.Sitter)
		if err != nil {
			return err
		}
		var entries []events.Entry
		if ok {
			if entries, err = w.d.Stream(t); err != nil {
				return err
			}
		}
		for _, e := range entries {
			if e.At.After(w.until) {
				continue
			}
			switch x := e.Data.(type) {
			case *events.SitterConsentedData:
				c.allowed[x.To] = (x.Withdrawn == nil || !*x.Withdrawn) && (x.Until == "" || !snapshot.EndOfDate(x.Until, e.At.Location()).Before(w.until))
			case *events.SitterErasedData:
				c.erased, c.allowed = true, map[string]bool{}
			}
		}
		w.consents[p.Sitter] = c
	}
	var missing []string
	for _, to := range consents {
		if !c.allowed[to] {
			missing = append(missing, to)
		}
	}
	if len(missing) > 0 {
		w.r.ConsentMissing = append(w.r.ConsentMissing, ConsentMissing{p.Entity.Name, p.Sitter, missing, c.erased})
	}
	return nil
}
