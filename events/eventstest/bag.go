package eventstest

import (
	"bytes"
	"crypto/sha256"
	"crypto/sha512"
	"encoding/hex"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"
)

// BagRule is one rule of a bag: its section in RFC 8493 (BagIt 1.0), what it asks, and where a bag breaks it, "" where it
// holds. Rules of what the program never writes are one each, that it is not there.
type BagRule struct {
	Section, Asks string
	broken        func(bagFiles) string
}

// bagFiles are the files of a bag by their names from its root, with "/" between the parts.
type bagFiles map[string][]byte

// BagFaults tells which rules a bag breaks, each with its section. It shares nothing with what writes and verifies bags.
func BagFaults(files map[string][]byte) (faults []string) {
	for _, rule := range BagRules {
		if where := rule.broken(files); where != "" {
			faults = append(faults, rule.Section+": "+rule.Asks+": "+where)
		}
	}
	return faults
}

// BagRules are the rules of RFC 8493, its wording and the numbers of its sections in part from memory.
var BagRules = []BagRule{
	{"2.1.1", "bagit.txt is two lines, the version and UTF-8, without a mark of byte order", func(b bagFiles) string {
		return unless(bagDeclaration.Match(b["bagit.txt"]), fmt.Sprintf("%q", b["bagit.txt"]))
	}},
	{"2.1.2", "a payload below data/", func(b bagFiles) string { return unless(len(b.named(bagPayload)) > 0, "there is none") }},
	{"2.1.3", "a manifest of the payload", func(b bagFiles) string { return unless(len(b.named(bagManifest)) > 0, "there is none") }},
	{"2.1.3", "a line of a manifest is a digest, blanks and a path", func(b bagFiles) string {
		return b.eachLine(func(text, _, path string) bool { return path != "" }, bagManifest, bagTagManifest)
	}},
	{"2.1.3", "a manifest of the payload lists nothing else", func(b bagFiles) string {
		return b.eachLine(func(_, _, path string) bool { return bagPayload(path) }, bagManifest)
	}},
	{"2.1.3", "no manifest lists a file twice", func(b bagFiles) string {
		seen := map[string]bool{}
		return b.each(func(manifest, _, _, path string) bool {
			twice := seen[manifest+"\n"+path]
			seen[manifest+"\n"+path] = true
			return !twice
		}, bagManifest, bagTagManifest)
	}},
	{"2.1.3", "in a path the percent sign stands for itself, CR or LF alone, as %25, %0D or %0A", func(b bagFiles) string {
		return b.eachLine(func(_, _, path string) bool { return !bagPercent.MatchString(path) }, bagManifest, bagTagManifest)
	}},
	{"2.2.1", "a manifest of the tag files for each digest, which lists every one but those like it, and no payload", func(b bagFiles) string {
		want := b.named(bagTag)
		for _, m := range b.named(bagManifest) {
			if got := b.listed("tag" + m); !slices.Equal(got, want) {
				return fmt.Sprintf("tag%s lists %q, there are %q", m, got, want)
			}
		}
		return ""
	}},
	{"2.2.2", "bag-info.txt is lines of a label, a colon and a value, further lines of one indented", func(b bagFiles) string {
		for i, l := range strings.Split(strings.TrimSuffix(string(b["bag-info.txt"]), "\n"), "\n") {
			if !bagLabel.MatchString(l) && (i == 0 || !strings.HasPrefix(l, " ")) {
				return fmt.Sprintf("%q", l)
			}
		}
		return ""
	}},
	{"2.2.2", "Payload-Oxum counts the bytes and the files of the payload, and stands once", func(b bagFiles) string {
		bytes, names := 0, b.named(bagPayload)
		for _, n := range names {
			bytes += len(b[n])
		}
		want := fmt.Sprintf("%d.%d", bytes, len(names))
		got := bagLabelled("Payload-Oxum", b)
		return unless(slices.Equal(got, []string{want}), fmt.Sprintf("it says %q, there are %s", got, want))
	}},
	{"2.2.2", "Bagging-Date is a day", func(b bagFiles) string {
		for _, day := range bagLabelled("Bagging-Date", b) {
			if !bagDay.MatchString(day) {
				return day
			}
		}
		return ""
	}},
	{"2.2.3", "nothing is left to be fetched", func(b bagFiles) string { return unless(b["fetch.txt"] == nil, "fetch.txt is there") }},
	{"2.3", "tag files are UTF-8 without a mark of byte order, and every line ends by a line feed", func(b bagFiles) string {
		for n, text := range b {
			if !bagPayload(n) && (!utf8.Valid(text) || bytes.HasPrefix(text, []byte("\ufeff")) || bytes.Contains(text, []byte("\r")) || !bytes.HasSuffix(text, []byte("\n"))) {
				return n
			}
		}
		return ""
	}},
	{"2.4", "a manifest by SHA-512, and digests in small hex", func(b bagFiles) string {
		if b["manifest-sha512.txt"] == nil {
			return "there is none"
		}
		return b.eachLine(func(_, digest, _ string) bool { return bagHex.MatchString(digest) }, bagManifest, bagTagManifest)
	}},
	{"3", "complete: each manifest lists the whole payload, and all that is listed is there", func(b bagFiles) string {
		want := b.named(bagPayload)
		for _, m := range b.named(bagManifest) {
			if got := b.listed(m); !slices.Equal(got, want) {
				return fmt.Sprintf("%s lists %q, there are %q", m, got, want)
			}
		}
		return ""
	}},
	{"3", "valid: each file has the digest that each manifest gives", func(b bagFiles) string {
		return b.each(func(manifest, _, digest, path string) bool {
			content, there := b[path]
			if strings.HasSuffix(manifest, "-sha256.txt") {
				sum := sha256.Sum256(content)
				return !there || hex.EncodeToString(sum[:]) == digest
			}
			sum := sha512.Sum512(content)
			return !there || hex.EncodeToString(sum[:]) == digest
		}, bagManifest, bagTagManifest)
	}},
	{"5.1", "no path leads out of the bag, on any system", func(b bagFiles) string {
		return b.eachLine(func(_, _, path string) bool { return !bagOutside.MatchString(path) }, bagManifest, bagTagManifest)
	}},
	{"6.1.1", "no two names differ by upper and lower case alone", func(b bagFiles) string {
		seen := map[string]bool{}
		for n := range b {
			if seen[strings.ToLower(n)] {
				return n
			}
			seen[strings.ToLower(n)] = true
		}
		return ""
	}},
}

// What the files of a bag are by their names, and what stands in them.
var (
	bagManifest    = regexp.MustCompile(`^manifest-[a-z0-9]+\.txt$`).MatchString
	bagTagManifest = regexp.MustCompile(`^tagmanifest-[a-z0-9]+\.txt$`).MatchString
	bagDeclaration = regexp.MustCompile(`^BagIt-Version: 1\.0\nTag-File-Character-Encoding: UTF-8\n$`)
	bagLine        = regexp.MustCompile(`^([^ \t]+)[ \t]+(.+)$`)
	bagHex         = regexp.MustCompile(`^([0-9a-f]{64}|[0-9a-f]{128})$`)
	bagPercent     = regexp.MustCompile(`%($|[^20]|2($|[^5])|0($|[^AD]))`)
	bagOutside     = regexp.MustCompile(`^[/~]|^\./|(^|/)\.\.(/|$)|\\|^[A-Za-z]:`)
	bagLabel       = regexp.MustCompile(`^[^\s:]([^:]*[^\s:])?: \S`)
	bagDay         = regexp.MustCompile(`^[0-9]{4}-[0-9]{2}-[0-9]{2}$`)
)

func bagPayload(name string) bool { return strings.HasPrefix(name, "data/") }

func bagTag(name string) bool { return !bagPayload(name) && !bagTagManifest(name) }

// named are the names of one sort, sorted.
func (b bagFiles) named(sort func(name string) bool) (names []string) {
	for n := range b {
		if sort(n) {
			names = append(names, n)
		}
	}
	slices.Sort(names)
	return names
}

// each calls holds with each line of the manifests of some sorts, and gives the first of which it does not hold.
func (b bagFiles) each(holds func(manifest, text, digest, path string) bool, sorts ...func(string) bool) string {
	for _, sort := range sorts {
		for _, m := range b.named(sort) {
			for text := range strings.Lines(string(b[m])) {
				digest, path := "", ""
				if parts := bagLine.FindStringSubmatch(strings.TrimSuffix(text, "\n")); parts != nil {
					digest, path = parts[1], parts[2]
				}
				if !holds(m, text, digest, path) {
					return fmt.Sprintf("%q of %s", text, m)
				}
			}
		}
	}
	return ""
}

func (b bagFiles) eachLine(holds func(text, digest, path string) bool, sorts ...func(string) bool) string {
	return b.each(func(_, text, digest, path string) bool { return holds(text, digest, path) }, sorts...)
}

// listed are the paths that a manifest lists, sorted.
func (b bagFiles) listed(manifest string) (paths []string) {
	b.each(func(_, _, _, path string) bool { paths = append(paths, path); return true }, func(name string) bool { return name == manifest })
	slices.Sort(paths)
	return paths
}

// bagLabelled are the values of a label of bag-info.txt.
func bagLabelled(label string, b bagFiles) (values []string) {
	for l := range strings.Lines(string(b["bag-info.txt"])) {
		if name, value, ok := strings.Cut(l, ":"); ok && strings.EqualFold(name, label) {
			values = append(values, strings.TrimSpace(value))
		}
	}
	return values
}
