package booktest

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/sqlite"
	"traybook/projections/acts"
)

// Story writes plain lines, one minute after another.
type Story struct {
	At    time.Time
	Lines []string
}

// NewStory opens a book with one camera; the first act is at 10:00 on 2 May 2026.
func NewStory() *Story {
	s := &Story{At: time.Date(2026, 5, 2, 10, 0, 0, 0, time.FixedZone("", 2*3600))}
	s.Tell("book.opened", `"zone":"Europe/Oslo"`)
	s.Tell("camera.described", `"camera":"pier-camera","focal_mm":180,"f_widest":5.6,"f_smallest":45`)
	return s
}

// Tell adds one entry, the fields of its data written as JSON.
func (s *Story) Tell(kind, format string, args ...any) {
	s.Lines = append(s.Lines, fmt.Sprintf(`{"kind":%q,"at":%q,"data":{%s}}`, kind, s.At.Format(time.RFC3339), fmt.Sprintf(format, args...)))
	s.At = s.At.Add(time.Minute)
}

// Book makes a book of the story.
func (s *Story) Book(t testing.TB) *sqlite.Book {
	t.Helper()
	b := NewBook(t)
	var lines []acts.ImportLine
	for i, text := range s.Lines {
		l, err := events.ParseLine([]byte(text))
		require.NoError(t, err, "line %d: %s", i+1, text)
		lines = append(lines, acts.ImportLine{Line: l, Number: i + 1})
	}
	require.NoError(t, b.Write(func(tx *sqlite.Tx) error {
		_, err := acts.ImportPlain(tx, lines, Recorded, events.ID{1}, events.ID{2}, nil)
		return err
	}))
	return b
}

// Judged exposes a negative as metered at the index in force, 3, and judges it. meteredS is the meter's time at f/8.
func (s *Story) Judged(n int, box string, meteredS, doneS, stops float64) {
	s.Tell("light.metered", `"on":"scene","mode":"reflected","index":3,"f":8,"time_s":%v,"picture":"2026-%03d"`, meteredS, n)
	s.Tell("sheet.exposed", `"picture":"2026-%03d","box":%q,"f":8,"time_s":%v`, n, box, doneS)
	s.Tell("sheet.judged", `"sheet":"2026-%03dn","verdict":"keep","stops":%v`, n, stops)
}

// Box receives a box of paper, 100 sheets of index 3.
func (s *Story) Box(name string) {
	s.Tell("paper.received", `"box":%q,"name":"quay paper","base":"rc","width_mm":90,"height_mm":120,"sheets":100,"index":3,"iso_r":110`, name)
}
