package main

import (
	"bytes"
	"compress/gzip"
	"fmt"
	"os"
	"path/filepath"
)

// Where a Debian system looks for what the archives hold flat.
var debianPlaces = map[string]string{
	"completions/traybook.bash":     "usr/share/bash-completion/completions/traybook",
	"completions/_traybook":         "usr/share/zsh/vendor-completions/_traybook",
	"completions/traybook.fish":     "usr/share/fish/vendor_completions.d/traybook.fish",
	"README.md":                     "usr/share/doc/traybook/README.md",
	"FORMAT.md":                     "usr/share/doc/traybook/FORMAT.md",
	"CHANGES.md":                    "usr/share/doc/traybook/CHANGES.md",
	"licences-of-the-c-library.txt": "usr/share/doc/traybook/licences-of-the-c-library.txt",
	"licences.txt":                  "usr/share/doc/traybook/copyright",
	"docs/first-look.png":           "usr/share/doc/traybook/docs/first-look.png",
	"traybook.1":                    "usr/share/man/man1/traybook.1.gz",
}

const control = `Package: traybook
Version: %s
Architecture: %s
Maintainer: traybook <traybook@localhost>
Installed-Size: %d
Section: graphics
Priority: optional
Description: lab notebook for the paper-negative box camera
 Every act with the camera and its trays is written down as it happens and
 never changed. The program calculates what time a sheet calls for, keeps the
 age of the baths and the paper left, replays the log when a print fails, and
 puts every plate into an archive that can be read without it.
`

// debian packs the program for a Debian system. The package has no scripts: books lie in the home of who keeps them, and
// nothing here touches them.
func (r *release) debian(t target, program []byte, beside []file) error {
	root := filepath.Join(r.work, "debian-"+t.machine)
	size := 0
	lay := func(name string, mode os.FileMode, content []byte) error {
		path := filepath.Join(root, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			return err
		}
		size += len(content)
		return os.WriteFile(path, content, mode)
	}
	if err := lay("usr/bin/traybook", 0o755, program); err != nil {
		return err
	}
	for _, f := range beside {
		place, ok := debianPlaces[f.name]
		if !ok {
			return fmt.Errorf("a Debian package has no place for %s: name one in debianPlaces", f.name)
		}
		content := f.content
		if filepath.Ext(place) == ".gz" {
			var err error
			if content, err = squeeze(content); err != nil {
				return err
			}
		}
		if err := lay(place, 0o644, content); err != nil {
			return err
		}
	}
	if err := lay("DEBIAN/control", 0o644, fmt.Appendf(nil, control, r.version, t.machine, (size+1023)/1024)); err != nil {
		return err
	}
	name := fmt.Sprintf("traybook_%s_%s.deb", r.version, t.machine)
	_, err := output(r.work, []string{fmt.Sprintf("SOURCE_DATE_EPOCH=%d", r.at.Unix())}, "dpkg-deb", "--root-owner-group", "-Zgzip", "-b", root, filepath.Join(r.out, name))
	r.made = append(r.made, name)
	return err
}

// squeeze compresses without a name and a time.
func squeeze(content []byte) ([]byte, error) {
	var out bytes.Buffer
	w, err := gzip.NewWriterLevel(&out, gzip.BestCompression)
	if err != nil {
		return nil, err
	}
	if _, err := w.Write(content); err != nil {
		return nil, err
	}
	err = w.Close()
	return out.Bytes(), err
}
