package page_test

import (
	"crypto/sha256"
	"flag"
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"traybook/events/eventstest"
	"traybook/export/page"
)

var update = flag.Bool("update", false, "write the strokes of the sample anew")

const heldStrokes = "testdata/everything.txt"

// Each stroke of the sample, which draws every primitive, is held where it stands: a distance, a size or a grey moves only
// where that is meant. Of the other sizes of paper a sum of each page is held.
func TestEveryStrokeStandsWhereItStood(t *testing.T) {
	o := options()
	o.Uncompressed = true
	got := strings.Join(eventstest.PDFObjects(finished(t, everything(t, o))), "")
	for _, way := range []page.Options{{Size: "A4", Landscape: true}, {Size: "Letter"}, {Size: "Letter", Landscape: true}} {
		o.Size, o.Landscape = way.Size, way.Landscape
		got += fmt.Sprintf("%s, landscape %t\n", way.Size, way.Landscape)
		for _, object := range eventstest.PDFObjects(finished(t, everything(t, o))) {
			number, _, _ := strings.Cut(object, ":")
			got += fmt.Sprintf("%s: %.4x\n", number, sha256.Sum256([]byte(object)))
		}
	}
	if *update {
		require.NoError(t, os.WriteFile(heldStrokes, []byte(got), 0o644))
		return
	}
	raw, err := os.ReadFile(heldStrokes)
	require.NoError(t, err)
	want, is := strings.Split(string(raw), "\n"), strings.Split(got, "\n")
	for i := range max(len(want), len(is)) {
		if i >= len(want) || i >= len(is) || want[i] != is[i] {
			require.Equal(t, strings.Join(want[min(i, len(want)):min(i+3, len(want))], "\n"), strings.Join(is[min(i, len(is)):min(i+3, len(is))], "\n"), "line %d of %s; where it is meant, -update writes it", i+1, heldStrokes)
		}
	}
}
