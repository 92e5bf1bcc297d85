package web

import (
	"net/http"
	"strings"

	"traybook/cmd/traybook/said"
	"traybook/events"
	"traybook/projections/report"
	"traybook/projections/wording"
)

// finishPart is what sheets of late want that want the same: a press for each of them, and one for all.
type finishPart struct {
	Do    string // as a press names it, with what a line begins with
	Title string
	Press string // what stands on the button
	How   string // how the step was done last
	Asks  string // what How is, "" where the step has none
	Rows  []sheetLine
	All   string // the sheets as a line names them, where there are several
}

// finishing are the steps that the evening list offers: what sheets want, the words that a line begins with, whether one line
// takes many sheets, and the kind that says how it was done last.
var finishing = []struct {
	needs, press string
	words        []string
	many         bool
	like         events.Kind
	asks         string
}{
	{needs: "fix", press: "Fix", words: []string{"fix"}, like: events.SheetFixed, asks: "For how long, in which bath"},
	{needs: "fix again", press: "Fix again", words: []string{"fix"}, like: events.SheetFixed, asks: "For how long, in which bath"},
	{needs: "wash", press: "Wash", words: []string{"wash"}, many: true, like: events.SheetWashed, asks: "In how many changes of how much, for how long each"},
	{needs: "wash again", press: "Wash again", words: []string{"wash"}, many: true, like: events.SheetWashed, asks: "In how many changes of how much, for how long each"},
	{needs: "dry", press: "Dry", words: []string{"dry"}, many: true},
	{needs: "judge", press: "Keep", words: []string{"judge", "--verdict=keep"}, many: true},
}

// finishParts are the lists of the evening.
func (v *View) finishParts(t report.TodayReport) ([]finishPart, error) {
	rows := map[string][]sheetLine{}
	for _, x := range t.Unfinished {
		rows[x.Needs] = append(rows[x.Needs], sheetLine{Sheet: x.Sheet, Subject: clip(x.Subject), Why: x.Why})
	}
	for needs, sheets := range map[string][]string{"dry": t.Undried, "judge": t.Unjudged} {
		for _, sheet := range sheets {
			rows[needs] = append(rows[needs], sheetLine{Sheet: sheet})
		}
	}
	var out []finishPart
	for _, f := range finishing {
		part := finishPart{Do: f.needs, Press: f.press, Asks: f.asks, Rows: rows[f.needs]}
		n := len(part.Rows)
		if n == 0 {
			continue
		}
		part.Title = "To " + f.needs + ": " + wording.CountOf(n, "sheet")
		if f.like != "" {
			last, err := report.UsualStep(v.Snap, f.like)
			if err != nil {
				return nil, err
			}
			part.How = said.StepWords(last)
		}
		if n > 1 {
			var names []string
			for _, r := range part.Rows {
				names = append(names, r.Sheet)
			}
			part.All = strings.Join(names, ",")
		}
		out = append(out, part)
	}
	return out, nil
}

// finish writes a step of one sheet, or of all that want it, as a line would.
func (s *Server) finish(w http.ResponseWriter, r *http.Request) {
	if !s.form(w, r) {
		return
	}
	f := r.PostForm
	s.write(w, r, "/", func(a *Answer) {
		s.drawToday(w, r, http.StatusUnprocessableEntity, a)
	}, finishLines(f.Get("do"), f.Get("how"), f.Get("sheet"))...)
}

// finishLines are the lines of a press of the evening list: one for all its sheets where the act takes many, so that those
// that lay in one water are calculated so.
func finishLines(do, how, sheets string) [][]string {
	for _, f := range finishing {
		if f.needs != do {
			continue
		}
		of := strings.Split(sheets, ",")
		if f.many {
			of = []string{sheets}
		}
		var out [][]string
		for _, sheet := range of {
			words := append(append([]string{}, f.words...), "--")
			if f.asks != "" {
				words = append(words, strings.Fields(how)...)
			}
			out = append(out, append(words, sheet))
		}
		return out
	}
	return [][]string{{"judge", "--", sheets}} // refused in its own words
}
