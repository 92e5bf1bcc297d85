package line

import (
	"slices"
	"strings"
)

// arranged writes the line out in the strict order, with all that is known of it.
func (l *line) arranged() ([]string, error) {
	if n := len(l.path); n > 0 && !l.help {
		if c := l.path[n-1]; len(c.Commands) > 0 && !c.Alone {
			return nil, Refuse(l.seeHelp(), "%s needs one of: %s", l.name(), strings.Join(commandNames(c.Commands), ", "))
		}
	}
	global, levels, err := l.sorted()
	if err != nil && !l.help {
		return nil, err
	}
	out := global
	for i, c := range l.path {
		out = append(out, c.Name)
		if !l.help {
			out = append(out, levels[i]...)
		}
	}
	if l.help {
		return append(out, "--help"), nil
	}
	if len(l.words) > 0 {
		out = append(append(out, "--"), l.words...)
	}
	return out, nil
}

// sorted gives each option to the last command that has it, else to the global
// ones. With an error it returns the global options that are right.
func (l *line) sorted() (global []string, levels [][]string, err error) {
	levels = make([][]string, len(l.path))
	seen := map[*Flag]bool{}
	for _, g := range l.options {
		f, level := l.owner(g.name)
		text, wrong := l.canonical(g, f, seen)
		switch {
		case wrong == nil && level < 0:
			global = append(global, text)
		case wrong == nil:
			levels[level] = append(levels[level], text)
		case err == nil:
			err = wrong
		}
	}
	return global, levels, err
}

func (l *line) owner(name string) (f *Flag, level int) {
	for level = len(l.path) - 1; level >= 0; level-- {
		if f = findFlag(l.path[level].Flags, name); f != nil {
			return f, level
		}
	}
	return findFlag(l.spec.Global, name), -1
}

func (l *line) canonical(g given, f *Flag, seen map[*Flag]bool) (string, error) {
	switch {
	case f == nil && g.name == "version":
		return "", Refuse("write "+l.spec.program()+" --version", "--version stands alone")
	case f == nil:
		return "", l.noOption(g)
	case seen[f] && !f.Many && f.TakesValue:
		return "", Refuse("give it once", "--%s stands twice", f.Name)
	}
	seen[f] = true
	if f.TakesValue {
		if !g.hasValue { // an option that stood before its command, where it seemed to take none
			return "", needsValue(f, "")
		}
		return "--" + f.Name + "=" + g.value, nil
	}
	if !g.hasValue {
		return "--" + f.Name, nil
	}
	switch strings.ToLower(g.value) {
	case "true", "yes", "1":
		return "--" + f.Name, nil
	case "false", "no", "0":
		return "--" + f.Name + "=false", nil
	}
	return "", Refuse("write --"+f.Name+" alone", "--%s takes no value, and %s was given", f.Name, Quote(g.value))
}

func (l *line) noOption(g given) error {
	sets := [][]Flag{l.spec.Global, {{Name: "help"}, {Name: "version"}}}
	for _, c := range slices.Backward(l.path) {
		sets = append(sets, c.Flags)
	}
	advice := l.seeHelp()
	if near := Nearest(g.name, flagNames(sets...)); near != "" {
		advice = "did you mean --" + near + "? " + advice
	}
	shown, _, _ := strings.Cut(g.token, "=")
	if len(l.path) == 0 {
		return Refuse(advice, "no option %s", Quote(shown))
	}
	return Refuse(advice, "%s has no option %s", l.name(), Quote(shown))
}
