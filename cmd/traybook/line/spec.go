package line

import (
	"slices"
	"strings"
)

// Flag is an option: --time 4s, or --json, which takes no value.
type Flag struct {
	Name       string   // without the hyphens
	Aliases    []string // other names, one-letter ones too
	TakesValue bool
	Many       bool   // may be given more than once
	Example    string // a value, shown where one is missing
}

// Command is a command or subcommand.
type Command struct {
	Name     string
	Aliases  []string
	Flags    []Flag
	Commands []Command // subcommands; with these the next word names one
	Alone    bool      // has subcommands and can do without; words of its own stay positional
	InFull   bool      // never reached by the beginning of its name
}

// Spec is the tree of commands and the options that belong to none of them.
// --help, -h and --version are always understood and need not stand here.
type Spec struct {
	Program  string // the name in hints; empty means traybook
	Global   []Flag
	Commands []Command
}

func (s *Spec) program() string {
	if s.Program == "" {
		return "traybook"
	}
	return s.Program
}

func (f *Flag) has(name string) bool {
	return f.Name == name || slices.Contains(f.Aliases, name)
}

func findFlag(flags []Flag, name string) *Flag {
	for i := range flags {
		if flags[i].has(name) {
			return &flags[i]
		}
	}
	return nil
}

// findBelow looks for a flag in the commands and all that are below them. Of a
// flag with and one without a value the former is returned, so that a value is
// not taken for a word of its own.
func findBelow(commands []Command, name string) *Flag {
	var found *Flag
	for i := range commands {
		c := &commands[i]
		for _, f := range []*Flag{findFlag(c.Flags, name), findBelow(c.Commands, name)} {
			if f != nil && (found == nil || f.TakesValue) {
				found = f
			}
		}
	}
	return found
}

func (c *Command) has(name string) bool {
	return c.Name == name || slices.Contains(c.Aliases, name)
}

// findCommand finds a command by its name, an alias, or the beginning of its
// name. Where several begin so, their names are returned instead.
func findCommand(commands []Command, word string) (found *Command, several []string) {
	word = strings.ToLower(word)
	for i := range commands {
		if commands[i].has(word) {
			return &commands[i], nil
		}
	}
	if word == "" {
		return nil, nil
	}
	for i := range commands {
		if strings.HasPrefix(commands[i].Name, word) {
			found = &commands[i]
			several = append(several, found.Name)
		}
	}
	if len(several) == 1 && !found.InFull {
		return found, nil
	}
	return nil, several
}

func commandNames(commands []Command) []string {
	names := make([]string, len(commands))
	for i := range commands {
		names[i] = commands[i].Name
	}
	return names
}

func flagNames(sets ...[]Flag) []string {
	var names []string
	for _, set := range sets {
		for i := range set {
			names = append(names, set[i].Name)
			for _, a := range set[i].Aliases {
				if len(a) > 1 {
					names = append(names, a)
				}
			}
		}
	}
	return names
}
