package main

import (
	"bytes"
	_ "embed"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"unicode"
	"unicode/utf8"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/line"
)

// writeJSON writes v as one line. Nothing is escaped that need not be, but for what a terminal would obey: see unseen.
// Numbers bear no dust: see dusted.
func writeJSON(w io.Writer, v any) error {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(v); err != nil {
		return err
	}
	_, err := w.Write(unseen(dusted(beside(w, b.Bytes()))))
	return err
}

// beside puts what this run has to tell beside the answer itself at the end of the answer's object.
func beside(w io.Writer, answer []byte) []byte {
	a, ok := w.(*answerWriter)
	object, isObject := bytes.CutSuffix(answer, []byte("}\n"))
	if !ok || !isObject || len(object) < 2 {
		return answer
	}
	told := clockTold(a.env)
	if told == nil {
		return answer
	}
	text, err := json.Marshal(told)
	if err != nil {
		return answer
	}
	return fmt.Appendf(object, ",\"clock\":%s}\n", text)
}

// unseen escapes the characters of some JSON that do not show and that a terminal obeys: DEL, the controls from U+0080 to
// U+009F, and the marks that turn the direction of writing. JSON lets them stand, and escapes those below U+0020 itself.
func unseen(b []byte) []byte {
	obeyed := func(r rune) bool { return r >= 0x7f && (unicode.IsControl(r) || unicode.Is(unicode.Bidi_Control, r)) }
	if bytes.IndexFunc(b, obeyed) < 0 {
		return b
	}
	out := make([]byte, 0, len(b)+64)
	for len(b) > 0 {
		r, size := utf8.DecodeRune(b)
		if obeyed(r) { // all of them lie below U+10000
			out = fmt.Appendf(out, `\u%04x`, r)
		} else {
			out = append(out, b[:size]...)
		}
		b = b[size:]
	}
	return out
}

// dust is what a difference of two equal things comes to in binary arithmetic: no stop, second or millimetre that is
// told lies below it and is not nothing.
const dust = 1e-12

// verySmall are the keys whose numbers may truly be so small: they come from multiplying, not from a difference.
var verySmall = map[string]bool{"residual": true}

// dusted writes the broken numbers of some JSON with twelve digits, more than anything at a camera is measured with:
// 7.999999999999994 is 8, and -3.2e-16 is 0. Whole numbers and texts stay as they are.
func dusted(b []byte) []byte {
	out := make([]byte, 0, len(b))
	key := ""
	for i := 0; i < len(b); {
		from := i
		switch c := b[i]; {
		case c == '"':
			for i++; b[i] != '"'; i++ {
				if b[i] == '\\' {
					i++
				}
			}
			i++
			if b[i] == ':' { // a text is never the last byte of a line
				key = string(b[from+1 : i-1])
			}
			out = append(out, b[from:i]...)
		case c == '-' || c >= '0' && c <= '9':
			for i < len(b) && bytes.IndexByte([]byte("+-.eE0123456789"), b[i]) >= 0 {
				i++
			}
			out = appendNumber(out, b[from:i], verySmall[key])
		default:
			out = append(out, c)
			i++
		}
	}
	return out
}

func appendNumber(out, written []byte, small bool) []byte {
	if string(written) == "-0" {
		return append(out, '0')
	}
	if !bytes.ContainsAny(written, ".e") {
		return append(out, written...)
	}
	v, err := strconv.ParseFloat(string(written), 64)
	if err != nil {
		return append(out, written...)
	}
	if math.Abs(v) < dust && !small {
		v = 0
	}
	short, err := json.Marshal(line.Tidy(v))
	if err != nil {
		return append(out, written...)
	}
	return append(out, short...)
}

// answerWriter is the stream for answers. It remembers its first error and takes everything from then on in silence: an
// act that is in the book is carried to its end whether or not anybody can read what came of it.
type answerWriter struct {
	w   io.Writer
	env *Env // what each answer of this run has to tell beside its own; nil for nothing
	err error
}

func (a *answerWriter) Write(p []byte) (int, error) {
	if a.err == nil {
		_, a.err = a.w.Write(p)
	}
	return len(p), nil
}

// dataWriter is the same stream where what is asked for itself goes to it, a table say: who makes it hears of the error
// and stops.
type dataWriter struct{ *answerWriter }

func (d dataWriter) Write(p []byte) (int, error) {
	d.answerWriter.Write(p)
	if d.err != nil {
		return 0, d.err
	}
	return len(p), nil
}

// data is the stream for answers as it is to those who write their whole result to it.
func (e *Env) data() io.Writer {
	if a, ok := e.Out.(*answerWriter); ok {
		return dataWriter{a}
	}
	return e.Out
}

// unheard is what to tell where the answer could not be written out. err is what the command itself came to: it goes
// before, unless it is the same error.
func (a *answerWriter) unheard(env *Env, err error) error {
	switch {
	case a.err == nil || err != nil && !errors.Is(err, a.err):
		return err
	case env.written:
		return &untold{line.Refuse("do not do it again: `traybook today` and `traybook history` show what is in the book",
			"written; the answer could not be shown: %s", root(a.err))}
	case errors.Is(a.err, syscall.EPIPE): // its reader has seen enough
		return status(codePiped)
	}
	return line.Refuse("make room, or write elsewhere", "the answer could not be written out: %s", root(a.err))
}

// untold says that all was done and that only the answer is missing.
type untold struct{ error }

func (u *untold) Unwrap() error { return u.error }

// schemaText describes what every command answers with --json: see TestSchemasAreCurrent, which makes it of the types.
//
//go:embed schema.json
var schemaText []byte

// jsonSchemas is the document in schema.json: JSON Schema, draft 2020-12. Commands are the answers by the command's words,
// with error, help and version beside them.
type jsonSchemas struct {
	Schema   string                     `json:"$schema"`
	Title    string                     `json:"title"`
	Commands map[string]schemaOf        `json:"commands"`
	Defs     map[string]json.RawMessage `json:"$defs"`
}

// schemaOf is the schema of an answer: one of the things that its references name.
type schemaOf struct {
	Schema string                     `json:"$schema,omitempty"`
	Title  string                     `json:"title,omitempty"`
	AnyOf  []json.RawMessage          `json:"anyOf"`
	Defs   map[string]json.RawMessage `json:"$defs,omitempty"`
}

func schemaCommand(env *Env) *cli.Command {
	return &cli.Command{
		Name: "schema", Usage: "what a command answers with --json, as JSON Schema", ArgsUsage: "[COMMAND]", Category: forKeep,
		UsageText: lines("traybook schema why", "traybook schema export csv", "traybook schema error", "traybook schema"),
		Description: "JSON Schema, draft 2020-12: every field with what it holds and its unit. Without a command that of all of them, under\n" +
			"commands. Behind error stands what goes to the stream for errors where a command fails, behind help and version what\n" +
			"--help and --version answer.",
		Action: func(c *cli.Context) error {
			out := any(json.RawMessage(schemaText))
			if words := strings.Join(c.Args().Slice(), " "); words != "" {
				one, err := schemaFor(words)
				if err != nil {
					return err
				}
				out = one
			}
			enc := json.NewEncoder(env.data())
			enc.SetEscapeHTML(false)
			enc.SetIndent("", "  ")
			return enc.Encode(out)
		},
	}
}

var refersTo = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`"#/\$defs/([^"]+)"`) })

// schemaFor is the schema of one command's answers, with what it refers to.
func schemaFor(command string) (schemaOf, error) {
	var all jsonSchemas
	if err := json.Unmarshal(schemaText, &all); err != nil {
		return schemaOf{}, err
	}
	out, ok := all.Commands[command]
	if !ok {
		inside := []string{}
		for name := range all.Commands {
			if strings.HasPrefix(name, command+" ") {
				inside = append(inside, name)
			}
		}
		slices.Sort(inside)
		advice := "traybook --help lists the commands"
		if len(inside) > 0 {
			advice = "name one of " + strings.Join(inside, ", ")
		}
		return out, line.WrongLinef(advice, "no command %s answers with JSON", line.Quote(command))
	}
	out.Schema, out.Title, out.Defs = all.Schema, "traybook "+command+" --json", map[string]json.RawMessage{}
	todo := out.AnyOf
	for len(todo) > 0 {
		for _, m := range refersTo().FindAllSubmatch(todo[0], -1) {
			name := string(m[1])
			if _, known := out.Defs[name]; !known {
				out.Defs[name] = all.Defs[name]
				todo = append(todo, all.Defs[name])
			}
		}
		todo = todo[1:]
	}
	return out, nil
}
