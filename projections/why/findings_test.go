package why_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events/sqlite"
	"traybook/projections/report"
	"traybook/projections/snapshot"
	"traybook/projections/why"
	"traybook/projections/wording"
)

// finding gives what is told of a cause on a sheet, as a cause of what was judged or as a mere deviation.
func finding(d why.Diagnosis, cause, sheet string) *why.Finding {
	for _, list := range [][]why.Finding{d.Findings, d.Deviations} {
		for i := range list {
			if list[i].Cause == cause && list[i].Sheet == sheet {
				return &list[i]
			}
		}
	}
	return nil
}

// What is told of a fault is the act as it was done, in the words of one who stood at the tray; the case is a change to
// the afternoon on the mole.
func TestWhyTellsTheActInWords(t *testing.T) {
	const other = "+sheet.exposed @09:40 picture=2026-002 box=box-1 f=8 time_s=5.81; +sheet.developed @09:45 sheet=2026-002n bath=dev-1 time_s=60; "
	for _, c := range []struct {
		name, changes string
		cause, sheet  string
		told          bool // as a cause of what was judged
		text          string
	}{
		{"a plan that nothing left out explains", "expose time_s=called*1.8 planned_s=called*1.8; judge n too-dark",
			"planned-otherwise", "2026-001n", true, "the negative got 0.85 stop too much: so it was planned, and nothing left out of the plan accounts for it"},
		{"the same, and no aperture was planned", "expose time_s=called*1.8 planned_s=called*1.8 planned_f=null; judge n too-dark",
			"wrong-aperture", "2026-001n", true, "the negative got 0.85 stop too much: for 10.4 s the lens wanted f/10.7, and f/8 was set"},
		{"an extension left out, and something more", "expose subject_mm=500 time_s=called/ext/1.35 planned_s=called/ext/1.35; judge n too-light",
			"bellows-factor-forgotten", "2026-001n", true, "the negative got 1.29 stops too little: the bellows extension at 0.5 m was left out of the plan (in all 3.7 s given, 12.2 s called for, −1.72 stops)"},
		{"never fixed by the log", "-hypo; judge n milky",
			"under-fixed", "2026-001n", true, "the negative was developed and, by the log, never fixed"},
		{"never washed by the log", "-wash; judge n faded @2026-12-01T10:00",
			"under-washed", "2026-001n", true, "the negative was, by the log, never washed"},
		{"a spent developer, given its time", "dev capacity_m2=0.02; " + other + "develop time_s=120; judge n brown-stain",
			"developer-exhausted", "2026-001n", true, ""},
		{"an old developer, given its time", "dev life_h=1; develop @06-07T10:05 time_s=78; rinse @06-07T10:06; hypo @06-07T10:07; wash @06-07T10:08; judge n yellow-stain @06-07T10:45",
			"developer-old", "2026-001n", true, "the developer dev-1 was past its life: 24 h 44 min in the tray, good for 60 min"},
		{"a hot developer, given less time", "develop temp_c=28 time_s=34.5; judge n blistered",
			"developer-warm", "2026-001n", true, "the developer dev-1 stood at 28 °C instead of 20: 34.5 s given, 34.5 s called for"},
		{"streaks of a negative not rocked, in its print", "develop rock_s=60; judge p1 streaks-light",
			"agitation-short", "2026-001n", true, "the negative was rocked only every 60 s in dev-1"},
		{"dark streaks of the same", "develop rock_s=60; judge p1 streaks-dark",
			"agitation-short", "2026-001n", true, "the negative was rocked only every 60 s in dev-1"},
		{"dark spots in a print are white ones on its negative", "develop rock_s=60; judge p1 spots-dark",
			"agitation-short", "2026-001n", true, "the negative was rocked only every 60 s in dev-1"},
		{"white spots in a print are dark ones on its negative", "develop rock_s=60; judge p1 spots-white",
			"agitation-short", "2026-001n", false, ""},
		{"a fixer not rocked", "hypo rock_s=60; judge n purple-stain",
			"agitation-short", "2026-001n", true, "the negative was rocked only every 60 s in fix-1"},
		{"a fixer not rocked marks the sheet itself, not its print", "hypo rock_s=60; judge p1 purple-stain",
			"agitation-short", "2026-001n", false, ""},
		{"silver found in the sheet", "+sheet.tested @10:40 sheet=2026-001n test=silver result=bad; judge n brown-stain",
			"under-fixed", "2026-001n", true, "a test of the negative found silver left in it (bad)"},
		{"a trace of hypo found in the sheet", "+sheet.tested @10:40 sheet=2026-001n test=hypo result=trace; judge n faded @2026-12-01T10:00",
			"under-washed", "2026-001n", true, "a test of the negative found hypo left in it (trace)"},
		{"a short wash", "wash changes=1 volume_ml=200; judge n faded @2026-12-01T10:00",
			"under-washed", "2026-001n", true, ""},
		{"a short wash after which no hypo was found", "wash changes=1 volume_ml=200; +sheet.tested @10:40 sheet=2026-001n test=hypo result=clear; judge n faded",
			"", "", false, ""},
		{"a copy square found bad", "+camera.checked @12:00 camera=mole-camera what=copy-square result=bad; judge p1 part-soft",
			"focus-shifted", "2026-001p1", true, "the copy square was found bad on 2026-06-06: negative and paper did not stand parallel"},
		{"a copy square tells nothing of the negative", "+camera.checked @12:00 camera=mole-camera what=copy-square result=bad; judge n part-soft",
			"", "", false, ""},
		{"a development in two stays adds up", "develop time_s=30; +sheet.developed @10:06 sheet=2026-001n bath=dev-1 time_s=30 temp_c=20; judge n thin",
			"", "", false, ""},
		{"a developer without a time calls for none", "dev time_s=null; develop time_s=20; judge n thin",
			"", "", false, ""},
		{"a pre-flash over the threshold that a strip told", "+strip.exposed @09:50 strip=f1 box=box-1 on=pre-flash times_s=[1,2,4]; +strip.read @09:55 strip=f1 threshold=2; expose pre_flash_s=6; judge n fogged-highlights",
			"over-flashed", "2026-001n", true, ""},
		{"the same pre-flash where no strip told the threshold", "+strip.exposed @09:50 strip=s1 box=box-1 on=scene times_s=[1,2,4]; expose pre_flash_s=6; judge n fogged-highlights",
			"", "", false, ""},
		{"a developer so cold that no time helps", "develop temp_c=10 time_s=600; judge n thin",
			"developer-cold", "2026-001n", true, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			d := whyOf(t, bookOf(t, caseLines(t, c.changes)), "2026-001")
			if c.cause == "" {
				assert.Empty(t, d.Findings)
				assert.Empty(t, d.Deviations)
				return
			}
			f := finding(d, c.cause, c.sheet)
			require.NotNil(t, f)
			assert.Equal(t, c.told, f.Explains > 0)
			if c.text != "" {
				assert.Equal(t, c.text, f.Text)
			}
		})
	}
}

// A paper two years past its date is a fifth of a stop slower and hardly veiled: beside a plain fault it takes no more
// than a fifth of what was seen, and what an eye sized it takes by its size.
func TestAnOldPaperTakesNoMoreThanItsPart(t *testing.T) {
	for _, c := range []struct {
		name, changes, cause, sheet string
	}{
		{"thin by the cap", "expose time_s=called*0.5; judge n thin", "cap-mistimed", "2026-001n"},
		{"thin by the cap, a stop asked for", "expose time_s=called*0.5; judge n thin stops=1", "cap-mistimed", "2026-001n"},
		{"too light by the developing time", "develop time_s=30; judge n too-light", "under-developed", "2026-001n"},
		{"mottled in a tray not rocked", "develop rock_s=60; judge n mottled", "agitation-short", "2026-001n"},
		{"yellow by a short fixing", "hypo time_s=20; judge n yellow-stain", "under-fixed", "2026-001n"},
		{"brown by a short wash", "wash changes=1 volume_ml=200; judge n brown-stain @2026-12-01T10:00", "under-washed", "2026-001n"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			d := whyOf(t, bookOf(t, caseLines(t, "paper expires=2024-05; "+c.changes)), "2026-001")
			f, old := finding(d, c.cause, c.sheet), finding(d, "paper-expired", c.sheet)
			require.NotNil(t, f)
			require.NotNil(t, old)
			assert.LessOrEqual(t, old.Explains, 0.25*f.Explains)
			assert.Greater(t, f.Explains, 0.7)
		})
	}
	for expires, most := range map[string]float64{"2024-05": 0.2, "2022-05": 0.6} { // of a whole stop asked for, with nothing else amiss
		d := whyOf(t, bookOf(t, caseLines(t, "paper expires="+expires+"; judge n thin stops=1")), "2026-001")
		assert.LessOrEqual(t, 1-*d.Unexplained, most)
	}
}

// ofTheTime are the causes that share out by how much an exposure was off.
var ofTheTime = []string{"bellows-factor-forgotten", "bellows-factor-twice", "meter-at-wrong-index", "filter-factor-forgotten", "filter-factor-without-filter",
	"reciprocity-forgotten", "wrong-paper", "average-misread", "planned-otherwise", "cap-mistimed", "wrong-aperture"}

// What why says that a sheet got too much or too little is what its history says, told once or in shares; and the words of
// a finding, its number and its times agree.
func TestWhatASheetGotIsToldAsItsHistoryTellsIt(t *testing.T) {
	draw := rand.New(rand.NewPCG(20260601, 2))
	seen, alone := 0, 0
	for i, c := range readCases(t) {
		// A hand a little beside the plan, a plan a little beside what was called for.
		changes := c.changes
		if !strings.Contains(changes, "planned_") {
			changes = strings.Replace(changes, "expose ", "expose planned_s=called ", 1)
		}
		changes = regexp.MustCompile(`\b(time|planned)_s=((?:called|light|planned)[^ ;|]*)`).ReplaceAllStringFunc(changes, func(set string) string {
			return fmt.Sprintf("%s*%.3f", set, 1+0.16*(draw.Float64()-0.5))
		})
		book := bookOf(t, caseLines(t, changes))
		d := whyOf(t, book, "2026-001")
		var h report.History
		require.NoError(t, book.Read(func(tx *sqlite.Tx) (err error) {
			h, err = report.HistoryOf(snapshot.New(tx, time.Time{}), "2026-001", false)
			return err
		}))
		for _, sheet := range h.Picture.Sheets {
			var told []why.Finding
			var sum float64
			either := false // of things that the log cannot part, each is told as the whole
			for _, f := range append(d.Findings[:len(d.Findings):len(d.Findings)], d.Deviations...) {
				if f.Sheet != sheet.Sheet || !slices.Contains(ofTheTime, f.Cause) || f.Stops == nil || strings.Contains(f.Text, "whole negative") {
					continue
				}
				either = either || f.With != ""
				told = append(told, f)
				sum += *f.Stops
			}
			if len(told) == 0 || sheet.DeviationStops == nil || either {
				continue
			}
			seen++
			what := fmt.Sprintf("case %d, %s, %s: %+v", i, c.name, changes, told)
			require.InDelta(t, *sheet.DeviationStops, sum, 0.006*float64(len(told)), what)
			for _, f := range told {
				if strings.Count(f.Text, " got ") == 1 { // a plan and a hand that were both off are told behind each other
					require.Contains(t, f.Text, wording.SizeOfStops(*f.Stops), what)
				}
			}
			if f := told[0]; len(told) == 1 && f.Unit == "s" {
				alone++
				require.InDelta(t, math.Log2(*f.Done / *f.CalledFor), *f.Stops, 0.006, what)
			}
		}
	}
	require.Greater(t, seen, 60)
	require.Greater(t, alone, 30)
}

// What may have been instead of a factor left out takes no share of what was seen: the hand's scatter hides the second
// factor of the two that together give the time.
func TestWhatMayHaveBeenInsteadTakesNoShare(t *testing.T) {
	d := whyOf(t, bookOf(t, caseLines(t, "camera cap_sd_s=1; expose filter=yellow filter_factor=2 time_s=called/ext/filter planned_s=null planned_f=null; judge n thin")), "2026-001")
	require.Len(t, d.Findings, 3)
	factor, aperture, time := d.Findings[0], d.Findings[1], d.Findings[2]
	assert.Equal(t, []string{"filter-factor-forgotten", "wrong-aperture", "cap-mistimed"}, []string{factor.Cause, aperture.Cause, time.Cause})
	assert.Equal(t, []string{"wrong-aperture", "cap-mistimed"}, factor.Together)
	assert.Equal(t, []string{"filter-factor-forgotten", "wrong-aperture"}, time.Together)
	assert.InDelta(t, -1.22, *factor.Stops, 0.01)
	assert.InDelta(t, 1, factor.Explains, 0.01)
	assert.Less(t, aperture.Probability, factor.Probability/2)
	assert.Less(t, time.Probability, aperture.Probability)
	assert.InDelta(t, 1, factor.Probability+aperture.Probability+time.Probability, 0.05)
	assert.Equal(t, "planned_s", factor.With)
	assert.Empty(t, d.Deviations)
}
