package bag

import (
	"io/fs"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

// The percent code of a path is undone for the three signs that have one, in either case, and for no other; a cut code is
// no path.
func TestThePercentCodeOfAPath(t *testing.T) {
	for p, want := range map[string]string{
		"data/a": "data/a", "a%25b": "a%b", "a%0Ab": "a\nb", "a%0ab": "a\nb", "a%0Db": "a\rb", "a%0db": "a\rb", "%25": "%", "%25%25": "%%", "%2525": "%25", "%0A%0D": "\n\r",
	} {
		got, ok := decode(p)
		assert.True(t, ok, p)
		assert.Equal(t, want, got, p)
	}
	for _, p := range []string{"%", "a%", "a%2", "a%20", "%41", "%zz", "a%25%", "%0"} {
		got, ok := decode(p)
		assert.False(t, ok, p)
		assert.Empty(t, got, p)
	}
}

// A path that could lead out of the bag on some system is refused with its reason; every other is a path.
func TestWhichPathsLeadOut(t *testing.T) {
	for p, want := range map[string]string{
		"": "the path is empty", strings.Repeat("a", MaxPath+1): "the path is too long", strings.Repeat("a", MaxPath): "", "/a": "the path begins at the root of the file system", "a/b": "",
		"~a": "the path begins with '~', which some programs take for a home folder", "a~": "", `a\b`: `the path holds '\', which some systems take for '/'`,
		"c:a": "the path begins with the letter of a drive", "c:": "the path begins with the letter of a drive", ":": "", "ab:c": "", "a:": "the path begins with the letter of a drive",
		"a\x00b": "the path holds a zero byte", "..": "the path leads out of the bag by '..'", "a/../b": "the path leads out of the bag by '..'", "a/..": "the path leads out of the bag by '..'", "a..b": "", "...": "",
		"./a": "the path holds '.' or an empty part", "a/./b": "the path holds '.' or an empty part", "a//b": "the path holds '.' or an empty part", "a/": "the path holds '.' or an empty part",
	} {
		assert.Equal(t, want, refusePath(p), "%.20q", p)
	}
}

func TestWhatIsNoFileIsCalled(t *testing.T) {
	for m, want := range map[fs.FileMode]string{fs.ModeSymlink: "link", fs.ModeDevice: "device", fs.ModeDevice | fs.ModeCharDevice: "device", fs.ModeNamedPipe: "pipe", fs.ModeSocket: "socket", fs.ModeIrregular: "thing of another sort"} {
		assert.Equal(t, want, sortOf(m|0o600), "%v", m)
	}
	assert.Equal(t, []string{"0 files", "1 file", "2 files"}, []string{countOf(0, "file"), countOf(1, "file"), countOf(2, "file")})
}

// The one folder of a zip is called like the file where every system reads that name alike.
func TestTheFolderOfAZip(t *testing.T) {
	for path, want := range map[string]string{"/tmp/year-2026.zip": "year-2026/", "year": "year/", "a.zip.zip": "a.zip/", "Year.ZIP": "Year.ZIP/", "å.zip": "bag/", ".zip": "bag/", "con.zip": "bag/", "a b.zip": "bag/"} {
		assert.Equal(t, want, topFolder(path), path)
	}
}
