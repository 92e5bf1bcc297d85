package events

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// script writes small histories: each act a minute after the one before, in one chain.
type script struct {
	entries []Entry
	n       int
}

func (s *script) add(d Data, batch ...int) ID {
	s.n++
	e := Entry{Kind: d.Kind(), At: noon.Add(time.Duration(s.n) * time.Minute), Data: d, ID: id(s.n), Book: id(1), BookSeq: int64(s.n),
		RecordedAt: noon.Add(time.Duration(s.n) * time.Minute), V: 1}
	if len(batch) > 0 {
		e.Batch = id(batch[0])
	}
	s.entries = append(s.entries, e)
	return e.ID
}

func (s *script) spoil(sheets int, batch ...int) ID {
	return s.add(&PaperSpoiledData{Box: "box-1", Sheets: sheets}, batch...)
}

func (s *script) void(of ID, batch ...int) ID {
	return s.add(&EntryVoidedData{Entry: of.String()}, batch...)
}

func (s *script) amend(of ID, set string) ID {
	var f Set
	if err := json.Unmarshal([]byte(set), &f); err != nil {
		panic(err)
	}
	return s.add(&EntryAmendedData{Entry: of.String(), Set: f})
}

// tell writes a fold as "sheets text" of each spoiling, in order.
func tell(es []Entry) string {
	var out []string
	for _, e := range es {
		d := e.Data.(*PaperSpoiledData)
		s := fmt.Sprint(d.Sheets) + d.Text
		if !e.Voided.IsZero() {
			s += "×"
		}
		out = append(out, s)
	}
	return strings.Join(out, " ")
}

func TestFoldVoids(t *testing.T) {
	t.Run("a void takes back", func(t *testing.T) {
		var s script
		s.spoil(1)
		s.void(s.spoil(2))
		s.spoil(3)
		assert.Equal(t, "1 3", tell(Fold(s.entries)))
		assert.Equal(t, "1 2× 3", tell(FoldAll(s.entries)))
		assert.Equal(t, id(3), FoldAll(s.entries)[1].Voided)
	})
	t.Run("a voided void gives back", func(t *testing.T) {
		var s script
		s.void(s.void(s.spoil(1)))
		assert.Equal(t, "1", tell(Fold(s.entries)))
		s.void(id(3))
		assert.Equal(t, "", tell(Fold(s.entries)), "and a void of that takes back again")
	})
	t.Run("two voids, one voided", func(t *testing.T) {
		var s script
		x := s.spoil(1)
		v := s.void(x)
		s.void(x)
		s.void(v)
		assert.Equal(t, "", tell(Fold(s.entries)))
	})
	t.Run("a batch", func(t *testing.T) {
		var s script
		s.spoil(1, 70)
		s.spoil(2, 70)
		s.spoil(3, 71)
		v := s.add(&EntryVoidedData{Batch: id(70).String()})
		assert.Equal(t, "3", tell(Fold(s.entries)))
		s.void(v)
		assert.Equal(t, "1 2 3", tell(Fold(s.entries)))
	})
	t.Run("a batch's void does not take back itself", func(t *testing.T) {
		var s script
		s.spoil(1, 70)
		s.add(&EntryVoidedData{Batch: id(70).String()}, 70)
		assert.Equal(t, "", tell(Fold(s.entries)))
	})
	t.Run("a batch that holds a void", func(t *testing.T) {
		var s script
		x := s.spoil(1)
		s.void(x, 70)
		s.spoil(2, 70)
		s.add(&EntryVoidedData{Batch: id(70).String()})
		assert.Equal(t, "1", tell(Fold(s.entries)))
	})
	t.Run("a ring of voids neither hangs nor depends on the order", func(t *testing.T) {
		var s script
		s.spoil(1)
		s.void(id(3))
		s.void(id(2))
		want := tell(Fold(s.entries))
		slices.Reverse(s.entries)
		assert.Equal(t, want, tell(Fold(s.entries)))
	})
	t.Run("what names nothing is passed over", func(t *testing.T) {
		var s script
		s.spoil(1)
		s.void(id(99))
		s.add(&EntryVoidedData{Entry: "?"})
		s.amend(id(98), `{"sheets":5}`)
		s.add(&EntryAmendedData{Entry: "?"})
		assert.Equal(t, "1", tell(Fold(s.entries)))
	})
}

func TestFoldAmendments(t *testing.T) {
	t.Run("field by field the latest wins", func(t *testing.T) {
		var s script
		x := s.spoil(1)
		a := s.amend(x, `{"sheets":2,"text":"a"}`)
		b := s.amend(x, `{"sheets":3}`)
		got := Fold(s.entries)
		assert.Equal(t, "3a", tell(got))
		assert.Equal(t, []ID{a, b}, got[0].Amended)
		assert.Equal(t, 1, s.entries[0].Data.(*PaperSpoiledData).Sheets, "the entry itself is as it was written")
	})
	t.Run("null removes", func(t *testing.T) {
		var s script
		x := s.spoil(1)
		s.amend(x, `{"text":"a"}`)
		s.amend(x, `{"text":null}`)
		assert.Equal(t, "1", tell(Fold(s.entries)))
	})
	t.Run("a voided amendment does not count", func(t *testing.T) {
		var s script
		x := s.spoil(1)
		s.amend(x, `{"sheets":2}`)
		s.void(s.amend(x, `{"sheets":3}`))
		assert.Equal(t, "2", tell(Fold(s.entries)))
	})
	t.Run("an amendment of a voided entry", func(t *testing.T) {
		var s script
		x := s.spoil(1)
		s.amend(x, `{"sheets":2}`)
		s.void(x)
		assert.Equal(t, "", tell(Fold(s.entries)))
		assert.Equal(t, "2×", tell(FoldAll(s.entries)))
	})
	t.Run("an amended time moves the act", func(t *testing.T) {
		var s script
		s.spoil(1)
		x := s.spoil(2)
		s.amend(x, `{"at":"2026-05-03T01:00:00+02:00","zone":"Europe/Oslo"}`)
		got := Fold(s.entries)
		assert.Equal(t, "2 1", tell(got))
		assert.Equal(t, "2026-05-03T01:00:00+02:00", FormatTime(got[0].At))
		assert.Equal(t, "Europe/Oslo", got[0].Zone)
	})
	t.Run("one that does not fit is passed over", func(t *testing.T) {
		var s script
		x := s.spoil(1)
		s.amend(x, `{"sheets":-4}`)
		s.amend(x, `{"text":"b"}`)
		got := Fold(s.entries)
		assert.Equal(t, "1b", tell(got))
		assert.Len(t, got[0].Amended, 1)
	})
	t.Run("the latest by when it was recorded, not by its own time", func(t *testing.T) {
		var s script
		x := s.spoil(1)
		s.amend(x, `{"sheets":2}`)
		s.amend(x, `{"sheets":3}`)
		s.entries[1].At, s.entries[2].At = s.entries[2].At, s.entries[1].At
		assert.Equal(t, "3", tell(Fold(s.entries)))
	})
}

func TestFoldCountsAnIDOnce(t *testing.T) {
	var s script
	s.spoil(1)
	s.spoil(2)
	other := slices.Clone(s.entries)
	for i := range other {
		other[i].Book, other[i].RecordedAt = id(2), other[i].RecordedAt.Add(time.Hour)
	}
	got := Fold(append(other, s.entries...))
	assert.Equal(t, "1 2", tell(got))
	assert.Equal(t, id(1), got[0].Book, "the one recorded first")
}

func TestCompareOrders(t *testing.T) {
	e := Entry{At: noon, RecordedAt: noon, Book: id(5), BookSeq: 5, Hash: Hash{5}}
	later := []func(*Entry){
		func(e *Entry) { e.At = e.At.Add(time.Microsecond); e.RecordedAt = noon.Add(-time.Hour) },
		func(e *Entry) { e.RecordedAt = e.RecordedAt.Add(1); e.Book = id(1) },
		func(e *Entry) { e.Book = id(6); e.BookSeq = 1 },
		func(e *Entry) { e.BookSeq = 6; e.Hash = Hash{1} },
		func(e *Entry) { e.Hash = Hash{6} },
	}
	for i, f := range later {
		x := e
		f(&x)
		assert.Negative(t, Compare(e, x), "%d", i)
		assert.Positive(t, Compare(x, e), "%d", i)
	}
	same := e
	same.At = noon.In(time.FixedZone("", 7200))
	assert.Zero(t, Compare(e, same), "the instant counts, not the offset")
}

// history draws a chain of spoilings, voids (of entries, of voids, of batches) and amendments.
func history(t *rapid.T) []Entry {
	var s script
	for range rapid.IntRange(1, 25).Draw(t, "length") {
		batch := []int{}
		if b := rapid.IntRange(0, 4).Draw(t, "batch"); b > 0 {
			batch = append(batch, 700+b)
		}
		what := rapid.IntRange(0, 9).Draw(t, "what")
		if s.n == 0 {
			what = 0
		}
		of := id(rapid.IntRange(1, max(1, s.n)).Draw(t, "of"))
		switch {
		case what < 4:
			s.spoil(rapid.IntRange(1, 9).Draw(t, "sheets"), batch...)
		case what < 6:
			s.void(of, batch...)
		case what < 7:
			s.add(&EntryVoidedData{Batch: id(700 + rapid.IntRange(1, 4).Draw(t, "batch of")).String()}, batch...)
		case what < 8:
			s.amend(of, fmt.Sprintf(`{"sheets":%d}`, rapid.IntRange(1, 99).Draw(t, "set")))
		case what < 9:
			s.amend(of, fmt.Sprintf(`{"text":"%c"}`, rapid.IntRange('a', 'f').Draw(t, "set text")))
		default:
			s.amend(of, fmt.Sprintf(`{"at":"2026-05-03T%02d:00:00Z"}`, rapid.IntRange(0, 23).Draw(t, "set at")))
		}
	}
	return s.entries
}

func TestFoldDoesNotDependOnArrival(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		es := history(t)
		want := Fold(es)
		shuffled := rapid.Permutation(es).Draw(t, "arrival")
		shuffled = append(shuffled, es[:len(es)/2]...) // some ids twice
		if got := Fold(shuffled); tell(got) != tell(want) {
			t.Fatalf("%s, in another order %s", tell(want), tell(got))
		}
		if a, b := tell(FoldAll(es)), tell(FoldAll(shuffled)); a != b {
			t.Fatalf("%s, in another order %s", a, b)
		}
	})
}

// The plain model: an entry stands unless a standing void names it or its batch; voids name what was before them.
func TestFoldAgainstThePlainModel(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		es := history(t)
		names := func(v, e Entry) bool {
			d, ok := v.Data.(*EntryVoidedData)
			return ok && v.ID != e.ID && (d.Entry == e.ID.String() || d.Batch != "" && d.Batch == e.Batch.String())
		}
		// A batch may go on after its void, and a void may be in a batch: keep to histories where voids look back.
		for i, v := range es {
			for _, e := range es[i+1:] {
				if names(v, e) {
					return
				}
			}
		}
		stands := make([]bool, len(es))
		for i := len(es) - 1; i >= 0; i-- {
			stands[i] = true
			for j := i + 1; j < len(es); j++ {
				if stands[j] && names(es[j], es[i]) {
					stands[i] = false
				}
			}
		}
		type row struct {
			at     time.Time
			n      int
			sheets int
			text   string
		}
		var rows []row
		for i, e := range es {
			d, ok := e.Data.(*PaperSpoiledData)
			if !ok || !stands[i] {
				continue
			}
			r := row{e.At, i, d.Sheets, ""}
			for j, a := range es {
				ad, ok := a.Data.(*EntryAmendedData)
				if !ok || !stands[j] || ad.Entry != e.ID.String() {
					continue
				}
				for _, f := range ad.Set {
					switch f.Name {
					case "sheets":
						_ = json.Unmarshal(f.Value, &r.sheets)
					case "text":
						_ = json.Unmarshal(f.Value, &r.text)
					case "at":
						_ = json.Unmarshal(f.Value, &r.at)
					}
				}
			}
			rows = append(rows, r)
		}
		slices.SortStableFunc(rows, func(a, b row) int { return a.at.Compare(b.at) })
		var want []string
		for _, r := range rows {
			want = append(want, fmt.Sprint(r.sheets)+r.text)
		}
		if got := tell(Fold(es)); got != strings.Join(want, " ") {
			t.Fatalf("fold %q, model %q", got, strings.Join(want, " "))
		}
	})
}

func TestApplyRefuses(t *testing.T) {
	exposed := vector(t, SheetExposed).Entry
	set := func(text string) Set {
		var s Set
		require.NoError(t, json.Unmarshal([]byte(text), &s))
		return s
	}
	for _, c := range []struct{ name, set, want string }{
		{"picture", `{"picture":"2026-015"}`, "sheet.exposed: picture names a thing and cannot be amended; void the entry and write anew"},
		{"box", `{"box":"box-2"}`, "sheet.exposed: box names a thing and cannot be amended; void the entry and write anew"},
		{"sheet", `{"sheet":"2026-015n"}`, "sheet.exposed: sheet names a thing and cannot be amended; void the entry and write anew"},
		{"no reference", `{"sitter":"the mate"}`, "sheet.exposed: sitter"},
		{"unknown", `{"shutter":1}`, "sheet.exposed: shutter is not a field of this kind; it has f, time_s, reading, planned_f"},
		{"required", `{"time_s":null}`, "sheet.exposed: time_s is required and cannot be removed"},
		{"bounds", `{"time_s":0}`, "sheet.exposed: time_s is 0; it must be more than 0"},
		{"sort", `{"time_s":"4"}`, "sheet.exposed: time_s is a JSON string; that does not fit"},
		{"at no time", `{"at":"noon"}`, `sheet.exposed: at takes a time: "noon" is no time; write it as 2026-05-03T14:05:10+02:00`},
		{"at null", `{"at":null}`, "sheet.exposed: at takes a time such as 2026-05-03T14:05:10+02:00"},
		{"at a number", `{"at":5}`, "sheet.exposed: at takes a time such as 2026-05-03T14:05:10+02:00"},
		{"at long ago", `{"at":"1700-01-01T00:00:00Z"}`, "sheet.exposed: at takes a time: the year 1700 is outside 1800 to 9000"},
		{"zone", `{"zone":"Atlantis"}`, `sheet.exposed: zone is "Atlantis"; it takes a time zone such as Europe/Oslo`},
		{"zone a number", `{"zone":5}`, "sheet.exposed: zone takes a time zone such as Europe/Oslo"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Apply(exposed, set(c.set))
			require.Error(t, err)
			assert.Contains(t, err.Error(), c.want)
			assert.Equal(t, 5.8, exposed.Data.(*SheetExposedData).TimeS)
		})
	}
	for _, k := range []Kind{EntryAmended, EntryVoided} {
		_, err := Apply(vector(t, k).Entry, set(`{"why":"x"}`))
		assert.EqualError(t, err, string(k)+": cannot be amended; void it and write anew")
	}
	_, err := Apply(exposed, Set{{"f", json.RawMessage("{")}})
	assert.EqualError(t, err, "sheet.exposed: f is not whole JSON")
	_, err = Apply(vector(t, StripRead).Entry, set(`{"densities":[null]}`))
	assert.EqualError(t, err, "strip.read: densities holds a null")
}

func TestApplyOK(t *testing.T) {
	got, err := Apply(vector(t, SheetExposed).Entry, Set{
		{"reading", json.RawMessage(`"` + id(5).String() + `"`)}, {"zone", json.RawMessage(`null`)}, {"motion", json.RawMessage(`null`)}})
	require.NoError(t, err)
	assert.Equal(t, id(5).String(), got.Data.(*SheetExposedData).Reading, "which reading served is no name of a thing")
	assert.Empty(t, got.Zone)
	assert.Empty(t, got.Data.(*SheetExposedData).Motion)
	f, err := SetValue("time_s", 6.5)
	require.NoError(t, err)
	got, err = Apply(got, Set{f})
	require.NoError(t, err)
	assert.Equal(t, 6.5, got.Data.(*SheetExposedData).TimeS)
	opened, err := Apply(vector(t, BookOpened).Entry, Set{{"zone", json.RawMessage(`"UTC"`)}})
	require.NoError(t, err)
	assert.Equal(t, "UTC", opened.Data.(*BookOpenedData).Zone, "a kind's own zone goes before the place's")
	_, err = SetValue("f", func() {})
	assert.ErrorContains(t, err, "f: cannot be written as JSON")
}
