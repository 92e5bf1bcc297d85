package wording_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/calc"
	"traybook/projections/wording"
)

// A field is told by what it is, wherever and however often its name stands.
func TestASentenceTellsItsFields(t *testing.T) {
	at := time.Date(2026, 5, 3, 14, 5, 0, 0, time.UTC)
	for _, c := range []struct {
		says   string
		fields []any
		want   string
	}{
		{"nothing to fill", nil, "nothing to fill"},
		{"{bath} at {at}", []any{"dev-1", at}, "dev-1 at 2026-05-03 14:05"},
		{"{mm} mm: write {mm}m", []any{1.5}, "1.5 mm: write 1.5m"},
		{"{b} before {a}, {b}", []any{1.0, 2.0}, "1 before 2, 1"},
		{"there is no {name:%q}", []any{"lantern"}, `there is no "lantern"`},
		{"off by {stops:%.1f}, {stops:stops}", []any{0.25}, "off by 0.2, +0.25 stop"},
		{"{time:seconds}", []any{150.0}, "2 min 30 s"},
		{"{by} ago", []any{3 * time.Hour}, "3 hours ago"},
		{"{list} and {n}", []any{[]string{"thin", "flat"}, 7}, "thin, flat and 7"},
		{"{a}; {b}; {c}; {d}", []any{[]int{2}, []int{2, 3}, []int{1, 2, 3}, []int{1, 3, 4}}, "2; 2 and 3; 1 to 3; 1, 3 and 4"},
		{"{a}; {b}", []any{[]float64{0.1}, []float64{0.13, 0.164}}, "0.1; 0.13 to 0.164"},
	} {
		assert.Equal(t, c.want, wording.Warns("any", c.says).Warn(c.fields...).Text(), c.says)
	}
}

func TestAWarningIsComparedByWhatItTells(t *testing.T) {
	poured, other := wording.Warns("poured", "{bath} was poured at {at}"), wording.Warns("other", "{bath} was poured at {at}")
	at := time.Date(2026, 5, 3, 14, 5, 0, 0, time.UTC)
	w := poured.Warn("dev-1", at)
	assert.True(t, w.Same(poured.Warn("dev-1", at)))
	assert.False(t, w.Same(poured.Warn("dev-2", at)))
	assert.False(t, w.Same(other.Warn("dev-1", at)), "the text tells nothing")
	assert.Equal(t, "dev-1", w.Field("bath"))
	assert.Nil(t, w.Field("box"))
	told, err := json.Marshal([]wording.Warning{w})
	require.NoError(t, err)
	assert.JSONEq(t, `["dev-1 was poured at 2026-05-03 14:05"]`, string(told))
}

func TestTheWarningsOfACalculationAreTold(t *testing.T) {
	for _, c := range []struct {
		of   calc.Warning
		want string
	}{
		{calc.Warning{Code: calc.WarnTooBright, Fields: []any{0.25, 1.0, 32.0, 4.0}},
			"the light is too strong for a cap: 0.25 s is called for, too short to time by hand (about 1 s at least); stop down to f/32, put a filter of factor 4 before the lens, move into shade, or come back later in the day"},
		{calc.Warning{Code: calc.WarnTooBrightStoppedDown, Fields: []any{0.001, 1.0, 1000.0}},
			"the light is too strong for a cap: 0.001 s is called for, too short to time by hand (about 1 s at least); put a filter of factor 1000 before the lens, move into shade, or come back later in the day"},
		{calc.Warning{Code: calc.WarnCapCoarse, Fields: []any{1.25, 0.322}}, "at 1.25 s a cap is off by up to 0.3 stop in either direction; a smaller aperture gives the hand more time"},
		{calc.Warning{Code: calc.WarnNoReciprocity, Fields: []any{32.6}}, "no reciprocity exponent is known for this paper; with 0.86, the figure of 1900, it would ask 32.6 s"},
		{calc.Warning{Code: calc.WarnStepShort, Fields: []any{2, 0.1, 0.2}}, "step 2 adds 0.1 s, less than the 0.2 s by which a hand scatters; take wider steps or a smaller aperture"},
		{calc.Warning{Code: calc.WarnStepsShort, Fields: []any{[]int{2, 3}, []float64{0.13, 0.164}, 0.2}}, "steps 2 and 3 add 0.13 to 0.164 s, less than the 0.2 s by which a hand scatters; take wider steps or a smaller aperture"},
		{calc.Warning{Code: calc.WarnDeveloperSlow}, "under 16 °C hydroquinone hardly works; warm the bath if you can"},
		{calc.Warning{Code: calc.WarnBathWarm}, "over 26 °C the sheet may fog and its gelatine soften; cool the bath"},
		{calc.Warning{Code: calc.WarnBathExhausted}, "this bath has seen its whole capacity; mix fresh"},
		{calc.Warning{Code: calc.WarnLightDrifts}, "the light changes within so long a time; read it again halfway and stop when the sum is reached"},
		{calc.Warning{Code: calc.WarnSitterMoves}, "a sitter does not hold still so long; give the head a rest or open the aperture"},
		{calc.Warning{Code: calc.WarnTooDark}, "so little light is under what meters read reliably; make a strip first"},
	} {
		assert.Equal(t, []string{c.want}, wording.Texts(wording.OfCalc([]calc.Warning{c.of})))
	}
}

// A refusal says what to do where it knows it, is found behind other words, and counts as nothing there.
func TestRefusals(t *testing.T) {
	no := wording.Refuses("none", "there is no {thing}", "receive {thing:%q}").Refuse("box")
	assert.EqualError(t, no, "there is no box; receive \"box\"")
	assert.EqualError(t, wording.Refuses("none", "there is no box", "").Refuse(), "there is no box")
	wrapped := fmt.Errorf("line 3: %w", no)
	torn := errors.New("torn")
	assert.Equal(t, []bool{true, true, false, false}, []bool{wording.Refused(no), wording.Refused(wrapped), wording.Refused(torn), wording.Refused(nil)})
	v, err := wording.IgnoreMissing(7, wrapped)
	assert.NoError(t, err)
	assert.Zero(t, v)
	v, err = wording.IgnoreMissing(7, torn)
	assert.ErrorIs(t, err, torn)
	assert.Equal(t, 7, v)
	v, err = wording.IgnoreMissing(7, nil)
	assert.NoError(t, err)
	assert.Equal(t, 7, v)
}

// Two refusals are one where sentence and fields are: what they say tells nothing.
func TestARefusalIsComparedByWhatItRefuses(t *testing.T) {
	none, other := wording.Refuses("none", "there is no {thing}", ""), wording.Refuses("other", "there is no {thing}", "")
	assert.True(t, none.Refuse("box").Same(none.Refuse("box")))
	assert.False(t, none.Refuse("box").Same(none.Refuse("bath")))
	assert.False(t, none.Refuse("box").Same(other.Refuse("box")))
	assert.False(t, none.Refuse("box").Same(nil))
	assert.False(t, wording.RefusalIn(nil).Same(nil), "nothing refused is nothing alike")
}

// What a program is told of a refusal are its fields by their names: numbers as numbers, moments as entries hold them, times
// in seconds; a field that was not given is left out, and a dash in the sentence.
func TestARefusalIsToldByNames(t *testing.T) {
	at := time.Date(2026, 5, 3, 14, 5, 0, 0, time.UTC)
	no := wording.RefusesUnlessEvenSo("odd", "{yes} {n} {big} {list} {steps} {times} {share} {none} {no} {at} {long} {word} {left}", "type {hint}")
	assert.True(t, no.EvenSo)
	assert.False(t, wording.Refuses("odd", "", "").EvenSo)
	r := no.Refuse(true, 3, int64(4), []string{"a"}, []int{1, 2}, []float64{0.5}, 0.25, math.NaN(), math.Inf(-1), at, 90*time.Minute, errors.New("why"))
	assert.Equal(t, map[string]any{"yes": true, "n": 3, "big": int64(4), "list": []string{"a"}, "steps": []int{1, 2}, "times": []float64{0.5}, "share": 0.25, "none": wording.Dash, "no": wording.Dash,
		"at": "2026-05-03T14:05:00Z", "long": 5400.0, "word": "why"}, r.ByName())
	assert.EqualError(t, r, "true 3 4 a 1 and 2 0.5 0.25 – – 2026-05-03 14:05 2 hours why –; type –")
	assert.Equal(t, "what the door says", wording.Remark("what the door says").Text())
	assert.Equal(t, "beyond it", wording.NotCalculated(errors.New("beyond it")).Text())
	assert.Nil(t, wording.Warns("short", "{a} {b}").Warn(1).Field("b"), "a field that was not given")
	assert.True(t, (*wording.Refusal)(nil) == wording.RefusalIn(errors.New("torn")))
}

func TestPrintsAreCalledByTheirNumber(t *testing.T) {
	for sheet, want := range map[string]string{"2026-014p1": "print 1 of 2026-014", "2026-014p12": "print 12 of 2026-014", "2026-014n": "2026-014n", "dev-1": "dev-1", "": ""} {
		assert.Equal(t, want, wording.Print(sheet))
	}
}
