package atomicfile

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// Dir makes the folder path from what fill puts into the folder it is given.
// perm 0 means 0700; the permissions of what lies inside are fill's affair.
//
// Every file and folder is on the medium when Dir returns nil. On any failure
// path is as it was and no temporary folder remains.
//
// The old folder is set aside only after the new one is complete and safe and
// may has let it go, and removed only after the new one has its name. Killed
// between the two, the next run that writes in the same place puts it back.
//
// Errors: as for Write.
func Dir(path string, may May, perm fs.FileMode, fill func(dir string) error) error {
	t, err := target(path)
	if err != nil {
		return err
	}
	clearDead(t.dir)
	if _, err := t.mayWriteDir("", may); err != nil {
		return err
	}
	g, err := Grow(t.dir)
	if err != nil {
		return t.fail(err)
	}
	defer g.Drop()
	temp := filepath.Join(g.Dir, grown)
	if err := os.Mkdir(temp, 0o700); err != nil {
		return t.fail(err)
	}
	if perm != 0 {
		if err := os.Chmod(temp, perm); err != nil {
			return t.fail(err)
		}
	}
	if err := fill(temp); err != nil {
		return t.withoutTemp(temp, err)
	}
	if err := syncTree(temp); err != nil {
		return t.fail(err)
	}
	old, err := t.mayWriteDir(temp, may)
	if err != nil {
		return err
	}
	err = g.name(func() error {
		if old {
			return t.exchange(g)
		}
		return t.put(temp)
	})
	if errors.Is(err, fs.ErrExist) {
		return t.exists()
	}
	if err != nil {
		return t.fail(err)
	}
	return nil
}

// put gives the new folder its name, and takes it back where that is not safe.
func (t place) put(temp string) error {
	if err := os.Rename(temp, t.path); err != nil {
		return err
	}
	if err := SyncDir(t.dir); err != nil {
		return errors.Join(err, os.Rename(t.path, temp))
	}
	return nil
}

// exchange sets the old folder aside and gives the new one its name. The old one
// goes back if the new one cannot be placed; if that cannot be either it stays
// where it is set aside.
func (t place) exchange(g *Growing) error {
	aside := filepath.Join(g.Dir, setAside)
	if err := os.Mkdir(aside, 0o700); err != nil {
		return err
	}
	aside = filepath.Join(aside, t.base)
	if err := os.Rename(t.path, aside); err != nil {
		return err
	}
	if err := t.put(filepath.Join(g.Dir, grown)); err != nil {
		back := os.Rename(aside, t.path)
		if back != nil {
			g.letGo()
		}
		return errors.Join(err, back)
	}
	return nil
}

func (t place) mayWriteDir(temp string, may May) (exists bool, err error) {
	fi, err := os.Lstat(t.path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return false, nil
	case err != nil:
		return false, t.fail(err)
	case !fi.IsDir():
		return false, fmt.Errorf("%s is not a folder: name another", t.shown)
	case may == nil:
		return false, t.exists()
	}
	return true, may(t.path, temp)
}

// withoutTemp says where a file inside the folder would have stood, not where
// it stood while it was written.
func (t place) withoutTemp(temp string, err error) error {
	var pe *fs.PathError
	if !errors.As(err, &pe) || !strings.HasPrefix(pe.Path, temp) {
		return err
	}
	return fmt.Errorf("cannot write %s%s: %w", t.shown, strings.TrimPrefix(pe.Path, temp), pe.Err)
}

// syncTree makes every file and folder below dir safe, the inner ones first.
func syncTree(dir string) error {
	var folders []string
	err := filepath.WalkDir(dir, func(name string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir():
			folders = append(folders, name)
			return nil
		case !d.Type().IsRegular():
			return nil
		}
		flag := os.O_RDONLY
		if !dirsSync {
			flag = os.O_RDWR // such systems make only what is open for writing safe
		}
		f, err := os.OpenFile(name, flag, 0)
		if err != nil {
			return err
		}
		defer f.Close()
		return syncFile(f)
	})
	if err != nil {
		return err
	}
	for _, folder := range slices.Backward(folders) {
		if err := SyncDir(folder); err != nil {
			return err
		}
	}
	return nil
}
