// Package sheetxlsx writes tables as a workbook of Office Open XML (ECMA-376,
// ISO/IEC 29500), a sheet a table: numbers are numbers, times and days are
// dates, whatever signs the reader's country writes them with, and a text is a
// text, which no program runs.
//
// A workbook has no zones: a time is the wall time at its place. The same
// records give the same bytes.
package sheetxlsx

import (
	"archive/zip"
	"bufio"
	"encoding/xml"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"time"

	"traybook/export/sheetcsv"
)

// The most that a workbook takes, by the published limits of the format's best known program.
const (
	mostRows = 1 << 20
	mostText = 32767 // UTF-16 units a cell
)

// Book is a workbook in the making.
type Book struct {
	zip    *zip.Writer
	sheets []string
	open   *Sheet
}

// Sheet is a table of it in the making.
type Sheet struct {
	out     *bufio.Writer
	columns []sheetcsv.Column
	rows    int // the header counted
}

// New begins a workbook.
func New(out io.Writer) *Book { return &Book{zip: zip.NewWriter(out)} }

// Sheet begins the next table, and ends the one before.
func (b *Book) Sheet(name string, columns []sheetcsv.Column) (*Sheet, error) {
	if err := b.end(); err != nil {
		return nil, err
	}
	b.sheets = append(b.sheets, name)
	part, err := b.part(fmt.Sprintf("xl/worksheets/sheet%d.xml", len(b.sheets)))
	if err != nil {
		return nil, err
	}
	s := &Sheet{out: bufio.NewWriter(part), columns: columns}
	b.open = s
	s.out.WriteString(xml.Header + `<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">` +
		`<sheetViews><sheetView workbookViewId="0"><pane ySplit="1" topLeftCell="A2" activePane="bottomLeft" state="frozen"/></sheetView></sheetViews><cols>`)
	names := make([]string, len(columns))
	for i, c := range columns {
		names[i] = c.Name
		fmt.Fprintf(s.out, `<col min="%d" max="%[1]d" width="%d" customWidth="1"/>`, i+1, max(len(c.Name)+2, widths[c.Type]))
	}
	s.out.WriteString("</cols><sheetData>")
	return s, s.row(names, func(at string, i int) { s.text(at, names[i], headStyle) })
}

// widths are the least of a column, in digits.
var widths = map[sheetcsv.Type]int{sheetcsv.Text: 12, sheetcsv.Number: 9, sheetcsv.Integer: 7, sheetcsv.Time: 20, sheetcsv.Day: 11, sheetcsv.Flag: 7}

// The formats of cells, by their places in styles.
const plainStyle, headStyle, timeStyle, dayStyle, quotedStyle = "0", "1", "2", "3", "4"

// Write writes one record, its cells in the order of the columns, in the forms that tables of comma-separated values have.
//
// Errors: a wrong count of cells, a cell that is not what its column holds, more rows than a sheet takes; the medium fails.
func (s *Sheet) Write(record []string) error {
	if err := sheetcsv.CheckRecord(s.columns, s.rows, record); err != nil {
		return err
	}
	if s.rows == mostRows {
		return fmt.Errorf("a sheet of a workbook takes %d rows: narrow the tables to a year, or write them as CSV", mostRows)
	}
	return s.row(record, func(at string, i int) { s.cell(at, s.columns[i].Type, record[i]) })
}

// Rows is the number of records written so far, the header not counted.
func (s *Sheet) Rows() int { return s.rows - 1 }

// row writes the cells that are not empty, each by write.
func (s *Sheet) row(cells []string, write func(at string, i int)) error {
	s.rows++
	fmt.Fprintf(s.out, `<row r="%d">`, s.rows)
	for i, cell := range cells {
		if cell != "" {
			write(columnName(i)+strconv.Itoa(s.rows), i)
		}
	}
	_, err := s.out.WriteString("</row>")
	return err
}

func (s *Sheet) cell(at string, typ sheetcsv.Type, cell string) {
	switch typ {
	case sheetcsv.Number, sheetcsv.Integer:
		fmt.Fprintf(s.out, `<c r="%s"><v>%s</v></c>`, at, cell)
	case sheetcsv.Flag:
		fmt.Fprintf(s.out, `<c r="%s" t="b"><v>1</v></c>`, at)
	case sheetcsv.Time:
		s.date(at, time.RFC3339, cell, timeStyle)
	case sheetcsv.Day:
		s.date(at, time.DateOnly, cell, dayStyle)
	default:
		cell, style := sheetcsv.Visible(cell), plainStyle
		if sheetcsv.Guard(cell) != cell {
			style = quotedStyle // else it runs once somebody edits it, and leaves it as it is
		}
		s.text(at, cell, style)
	}
}

// firstDay is the first from which on all programs count days alike: some take 1900 for a leap year.
var firstDay, day0 = time.Date(1900, 3, 1, 0, 0, 0, 0, time.UTC), time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC)

// date writes a moment as days, the time of day a part of one. What is no whole day, such as a month, or lies before
// firstDay, stays a text.
func (s *Sheet) date(at, layout, cell, style string) {
	t, err := time.Parse(layout, cell)
	if err == nil {
		t = time.Date(t.Year(), t.Month(), t.Day(), t.Hour(), t.Minute(), t.Second(), 0, time.UTC) // the clock on the wall
	}
	if err != nil || t.Before(firstDay) {
		s.text(at, cell, plainStyle)
		return
	}
	days := strconv.FormatFloat(float64(t.Unix()-day0.Unix())/86400, 'f', -1, 64)
	fmt.Fprintf(s.out, `<c r="%s" s="%s"><v>%s</v></c>`, at, style, days)
}

// escaped is what the format itself reads as a character by its number.
var escaped = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`_(x[0-9A-Fa-f]{4}_)`) })

// text writes a text as one, cut off where a cell takes no more.
func (s *Sheet) text(at, cell, style string) {
	cell = escaped().ReplaceAllString(cell, "_x005F_$1")
	units := 0
	for i, r := range cell {
		if units++; r > 0xffff {
			units++
		}
		if units >= mostText {
			cell = cell[:i] + "…"
			break
		}
	}
	fmt.Fprintf(s.out, `<c r="%s" s="%s" t="inlineStr"><is><t xml:space="preserve">`, at, style)
	xml.EscapeText(s.out, []byte(cell)) // errors stick to the writer
	s.out.WriteString("</t></is></c>")
}

// columnName is A, B … Z, AA …
func columnName(i int) string {
	if i < 26 {
		return string(rune('A' + i))
	}
	return columnName(i/26-1) + columnName(i%26)
}

// end ends the sheet that is being written.
func (b *Book) end() error {
	if b.open == nil {
		return nil
	}
	b.open.out.WriteString("</sheetData></worksheet>")
	return b.open.out.Flush()
}

// part begins a file of the workbook. All bear one date, the first that a zip can.
func (b *Book) part(name string) (io.Writer, error) {
	return b.zip.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate, Modified: time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC)})
}

// Application names this program in a workbook.
const Application = "<Application>traybook</Application>"

// Close ends the workbook.
func (b *Book) Close() error {
	if err := b.end(); err != nil {
		return err
	}
	const sheetType = "http://schemas.openxmlformats.org/officeDocument/2006/relationships/"
	var types, sheets, relations strings.Builder
	for i, name := range b.sheets {
		fmt.Fprintf(&types, `<Override PartName="/xl/worksheets/sheet%d.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/>`, i+1)
		fmt.Fprintf(&sheets, `<sheet name="%s" sheetId="%d" r:id="rId%[2]d"/>`, name, i+1)
		fmt.Fprintf(&relations, `<Relationship Id="rId%d" Type="%sworksheet" Target="worksheets/sheet%[1]d.xml"/>`, i+1, sheetType)
	}
	fmt.Fprintf(&relations, `<Relationship Id="rId%d" Type="%sstyles" Target="styles.xml"/>`, len(b.sheets)+1, sheetType)
	for _, p := range [][2]string{
		{"xl/workbook.xml", `<workbook xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships"><sheets>` + sheets.String() + `</sheets></workbook>`},
		{"xl/_rels/workbook.xml.rels", `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">` + relations.String() + `</Relationships>`},
		{"xl/styles.xml", styles},
		{"docProps/app.xml", `<Properties xmlns="http://schemas.openxmlformats.org/officeDocument/2006/extended-properties">` + Application + `</Properties>`},
		{"_rels/.rels", `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="` + sheetType + `officeDocument" Target="xl/workbook.xml"/>` +
			`<Relationship Id="rId2" Type="` + sheetType + `extended-properties" Target="docProps/app.xml"/></Relationships>`},
		{"[Content_Types].xml", `<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>` +
			`<Override PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/>` +
			`<Override PartName="/xl/styles.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.styles+xml"/>` +
			`<Override PartName="/docProps/app.xml" ContentType="application/vnd.openxmlformats-officedocument.extended-properties+xml"/>` + types.String() + `</Types>`},
	} {
		w, err := b.part(p[0])
		if err != nil {
			return err
		}
		if _, err := io.WriteString(w, xml.Header+p[1]); err != nil {
			return err
		}
	}
	return b.zip.Close()
}

// styles are the formats of cells: as it comes, head, time, day, and a text that would be a formula, with the mark that a typed
// apostrophe leaves. Times and days are told as in the other tables.
const styles = `<styleSheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">` +
	`<numFmts count="2"><numFmt numFmtId="164" formatCode="yyyy\-mm\-dd\ hh:mm:ss"/><numFmt numFmtId="165" formatCode="yyyy\-mm\-dd"/></numFmts>` +
	`<fonts count="2"><font><sz val="11"/><name val="Calibri"/></font><font><b/><sz val="11"/><name val="Calibri"/></font></fonts>` +
	`<fills count="2"><fill><patternFill patternType="none"/></fill><fill><patternFill patternType="gray125"/></fill></fills>` +
	`<borders count="1"><border><left/><right/><top/><bottom/><diagonal/></border></borders>` +
	`<cellStyleXfs count="1"><xf numFmtId="0" fontId="0" fillId="0" borderId="0"/></cellStyleXfs>` +
	`<cellXfs count="5"><xf numFmtId="0" fontId="0" fillId="0" borderId="0" xfId="0"/><xf numFmtId="0" fontId="1" fillId="0" borderId="0" xfId="0" applyFont="1"/>` +
	`<xf numFmtId="164" fontId="0" fillId="0" borderId="0" xfId="0" applyNumberFormat="1"/><xf numFmtId="165" fontId="0" fillId="0" borderId="0" xfId="0" applyNumberFormat="1"/>` +
	`<xf numFmtId="0" fontId="0" fillId="0" borderId="0" xfId="0" quotePrefix="1"/></cellXfs>` +
	`<cellStyles count="1"><cellStyle name="Normal" xfId="0" builtinId="0"/></cellStyles></styleSheet>`
