package events

import (
	"reflect"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

var someTexts = rapid.OneOf(rapid.Just(""), rapid.StringMatching(`[a-z0-9-]{1,12}`), rapid.String(),
	rapid.SampledFrom([]string{"Lück & Søn <quay>", "a\"b", `a\b`, "a\nb", "line\u2028end", "para\u2029end", "bad\xff", "\x7f", "小船", "é"}))

var someNumbers = rapid.OneOf(rapid.Just(0.0), rapid.Float64(), rapid.Float64Range(-1e4, 1e4), rapid.SampledFrom([]float64{1e-6, 9.9e-7, 1e21, 9e20, -0.5, 1e-7, 0.1}))

// fill puts something into every field of d, or nothing.
func fill(t *rapid.T, v reflect.Value) {
	for i := range v.NumField() {
		f, name := v.Field(i), v.Type().Field(i).Name
		if name == "_" {
			continue
		}
		switch p := f.Addr().Interface().(type) {
		case *Carried:
			fill(t, f)
		case *string:
			*p = someTexts.Draw(t, name)
		case *float64:
			*p = someNumbers.Draw(t, name)
		case **float64:
			if rapid.Bool().Draw(t, name+" there") {
				x := someNumbers.Draw(t, name)
				*p = &x
			}
		case *int:
			*p = rapid.IntRange(-5, 5).Draw(t, name)
		case **int:
			if rapid.Bool().Draw(t, name+" there") {
				n := rapid.Int().Draw(t, name)
				*p = &n
			}
		case *int64:
			*p = rapid.Int64Range(0, 3).Draw(t, name)
		case **bool:
			if rapid.Bool().Draw(t, name+" there") {
				is := rapid.Bool().Draw(t, name)
				*p = &is
			}
		case *[]float64:
			*p = rapid.SliceOfN(someNumbers, 0, 3).Draw(t, name)
		case *[]string:
			*p = rapid.SliceOfN(someTexts, 0, 3).Draw(t, name)
		case **Density:
			if rapid.Bool().Draw(t, name+" there") {
				x := someNumbers.Draw(t, name)
				*p = &Density{Mid: &x}
			}
		case *Set:
			*p = Set{{Name: someTexts.Draw(t, name), Value: []byte(`[1, 2]`)}}
		default:
			t.Fatalf("%s is of a type that the test does not know", name)
		}
	}
}

// Data of every kind is written with the bytes that the library writes.
func TestDataIsWrittenAsTheLibraryWritesIt(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, ok := New(rapid.SampledFrom(Kinds).Draw(t, "kind"))
		require.True(t, ok)
		fill(t, reflect.ValueOf(d).Elem())
		want, wantErr := marshal(d)
		got, err := marshalData(d)
		require.Equal(t, wantErr == nil, err == nil)
		require.Equal(t, string(want), string(got))
	})
	// Whether drawn data goes the quick way is luck; that every usual entry does is not.
	usual := sealedEntries(t)
	require.NotEmpty(t, usual)
	for _, stored := range usual {
		e, err := Decode(stored)
		require.NoError(t, err)
		_, ok := fastEncode(e.Data)
		assert.True(t, ok, "%s", stored)
	}
}
