package main

import (
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/eventstest"
	"traybook/events/sqlite"
)

// bookOfALife is a book of a made life: the one that TRAYBOOK_LIFE names, kept from an earlier run, or a new one of so many
// entries. It gives the moment after its last entry, and its last pictures and bath.
func bookOfALife(t testing.TB, n int) (book string, now time.Time, pictures []string, bath string) {
	if book = os.Getenv("TRAYBOOK_LIFE"); book == "" {
		dir := t.TempDir()
		book = filepath.Join(dir, "life.db")
		lines := filepath.Join(dir, "life.ndjson")
		f, err := os.Create(lines)
		require.NoError(t, err)
		_, err = eventstest.WriteLife(f, n, 7)
		require.NoError(t, err)
		require.NoError(t, f.Close())
		does(t, book, "import", lines)
	}
	b, err := sqlite.Open(book, bookOptions(true))
	require.NoError(t, err)
	defer b.Close()
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		last, err := tx.Entries(events.Query{Newest: true, Limit: 1})
		require.NoError(t, err)
		now = last[0].At.Add(time.Minute)
		views, err := tx.Views(events.ViewQuery{Kind: events.Picture, Limit: 3})
		require.NoError(t, err)
		for _, v := range views {
			pictures = append(pictures, v.Entity.Name)
		}
		views, err = tx.Views(events.ViewQuery{Kind: events.Bath, Limit: 1})
		require.NoError(t, err)
		bath = views[0].Entity.Name
		return nil
	}))
	return book, now, pictures, bath
}

// pagesAsked are the pages of a book, as a browser asks for them.
func pagesAsked(now time.Time, picture, bath string) [][2]string {
	return [][2]string{{"today", "/"}, {"pictures", "/pictures"}, {"words", "/pictures?text=harbour"}, {"symptom", "/pictures?symptom=thin"},
		{"bath", "/pictures?bath=" + bath}, {"picture", "/picture/" + picture}, {"evening", "/evening"}, {"supplies", "/supplies"},
		{"supplies-all", "/supplies?all=1"}, {"word-nowhere", "/pictures?text=zzzz"}, {"cause", "/pictures?cause=light-leak"}, {"old", "/pictures?before=2010-100"}, {"camera", "/camera"}, {"year", "/year"}, {"year-before", fmt.Sprintf("/year?year=%d", now.Year()-1)}}
}

// BenchmarkServed asks each page of a book for as many times as -benchtime says, and tells the median and the bytes: of ten
// thousand entries, of a million with TRAYBOOK_LONG=1, or of the book that TRAYBOOK_LIFE names.
func BenchmarkServed(b *testing.B) {
	n := 10_000
	if os.Getenv("TRAYBOOK_LONG") == "1" {
		n = 1_000_000
	}
	book, now, pictures, bath := bookOfALife(b, n)
	s := serveBookAt(b, book, now.Format(time.RFC3339))
	for _, page := range pagesAsked(now, pictures[len(pictures)-1], bath) {
		b.Run(page[0], func(b *testing.B) {
			var took []time.Duration
			var size int
			for b.Loop() {
				begin := time.Now()
				status, text := s.get(page[1])
				took = append(took, time.Since(begin))
				size = len(text)
				require.Equal(b, http.StatusOK, status, text)
			}
			slices.Sort(took)
			b.ReportMetric(float64(took[len(took)/2].Microseconds())/1000, "ms-median")
			b.ReportMetric(float64(size), "bytes")
			b.ReportMetric(0, "ns/op")
		})
	}
}
