package snapshot

import (
	"cmp"
	"fmt"
	"strings"

	"traybook/events"
	"traybook/projections/wording"
)

// Sentence says in one line what an entry says.
func (snap *Snapshot) Sentence(e events.Entry) string {
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
				add(format, wording.Number(*v))
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
		add("book salvaged, %s missing", wording.CountOf(x.Missing, "entry"))
	case *events.CameraDescribedData:
		add("camera %s: %s mm, f/%s to f/%s", x.Camera, wording.Number(x.FocalMM), wording.Number(x.FWidest), wording.Number(x.FSmallest))
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
		add("%s: %s of %s, %s × %s mm, %s", x.Box, wording.CountOf(x.Sheets, "sheet"), x.Name, wording.Number(x.WidthMM), wording.Number(x.HeightMM), x.Base)
		opt(", %s contrast", x.Contrast)
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
		opt(", unexposed it comes out %s", x.Unexposed)
	case *events.PaperCountedData:
		add("%s counted: %s", x.Box, wording.CountOf(x.Sheets, "sheet"))
	case *events.PaperSpoiledData:
		add("%d of %s spoiled", x.Sheets, x.Box)
	case *events.PaperCutData:
		add("%d of %s cut into %d parts each: %s", x.Sheets, x.Box, x.Parts, x.Into)
	case *events.HolderLoadedData:
		add("%s loaded from %s", x.Holder, x.Box)
	case *events.BathMixedData:
		add("%s: %s, %s ml", x.Bath, labelled(x.Name, x.Role), wording.Number(x.VolumeML))
		opt(", %s", x.Dilution)
	case *events.BathMovedData:
		add("%s into the %s", x.Bath, map[string]string{"tray": "tray", "bottle": "bottle", "carried": "bag"}[x.To])
	case *events.BathReplenishedData:
		add("%s replenished with %s ml %s", x.Bath, wording.Number(x.VolumeML), x.With)
	case *events.BathTestedData:
		add("%s tested: %s %s", x.Bath, x.Test, wording.Number(x.Value))
		unit := cmp.Or(x.Unit, map[string]string{"temperature": "°C", "clearing-time": "s", "time-of-appearance": "s"}[x.Test])
		if x.Test == "temperature" && (unit == "C" || unit == "F") {
			unit = "°" + unit
		}
		opt(" %s", unit)
	case *events.BathDiscardedData:
		add("%s discarded", x.Bath)
		opt(" to %s", x.To)
	case *events.LightMeteredData:
		add("%s metered: %s", x.On, ReadingText(x))
	case *events.SheetExposedData:
		add("%s exposed f/%s %s on %s", x.Sheet, wording.Number(x.F), wording.Seconds(x.TimeS), x.Box)
		opt(", %s", x.Subject)
		opt(", filter %s", x.Filter)
	case *events.SheetReprintedData:
		add("%s printed %s on %s", x.Sheet, wording.Seconds(x.TimeS), x.Box)
		opt(" at f/%s", x.F)
		opt(", by %s", x.Way)
	case *events.StripExposedData:
		add("strip %s on the %s: %d steps from %s", x.Strip, x.On, len(x.TimesS), wording.Seconds(x.TimesS[0]))
	case *events.StripReadData:
		add("strip %s read", x.Strip)
		opt(": best step %d", x.Best)
		opt(", threshold at step %d", x.Threshold)
		opt(", maximum black at step %d", x.MaximumBlack)
	case *events.SheetDevelopedData:
		add("%s developed %s in %s", x.Sheet, wording.Seconds(x.TimeS), x.Bath)
		opt(" at %s °C", x.TempC)
		if x.By == "inspection" {
			add(", by inspection")
		}
	case *events.SheetRinsedData:
		add("%s rinsed", x.Sheet)
		if x.TimeS != nil {
			add(" %s", wording.Seconds(*x.TimeS))
		}
		opt(" in %s", x.Bath)
	case *events.SheetFixedData:
		add("%s fixed %s in %s", x.Sheet, wording.Seconds(x.TimeS), x.Bath)
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
			add(", %s each", wording.Seconds(*x.SoakS))
		}
		if x.RunningS != nil {
			add(", %s running", wording.Seconds(*x.RunningS))
		}
		opt(", aid %s", x.Aid)
	case *events.SheetDriedData:
		add("%s dried", x.Sheet)
	case *events.SheetTonedData:
		add("%s toned in %s", x.Sheet, x.Bath)
	case *events.SheetWorkedData:
		add("%s %s", x.Sheet, x.How)
	case *events.SheetTestedData:
		if x.Test == "look" {
			add("%s looked at for %s: %s", x.Sheet, x.Suspect, map[string]string{"clear": "not it", "trace": "perhaps", "bad": "it is"}[x.Result])
			break
		}
		add("%s tested for %s: %s", x.Sheet, x.Test, x.Result)
	case *events.SheetJudgedData:
		add("%s: %s", x.Sheet, x.Verdict)
		if len(x.Symptoms) > 0 {
			add(", %s", strings.Join(x.Symptoms, ", "))
		}
		if x.Stops != nil {
			add(", asks for %s", wording.StopsText(*x.Stops))
		}
	case *events.SheetAttachedData:
		add("%s: scan %s… attached", x.Sheet, x.SHA256[:8])
	case *events.SheetDeliveredData:
		add("%s%s delivered", map[string]string{"scan": "the scan of ", "scan-print": "a print from the scan of "}[x.As], x.Sheet)
		opt(" to %s", x.To)
		opt(" for %s", x.Order)
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
	case *events.ClockStartedData:
		add("%s", ClockText(x))
	case *events.OrderTakenData:
		add("%s: %s wants %s", x.Order, x.Sitter, OrderText(x))
		opt(", by %s", x.Due)
		if x.Price != nil {
			add(", %s", wording.Money(*x.Price, x.Currency))
		}
		if x.Paid != nil && *x.Paid {
			add(", paid")
		}
	case *events.OrderPaidData:
		add("%s paid: %s", x.Order, wording.Money(x.Price, x.Currency))
	case *events.OrderClosedData:
		add("%s %s", x.Order, map[string]string{"delivered": "closed, all of it delivered", "withdrawn": "withdrawn"}[x.Ended])
	case *events.SheetStoredData:
		add("%s put into %s", x.Sheet, x.Where)
	case *events.SilverRecoveredData:
		add("%s g of silver recovered", wording.Number(x.Grams))
		opt(", to %s", x.To)
		if x.Price != nil {
			add(", for %s", wording.Money(*x.Price, x.Currency))
		}
	case *events.SheetReversedData:
		add("%s %s", x.Sheet, map[string]string{"bleach": "bleached for its reversal", "clear": "cleared", "expose": "exposed a second time"}[x.Stage])
		opt(", %s s", x.TimeS)
		opt(" in %s", x.Bath)
		opt(" at %s °C", x.TempC)
	case *events.NoteWrittenData:
		add("note on %s", x.About)
	case *events.EntryAmendedData:
		parts := make([]string, len(x.Set))
		for i, s := range x.Set {
			parts[i] = wording.SetText(s)
		}
		add("entry %s amended: %s", wording.ShortID(x.Entry), strings.Join(parts, ", "))
	case *events.EntryVoidedData:
		if x.Batch != "" {
			add("batch %s voided", wording.ShortID(x.Batch))
		} else {
			add("entry %s voided", wording.ShortID(x.Entry))
		}
	}
	if f, ok := events.FieldOf(e.Kind, "text"); ok {
		if text, there := f.Value(e.Data); there {
			add("; %s", text)
		}
	}
	return b.String()
}

// OrderText says what an order asks for: 2 prints of 90 × 120 mm and a scan of 2026-014.
func OrderText(x *events.OrderTakenData) string {
	var parts []string
	if x.Prints != nil {
		text := wording.CountOf(*x.Prints, "print")
		if x.WidthMM != nil && x.HeightMM != nil {
			text += fmt.Sprintf(" of %s × %s mm", wording.Number(*x.WidthMM), wording.Number(*x.HeightMM))
		}
		parts = append(parts, text)
	}
	if x.Scan != nil && *x.Scan {
		parts = append(parts, "a scan")
	}
	text := strings.Join(parts, " and ")
	if x.Picture != "" {
		text += " from " + x.Picture
	}
	return text
}

// ReadingText says what was read, and of what tone.
func ReadingText(x *events.LightMeteredData) string {
	text := readText(x)
	if x.Of != "" {
		text += ", of the " + x.Of
	}
	if x.ZoneStops != nil && *x.ZoneStops != 0 {
		text += ", zone " + wording.StopsText(*x.ZoneStops)
	}
	return text
}

func readText(x *events.LightMeteredData) string {
	switch {
	case x.EV != nil:
		return fmt.Sprintf("EV %s at index %s", wording.Number(*x.EV), wording.Number(ValueOr(x.Index, 100)))
	case x.Lux != nil:
		return wording.Number(*x.Lux) + " lx"
	case x.CdM2 != nil:
		return wording.Number(*x.CdM2) + " cd/m²"
	}
	return fmt.Sprintf("f/%s %s at index %s", wording.Number(ValueOr(x.F, 0)), wording.Seconds(ValueOr(x.TimeS, 0)), wording.Number(ValueOr(x.Index, 0)))
}

// labelled is what a bath is: the name on its label and its role, or the role alone where no other name was given.
func labelled(name, role string) string {
	if name == role {
		return role
	}
	return name + " (" + role + ")"
}
