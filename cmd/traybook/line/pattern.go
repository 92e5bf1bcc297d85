package line

import (
	"regexp"
	"sync"
)

// Pattern is a regular expression, not yet compiled perhaps.
type Pattern struct {
	expression string
	once       sync.Once
	known      *regexp.Regexp
}

// NewPattern takes an expression that is known to be good; a bad one panics at its first use.
func NewPattern(expression string) *Pattern {
	return &Pattern{expression: expression}
}

func (p *Pattern) compiled() *regexp.Regexp {
	p.once.Do(func() { p.known = regexp.MustCompile(p.expression) })
	return p.known
}

// MatchString says whether s holds a match.
func (p *Pattern) MatchString(s string) bool { return p.compiled().MatchString(s) }

// FindString gives the leftmost match in s, "" for none.
func (p *Pattern) FindString(s string) string { return p.compiled().FindString(s) }

// FindStringSubmatch gives the leftmost match in s and its groups, nil for none.
func (p *Pattern) FindStringSubmatch(s string) []string { return p.compiled().FindStringSubmatch(s) }

// ReplaceAllString puts another text, in which $1 stands for the first group, in the place of every match.
func (p *Pattern) ReplaceAllString(s, by string) string { return p.compiled().ReplaceAllString(s, by) }
