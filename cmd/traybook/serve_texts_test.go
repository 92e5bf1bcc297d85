package main

import (
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"traybook/events"
)

// everyKind has an act of every kind that bears a text.
const everyKind = `{"kind":"book.opened","at":"2026-06-05T10:00:00+02:00","data":{"zone":"Europe/Oslo"}}
{"kind":"book.salvaged","at":"2026-06-05T10:00:30+02:00","data":{"from":"","head":"0123456789abcdef0123456789abcdef0123456789abcdef0123456789abcdef","missing":3}}
{"kind":"camera.described","at":"2026-06-05T10:01:00+02:00","data":{"camera":"skiff","focal_mm":180,"f_widest":5.6,"f_smallest":32}}
{"kind":"camera.checked","at":"2026-06-05T10:01:30+02:00","data":{"camera":"skiff","what":"light","result":"good"}}
{"kind":"paper.received","at":"2026-06-05T10:02:00+02:00","data":{"box":"box-1","base":"rc","width_mm":102,"height_mm":127,"sheets":100,"index":3,"iso_p":500,"iso_r":110}}
{"kind":"paper.rated","at":"2026-06-05T10:03:00+02:00","data":{"box":"box-1","index":3,"generation":"negative"}}
{"kind":"paper.counted","at":"2026-06-05T10:04:00+02:00","data":{"box":"box-1","sheets":90}}
{"kind":"paper.spoiled","at":"2026-06-05T10:05:00+02:00","data":{"box":"box-1","sheets":1}}
{"kind":"paper.cut","at":"2026-06-05T10:06:00+02:00","data":{"box":"box-1","sheets":2,"into":"box-2","parts":4,"width_mm":51,"height_mm":63}}
{"kind":"holder.loaded","at":"2026-06-05T10:07:00+02:00","data":{"holder":"left","box":"box-1","sheets":1}}
{"kind":"bath.mixed","at":"2026-06-06T09:21:00+02:00","data":{"bath":"dev-1","role":"developer","volume_ml":1000,"time_s":60,"temp_c":20}}
{"kind":"bath.mixed","at":"2026-06-06T09:22:00+02:00","data":{"bath":"fix-1","role":"fixer","volume_ml":1000,"time_s":60,"temp_c":20}}
{"kind":"bath.mixed","at":"2026-06-06T09:23:00+02:00","data":{"bath":"dev-2","role":"developer","volume_ml":1000,"time_s":60,"temp_c":20}}
{"kind":"bath.mixed","at":"2026-06-06T09:23:30+02:00","data":{"bath":"tone-1","role":"toner","volume_ml":1000}}
{"kind":"bath.moved","at":"2026-06-06T09:24:00+02:00","data":{"bath":"dev-1","to":"tray"}}
{"kind":"bath.replenished","at":"2026-06-06T09:25:00+02:00","data":{"bath":"dev-1","volume_ml":100,"with":"fresh"}}
{"kind":"bath.tested","at":"2026-06-06T09:26:00+02:00","data":{"bath":"dev-1","test":"time-of-appearance","value":12.5,"unit":"s"}}
{"kind":"bath.discarded","at":"2026-06-06T09:27:00+02:00","data":{"bath":"dev-2"}}
{"kind":"session.opened","at":"2026-06-06T10:01:00+02:00","data":{"session":"mole-day","camera":"skiff"}}
{"kind":"moment.marked","at":"2026-06-06T10:02:00+02:00","data":{}}
{"kind":"light.metered","at":"2026-06-06T10:03:00+02:00","data":{"on":"scene","mode":"reflected","index":3,"f":8,"time_s":5}}
{"kind":"strip.exposed","at":"2026-06-06T10:03:30+02:00","data":{"strip":"strip-1","box":"box-1","on":"scene","f":8,"times_s":[2,4,8,16]}}
{"kind":"strip.read","at":"2026-06-06T10:03:50+02:00","data":{"strip":"strip-1","best":2}}
{"kind":"sheet.exposed","at":"2026-06-06T10:04:00+02:00","data":{"picture":"2026-001","box":"box-1","f":8,"time_s":5}}
{"kind":"sheet.developed","at":"2026-06-06T10:05:00+02:00","data":{"sheet":"2026-001n","bath":"dev-1","time_s":60,"temp_c":20}}
{"kind":"sheet.rinsed","at":"2026-06-06T10:06:00+02:00","data":{"sheet":"2026-001n","time_s":15}}
{"kind":"sheet.fixed","at":"2026-06-06T10:07:00+02:00","data":{"sheet":"2026-001n","bath":"fix-1","time_s":60}}
{"kind":"sheet.washed","at":"2026-06-06T10:08:00+02:00","data":{"sheet":"2026-001n","changes":5,"volume_ml":1000}}
{"kind":"sheet.dried","at":"2026-06-06T10:09:00+02:00","data":{"sheet":"2026-001n"}}
{"kind":"sheet.reprinted","at":"2026-06-06T10:11:00+02:00","data":{"picture":"2026-001","box":"box-1","f":11,"time_s":20}}
{"kind":"sheet.developed","at":"2026-06-06T10:12:00+02:00","data":{"sheet":"2026-001p1","bath":"dev-1","time_s":60}}
{"kind":"sheet.toned","at":"2026-06-06T10:13:00+02:00","data":{"sheet":"2026-001p1","bath":"tone-1","time_s":60}}
{"kind":"sheet.worked","at":"2026-06-06T10:14:00+02:00","data":{"sheet":"2026-001p1","how":"pencilled"}}
{"kind":"sheet.tested","at":"2026-06-06T10:15:00+02:00","data":{"sheet":"2026-001p1","test":"hypo","result":"trace"}}
{"kind":"sheet.delivered","at":"2026-06-06T10:16:00+02:00","data":{"sheet":"2026-001p1"}}
{"kind":"sheet.judged","at":"2026-06-06T10:17:00+02:00","data":{"sheet":"2026-001p1","verdict":"redo","symptoms":["too-dark"]}}
{"kind":"sitter.consented","at":"2026-06-06T10:18:00+02:00","data":{"sitter":"sitter-1","to":"show"}}
{"kind":"order.taken","at":"2026-06-06T10:18:10+02:00","data":{"order":"order-1","sitter":"sitter-1","prints":1}}
{"kind":"order.paid","at":"2026-06-06T10:18:20+02:00","data":{"order":"order-1","price":400}}
{"kind":"order.closed","at":"2026-06-06T10:18:30+02:00","data":{"order":"order-1","ended":"delivered"}}
{"kind":"order.taken","at":"2026-06-06T10:18:40+02:00","data":{"order":"order-2","sitter":"sitter-1","prints":1}}
{"kind":"sheet.reversed","at":"2026-06-06T10:06:30+02:00","data":{"sheet":"2026-001n","stage":"expose"}}
{"kind":"sheet.stored","at":"2026-06-06T10:18:50+02:00","data":{"sheet":"2026-001n"}}
{"kind":"silver.recovered","at":"2026-06-06T10:18:55+02:00","data":{"grams":12.5}}
{"kind":"note.written","at":"2026-06-06T10:19:00+02:00","data":{"about":"2026-001","text":""}}
{"kind":"note.written","at":"2026-06-06T10:20:00+02:00","data":{"about":"2026-001n","text":"as it was"},"id":"aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa"}
{"kind":"entry.amended","at":"2026-06-06T10:21:00+02:00","data":{"entry":"aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa","set":{"text":"AMENDED"}}}
{"kind":"note.written","at":"2026-06-06T10:22:00+02:00","data":{"about":"2026-001n","text":""},"id":"bbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbb"}
{"kind":"entry.voided","at":"2026-06-06T10:23:00+02:00","data":{"entry":"bbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbb"}}
{"kind":"session.closed","at":"2026-06-06T11:00:00+02:00","data":{"session":"mole-day"}}
{"kind":"session.opened","at":"2026-07-01T08:00:00+02:00","data":{"session":"quay-day","camera":"skiff"}}
{"kind":"sheet.exposed","at":"2026-07-01T08:04:00+02:00","data":{"picture":"2026-002","box":"box-1","f":8,"time_s":5}}
{"kind":"clock.started","at":"2026-07-01T08:59:30+02:00","data":{"act":"expose","f":8,"planned_s":4}}
`

// poisons are texts that a careless page would take for its own marks; MARK is put in for each to be known by.
var poisons = []string{
	`<script>MARK()</script>`, `"><img src=x onerror=MARK()>`, `' onmouseover='MARK()`, `<MARK onload=x>`, `</textarea></title></style><svg onload=MARK()>`,
	`javascript:MARK()`, `{{.MARK}}<style>MARK{}</style>`, `<!--MARK--><a href="javascript:MARK()">`, `&lt;MARK&gt;&#x3c;MARK&#x3e;`, "`MARK` --></option></select><MARK a=\"",
}

var markOf = regexp.MustCompile(`(?i)mark\d+q`)

// poisoned puts a marked text into every field of the lines that takes one, and lists the fields by their marks.
func poisoned(t *testing.T, lines string) (out string, texts map[string]string, of map[string]string) {
	t.Helper()
	texts, of = map[string]string{}, map[string]string{}
	fresh := func(field string) string {
		mark := fmt.Sprintf("mark%dq", len(texts))
		texts[mark] = strings.ReplaceAll(poisons[len(texts)%len(poisons)], "MARK", mark)
		of[mark] = field
		return texts[mark]
	}
	for _, l := range strings.Split(strings.TrimSpace(lines), "\n") {
		var whole map[string]any
		require.NoError(t, json.Unmarshal([]byte(l), &whole), l)
		data := whole["data"].(map[string]any)
		kind := events.Kind(whole["kind"].(string))
		for _, f := range events.Fields(kind) {
			if was, _ := data[f.Name].(string); f.Type == "text" && was == "" {
				data[f.Name] = fresh(string(kind) + "." + f.Name)
			}
		}
		if set, ok := data["set"].(map[string]any); ok {
			set["text"] = fresh(string(kind) + ".set")
		}
		b, err := json.Marshal(whole)
		require.NoError(t, err)
		out += string(b) + "\n"
	}
	return out, texts, of
}

// pageTexts parses a page as a browser does and gives what it shows: texts and the attributes that may bear one. Nothing else of
// the page may be made of a mark.
func pageTexts(t *testing.T, path, page string) string {
	t.Helper()
	doc, err := html.Parse(strings.NewReader(page))
	require.NoError(t, err)
	shows := map[string]bool{"value": true, "alt": true, "aria-label": true, "title": true, "placeholder": true, "data-text": true}
	var out strings.Builder
	var walk func(*html.Node)
	walk = func(n *html.Node) {
		inCode := n.Parent != nil && (n.Parent.Data == "script" || n.Parent.Data == "style")
		switch n.Type {
		case html.TextNode:
			assert.False(t, inCode && strings.TrimSpace(n.Data) != "", "%s: code stands in the page: %s", path, n.Data)
			out.WriteString(n.Data + "\n")
		case html.CommentNode:
			assert.NotRegexp(t, markOf, n.Data, "%s: a remark of the page", path)
		case html.ElementNode:
			assert.NotRegexp(t, markOf, n.Data, "%s: an element", path)
			assert.NotContains(t, []string{"iframe", "object", "embed", "base", "style", "math"}, n.Data, path)
			for _, a := range n.Attr {
				assert.NotRegexp(t, markOf, a.Key, "%s: an attribute of <%s>", path, n.Data)
				assert.False(t, strings.HasPrefix(a.Key, "on") || a.Key == "style" || a.Key == "srcdoc", "%s: <%s %s>", path, n.Data, a.Key)
				switch {
				case shows[a.Key]:
					out.WriteString(a.Val + "\n")
				case a.Key == "href" || a.Key == "src" || a.Key == "action":
					assert.Regexp(t, `^(/[^/]|/$|#)`, a.Val, "%s: <%s %s>", path, n.Data, a.Key)
				default:
					assert.NotRegexp(t, markOf, a.Val, "%s: <%s %s>", path, n.Data, a.Key)
				}
			}
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c)
		}
	}
	walk(doc)
	return out.String()
}

var hrefOf = regexp.MustCompile(`href="(/[^"]*)"`)

// Whatever script stands in a text is shown as that text: every text of every kind is poisoned, every page is loaded and parsed
// as a browser parses it, and every text is seen again, letter for letter.
func TestScriptInATextIsText(t *testing.T) {
	t.Parallel()
	lines, texts, of := poisoned(t, everyKind)
	bearing := map[string]bool{}
	for _, field := range of {
		bearing[field] = true
	}
	for _, k := range events.Kinds {
		for _, f := range events.Fields(k) {
			if f.Type == "text" {
				assert.True(t, bearing[string(k)+"."+f.Name], "%s.%s is poisoned in no line", k, f.Name)
			}
		}
	}
	book := bookOfLines(t, []byte(lines))
	sitter := `<script>mark900q()</script>"><b`
	code, _, errs := obeyed(t, book, "sitter", "add", sitter, "--contact", `<img src=mark901q>`)
	require.Zero(t, code, errs)
	code, _, errs = obeyed(t, book, "amend", "2026-002", "sitter="+sitter)
	require.Zero(t, code, errs)
	texts["mark900q"], of["mark900q"] = sitter, "a sitter's name"
	s := serveBook(t, book)
	code, out, errs := obeyed(t, book, "export", "events", "--out", "-")
	require.Zero(t, code, errs)
	paths := slices.Clone(servedPages)
	for _, m := range regexp.MustCompile(`"id":"([0-9a-f]{32})"`).FindAllStringSubmatch(out, -1) {
		paths = append(paths, "/entry/"+m[1])
	}
	for _, p := range poisons {
		q := url.QueryEscape(strings.ReplaceAll(p, "MARK", "mark999q"))
		for _, path := range []string{"/pictures?text=", "/pictures?subject=", "/pictures?sitter=", "/pictures?session=", "/pictures?box=", "/pictures?verdict=", "/pictures?cause=", "/pictures?from=", "/pictures?before=", "/year?year=", "/evening?later="} {
			paths = append(paths, path+q)
		}
		e := url.PathEscape(strings.ReplaceAll(p, "MARK", "mark999q"))
		paths = append(paths, "/picture/"+e, "/entry/"+e, "/small/"+e, "/in/"+e, "/"+e)
	}
	seen, loaded, shown := map[string]bool{}, 0, map[string]bool{}
	look := func(path, page string) {
		loaded++
		text := pageTexts(t, path, page)
		for mark, whole := range texts {
			if strings.Contains(text, whole) {
				shown[mark] = true
			}
		}
	}
	for len(paths) > 0 {
		path := paths[0]
		paths = paths[1:]
		if seen[path] {
			continue
		}
		seen[path] = true
		r, err := s.browser.Get(s.base + path)
		require.NoError(t, err, path)
		_, page := s.whole(r)
		if !strings.HasPrefix(r.Header.Get("Content-Type"), "text/html") {
			continue
		}
		look(path, page)
		for _, m := range hrefOf.FindAllStringSubmatch(page, -1) {
			if to := html.UnescapeString(m[1]); !strings.Contains(to, "?") { // years and passes go on without end
				paths = append(paths, to)
			}
		}
	}
	// What is typed into a form that is refused comes back as text, too.
	texts["mark999q"], of["mark999q"] = strings.ReplaceAll(poisons[1], "MARK", "mark999q"), "what was typed"
	for path, fields := range map[string][]string{
		"/picture/2026-001/judge":                      {"sheet", "verdict", "symptom", "stops", "text"},
		"/evening/2026-002":                            {"subject", "sitter", "new-sitter", "was-subject", "sheet", "verdict-2026-002n", "later", "all"},
		"/entry/" + strings.Repeat("b", 32) + "/amend": {"field", "is-text", "was-text", "why"},
		"/entry/" + strings.Repeat("b", 32) + "/void":  {"later", "why"},
		"/back":  {"id", "batch", "to"},
		"/theme": {"to", "theme"},
	} {
		for _, p := range poisons {
			for _, name := range fields {
				form := url.Values{"sheet": {"2026-001n"}, "verdict": {"keep"}, "stops": {"lots"}, "new-sitter": {"sitter-77"}, "field": {"text"}, "is-text": {"x"}, "was-text": {"x"}, "id": {"0000"}}
				form.Set(name, strings.ReplaceAll(p, "MARK", "mark999q"))
				status, page := s.post(path, form)
				look(path+" "+name, page)
				if path != "/theme" && (name != "later" || !strings.HasSuffix(path, "/void")) {
					assert.NotEqual(t, http.StatusInternalServerError, status, "%s %s", path, name)
				}
			}
		}
	}
	for _, mark := range slices.Sorted(maps.Keys(texts)) {
		assert.True(t, shown[mark], "%s: %s is shown on no page as it is", of[mark], texts[mark])
	}
	t.Logf("%d texts of %d fields on %d pages and answers", len(texts), len(bearing), loaded)
}
