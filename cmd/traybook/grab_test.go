package main

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
)

// grab VAR KEY puts a value of the object on the last command's output into a variable of the script.
func grab(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: grab VAR KEY")
	}
	var object map[string]any
	ts.Check(json.Unmarshal([]byte(ts.ReadFile("stdout")), &object))
	text, ok := object[args[1]].(string)
	if !ok {
		ts.Fatalf("no text at %q", args[1])
	}
	ts.Setenv(args[0], text)
}

// clockTo TIME sets the clock of the program; +DURATION moves it on.
func clockTo(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: clock TIME|+DURATION")
	}
	if step, ok := strings.CutPrefix(args[0], "+"); ok {
		d, err := time.ParseDuration(step)
		ts.Check(err)
		now, err := time.Parse(time.RFC3339Nano, ts.Getenv("TRAYBOOK_NOW"))
		ts.Check(err)
		ts.Setenv("TRAYBOOK_NOW", now.Add(d).Format(time.RFC3339Nano))
		return
	}
	ts.Setenv("TRAYBOOK_NOW", args[0])
}

// bytesHold FILE TEXT wants the bytes of a file, or of its log beside it, to hold a text; negated to hold it nowhere.
func bytesHold(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) != 2 {
		ts.Fatalf("usage: holds FILE TEXT")
	}
	path := args[0]
	if !filepath.IsAbs(path) {
		path = ts.MkAbs(path)
	}
	found := false
	for _, end := range []string{"", "-wal", "-shm"} {
		raw, err := os.ReadFile(path + end)
		if err != nil && (end == "" || !os.IsNotExist(err)) {
			ts.Check(err)
		}
		found = found || bytes.Contains(raw, []byte(args[1]))
	}
	if found == neg {
		ts.Fatalf("%q found in %s: %t", args[1], args[0], found)
	}
}

// rewrite IN OUT OLD NEW copies a file with the first OLD replaced; OLD may be a line's number, which leaves it out.
func rewrite(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 4 {
		ts.Fatalf("usage: rewrite IN OUT OLD NEW")
	}
	text := ts.ReadFile(args[0])
	if n, err := strconv.Atoi(args[2]); err == nil {
		lines := strings.SplitAfter(text, "\n")
		text = strings.Join(append(lines[:n-1:n-1], lines[n:]...), "")
	} else {
		if !strings.Contains(text, args[2]) {
			ts.Fatalf("%q is not in %s", args[2], args[0])
		}
		text = strings.Replace(text, args[2], args[3], 1)
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[1]), []byte(text), 0o600))
}
