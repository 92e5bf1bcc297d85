package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What a book tells of its pictures, baths, boxes and sessions it tells of them as well when it is joined into another
// that gave the same names: its paper is not taken for the other's, nor its bath, nor its sitter, nor the camera that an
// amendment names.
func TestAJoinedBookTellsTheSame(t *testing.T) {
	t.Parallel()
	const now = "2026-05-03T12:00:00+02:00"
	made := func(size, index, sitter string, pictures int) string {
		book := newBook(t, now)
		for _, act := range [][]string{
			{"camera", "describe", "dory", "--focal", index + "0mm", "--f-widest", "8", "--f-smallest", "32", "--at", "2026-05-03T08:00"},
			{"paper", "receive", size, "50", "sheets", "rc", "--name", "pier paper", "--index", index, "--at", "2026-05-03T08:01"},
			{"sitter", "add", sitter},
			{"bath", "mix", "developer", "1l", "1+9", "60s", "--at", "2026-05-03T08:02"},
			{"session", "open", "--camera", "skiff", "--place", size + " quay", "--at", "2026-05-03T08:03"},
			{"meter", "f/8", "4s", "--index", index, "--at", "2026-05-03T08:10"},
		} {
			actedAt(t, book, now, act...)
		}
		for range pictures {
			actedAt(t, book, now, "expose", "f/8", "2s", "--box", "box-2", "--distance", "40cm", "--sitter", "sitter-1", "--at", "2026-05-03T08:11")
			actedAt(t, book, now, "amend", "last", "camera=dory")
			actedAt(t, book, now, "develop", "60s", "--at", "2026-05-03T08:12")
			actedAt(t, book, now, "judge", "redo", "too-light", "--at", "2026-05-03T08:13")
		}
		return book
	}
	field, studio := made("9x12cm", "3", "Ylva", 1), made("18x24cm", "5", "Runa", 3)
	looks := [][]string{
		{"history", "2026-001", "--json"}, {"why", "2026-001", "--json"}, {"history", "dev-1", "--json"}, {"history", "box-2", "--json"},
		{"history", "2026-05-03", "--json"}, {"pictures", "--bath", "dev-1", "--json"}, {"pictures", "--session", "2026-05-03", "--json"},
		{"pictures", "--box", "box-2", "--json"}, {"pictures", "--sitter", "sitter-1", "--json"},
	}
	told := func(book string, look []string, rank string) string {
		look = append([]string{}, look...)
		if look[0] == "pictures" {
			look[2] += rank
		} else {
			look[1] += rank
		}
		return strings.ReplaceAll(actedAt(t, book, now, look...), rank, "")
	}
	var alone []string
	for _, l := range looks {
		alone = append(alone, told(studio, l, ""))
	}
	bath := actedAt(t, studio, now, "baths", "--json")
	actedAt(t, field, now, "merge", studio)
	for _, state := range []string{"joined", "rebuilt", "of another version"} {
		t.Run(state, func(t *testing.T) {
			switch state {
			case "rebuilt":
				actedAt(t, field, now, "rebuild")
			case "of another version":
				behindItsBack(t, field, "UPDATE meta SET value='0' WHERE key='fold'", "UPDATE view SET state='{}', stock=0, open=0")
			}
			wholeBook(t, field)
			for i, l := range looks {
				assert.Equal(t, alone[i], told(field, l, "@2"), "%v", l)
			}
			one, found := strings.CutPrefix(bath, `{"baths":[{"bath":"dev-1",`)
			require.True(t, found, bath)
			one, _, _ = strings.Cut(one, "}")
			assert.Contains(t, actedAt(t, field, now, "baths", "--json"), `{"bath":"dev-1@2",`+one)
		})
	}
	list := actedAt(t, field, now, "sitter", "list", "--json")
	assert.Contains(t, list, `{"sitter":"sitter-1","name":"Ylva","contact":"","pictures":["2026-001"],`)
	assert.Contains(t, list, `{"sitter":"sitter-1@2","name":"Runa","contact":"","pictures":["2026-001@2","2026-002","2026-003"],`)
	dir := filepath.Join(t.TempDir(), "tables")
	actedAt(t, field, now, "export", "csv", "--out", dir)
	entries, err := os.ReadFile(filepath.Join(dir, "entries.csv"))
	require.NoError(t, err)
	assert.Contains(t, string(entries), "2026-001n@2 developed 60 s in dev-1@2")
}
