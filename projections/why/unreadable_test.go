package why_test

import (
	"testing"
	"time"

	"traybook/projections/booktest"
	"traybook/projections/snapshot"
	"traybook/projections/why"
)

// Nobody is accused beside a page that cannot be read: a picture without its reading would be accused of what it never did.
func TestNobodyIsAccusedBesideAPageThatCannotBeRead(t *testing.T) {
	t.Parallel()
	outing := booktest.FromActs(t, booktest.Outing)
	for picture, b := range map[string]string{"2026-001": "", "2026-002": "", "a planned box": "paper iso_r=60; +paper.received @06-05T10:03 box=box-2 name=other base=rc width_mm=130 height_mm=180 sheets=10 index=3 iso_r=110; expose planned_box=box-2; judge n flat",
		"a leak":              "+holder.loaded @09:30 holder=left box=box-1; +camera.checked @09:00 camera=mole-camera what=holder holder=left result=bad; expose holder=left; judge n streaks-dark",
		"a holder used twice": "+holder.loaded @09:30 holder=left box=box-1; +sheet.exposed @09:40 picture=2026-002 box=box-1 f=8 time_s=4 holder=left; expose holder=left; judge n double-image",
		"a copy":              "read zone_stops=1; judge p1 too-light", "a pre-flash": "+strip.exposed @09:50 strip=f1 box=box-1 on=pre-flash times_s=[1,2,4]; +strip.read @09:55 strip=f1 threshold=2; expose pre_flash_s=6; judge n fogged-highlights"} {
		t.Run(picture, func(t *testing.T) {
			of, named := outing, picture
			if b != "" {
				of, named = bookOf(t, caseLines(t, b)), "2026-001"
			}
			booktest.Tear(t, of, time.Time{}, func(snap *snapshot.Snapshot) error { _, err := why.Why(snap, named); return err })
		})
	}
}
