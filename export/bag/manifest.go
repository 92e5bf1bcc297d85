package bag

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"
)

// line is one line of a manifest: a digest in lower case and a decoded path.
type line struct {
	number int
	digest string
	path   string
}

// readManifest reads the lines of a manifest and names those it cannot read to
// r under the manifest's name. size is that of the digest in bytes, 0 for a
// digest not known here.
//
// Errors: the manifest cannot be read to its end.
func readManifest(in io.Reader, name string, size int, r *Report) ([]line, error) {
	var lines []line
	err := eachLine(in, func(n int, text string) {
		at := func(what string) string { return fmt.Sprintf("line %d: %s", n, what) }
		if text == "" {
			r.add(BadLine, name, at("the line is empty"))
			return
		}
		if !utf8.ValidString(text) {
			r.add(BadLine, name, at("the line is not UTF-8"))
			return
		}
		digest, p, ok := cutBlanks(text)
		if !ok {
			r.add(BadLine, name, at("a line is a digest, blanks and a path"))
			return
		}
		digest = strings.ToLower(digest)
		if strings.Trim(digest, "0123456789abcdef") != "" || (size > 0 && len(digest) != 2*size) {
			r.add(BadLine, name, at(fmt.Sprintf("the digest of %s cannot be one", shown(p))))
			return
		}
		decoded, ok := decode(p)
		if !ok {
			r.add(PercentCode, name, at(fmt.Sprintf("in %s a '%%' stands for nothing: only %%25, %%0A and %%0D do", shown(p))))
			return
		}
		if decoded != p {
			r.note(PercentCode, name, at(fmt.Sprintf("%s is written in percent code, which sha512sum does not read", shown(p))))
		}
		if why := refusePath(decoded); why != "" {
			r.add(UnsafePath, name, at(fmt.Sprintf("%s: %s", shown(p), why)))
			return
		}
		lines = append(lines, line{n, digest, decoded})
	})
	return lines, err
}

var errTooLarge = errors.New("the file is larger than this program reads")

// eachLine gives the lines of a tag file, ended by LF, CR LF or CR, without
// their ends, up to MaxTagFile bytes. The last line may lack its end.
func eachLine(in io.Reader, give func(n int, text string)) error {
	limited := &io.LimitedReader{R: in, N: MaxTagFile + 1}
	s := bufio.NewScanner(limited)
	s.Buffer(make([]byte, 0, 4096), 4*MaxPath)
	s.Split(splitLines)
	n := 0
	for s.Scan() {
		n++
		give(n, s.Text())
	}
	if limited.N <= 0 {
		return errTooLarge
	}
	if errors.Is(s.Err(), bufio.ErrTooLong) {
		return fmt.Errorf("line %d is too long", n+1)
	}
	return s.Err()
}

func splitLines(data []byte, atEOF bool) (int, []byte, error) {
	for i, c := range data {
		switch {
		case c == '\n':
			return i + 1, data[:i], nil
		case c == '\r' && i+1 < len(data) && data[i+1] == '\n':
			return i + 2, data[:i], nil
		case c == '\r' && (i+1 < len(data) || atEOF):
			return i + 1, data[:i], nil
		case c == '\r':
			return 0, nil, nil // the next byte decides
		}
	}
	if atEOF && len(data) > 0 {
		return len(data), data, nil
	}
	return 0, nil, nil
}

// cutBlanks splits at the first run of blanks and tabs. A "*" before the path
// is the mark by which the sum programs say "read as binary".
func cutBlanks(text string) (digest, p string, ok bool) {
	i := strings.IndexAny(text, " \t")
	if i <= 0 {
		return "", "", false
	}
	p = strings.TrimLeft(text[i:], " \t")
	p = strings.TrimPrefix(p, "*")
	return text[:i], p, p != ""
}

// decode undoes the percent code of a path: RFC 8493 section 2.1.3 knows %25,
// %0A and %0D and nothing else.
func decode(p string) (string, bool) {
	if !strings.Contains(p, "%") {
		return p, true
	}
	var b strings.Builder
	for i := 0; i < len(p); i++ {
		if p[i] != '%' {
			b.WriteByte(p[i])
			continue
		}
		if i+2 >= len(p) {
			return "", false
		}
		switch strings.ToUpper(p[i+1 : i+3]) {
		case "25":
			b.WriteByte('%')
		case "0A":
			b.WriteByte('\n')
		case "0D":
			b.WriteByte('\r')
		default:
			return "", false
		}
		i += 2
	}
	return b.String(), true
}

// readInfo reads bag-info.txt: "Label: value", further lines of a value
// indented.
func readInfo(in io.Reader, r *Report) error {
	return eachLine(in, func(n int, text string) {
		label, value, ok := strings.Cut(text, ":")
		switch {
		case strings.HasPrefix(text, " ") || strings.HasPrefix(text, "\t"):
			if len(r.Info) == 0 {
				r.add(BadLine, infoName, fmt.Sprintf("line %d continues nothing", n))
				return
			}
			last := &r.Info[len(r.Info)-1]
			last.Value += "\n" + strings.Trim(text, " \t")
		case !utf8.ValidString(text) || !ok || strings.TrimSpace(label) == "":
			r.add(BadLine, infoName, fmt.Sprintf("line %d: a line is a label, ':' and a value", n))
		default:
			r.Info = append(r.Info, Label{strings.TrimSpace(label), strings.Trim(value, " \t")})
		}
	})
}
