package page_test

import (
	"crypto/sha256"
	"fmt"
	"strings"
	"testing"

	"traybook/events/eventstest"
	"traybook/export/page"
)

const heldStrokes = "testdata/everything.txt"

// Each stroke of the sample, which draws every primitive, is held where it stands: a distance, a size or a grey moves only
// where that is meant, and so is what is told of it. Of the other sizes of paper a sum of each page is held.
func TestEveryStrokeStandsWhereItStood(t *testing.T) {
	o := options()
	o.Uncompressed = true
	pdf := finished(t, everything(t, o))
	got := strings.Join(eventstest.PDFObjects(pdf), "") + eventstest.PDFStructure(pdf)
	for _, way := range []page.Options{{Size: "A4", Landscape: true}, {Size: "Letter"}, {Size: "Letter", Landscape: true}} {
		o.Size, o.Landscape = way.Size, way.Landscape
		got += fmt.Sprintf("%s, landscape %t\n", way.Size, way.Landscape)
		for _, object := range eventstest.PDFObjects(finished(t, everything(t, o))) {
			number, _, _ := strings.Cut(object, ":")
			got += fmt.Sprintf("%s: %.4x\n", number, sha256.Sum256([]byte(object)))
		}
	}
	eventstest.Hold(t, heldStrokes, got)
}
