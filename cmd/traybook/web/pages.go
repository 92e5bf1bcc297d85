package web

import (
	"bytes"
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"traybook/cmd/traybook/said"
	"traybook/events"
	"traybook/projections/report"
)

func (s *Server) routes() {
	m := http.NewServeMux()
	m.HandleFunc("GET /{$}", s.today)
	m.HandleFunc("GET /pictures", s.pictures)
	m.HandleFunc("GET /picture/{name}", s.picture)
	m.HandleFunc("POST /picture/{name}/judge", s.judge)
	m.HandleFunc("POST /picture/{name}/attach", s.attach)
	m.HandleFunc("GET /evening", s.evening)
	m.HandleFunc("POST /evening/{name}", s.caption)
	m.HandleFunc("GET /entry/{id}", s.entry)
	m.HandleFunc("POST /entry/{id}/amend", s.amend)
	m.HandleFunc("POST /entry/{id}/void", s.void)
	m.HandleFunc("POST /finish", s.finish)
	m.HandleFunc("POST /back", s.takeBack)
	m.HandleFunc("GET /small/{digest}", s.small)
	m.HandleFunc("GET /scan/{digest}", s.scan)
	m.HandleFunc("GET /supplies", s.supplies)
	m.HandleFunc("GET /year", s.year)
	m.HandleFunc("GET /camera", s.camera)
	m.HandleFunc("GET /camera/view", s.cameraView)
	m.HandleFunc("GET /camera/ahead", s.ahead)
	m.HandleFunc("GET /camera/press", func(w http.ResponseWriter, r *http.Request) { http.Redirect(w, r, "/camera", http.StatusSeeOther) })
	m.HandleFunc("GET /runs", s.runs)
	m.HandleFunc("POST /camera/press", s.press)
	m.HandleFunc("GET /device", s.device)
	m.HandleFunc("POST /theme", s.theme)
	m.HandleFunc("GET /alive", s.alive)
	m.HandleFunc("/", func(w http.ResponseWriter, r *http.Request) {
		s.plain(w, r, http.StatusNotFound, "there is no such page", "")
	})
	s.mux = m
}

// functions are what the pages may ask for beyond the fields of what they draw.
var functions = template.FuncMap{
	"stamp":    said.StampOf,
	"tones":    tonesSVG,
	"gauge":    gaugeSVG,
	"picture":  pictureOf,
	"join":     func(list []string) string { return strings.Join(list, ", ") },
	"steps":    func(list []string) string { return strings.Join(list, "|") },
	"warns":    func(line string) bool { return strings.HasPrefix(line, "! ") },
	"unwarned": func(line string) string { return strings.TrimPrefix(line, "! ") },
	"back":     func(words []string) string { return strings.Join(words, " ") },
	"dict": func(pairs ...any) map[string]any {
		out := map[string]any{}
		for i := 0; i+1 < len(pairs); i += 2 {
			out[pairs[i].(string)] = pairs[i+1]
		}
		return out
	},
	"clip":  clip,
	"press": newPress,
	"has":   func(f url.Values, name, value string) bool { return slices.Contains(f[name], value) },
	"share": func(part float64, whole *float64) float64 { return part / *whole },
	"short": func(id string) string { return id[:min(8, len(id))] },
}

// mostInList is how many letters of a subject a list shows; the page of the picture shows all of it.
const mostInList = 120

// clip is the beginning of a text that may be absent.
func clip(text *string) string {
	r := []rune(said.Text(text))
	if len(r) <= mostInList {
		return string(r)
	}
	return string(r[:mostInList-1]) + "…"
}

// pictureOf is the picture of a sheet, or the picture itself; "" for what is neither.
func pictureOf(name string) string {
	if p, _, ok := events.SplitSheet(name); ok {
		return p
	}
	if _, _, ok := events.PictureNumber(name); ok {
		return name
	}
	return ""
}

// todayPage is what stands open, told in the sentences of `today`.
type todayPage struct {
	When     string
	Sessions []string
	Clocks   []string // that run
	Waiting  []sheetLine
	Finish   []finishPart
	ToPrint  []sheetLine // kept negatives
	Orders   []orderRow
	Takings  string // of the day
	Baths    []bathRow
	Paper    []boxRow
	Light    string
	Wants    []wantRow
	Strip    string
}

type sheetLine struct {
	Sheet, Subject, Text string
	Why                  *string
}

type orderRow struct {
	report.OrderLine
	Text string
}

type wantRow struct {
	What    string
	About   []string
	Evening bool // the evening pass asks for it
}

type bathRow struct {
	report.BathLine
	Text string
}

type boxRow struct {
	report.BoxLine
	Text  string
	Share float64 // of what came in that is left
}

func (s *Server) today(w http.ResponseWriter, r *http.Request) {
	s.drawToday(w, r, http.StatusOK, nil)
}

func (s *Server) drawToday(w http.ResponseWriter, r *http.Request, status int, refused *Answer) {
	var p todayPage
	err := s.look(func(v *View) error {
		t, err := report.Today(v.Snap, false)
		if err != nil {
			return err
		}
		p = v.todayPage(t)
		p.Finish, err = v.finishParts(t)
		return err
	})
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.pageWith(w, r, status, "page_today.html", "Today", p, refused)
}

func (v *View) todayPage(t report.TodayReport) todayPage {
	p := todayPage{When: v.Now.Format("Monday 2 January 2006, 15:04")}
	for _, x := range t.Sessions {
		p.Sessions = append(p.Sessions, said.Session(x, v.Now))
	}
	for _, x := range t.Clocks {
		p.Clocks = append(p.Clocks, x.Text)
	}
	for _, x := range t.Waiting {
		p.Waiting = append(p.Waiting, sheetLine{Sheet: x.Sheet, Subject: clip(x.Subject), Text: "exposed " + said.Ago(x.WaitsS) + " ago"})
	}
	for _, x := range t.ToPrint {
		p.ToPrint = append(p.ToPrint, sheetLine{Sheet: x.Sheet, Subject: clip(x.Subject)})
	}
	for _, o := range t.Orders {
		p.Orders = append(p.Orders, orderRow{o, said.Order(o, func(ref string) string { return v.sitter(&ref) })})
	}
	p.Takings = said.Takings(t.Takings)
	p.Baths, p.Paper = bathRows(t.Baths, v.Now), boxRows(t.Paper, v.Now)
	if t.Light != nil {
		p.Light = said.Light(*t.Light)
	}
	for _, g := range said.Wants(t.Wants) {
		p.Wants = append(p.Wants, wantRow{g.What, g.About, strings.HasPrefix(g.Do, "traybook captions") || strings.HasPrefix(g.Do, "traybook judge keep")})
	}
	if t.Strip != nil {
		p.Strip = said.Strip(*t.Strip)
	}
	return p
}

func bathRows(list []report.BathLine, now time.Time) []bathRow {
	var out []bathRow
	for _, b := range list {
		out = append(out, bathRow{b, said.Bath(b, now)})
	}
	return out
}

func boxRows(list []report.BoxLine, now time.Time) []boxRow {
	var out []boxRow
	for _, b := range list {
		row := boxRow{BoxLine: b, Text: said.Paper(b, now)}
		if b.Received > 0 {
			row.Share = min(1, max(0, b.SheetsLeft/b.Received))
		}
		out = append(out, row)
	}
	return out
}

// suppliesPage is the paper and the baths, with their gauges.
type suppliesPage struct {
	Boxes []boxRow
	Baths []bathRow
	All   bool
	Older int64 // of all: before which moment the next page begins, 0 for none
	First bool  // of all: this is the first page
	Span  string
}

// suppliesOnPage is how many baths, or boxes, of all a page has.
const suppliesOnPage = 18

func (s *Server) supplies(w http.ResponseWriter, r *http.Request) {
	p := suppliesPage{All: r.FormValue("all") != ""}
	before, _ := strconv.ParseInt(r.FormValue("before"), 10, 64)
	p.First = before == 0
	err := s.look(func(v *View) error {
		if p.All {
			x, err := report.Supplies(v.Snap, before, suppliesOnPage)
			p.Boxes, p.Baths, p.Older = boxRows(x.Boxes, v.Now), bathRows(x.Baths, v.Now), x.Older
			p.Span = spanOf(x.Older, before, v.Now)
			return err
		}
		stock, err := report.Stock(v.Snap, false)
		if err != nil {
			return err
		}
		baths, err := report.Baths(v.Snap, false)
		p.Boxes, p.Baths = boxRows(stock.Boxes, v.Now), bathRows(baths.Baths, v.Now)
		return err
	})
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.page(w, r, http.StatusOK, "page_supplies.html", "Paper and baths", p)
}

// spanOf tells of a page of all supplies from when to when they came, "" for all of them.
func spanOf(from, before int64, now time.Time) string {
	day := func(micro int64) string { return time.UnixMicro(micro).In(now.Location()).Format("2 January 2006") }
	switch {
	case from > 0 && before > 0:
		return "from " + day(from) + " to " + day(before-1)
	case from > 0:
		return "since " + day(from)
	case before > 0:
		return "until " + day(before-1)
	}
	return ""
}

// theme keeps in which light the pages are drawn.
func (s *Server) theme(w http.ResponseWriter, r *http.Request) {
	if r.ParseForm() != nil {
		s.plain(w, r, http.StatusBadRequest, "the form did not come whole", "")
		return
	}
	theme := "light"
	if r.PostForm.Get("theme") == "dim" {
		theme = "dim"
	}
	http.SetCookie(w, &http.Cookie{Name: "traybook-theme", Value: theme, Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode, MaxAge: 365 * 24 * 3600})
	http.Redirect(w, r, ownPath(r.PostForm.Get("to")), http.StatusSeeOther)
}

// ownPath keeps a way back on this server.
func ownPath(to string) string {
	if !strings.HasPrefix(to, "/") || strings.HasPrefix(to, "//") || strings.ContainsAny(to, "\\\r\n") {
		return "/"
	}
	return to
}

// alive tells a page that was left open which program answers now.
func (s *Server) alive(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	w.Write([]byte(s.build))
}

// small sends the small picture of a scan.
func (s *Server) small(w http.ResponseWriter, r *http.Request) {
	var jpeg []byte
	hash, err := events.ParseHash(r.PathValue("digest"))
	if err == nil {
		err = s.look(func(v *View) error {
			t, _, err := v.Tx.Thumbnail(hash)
			jpeg = t.JPEG
			return err
		})
	}
	if err != nil || jpeg == nil {
		s.plain(w, r, http.StatusNotFound, "there is no such picture", "")
		return
	}
	h := w.Header()
	h.Set("Content-Type", "image/jpeg")
	h.Set("Cache-Control", "private, max-age=86400, immutable") // its name is the sum of its original
	http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(jpeg))
}
