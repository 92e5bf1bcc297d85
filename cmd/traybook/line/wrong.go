package line

// LineWrong marks an error of the command line itself, as opposed to a request that was refused.
type LineWrong struct{ err error }

func (e *LineWrong) Error() string { return e.err.Error() }

func (e *LineWrong) Unwrap() error { return e.err }

func WrongLine(err error) error {
	if err == nil {
		return nil
	}
	return &LineWrong{err}
}

// WrongLinef is WrongLine for an error that says what is wrong and what to type.
func WrongLinef(advice, format string, args ...any) error {
	return WrongLine(Refuse(advice, format, args...))
}
