package main

import (
	"errors"
	"io"
	"syscall"

	"traybook/cmd/traybook/refusal"
)

// answerWriter is the stream for answers. It remembers its first error and takes everything from then on in silence: an
// act that is in the book is carried to its end whether or not anybody can read what came of it.
type answerWriter struct {
	w   io.Writer
	env *Env // what each answer of this run has to tell beside its own; nil for nothing
	err error
}

func (a *answerWriter) Write(p []byte) (int, error) {
	if a.err == nil {
		_, a.err = a.w.Write(p)
	}
	return len(p), nil
}

// dataWriter is the same stream where what is asked for itself goes to it, a table say: who makes it hears of the error
// and stops.
type dataWriter struct{ *answerWriter }

func (d dataWriter) Write(p []byte) (int, error) {
	d.answerWriter.Write(p)
	if d.err != nil {
		return 0, d.err
	}
	return len(p), nil
}

// data is the stream for answers as it is to those who write their whole result to it.
func (e *Env) data() io.Writer {
	if a, ok := e.Out.(*answerWriter); ok {
		return dataWriter{a}
	}
	return e.Out
}

// unheard is what to tell where the answer could not be written out. err is what the command itself came to: it goes
// before, unless it is the same error.
func (a *answerWriter) unheard(env *Env, err error) error {
	switch {
	case a.err == nil || err != nil && !errors.Is(err, a.err):
		return err
	case env.written:
		return &untold{refusal.New("do not do it again: traybook today and traybook history show what is in the book",
			"written; the answer could not be shown: %s", root(a.err))}
	case errors.Is(a.err, syscall.EPIPE): // its reader has seen enough
		return status(codePiped)
	}
	return refusal.New("make room, or write elsewhere", "the answer could not be written out: %s", root(a.err))
}

// untold says that all was done and that only the answer is missing.
type untold struct{ error }

func (u *untold) Unwrap() error { return u.error }
