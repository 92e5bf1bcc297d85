package snapshot_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"traybook/events"
	"traybook/projections/snapshot"
)

// What an entry says, in one line: with all that a hand may write, and with only what it must.
func TestSentences(t *testing.T) {
	const id = "0190abcdef0123456789abcdef012345"
	sha := strings.Repeat("c0ffee00", 8)
	var said = map[events.Kind]int{}
	for _, c := range []struct {
		data events.Data
		want string
	}{
		{&events.BookOpenedData{Zone: "Europe/Oslo"}, "book opened in Europe/Oslo"},
		{&events.BookOpenedData{Zone: "Europe/Oslo", Owner: "Ane"}, "book opened in Europe/Oslo by Ane"},
		{&events.BookSalvagedData{Missing: 1}, "book salvaged, 1 entry missing"},
		{&events.BookSalvagedData{Missing: 3, Text: "a torn page"}, "book salvaged, 3 entries missing; a torn page"},
		{&events.CameraDescribedData{Camera: "skiff", FocalMM: 135, FWidest: 5.6, FSmallest: 32}, "camera skiff: 135 mm, f/5.6 to f/32"},
		{&events.CameraDescribedData{Camera: "skiff", FocalMM: 135, FWidest: 5.6, FSmallest: 32, Lens: "a tessar"}, "camera skiff: 135 mm, f/5.6 to f/32, a tessar"},
		{&events.CameraCheckedData{Camera: "skiff", What: "bellows", Result: "bad"}, "bellows of skiff checked: bad"},
		{&events.SessionOpenedData{Session: "mole"}, "session mole opened"},
		{&events.SessionOpenedData{Session: "mole", Place: "the mole", Camera: "skiff", Text: "haze"}, "session mole opened at the mole with skiff; haze"},
		{&events.SessionClosedData{Session: "mole"}, "session mole closed"},
		{&events.PaperReceivedData{Box: "box-1", Sheets: 1, Name: "quay", WidthMM: 90, HeightMM: 120, Base: "rc"}, "box-1: 1 sheet of quay, 90 × 120 mm, rc"},
		{&events.PaperReceivedData{Box: "box-1", Sheets: 25, Name: "quay", WidthMM: 90.5, HeightMM: 120, Base: "fb", Index: new(3.0)}, "box-1: 25 sheets of quay, 90.5 × 120 mm, fb, index 3"},
		{&events.PaperRatedData{Box: "box-1"}, "box-1 rated"},
		{&events.PaperRatedData{Box: "box-1", Index: new(4.5), Generation: "negative", Filter: "yellow", FilterFactor: new(3.0), Light: "lamp", ISOR: new(90.0), DevelopS: new(75.0)},
			"box-1 rated: index 4.5 (negative), filter yellow factor 3, in lamp, range R90, develop 75 s"},
		{&events.PaperCountedData{Box: "box-1", Sheets: 1}, "box-1 counted: 1 sheet"},
		{&events.PaperSpoiledData{Box: "box-1", Sheets: 2}, "2 of box-1 spoiled"},
		{&events.PaperCutData{Box: "box-1", Sheets: 2, Parts: 4, Into: "strips"}, "2 of box-1 cut into 4 parts each: strips"},
		{&events.HolderLoadedData{Holder: "left", Box: "box-1"}, "left loaded from box-1"},
		{&events.BathMixedData{Bath: "dev-1", Name: "Amber", Role: "developer", VolumeML: 1000}, "dev-1: Amber (developer), 1000 ml"},
		{&events.BathMixedData{Bath: "dev-1", Name: "Amber", Role: "developer", VolumeML: 1000, Dilution: "1+9"}, "dev-1: Amber (developer), 1000 ml, 1+9"},
		{&events.BathMovedData{Bath: "dev-1", To: "tray"}, "dev-1 into the tray"},
		{&events.BathMovedData{Bath: "dev-1", To: "bottle"}, "dev-1 into the bottle"},
		{&events.BathMovedData{Bath: "dev-1", To: "carried"}, "dev-1 into the bag"},
		{&events.BathReplenishedData{Bath: "dev-1", VolumeML: 200, With: "fresh"}, "dev-1 replenished with 200 ml fresh"},
		{&events.BathTestedData{Bath: "dev-1", Test: "temperature", Value: 18.5}, "dev-1 tested: temperature 18.5 °C"},
		{&events.BathTestedData{Bath: "dev-1", Test: "temperature", Value: 18.5, Unit: "C"}, "dev-1 tested: temperature 18.5 °C"},
		{&events.BathTestedData{Bath: "dev-1", Test: "temperature", Value: 65, Unit: "F"}, "dev-1 tested: temperature 65 °F"},
		{&events.BathTestedData{Bath: "fix-1", Test: "clearing-time", Value: 30}, "fix-1 tested: clearing-time 30 s"},
		{&events.BathTestedData{Bath: "dev-1", Test: "time-of-appearance", Value: 9}, "dev-1 tested: time-of-appearance 9 s"},
		{&events.BathTestedData{Bath: "fix-1", Test: "silver-strip", Value: 2, Unit: "g/l"}, "fix-1 tested: silver-strip 2 g/l"},
		{&events.BathTestedData{Bath: "fix-1", Test: "stain", Value: 1, Unit: "C"}, "fix-1 tested: stain 1 C"},
		{&events.BathDiscardedData{Bath: "dev-1"}, "dev-1 discarded"},
		{&events.BathDiscardedData{Bath: "dev-1", To: "waste depot"}, "dev-1 discarded to waste depot"},
		{&events.LightMeteredData{On: "scene", F: new(8.0), TimeS: new(4.0), Index: new(3.0)}, "scene metered: f/8 4 s at index 3"},
		{&events.LightMeteredData{On: "scene", EV: new(9.0)}, "scene metered: EV 9 at index 100"},
		{&events.LightMeteredData{On: "scene", EV: new(9.0), Index: new(25.0), ZoneStops: new(0.0)}, "scene metered: EV 9 at index 25"},
		{&events.LightMeteredData{On: "scene", Lux: new(4000.0), Of: "card", ZoneStops: new(-1.0)}, "scene metered: 4000 lx, of the card, zone −1 stop"},
		{&events.LightMeteredData{On: "negative", CdM2: new(55.0)}, "negative metered: 55 cd/m²"},
		{&events.SheetExposedData{Sheet: "2026-001n", F: 8, TimeS: 4, Box: "box-1"}, "2026-001n exposed f/8 4 s on box-1"},
		{&events.SheetExposedData{Sheet: "2026-001n", F: 8, TimeS: 4, Box: "box-1", Subject: "ferry mate", Filter: "yellow", Text: "wind"}, "2026-001n exposed f/8 4 s on box-1, ferry mate, filter yellow; wind"},
		{&events.SheetReprintedData{Sheet: "2026-001p1", TimeS: 90, Box: "box-1"}, "2026-001p1 printed 90 s on box-1"},
		{&events.SheetReprintedData{Sheet: "2026-001p1", TimeS: 90, Box: "box-1", F: new(11.0), Way: "camera"}, "2026-001p1 printed 90 s on box-1 at f/11, by camera"},
		{&events.StripExposedData{Strip: "s1", On: "scene", TimesS: []float64{2, 4, 8}}, "strip s1 on the scene: 3 steps from 2 s"},
		{&events.StripReadData{Strip: "s1"}, "strip s1 read"},
		{&events.StripReadData{Strip: "s1", Best: new(2), Threshold: new(1), MaximumBlack: new(4)}, "strip s1 read: best step 2, threshold at step 1, maximum black at step 4"},
		{&events.SheetDevelopedData{Sheet: "2026-001n", TimeS: 60, Bath: "dev-1"}, "2026-001n developed 60 s in dev-1"},
		{&events.SheetDevelopedData{Sheet: "2026-001n", TimeS: 60, Bath: "dev-1", TempC: new(18.0), By: "inspection"}, "2026-001n developed 60 s in dev-1 at 18 °C, by inspection"},
		{&events.SheetDevelopedData{Sheet: "2026-001n", TimeS: 60, Bath: "dev-1", By: "time"}, "2026-001n developed 60 s in dev-1"},
		{&events.SheetRinsedData{Sheet: "2026-001n"}, "2026-001n rinsed"},
		{&events.SheetRinsedData{Sheet: "2026-001n", TimeS: new(15.0), Bath: "stop-1"}, "2026-001n rinsed 15 s in stop-1"},
		{&events.SheetFixedData{Sheet: "2026-001n", TimeS: 60, Bath: "fix-1", TempC: new(19.0)}, "2026-001n fixed 60 s in fix-1 at 19 °C"},
		{&events.SheetWashedData{Sheet: "2026-001n"}, "2026-001n washed"},
		{&events.SheetWashedData{Sheet: "2026-001n", Changes: new(1), VolumeML: new(500.0)}, "2026-001n washed, 1 change of 500 ml"},
		{&events.SheetWashedData{Sheet: "2026-001n", Changes: new(4), SoakS: new(30.0), Aid: "sulphite"}, "2026-001n washed, 4 changes, 30 s each, aid sulphite"},
		{&events.SheetWashedData{Sheet: "2026-001n", RunningS: new(120.0), SoakS: new(30.0)}, "2026-001n washed, 2 min running"},
		{&events.SheetDriedData{Sheet: "2026-001n"}, "2026-001n dried"},
		{&events.SheetTonedData{Sheet: "2026-001p1", Bath: "toner-1"}, "2026-001p1 toned in toner-1"},
		{&events.SheetWorkedData{Sheet: "2026-001n", How: "pencilled"}, "2026-001n pencilled"},
		{&events.SheetTestedData{Sheet: "2026-001p1", Test: "hypo", Result: "trace"}, "2026-001p1 tested for hypo: trace"},
		{&events.SheetJudgedData{Sheet: "2026-001n", Verdict: "keep"}, "2026-001n: keep"},
		{&events.SheetJudgedData{Sheet: "2026-001n", Verdict: "redo", Symptoms: []string{"too-dark", "flat"}, Stops: new(-1.0)}, "2026-001n: redo, too-dark, flat, asks for −1 stop"},
		{&events.SheetAttachedData{Sheet: "2026-001n", SHA256: sha}, "2026-001n: scan c0ffee00… attached"},
		{&events.SheetDeliveredData{Sheet: "2026-001p1"}, "2026-001p1 delivered"},
		{&events.SheetDeliveredData{Sheet: "2026-001p1", To: "sitter-1"}, "2026-001p1 delivered to sitter-1"},
		{&events.SitterConsentedData{Sitter: "sitter-1", To: "show"}, "sitter-1 consents to show"},
		{&events.SitterConsentedData{Sitter: "sitter-1", To: "show", Until: "2027", Withdrawn: new(false)}, "sitter-1 consents to show until 2027"},
		{&events.SitterConsentedData{Sitter: "sitter-1", To: "show", Withdrawn: new(true)}, "sitter-1 withdraws the consent to show"},
		{&events.SitterErasedData{Sitter: "sitter-1"}, "sitter-1 erased"},
		{&events.MomentMarkedData{}, "moment marked"},
		{&events.ClockStartedData{Act: "develop", Picture: "2026-001", Sheet: "2026-001n", Bath: "dev-1", PlannedS: new(111.0)}, "clock started: development of 2026-001n, planned 111 s in dev-1"},
		{&events.ClockStartedData{Act: "reprint", Picture: "2026-001", Box: "box-1", F: new(11.0), PlannedS: new(4.0)}, "clock started: copy of 2026-001, f/11, planned 4 s on box-1"},
		{&events.ClockStartedData{Act: "expose"}, "clock started: exposure"},
		{&events.SheetDeliveredData{Sheet: "2026-001p1", To: "sitter-1", Order: "order-2"}, "2026-001p1 delivered to sitter-1 for order-2"},
		{&events.SheetDeliveredData{Sheet: "2026-001p1", As: "scan", To: "sitter-1"}, "the scan of 2026-001p1 delivered to sitter-1"},
		{&events.SheetDeliveredData{Sheet: "2026-001n", As: "scan-print"}, "a print from the scan of 2026-001n delivered"},
		{&events.OrderTakenData{Order: "order-1", Sitter: "sitter-1", Prints: new(2), Scan: new(true), WidthMM: new(90.0), HeightMM: new(120.0), Picture: "2026-001", Due: "2026-05-08", Price: new(800.0), Currency: "NOK", Paid: new(true)},
			"order-1: sitter-1 wants 2 prints of 90 × 120 mm and a scan from 2026-001, by 2026-05-08, 800 NOK, paid"},
		{&events.OrderTakenData{Order: "order-1", Sitter: "sitter-1", Prints: new(1)}, "order-1: sitter-1 wants 1 print"},
		{&events.OrderPaidData{Order: "order-1", Price: 400, Currency: "NOK"}, "order-1 paid: 400 NOK"},
		{&events.OrderClosedData{Order: "order-1", Ended: "delivered"}, "order-1 closed, all of it delivered"},
		{&events.OrderClosedData{Order: "order-1", Ended: "withdrawn"}, "order-1 withdrawn"},
		{&events.SheetStoredData{Sheet: "2026-001p1", Where: "album 3, page 12"}, "2026-001p1 put into album 3, page 12"},
		{&events.SilverRecoveredData{Grams: 12.5}, "12.5 g of silver recovered"},
		{&events.SilverRecoveredData{Grams: 12.5, To: "the refiner", Price: new(150.0), Currency: "NOK"}, "12.5 g of silver recovered, to the refiner, for 150 NOK"},
		{&events.SheetReversedData{Sheet: "2026-001n", Stage: "bleach", TimeS: new(60.0), Bath: "bleach-1", TempC: new(20.0)}, "2026-001n bleached for its reversal, 60 s in bleach-1 at 20 °C"},
		{&events.SheetReversedData{Sheet: "2026-001n", Stage: "clear", Bath: "clear-1"}, "2026-001n cleared in clear-1"},
		{&events.SheetReversedData{Sheet: "2026-001n", Stage: "expose", TimeS: new(30.0)}, "2026-001n exposed a second time, 30 s"},
		{&events.NoteWrittenData{About: "2026-001", Text: "fog on the quay"}, "note on 2026-001; fog on the quay"},
		{&events.EntryAmendedData{Entry: id, Set: events.Set{{Name: "time_s", Value: []byte("8")}, {Name: "subject", Value: []byte("null")}}}, "entry 0190abcd amended: time = 8 s, subject taken out"},
		{&events.EntryVoidedData{Entry: id}, "entry 0190abcd voided"},
		{&events.EntryVoidedData{Batch: id}, "batch 0190abcd voided"},
	} {
		said[c.data.Kind()]++
		assert.Equal(t, c.want, (&snapshot.Snapshot{}).Sentence(events.Entry{Kind: c.data.Kind(), Data: c.data}))
	}
	for _, k := range events.Kinds {
		assert.NotZero(t, said[k], "no sentence of %s is held", k)
	}
}
