package sheetxlsx

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/export/sheetcsv"
)

var columns = []sheetcsv.Column{{Name: "sheet"}, {Name: "stops", Type: sheetcsv.Number}, {Name: "prints", Type: sheetcsv.Integer},
	{Name: "at", Type: sheetcsv.Time}, {Name: "expires", Type: sheetcsv.Day}, {Name: "last", Type: sheetcsv.Flag}}

func book(t *testing.T, records ...[]string) []byte {
	t.Helper()
	var out bytes.Buffer
	b := New(&out)
	for _, name := range []string{"sheets", "empty"} {
		s, err := b.Sheet(name, columns)
		require.NoError(t, err)
		for i, r := range records {
			require.NoError(t, s.Write(r))
			require.Equal(t, i+1, s.Rows())
		}
		records = nil
	}
	require.NoError(t, b.Close())
	return out.Bytes()
}

func part(t *testing.T, book []byte, name string) []byte {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(book), int64(len(book)))
	require.NoError(t, err)
	f, err := z.Open(name)
	require.NoError(t, err)
	defer f.Close()
	text, err := io.ReadAll(f)
	require.NoError(t, err)
	return text
}

type cell struct {
	At     string `xml:"r,attr"`
	Type   string `xml:"t,attr"`
	Style  string `xml:"s,attr"`
	Value  string `xml:"v"`
	Text   string `xml:"is>t"`
	Formed string `xml:"f"`
}

func cells(t *testing.T, raw []byte) (all []cell) {
	t.Helper()
	var sheet struct {
		Cells []cell `xml:"sheetData>row>c"`
	}
	require.NoError(t, xml.Unmarshal(raw, &sheet))
	return sheet.Cells
}

func TestCellsAreWhatTheirColumnsHold(t *testing.T) {
	got := book(t,
		[]string{"=1+1", "-1.5", "3", "2026-05-03T18:00:00+02:00", "2027-05-31", "yes"},
		[]string{"two\nlines & <tab>\t_x0041_ \x1b", "", "", "1899-05-03T18:00:00+02:00", "2027-05", ""})
	at := func(at, typ, style, value, text string) cell {
		return cell{At: at, Type: typ, Style: style, Value: value, Text: text}
	}
	assert.Equal(t, []cell{
		at("A1", "inlineStr", "1", "", "sheet"), at("B1", "inlineStr", "1", "", "stops"), at("C1", "inlineStr", "1", "", "prints"),
		at("D1", "inlineStr", "1", "", "at"), at("E1", "inlineStr", "1", "", "expires"), at("F1", "inlineStr", "1", "", "last"),
		// 2026-05-03 is day 46145 from 1899-12-30, and 18:00 three quarters of it; 2027-05-31 is day 46538.
		at("A2", "inlineStr", "4", "", "=1+1"), at("B2", "", "", "-1.5", ""), at("C2", "", "", "3", ""), at("D2", "", "2", "46145.75", ""), at("E2", "", "3", "46538", ""), at("F2", "b", "", "1", ""),
		at("A3", "inlineStr", "0", "", "two\nlines & <tab>\t_x005F_x0041_ ␛"), at("D3", "inlineStr", "0", "", "1899-05-03T18:00:00+02:00"), at("E3", "inlineStr", "0", "", "2027-05"),
	}, cells(t, part(t, got, "xl/worksheets/sheet1.xml")))
	var formats struct {
		Cells []struct {
			Quoted bool `xml:"quotePrefix,attr"`
		} `xml:"cellXfs>xf"`
	}
	require.NoError(t, xml.Unmarshal(part(t, got, "xl/styles.xml"), &formats))
	require.True(t, len(formats.Cells) == 5 && formats.Cells[4].Quoted && !formats.Cells[0].Quoted, "a text that would be a formula bears the mark of a typed apostrophe: %v", formats)
	assert.Len(t, cells(t, part(t, got, "xl/worksheets/sheet2.xml")), len(columns))
	// Wide enough for what it holds: text, numbers, whole ones, times, days, yes or no; prints is as wide as its name and two more.
	var widths []string
	for _, m := range regexp.MustCompile(`width="(\d+)"`).FindAllSubmatch(part(t, got, "xl/worksheets/sheet1.xml"), -1) {
		widths = append(widths, string(m[1]))
	}
	assert.Equal(t, []string{"12", "9", "8", "20", "11", "7"}, widths)
	assert.Contains(t, string(part(t, got, "xl/workbook.xml")), `<sheet name="sheets" sheetId="1" r:id="rId1"/><sheet name="empty" sheetId="2" r:id="rId2"/>`)
	for _, name := range []string{"xl/workbook.xml", "xl/_rels/workbook.xml.rels", "xl/styles.xml", "docProps/app.xml", "_rels/.rels", "[Content_Types].xml"} {
		d := xml.NewDecoder(bytes.NewReader(part(t, got, name)))
		for {
			if _, err := d.Token(); err == io.EOF {
				break
			} else {
				require.NoError(t, err, name)
			}
		}
	}
	assert.Equal(t, got, book(t, []string{"=1+1", "-1.5", "3", "2026-05-03T18:00:00+02:00", "2027-05-31", "yes"},
		[]string{"two\nlines & <tab>\t_x0041_ \x1b", "", "", "1899-05-03T18:00:00+02:00", "2027-05", ""}), "the same bytes again")
}

func TestALongTextIsCutOffWhereACellTakesNoMore(t *testing.T) {
	whole, long := strings.Repeat("a", 32766), strings.Repeat("a", 32765)+"𝄞𝄞"
	got := cells(t, part(t, book(t, []string{whole, "", "", "", "", ""}, []string{long, "", "", "", "", ""}), "xl/worksheets/sheet1.xml"))
	assert.Equal(t, whole, got[6].Text)
	assert.Equal(t, strings.Repeat("a", 32765)+"…", got[7].Text)
}

func TestColumnsBeyondZ(t *testing.T) {
	for i, name := range map[int]string{0: "A", 25: "Z", 26: "AA", 51: "AZ", 52: "BA", 701: "ZZ", 702: "AAA"} {
		assert.Equal(t, name, columnName(i))
	}
}

func TestRefused(t *testing.T) {
	b := New(io.Discard)
	s, err := b.Sheet("sheets", columns)
	require.NoError(t, err)
	assert.EqualError(t, s.Write([]string{"a"}), "row 1 has 1 cells, the table has 6 columns")
	assert.EqualError(t, s.Write([]string{"a", "1,5", "", "", "", ""}), `row 1, column stops: "1,5" is not a number such as -1.5`)
	s.rows = mostRows
	assert.ErrorContains(t, s.Write(make([]string, 6)), "narrow the tables to a year")
}

type fullAfter int

func (f *fullAfter) Write(p []byte) (int, error) {
	if *f -= fullAfter(len(p)); *f < 0 {
		return 0, errors.New("medium full")
	}
	return len(p), nil
}

func TestFailingMedium(t *testing.T) {
	for room := fullAfter(0); room < 2000; room += 100 {
		left := room
		b := New(&left)
		_, err := b.Sheet("sheets", columns)
		if err == nil {
			_, err = b.Sheet("more", columns)
		}
		if err == nil {
			err = b.Close()
		}
		require.EqualError(t, err, "medium full", "%d", room)
	}
}
