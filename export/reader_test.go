package export_test

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook"
	"traybook/events"
	"traybook/events/eventstest"
	"traybook/events/sqlite"
	"traybook/export"
	"traybook/projections/acts"
	"traybook/projections/booktest"
)

// strangersReader starts the reader of a bag as somebody without traybook would.
func strangersReader(t *testing.T) func(bag string, words ...string) (said string, ok bool) {
	t.Helper()
	python, err := exec.LookPath("python3")
	if err != nil {
		require.NoError(t, eventstest.PassedOver(t.Name(), "there is no python3 here"))
		return nil
	}
	return func(bag string, words ...string) (string, bool) {
		said, err := eventstest.Command(t, python, append([]string{filepath.Join(bag, "data", "reader.py")}, words...)...).CombinedOutput()
		return string(said), err == nil
	}
}

// outingBag is the bag of an outing's book.
func outingBag(t *testing.T) (b *sqlite.Book, out string) {
	t.Helper()
	b = outing(t)
	out = filepath.Join(t.TempDir(), "bag")
	_, err := export.Archive(out, archiveOptions(filepath.Dir(b.Path())), b.Backup, readBook)
	require.NoError(t, err)
	return b, out
}

// The reader that lies in a bag tells each picture's entries as the program counts them, with voids, voids of voids, a voided
// batch and amendments.
func TestTheReaderInABagTellsWhatCounts(t *testing.T) {
	read := strangersReader(t)
	if read == nil {
		return
	}
	require.Less(t, strings.Count(traybook.Reader, "\n"), 100, "whoever reads it reads all of it")
	b, out := outingBag(t)
	var all []events.Entry
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		return tx.Each(func(e events.Entry) error { all = append(all, e); return nil })
	}))
	pictures := []string{"2026-001", "2026-002", "2026-004", "2027-001"}
	said, ok := read(out, pictures...)
	require.True(t, ok, said)
	lines := strings.Split(strings.TrimSpace(said), "\n")
	require.Equal(t, fmt.Sprintf("%d entries, each as it was written and in its place", len(all)), lines[0])
	var want []string
	for _, picture := range pictures {
		readings := map[string]bool{}
		log := events.Fold(all)
		about := func(e events.Entry) bool {
			for _, name := range []string{"picture", "sheet", "about"} {
				if f, ok := events.FieldOf(e.Kind, name); ok {
					if v, there := f.Value(e.Data); there {
						return strings.HasPrefix(v.(string), picture)
					}
				}
			}
			return false
		}
		own := 0
		for _, e := range log {
			if about(e) {
				own++
				readings[events.ReadingOf(e.Data)] = true
			}
		}
		want = append(want, fmt.Sprintf("%s: %d entries", picture, own))
		for _, e := range log {
			if about(e) || readings[e.ID.String()] {
				put := map[bool]string{true: "  (put right later)"}[len(e.Amended) > 0]
				want = append(want, events.FormatTime(e.At)+"  "+string(e.Kind)+put)
			}
		}
	}
	var is []string
	for _, l := range lines[2:] {
		if parts := strings.SplitN(l, "  ", 3); len(parts) == 3 {
			put := map[bool]string{true: "  (put right later)"}[strings.HasSuffix(l, "(put right later)")]
			l = parts[0] + "  " + parts[1] + put
		}
		is = append(is, l)
	}
	require.Equal(t, want, is)
	require.Contains(t, said, "time_s 5", "what an amendment set")
	require.True(t, slices.ContainsFunc(is, func(l string) bool { return strings.HasSuffix(l, "later)") }))
}

// The reader finds every change and loss of a line, and says which.
func TestTheReaderInABagFindsDamage(t *testing.T) {
	read := strangersReader(t)
	if read == nil {
		return
	}
	_, out := outingBag(t)
	file := filepath.Join(out, "data", "events.ndjson")
	whole, err := os.ReadFile(file)
	require.NoError(t, err)
	lines := bytes.SplitAfter(bytes.TrimSuffix(whole, []byte("\n")), []byte("\n"))
	lines[len(lines)-1] = append(lines[len(lines)-1], '\n')
	last := len(lines)
	for _, c := range []struct {
		name, says string
		change     func([][]byte) [][]byte
	}{
		{"a changed byte", "line 7 was changed", func(l [][]byte) [][]byte {
			l[6] = bytes.Replace(l[6], []byte(`"at":"2026`), []byte(`"at":"2025`), 1)
			return l
		}},
		{"a removed line", "line 9: the entry before it does not stand above it", func(l [][]byte) [][]byte { return slices.Delete(l, 8, 9) }},
		{"the first removed", "line 1: the entry before it does not stand above it", func(l [][]byte) [][]byte { return l[1:] }},
		{"the last removed", "lines are missing at its end", func(l [][]byte) [][]byte { return l[:last-1] }},
		{"two lines swapped", "line 11: the entry before it does not stand above it", func(l [][]byte) [][]byte { l[10], l[11] = l[11], l[10]; return l }},
		{"one twice", "line 5 stands there twice", func(l [][]byte) [][]byte { return slices.Insert(l, 4, l[3]) }},
		{"a line cut off", fmt.Sprintf("line %d does not end", last), func(l [][]byte) [][]byte { l[last-1] = l[last-1][:40]; return l }},
	} {
		clone := make([][]byte, last)
		for i := range lines {
			clone[i] = slices.Clone(lines[i])
		}
		changed := bytes.Join(c.change(clone), nil)
		require.NotEqual(t, whole, changed, c.name)
		require.NoError(t, os.WriteFile(file, changed, 0o600))
		said, ok := read(out)
		assert.False(t, ok, c.name)
		assert.Contains(t, said, c.says, c.name)
	}
	require.NoError(t, os.WriteFile(file, whole, 0o600))
	said, ok := read(out)
	require.True(t, ok, said)
}

// The reader is content with a Python that takes no time but of three or six digits behind the second, as those before 3.11 do:
// what a book stamps has as few as it needs.
func TestTheReaderInABagReadsTimesAsOlderPythonsDo(t *testing.T) {
	python, err := exec.LookPath("python3")
	if err != nil {
		require.NoError(t, eventstest.PassedOver(t.Name(), "there is no python3 here"))
		return
	}
	b := booktest.FromActs(t, booktest.Harbour+booktest.Picture(1, 0, "ferry mate"))
	for i, note := range []string{"240ms", "5us", "123456789ns"} {
		after, err := time.ParseDuration(note)
		require.NoError(t, err)
		var lines []acts.ImportLine
		for l, err := range events.ReadLines(strings.NewReader(`{"kind":"note.written","at":"2026-05-03T11:06:00Z","data":{"about":"2026-001","text":"` + note + `"}}`)) {
			require.NoError(t, err)
			lines = append(lines, acts.ImportLine{Line: l, Number: 1})
		}
		require.NoError(t, b.Write(func(tx *sqlite.Tx) error {
			_, err := acts.ImportPlain(tx, lines, booktest.Recorded.Add(time.Duration(i)*time.Second+after), events.ID{9}, events.ID{byte(i + 3)}, nil)
			return err
		}))
	}
	out := filepath.Join(t.TempDir(), "bag")
	_, err = export.Archive(out, archiveOptions(filepath.Dir(b.Path())), b.Backup, readBook)
	require.NoError(t, err)
	said, err := eventstest.Command(t, python, "-c", olderPython, filepath.Join(out, "data", "reader.py"), "2026-001").CombinedOutput()
	require.NoError(t, err, string(said))
	require.Contains(t, string(said), "2026-001: 7 entries\n")
}

const olderPython = `import datetime, re, runpy, sys
class Older(datetime.datetime):
    @classmethod
    def fromisoformat(cls, text):
        if not re.fullmatch(r"[^.Z]+([.]([0-9]{3}|[0-9]{6}))?[+-][0-9]{2}:[0-9]{2}", text):
            raise ValueError(text)
        return super().fromisoformat(text)
datetime.datetime = Older
sys.argv = sys.argv[1:]
runpy.run_path(sys.argv[0], run_name="__main__")
`

// The reader names each lost and each changed file in one line, of the payload and of those beside it, and so one that it needs
// itself.
func TestTheReaderInABagNamesLostAndChangedFiles(t *testing.T) {
	read := strangersReader(t)
	if read == nil {
		return
	}
	_, out := outingBag(t)
	for _, name := range []string{"data/tables/baths.csv", "data/log.pdf", "bagit.txt", "manifest-sha256.txt", "data/events.ndjson", "bag-info.txt", "manifest-sha512.txt", "tagmanifest-sha512.txt"} {
		path := filepath.Join(out, filepath.FromSlash(name))
		was, err := os.ReadFile(path)
		require.NoError(t, err)
		require.NoError(t, os.Remove(path))
		said, ok := read(out)
		assert.False(t, ok, name)
		assert.Regexp(t, "^[^\n]*"+name+" (is not there|cannot be read: [^\n]*)\n$", filepath.ToSlash(said))
		require.NoError(t, os.WriteFile(path, append(was, "no line of it\n"...), 0o600))
		said, ok = read(out)
		assert.False(t, ok, name)
		assert.NotContains(t, said, "Traceback")
		if name != "tagmanifest-sha512.txt" { // which lists the others
			assert.Contains(t, said, name+" was changed\n")
		}
		require.NoError(t, os.WriteFile(path, was, 0o600))
	}
	said, ok := read(out)
	require.True(t, ok, said)
}

// Where two joined books gave one number, the reader says so, and tells of each entry whose it is.
func TestTheReaderInABagPartsJoinedBooks(t *testing.T) {
	read := strangersReader(t)
	if read == nil {
		return
	}
	ours, theirs := booktest.FromActs(t, booktest.Harbour+booktest.Picture(1, 0, "ferry mate")), booktest.FromActs(t, booktest.Harbour+booktest.Picture(1, 1, "coal steps"))
	_, err := ours.Merge(theirs, nil)
	require.NoError(t, err)
	out := filepath.Join(t.TempDir(), "bag")
	_, err = export.Archive(out, archiveOptions(filepath.Dir(ours.Path())), ours.Backup, readBook)
	require.NoError(t, err)
	chains := map[string]string{}
	for _, name := range []string{"2026-001", "2026-001@2"} {
		said, ok := read(out, name)
		require.True(t, ok, said)
		require.Contains(t, said, "2026-001: 8 entries in 2 chains: joined books may both have this number\n")
		for l := range strings.Lines(said) {
			for _, subject := range []string{"ferry mate", "coal steps"} {
				if chain := inChain.FindStringSubmatch(l); strings.Contains(l, subject) {
					require.NotNil(t, chain, l)
					chains[subject] = chain[1]
				}
			}
		}
	}
	require.Len(t, chains, 2)
	require.NotEqual(t, chains["ferry mate"], chains["coal steps"])
}

var inChain = regexp.MustCompile(`\(chain ([0-9a-f]{8})\)\n$`)

// Every line of a bag is what the schema in the same bag says.
func TestTheLinesOfABagAreOfItsSchema(t *testing.T) {
	b := outing(t)
	out := filepath.Join(t.TempDir(), "bag")
	_, err := export.Archive(out, archiveOptions(attach(t, b, allWays...)), b.Backup, readBook)
	require.NoError(t, err)
	schema, err := jsonschema.NewCompiler().Compile(filepath.Join(out, "data", "kinds.schema.json"))
	require.NoError(t, err)
	lines, err := os.ReadFile(filepath.Join(out, "data", "events.ndjson"))
	require.NoError(t, err)
	for line := range bytes.Lines(lines) {
		v, err := jsonschema.UnmarshalJSON(bytes.NewReader(line))
		require.NoError(t, err)
		require.NoError(t, schema.Validate(v), "%s", line)
	}
}

// A bag calls its scans after their sheets, and the copy of the book beside them finds them there.
func TestTheScansOfABagAreCalledAfterTheirSheets(t *testing.T) {
	b := outing(t)
	dir := attach(t, b, attached{"2026-001n", "negative", "whole"}, attached{"2026-001n", "negative", "whole"}, attached{"2026-001n", "inverted", "whole"}, attached{"2026-001p2", "print", "whole"})
	out := filepath.Join(t.TempDir(), "bag")
	_, err := export.Archive(out, archiveOptions(dir), b.Backup, readBook)
	require.NoError(t, err)
	var names []string
	for name := range filesIn(t, filepath.Join(out, "data")) {
		if strings.HasSuffix(name, ".jpg") {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	require.Equal(t, []string{"scans/2026-001n-2.jpg", "scans/2026-001n-inverted.jpg", "scans/2026-001n.jpg", "scans/2026-001p2.jpg",
		"thumbnails/2026-001n-2.jpg", "thumbnails/2026-001n-inverted.jpg", "thumbnails/2026-001n.jpg", "thumbnails/2026-001p2.jpg"}, names)
	bag := filepath.Join(out, "data")
	looked := func() (states []string, strays []string) {
		require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
			scans, err := export.Scans(tx, bag)
			require.NoError(t, err)
			for i := range scans {
				require.NoError(t, scans[i].Look())
				assert.False(t, scans[i].ByReference)
				states = append(states, filepath.Base(scans[i].Path)+" "+scans[i].State)
			}
			strays, err = export.StrayScans(tx, bag)
			return err
		}))
		return states, strays
	}
	states, strays := looked()
	require.Equal(t, []string{"2026-001n.jpg whole", "2026-001n-2.jpg whole", "2026-001n-inverted.jpg whole", "2026-001p2.jpg whole"}, states)
	require.Empty(t, strays)
	require.NoError(t, os.WriteFile(filepath.Join(bag, "scans", "2026-001p2.jpg"), []byte("another"), 0o600))
	require.NoError(t, os.WriteFile(filepath.Join(bag, "scans", "2026-009n.jpg"), []byte("a stranger"), 0o600))
	states, strays = looked()
	require.Equal(t, "2026-001p2.jpg altered", states[3], "the table is believed by the digest alone")
	require.Equal(t, []string{"scans/2026-009n.jpg"}, strays)
	table := filepath.Join(bag, "tables", "scans.csv")
	for _, text := range []string{"", "sheet,of\n", "file,sha256\n\"torn", "file,sha256\n../../x," + strings.Repeat("0", 64) + "\n"} {
		require.NoError(t, os.WriteFile(table, []byte(text), 0o600))
		states, _ = looked()
		require.Contains(t, states[0], " missing", "%q", text)
	}
}
