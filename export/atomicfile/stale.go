package atomicfile

import (
	"os"
	"path/filepath"
	"strings"
)

// The two sorts of names that stand beside a target while it is written.
const (
	temporary = ".part-" // new content that grows
	setAside  = ".old-"  // the folder that is being replaced
)

// longestBase keeps temporary names below the 255 bytes a file system allows.
const longestBase = 200

// tries bounds how often a name is tried again that another run cleared in the
// instant between its making and its locking.
const tries = 20

func (t place) prefix(sort string) string {
	b := t.base
	if len(b) > longestBase {
		b = strings.ToValidUTF8(b[:longestBase], "")
	}
	return "." + b + sort
}

// create opens a new temporary file beside the target and marks it as alive.
func (t place) create() (*os.File, func(), error) {
	for n := 0; ; n++ {
		f, err := os.CreateTemp(t.dir, t.prefix(temporary)+"*")
		if err != nil {
			return nil, nil, err
		}
		release, ok := hold(f.Name())
		if ok || n == tries {
			return f, release, nil
		}
		release()
		f.Close()
		os.Remove(f.Name())
	}
}

// createDir is create for a folder.
func (t place) createDir() (string, func(), error) {
	for n := 0; ; n++ {
		d, err := os.MkdirTemp(t.dir, t.prefix(temporary)+"*")
		if err != nil {
			return "", nil, err
		}
		release, ok := hold(d)
		if ok || n == tries {
			return d, release, nil
		}
		release()
		os.RemoveAll(d)
	}
}

// litter lists the names of one sort that stand beside the target, whoever
// left them, in the folder's sorted order.
func (t place) litter(sort string) []string {
	entries, err := os.ReadDir(t.dir)
	if err != nil {
		return nil
	}
	var found []string
	for _, e := range entries {
		number, ok := strings.CutPrefix(e.Name(), t.prefix(sort))
		if ok && number != "" && strings.Trim(number, "0123456789") == "" {
			found = append(found, filepath.Join(t.dir, e.Name()))
		}
	}
	return found
}

// clear removes the litter of dead runs. Failing to is no reason to refuse the
// work at hand: the name stays recognisable for the next run.
func (t place) clear(sort string) {
	for _, name := range t.litter(sort) {
		if release, dead := claim(name); dead {
			os.RemoveAll(name)
			release()
		}
	}
}

// recover ends what a dead run began when it replaced a folder: if the old one
// was set aside and nothing took its place, it goes back; otherwise it goes.
func (t place) recover() {
	for _, name := range t.litter(setAside) {
		release, dead := claim(name)
		if !dead {
			continue
		}
		if _, err := os.Lstat(t.path); os.IsNotExist(err) {
			os.Rename(name, t.path)
		} else {
			os.RemoveAll(name)
		}
		release()
	}
}
