package events

import (
	"fmt"
	"reflect"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// values are what data says, by the names of its fields.
func values(d Data) map[string]any {
	out := map[string]any{}
	for _, f := range Fields(d.Kind()) {
		if v, there := f.Value(d); there {
			out[f.Name] = v
		}
	}
	return out
}

// A clock keeps of its act whatever both have a field for, and gives it back: all but the time, which it takes, and its own
// name.
func TestAClockKeepsWhatItsActSays(t *testing.T) {
	names := map[string]Kind{}
	for _, k := range Clocked() {
		names[ClockName(k)] = k
	}
	assert.Equal(t, map[string]Kind{"expose": SheetExposed, "reprint": SheetReprinted, "develop": SheetDeveloped, "rinse": SheetRinsed, "fix": SheetFixed, "wash": SheetWashed}, names)
	assert.Empty(t, ClockName(SheetJudged))
	rapid.Check(t, func(t *rapid.T) {
		k := rapid.SampledFrom(Clocked()).Draw(t, "kind")
		d := drawData(t, k)
		x, err := ClockFor(d)
		require.NoError(t, err)
		require.Equal(t, k, x.ClockedAct())
		want := map[string]any{"act": ClockName(k)}
		for name, v := range values(d) {
			if _, keeps := FieldOf(ClockStarted, name); keeps && v != 0.0 {
				want[name] = v
			}
		}
		require.Equal(t, fmt.Sprint(want), fmt.Sprint(values(x))) // in words, for no number equals itself
		delete(want, "act")
		back, err := x.ActData()
		require.NoError(t, err)
		require.Equal(t, k, back.Kind())
		got := values(back)
		for _, untold := range []string{"time_s", "clock", "running_s"} {
			if v, there := got[untold]; there {
				require.Zero(t, v, untold)
				delete(got, untold)
			}
		}
		for name, v := range got {
			if reflect.ValueOf(v).IsZero() { // a required number that nobody said
				delete(got, name)
			}
		}
		for name, v := range want {
			if reflect.ValueOf(v).IsZero() {
				delete(want, name)
			}
		}
		require.Equal(t, fmt.Sprint(want), fmt.Sprint(got))
	})
	_, err := (&ClockStartedData{Act: "tone"}).ActData()
	var wrong *FieldError
	require.ErrorAs(t, err, &wrong)
	assert.Equal(t, FieldError{Kind: ClockStarted, Field: "act", Fault: Missing}, *wrong)
}

// What is said already stays; what is empty is filled in from the field of the same name.
func TestFillFromFillsWhatIsEmpty(t *testing.T) {
	from := &SheetExposedData{Picture: "2026-001", Box: "box-1", F: 8, TimeS: 4, Subject: "ferry", Part: new(0.5), Carried: Carried{Session: "mole"}}
	to := &SheetExposedData{Box: "box-2", TimeS: 3, PlannedS: new(2.0)}
	require.NoError(t, FillFrom(from, to))
	assert.Equal(t, &SheetExposedData{Picture: "2026-001", Box: "box-2", F: 8, TimeS: 3, PlannedS: new(2.0), Subject: "ferry", Part: new(0.5), Carried: Carried{Session: "mole"}}, to)
	wash := &SheetWashedData{Changes: new(6)}
	clock := &ClockStartedData{Act: "wash", Sheet: "2026-001p1", Changes: new(4), RockS: new(0.0), Aid: "soda"}
	require.NoError(t, FillFrom(clock, wash))
	assert.Equal(t, &SheetWashedData{Sheet: "2026-001p1", Changes: new(6), Aid: "soda"}, wash)
	wash.Changes = nil
	require.NoError(t, FillFrom(clock, wash))
	assert.Equal(t, 4, *wash.Changes, "a count stays a count")
}

// What an act names beside its stream is read from the field of its name.
func TestWhatAnActNames(t *testing.T) {
	d := &SheetExposedData{Sheet: "2026-001n", Reading: "r", Clock: "c", Carried: Carried{Session: "mole"}}
	assert.Equal(t, []string{"2026-001n", "mole", "r", "c"}, []string{SheetOf(d), SessionOf(d), ReadingOf(d), ClockOf(d)})
	none := &BathDiscardedData{Bath: "dev-1"}
	assert.Equal(t, []string{"", "", "", ""}, []string{SheetOf(none), SessionOf(&BookOpenedData{}), ReadingOf(none), ClockOf(none)})
	var by []Kind
	for _, k := range Kinds {
		if ByCamera(k) {
			by = append(by, k)
		}
	}
	assert.Equal(t, []Kind{LightMetered, SheetExposed, SheetReprinted, StripExposed}, by)
}

// An amendment names the sitter that it sets, and no one else: another field, a sitter taken out, or what is no sitter.
func TestAnAmendmentNamesTheSitterItSets(t *testing.T) {
	var s script
	x := s.spoil(1)
	for set, want := range map[string][]Ref{
		`{"sitter":"sitter-2"}`:                       {{Sitter, "sitter-2", false}},
		`{"subject":"ferry","sitter":"sitter-2"}`:     {{Sitter, "sitter-2", false}},
		`{"sitter":null}`:                             nil,
		`{"sitter":"nobody"}`:                         nil,
		`{"sitter":7}`:                                nil,
		`{"subject":"sitter-2"}`:                      nil,
		`{"sitter":"sitter-2","subject":"of a boat"}`: {{Sitter, "sitter-2", false}},
	} {
		s.amend(x, set)
		assert.Equal(t, want, PlacesOf(s.entries[len(s.entries)-1].Data).Others, set)
	}
}

// Each entry held against all corrections is what the fold makes of it, and the voids of a batch that stand are those by
// which it is void.
func TestCorrectionsOneByOneAreTheFold(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		es := history(t)
		var mends []Entry
		for _, e := range es {
			if e.Kind != PaperSpoiled {
				mends = append(mends, e)
			}
		}
		c, got := NewCorrections(mends), map[ID]string{}
		for _, e := range es {
			if e.Kind == PaperSpoiled {
				got[e.ID] = tell([]Entry{c.AsItCounts(e)})
			}
		}
		want := map[ID]string{}
		for _, e := range FoldAll(es) {
			want[e.ID] = tell([]Entry{e})
		}
		require.Equal(t, want, got)
	})
	var s script
	s.spoil(1, 70)
	s.void(id(1), 71)
	third := s.add(&EntryVoidedData{Batch: id(70).String()})
	v := s.add(&EntryVoidedData{Batch: id(70).String()})
	w := s.add(&EntryVoidedData{Batch: id(70).String()})
	standing := func() (out []ID) {
		for _, e := range StandingVoids(id(70), s.entries) {
			out = append(out, e.ID)
		}
		return out
	}
	assert.Equal(t, []ID{third, v}, standing(), "two at most")
	s.void(third)
	assert.Equal(t, []ID{v, w}, standing(), "but those that are taken back")
	s.void(v)
	s.void(w)
	assert.Empty(t, standing())
	assert.Empty(t, StandingVoids(id(72), s.entries))
}

// An entry that comes twice counts once, in few entries and in many, side by side and apart, in order and out of it.
func TestAnEntryThatComesTwiceCountsOnce(t *testing.T) {
	for _, n := range []int{1, 2, fewEntries - 1, fewEntries, fewEntries + 1, 40} {
		var s script
		for i := range n {
			s.spoil(i + 1)
		}
		want := tell(Fold(s.entries))
		for _, at := range []int{0, n / 2, n - 1} {
			beside := slices.Insert(slices.Clone(s.entries), at, s.entries[at])
			assert.Equal(t, want, tell(Fold(beside)), "%d entries, number %d twice", n, at)
			assert.Equal(t, want, tell(Fold(append(slices.Clone(s.entries), s.entries[at]))), "%d entries, number %d again", n, at)
		}
	}
}

// A plain line that is none is refused and not read as an empty one.
func TestAPlainLineThatIsNoneIsRefused(t *testing.T) {
	e := Entry{Kind: PaperSpoiled, At: time.Date(2026, 5, 3, 12, 0, 0, 0, time.UTC), Data: &PaperSpoiledData{Box: "box-1", Sheets: 1}}
	line, err := e.AppendPlain(nil)
	require.NoError(t, err)
	_, err = ReadPlain(line)
	require.NoError(t, err)
	for _, bad := range []string{``, `[]`, `{"kind":"paper.spoiled","data":{}}`, string(line[:len(line)-2]), `{"kind":"paper.spoiled","at":"at noon","data":{"box":"box-1","sheets":1}}`,
		`{"kind":"paper.lost","at":"2026-05-03T12:00:00Z","data":{}}`, `{"kind":"paper.spoiled","at":"2026-05-03T12:00:00Z","data":{"sheets":"many"}}`, `{"at":"2026-05-03T12:00:00Z","kind":7}`} {
		_, err := ReadPlain([]byte(bad))
		assert.Error(t, err, bad)
	}
}

// Every word for a symptom is known, the symptoms first, none twice.
func TestTheVocabularyOfSymptoms(t *testing.T) {
	all := SymptomVocabulary()
	assert.Equal(t, Symptoms, all[:len(Symptoms)])
	assert.True(t, slices.IsSorted(all[len(Symptoms):]))
	assert.Len(t, all, len(Symptoms)+len(everydaySymptoms))
	for _, word := range all {
		assert.NotEmpty(t, SymptomsCalled(word), word)
	}
}
