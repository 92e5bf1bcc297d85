package atomicfile

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
)

// mark begins the name of every folder in which something of this program
// grows; digits follow. No other program gives such a name, so that any run may
// clear what any dead one left.
const mark = ".traybook-part-"

// The names inside such a folder.
const (
	grown    = "new" // the content, until it has its name
	setAside = "old" // a folder that holds what is being replaced, under its own name
)

// tries bounds how often a name is tried again that another run cleared in the
// instant between its making and its locking.
const tries = 20

// Begin, where it is set, is called before anything grows. It has to bear being
// called often.
var Begin func()

// growing is what grows in this process. Its lock is held around every making,
// naming and taking away of such a folder; Stop takes it for good.
var growing = struct {
	sync.Mutex
	folders map[*Growing]bool
	named   bool // something took its name
}{folders: map[*Growing]bool{}}

// Growing is a private folder in which something grows until it is named. It
// stands on the medium where the name will be. Killed, the process leaves it,
// and the next that lets something grow in the same place clears it, whatever
// it makes.
type Growing struct {
	Dir     string // the whole path
	release func()
}

// Grow makes such a folder in dir, a whole path, after clearing away what dead
// runs left there.
//
// Errors: those of the system.
func Grow(dir string) (*Growing, error) {
	if Begin != nil {
		Begin()
	}
	growing.Lock()
	defer growing.Unlock()
	clearDead(dir)
	for n := 0; ; n++ {
		name, err := os.MkdirTemp(dir, mark+"*")
		if err != nil {
			return nil, err
		}
		release, ok := hold(name)
		if ok || n == tries {
			g := &Growing{name, release}
			growing.folders[g] = true
			return g, nil
		}
		release()
		os.Remove(name)
	}
}

// Beside is Grow in the folder of path, with errors as of Write.
func Beside(path string) (*Growing, error) {
	t, err := target(path)
	if err != nil {
		return nil, err
	}
	g, err := Grow(t.dir)
	if err != nil {
		return nil, t.fail(err)
	}
	return g, nil
}

// ErrNotSafe is that of a file whose new name a power cut may take away again.
var ErrNotSafe = errors.New("its name could not be made safe")

// Place gives a file that has grown under name its path, on the same file
// system, and takes the rest away. Where it may not replace another the name is
// taken by a hard link, which the system refuses when the name exists; where the
// file system has no links the name is looked at once more and then renamed.
//
// Errors: those of the system, fs.ErrExist where the path is taken; then the
// path is as it was. Only where another file went may it be an ErrNotSafe: what
// was there is gone by then.
func (g *Growing) Place(name, path string, replace bool) error {
	err := g.name(func() error {
		if replace {
			return os.Rename(name, path)
		}
		err := os.Link(name, path)
		if err == nil || errors.Is(err, fs.ErrExist) {
			return err
		}
		if _, err := os.Lstat(path); err == nil {
			return fs.ErrExist
		}
		return os.Rename(name, path)
	})
	if err != nil {
		return err
	}
	err = SyncDir(filepath.Dir(path))
	switch {
	case err != nil && replace:
		return fmt.Errorf("%w: %w", ErrNotSafe, reason(err))
	case err != nil:
		os.Remove(path)
	}
	return err
}

// name has naming give what has grown its name, and takes the rest away. Stop
// comes before it or after it, never between.
//
// Errors: what naming returns; then nothing is taken away.
func (g *Growing) name(naming func() error) error {
	growing.Lock()
	defer growing.Unlock()
	if err := naming(); err != nil {
		return err
	}
	growing.named = true
	g.remove()
	return nil
}

// Drop takes the folder away with all that is in it. After it has its name, or a second
// time, it does nothing, unless something could not be taken away before.
func (g *Growing) Drop() {
	growing.Lock()
	defer growing.Unlock()
	if growing.folders[g] {
		g.remove()
	}
}

// letGo ends this run's hold on the folder: what is left of it, the next run clears.
func (g *Growing) letGo() {
	delete(growing.folders, g)
	g.release()
}

// remove takes the folder away under another name: what still writes into it by
// its old one finds no folder there, and nothing can come again.
func (g *Growing) remove() {
	if !putBack(g.Dir) {
		g.letGo()
		return
	}
	name := g.Dir + "0000000000" // longer than any name that Grow gives
	if holdsFile {
		g.release()
	}
	if os.Rename(g.Dir, name) != nil {
		name = g.Dir
	}
	for range tries { // a writing that was under way may still lay one more into it
		if removeAll(name) == nil {
			g.letGo()
			return
		}
	}
}

// Stop ends all growing: what has no name yet is taken away, and whoever wants
// to make, name or take away something from now on waits until the process ends.
// named says that something took its name before.
func Stop() (named bool) {
	growing.Lock()
	for g := range growing.folders {
		g.remove()
	}
	return growing.named
}

// MkdirAll makes the folders of rel below dir, but not dir itself, which may
// have been taken away.
//
// Errors: those of the system.
func MkdirAll(dir, rel string) error {
	if rel == "." {
		return nil
	}
	root, err := os.OpenRoot(dir)
	if err != nil {
		return err
	}
	defer root.Close()
	return root.MkdirAll(rel, 0o700)
}

// Inside lists what stands in folders where something grows or grew, in dir.
func Inside(dir string) []string {
	var found []string
	for _, folder := range folders(dir) {
		entries, _ := os.ReadDir(folder)
		for _, e := range entries {
			found = append(found, filepath.Join(folder, e.Name()))
		}
	}
	return found
}

// Grows says whether a folder's name is one that Grow gives. Whoever makes missing folders makes none of that name: one
// that is missing was taken away on purpose, and made again it would stay.
func Grows(name string) bool {
	number, ok := strings.CutPrefix(name, mark)
	return ok && number != "" && strings.Trim(number, "0123456789") == ""
}

// folders lists the folders in dir in which something grows or grew.
func folders(dir string) []string {
	entries, _ := os.ReadDir(dir)
	var found []string
	for _, e := range entries {
		if e.IsDir() && Grows(e.Name()) {
			found = append(found, filepath.Join(dir, e.Name()))
		}
	}
	return found
}

// clearDead removes what dead runs left. Failing to is no reason to refuse the
// work at hand: the name stays recognisable for the next run.
func clearDead(dir string) {
	for _, name := range folders(dir) {
		release, dead := claim(name)
		if dead && putBack(name) {
			removeAll(name)
		}
		release()
	}
}

// putBack ends what a run began when it replaced a folder: the old one goes
// back to its place if the new one did not take it. It is false where that
// cannot be, and what is set aside has to stay.
func putBack(part string) bool {
	if _, err := os.Lstat(filepath.Join(part, grown)); err != nil {
		return errors.Is(err, fs.ErrNotExist)
	}
	aside := filepath.Join(part, setAside)
	entries, err := os.ReadDir(aside)
	if err != nil {
		return errors.Is(err, fs.ErrNotExist)
	}
	for _, e := range entries {
		back := filepath.Join(filepath.Dir(part), e.Name())
		if _, err := os.Lstat(back); !errors.Is(err, fs.ErrNotExist) {
			return false
		}
		if os.Rename(filepath.Join(aside, e.Name()), back) != nil {
			return false
		}
	}
	return true
}
