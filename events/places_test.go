package events

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestPlacesOf(t *testing.T) {
	hex := strings.Repeat("a", 32)
	day := Carried{Session: "mole-day", Camera: "mole-camera"}
	for _, c := range []struct {
		name string
		d    Data
		want Places
	}{
		{"book", &BookOpenedData{}, Places{Stream: Ref{Book, BookEntity, true}}},
		{"salvage", &BookSalvagedData{}, Places{Stream: Ref{Book, BookEntity, true}}},
		{"camera", &CameraDescribedData{Camera: "c"}, Places{Stream: Ref{Camera, "c", true}}},
		{"check", &CameraCheckedData{Camera: "c", Holder: "h", Session: "s"}, Places{Stream: Ref{Camera, "c", false}, Session: "s", Others: []Ref{{Holder, "h", false}}}},
		{"opening", &SessionOpenedData{Session: "s", Camera: "c"}, Places{Stream: Ref{Session, "s", true}, Others: []Ref{{Camera, "c", false}}}},
		{"closing", &SessionClosedData{Session: "s"}, Places{Stream: Ref{Session, "s", false}}},
		{"receipt", &PaperReceivedData{Box: "b", Carried: day}, Places{Stream: Ref{Box, "b", true}, Session: "mole-day"}},
		{"rating", &PaperRatedData{Box: "b"}, Places{Stream: Ref{Box, "b", false}}},
		{"count", &PaperCountedData{Box: "b"}, Places{Stream: Ref{Box, "b", false}}},
		{"spoiling", &PaperSpoiledData{Box: "b"}, Places{Stream: Ref{Box, "b", false}}},
		{"cutting", &PaperCutData{Box: "b", Into: "b2"}, Places{Stream: Ref{Box, "b", false}, Others: []Ref{{Box, "b2", true}}}},
		{"loading", &HolderLoadedData{Holder: "h", Box: "b"}, Places{Stream: Ref{Holder, "h", true}, Box: "b"}},
		{"mixing", &BathMixedData{Bath: "d"}, Places{Stream: Ref{Bath, "d", true}}},
		{"moving", &BathMovedData{Bath: "d"}, Places{Stream: Ref{Bath, "d", false}}},
		{"replenishment", &BathReplenishedData{Bath: "d"}, Places{Stream: Ref{Bath, "d", false}}},
		{"bath test", &BathTestedData{Bath: "d"}, Places{Stream: Ref{Bath, "d", false}}},
		{"discarding", &BathDiscardedData{Bath: "d"}, Places{Stream: Ref{Bath, "d", false}}},
		{"reading of a picture", &LightMeteredData{Picture: "2026-001", Carried: day}, Places{Stream: Ref{Picture, "2026-001", false}, Session: "mole-day"}},
		{"reading of a session", &LightMeteredData{Carried: day}, Places{Stream: Ref{Session, "mole-day", false}}},
		{"reading of nothing", &LightMeteredData{}, Places{Stream: Ref{Book, BookEntity, true}}},
		{"exposure", &SheetExposedData{Picture: "2026-001", Box: "b", PlannedBox: "b2", Holder: "h", Again: "2026-000", Sitter: "sitter-1"},
			Places{Stream: Ref{Picture, "2026-001", true}, Box: "b", Others: []Ref{{Box, "b2", false}, {Holder, "h", false}, {Picture, "2026-000", false}, {Sitter, "sitter-1", false}}}},
		{"print", &SheetReprintedData{Picture: "2026-001", Box: "b", Holder: "h"}, Places{Stream: Ref{Picture, "2026-001", false}, Box: "b", Others: []Ref{{Holder, "h", false}}}},
		{"strip", &StripExposedData{Strip: "s1", Box: "b", Picture: "2026-001"}, Places{Stream: Ref{Strip, "s1", true}, Box: "b", Others: []Ref{{Picture, "2026-001", false}}}},
		{"strip read", &StripReadData{Strip: "s1", Bath: "d"}, Places{Stream: Ref{Strip, "s1", false}, Bath: "d"}},
		{"development", &SheetDevelopedData{Sheet: "2026-001n", Bath: "d"}, Places{Stream: Ref{Picture, "2026-001", false}, Bath: "d"}},
		{"rinse", &SheetRinsedData{Sheet: "2026-001n@2", Bath: "d"}, Places{Stream: Ref{Picture, "2026-001@2", false}, Bath: "d"}},
		{"fix", &SheetFixedData{Sheet: "2026-001n", Bath: "d"}, Places{Stream: Ref{Picture, "2026-001", false}, Bath: "d"}},
		{"wash", &SheetWashedData{Sheet: "2026-001n", Bath: "d"}, Places{Stream: Ref{Picture, "2026-001", false}, Bath: "d"}},
		{"tone", &SheetTonedData{Sheet: "2026-001n", Bath: "d"}, Places{Stream: Ref{Picture, "2026-001", false}, Bath: "d"}},
		{"dry", &SheetDriedData{Sheet: "2026-001p1"}, Places{Stream: Ref{Picture, "2026-001", false}}},
		{"work", &SheetWorkedData{Sheet: "2026-001p1"}, Places{Stream: Ref{Picture, "2026-001", false}}},
		{"test", &SheetTestedData{Sheet: "2026-001p1"}, Places{Stream: Ref{Picture, "2026-001", false}}},
		{"verdict", &SheetJudgedData{Sheet: "2026-001p1"}, Places{Stream: Ref{Picture, "2026-001", false}}},
		{"scan", &SheetAttachedData{Sheet: "2026-001p1"}, Places{Stream: Ref{Picture, "2026-001", false}}},
		{"delivery", &SheetDeliveredData{Sheet: "2026-001p1", To: "sitter-1"}, Places{Stream: Ref{Picture, "2026-001", false}, Others: []Ref{{Sitter, "sitter-1", false}}}},
		{"consent", &SitterConsentedData{Sitter: "sitter-1"}, Places{Stream: Ref{Sitter, "sitter-1", true}}},
		{"erasing", &SitterErasedData{Sitter: "sitter-1"}, Places{Stream: Ref{Sitter, "sitter-1", true}}},
		{"mark in a session", &MomentMarkedData{Carried: day}, Places{Stream: Ref{Session, "mole-day", false}}},
		{"clock", &ClockStartedData{Act: "develop", Picture: "2026-014", Sheet: "2026-014n", Bath: "dev-1", Carried: day}, Places{Stream: Ref{Session, "mole-day", false}, Bath: "dev-1",
			Others: []Ref{{Picture, "2026-014", false}}}},
		{"mark", &MomentMarkedData{}, Places{Stream: Ref{Book, BookEntity, true}}},
		{"note on a sheet", &NoteWrittenData{About: "2026-001p2"}, Places{Stream: Ref{Picture, "2026-001", false}}},
		{"note on a picture", &NoteWrittenData{About: "2026-001@3"}, Places{Stream: Ref{Picture, "2026-001@3", false}}},
		{"note on a sitter", &NoteWrittenData{About: "sitter-1"}, Places{Stream: Ref{Sitter, "sitter-1", true}}},
		{"note on an entry", &NoteWrittenData{About: hex}, Places{Stream: Ref{"", hex, false}, Entry: hex}},
		{"note on a name", &NoteWrittenData{About: "dev-1"}, Places{Stream: Ref{"", "dev-1", false}}},
		{"amendment", &EntryAmendedData{Entry: hex}, Places{Entry: hex}},
		{"void", &EntryVoidedData{Entry: hex}, Places{Entry: hex}},
		{"void of a batch", &EntryVoidedData{Batch: hex}, Places{Stream: Ref{Book, BookEntity, true}}},
	} {
		t.Run(c.name, func(t *testing.T) { assert.Equal(t, c.want, PlacesOf(c.d)) })
	}
}

func TestEveryKindHasAPlace(t *testing.T) {
	for _, k := range Kinds {
		p := PlacesOf(vector(t, k).Data)
		assert.True(t, p.Stream.Name != "" || p.Entry != "", "%s belongs nowhere", k)
	}
}

func TestSheetOf(t *testing.T) {
	assert.Equal(t, "2026-014n", SheetOf(&SheetDriedData{Sheet: "2026-014n"}))
	assert.Empty(t, SheetOf(&SheetDriedData{}))
	assert.Empty(t, SheetOf(&BathMovedData{Bath: "dev-1"}))
}
