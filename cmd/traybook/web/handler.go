package web

import (
	"bytes"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"log"
	"net/http"
	"net/url"
	"path"
	"strings"
)

var silent = log.New(io.Discard, "", 0)

const csp = "default-src 'none'; script-src 'self'; worker-src 'self'; style-src 'self'; img-src 'self' data: blob:; connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'"

// handler guards every request before a page sees it.
func (s *Server) handler() http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", csp)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin") // with "no-referrer" a browser names no origin with a form either, and the door refuses it
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		if why := s.door.strange(r); why != "" {
			s.plain(w, r, http.StatusForbidden, why, "open the address that the terminal shows")
			return
		}
		switch r.Method {
		case http.MethodGet, http.MethodHead:
		case http.MethodPost:
			if !takesFiles(r) {
				r.Body = http.MaxBytesReader(w, r.Body, s.limits.form)
			}
		default:
			s.plain(w, r, http.StatusMethodNotAllowed, "a page is asked for or a form is sent, nothing else", "")
			return
		}
		name := strings.TrimPrefix(r.URL.Path, "/")
		if b, ok := s.static[name]; ok && path.Ext(name) != "" {
			s.sendStatic(w, name, b)
			return
		}
		if code, ok := strings.CutPrefix(r.URL.Path, "/in/"); ok && r.Method == http.MethodGet {
			s.comeIn(w, r, code)
			return
		}
		if _, ok := s.door.inside(r); !ok {
			s.plain(w, r, http.StatusUnauthorized, "nobody has let this browser in", "open the address with the code that the terminal shows; each code lets one browser in")
			return
		}
		if r.Method == http.MethodPost && s.ReadOnly && r.URL.Path != "/theme" {
			s.plain(w, r, http.StatusForbidden, "the book is only to be read here", "traybook serve without --read-only lets pages write")
			return
		}
		s.mux.ServeHTTP(w, r)
	})
}

var mediaOf = map[string]string{".css": "text/css; charset=utf-8", ".js": "text/javascript; charset=utf-8", ".svg": "image/svg+xml"}

func (s *Server) sendStatic(w http.ResponseWriter, name string, b []byte) {
	w.Header().Set("Content-Type", mediaOf[path.Ext(name)])
	w.Header().Set("Cache-Control", "private, max-age=600")
	w.Write(b)
}

func (s *Server) comeIn(w http.ResponseWriter, r *http.Request, code string) {
	cookie, ok := s.door.enter(code)
	if !ok {
		if _, in := s.door.inside(r); in { // an old address opened again by who is in already
			http.Redirect(w, r, "/", http.StatusSeeOther)
			return
		}
		s.plain(w, r, http.StatusForbidden, "this code does not serve, or has served already", "the terminal shows the one that does; after five wrong ones it is another")
		return
	}
	http.SetCookie(w, &http.Cookie{Name: s.door.cookie, Value: cookie, Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode, MaxAge: 30 * 24 * 3600})
	// The page that leads on is one of this address, so that the browser sends the cookie with the next request also where
	// another program opened the address.
	s.page(w, r, http.StatusOK, "page_in.html", "Open", nil)
}

// layout is what every page is drawn with.
type layout struct {
	Title    string
	Here     string // the page's part of the menu
	Theme    string
	Build    string
	ReadOnly bool
	LAN      bool
	Inside   bool
	Path     string
	Notice   *Answer
	Form     url.Values // what was typed, where a form was refused
	Body     any
}

// page draws a page.
func (s *Server) page(w http.ResponseWriter, r *http.Request, status int, name, title string, body any) {
	s.pageWith(w, r, status, name, title, body, nil)
}

func (s *Server) pageWith(w http.ResponseWriter, r *http.Request, status int, name, title string, body any, refused *Answer) {
	cookie, in := s.door.inside(r)
	l := layout{Title: title, Here: strings.TrimSuffix(strings.TrimPrefix(name, "page_"), ".html"), Theme: "light", Build: s.build, ReadOnly: s.ReadOnly,
		LAN: s.LAN, Inside: in, Path: r.URL.RequestURI(), Form: r.PostForm, Body: body, Notice: refused}
	if c, err := r.Cookie("traybook-theme"); err == nil && c.Value == "dim" {
		l.Theme = "dim"
	}
	if refused == nil && in && r.Method == http.MethodGet {
		s.mu.Lock()
		if a, ok := s.notes[cookie]; ok {
			l.Notice = &a
			delete(s.notes, cookie)
		}
		s.mu.Unlock()
	}
	var b bytes.Buffer
	if err := s.templates[name].Execute(&b, l); err != nil {
		http.Error(w, "the page could not be drawn: "+err.Error(), http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	w.Write(b.Bytes())
}

// plain tells one line, and what to do.
func (s *Server) plain(w http.ResponseWriter, r *http.Request, status int, problem, hint string) {
	s.page(w, r, status, "page_plain.html", "traybook", Answer{Problem: problem, Hint: hint})
}

func (s *Server) fail(w http.ResponseWriter, r *http.Request, err error) {
	problem, hint := s.Book.Explain(err)
	s.plain(w, r, statusOf(err), problem, hint)
}

// form reads a form without files, and refuses one that a program of another make has drawn.
func (s *Server) form(w http.ResponseWriter, r *http.Request) bool {
	var err error
	if isMultipart(r) {
		err = r.ParseMultipartForm(s.limits.form)
	} else {
		err = r.ParseForm()
	}
	if err == nil && r.PostForm.Get("build") != s.build {
		err = errStale
	}
	return s.formTaken(w, r, err)
}

// formTaken tells what was wrong with a form.
func (s *Server) formTaken(w http.ResponseWriter, r *http.Request, err error) bool {
	var large *http.MaxBytesError
	var medium *mediumError
	switch {
	case err == nil:
		return true
	case errors.As(err, &large):
		s.plain(w, r, http.StatusRequestEntityTooLarge, "this is more than a form may hold; nothing was written", fmt.Sprintf("a scan of up to %d MB, a text of some pages; traybook attach takes larger scans", s.limits.upload>>20))
	case errors.Is(err, errStale):
		s.plain(w, r, http.StatusConflict, errStale.Error()+"; nothing was written", "go back, copy what you typed, and open the page again")
	case errors.As(err, &medium):
		s.fail(w, r, err)
	default:
		s.plain(w, r, http.StatusBadRequest, "the form did not come whole; nothing was written", "send it again")
	}
	return false
}

// mostPresses is how many presses are kept in mind.
const mostPresses = 1000

// newPress marks a form, so that it is taken once.
func newPress() string {
	raw := make([]byte, 8)
	rand.Read(raw) // never fails
	return hex.EncodeToString(raw)
}

// first says whether a form was not taken yet, and takes it.
func (s *Server) first(press string) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.once[press] {
		return false
	}
	if press != "" {
		s.once[press], s.taken = true, append(s.taken, press)
	}
	if len(s.taken) > mostPresses {
		delete(s.once, s.taken[0])
		s.taken = s.taken[1:]
	}
	return true
}

// write has the lines of a form written and leads on to a page; what is refused is told by the page that again draws. The
// same form pressed twice is written once.
func (s *Server) write(w http.ResponseWriter, r *http.Request, to string, again func(*Answer), lines ...[]string) {
	press := r.PostForm.Get("once")
	if press != "" { // the same form with other words in it, gone back to, is another
		sum := sha256.Sum256([]byte(r.PostForm.Encode()))
		press += hex.EncodeToString(sum[:])
	}
	if !s.first(press) {
		http.Redirect(w, r, to, http.StatusSeeOther)
		return
	}
	a := s.act(lines...)
	if a.Done {
		s.done(w, r, a, to)
		return
	}
	s.mu.Lock()
	delete(s.once, press)
	s.mu.Unlock()
	again(&a)
}

// done keeps what an act came to for the next page, and leads there.
func (s *Server) done(w http.ResponseWriter, r *http.Request, a Answer, to string) {
	if cookie, in := s.door.inside(r); in {
		s.mu.Lock()
		s.notes[cookie] = a
		s.mu.Unlock()
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
}
