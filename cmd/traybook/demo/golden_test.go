package demo_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/stretchr/testify/require"

	"traybook/cmd/traybook/demo"
	"traybook/events/eventstest"
	"traybook/events/sqlite"
	"traybook/export"
	"traybook/export/pages"
	"traybook/projections/booktest"
)

const golden = "../../../testdata/golden/demo"

// same holds what came out against what is kept, line by line; with -update it is kept.
func same(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join(golden, name)
	if *eventstest.Update {
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
		require.NoError(t, os.WriteFile(path, got, 0o644))
		return
	}
	kept, err := os.ReadFile(path)
	require.NoError(t, err)
	if bytes.Equal(kept, got) {
		return
	}
	want, have := strings.Split(string(kept), "\n"), strings.Split(string(got), "\n")
	for i := range min(len(want), len(have)) {
		require.Equal(t, want[i], have[i], "%s, line %d; -update keeps the new one", name, i+1)
	}
	require.Len(t, have, len(want), "%s has another number of lines", name)
}

func TestTheSeasonsTables(t *testing.T) {
	b := booktest.Season(t)
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		tables, err := export.NewTables(tx, demo.Now(), export.Scope{}, export.TableOptions{})
		require.NoError(t, err)
		require.Len(t, export.TableNames(), 12)
		for _, name := range export.TableNames() {
			var made bytes.Buffer
			_, err := tables.Write(name, &made)
			require.NoError(t, err)
			same(t, "csv/"+name, made.Bytes())
		}
		var described bytes.Buffer
		require.NoError(t, tables.WritePackage(&described))
		same(t, "csv/"+export.PackageFile, described.Bytes())
		return nil
	}))
	same(t, "csv/schema.md", []byte(export.SchemaPage()))
}

// pageStream is the content of one page, as it stands in a file whose pages are not compressed.
var pageStream = regexp.MustCompile(`(?s)stream\n(0 J\n.*?)\nendstream`)

// textDrawn is one piece of text in it: UTF-16 with a backslash before what would end it.
var textDrawn = regexp.MustCompile(`(?s)BT (-?[\d.]+) (-?[\d.]+) Td \(((?:\\.|[^\\)])*)\) Tj`)

func decode(raw string) string {
	var b []byte
	for i := 0; i < len(raw); i++ {
		c := raw[i]
		if c == '\\' && i+1 < len(raw) {
			i++
			if c = raw[i]; c == 'r' {
				c = '\r'
			}
		}
		b = append(b, c)
	}
	units := make([]uint16, 0, len(b)/2)
	for i := 0; i+1 < len(b); i += 2 {
		units = append(units, uint16(b[i])<<8|uint16(b[i+1]))
	}
	return string(utf16.Decode(units))
}

// told is a document as its words, a page under a page, with a digest of everything that is drawn on each.
func told(t *testing.T, pdf []byte) []byte {
	t.Helper()
	var out bytes.Buffer
	require.Empty(t, eventstest.PDFArchival(pdf))
	streams := pageStream.FindAllSubmatch(pdf, -1)
	require.NotEmpty(t, streams)
	for i, s := range streams {
		sum := sha256.Sum256(s[1])
		fmt.Fprintf(&out, "page %d of %d, drawn %s\n", i+1, len(streams), hex.EncodeToString(sum[:8]))
		for _, m := range textDrawn.FindAllSubmatch(s[1], -1) {
			fmt.Fprintf(&out, "  %s\n", decode(string(m[3])))
		}
	}
	return out.Bytes()
}

func TestTheSeasonsPages(t *testing.T) {
	b := booktest.Season(t)
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		heads, err := tx.Heads()
		require.NoError(t, err)
		rows, err := tx.Sitters()
		require.NoError(t, err)
		o := pages.LogOptions{Created: demo.Now(), Head: heads[0].Hash.String(), Uncompressed: true, Sitter: func(ref string) string {
			for _, r := range rows {
				if r.Ref == ref {
					return r.Name
				}
			}
			return ""
		}}
		scope := export.Scope{Year: 2026}
		log, err := pages.Log(tx, demo.Now(), scope, o)
		require.NoError(t, err)
		same(t, "log.txt", told(t, log))
		letter := o
		letter.Size = "Letter"
		log, err = pages.Log(tx, demo.Now(), scope, letter)
		require.NoError(t, err)
		same(t, "log-letter.txt", told(t, log))
		picture, err := pages.PicturePage(tx, demo.Now(), "2026-002", pages.PictureOptions{LogOptions: o, Why: []string{"The print was asked to be lighter."}})
		require.NoError(t, err)
		same(t, "picture.txt", told(t, picture))
		labels, n, err := pages.Labels(tx, demo.Now(), scope, pages.LabelOptions{Created: demo.Now(), Uncompressed: true,
			LabelSheet: pages.LabelSheet{Rows: 8, Cols: 3, Top: 12, Left: 7}})
		require.NoError(t, err)
		require.Equal(t, 33, n)
		same(t, "labels.txt", told(t, labels))
		return nil
	}))
}
