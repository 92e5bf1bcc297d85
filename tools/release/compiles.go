package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"go/types"
	"io"
	"maps"
	"path/filepath"
	"slices"
	"strings"
)

func sortedKeys(m map[string]string) []string { return slices.Sorted(maps.Keys(m)) }

// compiles checks the types of the program for a system whose C compiler is not here, as for macOS: every file that is
// built there, of every package, with what comes from C taken on trust.
func compiles(root, system string) error {
	list, err := output(root, []string{"GOOS=" + system, "GOARCH=amd64", "CGO_ENABLED=1"}, "go", "list", "-deps", "-json=ImportPath,Dir,GoFiles,CgoFiles,ImportMap,Standard,DepsErrors", "./cmd/traybook")
	if err != nil {
		return err
	}
	fset, done := token.NewFileSet(), map[string]*types.Package{"unsafe": types.Unsafe}
	var found []error
	for d := json.NewDecoder(strings.NewReader(list)); ; {
		var p struct {
			ImportPath, Dir   string
			GoFiles, CgoFiles []string
			ImportMap         map[string]string
			Standard          bool
			DepsErrors        []struct{ Err string }
		}
		if err := d.Decode(&p); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			return err
		}
		for _, e := range p.DepsErrors {
			found = append(found, errors.New(e.Err))
		}
		if p.ImportPath == "unsafe" {
			continue
		}
		var files []*ast.File
		for _, name := range slices.Concat(p.GoFiles, p.CgoFiles) {
			f, err := parser.ParseFile(fset, filepath.Join(p.Dir, name), nil, parser.SkipObjectResolution)
			if err != nil {
				return err
			}
			files = append(files, f)
		}
		conf := types.Config{FakeImportC: true, IgnoreFuncBodies: p.Standard, Sizes: types.SizesFor("gc", "amd64"), Importer: from{done, p.ImportMap}, Error: func(err error) {
			// What is made of a value of C has no type that could be checked.
			if !p.Standard && len(p.CgoFiles) == 0 {
				found = append(found, err)
			}
		}}
		done[p.ImportPath], _ = conf.Check(p.ImportPath, fset, files, nil)
	}
	if len(found) == 0 {
		fmt.Printf("compiles for %s: %d packages\n", system, len(done))
	}
	return errors.Join(found...)
}

// from gives the packages that were checked before.
type from struct {
	done map[string]*types.Package
	as   map[string]string
}

// Import is what types asks for a package by.
func (f from) Import(path string) (*types.Package, error) {
	if as, ok := f.as[path]; ok {
		path = as
	}
	if p := f.done[path]; p != nil {
		return p, nil
	}
	return nil, fmt.Errorf("%s was not found", path)
}
