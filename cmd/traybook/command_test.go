package main

import (
	"crypto/sha256"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"traybook/events/eventstest"
	"traybook/export/scan"
)

// command is the real program on a book, with the clock of the tests.
func command(t testing.TB, program, book string, args ...string) *exec.Cmd {
	t.Helper()
	wholeAtEnd(t, book)
	c := eventstest.Command(t, program, args...)
	c.Env = append(c.Env, "TRAYBOOK_BOOK="+book)
	return c
}

// looked are the books that tests in progress used, spoilt those that a test damages on purpose.
var looked, spoilt sync.Map

// wholeAtEnd verifies all of a book when the test that used it ends, whatever the test was about. Both ways to start the
// program on a book come by here.
func wholeAtEnd(t testing.TB, book string) {
	t.Helper()
	if _, again := looked.LoadOrStore(book, true); again {
		return
	}
	t.Cleanup(func() {
		looked.Delete(book)
		if _, harmed := spoilt.Load(book); harmed {
			return
		}
		if why := unsound(book); why != "" {
			t.Errorf("%s is not whole after the test: %s", book, why)
		}
	})
}

// sound are the books that verify found whole, by what they are made of: the same bytes are whole wherever they lie, and
// tests copy one book many times and look at it before and after each act that was refused.
var sound sync.Map

// unsound says what verify finds in a book, nothing where it is whole or where there is none.
func unsound(book string) string {
	if _, err := os.Stat(book); err != nil {
		return ""
	}
	bytes := madeOf(book)
	if _, whole := sound.Load(bytes); whole {
		return ""
	}
	env, out, errs := testEnv(map[string]string{"TRAYBOOK_BOOK": book, "TRAYBOOK_NOW": eventstest.Now}, "verify")
	if run(env) == codeDone {
		if bytes == madeOf(book) {
			sound.Store(bytes, true)
		}
		return ""
	}
	return out.String() + errs.String()
}

// madeOf is one digest of all that verify reads: the book, its log and its scans, with their names.
func madeOf(book string) (digest [sha256.Size]byte) {
	all := sha256.New()
	add := func(name, path string) {
		raw, err := os.ReadFile(path)
		fmt.Fprintf(all, "%s %d %t\n%s", name, len(raw), err == nil, raw)
	}
	for _, part := range []string{"", "-wal", "-shm", "-journal"} {
		add(part, book+part)
	}
	scans := filepath.Join(filepath.Dir(book), scan.Folder)
	filepath.WalkDir(scans, func(path string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			add(strings.TrimPrefix(path, scans), path)
		}
		return nil
	})
	copy(digest[:], all.Sum(nil))
	return digest
}

// build makes a program from a package or a file.
func build(t testing.TB, out, what string) {
	t.Helper()
	said, err := eventstest.Command(t, "go", "build", "-o", out, what).CombinedOutput()
	if err != nil {
		t.Fatalf("go build %s: %v: %s", what, err, said)
	}
}

// passedOver says what a test could not try here, and why.
func passedOver(t testing.TB, why string) {
	t.Helper()
	t.Log(why)
	require.NoError(t, eventstest.PassedOver(t.Name(), why))
}
