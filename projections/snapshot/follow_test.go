package snapshot_test

import (
	"encoding/json"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/eventstest"
	"traybook/events/sqlite"
	"traybook/projections/acts"
	"traybook/projections/booktest"
	"traybook/projections/snapshot"
)

// rush is a second day in which much lies open at once: sheets that wait, one thrown away and taken up again, prints of
// several negatives after one reading, a holder that is loaded anew.
const rush = `
sheet.developed 2026-05-03T09:18:00 "sheet":"2026-003n","bath":"dev-1","time_s":60,"session":"lighthouse"
sheet.developed 2026-05-03T09:19:00 "sheet":"2026-002p1","bath":"dev-1","time_s":60,"session":"lighthouse"
holder.loaded 2026-05-03T09:20:00 "holder":"left","box":"box-2"
sheet.exposed 2026-05-03T09:30:00 "picture":"2026-005","box":"box-1","f":8,"time_s":4,"session":"lighthouse","camera":"quay-box"
sheet.exposed 2026-05-03T09:31:00 "picture":"2026-006","box":"box-2","f":8,"time_s":4,"session":"lighthouse","camera":"quay-box"
sheet.exposed 2026-05-03T09:32:00 "picture":"2026-007","box":"box-1","f":8,"time_s":4,"session":"lighthouse","camera":"quay-box"
sheet.judged 2026-05-03T09:33:00 "sheet":"2026-004n","verdict":"reject"
sheet.developed 2026-05-03T09:34:00 "sheet":"2026-005n","bath":"dev-1","time_s":60,"session":"lighthouse"
sheet.judged 2026-05-03T09:35:00 "sheet":"2026-004n","verdict":"keep"
sheet.developed 2026-05-03T09:36:00 "sheet":"2026-004n","bath":"dev-1","time_s":60,"session":"lighthouse"
sheet.developed 2026-05-03T09:37:00 "sheet":"2026-007n","bath":"dev-1","time_s":60,"session":"lighthouse"
light.metered 2026-05-03T09:40:00 "on":"negative","mode":"reflected","index":3,"f":11,"time_s":5,"of":"mid","session":"lighthouse"
sheet.reprinted 2026-05-03T09:41:00 "picture":"2026-005","box":"box-2","f":11,"time_s":20,"session":"lighthouse","camera":"quay-box"
sheet.reprinted 2026-05-03T09:42:00 "picture":"2026-004","box":"box-1","f":11,"time_s":20,"session":"lighthouse","camera":"quay-box"
sheet.reprinted 2026-05-03T09:43:00 "picture":"2026-005","box":"box-2","f":11,"time_s":20,"session":"lighthouse","camera":"quay-box"
sheet.developed 2026-05-03T09:44:00 "sheet":"2026-005p1","bath":"dev-1","time_s":60,"session":"lighthouse"
sheet.judged 2026-05-03T09:45:00 "sheet":"2026-005p1","verdict":"redo","stops":0.5
light.metered 2026-05-03T09:46:00 "on":"negative","mode":"reflected","index":3,"f":11,"time_s":6,"of":"mid","session":"lighthouse"
sheet.judged 2026-05-03T09:46:30 "sheet":"2026-007p1","verdict":"redo","stops":1
sheet.reprinted 2026-05-03T09:47:00 "picture":"2026-007","sheet":"2026-007p1","box":"box-1","f":11,"time_s":20,"session":"lighthouse","camera":"quay-box"
holder.loaded 2026-05-03T09:48:00 "holder":"left","box":"box-1"
sheet.developed 2026-05-03T09:49:00 "sheet":"2026-006n","bath":"dev-1","time_s":60,"session":"lighthouse"
session.closed 2026-05-03T10:00:00 "session":"lighthouse"`

// ebb is a third day with two sessions open at once, readings and notes that belong to pictures, a sheet exposed twice, and a
// bath that goes in and out of its tray at the moments of stays in it.
const ebb = `
session.opened 2026-05-04T09:00:00 "session":"quay","camera":"quay-box"
session.opened 2026-05-04T09:01:00 "session":"pier","camera":"quay-box"
sheet.exposed 2026-05-04T09:02:00 "picture":"2026-008","box":"box-1","f":8,"time_s":4,"subject":"coal steps","session":"quay","camera":"quay-box"
sheet.exposed 2026-05-04T09:03:00 "picture":"2026-009","box":"box-2","f":8,"time_s":4,"session":"pier","camera":"quay-box"
light.metered 2026-05-04T09:04:00 "on":"scene","mode":"reflected","index":3,"f":8,"time_s":5,"picture":"2026-008","session":"quay"
sheet.exposed 2026-05-04T09:05:00 "picture":"2026-008","sheet":"2026-008n","box":"box-1","f":8,"time_s":3,"session":"quay","camera":"quay-box"
sheet.exposed 2026-05-04T09:06:00 "picture":"2026-010","box":"box-1","f":8,"time_s":4,"session":"quay","camera":"quay-box"
bath.moved 2026-05-04T09:07:00 "bath":"dev-1","to":"tray"
sheet.developed 2026-05-04T09:07:00 "sheet":"2026-009n","bath":"dev-1","time_s":60,"session":"pier"
note.written 2026-05-04T09:08:00 "about":"2026-008","text":"a gull"
sheet.developed 2026-05-04T09:09:00 "sheet":"2026-008n","bath":"dev-1","time_s":60,"session":"quay"
bath.moved 2026-05-04T09:09:00 "bath":"dev-1","to":"bottle"
light.metered 2026-05-04T09:10:00 "on":"negative","mode":"reflected","index":3,"f":11,"time_s":5,"of":"mid","picture":"2026-009","session":"pier"
sheet.fixed 2026-05-04T09:11:00 "sheet":"2026-009n","bath":"fix-1","time_s":60
sheet.fixed 2026-05-04T09:12:00 "sheet":"2026-008n","bath":"fix-1","time_s":60,"session":"quay"
sheet.reprinted 2026-05-04T09:13:00 "picture":"2026-009","box":"box-2","f":11,"time_s":20,"session":"quay","camera":"quay-box"
sheet.judged 2026-05-04T09:14:00 "sheet":"2026-010n","verdict":"reject"
sheet.reprinted 2026-05-04T09:15:00 "picture":"2026-009","box":"box-1","f":11,"time_s":21,"session":"pier","camera":"quay-box"
light.metered 2026-05-04T09:16:00 "on":"negative","mode":"reflected","index":3,"f":11,"time_s":7,"of":"mid","session":"pier"
bath.moved 2026-05-04T09:17:00 "bath":"dev-1","to":"tray"
sheet.developed 2026-05-04T09:17:00 "sheet":"2026-010n","bath":"dev-1","time_s":60
sheet.developed 2026-05-04T09:18:00 "sheet":"2026-009p1","bath":"dev-1","time_s":60,"session":"quay"
session.closed 2026-05-04T09:19:00 "session":"pier"
sheet.reprinted 2026-05-04T09:20:00 "picture":"2026-009","box":"box-1","f":11,"time_s":21,"session":"quay","camera":"quay-box"
sheet.developed 2026-05-04T09:21:00 "sheet":"2026-009p3","bath":"dev-1","time_s":60,"session":"quay"
session.opened 2026-05-04T09:22:00 "session":"head","camera":"quay-box"
sheet.exposed 2026-05-04T09:23:00 "picture":"2026-011","box":"box-2","f":8,"time_s":4,"session":"head","camera":"quay-box"
session.closed 2026-05-04T09:24:00 "session":"quay"
sheet.exposed 2026-05-04T09:25:00 "picture":"2026-012","box":"box-1","f":8,"time_s":4,"camera":"quay-box"`

// probes leave out what the book can fill in.
func probes() []events.Data {
	return []events.Data{
		&events.SheetExposedData{F: 8, TimeS: 4}, &events.SheetExposedData{F: 8, TimeS: 4, Holder: "left"},
		&events.SheetExposedData{F: 8, TimeS: 4, Carried: events.Carried{Session: "quay"}}, &events.SheetExposedData{F: 8, TimeS: 4, Carried: events.Carried{Session: "pier"}},
		&events.SheetReprintedData{TimeS: 20, Picture: "2026-009", Carried: events.Carried{Session: "quay"}}, &events.SheetReprintedData{TimeS: 20, Picture: "2026-009", Carried: events.Carried{Session: "pier"}},
		&events.SheetReprintedData{TimeS: 20}, &events.SheetReprintedData{TimeS: 20, Picture: "2026-005"}, &events.SheetReprintedData{TimeS: 20, Picture: "2026-004"},
		&events.SheetReprintedData{TimeS: 20, Picture: "2026-001"}, &events.SheetReprintedData{TimeS: 20, Picture: "2026-007", Box: "box-1"}, &events.SheetDevelopedData{TimeS: 60}, &events.SheetRinsedData{},
		&events.SheetFixedData{TimeS: 60}, &events.SheetWashedData{}, &events.SheetJudgedData{Verdict: "keep"},
		&events.StripExposedData{On: "scene", TimesS: []float64{1, 2}}, &events.BathMixedData{Role: "developer", Name: "Amber", VolumeML: 1000},
		&events.LightMeteredData{On: "scene", Mode: "reflected", EV: new(9.0)}, &events.NoteWrittenData{Text: "grey"},
	}
}

// takes says whether a book took an act; whoever follows it must take it then too.
func takes(t *testing.T, f *snapshot.Follower, w events.Writer, e *events.Entry) bool {
	book := &witness{Writer: w}
	err := f.Append(book, e)
	if book.refused {
		return false
	}
	require.NoError(t, err)
	return true
}

// witness remembers whether its book refused an act.
type witness struct {
	events.Writer
	refused bool
}

func (w *witness) Append(e *events.Entry) error {
	err := w.Writer.Append(e)
	w.refused = err != nil
	return err
}

// What the book fills in is the same whether an act comes from a hand or in a file, and whatever the book holds of before
// the act or after it.
func TestAFileIsFilledInAsAHandWouldBe(t *testing.T) {
	var lines []events.Entry
	require.NoError(t, booktest.FromActs(t, booktest.Outing+rush+ebb).Read(func(tx *sqlite.Tx) error {
		return tx.Each(func(e events.Entry) error {
			if x, ok := e.Data.(*events.SheetReprintedData); ok { // what serves it is found out anew
				x.Reading = ""
			}
			lines = append(lines, e)
			return nil
		})
	}))
	find := func(kind events.Kind, n int) string {
		for _, e := range lines {
			if n -= map[bool]int{true: 1}[e.Kind == kind]; e.Kind == kind && n < 0 {
				return e.ID.String()
			}
		}
		t.Fatalf("no %s", kind)
		return ""
	}
	for i, data := range []events.Data{
		&events.EntryVoidedData{Entry: find(events.SheetDeveloped, 4)}, &events.EntryVoidedData{Entry: find(events.SheetExposed, 5)},
		&events.EntryVoidedData{Entry: find(events.HolderLoaded, 2)}, &events.EntryVoidedData{Entry: find(events.SheetReprinted, 3)},
		&events.EntryVoidedData{Entry: find(events.SessionClosed, 1)},
	} {
		lines = append(lines, booktest.ByHand(t, 60*(i+1), data))
		lines[len(lines)-1].ID = events.ID{0xfb, byte(i)}
	}
	for name, held := range map[string]func(i int) bool{
		"into an empty book":    func(int) bool { return false },
		"before what is there":  func(i int) bool { return i > 2*len(lines)/3 },
		"after what is there":   func(i int) bool { return i < 2*len(lines)/3 },
		"between what is there": func(i int) bool { return i%2 == 0 },
		"here and there":        func(i int) bool { return i%7 == 3 || i%5 == 1 },
	} {
		t.Run(name, func(t *testing.T) {
			b := booktest.NewBook(t)
			var first, then []events.Entry
			for i, e := range lines {
				e.Seq = 0
				if i == 0 || held(i) && e.Kind != events.EntryVoided {
					first = append(first, e)
				} else {
					then = append(then, e)
				}
			}
			taken, filled := 0, 0
			require.NoError(t, b.Write(func(tx *sqlite.Tx) error {
				for _, who := range []string{"Ane of the mole", "Ole of the light"} {
					if _, err := tx.AddSitter(who, ""); err != nil {
						return err
					}
				}
				for _, e := range first {
					tx.Append(&e) // what is said of a thing that is not there yet is left out
				}
				f := snapshot.NewFollower(tx)
				fill := func(snap *snapshot.Snapshot, at time.Time, data events.Data) string {
					e := events.Entry{Kind: data.Kind(), At: at, Zone: "Europe/Oslo", Data: events.Clone(data)}
					if err := acts.ApplyDefaults(snap, &e, false); err != nil {
						return err.Error()
					}
					filled++
					raw, err := json.Marshal(e.Data)
					require.NoError(t, err)
					return string(raw)
				}
				for _, e := range then {
					snap := f.SnapshotAt(e.At)
					for _, data := range probes() {
						require.Equal(t, fill(snapshot.NewForAct(tx, e.At), e.At, data), fill(snap, e.At, data), "%s before %s at %s", data.Kind(), e.Kind, e.At.Format("2 15:04"))
					}
					if takes(t, f, tx, &e) {
						taken++
					}
				}
				return nil
			}))
			assert.Greater(t, taken, len(lines)/4)
			assert.Greater(t, filled, 10*taken)
		})
	}
}

// What lies open is kept in step with the acts that come, and not read again: pictures and sessions once each, a bath's course
// and the camera as well.
func TestWhatLiesOpenIsReadOnce(t *testing.T) {
	var lines []events.Entry
	require.NoError(t, booktest.FromActs(t, booktest.Outing+rush+ebb).Read(func(tx *sqlite.Tx) error {
		return tx.Each(func(e events.Entry) error { e.Seq = 0; lines = append(lines, e); return nil })
	}))
	b := booktest.NewBook(t)
	require.NoError(t, b.Write(func(tx *sqlite.Tx) error {
		for _, who := range []string{"Ane of the mole", "Ole of the light"} {
			if _, err := tx.AddSitter(who, ""); err != nil {
				return err
			}
		}
		r := &eventstest.Torn{Log: tx}
		f := snapshot.NewFollower(r)
		open, kept := map[string]bool{}, 0
		look := func(name string, ask func() error) {
			before := r.Asked
			require.NoError(t, ask(), name)
			if open[name] {
				kept++
				require.Equal(t, before, r.Asked, "%s lay open", name)
			}
			open[name] = true
		}
		for _, e := range lines {
			snap := f.SnapshotAt(e.At)
			require.NoError(t, f.Append(r, &e))
			p := events.PlacesOf(e.Data)
			names := []string{p.Stream.Name, p.Session}
			for _, name := range names {
				entity, there, err := tx.Entity(name)
				require.NoError(t, err)
				switch {
				case !there:
				case entity.Kind == events.Picture:
					look(name, func() error { _, err := snap.PictureOf(entity); return err })
				case entity.Kind == events.Session:
					look(name, func() error { _, err := snap.Session(name); return err })
				case entity.Kind == events.Camera:
					look(name, func() error { _, err := snap.Camera(name); return err })
				}
			}
		}
		assert.Greater(t, kept, len(lines))
		return nil
	}))
}

// What a file takes back between its acts leaves no trace in what is filled in after it, be it the act just before or an
// older one, brought back again or amended first.
func TestAVoidWithinAFileLeavesNoTrace(t *testing.T) {
	var lines []events.Entry
	require.NoError(t, booktest.FromActs(t, booktest.Outing+rush+ebb).Read(func(tx *sqlite.Tx) error {
		return tx.Each(func(e events.Entry) error { lines = append(lines, e); return nil })
	}))
	for name, x := range map[string]struct{ every, back, room int }{
		"the act just before": {1, 0, 0}, "an act before": {2, 1, 0}, "acts before": {3, 4, 0}, "old acts": {2, 13, 0}, "with little room": {2, 2, 8}, "now and then": {5, 7, 6},
	} {
		t.Run(name, func(t *testing.T) {
			b, n, taken := booktest.NewBook(t), 0, 0
			require.NoError(t, b.Write(func(tx *sqlite.Tx) error {
				for _, who := range []string{"Ane of the mole", "Ole of the light"} {
					if _, err := tx.AddSitter(who, ""); err != nil {
						return err
					}
				}
				f := snapshot.NewFollower(tx)
				write := func(e events.Entry) bool {
					e.Seq = 0
					snap := f.SnapshotAt(e.At)
					if x.room > 0 {
						snap.Room = x.room
					}
					require.Equal(t, told(t, snapshot.NewForAct(tx, e.At), e.At), told(t, snap, e.At), "before %s at %s", e.Kind, e.At.Format("2 15:04"))
					return takes(t, f, tx, &e)
				}
				mend := func(at time.Time, data events.Data) events.ID {
					n++
					e := events.Entry{ID: events.ID{0xfc, byte(n >> 8), byte(n)}, Kind: data.Kind(), At: at, RecordedAt: at, Zone: "Europe/Oslo", Data: data}
					require.True(t, write(e))
					return e.ID
				}
				var kept []events.Entry
				for i, e := range lines {
					if !write(e) {
						continue
					}
					if kept = append(kept, e); i%x.every != 0 || x.back >= len(kept) {
						continue
					}
					gone := kept[len(kept)-1-x.back]
					if gone.Kind == events.BookOpened || gone.Kind == events.CameraDescribed || gone.Kind == events.PaperReceived || gone.Kind == events.BathMixed || gone.Kind == events.SessionOpened {
						continue
					}
					taken++
					void := mend(e.At, &events.EntryVoidedData{Entry: gone.ID.String()})
					if taken%4 == 0 {
						mend(e.At, &events.EntryVoidedData{Entry: void.String()})
						continue
					}
					again := gone // as it was, or a little later than the last
					again.ID, again.At, again.RecordedAt = events.ID{0xfd, byte(n >> 8), byte(n)}, e.At.Add(time.Second), e.At.Add(time.Second)
					if taken%3 != 0 && write(again) {
						if taken%5 == 0 {
							mend(again.At, &events.EntryVoidedData{Entry: again.ID.String()})
							mend(again.At, &events.EntryVoidedData{Entry: again.ID.String()})
						}
					}
				}
				return nil
			}))
			assert.Greater(t, taken, len(lines)/8)
		})
	}
}

// told is what a snapshot fills in and says of the things of the outing.
func told(t *testing.T, snap *snapshot.Snapshot, at time.Time) string {
	out := ""
	add := func(x any, err error) {
		raw, wrong := json.Marshal(x)
		require.NoError(t, wrong)
		out += fmt.Sprintf("%s %v\n", raw, err)
	}
	for _, data := range probes() {
		e := events.Entry{Kind: data.Kind(), At: at, Zone: "Europe/Oslo", Data: data}
		err := acts.ApplyDefaults(snap, &e, false)
		add(e.Data, err)
	}
	for _, name := range []string{"dev-1", "fix-1"} {
		if b, err := snap.Bath(name); err == nil {
			add(snap.AgeOf(b, at, false, ""))
			add(snap.AgeOf(b, at, false, "2026-003n"))
		}
	}
	for n := 1; n < 13; n++ {
		p, err := snap.Picture(fmt.Sprintf("2026-%03d", n))
		if err != nil {
			out += err.Error() + "\n"
			continue
		}
		add([]any{p.Session, p.Camera, p.Subject, p.Sitter, p.First.UTC(), p.Last.UTC(), ids(p.All), ids(p.Entries), ids(p.Readings["negative"]), ids(p.Readings["scene"])}, nil)
		for _, s := range p.Sheets {
			add([]any{s.Name, s.State, s.Box, ids(s.Entries), ids(s.Exposures), ids(s.Judged)}, nil)
			ever, there, err := snap.EverOf(p.Entity, s.Part)
			add([]any{ever, there}, err)
		}
		for _, e := range p.Entries {
			if e.Kind == events.LightMetered {
				r, err := snap.Reading(e.ID.String())
				require.NoError(t, err)
				require.Equal(t, e.ID, r.ID)
			}
		}
	}
	for _, name := range []string{"mole", "lighthouse", "quay", "pier"} {
		if s, err := snap.Session(name); err == nil {
			prints, err := snap.PrintsIn(s)
			add([]any{ids(s.Entries), ids(s.Readings), ids(s.ReadingsByUse["negative"]), ids(prints)}, err)
		}
	}
	return out
}

func ids(entries []events.Entry) (out []string) {
	for _, e := range entries {
		out = append(out, e.ID.String()[:12])
	}
	return out
}

// A sheet whose rejection is taken back within a file waits for the developer again, and is the one that is meant.
func TestASheetWhoseRejectionIsTakenBackWaitsAgain(t *testing.T) {
	var lines []events.Entry
	require.NoError(t, booktest.FromActs(t, booktest.Harbour+`
sheet.exposed 2026-05-02T10:00:00 "picture":"2026-001","box":"box-1","f":8,"time_s":4,"session":"mole","camera":"quay-box"
sheet.judged 2026-05-02T10:01:00 "sheet":"2026-001n","verdict":"reject"`).Read(func(tx *sqlite.Tx) error {
		return tx.Each(func(e events.Entry) error { e.Seq = 0; lines = append(lines, e); return nil })
	}))
	judged := lines[len(lines)-1]
	at := judged.At.Add(time.Minute)
	void := events.EntryVoidedData{Entry: judged.ID.String()}
	lines = append(lines, events.Entry{ID: events.ID{0xfc}, Kind: void.Kind(), At: at, RecordedAt: at, Zone: "Europe/Oslo", Data: &void})
	meant := func(snap *snapshot.Snapshot) string {
		e := events.Entry{Kind: events.SheetDeveloped, At: at.Add(time.Minute), Zone: "Europe/Oslo", Data: &events.SheetDevelopedData{TimeS: 60}}
		if err := acts.ApplyDefaults(snap, &e, false); err != nil {
			return err.Error()
		}
		return events.SheetOf(e.Data)
	}
	require.NoError(t, booktest.NewBook(t).Write(func(tx *sqlite.Tx) error {
		f := snapshot.NewFollower(tx)
		for i, e := range lines {
			require.NoError(t, f.Append(tx, &e))
			if left := len(lines) - i; left <= 3 {
				want := map[int]string{3: "2026-001n", 2: meant(snapshot.NewForAct(tx, at.Add(time.Minute))), 1: "2026-001n"}[left]
				require.Equal(t, want, meant(f.SnapshotAt(at.Add(time.Minute))), "after %s", e.Kind)
			}
		}
		return nil
	}))
}
