package web

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/netip"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// noBook has nothing to show and counts what it is asked to write.
type noBook struct {
	Book   // what is not asked of it here
	folder string
	acts   chan []string
}

func (b *noBook) Look(func(*View) error) error { return errors.New("nothing is shown here") }
func (b *noBook) Acts(lines ...[]string) Answer {
	for _, words := range lines {
		b.acts <- words
	}
	return Answer{Done: true}
}
func (b *noBook) Explain(err error) (string, string) { return err.Error(), "" }
func (b *noBook) Folder() string                     { return b.folder }

// limited is a server of such a book with small limits, and a cookie of who is in.
type limited struct {
	*Server
	t      *testing.T
	book   *noBook
	cookie string
}

func limitedServer(t *testing.T, l limits) *limited {
	t.Helper()
	b := &noBook{folder: t.TempDir(), acts: make(chan []string, 100)}
	s, err := Listen(Config{Book: b, Addr: netip.MustParseAddrPort("127.0.0.1:0"), Names: true, Version: "test", Tell: func(string, bool) {}})
	require.NoError(t, err)
	s.limits = l
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- s.Serve(ctx) }()
	t.Cleanup(func() {
		stop()
		select {
		case err := <-ended:
			if !errors.Is(err, context.DeadlineExceeded) { // a test may leave a connection hanging
				assert.NoError(t, err)
			}
		case <-time.After(20 * time.Second):
			t.Error("the server did not end")
		}
	})
	cookie, ok := s.door.enter(s.door.code)
	require.True(t, ok)
	return &limited{s, t, b, cookie}
}

func (s *limited) dial() net.Conn {
	s.t.Helper()
	c, err := net.Dial("tcp", s.Addr.String())
	require.NoError(s.t, err)
	s.t.Cleanup(func() { c.Close() })
	require.NoError(s.t, c.SetDeadline(time.Now().Add(30*time.Second)))
	return c
}

// head is that of a form of so many bytes.
func (s *limited) head(path, kind string, length int) string {
	return fmt.Sprintf("POST %s HTTP/1.1\r\nHost: %s\r\nOrigin: http://%s\r\nCookie: %s=%s\r\nContent-Type: %s\r\nContent-Length: %d\r\nConnection: close\r\n\r\n", path, s.Addr, s.Addr, s.door.cookie, s.cookie, kind, length)
}

// heard reads what comes until the connection ends.
func heard(c net.Conn) string {
	b, _ := io.ReadAll(c)
	return string(b)
}

const formOf = "application/x-www-form-urlencoded"

// Who sends a head or a body drop by drop is let go after a while, and whatever they hold is given back.
func TestSlowRequestsAreLetGo(t *testing.T) {
	s := limitedServer(t, limits{form: 1 << 10, upload: 1 << 20, header: 200 * time.Millisecond, body: 400 * time.Millisecond, connections: 4})
	drops := func(c net.Conn, first string) (sent int, left string) {
		if _, err := io.WriteString(c, first); err != nil {
			return 0, heard(c)
		}
		gone := make(chan string, 1)
		go func() { gone <- heard(c) }()
		for range 2000 {
			select {
			case left := <-gone:
				return sent, left
			case <-time.After(10 * time.Millisecond):
				if _, err := io.WriteString(c, "x"); err == nil {
					sent++
				}
			}
		}
		return sent, <-gone
	}
	const part = "--b\r\nContent-Disposition: form-data; name=\"scan-2026-001n\"; filename=\"a.jpg\"\r\n\r\n"
	for what, first := range map[string]string{
		"a head":               "GET / HTTP/1.1\r\nHost: " + s.Addr.String() + "\r\nX-Much: ",
		"no head at all":       "",
		"a form":               s.head("/back", formOf, 900) + "build=",
		"a form with a file":   s.head("/evening/2026-001", "multipart/form-data; boundary=b", 300<<10) + "--b\r\nContent-Disposition: form-data; name=\"build\"\r\n\r\n" + s.build + "\r\n" + part,
		"a form of many parts": s.head("/evening/2026-001", "multipart/form-data; boundary=b", 300<<10) + "--b\r\nContent-Disposition: form-data; name=\"subject\"\r\n\r\n",
	} {
		sent, left := drops(s.dial(), first)
		assert.Less(t, sent, 2000, "%s is waited for without end", what)
		assert.NotContains(t, left, "200 OK", what)
	}
	require.Eventually(t, func() bool {
		entries, err := os.ReadDir(s.book.folder)
		return err == nil && len(entries) == 0
	}, 20*time.Second, 10*time.Millisecond, "what came of a file is left")
	assert.Empty(t, s.book.acts)
	c := s.dial()
	io.WriteString(c, "GET /style.css HTTP/1.1\r\nHost: "+s.Addr.String()+"\r\nConnection: close\r\n\r\n")
	assert.Contains(t, heard(c), "200 OK", "the others have room")
}

// A scan may come as slowly as a weak network lets it, though a form may not.
func TestAScanMayTakeLongerThanAForm(t *testing.T) {
	s := limitedServer(t, limits{form: 1 << 10, upload: 1 << 20, header: time.Second, body: 300 * time.Millisecond, connections: 4})
	body := "--b\r\nContent-Disposition: form-data; name=\"build\"\r\n\r\n" + s.build + "\r\n--b\r\nContent-Disposition: form-data; name=\"scan-2026-001n\"; filename=\"a.jpg\"\r\n\r\n" +
		strings.Repeat("x", 600<<10) + "\r\n--b--\r\n"
	c := s.dial()
	_, err := io.WriteString(c, s.head("/evening/2026-001", "multipart/form-data; boundary=b", len(body))+body[:len(body)/2])
	require.NoError(t, err)
	time.Sleep(900 * time.Millisecond) // three times what a form may take
	_, err = io.WriteString(c, body[len(body)/2:])
	require.NoError(t, err)
	select {
	case words := <-s.book.acts:
		assert.Equal(t, []string{"attach", "--sheet=2026-001n", "--"}, words[:3])
	case <-time.After(20 * time.Second):
		t.Fatal("the scan did not come")
	}
}

// What is larger than it may be is refused in a page that the sender gets to read, and none of it stays.
func TestOversizedFormsAreRefused(t *testing.T) {
	s := limitedServer(t, limits{form: 1 << 10, upload: 1 << 20, header: time.Second, body: 10 * time.Second, connections: 4})
	part := func(name, file, content string) string {
		if file != "" {
			file = `; filename="` + file + `"`
		}
		return "--b\r\nContent-Disposition: form-data; name=\"" + name + "\"" + file + "\r\n\r\n" + content + "\r\n"
	}
	build := part("build", "", s.build)
	for what, c := range map[string]struct{ path, kind, body string }{
		"a form":                    {"/back", formOf, "build=" + s.build + "&x=" + strings.Repeat("x", 2<<10)},
		"a form in parts":           {"/back", "multipart/form-data; boundary=b", build + part("x", "", strings.Repeat("x", 2<<10)) + "--b--\r\n"},
		"a scan where none belongs": {"/back", "multipart/form-data; boundary=b", build + part("x", "a.jpg", strings.Repeat("x", 2<<10)) + "--b--\r\n"},
		"a text beside a scan":      {"/evening/2026-001", "multipart/form-data; boundary=b", build + part("subject", "", strings.Repeat("x", 2<<10)) + "--b--\r\n"},
		"many texts beside a scan":  {"/evening/2026-001", "multipart/form-data; boundary=b", build + strings.Repeat(part("subject", "", strings.Repeat("x", 100)), 20) + "--b--\r\n"},
		"a scan":                    {"/evening/2026-001", "multipart/form-data; boundary=b", build + part("scan-2026-001n", "a.jpg", strings.Repeat("x", 3<<20)) + "--b--\r\n"},
		"many scans":                {"/evening/2026-001", "multipart/form-data; boundary=b", build + strings.Repeat(part("scan-2026-001n", "a.jpg", "x"), 9) + "--b--\r\n"},
	} {
		conn := s.dial()
		io.WriteString(conn, s.head(c.path, c.kind, len(c.body)))
		if n := len(c.body); n > 2<<20 { // over a weak network: whoever cuts it off while it is sent is not heard
			io.WriteString(conn, c.body[:n/2])
			time.Sleep(time.Second)
			io.WriteString(conn, c.body[n/2:])
		} else {
			io.WriteString(conn, c.body)
		}
		got := heard(conn)
		assert.Contains(t, got, fmt.Sprint(http.StatusRequestEntityTooLarge), what)
		assert.Contains(t, got, "this is more than a form may hold; nothing was written", what)
		entries, err := os.ReadDir(s.book.folder)
		require.NoError(t, err)
		assert.Empty(t, entries, what)
	}
	assert.Empty(t, s.book.acts)
}

// Beyond the room that there is a connection is closed at once, and room that is given back is taken again.
func TestConnectionsBeyondTheRoomAreClosed(t *testing.T) {
	s := limitedServer(t, limits{form: 1 << 10, upload: 1 << 20, header: 10 * time.Second, body: 10 * time.Second, connections: 3})
	ask := "GET /style.css HTTP/1.1\r\nHost: " + s.Addr.String() + "\r\n\r\n"
	var in []net.Conn
	for range 3 {
		c := s.dial()
		io.WriteString(c, ask)
		_, err := c.Read(make([]byte, 1))
		require.NoError(t, err)
		in = append(in, c)
	}
	for range 20 {
		c := s.dial()
		io.WriteString(c, strings.Replace(ask, "\r\n\r\n", "\r\nConnection: close\r\n\r\n", 1))
		assert.Empty(t, heard(c))
	}
	in[1].Close()
	require.Eventually(t, func() bool {
		c := s.dial()
		defer c.Close()
		io.WriteString(c, ask)
		_, err := c.Read(make([]byte, 1))
		return err == nil
	}, 10*time.Second, 20*time.Millisecond)
}
