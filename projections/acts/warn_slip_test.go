package acts_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/projections/booktest"
	"traybook/projections/wording"
)

// Noon in June at 59° north: the sun stands 54° high, clear daylight on a surface turned to it is EV 15 to 16, and deep
// shade under the darkest sky lies near EV 6 (Circular 171, see calc.SlipBounds).
func TestAReadingThatIsLikelyASlipIsTold(t *testing.T) {
	b := booktest.FromFile(t, "../../testdata/cases/good-picture.ndjson")
	at := time.Date(2026, 6, 7, 13, 0, 0, 0, time.FixedZone("", 7200))
	n := byte(100)
	write := func(d events.Data) []string {
		n++
		at = at.Add(time.Minute)
		e := events.Entry{Kind: d.Kind(), At: at, ID: events.ID{n}, RecordedAt: at, Data: d}
		a, err := writtenTo(t, b, e)
		require.NoError(t, err)
		return wording.Texts(a.Warnings)
	}
	ev := func(v float64, on, light string) *events.LightMeteredData {
		index := 100.0
		return &events.LightMeteredData{On: on, Mode: "reflected", Of: "card", EV: &v, Index: &index, Light: light}
	}
	lat, lon := 59.0, 10.4
	write(&events.SessionClosedData{Session: "mole-day"})
	write(&events.SessionOpenedData{Session: "steps", Lat: &lat, Lon: &lon})
	assert.Empty(t, write(ev(13, "scene", "sun")))
	assert.Contains(t, write(ev(19, "scene", "sun"))[0], "brighter than the sun")
	assert.Contains(t, write(ev(2, "scene", "shade"))[0], "darker than the deepest shade")
	assert.Empty(t, write(ev(2, "scene", "lamp")), "a lamp is not the sun's business")
	assert.Empty(t, write(ev(12, "scene", "")))
	assert.Empty(t, write(ev(14.1, "negative", "")))
	assert.Contains(t, write(ev(14.3, "negative", ""))[0], "no paper is so bright")
	assert.Empty(t, write(ev(19, "negative", "dusk")), "another light")
}
