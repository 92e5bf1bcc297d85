package calc

import (
	"encoding/csv"
	"fmt"
	"go/ast"
	"go/constant"
	"go/parser"
	"go/token"
	"go/types"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const defaultsTable = "../testdata/derived/defaults.csv"

// pinned is every default, limit and unit of the package as the table holds it.
func pinned(t *testing.T) map[string]float64 {
	t.Helper()
	f, err := os.Open(defaultsTable)
	require.NoError(t, err)
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.Equal(t, []string{"constant", "value", "status"}, lines[0])
	out := map[string]float64{}
	for _, l := range lines[1:] {
		v, err := strconv.ParseFloat(l[1], 64)
		require.NoError(t, err, l[0])
		require.NotContains(t, out, l[0], "stands twice")
		require.Contains(t, []string{"published", "derived", "common practice", "our own model", "unit", "bound"}, l[2], l[0])
		out[l[0]] = v
	}
	return out
}

// constantsOnly gives of a standard package the constants that ours are made of.
type constantsOnly struct{}

func (constantsOnly) Import(path string) (*types.Package, error) {
	p := types.NewPackage(path, path)
	switch path {
	case "math":
		p.Scope().Insert(types.NewConst(token.NoPos, p, "Pi", types.Typ[types.UntypedFloat], constant.MakeFromLiteral(fmt.Sprintf("%.60f", math.Pi), token.FLOAT, 0)))
		p.Scope().Insert(types.NewConst(token.NoPos, p, "MaxInt", types.Typ[types.UntypedInt], constant.MakeInt64(math.MaxInt)))
	case "time":
		d := types.NewNamed(types.NewTypeName(token.NoPos, p, "Duration", nil), types.Typ[types.Int64], nil)
		p.Scope().Insert(d.Obj())
		p.Scope().Insert(types.NewConst(token.NoPos, p, "Minute", d, constant.MakeInt64(int64(time.Minute))))
	}
	p.MarkComplete()
	return p, nil
}

// numbersOf reads the numeric constants off the package's source.
func numbersOf(t *testing.T) map[string]float64 {
	t.Helper()
	fset := token.NewFileSet()
	paths, err := filepath.Glob("*.go")
	require.NoError(t, err)
	var files []*ast.File
	for _, p := range paths {
		if strings.HasSuffix(p, "_test.go") {
			continue
		}
		f, err := parser.ParseFile(fset, p, nil, 0)
		require.NoError(t, err)
		files = append(files, f)
	}
	// Bodies and what else is imported do not matter here, so what they lack is no fault.
	loose := &types.Config{Importer: constantsOnly{}, IgnoreFuncBodies: true, Error: func(error) {}}
	pkg, _ := loose.Check("calc", fset, files, nil)
	out := map[string]float64{}
	for _, name := range pkg.Scope().Names() {
		c, ok := pkg.Scope().Lookup(name).(*types.Const)
		if !ok || types.Default(c.Type()).Underlying().(*types.Basic).Info()&types.IsNumeric == 0 {
			continue
		}
		if _, named := c.Type().(*types.Named); named && c.Type().String() != "time.Duration" {
			continue // a name among names: its number means nothing
		}
		out[name], _ = constant.Float64Val(constant.ToFloat(c.Val()))
	}
	return out
}

// A default is moved on purpose or not at all: here and in the code.
func TestEveryDefaultIsPinned(t *testing.T) {
	table, code := pinned(t), numbersOf(t)
	require.Greater(t, len(code), 100)
	for name, v := range code {
		want, there := table[name]
		if assert.True(t, there, "%s is in no row of %s: add it, with where it comes from", name, defaultsTable) {
			assert.Equal(t, want, v, "%s is not what %s says", name, defaultsTable)
		}
	}
	for name := range table {
		assert.Contains(t, code, name, "%s names a constant that is gone", defaultsTable)
	}
}
