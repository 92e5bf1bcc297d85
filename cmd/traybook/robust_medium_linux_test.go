package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"unsafe"

	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"
)

// A medium watches a program from outside: the system stops it at every fsync and fdatasync, whether Go or SQLite makes
// it, asks here, and the call either goes on or fails as on a disk that is dying. It needs no rights beyond the user's own.
//
// It also keeps what a power cut would leave at the worst: bytes of files as they were when they were last synced, names
// of folders as they were when the folder was.
type medium struct {
	root      string
	fails     func(n int) bool // whether the nth sync fails, counted from 1
	said      []string         // the syncs in their order, as paths below root
	stops     func(n int)      // where it is set, files are opened and written under watch too; called at each stop of any sort
	stood     int              // the stops so far
	firstSync int              // the stop of the first sync

	bytes map[node][]byte          // what is safe of a file
	names map[node]map[string]node // the names that are safe in a folder
}

// node is a file or folder whatever its name: its number, which another gets when it is gone, and when it was made.
type node struct {
	number uint64
	born   unix.StatxTimestamp
}

func nodeOf(path string, flags int) (n node, folder bool, err error) {
	var s unix.Statx_t
	err = unix.Statx(unix.AT_FDCWD, path, flags, unix.STATX_INO|unix.STATX_TYPE|unix.STATX_BTIME, &s)
	return node{s.Ino, s.Btime}, s.Mode&unix.S_IFMT == unix.S_IFDIR, err
}

const (
	watchedFD = 3                     // where the watched child finds the socket by which it hands over its watch
	watchMore = "TRAYBOOK_TEST_WATCH" // set where more than syncs is watched
)

func init() {
	roles["traybook-watched"] = func() {
		if err := beWatched(); err != nil {
			os.Stderr.WriteString("cannot be watched: " + err.Error() + "\n")
			os.Exit(unwatched)
		}
	}
}

const unwatched = 99

// beWatched asks the system to stop this process at each sync, hands the watch over and becomes the program.
func beWatched() error {
	runtime.LockOSThread()
	if err := unix.Prctl(unix.PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0); err != nil {
		return err
	}
	watched := []uint32{unix.SYS_FSYNC, unix.SYS_FDATASYNC}
	if os.Getenv(watchMore) != "" {
		watched = append(watched, unix.SYS_OPENAT, unix.SYS_PWRITE64)
	}
	const load, jumpIf, end = unix.BPF_LD | unix.BPF_W | unix.BPF_ABS, unix.BPF_JMP | unix.BPF_JEQ | unix.BPF_K, unix.BPF_RET | unix.BPF_K
	filter := []unix.SockFilter{{Code: load, K: 0}} // the number of the call
	for i, nr := range watched {
		filter = append(filter, unix.SockFilter{Code: jumpIf, Jt: uint8(len(watched) - i), K: nr})
	}
	filter = append(filter, unix.SockFilter{Code: end, K: unix.SECCOMP_RET_ALLOW}, unix.SockFilter{Code: end, K: unix.SECCOMP_RET_USER_NOTIF})
	prog := unix.SockFprog{Len: uint16(len(filter)), Filter: &filter[0]}
	watch, _, errno := unix.Syscall(unix.SYS_SECCOMP, unix.SECCOMP_SET_MODE_FILTER, unix.SECCOMP_FILTER_FLAG_NEW_LISTENER, uintptr(unsafe.Pointer(&prog)))
	if errno != 0 {
		return errno
	}
	if err := unix.Sendmsg(watchedFD, []byte{0}, unix.UnixRights(int(watch)), nil, 0); err != nil {
		return err
	}
	unix.Close(watchedFD)
	self, err := os.Executable()
	if err != nil {
		return err
	}
	return syscall.Exec(self, append([]string{"traybook"}, os.Args[1:]...), os.Environ())
}

// canWatch says whether this system lets a test watch a program.
func canWatch(t *testing.T, program string) bool {
	m := newMedium(t, t.TempDir(), nil)
	c := command(t, program, filepath.Join(m.root, "book.db"), "--version")
	code, _, errs := m.run(t, c)
	if code == unwatched {
		passedOver(t, "no program can be watched here: "+errs)
		return false
	}
	require.Zero(t, code, errs)
	return true
}

// newMedium begins with all below root safe.
func newMedium(t *testing.T, root string, fails func(int) bool) *medium {
	t.Helper()
	m := &medium{root: root, fails: fails, bytes: map[node][]byte{}, names: map[node]map[string]node{}}
	require.NoError(t, filepath.WalkDir(root, func(path string, _ os.DirEntry, err error) error {
		if err == nil {
			err = m.keep(path)
		}
		return err
	}))
	return m
}

// keep takes what a path holds now for safe.
func (m *medium) keep(path string) error {
	n, folder, err := nodeOf(path, 0)
	if err != nil {
		return err
	}
	if !folder {
		m.bytes[n], err = os.ReadFile(path)
		return err
	}
	entries, err := os.ReadDir(path)
	names := map[string]node{}
	for _, e := range entries {
		if x, _, err := nodeOf(filepath.Join(path, e.Name()), unix.AT_SYMLINK_NOFOLLOW); err == nil {
			names[e.Name()] = x
		}
	}
	m.names[n] = names
	return err
}

// run is ran under watch.
func (m *medium) run(t *testing.T, c *exec.Cmd) (code int, out, errs string) {
	t.Helper()
	pair, err := unix.Socketpair(unix.AF_UNIX, unix.SOCK_STREAM|unix.SOCK_CLOEXEC, 0)
	require.NoError(t, err)
	theirs := os.NewFile(uintptr(pair[1]), "theirs")
	c.ExtraFiles = []*os.File{theirs}
	if m.stops != nil {
		c.Env = append(c.Env, watchMore+"=1")
	}
	ended, watched := make(chan struct{}), make(chan error, 1)
	go func() {
		defer unix.Close(pair[0])
		watched <- m.watch(pair[0], ended)
	}()
	code, out, errs = ran(t, c)
	theirs.Close() // the last end: whoever still waits for a watch waits no longer
	close(ended)
	require.NoError(t, <-watched)
	return code, out, errs
}

// request and response are what the system asks and is answered (seccomp_unotify(2)).
type request struct {
	id         uint64
	pid, flags uint32
	nr         int32
	arch       uint32
	ip         uint64
	args       [6]uint64
}

type response struct {
	id    uint64
	val   int64
	err   int32
	flags uint32
}

// watch takes the watch over and answers until the program has ended.
func (m *medium) watch(socket int, ended <-chan struct{}) error {
	rights := make([]byte, unix.CmsgSpace(4))
	_, n, _, _, err := unix.Recvmsg(socket, make([]byte, 1), rights, 0)
	if err != nil || n == 0 {
		return err // it never came to be watched, and says so itself
	}
	messages, err := unix.ParseSocketControlMessage(rights[:n])
	if err != nil {
		return err
	}
	fds, err := unix.ParseUnixRights(&messages[0])
	if err != nil {
		return err
	}
	defer unix.Close(fds[0])
	for {
		ready := []unix.PollFd{{Fd: int32(fds[0]), Events: unix.POLLIN}}
		if _, err := unix.Poll(ready, 50); err != nil && err != unix.EINTR {
			return err
		}
		if ready[0].Revents&unix.POLLIN == 0 {
			select {
			case <-ended:
				return nil
			default:
				continue
			}
		}
		if err := m.answer(fds[0]); err != nil {
			return err
		}
	}
}

func (m *medium) answer(watch int) error {
	var q request
	if _, _, errno := unix.Syscall(unix.SYS_IOCTL, uintptr(watch), unix.SECCOMP_IOCTL_NOTIF_RECV, uintptr(unsafe.Pointer(&q))); errno != 0 {
		if errno == unix.ENOENT || errno == unix.EINTR { // who asked has gone
			return nil
		}
		return errno
	}
	a := response{id: q.id, flags: unix.SECCOMP_USER_NOTIF_FLAG_CONTINUE}
	if m.stood++; m.stops != nil {
		if m.firstSync == 0 && (q.nr == unix.SYS_FSYNC || q.nr == unix.SYS_FDATASYNC) {
			m.firstSync = m.stood
		}
		m.stops(m.stood)
		return m.send(watch, a)
	}
	handle := filepath.Join("/proc", strconv.Itoa(int(q.pid)), "fd", strconv.FormatUint(q.args[0], 10))
	path, err := os.Readlink(handle)
	if err != nil {
		return err
	}
	m.said = append(m.said, strings.TrimPrefix(strings.TrimPrefix(path, m.root), "/"))
	if m.fails != nil && m.fails(len(m.said)) {
		a.err, a.flags = -int32(unix.EIO), 0
	} else if err := m.keep(handle); err != nil {
		return err
	}
	return m.send(watch, a)
}

func (m *medium) send(watch int, a response) error {
	_, _, errno := unix.Syscall(unix.SYS_IOCTL, uintptr(watch), unix.SECCOMP_IOCTL_NOTIF_SEND, uintptr(unsafe.Pointer(&a)))
	if errno != 0 && errno != unix.ENOENT {
		return errno
	}
	return nil
}

// afterPowerCut lays out what would be found when the power comes back.
func (m *medium) afterPowerCut(t *testing.T) (dir string) {
	t.Helper()
	dir = t.TempDir()
	root, _, err := nodeOf(m.root, 0)
	require.NoError(t, err)
	var lay func(at string, folder node)
	lay = func(at string, folder node) {
		for name, n := range m.names[folder] {
			path := filepath.Join(at, name)
			if _, ok := m.names[n]; ok {
				require.NoError(t, os.Mkdir(path, 0o700))
				lay(path, n)
				continue
			}
			require.NoError(t, os.WriteFile(path, m.bytes[n], 0o600))
		}
	}
	lay(dir, root)
	return dir
}
