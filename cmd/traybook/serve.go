package main

import (
	"errors"
	"fmt"
	"net/netip"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/screen"
	"traybook/cmd/traybook/web"
	"traybook/events/atomicfile"
	"traybook/events/sqlite"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// usualPort is where the pages are, unless another is named.
const usualPort = 8427

func serveCommand(env *Env) *cli.Command {
	return &cli.Command{
		Name: "serve", Usage: "the book in a browser, on this machine or on a phone in the same network", Category: forLook,
		UsageText: lines("traybook serve", "traybook serve --lan", "traybook serve --lan --names --port 8500", "traybook serve --read-only"),
		Description: "The address that is shown carries a code that lets one browser in; each code serves once, and after five wrong ones it is\n" +
			"another. Without --lan only this machine can come in. With it other devices of the same network can, by the private\n" +
			"address of this machine; what goes over the network is not encrypted, so sitters are shown by their references unless\n" +
			"--names is given. Camera is the guided run of traybook bench, worked by presses alone. The command line writes as ever\n" +
			"meanwhile, and several servers may show one book. Ctrl-C ends it.",
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "port", Usage: "`8427` where the pages are (8427); 0 takes any that is free"},
			&cli.BoolFlag{Name: "lan", Usage: "let other devices of the network in"},
			&cli.StringFlag{Name: "address", Usage: "`192.168.1.20` with --lan: which private address of this machine"},
			&cli.BoolFlag{Name: "names", Usage: "with --lan: show sitters by their names"},
			&cli.BoolFlag{Name: "read-only", Usage: "let pages write nothing"},
		},
		Action: func(c *cli.Context) error { return serve(env, c) },
	}
}

func serve(env *Env, c *cli.Context) error {
	if err := noWords(c); err != nil {
		return err
	}
	if c.Bool("json") {
		return line.WrongLinef("leave --json out", "serve shows pages, and answers nothing that a script would read")
	}
	for _, name := range []string{"address", "names"} {
		if c.IsSet(name) && !c.Bool("lan") {
			return line.WrongLinef("give --lan with it, or leave it out", "--%s is about other devices, and without --lan none comes in", name)
		}
	}
	addr, err := serveAt(c)
	if err != nil {
		return err
	}
	path, err := bookPath(env, c)
	if err != nil {
		return err
	}
	if err := withBook(env, c, true, func(*sqlite.Book) error { return nil }); err != nil { // what ails the book is told here, not on a page
		return err
	}
	newWatch(env)
	if !c.Bool("read-only") { // the scans that came to a server which was killed
		if err := atomicfile.Clear(path); err != nil {
			return err
		}
	}
	s := screenOf(env, c)
	server, err := web.Listen(web.Config{
		Book: &servedBook{env: env, c: c, path: path}, Addr: addr, LAN: c.Bool("lan"), Names: c.Bool("names") || !c.Bool("lan"),
		ReadOnly: c.Bool("read-only"), Version: version,
		Tell: func(address string, renewed bool) { tellAddress(env, s, address, c.Bool("lan"), renewed) },
	})
	if err != nil {
		return err
	}
	return server.Serve(env.Until())
}

// serveAt is the address that the command line asks for.
func serveAt(c *cli.Context) (netip.AddrPort, error) {
	port := usualPort
	if text := c.String("port"); c.IsSet("port") {
		n, err := strconv.Atoi(text)
		if err != nil || n < 0 || n > 65535 {
			return netip.AddrPort{}, line.WrongLinef("write a number such as 8427; 0 takes any that is free", "--port: %s is no port", line.Quote(text))
		}
		port = n
	}
	addr := netip.AddrFrom4([4]byte{127, 0, 0, 1})
	if c.Bool("lan") {
		var err error
		if addr, err = web.PrivateAddress(c.String("address")); err != nil {
			return netip.AddrPort{}, err
		}
	}
	return netip.AddrPortFrom(addr, uint16(port)), nil
}

// tellAddress shows where the pages are, and for a phone the code of it.
func tellAddress(env *Env, s *screen.Screen, address string, lan, renewed bool) {
	if renewed {
		s.Say(screen.Warn, fmt.Sprintf("%s five wrong codes were tried, and it is another now", env.Now().Format("15:04")))
	}
	s.Say(screen.Strong, address)
	if lan && env.terminal(env.OutFD) {
		rows, err := web.Blocks(address)
		if err == nil && screen.Width(rows[0]) <= s.Width {
			for _, row := range rows {
				s.Say(screen.Plain, row)
			}
		}
	}
	s.Say(screen.Faint, "lets one browser in · Ctrl-C ends it")
}

// servedBook is the book as the pages see it: opened for each look and each act, so that no page holds it.
type servedBook struct {
	env  *Env
	c    *cli.Context
	path string

	scans sync.Mutex // held while scans are read: each may take as much memory as one may
}

// Folder is where the book keeps its scans.
func (b *servedBook) Folder() string { return filepath.Dir(b.path) }

// Explain tells an error as the terminal does.
func (b *servedBook) Explain(err error) (problem, hint string) {
	problem, hint = problemOf(err)
	return screen.Clean(clipped(problem)), screen.Clean(clipped(hint))
}

// Look opens the book for one look.
func (b *servedBook) Look(f func(*web.View) error) error {
	book, err := sqlite.Open(b.path, bookOptions(true))
	if errors.Is(err, sqlite.ErrNoBook) {
		return noBookAt(b.path)
	}
	if err != nil {
		return err
	}
	defer book.Close()
	return book.Read(func(tx *sqlite.Tx) error {
		zone, err := zoneOf(b.env, tx)
		if err != nil {
			return err
		}
		now := b.env.Now().Round(0).In(zone)
		return f(&web.View{Tx: tx, Snap: snapshot.New(tx, now), Whole: snapshot.New(tx, noMoment), Now: now})
	})
}

// line runs one line of a page.
func (b *servedBook) line(asked *pageAct, words []string) web.Answer {
	env := *b.env
	env.page = asked
	code, out, errs := runLine(env, slices.Insert(slices.Clone(words), 1, "--book="+b.path)...)
	told, wrong := textLines(out), textLines(errs)
	if code == codeDone {
		return web.Answer{Done: true, Lines: append(told, wrong...)}
	}
	a := web.Answer{Problem: "it came to nothing"}
	if len(wrong) > 0 {
		a.Problem, a.Hint = strings.TrimPrefix(wrong[0], "traybook: "), strings.Join(wrong[1:], " ")
	}
	if no := wording.RefusalIn(asked.wrong); no != nil {
		a.EvenSo, a.Hint = no.Of.EvenSo, strings.ReplaceAll(a.Hint, "with --even-so", "even so")
	}
	return a
}

// errNotAll takes back what was written together.
var errNotAll = errors.New("not all of it was taken")

// Acts runs lines of the program itself, so that a page writes what a hand would have written, with the same defaults, checks
// and answers; what all of them wrote is kept, or nothing. A scan is read before the book is held for the
// others; that they will be taken is tried before it is laid beside the book.
func (b *servedBook) Acts(lines ...[]string) web.Answer {
	if slices.ContainsFunc(lines, bringsScan) {
		b.scans.Lock()
		defer b.scans.Unlock()
	}
	if len(lines) == 1 {
		var asked pageAct
		a := b.line(&asked, lines[0])
		a.Back = asked.back
		return a
	}
	book, err := sqlite.Open(b.path, bookOptions(false))
	if errors.Is(err, sqlite.ErrNoBook) {
		err = noBookAt(b.path)
	}
	if err != nil {
		return b.refused(err)
	}
	defer book.Close()
	var scans, others [][]string
	for _, words := range lines {
		if bringsScan(words) {
			scans = append(scans, words)
		} else {
			others = append(others, words)
		}
	}
	if len(scans) > 0 && len(others) > 0 {
		if a := b.inOne(book, others, false); !a.Done {
			return a
		}
	}
	return b.inOne(book, append(scans, others...), true)
}

func bringsScan(words []string) bool { return words[0] == "attach" }

// inOne runs lines in one write of the book; what they wrote is taken back again unless keep is set.
func (b *servedBook) inOne(book *sqlite.Book, lines [][]string, keep bool) web.Answer {
	out := web.Answer{Done: true}
	asked := pageAct{book: book, batch: newID()}
	err := book.Together(func() error {
		for _, words := range lines {
			a := b.line(&asked, words)
			if !a.Done {
				out = a
				return errNotAll
			}
			out.Lines = append(out.Lines, a.Lines...)
		}
		if !keep {
			return errNotAll
		}
		return nil
	})
	if err != nil && !errors.Is(err, errNotAll) {
		return b.refused(err)
	}
	if out.Done {
		out.Back = []string{short(asked.batch), "void --batch "}
	}
	return out
}

func (b *servedBook) refused(err error) web.Answer {
	problem, hint := b.Explain(err)
	return web.Answer{Problem: problem, Hint: hint}
}

// textLines parts what was told for a terminal into its lines.
func textLines(text string) []string {
	var out []string
	for _, l := range strings.Split(text, "\n") {
		if l = strings.TrimSpace(l); l != "" {
			out = append(out, l)
		}
	}
	return out
}
