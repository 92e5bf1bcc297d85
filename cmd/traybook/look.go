package main

import (
	"bytes"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/clock"
	"traybook/cmd/traybook/screen"
	"traybook/events"
	"traybook/events/sqlite"
	"traybook/projections"
)

// lookers are the commands that look back.
func lookers() []offer {
	return []offer{
		{"today", todayCommand}, {"pictures", picturesCommand}, {"history", historyCommand}, {"stock", stockCommand},
		{"baths", bathsCommand}, {"sessions", sessionsCommand},
	}
}

// The widths from which on the lists are tables. On a narrower screen they are stacked: a heading for each thing, and
// what is said of it under it.
const (
	narrow       = 70
	picturesWide = 90
	stockWide    = 100
	bathsWide    = 116
	sessionsWide = 112
)

// stack writes one thing of a list on a narrow screen.
func stack(s *screen.Screen, tone screen.Tone, title string, parts ...string) {
	if tone == screen.Plain {
		tone = screen.Strong
	}
	s.Say(tone, title)
	s.Hang(screen.Plain, "  ", joined(" · ", parts...))
}

// joined puts a sign between the parts that are not empty.
func joined(by string, parts ...string) string {
	return strings.Join(slices.DeleteFunc(parts, func(p string) bool { return p == "" }), by)
}

// asOfFlag is the option of every look-back that moves its moment.
func asOfFlag() cli.Flag {
	return &cli.StringFlag{Name: "as-of", Usage: "`2026-05-03` the book as it stood then; a bare day means its end"}
}

// looking is one look into the book.
type looking struct {
	env  *Env
	c    *cli.Context
	tx   *sqlite.Tx
	desk *projections.Desk
	now  time.Time // the clock, in the zone
	at   time.Time // the moment looked from: now, or --as-of
	zone *time.Location
}

// lookBack opens the book for reading and lays it open as of now, or as of --as-of.
func lookBack(env *Env, c *cli.Context, f func(*looking) error) error {
	return withBook(env, c, true, func(book *sqlite.Book) error {
		return book.Read(func(tx *sqlite.Tx) error {
			zone, err := zoneOf(env, tx)
			if err != nil {
				return err
			}
			l := &looking{env: env, c: c, tx: tx, zone: zone, now: env.Now().Round(0).In(zone)}
			l.at = l.now
			if c.IsSet("as-of") {
				if l.at, err = clock.ParseAsOf(c.String("as-of"), l.now, zone); err != nil {
					return wrongLine(err)
				}
			}
			l.desk = projections.NewDesk(tx, l.at)
			return f(l)
		})
	})
}

// json says that the answer is for a script, and gives it.
func (l *looking) json(v any) (bool, error) {
	if !l.c.Bool("json") {
		return false, nil
	}
	return true, writeJSON(l.env.Out, v)
}

// show lays an answer out on the screen and says so where it is longer than that.
func (l *looking) show(draw func(*screen.Screen)) error {
	count := &lineCounter{w: l.env.Out}
	s := l.screen(count)
	draw(s)
	if err := l.ahead(s); err != nil {
		return err
	}
	if rows, known := l.rows(); known && count.n >= rows {
		s.Say(screen.Faint, fmt.Sprintf("%d lines, more than this screen has; `| less` shows them page by page.", count.n+1))
	}
	return s.Err()
}

func (l *looking) screen(w io.Writer) *screen.Screen {
	s := screenOf(l.env, l.c)
	s.W = w
	return s
}

// ahead says that acts dated after now do not show.
func (l *looking) ahead(s *screen.Screen) error {
	if l.c.IsSet("as-of") {
		return nil
	}
	ahead, err := l.desk.Ahead()
	if err != nil || !ahead {
		return err
	}
	s.Say(screen.Warn, "Acts dated after now are in the book and do not show here; --as-of with a later day shows them.")
	return nil
}

// rows is the height of the screen: that of the terminal, else that of LINES. known is false where nothing scrolls.
func (l *looking) rows() (rows int, known bool) {
	if l.env.terminal(l.env.OutFD) {
		if _, rows, err := l.env.Around.Size(l.env.OutFD); err == nil && rows > 0 {
			return rows, true
		}
	}
	rows, err := strconv.Atoi(l.env.getenv("LINES"))
	return rows, err == nil && rows > 0
}

type lineCounter struct {
	w io.Writer
	n int
}

func (c *lineCounter) Write(p []byte) (int, error) {
	c.n += bytes.Count(p, []byte("\n"))
	return c.w.Write(p)
}

// more says how many things a list left out, and how to see them.
func more(n int, atLeast bool, what string) string {
	if atLeast {
		return fmt.Sprintf("More than %d more %s; --all lists all.", max(n, 1), what)
	}
	return fmt.Sprintf("%d more %s; --all lists all.", n, what)
}

// stampOf writes a moment as an entry holds it for a person.
func stampOf(text string) string {
	t, err := events.ParseTime(text)
	if err != nil {
		return text
	}
	return stamp(t)
}

// textOf is a text that may be absent.
func textOf(s *string) string {
	if s == nil {
		return ""
	}
	return *s
}
