package web

import (
	"io"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/said"
	"traybook/events"
	"traybook/export/scan"
	"traybook/projections/report"
	"traybook/projections/why"
	"traybook/projections/wording"
)

// picturePage is everything about one picture.
type picturePage struct {
	Picture  string
	Subject  string
	Who      string
	Session  string
	Entries  []entryRow
	Sheets   []sheetPart
	Why      whyPart
	Symptoms []symptomFamily
	Verdicts []string
}

type sheetPart struct {
	report.SheetHistory
	Title   string
	Face    report.Face
	Entries []entryRow
}

type entryRow struct {
	ID, Day, Clock, Text string
	CalledFor            string
	Off                  bool
	By                   string
	Warnings             []string
	Void                 string
	Amended              bool
}

// whyPart is why the picture failed, as `why` tells it.
type whyPart struct {
	Lines       []string
	Findings    []findingRow
	Unexplained string
	Strips      *why.Strips
	Suspicions  []suspicionPart // of what the log does not explain
}

// suspicionPart is one symptom with its suspects, the likeliest with their tests and all of them behind.
type suspicionPart struct {
	Title, Lacks string
	First, More  []suspectRow
	RuledOut     []suspectRow
}

type suspectRow struct{ Title, Test, Line, Source string }

type findingRow struct{ Title, Text, Done, Together, Next string }

type symptomFamily struct {
	Name  string
	Words []why.SymptomWords
}

func symptomFamilies() []symptomFamily {
	var out []symptomFamily
	for _, x := range why.SymptomHelp() {
		if len(out) == 0 || out[len(out)-1].Name != x.Family {
			out = append(out, symptomFamily{Name: x.Family})
		}
		out[len(out)-1].Words = append(out[len(out)-1].Words, x)
	}
	return out
}

func (s *Server) picture(w http.ResponseWriter, r *http.Request) {
	s.drawPicture(w, r, r.PathValue("name"), http.StatusOK, nil)
}

func (s *Server) drawPicture(w http.ResponseWriter, r *http.Request, name string, status int, refused *Answer) {
	var p picturePage
	err := s.look(func(v *View) (err error) {
		p, err = v.picturePage(name)
		return err
	})
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.pageWith(w, r, status, "page_picture.html", p.Picture, p, refused)
}

var notAPicture = wording.Refuses("no-picture-page", "{name:%q} is no picture", "the wall of pictures leads to each")

func (v *View) picturePage(name string) (picturePage, error) {
	if pictureOf(name) != name {
		return picturePage{}, notAPicture.Refuse(name)
	}
	h, err := report.HistoryOf(v.Whole, name, true)
	if err != nil {
		return picturePage{}, err
	}
	x := h.Picture
	p := picturePage{Picture: x.Picture, Subject: said.Text(x.Subject), Who: v.sitter(x.Sitter), Session: said.Text(x.Session), Symptoms: symptomFamilies(), Verdicts: []string{"keep", "redo", "reject"}}
	whole, err := v.Whole.Picture(name)
	if err != nil {
		return p, err
	}
	faces, err := report.Faces(v.Whole, whole)
	if err != nil {
		return p, err
	}
	p.Entries = entryRows(x.Entries, "")
	for _, sh := range x.Sheets {
		p.Sheets = append(p.Sheets, sheetPart{sh, said.SheetTitle(sh), faces[sh.Sheet], entryRows(sh.Entries, sh.Sheet)})
	}
	if len(whole.All) == 0 {
		return p, nil
	}
	d, err := why.Why(v.Whole, name)
	p.Why = whyPartOf(d)
	return p, err
}

func whyPartOf(d why.Diagnosis) whyPart {
	w := whyPart{Lines: d.Lines, Unexplained: said.Unexplained(d), Strips: d.Strips, Suspicions: suspicionParts(d)}
	for i, f := range d.Findings {
		row := findingRow{Title: said.Finding(f, true), Done: said.Done(f), Together: said.Together(f)}
		if i >= why.WhyLines {
			row.Text = f.Text
		}
		if i > 0 {
			row.Next = f.Next
		}
		w.Findings = append(w.Findings, row)
	}
	return w
}

func suspicionParts(d why.Diagnosis) []suspicionPart {
	var out []suspicionPart
	for _, x := range d.Suspicions {
		if x.Answer == why.LogExplains {
			continue
		}
		p := suspicionPart{Title: said.Answer(x), Lacks: said.Lacks(x)}
		open, ruledOut := said.SuspectsOf(x)
		most := min(len(open), said.MostSuspects)
		p.First, p.More, p.RuledOut = suspectRows(open[:most]), suspectRows(open[most:]), suspectRows(ruledOut)
		out = append(out, p)
	}
	return out
}

func suspectRows(list []why.Suspect) []suspectRow {
	var out []suspectRow
	for _, s := range list {
		out = append(out, suspectRow{said.SuspectTitle(s), s.Test, s.Line, s.Source})
	}
	return out
}

func entryRows(list []report.EntryLine, sheet string) []entryRow {
	var out []entryRow
	day := ""
	for _, e := range list {
		at, clock, _ := strings.Cut(said.StampOf(e.At), " ")
		row := entryRow{ID: e.ID, Clock: clock, Text: strings.TrimPrefix(strings.TrimPrefix(e.Text, sheet+" "), sheet+": "), Amended: len(e.Amended) > 0}
		if at != day {
			day, row.Day = at, at
		}
		var held said.Held
		row.CalledFor, held = said.CalledForAndDone(e)
		row.Off = held == said.Off
		row.By = said.Text(e.ServedText)
		for _, w := range e.Warnings {
			row.Warnings = append(row.Warnings, w.Text())
		}
		if e.Void != nil {
			row.Void = "taken back"
			if e.VoidWhy != nil {
				row.Void += ": " + *e.VoidWhy
			}
		}
		out = append(out, row)
	}
	return out
}

// judge writes what the eye says of a sheet.
func (s *Server) judge(w http.ResponseWriter, r *http.Request) {
	if !s.form(w, r) {
		return
	}
	name := r.PathValue("name")
	s.write(w, r, "/picture/"+url.PathEscape(name), func(a *Answer) {
		s.drawPicture(w, r, name, http.StatusUnprocessableEntity, a)
	}, judgeWords(r.PostForm.Get("sheet"), "", r.PostForm))
}

// judgeWords is a judgement of a sheet as a hand would type it, from the fields whose names end so.
func judgeWords(sheet, end string, f url.Values) []string {
	words := []string{"judge", "--sheet=" + sheet, "--verdict=" + f.Get("verdict"+end)}
	for _, x := range f["symptom"+end] {
		words = append(words, "--symptoms="+x)
	}
	for _, name := range []string{"stops", "text"} {
		if v := strings.TrimSpace(f.Get(name + end)); v != "" {
			words = append(words, "--"+name+"="+v)
		}
	}
	if f.Get("even-so") != "" {
		words = append(words, "--even-so")
	}
	return words
}

// entryPage is one entry, to be put right or taken back.
type entryPage struct {
	ID      string
	Kind    string
	Text    string
	At      string
	Voided  string // the entry that took it back
	Fields  []fieldRow
	Back    string // the page that it belongs to
	Picture string
	Later   bool // later acts depend on it, and what becomes of them is asked
}

type fieldRow struct{ Name, Value, About string }

func (s *Server) entry(w http.ResponseWriter, r *http.Request) {
	s.drawEntry(w, r, http.StatusOK, nil)
}

func (s *Server) drawEntry(w http.ResponseWriter, r *http.Request, status int, refused *Answer) {
	var p entryPage
	err := s.look(func(v *View) (err error) {
		p, err = v.entryPage(r.PathValue("id"))
		return err
	})
	if err != nil {
		s.fail(w, r, err)
		return
	}
	p.Later = refused != nil && strings.HasSuffix(r.URL.Path, "/void")
	s.pageWith(w, r, status, "page_entry.html", "Entry "+p.ID[:8], p, refused)
}

var noEntryPage = wording.Refuses("no-entry-page", "there is no entry {id:%q}", "the page of a picture leads to each of its entries")

func (v *View) entryPage(text string) (entryPage, error) {
	id, err := events.ParseID(text)
	if err != nil {
		return entryPage{}, noEntryPage.Refuse(text)
	}
	found, err := v.Tx.Find(id.String())
	if err != nil {
		return entryPage{}, err
	}
	if len(found) != 1 {
		return entryPage{}, noEntryPage.Refuse(text)
	}
	e, err := v.Whole.AsItCounts(id)
	if err != nil {
		return entryPage{}, err
	}
	p := entryPage{ID: id.String(), Kind: string(e.Kind), Text: v.Whole.Sentence(e), At: e.At.Format("2006-01-02 15:04:05"), Back: "/"}
	if !e.Voided.IsZero() {
		p.Voided = e.Voided.String()
	}
	if x := events.PlacesOf(e.Data).Stream; x.Kind == events.Picture {
		p.Picture, p.Back = x.Name, "/picture/"+url.PathEscape(x.Name)
	}
	p.Fields = append(p.Fields, fieldRow{"at", p.At, "when it was done"})
	for _, f := range events.Fields(e.Kind) {
		if !f.Amendable() || f.Type == "set" || f.Type == "entry" {
			continue
		}
		value := ""
		if x, there := f.Value(e.Data); there {
			value = line.ShowField(f, x)
		}
		row := fieldRow{f.Option(), value, line.FieldWords[f.Name]}
		twin := slices.IndexFunc(p.Fields, func(x fieldRow) bool { return x.Name == row.Name })
		if twin < 0 {
			p.Fields = append(p.Fields, row)
			continue
		}
		// Two fields that one option sets, each by its own words, are one on the page: the longer explanation tells of both.
		if p.Fields[twin].Value == "" {
			p.Fields[twin].Value = row.Value
		}
		if len(row.About) > len(p.Fields[twin].About) {
			p.Fields[twin].About = row.About
		}
	}
	return p, nil
}

// amend puts those fields right that were changed on the page.
func (s *Server) amend(w http.ResponseWriter, r *http.Request) {
	if !s.form(w, r) {
		return
	}
	words := []string{"amend"}
	if v := strings.TrimSpace(r.PostForm.Get("why")); v != "" {
		words = append(words, "--why="+v)
	}
	if r.PostForm.Get("even-so") != "" {
		words = append(words, "--even-so")
	}
	words = append(words, "--", r.PathValue("id"))
	for _, name := range r.PostForm["field"] {
		if now := strings.TrimSpace(r.PostForm.Get("is-" + name)); now != strings.TrimSpace(r.PostForm.Get("was-"+name)) {
			words = append(words, name+"="+now)
		}
	}
	again := func(a *Answer) { s.drawEntry(w, r, http.StatusUnprocessableEntity, a) }
	if words[len(words)-1] == r.PathValue("id") {
		again(&Answer{Problem: "nothing was changed"})
		return
	}
	s.write(w, r, ownPath(r.PostForm.Get("to")), again, words)
}

// void takes an entry back; what depends on it goes with it or stays, as the page says.
func (s *Server) void(w http.ResponseWriter, r *http.Request) {
	if !s.form(w, r) {
		return
	}
	words := []string{"void"}
	switch r.PostForm.Get("later") {
	case "take":
		words = append(words, "--with-later")
	case "leave":
		words = append(words, "--even-so")
	}
	if v := strings.TrimSpace(r.PostForm.Get("why")); v != "" {
		words = append(words, "--why="+v)
	}
	s.write(w, r, ownPath(r.PostForm.Get("to")), func(a *Answer) {
		s.drawEntry(w, r, http.StatusUnprocessableEntity, a)
	}, append(words, "--", r.PathValue("id")))
}

// takeBack takes back what the page has just told of.
func (s *Server) takeBack(w http.ResponseWriter, r *http.Request) {
	if !s.form(w, r) {
		return
	}
	id := r.PostForm.Get("id")
	words := []string{"void", "--", id}
	if r.PostForm.Get("batch") != "" {
		words = []string{"void", "--batch=" + id}
	}
	s.write(w, r, ownPath(r.PostForm.Get("to")), func(a *Answer) {
		s.plain(w, r, http.StatusUnprocessableEntity, a.Problem, a.Hint)
	}, words)
}

// mostScan bounds the originals that are sent: a browser shows no larger ones in good time.
const mostScan = 64 << 20

// scan sends the original of a scan that a browser can show and that lies beside the book.
func (s *Server) scan(w http.ResponseWriter, r *http.Request) {
	digest := r.PathValue("digest")
	if _, err := events.ParseHash(digest); err == nil {
		for _, media := range []string{scan.JPEG, scan.PNG} {
			f, err := s.openScan(scan.PathOf(digest, scan.Info{MediaType: media}))
			if err != nil {
				continue
			}
			defer f.Close()
			sendScan(w, r, f, media)
			return
		}
	}
	s.plain(w, r, http.StatusNotFound, "there is no such scan that a browser can show", "TIFF and what was left in its place stay where they are")
}

// openScan opens a plain file below the book's folder of scans; a link, which may lead out of it, is none.
func (s *Server) openScan(path string) (*os.File, error) {
	root, err := os.OpenRoot(s.Book.Folder())
	if err != nil {
		return nil, err
	}
	defer root.Close()
	fi, err := root.Lstat(filepath.FromSlash(path))
	if err == nil && !fi.Mode().IsRegular() {
		err = os.ErrNotExist
	}
	if err != nil {
		return nil, err
	}
	return root.Open(filepath.FromSlash(path))
}

func sendScan(w http.ResponseWriter, r *http.Request, f *os.File, media string) {
	fi, err := f.Stat()
	if err != nil || fi.Size() > mostScan {
		http.Error(w, "the scan is too large to be shown", http.StatusRequestEntityTooLarge)
		return
	}
	w.Header().Set("Content-Type", media)
	http.ServeContent(w, r, "", time.Time{}, io.NewSectionReader(f, 0, fi.Size()))
}
