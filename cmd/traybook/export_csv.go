package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/line"
	"traybook/events/atomicfile"
	"traybook/events/sqlite"
	"traybook/export"
)

// scopeFlags are the options that narrow an export, and move its moment.
func scopeFlags(what string) []cli.Flag {
	return []cli.Flag{
		&cli.StringFlag{Name: "year", Usage: "`2026` " + what + " of one year"},
		&cli.StringFlag{Name: "session", Usage: "`SESSION` of one session"},
		&cli.StringFlag{Name: "picture", Usage: "`2026-014` of one picture"},
		&cli.StringFlag{Name: "as-of", Usage: "`2026-12-31` as of a moment; else of the newest entry"},
		&cli.BoolFlag{Name: "force", Usage: "replace what is there"},
	}
}

func exportCSVCommand(env *Env) *cli.Command {
	return &cli.Command{
		Name: "csv", Usage: "the book as tables: pictures, sheets, symptoms, causes, readings and more",
		UsageText: lines("traybook export csv --out tables", "traybook export csv --out tables --year 2026",
			"traybook export csv --xlsx --out tables.xlsx", "traybook export csv --table sheets --out -", "traybook export csv --schema"),
		Description: "One file for each table (RFC 4180, UTF-8, a header, CR LF), and datapackage.json, which tells programs their types, units\n" +
			"and keys (Data Package 2.0); the unit of a number stands in its column's name. The names of sitters are in none of them. An\n" +
			"apostrophe stands before a text that a table program would run as a formula. docs/QUESTIONS.md puts ten questions to them.",
		Flags: append([]cli.Flag{
			&cli.StringFlag{Name: "out", Usage: "`DIR` the folder to make; with --table or --xlsx a file, or - for standard output"},
			&cli.StringFlag{Name: "table", Usage: "`sheets` one table alone"},
			&cli.BoolFlag{Name: "xlsx", Usage: "one workbook, a sheet a table, with dates and numbers that are some in any country"},
			&cli.BoolFlag{Name: "schema", Usage: "what each table and column holds"},
		}, scopeFlags("what is")...),
		Action: func(c *cli.Context) error {
			env.long()
			return exportCSV(env, c)
		},
	}
}

// tableMade is one table as it was written.
type tableMade struct {
	Table   string `json:"table"`   // its name
	Records int    `json:"records"` // rows, the heads left out
}

func exportCSV(env *Env, c *cli.Context) error {
	if err := noWords(c); err != nil {
		return err
	}
	if c.Bool("schema") {
		_, err := io.WriteString(env.data(), export.SchemaPage())
		return err
	}
	out, names := c.String("out"), export.TableNames()
	if t := c.String("table"); t != "" {
		one := strings.TrimSuffix(t, ".csv") + ".csv"
		if !slices.Contains(names, one) {
			return line.WrongLinef("there are "+strings.ReplaceAll(strings.Join(names, ", "), ".csv", ""), "there is no table %s", line.Quote(t))
		}
		names = []string{one}
	}
	inFolder := len(names) > 1 && !c.Bool("xlsx")
	switch {
	case out == "":
		return line.WrongLinef("--out DIR, or --table sheets --out -, or --xlsx --out tables.xlsx", "the tables need a place")
	case out == "-" && inFolder:
		return line.WrongLinef("add --table sheets, say, or give a folder", "all tables do not go to standard output together")
	}
	if out != "-" {
		if err := mayStand(env, c, out); err != nil {
			return err
		}
	}
	var made []tableMade
	err := withTables(env, c, func(t *export.Tables, other *sqlite.Tx) (err error) {
		if inFolder {
			var may atomicfile.May
			if c.Bool("force") {
				may = export.MayReplaceTables
			}
			return atomicfile.Dir(out, may, 0, func(dir string) error {
				made, err = writeTables(dir, t, other)
				return err
			})
		}
		may, write := export.MayReplaceTable, func(w io.Writer) error {
			n, err := t.Write(names[0], w)
			made = append(made, tableMade{names[0], n})
			return err
		}
		if c.Bool("xlsx") {
			may, write = export.MayReplaceWorkbook, func(w io.Writer) error {
				records, err := t.Workbook(names, w)
				for i, n := range records {
					made = append(made, tableMade{names[i], n})
				}
				return err
			}
		}
		if out == "-" {
			return write(env.data())
		}
		return writeOutput(env, c, out, may, write)
	})
	if err := placeTaken(err, out); err != nil || out == "-" {
		return err
	}
	env.written = true
	return tellMade(env, c, out, made)
}

// withTables lays the tables of the book out as the command line wants them. other is for another goroutine that lays out the same.
func withTables(env *Env, c *cli.Context, f func(t *export.Tables, other *sqlite.Tx) error) error {
	scope, err := archiveScope(c)
	if err != nil {
		return err
	}
	return withBook(env, c, true, func(book *sqlite.Book) error {
		return book.ReadTwice(func(tx, other *sqlite.Tx) error {
			at, err := exportMoment(env, c, tx)
			if err != nil {
				return err
			}
			t, err := export.NewTables(tx, at, scope, export.TableOptions{})
			if err != nil {
				return err
			}
			return f(t, other)
		})
	})
}

// writeTables writes every table into a folder, with the description of them for programs. other is another look at the same state.
func writeTables(dir string, t *export.Tables, other *sqlite.Tx) ([]tableMade, error) {
	records, err := t.WriteAll(t.Beside(other), func(name string) (io.WriteCloser, error) { return createIn(dir, name) })
	if err != nil {
		return nil, err
	}
	var made []tableMade
	for i, name := range export.TableNames() {
		made = append(made, tableMade{name, records[i]})
	}
	return made, newFile(dir, export.PackageFile, func(w io.Writer) error { return t.WritePackage(w) })
}

// createIn makes a file of a folder that is being made.
func createIn(dir, name string) (*os.File, error) {
	return os.OpenFile(filepath.Join(dir, name), os.O_CREATE|os.O_WRONLY|os.O_EXCL, atomicfile.Private)
}

// newFile writes one file of a folder that is being made.
func newFile(dir, name string, fill func(io.Writer) error) (err error) {
	f, err := createIn(dir, name)
	if err != nil {
		return err
	}
	defer func() {
		if shut := f.Close(); err == nil {
			err = shut
		}
	}()
	return fill(f)
}

type tablesJSON struct {
	Path   string      `json:"path"`
	Tables []tableMade `json:"tables"` // as they were written
}

func tellMade(env *Env, c *cli.Context, out string, made []tableMade) error {
	if c.Bool("json") {
		return writeJSON(env.Out, tablesJSON{out, made})
	}
	s := screenOf(env, c)
	parts := []string{out}
	for _, m := range made {
		parts = append(parts, fmt.Sprintf("%s %d", m.Table, m.Records))
	}
	flow(s, parts)
	return s.Err()
}
