package export

import (
	"io"
	"strings"
	"sync"
	"text/template"

	"traybook/export/sheetcsv"
)

// readmePage is written for someone who finds the bag in fifty years and has no traybook.
var readmePage = sync.OnceValue(func() *template.Template { return template.Must(template.New("readme").Parse(readmeText)) })

const readmeText = `WHAT THIS IS

The lab notebook of a photographer whose wooden camera holds its own darkroom: paper negatives, copied in the same
camera. Every act was written down when it was done (metered, exposed, developed, rinsed, fixed, washed, printed, judged),
and no entry was ever changed or removed afterwards.

  {{.Entries}} entries, of which tables, pages and scans show: {{.Scope}}
  {{.Scans}} scans
  as of {{.AsOf}}
{{- with .Owner.Owner}}
  whose it is: {{.}}{{end}}
{{- with .Owner.Contact}}
  how they are reached: {{.}}{{end}}
{{- with .Owner.Rights}}
  rights: {{.}}{{end}}
  made by {{.Program}}; time zone data: {{.Zones}}

You need no special program. A text editor, a table program, a picture viewer and the tools named below are enough.

WHAT IS WHERE

  events.ndjson         every entry of the whole book, one a line: the log itself, from which all else can be made
  tables/*.csv          the same as tables; tables/schema.md explains each column
  log.pdf               the same as printed pages
  scans/                the scans as they were attached, called after their sheets: 2026-014n.jpg shows the negative of
                        picture 2026-014, 2026-014p1.jpg its first print, 2026-014n-inverted.jpg a negative with its tones
                        turned round, 2026-014n-2.jpg a second scan. tables/scans.csv has the SHA-256 of each
  scans/*.xmp           beside each scan: what is known of it (XMP with terms of Dublin Core, IPTC and Exif, plain XML; its own
                        terms are told in format.md). The scans themselves are as they came, byte for byte
  thumbnails/           a small picture of each, with the same inside
  book.db               the book: one SQLite 3 file. With scans/ and tables/ beside it, as here, it is ready to go on
  format.md             how entries, chain and book are built, in full; kinds.md each kind of entry with its fields and units,
                        kinds.schema.json the same as JSON Schema for a program
  reader.py             a reader of a hundred lines (Python 3.7 or later): checks entries and files, tells a picture's history

HOW TO CHECK IT

In the folder above this one:

  sha512sum -c manifest-sha512.txt        every file here, byte for byte
  sha512sum -c tagmanifest-sha512.txt     and the lists themselves

(The folder is a bag as RFC 8493 describes it; sha256 lists stand beside them.) The entries also check themselves: each
line ends with "prev", the hash of the entry before, and "hash", its own. All of them, in this folder:

  python3 reader.py                       every line, every chain, that no end is cut off, and every file

and by hand one line, here the 17th:

  line=$(sed -n 17p events.ndjson)
  prev=$(printf '%s' "$line" | sed 's/.*,"prev":"\([0-9a-f]*\)".*/\1/')
  body=$(printf '%s' "$line" | sed 's/\(.*\),"prev".*/\1}/')
  printf 'traybook-entry-1\n%s\n%s' "$prev" "$body" | sha256sum      must print the line's "hash"

The ends of the chains, which no chain can know of itself (book, number of its last entry, hash):
{{range .Heads}}
  {{.}}
{{- end}}

HOW TO READ IT

"at" is when an act began, "recorded_at" when it was written down. "data" holds its fields, with the unit in the name:
time_s seconds, temp_c degrees Celsius, subject_mm millimetres. 2026-014 is a picture, 2026-014n its negative, 2026-014p1
its first print. An entry.amended sets fields of an earlier entry anew, an entry.voided takes one back: apply both before
you read the rest. The tables have done so already, and the reader does:

  python3 reader.py 2026-014              what was done with picture 2026-014, act by act

HOW TO MAKE THE BOOK ANEW

  sqlite3 book.db "select body from entry order by seq"       reads the copy
  traybook --book new.db import events.ndjson                 with the program: the same book from the entries alone
  traybook --book book.db history 2026-014                    or go on with the copy, in a copy of this folder

Without it, format.md and kinds.md are enough to write a reader; reader.py is one.

WHOSE NAMES ARE IN IT

The entries name no sitter, only references such as sitter-7. Names and contacts of {{.Sitters}} sitters stand in
tables/sitters.csv and in the table "sitter" of book.db. Whoever gives this away without those two files gives no such name
away; whoever was erased from the book before this was made is in neither. Free texts are as they were written.
{{if .Unseen}}
SCANS WITHOUT A SMALL PICTURE

The program that made this could not show these; they are kept byte for byte as they came. A program that reads their sort shows
them; the media type goes by their bytes, the ending of a name is the one with which they came:
{{range .Unseen}}
  scans/{{.Name}}  {{.Data.Media}}  {{.Data.Bytes}} bytes  {{.Data.SHA256}}
{{- end}}
{{end}}{{if .Missing}}
WHAT IS NOT IN IT

These scans were missing or altered when the archive was made, and are left out:
{{range .Missing}}
  {{.Sheet}}  {{.State}}  {{.Data.SHA256}}
{{- end}}
{{end}}`

// visibleOwner has nothing in its words that a screen would obey.
func visibleOwner(o Owner) Owner {
	for _, text := range []*string{&o.Owner, &o.Contact, &o.Rights} {
		*text = strings.ReplaceAll(sheetcsv.Visible(*text), "\n", " ")
	}
	return o
}

func (a *archive) writeReadme(w io.Writer) error {
	var b strings.Builder
	var unseen []Scan
	for _, s := range a.scans {
		if !s.Thumb && s.State == ScanWhole {
			unseen = append(unseen, s)
		}
	}
	err := readmePage().Execute(&b, map[string]any{
		"Entries": a.done.Entries, "Scope": a.o.Scope.String(), "Scans": a.done.Scans, "AsOf": a.o.AsOf.Format("2006-01-02 15:04 -07:00"),
		"Program": a.o.Program, "Zones": a.o.Zones, "Heads": a.o.Heads, "Owner": visibleOwner(a.owner), "Sitters": a.sitters, "Missing": a.done.Missing, "Unseen": unseen,
	})
	if err != nil {
		return err
	}
	_, err = io.WriteString(w, b.String())
	return err
}
