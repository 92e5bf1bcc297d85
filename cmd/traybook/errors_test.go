package main

import (
	"encoding/json"
	"regexp"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/rogpeppe/go-internal/testscript"
)

// inside are words of the program's inside that no message may hold: types, the store's errors, faults of formatting.
var inside = regexp.MustCompile(`(?i)\bsql\b|sqlite3|constraint failed|no such table|\bjson: |strconv\.|parsing time|runtime error|nil pointer|goroutine|%!|<nil>|` +
	`(?-i:\b(events|projections|calc|export|sqlite|page|bag|cli)\.[A-Z]|\*[a-z]+\.[A-Z]|[a-z]Data\b)|unexpected EOF|invalid syntax|flag provided|0x[0-9a-f]{6}`)

// refused CODE PATTERN COMMAND ARG… runs the program and wants that exit code and a message of the house's form: what
// and why on the first line, what to do behind it; nothing on the other stream; and, once in a script for each command,
// the same in one object under --json.
func refused(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 3 {
		ts.Fatalf("usage: refused CODE PATTERN COMMAND ARG…")
	}
	exits(ts, false, append([]string{args[0]}, args[2:]...))
	text := ts.ReadFile("stderr")
	if out := ts.ReadFile("stdout"); out != "" {
		ts.Fatalf("a refusal writes to the stream for answers: %s", out)
	}
	lines := strings.Split(strings.TrimSuffix(text, "\n"), "\n")
	told, ok := strings.CutPrefix(lines[0], "traybook: ")
	if !ok {
		ts.Fatalf("no message: %q", text)
	}
	if !regexp.MustCompile(args[1]).MatchString(text) {
		ts.Fatalf("no match for %s in %q", args[1], text)
	}
	if word := inside.FindString(text); word != "" {
		ts.Fatalf("%q shows the inside of the program: %s", word, text)
	}
	first, _ := utf8.DecodeRuneInString(told)
	second := []rune(told + "  ")[1]
	word, _, _ := strings.Cut(told, " ")
	if unicode.IsUpper(first) && unicode.IsLower(second) && !strings.Contains(strings.Join(args[2:], " "), word) {
		ts.Fatalf("begins as a sentence: %q", told)
	}
	if strings.HasSuffix(strings.TrimSpace(text), ".") {
		ts.Fatalf("ends as a sentence: %q", text)
	}
	advice := strings.TrimSpace(strings.Join(lines[1:], " "))
	if advice == "" && !regexp.MustCompile(`[;:] `).MatchString(told) {
		ts.Fatalf("says what, and not what to do: %q", text)
	}
	told = "," + strings.Join(args[3:min(len(args), 4)], "") + ","
	if asked := ts.Getenv("TOLD_IN_JSON"); strings.Contains(asked, told) {
		return
	} else {
		ts.Setenv("TOLD_IN_JSON", asked+told)
	}
	exits(ts, false, append(append([]string{args[0]}, args[2:3]...), append([]string{"--json"}, args[3:]...)...))
	var object struct{ Error, Hint *string }
	ts.Check(json.Unmarshal([]byte(ts.ReadFile("stderr")), &object))
	if object.Error == nil || *object.Error == "" {
		ts.Fatalf("no error in the object of %s", strconv.Quote(ts.ReadFile("stderr")))
	}
}
