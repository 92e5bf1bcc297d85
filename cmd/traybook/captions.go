package main

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/said"
	"traybook/cmd/traybook/screen"
	"traybook/events"
	"traybook/projections/report"
	"traybook/projections/wording"
)

func captionsCommand(env *Env) *cli.Command {
	return &cli.Command{
		Name: "captions", Usage: "the evening pass: subject, sitter and verdict of one picture after another", Category: forActs,
		UsageText: lines("traybook captions", "traybook captions --all"),
		Description: "It asks for what the pictures of the last days lack: those without subject or sitter, and finished sheets that nobody\n" +
			"has judged; the newest session first. An answer is one line: a text, a name, or a number of those that it shows. An\n" +
			"empty line leaves the question, q ends. Each answer is written at once, as `traybook amend` and `traybook judge` write\n" +
			"it, and traybook void takes it back. Where nobody is at a terminal the answers are the lines of the standard input.\n" +
			"With --json it lists what it would ask for, and asks nothing.",
		Flags: []cli.Flag{&cli.BoolFlag{Name: "all", Usage: "the latest forty pictures, whatever they lack"}},
		Action: func(c *cli.Context) error {
			if err := noWords(c); err != nil {
				return err
			}
			path, err := bookPath(env, c)
			if err != nil {
				return err
			}
			a := &captions{env: env, c: c, path: path, s: screenOf(env, c), in: bufio.NewReader(env.In)}
			if err := runQuery(env, c, func(q *query) (err error) {
				a.asked, err = report.Captions(q.snap, c.Bool("all"))
				return err
			}); err != nil {
				return err
			}
			if c.Bool("json") {
				return writeJSON(env.Out, a.asked)
			}
			return a.run()
		},
	}
}

// captions goes through pictures and asks for their words.
type captions struct {
	env     *Env
	c       *cli.Context
	path    string
	s       *screen.Screen
	in      *bufio.Reader
	asked   report.CaptionsReport
	ended   bool // by q, or because no line is left
	written int
	listed  bool // the symptoms were shown
}

func (a *captions) run() error {
	if len(a.asked.Pictures) == 0 {
		if a.c.Bool("all") {
			a.s.Say(screen.Plain, "No picture is in the book.")
		} else {
			a.s.Say(screen.Plain, "No picture waits for words; traybook captions --all goes through the latest.")
		}
		return a.s.Err()
	}
	a.s.Say(screen.Faint, wording.CountOf(len(a.asked.Pictures), "picture")+". An empty line leaves a question, q ends.")
	for _, p := range a.asked.Pictures {
		if err := a.picture(p); err != nil {
			return err
		}
		if a.ended {
			break
		}
	}
	a.s.Say(screen.Plain, wording.CountOf(a.written, "answer")+" written.")
	return a.s.Err()
}

func (a *captions) picture(p report.Caption) error {
	head := p.Picture + ", exposed " + said.StampOf(p.At)
	for _, x := range []*string{p.Subject, p.Sitter} {
		if x != nil {
			head += ", " + *x
		}
	}
	a.s.Say(screen.Strong, head)
	all := a.c.Bool("all")
	if p.Subject == nil || all {
		if err := a.ask("subject?", func(text string) (bool, error) { return a.subject(p.Picture, text) }); err != nil {
			return err
		}
	}
	if p.Sitter == nil || all {
		people, err := a.people()
		if err != nil {
			return err
		}
		if err := a.ask(people, func(text string) (bool, error) {
			if sitterNumber.MatchString(text) {
				text = "sitter-" + text
			}
			return a.act("amend", "--", p.Picture, "sitter="+text)
		}); err != nil {
			return err
		}
	}
	for _, sheet := range p.Unjudged {
		if err := a.ask(sheet+": 1=keep, 2=redo, 3=reject?", func(text string) (bool, error) { return a.judge(sheet, text) }); err != nil {
			return err
		}
	}
	return nil
}

// subject writes a subject. As on the command line, --even-so behind it keeps one that holds a sitter's name.
func (a *captions) subject(picture, text string) (bool, error) {
	words := []string{"amend"}
	if kept, evenSo := strings.CutSuffix(text, " --even-so"); evenSo {
		text, words = kept, append(words, "--even-so")
	}
	return a.act(append(words, "--", picture, "subject="+text)...)
}

var sitterNumber = line.NewPattern(`^\d{1,9}(@\d{1,3})?$`)

// mostSitters is how many sitters a question shows.
const mostSitters = 12

// people is the question for the sitter, with the sitters by their numbers.
func (a *captions) people() (string, error) {
	var rows []events.SitterRow
	err := runQuery(a.env, a.c, func(q *query) (err error) {
		rows, err = q.tx.Sitters()
		return err
	})
	var shown []string
	for _, r := range rows[max(0, len(rows)-mostSitters):] {
		shown = append(shown, strings.TrimPrefix(r.Ref, "sitter-")+"="+r.Name)
	}
	switch {
	case len(shown) == 0:
		return "sitter? A name writes one in.", err
	case len(shown) < len(rows):
		shown = append(shown, "… traybook sitter list shows all")
	}
	return "sitter? " + strings.Join(shown, ", ") + "; or a new name", err
}

// judge writes a verdict. What is seen may stand behind it in the same line, and is asked for where it does not.
func (a *captions) judge(sheet, text string) (bool, error) {
	typed := strings.Fields(text)
	verdict := numbered(typed[0], []string{"keep", "redo", "reject"})
	seen := typed[1:]
	if len(seen) == 0 && (verdict == "redo" || verdict == "reject") {
		question := "what is seen? Words or numbers; ? lists them."
		if !a.listed {
			question = symptomsByNumber()
			a.listed = true
		}
		a.s.Say(screen.Plain, question)
		answer, err := a.line()
		if answer == "?" && err == nil {
			a.s.Say(screen.Plain, symptomsByNumber())
			answer, err = a.line()
		}
		if err != nil {
			return false, err
		}
		if !a.ended { // who ends here has said the verdict
			seen = strings.Fields(strings.ReplaceAll(answer, ",", " "))
		}
	}
	words := []string{"judge", verdict, "--sheet=" + sheet}
	for _, w := range seen {
		words = append(words, numbered(w, events.Symptoms))
	}
	return a.act(words...)
}

// numbered is a word, or the one of a list that its number stands for.
func numbered(word string, list []string) string {
	if n, err := strconv.Atoi(word); err == nil && !strings.HasPrefix(word, "+") && n >= 1 && n <= len(list) {
		return list[n-1]
	}
	return word
}

func symptomsByNumber() string {
	var out []string
	for i, w := range events.Symptoms {
		out = append(out, fmt.Sprintf("%d=%s", i+1, w))
	}
	return "what is seen? Words or numbers: " + strings.Join(out, ", ")
}

// ask asks until an answer is taken, or the question is left.
func (a *captions) ask(question string, take func(text string) (taken bool, err error)) error {
	for !a.ended {
		a.s.Say(screen.Plain, question)
		text, err := a.line()
		if err != nil || text == "" || a.ended {
			return err
		}
		if taken, err := take(text); err != nil || taken {
			return err
		}
	}
	return a.s.Err()
}

// line reads an answer; ended says that there is none any more.
func (a *captions) line() (string, error) {
	if a.env.terminal(a.env.InFD) {
		fmt.Fprint(a.env.Out, "> ")
	}
	text, err := a.in.ReadString('\n')
	if err == io.EOF {
		err = nil
		a.ended = text == ""
	}
	text = strings.TrimSpace(text)
	a.ended = a.ended || err == nil && strings.EqualFold(text, "q")
	return text, err
}

// act runs an act of the command line and tells in short what it answered. taken is false where it was refused.
func (a *captions) act(words ...string) (taken bool, err error) {
	code, out, errs := runLine(*a.env, slices.Insert(slices.Clone(words), 1, "--json", "--book="+a.path)...)
	if code != codeDone {
		var no struct {
			Error string
			Hint  string
		}
		if json.Unmarshal([]byte(errs), &no) != nil || no.Error == "" {
			return false, fmt.Errorf("the answer came to nothing: %s", strings.TrimSpace(errs))
		}
		a.s.Hang(screen.Warn, "  ! ", no.Error)
		if no.Hint != "" {
			a.s.Hang(screen.Plain, "    ", no.Hint)
		}
		return false, a.s.Err()
	}
	a.written++
	a.env.written = true
	var done struct {
		ID       string
		Warnings []string
	}
	if err := json.Unmarshal([]byte(out), &done); err != nil {
		return true, err
	}
	a.s.Hang(screen.Faint, "  ", "written; to take it back: traybook void "+wording.ShortID(done.ID))
	for _, w := range done.Warnings {
		a.s.Hang(screen.Warn, "  ! ", w)
	}
	return true, a.s.Err()
}
