package bag

import (
	"archive/zip"
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// listZip lists the entries of a zip, naming each that is hostile or would not
// unpack to the same files everywhere. Such entries are not offered by Open.
func (b *Bag) listZip() {
	if len(b.zip.File) > MaxEntries {
		b.found.add(TooLarge, "zip", fmt.Sprintf("the zip holds more than %d entries", MaxEntries))
		b.hopeless = true
		return
	}
	top, ok := b.topOf()
	if !ok {
		b.hopeless = true
		return
	}
	total := uint64(0)
	for _, f := range b.zip.File {
		name := strings.TrimPrefix(f.Name, top)
		folder := strings.HasSuffix(f.Name, "/")
		if why := refusePath(strings.TrimSuffix(f.Name, "/")); why != "" {
			b.found.add(UnsafePath, f.Name, why)
			continue
		}
		if folder || !strings.HasPrefix(f.Name, top) {
			continue // the stray one is named by topOf
		}
		total += min(f.UncompressedSize64, MaxTotal+1)
		switch {
		case !f.Mode().IsRegular():
			b.found.add(NotAFile, name, "a bag holds plain files only; this is a "+sortOf(f.Mode()))
			continue
		case f.Flags&1 != 0:
			b.found.add(Unreadable, name, "the entry is encrypted")
			continue
		case f.Method != zip.Store && f.Method != zip.Deflate:
			b.found.add(Unreadable, name, fmt.Sprintf("the entry is packed by method %d, which is not known here", f.Method))
			continue
		case f.UncompressedSize64 > MaxFile || total > MaxTotal:
			b.found.add(TooLarge, name, "the zip declares more bytes than this program reads")
			continue
		case f.UncompressedSize64 > ratioFrom && f.UncompressedSize64/MaxRatio > f.CompressedSize64:
			b.found.add(TooLarge, name, fmt.Sprintf("the entry would grow to more than %d times its packed size", MaxRatio))
			continue
		}
		if _, twice := b.size[name]; twice {
			b.found.add(Doubled, name, "the zip holds this name twice; which one is read depends on the program")
			continue
		}
		b.size[name] = int64(f.UncompressedSize64)
		b.entry[name] = anySum(f)
	}
	b.refuseOverlaps()
}

// topOf is the one folder all entries lie in, with its "/".
func (b *Bag) topOf() (string, bool) {
	tops := map[string]bool{}
	first := ""
	for _, f := range b.zip.File {
		if refusePath(strings.TrimSuffix(f.Name, "/")) != "" {
			continue // named later
		}
		top, _, below := strings.Cut(f.Name, "/")
		if !below {
			b.found.add(Layout, f.Name, "the zip must hold one folder with everything in it; this stands outside")
			continue
		}
		if first == "" {
			first = top
		}
		tops[top] = true
	}
	if len(tops) == 1 {
		return first + "/", true
	}
	names := sortedKeys(tops)
	for _, t := range names[min(1, len(names)):] {
		b.found.add(Layout, t+"/", "the zip must hold one folder with everything in it; this is another")
	}
	if len(tops) == 0 {
		b.found.add(Layout, "zip", "the zip holds no folder")
	}
	return "", false
}

// refuseOverlaps withdraws entries that share bytes of the file with another:
// so a small zip would become an endless amount of files.
func (b *Bag) refuseOverlaps() {
	type extent struct {
		from, to int64
		name     string
	}
	var list []extent
	for name, e := range b.entry {
		f := e.file
		from, err := f.DataOffset()
		if err != nil {
			b.found.add(Unreadable, name, "the zip's directory points at no such entry")
			b.withdraw(name)
			continue
		}
		list = append(list, extent{from, from + int64(min(f.CompressedSize64, MaxTotal)), name})
	}
	slices.SortFunc(list, func(a, b extent) int { return cmp.Or(cmp.Compare(a.from, b.from), cmp.Compare(a.name, b.name)) })
	end := int64(0)
	for _, e := range list {
		if e.from < end && e.to > e.from {
			b.found.add(TooLarge, e.name, "the entry shares its bytes with another")
			b.withdraw(e.name)
		}
		end = max(end, e.to)
	}
}

func (b *Bag) withdraw(name string) {
	delete(b.entry, name)
	delete(b.size, name)
}
