package projections

import (
	"fmt"
	"time"

	"traybook/events"
)

// todayWants lists what was done and not yet said: sheets nobody has judged, verdicts without a reason, moments marked
// and not filled in, sessions without a place, strips not read.
func (d *Desk) todayWants(t *TodayReport, open []*Session, recent []recentState, now time.Time) error {
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
			case s.Verdict == "" && stateOrder[s.State] >= stateOrder[Fixed] && !r.last.Before(morning):
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
	for _, s := range open {
		if age := now.Sub(s.At); age >= longOpen {
			t.Wants = append(t.Wants, Want{s.Thing.Name, "open since " + clockOf(s.At), "traybook session close " + s.Thing.Name})
		}
	}
	if err := d.wantMarks(t, now); err != nil {
		return err
	}
	if err := d.wantPlaces(t, now); err != nil {
		return err
	}
	return d.wantStrips(t, now)
}

// wantMarks lists the moments marked of late at which no act was written since.
func (d *Desk) wantMarks(t *TodayReport, now time.Time) error {
	marks, err := d.entries(events.Query{Kinds: []events.Kind{events.MomentMarked}, From: now.Add(-recentMarks), To: now})
	if err != nil {
		return err
	}
	for _, m := range marks {
		same, err := d.entries(events.Query{From: m.At.Add(-time.Microsecond), To: m.At})
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
				when = clockOf(m.At)
			}
			t.Wants = append(t.Wants, Want{id, "marked at " + when + " and not filled in", "traybook expose f/8 4s --at mark"})
		}
	}
	return nil
}

const fewThings = 8

func (d *Desk) wantPlaces(t *TodayReport, now time.Time) error {
	views, err := d.R.Views(events.ViewQuery{Kind: events.Session, RankFrom: now.Add(-recentWords).UnixMicro(), To: now.UnixMicro(), Limit: fewThings})
	if err != nil {
		return err
	}
	for _, v := range views {
		st, err := readHome(v)
		if err != nil {
			return err
		}
		if st.Place != "" {
			continue
		}
		s, err := d.Session(v.Thing.Name)
		if err != nil {
			return err
		}
		if s.Opened != nil && s.Opened.Place == "" {
			for _, e := range s.Entries {
				if e.Kind == events.SessionOpened {
					t.Wants = append(t.Wants, Want{s.Thing.Name, "without a place", fmt.Sprintf("traybook amend %s place=…", e.ID.String()[:8])})
					break
				}
			}
		}
	}
	return nil
}

func (d *Desk) wantStrips(t *TodayReport, now time.Time) error {
	views, err := d.R.Views(events.ViewQuery{Kind: events.Strip, RankFrom: now.Add(-recentWords).UnixMicro(), To: now.UnixMicro(), Limit: fewThings})
	if err != nil {
		return err
	}
	for _, v := range views {
		entries, err := d.Home(v.Thing)
		if err != nil {
			return err
		}
		read := len(entries) == 0
		for _, e := range entries {
			read = read || e.Kind == events.StripRead
		}
		if !read {
			t.Wants = append(t.Wants, Want{v.Thing.Name, "exposed and not read", "traybook strip read " + v.Thing.Name})
		}
	}
	return nil
}
