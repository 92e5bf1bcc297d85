package projections

import (
	"fmt"
	"time"

	"traybook/calc"
	"traybook/events"
)

// nominalSize is how far the name of a size may be from its millimetres: a sheet called 20 × 25 cm is one of 8 × 10 in
// and 1.6 % larger, half a sheet of 5 × 7 in is called 9 × 13 cm. Common practice without a source.
const nominalSize = 1.03

// checkCut refuses parts that cannot come out of one sheet in any way, even where both sizes are only names.
func (d *Desk) checkCut(x *events.PaperCutData) error {
	sheet, err := d.sheetToCut(x)
	if sheet == nil || err != nil {
		return err
	}
	w, h := sheet.WidthMM*nominalSize, sheet.HeightMM*nominalSize
	if !calc.CannotCut(w, h, x.WidthMM, x.HeightMM, x.Parts) {
		return nil
	}
	from := fmt.Sprintf("a sheet of %s, %s", x.Box, sizeOf(sheet.WidthMM, sheet.HeightMM))
	most, known := calc.MostParts(w, h, x.WidthMM, x.HeightMM)
	if known && most == 0 {
		return &Refusal{Text: fmt.Sprintf("a part of %s is larger than %s", sizeOf(x.WidthMM, x.HeightMM), from), Hint: "mend --size"}
	}
	hint := "mend --parts or --size; --parts counts those of one sheet"
	if known {
		hint = fmt.Sprintf("at most %d; %s", most, hint)
	}
	return &Refusal{Text: fmt.Sprintf("%d parts of %s do not come out of %s", x.Parts, sizeOf(x.WidthMM, x.HeightMM), from), Hint: hint}
}

// cutSurprise tells parts that come out of a sheet only if the sizes are names, or around a hole; "" for no surprise.
func (d *Desk) cutSurprise(x *events.PaperCutData) (string, error) {
	sheet, err := d.sheetToCut(x)
	if sheet == nil || err != nil {
		return "", err
	}
	most, known := calc.MostParts(sheet.WidthMM, sheet.HeightMM, x.WidthMM, x.HeightMM)
	if !known || most >= x.Parts {
		return "", nil
	}
	return fmt.Sprintf("by the numbers %d, not %d, of %s come out of %s by straight cuts", most, x.Parts,
		sizeOf(x.WidthMM, x.HeightMM), sizeOf(sheet.WidthMM, sheet.HeightMM)), nil
}

// sheetToCut is the paper of the box that is cut; nil where its size is not known.
func (d *Desk) sheetToCut(x *events.PaperCutData) (*events.PaperReceivedData, error) {
	b, err := NewDesk(d.R, time.Time{}).Box(x.Box)
	if err != nil || b.Received == nil || b.Received.WidthMM <= 0 || b.Received.HeightMM <= 0 {
		return nil, ignoreRefusal(err)
	}
	return b.Received, nil
}

// sizeOf writes the sides of a sheet.
func sizeOf(width, height float64) string { return Number(width) + " × " + Number(height) + " mm" }
