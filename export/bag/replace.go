package bag

import (
	"fmt"
	"io/fs"
)

// Replaceable says why the bag at path, a folder or a zip file, may not go for
// another: what is there must be what its manifests list, to the byte. What no
// manifest lists, and what was changed since, was put there by someone else and
// stands nowhere else. What is missing is no loss. An empty folder may go; empty
// says that it is one.
//
// Its report is that of Verify. Errors: path cannot be read; it holds what no
// bag of this program would.
func Replaceable(path string) (r Report, empty bool, err error) {
	b, err := Open(path)
	if err != nil {
		return r, false, err
	}
	defer b.Close()
	if b.root != nil {
		stray, err := b.strayFolder()
		switch {
		case err != nil:
			return r, false, fmt.Errorf("cannot read the bag %s: %w", path, cause(err))
		case stray == ".":
			return r, true, nil
		case stray != "":
			return r, false, fmt.Errorf("%s holds the empty folder %s, which no archive has: move it away, or name another place", path, shown(stray))
		}
	}
	if !b.Looks() {
		return r, false, fmt.Errorf("%s is not a bag: name another place", path)
	}
	r = b.Verify()
	for _, p := range r.Problems {
		switch p.Kind {
		case Missing, NotInEvery, WrongOxum:
		case Extra:
			return r, false, fmt.Errorf("%s holds %s, which no manifest of it lists: move it away, or name another place", path, shown(p.Name))
		case Changed:
			return r, false, fmt.Errorf("%s holds %s, which is not as it was written: move it away, or name another place", path, shown(p.Name))
		default:
			return r, false, fmt.Errorf("%s is no whole archive (%s): move it away, or name another place", path, p)
		}
	}
	return r, false, nil
}

// strayFolder is a folder with nothing in it, which no bag has: "." where that is the whole bag.
func (b *Bag) strayFolder() (string, error) {
	stray := ""
	err := fs.WalkDir(b.root.FS(), ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || !d.IsDir() || stray != "" {
			return err
		}
		inside, err := fs.ReadDir(b.root.FS(), name)
		if len(inside) == 0 {
			stray = name
		}
		return err
	})
	return stray, err
}
