package web

import (
	"net/http"
	"net/url"
	"strings"

	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/said"
	"traybook/projections/report"
	"traybook/projections/why"
)

// picturesPage is a wall of small pictures.
type picturesPage struct {
	Find      []findField
	Given     bool
	LookedFor []string // what words were taken for
	Tiles     []tile
	Older     string // the address of the page behind this one
	Newest    string // of the first page, "" where this is it
	Last      string // how far back was looked, where nothing fits
}

type findField struct {
	Name, Label, Value string
	Choices            []string
	Type               string
}

type tile struct {
	report.PictureLine
	Face report.Face
	Who  string
	Day  string
	Kept string // the verdict that tells how the picture stands
}

// onPage is how many pictures one page of the wall has.
const onPage = 36

// findBy are the fields by which pictures are found, as the options of `pictures` have them.
func (s *Server) findBy(r *http.Request) []findField {
	var symptoms []string
	for _, x := range why.SymptomHelp() {
		symptoms = append(symptoms, x.Symptom)
	}
	out := []findField{
		{Name: "text", Label: "Words anywhere"}, {Name: "subject", Label: "In the subject"}, {Name: "sitter", Label: "Sitter"},
		{Name: "stored", Label: "Kept in"}, {Name: "session", Label: "Session"}, {Name: "box", Label: "Box"}, {Name: "bath", Label: "Bath"},
		{Name: "verdict", Label: "Verdict", Choices: []string{"keep", "redo", "reject"}}, {Name: "symptom", Label: "Symptom", Choices: symptoms},
		{Name: "cause", Label: "Cause", Choices: why.Causes}, {Name: "from", Label: "From", Type: "date"}, {Name: "to", Label: "To", Type: "date"},
	}
	for i := range out {
		out[i].Value = strings.TrimSpace(r.URL.Query().Get(out[i].Name))
		if out[i].Type == "" {
			out[i].Type = "text"
		}
	}
	return out
}

func (s *Server) pictures(w http.ResponseWriter, r *http.Request) {
	p := picturesPage{Find: s.findBy(r)}
	before := r.URL.Query().Get("before")
	err := s.look(func(v *View) error {
		f, err := v.filter(p.Find)
		if err != nil {
			return err
		}
		f.Page, f.Before = onPage, before
		found, err := report.Pictures(v.Snap, f)
		if err != nil {
			return err
		}
		p.LookedFor = found.LookedFor
		for _, x := range found.Pictures {
			t, err := v.tile(x)
			if err != nil {
				return err
			}
			p.Tiles = append(p.Tiles, t)
		}
		if found.Last != "" {
			p.Older, p.Last = pageAt(p.Find, found.Last), found.Last
		}
		return nil
	})
	if err != nil {
		s.fail(w, r, err)
		return
	}
	for _, f := range p.Find {
		p.Given = p.Given || f.Value != ""
	}
	if before != "" {
		p.Newest = pageAt(p.Find, "")
	}
	s.page(w, r, http.StatusOK, "page_pictures.html", "Pictures", p)
}

func pageAt(find []findField, before string) string {
	q := url.Values{}
	for _, f := range find {
		if f.Value != "" {
			q.Set(f.Name, f.Value)
		}
	}
	if before != "" {
		q.Set("before", before)
	}
	if len(q) == 0 {
		return "/pictures"
	}
	return "/pictures?" + q.Encode()
}

// filter reads what is looked for, as `pictures` reads its options.
func (v *View) filter(find []findField) (report.PictureFilter, error) {
	given := map[string]string{}
	for _, f := range find {
		given[f.Name] = f.Value
	}
	replays := why.Over(v.Snap)
	f := report.PictureFilter{Session: strings.ToLower(given["session"]), Box: strings.ToLower(given["box"]), Bath: strings.ToLower(given["bath"]),
		Subject: given["subject"], Stored: given["stored"], Terms: report.TermsOf(strings.Fields(given["text"])), Verdict: given["verdict"], Symptom: given["symptom"], Cause: given["cause"],
		Causes: func(picture string) ([]string, error) {
			d, err := replays.Why(picture)
			var out []string
			for _, x := range d.Findings {
				out = append(out, append([]string{x.Cause}, x.Together...)...)
			}
			return out, err
		}}
	if who := given["sitter"]; who != "" {
		f.Sitter = strings.ToLower(who)
		for ref, name := range v.names {
			if strings.EqualFold(name, who) {
				f.Sitter = ref
			}
		}
	}
	var err error
	if given["from"] != "" {
		if f.From, err = line.ParseAt(given["from"], v.Now, v.Now.Location()); err != nil {
			return f, line.WrongLine(err)
		}
	}
	if given["to"] != "" {
		if f.To, err = line.ParseAsOf(given["to"], v.Now, v.Now.Location()); err != nil {
			return f, line.WrongLine(err)
		}
	}
	return f, nil
}

func (v *View) tile(x report.PictureLine) (tile, error) {
	t := tile{PictureLine: x, Who: v.sitter(x.Sitter)}
	t.Day, _, _ = strings.Cut(said.StampOf(x.At), " ")
	p, err := v.Snap.Picture(x.Picture)
	if err != nil {
		return t, err
	}
	t.Face, err = report.FaceOf(v.Snap, p)
	for _, sheet := range x.Sheets {
		if sheet.Sheet == t.Face.Sheet {
			t.Kept = said.Text(sheet.Verdict)
			if t.Kept == "" {
				t.Kept = said.Text(sheet.State)
			}
		}
	}
	return t, err
}
