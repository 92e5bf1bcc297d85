package acts_test

import (
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/eventstest"
	"traybook/events/names"
	"traybook/events/sqlite"
	"traybook/projections/acts"
	"traybook/projections/booktest"
)

// A file that leaves out all it may is filled in line by line, in the order of the acts, as if written by hand: what a
// later line names is seen by none before it, what an earlier one did is seen at once.
func TestImportFillsInAsByHand(t *testing.T) {
	const file = `book.opened 2026-05-01T08:00:00 "zone":"Europe/Oslo"
camera.described 2026-05-01T08:01:00 "camera":"skiff","focal_mm":135,"f_widest":5.6,"f_smallest":32
paper.received 2026-05-01T08:02:00 "name":"quay","base":"rc","width_mm":90,"height_mm":120,"sheets":25,"index":3
bath.mixed 2026-05-01T08:03:00 "role":"developer","name":"Amber","volume_ml":1000,"time_s":60
bath.mixed 2026-05-01T08:04:00 "role":"fixer","name":"Clear","volume_ml":1000,"time_s":60
session.opened 2026-05-01T09:00:00 "session":"mole"
light.metered 2026-05-01T09:01:00 "on":"scene","mode":"reflected","f":8,"time_s":4,"index":3
sheet.exposed 2026-05-01T09:02:00 "f":8,"time_s":4
sheet.exposed 2026-05-01T09:02:30 "f":8,"time_s":4
sheet.developed 2026-05-01T09:03:00 "time_s":60
sheet.rinsed 2026-05-01T09:04:00 "time_s":15
sheet.fixed 2026-05-01T09:05:00 "time_s":60
sheet.judged 2026-05-01T09:06:00 "verdict":"keep"
sheet.reprinted 2026-05-01T09:07:00 "f":11,"time_s":8
sheet.developed 2026-05-01T09:08:00 "time_s":60
sheet.developed 2026-05-01T09:09:00 "time_s":60
session.closed 2026-05-01T10:00:00 "text":"rain"
sheet.washed 2026-05-01T11:00:00 "changes":4
session.opened 2026-05-01T12:00:00 "session":"slip"
sheet.exposed 2026-05-01T12:01:00 "f":8,"time_s":4`
	b := booktest.FromActs(t, file)
	var got []string
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		return tx.Each(func(e events.Entry) error {
			p := events.PlacesOf(e.Data)
			if s := events.SheetOf(e.Data); s != "" {
				got = append(got, e.At.Format("15:04:05 ")+s+" "+p.Box+p.Bath+" "+p.Session)
			}
			return nil
		})
	}))
	assert.Equal(t, []string{
		"09:02:00 2026-001n box-1 mole", "09:02:30 2026-002n box-1 mole", "09:03:00 2026-001n dev-1 mole", "09:04:00 2026-001n  mole",
		"09:05:00 2026-001n fix-1 mole", "09:06:00 2026-001n  mole", "09:07:00 2026-001p1 box-1 mole",
		"09:08:00 2026-002n dev-1 mole", "09:09:00 2026-001p1 dev-1 mole", "11:00:00 2026-001n  ", "12:01:00 2026-003n box-1 slip",
	}, got)
}

// A life that leaves out all that the book fills in becomes the one that says it, whatever the import remembered.
func TestASparseLifeIsFilledInToTheWholeOne(t *testing.T) {
	assert.Equal(t, filledIn(t, eventstest.WriteLife), filledIn(t, eventstest.WriteSparseLife))
}

// filledIn gives the entries of a life as a book holds them, with the place of an entry instead of its id.
func filledIn(t *testing.T, write func(io.Writer, int, uint64) (int, error)) (out []string) {
	var life strings.Builder
	_, err := write(&life, 1500, 7)
	require.NoError(t, err)
	place := map[string]string{}
	require.NoError(t, booktest.FromLines(t, life.String()).Read(func(tx *sqlite.Tx) error {
		return tx.Each(func(e events.Entry) error {
			place[e.ID.String()] = fmt.Sprint("entry ", len(out))
			data, err := json.Marshal(e.Data)
			out = append(out, fmt.Sprint(e.At, e.Zone, e.Kind, regexp.MustCompile("[0-9a-f]{32}").ReplaceAllStringFunc(string(data), func(id string) string { return place[id] })))
			return err
		})
	}))
	return out
}

// What a book let out it takes in again: a sheet that was developed and never exposed, dated before its picture's
// exposure, or numbered past prints that were taken back. A line written by hand, without an id, is held more strictly.
func TestImportTakesWhatABookLetOut(t *testing.T) {
	const made = `{"kind":"book.opened","at":"2026-05-01T08:00:00+02:00","data":{"zone":"Europe/Oslo"}}
{"kind":"paper.received","at":"2026-05-01T08:02:00+02:00","data":{"box":"box-1","name":"quay","base":"rc","width_mm":90,"height_mm":120,"sheets":25,"index":3}}
{"kind":"bath.mixed","at":"2026-05-01T07:41:00+02:00","data":{"bath":"dev-1","role":"developer","name":"Amber","volume_ml":500,"time_s":60}}
{"kind":"sheet.exposed","at":"2026-05-01T08:09:00+02:00","data":{"picture":"2026-001","box":"box-1","f":8,"time_s":4}}
`
	for _, c := range []struct{ name, line, refused string }{
		{"before its negative", `{"kind":"sheet.developed","at":"2026-05-01T07:50:00+02:00","data":{"sheet":"2026-001p1","bath":"dev-1","time_s":2},"id":"ee0000000000000000000000000000aa"}`, ""},
		{"past a gap", `{"kind":"sheet.developed","at":"2026-05-01T08:50:00+02:00","data":{"sheet":"2026-001p4","bath":"dev-1","time_s":2},"id":"ee0000000000000000000000000000aa"}`, ""},
		{"a print before its negative", `{"kind":"sheet.reprinted","at":"2026-05-01T08:30:00+02:00","data":{"picture":"2026-002","box":"box-1","f":11,"time_s":9},"id":"ee0000000000000000000000000000aa"}
{"kind":"sheet.exposed","at":"2026-05-01T08:20:00+02:00","data":{"picture":"2026-002","box":"box-1","f":8,"time_s":4},"id":"ee0000000000000000000000000000ab"}`, ""},
		{"past a gap, by hand", `{"kind":"sheet.developed","at":"2026-05-01T08:50:00+02:00","data":{"sheet":"2026-001p4","bath":"dev-1","time_s":2}}`, "line 5: the sheet 2026-001p4 was never exposed"},
		{"of no picture", `{"kind":"sheet.developed","at":"2026-05-01T08:50:00+02:00","data":{"sheet":"2026-007p1","bath":"dev-1","time_s":2},"id":"ee0000000000000000000000000000aa"}`, `line 5: there is no picture "2026-007"`},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "lines.ndjson")
			require.NoError(t, os.WriteFile(path, []byte(made+c.line+"\n"), 0o600))
			b := booktest.NewBook(t)
			lines := booktest.ReadLines(t, path)
			err := b.Write(func(tx *sqlite.Tx) error {
				_, err := acts.ImportPlain(tx, lines, booktest.Recorded, events.ID{1}, events.ID{2}, nil)
				return err
			})
			if c.refused != "" {
				require.ErrorContains(t, err, c.refused)
				return
			}
			require.NoError(t, err)
			report, err := b.Verify(sqlite.VerifyOptions{})
			require.NoError(t, err)
			require.True(t, report.OK)
		})
	}
}

// A name in a file is that of the sitter in the table, however it is cased and spaced; one that is not there is written in
// once; one that was erased comes back as the reference that its stone knows, and is counted.
func TestNamesInAFile(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour+`
sheet.exposed 2026-05-02T10:00:00 "picture":"2026-001","box":"box-1","f":8,"time_s":4,"sitter":"Ane of the mole"
sheet.exposed 2026-05-02T10:01:00 "picture":"2026-002","box":"box-1","f":8,"time_s":4,"sitter":"Ole of the light"`)
	require.NoError(t, b.EraseSitter("sitter-2", func(*sqlite.Tx) error { return nil }, func(tx *sqlite.Tx) error { return nil }))
	var stones []events.SitterErasedData
	require.NoError(t, b.Write(func(tx *sqlite.Tx) error {
		for _, name := range []string{"Ole of the light"} {
			salt := events.ID{7}
			stones = append(stones, events.SitterErasedData{Sitter: "sitter-2", Salt: salt.String(), Digest: names.Stone(name, salt).String()})
		}
		e := booktest.ByHand(t, 1, &stones[0])
		_, err := acts.Write(tx, &e, acts.WriteOptions{})
		return err
	}))
	file := parsed(t,
		`{"kind":"sheet.exposed","at":"2026-05-03T11:00:00+02:00","data":{"picture":"2026-003","box":"box-1","f":8,"time_s":4,"sitter":"ANE  of the mole"}}`,
		`{"kind":"sheet.exposed","at":"2026-05-03T11:01:00+02:00","data":{"picture":"2026-004","box":"box-1","f":8,"time_s":4,"sitter":"Ole of the light"}}`,
		`{"kind":"sheet.exposed","at":"2026-05-03T11:02:00+02:00","data":{"picture":"2026-005","box":"box-1","f":8,"time_s":4,"sitter":"Ida of the inn"}}`,
		`{"kind":"sheet.exposed","at":"2026-05-03T11:03:00+02:00","data":{"picture":"2026-006","box":"box-1","f":8,"time_s":4,"sitter":"ida of the  inn"}}`,
		`{"kind":"sheet.exposed","at":"2026-05-03T11:04:00+02:00","data":{"picture":"2026-007","box":"box-1","f":8,"time_s":4,"sitter":"Ole of the light"}}`)
	got, err := takenIn(t, b, file)
	require.NoError(t, err)
	assert.Equal(t, 5, got.Added)
	assert.Equal(t, 1, got.Erased, "the name, not its lines")
	assert.Equal(t, []string{"sitter-3"}, got.Sitters)
	var sitters []string
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		found, err := tx.Entries(events.Query{Kinds: []events.Kind{events.SheetExposed}})
		for _, e := range found {
			sitters = append(sitters, e.Data.(*events.SheetExposedData).Sitter)
		}
		return err
	}))
	assert.Equal(t, []string{"sitter-1", "sitter-2", "sitter-1", "sitter-2", "sitter-3", "sitter-3", "sitter-2"}, sitters)
}

// The first line of a file that names a picture may be the development of a negative that was never exposed, or the reading
// for it, if its number is not past the next; that of a print or of a higher number is a slip.
func TestWhatMayNameAPictureFirst(t *testing.T) {
	for _, c := range []struct{ line, says string }{
		{`{"kind":"sheet.developed","at":"2026-05-03T11:00:00+02:00","data":{"sheet":"2026-002n","bath":"dev-1","time_s":60}}`, ""},
		{`{"kind":"sheet.developed","at":"2026-05-03T11:00:00+02:00","data":{"sheet":"2026-003n","bath":"dev-1","time_s":60}}`, `line 1: there is no picture "2026-003"; ` + "`traybook pictures` lists the pictures"},
		{`{"kind":"sheet.developed","at":"2026-05-03T11:00:00+02:00","data":{"sheet":"2026-002p1","bath":"dev-1","time_s":60}}`, `line 1: there is no picture "2026-002"; ` + "`traybook pictures` lists the pictures"},
		{`{"kind":"sheet.developed","at":"2026-05-03T11:00:00+02:00","data":{"sheet":"2026-002n","bath":"dev-9","time_s":60}}`, `line 1: there is no bath "dev-9"; ` + "`traybook baths` lists the baths, `traybook bath mix` makes one"},
		{`{"kind":"light.metered","at":"2026-05-03T11:00:00+02:00","data":{"on":"negative","mode":"incident","lux":900,"picture":"2026-002"}}`, ""},
		{`{"kind":"light.metered","at":"2026-05-03T11:00:00+02:00","data":{"on":"negative","mode":"incident","lux":900,"picture":"2026-003"}}`, `line 1: there is no picture "2026-003"; ` + "`traybook pictures` lists the pictures"},
	} {
		b := booktest.FromActs(t, booktest.Harbour+booktest.Picture(1, 0, "ferry mate"))
		_, err := takenIn(t, b, parsed(t, c.line))
		if c.says == "" {
			assert.NoError(t, err, c.line)
		} else {
			assert.EqualError(t, err, c.says)
		}
	}
}
