package bag

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events/atomicfile"
)

func TestRefusedContents(t *testing.T) {
	one := func(names ...string) Contents {
		var c Contents
		for _, n := range names {
			c.Payload = append(c.Payload, Bytes(n, nil))
		}
		return c
	}
	label := func(n, v string) Contents { return Contents{Info: []Label{{n, v}}} }
	for name, c := range map[string]struct {
		contents Contents
		says     string
	}{
		"upper case":     {one("A.txt"), "only a-z"},
		"foreign letter": {one("å.txt"), "only a-z"},
		"blank":          {one("a b"), "only a-z"},
		"percent":        {one("100%"), "only a-z"},
		"up":             {one("../a"), "begins with '.'"},
		"hidden":         {one("a/.b"), "begins with '.'"},
		"option":         {one("-rf"), "begins with '.' or '-'"},
		"last dot":       {one("a."), "ends with '.'"},
		"root":           {one("/a"), "is empty"},
		"folder":         {one("a/"), "is empty"},
		"nothing":        {one(""), "is empty"},
		"backslash":      {one(`a\b`), "only a-z"},
		"device":         {one("csv/aux.csv"), "device"},
		"long":           {one(strings.Repeat("a", 181)), "too long"},
		"twice":          {one("a", "b", "a"), "two files of the bag would be named a"},
		"file as folder": {one("a/b", "a"), "a cannot be both a file and a folder"},
		"own oxum":       {label("payload-oxum", "1.1"), "is counted"},
		"colon":          {label("a:b", "1"), "cannot be a label"},
		"no label":       {label("", "1"), "cannot be a label"},
		"blank label":    {label(" a", "1"), "cannot be a label"},
		"return":         {label("A", "1\r"), "carriage return"},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			_, err := WriteDir(filepath.Join(dir, "bag"), nil, c.contents)
			require.ErrorContains(t, err, c.says)
			_, err = WriteZip(filepath.Join(dir, "bag.zip"), nil, c.contents)
			require.ErrorContains(t, err, c.says)
			entries, err := os.ReadDir(dir)
			require.NoError(t, err)
			assert.Empty(t, entries)
		})
	}
}

func TestFailingPayloadLeavesNothing(t *testing.T) {
	torn := errors.New("scan torn")
	for name, write := range map[string]func(string, atomicfile.May, Contents) (Written, error){"folder": WriteDir, "zip": WriteZip} {
		for what, p := range map[string]struct {
			payload Payload
			says    string
		}{
			"fails":   {Payload{"b", func(w io.Writer) error { _, _ = w.Write([]byte("half")); return torn }}, "b: scan torn"},
			"missing": {File("b", filepath.Join(t.TempDir(), "gone.tif")), "gone.tif: no such file"},
		} {
			t.Run(name+" "+what, func(t *testing.T) {
				dir := t.TempDir()
				_, err := write(filepath.Join(dir, "bag"), nil, Contents{Payload: []Payload{Bytes("a", nil), p.payload}})
				require.ErrorContains(t, err, p.says)
				entries, err := os.ReadDir(dir)
				require.NoError(t, err)
				assert.Empty(t, entries)
			})
		}
	}
}

func TestZipRefusesAPayloadThatChanges(t *testing.T) {
	for name, second := range map[string]string{"grows": "thick", "shrinks": "thi", "other": "thaw"} {
		t.Run(name, func(t *testing.T) {
			calls := 0
			c := Contents{Payload: []Payload{{"a", func(w io.Writer) error {
				calls++
				_, err := io.WriteString(w, []string{"thin", second}[calls-1])
				return err
			}}}}
			path := filepath.Join(t.TempDir(), "bag.zip")
			_, err := WriteZip(path, nil, c)
			require.ErrorIs(t, err, errChanged)
			assert.NoFileExists(t, path)
		})
	}
}
