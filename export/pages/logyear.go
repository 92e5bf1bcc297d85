package pages

import (
	"fmt"
	"math"
	"strings"

	"traybook/export/page"
	"traybook/projections/report"
	"traybook/projections/wording"
)

// causes ranks the year's failures; nil where no year was calculated.
func (b *logBook) causes() []Tally {
	if b.year == nil {
		return nil
	}
	out := []Tally{}
	for _, l := range b.year.Causes {
		if l.Sheets > 0 {
			out = append(out, Tally{Label: inWords(l.Cause), Count: l.Sheets})
		}
	}
	return out
}

// yearPages tell what a year's work came to: what was kept, what it cost, what may not last, what is owed.
func (b *logBook) yearPages() {
	r := b.year
	if r == nil || r.Pictures == 0 {
		return
	}
	b.yearFigures(r)
	b.yearCauses(r)
	for _, part := range []struct {
		title, key string
		splits     []report.Split
	}{{"By paper", "%s", r.ByPaper}, {"By light", "%s", r.ByLight}, {"By hour of the day", "%s:00", r.ByHour}} {
		b.yearSplits(part.title, part.key, part.splits)
	}
	b.yearFixer(r)
	b.yearLists(r)
	b.yearChanges(r)
}

// under draws a table under a small title that belongs to the part above it.
func (b *logBook) under(title string, t page.Table) {
	a := b.doc.Area()
	t.Title = title
	b.y = b.doc.Table(a.X, b.y+5, a.W, t)
}

func (b *logBook) yearFigures(r *report.YearReport) {
	rows := [][2]string{
		{"pictures", fmt.Sprintf("%d, in %s", r.Pictures, wording.CountOf(r.Sheets, "sheet"))},
		{"prints", fmt.Sprintf("%d kept, %d delivered", r.KeptPrints, r.DeliveredPrints)},
		{"sheets that failed", fmt.Sprint(r.FailedSheets)},
	}
	if r.FirstKeptShare != nil {
		rows = append(rows, [2]string{"first prints kept", fmt.Sprintf("%d of %d judged, %s", r.FirstPrintsKept, r.FirstPrintsJudged, wording.Percent(*r.FirstKeptShare))})
	}
	paper := wording.CountOf(math.Round(r.PaperSheets*100)/100, "sheet") + " for pictures, " + sheets(r.StripSheets) + " for strips, " + sheets(r.SpoiledSheets) + " spoiled"
	if r.MissingSheets > 0 {
		paper += ", " + sheets(r.MissingSheets) + " missing when counted"
	}
	if r.UnexposedSheets > 0 {
		paper += fmt.Sprintf(", %d developed and never exposed", r.UnexposedSheets)
	}
	if r.SheetsPerDelivered != nil {
		paper += "; " + wording.Number(*r.SheetsPerDelivered) + " for each print delivered"
	}
	rows = append(rows, [2]string{"paper", paper})
	for _, c := range r.Costs {
		text := wording.Money(c.Total, c.Currency) + ": paper " + wording.Money(c.Paper, "") + ", baths " + wording.Money(c.Baths, "")
		if c.PerKept != nil {
			text += "; " + wording.Money(*c.PerKept, "") + " for each print kept"
		}
		rows = append(rows, [2]string{"cost", text})
	}
	for _, m := range r.Takings {
		rows = append(rows, [2]string{"takings", wording.Money(m.Amount, m.Currency)})
	}
	if r.UnpricedSheets > 0 || r.UnpricedBaths > 0 {
		rows = append(rows, [2]string{"without a price", fmt.Sprintf("%s, %s", wording.CountOf(math.Round(r.UnpricedSheets*100)/100, "sheet"), wording.CountOf(r.UnpricedBaths, "bath"))})
	}
	if m := r.Minutes; m != nil {
		rows = append(rows, [2]string{"reading to print", fmt.Sprintf("%s, the middle one of %s (%s)", wording.About(m.Median*60),
			wording.CountOf(m.Prints, "print"), wording.Between(m.Quickest*60, m.Slowest*60))})
	}
	t := page.Table{Size: 8, Columns: []page.Column{{Width: page.Natural, Face: page.Bold}, {Wrap: true}}}
	for _, row := range rows {
		t.Rows = append(t.Rows, page.Row{Cells: row[:]})
	}
	b.part(fmt.Sprintf("%d in figures", r.Year), t)
}

// yearCauses ranks what failed, in sheets and in money.
func (b *logBook) yearCauses(r *report.YearReport) {
	if len(r.Causes) == 0 {
		return
	}
	t := page.Table{Size: 7, Banded: true, Columns: []page.Column{{Head: "foremost cause", Width: page.Natural},
		{Head: "sheets", Width: page.Natural, Align: page.Right}, {Head: "its share in all", Width: page.Natural, Align: page.Right},
		{Head: "paper lost", Wrap: true}}}
	for _, c := range r.Causes {
		var money []string
		for _, m := range c.Money {
			money = append(money, wording.Money(m.Amount, m.Currency))
		}
		t.Rows = append(t.Rows, page.Row{Cells: []string{inWords(c.Cause), fmt.Sprint(c.Sheets), fmt.Sprintf("%.1f", c.Explains), strings.Join(money, " + ")}})
	}
	b.under("What failed, and why", t)
}

func (b *logBook) yearSplits(title, key string, splits []report.Split) {
	if len(splits) == 0 {
		return
	}
	t := page.Table{Size: 7, Banded: true, Columns: []page.Column{{Wrap: true}, {Head: "pictures", Width: page.Natural, Align: page.Right},
		{Head: "sheets", Width: page.Natural, Align: page.Right}, {Head: "kept", Width: page.Natural, Align: page.Right},
		{Head: "failed", Width: page.Natural, Align: page.Right}, {Head: "kept of judged", Width: page.Natural, Align: page.Right},
		{Head: "to print", Width: page.Natural, Align: page.Right}}}
	for _, s := range splits {
		kept, minutes := "–", "–"
		if s.KeptShare != nil {
			kept = wording.Percent(*s.KeptShare)
		}
		if s.Minutes != nil {
			minutes = wording.Seconds(*s.Minutes * 60)
		}
		t.Rows = append(t.Rows, page.Row{Cells: []string{fmt.Sprintf(key, s.Key), fmt.Sprint(s.Pictures), fmt.Sprint(s.Sheets), fmt.Sprint(s.Kept), fmt.Sprint(s.Failed), kept, minutes}})
	}
	b.under(title, t)
}

// yearFixer tells at what share of their capacity baths were given up, and where the silver went.
func (b *logBook) yearFixer(r *report.YearReport) {
	if len(r.BathRoles) == 0 {
		return
	}
	t := page.Table{Size: 7, Columns: []page.Column{{Width: page.Natural, Face: page.Bold}, {Wrap: true}}}
	for _, x := range r.BathRoles {
		text := wording.CountOf(x.Baths, "bath")
		if x.Used != nil {
			text += ", on the average at " + wording.Percent(*x.Used) + " of the capacity"
		}
		t.Rows = append(t.Rows, page.Row{Cells: []string{inWords(x.Role), text}})
	}
	for _, f := range r.SpentFixer {
		to := "where it went is not written"
		if f.To != nil {
			to = "to " + page.Isolated(*f.To)
		}
		t.Rows = append(t.Rows, page.Row{Cells: []string{"exhausted fixer", wording.Number(f.VolumeML) + " ml " + to}})
	}
	b.under("Baths given up", t)
}

func (b *logBook) yearLists(r *report.YearReport) {
	list := func(title string, rows []page.Row) {
		if len(rows) == 0 {
			return
		}
		b.under(title, page.Table{Size: 7, Rows: rows, Columns: []page.Column{{Width: page.Natural, Face: page.Bold}, {Wrap: true}}})
	}
	var last, owed, consent []page.Row
	for _, x := range r.MayNotLast {
		text := strings.Join(x.Why, "; ")
		if x.Delivered {
			text += "; delivered"
		}
		last = append(last, page.Row{Cells: []string{x.Sheet, text}})
	}
	together := false
	for _, x := range r.Undelivered {
		text := strings.Join(x.Sheets, ", ")
		if x.Sitter != nil {
			text += ", for " + b.o.sitterName(*x.Sitter)
		}
		if together = together && x.Sitter == nil && len(owed[len(owed)-1].Cells[1]) < 600; together { // of nobody: many to a row
			cells := owed[len(owed)-1].Cells
			first, _, _ := strings.Cut(cells[0], " to ")
			cells[0], cells[1] = first+" to "+x.Picture, cells[1]+", "+text
			continue
		}
		owed, together = append(owed, page.Row{Cells: []string{x.Picture, text}}), x.Sitter == nil
	}
	for _, x := range r.ConsentMissing {
		text := b.o.sitterName(x.Sitter) + ": to " + strings.Join(x.Missing, ", ")
		if x.Erased {
			text = x.Sitter + " asked to be forgotten"
		}
		consent = append(consent, page.Row{Cells: []string{x.Picture, text}})
	}
	list("May not last: kept or delivered, fixed or washed short, not tested clear", last)
	list("Kept and not delivered", owed)
	list("Consent missing", consent)
}

// yearChanges sets the year beside the one before.
func (b *logBook) yearChanges(r *report.YearReport) {
	if r.Before == nil {
		return
	}
	t := page.Table{Size: 7, Banded: true, Columns: []page.Column{{Wrap: true}, {Head: fmt.Sprint(r.Before.Year), Width: page.Natural, Align: page.Right},
		{Head: fmt.Sprint(r.Year), Width: page.Natural, Align: page.Right}}}
	for _, c := range r.Changes {
		was, is := c.Texts()
		t.Rows = append(t.Rows, page.Row{Cells: []string{c.What, was, is}})
	}
	b.under(fmt.Sprintf("Beside %d", r.Before.Year), t)
}
