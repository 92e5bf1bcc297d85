package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/urfave/cli/v2"
	"golang.org/x/net/html"
)

var tileOf = regexp.MustCompile(`<li><a href="/picture/(\d{4}-\d{3})">`)

func tilesOn(page string) []string {
	var out []string
	for _, m := range tileOf.FindAllStringSubmatch(page, -1) {
		out = append(out, m[1])
	}
	return out
}

// The pages of the wall show every picture once, the newest first, and none is heavy, however long its texts are and though
// the tones of each picture are drawn.
func TestTheWallIsPaged(t *testing.T) {
	t.Parallel()
	book := shortBook(t)
	var lines bytes.Buffer
	const n = 130
	long := strings.Repeat(`<&"'`, 900)
	for i := 2; i <= n; i++ {
		at := fmt.Sprintf(`"at":"2026-06-%02dT%02d:%02d`, 7+i%20, 10+i/60, i%60)
		fmt.Fprintf(&lines, `{"kind":"light.metered",%s:00+02:00","data":{"on":"scene","mode":"reflected","index":3,"f":8,"time_s":5}}`+"\n", at)
		fmt.Fprintf(&lines, `{"kind":"sheet.exposed",%s:10+02:00","data":{"picture":"2026-%03d","box":"box-1","f":8,"time_s":5,"subject":%q}}`+"\n", at, i, long)
		fmt.Fprintf(&lines, `{"kind":"sheet.developed",%s:20+02:00","data":{"sheet":"2026-%03dn","bath":"dev-1","time_s":60}}`+"\n", at, i)
	}
	code, _, errs := obeyed(t, book, "import", putFile(t, "wall.ndjson", lines.Bytes()))
	require.Zero(t, code, errs)
	s := serveBook(t, book)
	var shown []string
	drawn, pages := 0, 0
	for path := "/pictures"; path != ""; pages++ {
		require.Less(t, pages, 10)
		status, page := s.get(path)
		require.Equal(t, http.StatusOK, status)
		assert.Less(t, len(page), 80<<10, "%s is heavy", path)
		shown = append(shown, tilesOn(page)...)
		drawn += strings.Count(page, `aria-label="predicted tones of `)
		for _, img := range regexp.MustCompile(`<img [^>]*>`).FindAllString(page, -1) {
			assert.Regexp(t, ` alt="scan of 2026-\d{3}(n|p1)"`, img)
			assert.Contains(t, img, ` loading="lazy"`)
		}
		assert.Equal(t, path != "/pictures", strings.Contains(page, ">Newest</a>"), path)
		path = ""
		if m := regexp.MustCompile(`href="([^"]+)">Older</a>`).FindStringSubmatch(page); m != nil {
			path = html.UnescapeString(m[1])
		}
	}
	require.Len(t, shown, n)
	for i, name := range shown {
		require.Equal(t, fmt.Sprintf("2026-%03d", n-i), name)
	}
	assert.Greater(t, drawn, 100, "tones are drawn")
	for _, path := range []string{"/", "/evening", "/evening?all=1", "/picture/2026-007"} {
		_, page := s.get(path)
		assert.Less(t, len(page), 80<<10, "%s is heavy", path)
	}
}

// The wall finds by everything by which the command finds, and the same.
func TestTheWallFindsWhatPicturesFinds(t *testing.T) {
	t.Parallel()
	book := eveningBook(t)
	for _, l := range [][]string{{"sitter", "add", "Asta Holm"}, {"amend", "2026-003", "sitter=Asta Holm"}, {"judge", "redo", "thin", "--sheet", "2026-002n"}, {"note", "2026-003", "the gull came back"}} {
		code, _, errs := obeyed(t, book, l...)
		require.Zero(t, code, errs)
	}
	s := serveBook(t, book)
	env, _, _ := testEnv(nil)
	_, wall := s.get("/pictures")
	for _, f := range picturesCommand(&env).Flags {
		name := f.Names()[0]
		if name == "all" || name == "as-of" { // how much, and from when
			continue
		}
		_, takes := f.(*cli.StringFlag)
		assert.True(t, takes && strings.Contains(wall, `name="`+name+`"`), "the wall does not find by --%s", name)
	}
	found := 0
	for _, by := range [][2]string{{"session", "mole-day"}, {"session", "none"}, {"box", "box-1"}, {"bath", "fix-1"}, {"sitter", "Asta Holm"}, {"sitter", "sitter-1"}, {"subject", "gull"}, {"verdict", "redo"},
		{"verdict", "keep"}, {"symptom", "thin"}, {"cause", "under-exposed"}, {"cause", "stop-skipped"}, {"from", "2026-07-01"}, {"to", "2026-06-30"}, {"text", "gull"}, {"text", "gull back"}, {"text", "thin"}, {"text", "keep"}, {"text", "nowhere"}} {
		args := []string{"pictures", "--json", "--" + by[0], by[1]}
		if by[0] == "text" { // words alone
			args = append([]string{"pictures", "--json"}, strings.Fields(by[1])...)
		}
		code, out, errs := obeyed(t, book, args...)
		status, page := s.get("/pictures?" + url.Values{by[0]: {by[1]}}.Encode())
		if code != codeDone {
			assert.GreaterOrEqual(t, status, 200, "%v: %s", by, errs)
			assert.Empty(t, tilesOn(page), "%v: %s", by, errs)
			continue
		}
		var want []string
		for _, m := range regexp.MustCompile(`"picture":"([^"]+)"`).FindAllStringSubmatch(out, -1) {
			want = append(want, m[1])
		}
		assert.Equal(t, want, tilesOn(page), "%v", by)
		found += len(want)
		var told struct {
			LookedFor []string `json:"looked_for"`
		}
		require.NoError(t, json.Unmarshal([]byte(out), &told))
		if len(told.LookedFor) > 0 {
			assert.Contains(t, plainly(page), "Looked for "+strings.Join(told.LookedFor, ", "), "%v", by)
		}
	}
	assert.Greater(t, found, 20)
}

// Originals and small pictures are sent as they are, in parts where parts are asked for, and nothing else is.
func TestScansAreSentAndNothingElse(t *testing.T) {
	t.Parallel()
	book := shortBook(t)
	s := serveBook(t, book)
	scans := scansOf(t, book)
	require.Len(t, scans, 2)
	original, err := os.ReadFile(scans[0])
	require.NoError(t, err)
	digest := strings.TrimSuffix(filepath.Base(scans[0]), ".jpg")
	get := func(path string, head ...string) *http.Response {
		t.Helper()
		req, err := http.NewRequest(http.MethodGet, s.base+path, nil)
		require.NoError(t, err)
		for i := 0; i < len(head); i += 2 {
			req.Header.Set(head[i], head[i+1])
		}
		r, err := s.browser.Do(req)
		require.NoError(t, err)
		t.Cleanup(func() { r.Body.Close() })
		return r
	}
	for _, kind := range []string{"/scan/", "/small/"} {
		r := get(kind + digest)
		require.Equal(t, http.StatusOK, r.StatusCode)
		_, whole := s.whole(r)
		assert.Equal(t, "image/jpeg", r.Header.Get("Content-Type"))
		assert.Equal(t, "nosniff", r.Header.Get("X-Content-Type-Options"))
		if kind == "/scan/" {
			assert.Equal(t, string(original), whole)
		} else {
			assert.Less(t, len(whole), 60<<10)
		}
		for ask, want := range map[string]string{"bytes=0-9": whole[:10], "bytes=5-": whole[5:], "bytes=-7": whole[len(whole)-7:]} {
			r := get(kind+digest, "Range", ask)
			_, part := s.whole(r)
			assert.Equal(t, http.StatusPartialContent, r.StatusCode, ask)
			assert.Equal(t, want, part, ask)
		}
		for _, ask := range []string{"bytes=99999999-", "bytes=9-3", "lines=1-2"} {
			r := get(kind+digest, "Range", ask)
			_, part := s.whole(r)
			assert.True(t, r.StatusCode == http.StatusRequestedRangeNotSatisfiable || r.StatusCode == http.StatusOK && part == whole, ask)
		}
		for _, wrong := range []string{strings.Repeat("0", 64), digest[:63], digest + "0", strings.ToUpper(digest), digest + ".jpg", "..%2f" + digest, digest[:2] + "%2f" + digest} {
			assert.Equal(t, http.StatusNotFound, get(kind+wrong).StatusCode, kind+wrong)
		}
	}
	// A file that is gone, a link that leads out, and what is no plain file are not sent.
	secret := putFile(t, "secret.jpg", []byte("what lies elsewhere"))
	require.NoError(t, os.Rename(scans[0], scans[0]+".away"))
	status, page := s.get("/scan/" + digest)
	assert.Equal(t, http.StatusNotFound, status)
	assert.Contains(t, plainly(page), "there is no such scan that a browser can show")
	require.NoError(t, os.Symlink(secret, scans[0]))
	status, page = s.get("/scan/" + digest)
	assert.Equal(t, http.StatusNotFound, status, "a link in the place of a scan")
	assert.NotContains(t, page, "elsewhere")
	require.NoError(t, os.Remove(scans[0]))
	require.NoError(t, os.Mkdir(scans[0], 0o700))
	status, _ = s.get("/scan/" + digest)
	assert.Equal(t, http.StatusNotFound, status, "a folder in the place of a scan")
	require.NoError(t, os.Remove(scans[0]))
	require.NoError(t, os.Rename(scans[0]+".away", scans[0]))
}
