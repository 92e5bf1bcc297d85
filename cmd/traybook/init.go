package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"strings"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/screen"
	"traybook/events"
	"traybook/events/sqlite"
	"traybook/projections/acts"
	"traybook/projections/wording"
)

func initCommand(env *Env) *cli.Command {
	return &cli.Command{
		Name: "init", Usage: "make a new book", Category: forSetUp,
		UsageText: lines("traybook init", "traybook init --zone Europe/Oslo --owner \"Oda Fjeld\"", "traybook init --book season.db"),
		Description: "Asks for what was not given when a person sits at the terminal and no line waits there, as of a pasted set-up; else takes\n" +
			"the zone of TZ or of the machine and no owner.",
		Flags: actFlags(events.BookOpened),
		Action: func(c *cli.Context) error {
			if err := noWords(c); err != nil {
				return err
			}
			return initBook(env, c)
		},
	}
}

func initBook(env *Env, c *cli.Context) error {
	path, err := bookPath(env, c)
	if err != nil {
		return err
	}
	data, err := parseAct(events.BookOpened, c, nil, nil)
	if err != nil {
		return err
	}
	x := data.(*events.BookOpenedData)
	unasked := unaskedFor(env, x)
	if err := askForBook(env, x); err != nil {
		return err
	}
	if err := events.Validate(x); err != nil {
		return err
	}
	zone, err := line.Zone(x.Zone)
	if err != nil {
		return line.WrongLine(err)
	}
	now := moment(env.Now()).In(zone)
	at, fromMark, err := atOf(c, now, zone)
	if err != nil {
		return err
	}
	if fromMark {
		return line.WrongLinef("give the time: --at 14:05", "a new book has no mark")
	}
	if err := mayStand(env, c, path); err != nil {
		return err
	}
	var answer wording.Answer
	err = sqlite.CreateFilled(path, bookOptions(false), func(book *sqlite.Book) error {
		return book.Write(func(tx *sqlite.Tx) error {
			e := events.Entry{Kind: events.BookOpened, At: moment(at), Zone: x.Zone, Data: x, ID: newID(), Book: newID(), RecordedAt: now}
			if err := tx.Append(&e); err != nil {
				return err
			}
			if answer, err = acts.AnswerTo(tx, e); err != nil {
				return err
			}
			return keepZone(tx)
		})
	})
	if errors.Is(err, fs.ErrExist) {
		return thereAlready(path, false)
	}
	if err != nil {
		return err
	}
	env.written = true
	if c.Bool("json") {
		return printAnswer(env, c, answer)
	}
	s := screenOf(env, c)
	flow(s, []string{answer.Understood, path, "next: " + answer.Next})
	if unasked != "" {
		s.Hang(screen.Warn, "  ! ", "not asked, since the next lines wait already; to put it right: traybook amend "+short(answer.Entry.ID)+unasked)
	}
	return s.Err()
}

// unaskedFor is what a person at the terminal is not asked for, as amend takes it, "" for nothing.
func unaskedFor(env *Env, x *events.BookOpenedData) (fields string) {
	if !env.terminal(env.InFD) || env.canAsk() {
		return ""
	}
	if x.Zone == "" {
		fields += " zone=Europe/Oslo"
	}
	if x.Owner == "" {
		fields += " owner=NAME"
	}
	return fields
}

// askForBook settles zone and owner: as given, as a person at the terminal says, else as the machine has it.
func askForBook(env *Env, x *events.BookOpenedData) error {
	machine := env.zone().String()
	if _, err := line.Zone(machine); err != nil {
		machine = ""
	}
	if !env.canAsk() || x.Zone != "" && x.Owner != "" {
		if x.Zone == "" && machine == "" {
			return line.Refuse("give it: --zone Europe/Oslo", "the time zone of this machine is not known by a name")
		}
		if x.Zone == "" {
			x.Zone = machine
		}
		return nil
	}
	env.long() // who is asked can leave
	cutOff := line.Refuse("give it by options: traybook init --zone Europe/Oslo --owner NAME", "the answer was cut off; nothing was made")
	in := bufio.NewReader(env.In)
	for x.Zone == "" {
		text, err := ask(env, in, "Time zone of the place", machine, cutOff)
		if err != nil {
			return err
		}
		if _, err := line.Zone(text); err != nil {
			problem, hint := problemOf(err)
			fmt.Fprintf(env.Err, "%s; %s\n", problem, hint)
			continue
		}
		x.Zone = text
	}
	if x.Owner == "" {
		text, err := ask(env, in, "Whose book is it (may be left empty)", "", cutOff)
		if err != nil {
			return err
		}
		x.Owner = text
	}
	return nil
}

// ask puts one question on the stream for everything but data. offered is what a bare return means, and cutOff the
// refusal where no answer comes.
func ask(env *Env, in *bufio.Reader, question, offered string, cutOff error) (string, error) {
	if offered != "" {
		question += " [" + offered + "]"
	}
	fmt.Fprintf(env.Err, "%s: ", question)
	text, err := in.ReadString('\n')
	if err == io.EOF && strings.TrimSpace(text) == "" {
		return "", cutOff
	}
	if err != nil && err != io.EOF {
		return "", fmt.Errorf("the answer could not be read: %w", err)
	}
	if text = strings.TrimSpace(text); text == "" {
		return offered, nil
	}
	return text, nil
}
