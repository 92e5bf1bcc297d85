package main

import (
	"bytes"
	"cmp"
	"encoding"
	"encoding/json"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/cmd/traybook/line"
	"traybook/events"
	"traybook/events/eventstest"
	"traybook/export/sheetcsv"
	"traybook/projections/report"
	"traybook/projections/why"
	"traybook/projections/wording"
)

// answers are the types that each command answers with, by its words. A command that writes an act and is not named here
// answers as acts do.
var answers = map[string][]any{
	"today": {todayJSON{}}, "pictures": {report.PicturesReport{}}, "history": {report.History{}, []report.History{}}, "stock": {report.StockReport{}},
	"baths": {report.BathsReport{}}, "sessions": {report.SessionsReport{}}, "orders": {report.OrdersReport{}},
	"why": {why.Diagnosis{}, []why.Diagnosis{}, symptomsJSON{}}, "calibrate": {report.Calibration{}}, "year": {report.YearReport{}},
	"plan": {report.Plan{}}, "plan day": {report.DayPlan{}}, "captions": {report.CaptionsReport{}, answerJSON{}, amendedJSON{}},
	"figure exposure": {exposureJSON{}}, "figure light": {lightJSON{}}, "figure focus": {focusJSON{}, railsJSON{}}, "figure tones": {tonesJSON{}}, "figure paper": {paperJSON{}},
	"figure strip": {stripJSON{}}, "figure develop": {developJSON{}}, "figure fix": {fixJSON{}}, "figure dilute": {diluteJSON{}}, "figure wash": {washJSON{}}, "figure wall": {pagesJSON{}},
	"export csv": {tablesJSON{}}, "export pdf": {pagesJSON{}}, "export book": {pagesJSON{}}, "export labels": {pagesJSON{}}, "export cards": {pagesJSON{}}, "export wall": {pagesJSON{}},
	"export events": {linesJSON{}}, "export archive": {archivedJSON{}},
	"import": {imported{}}, "merge": {mergedJSON{}}, "verify": {verifiedJSON{}}, "rebuild": {rebuiltJSON{}}, "backup": {backupJSON{}}, "salvage": {salvagedJSON{}},
	"attach": {attachedJSON{}}, "erase": {erasedJSON{}, finishedJSON{}}, "amend": {amendedJSON{}},
	"sitter add": {sitterJSON{}}, "sitter list": {sittersJSON{}}, "sitter pictures": {sitterPicturesJSON{}},
	"completion": {completionJSON{}}, "licences": {textJSON{}}, "demo": {demoJSON{}},
}

// actAnswers are what acts answer: what was written, or, where nothing is to be written yet, what the sheet calls for.
var actAnswers = []any{answerJSON{}, plannedJSON{}}

// silent are commands whose answer is no JSON, each with why.
var silent = map[string]string{
	"schema": "it answers with a schema",
	"serve":  "it answers in a browser",
	"bench":  "it talks with a person",
}

// byHand are the types that write themselves, with what comes of it.
var byHand = map[reflect.Type]any{
	reflect.TypeFor[wording.Warning](): map[string]any{"type": "string", "description": "a warning, in a sentence"},
	reflect.TypeFor[json.RawMessage](): map[string]any{},
}

// common says what a field is whose name means the same everywhere, where its own comment says nothing.
var common = map[string]string{
	"picture":         "a picture's number: 2026-014",
	"pictures":        "pictures, or how many",
	"sheet":           "a sheet's name: 2026-014n is the negative, 2026-014p1 the first print",
	"sheets":          "sheets, or how many",
	"box":             "a box's name",
	"boxes":           "boxes of paper",
	"bath":            "a bath's name",
	"baths":           "baths, or what they cost",
	"session":         "a session's name",
	"camera":          "a camera's name",
	"order":           "an order's name",
	"sitter":          "a sitter's reference",
	"sitters":         "sitters, or how many",
	"strips":          "test strips",
	"id":              "id of an entry, 32 hex digits",
	"entry":           "id of an entry, 32 hex digits",
	"entries":         "entries, or their ids, or how many",
	"batch":           "id that acts written as one bear",
	"kind":            "what sort of entry or thing it is",
	"at":              "a time, RFC 3339 with the offset of the place",
	"as_of":           "the moment looked from, RFC 3339",
	"opened_at":       "RFC 3339",
	"mixed_at":        "RFC 3339",
	"discarded_at":    "RFC 3339, null where it was not",
	"last_used_at":    "RFC 3339, null where it was not",
	"ended_at":        "RFC 3339",
	"taken":           "RFC 3339",
	"sunrise":         "RFC 3339",
	"sunset":          "RFC 3339",
	"day":             "2026-05-03",
	"due":             "the day by which it is wanted",
	"expires":         "a day or a month, as it was written",
	"runs_out":        "the day on which it runs out",
	"text":            "in words",
	"name":            "what it is called",
	"subject":         "what it shows, in words",
	"about":           "the thing that it belongs to",
	"warnings":        "what is odd, each in a sentence",
	"next":            "what comes next, in words",
	"path":            "of the file or folder",
	"bytes":           "size of the file",
	"files":           "files, or how many",
	"source":          "where it is published, or common practice",
	"verdict":         "keep, redo or reject",
	"symptoms":        "what the eye saw, in the words of why --symptoms",
	"symptom":         "a word of why --symptoms",
	"cause":           "what it is, by its code",
	"causes":          "by their codes",
	"state":           "how far it has come",
	"generation":      "negative or positive",
	"light":           "sun, shade, overcast, dusk or lamp; of a session in words",
	"sky":             "clear, thin, cloud or dark",
	"filter":          "filter before the lens",
	"filter_factor":   "times the exposure",
	"f":               "relative aperture",
	"index":           "exposure index",
	"iso_r":           "ISO range",
	"magnification":   "image ÷ subject; of a print: print ÷ negative",
	"density":         "of light, log10",
	"role":            "developer, stop, fixer, water, washing-aid or toner",
	"dilution":        "parts of concentrate and water",
	"base":            "rc (resin-coated) or fb (fibre)",
	"developer":       "of a bath, or its name",
	"place":           "where it was",
	"helper":          "who helped",
	"price":           "in currency",
	"amount":          "in currency",
	"paid":            "what came in, in currency",
	"owed":            "what is still to be paid, in currency",
	"currency":        "as it was typed",
	"prints":          "prints, or how many",
	"delivered":       "whether, or how many, went",
	"kept":            "how many were judged keep",
	"redo":            "how many were judged redo",
	"rejected":        "how many were judged reject",
	"failed":          "how many were judged redo or reject",
	"received":        "sheets that came in",
	"spoiled":         "sheets spoiled",
	"exposed":         "sheets exposed",
	"missing":         "what is not there",
	"left":            "what is left",
	"unit":            "of the numbers beside it",
	"book":            "id of the chain, or path of the book",
	"book_seq":        "place in the chain, from 1",
	"hash":            "64 hex digits",
	"head":            "hash of the last entry",
	"events":          "how many entries",
	"year":            "of the calendar",
	"why":             "for what reason, in words",
	"error":           "what went wrong",
	"hint":            "what to do",
	"line":            "what to type, or the number of a line",
	"version":         "of this program",
	"sha256":          "digest of the file",
	"ok":              "nothing is wrong",
	"problems":        "what is wrong",
	"notes":           "what is worth knowing and not wrong",
	"exposure_factor": "times the exposure, for the bellows",
	"altitude_deg":    "of the sun, degrees",
	"azimuth_deg":     "of the sun, degrees from north",
	"odds":            "in words",
	"reciprocity_p":   "Schwarzschild's p",
	"clock":           "what is to be told of this machine's clock; absent where it did not run back",
}

// schemas makes the document of every command's answers, of the types and their comments.
type schemas struct {
	t        *testing.T
	defs     map[string]any
	types    map[string]reflect.Type // by the names of the definitions
	comments map[string]map[string]string
}

// ref is a reference to the definition of a type with a name, which is made where there is none yet.
func (s *schemas) ref(typ reflect.Type) map[string]any {
	name := strings.TrimSuffix(typ.Name(), "JSON")
	if was, ok := s.types[name]; ok && was != typ {
		name = filepath.Base(typ.PkgPath()) + "." + name
	}
	if _, ok := s.types[name]; !ok {
		s.types[name] = typ
		s.defs[name] = s.object(typ)
	}
	return map[string]any{"$ref": "#/$defs/" + name}
}

func (s *schemas) of(typ reflect.Type) map[string]any {
	if given, ok := byHand[typ]; ok {
		return given.(map[string]any)
	}
	switch {
	case typ == reflect.TypeFor[report.History]():
		return map[string]any{"anyOf": []any{s.ref(reflect.TypeFor[report.PictureHistory]()), s.ref(reflect.TypeFor[report.EntityHistory]())}}
	case typ.Implements(reflect.TypeFor[encoding.TextMarshaler]()):
		return map[string]any{"type": "string"}
	case typ.Implements(reflect.TypeFor[json.Marshaler]()):
		s.t.Fatalf("%s writes itself as JSON: say what comes of it in byHand, cmd/traybook/schema_test.go", typ)
	}
	switch typ.Kind() {
	case reflect.Pointer:
		return s.of(typ.Elem())
	case reflect.Struct:
		return s.ref(typ)
	case reflect.Slice, reflect.Array:
		return map[string]any{"type": "array", "items": s.of(typ.Elem())}
	case reflect.Map:
		return map[string]any{"type": "object", "additionalProperties": s.of(typ.Elem())}
	case reflect.String:
		return map[string]any{"type": "string"}
	case reflect.Bool:
		return map[string]any{"type": "boolean"}
	case reflect.Float64, reflect.Float32:
		return map[string]any{"type": "number"}
	case reflect.Interface:
		return map[string]any{}
	}
	if typ.ConvertibleTo(reflect.TypeFor[int64]()) {
		return map[string]any{"type": "integer"}
	}
	s.t.Fatalf("no schema for %s", typ)
	return nil
}

func orNullToo(schema map[string]any) map[string]any {
	if typ, ok := schema["type"].(string); ok {
		schema["type"] = []any{typ, "null"}
		return schema
	}
	return map[string]any{"anyOf": []any{schema, map[string]any{"type": "null"}}}
}

func (s *schemas) object(typ reflect.Type) map[string]any {
	properties, required := map[string]any{}, []string{}
	s.fields(typ, properties, &required)
	slices.Sort(required)
	out := map[string]any{"type": "object", "properties": properties, "required": required, "additionalProperties": false}
	if doc := s.comment(typ, ""); doc != "" {
		out["description"] = doc
	}
	return out
}

// fields adds the fields of a struct: its own first, then, where their names are free, those of what it embeds.
func (s *schemas) fields(typ reflect.Type, properties map[string]any, required *[]string) {
	var embedded []reflect.Type
	for i := range typ.NumField() {
		f := typ.Field(i)
		name, options, _ := strings.Cut(f.Tag.Get("json"), ",")
		switch {
		case f.Anonymous && name == "":
			embedded = append(embedded, f.Type)
			continue
		case name == "-" || name == "" && !f.IsExported() || properties[name] != nil:
			continue
		case name == "":
			s.t.Fatalf("%s.%s goes into an answer and its tag names no key", typ, f.Name)
		}
		field := s.of(f.Type)
		omitted := strings.Contains(options, "omitempty") || strings.Contains(options, "omitzero")
		doc := cmp.Or(s.comment(typ, f.Name), fieldWords(typ, name), common[name])
		list := f.Type.Kind() == reflect.Slice && strings.Contains(doc, "null") // lists are empty, but for those that say otherwise
		if (f.Type.Kind() == reflect.Pointer || list) && !omitted {
			field = orNullToo(field)
		}
		if unit := sheetcsv.Unit(name); unit != "" {
			doc = strings.TrimSpace(doc + " (" + unit + ")")
		}
		if doc != "" {
			field["description"] = doc
		}
		properties[name] = field
		if !omitted {
			*required = append(*required, name)
		}
	}
	for _, e := range embedded {
		s.fields(e, properties, required)
	}
}

// fieldWords is what is told of a field of an entry's data wherever it is typed.
func fieldWords(typ reflect.Type, name string) string {
	if typ.PkgPath() == reflect.TypeFor[events.Entry]().PkgPath() {
		return line.FieldWords[name]
	}
	return ""
}

// comment is what the source says of a type or of one of its fields, in one line.
func (s *schemas) comment(typ reflect.Type, field string) string {
	path := typ.PkgPath()
	if path == "main" || strings.HasSuffix(path, "cmd/traybook") {
		path = "traybook/cmd/traybook"
	}
	if s.comments[path] == nil {
		s.comments[path] = commentsIn(s.t, filepath.Join("../..", strings.TrimPrefix(path, "traybook")))
	}
	return s.comments[path][typ.Name()+"."+field]
}

func commentsIn(t *testing.T, dir string) map[string]string {
	found := map[string]string{}
	files, err := filepath.Glob(filepath.Join(dir, "*.go"))
	require.NoError(t, err)
	for _, path := range files {
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ParseComments)
		require.NoError(t, err)
		for _, d := range file.Decls {
			g, ok := d.(*ast.GenDecl)
			if !ok {
				continue
			}
			for _, spec := range g.Specs {
				typ, ok := spec.(*ast.TypeSpec)
				if !ok {
					continue
				}
				found[typ.Name.Name+"."] = inOneLine(docOf(typ.Doc, g.Doc))
				if x, ok := typ.Type.(*ast.StructType); ok {
					for _, f := range x.Fields.List {
						for _, name := range f.Names {
							found[typ.Name.Name+"."+name.Name] = inOneLine(docOf(f.Doc, f.Comment))
						}
					}
				}
			}
		}
	}
	return found
}

func docOf(a, b *ast.CommentGroup) string {
	if a != nil {
		return a.Text()
	}
	return b.Text()
}

func inOneLine(s string) string { return strings.Join(strings.Fields(s), " ") }

// leaves are the commands by their words, those that only hold others left out.
func leaves(commands []line.Command, before string) (out []string) {
	for _, c := range commands {
		path := strings.TrimSpace(before + " " + c.Name)
		if len(c.Commands) == 0 || c.Alone {
			out = append(out, path)
		}
		out = append(out, leaves(c.Commands, path)...)
	}
	return out
}

// TestSchemasAreCurrent makes cmd/traybook/schema.json of the types that commands answer with, and holds what is kept
// against it; -update keeps it.
func TestSchemasAreCurrent(t *testing.T) {
	s := &schemas{t: t, defs: map[string]any{}, types: map[string]reflect.Type{}, comments: map[string]map[string]string{}}
	commands := map[string]any{}
	asked := map[string][]any{"error": {errorJSON{}}, "help": {textJSON{}}, "version": {edition{}}}
	var writes []string
	for _, o := range writers() {
		writes = append(writes, o.name)
	}
	for _, path := range leaves(specOf(newApp(&Env{})).Commands, "") {
		first, _, _ := strings.Cut(path, " ")
		switch types, named := answers[path]; {
		case silent[path] != "" || silent[first] != "":
			require.False(t, named, path)
		case named:
			asked[path] = types
		case slices.Contains(writes, first):
			asked[path] = actAnswers
		default:
			t.Errorf("nothing says what traybook %s answers with --json: name its type in answers, or why it answers none in silent, in cmd/traybook/schema_test.go", path)
		}
	}
	for path := range answers {
		require.Contains(t, asked, path, "no such command")
	}
	clock := map[string]any{"$ref": "#/$defs/clock", "description": common["clock"]}
	s.ref(reflect.TypeFor[clockJSON]())
	for path, types := range asked {
		var either []any
		for _, v := range types {
			typ := reflect.TypeOf(v)
			schema := s.of(typ)
			either = append(either, schema)
			if name, ok := schema["$ref"].(string); ok && path != "error" { // what a run has to tell of the clock stands beside any answer
				object := s.defs[strings.TrimPrefix(name, "#/$defs/")].(map[string]any)
				object["properties"].(map[string]any)["clock"] = clock
			}
		}
		commands[path] = map[string]any{"anyOf": either}
	}
	for name, def := range s.defs {
		for field, schema := range def.(map[string]any)["properties"].(map[string]any) {
			words, _ := schema.(map[string]any)["description"].(string)
			assert.NotEmpty(t, strings.TrimSpace(onlyUnit.ReplaceAllString(words, "")), "nothing says what %s of %s is: write a comment behind the field", field, name)
		}
	}
	var made bytes.Buffer
	enc := json.NewEncoder(&made)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", " ")
	require.NoError(t, enc.Encode(map[string]any{"$schema": "https://json-schema.org/draft/2020-12/schema", "title": "traybook --json", "commands": commands, "$defs": s.defs}))
	if *eventstest.Update {
		require.NoError(t, os.WriteFile("schema.json", made.Bytes(), 0o644))
		return
	}
	require.Equal(t, string(schemaText), made.String(), "go test ./cmd/traybook -run TestSchemasAreCurrent -update makes it anew")
}

var onlyUnit = regexp.MustCompile(`^\([^)]*\)$`)

var compiled sync.Map // *jsonschema.Schema by the words of a command

// heldToSchema says what in some JSON is not as the schema of a command's answers has it, nil for nothing.
func heldToSchema(command string, answer []byte) error {
	schema, known := compiled.Load(command)
	if !known {
		one, err := schemaFor(command)
		if err != nil {
			return fmt.Errorf("%s answers with JSON of which nothing says what it is: name its type in answers in cmd/traybook/schema_test.go, then go test ./cmd/traybook -run TestSchemasAreCurrent -update (%w)", command, err)
		}
		text, err := json.Marshal(one)
		if err != nil {
			return err
		}
		doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
		if err != nil {
			return err
		}
		c := jsonschema.NewCompiler()
		if err := c.AddResource("answer.json", doc); err != nil {
			return err
		}
		if schema, err = c.Compile("answer.json"); err != nil {
			return err
		}
		compiled.Store(command, schema)
	}
	value, err := jsonschema.UnmarshalJSON(bytes.NewReader(answer))
	if err != nil {
		return err
	}
	if err := schema.(*jsonschema.Schema).Validate(value); err != nil {
		return fmt.Errorf("traybook schema %s does not hold of %s\n%w", command, answer, err)
	}
	return nil
}

// commandTyped is the command that a line means, by its words.
func commandTyped(args []string) string {
	switch {
	case slices.Contains(args, "--version"):
		return "version"
	case slices.Contains(args, "--help") || slices.Contains(args, "help"):
		return "help"
	}
	app := newApp(&Env{})
	ordered, err := line.Reorder(args, specOf(app))
	if err != nil {
		return "error"
	}
	path, at := []string{}, specOf(app).Commands
	for _, a := range ordered {
		i := slices.IndexFunc(at, func(c line.Command) bool { return c.Name == a || slices.Contains(c.Aliases, a) })
		if i >= 0 {
			path, at = append(path, at[i].Name), at[i].Commands
		}
	}
	return strings.Join(path, " ")
}

// traybook runs the program in a script as by its name alone, and holds every answer in JSON against its schema.
func traybookInScript(ts *testscript.TestScript, neg bool, args []string) {
	err := ts.Exec("traybook", args...)
	switch {
	case err == nil && neg:
		ts.Fatalf("unexpected command success")
	case err != nil && !neg:
		ts.Fatalf("unexpected command failure")
	}
	holdToSchema(ts, args)
}

func holdToSchema(ts *testscript.TestScript, args []string) {
	if !slices.Contains(args, "--json") {
		return
	}
	for stream, command := range map[string]string{"stdout": "", "stderr": "error"} {
		for _, l := range strings.Split(ts.ReadFile(stream), "\n") {
			if command == "" {
				command = commandTyped(args)
			}
			if !strings.HasPrefix(l, "{") && !strings.HasPrefix(l, "[") {
				if l != "" && stream == "stdout" {
					ts.Fatalf("traybook %s answers --json with %q, which is none", command, l)
				}
				continue
			}
			ts.Check(heldToSchema(command, []byte(l)))
		}
	}
}

func TestASchemaRefusesWhatItDoesNotName(t *testing.T) {
	assert.NoError(t, heldToSchema("export pdf", []byte(`{"path":"log.pdf","bytes":17}`)))
	assert.ErrorContains(t, heldToSchema("export pdf", []byte(`{"path":"log.pdf","bytes":17,"pages":2}`)), "pages")
	assert.ErrorContains(t, heldToSchema("export pdf", []byte(`{"path":"log.pdf"}`)), "bytes")
	assert.ErrorContains(t, heldToSchema("export pdf", []byte(`{"path":"log.pdf","bytes":"17"}`)), "bytes")
	assert.ErrorContains(t, heldToSchema("export nothing", []byte(`{}`)), "cmd/traybook/schema_test.go")
}
