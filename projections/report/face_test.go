package report_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/projections/booktest"
	"traybook/projections/report"
	"traybook/projections/snapshot"
)

// A sheet of which there is no scan is shown by its predicted tones, over the white of its own paper.
func TestASheetIsShownOverTheWhiteOfItsPaper(t *testing.T) {
	text := strings.Replace(booktest.Harbour, `"index":3`, `"index":3,"dmin":0.1`, 1) + `
paper.received 2026-05-01T08:03:00 "box":"box-2","name":"cream paper","base":"fb","width_mm":100,"height_mm":125,"sheets":100,"index":3,"dmin":0.25
light.metered 2026-05-02T09:50:00 "on":"scene","mode":"reflected","index":3,"f":8,"time_s":4,"session":"mole"` + booktest.Picture(1, 0, "ferry mate") + `
light.metered 2026-05-02T10:30:00 "on":"negative","mode":"reflected","index":3,"f":11,"time_s":5,"of":"mid","picture":"2026-001"
sheet.reprinted 2026-05-02T10:31:00 "picture":"2026-001","box":"box-2","f":11,"time_s":20,"session":"mole","camera":"quay-box"`
	booktest.Look(t, booktest.FromActs(t, text), func(snap *snapshot.Snapshot) {
		p, err := snap.Picture("2026-001")
		require.NoError(t, err)
		faces, err := report.Faces(snap, p)
		require.NoError(t, err)
		for sheet, want := range map[string]report.Face{"2026-001n": {Dmin: 0.1}, "2026-001p1": {Dmin: 0.25, Printed: true}} {
			got := faces[sheet]
			assert.NotEmpty(t, got.Tones, sheet)
			want.Sheet, want.Tones = sheet, got.Tones
			assert.Equal(t, want, got)
		}
	})
}
