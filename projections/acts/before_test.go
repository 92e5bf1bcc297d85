package acts_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/eventstest"
	"traybook/projections/acts"
	"traybook/projections/booktest"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// before is what is said before an exposure.
func before(t *testing.T, snap *snapshot.Snapshot, e events.Entry) (got []wording.Warning) {
	t.Helper()
	require.NoError(t, met.Look(t, snap.R.(eventstest.Log), snap.AsOf, func(snap *snapshot.Snapshot) error {
		planned, step, err := acts.Plan(snap, e)
		if err != nil {
			return err
		}
		said, err := acts.BeforeExposure(snap, planned, step)
		if err == nil {
			got = said
		}
		return err
	}))
	return got
}

// What is said before the cap comes off, each where it matters, and nothing where it does not.
func TestWhatIsSaidBeforeTheCapComesOff(t *testing.T) {
	const d = "2026-05-02T"
	const read = `
light.metered 2026-05-02T09:50:00 "on":"scene","mode":"reflected","index":3,"f":8,"time_s":4,"session":"mole"`
	const evening = `
bath.discarded 2026-05-02T18:00:00 "bath":"dev-1"
light.metered 2026-05-02T19:50:00 "on":"scene","mode":"reflected","index":3,"f":8,"time_s":4,"session":"mole"`
	const sunny = `
light.metered 2026-05-02T09:50:00 "on":"scene","mode":"reflected","index":3,"f":8,"time_s":4,"session":"mole","light":"sun"`
	const low = `
bath.discarded 2026-05-02T18:00:00 "bath":"dev-1"
light.metered 2026-05-02T19:55:00 "on":"scene","mode":"reflected","of":"card","index":3,"f":8,"time_s":4,"session":"mole","light":"sun"`
	expose := func(change func(*events.SheetExposedData)) *events.SheetExposedData {
		x := &events.SheetExposedData{Picture: "2026-001", Box: "box-1", F: 8, SubjectMM: new(2000.0)}
		if change != nil {
			change(x)
		}
		return x
	}
	shown := func(timeS float64, verdict string) string { // a negative of this light, in the sun
		out := fmt.Sprintf(`
sheet.exposed 2026-05-02T10:00:00 "picture":"2026-001","box":"box-1","f":8,"time_s":%v,"subject_mm":2000,"session":"mole","light":"sun"
sheet.developed 2026-05-02T10:02:00 "sheet":"2026-001n","bath":"dev-1","time_s":60,"session":"mole"`, timeS)
		if verdict != "" {
			out += fmt.Sprintf(`
sheet.judged 2026-05-02T10:05:00 "sheet":"2026-001n","verdict":%q`, verdict)
		}
		return out
	}
	for _, c := range []struct {
		name, book, at string
		data           *events.SheetExposedData
		says           []string
	}{
		{"all in order", read, d + "10:00:00", expose(nil), nil},
		{"all within the depth", read, d + "10:00:00", expose(func(x *events.SheetExposedData) { x.NearMM, x.FarMM = new(1950.0), new(2050.0) }), nil},
		// f = 135 mm on 2 m at f/8: the blur of what stands at 1.5 m is 135/8·|144.8−148.4|/148.4 mm.
		{"the nearest before the depth", read, d + "10:00:00", expose(func(x *events.SheetExposedData) { x.NearMM = new(1500.0) }),
			[]string{"at f/8 what stands at 1.5 m is blurred by 0.407 mm, where 0.2 passes for sharp: f/16 is the widest that suffices"}},
		{"no depth of this lens suffices", read, d + "10:00:00", expose(func(x *events.SheetExposedData) { x.NearMM, x.FarMM = new(800.0), new(4000.0) }),
			[]string{"at f/8 what stands at 0.8 m is blurred by 1.83 mm, where 0.2 passes for sharp, and no aperture of this lens brings both in: focus on 1.33 m, or move back"}},
		{"a sitter at rest", read, d + "10:00:00", expose(func(x *events.SheetExposedData) { x.Motion = "rest" }), nil},
		{"a child, who does not wait for 4.6 s", read, d + "10:00:00", expose(func(x *events.SheetExposedData) { x.Motion = "child" }),
			[]string{"this subject (child) stays sharp for 0.17 s at this distance, and 4.6 s is called for; the lens opens no further: a rest for head and hands, a greater distance, or more light"}},
		{"a sitter at f/22, where the lens opens further", strings.Replace(read, `"time_s":4`, `"time_s":1`, 1), d + "10:00:00", expose(func(x *events.SheetExposedData) { x.F, x.Motion = 22, "seated" }),
			[]string{"this subject (seated) stays sharp for 1.7 s at this distance, and 9.2 s is called for: f/9 would do, or a rest for head and hands"}},
		{"a sitter at f/22 whose speed is said", strings.Replace(read, `"time_s":4`, `"time_s":1`, 1), d + "10:00:00", expose(func(x *events.SheetExposedData) { x.F, x.MotionMMS = 22, new(0.1) }), nil},
		{"the reading of an hour ago, at noon", read, d + "10:50:00", expose(nil), nil},
		{"of more than an hour", read, d + "10:51:00", expose(nil), []string{"the light was read 1 hour ago: read it again"}},
		{"the sun going down", evening, d + "20:40:00", expose(nil), []string{"the light was read 50 minutes ago, and sun and sky have made it 1.8 stops darker since: read it again"}},
		{"a lamp does not go down", `
bath.discarded 2026-05-02T18:00:00 "bath":"dev-1"
light.metered 2026-05-02T19:50:00 "on":"scene","mode":"reflected","index":3,"f":8,"time_s":4,"session":"mole","light":"lamp"`, d + "21:40:00", expose(func(x *events.SheetExposedData) { x.Filter = "yellow" }), nil},
		{"through yellow", read, d + "10:00:00", expose(func(x *events.SheetExposedData) { x.Filter = "yellow" }), nil},
		{"read through a filter that is off", `
light.metered 2026-05-02T09:50:00 "on":"scene","mode":"reflected","index":3,"f":8,"time_s":4,"session":"mole","filter":"yellow"`, d + "10:00:00", expose(nil),
			[]string{"the light was read through yellow, and that filter is not on now: read it again, or say the filter"}},
		{"read through the filter that is on", `
light.metered 2026-05-02T09:50:00 "on":"scene","mode":"reflected","index":3,"f":8,"time_s":4,"session":"mole","filter":"yellow"`, d + "10:00:00",
			expose(func(x *events.SheetExposedData) { x.Filter = "yellow" }), nil},
		{"read in the sun, and it stands in the shade", sunny, d + "10:00:00", expose(func(x *events.SheetExposedData) { x.Light = "shade" }),
			[]string{"the light was read in sun and this stands in shade: open shade is about 3 stops darker than sun; read it there"}},
		{"read in the shade, and it stands in the sun", strings.Replace(sunny, `"sun"`, `"shade"`, 1), d + "10:00:00", expose(func(x *events.SheetExposedData) { x.Light = "sun" }),
			[]string{"the light was read in shade and this stands in sun: open shade is about 3 stops darker than sun; read it there"}},
		{"read in the sun, and a lamp lights it", sunny, d + "10:00:00", expose(func(x *events.SheetExposedData) { x.Light = "lamp" }),
			[]string{"the light was read in sun and this stands in lamp: read it there"}},
		{"read in the sun, and it stands there", sunny, d + "10:00:00", expose(func(x *events.SheetExposedData) { x.Light = "sun" }), nil},
		{"the box's first sheet in open shade", strings.Replace(sunny, `"sun"`, `"shade"`, 1), d + "10:00:00", expose(nil),
			[]string{"the first sheet of box-1 in open shade: its light is bluer than a meter tells, and paper sees blue; about −0.5 stop until a strip here tells"}},
		{"the first through a filter", strings.Replace(sunny, `"sun"`, `"shade"`, 1), d + "10:00:00", expose(func(x *events.SheetExposedData) { x.Filter = "yellow" }), nil},
		{"its second", strings.Replace(sunny, `"sun"`, `"shade"`, 1) + `
sheet.exposed 2026-05-02T09:52:00 "picture":"2026-009","box":"box-1","f":8,"time_s":4,"light":"shade","session":"mole"`, d + "10:00:00", expose(nil), nil},
		{"rated in the shade", strings.Replace(sunny, `"sun"`, `"shade"`, 1) + `
paper.rated 2026-05-02T09:45:00 "box":"box-1","index":4,"light":"shade"`, d + "10:00:00", expose(nil), nil},
		{"the first by a lamp", strings.Replace(sunny, `"sun"`, `"lamp"`, 1), d + "10:00:00", expose(nil),
			[]string{"the first sheet of box-1 in this light (lamp): it is redder than a meter tells, and paper is blind to red; about +1.5 stops until a strip here tells"}},
		{"a face in a low sun, by a card", low, d + "20:00:00", expose(func(x *events.SheetExposedData) { x.Motion = "rest" }),
			[]string{"the sun stands 8° high: a face turned to it gets +2.1 stops over level ground; hold card or cell as the face is turned"}},
		{"no face in a low sun", low, d + "20:00:00", expose(nil), nil},
		{"a face in a low sun, read itself", strings.Replace(low, `"card"`, `"mid"`, 1), d + "20:00:00", expose(func(x *events.SheetExposedData) { x.Motion = "rest" }), nil},
		{"a face under a low sun that no ray of reaches", strings.Replace(low, `"sun"`, `"overcast"`, 1), d + "20:00:00", expose(func(x *events.SheetExposedData) { x.Motion = "rest" }), nil},
		{"told once for a reading", low + `
sheet.exposed 2026-05-02T19:57:00 "picture":"2026-009","box":"box-1","f":8,"time_s":4,"session":"mole"`, d + "20:00:00", expose(func(x *events.SheetExposedData) { x.Motion = "rest" }), nil},
		{"a face by a card in a high sun", strings.Replace(sunny, `"light"`, `"of":"card","light"`, 1), d + "10:00:00", expose(func(x *events.SheetExposedData) { x.Motion = "rest" }), nil},
		{"another box in the holder", read + `
paper.received 2026-05-02T09:30:00 "box":"box-2","name":"pearl","base":"rc","width_mm":100,"height_mm":125,"sheets":20,"index":3
holder.loaded 2026-05-02T09:35:00 "holder":"h1","box":"box-2"`, d + "10:00:00", expose(func(x *events.SheetExposedData) { x.Holder = "h1" }), []string{"h1 was loaded from box-2, not from box-1"}},
		{"the box that is in the holder", read + `
holder.loaded 2026-05-02T09:35:00 "holder":"h1","box":"box-1"`, d + "10:00:00", expose(func(x *events.SheetExposedData) { x.Holder = "h1" }), nil},
		{"a negative that was kept as read", read + shown(4.6, "keep"), d + "10:20:00", expose(nil), nil},
		{"one kept with half a stop more", read + shown(6.5, "keep"), d + "10:20:00", expose(nil), []string{"2026-001n was kept with +0.5 stop against its reading: as much here is 6.5 s"}},
		{"one kept by its print", read + shown(6.5, "") + `
sheet.reprinted 2026-05-02T10:10:00 "picture":"2026-001","box":"box-1","f":11,"time_s":8,"session":"mole"
sheet.judged 2026-05-02T10:15:00 "sheet":"2026-001p1","verdict":"keep"`, d + "10:20:00", expose(nil), []string{"2026-001n was kept with +0.5 stop against its reading: as much here is 6.5 s"}},
		{"one that failed", read + shown(6.5, "redo"), d + "10:20:00", expose(nil), nil},
		{"one kept behind a filter", read + shown(6.5, "keep"), d + "10:20:00", expose(func(x *events.SheetExposedData) { x.Filter, x.FilterFactor = "yellow", new(2.0) }), nil},
		{"one kept in another light", read + shown(6.5, "keep"), d + "10:20:00", expose(func(x *events.SheetExposedData) { x.Light = "shade" }),
			[]string{"the first sheet of box-1 in open shade: its light is bluer than a meter tells, and paper sees blue; about −0.5 stop until a strip here tells"}},
		{"one kept hours ago", read + shown(6.5, "keep") + strings.ReplaceAll(read, "09:50", "12:10"), d + "12:20:00", expose(nil), nil},
		{"one kept from another developer", read + shown(6.5, "keep") + `
bath.mixed 2026-05-02T10:12:00 "bath":"dev-2","role":"developer","name":"soup","volume_ml":1000,"session":"mole"`, d + "10:20:00", expose(nil), nil},
		{"a developer that is worn out", read + `
bath.mixed 2026-05-02T09:05:00 "bath":"dev-2","role":"developer","name":"soup","volume_ml":1000,"life_h":0.5,"session":"mole"`, d + "10:00:00", expose(nil),
			[]string{"dev-2, which this sheet goes into, is past its tray life: mix fresh before it is exposed"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := booktest.FromActs(t, booktest.Harbour+c.book)
			booktest.LookAt(t, b, c.at, func(snap *snapshot.Snapshot) {
				at := booktest.Oslo(t, c.at)
				if strings.Contains(c.book, `"picture":"2026-001"`) {
					c.data.Picture = "2026-002"
				}
				e := events.Entry{Kind: c.data.Kind(), At: at, RecordedAt: at, Zone: "Europe/Oslo", Data: c.data}
				got := before(t, snap, e)
				assert.Equal(t, append([]string{}, c.says...), append([]string{}, wording.Texts(got)...))
			})
		})
	}
}

// A print starts from one of the same negative that was kept, and says by how much that differs from its reading.
func TestAPrintStartsFromWhatWasKept(t *testing.T) {
	const negative = `
sheet.exposed 2026-05-02T10:00:00 "picture":"2026-001","box":"box-1","f":8,"time_s":4.6,"session":"mole"
light.metered 2026-05-02T10:10:00 "on":"negative","mode":"reflected","index":3,"f":11,"time_s":2,"picture":"2026-001","session":"mole"`
	const again = `
light.metered 2026-05-02T11:00:00 "on":"negative","mode":"reflected","index":3,"f":11,"time_s":4,"picture":"2026-001","session":"mole"`
	print := func(timeS float64, judged string) string {
		return fmt.Sprintf(`
sheet.reprinted 2026-05-02T10:20:00 "picture":"2026-001","box":"box-1","f":11,"time_s":%v,"session":"mole"
sheet.judged 2026-05-02T10:30:00 "sheet":"2026-001p1",%s`, timeS, judged)
	}
	for _, c := range []struct {
		name, book string
		want       float64
		says       []string
	}{
		{"as read", print(8, `"verdict":"keep"`), 8, []string{"this starts from 2026-001p1, which was kept"}},
		{"half a stop more", print(11.3, `"verdict":"keep"`), 11.3, []string{"this starts from 2026-001p1, which was kept with +0.5 stop against its reading"}},
		{"one that asked for a change", print(8, `"verdict":"redo","stops":0.5`), 11.3, nil},
		{"read again since", print(11.3, `"verdict":"keep"`) + again, 16, []string{"2026-001p1 was kept with +0.5 stop against its reading: as much here is 22.6 s"}},
		{"read again since it was kept as read", print(8, `"verdict":"keep"`) + again, 16, nil},
	} {
		b := booktest.FromActs(t, booktest.Harbour+negative+c.book)
		booktest.LookAt(t, b, "2026-05-02T11:10:00", func(snap *snapshot.Snapshot) {
			at := booktest.Oslo(t, "2026-05-02T11:10:00")
			data := &events.SheetReprintedData{Picture: "2026-001", Box: "box-1", F: new(11.0)}
			e, step, err := acts.Plan(snap, events.Entry{Kind: data.Kind(), At: at, RecordedAt: at, Zone: "Europe/Oslo", Data: data})
			require.NoError(t, err)
			if assert.NotNil(t, step.CalledForS, c.name) {
				assert.InDelta(t, c.want, *step.CalledForS, 0.05, c.name)
			}
			got := before(t, snap, e)
			assert.Equal(t, append([]string{}, c.says...), append([]string{}, wording.Texts(got)...), c.name)
		})
	}
}
