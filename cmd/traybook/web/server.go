package web

import (
	"context"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"errors"
	"fmt"
	"html/template"
	"io/fs"
	"net"
	"net/http"
	"net/netip"
	"path"
	"regexp"
	"slices"
	"sync"
	"syscall"
	"time"

	"traybook/events"
	"traybook/events/sqlite"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// Book is the book as the pages see it. Each call opens it, works, and closes it again, so that a page that is open all day
// holds nothing.
type Book interface {
	// Look hands a look at the book to f.
	Look(f func(*View) error) error
	// Acts does what lines on the terminal would do, all of them or none, and answers with the same sentences.
	Acts(lines ...[]string) Answer
	// Run hands the run at the camera to f, in one write of the book, for one press of a page or for a look ("").
	Run(press string, at time.Time, f func(*Run) error) error
	// Now is the time of day.
	Now() time.Time
	// Explain tells an error in one line, and what to do.
	Explain(err error) (problem, hint string)
	// Folder is where the book keeps its scans.
	Folder() string
}

// View is one look at the book.
type View struct {
	Tx    *sqlite.Tx
	Snap  *snapshot.Snapshot // as of now
	Whole *snapshot.Snapshot // with what is dated ahead: what is written of one thing is its history
	Now   time.Time
	names map[string]string // of sitters, by their references; nil where they are not shown
}

// Answer is what a line came to.
type Answer struct {
	Done    bool
	Lines   []string // what was told
	Problem string   // why it was refused
	Hint    string
	EvenSo  bool     // --even-so would have it written all the same
	Back    []string // what takes it back: the beginning of an entry's id or of a batch's, and the words before it
}

// Config says what is served, and to whom.
type Config struct {
	Book     Book
	Addr     netip.AddrPort
	LAN      bool // other machines of the network may come in
	Names    bool // sitters are shown by their names
	ReadOnly bool
	Version  string
	Tell     func(address string, renewed bool) // the address with its code, whenever there is a new one
}

// limits bound what one request may take.
type limits struct {
	form, upload int64
	header       time.Duration
	body         time.Duration
	connections  int
}

var usualLimits = limits{form: 64 << 10, upload: 64 << 20, header: 5 * time.Second, body: 60 * time.Second, connections: 48}

// windingUp is how long requests that are under way are waited for at the end; the program itself is given longer.
const windingUp = 250 * time.Millisecond

// maxHeader bounds the bytes of a request's head.
const maxHeader = 16 << 10

// Server serves one book.
type Server struct {
	Config
	limits    limits
	door      *door
	build     string // of the program with its pages: a page of another one is stale
	templates map[string]*template.Template
	static    map[string][]byte
	mux       *http.ServeMux
	listener  net.Listener

	pressing sync.Mutex // presses come one after another

	mu    sync.Mutex
	notes map[string]Answer // what is still to be told to who came in, by cookie
	once  map[string]bool   // presses that were taken, so that a second knock on a button writes nothing
	taken []string          // the same in their order

	years keptYears
}

//go:embed assets
var assets embed.FS

var badAddress = wording.Refuses("not-private", "{address} is not a private address", "leave it out, or name one of this machine in your own network, such as 192.168.1.20")
var noAddress = wording.Refuses("no-private", "this machine has no private address in a network", "join the network of the phone first; without --lan the pages are for this machine alone")
var busyPort = wording.Refuses("port-busy", "the port {port} is in use by another program", "name another one: --port {other}; or --port 0 takes any that is free")
var cannotListen = wording.Refuses("cannot-listen", "{address} cannot be listened at: {why}", "name an address of this machine, and a port from 1024 on")

// PrivateAddress is where other machines of the network find this one: the address given, else the first private one that
// this machine has.
func PrivateAddress(given string) (netip.Addr, error) {
	if given != "" {
		a, err := netip.ParseAddr(given)
		if err != nil || !a.IsPrivate() && !a.IsLoopback() && !a.IsLinkLocalUnicast() {
			return a, badAddress.Refuse(given)
		}
		return a, nil
	}
	all, err := net.InterfaceAddrs()
	if err != nil {
		return netip.Addr{}, noAddress.Refuse()
	}
	return firstPrivate(all)
}

// firstPrivate is the first private address of a machine, one of the fourth version of the protocol before others.
func firstPrivate(all []net.Addr) (netip.Addr, error) {
	var found netip.Addr
	for _, x := range all {
		p, err := netip.ParsePrefix(x.String())
		if err != nil || !p.Addr().IsPrivate() {
			continue
		}
		if a := p.Addr(); !found.IsValid() || a.Is4() && !found.Is4() {
			found = a
		}
	}
	if !found.IsValid() {
		return found, noAddress.Refuse()
	}
	return found, nil
}

// Listen takes the port and makes the server. The caller runs it.
func Listen(c Config) (*Server, error) {
	l, err := net.Listen("tcp", c.Addr.String())
	if errors.Is(err, syscall.EADDRINUSE) {
		return nil, busyPort.Refuse(c.Addr.Port(), c.Addr.Port()+1)
	}
	if err != nil {
		return nil, cannotListen.Refuse(c.Addr.String(), root(err).Error())
	}
	c.Addr = l.Addr().(*net.TCPAddr).AddrPort()
	c.Addr = netip.AddrPortFrom(c.Addr.Addr().Unmap(), c.Addr.Port())
	s := &Server{Config: c, limits: usualLimits, listener: l, notes: map[string]Answer{}, once: map[string]bool{}}
	if err := s.load(); err != nil {
		l.Close()
		return nil, err
	}
	s.door = newDoor(c.Addr, func(code string, renewed bool) { c.Tell(s.address(code), renewed) })
	s.routes()
	return s, nil
}

func root(err error) error {
	for {
		inner := errors.Unwrap(err)
		if inner == nil {
			return err
		}
		err = inner
	}
}

func (s *Server) address(code string) string { return "http://" + s.Addr.String() + "/in/" + code }

// Serve answers until ctx is done.
func (s *Server) Serve(ctx context.Context) error {
	h := &http.Server{Handler: s.handler(), ReadHeaderTimeout: s.limits.header, ReadTimeout: s.limits.body, WriteTimeout: 2 * s.limits.body,
		IdleTimeout: 2 * time.Minute, MaxHeaderBytes: maxHeader, ErrorLog: silent}
	s.door.tellCode(false)
	stopped := make(chan error, 1)
	go func() {
		<-ctx.Done()
		wind, cancel := context.WithTimeout(context.Background(), windingUp)
		defer cancel()
		if h.Shutdown(wind) != nil { // a browser opens connections ahead of their use, and such a one would be waited for
			h.Close()
		}
		stopped <- nil
	}()
	err := h.Serve(&fewConnections{Listener: s.listener, room: make(chan struct{}, s.limits.connections)})
	if errors.Is(err, http.ErrServerClosed) {
		<-stopped
		return nil
	}
	return err
}

// fewConnections closes at once what comes when all connections are taken, so that nobody can keep the program from its
// other work.
type fewConnections struct {
	net.Listener
	room chan struct{}
}

func (l *fewConnections) Accept() (net.Conn, error) {
	for {
		c, err := l.Listener.Accept()
		if err != nil {
			return nil, err
		}
		select {
		case l.room <- struct{}{}:
			return &counted{Conn: c, leave: sync.OnceFunc(func() { <-l.room })}, nil
		default:
			c.Close()
		}
	}
}

type counted struct {
	net.Conn
	leave func()
}

func (c *counted) Close() error {
	c.leave()
	return c.Conn.Close()
}

// load reads the pages that the program carries.
func (s *Server) load() error {
	sum := sha256.New()
	sum.Write([]byte(s.Version))
	s.static, s.templates = map[string][]byte{}, map[string]*template.Template{}
	err := fs.WalkDir(assets, "assets", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := assets.ReadFile(name)
		if err != nil {
			return err
		}
		sum.Write(b)
		if path.Ext(name) == ".html" {
			return nil
		}
		s.static[path.Base(name)] = b
		return nil
	})
	if err != nil {
		return err
	}
	pages, err := fs.Glob(assets, "assets/page_*.html")
	if err != nil {
		return err
	}
	for _, p := range pages {
		t, err := template.New("layout.html").Funcs(functions).ParseFS(assets, "assets/layout.html", "assets/parts.html", p)
		if err != nil {
			return err
		}
		s.templates[path.Base(p)] = t
	}
	s.build = hex.EncodeToString(sum.Sum(nil))[:12]
	return nil
}

// look hands a look at the book to f, with the names of sitters where they are shown.
func (s *Server) look(f func(*View) error) error {
	return s.Book.Look(func(v *View) error {
		if s.Names {
			rows, err := v.Tx.Sitters()
			if err != nil {
				return err
			}
			v.names = map[string]string{}
			for _, r := range rows {
				v.names[r.Ref] = r.Name
			}
		}
		return f(v)
	})
}

// sitter is how a sitter is shown.
func (v *View) sitter(ref *string) string {
	if ref == nil {
		return ""
	}
	if name := v.names[*ref]; name != "" {
		return name
	}
	return *ref
}

// act has lines written, all of them or none. Where sitters are not shown by their names their references stand in the answer.
func (s *Server) act(lines ...[]string) Answer {
	a := s.Book.Acts(lines...)
	if s.Names {
		return a
	}
	err := s.Book.Look(func(v *View) error {
		rows, err := v.Tx.Sitters()
		if err != nil {
			return err
		}
		slices.SortFunc(rows, func(x, y events.SitterRow) int { return len(y.Name) - len(x.Name) })
		for _, r := range rows {
			if r.Name == "" {
				continue
			}
			name := regexp.MustCompile("(?i)" + regexp.QuoteMeta(r.Name))
			a.each(func(text string) string { return name.ReplaceAllLiteralString(text, r.Ref) })
		}
		return nil
	})
	if err != nil { // nobody knows which names stand in it
		a.Lines, a.Hint = nil, ""
	}
	return a
}

// each puts what change makes of a text in the place of each text of the answer.
func (a *Answer) each(change func(string) string) {
	a.Problem, a.Hint = change(a.Problem), change(a.Hint)
	for i := range a.Lines {
		a.Lines[i] = change(a.Lines[i])
	}
}

// statusOf is the status with which an error of the book is told.
func statusOf(err error) int {
	no := wording.RefusalIn(err)
	switch {
	case errors.Is(err, events.ErrBusy):
		return http.StatusServiceUnavailable
	case errors.Is(err, events.ErrDamaged):
		return http.StatusInternalServerError
	case no != nil && no.Line:
		return http.StatusBadRequest
	case no != nil:
		return http.StatusNotFound
	}
	return http.StatusInternalServerError
}

var errStale = fmt.Errorf("this page is from before the program was renewed")
