package names

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"traybook/events"
)

// plainIn looks for every form of every name, one after another.
func plainIn(sitters []events.SitterRow, text string) string {
	f := fold(text)
	for i := range f.letters {
		if f.gaps[i] == none && !f.partsNoWords(i) {
			continue
		}
		for n := 1; n <= 2 && i+n <= len(f.letters); n++ {
			for _, s := range sitters {
				w := words(s.Name)
				begins := func(word string) bool { return word[:min(2, len(word))] == f.letters[i:i+n] }
				stands := func(x form) bool { return strings.HasPrefix(f.letters[i:], x.letters) && f.holds(x, i) }
				if slices.ContainsFunc(w, begins) && slices.ContainsFunc(formsOf(w), stands) {
					return s.Ref
				}
			}
		}
	}
	return ""
}

// Of many names the same one is found as if each were looked for by itself.
func TestNamesAreFoundAsOneByOne(t *testing.T) {
	found := 0
	rapid.Check(t, func(t *rapid.T) {
		word := rapid.StringOfN(rapid.SampledFrom([]rune("aehstå渡")), 1, 3, -1)
		several := func(label string, most int, between string) string {
			return strings.Join(rapid.SliceOfN(word, 1, most).Draw(t, label), between)
		}
		var rows []events.SitterRow
		for i := range rapid.IntRange(1, 12).Draw(t, "names") {
			rows = append(rows, events.SitterRow{Ref: fmt.Sprint(i), Name: several("name", 4, " ")})
		}
		l := Of(rows...)
		for range 8 {
			text := several("before", 2, " ") + rapid.SampledFrom([]string{" ", "", "-"}).Draw(t, "between")
			if rapid.Bool().Draw(t, "of a name") {
				text += rapid.SampledFrom(rows).Draw(t, "of").Name + rapid.SampledFrom([]string{"", "s", "a", " h"}).Draw(t, "after")
			} else {
				text += several("text", 4, rapid.SampledFrom([]string{" ", "", "-"}).Draw(t, "joint"))
			}
			ref := plainIn(rows, text)
			if ref != "" {
				found++
			}
			assert.Equal(t, ref, l.In(text), "%q among %v", text, rows)
		}
	})
	assert.Greater(t, found, 50)
}

// crowd are names that have one word in common.
func crowd(n int) []events.SitterRow {
	var rows []events.SitterRow
	for i := range n {
		first := strings.Map(func(r rune) rune { return rune("bcdfghjklm"[r-'0']) }, fmt.Sprintf("%06d", i))
		rows = append(rows, events.SitterRow{Ref: fmt.Sprint(i), Name: first + " Ferryhand"})
	}
	return rows
}

// A place in a text is compared with few forms, however many names have the word that stands there.
func TestAWordInCommonIsNotLookedForInEachName(t *testing.T) {
	l := Of(crowd(1000)...)
	assert.Equal(t, "", l.In("the ferryhand waits"))
	a := l.byStart["fe"]
	assert.Len(t, a.names, 1000)
	assert.Equal(t, []int{len("ferryhandbbbcgl")}, a.lengths)
	for letters, forms := range a.forms {
		assert.LessOrEqual(t, len(forms), 2, letters)
	}
	parted := Of(events.SitterRow{Ref: "first", Name: "Astaho Lm"}, events.SitterRow{Ref: "second", Name: "Asta Holm"})
	assert.Equal(t, "second", parted.In("with Asta Holm"), "of the same letters")
	assert.Equal(t, "217", l.In("the Ferryhand bbbdck waits"))
}

func BenchmarkAWordInCommon(b *testing.B) {
	for _, n := range []int{1000, 4000} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			l := Of(crowd(n)...)
			l.In("the ferryhand waits")
			for b.Loop() {
				l.In("the ferryhand waits")
			}
		})
	}
}
