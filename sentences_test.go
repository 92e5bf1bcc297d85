package traybook_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// sentence is one that the program warns or refuses with, as its source has it.
type sentence struct {
	at, code, says, hint string
	fields               []string
}

var slot = regexp.MustCompile(`\{([a-z]+)(?::([^{}]+))?\}`)

// TestEverySentenceIsToldOnce holds of each warning and each refusal that no other has its code or its words, that whoever
// uses it gives as many fields as it has, and that some script or test meets it.
func TestEverySentenceIsToldOnce(t *testing.T) {
	files := map[string][]*ast.File{} // by folder
	set := token.NewFileSet()
	var met []string // the lines of scripts and tests
	require.NoError(t, filepath.WalkDir(".", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		switch {
		case strings.HasSuffix(path, "_test.go"), strings.HasSuffix(path, ".txtar"):
			text, err := os.ReadFile(path)
			met = append(met, strings.Split(strings.ReplaceAll(string(text), `\"`, `"`), "\n")...)
			return err
		case strings.HasSuffix(path, ".go"):
			f, err := parser.ParseFile(set, path, nil, parser.SkipObjectResolution)
			files[filepath.Dir(path)] = append(files[filepath.Dir(path)], f)
			return err
		}
		return nil
	}))

	var all []sentence
	for _, in := range files {
		all = append(all, sentencesOf(t, set, in)...)
	}
	require.Greater(t, len(all), 80, "the walk found the sentences")
	codes, words := map[string]string{}, map[string]string{}
	for _, s := range all {
		assert.Empty(t, codes[s.code], "%s: the code %q stands there, too", s.at, s.code)
		codes[s.code] = s.at
		assert.Equal(t, strings.Count(s.says+s.hint, "{"), len(slot.FindAllString(s.says+s.hint, -1)), "%s: a brace that is no field: %s", s.at, s.says)
		if len(strings.Trim(slot.ReplaceAllString(s.says, ""), ". ")) == 0 {
			continue // the words are all in a field
		}
		assert.Empty(t, words[s.says+s.hint], "%s: these words stand there, too", s.at)
		words[s.says+s.hint] = s.at
		like := ""
		for _, words := range slot.Split(s.says, -1) {
			like += ".+" + regexp.QuoteMeta(words)
		}
		is := regexp.MustCompile(strings.TrimPrefix(like, ".+"))
		assert.True(t, slices.ContainsFunc(met, is.MatchString), "%s: no script and no test meets %q", s.at, s.says)
	}
}

// sentencesOf finds the sentences of one package and holds the fields that are given where they stand by name.
func sentencesOf(t *testing.T, set *token.FileSet, files []*ast.File) (all []sentence) {
	texts := map[string]ast.Expr{}
	named := map[string]sentence{}
	var text func(e ast.Expr) string
	text = func(e ast.Expr) string {
		switch e := e.(type) {
		case *ast.BasicLit:
			s, err := strconv.Unquote(e.Value)
			require.NoError(t, err)
			return s
		case *ast.BinaryExpr:
			return text(e.X) + text(e.Y)
		case *ast.Ident:
			require.Contains(t, texts, e.Name, "%s: a sentence is written out, or a constant of its package", set.Position(e.Pos()))
			return text(texts[e.Name])
		}
		t.Errorf("%s: a sentence is written out", set.Position(e.Pos()))
		return ""
	}
	read := func(e ast.Expr) (s sentence, ok bool) {
		call, isCall := e.(*ast.CallExpr)
		if !isCall || !slices.Contains([]string{"Warns", "Refuses", "RefusesUnlessEvenSo"}, called(call)) {
			return s, false
		}
		s = sentence{at: set.Position(call.Pos()).String(), code: text(call.Args[0]), says: text(call.Args[1])}
		if len(call.Args) > 2 {
			s.hint = text(call.Args[2])
		}
		for _, f := range slot.FindAllStringSubmatch(s.says+s.hint, -1) {
			if !slices.Contains(s.fields, f[1]) {
				s.fields = append(s.fields, f[1])
			}
		}
		return s, true
	}
	each := func(f func(ast.Node)) {
		for _, file := range files {
			ast.Inspect(file, func(n ast.Node) bool { f(n); return true })
		}
	}
	each(func(n ast.Node) {
		if v, ok := n.(*ast.ValueSpec); ok {
			for i := range v.Values {
				texts[v.Names[i].Name] = v.Values[i]
			}
		}
	})
	for name, e := range texts {
		if s, ok := read(e); ok {
			named[name] = s
		}
	}
	each(func(n ast.Node) {
		call, ok := n.(*ast.CallExpr)
		if !ok {
			return
		}
		if s, ok := read(call); ok {
			all = append(all, s)
		}
		of, given := "", call.Args
		switch sel, isSel := call.Fun.(*ast.SelectorExpr); {
		case isSel && (sel.Sel.Name == "Warn" || sel.Sel.Name == "Refuse"):
			if x, ok := sel.X.(*ast.Ident); ok {
				of = x.Name
			}
		case called(call) == "say" && len(call.Args) > 0:
			if x, ok := call.Args[0].(*ast.Ident); ok {
				of, given = x.Name, call.Args[1:]
			}
		}
		if s, ok := named[of]; ok && !call.Ellipsis.IsValid() {
			assert.Len(t, given, len(s.fields), "%s: %q has the fields %v", set.Position(call.Pos()), s.code, s.fields)
		}
	})
	return all
}

// called is the name of the function that is called.
func called(call *ast.CallExpr) string {
	switch f := call.Fun.(type) {
	case *ast.Ident:
		return f.Name
	case *ast.SelectorExpr:
		return f.Sel.Name
	}
	return ""
}
