package snapshot

import (
	"fmt"

	"traybook/events"
	"traybook/projections/wording"
)

const WhatThereIs = "`traybook pictures`, `stock`, `baths` and `sessions` list what there is"

// NothingOf refuses to tell of a thing of which nothing counts.
func (snap *Snapshot) NothingOf(t events.Entity) error {
	all, err := snap.StreamAll(t)
	if err != nil {
		return err
	}
	if len(all) > 0 {
		return &wording.Refusal{Text: fmt.Sprintf("every entry of %s was voided", t.Name), Hint: "`traybook history " + t.Name + " --all` shows them"}
	}
	if snap.AsOf.IsZero() {
		return &wording.Refusal{Text: fmt.Sprintf("nothing is written of %s", t.Name), Hint: WhatThereIs}
	}
	return &wording.Refusal{Text: fmt.Sprintf("nothing was written of %s by %s", t.Name, wording.ClockOf(snap.AsOf)), Hint: "give a later --as-of, or leave it out"}
}
