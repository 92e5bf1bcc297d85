// Command release makes the archives that people install from, of one commit, the same bytes each time: for Linux on amd64
// and arm64 (static, so that they run on any distribution and in the terminal of a phone), for Windows on amd64, and a
// Debian package of the two for Linux.
//
// It runs on Debian, with gcc and musl-dev, and for the other two machines gcc-aarch64-linux-gnu, musl-dev:arm64 and
// gcc-mingw-w64-x86-64:
//
//	go run -C tools ./release --out DIR             everything
//	go run -C tools ./release --out DIR --native    what runs on this machine
//	go run -C tools ./release licences > FILE       the licences of all that is inside
//	go run -C tools ./release compiles darwin       whether the code compiles for a system whose tools are not here
package main

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"time"
)

func main() {
	if err := run(os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "release:", err)
		os.Exit(1)
	}
}

func run(args []string) error {
	root, err := output("", nil, "git", "rev-parse", "--show-toplevel")
	if err != nil {
		return err
	}
	switch {
	case len(args) == 1 && args[0] == "licences":
		text, err := licences(root)
		if err == nil {
			_, err = os.Stdout.WriteString(text)
		}
		return err
	case len(args) == 2 && args[0] == "compiles":
		return compiles(root, args[1])
	}
	flags := flag.NewFlagSet("release", flag.ContinueOnError)
	out := flags.String("out", "", "the folder to make, which must not exist yet")
	native := flags.Bool("native", false, "only what runs on this machine")
	if err := flags.Parse(args); err != nil {
		return err
	}
	if *out == "" || flags.NArg() > 0 {
		return errors.New("write release --out DIR [--native], release licences, or release compiles SYSTEM")
	}
	own := slices.IndexFunc(targets, func(t target) bool { return t.system == runtime.GOOS && t.machine == runtime.GOARCH })
	if own < 0 {
		return fmt.Errorf("%s on %s makes no archives: it must run what it builds, to ask it", runtime.GOOS, runtime.GOARCH)
	}
	r, err := begin(root, *out)
	if err != nil {
		return err
	}
	defer os.RemoveAll(r.work)
	if err := r.ask(targets[own]); err != nil {
		return err
	}
	for i, t := range targets {
		if *native && i != own {
			continue
		}
		if err := r.make(t); err != nil {
			return fmt.Errorf("%s-%s: %w", t.system, t.machine, err)
		}
	}
	return r.sums()
}

// release is one making of the archives.
type release struct {
	out, work string
	source    string    // a clean checkout of the commit
	commit    string    // whole hash
	at        time.Time // of the commit; every file bears it
	version   string    // as the program tells it
	beside    []file    // what every archive holds besides the program
	built     map[target]string
	made      []string // archives
}

// file is one file of an archive, by its name there.
type file struct {
	name    string
	mode    int64
	content []byte
}

// begin checks the commit out. Uncommitted changes
// are refused: the archives are told to be of a commit.
func begin(root, out string) (*release, error) {
	if dirty, err := output(root, nil, "git", "status", "--porcelain", "--untracked-files=no"); err != nil || dirty != "" {
		return nil, errors.Join(err, errors.New("there are uncommitted changes: commit them first"))
	}
	abs, err := filepath.Abs(out)
	if err == nil {
		err = os.Mkdir(abs, 0o755)
	}
	if err != nil {
		return nil, err
	}
	r := &release{out: abs, built: map[target]string{}}
	if r.work, err = os.MkdirTemp("", "release-"); err != nil {
		return nil, err
	}
	if r.commit, err = output(root, nil, "git", "rev-parse", "HEAD"); err != nil {
		return nil, err
	}
	stamp, err := output(root, nil, "git", "log", "-1", "--format=%cI")
	if err != nil {
		return nil, err
	}
	if r.at, err = time.Parse(time.RFC3339, stamp); err != nil {
		return nil, err
	}
	r.at = r.at.UTC()
	r.source = filepath.Join(r.work, "source")
	if _, err := output(root, nil, "git", "clone", "-q", "--no-checkout", root, r.source); err != nil {
		return nil, err
	}
	if _, err := output(r.source, nil, "git", "checkout", "-q", r.commit); err != nil {
		return nil, err
	}
	return r, nil
}

// ask builds the program for this machine and lets it tell its version and what every archive holds besides it.
func (r *release) ask(t target) error {
	own, err := r.build(t)
	if err != nil {
		return err
	}
	told, err := output(r.work, nil, own, "--version")
	if err != nil {
		return err
	}
	if r.version = strings.TrimPrefix(strings.SplitN(told, "\n", 2)[0], "traybook "); r.version == "" || !strings.Contains(told, r.commit[:12]) {
		return fmt.Errorf("the program tells another version or commit than it was built of: %q", told)
	}
	for _, name := range []string{"README.md", "CHANGES.md", "FORMAT.md", "docs/traybook.1", "docs/first-look.png"} {
		content, err := os.ReadFile(filepath.Join(r.source, name))
		if err != nil {
			return err
		}
		if name == "docs/traybook.1" {
			name = "traybook.1"
		}
		r.beside = append(r.beside, file{name, 0o644, content})
	}
	for _, x := range []struct {
		name string
		ask  []string
	}{
		{"completions/traybook.bash", []string{"completion", "bash"}}, {"completions/_traybook", []string{"completion", "zsh"}},
		{"completions/traybook.fish", []string{"completion", "fish"}}, {"licences.txt", []string{"licences"}},
	} {
		text, err := output(r.work, nil, own, x.ask...)
		if err != nil {
			return err
		}
		r.beside = append(r.beside, file{x.name, 0o644, []byte(text + "\n")})
	}
	return nil
}

// make builds the program for one machine and packs it.
func (r *release) make(t target) error {
	fmt.Fprintf(os.Stderr, "%s-%s\n", t.system, t.machine)
	path, err := r.build(t)
	if err != nil {
		return err
	}
	program, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	parts, err := r.parts(t, program)
	if err != nil {
		return err
	}
	library, err := os.ReadFile(filepath.Join("/usr/share/doc", t.libraryPackage(), "copyright"))
	if err != nil {
		return err
	}
	beside := append(slices.Clone(r.beside), file{"licences-of-the-c-library.txt", 0o644, library})
	name := fmt.Sprintf("traybook-%s-%s-%s", r.version, t.system, t.machine)
	files := append([]file{{t.program(), 0o755, program}, {"parts.spdx.json", 0o644, parts}}, beside...)
	packed, err := pack(name, t.system == "windows", r.at, files)
	if err != nil {
		return err
	}
	if t.system == "windows" {
		return r.write(name+".zip", packed)
	}
	if err := r.write(name+".tar.gz", packed); err != nil {
		return err
	}
	return r.debian(t, program, beside)
}

func (r *release) write(name string, content []byte) error {
	r.made = append(r.made, name)
	return os.WriteFile(filepath.Join(r.out, name), content, 0o644)
}

// output runs a program in a folder, with more in its environment, and gives what it wrote, without the last line's end.
func output(dir string, env []string, program string, args ...string) (string, error) {
	cmd := exec.Command(program, args...)
	cmd.Dir, cmd.Env = dir, append(os.Environ(), env...)
	var trouble bytes.Buffer
	cmd.Stderr = &trouble
	out, err := cmd.Output()
	if err != nil {
		return "", fmt.Errorf("%s: %w: %s", strings.Join(cmd.Args, " "), err, strings.TrimSpace(trouble.String()))
	}
	return strings.TrimRight(string(out), "\n"), nil
}
