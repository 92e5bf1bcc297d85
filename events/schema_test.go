package events

import (
	"reflect"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestFieldsOfEveryKind(t *testing.T) {
	types := map[string]bool{}
	for _, k := range Kinds {
		seen := map[string]bool{}
		for _, f := range Fields(k) {
			types[f.Type] = true
			assert.False(t, seen[f.Name], "%s has %s twice", k, f.Name)
			seen[f.Name] = true
			assert.Regexp(t, `^[a-z0-9_]+$`, f.Name)
			assert.False(t, strings.Contains(f.Option(), "_"), f.Option())
			if f.Type == "one" || f.Type == "many" || f.Type == "symptoms" {
				assert.NotEmpty(t, f.Choices)
			}
			if f.Type == "name" || f.Type == "ref" {
				assert.NotEmpty(t, f.Of, "%s %s", k, f.Name)
			}
		}
	}
	for _, typ := range []string{"name", "ref", "sheet", "sitter", "entry", "any", "text", "word", "date", "zone", "currency", "dilution",
		"hex32", "hex64", "one", "many", "num", "count", "stops", "share", "minutes", "latitude", "longitude", "fnumber", "nums", "flag", "density", "set", "symptoms"} {
		assert.True(t, types[typ], "no field is a %s", typ)
		delete(types, typ)
	}
	assert.Empty(t, types, "types that the list above does not know")
	assert.Nil(t, Fields("sheet.eaten"))
	_, ok := New("sheet.eaten")
	assert.False(t, ok)
}

func TestUnitsAndOptions(t *testing.T) {
	for _, c := range []struct {
		k                   Kind
		field, unit, option string
	}{
		{SheetExposed, "time_s", "s", "time"}, {SheetExposed, "subject_mm", "mm", "distance"}, {SheetExposed, "motion_mm_s", "mm_s", "motion"},
		{SheetExposed, "planned_f", "", "planned-f"}, {SheetExposed, "extension_mm", "mm", "extension"}, {BathMixed, "volume_ml", "ml", "volume"},
		{BathMixed, "temp_c", "c", "temp"}, {BathMixed, "capacity_m2", "m2", "capacity"}, {BathMixed, "life_h", "h", "life"},
		{BathMixed, "bottle_days", "days", "bottle"}, {LightMetered, "cd_m2", "", "cd-m2"}, {SheetAttached, "width_px", "px", "width"},
		{PaperReceived, "iso_p", "", "iso-p"}, {StripExposed, "times_s", "s", "times"},
	} {
		f, ok := FieldOf(c.k, c.field)
		require.True(t, ok, c.field)
		assert.Equal(t, c.unit, f.Unit(), c.field)
		assert.Equal(t, c.option, f.Option(), c.field)
	}
}

func TestRequiredAndFilledIn(t *testing.T) {
	for _, c := range []struct {
		k              Kind
		field          string
		required, fill bool
	}{
		{SheetExposed, "picture", true, true}, {SheetExposed, "f", true, false}, {SheetExposed, "text", false, false},
		{SheetExposed, "session", false, true}, {SessionOpened, "camera", false, true}, {BathMoved, "bath", true, false},
		{SheetRinsed, "bath", false, false}, {PaperReceived, "box", true, true},
	} {
		f, ok := FieldOf(c.k, c.field)
		require.True(t, ok)
		assert.Equal(t, c.required, f.Required, "%s %s required", c.k, c.field)
		assert.Equal(t, c.fill, f.Default != "", "%s %s filled in", c.k, c.field)
	}
	f, ok := FieldOf(BathMixed, "bath")
	require.True(t, ok)
	assert.Equal(t, "next-bath", f.Default, "the rule's name alone")
}

// Put with what Value gave makes the same data, for every field of every kind.
func TestValueAndPut(t *testing.T) {
	for _, k := range Kinds {
		l := vector(t, k)
		fresh, _ := New(k)
		for _, f := range Fields(k) {
			v, there := f.Value(l.Data)
			if !there {
				continue
			}
			require.NoError(t, f.Put(fresh, v), "%s %s", k, f.Name)
			got, ok := f.Value(fresh)
			require.True(t, ok)
			assert.Equal(t, v, got)
		}
		assert.True(t, reflect.DeepEqual(l.Data, fresh), "%s", k)
	}
}

func TestPutRefuses(t *testing.T) {
	d := &SheetExposedData{}
	f, _ := FieldOf(SheetExposed, "time_s")
	assert.EqualError(t, f.Put(d, "four"), "sheet.exposed: time_s cannot hold string")
	f, _ = FieldOf(SheetExposed, "flare")
	assert.EqualError(t, f.Put(d, "some"), "sheet.exposed: flare cannot hold string")
	require.NoError(t, f.Put(d, 0.1))
	require.NoError(t, f.Put(d, nil))
	assert.Nil(t, d.Flare)
	f, _ = FieldOf(SheetExposed, "text")
	assert.EqualError(t, f.Put(d, 65), "sheet.exposed: text cannot hold int")
	assert.PanicsWithValue(t, "events: bound x in a tag is no number", func() { mustFloat("x") })
}

func TestCarried(t *testing.T) {
	d := &SheetDriedData{}
	CarriedOf(d).Session = "mole-day"
	assert.Equal(t, "mole-day", d.Session)
	assert.Nil(t, CarriedOf(&SitterErasedData{}))
	assert.Nil(t, CarriedOf(&SessionOpenedData{}))
}
