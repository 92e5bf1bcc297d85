package report_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/projections/booktest"
	"traybook/projections/report"
	"traybook/projections/snapshot"
)

func history(t testing.TB, snap *snapshot.Snapshot, name string, all bool) report.History {
	t.Helper()
	h, err := report.HistoryOf(snap, name, all)
	require.NoError(t, err)
	return h
}

func texts(lines []report.EntryLine) (out []string) {
	for _, l := range lines {
		out = append(out, l.Text)
	}
	return out
}

func TestHistoryOfACaseHasWhatScriptsRead(t *testing.T) {
	b := booktest.FromFile(t, "../../testdata/cases/print-wrong-aperture.ndjson")
	booktest.LookAt(t, b, "", func(snap *snapshot.Snapshot) {
		j := asJSON(t, history(t, snap, "2026-001", false))
		assert.Equal(t, "2026-001", j["picture"])
		assert.Equal(t, "ferry mate", j["subject"])
		assert.Equal(t, "mole-day", j["session"], "the import filled it in")
		sheets := j["sheets"].([]any)
		require.Len(t, sheets, 2)
		n, p := sheets[0].(map[string]any), sheets[1].(map[string]any)
		assert.Equal(t, "2026-001n", n["sheet"])
		assert.Equal(t, "negative", n["generation"])
		assert.Equal(t, "positive", p["generation"])
		assert.Equal(t, "washed", p["state"])
		assert.Equal(t, "box-1", p["box"])
		assert.InDelta(t, 10, p["called_for_s"], 0.1)
		assert.InDelta(t, 40, p["done_s"], 1e-9)
		assert.InDelta(t, 2, p["deviation_stops"], 0.01)
		assert.NotNil(t, p["verdict"])
		first := p["entries"].([]any)[0].(map[string]any)
		for _, key := range []string{"id", "kind", "at", "text"} {
			assert.NotEmpty(t, first[key])
		}
		assert.Len(t, first["id"], 32)
		assert.Equal(t, "sheet.reprinted", first["kind"])
		assert.Nil(t, n["verdict"], "nobody judged the negative")
	})
}

func TestFixingsAddAndTheWashSaysWhatItsFigureIsWorth(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour, booktest.Picture(1, 0, "ferry"), `
sheet.fixed 2026-05-02T11:00:00 "sheet":"2026-001n","bath":"fix-1","time_s":90,"session":"mole"
sheet.washed 2026-05-02T11:10:00 "sheet":"2026-001n","changes":1,"volume_ml":500,"session":"mole"`)
	booktest.LookAt(t, b, "", func(snap *snapshot.Snapshot) {
		h := history(t, snap, "2026-001n", false).Picture
		require.Len(t, h.Sheets, 1)
		lines := texts(h.Sheets[0].Entries)
		require.Len(t, lines, 6)
		assert.NotContains(t, lines[2], "in all", "the first fixing adds to nothing")
		assert.Contains(t, lines[4], "2 fixings add: 2 min 30 s in all")
		assert.Contains(t, lines[3], "% of the hypo is left")
		assert.Contains(t, lines[3], "a model, no test")
		assert.NotEqual(t, lines[3], lines[5])
	})
}

func TestATemperatureTestedServesLaterSheets(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour, booktest.Picture(1, 0, "before"), `
bath.tested 2026-05-02T10:00:15 "bath":"dev-1","test":"temperature","value":15`, booktest.Picture(2, 1, "after"), `
bath.tested 2026-05-02T10:01:15 "bath":"dev-1","test":"temperature","value":20`, booktest.Picture(3, 2, "warm again"))
	called := func(snap *snapshot.Snapshot, name string) float64 {
		for _, l := range history(t, snap, name, false).Picture.Sheets[0].Entries {
			if l.Kind == "sheet.developed" {
				return *l.CalledForS
			}
		}
		return 0
	}
	booktest.LookAt(t, b, "", func(snap *snapshot.Snapshot) {
		assert.InDelta(t, 60, called(snap, "2026-001"), 1)
		assert.Greater(t, called(snap, "2026-002"), 80.0, "5 °C colder at a factor of 2 for 10 °C: 60 s × 1.41")
		assert.InDelta(t, 61, called(snap, "2026-003"), 2)
		assert.Equal(t, 20.0, bath(t, snap, "dev-1").TempC)
		assert.True(t, bath(t, snap, "dev-1").TempMeasured)
	})
	booktest.LookAt(t, b, "2026-05-02T10:01:12", func(snap *snapshot.Snapshot) { assert.Equal(t, 15.0, bath(t, snap, "dev-1").TempC) })
}

func TestVoidedEntriesStandInPlaceWithAll(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour, booktest.Picture(1, 0, "ferry"))
	var fixed, exposed string
	booktest.LookAt(t, b, "", func(snap *snapshot.Snapshot) {
		for _, l := range history(t, snap, "2026-001", false).Picture.Sheets[0].Entries {
			switch l.Kind {
			case "sheet.fixed":
				fixed = l.ID
			case "sheet.exposed":
				exposed = l.ID
			}
		}
	})
	booktest.AddActs(t, b, `entry.voided 2026-05-03T09:00:00 "entry":"`+fixed+`","why":"that was the other sheet"
entry.amended 2026-05-03T09:01:00 "entry":"`+exposed+`","set":{"time_s":8}`)
	booktest.LookAt(t, b, "", func(snap *snapshot.Snapshot) {
		h := history(t, snap, "2026-001", false).Picture.Sheets[0]
		assert.Len(t, h.Entries, 3)
		assert.Equal(t, 8.0, *h.DoneS, "the amendment counts")
		assert.Len(t, h.Entries[0].Amended, 1)
		h = history(t, snap, "2026-001", true).Picture.Sheets[0]
		require.Len(t, h.Entries, 4)
		require.NotNil(t, h.Entries[2].Void)
		assert.Equal(t, "that was the other sheet", *h.Entries[2].VoidWhy)
		assert.Nil(t, h.Entries[2].CalledForS)
		assert.Equal(t, "fix-1", history(t, snap, "fix-1", false).Entity.About)
		assert.Len(t, history(t, snap, "fix-1", false).Entity.Entries, 1)
		assert.Len(t, history(t, snap, "fix-1", true).Entity.Entries, 2)
		assert.Zero(t, bath(t, snap, "fix-1").AreaM2, "a void equals never having been written")
	})
	booktest.LookAt(t, b, "2026-05-02T23:00:00", func(snap *snapshot.Snapshot) {
		h := history(t, snap, "2026-001", true).Picture.Sheets[0]
		assert.Nil(t, h.Entries[2].Void, "it was not voided yet")
		assert.Equal(t, 4.0, *h.DoneS)
	})
	booktest.AddActs(t, b, `entry.voided 2026-05-04T09:00:00 "entry":"`+exposed+`"`)
	booktest.LookAt(t, b, "", func(snap *snapshot.Snapshot) {
		assert.Equal(t, 100.0, box(t, snap, "box-1").SheetsLeft)
	})
}

func TestAmendmentsOfBoxAndBathChangeWhatIsCalledFor(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour, `light.metered 2026-05-02T09:59:00 "on":"scene","mode":"reflected","index":3,"f":8,"time_s":4,"session":"mole"`, booktest.Picture(1, 0, "ferry"))
	id := func(name, kind string) (out string) {
		booktest.LookAt(t, b, "", func(snap *snapshot.Snapshot) {
			for _, l := range history(t, snap, name, false).Entity.Entries {
				if l.Kind == kind {
					out = l.ID
				}
			}
		})
		return out
	}
	values := func(asOf string) (exposure, develop float64) {
		booktest.LookAt(t, b, asOf, func(snap *snapshot.Snapshot) {
			for _, l := range history(t, snap, "2026-001", false).Picture.Sheets[0].Entries {
				switch l.Kind {
				case "sheet.exposed":
					exposure = *l.CalledForS
				case "sheet.developed":
					develop = *l.CalledForS
				}
			}
		})
		return exposure, develop
	}
	e, dv := values("")
	assert.InDelta(t, 4, e, 0.01)
	assert.InDelta(t, 60, dv, 0.5)
	booktest.AddActs(t, b, `entry.amended 2026-05-03T09:00:00 "entry":"`+id("box-1", "paper.received")+`","set":{"index":6}
entry.amended 2026-05-03T09:01:00 "entry":"`+id("dev-1", "bath.mixed")+`","set":{"time_s":90}`)
	e, dv = values("")
	assert.InDelta(t, 2, e, 0.01, "twice the index asks for half the light")
	assert.InDelta(t, 90, dv, 0.5)
	e, _ = values("2026-05-02T12:00:00")
	assert.InDelta(t, 4, e, 0.01, "as of before the amendment")
}

func TestHistoriesOfBoxBathSessionCameraStripHolderAndSitter(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour, `
holder.loaded 2026-05-02T09:30:00 "holder":"h1","box":"box-1"
camera.checked 2026-05-02T09:31:00 "camera":"quay-box","what":"light","result":"good","session":"mole"
sheet.exposed 2026-05-02T09:40:00 "picture":"2026-009","box":"box-1","f":8,"time_s":4,"holder":"h1","sitter":"Ada Quay","session":"mole"
strip.exposed 2026-05-02T09:45:00 "strip":"s1","box":"box-1","on":"scene","times_s":[2,4,8],"session":"mole"
strip.read 2026-05-02T09:46:00 "strip":"s1","bath":"dev-1","best":2
paper.cut 2026-05-02T09:50:00 "box":"box-1","sheets":5,"into":"small","parts":4,"width_mm":50,"height_mm":62
note.written 2026-05-02T09:51:00 "about":"dev-1","text":"smells right"`, booktest.Picture(1, 0, "ferry"))
	booktest.LookAt(t, b, "", func(snap *snapshot.Snapshot) {
		for _, c := range []struct {
			name, kind string
			has        []string
		}{
			{"box-1", "box", []string{"100 sheets of quay paper", "h1 loaded from box-1", "2026-009n exposed", "strip s1 on the scene", "5 of box-1 cut", "2026-001n exposed"}},
			{"small", "box", []string{"5 of box-1 cut"}},
			{"dev-1", "bath", []string{"print developer", "strip s1 read", "smells right", "2026-001n developed"}},
			{"mole", "session", []string{"session mole opened", "light of quay-box checked", "2026-009n exposed", "2026-001n washed"}},
			{"quay-box", "camera", []string{"135 mm", "session mole opened", "light of quay-box checked"}},
			{"h1", "holder", []string{"h1 loaded", "2026-009n exposed"}},
			{"s1", "strip", []string{"strip s1 on", "strip s1 read"}},
			{"sitter-1", "sitter", []string{"2026-009n exposed"}},
		} {
			h := history(t, snap, c.name, false).Entity
			require.NotNil(t, h, c.name)
			assert.Equal(t, c.name, h.About)
			assert.Equal(t, c.kind, h.Kind)
			all := ""
			last := ""
			for _, l := range h.Entries {
				all += l.Text + "\n"
				assert.LessOrEqual(t, last, l.At, c.name)
				last = l.At
			}
			for _, want := range c.has {
				assert.Contains(t, all, want, c.name)
			}
		}
		j := asJSON(t, history(t, snap, "dev-1", false))
		assert.Equal(t, "dev-1", j["about"])
		assert.Equal(t, "bath", j["kind"])
		assert.NotEmpty(t, history(t, snap, "", false).Entity.Entries)
	})
}

func TestHistoryByAnEntrysID(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour, booktest.Picture(1, 0, "ferry"))
	booktest.LookAt(t, b, "", func(snap *snapshot.Snapshot) {
		id := history(t, snap, "dev-1", false).Entity.Entries[0].ID
		assert.Equal(t, "dev-1", history(t, snap, id[:12], false).Entity.About)
		for name, want := range map[string]string{
			"dev-7":      `nothing is called "dev-7"`,
			"2026-777":   `nothing is called "2026-777"`,
			"2026-777n":  `there is no picture "2026-777"`,
			"2026-001p4": "there is no sheet 2026-001p4",
		} {
			_, err := report.HistoryOf(snap, name, false)
			require.Error(t, err, name)
			assert.Contains(t, err.Error(), want)
		}
	})
	booktest.LookAt(t, b, "2026-05-01T12:00:00", func(snap *snapshot.Snapshot) {
		_, err := report.HistoryOf(snap, "2026-001", false)
		require.ErrorContains(t, err, "nothing was written of 2026-001 by 2026-05-01 12:00")
	})
}
