package line

import (
	"slices"
	"strings"
)

// given is an option as it was typed.
type given struct {
	token    string // as it stood on the line
	name     string
	value    string
	hasValue bool
}

// line is a command line while it is being read.
type line struct {
	spec    *Spec
	path    []*Command
	words   []string // positional
	options []given
	help    bool
}

// Reorder takes the words after the program's name and returns them as: global
// options, then each command followed by its options, then "--" and the
// positional words. Options come out as --name=value under their first name,
// commands under their full name.
//
// A word that begins with a hyphen and a digit is a negative number, "-" alone
// is a word; after "--" all are words. --help or -h anywhere, and the words help
// COMMAND, give the command and --help alone; --version gives --version alone.
//
// Errors: a command or option that does not exist, with the nearest one; the
// beginning of several commands; a missing subcommand; an option without its
// value, with one it does not take, or given twice.
func Reorder(args []string, spec Spec) ([]string, error) {
	l := &line{spec: &spec}
	onlyWords := false
	for i := 0; i < len(args); i++ {
		word := args[i]
		switch {
		case onlyWords:
			if err := l.word(word); err != nil {
				return nil, err
			}
		case word == "--":
			onlyWords = true
		case isOption(word):
			skip, err := l.option(word, args[i+1:])
			if err != nil && !asksHelp(args[i+1:]) {
				return nil, err
			}
			i += skip
		default:
			if err := l.word(word); err != nil {
				return nil, err
			}
		}
		if len(l.path) == 0 && len(l.words) == 0 && len(l.options) > 0 && l.options[len(l.options)-1].name == "version" {
			return []string{"--version"}, nil
		}
	}
	return l.arranged()
}

// group returns the commands one of which the next word names, nil if words are
// positional.
func (l *line) group() []Command {
	if len(l.path) == 0 {
		return l.spec.Commands
	}
	if len(l.words) > 0 {
		return nil
	}
	return l.path[len(l.path)-1].Commands
}

func (l *line) word(word string) error {
	group := l.group()
	if group == nil {
		l.words = append(l.words, word)
		return nil
	}
	c, several := findCommand(group, word)
	switch {
	case c != nil:
		l.path = append(l.path, c)
		return nil
	case strings.EqualFold(word, "help") || strings.EqualFold(word, "h"):
		l.help = true
		return nil
	case l.help && len(l.path) > 0:
		return nil // help for a command and one of its words
	case len(l.path) > 0 && l.path[len(l.path)-1].Alone:
		l.words = append(l.words, word)
		return nil
	case len(several) > 1:
		return Refuse("write more of it", "%s can be %s", Quote(word), either(several))
	case len(several) == 1:
		return Refuse("write "+several[0]+" in full", "%s is short for %s, which is never shortened", Quote(word), several[0])
	}
	return l.noCommand(word, group)
}

func (l *line) noCommand(word string, group []Command) error {
	advice := l.seeHelp()
	if near := Nearest(word, commandNames(group)); near != "" {
		advice = "did you mean " + near + "? " + advice
	}
	if len(l.path) == 0 {
		return Refuse(advice, "no command %s", Quote(word))
	}
	return Refuse(advice, "%s has no %s", l.name(), Quote(word))
}

func (l *line) name() string {
	names := make([]string, len(l.path))
	for i, c := range l.path {
		names[i] = c.Name
	}
	return strings.Join(names, " ")
}

func (l *line) seeHelp() string {
	call := strings.TrimRight(l.spec.program()+" "+l.name(), " ")
	return call + " --help lists what there is"
}

func either(names []string) string {
	last := len(names) - 1
	return strings.Join(names[:last], ", ") + " or " + names[last]
}

var (
	// A phone turns two hyphens into one dash.
	optionShape = NewPattern(`^(?:--?|—|–)([\pL][\pL\d_-]*)(?:=((?s).*))?$`)
	numberShape = NewPattern(`^[-–][\d.,½⅓⅔¼¾⅛⅜⅝⅞]`)
	beginsLike  = NewPattern(`^--?[^\s\d-]|^---`)
)

// isOption tells an option from a word and from a negative number.
func isOption(word string) bool {
	if strings.IndexAny(word, "-—–") != 0 {
		return false // most words, told without an expression
	}
	if optionShape.MatchString(word) {
		return true
	}
	return beginsLike.MatchString(word) && !numberShape.MatchString(word) && word != "--"
}

func asksHelp(args []string) bool {
	for _, a := range args {
		if a == "--" {
			return false
		}
		if a == "--help" || a == "-h" {
			return true
		}
	}
	return false
}

// flag looks an option up: in the commands named so far from the last to the
// first, in the global options, and, while a subcommand may still come, below.
func (l *line) flag(name string) *Flag {
	for _, c := range slices.Backward(l.path) {
		if f := findFlag(c.Flags, name); f != nil {
			return f
		}
	}
	if f := findFlag(l.spec.Global, name); f != nil {
		return f
	}
	if group := l.group(); group != nil {
		return findBelow(group, name)
	}
	return nil
}

// option reads one option and says how many of the following words it took.
func (l *line) option(token string, after []string) (took int, err error) {
	m := optionShape.FindStringSubmatch(token)
	if m == nil {
		return 0, Refuse("put -- in front of words that begin with a hyphen", "%s is no option", Quote(token))
	}
	g := given{token: token, name: strings.ReplaceAll(strings.ToLower(m[1]), "_", "-"), value: m[2], hasValue: strings.Contains(token, "=")}
	f := l.flag(g.name)
	if f == nil && (g.name == "help" || g.name == "h") {
		l.help = true
		return 0, nil
	}
	if f == nil && g.name == "v" {
		g.name = "version"
	}
	if f != nil && f.TakesValue && !g.hasValue {
		if len(after) == 0 {
			return 0, needsValue(f, "")
		}
		if next := after[0]; next == "--" || optionShape.MatchString(next) && !numberShape.MatchString(next) {
			return 0, needsValue(f, next)
		}
		g.value, g.hasValue, took = after[0], true, 1
	}
	l.options = append(l.options, g)
	return took, nil
}

func needsValue(f *Flag, next string) error {
	example := f.Example
	if example == "" {
		example = "VALUE"
	}
	if next == "" {
		return Refuse("write --"+f.Name+" "+example, "--%s needs a value", f.Name)
	}
	return Refuse("write --"+f.Name+" "+example+", or --"+f.Name+"="+next+" if that is the value",
		"--%s needs a value, but %s follows", f.Name, Quote(next))
}
