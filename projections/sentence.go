package projections

import (
	"cmp"
	"fmt"
	"math"
	"strings"

	"traybook/events"
)

// ShortID is the beginning of an entry's id, as every screen and page shows it: a longer piece than one is likely to need.
func ShortID(id string) string { return id[:min(8, len(id))] }

// ShareText writes a deviation, in stops, of a time in a bath: 50 % shorter, 8.5 % longer, 27 times as long; "" where it
// is under half a percent.
func ShareText(stops float64) string {
	share, word := math.Exp2(stops)-1, " % longer"
	if share < 0 {
		share, word = -share, " % shorter"
	}
	switch {
	case share < 0.005:
		return ""
	case stops > math.Log2(3):
		return Number(math.Round(math.Exp2(stops))) + " times as long"
	case share < 0.0995:
		return Number(math.Round(share*1000)/10) + word
	}
	return fmt.Sprintf("%.0f", share*100) + word
}

// unitMarks are the units in the names of fields as they are written.
var unitMarks = map[string]string{"s": " s", "mm": " mm", "ml": " ml", "c": " °C", "m2": " m²", "days": " days", "h": " h", "px": " px", "mm_s": " mm/s"}

// setText tells one field of an amendment as the acts speak of it.
func setText(s events.SetField) string {
	f := events.Field{Name: s.Name}
	if string(s.Value) == "null" {
		return f.Option() + " taken out"
	}
	return f.Option() + " = " + string(s.Value) + unitMarks[f.Unit()]
}

// Sentence says in one line what an entry says.
func (d *Desk) Sentence(e events.Entry) string {
	var b strings.Builder
	add := func(format string, args ...any) { fmt.Fprintf(&b, format, args...) }
	opt := func(format string, v any) {
		switch v := v.(type) {
		case string:
			if v != "" {
				add(format, v)
			}
		case *float64:
			if v != nil {
				add(format, Number(*v))
			}
		case *int:
			if v != nil {
				add(format, *v)
			}
		}
	}
	switch x := e.Data.(type) {
	case *events.BookOpenedData:
		add("book opened in %s", x.Zone)
		opt(" by %s", x.Owner)
	case *events.BookSalvagedData:
		add("book salvaged, %s missing", CountOf(x.Missing, "entry"))
	case *events.CameraDescribedData:
		add("camera %s: %s mm, f/%s to f/%s", x.Camera, Number(x.FocalMM), Number(x.FWidest), Number(x.FSmallest))
		opt(", %s", x.Lens)
	case *events.CameraCheckedData:
		add("%s of %s checked: %s", x.What, x.Camera, x.Result)
	case *events.SessionOpenedData:
		add("session %s opened", x.Session)
		opt(" at %s", x.Place)
		opt(" with %s", x.Camera)
	case *events.SessionClosedData:
		add("session %s closed", x.Session)
	case *events.PaperReceivedData:
		add("%s: %s of %s, %s × %s mm, %s", x.Box, CountOf(x.Sheets, "sheet"), x.Name, Number(x.WidthMM), Number(x.HeightMM), x.Base)
		opt(", index %s", x.Index)
	case *events.PaperRatedData:
		add("%s rated", x.Box)
		opt(": index %s", x.Index)
		opt(" (%s)", x.Generation)
		opt(", filter %s", x.Filter)
		opt(" factor %s", x.FilterFactor)
		opt(", in %s", x.Light)
		opt(", range R%s", x.ISOR)
		opt(", develop %s s", x.DevelopS)
	case *events.PaperCountedData:
		add("%s counted: %s", x.Box, CountOf(x.Sheets, "sheet"))
	case *events.PaperSpoiledData:
		add("%d of %s spoiled", x.Sheets, x.Box)
	case *events.PaperCutData:
		add("%d of %s cut into %d parts each: %s", x.Sheets, x.Box, x.Parts, x.Into)
	case *events.HolderLoadedData:
		add("%s loaded from %s", x.Holder, x.Box)
	case *events.BathMixedData:
		add("%s: %s (%s), %s ml", x.Bath, x.Name, x.Role, Number(x.VolumeML))
		opt(", %s", x.Dilution)
	case *events.BathMovedData:
		add("%s into the %s", x.Bath, map[string]string{"tray": "tray", "bottle": "bottle", "carried": "bag"}[x.To])
	case *events.BathToppedData:
		add("%s topped with %s ml %s", x.Bath, Number(x.VolumeML), x.With)
	case *events.BathTestedData:
		add("%s tested: %s %s", x.Bath, x.Test, Number(x.Value))
		unit := cmp.Or(x.Unit, map[string]string{"temperature": "°C", "clearing-time": "s", "first-image": "s"}[x.Test])
		if x.Test == "temperature" && (unit == "C" || unit == "F") {
			unit = "°" + unit
		}
		opt(" %s", unit)
	case *events.BathDiscardedData:
		add("%s discarded", x.Bath)
		opt(" to %s", x.To)
	case *events.LightMeteredData:
		add("%s metered: %s", x.On, readingText(x))
		opt(", of the %s", x.Of)
		if x.Place != nil && *x.Place != 0 {
			add(", placed %s", StopsText(*x.Place))
		}
	case *events.SheetExposedData:
		add("%s exposed f/%s %s on %s", x.Sheet, Number(x.F), Seconds(x.TimeS), x.Box)
		opt(", %s", x.Subject)
		opt(", filter %s", x.Filter)
	case *events.SheetReprintedData:
		add("%s printed %s on %s", x.Sheet, Seconds(x.TimeS), x.Box)
		opt(" at f/%s", x.F)
		opt(", by %s", x.Way)
	case *events.StripExposedData:
		add("strip %s on the %s: %d steps from %s", x.Strip, x.On, len(x.TimesS), Seconds(x.TimesS[0]))
	case *events.StripReadData:
		add("strip %s read", x.Strip)
		opt(": best step %d", x.Best)
		opt(", first tone at step %d", x.FirstTone)
		opt(", full black at step %d", x.FullBlack)
	case *events.SheetDevelopedData:
		add("%s developed %s in %s", x.Sheet, Seconds(x.TimeS), x.Bath)
		opt(" at %s °C", x.TempC)
		if x.By == "inspection" {
			add(", by inspection")
		}
	case *events.SheetRinsedData:
		add("%s rinsed", x.Sheet)
		if x.TimeS != nil {
			add(" %s", Seconds(*x.TimeS))
		}
		opt(" in %s", x.Bath)
	case *events.SheetFixedData:
		add("%s fixed %s in %s", x.Sheet, Seconds(x.TimeS), x.Bath)
		opt(" at %s °C", x.TempC)
	case *events.SheetWashedData:
		add("%s washed", x.Sheet)
		if x.Changes != nil && *x.Changes == 1 {
			add(", 1 change")
		} else {
			opt(", %d changes", x.Changes)
		}
		opt(" of %s ml", x.VolumeML)
		if x.Changes != nil && x.SoakS != nil {
			add(", %s each", Seconds(*x.SoakS))
		}
		if x.RunningS != nil {
			add(", %s running", Seconds(*x.RunningS))
		}
		opt(", aid %s", x.Aid)
	case *events.SheetDriedData:
		add("%s dried", x.Sheet)
	case *events.SheetTonedData:
		add("%s toned in %s", x.Sheet, x.Bath)
	case *events.SheetWorkedData:
		add("%s %s", x.Sheet, x.How)
	case *events.SheetTestedData:
		add("%s tested for %s: %s", x.Sheet, x.Test, x.Result)
	case *events.SheetJudgedData:
		add("%s: %s", x.Sheet, x.Verdict)
		if len(x.Symptoms) > 0 {
			add(", %s", strings.Join(x.Symptoms, ", "))
		}
		if x.Stops != nil {
			add(", asks for %s", StopsText(*x.Stops))
		}
	case *events.SheetAttachedData:
		add("%s: scan %s… attached", x.Sheet, x.SHA256[:8])
	case *events.SheetDeliveredData:
		add("%s delivered", x.Sheet)
		opt(" to %s", x.To)
	case *events.SitterConsentedData:
		add("%s consents to %s", x.Sitter, x.To)
		if x.Withdrawn != nil && *x.Withdrawn {
			b.Reset()
			add("%s withdraws the consent to %s", x.Sitter, x.To)
		}
		opt(" until %s", x.Until)
	case *events.SitterErasedData:
		add("%s erased", x.Sitter)
	case *events.MomentMarkedData:
		add("moment marked")
	case *events.NoteWrittenData:
		add("note on %s", x.About)
	case *events.EntryAmendedData:
		parts := make([]string, len(x.Set))
		for i, s := range x.Set {
			parts[i] = setText(s)
		}
		add("entry %s amended: %s", ShortID(x.Entry), strings.Join(parts, ", "))
	case *events.EntryVoidedData:
		if x.Batch != "" {
			add("batch %s voided", ShortID(x.Batch))
		} else {
			add("entry %s voided", ShortID(x.Entry))
		}
	}
	if f, ok := events.FieldOf(e.Kind, "text"); ok {
		if text, there := f.Value(e.Data); there {
			add("; %s", text)
		}
	}
	return b.String()
}

func readingText(x *events.LightMeteredData) string {
	switch {
	case x.EV != nil:
		return fmt.Sprintf("EV %s at index %s", Number(*x.EV), Number(orF(x.Index, 100)))
	case x.Lux != nil:
		return Number(*x.Lux) + " lx"
	case x.CdM2 != nil:
		return Number(*x.CdM2) + " cd/m²"
	}
	return fmt.Sprintf("f/%s %s at index %s", Number(orF(x.F, 0)), Seconds(orF(x.TimeS, 0)), Number(orF(x.Index, 0)))
}
