package events

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// put gives the frozen data of a kind with one field set to JSON text; "" removes it.
func put(t *testing.T, k Kind, field, value string) Data {
	t.Helper()
	d := Clone(vector(t, k).Data)
	f, ok := FieldOf(k, field)
	require.True(t, ok, "%s has no %s", k, field)
	if value == "" {
		require.NoError(t, f.Put(d, nil))
		return d
	}
	require.NoError(t, json.Unmarshal([]byte(`{"`+field+`":`+value+`}`), d))
	return d
}

func TestValidateEachRule(t *testing.T) {
	long := func(n int) string { return `"` + strings.Repeat("a", n) + `"` }
	list := func(n int) string { return "[" + strings.Repeat("1,", n-1) + "1]" }
	for _, c := range []struct {
		name  string
		kind  Kind
		field string
		ok    string
		bad   string
		want  string
	}{
		{"missing text", PaperReceived, "name", `"quay paper"`, ``, "paper.received: name is missing"},
		{"missing filled in", SheetDeveloped, "sheet", `"2026-001n"`, ``, "sheet.developed: sheet is missing"},
		{"missing list", StripExposed, "times_s", `[1,2]`, ``, "strip.exposed: times_s is missing"},
		{"missing number", SheetFixed, "time_s", `60`, ``, "sheet.fixed: time_s is 0; it must be more than 0"},
		{"never filled in", SessionOpened, "camera", ``, `"Big Camera"`, `session.opened: camera is "Big Camera"; it takes a name of small letters, digits, . _ - (at most 40), such as camera-1`},
		{"name", BathMixed, "bath", `"dev-2"`, `"-dev"`, `bath.mixed: bath is "-dev"; it takes a name of small letters, digits, . _ - (at most 40), such as bath-1`},
		{"name too long", BathMixed, "bath", long(40), long(41), `bath.mixed: bath is "` + strings.Repeat("a", 41) + `"; it takes a name of small letters`},
		{"ref", SheetExposed, "box", `"b"`, `"b b"`, `sheet.exposed: box is "b b"; it takes a name of small letters, digits, . _ - (at most 40), such as box-1`},
		{"ref of a joined book", SheetExposed, "box", `"box-1@2"`, `"box-1@"`, `sheet.exposed: box is "box-1@"; it takes a name of small letters`},
		{"sitter of a joined book", SheetDelivered, "to", `"sitter-1@2"`, `"sitter-1@x"`, `sheet.delivered: to is "sitter-1@x"; it takes a reference such as sitter-7`},
		{"picture", LightMetered, "picture", `"2026-1234"`, `"2026-14"`, `light.metered: picture is "2026-14"; it takes a picture's number such as 2026-014`},
		{"picture of a joined book", LightMetered, "picture", `"2026-014@2"`, `"2026-014@"`, `light.metered: picture is "2026-014@"; it takes a picture's number such as 2026-014`},
		{"sheet", SheetDeveloped, "sheet", `"2026-014p12"`, `"2026-014p0"`, `sheet.developed: sheet is "2026-014p0"; it takes a sheet such as 2026-014n or 2026-014p1`},
		{"sitter", SheetDelivered, "to", `"sitter-1"`, `"Ylva"`, `sheet.delivered: to is "Ylva"; it takes a reference such as sitter-7`},
		{"entry", EntryAmended, "entry", `"` + strings.Repeat("0", 32) + `"`, `"12ab"`, `entry.amended: entry is "12ab"; it takes the id of an entry, 32 hex digits`},
		{"hex64", SheetAttached, "sha256", `"` + strings.Repeat("0", 64) + `"`, `"00"`, `sheet.attached: sha256 is "00"; it takes 64 hex digits`},
		{"text", NoteWritten, "text", long(MaxText), long(MaxText + 1), `note.written: text has 4001 characters; at most 4000`},
		{"text with NUL", NoteWritten, "text", `"\u0001"`, `"\u0000"`, `note.written: text holds a NUL character`},
		{"word", SheetExposed, "filter", long(80), long(81), `sheet.exposed: filter is "` + strings.Repeat("a", 59) + `…"; it takes a word of at most 80 characters`},
		{"date", PaperReceived, "expires", `"2028-02-29"`, `"2027-02-29"`, `paper.received: expires is "2027-02-29"; it takes a date such as 2026-05-03, 2026-05 or 2026`},
		{"date of a month", PaperReceived, "expires", `"2028-02"`, `"2028-2"`, `paper.received: expires is "2028-2"; it takes a date such as`},
		{"zone", BookOpened, "zone", `"UTC"`, `"Atlantis"`, `book.opened: zone is "Atlantis"; it takes a time zone such as Europe/Oslo`},
		{"currency", PaperReceived, "currency", `"EUR"`, `"euro"`, `paper.received: currency is "euro"; it takes a currency of three capitals such as NOK`},
		{"dilution", BathMixed, "dilution", `"1+1+100"`, `"1:9"`, `bath.mixed: dilution is "1:9"; it takes a dilution such as 1+9, or stock`},
		{"dilution stock", BathMixed, "dilution", `"stock"`, `"strong"`, `bath.mixed: dilution is "strong"; it takes a dilution such as 1+9, or stock`},
		{"one of", PaperReceived, "base", `"fb"`, `"glass"`, `paper.received: base is "glass"; it takes one of rc, fb`},
		{"many of", CameraDescribed, "routine", `["developer","fixer","fixer"]`, `["tea"]`, `camera.described: routine holds "tea"; it takes developer, stop, fixer, water, washing-aid, toner`},
		{"symptoms", SheetJudged, "symptoms", `["too-dark"]`, `["sad"]`, `sheet.judged: symptoms holds "sad"; it takes too-dark, too-light, dense`},
		{"symptom twice", SheetJudged, "symptoms", `["flat","contrasty"]`, `["flat","flat"]`, `sheet.judged: symptoms holds "flat" twice`},
		{"more than", SheetExposed, "time_s", `0.01`, `0`, `sheet.exposed: time_s is 0; it must be more than 0`},
		{"at least", SheetDeveloped, "temp_c", `-10`, `-10.5`, `sheet.developed: temp_c is -10.5; it must be at least -10`},
		{"at most", SheetExposed, "time_s", `86400`, `86401`, `sheet.exposed: time_s is 86401; it must be at most 86400`},
		{"count", PaperSpoiled, "sheets", `1`, `0`, `paper.spoiled: sheets is 0; it must be more than 0`},
		{"share", SheetExposed, "part", `1`, `1.01`, `sheet.exposed: part is 1.01; it must be at most 1`},
		{"stops", SheetJudged, "stops", `-20`, `-21`, `sheet.judged: stops is -21; it must be at least -20`},
		{"latitude", SessionOpened, "lat", `-90`, `-91`, `session.opened: lat is -91; it must be at least -90`},
		{"longitude", SessionOpened, "lon", `180`, `181`, `session.opened: lon is 181; it must be at most 180`},
		{"minutes", CameraChecked, "minutes", `0`, `-1`, `camera.checked: minutes is -1; it must be at least 0`},
		{"fnumber", SheetExposed, "f", `0.5`, `0.49`, `sheet.exposed: f is 0.49; an aperture lies from f/0.5 to f/1024`},
		{"fnumber large", SheetExposed, "f", `1024`, `1025`, `sheet.exposed: f is 1025; an aperture lies from f/0.5 to f/1024`},
		{"nums", StripExposed, "times_s", `[2,4]`, `[2,0]`, `strip.exposed: times_s is 0; it must be more than 0`},
		{"nums too many", StripExposed, "times_s", list(MaxList), list(MaxList + 1), `strip.exposed: times_s has 1001 values; at most 1000`},
		{"density", SheetJudged, "density", `{"mid":0.7}`, `{"mid":5.1}`, `sheet.judged: density holds 5.1; densities lie from 0 to 5`},
		{"density order", SheetJudged, "density", `{"min":0.1,"mid":0.1,"max":0.1}`, `{"min":0.2,"mid":0.1}`, `sheet.judged: density does not rise from min over mid to max`},
		{"set", EntryAmended, "set", `{"f":8}`, `{}`, `entry.amended: set is missing`},
		{"apertures", CameraDescribed, "f_widest", `32`, `33`, `camera.described: f_widest is f/33, smaller than f_smallest f/32`},
		{"dmin", PaperReceived, "dmin", `2.04`, `2.05`, `paper.received: dmin is not below dmax`},
		{"negative's sheet", SheetExposed, "sheet", `"2026-014n"`, `"2026-014p1"`, `sheet.exposed: sheet is "2026-014p1"; the negative of 2026-014 is 2026-014n`},
		{"another picture's sheet", SheetExposed, "picture", `"2026-014"`, `"2026-015"`, `sheet.exposed: sheet is "2026-014n"; the negative of 2026-015 is 2026-015n`},
		{"print's sheet", SheetReprinted, "sheet", `"2026-014p2"`, `"2026-014n"`, `sheet.reprinted: sheet is "2026-014n"; the prints of 2026-014 are 2026-014p1 and so on`},
		{"reading half", LightMetered, "f", `16`, ``, `light.metered: has half a reading; f and time_s go together`},
		{"reading without index", LightMetered, "index", `3`, ``, `light.metered: index is missing; an aperture and time, or an EV, means nothing without the index it was read at`},
		{"reading twice", LightMetered, "mode", `"reflected"`, `"spot"`, `light.metered: mode is "spot"; it takes one of reflected, incident`},
	} {
		t.Run(c.name, func(t *testing.T) {
			require.NoError(t, Validate(put(t, c.kind, c.field, c.ok)))
			err := Validate(put(t, c.kind, c.field, c.bad))
			require.Error(t, err)
			assert.Contains(t, err.Error(), c.want)
			var fe *FieldError
			require.ErrorAs(t, err, &fe)
			assert.Equal(t, c.kind, fe.Kind)
		})
	}
}

// The frozen density of the judged sheet has all three; an empty one must be made by hand.
func TestValidateEmptyDensity(t *testing.T) {
	d := put(t, SheetJudged, "verdict", `"keep"`).(*SheetJudgedData)
	d.Density = &Density{}
	assert.EqualError(t, Validate(d), "sheet.judged: density holds none of min, mid, max")
}

func TestValidateReadings(t *testing.T) {
	p := func(v float64) *float64 { return &v }
	ok := func(d LightMeteredData) {
		t.Helper()
		d.On = "scene"
		assert.NoError(t, Validate(&d))
	}
	no := func(want string, d LightMeteredData) {
		t.Helper()
		d.On = "scene"
		assert.EqualError(t, Validate(&d), "light.metered: "+want)
	}
	ok(LightMeteredData{Mode: "reflected", F: p(8), TimeS: p(4), Index: p(3)})
	ok(LightMeteredData{Mode: "incident", EV: p(12), Index: p(100)})
	ok(LightMeteredData{Mode: "incident", Lux: p(20000)})
	ok(LightMeteredData{Mode: "reflected", CdM2: p(800)})
	no("has no reading; give f and time_s at an index, ev at an index, lux, or cd_m2", LightMeteredData{Mode: "reflected", Index: p(3)})
	no("has more than one reading; give one of f with time_s, ev, lux, cd_m2", LightMeteredData{Mode: "incident", EV: p(1), Lux: p(1), Index: p(1)})
	no("has half a reading; f and time_s go together", LightMeteredData{Mode: "reflected", TimeS: p(4), Index: p(3)})
	no("index is missing; an aperture and time, or an EV, means nothing without the index it was read at", LightMeteredData{Mode: "reflected", EV: p(4)})
	no("cd_m2 is a reflected reading, mode is incident", LightMeteredData{Mode: "incident", CdM2: p(800)})
	no("lux is an incident reading, mode is reflected", LightMeteredData{Mode: "reflected", Lux: p(800)})
}

func TestValidateVoidTakesOneThing(t *testing.T) {
	a := strings.Repeat("a", 32)
	assert.NoError(t, Validate(&EntryVoidedData{Entry: a}))
	assert.NoError(t, Validate(&EntryVoidedData{Batch: a}))
	assert.EqualError(t, Validate(&EntryVoidedData{}), "entry.voided: takes either an entry or a batch")
	assert.EqualError(t, Validate(&EntryVoidedData{Entry: a, Batch: a}), "entry.voided: takes either an entry or a batch")
	assert.EqualError(t, Validate(&EntryVoidedData{Batch: "b1"}), `entry.voided: batch is "b1"; it takes 32 hex digits`)
}

func TestCheckValue(t *testing.T) {
	f, _ := FieldOf(SheetExposed, "time_s")
	assert.NoError(t, f.CheckValue(SheetExposed, 4.0))
	assert.EqualError(t, f.CheckValue(SheetExposed, math.NaN()), "sheet.exposed: time_s is no number")
	assert.EqualError(t, f.CheckValue(SheetExposed, math.Inf(1)), "sheet.exposed: time_s is no number")
}

func TestNames(t *testing.T) {
	assert.True(t, IsName("dev-2"))
	assert.False(t, IsName("Dev"))
	assert.False(t, IsName(""))
	assert.True(t, IsPicture("2026-014"))
	assert.False(t, IsPicture("2026-014n"))
	assert.True(t, IsSitter("sitter-7"))
	assert.False(t, IsSitter("sitter-07"))
	for _, c := range []struct{ sheet, picture, part string }{
		{"2026-014n", "2026-014", "n"}, {"2026-014p3", "2026-014", "p3"}, {"2026-014n@2", "2026-014@2", "n"}, {"2026-1014p10@3", "2026-1014@3", "p10"},
	} {
		pic, part, ok := SplitSheet(c.sheet)
		require.True(t, ok)
		assert.Equal(t, c.picture, pic)
		assert.Equal(t, c.part, part)
		assert.Equal(t, c.sheet, Sheet(pic, part))
	}
	for _, bad := range []string{"", "2026-014", "2026-014x", "2026-014p", "2026-014@2n", "box-1n"} {
		_, _, ok := SplitSheet(bad)
		assert.False(t, ok, bad)
	}
	y, n, ok := PictureNumber("2026-1014@2")
	assert.True(t, ok)
	assert.Equal(t, []int{2026, 1014}, []int{y, n})
	_, _, ok = PictureNumber("box-1")
	assert.False(t, ok)
}

// What is wrong and what may stand there are parted by the fault, not by what was typed.
func TestAFaultIsTold(t *testing.T) {
	e := &FieldError{Kind: BookOpened, Field: "zone", Fault: wrongForm, Value: `"here; there"`, Takes: "a time zone such as Europe/Oslo"}
	assert.Equal(t, `is "here; there"`, e.Says())
	assert.Equal(t, "it takes a time zone such as Europe/Oslo", e.May())
	assert.EqualError(t, e, `book.opened: zone is "here; there"; it takes a time zone such as Europe/Oslo`)
	assert.Empty(t, (&FieldError{Fault: Missing}).May())
}
