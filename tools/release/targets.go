package main

import (
	"os"
	"path/filepath"
	"strings"
)

// target is one machine that the program is built for.
type target struct {
	system, machine string // by Go's names
	compiler        string // of C, which the store needs
	musl            string // the C library that is linked in, by its folder's name; "" where the system brings its own
	loader          string // that musl's own programs name; unused, since nothing is loaded
}

// The programs for Linux are linked with musl, whose licence allows it without conditions, and need no library of the
// system that they run on.
var targets = []target{
	{"linux", "amd64", "gcc", "x86_64-linux-musl", "/lib/ld-musl-x86_64.so.1"},
	{"linux", "arm64", "aarch64-linux-gnu-gcc", "aarch64-linux-musl", "/lib/ld-musl-aarch64.so.1"},
	{"windows", "amd64", "x86_64-w64-mingw32-gcc", "", ""},
}

func (t target) program() string {
	if t.system == "windows" {
		return "traybook.exe"
	}
	return "traybook"
}

// libraryPackage is the Debian package of the C library that is linked in; its version and licence are told.
func (t target) libraryPackage() string {
	if t.musl == "" {
		return "mingw-w64-x86-64-dev"
	}
	return "musl-dev"
}

// specs tell gcc to look for headers, start files and library in musl's folders and in no others.
const specs = `%rename cpp_options old_cpp_options

*cpp_options:
-nostdinc -isystem /usr/include/MUSL -isystem include%s %(old_cpp_options)

*cc1:
%(cc1_cpu) -nostdinc -isystem /usr/include/MUSL -isystem include%s

*link_libgcc:
-L/usr/lib/MUSL -L .%s

*libgcc:
libgcc.a%s libgcc_eh.a%s

*startfile:
/usr/lib/MUSL/crt1.o /usr/lib/MUSL/crti.o crtbeginT.o%s

*endfile:
crtend.o%s /usr/lib/MUSL/crtn.o

*link:
-dynamic-linker LOADER -nostdlib -static

*esp_link:


*esp_options:


*esp_cpp_options:


`

// build builds the program once and gives its path.
func (r *release) build(t target) (string, error) {
	if path, ok := r.built[t]; ok {
		return path, nil
	}
	out := filepath.Join(r.work, t.system+"-"+t.machine)
	compiler, flags := t.compiler, "-s -w -buildid="
	if t.musl != "" {
		// By a name that is the same each time, so that Go knows again what it has built before.
		path := filepath.Join(os.TempDir(), "traybook-release-"+t.musl+".specs")
		if err := os.WriteFile(path, []byte(strings.NewReplacer("MUSL", t.musl, "LOADER", t.loader).Replace(specs)), 0o644); err != nil {
			return "", err
		}
		compiler += " -specs " + path
		flags += ` -linkmode external -extldflags "-static"`
	}
	env := []string{"GOFLAGS=", "CGO_ENABLED=1", "GOOS=" + t.system, "GOARCH=" + t.machine, "CC=" + compiler}
	_, err := output(r.source, env, "go", "build", "-trimpath", "-buildvcs=true", "-tags", "netgo,osusergo", "-ldflags", flags, "-o", out, "./cmd/traybook")
	r.built[t] = out
	return out, err
}
