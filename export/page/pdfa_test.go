package page_test

import (
	"fmt"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events/eventstest"
	"traybook/export/page"
)

// Every primitive, on every size of paper, makes PDF/A-2b that is tagged.
func TestEveryDocumentIsArchival(t *testing.T) {
	for _, o := range []page.Options{{Size: "A4"}, {Size: "Letter", Landscape: true}, {Size: "A6"}} {
		whole := options()
		whole.Size, whole.Landscape = o.Size, o.Landscape
		d := page.New(whole)
		if o.Size == "A6" {
			d.Text(20, 20, 50, page.Set(8, page.Regular), "a card")
		} else {
			d = everything(t, whole)
		}
		assert.Empty(t, eventstest.PDFArchival(finished(t, d)), o.Size)
	}
	bare := page.New(page.Options{Created: moment})
	assert.Empty(t, eventstest.PDFArchival(finished(t, bare)), "without title, author or words")
}

// Each rule finds what breaks it: a document is harmed in one place, and the rule's clause is told. A harm that would move
// what lies behind it is followed by a new table of where everything lies.
func TestEachArchivalRuleFindsItsBreach(t *testing.T) {
	o := options()
	o.Uncompressed = true
	d := page.New(o)
	d.Text(20, 20, 50, page.Set(8, page.Regular).Heading(1), "at the quay")
	d.Link(page.Rect{X: 20, Y: 30, W: 20, H: 5}, "quay", func() { d.Text(20, 30, 20, page.Set(8, page.Regular), "to the quay") })
	d.Anchor("quay", 20)
	_, err := d.Image("the quay", thumbnail(t, 40, 30, 1), page.Rect{X: 20, Y: 60, W: 40, H: 30})
	require.NoError(t, err)
	whole := string(finished(t, d))
	require.Empty(t, eventstest.PDFArchival([]byte(whole)))
	require.Empty(t, eventstest.PDFArchival([]byte(relaid(whole))))
	catalog, leaf, image := "/Type /Catalog", "<</Type /Page\n", "/Subtype /Image\n"
	met := map[string]bool{}
	for _, harm := range []struct{ clause, old, with string }{
		{"6.1.2", "%PDF-1.7", "%PDF-1.8"}, {"6.1.2", "%\xE2\xE3", "%ab"},
		{"6.1.3", "/ID [", "/IX ["}, {"6.1.3", "/ID [", "/Encrypt 1 0 R /ID ["}, {"6.1.3", "%%EOF\n", "%%EOF\n%%"},
		{"6.1.4", "startxref\n", "startxref\n1"}, {"6.1.5", "/Producer (tray", "/Producer (trax"},
		{"6.1.6", "/Title <FEFF", "/Title <FEF"}, {"6.1.7.1", "/XML /Length 1", "/XML /Length 2"}, {"6.1.7.1", "/XML ", "/XML /F (x) "},
		{"6.1.7.2", "/Filter /DCTDecode", "/Filter /LZWDecode"}, {"6.1.8", "/BaseFont /", "/BaseFont /\xff"},
		{"6.1.9", "1 0 obj\n", "1 0 obj "}, {"6.1.9", "endobj\n", "endobj "}, {"6.1.10", " Tj ET", " Tj BI ET"}, {"6.1.12", catalog, catalog + " /Perms <<>>"},
		{"6.1.13", catalog, catalog + " /Large 2147483648"}, {"6.1.13", catalog, catalog + " /" + strings.Repeat("n", 128) + " 1"},
		{"6.1.13", catalog, catalog + " /Long (" + strings.Repeat("n", 32768) + ")"}, {"6.1.13", "/H1 <<", strings.Repeat("q ", 29) + "/H1 <<"},
		{"6.1.13", leaf, leaf + "/MediaBox [0 0 595 2]\n"}, {"6.2.2", " Tj ET", " Tj TX ET"}, {"6.2.2", leaf + "/Parent 1 0 R\n/Resources 2 0 R", leaf + "/Parent 1 0 R"},
		{"6.2.3", "/GTS_PDFA1", "/GTS_PDFX"}, {"6.2.3", "mntrRGB ", "spacRGB "}, {"6.2.3", "acsp", "acsx"}, {"6.2.3", "bTRC", "bTRX"}, {"6.2.3", "/N 3 ", "/N 4 "},
		{"6.2.4.3", "/DeviceGray", "/DeviceCMYK"}, {"6.2.4.3", " Tj ET", " Tj 0 0 0 1 k ET"}, {"6.2.5", leaf, leaf + "/TR /Identity\n"},
		{"6.2.6", leaf, leaf + "/RI /Perceptual\n"}, {"6.2.8", image, image + "/Interpolate true\n"}, {"6.2.9", image, image + "/Subtype2 /PS\n"},
		{"6.2.10", image, image + "/SMask 1 0 R\n"}, {"6.2.11.2", "/Subtype /Type0", "/Subtype /Type1"}, {"6.2.11.3", "/Identity-H", "/Identity-V"},
		{"6.2.11.3", "/CIDToGIDMap", "/CIDToGIDMop"}, {"6.2.11.4.1", "/FontFile2", "/FontFile3"}, {"6.2.11.4.2", "+traytext\n", "-traytext\n"},
		{"6.2.11.5", " ]\n/CIDToGIDMap", " 97 97 1 ]\n/CIDToGIDMap"}, {"6.2.11.7", "endcmap", "endcmop"}, {"6.2.11.8", "(\x00a\x00t", "(\x00\x01\x00t"},
		{"6.3.1", "/Subtype /Link", "/Subtype /Text"}, {"6.3.2", " /F 4 ", " /F 6 "}, {"6.3.2", " /F 4 ", " "}, {"6.4", catalog, catalog + " /AcroForm <<>>"},
		{"6.5", "/Border [0 0 0] ", "/Border [0 0 0] /A <<>> "}, {"6.5", catalog, catalog + " /OpenAction 1 0 R"},
		{"6.6.2", "/Subtype /XML", "/Subtype /XXL"}, {"6.6.2", "<?xpacket begin", "<?xpacket bytes=\"9\" begin"}, {"6.6.2", "dc:format>application/pdf</dc:format", "dc:rights>none</dc:rights"},
		{"6.6.4", "<pdfaid:part>2", "<pdfaid:part>1"}, {"6.6.4", "conformance>B", "conformance>A"}, {"6.8", catalog, catalog + " /Names <</EmbeddedFiles <<>>>>"},
		{"6.9", catalog, catalog + " /OCProperties <<>>"}, {"6.10", leaf, leaf + "/PresSteps <<>>\n"}, {"6.11", catalog, catalog + " /Requirements []"},
		{"6.7", "/Marked true", "/Marked false"}, {"6.7", "/Lang (en) ", ""}, {"6.7", "EMC\n", ""}, {"6.7", "/MCID 1>>", "/MCID 0>>"}, {"6.7", "/MCID 1>>", "/MCID 8>>"},
		{"6.7", "/Artifact BMC\n", ""}, {"6.7", "/Artifact BMC\n", "0 0 m 9 9 l S\n/Artifact BMC\n"}, {"6.7", "/StructParents 0", "/StructParents 9"},
		{"6.7", "/StructParent 1", "/StructParent 9"}, {"6.7", "/Alt (", "/Alx ("}, {"6.7", "/K [0]>>", "/K [3]>>"},
	} {
		require.Contains(t, whole, harm.old)
		harmed := strings.Replace(whole, harm.old, harm.with, 1)
		if !strings.Contains("6.1.4 6.1.7.1 6.1.9", harm.clause) && !strings.HasPrefix(harm.old, "%%") || strings.Contains(harm.with, "/F (x)") {
			harmed = relaid(harmed)
		}
		faults := "\n" + strings.Join(eventstest.PDFArchival([]byte(harmed)), "\n")
		assert.Contains(t, faults, "\n"+harm.clause+" ", "%q for %q", harm.with, harm.old)
		met[harm.clause] = true
	}
	for _, rule := range eventstest.ArchivalRules {
		assert.True(t, met[rule.Clause], "%s is broken by a case: %s", rule.Clause, rule.Asks)
	}
}

var (
	objectHead = regexp.MustCompile(`(?m)^(\d+) 0 obj\n`)
	streamHead = regexp.MustCompile(`(?s)/Length \d+( ?>>\nstream\n)(.*)$`)
)

// relaid writes a document anew, with the lengths of its streams and the places of its objects as they have become.
func relaid(doc string) string {
	end := strings.LastIndex(doc, "\nxref\n") + 1
	at := objectHead.FindAllStringIndex(doc[:end], -1)
	out := doc[:at[0][0]]
	places := map[string]int{}
	for i, head := range at {
		next := end
		if i+1 < len(at) {
			next = at[i+1][0]
		}
		body := doc[head[1]:next]
		if before, after, is := strings.Cut(body, "\nendstream\n"); is {
			if m := streamHead.FindStringSubmatch(before); m != nil {
				body = strings.Replace(before, m[0], fmt.Sprintf("/Length %d%s%s", len(m[2]), m[1], m[2]), 1) + "\nendstream\n" + after
			}
		}
		places[strings.Fields(doc[head[0]:head[1]])[0]] = len(out)
		out += doc[head[0]:head[1]] + body
	}
	tail := fmt.Sprintf("xref\n0 %d\n0000000000 65535 f \n", len(places)+1)
	for n := 1; n <= len(places); n++ {
		tail += fmt.Sprintf("%010d 00000 n \n", places[fmt.Sprint(n)])
	}
	trailer := doc[strings.LastIndex(doc, "trailer\n"):strings.LastIndex(doc, "startxref\n")]
	return out + tail + trailer + fmt.Sprintf("startxref\n%d\n%%%%EOF\n", len(out))
}
