package main

import (
	"strconv"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/said"
	"traybook/cmd/traybook/screen"
	"traybook/projections/report"
)

func sessionsCommand(env *Env) *cli.Command {
	return &cli.Command{
		Name: "sessions", Usage: "the outings, and what was made in them", Category: forLook,
		UsageText: "traybook sessions\ntraybook sessions --all --json",
		Flags: []cli.Flag{
			&cli.BoolFlag{Name: "all", Usage: "list all, not the latest 50"},
			asOfFlag(),
		},
		Action: func(c *cli.Context) error {
			if err := noWords(c); err != nil {
				return err
			}
			return runQuery(env, c, func(q *query) error {
				r, err := report.Sessions(q.snap, c.Bool("all"))
				if err != nil {
					return err
				}
				if done, err := q.json(r); done {
					return err
				}
				return q.show(func(s *screen.Screen) { showSessions(s, r) })
			})
		},
	}
}

func showSessions(s *screen.Screen, r report.SessionsReport) {
	if len(r.Sessions) == 0 {
		s.Say(screen.Plain, "No session was opened yet. traybook session open begins one.")
		return
	}
	t := screen.Table{Columns: []screen.Column{{Title: "session", Elastic: true}, {Title: "opened"}, {Title: "closed"}, {Title: "place", Elastic: true},
		{Title: "light"}, {Title: "negatives", Right: true}, {Title: "prints", Right: true}, {Title: "kept", Right: true},
		{Title: "redo", Right: true}, {Title: "rejected", Right: true}, {Title: "waiting", Right: true}}}
	for _, x := range r.Sessions {
		tone, closed := screen.Plain, "now, open"
		if x.Open {
			tone = screen.Good
			if s.Width >= sessionsWide {
				closed = "open"
			}
		} else {
			closed = closedAt(said.Text(x.OpenedAt), *x.ClosedAt)
		}
		if s.Width < sessionsWide {
			stack(s, tone, joined(", ", x.Session, said.Text(x.Place)), said.StampOf(said.Text(x.OpenedAt))+" to "+closed, said.Text(x.Light), said.Counts(x))
		}
		t.AddIn(tone, x.Session, said.StampOf(said.Text(x.OpenedAt)), closed, said.Text(x.Place), said.Text(x.Light), strconv.Itoa(x.Negatives),
			strconv.Itoa(x.Prints), some(x.Kept), some(x.Redo), some(x.Rejected), some(x.Waiting))
	}
	if s.Width >= sessionsWide {
		s.Table(t)
	}
	if r.More {
		s.Say(screen.Faint, "Earlier ones are not shown; --all lists all.")
	}
}

// some is a count, nothing for none.
func some(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

// closedAt writes the hour alone where a session ended on the day on which it began.
func closedAt(opened, closed string) string {
	a, b := said.StampOf(opened), said.StampOf(closed)
	if len(a) == len(b) && len(a) > 11 && a[:11] == b[:11] {
		return b[11:]
	}
	return b
}
