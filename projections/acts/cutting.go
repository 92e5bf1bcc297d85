package acts

import (
	"math"

	"traybook/events"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// nominalSize is how far the name of a size may be from its millimetres: a sheet called 20 × 25 cm is one of 8 × 10 in
// and 1.6 % larger, half a sheet of 5 × 7 in is called 9 × 13 cm. Common practice without a source.
const nominalSize = 1.03

var (
	partTooLarge  = wording.Refuses("part-too-large", "a part of {part} is larger than a sheet of {box}, {sheet}", "mend --size")
	partsTooLarge = wording.Refuses("parts-too-large", "{parts} parts of {part} are larger than a sheet of {box}, {sheet}",
		"at most {most}; mend --parts or --size: --parts counts those of one sheet")
)

// checkCut refuses parts that cannot come out of one sheet however it is cut: one fits neither way, or together they are
// larger than the sheet, even where both sizes are only names.
func checkCut(snap *snapshot.Snapshot, x *events.PaperCutData) error {
	whole, err := snap.OfWhole()
	if err != nil {
		return err
	}
	b, err := wording.IgnoreMissing(whole.Box(x.Box))
	if err != nil || b == nil || b.Received == nil {
		return err
	}
	w, h := b.Received.WidthMM*nominalSize, b.Received.HeightMM*nominalSize
	if w <= 0 || h <= 0 || x.WidthMM <= 0 || x.HeightMM <= 0 {
		return nil
	}
	part, sheet := sizeOf(x.WidthMM, x.HeightMM), sizeOf(b.Received.WidthMM, b.Received.HeightMM)
	if min(x.WidthMM, x.HeightMM) > min(w, h) || max(x.WidthMM, x.HeightMM) > max(w, h) {
		return partTooLarge.Refuse(part, x.Box, sheet)
	}
	if most := math.Floor(w * h / (x.WidthMM * x.HeightMM)); float64(x.Parts) > most {
		return partsTooLarge.Refuse(x.Parts, part, x.Box, sheet, most)
	}
	return nil
}

// sizeOf writes the sides of a sheet.
func sizeOf(width, height float64) string {
	return wording.Number(width) + " × " + wording.Number(height) + " mm"
}
