package snapshot

import (
	"cmp"
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"traybook/events"
)

// FoldVersion is the version of everything that kept views hold. A change of it makes every book fold its views anew
// at the next `rebuild`; until then they are folded on reading.
const FoldVersion = 3

// Folder folds streams into kept views; it is what a book is opened with.
type Folder struct{}

// Version is FoldVersion.
func (Folder) Version() int { return FoldVersion }

// PictureState is the kept view of a picture.
type PictureState struct {
	Session string       `json:"session,omitempty"`
	Camera  string       `json:"camera,omitempty"`
	Subject string       `json:"subject,omitempty"`
	Sitter  string       `json:"sitter,omitempty"`
	At      string       `json:"at"` // of the first act, as written
	Sheets  []SheetState `json:"sheets"`
	Words   string       `json:"words,omitempty"` // texts of its entries, for finding
}

// SheetState is one sheet in it.
type SheetState struct {
	Part     string   `json:"part"`
	Box      string   `json:"box,omitempty"`
	Share    float64  `json:"share,omitempty"` // part of a sheet, 0 = whole
	State    string   `json:"state"`
	Verdict  string   `json:"verdict,omitempty"`
	Symptoms []string `json:"symptoms,omitempty"`
	F        float64  `json:"f,omitempty"`
	TimeS    float64  `json:"time_s,omitempty"`
	At       int64    `json:"at,omitempty"` // of the exposure, microseconds
	Reversed bool     `json:"reversed,omitempty"`
}

// StreamState is the kept view of every other stream: how many entries, and the few words by which lists show it.
type StreamState struct {
	Name    string  `json:"name,omitempty"`
	Role    string  `json:"role,omitempty"`
	Place   string  `json:"place,omitempty"`
	Entries int     `json:"entries"`
	Since   int64   `json:"since,omitempty"`
	Until   int64   `json:"until,omitempty"` // closed, discarded
	Box     string  `json:"box,omitempty"`   // of a strip or a holder
	Share   float64 `json:"share,omitempty"`
}

// Fold folds one stream. What it reads beyond the stream's own entries: of a box, how much was taken from it.
func (Folder) Fold(t events.Entity, r events.Reader) (events.View, error) {
	snap := New(r, time.Time{})
	v := events.View{Entity: t}
	if t.Kind == events.Box {
		return foldBoxView(snap, v)
	}
	entries, err := snap.Stream(t)
	if err != nil {
		return v, err
	}
	if len(entries) > 0 {
		v.Rank = entries[0].At.UnixMicro()
		v.Last = entries[len(entries)-1].At.UnixMicro()
	}
	if t.Kind == events.Picture {
		return foldPictureView(v, foldPicture(t, entries))
	}
	st := StreamState{Entries: len(entries), Since: v.Rank}
	switch t.Kind {
	case events.Session:
		s := foldSession(t, entries)
		if s.Opened != nil {
			st.Place, v.Rank, v.Open = s.Opened.Place, s.At.UnixMicro(), s.ClosedAt.IsZero()
			if !v.Open {
				st.Until = s.ClosedAt.UnixMicro()
				v.Last = st.Until
			}
		}
	case events.Bath:
		b := foldBath(t, entries)
		if b.Mixed != nil {
			st.Name, st.Role, v.Open = b.Mixed.Name, b.Mixed.Role, b.Discarded == nil
			if b.Discarded != nil {
				st.Until = b.DiscardedAt.UnixMicro()
			}
		}
	case events.Order:
		o := foldOrder(t, entries)
		if v.Open = o.Taken != nil && o.Closed == nil; o.Closed != nil {
			st.Until = o.ClosedAt.UnixMicro()
		}
	case events.Strip:
		for _, e := range entries {
			if x, ok := e.Data.(*events.StripExposedData); ok {
				st.Box, st.Share = x.Box, ValueOr(x.Part, 0)
			}
		}
	case events.Holder:
		for _, e := range entries {
			if x, ok := e.Data.(*events.HolderLoadedData); ok {
				st.Box = x.Box
			}
		}
	}
	return withState(v, st)
}

func withState(v events.View, state any) (events.View, error) {
	raw, err := json.Marshal(state)
	if err != nil {
		return v, fmt.Errorf("the view of %s cannot be written: %w", v.Entity.Name, err)
	}
	v.State = raw
	return v, nil
}

func foldBoxView(snap *Snapshot, v events.View) (events.View, error) {
	own, into, err := snap.boxEntries(v.Entity)
	if err != nil {
		return v, err
	}
	b := foldBox(v.Entity, own, into, nil)
	s, err := snap.StockOf(b)
	if err != nil {
		return v, err
	}
	st := StreamState{Entries: len(b.Entries)}
	// Of a cut box the view holds nothing that the box it was cut from says: that is another stream.
	for _, e := range b.Entries {
		if r, ok := e.Data.(*events.PaperReceivedData); ok && st.Name == "" {
			st.Name = r.Name
		}
	}
	for _, c := range b.came {
		if at := c.at.UnixMicro(); v.Rank == 0 || at < v.Rank {
			v.Rank, st.Since = at, at
		}
	}
	v.Last = v.Rank
	if n := len(b.Entries); n > 0 {
		v.Last = b.Entries[n-1].At.UnixMicro()
	}
	v.Open = s.Left > 0
	if !v.Open { // an empty box is kept with the instant of its last use, so that an earlier look finds it
		for _, u := range s.Uses {
			v.Last = max(v.Last, u.At.UnixMicro())
		}
	}
	// What its own entries account for: the number of users bounds what they took, so stock − users never overrates.
	v.Stock = int64(b.stock(nil).Left)
	return withState(v, st)
}

func foldPictureView(v events.View, p *Picture) (events.View, error) {
	year, n, ok := events.PictureNumber(p.Entity.Name)
	if ok {
		v.Rank = int64(year)*1_000_000_000 + int64(n)
	}
	st := PictureState{Session: p.Session, Camera: p.Camera, Subject: p.Subject, Sitter: p.Sitter, Sheets: []SheetState{}}
	if !p.First.IsZero() {
		st.At = events.FormatTime(p.First)
	}
	for _, s := range p.Sheets {
		ss := SheetState{Part: s.Part, Box: s.Box, State: s.State, Reversed: s.Reversed()}
		if e := s.Exposure(); e != nil {
			ss.At = e.At.UnixMicro()
			switch x := e.Data.(type) {
			case *events.SheetExposedData:
				ss.F, ss.TimeS, ss.Share = x.F, x.TimeS, ValueOr(x.Part, 0)
			case *events.SheetReprintedData:
				ss.F, ss.TimeS, ss.Share = ValueOr(x.F, 0), x.TimeS, ValueOr(x.Part, 0)
			}
		}
		if j := s.Verdict(); j != nil {
			ss.Verdict, ss.Symptoms = j.Verdict, j.Symptoms
		}
		if s.Waits() {
			v.Open = true
		}
		st.Sheets = append(st.Sheets, ss)
	}
	var words strings.Builder
	for _, e := range p.All {
		if f, ok := events.FieldOf(e.Kind, "text"); ok {
			if text, there := f.Value(e.Data); there {
				words.WriteString(text.(string))
				words.WriteByte('\n')
			}
		}
	}
	st.Words = words.String()
	return withState(v, st)
}

// readPicture reads the kept view of a picture.
func readPicture(v events.View) (PictureState, error) {
	var st PictureState
	if err := json.Unmarshal(v.State, &st); err != nil {
		return st, fmt.Errorf("%w: the view of %s cannot be read; `traybook rebuild` makes it anew", events.ErrDamaged, v.Entity.Name)
	}
	return st, nil
}

// ReadStream reads the kept view of anything else.
func ReadStream(v events.View) (StreamState, error) {
	var st StreamState
	if err := json.Unmarshal(v.State, &st); err != nil {
		return st, fmt.Errorf("%w: the view of %s cannot be read; `traybook rebuild` makes it anew", events.ErrDamaged, v.Entity.Name)
	}
	return st, nil
}

// cut is what a sheet was made of: a box's sheet, or a share of one.
type cut struct {
	box   string
	share float64
}

// cutsIn reads from a kept view what its sheets were made of, by the part of the picture; of a strip under "".
func cutsIn(v events.View) map[string]cut {
	if v.Entity.Kind != events.Picture {
		st, err := ReadStream(v)
		if err != nil {
			return nil
		}
		return map[string]cut{"": {st.Box, cmp.Or(st.Share, 1)}}
	}
	st, err := readPicture(v)
	if err != nil {
		return nil
	}
	out := make(map[string]cut, len(st.Sheets))
	for _, s := range st.Sheets {
		out[s.Part] = cut{s.Box, cmp.Or(s.Share, 1)}
	}
	return out
}

// RoleInView is true where the kept view of a bath names this role.
func RoleInView(v events.View, role string) bool {
	st, err := ReadStream(v)
	return err == nil && st.Role == role
}
