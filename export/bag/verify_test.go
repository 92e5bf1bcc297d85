package bag

import (
	"archive/zip"
	"bytes"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Verify opens a bag and checks it.
func Verify(path string) (Report, error) {
	b, err := Open(path)
	if err != nil {
		return Report{}, err
	}
	defer b.Close()
	return b.Verify(), nil
}

// OK reports whether nothing is wrong.
func (r Report) OK() bool { return len(r.Problems) == 0 }

// lay puts files down as a bag without any check, damage included.
func lay(t testing.TB, form string, files map[string][]byte) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "year-2026")
	if form == "zip" {
		var b bytes.Buffer
		z := zip.NewWriter(&b)
		for _, name := range sortedKeys(files) {
			w, err := z.Create("year-2026/" + name)
			require.NoError(t, err)
			_, err = w.Write(files[name])
			require.NoError(t, err)
		}
		require.NoError(t, z.Close())
		require.NoError(t, os.WriteFile(path+".zip", b.Bytes(), 0o600))
		return path + ".zip"
	}
	for _, name := range sortedKeys(files) {
		full := filepath.Join(path, filepath.FromSlash(name))
		require.NoError(t, os.MkdirAll(filepath.Dir(full), 0o700))
		require.NoError(t, os.WriteFile(full, files[name], 0o600))
	}
	return path
}

// reseal makes the tag manifests right again, as a careful forger would, so
// that a test sees the one damage it is about.
func reseal(files map[string][]byte) {
	var listed []item
	for _, name := range sortedKeys(files) {
		if !strings.HasPrefix(name, "data/") && !isTagManifest(name) {
			listed = append(listed, item{name: name, digests: digestOf(files[name])})
		}
	}
	for i, a := range algorithms {
		files[a.tagManifest()] = manifest(listed, i)
	}
}

func edit(name, old, new string) func(map[string][]byte) {
	return func(f map[string][]byte) {
		if !bytes.Contains(f[name], []byte(old)) {
			panic(name + " has no " + old)
		}
		f[name] = bytes.Replace(f[name], []byte(old), []byte(new), 1)
		reseal(f)
	}
}

func add(name, text string) func(map[string][]byte) {
	return func(f map[string][]byte) { f[name] = append(f[name], text...); reseal(f) }
}

func drop(names ...string) func(map[string][]byte) {
	return func(f map[string][]byte) {
		for _, n := range names {
			delete(f, n)
		}
		reseal(f)
	}
}

// line returns a line of a manifest of the sample.
func manifestLine(t testing.TB, manifest, name string) string {
	for _, l := range strings.SplitAfter(string(contents(t, write(t, "folder", sample()))[manifest]), "\n") {
		if strings.HasSuffix(l, "  "+name+"\n") {
			return l
		}
	}
	t.Fatalf("%s lists no %s", manifest, name)
	return ""
}

const (
	m256 = "manifest-sha256.txt"
	m512 = "manifest-sha512.txt"
)

func TestDamage(t *testing.T) {
	events := manifestLine(t, m256, "data/events.ndjson")
	digest, _, _ := strings.Cut(events, " ")
	for name, c := range map[string]struct {
		damage func(map[string][]byte)
		want   []string // beginnings of the problems, sorted
	}{
		"missing payload": {drop("data/events.ndjson"), []string{
			"wrong-oxum: bag-info.txt: Payload-Oxum says 25020.4 (bytes.files), there are 25017.3",
			"missing: data/events.ndjson: it is listed but not there"}},
		"extra payload": {add("data/letter", "x"), []string{
			"wrong-oxum: bag-info.txt", "extra: data/letter: no manifest lists it"}},
		"changed, same length": {edit("data/csv/sheets.csv", "014", "015"), []string{
			"changed: data/csv/sheets.csv: its content is not what manifest-sha256.txt says",
			"changed: data/csv/sheets.csv: its content is not what manifest-sha512.txt says"}},
		"renamed": {func(f map[string][]byte) {
			f["data/log.ndjson"] = f["data/events.ndjson"]
			drop("data/events.ndjson")(f)
		}, []string{
			"missing: data/events.ndjson: it is listed but not there; data/log.ndjson has its content",
			"extra: data/log.ndjson"}},
		"two swapped": {func(f map[string][]byte) {
			f["data/events.ndjson"], f["data/csv/sheets.csv"] = f["data/csv/sheets.csv"], f["data/events.ndjson"]
		}, []string{
			"changed: data/csv/sheets.csv", "changed: data/csv/sheets.csv", "changed: data/events.ndjson", "changed: data/events.ndjson"}},
		"doubled line": {add(m256, events), []string{
			"doubled: manifest-sha256.txt: line 5: data/events.ndjson is listed twice, with the same digest"}},
		"doubled line, two digests": {add(m256, strings.Repeat("0", 64)+"  data/events.ndjson\n"), []string{
			"doubled: manifest-sha256.txt: line 5: data/events.ndjson is listed twice, with two digests"}},
		"case twins": {func(f map[string][]byte) {
			f["data/Empty"] = nil
			edit("bag-info.txt", "25020.4", "25020.5")(f)
		}, []string{
			"extra: data/Empty", "case-twins: data/empty: some systems take it for data/Empty"}},
		"twins by Unicode form": {func(f map[string][]byte) {
			f["data/a\u030a"], f["data/\u00e5"] = nil, nil
			edit("bag-info.txt", "25020.4", "25020.6")(f)
		}, []string{"extra: data/a\u030a", "case-twins: data/å", "extra: data/å"}},
		"up and out":      {add(m256, digest+"  data/../../evil\n"), []string{"unsafe-path: manifest-sha256.txt: line 5: data/../../evil: the path leads out of the bag by '..'"}},
		"absolute":        {add(m256, digest+"  /etc/evil\n"), []string{"unsafe-path: manifest-sha256.txt: line 5: /etc/evil: the path begins at the root"}},
		"home":            {add(m256, digest+"  ~/evil\n"), []string{"unsafe-path: manifest-sha256.txt: line 5: ~/evil"}},
		"drive":           {add(m256, digest+"  C:evil\n"), []string{"unsafe-path: manifest-sha256.txt: line 5: C:evil"}},
		"backslash":       {add(m256, digest+"  data\\evil\n"), []string{"unsafe-path: manifest-sha256.txt: line 5"}},
		"dot":             {add(m256, digest+"  ./data/empty\n"), []string{"unsafe-path: manifest-sha256.txt: line 5"}},
		"zero byte":       {add(m256, digest+"  data/a\x00\n"), []string{"unsafe-path: manifest-sha256.txt: line 5: \"data/a\\x00\""}},
		"long path":       {add(m256, digest+"  data/"+strings.Repeat("a", MaxPath)+"\n"), []string{"unsafe-path: manifest-sha256.txt: line 5"}},
		"outside data":    {add(m256, digest+"  readme\n"), []string{"unsafe-path: manifest-sha256.txt: line 5: readme lies outside data/"}},
		"short digest":    {edit(m256, digest, digest[1:]), []string{"not-in-every-manifest: data/events.ndjson: it is not listed in manifest-sha256.txt", "bad-line: manifest-sha256.txt: line 3: the digest of data/events.ndjson cannot be one"}},
		"no digest":       {edit(m256, digest, strings.Repeat("g", 64)), []string{"not-in-every-manifest: data/events.ndjson", "bad-line: manifest-sha256.txt: line 3"}},
		"wrong digest":    {edit(m256, digest, strings.Repeat("0", 64)), []string{"changed: data/events.ndjson: its content is not what manifest-sha256.txt says"}},
		"no blank":        {add(m256, digest+"\n"), []string{"bad-line: manifest-sha256.txt: line 5: a line is a digest, blanks and a path"}},
		"empty line":      {add(m256, "\n"), []string{"bad-line: manifest-sha256.txt: line 5: the line is empty"}},
		"not UTF-8":       {add(m256, digest+"  data/\xff\n"), []string{"bad-line: manifest-sha256.txt: line 5: the line is not UTF-8"}},
		"byte-order mark": {func(f map[string][]byte) { f[m256] = append([]byte("\ufeff"), f[m256]...); reseal(f) }, []string{"not-in-every-manifest: data/csv/sheets.csv", "bad-line: manifest-sha256.txt: line 1"}},
		"endless line":    {add(m256, strings.Repeat("a", 5*MaxPath)), []string{"unreadable: manifest-sha256.txt: line 5 is too long"}},
		"not in every":    {edit(m256, events, ""), []string{"not-in-every-manifest: data/events.ndjson: it is not listed in manifest-sha256.txt"}},
		"percent code":    {add(m256, digest+"  data/100%41\n"), []string{"percent-code: manifest-sha256.txt: line 5: in data/100%41 a '%' stands for nothing"}},
		"lone percent":    {add(m256, digest+"  data/100%\n"), []string{"percent-code: manifest-sha256.txt: line 5"}},
		"wrong count":     {edit("bag-info.txt", "25020.4", "25020.5"), []string{"wrong-oxum: bag-info.txt: Payload-Oxum says 25020.5"}},
		"no count":        {edit("bag-info.txt", "Payload-Oxum: 25020.4\n", ""), []string{"wrong-oxum: bag-info.txt: Payload-Oxum is not given"}},
		"bad info": {func(f map[string][]byte) {
			f["bag-info.txt"] = append([]byte("  lost\nno colon\n"), f["bag-info.txt"]...)
			reseal(f)
		}, []string{"bad-line: bag-info.txt: line 1 continues nothing", "bad-line: bag-info.txt: line 2"}},
		"endless info":   {add("bag-info.txt", "A: "+strings.Repeat("a", 5*MaxPath)), []string{"unreadable: bag-info.txt: line 7 is too long"}},
		"other version":  {edit("bagit.txt", "1.0", "0.97"), []string{"bad-declaration: bagit.txt"}},
		"other charset":  {edit("bagit.txt", "UTF-8", "Latin-1"), []string{"bad-declaration: bagit.txt"}},
		"more declared":  {add("bagit.txt", "More: 1\n"), []string{"bad-declaration: bagit.txt"}},
		"no declaration": {drop("bagit.txt"), []string{"missing: bagit.txt"}},
		"no info":        {drop("bag-info.txt"), []string{"missing: bag-info.txt"}},
		"no sha512":      {drop(m512), []string{"missing: manifest-sha512.txt"}},
		"no manifest":    {drop(m256, m512), []string{"extra: data/csv/sheets.csv", "extra: data/empty", "extra: data/events.ndjson", "extra: data/scans/ab/abcd.jpg", "missing: manifest-sha256.txt", "missing: manifest-sha512.txt"}},
		"tag changed": {func(f map[string][]byte) {
			f["bag-info.txt"] = bytes.Replace(f["bag-info.txt"], []byte("ferry"), []byte("dairy"), 1)
		}, []string{"changed: bag-info.txt: its content is not what tagmanifest-sha256.txt says", "changed: bag-info.txt"}},
		"tag missing":     {func(f map[string][]byte) { delete(f, m512) }, []string{"missing: manifest-sha512.txt: every bag", "missing: manifest-sha512.txt: it is listed"}},
		"extra tag":       {func(f map[string][]byte) { f["notes.txt"] = nil }, []string{"extra: notes.txt"}},
		"no tag manifest": {func(f map[string][]byte) { delete(f, "tagmanifest-sha512.txt") }, []string{"missing: tagmanifest-sha512.txt"}},
		"tag lists data": {func(f map[string][]byte) {
			f["tagmanifest-sha256.txt"] = append(f["tagmanifest-sha256.txt"], events...)
		}, []string{"bad-line: tagmanifest-sha256.txt: line 5: data/events.ndjson has no place"}},
		"fetch": {add("fetch.txt", ""), []string{"layout: fetch.txt"}},
	} {
		for _, form := range forms {
			t.Run(name+" "+form, func(t *testing.T) {
				files := contents(t, write(t, "folder", sample()))
				c.damage(files)
				r, err := Verify(lay(t, form, files))
				require.NoError(t, err)
				require.False(t, r.OK())
				var got []string
				for _, p := range r.Problems {
					got = append(got, p.String())
				}
				require.GreaterOrEqual(t, len(got), len(c.want), "%q", got)
				for i, want := range c.want {
					assert.True(t, strings.HasPrefix(got[i], want), "%q\n  should begin with %q", got[i], want)
				}
				if name != "byte-order mark" && !strings.HasPrefix(name, "endless") {
					assert.Len(t, got, len(c.want), "%q", got)
				}
			})
		}
	}
}

// What RFC 8493 allows and this program does not write is no damage.
func TestForeignButWhole(t *testing.T) {
	for name, damage := range map[string]func(map[string][]byte){
		"upper case digests, star, CR LF": func(f map[string][]byte) {
			var b strings.Builder
			for _, l := range strings.Split(strings.TrimSpace(string(f[m256])), "\n") {
				d, n, _ := strings.Cut(l, "  ")
				b.WriteString(strings.ToUpper(d) + " \t *" + n + "\r\n")
			}
			f[m256] = []byte(strings.TrimSuffix(b.String(), "\r\n"))
			f["bagit.txt"] = []byte(strings.ReplaceAll(declaration, "\n", "\r\n"))
		},
		"lone CR": func(f map[string][]byte) { f[m256] = bytes.ReplaceAll(f[m256], []byte("\n"), []byte("\r")) },
	} {
		for _, form := range forms {
			t.Run(name+" "+form, func(t *testing.T) {
				files := contents(t, write(t, "folder", sample()))
				damage(files)
				reseal(files)
				r, err := Verify(lay(t, form, files))
				require.NoError(t, err)
				assert.True(t, r.OK(), "%v", r.Problems)
			})
		}
	}
	t.Run("percent code and a third digest", func(t *testing.T) {
		files := contents(t, write(t, "folder", sample()))
		files["data/100%"] = nil
		files[m256] = append(files[m256], sum256(nil)+"  data/100%25\n"...)
		files[m512] = append(files[m512], sum512(nil)+"  data/100%25\n"...)
		var third strings.Builder
		for n := range files {
			if strings.HasPrefix(n, "data/") {
				third.WriteString("abcd  " + strings.ReplaceAll(n, "%", "%25") + "\n")
			}
		}
		files["manifest-other.txt"] = []byte(third.String())
		edit("bag-info.txt", "25020.4", "25020.5")(files)
		r, err := Verify(lay(t, "folder", files))
		require.NoError(t, err)
		assert.True(t, r.OK(), "%v", r.Problems)
		require.Len(t, r.Notes, 4)
		assert.Equal(t, PercentCode, r.Notes[len(r.Notes)-1].Kind)
		assert.Equal(t, "manifest-other.txt", r.Notes[0].Name)
	})
}

func TestNoPayloadFolder(t *testing.T) {
	path := write(t, "folder", Contents{})
	require.NoError(t, os.Remove(filepath.Join(path, "data")))
	r, err := Verify(path)
	require.NoError(t, err)
	require.Len(t, r.Problems, 1)
	assert.Equal(t, "missing: data/: the folder of the payload is not there", r.Problems[0].String())
}

func TestNothingToVerify(t *testing.T) {
	_, err := Verify(filepath.Join(t.TempDir(), "none"))
	require.ErrorIs(t, err, fs.ErrNotExist)
	assert.NotContains(t, err.Error(), "\n")
	_, err = Verify(os.DevNull)
	require.ErrorContains(t, err, "neither a folder nor a file")
}

func TestReportsAreTheSameOnEveryRunAndBounded(t *testing.T) {
	files := contents(t, write(t, "folder", sample()))
	files[m256] = append(files[m256], bytes.Repeat([]byte("x\n"), MaxProblems+5)...)
	reseal(files)
	path := lay(t, "zip", files)
	first, err := Verify(path)
	require.NoError(t, err)
	assert.Len(t, first.Problems, MaxProblems)
	second, err := Verify(path)
	require.NoError(t, err)
	assert.Equal(t, first, second)
}

func TestNamesCannotMoveTheCursor(t *testing.T) {
	p := Problem{Extra, "data/\x1b[2Jx", "no manifest lists it"}
	assert.Equal(t, `extra: "data/\x1b[2Jx": no manifest lists it`, p.String())
}
