package events_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/cmd/traybook/line"
	"traybook/events"
	"traybook/events/eventstest"
)

// The two documents that tell the kinds to a reader who has no traybook. Every archive has a copy of each.
const (
	kindsPage   = "../docs/kinds.md"
	kindsSchema = "../docs/kinds.schema.json"
)

// fieldTypes say of each type of a field what stands there, for people and as JSON Schema.
var fieldTypes = map[string]struct {
	says   string
	schema map[string]any
}{
	"name":      {"a thing, of which this may be the first entry", nil},
	"ref":       {"a thing that is there", nil},
	"sheet":     {"a sheet: `2026-014n` the negative of picture 2026-014, `2026-014p1` its first print", formed("sheet")},
	"sitter":    {"a reference to a sitter, `sitter-7`; who that is stands in `tables/sitters.csv`", formed("sitter")},
	"entry":     {"the `id` of an entry", formed("entry")},
	"any":       {"a name, a sheet or the `id` of an entry", words(events.MaxText)},
	"text":      {"words, of at most 4000 characters", words(events.MaxText)},
	"word":      {"a word, of at most 80 characters", words(80)},
	"date":      {"`2027`, `2027-03` or `2027-03-31`", formed("date")},
	"zone":      {"a time zone by its IANA name, `Europe/Oslo`", words(events.MaxText)},
	"currency":  {"a currency by its three letters (ISO 4217), `NOK`", formed("currency")},
	"dilution":  {"parts of concentrate and water, `1+9`; or `stock`", formed("dilution")},
	"hex32":     {"32 hex digits", formed("hex32")},
	"hex64":     {"64 hex digits", formed("hex64")},
	"one":       {"one of these words", nil},
	"many":      {"a list of these words", nil},
	"symptoms":  {"a list of these words, each once", nil},
	"num":       {"a number", number},
	"count":     {"a whole number", map[string]any{"type": "integer"}},
	"stops":     {"stops: a doubling of the light each, + is more", number},
	"share":     {"a share: 0.3 is 30 %", number},
	"minutes":   {"minutes", number},
	"latitude":  {"degrees, north is +", number},
	"longitude": {"degrees, east is +", number},
	"fnumber":   {"a relative aperture as it is engraved, 5.6", map[string]any{"type": "number", "minimum": 0.5, "maximum": 1024}},
	"nums":      {"a list of numbers", nil},
	"flag":      {"true or false", map[string]any{"type": "boolean"}},
	"density": {"an object of `min`, `mid`, `max`: densities over no light lost, each from 0 to 5", map[string]any{"type": "object", "minProperties": 1, "additionalProperties": false,
		"properties": map[string]any{"min": density("the least"), "mid": density("of the tone that was read"), "max": density("the greatest")}}},
	"set": {"an object: fields of the entry that is put right, `at` included, with their new values; null takes a field away", map[string]any{"type": "object", "minProperties": 1}},
}

var (
	number = map[string]any{"type": "number"}
	units  = map[string]string{"s": "seconds", "mm": "millimetres", "ml": "millilitres", "c": "degrees Celsius", "m2": "square metres", "days": "days", "h": "hours", "px": "pixels", "mm_s": "millimetres a second"}
)

func density(which string) map[string]any {
	return map[string]any{"type": "number", "minimum": 0, "maximum": 5, "description": which}
}

func words(most int) map[string]any {
	return map[string]any{"type": "string", "minLength": 1, "maxLength": most}
}

func formed(form string) map[string]any {
	return map[string]any{"type": "string", "pattern": events.Forms[form]}
}

// saysOf tells for people what a field holds, in its unit and within its bounds.
func saysOf(f events.Field) string {
	says := fieldTypes[f.Type].says
	switch f.Type {
	case "name":
		says = article(f.Of) + ", of which this may be the first entry"
	case "ref":
		says = article(f.Of)
	case "one", "many", "symptoms":
		says += ": `" + strings.Join(f.Choices, "` `") + "`"
	}
	if u := units[f.Unit()]; u != "" {
		says = map[string]string{"nums": "a list of "}[f.Type] + u
	}
	if f.Name == "cd_m2" {
		says = "candelas a square metre"
	}
	limits, bounds := f.Limits(), []string{}
	for _, op := range []string{">", ">=", "<="} {
		if v, ok := limits[op]; ok {
			bounds = append(bounds, fmt.Sprintf("%s %s", map[string]string{">": ">", ">=": "≥", "<=": "≤"}[op], strings.TrimSpace(string(must(json.Marshal(v))))))
		}
	}
	if len(bounds) > 0 {
		says += ", " + strings.Join(bounds, " and ")
	}
	return says
}

func article(of string) string {
	if strings.ContainsAny(of[:1], "aeio") {
		return "an " + of
	}
	return "a " + of
}

// schemaOf tells the same to a program.
func schemaOf(f events.Field) map[string]any {
	out := map[string]any{}
	for k, v := range fieldTypes[f.Type].schema {
		out[k] = v
	}
	bounded := out
	switch f.Type {
	case "name", "ref":
		out = formed(map[bool]string{true: "picture", false: "name"}[f.Of == "picture"])
	case "one":
		out = map[string]any{"enum": f.Choices}
	case "many", "symptoms":
		out = map[string]any{"type": "array", "items": map[string]any{"enum": f.Choices}, "uniqueItems": f.Type == "symptoms"}
	case "nums":
		bounded = map[string]any{"type": "number"}
		out = map[string]any{"type": "array", "items": bounded, "maxItems": events.MaxList}
	}
	for op, v := range f.Limits() {
		bounded[map[string]string{">": "exclusiveMinimum", ">=": "minimum", "<=": "maximum"}[op]] = v
	}
	out["description"] = line.FieldWords[f.Name]
	if u := units[f.Unit()]; u != "" {
		out["$comment"] = "unit: " + u
	}
	return out
}

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// kindComments are the comments of the types of the kinds, with names of fields as they stand in the data.
func kindComments(t *testing.T) map[events.Kind]string {
	comments := map[string]string{}
	files, err := filepath.Glob("data_*.go")
	require.NoError(t, err)
	jsonName := regexp.MustCompile("(\\w+)\\s+\\S+\\s+`json:\"(\\w+)")
	for _, file := range files {
		parsed, err := parser.ParseFile(token.NewFileSet(), file, nil, parser.ParseComments)
		require.NoError(t, err)
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		for _, d := range parsed.Decls {
			g, ok := d.(*ast.GenDecl)
			if !ok || g.Tok != token.TYPE || g.Doc == nil {
				continue
			}
			says := strings.Join(strings.Fields(g.Doc.Text()), " ")
			for _, m := range jsonName.FindAllStringSubmatch(string(text[g.Pos()-1:g.End()-1]), -1) {
				says = regexp.MustCompile(`\b`+m[1]+`\b`).ReplaceAllString(says, "`"+m[2]+"`")
			}
			comments[g.Specs[0].(*ast.TypeSpec).Name.Name] = says
		}
	}
	goName := regexp.MustCompile(` \(\w+\.\w+\)`)
	out := map[events.Kind]string{}
	for _, k := range events.Kinds {
		says, ok := strings.CutPrefix(comments[events.GoType(k)], events.GoType(k)+" ")
		require.True(t, ok, "the comment of %s begins with its name", events.GoType(k))
		out[k] = "It " + goName.ReplaceAllString(says, "")
	}
	return out
}

const kindsHead = `# The kinds of entry

Each line of ` + "`events.ndjson`" + ` is one act or fact. Its ` + "`kind`" + ` says which, and its ` + "`data`" + ` holds the fields listed here; the other keys of a
line are told in ` + "`format.md`" + `. A field that is not marked "always" is left out where nothing is known. ` + "`kinds.schema.json`" + ` says the same to a
program, as JSON Schema (draft 2020-12). This page is made from the program's own list of kinds.

Units stand in the names: ` + "`_s`" + ` seconds, ` + "`_mm`" + ` millimetres, ` + "`_ml`" + ` millilitres, ` + "`_c`" + ` degrees Celsius, ` + "`_m2`" + ` square metres, ` + "`_h`" + ` hours,
` + "`_days`" + ` days, ` + "`_px`" + ` pixels, ` + "`_mm_s`" + ` millimetres a second. What is counted in stops or as a share says so. A name of a thing is of
small letters, digits and ` + "`. _ -`" + `; ` + "`dev-1@2`" + ` is the second dev-1 of a joined book. An entry that an older program kept may break a rule
that came later; it is as it was written.
`

func kindsAsMarkdown(comments map[events.Kind]string) string {
	var b strings.Builder
	b.WriteString(kindsHead)
	for _, k := range events.Kinds {
		fmt.Fprintf(&b, "\n## %s\n\n%s\n", k, comments[k])
		if streams := events.StreamsOf(k); len(streams) > 0 {
			fmt.Fprintf(&b, "\nIt belongs to the history of what `%s` names.\n", strings.Join(streams, "`, else `"))
		}
		b.WriteString("\n| field | | what it says | as |\n| --- | --- | --- | --- |\n")
		for _, f := range events.Fields(k) {
			always := ""
			if f.Required {
				always = "always"
			}
			fmt.Fprintf(&b, "| `%s` | %s | %s | %s |\n", f.Name, always, line.FieldWords[f.Name], saysOf(f))
		}
	}
	return strings.ReplaceAll(b.String(), "history of what `book` names", "history of the book itself")
}

func kindsAsSchema(t *testing.T, comments map[events.Kind]string) string {
	defs, choose := map[string]any{}, []any{}
	for _, k := range events.Kinds {
		fields, always := map[string]any{}, []string{}
		for _, f := range events.Fields(k) {
			fields[f.Name] = schemaOf(f)
			if f.Required {
				always = append(always, f.Name)
			}
		}
		defs[string(k)] = map[string]any{"type": "object", "description": comments[k], "properties": fields, "required": always, "additionalProperties": false}
		choose = append(choose, map[string]any{
			"if":   map[string]any{"properties": map[string]any{"kind": map[string]any{"const": k}}},
			"then": map[string]any{"properties": map[string]any{"data": map[string]any{"$ref": "#/$defs/" + string(k)}}}})
	}
	moment := func(says string) map[string]any {
		return map[string]any{"type": "string", "pattern": events.Forms["time"], "description": says}
	}
	told := func(says string, as map[string]any) map[string]any {
		as = maps.Clone(as)
		as["description"] = says
		return as
	}
	var b bytes.Buffer
	out := json.NewEncoder(&b)
	out.SetEscapeHTML(false)
	out.SetIndent("", " ")
	require.NoError(t, out.Encode(map[string]any{
		"$schema": "https://json-schema.org/draft/2020-12/schema", "title": "An entry of a traybook", "description": "One line of events.ndjson. format.md tells how the lines are chained, kinds.md the same in words.",
		"type": "object", "additionalProperties": false, "required": []string{"kind", "at", "data", "id", "book", "book_seq", "recorded_at", "v", "prev", "hash"},
		"properties": map[string]any{
			"kind":        map[string]any{"enum": events.Kinds, "description": "what sort of act"},
			"at":          moment("when the act began, at the place"),
			"zone":        told("IANA name of the place's zone, where known", words(events.MaxText)),
			"data":        map[string]any{"type": "object", "description": "the fields of the kind"},
			"id":          told("id of the entry, 32 hex digits", formed("entry")),
			"batch":       told("the same for all entries written by one command or import; left out where there is one", formed("entry")),
			"book":        told("the chain that the entry belongs to, 32 hex digits", formed("entry")),
			"book_seq":    map[string]any{"type": "integer", "minimum": 1, "description": "its place in that chain, from 1, without gaps"},
			"recorded_at": moment("when it was written down; never runs back within a chain"),
			"v":           map[string]any{"const": events.Version, "description": "version of the kind's shape"},
			"prev":        told("hash of the entry before, 64 zeros for the first", formed("hex64")),
			"hash":        told("SHA-256 over the entry and the hash before, as format.md says", formed("hex64"))},
		"allOf": choose, "$defs": defs}))
	return b.String()
}

// The kinds are told to strangers as the program knows them: a new kind, field, bound or word stands in both documents.
func TestTheKindsAreToldToStrangers(t *testing.T) {
	comments := kindComments(t)
	for _, k := range events.Kinds {
		for _, f := range events.Fields(k) {
			assert.Contains(t, fieldTypes, f.Type)
			assert.NotEmpty(t, line.FieldWords[f.Name], f.Name)
		}
	}
	eventstest.Hold(t, kindsPage, kindsAsMarkdown(comments))
	eventstest.Hold(t, kindsSchema, kindsAsSchema(t, comments))
}

// The schema says of each field of an entry and of its data what it is.
func TestEveryFieldOfAnEntryIsToldInWords(t *testing.T) {
	text, err := os.ReadFile(kindsSchema)
	require.NoError(t, err)
	var schema map[string]any
	require.NoError(t, json.Unmarshal(text, &schema))
	told := 0
	var walk func(at string, schema map[string]any)
	walk = func(at string, schema map[string]any) {
		fields, _ := schema["properties"].(map[string]any)
		for name, field := range fields {
			field := field.(map[string]any)
			assert.NotEmpty(t, field["description"], at+" "+name)
			told++
			walk(at+" "+name, field)
		}
	}
	walk("an entry:", schema)
	for kind, data := range schema["$defs"].(map[string]any) {
		walk(kind, data.(map[string]any))
	}
	require.Greater(t, told, len(events.Kinds))
}

// A stranger's validator lets every frozen line pass, and finds what is wrong with one that says something else.
func TestAStrangersValidatorTakesEveryLine(t *testing.T) {
	schema, err := jsonschema.NewCompiler().Compile(kindsSchema)
	require.NoError(t, err)
	valid := func(text string) error {
		v, err := jsonschema.UnmarshalJSON(strings.NewReader(text))
		require.NoError(t, err)
		return schema.Validate(v)
	}
	files, err := filepath.Glob("../testdata/vectors/*.ndjson")
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(files), len(events.Kinds))
	for _, file := range files {
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		whole, _, _ := strings.Cut(string(text), "\n")
		assert.NoError(t, valid(whole), file)
		assert.Error(t, valid(strings.Replace(whole, `"data":{`, `"data":{"eaten":1,`, 1)), file)
	}
	judged, err := os.ReadFile("../testdata/vectors/sheet.judged.v1.ndjson")
	require.NoError(t, err)
	whole, _, _ := strings.Cut(string(judged), "\n")
	for from, to := range map[string]string{
		`"redo"`: `"eaten"`, `"thin"`: `"tasty"`, `2026-014n`: `2026-014x`, `"stops":0.5`: `"stops":"half"`, `"max":1.4`: `"max":14`, `"wet":true`: `"wet":1`,
		`"verdict":"redo",`: ``, `"v":1`: `"v":2`, `"kind":"sheet.judged"`: `"kind":"sheet.washed"`, `"step":3`: `"step":0.5`,
	} {
		changed := strings.Replace(whole, from, to, 1)
		require.NotEqual(t, whole, changed, from)
		assert.Error(t, valid(changed), "%s for %s", to, from)
	}
}
