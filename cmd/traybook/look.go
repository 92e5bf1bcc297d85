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

	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/screen"
	"traybook/events/sqlite"
	"traybook/projections/snapshot"
)

// queries are the commands that look back.
func queries() []offer {
	return []offer{
		{"today", todayCommand}, {"pictures", picturesCommand}, {"history", historyCommand}, {"stock", stockCommand},
		{"baths", bathsCommand}, {"sessions", sessionsCommand}, {"orders", ordersCommand},
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

// query is one look into the book.
type query struct {
	env  *Env
	c    *cli.Context
	tx   *sqlite.Tx
	snap *snapshot.Snapshot
	now  time.Time // the clock, in the zone
	at   time.Time // the moment looked from: now, or --as-of
	zone *time.Location
}

// runQuery opens the book for reading and lays it open as of now, or as of --as-of.
func runQuery(env *Env, c *cli.Context, f func(*query) error) error {
	return withBook(env, c, true, func(book *sqlite.Book) error {
		return book.Read(func(tx *sqlite.Tx) error { return onQuery(env, c, tx, f) })
	})
}

// runQueryTwice is runQuery with another look at the same state of the book, for another goroutine.
func runQueryTwice(env *Env, c *cli.Context, f func(q *query, other *sqlite.Tx) error) error {
	return withBook(env, c, true, func(book *sqlite.Book) error {
		return book.ReadTwice(func(tx, other *sqlite.Tx) error {
			return onQuery(env, c, tx, func(q *query) error { return f(q, other) })
		})
	})
}

func onQuery(env *Env, c *cli.Context, tx *sqlite.Tx, f func(*query) error) error {
	zone, err := zoneOf(env, tx)
	if err != nil {
		return err
	}
	q := &query{env: env, c: c, tx: tx, zone: zone, now: env.Now().Round(0).In(zone)}
	q.at = q.now
	if c.IsSet("as-of") {
		if q.at, err = line.ParseAsOf(c.String("as-of"), q.now, zone); err != nil {
			return line.WrongLine(err)
		}
	}
	q.snap = snapshot.New(tx, q.at)
	return f(q)
}

// json says that the answer is for a script, and gives it.
func (q *query) json(v any) (bool, error) {
	if !q.c.Bool("json") {
		return false, nil
	}
	return true, writeJSON(q.env.Out, v)
}

// show lays an answer out on the screen and says so where it is longer than that.
func (q *query) show(draw func(*screen.Screen)) error {
	count := &lineCounter{w: q.env.Out}
	s := q.screen(count)
	draw(s)
	if err := q.ahead(s); err != nil {
		return err
	}
	if rows, known := q.rows(); known && count.n >= rows {
		s.Say(screen.Faint, fmt.Sprintf("%d lines, more than this screen has; `| less` shows them page by page.", count.n+1))
	}
	return s.Err()
}

func (q *query) screen(w io.Writer) *screen.Screen {
	s := screenOf(q.env, q.c)
	s.W = w
	return s
}

// ahead says that acts dated after now do not show.
func (q *query) ahead(s *screen.Screen) error {
	if q.c.IsSet("as-of") {
		return nil
	}
	ahead, err := q.snap.Ahead()
	if err != nil || !ahead {
		return err
	}
	s.Say(screen.Warn, "Acts dated after now are in the book and do not show here; --as-of with a later day shows them.")
	return nil
}

// rows is the height of the screen: that of the terminal, else that of LINES. known is false where nothing scrolls.
func (q *query) rows() (rows int, known bool) {
	if q.env.terminal(q.env.OutFD) {
		if _, rows, err := q.env.Around.Size(q.env.OutFD); err == nil && rows > 0 {
			return rows, true
		}
	}
	rows, err := strconv.Atoi(q.env.getenv("LINES"))
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
