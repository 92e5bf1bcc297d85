package web

import (
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/hex"
	"net/http"
	"net/netip"
	"strconv"
	"strings"
	"sync"
)

// door says who may come in: whoever shows the code once, from then on by a cookie.
type door struct {
	hosts  map[string]bool // under which a request may come: another name is one that somebody bent to this address
	cookie string
	tell   func(code string, renewed bool)

	mu    sync.Mutex
	code  string
	wrong int                        // codes tried since it was drawn
	in    map[[sha256.Size]byte]bool // digests of the cookies that count
	order [][sha256.Size]byte
}

const (
	wrongCodes = 5  // after so many the code is drawn anew
	mostInside = 32 // cookies that count at one time; the oldest goes
)

func newDoor(addr netip.AddrPort, tell func(string, bool)) *door {
	d := &door{hosts: map[string]bool{addr.String(): true}, cookie: "traybook-" + strconv.Itoa(int(addr.Port())), tell: tell,
		code: newCode(), in: map[[sha256.Size]byte]bool{}}
	if addr.Addr().IsLoopback() {
		d.hosts["localhost:"+strconv.Itoa(int(addr.Port()))] = true
	}
	return d
}

// codeLetters leaves out what is mistaken for another letter.
const codeLetters = "abcdefghjkmnpqrstuvwxyz23456789"

// newCode draws ten letters, some 49 bits: five tries and it is another.
func newCode() string {
	raw := make([]byte, 10)
	rand.Read(raw) // never fails
	for i := range raw {
		raw[i] = codeLetters[int(raw[i])%len(codeLetters)]
	}
	return string(raw)
}

func (d *door) tellCode(renewed bool) {
	d.mu.Lock()
	code := d.code
	d.mu.Unlock()
	d.tell(code, renewed)
}

// enter takes a code and gives a cookie. A code serves once.
func (d *door) enter(code string) (cookie string, ok bool) {
	d.mu.Lock()
	ok = subtle.ConstantTimeCompare([]byte(strings.ToLower(code)), []byte(d.code)) == 1
	if !ok {
		d.wrong++
	}
	if fresh := ok || d.wrong >= wrongCodes; !fresh {
		d.mu.Unlock()
		return "", false
	}
	d.code, d.wrong = newCode(), 0
	if ok {
		raw := make([]byte, 32)
		rand.Read(raw)
		cookie = hex.EncodeToString(raw)
		sum := sha256.Sum256([]byte(cookie))
		d.in[sum], d.order = true, append(d.order, sum)
		if len(d.order) > mostInside {
			delete(d.in, d.order[0])
			d.order = d.order[1:]
		}
	}
	d.mu.Unlock()
	d.tellCode(!ok)
	return cookie, ok
}

// inside gives the cookie of who is in.
func (d *door) inside(r *http.Request) (string, bool) {
	c, err := r.Cookie(d.cookie)
	if err != nil {
		return "", false
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	return c.Value, d.in[sha256.Sum256([]byte(c.Value))]
}

// strange says why a request is not from a page of this book: it came under another name, or another site sent it. No form
// carries a secret of its own: the cookie is SameSite=Strict, and a browser names the origin of every POST.
func (d *door) strange(r *http.Request) string {
	if !d.hosts[strings.ToLower(r.Host)] {
		return "this is not the address of the book"
	}
	origin := r.Header.Get("Origin")
	if origin != "" && !d.hosts[strings.ToLower(strings.TrimPrefix(origin, "http://"))] || strings.HasPrefix(origin, "https:") {
		return "another site sent this"
	}
	if origin == "" && r.Method != http.MethodGet && r.Method != http.MethodHead {
		return "nothing says which page sent this"
	}
	switch site := r.Header.Get("Sec-Fetch-Site"); site {
	case "", "same-origin", "none":
	default:
		if r.Header.Get("Sec-Fetch-Mode") != "navigate" || r.Method != http.MethodGet {
			return "another site sent this"
		}
	}
	return ""
}
