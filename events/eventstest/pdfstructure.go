package eventstest

import (
	"bytes"
	"encoding/hex"
	"fmt"
	"regexp"
	"strconv"
	"strings"
)

var (
	structureRoot = regexp.MustCompile(`/Type /StructTreeRoot /K (\d+) 0 R`)
	oneElement    = regexp.MustCompile(`(?s)^<</S /(\S+) /P \d+ 0 R(?: /Pg (\d+) 0 R)?(.*) /K \[(.*)\]>>$`)
	otherWords    = regexp.MustCompile(`/Alt (?:<FEFF([0-9A-F]*)>|\(([^)]*)\))`)
	cellTerms     = regexp.MustCompile(`/O /Table (.*)>>`)
	oneKid        = regexp.MustCompile(`<</Type /(OBJR|MCR) /Pg (\d+) 0 R /(?:Obj|MCID) (\d+)[^>]*>>|(\d+) 0 R|(\d+)`)
	marked        = regexp.MustCompile(`(?s)/(\S+) <</MCID (\d+)>> BDC\n(.*?)\nEMC`)
)

// PDFStructure tells what a reader of a document's structure is told, in its order: a line for each element, drawn in by
// how deep it stands, with its words.
func PDFStructure(pdf []byte) string {
	s := structureReader{objects: map[string][]byte{}, words: map[string]string{}}
	for _, m := range oneObject.FindAllSubmatch(pdf, -1) {
		s.objects[string(m[1])] = m[2]
	}
	root := structureRoot.FindSubmatch(pdf)
	if root == nil {
		return "no structure\n"
	}
	s.tell(string(root[1]), 0)
	return s.told.String()
}

type structureReader struct {
	objects map[string][]byte
	words   map[string]string // by page and number of the content, once a page was read
	told    strings.Builder
}

func (s *structureReader) tell(number string, depth int) {
	m := oneElement.FindSubmatch(s.objects[number])
	if m == nil {
		fmt.Fprintf(&s.told, "%s%s is no element: %s\n", strings.Repeat("  ", depth), number, s.objects[number])
		return
	}
	fmt.Fprintf(&s.told, "%s%s", strings.Repeat("  ", depth), m[1])
	if terms := cellTerms.FindSubmatch(m[3]); terms != nil {
		fmt.Fprintf(&s.told, " %s", terms[1])
	}
	if alt := otherWords.FindSubmatch(m[3]); alt != nil {
		raw, _ := hex.DecodeString(string(alt[1]))
		fmt.Fprintf(&s.told, ": %s%s\n", alt[2], inWords(string(bytes.ReplaceAll(raw, []byte(`\`), []byte(`\\`)))))
		return // the words stand for what is drawn
	}
	var text string
	var below []string
	for _, kid := range oneKid.FindAllStringSubmatch(string(m[4]), -1) {
		switch {
		case kid[1] == "OBJR":
			text += " → " + string(regexp.MustCompile(`/Dest \[\d+`).Find(s.objects[kid[3]]))
		case kid[1] == "MCR":
			text += s.content(kid[2], kid[3])
		case kid[4] != "":
			below = append(below, kid[4])
		default:
			text += s.content(string(m[2]), kid[5])
		}
	}
	if text != "" {
		text = ": " + text
	}
	s.told.WriteString(text + "\n")
	for _, kid := range below {
		s.tell(kid, depth+1)
	}
}

// content are the words of one of the contents of a page.
func (s *structureReader) content(page, number string) string {
	if _, read := s.words[page]; !read {
		s.words[page] = ""
		m := contents.FindSubmatch(s.objects[page])
		if m == nil {
			return "no page"
		}
		head, stream, _ := bytes.Cut(s.objects[string(m[1])], []byte("stream\n"))
		drawn := string(bytes.TrimSuffix(stream, []byte("\nendstream")))
		if bytes.Contains(head, []byte("/Filter")) {
			drawn = inflated(stream)
		}
		for _, m := range marked.FindAllStringSubmatch(drawn, -1) {
			var words string
			for _, w := range shown.FindAllStringSubmatch(m[3], -1) {
				words += inWords(w[1])
			}
			n, _ := strconv.Atoi(m[2])
			s.words[fmt.Sprint(page, " ", n)] = words
		}
	}
	return s.words[page+" "+number]
}
