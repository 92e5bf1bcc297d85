package main

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events/sqlite"
)

var pictureGiven = regexp.MustCompile(`"picture":"(2026-[0-9]+)"`)

var anyPicture = regexp.MustCompile(`"picture":"([0-9]{4}-[0-9]+)"`)

// Eight hands take pictures at once in one book, each act a run of the program, while others read, export and back up:
// all gets in, none is refused for being busy, no number is given twice, no place in the chain stays empty. How long the
// longest had to wait is told, not judged: it is the machine's business as well.
func TestACrowdTakesPictures(t *testing.T) {
	t.Parallel()
	book := caseBook(t, "good-picture")
	before := entriesIn(t, book)
	program := asProgram(t, "traybook")
	acts := rounds(t, 10, 500)
	var writing, looking sync.WaitGroup
	var mu sync.Mutex
	numbers := map[string]int{}
	var failed []string
	var longest time.Duration
	done := make(chan struct{})
	for hand := range 8 {
		writing.Add(1)
		go func() {
			defer writing.Done()
			for range acts {
				began := time.Now()
				out, err := command(t, program, book, "expose", "f/8", "4s", "--box", "box-1", "--subject", fmt.Sprint("hand ", hand), "--json").CombinedOutput()
				m := pictureGiven.FindSubmatch(out)
				mu.Lock()
				longest = max(longest, time.Since(began))
				if err != nil || m == nil {
					failed = append(failed, string(out))
				} else {
					numbers[string(m[1])]++
				}
				mu.Unlock()
			}
		}()
	}
	copies := t.TempDir()
	looked := 0
	looking.Add(1)
	go func() {
		defer looking.Done()
		for i := 0; ; i++ {
			copied := filepath.Join(copies, fmt.Sprint(i))
			for _, look := range []string{"today", "export events --out -", "backup " + copied + ".db", "export csv --out " + copied, "verify"} {
				select {
				case <-done:
					return
				default:
				}
				out, err := command(t, program, book, strings.Fields(look)...).CombinedOutput()
				mu.Lock()
				if looked++; err != nil {
					failed = append(failed, look+": "+string(out))
				}
				mu.Unlock()
			}
			os.RemoveAll(copied)
			os.Remove(copied + ".db")
		}
	}()
	writing.Wait()
	close(done)
	looking.Wait()
	require.Empty(t, failed, "nobody was turned away")
	require.Len(t, numbers, 8*acts, "no number was given twice")
	for number, times := range numbers {
		assert.Equal(t, 1, times, number)
	}
	r, err := sqlite.VerifyFile(book, bookOptions(true), sqlite.VerifyOptions{})
	require.NoError(t, err)
	require.True(t, r.OK, "%v", r.Problems)
	require.EqualValues(t, before+8*acts, r.Events)
	require.Equal(t, r.Events, r.Head.BookSeq, "one chain without gaps")
	t.Logf("8 × %d acts beside %d looks, the longest act took %s", acts, looked, longest.Round(time.Millisecond))
}
