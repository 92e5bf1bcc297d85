// Package bag writes and verifies bags: folders that carry the digests of what
// they hold, as BagIt 1.0 (RFC 8493) describes them, plain or as one zip file.
//
// The bags written here ask nothing of their reader in fifty years but
// coreutils: payload names hold only a-z, 0-9, ".", "_" and "-", so that
// `sha512sum -c manifest-sha512.txt` in the bag's folder checks all of it on
// any system.
package bag

import (
	"crypto/sha256"
	"crypto/sha512"
	"fmt"
	"hash"
	"io"
	"os"
	"strings"
)

// The names BagIt gives to what stands beside the payload.
const (
	declarationName = "bagit.txt"
	infoName        = "bag-info.txt"
	payloadFolder   = "data/"
	oxumLabel       = "Payload-Oxum"
)

// declaration is bagit.txt, to the byte.
const declaration = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"

// algorithm is one of the two digests that every tool for bags must know
// (RFC 8493 section 2.4).
type algorithm struct {
	name string
	size int // bytes of the digest
	new  func() hash.Hash
}

var algorithms = []algorithm{
	{"sha256", sha256.Size, sha256.New},
	{"sha512", sha512.Size, sha512.New},
}

func (a algorithm) manifest() string    { return "manifest-" + a.name + ".txt" }
func (a algorithm) tagManifest() string { return "tagmanifest-" + a.name + ".txt" }

// Label is one line of bag-info.txt.
type Label struct{ Name, Value string }

// Payload is one file of the bag. Name is its path below data/, with "/"
// between the elements. Write writes its content; for a zip it is called twice
// and must write the same bytes each time.
type Payload struct {
	Name  string
	Write func(io.Writer) error
}

// Bytes is a payload held in memory.
func Bytes(name string, content []byte) Payload {
	return Payload{name, func(w io.Writer) error { _, err := w.Write(content); return err }}
}

// File is a payload copied from a file, which is opened only when its turn
// comes and never held in memory.
func File(name, path string) Payload {
	return Reader(name, func() (io.ReadCloser, error) { return os.Open(path) })
}

// Reader is a payload copied from what open gives.
func Reader(name string, open func() (io.ReadCloser, error)) Payload {
	return Payload{name, func(w io.Writer) error {
		r, err := open()
		if err != nil {
			return err
		}
		defer r.Close()
		_, err = io.Copy(w, r)
		return err
	}}
}

// Contents is what a bag is made of. The order of the labels is kept;
// Payload-Oxum is counted, not given, and comes last. The payload may be given
// in any order.
type Contents struct {
	Info    []Label
	Payload []Payload
}

// Written counts the payload of a finished bag.
type Written struct {
	Files int
	Bytes int64
}

// digests are those of one file, in the order of algorithms.
type digests [2]string

// meter digests and counts what passes through it.
type meter struct {
	hashes [2]hash.Hash
	size   int64
}

func newMeter() *meter {
	m := &meter{}
	for i, a := range algorithms {
		m.hashes[i] = a.new()
	}
	return m
}

func (m *meter) Write(p []byte) (int, error) {
	for _, h := range m.hashes {
		h.Write(p)
	}
	m.size += int64(len(p))
	return len(p), nil
}

func (m *meter) digests() (d digests) {
	for i, h := range m.hashes {
		d[i] = fmt.Sprintf("%x", h.Sum(nil))
	}
	return d
}

func digestOf(content []byte) digests {
	m := newMeter()
	m.Write(content)
	return m.digests()
}

// check refuses contents that would not make a bag every system can hold.
func (c Contents) check() error {
	seen := map[string]bool{}
	for _, p := range c.Payload {
		if why := refuseName(p.Name); why != "" {
			return fmt.Errorf("%q cannot be a file of a bag: %s", p.Name, why)
		}
		if seen[p.Name] {
			return fmt.Errorf("two files of the bag would be named %s", p.Name)
		}
		seen[p.Name] = true
	}
	for _, p := range c.Payload {
		for i, r := range p.Name {
			if r == '/' && seen[p.Name[:i]] {
				return fmt.Errorf("%s cannot be both a file and a folder of the bag", p.Name[:i])
			}
		}
	}
	for _, l := range c.Info {
		switch {
		case strings.EqualFold(l.Name, oxumLabel):
			return fmt.Errorf("%s is counted, it cannot be given", oxumLabel)
		case l.Name == "" || strings.ContainsAny(l.Name, ":\r\n") || strings.TrimSpace(l.Name) != l.Name:
			return fmt.Errorf("%q cannot be a label of bag-info.txt", l.Name)
		case strings.ContainsRune(l.Value, '\r'):
			return fmt.Errorf("the value of %s holds a carriage return, which would end its line", l.Name)
		}
	}
	return nil
}

// refuseName says why a payload name would not be the same on every system, or
// nothing.
func refuseName(name string) string {
	if len(name) > longestName {
		return "the name is too long"
	}
	for _, element := range strings.Split(name, "/") {
		stem, _, _ := strings.Cut(element, ".")
		switch {
		case element == "":
			return "a part of the name is empty"
		case strings.Trim(element, "abcdefghijklmnopqrstuvwxyz0123456789._-") != "":
			return "only a-z, 0-9, '.', '_' and '-' read the same on every system"
		case element[0] == '.' || element[0] == '-' || element[len(element)-1] == '.':
			return "a part of the name begins with '.' or '-' or ends with '.'"
		case device[stem]:
			return "some systems keep this name for a device"
		}
	}
	return ""
}

// longestName keeps whole paths below the limits of old systems, with room for
// the folders above the bag.
const longestName = 180

// device lists names that one family of systems will not give to files.
var device = map[string]bool{
	"aux": true, "con": true, "nul": true, "prn": true,
	"com1": true, "com2": true, "com3": true, "com4": true, "com5": true, "com6": true, "com7": true, "com8": true, "com9": true,
	"lpt1": true, "lpt2": true, "lpt3": true, "lpt4": true, "lpt5": true, "lpt6": true, "lpt7": true, "lpt8": true, "lpt9": true,
}
