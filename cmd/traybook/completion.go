package main

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/line"
	"traybook/events"
	"traybook/events/sqlite"
)

// The scripts ask the program itself what can follow, so that they know every command, option and name in the book.
// Nothing that was typed is evaluated.
var completionScripts = map[string]string{
	"bash": `_traybook() {
    local IFS=$'\n'
    COMPREPLY=($("${COMP_WORDS[0]}" completion words -- "${COMP_WORDS[@]:1:COMP_CWORD}" 2>/dev/null))
}
complete -o default -F _traybook traybook
`,
	"zsh": `#compdef traybook
_traybook() {
    local -a found
    found=("${(@f)$("${words[1]}" completion words -- "${(@)words[2,CURRENT]}" 2>/dev/null)}")
    [[ -n "${found[1]}" ]] && compadd -a found || _files
}
compdef _traybook traybook
`,
	"fish": `function __traybook_words
    set -l line (commandline -opc) (commandline -ct)
    $line[1] completion words -- $line[2..-1] 2>/dev/null
end
complete -c traybook -a '(__traybook_words)'
`,
}

type completionJSON struct {
	Shell  string `json:"shell"`  // bash, zsh or fish
	Script string `json:"script"` // to be read by that shell
}

func completionCommand(env *Env) *cli.Command {
	return &cli.Command{
		Name: "completion", Usage: "completion of commands and names in a shell", Category: forSetUp, ArgsUsage: "bash|zsh|fish",
		UsageText: "traybook completion bash >> ~/.bashrc\n" +
			"traybook completion zsh > ~/.zfunc/_traybook\n" +
			"traybook completion fish > ~/.config/fish/completions/traybook.fish",
		Action: func(c *cli.Context) error {
			words := c.Args().Slice()
			if len(words) > 1 && words[0] == "words" {
				for _, w := range complete(env, newApp(env), words[1:]) {
					fmt.Fprintln(env.Out, w)
				}
				return nil
			}
			if len(words) != 1 || completionScripts[words[0]] == "" {
				return line.WrongLinef("write traybook completion bash, zsh or fish", "completion needs the name of a shell")
			}
			if c.Bool("json") {
				return writeJSON(env.Out, completionJSON{words[0], completionScripts[words[0]]})
			}
			_, err := io.WriteString(env.Out, completionScripts[words[0]])
			return err
		},
	}
}

// complete lists what the last word can become, after the words before it.
func complete(env *Env, app *cli.App, words []string) []string {
	before, word := words[:len(words)-1], words[len(words)-1]
	at := standAt(app, before)
	var found []string
	head := ""
	switch {
	case at.wants != nil:
		if i := strings.LastIndexAny(word, ","); i >= 0 {
			head, word = word[:i+1], word[i+1:]
		}
		found = at.values(env)
	case strings.HasPrefix(word, "-"):
		for _, f := range append(slices.Clone(at.flags), app.Flags...) {
			if !hiddenFlag(f) {
				found = append(found, "--"+f.Names()[0])
			}
		}
		found = append(found, "--help")
	case at.commands != nil:
		for _, c := range at.commands {
			if !c.Hidden {
				found = append(found, c.Name)
			}
		}
	default:
		found = at.spoken(env)
	}
	var out []string
	for _, f := range found {
		if strings.HasPrefix(f, word) && !slices.Contains(out, head+f) {
			out = append(out, head+f)
		}
	}
	return out
}

// standing is where a command line stands after some words.
type standing struct {
	command  *cli.Command
	commands []*cli.Command // of which one comes next, nil where words of the act do
	flags    []cli.Flag
	wants    cli.Flag // the option that waits for its value
	book     string
}

func standAt(app *cli.App, words []string) standing {
	at := standing{commands: app.Commands}
	for i := 0; i < len(words); i++ {
		w := words[i]
		if name, value, given := strings.Cut(strings.TrimLeft(w, "-"), "="); strings.HasPrefix(w, "-") {
			f := at.flag(app, name)
			if _, isBool := f.(*cli.BoolFlag); f == nil || isBool {
				continue
			}
			if !given && i+1 == len(words) {
				at.wants = f
				return at
			}
			if !given {
				i++
				value = words[i]
			}
			if f.Names()[0] == "book" {
				at.book = value
			}
			continue
		}
		for _, c := range at.commands {
			if c.HasName(w) {
				at.command, at.commands, at.flags = c, c.Subcommands, append(slices.Clone(at.flags), c.Flags...)
				break
			}
		}
	}
	if len(at.commands) == 0 {
		at.commands = nil
	}
	return at
}

func (at standing) flag(app *cli.App, name string) cli.Flag {
	for _, f := range append(slices.Clone(at.flags), app.Flags...) {
		if slices.Contains(f.Names(), name) {
			return f
		}
	}
	return nil
}

// values are what an option can take: its words, or names in the book.
func (at standing) values(env *Env) []string {
	name := at.wants.Names()[0]
	if name == "symptoms" {
		return events.Symptoms
	}
	if example, _ := flagUsage(at.wants); strings.Contains(example, "|") {
		return strings.Split(example, "|")
	}
	for kind, options := range namedBy {
		if slices.Contains(options, name) {
			return at.names(env, kind)
		}
	}
	return nil
}

// namedBy are the options that take the name of a thing.
var namedBy = map[events.EntityKind][]string{
	events.Picture: {"picture", "again", "sheet"}, events.Box: {"box", "planned-box", "into"}, events.Bath: {"bath"},
	events.Session: {"session"}, events.Camera: {"camera"}, events.Holder: {"holder"}, events.Strip: {"strip"}, events.Sitter: {"sitter", "to"}, events.Order: {"order"},
}

// spoken are the words an act takes beside its options: the words of its choices, and names in the book. A command that
// takes words without such options takes any name.
func (at standing) spoken(env *Env) []string {
	var out []string
	if at.command == nil {
		return nil
	}
	for _, f := range at.flags {
		at.wants = f
		out = append(out, at.values(env)...)
	}
	if len(out) > 0 || at.command.ArgsUsage == "" {
		return out
	}
	if example := at.command.ArgsUsage; strings.Contains(example, "|") && !strings.ContainsAny(example, " []") {
		return strings.Split(example, "|")
	}
	for _, kind := range []events.EntityKind{events.Picture, events.Box, events.Bath, events.Session, events.Camera} {
		out = append(out, at.names(env, kind)...)
	}
	return out
}

const mostNames = 100 // the latest; a shell shows no more with use

// names are the names of a kind in the book, the newest first; none where there is no book to ask.
func (at standing) names(env *Env, kind events.EntityKind) []string {
	path := at.book
	if path == "" {
		path = env.getenv("TRAYBOOK_BOOK")
	}
	if path == "" {
		var err error
		if path, err = homeBook(system, env.getenv); err != nil {
			return nil
		}
	}
	book, err := sqlite.Open(path, bookOptions(true))
	if err != nil {
		return nil
	}
	defer book.Close()
	var out []string
	_ = book.Read(func(tx *sqlite.Tx) error { // without names the shell falls back to files
		things, err := tx.Entities(kind)
		slices.Reverse(things)
		for _, t := range things[:min(len(things), mostNames)] {
			out = append(out, t.Name)
			if kind == events.Picture {
				out = append(out, events.Sheet(t.Name, "n"))
			}
		}
		return err
	})
	return out
}
