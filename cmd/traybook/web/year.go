package web

import (
	"net/http"
	"strconv"

	"traybook/cmd/traybook/said"
	"traybook/projections/report"
	"traybook/projections/wording"
)

// yearPage is a year with its figures, told in the sentences of `year`.
type yearPage struct {
	Year, Before, After int
	Empty               string
	Figures             []said.Pair
	FailedTitle         string
	Failed              []said.Share
	Splits              []splitTable
	Lists               []yearList
	Changes             []changeRow
}

type splitTable struct {
	Title string
	Rows  []splitRow
}

type splitRow struct {
	Key                             string
	Pictures, Sheets, Kept, Failing int
	Share                           *float64
	Percent                         string
}

type yearList struct {
	Title string
	Rows  []said.Pair
	More  int
}

type changeRow struct{ What, Before, Now string }

// yearListed is how many lines each list of the page has.
const yearListed = 40

var notAYear = wording.Refuses("no-year-page", "{year:%q} is no year", "a year such as 2026")

func (s *Server) year(w http.ResponseWriter, r *http.Request) {
	var p yearPage
	err := s.look(func(v *View) error {
		p.Year = v.Now.Year()
		if text := r.FormValue("year"); text != "" {
			y, err := strconv.Atoi(text)
			if err != nil {
				return notAYear.Refuse(text)
			}
			p.Year = y
		}
		x, err := s.years.of(v, p.Year)
		if err != nil {
			return err
		}
		p.fill(v, x)
		return nil
	})
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.page(w, r, http.StatusOK, "page_year.html", strconv.Itoa(p.Year), p)
}

func (p *yearPage) fill(v *View, x report.YearReport) {
	p.Before, p.After = p.Year-1, p.Year+1
	if p.Empty = said.EmptyYear(x); p.Empty != "" {
		return
	}
	for _, f := range said.YearFigures(x) {
		if f.Value != "" {
			p.Figures = append(p.Figures, f)
		}
	}
	p.FailedTitle, p.Failed = said.YearFailures(x)
	for _, part := range []struct {
		title  string
		splits []report.Split
	}{{"paper", x.ByPaper}, {"light", x.ByLight}, {"hour", x.ByHour}} {
		t := splitTable{Title: part.title}
		for _, y := range part.splits {
			row := splitRow{Key: y.Key, Pictures: y.Pictures, Sheets: y.Sheets, Kept: y.Kept, Failing: y.Failed, Share: y.KeptShare}
			if part.title == "hour" {
				row.Key += ":00"
			}
			if y.KeptShare != nil {
				row.Percent = wording.Percent(*y.KeptShare)
			}
			t.Rows = append(t.Rows, row)
		}
		if len(t.Rows) > 0 {
			p.Splits = append(p.Splits, t)
		}
	}
	p.list("may not last", len(x.MayNotLast), func(i int) said.Pair {
		return said.Pair{Label: x.MayNotLast[i].Sheet, Value: said.MayNotLast(x.MayNotLast[i])}
	})
	p.list("kept and not delivered", len(x.Undelivered), func(i int) said.Pair {
		u := x.Undelivered[i]
		if u.Sitter != nil {
			name := v.sitter(u.Sitter)
			u.Sitter = &name
		}
		return said.Pair{Label: u.Picture, Value: said.Undelivered(u)}
	})
	p.list("consent missing", len(x.ConsentMissing), func(i int) said.Pair {
		c := x.ConsentMissing[i]
		c.Sitter = v.sitter(&c.Sitter)
		return said.Pair{Label: c.Picture, Value: said.ConsentMissing(c)}
	})
	for _, c := range x.Changes {
		before, now := c.Texts()
		p.Changes = append(p.Changes, changeRow{c.What, before, now})
	}
}

func (p *yearPage) list(title string, n int, line func(int) said.Pair) {
	l := yearList{Title: title, More: max(0, n-yearListed)}
	for i := range min(n, yearListed) {
		l.Rows = append(l.Rows, line(i))
	}
	if n > 0 {
		p.Lists = append(p.Lists, l)
	}
}
