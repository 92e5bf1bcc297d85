package main

import (
	"fmt"
	"time"

	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/screen"
	"traybook/events"
	"traybook/events/sqlite"
	"traybook/projections/wording"
)

// clockJSON stands in the answer of every command that wrote while the clock stood before the last entry.
type clockJSON struct {
	BehindS    float64 `json:"behind_s"`    // how far
	RecordedAt string  `json:"recorded_at"` // of the last entry, and so of what was written
	Entry      string  `json:"entry"`       // the first that was recorded then
	Text       string  `json:"text"`
}

// clockTold is what to tell of the clock after what was written, nil for nothing.
func clockTold(env *Env) *clockJSON {
	if env == nil || env.clockBack == nil {
		return nil
	}
	b := env.clockBack()
	if b == nil {
		return nil
	}
	return &clockJSON{b.By.Seconds(), events.FormatTime(b.RecordedAt), b.Entry.String(), fmt.Sprintf(
		"the clock of this machine stands %s before entry %s was written down, at %s, and all that is written until then is recorded at that moment, too; %s",
		wording.Seconds(b.By.Seconds()), short(b.Entry), wording.ClockOf(inZone(b.RecordedAt, b.Zone)), eitherClock(b.Entry))}
}

// eitherClock says what each of the two clocks that may be wrong asks for.
func eitherClock(first events.ID) string {
	return fmt.Sprintf("either this clock is behind: set it right, and put right what it stamped since, traybook amend ID at=…; "+
		"or it stood ahead when %s was written: look whether that and what follows lies at its right time, traybook amend %[1]s at=…", short(first))
}

func inZone(t time.Time, zone string) time.Time {
	if z, err := line.Zone(zone); zone != "" && err == nil {
		return t.In(z)
	}
	return t
}

// tellClock tells it below the answer.
func tellClock(env *Env, plain bool) {
	if told := clockTold(env); told != nil {
		screen.Detect(env.Out, env.OutFD, plain, env.Around).Hang(screen.Warn, "  ! ", told.Text)
	}
}

// aheadJSON is a run of entries at the end of a chain that were recorded after now.
type aheadJSON struct {
	Entries    int64  `json:"entries"`     // how many
	Entry      string `json:"entry"`       // the first of them
	RecordedAt string `json:"recorded_at"` // when that was
	Until      string `json:"until"`       // when the last of them was
	Text       string `json:"text"`
}

// recordedAhead tells where entries were recorded in the future of now.
func recordedAhead(tx *sqlite.Tx, now time.Time) ([]aheadJSON, error) {
	runs, err := tx.RecordedAhead(now)
	out := []aheadJSON{}
	for _, r := range runs {
		were := "were"
		if r.Count == 1 {
			were = "was"
		}
		out = append(out, aheadJSON{r.Count, r.First.ID.String(), events.FormatTime(r.First.RecordedAt), events.FormatTime(r.Until), fmt.Sprintf(
			"%s, from %s on, %s written down after now, the last at %s; %s", wording.CountOf(r.Count, "entry"), short(r.First.ID), were,
			wording.ClockOf(inZone(r.Until, r.First.Zone)), eitherClock(r.First.ID))})
	}
	return out, err
}
