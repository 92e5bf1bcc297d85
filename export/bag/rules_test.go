package bag

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events/eventstest"
)

// Each rule of RFC 8493 finds what breaks it: a bag is harmed in one place and sealed again where that would not hide the harm,
// and the rule's section and words are told.
func TestEachRuleOfABagFindsItsBreach(t *testing.T) {
	line := manifestLine(t, m512, "data/empty")
	digest, _, _ := strings.Cut(line, " ")
	listed := func(path string) func(map[string][]byte) { return add(m512, digest+"  "+path+"\n") }
	met := map[string]bool{}
	for _, c := range []struct {
		says string
		harm func(map[string][]byte)
	}{
		{"2.1.1: bagit.txt is two lines", edit("bagit.txt", "1.0", "0.97")},
		{"2.1.1: bagit.txt is two lines", edit("bagit.txt", "UTF-8\n", "UTF-8")},
		{"2.1.1: bagit.txt is two lines", edit("bagit.txt", "BagIt", "\ufeffBagIt")},
		{"2.1.1: bagit.txt is two lines", drop("bagit.txt")},
		{"2.1.2: a payload below data/", drop("data/empty", "data/events.ndjson", "data/csv/sheets.csv", "data/scans/ab/abcd.jpg")},
		{"2.1.3: a manifest of the payload:", drop(m256, m512)},
		{"2.1.3: a line of a manifest is a digest", add(m512, digest+"\n")},
		{"2.1.3: a manifest of the payload lists nothing else", listed("bagit.txt")},
		{"2.1.3: no manifest lists a file twice", add(m512, line)},
		{"2.1.3: in a path the percent sign", listed("data/100%")},
		{"2.1.3: in a path the percent sign", listed("data/a%41")},
		{"2.2.1: a manifest of the tag files", func(f map[string][]byte) { delete(f, "tagmanifest-sha512.txt") }},
		{"2.2.1: a manifest of the tag files", func(f map[string][]byte) { f["notes.txt"] = []byte("a note\n") }},
		{"2.2.2: bag-info.txt is lines", add("bag-info.txt", "no colon\n")},
		{"2.2.2: bag-info.txt is lines", add("bag-info.txt", "Rights:\n")},
		{"2.2.2: Payload-Oxum counts", edit("bag-info.txt", "25020.4", "25020.5")},
		{"2.2.2: Payload-Oxum counts", edit("bag-info.txt", "25020.4", "25021.4")},
		{"2.2.2: Payload-Oxum counts", add("bag-info.txt", "Payload-Oxum: 25020.4\n")},
		{"2.2.2: Bagging-Date is a day", edit("bag-info.txt", "2026-12-31", "31.12.2026")},
		{"2.2.3: nothing is left", add("fetch.txt", "https://quay.example 1 data/empty\n")},
		{"2.3: tag files are UTF-8", edit("bag-info.txt", "ferry", "f\xff")},
		{"2.3: tag files are UTF-8", edit("bag-info.txt", "Source", "\ufeffSource")},
		{"2.3: tag files are UTF-8", edit("bag-info.txt", "2026-12-31\n", "2026-12-31\r\n")},
		{"2.3: tag files are UTF-8", edit("bag-info.txt", "25020.4\n", "25020.4")},
		{"2.4: a manifest by SHA-512", drop(m512)},
		{"2.4: a manifest by SHA-512", edit(m512, digest, strings.ToUpper(digest))},
		{"2.4: a manifest by SHA-512", edit(m512, digest, digest[1:])},
		{"3: complete", drop("data/empty")},
		{"3: complete", add("data/letter", "x")},
		{"3: complete", edit(m512, line, "")},
		{"3: valid", edit("data/events.ndjson", "{}", "{ }")},
		{"3: valid", edit(m512, digest, strings.Repeat("0", 128))},
		{"3: valid", func(f map[string][]byte) { f["bagit.txt"] = append(f["bagit.txt"], '\n') }},
		{"5.1: no path leads out", listed("data/../../evil")},
		{"5.1: no path leads out", listed(`data\evil`)},
		{"5.1: no path leads out", listed("/etc/evil")},
		{"5.1: no path leads out", listed("~/evil")},
		{"5.1: no path leads out", listed("C:evil")},
		{"6.1.1: no two names", add("data/Empty", "")},
	} {
		files := contents(t, write(t, "folder", sample()))
		c.harm(files)
		found := false
		for _, fault := range eventstest.BagFaults(files) {
			found = found || strings.HasPrefix(fault, c.says)
		}
		assert.True(t, found, "%s is not told of: %q", c.says, eventstest.BagFaults(files))
		met[c.says] = true
	}
	for _, rule := range eventstest.BagRules {
		told := false
		for says := range met {
			told = told || strings.HasPrefix(rule.Section+": "+rule.Asks+": ", says)
		}
		require.True(t, told, "no breach is tried of %s: %s", rule.Section, rule.Asks)
	}
}
