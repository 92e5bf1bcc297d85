package report

import (
	"fmt"
	"time"

	"traybook/events"
	"traybook/projections/acts"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// todayWants lists what was done and not yet said: sheets nobody has judged, verdicts without a reason, pictures without
// subject or sitter, moments marked and not filled in, sessions without a place, strips not read.
func todayWants(snap *snapshot.Snapshot, t *TodayReport, open []*snapshot.Session, recent []recentState, now time.Time) error {
	morning := time.Date(now.Year(), now.Month(), now.Day(), 0, 0, 0, 0, now.Location())
	for _, s := range open { // a session over midnight is still today's
		if s.At.Before(morning) && now.Sub(s.At) < recentActs {
			morning = s.At
		}
	}
	for _, r := range recent {
		for _, s := range r.st.Sheets {
			name := events.Sheet(r.name, s.Part)
			switch {
			case s.Verdict == "" && snapshot.StateOrder[s.State] >= snapshot.StateOrder[snapshot.Fixed] && !r.last.Before(morning):
				t.Wants = append(t.Wants, Want{name, "not judged", "traybook judge keep --sheet " + name})
			case s.Verdict == "redo" && len(s.Symptoms) == 0 && !r.last.Before(now.Add(-recentWords)):
				symptom := "too-dark"
				if s.Part == "n" {
					symptom = "dense"
				}
				t.Wants = append(t.Wants, Want{name, "to be done again, and nothing says why", "traybook judge redo " + symptom + " --sheet " + name})
			}
		}
	}
	for _, r := range recent {
		if namesNobody(r.st) && !r.last.Before(now.Add(-recentWords)) {
			t.Wants = append(t.Wants, Want{r.name, "without subject or sitter", "traybook captions"})
		}
	}
	for _, s := range open {
		if age := now.Sub(s.At); age >= acts.LongOpen {
			t.Wants = append(t.Wants, Want{s.Entity.Name, "open since " + wording.ClockOf(s.At), "traybook session close " + s.Entity.Name})
		}
	}
	if err := wantMarks(snap, t, now); err != nil {
		return err
	}
	if err := wantPlaces(snap, t, now); err != nil {
		return err
	}
	return wantStrips(snap, t, now)
}

// namesNobody says whether a picture bears neither subject nor sitter, and its negative was not thrown away.
func namesNobody(st snapshot.PictureState) bool {
	return st.Subject == "" && st.Sitter == "" && len(st.Sheets) > 0 &&
		!anySheet(st, func(s snapshot.SheetState) bool { return s.Part == "n" && s.Verdict == "reject" })
}

// wantMarks lists the moments marked of late at which no act was written since.
func wantMarks(snap *snapshot.Snapshot, t *TodayReport, now time.Time) error {
	marks, err := snap.Entries(events.Query{Kinds: []events.Kind{events.MomentMarked}, From: now.Add(-recentMarks), To: now})
	if err != nil {
		return err
	}
	for _, m := range marks {
		same, err := snap.Entries(events.Query{From: m.At.Add(-time.Microsecond), To: m.At})
		if err != nil {
			return err
		}
		used := false
		for _, e := range same {
			used = used || e.Kind != events.MomentMarked && e.At.Equal(m.At)
		}
		if !used {
			id, when := m.ID.String()[:8], m.At.Format("15:04")
			if m.At.YearDay() != now.In(m.At.Location()).YearDay() { // an hour alone would be read as today's
				when = wording.ClockOf(m.At)
			}
			t.Wants = append(t.Wants, Want{id, "marked at " + when + " and not filled in", "traybook expose f/8 4s --at mark"})
		}
	}
	return nil
}

const fewEntities = 8

func wantPlaces(snap *snapshot.Snapshot, t *TodayReport, now time.Time) error {
	views, err := snap.R.Views(events.ViewQuery{Kind: events.Session, RankFrom: now.Add(-recentWords).UnixMicro(), To: now.UnixMicro(), Limit: fewEntities})
	if err != nil {
		return err
	}
	for _, v := range views {
		st, err := snapshot.ReadStream(v)
		if err != nil {
			return err
		}
		if st.Place != "" {
			continue
		}
		s, err := snapshot.Listed(snap.Session(v.Entity.Name))
		if err != nil {
			return err
		}
		if s.Opened != nil && s.Opened.Place == "" {
			for _, e := range s.Entries {
				if e.Kind == events.SessionOpened {
					t.Wants = append(t.Wants, Want{s.Entity.Name, "without a place", fmt.Sprintf("traybook amend %s place=…", e.ID.String()[:8])})
					break
				}
			}
		}
	}
	return nil
}

func wantStrips(snap *snapshot.Snapshot, t *TodayReport, now time.Time) error {
	views, err := snap.R.Views(events.ViewQuery{Kind: events.Strip, RankFrom: now.Add(-recentWords).UnixMicro(), To: now.UnixMicro(), Limit: fewEntities})
	if err != nil {
		return err
	}
	for _, v := range views {
		entries, err := snap.Stream(v.Entity)
		if err != nil {
			return err
		}
		read := len(entries) == 0
		for _, e := range entries {
			read = read || e.Kind == events.StripRead
		}
		if !read {
			t.Wants = append(t.Wants, Want{v.Entity.Name, "exposed and not read", "traybook strip read " + v.Entity.Name})
		}
	}
	return nil
}
