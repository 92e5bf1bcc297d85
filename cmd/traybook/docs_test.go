package main

import (
	"debug/buildinfo"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/urfave/cli/v2"

	"traybook/events/eventstest"
)

// sheet is a document that the tree of commands is written on.
type sheet interface {
	heading(depth int, text string) // 1 is a part, 2 a command, 3 what belongs to it
	para(text string)
	lines(lines []string) // as typed
	terms(rows [][2]string)
	contents(app *cli.App) // the commands at a glance
}

var environment = [][2]string{
	{"TRAYBOOK_BOOK", "the book, where --book names none"},
	{"XDG_DATA_HOME", "where the book at home stands (traybook/book.db), if it is an absolute path; else it is ~/.local/share, on macOS ~/Library/Application Support, on Windows the folder that LOCALAPPDATA names"},
	{"TZ", "the zone that init proposes, and that of bare times before there is a book"},
	{"COLUMNS, LINES", "width and height of the screen, where they cannot be asked for"},
	{"NO_COLOR", "any text: no colour"},
	{"TERM", "dumb: no colour, and nothing that is drawn over"},
	{"TRAYBOOK_NOW", "a moment (2026-05-03T14:05:10+02:00) in the place of the clock, for trying things out; the hand timers run on from it"},
}

var exitCodes = [][2]string{
	{"0", "done"},
	{"1", "refused: the message says why, and what to do"},
	{"2", "the command line cannot be followed"},
	{"3", "the book or the archive is damaged"},
	{"4", "the book is in use by another program, or was changed meanwhile; do it again"},
	{"70", "a fault of the program; the message says whether anything was written"},
	{"74", "done, and what was written is safe, but the answer could not be shown; do not do it again"},
	{"130", "stopped by hand; what was written before stays written"},
	{"141", "the reader of the answer left before its end; nothing was to be written"},
}

// writeDocs puts down everything that can be typed, examples first.
func writeDocs(to sheet, app *cli.App) {
	to.heading(1, "Examples")
	to.lines(shortExamples)
	to.heading(1, "Commands")
	to.para("A command may be shortened as long as no other begins so; " + strings.Join(inFull, ", ") + " are written out. " +
		"Options and words may stand in any order; behind -- everything is a word.")
	to.contents(app)
	to.heading(1, "Options of every command")
	to.terms(append(flagRows(app.Flags, ""), [2]string{"--help", "about a command, beginning with examples"}))
	to.para("traybook --version tells the version, the commit it was built of, its SQLite and the layout of the books it writes.")
	for _, h := range headings {
		to.heading(1, strings.ToUpper(h[:1])+h[1:])
		for _, c := range app.Commands {
			if c.Category == h && !c.Hidden {
				writeCommand(to, c, app.Name)
			}
		}
	}
	to.heading(1, "Environment")
	to.terms(environment)
	to.heading(1, "Exit status")
	to.terms(exitCodes)
}

func writeCommand(to sheet, c *cli.Command, above string) {
	name := above + " " + c.Name
	to.heading(2, name)
	to.para(strings.ToUpper(c.Usage[:1]) + c.Usage[1:] + ".")
	to.lines(strings.Split(strings.TrimSpace(c.UsageText), "\n"))
	usage := name
	if len(c.Subcommands) > 0 {
		usage += " COMMAND"
	}
	if c.ArgsUsage != "" {
		usage += " " + c.ArgsUsage
	}
	to.heading(3, "Usage")
	to.lines([]string{usage + " [options]"})
	for _, p := range paragraphs(c.Description) {
		to.para(p)
	}
	for _, cat := range flagCategories(c.Flags) {
		title := "Options"
		if cat != "" {
			title += ": " + cat
		}
		to.heading(3, title)
		to.terms(flagRows(c.Flags, cat))
	}
	for _, sub := range c.Subcommands {
		if !sub.Hidden {
			writeCommand(to, sub, name)
		}
	}
}

// markdown is a sheet in CommonMark.
type markdown struct{ strings.Builder }

func (m *markdown) heading(depth int, text string) {
	m.WriteString("\n" + strings.Repeat("#", depth+1) + " " + text + "\n")
}

var markdownMarks = regexp.MustCompile("[\\\\*<`\\[\\]]|\\b_|_\\b")

func markdownText(s string) string { return markdownMarks.ReplaceAllString(s, `\$0`) }

func (m *markdown) para(text string) { m.WriteString("\n" + markdownText(text) + "\n") }

func (m *markdown) lines(lines []string) {
	m.WriteString("\n```\n")
	for _, l := range lines {
		m.WriteString(strings.TrimSpace(l) + "\n")
	}
	m.WriteString("```\n")
}

func (m *markdown) terms(rows [][2]string) {
	m.WriteString("\n")
	for _, r := range rows {
		m.WriteString("* `" + r[0] + "`: " + markdownText(r[1]) + "\n")
	}
}

func (m *markdown) contents(app *cli.App) {
	for _, h := range headings {
		m.WriteString("\n" + strings.ToUpper(h[:1]) + h[1:] + "\n\n")
		for _, c := range app.Commands {
			if c.Category == h && !c.Hidden {
				m.WriteString("* [" + c.Name + "](#traybook-" + c.Name + "): " + markdownText(c.Usage) + "\n")
			}
		}
	}
}

// roff is a sheet in the macros of man(7).
type roff struct{ strings.Builder }

func (r *roff) heading(depth int, text string) {
	switch depth {
	case 1:
		r.WriteString(".SH " + roffText(strings.ToUpper(text)) + "\n")
	case 2:
		r.WriteString(".SS " + roffText(text) + "\n")
	default:
		r.WriteString(".PP\n\\fI" + roffText(text) + "\\fR\n")
	}
}

// roffText keeps every sign what it is: no line is taken for a request, and what is typed can be copied.
func roffText(s string) string {
	s = strings.NewReplacer(`\`, `\e`, "-", `\-`, "'", `\(aq`, "`", `\(ga`, "^", `\(ha`, "~", `\(ti`, `"`, `\(dq`).Replace(s)
	if strings.HasPrefix(s, ".") {
		s = `\&` + s
	}
	return s
}

func (r *roff) para(text string) { r.WriteString(".PP\n" + roffText(text) + "\n") }

func (r *roff) lines(lines []string) {
	r.WriteString(".PP\n.nf\n.RS\n")
	for _, l := range lines {
		r.WriteString(roffText(strings.TrimSpace(l)) + "\n")
	}
	r.WriteString(".RE\n.fi\n")
}

func (r *roff) terms(rows [][2]string) {
	for _, row := range rows {
		r.WriteString(".TP\n\\fB" + roffText(row[0]) + "\\fR\n" + roffText(row[1]) + "\n")
	}
}

func (r *roff) contents(app *cli.App) {
	for _, h := range headings {
		var rows [][2]string
		for _, c := range app.Commands {
			if c.Category == h && !c.Hidden {
				rows = append(rows, [2]string{c.Name, c.Usage})
			}
		}
		r.heading(3, strings.ToUpper(h[:1])+h[1:])
		r.terms(rows)
	}
}

// reference and manPage are the two documents as the tree has them now.
func reference(app *cli.App) string {
	var m markdown
	m.WriteString("# traybook: every command\n\n<!-- Made from the commands themselves: go test ./cmd/traybook -run TestDocs -update -->\n")
	m.para("traybook is " + app.Usage + ". README.md leads through a first afternoon; `traybook help COMMAND` tells what stands here.")
	writeDocs(&m, app)
	return strings.ReplaceAll(m.String(), "\\`", "`")
}

func manPage(app *cli.App) string {
	var r roff
	r.WriteString(`.\" Made from the commands themselves: go test ./cmd/traybook -run TestDocs -update` + "\n")
	r.WriteString(`.TH TRAYBOOK 1 "" "traybook ` + app.Version + `" "traybook"` + "\n.nh\n.ad l\n")
	r.heading(1, "Name")
	r.WriteString(app.Name + ` \- ` + roffText(app.Usage) + "\n")
	r.heading(1, "Synopsis")
	r.WriteString("\\fBtraybook\\fR \\fICOMMAND\\fR [\\fIwords\\fR] [\\fIoptions\\fR]\n")
	r.heading(1, "Description")
	r.WriteString("Every act of a day with the box camera (meter, expose, develop, fix, wash, reprint, judge) is written into one book as it happens\n" +
		"and never changed. From the acts traybook rebuilds each picture's history, the paper left and the age of the baths, calculates what time\n" +
		"a sheet calls for, and looks for the cause when a print fails.\n")
	writeDocs(&r, app)
	return r.String()
}

// The documents in docs are those that the commands make; -update writes them.
func TestDocs(t *testing.T) {
	t.Parallel()
	env, _, _ := testEnv(nil)
	app := newApp(&env)
	for _, d := range []struct{ name, text string }{{"REFERENCE.md", reference(app)}, {"traybook.1", manPage(app)}} {
		t.Run(d.name, func(t *testing.T) {
			path := filepath.Join("..", "..", "docs", d.name)
			if *eventstest.Update {
				require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
				require.NoError(t, os.WriteFile(path, []byte(d.text), 0o644))
			}
			kept, err := os.ReadFile(path)
			require.NoError(t, err)
			if string(kept) != d.text {
				t.Fatalf("docs/%s is not what the commands say now; go test ./cmd/traybook -run TestDocs -update writes it anew", d.name)
			}
		})
	}
}

// Nothing that can be typed is left out, and no place of a machine is told.
func TestDocsAreWhole(t *testing.T) {
	t.Parallel()
	env, _, _ := testEnv(map[string]string{"HOME": "/home/of-somebody"})
	app := newApp(&env)
	unroff := strings.NewReplacer(`\-`, "-", `\(aq`, "'", `\(ga`, "`", `\(ha`, "^", `\(ti`, "~", `\(dq`, `"`, `\e`, `\`, `\fB`, "", `\fR`, "")
	for name, text := range map[string]string{"reference": reference(app), "man page": unroff.Replace(manPage(app))} {
		t.Run(name, func(t *testing.T) {
			seen := 0
			for _, path := range commandPaths(app.Commands, nil) {
				list, c := app.Commands, (*cli.Command)(nil)
				for _, word := range path {
					for _, x := range list {
						if x.Name == word {
							c, list = x, x.Subcommands
							break
						}
					}
				}
				full := "traybook " + strings.Join(path, " ")
				_, of, found := strings.Cut(text, "# "+full+"\n")
				if !found {
					_, of, found = strings.Cut(text, ".SS "+full+"\n")
				}
				require.True(t, found, full)
				if i := regexp.MustCompile(`(?m)^(###? traybook|\.SS )`).FindStringIndex(of); i != nil {
					of = of[:i[0]]
				}
				for _, l := range strings.Split(c.UsageText, "\n") {
					assert.Contains(t, of, strings.TrimSpace(l), full)
				}
				for _, f := range c.Flags {
					if !hiddenFlag(f) {
						assert.Contains(t, of, "--"+f.Names()[0], full)
						seen++
					}
				}
			}
			assert.Greater(t, seen, 300, "the tree was walked")
			assert.NotRegexp(t, `/home/|/tmp/|/root|/work|/Users/`, text)
		})
	}
}

// TestLicencesOfAllThatIsInside holds that the licences which the program tells are those of the modules it is built of, at
// their versions.
func TestLicencesOfAllThatIsInside(t *testing.T) {
	program, err := buildinfo.ReadFile(built(t))
	require.NoError(t, err)
	require.NotEmpty(t, program.Deps)
	told := regexp.MustCompile(`(?m)^== (\S+) (v\S+): \S`).FindAllStringSubmatch(licenceTexts, -1)
	var inside, named [][2]string
	for _, m := range program.Deps {
		inside = append(inside, [2]string{m.Path, m.Version})
	}
	for _, m := range told {
		named = append(named, [2]string{m[1], m[2]})
	}
	assert.ElementsMatch(t, inside, named, "go run -C tools ./release licences > cmd/traybook/licences.txt writes them anew")
}
