package bag

import (
	"fmt"
	"hash/crc32"
	"io"
	"maps"
	"slices"
	"strings"

	"golang.org/x/text/unicode/norm"
)

// Verify checks the bag against RFC 8493 and against what every bag of this
// program has besides: manifests and tag manifests by sha256 and sha512 that
// list every file, bag-info.txt with its count, no file left to be fetched, no
// links. Every file is read once.
func (b *Bag) Verify() Report {
	r := b.found
	r.Problems = slices.Clone(b.found.Problems)
	if b.hopeless {
		r.sort()
		return r
	}
	b.verifyDeclaration(&r)
	v := &check{bag: b, r: &r, have: map[string]digests{}, bad: map[string]bool{}}
	v.digestAll()
	v.payload, v.tag = newListing(), newListing()
	v.readManifests()
	v.compare(v.payload, func(name string) bool { return strings.HasPrefix(name, payloadFolder) })
	v.compare(v.tag, func(name string) bool { return !strings.HasPrefix(name, payloadFolder) && !isTagManifest(name) })
	v.twins()
	v.verifyInfo()
	if r.CutOff = b.cutOff; r.CutOff {
		r.Problems = slices.DeleteFunc(r.Problems, func(p Problem) bool { return slices.Contains(followFromACut, p.Kind) })
	}
	r.sort()
	return r
}

// followFromACut is what is found in every zip that was cut off: what stood behind
// is not there, nor the manifests that list what is.
var followFromACut = []Kind{Missing, Extra, NotInEvery, BadLine, WrongOxum, BadDeclaration}

// check holds one verification.
type check struct {
	bag          *Bag
	r            *Report
	have         map[string]digests // of every file that could be read
	bad          map[string]bool    // files already named as unreadable
	payload, tag *listing
}

// listing is what the manifests of one sort list together.
type listing struct {
	manifests []string
	lines     map[string]map[string]string // path → manifest → digest
}

func newListing() *listing { return &listing{lines: map[string]map[string]string{}} }

func (b *Bag) verifyDeclaration(r *Report) {
	if _, ok := b.size[declarationName]; !ok {
		r.add(Missing, declarationName, "every bag declares itself in it")
		return
	}
	f, err := b.Open(declarationName)
	if err != nil {
		return // named when it is digested
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, 4096))
	if err != nil {
		return
	}
	if strings.ReplaceAll(string(text), "\r\n", "\n") != declaration {
		r.add(BadDeclaration, declarationName, "it must hold the two lines of BagIt 1.0 in UTF-8 and nothing else")
	}
}

// digestAll reads every file once.
func (v *check) digestAll() {
	for _, name := range v.bag.Names() {
		f, err := v.bag.Open(name)
		if err == nil {
			m, sum := newMeter(), crc32.NewIEEE()
			_, err = io.Copy(io.MultiWriter(m, sum), f)
			f.Close()
			if err == nil {
				v.have[name] = m.digests()
				if strings.HasPrefix(name, payloadFolder) {
					v.r.Files++
					v.r.Bytes += m.size
				}
				if z := v.bag.entry[name].file; z != nil && z.CRC32 != sum.Sum32() {
					v.r.add(Changed, name, "its content does not have the sum that the zip gives")
				}
			}
		}
		if err != nil {
			v.bad[name] = true
			v.r.add(Unreadable, name, "it cannot be read to its end: "+cause(err).Error())
		}
	}
}

func (v *check) readManifests() {
	for _, a := range algorithms {
		for _, name := range []string{a.manifest(), a.tagManifest()} {
			if _, ok := v.bag.size[name]; !ok {
				v.r.add(Missing, name, "every bag of this program has it")
			}
		}
	}
	for _, name := range v.bag.Names() {
		switch {
		case isManifest(name):
			v.readManifest(name, algorithmOf(name, "manifest-"), v.payload)
		case isTagManifest(name):
			v.readManifest(name, algorithmOf(name, "tagmanifest-"), v.tag)
		case name == "fetch.txt":
			v.r.add(Layout, name, "the bag leaves files to be fetched from elsewhere; a bag of this program is complete")
		}
	}
}

func (v *check) readManifest(name, digest string, to *listing) {
	size := 0
	for _, a := range algorithms {
		if a.name == digest {
			size = a.size
		}
	}
	f, err := v.bag.Open(name)
	if err != nil {
		return // named when it was digested
	}
	defer f.Close()
	lines, err := readManifest(f, name, size, v.r)
	if err != nil && !v.bad[name] {
		v.r.add(Unreadable, name, cause(err).Error())
	}
	if size == 0 {
		v.r.note(Layout, name, "this program does not know the digest and checks only the names")
	}
	to.manifests = append(to.manifests, name)
	for _, l := range lines {
		inside := strings.HasPrefix(l.path, payloadFolder)
		switch {
		case to == v.payload && !inside:
			v.r.add(UnsafePath, name, fmt.Sprintf("line %d: %s lies outside data/", l.number, shown(l.path)))
			continue
		case to == v.tag && (inside || isTagManifest(l.path)):
			v.r.add(BadLine, name, fmt.Sprintf("line %d: %s has no place in a manifest of tag files", l.number, shown(l.path)))
			continue
		}
		if to.lines[l.path] == nil {
			to.lines[l.path] = map[string]string{}
		}
		if before, twice := to.lines[l.path][name]; twice {
			detail := "with the same digest"
			if before != l.digest {
				detail = "with two digests"
			}
			v.r.add(Doubled, name, fmt.Sprintf("line %d: %s is listed twice, %s", l.number, shown(l.path), detail))
			continue
		}
		to.lines[l.path][name] = l.digest
	}
}

// compare holds what the manifests of one sort list against what is there.
func (v *check) compare(l *listing, belongs func(string) bool) {
	var extra []string
	for _, name := range v.bag.Names() {
		if !belongs(name) {
			continue
		}
		if l.lines[name] == nil {
			extra = append(extra, name)
			continue
		}
		v.digest(name, l)
	}
	moved := map[string]string{} // digest → extra file
	for _, name := range extra {
		v.r.add(Extra, name, "no manifest lists it")
		for _, d := range v.have[name] {
			moved[d] = name
		}
	}
	for _, path := range sortedKeys(l.lines) {
		listed := l.lines[path]
		if len(listed) < len(l.manifests) {
			for _, m := range l.manifests {
				if _, ok := listed[m]; !ok {
					v.r.add(NotInEvery, path, "it is not listed in "+m)
				}
			}
		}
		if _, there := v.bag.size[path]; there {
			continue
		}
		detail := "it is listed but not there"
		for _, m := range l.manifests {
			if name, ok := moved[listed[m]]; ok && listed[m] != "" {
				detail = "it is listed but not there; " + shown(name) + " has its content"
				break
			}
		}
		v.r.add(Missing, path, detail)
	}
}

// digest compares one file with what each manifest says of it.
func (v *check) digest(name string, l *listing) {
	have, ok := v.have[name]
	if !ok {
		return // named as unreadable
	}
	for _, m := range l.manifests {
		want := l.lines[name][m]
		for i, a := range algorithms {
			if want == "" || (m != a.manifest() && m != a.tagManifest()) || want == have[i] {
				continue
			}
			v.r.add(Changed, name, "its content is not what "+m+" says")
		}
	}
}

// twins names pairs that a system without upper and lower case, or with
// another Unicode form, would take for one name.
func (v *check) twins() {
	names := map[string]bool{}
	for n := range v.bag.size {
		names[n] = true
	}
	for _, l := range []*listing{v.payload, v.tag} {
		for n := range l.lines {
			names[n] = true
		}
	}
	first := map[string]string{}
	for _, n := range sortedKeys(names) {
		folded := norm.NFC.String(strings.ToLower(norm.NFC.String(n)))
		if other, ok := first[folded]; ok {
			v.r.add(CaseTwins, n, "some systems take it for "+shown(other))
			continue
		}
		first[folded] = n
	}
}

func (v *check) verifyInfo() {
	if _, ok := v.bag.size[infoName]; !ok {
		v.r.add(Missing, infoName, "every bag of this program has it")
		return
	}
	f, err := v.bag.Open(infoName)
	if err != nil {
		return // named when it was digested
	}
	defer f.Close()
	if err := readInfo(f, v.r); err != nil && !v.bad[infoName] {
		v.r.add(Unreadable, infoName, cause(err).Error())
	}
	there := fmt.Sprintf("%d.%d", v.r.Bytes, v.r.Files)
	switch said := v.r.Value(oxumLabel); said {
	case there:
	case "":
		v.r.add(WrongOxum, infoName, oxumLabel+" is not given")
	default:
		v.r.add(WrongOxum, infoName, fmt.Sprintf("%s says %s (bytes.files), there are %s", oxumLabel, shown(said), there))
	}
}

func sortedKeys[V any](m map[string]V) []string {
	return slices.Sorted(maps.Keys(m))
}
