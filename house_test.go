package traybook_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	pathpkg "path"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// rule keeps one arrow of the house: only the folders named may import what begins with Import.
type rule struct {
	Import string
	Only   []string // folders, and all below them; with a full stop the folder alone
	Why    string
}

var rules = []rule{
	{"github.com/urfave/cli", []string{"cmd/traybook."}, "one layer knows the library of options, so that another front end can use every act and query"},
	{"golang.org/x/term", []string{"cmd/traybook"}, "the terminal is the door's business"},
	{"github.com/mattn/go-sqlite3", []string{"events/sqlite"}, "one package knows the driver, so that a book can be kept otherwise one day"},
	{"database/sql", []string{"events/sqlite"}, "SQL stays beside the driver"},
	{"github.com/jung-kurt/gofpdf", []string{"export/page"}, "its panics and its map orders are tamed in one place"},
	{"github.com/go-fonts", []string{"export/page"}, "fonts belong to pages"},
	{"golang.org/x/image", []string{"export"}, "pictures are read and scaled on their way out and in, nowhere else"},
	{"github.com/boombuler/barcode", []string{"export/page", "cmd/traybook/web"}, "codes are drawn on pages, of paper and of a browser"},
	{"traybook/cmd", []string{"cmd/traybook", "projections/booktest"}, "nothing depends on the door"},
	{"traybook/export", []string{"cmd/traybook", "export"}, "meaning does not know how it is written down"},
	{"traybook/projections/report", []string{"cmd/traybook", "export"}, "nothing that a report is made of knows the report"},
	{"traybook/projections/why", []string{"cmd/traybook", "export", "projections/report"}, "what is written and called for does not depend on a diagnosis"},
	{"traybook/projections/acts", []string{"cmd/traybook", "projections/report", "projections/booktest"}, "pages and tables write no act"},
	{"traybook/projections/calledfor", []string{"cmd/traybook", "export", "projections/acts", "projections/why", "projections/report"}, "a snapshot says what was done, not what was called for"},
	{"traybook/projections/snapshot", []string{"cmd/traybook", "export", "projections/calledfor", "projections/acts", "projections/why", "projections/report", "projections/booktest"}, "wording knows no book"},
	{"traybook/projections", []string{"cmd/traybook", "export", "projections"}, "what happened does not depend on what it means"},
	{"traybook/events/atomicfile", []string{"cmd/traybook", "export", "events/sqlite"}, "only what writes files needs them whole or absent"},
	{"traybook/events/eventstest", []string{"projections/booktest"}, "what tests share is not linked"},
	{"traybook/events/sqlite", []string{"cmd/traybook", "events/sqlite", "projections/booktest"}, "the rest asks through the interfaces of package events"},
	{"traybook/events", []string{"cmd/traybook", "export", "projections", "events"}, "calc knows nothing of events"},
	{"os/exec", []string{"events/eventstest"}, "the program starts no other; what tests share, which it does not link, does"},
	{"testing", []string{"events/eventstest", "projections/booktest"}, "what tests share is not linked"},
	{"github.com/creack/pty", []string{"events/eventstest"}, "only tests open a terminal"},
	{"net", []string{"cmd/traybook/web"}, "who may come in is decided in one place, and nothing else of the program speaks to a network"},
	{"net/http", []string{"cmd/traybook/web"}, "who may come in is decided in one place, and nothing else of the program speaks to a network"},
}

// leaf are packages that know nothing of the notebook: they may import no other of ours outside themselves.
var leaf = map[string]string{
	"calc":                 "the arithmetic of the trade stands alone: it may import the standard library only",
	"events/atomicfile":    "what takes its place whole may be anything",
	"export/page":          "a page layer that knows nothing of the notebook",
	"export/bag":           "a bag is a bag, whatever is in it",
	"export/sheetcsv":      "a table is a table",
	"export/sheetxlsx":     "a table is a table",
	"export/scan":          "a picture is a picture",
	"export/sidecar":       "a description is a description",
	"projections/suspects": "what may have been depends on no book",
	"projections/wording":  "a number is written in the same way whatever it belongs to",
	"cmd/traybook/screen":  "what a screen holds does not depend on what it shows",
	"cmd/traybook/line":    "what is typed is read without a book",
}

// leafMay are the smaller packages that a leaf may stand on.
var leafMay = map[string][]string{
	"export/bag":          {"traybook/events/atomicfile"},
	"export/scan":         {"traybook/events/atomicfile"},
	"export/sheetxlsx":    {"traybook/export/sheetcsv"},
	"projections/wording": {"traybook/events", "traybook/calc"},
	"cmd/traybook/screen": {"traybook/cmd/traybook/line"},
	"cmd/traybook/line":   {"traybook/events.", "traybook/projections/wording."}, // no book, no snapshot
}

// TestImportsRunOneWay holds every import of the program against the house: cmd → export → projections → events and
// calc; events/sqlite → events; calc → the standard library.
func TestImportsRunOneWay(t *testing.T) {
	seen := map[string]bool{}
	eachImport(t, func(path, dir, name string) {
		seen[path] = true
		checkImport(t, path, dir, name)
	})
	require.Greater(t, len(seen), 50, "the walk found the program")
}

// eachImport calls f with every import of every source that is no test.
func eachImport(t *testing.T, f func(path, dir, name string)) {
	require.NoError(t, filepath.WalkDir(".", func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && path != "." && (strings.HasPrefix(d.Name(), ".") || d.Name() == "testdata" || d.Name() == "tools") {
			return filepath.SkipDir
		}
		if d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return nil
		}
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ImportsOnly)
		if err != nil {
			return err
		}
		for _, spec := range file.Imports {
			name, err := strconv.Unquote(spec.Path.Value)
			if err != nil {
				return err
			}
			f(path, filepath.ToSlash(filepath.Dir(path)), name)
		}
		return nil
	}))
}

// TestWhatOnlyTestsUseIsCalledSo holds that a package is linked into the program, or bears a name that ends in "test".
func TestWhatOnlyTestsUseIsCalledSo(t *testing.T) {
	imports := map[string][]string{}
	eachImport(t, func(_, dir, name string) {
		imports[dir] = append(imports[dir], strings.TrimPrefix(name, "traybook/"))
	})
	linked := map[string]bool{}
	var link func(dir string)
	link = func(dir string) {
		if !linked[dir] {
			linked[dir] = true
			for _, name := range imports[dir] {
				link(name)
			}
		}
	}
	link("cmd/traybook")
	for dir := range imports {
		switch {
		case dir != "." && !linked[dir] && !strings.HasSuffix(dir, "test"):
			t.Errorf("only tests use %s: let its name end in test, so that nobody takes it for a part of the program", dir)
		case linked[dir] && strings.HasSuffix(dir, "test"):
			t.Errorf("the program is linked with %s, whose name says that only tests use it", dir)
		}
	}
}

// TestEveryProgramThatATestStartsHasALimit holds that none is started past eventstest.Command, which gives it a clock that
// stands and a limit at which it says where it waits.
func TestEveryProgramThatATestStartsHasALimit(t *testing.T) {
	starts := regexp.MustCompile(`\b(exec\.Command(Context)?|os\.StartProcess|syscall\.ForkExec)\(`)
	seen := 0
	require.NoError(t, filepath.WalkDir(".", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, "_test.go") {
			return err
		}
		text, err := os.ReadFile(path)
		for i, line := range strings.Split(string(text), "\n") {
			if starts.MatchString(line) {
				t.Errorf("%s:%d starts a program without a limit: use eventstest.Command", path, i+1)
			}
		}
		seen += strings.Count(string(text), "eventstest.Command(")
		return err
	}))
	require.Greater(t, seen, 5, "the walk found the tests")
}

// TestNamedFilesAreThere holds the names of source files in the documents, and in whatever a test says, to the tree: a name without
// a folder stands somewhere in it, and may hold a star.
func TestNamedFilesAreThere(t *testing.T) {
	anyName := regexp.MustCompile(`[\w*/]*\w\.go\b`)
	withFolder := regexp.MustCompile(`\b(?:[a-z]+/)+\w+\.go\b`)
	var sources []string
	require.NoError(t, filepath.WalkDir(".", func(path string, d fs.DirEntry, err error) error {
		if err == nil && strings.HasSuffix(path, ".go") {
			sources = append(sources, filepath.ToSlash(path))
		}
		return err
	}))
	named := 0
	look := func(path string, names *regexp.Regexp) {
		text, err := os.ReadFile(path)
		require.NoError(t, err)
		for _, name := range names.FindAllString(string(text), -1) {
			named++
			there := slices.ContainsFunc(sources, func(s string) bool {
				if !strings.Contains(name, "/") {
					s = pathpkg.Base(s)
				}
				fits, err := pathpkg.Match(name, s)
				return err == nil && fits
			})
			if !there {
				t.Errorf("%s names %s, which is not there", path, name)
			}
		}
	}
	for _, path := range []string{"README.md", "DEVELOPERS.md", "FORMAT.md", "BENCHMARKS.md"} {
		look(path, anyName)
	}
	for _, path := range sources {
		look(path, withFolder)
	}
	require.Greater(t, named, 10, "the documents name files")
}

func checkImport(t *testing.T, path, dir, name string) {
	for _, r := range rules {
		if name != r.Import && !strings.HasPrefix(name, r.Import+"/") || r.Import == "net" && name != "net" {
			continue
		}
		if !under(dir, r.Only) {
			t.Errorf("%s imports %s: %s", path, name, r.Why)
		}
		break // the first rule that fits is the narrowest
	}
	for place, why := range leaf {
		if dir != place && !strings.HasPrefix(dir, place+"/") {
			continue
		}
		ours := strings.HasPrefix(name, "traybook/") && !under(name, []string{"traybook/" + place})
		foreign := place == "calc" && strings.Contains(strings.Split(name, "/")[0], ".")
		if (ours || foreign) && !under(name, leafMay[place]) {
			t.Errorf("%s imports %s: %s", path, name, why)
		}
	}
}

func under(dir string, places []string) bool {
	for _, p := range places {
		if only, alone := strings.CutSuffix(p, "."); alone && dir == only || dir == p || strings.HasPrefix(dir, p+"/") {
			return true
		}
	}
	return false
}

// roomy are the packages of more than twenty-five files, and how many they may have.
var roomy = map[string]int{
	"cmd/traybook": 71, // one command a file
}

var bySystem = regexp.MustCompile(`_(unix|linux|windows|other)\.go$`)

// TestNoRoomIsCrowded holds that a package can be walked through: twenty-five files, tests left out.
func TestNoRoomIsCrowded(t *testing.T) {
	files, seen := map[string]int{}, map[string]bool{}
	require.NoError(t, filepath.WalkDir(".", func(path string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() && strings.HasSuffix(path, ".go") && !strings.HasSuffix(path, "_test.go") {
			if name := bySystem.ReplaceAllString(path, ".go"); !seen[name] { // what differs between systems is one file
				seen[name] = true
				files[filepath.ToSlash(filepath.Dir(path))]++
			}
		}
		return err
	}))
	require.Greater(t, len(files), 20, "the walk found the program")
	for dir, n := range files {
		most := roomy[dir]
		if most == 0 {
			most = 25
		}
		if n > most {
			t.Errorf("%s has %d files, %d at most (roomy in house_test.go): group them by topic, or make a package of a topic", dir, n, most)
		}
	}
}

// speakForThemselves are methods that carry out an interface of the standard library or of events.
var speakForThemselves = []string{"String", "Error", "Unwrap", "Kind", "Is", "Len", "Less", "Swap", "Read", "Write", "Close", "MarshalJSON", "UnmarshalJSON", "MarshalText", "UnmarshalText"}

// TestExportedDeclarationsCarryAComment holds that what one package offers another is described where it stands.
func TestExportedDeclarationsCarryAComment(t *testing.T) {
	seen := 0
	require.NoError(t, filepath.WalkDir(".", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") || strings.HasSuffix(filepath.Dir(path), "test") {
			return err
		}
		files := token.NewFileSet()
		file, err := parser.ParseFile(files, path, nil, parser.ParseComments|parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		hold := func(name *ast.Ident, comments ...*ast.CommentGroup) {
			if !name.IsExported() {
				return
			}
			seen++
			if !slices.ContainsFunc(comments, func(c *ast.CommentGroup) bool { return c != nil }) {
				t.Errorf("%s: %s carries no comment: say what it is for", files.Position(name.Pos()), name)
			}
		}
		for _, decl := range file.Decls {
			switch x := decl.(type) {
			case *ast.FuncDecl:
				if x.Recv == nil || !slices.Contains(speakForThemselves, x.Name.Name) && ast.IsExported(receiver(x.Recv.List[0].Type)) {
					hold(x.Name, x.Doc)
				}
			case *ast.GenDecl:
				for _, spec := range x.Specs {
					switch y := spec.(type) {
					case *ast.TypeSpec:
						hold(y.Name, y.Doc, y.Comment, x.Doc)
					case *ast.ValueSpec:
						hold(y.Names[0], y.Doc, y.Comment, x.Doc)
					}
				}
			}
		}
		return nil
	}))
	require.Greater(t, seen, 1000, "the walk found the program")
}

// receiver is the name of the type that a method hangs on.
func receiver(e ast.Expr) string {
	switch x := e.(type) {
	case *ast.StarExpr:
		return receiver(x.X)
	case *ast.IndexExpr:
		return receiver(x.X)
	case *ast.Ident:
		return x.Name
	}
	return ""
}
