package acts

import (
	"fmt"
	"math"
	"time"

	"traybook/events"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// nominalSize is how far the name of a size may be from its millimetres: a sheet called 20 × 25 cm is one of 8 × 10 in
// and 1.6 % larger, half a sheet of 5 × 7 in is called 9 × 13 cm. Common practice without a source.
const nominalSize = 1.03

// checkCut refuses parts that cannot come out of one sheet however it is cut: one fits neither way, or together they are
// larger than the sheet, even where both sizes are only names.
func checkCut(snap *snapshot.Snapshot, x *events.PaperCutData) error {
	b, err := wording.IgnoreMissing(snapshot.New(snap.R, time.Time{}).Box(x.Box))
	if err != nil || b == nil || b.Received == nil {
		return err
	}
	w, h := b.Received.WidthMM*nominalSize, b.Received.HeightMM*nominalSize
	if w <= 0 || h <= 0 || x.WidthMM <= 0 || x.HeightMM <= 0 {
		return nil
	}
	from := fmt.Sprintf("a sheet of %s, %s", x.Box, sizeOf(b.Received.WidthMM, b.Received.HeightMM))
	if min(x.WidthMM, x.HeightMM) > min(w, h) || max(x.WidthMM, x.HeightMM) > max(w, h) {
		return &wording.Refusal{Text: fmt.Sprintf("a part of %s is larger than %s", sizeOf(x.WidthMM, x.HeightMM), from), Hint: "mend --size"}
	}
	if most := math.Floor(w * h / (x.WidthMM * x.HeightMM)); float64(x.Parts) > most {
		return &wording.Refusal{Text: fmt.Sprintf("%d parts of %s are larger than %s", x.Parts, sizeOf(x.WidthMM, x.HeightMM), from),
			Hint: fmt.Sprintf("at most %s; mend --parts or --size: --parts counts those of one sheet", wording.Number(most))}
	}
	return nil
}

// sizeOf writes the sides of a sheet.
func sizeOf(width, height float64) string {
	return wording.Number(width) + " × " + wording.Number(height) + " mm"
}
