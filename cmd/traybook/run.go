package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"runtime/debug"
	"slices"
	"strings"
	"syscall"

	"traybook/calc"
	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/screen"
	"traybook/events"
	"traybook/projections/wording"
)

// The exit codes, as the contract has them.
const (
	codeDone    = 0
	codeRefused = 1
	codeUsage   = 2
	codeDamaged = 3
	codeBusy    = 4
	codeFault   = 70
	codeUntold  = 74 // done and safe, but the answer could not be shown
	codeStopped = 130
	codePiped   = 141 // who read the answer left before its end; nothing was written, and nothing is to be said
)

// run obeys one command line and returns the exit code.
func run(env Env) (code int) {
	env.Args = slices.Clone(env.Args)
	flags, _, _ := cutDashes(env.Args)
	asJSON, trace := slices.Contains(flags, "--json"), slices.Contains(flags, "--debug")
	defer func() {
		if r := recover(); r != nil {
			fault := errors.New("internal error, nothing was written")
			if env.written {
				fault = errors.New("internal error after it was written; do not do it again")
			}
			tellFailure(env, fault, asJSON)
			if trace {
				fmt.Fprintf(env.Err, "%v\n%s", r, debug.Stack())
			}
			code = codeFault
		}
	}()
	out := &answerWriter{w: env.Out, env: &env}
	env.Out = out
	err := obey(&env)
	if !asJSON { // also where an error follows: what was written before it bears that moment
		tellClock(&env, slices.Contains(flags, "--no-color"))
	}
	err = out.unheard(&env, err)
	if env.page != nil {
		env.page.wrong = err
	}
	tellFailure(env, err, asJSON)
	return exitCode(err)
}

func obey(env *Env) error {
	if slices.Equal(env.Args, []string{"--version"}) {
		return printVersion(env, false)
	}
	app := newAppFor(env, env.Args)
	args, err := line.Reorder(line.JoinTimes(env.Args), specOf(app))
	if err != nil {
		return line.WrongLine(err)
	}
	if path, ok := helpWanted(args); ok {
		return asText(env, func(env *Env) error { return printHelp(env, newApp(env), path) })
	}
	if slices.Equal(args, []string{"--version"}) {
		return printVersion(env, slices.Contains(env.Args, "--json"))
	}
	if err := env.setClock(); err != nil {
		return err
	}
	return app.Run(append([]string{app.Name}, args...))
}

// textJSON is what a person would read, for a script.
type textJSON struct {
	Text string `json:"text"`
}

// asText puts what a person would read into one JSON object, where JSON is asked for.
func asText(env *Env, show func(*Env) error) error {
	if typed, _, _ := cutDashes(env.Args); !slices.Contains(typed, "--json") {
		return show(env)
	}
	var text strings.Builder
	inside := *env
	inside.Out = &text
	if err := show(&inside); err != nil {
		return err
	}
	return writeJSON(env.Out, textJSON{text.String()})
}

// helpWanted reads what line.Reorder makes of a wish for help: the command and --help alone, after global options.
func helpWanted(args []string) (path []string, ok bool) {
	if len(args) == 0 || args[len(args)-1] != "--help" || slices.Contains(args, "--") {
		return nil, false
	}
	for _, a := range args[:len(args)-1] {
		if !strings.HasPrefix(a, "-") {
			path = append(path, a)
		}
	}
	return path, true
}

func cutDashes(args []string) (before, after []string, found bool) {
	if i := slices.Index(args, "--"); i >= 0 {
		return args[:i], args[i+1:], true
	}
	return args, nil, false
}

// status is an exit code whose reason has been told already, as verify does.
type status int

func (s status) Error() string { return fmt.Sprintf("exit status %d", int(s)) }

func exitCode(err error) int {
	var s status
	no := wording.RefusalIn(err)
	var deaf *untold
	switch {
	case err == nil:
		return codeDone
	case errors.As(err, &s):
		return int(s)
	case errors.As(err, &deaf):
		return codeUntold
	case no != nil && no.Line:
		return codeUsage
	case errors.Is(err, context.Canceled):
		return codeStopped
	case errors.Is(err, events.ErrDamaged):
		return codeDamaged
	case errors.Is(err, events.ErrBusy), errors.Is(err, errChanged):
		return codeBusy
	}
	return codeRefused
}

// errChanged says that the book became another while a command was at work.
var errChanged = errors.New("the book was changed meanwhile by another program; nothing was written: do it again")

// errorJSON is a failure as scripts read it, on the stream for errors.
type errorJSON struct {
	Error  string         `json:"error"`
	Hint   *string        `json:"hint"`
	Line   *int           `json:"line"`
	Code   string         `json:"code,omitempty"`   // names the refusal, whatever its words
	Fields map[string]any `json:"fields,omitempty"` // what differs from case to case in it
}

// tellFailure tells an error on the stream for errors: a line and a hint, or one object.
func tellFailure(env Env, err error, asJSON bool) {
	var s status
	if err == nil || errors.As(err, &s) {
		return
	}
	if env.LastWord != nil {
		env.LastWord()
	}
	problem, may, hint := partsOf(err)
	if errors.Is(err, context.Canceled) {
		problem = "stopped by hand; nothing was written"
		if env.written {
			problem = "stopped by hand; what was written before stays written"
		}
	}
	if asJSON && hint == "" {
		hint = may
	} else {
		problem = inOne(problem, may)
	}
	problem, hint = screen.Clean(clipped(problem)), screen.Clean(clipped(hint))
	if !asJSON {
		if env.terminal(env.ErrFD) { // for eyes; what reads a stream gets a line each
			s := screen.Detect(env.Err, env.ErrFD, true, env.Around)
			s.Say(screen.Plain, "traybook: "+problem)
			if hint != "" {
				s.Hang(screen.Plain, "  ", hint)
			}
			return
		}
		fmt.Fprintf(env.Err, "traybook: %s\n", problem)
		if hint != "" {
			fmt.Fprintf(env.Err, "  %s\n", hint)
		}
		return
	}
	told := errorJSON{Error: problem}
	told.Code, told.Fields = codeOf(err)
	if hint != "" {
		told.Hint = &hint
	}
	var at *events.LineError
	if errors.As(err, &at) {
		told.Line = &at.N
	}
	writeJSON(env.Err, told)
}

// codeOf is the code of a refusal and its fields by their names, as scripts tell refusals apart; "" for what has none, as
// the door's own words and what the system says.
func codeOf(err error) (code string, fields map[string]any) {
	if of := (*events.FieldError)(nil); errors.As(err, &of) {
		fields = map[string]any{"kind": of.Kind}
		for name, text := range map[string]string{"field": of.Field, "value": of.Value, "takes": of.Takes} {
			if text != "" {
				fields[name] = clipped(text)
			}
		}
		return "field", fields
	}
	no := wording.RefusalIn(err)
	if no == nil || line.InOwnWords(no) {
		return "", nil
	}
	return no.Of.Code, no.ByName()
}

// clipped keeps an error from repeating the whole of what was typed or read, where that was long beyond sense.
func clipped(s string) string {
	const longest = 1000
	if r := []rune(s); len(r) > longest {
		return string(r[:longest]) + "…"
	}
	return s
}

// problemOf parts any error of the house into what is wrong and what to do.
func problemOf(err error) (problem, hint string) {
	problem, may, hint := partsOf(err)
	return inOne(problem, may), hint
}

// inOne puts what may stand there behind what is wrong.
func inOne(problem, may string) string {
	if may == "" {
		return problem
	}
	return problem + "; " + may
}

// partsOf parts any error of the house into what is wrong, what may stand there, and what to do.
func partsOf(err error) (problem, may, hint string) {
	if err == nil {
		return "", "", ""
	}
	var at *events.LineError
	var of *about
	switch no := wording.RefusalIn(err); {
	case errors.As(err, &at):
		problem, may, hint = partsOf(at.Err)
		return fmt.Sprintf("line %d: %s", at.N, problem), may, hint
	case errors.As(err, &of):
		problem, may, hint = partsOf(of.err)
		return of.what + problem, may, hint
	case no != nil:
		return no.Text(), "", no.Hint()
	}
	switch e := err.(type) {
	case *events.FieldError:
		return explainField(e, "--")
	case *calc.RangeError:
		return e.Says(), e.May(), ""
	}
	return err.Error(), "", systemAdvice(err)
}

// about puts before an error what it is about, such as one file of several.
type about struct {
	what string // up to the error's own words
	err  error
}

func (e *about) Error() string { return e.what + e.err.Error() }

func (e *about) Unwrap() error { return e.err }

// systemAdvice says what to do about what the system could not do.
func systemAdvice(err error) string {
	switch {
	case errors.Is(err, syscall.EIO):
		return "check the disk, or write to another one"
	case errors.Is(err, syscall.ENOSPC):
		return "make room, or write elsewhere"
	}
	return ""
}

// root is the innermost cause of an error of the system, which alone speaks in plain words.
func root(err error) error {
	for {
		inner := errors.Unwrap(err)
		if inner == nil {
			return err
		}
		err = inner
	}
}

// runLine runs a line inside the program, for a front end that writes what a hand would have written: without a terminal, and
// with what is told as texts.
func runLine(env Env, words ...string) (code int, out, errs string) {
	var told, wrong bytes.Buffer
	env.Args = words
	env.In, env.Out, env.Err = strings.NewReader(""), &told, &wrong
	env.InFD, env.OutFD, env.ErrFD = -1, -1, -1
	env.LastWord, env.clockBack, env.written = nil, nil, false
	lookup := env.Around.Lookup
	env.Around.Lookup = func(name string) (string, bool) {
		if name == "COLUMNS" { // what is shown elsewhere is broken into lines there
			return "500", true
		}
		return lookup(name)
	}
	code = run(env)
	return code, told.String(), wrong.String()
}
