package report

import (
	"time"

	"traybook/events"
	"traybook/projections/snapshot"
)

// SessionLine is one session as `sessions` tells it. The counts are of sheets exposed or printed in it; what became of
// them counts wherever it was done.
type SessionLine struct {
	Session   string   `json:"session"`
	Camera    *string  `json:"camera"`
	Place     *string  `json:"place"`
	Lat       *float64 `json:"lat"` // of the place, north is +; null where it was not written
	Lon       *float64 `json:"lon"` // of the place, east is +; null where it was not written
	Light     *string  `json:"light"`
	Sky       *string  `json:"sky"`
	Helper    *string  `json:"helper"`
	OpenedAt  *string  `json:"opened_at"`
	ClosedAt  *string  `json:"closed_at"` // null while open
	Open      bool     `json:"open"`      // it is not closed
	Pictures  int      `json:"pictures"`
	Negatives int      `json:"negatives"` // how many were exposed
	Prints    int      `json:"prints"`
	Kept      int      `json:"kept"`
	Redo      int      `json:"redo"`
	Rejected  int      `json:"rejected"`
	Waiting   int      `json:"waiting"` // exposed and not yet developed
}

// SessionsReport is the sessions of the book, the newest first.
type SessionsReport struct {
	Sessions []SessionLine `json:"sessions"` // the newest first
	More     bool          `json:"more"`     // earlier ones were left out
}

// Sessions lists the latest sessions at the snapshot's moment with what was made in them; with all every one.
func Sessions(snap *snapshot.Snapshot, all bool) (SessionsReport, error) {
	out := SessionsReport{Sessions: []SessionLine{}}
	q := events.ViewQuery{Kind: events.Session, Limit: listed + 1}
	if all {
		q.Limit = 0
	}
	if !snap.AsOf.IsZero() {
		q.To = snap.AsOf.UnixMicro()
	}
	views, err := snap.R.Views(q)
	if err != nil {
		return out, err
	}
	for _, v := range views {
		if !all && len(out.Sessions) == listed {
			out.More = true
			break
		}
		s, err := snapshot.Listed(snap.Session(v.Entity.Name))
		if err != nil {
			return out, err
		}
		if s.Opened == nil {
			continue
		}
		line, err := SessionLineOf(snap, s)
		if err != nil {
			return out, err
		}
		out.Sessions = append(out.Sessions, line)
	}
	return out, nil
}

// SessionLineOf is one session as it stands at the snapshot's moment: what every list and table tells of it.
func SessionLineOf(snap *snapshot.Snapshot, s *snapshot.Session) (SessionLine, error) {
	o := s.Opened
	l := SessionLine{Session: s.Entity.Name, Camera: orNil(o.Camera), Place: orNil(o.Place), Lat: o.Lat, Lon: o.Lon, Light: orNil(o.Light),
		Sky: orNil(o.Sky), Helper: orNil(o.Helper), OpenedAt: new(events.FormatTime(s.At)), Open: s.ClosedAt.IsZero()}
	if !l.Open {
		l.ClosedAt = new(events.FormatTime(s.ClosedAt))
	}
	made, err := madeIn(snap, s)
	if err != nil {
		return l, err
	}
	pictures := map[string]bool{}
	for _, m := range made {
		pictures[m.picture] = true
		if m.part == "n" {
			l.Negatives++
		} else {
			l.Prints++
		}
		switch m.state.Verdict {
		case "keep":
			l.Kept++
		case "redo":
			l.Redo++
		case "reject":
			l.Rejected++
		}
		if m.state.State == snapshot.Exposed {
			l.Waiting++
		}
	}
	l.Pictures = len(pictures)
	return l, nil
}

// made is one sheet that a session made, and how it stands at the snapshot's moment.
type made struct {
	picture, part string
	at            time.Time
	state         snapshot.SheetState
}

// madeIn lists the sheets exposed or printed in a session, each once, in their order.
func madeIn(snap *snapshot.Snapshot, s *snapshot.Session) ([]made, error) {
	acts, err := snap.Entries(events.Query{Session: s.Entity.ID, Kinds: []events.Kind{events.SheetExposed, events.SheetReprinted}})
	if err != nil {
		return nil, err
	}
	var out []made
	seen := map[string]bool{}
	states := map[string]snapshot.PictureState{}
	for _, e := range acts {
		sheet := events.SheetOf(e.Data)
		pic, part, ok := events.SplitSheet(sheet)
		if !ok || seen[sheet] {
			continue
		}
		seen[sheet] = true
		st, known := states[pic]
		if !known {
			if st, err = snap.StateOf(pic); err != nil {
				return nil, err
			}
			states[pic] = st
		}
		m := made{picture: pic, part: part, at: e.At}
		for _, x := range st.Sheets {
			if x.Part == part {
				m.state = x
			}
		}
		out = append(out, m)
	}
	return out, nil
}
