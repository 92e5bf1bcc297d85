package export_test

import (
	"bytes"
	"crypto/sha256"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook"
	"traybook/events"
	"traybook/events/eventstest"
	"traybook/events/sqlite"
	"traybook/export"
	"traybook/export/sidecar"
	"traybook/projections/acts"
	"traybook/projections/booktest"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// outing is a book with all that a table tells of: an outing with costs, densities, tests, a wash of several, a void and an
// amendment.
func outing(t testing.TB) *sqlite.Book {
	t.Helper()
	b := booktest.FromActs(t, strings.Replace(booktest.Outing, `"sheets":100,"index":3`, `"sheets":100,"index":3,"cost":250,"currency":"NOK","expires":"2027-01"`, 1)+`
paper.received 2026-05-03T09:00:30 "box":"box-3","name":"a find","base":"fb","width_mm":90,"height_mm":120,"sheets":5
sheet.washed 2026-05-03T09:00:40 "sheet":"2026-002n","changes":4,"volume_ml":1000
sheet.fixed 2026-05-03T09:00:50 "sheet":"2026-002n","bath":"fix-1","time_s":60
bath.mixed 2026-05-03T09:01:00 "bath":"dev-2","role":"developer","name":"print developer","volume_ml":500,"dilution":"1+9","time_s":60,"temp_c":22,"cost":12.5,"currency":"NOK","bottle_days":30
bath.replenished 2026-05-03T09:02:00 "bath":"dev-2","volume_ml":100,"with":"fresh"
bath.tested 2026-05-03T09:03:00 "bath":"fix-1","test":"clearing-time","value":40
paper.spoiled 2026-05-03T09:04:00 "box":"box-1","sheets":2
paper.counted 2026-05-03T09:05:00 "box":"box-2","sheets":48
sheet.developed 2026-05-03T09:20:00 "sheet":"2026-004n","bath":"dev-2","time_s":45,"temp_c":19,"by":"inspection"
sheet.rinsed 2026-05-03T09:21:00 "sheet":"2026-004n","time_s":12
sheet.fixed 2026-05-03T09:22:00 "sheet":"2026-004n","bath":"fix-1","time_s":30
sheet.fixed 2026-05-03T09:23:00 "sheet":"2026-004n","bath":"fix-1","time_s":30
sheet.washed 2026-05-03T09:24:00 "sheet":"2026-004n","changes":2,"volume_ml":750,"soak_s":40,"together":2,"temp_c":12
sheet.tested 2026-05-03T09:25:00 "sheet":"2026-004n","test":"hypo","result":"trace"
sheet.judged 2026-05-03T09:26:00 "sheet":"2026-004n","verdict":"redo","symptoms":["flat","too-dark"],"stops":-0.5,"density":{"min":0.1,"mid":0.8,"max":1.7},"text":"the \"mate\" said, so"
sheet.exposed 2026-05-03T09:30:00 "picture":"2026-005","box":"small","f":11,"time_s":3,"part":0.5,"subject_mm":1500,"filter":"yellow","filter_factor":2,"pre_flash":0.4,"planned_f":11,"planned_s":3,"motion":"seated","session":"lighthouse","camera":"quay-box"
sheet.exposed 2026-05-03T09:40:00 "picture":"2027-001","box":"box-2","f":8,"time_s":3,"session":"lighthouse","camera":"quay-box"
session.closed 2026-05-03T10:00:00 "session":"lighthouse"`)
	find := func(kind events.Kind, last bool) (id string) {
		require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
			return tx.Each(func(e events.Entry) error {
				if e.Kind == kind && (last || id == "") {
					id = e.ID.String()
				}
				return nil
			})
		}))
		return id
	}
	booktest.AddActs(t, b, `entry.amended 2026-05-03T11:00:00 "entry":"`+find(events.SheetExposed, true)+`","set":{"time_s":5}
entry.voided 2026-05-03T11:01:00 "entry":"`+find(events.MomentMarked, false)+`"`)
	// An amendment that is taken back, a void that is taken back, and a batch that is.
	booktest.AddActs(t, b, `entry.amended 2026-05-03T11:02:00 "entry":"`+find(events.SheetJudged, false)+`","set":{"text":"slip"}
entry.voided 2026-05-03T11:03:00 "entry":"`+find(events.SheetDried, false)+`"`)
	booktest.AddActs(t, b, `entry.voided 2026-05-03T11:04:00 "entry":"`+find(events.EntryAmended, true)+`"
entry.voided 2026-05-03T11:05:00 "entry":"`+find(events.EntryVoided, true)+`"`)
	var lines []acts.ImportLine
	for l, err := range events.ReadLines(strings.NewReader(`{"kind":"note.written","at":"2026-05-03T11:06:00+02:00","data":{"about":"box-1","text":"of a batch"}}`)) {
		require.NoError(t, err)
		lines = append(lines, acts.ImportLine{Line: l, Number: 1})
	}
	batch := events.ID{9}
	require.NoError(t, b.Write(func(tx *sqlite.Tx) error {
		_, err := acts.ImportPlain(tx, lines, booktest.Recorded, batch, events.ID{2}, nil)
		return err
	}))
	booktest.AddActs(t, b, `entry.voided 2026-05-03T11:07:00 "batch":"`+batch.String()+`"`)
	return b
}

var longHex = regexp.MustCompile(`[0-9a-f]{32}([0-9a-f]{32})?`)

// masked puts numbers in the place of ids and hashes: they follow from what is written, so that each new word would move them.
func masked(text string) string {
	seen := map[string]int{}
	return longHex.ReplaceAllStringFunc(text, func(h string) string {
		if seen[h] == 0 {
			seen[h] = len(seen) + 1
		}
		return fmt.Sprintf("<%d hex, no. %d>", len(h), seen[h])
	})
}

// met are the calls of the exports that met a page that could not be read, in any test: none is written beside one.
var met eventstest.Met

// cellsOf writes a table, and gives its number of rows.
func cellsOf(t *testing.T, tx *sqlite.Tx, asOf time.Time, scope export.Scope, name string, cells *bytes.Buffer) (rows int) {
	t.Helper()
	require.NoError(t, met.Tear(t, tx, func(r *eventstest.Torn) error {
		tables, err := export.NewTables(tornSource{r, tx}, asOf, scope, export.TableOptions{})
		if err != nil {
			return err
		}
		var all bytes.Buffer
		n, err := tables.Write(name, &all)
		if err == nil {
			*cells, rows = all, n
		}
		return err
	}))
	return rows
}

// Every cell of every table is held, of a whole book and of each part of one that can be asked for.
func TestEveryCellStandsAsItStood(t *testing.T) {
	b := outing(t)
	var out strings.Builder
	for _, c := range []struct {
		name  string
		scope export.Scope
		asOf  time.Time
	}{
		{"whole", export.Scope{}, booktest.Recorded}, {"session", export.Scope{Session: "lighthouse"}, booktest.Recorded}, {"picture", export.Scope{Picture: "2026-001"}, booktest.Recorded},
		{"year", export.Scope{Year: 2025}, booktest.Recorded}, {"year of a number", export.Scope{Year: 2027}, booktest.Recorded}, {"as of the first day", export.Scope{Year: 2026}, booktest.Oslo(t, "2026-05-02T10:12:30")},
	} {
		require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
			for _, name := range export.TableNames() {
				var cells bytes.Buffer
				n := cellsOf(t, tx, c.asOf, c.scope, name, &cells)
				fmt.Fprintf(&out, "==== %s, %s: %d\n%s", c.name, name, n, cells.String())
			}
			return nil
		}))
	}
	rare := booktest.FromActs(t, booktest.RareDay)
	for _, c := range []struct {
		name string
		asOf time.Time
	}{{"rare things", booktest.Recorded}, {"rare things as of their noon", booktest.Oslo(t, "2026-05-02T12:00:00")}} {
		require.NoError(t, rare.Read(func(tx *sqlite.Tx) error {
			for _, name := range export.TableNames() {
				var cells bytes.Buffer
				n := cellsOf(t, tx, c.asOf, export.Scope{}, name, &cells)
				fmt.Fprintf(&out, "==== %s, %s: %d\n%s", c.name, name, n, cells.String())
			}
			return nil
		}))
	}
	eventstest.Hold(t, "testdata/tables.txt", masked(out.String())+export.SchemaPage())
}

// source is a book for an archive, its pages a stand-in.
type source struct{ *sqlite.Tx }

func (source) Pages(w io.Writer) error {
	_, err := io.WriteString(w, "%PDF-1.4 traybook\n")
	return err
}

// readBook opens the copy of a book for an archive.
func readBook(path string, f func(export.ArchiveSource, []export.ChainHead) error) error {
	b, err := sqlite.Open(path, sqlite.Options{Folder: snapshot.Folder{}})
	if err != nil {
		return err
	}
	defer b.Close()
	return b.Read(func(tx *sqlite.Tx) error {
		heads, err := tx.Heads()
		if err != nil {
			return err
		}
		return f(source{tx}, []export.ChainHead{{Book: heads[0].Book, Seq: heads[0].BookSeq, Hash: heads[0].Hash}})
	})
}

// attached is a scan of a sheet, and how its original is found.
type attached struct{ sheet, of, state string }

// allWays are scans of an outing: one whole beside the book and one elsewhere, one missing, one in the place of which another
// stands, one attached a second time.
var allWays = []attached{{"2026-001n", "negative", "whole"}, {"2026-001p2", "print", "elsewhere"}, {"2026-002n", "inverted", "missing"}, {"2026-004n", "negative", "altered"}, {"2026-001n", "negative", "whole"}}

func attach(t *testing.T, b *sqlite.Book, scans ...attached) (dir string) {
	t.Helper()
	dir = filepath.Dir(b.Path())
	picture := func(shade uint8) []byte {
		img := image.NewGray(image.Rect(0, 0, 60, 80))
		for i := range img.Pix {
			img.Pix[i] = shade + uint8(i%50)
		}
		var out bytes.Buffer
		require.NoError(t, jpeg.Encode(&out, img, nil))
		return out.Bytes()
	}
	lines := ""
	for i, c := range scans {
		raw := picture(uint8(40*(i%4) + 10))
		sum := sha256.Sum256(raw)
		digest := fmt.Sprintf("%x", sum)
		kept := filepath.Join(dir, "scans", digest[:2], digest+".jpg")
		require.NoError(t, os.MkdirAll(filepath.Dir(kept), 0o755))
		path := ""
		switch c.state {
		case "whole":
			require.NoError(t, os.WriteFile(kept, raw, 0o600))
		case "elsewhere":
			path = filepath.Join(t.TempDir(), "print.jpg")
			require.NoError(t, os.WriteFile(path, raw, 0o600))
		case "altered":
			require.NoError(t, os.WriteFile(kept, append([]byte{0}, raw[1:]...), 0o600))
		}
		if c.state != "altered" {
			require.NoError(t, b.Write(func(tx *sqlite.Tx) error {
				return tx.PutThumbnail(events.Thumbnail{SHA256: events.Hash(sum), JPEG: picture(200), Path: path})
			}))
		}
		lines += fmt.Sprintf("\n"+`sheet.attached 2026-05-04T10:%02d:00 "sheet":%q,"sha256":%q,"media":"image/jpeg","bytes":%d,"of":%q,"width_px":60,"height_px":80`, i, c.sheet, digest, len(raw), c.of)
	}
	booktest.AddActs(t, b, lines)
	return dir
}

func archiveOptions(dir string) export.ArchiveOptions {
	return export.ArchiveOptions{AsOf: booktest.Recorded, Program: "traybook 1", Zones: "2026a", Dir: dir, EvenSo: true}
}

// filesIn are the files below a folder by their names, slashes between.
func filesIn(t testing.TB, dir string) map[string][]byte {
	t.Helper()
	out := map[string][]byte{}
	require.NoError(t, filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		rel, err := filepath.Rel(dir, path)
		if err != nil {
			return err
		}
		out[filepath.ToSlash(rel)], err = os.ReadFile(path)
		return err
	}))
	return out
}

// ownTerms are those of our own namespace.
var ownTerms = regexp.MustCompile(`<(tray:\w+)>`)

// What an archive holds is held file by file: those of words word by word, of the others that they are there.
func TestEveryPartOfAnArchiveStandsAsItStood(t *testing.T) {
	b := outing(t)
	dir := attach(t, b, allWays...)
	var text strings.Builder
	for _, c := range []struct {
		name  string
		scope export.Scope
	}{{"whole", export.Scope{}}, {"one picture", export.Scope{Picture: "2026-001"}}} {
		out := filepath.Join(t.TempDir(), "bag")
		o := archiveOptions(dir)
		o.Scope = c.scope
		steps := []int{}
		o.Progress = func(done, of int) { steps = append(steps, done, of) }
		done, err := export.Archive(out, o, b.Backup, readBook)
		require.NoError(t, err)
		files := filesIn(t, out)
		assert.Empty(t, eventstest.BagFaults(files))
		var missing []string
		for _, s := range done.Missing {
			missing = append(missing, s.Sheet+" "+s.State)
		}
		fmt.Fprintf(&text, "==== %s: %d files, %d entries, %d scans, missing %v\n", c.name, done.Files, done.Entries, done.Scans, missing)
		assert.Equal(t, steps[len(steps)-1], steps[len(steps)-2], "all steps are counted")
		inside, sum := 0, int64(0)
		for name, raw := range files {
			if strings.HasPrefix(name, "data/") {
				inside, sum = inside+1, sum+int64(len(raw))
			}
		}
		assert.Equal(t, inside, done.Files)
		assert.Equal(t, sum, done.Bytes)
		var lines bytes.Buffer
		require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
			n, err := export.Lines(tx, &lines)
			assert.Equal(t, n, done.Entries)
			return err
		}))
		assert.Equal(t, lines.String(), string(files["data/events.ndjson"]))
		for _, name := range slices.Sorted(mapsKeys(files)) {
			fmt.Fprintf(&text, "-- %s\n", name)
			if !strings.HasPrefix(name, "data/events") && !strings.HasSuffix(name, ".md") {
				for _, term := range ownTerms.FindAllStringSubmatch(string(files[name]), -1) {
					assert.Contains(t, traybook.Format, "`"+term[1]+"`", "a term that %s holds is documented", name)
				}
			}
			if strings.HasSuffix(name, ".txt") && !strings.Contains(name, "manifest") || strings.HasSuffix(name, ".xmp") || strings.HasSuffix(name, "scans.csv") || strings.HasSuffix(name, "sitters.csv") || strings.HasSuffix(name, "schema.md") && c.name == "whole" {
				fmt.Fprintf(&text, "%s\n", files[name])
			}
		}
		report, err := export.CheckArchive(out, export.ArchiveCheck{})
		require.NoError(t, err)
		assert.Empty(t, report.Problems)
		assert.Equal(t, c.scope.String(), report.Scope)
		assert.Equal(t, done.Entries, report.Entries)
		for _, n := range report.Notes {
			fmt.Fprintf(&text, "note %s: %s\n", n.Kind, n.Text)
		}
		_, err = export.Archive(out, o, b.Backup, readBook)
		assert.EqualError(t, err, out+" is there already; name another place, or replace it with --force")
		o.Force = true
		_, err = export.Archive(out, o, b.Backup, readBook)
		assert.NoError(t, err)
		assert.Equal(t, files, filesIn(t, out), "the same book gives the same bag")
	}
	sizes := regexp.MustCompile(`(?m)^(Payload-Oxum|Bag-Size): .*$`) // counted above; the format is in it, in its words
	assert.Contains(t, traybook.Format, "`"+sidecar.Namespace+"`")
	eventstest.Hold(t, "testdata/archive.txt", sizes.ReplaceAllString(masked(text.String()), "$1: …"))
	o := archiveOptions(dir)
	o.EvenSo = false
	_, err := export.Archive(filepath.Join(t.TempDir(), "bag"), o, b.Backup, readBook)
	assert.EqualError(t, err, "scans are not as they were attached: 2026-002n (missing), 2026-004n (altered); attach them again from another copy, or archive without them with --even-so")
}

func mapsKeys(m map[string][]byte) func(func(string) bool) {
	return func(yield func(string) bool) {
		for k := range m {
			if !yield(k) {
				return
			}
		}
	}
}

// A scan of a session whose opening was taken back tells no place, and all else.
func TestAScanOfASessionThatWasNotOpenedTellsNoPlace(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour+booktest.Picture(1, 0, "ferry mate"))
	said := func() (sidecars string) {
		out := filepath.Join(t.TempDir(), "bag")
		_, err := export.Archive(out, archiveOptions(filepath.Dir(b.Path())), b.Backup, readBook)
		require.NoError(t, err)
		for name, raw := range filesIn(t, out) {
			if strings.HasSuffix(name, ".xmp") {
				sidecars += string(raw)
			}
		}
		require.Contains(t, sidecars, "ferry mate")
		return sidecars
	}
	attach(t, b, attached{"2026-001n", "negative", "whole"})
	assert.Contains(t, said(), "the mole")
	opening := ""
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		found, err := tx.Entries(events.Query{Kinds: []events.Kind{events.SessionOpened}, Limit: 1})
		opening = found[0].ID.String()
		return err
	}))
	booktest.AddActs(t, b, `entry.voided 2026-05-05T09:00:00 "entry":"`+opening+`"`)
	assert.NotContains(t, said(), "the mole")
}

// A positive from the camera, on direct-positive paper or reversed, is told as one in the table of sheets and beside its scan.
func TestAPositiveFromTheCameraIsToldAsOne(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour+booktest.Picture(1, 0, "ferry mate")+`
paper.received 2026-05-02T10:10:00 "box":"box-2","name":"reversal paper","base":"fb","works":"direct-positive","width_mm":100,"height_mm":125,"sheets":10,"index":1.5
sheet.exposed 2026-05-02T10:11:00 "picture":"2026-002","box":"box-2","f":8,"time_s":8,"session":"mole","camera":"quay-box"
sheet.developed 2026-05-02T10:12:00 "sheet":"2026-002n","bath":"dev-1","time_s":60,"session":"mole"
sheet.exposed 2026-05-02T10:21:00 "picture":"2026-003","box":"box-1","f":8,"time_s":8,"session":"mole","camera":"quay-box"
sheet.developed 2026-05-02T10:22:00 "sheet":"2026-003n","bath":"dev-1","time_s":60,"session":"mole"
sheet.reversed 2026-05-02T10:23:00 "sheet":"2026-003n","stage":"expose"`)
	attach(t, b, attached{"2026-001n", "negative", "whole"}, attached{"2026-002n", "negative", "whole"}, attached{"2026-003n", "negative", "whole"})
	out := filepath.Join(t.TempDir(), "bag")
	_, err := export.Archive(out, archiveOptions(filepath.Dir(b.Path())), b.Backup, readBook)
	require.NoError(t, err)
	files := filesIn(t, out)
	is := []string{snapshot.Negative, snapshot.Positive, snapshot.Positive}
	for i, row := range records(t, string(files["data/tables/sheets.csv"])) {
		assert.Equal(t, is[i], row["generation"], row["sheet"])
		what := map[string]string{snapshot.Negative: "paper negative", snapshot.Positive: "positive made in the camera"}[is[i]]
		described := string(files["data/scans/"+row["sheet"]+".jpg.xmp"])
		assert.Contains(t, described, "Scan of a "+what+", ")
		assert.Contains(t, described, "<rdf:li>"+what+"</rdf:li>")
	}
}

// A deviation that is too small to be told is nought, and not less than nought.
func TestADescriptionTellsNoLessThanNought(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour+`
light.metered 2026-05-02T09:10:00 "on":"scene","mode":"reflected","index":3,"f":8,"time_s":4,"session":"mole"`+
		strings.Replace(booktest.Picture(1, 0, "ferry mate"), `"time_s":4,`, `"time_s":3.9999,`, 1))
	attach(t, b, attached{"2026-001n", "negative", "whole"})
	out := filepath.Join(t.TempDir(), "bag")
	_, err := export.Archive(out, archiveOptions(filepath.Dir(b.Path())), b.Backup, readBook)
	require.NoError(t, err)
	assert.Contains(t, string(filesIn(t, out)["data/scans/2026-001n.jpg.xmp"]), "<tray:deviation_stops>0</tray:deviation_stops>")
}

// A file of the folder of scans that no entry names is a stray; an original left in its place is told as such.
func TestStrayAndReferredScans(t *testing.T) {
	b := outing(t)
	dir := attach(t, b, allWays...)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "scans", "stray.jpg"), []byte("x"), 0o600))
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		strays, err := export.StrayScans(tx, dir)
		require.NoError(t, err)
		assert.Equal(t, []string{"scans/stray.jpg"}, strays)
		strays, err = export.StrayScans(tx, t.TempDir())
		require.NoError(t, err)
		assert.Empty(t, strays)
		all, err := export.Scans(tx, dir)
		require.NoError(t, err)
		var told []string
		for i := range all {
			require.NoError(t, all[i].Look())
			told = append(told, fmt.Sprintf("%s %s %t %t", all[i].Sheet, all[i].State, all[i].ByReference, all[i].Thumb))
		}
		assert.Equal(t, []string{"2026-001n whole false true", "2026-001p2 whole true true", "2026-002n missing false true", "2026-004n altered false false", "2026-001n whole false true"}, told)
		forgotten := all[0]
		forgotten.Path = events.PathForgotten
		require.NoError(t, forgotten.Look())
		assert.Equal(t, export.ScanMissing, forgotten.State)
		return nil
	}))
}

// Damage is named: what in the entries, the table, the scans, the ends of the chains does not fit the rest.
func TestDamageOfAnArchiveIsNamed(t *testing.T) {
	b := outing(t)
	out := filepath.Join(t.TempDir(), "bag")
	_, err := export.Archive(out, archiveOptions(attach(t, b, allWays...)), b.Backup, readBook)
	require.NoError(t, err)
	files := filesIn(t, out)
	lines := strings.SplitAfter(string(files["data/events.ndjson"]), "\n")
	rows := strings.SplitAfter(string(files["data/tables/entries.csv"]), "\n")
	scans := strings.SplitAfter(string(files["data/tables/scans.csv"]), "\n")
	info := string(files["bag-info.txt"])
	join := func(s []string) string { return strings.Join(s, "") }
	without := func(s []string, i int) string { return join(slices.Delete(slices.Clone(s), i, i+1)) }
	n := len(lines) - 1
	head := regexp.MustCompile(`Chain-Head: (.*)\n`).FindStringSubmatch(info)[1]
	var kept string
	for name := range files {
		if strings.HasPrefix(name, "data/scans/") && strings.HasSuffix(name, ".jpg") {
			kept = max(kept, name)
		}
	}
	for _, c := range []struct {
		name, file, text string
		want             []string // of the archive's own kinds
	}{
		{"a line gone", "data/events.ndjson", without(lines, 4), []string{
			"chain: events.ndjson, line 5: the entry before it is not there (number 5 of chain BOOK…)",
			fmt.Sprintf("count: events.ndjson holds %d entries, and bag-info.txt says %d", n-1, n),
			"table: tables/entries.csv, record 5 is of an entry that events.ndjson does not hold",
			"chain: there are 2 chains' ends, and bag-info.txt names 1"}},
		{"the last line gone", "data/events.ndjson", without(lines, n-1), []string{
			fmt.Sprintf("count: events.ndjson holds %d entries, and bag-info.txt says %d", n-1, n),
			"cut-off: no chain ends with " + head + ", as bag-info.txt says: entries are missing at its end, or were added",
			fmt.Sprintf("table: tables/entries.csv, record %d is of an entry that events.ndjson does not hold", n), "scan: tables/scans.csv, record 5 names no scan that was attached"}},
		{"a line twice", "data/events.ndjson", join(slices.Insert(slices.Clone(lines), 3, lines[2])), []string{"doubled-entry: events.ndjson, line 4 holds the same entry as line 3"}},
		{"two lines turned round", "data/events.ndjson", join(append(append(slices.Clone(lines[:3]), lines[4], lines[3]), lines[5:]...)), []string{"order: events.ndjson, line 4: it stands before the entry that it follows, in line 5"}},
		{"a line that is none", "data/events.ndjson", join(append([]string{"{}\n"}, lines...)), []string{`line: events.ndjson, line 1: the key "kind" is missing`}},
		{"a line without a hash", "data/events.ndjson", join(append([]string{`{"kind":"moment.marked","at":"2026-05-02T10:41:00+02:00","data":{}}` + "\n"}, lines...)), []string{"line: events.ndjson, line 1 has no hash"}},
		{"a blank line is none", "data/events.ndjson", "\r\n" + join(lines), nil},
		{"a line too long", "data/events.ndjson", join(lines) + strings.Repeat("x", events.MaxLine+9), []string{fmt.Sprintf("line: events.ndjson, line %d is longer than an entry can be; nothing after it was read", n+1)}},
		{"the count", "bag-info.txt", strings.Replace(info, fmt.Sprintf("Entry-Count: %d", n), "Entry-Count: 7", 1), []string{fmt.Sprintf("count: events.ndjson holds %d entries, and bag-info.txt says 7", n)}},
		{"no head", "bag-info.txt", strings.Replace(info, "Chain-Head: "+head+"\n", "", 1), []string{"cut-off: bag-info.txt names no chain's end, so that a cut-off end would not show"}},
		{"a record gone", "data/tables/entries.csv", without(rows, 3), []string{"table: tables/entries.csv lacks the entry of line 3 of events.ndjson"}},
		{"a record twice", "data/tables/entries.csv", join(slices.Insert(slices.Clone(rows), 3, rows[2])), []string{"table: tables/entries.csv, record 3 stands there twice"}},
		{"a record under another id", "data/tables/entries.csv", strings.Replace(join(rows), rows[3][:32], rows[4][:32], 1), []string{"table: tables/entries.csv, record 3 bears the id of another entry", "table: tables/entries.csv lacks the entry of line 3 of events.ndjson"}},
		{"a table that is none", "data/tables/entries.csv", join(rows) + "\"\n", []string{fmt.Sprintf("table: tables/entries.csv, record %d cannot be read", len(rows)-1)}},
		{"no table", "data/tables/scans.csv", "", []string{"table: tables/scans.csv has no header", "scan: tables/scans.csv lacks the scan of 2026-001n", "scan: tables/scans.csv lacks the scan of 2026-001p2",
			"scan: tables/scans.csv lacks the scan of 2026-002n", "scan: tables/scans.csv lacks the scan of 2026-004n", "scan: tables/scans.csv lacks the scan of 2026-001n"}},
		{"a scan not listed", "data/tables/scans.csv", without(scans, 2), []string{"scan: tables/scans.csv lacks the scan of 2026-001p2"}},
		{"a scan of nothing", "data/tables/scans.csv", join(scans) + scans[1][:len(scans[1])-5] + "0000\n", []string{"scan: tables/scans.csv, record 6 names no scan that was attached"}},
		{"another scan in its place", kept, "not a picture", []string{"SCAN has 13 bytes, and had"}},
		{"a scan gone", kept, "gone", []string{"SCAN is missing"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := filepath.Join(out, filepath.FromSlash(c.file))
			was := files[c.file]
			if c.text == "gone" {
				require.NoError(t, os.Remove(path))
			} else {
				require.NoError(t, os.WriteFile(path, []byte(c.text), 0o600))
			}
			t.Cleanup(func() { require.NoError(t, os.WriteFile(path, was, 0o600)) })
			report, err := export.CheckArchive(out, export.ArchiveCheck{})
			require.NoError(t, err)
			var got []string
			for _, p := range report.Problems {
				if slices.Contains([]string{"line", "chain", "order", "doubled-entry", "cut-off", "count", "table", "scan", "book"}, p.Kind) {
					got = append(got, regexp.MustCompile(`chain [0-9a-f]{8}…`).ReplaceAllString(p.Kind+": "+p.Text, "chain BOOK…"))
				}
			}
			if len(c.want) == 1 && strings.HasPrefix(c.want[0], "SCAN ") {
				require.NotEmpty(t, got)
				for _, g := range got {
					assert.Contains(t, g, strings.TrimPrefix(c.want[0], "SCAN "))
				}
				return
			}
			assert.ElementsMatch(t, c.want, got)
		})
	}
}

// An archive of a part of the book is whole by its own measure: its table of entries holds that part, and of each other part
// it would lack some.
func TestAnArchiveOfAPartIsCheckedByThatPart(t *testing.T) {
	b := outing(t)
	o := archiveOptions(attach(t, b, allWays...))
	scopes := []export.Scope{{}, {Year: 2026}, {Session: "lighthouse"}, {Picture: "2026-001"}}
	for _, scope := range scopes {
		o.Scope = scope
		out := filepath.Join(t.TempDir(), "bag")
		_, err := export.Archive(out, o, b.Backup, readBook)
		require.NoError(t, err)
		report, err := export.CheckArchive(out, export.ArchiveCheck{})
		require.NoError(t, err)
		assert.Empty(t, report.Problems, scope)
		path := filepath.Join(out, "data", "tables", "entries.csv")
		table, err := os.ReadFile(path)
		require.NoError(t, err)
		rows := strings.SplitAfter(string(table), "\n")
		lacks := func(row int) bool {
			require.NoError(t, os.WriteFile(path, []byte(strings.Join(slices.Delete(slices.Clone(rows), row, row+1), "")), 0o600))
			report, err := export.CheckArchive(out, export.ArchiveCheck{})
			require.NoError(t, err)
			return slices.ContainsFunc(report.Problems, func(f export.Finding) bool {
				return f.Kind == "table" && strings.Contains(f.Text, "lacks the entry of line")
			})
		}
		assert.Equal(t, scope.Whole() || scope.Year != 0, lacks(len(rows)-2), scope)
		if mended := slices.IndexFunc(rows, func(row string) bool { return strings.Contains(row, ",amended,") }); mended > 0 {
			assert.False(t, lacks(mended), "%s: what was amended may stand elsewhere by now", scope)
		} else {
			assert.False(t, scope.Whole())
		}
	}
	two := booktest.FromLines(t, booktest.TwoYears)
	o = archiveOptions(filepath.Dir(two.Path()))
	for _, year := range []int{2025, 2026} {
		o.Scope = export.Scope{Year: year}
		out := filepath.Join(t.TempDir(), "bag")
		_, err := export.Archive(out, o, two.Backup, readBook)
		require.NoError(t, err)
		report, err := export.CheckArchive(out, export.ArchiveCheck{})
		require.NoError(t, err)
		assert.Empty(t, report.Problems, year)
	}
}

// What the chain of an archive's entries cannot be is named, though each entry has the hash that it says: a number left out,
// a beginning that is none, an entry recorded before the one that it follows, a second chain that goes on the first. Two
// entries that follow one are no fault: two copies of a book went on.
func TestWhatNoChainIsIsNamed(t *testing.T) {
	b := booktest.FromActs(t, booktest.Harbour)
	out := filepath.Join(t.TempDir(), "bag")
	_, err := export.Archive(out, archiveOptions(filepath.Dir(b.Path())), b.Backup, readBook)
	require.NoError(t, err)
	path := filepath.Join(out, "data", "events.ndjson")
	whole, err := os.ReadFile(path)
	require.NoError(t, err)
	var chain []events.Entry
	for l, err := range events.ReadLines(bytes.NewReader(whole)) {
		require.NoError(t, err)
		chain = append(chain, l.Entry)
	}
	n := len(chain)
	for _, c := range []struct {
		name  string
		alter func(e *events.Entry) // of one more entry behind the last
		prev  events.Hash
		want  string
	}{
		{"as it should be", func(*events.Entry) {}, chain[n-1].Hash, ""},
		{"a number left out", func(e *events.Entry) { e.BookSeq++ }, chain[n-1].Hash, "chain: events.ndjson, line %d: it is number 8 after number 6"},
		{"a beginning that is none", func(*events.Entry) {}, events.Hash{}, "chain: events.ndjson, line %d: it begins a chain, but is number 7 of it"},
		{"recorded before", func(e *events.Entry) { e.RecordedAt = e.RecordedAt.Add(-time.Hour) }, chain[n-1].Hash, "chain: events.ndjson, line %d: it was recorded before the entry that it follows"},
		{"recorded at once", func(e *events.Entry) { e.RecordedAt = chain[n-1].RecordedAt }, chain[n-1].Hash, ""},
		{"another chain in the middle", func(e *events.Entry) { e.Book = events.ID{9} }, chain[n-1].Hash, "chain: events.ndjson, line %d: it goes on another chain in its middle"},
		{"another chain from its beginning", func(e *events.Entry) { e.Book, e.BookSeq = events.ID{9}, 1 }, chain[n-1].Hash, ""},
		{"a fork", func(e *events.Entry) { e.BookSeq-- }, chain[n-2].Hash, fmt.Sprintf("fork: lines %d and %%d both follow line %d: two copies of the book went on", n, n-1)},
	} {
		t.Run(c.name, func(t *testing.T) {
			e := chain[n-1]
			e.ID, e.BookSeq = events.ID{8, 8}, e.BookSeq+1
			c.alter(&e)
			require.NoError(t, e.Seal(c.prev))
			require.NoError(t, os.WriteFile(path, append(append(slices.Clone(whole), e.AppendLine(nil)...), '\n'), 0o600))
			report, err := export.CheckArchive(out, export.ArchiveCheck{})
			require.NoError(t, err)
			var got []string
			for _, p := range append(report.Problems, report.Notes...) {
				if (p.Kind == "chain" || p.Kind == "fork") && !strings.Contains(p.Text, "chains' ends") {
					got = append(got, p.Kind+": "+p.Text)
				}
			}
			if c.want == "" {
				assert.Empty(t, got)
				return
			}
			assert.Equal(t, []string{fmt.Sprintf(c.want, n+1)}, got)
		})
	}
}

// A file of entries that is gone is named.
func TestAnArchiveWithoutItsEntries(t *testing.T) {
	b := outing(t)
	dir := filepath.Dir(b.Path())
	said := func(path string) (out []string) {
		r, err := export.CheckArchive(path, export.ArchiveCheck{})
		require.NoError(t, err)
		for _, p := range r.Problems {
			if strings.HasPrefix(p.Text, "events.ndjson") {
				out = append(out, p.Kind+": "+p.Text)
			}
		}
		return out
	}
	folder := filepath.Join(t.TempDir(), "bag")
	_, err := export.Archive(folder, archiveOptions(dir), b.Backup, readBook)
	require.NoError(t, err)
	require.NoError(t, os.Remove(filepath.Join(folder, "data", "events.ndjson")))
	got := said(folder)
	require.NotEmpty(t, got)
	assert.Equal(t, "missing: events.ndjson cannot be read: the archive has no entries", got[len(got)-1])
}

// The copy of the book is held against the entries, and a head that somebody noted against both.
func TestTheCopyOfTheBookInAnArchive(t *testing.T) {
	b := outing(t)
	out := filepath.Join(t.TempDir(), "bag")
	_, err := export.Archive(out, archiveOptions(filepath.Dir(b.Path())), b.Backup, readBook)
	require.NoError(t, err)
	var hashes []events.Hash
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		return tx.Each(func(e events.Entry) error { hashes = append(hashes, e.Hash); return nil })
	}))
	check := func(found []export.Finding, each []events.Hash, fails error) ([]export.Finding, error) {
		r, err := export.CheckArchive(out, export.ArchiveCheck{Book: func(open func() (io.ReadCloser, error), seen func(events.Hash)) ([]export.Finding, error) {
			in, err := open()
			require.NoError(t, err)
			defer in.Close()
			for _, h := range each {
				seen(h)
			}
			return found, fails
		}})
		return r.Problems, err
	}
	got, err := check(nil, hashes, nil)
	require.NoError(t, err)
	assert.Empty(t, got)
	got, err = check(nil, append([]events.Hash{{1}, {2}}, hashes[1:]...), nil)
	require.NoError(t, err)
	require.Len(t, got, 2)
	assert.Equal(t, []string{"book.db holds 2 entries that events.ndjson does not hold", "book.db lacks the entry of line 1 of events.ndjson"}, []string{got[0].Text, got[1].Text})
	got, err = check([]export.Finding{{Kind: "page", Entry: "ab", Text: "torn"}}, nil, nil)
	require.NoError(t, err)
	assert.Equal(t, []export.Finding{{Kind: "page", Entry: "ab", Text: "book.db: torn"}}, got)
	torn := errors.New("torn")
	_, err = check(nil, nil, torn)
	assert.ErrorIs(t, err, torn)
	for hash, want := range map[events.Hash]int{hashes[0]: 0, {9}: 1} {
		r, err := export.CheckArchive(out, export.ArchiveCheck{Head: &hash})
		require.NoError(t, err)
		assert.Len(t, r.Problems, want)
	}
	_, err = export.CheckArchive(out+"gone", export.ArchiveCheck{})
	assert.ErrorIs(t, err, fs.ErrNotExist)
	_, err = export.Archive(filepath.Join(out, "no", "such", "folder"), archiveOptions(filepath.Dir(b.Path())), b.Backup, readBook)
	assert.ErrorIs(t, err, fs.ErrNotExist)
	_, err = export.CheckArchive(t.TempDir(), export.ArchiveCheck{})
	assert.ErrorIs(t, err, export.ErrNoArchive)
}

// longPages are pages with many objects, which their maker describes last.
func longPages(maker string) string {
	objects := "%PDF-1.7\n" + strings.Repeat("0123456789 obj\n", 1e4) + "<pdf:Producer>" + maker + "</pdf:Producer>\n"
	return objects + "xref\n" + strings.Repeat("0000000017 00000 n \n", 1e4) + fmt.Sprintf("startxref\n%d\n%%%%EOF\n", len(objects))
}

// An output is replaced by its next only: by one of the same sort, of this book, that holds all that the old one did.
func TestWhatMayBeReplaced(t *testing.T) {
	dir := t.TempDir()
	file := func(name, text string) string {
		path := filepath.Join(dir, name)
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
		require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
		return path
	}
	const pages, table = "a log or a sheet of labels that traybook wrote", "a table that traybook wrote"
	not := func(path, what string) string {
		return path + " is not " + what + ", so it is not replaced: move it away, or name another place"
	}
	for name, c := range map[string]struct {
		may  func(string, string) error
		text string
		says string // "" for yes
	}{
		"pages.pdf":     {export.MayReplacePages, "%PDF-1.4\n/Producer (traybook)", ""},
		"empty.pdf":     {export.MayReplacePages, "", ""},
		"one-byte.pdf":  {export.MayReplacePages, "x", pages},
		"book.pdf":      {export.MayReplacePages, longPages("traybook"), ""},
		"long.pdf":      {export.MayReplacePages, longPages("another"), pages},
		"list.pdf":      {export.MayReplacePages, "%PDF-1.4\nstartxref\n999999999999999999\n%%EOF\n", pages},
		"one-byte.csv":  {export.MayReplaceTable, "x", table},
		"foreign.pdf":   {export.MayReplacePages, "%PDF-1.4\n/Producer (another)", pages},
		"letter.pdf":    {export.MayReplacePages, "a letter on traybook", pages},
		"sheets.csv":    {export.MayReplaceTable, "sheet,picture,time_s\r\n2026-001n,2026-001,4\r\n", ""},
		"empty.csv":     {export.MayReplaceTable, "", ""},
		"foreign.csv":   {export.MayReplaceTable, "sheet,price_of_herring\n", table},
		"two-sorts.csv": {export.MayReplaceTable, "sheet,bath,volume_ml\n", table},
	} {
		path := file(name, c.text)
		err := c.may(path, "")
		if c.says == "" {
			assert.NoError(t, err, name)
		} else {
			assert.EqualError(t, err, not(path, c.says), name)
		}
		assert.ErrorIs(t, c.may(path+".gone", ""), fs.ErrNotExist)
	}
	folder := filepath.Join(dir, "tables")
	file("tables/sheets.csv", "sheet,picture\n")
	assert.NoError(t, export.MayReplaceTables(folder, ""))
	file("tables/baths.csv", "herring\n")
	assert.EqualError(t, export.MayReplaceTables(folder, ""), not(filepath.Join(folder, "baths.csv"), table))
	file("tables/baths.csv", "")
	file("tables/datapackage.json", "{\n  \"name\": \"traybook-tables\"\n}")
	assert.NoError(t, export.MayReplaceTables(folder, ""))
	file("tables/datapackage.json", `{"name": "herring"}`)
	assert.EqualError(t, export.MayReplaceTables(folder, ""), not(filepath.Join(folder, "datapackage.json"), "a description of tables that traybook wrote"))
	file("tables/datapackage.json", "")
	file("tables/letter.txt", "")
	assert.EqualError(t, export.MayReplaceTables(folder, ""), folder+" holds letter.txt, which would be lost: move it away, or name another folder")
	assert.ErrorIs(t, export.MayReplaceTables(folder+"gone", ""), fs.ErrNotExist)

	b := outing(t)
	var lines, theirs bytes.Buffer
	require.NoError(t, booktest.FromActs(t, booktest.Harbour, `note.written 2026-05-05T10:00:00 "about":"box-1","text":"of another book"`).Read(func(tx *sqlite.Tx) error {
		_, err := export.Lines(tx, &theirs)
		return err
	}))
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		_, err := export.Lines(tx, &lines)
		require.NoError(t, err)
		may := export.MayReplaceLines(tx)
		whole := file("whole.ndjson", lines.String())
		assert.NoError(t, may(whole, ""))
		assert.NoError(t, may(file("empty.ndjson", ""), ""))
		assert.ErrorIs(t, may(whole+".gone", ""), fs.ErrNotExist)
		stranger := file("stranger.ndjson", theirs.String())
		assert.EqualError(t, may(stranger, ""), fmt.Sprintf("%s holds an entry that this book does not (line 3), so it is not replaced: move it away, or name another place", stranger)) // two lines begin both books alike
		err = may(file("letter.ndjson", "Dear Ane\n"), "")
		assert.ErrorContains(t, err, "is no file of entries (")
		return nil
	}))
}

// An archive is replaced by one of the same book only, and never one with a scan that stands nowhere else.
func TestWhichArchiveMayBeReplaced(t *testing.T) {
	b := outing(t)
	dir := attach(t, b, allWays...)
	o := archiveOptions(dir)
	o.Force = true
	again := func(out string) error { _, err := export.Archive(out, o, b.Backup, readBook); return err }
	out := filepath.Join(t.TempDir(), "bag")
	require.NoError(t, again(out))
	other := outing(t)
	foreign := filepath.Join(t.TempDir(), "bag")
	booktest.AddActs(t, other, `note.written 2026-05-05T10:00:00 "about":"box-1","text":"of another book"`)
	theirs := archiveOptions(filepath.Dir(other.Path()))
	_, err := export.Archive(foreign, theirs, other.Backup, readBook)
	require.NoError(t, err)
	assert.ErrorContains(t, again(foreign), "holds an entry that this book does not (line ")
	theirs.Program, theirs.Force = "another 1", true
	_, err = export.Archive(foreign, theirs, other.Backup, readBook)
	require.NoError(t, err)
	assert.EqualError(t, again(foreign), foreign+" is not an archive that traybook wrote, so it is not replaced: move it away, or name another place")
	empty := filepath.Join(t.TempDir(), "empty")
	require.NoError(t, os.WriteFile(empty, nil, 0o600))
	o.Zip = true
	assert.NoError(t, again(empty))
	o.Zip = false
	// The scan of a voided act stands in the old bag and beside the book; when the latter goes, the bag is the last copy.
	require.NoError(t, os.RemoveAll(filepath.Join(dir, "scans")))
	o.EvenSo = true
	err = again(out)
	assert.EqualError(t, err, out+" holds data/scans/2026-001n.jpg, a scan that stands nowhere else: move the archive away, or name another place")
}

// What a scope takes in goes out as lines that another book can take in: entries as they were written before their
// amendments, without those taken back; with a picture the readings that it followed.
func TestExtracts(t *testing.T) {
	b := outing(t)
	var out strings.Builder
	for _, c := range []struct {
		name  string
		scope export.Scope
		asOf  time.Time
	}{{"picture", export.Scope{Picture: "2026-005"}, time.Time{}}, {"another picture", export.Scope{Picture: "2026-001"}, time.Time{}}, {"session", export.Scope{Session: "lighthouse"}, time.Time{}},
		{"year", export.Scope{Year: 2026}, time.Time{}}, {"year before", export.Scope{Year: 2025}, time.Time{}}, {"whole, as of then", export.Scope{}, booktest.Oslo(t, "2026-05-02T09:15:00")}} {
		require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
			var lines bytes.Buffer
			n, err := export.Extract(tx, c.scope, c.asOf, &lines)
			require.NoError(t, err)
			fmt.Fprintf(&out, "==== %s: %d\n", c.name, n)
			for _, l := range strings.SplitAfter(lines.String(), "\n") {
				if c.name != "year" || strings.Contains(l, "entry.") || strings.Contains(l, "moment.marked") {
					out.WriteString(l)
				}
			}
			return nil
		}))
	}
	eventstest.Hold(t, "testdata/extracts.txt", masked(out.String()))
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		for _, c := range []struct {
			scope export.Scope
			says  string
		}{
			{export.Scope{Picture: "2026-077"}, "there is no picture \"2026-077\"; `traybook pictures` lists the pictures"}, {export.Scope{Session: "box-1"}, "there is no session \"box-1\"; `traybook sessions` lists the sessions, `traybook session open` begins one"},
			{export.Scope{Session: "2026-001"}, "there is no session \"2026-001\"; `traybook sessions` lists the sessions, `traybook session open` begins one"},
		} {
			_, err := export.Extract(tx, c.scope, time.Time{}, io.Discard)
			assert.EqualError(t, err, c.says)
			assert.True(t, wording.Refused(err))
		}
		_, err := export.Extract(tx, export.Scope{Session: "mole", Year: 2026}, time.Time{}, io.Discard)
		assert.Error(t, err)
		return nil
	}))
}
