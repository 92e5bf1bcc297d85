package export

import (
	"strings"
	"time"

	"traybook/events"
	"traybook/export/sheetcsv"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
)

// pictureRow is one picture: what its negative asked for and got, and what came of it.
type pictureRow struct {
	p       *snapshot.Picture
	n       *snapshot.Sheet // nil before it is exposed
	x       *events.SheetExposedData
	step    calledfor.Step
	prints  int
	kept    int
	handed  int
	judged  *events.SheetJudgedData
	entries int
}

var picturesTable = table[pictureRow]{
	name: "pictures", key: []string{"picture"}, says: "One record for each picture: one subject on one negative, with what was made from it.",
	columns: []column[pictureRow]{
		{"picture", sheetcsv.Text, "its number, given once", func(r *pictureRow) string { return r.p.Entity.Name }},
		{"at", sheetcsv.Time, "when the negative was exposed, else its first act", func(r *pictureRow) string {
			if r.n != nil && r.n.Exposure() != nil {
				return moment(r.n.Exposure().At)
			}
			return moment(r.p.First)
		}},
		{"session", sheetcsv.Text, "the session it was exposed in", func(r *pictureRow) string { return r.p.Session }},
		{"camera", sheetcsv.Text, "the camera", func(r *pictureRow) string { return r.p.Camera }},
		{"subject", sheetcsv.Text, "what it shows", func(r *pictureRow) string { return r.p.Subject }},
		{"sitter", sheetcsv.Text, "reference of the sitter; names stand beside the chain", func(r *pictureRow) string { return r.p.Sitter }},
		{"box", sheetcsv.Text, "the box of the negative's paper", func(r *pictureRow) string {
			if r.n == nil {
				return ""
			}
			return r.n.Box
		}},
		{"f", sheetcsv.Number, "relative aperture used", ifExposed(func(r *pictureRow) string { return exact(r.x.F) })},
		{"time_s", sheetcsv.Number, "exposure as done", ifExposed(func(r *pictureRow) string { return exact(r.x.TimeS) })},
		{"called_for_s", sheetcsv.Number, "exposure that reading, camera and paper called for at that aperture", func(r *pictureRow) string { return calculatedOf(r.step.CalledForS) }},
		{"deviation_stops", sheetcsv.Number, "log2(done ÷ called for); + is too much", func(r *pictureRow) string { return stopsOf(r.step.DeviationStops) }},
		{"state", sheetcsv.Text, "how far the negative has come", func(r *pictureRow) string {
			if r.n == nil {
				return ""
			}
			return r.n.State
		}},
		{"verdict", sheetcsv.Text, "what was last said of the negative: keep, redo, reject", func(r *pictureRow) string {
			if r.judged == nil {
				return ""
			}
			return r.judged.Verdict
		}},
		{"symptoms", sheetcsv.Text, "what the eye saw on the negative, parted by blanks", func(r *pictureRow) string {
			if r.judged == nil {
				return ""
			}
			return strings.Join(r.judged.Symptoms, " ")
		}},
		{"prints", sheetcsv.Integer, "prints made from it", func(r *pictureRow) string { return count(r.prints) }},
		{"prints_kept", sheetcsv.Integer, "prints judged keep", func(r *pictureRow) string { return count(r.kept) }},
		{"sheets_delivered", sheetcsv.Integer, "sheets handed over", func(r *pictureRow) string { return count(r.handed) }},
		{"entries", sheetcsv.Integer, "entries that count", func(r *pictureRow) string { return count(r.entries) }},
		{"last_at", sheetcsv.Time, "its last act", func(r *pictureRow) string { return moment(r.p.Last) }},
	},
	each: func(t *Tables, give func(*pictureRow) error) func(*snapshot.Picture) error {
		return func(p *snapshot.Picture) error {
			r := pictureRow{p: p, n: p.NegativeSheet(), entries: len(p.All)}
			for _, s := range p.Sheets {
				if s.Generation == snapshot.Positive {
					r.prints++
					if j := s.Verdict(); j != nil && j.Verdict == "keep" {
						r.kept++
					}
				}
				if s.State == snapshot.Delivered {
					r.handed++
				}
			}
			if r.n != nil {
				r.judged = r.n.Verdict()
				if e := r.n.Exposure(); e != nil {
					r.x, _ = e.Data.(*events.SheetExposedData)
					var err error
					if r.step, err = calledfor.StepOf(t.chosen.Snap, p, *e); err != nil {
						return err
					}
				}
			}
			return give(&r)
		}
	},
}

func ifExposed(get func(*pictureRow) string) func(*pictureRow) string {
	return func(r *pictureRow) string {
		if r.x == nil {
			return ""
		}
		return get(r)
	}
}

// EachPicture folds the pictures of the selection and calls f with each in its order, and drops what was cached between two of
// them. Pictures of which nothing counts any more are passed over, and so are the ones that did not exist as of the moment.
func (s *Selection) EachPicture(f func(*snapshot.Picture) error) error {
	return s.eachOf(s.pictures, f)
}

// eachOf is EachPicture for some of them.
func (s *Selection) eachOf(pictures []events.Entity, f func(*snapshot.Picture) error) error {
	return eachThere(s, pictures, s.Snap.PictureOf, func(p *snapshot.Picture) bool { return len(p.All) > 0 }, f)
}

// eachThere folds some things and calls f with each that is there as of the moment.
func eachThere[T any](s *Selection, some []events.Entity, fold func(events.Entity) (T, error), there func(T) bool, f func(T) error) error {
	for _, entity := range some {
		s.Snap.Tidy()
		x, err := fold(entity)
		if err != nil {
			return err
		}
		if !there(x) {
			continue
		}
		if err := f(x); err != nil {
			return err
		}
	}
	return nil
}

// byName folds a thing by its name.
func byName[T any](fold func(name string) (T, error)) func(events.Entity) (T, error) {
	return func(t events.Entity) (T, error) { return fold(t.Name) }
}

// sheetRow is one sheet: how it was exposed, what the baths did, what was said of it.
type sheetRow struct {
	p                    *snapshot.Picture
	s                    *snapshot.Sheet
	at                   time.Time
	exposed              *events.SheetExposedData
	printed              *events.SheetReprintedData
	box                  *snapshot.Box
	step                 calledfor.Step
	dev, rinse, fix      calledfor.Step
	wash                 calledfor.Step
	devS, fixS           float64 // all stays together
	developer, rinsedIn  string
	fixer                string
	times                int // exposures
	washed               bool
	residual             string
	judged               *events.SheetJudgedData
	judgedAt             time.Time
	to, price, currency  string
	order                string
	deliveredAt, driedAt time.Time
	tested               []string
}

func (r *sheetRow) fill(snap *snapshot.Snapshot) error {
	var err error
	for _, e := range r.s.Entries {
		switch x := e.Data.(type) {
		case *events.SheetRinsedData:
			r.rinsedIn = x.Bath
		case *events.SheetDriedData:
			r.driedAt = e.At
		case *events.SheetTestedData:
			what := x.Test
			if x.Suspect != "" {
				what += " " + x.Suspect
			}
			r.tested = append(r.tested, what+" "+x.Result)
		case *events.SheetDeliveredData:
			if x.As != "" { // the sheet stayed
				continue
			}
			r.deliveredAt, r.to, r.order, r.price, r.currency = e.At, x.To, x.Order, exactOf(x.Price), x.Currency
		}
	}
	r.times = len(r.s.Exposures)
	if e := r.s.Exposure(); e != nil {
		r.at = e.At
		r.exposed, _ = e.Data.(*events.SheetExposedData)
		r.printed, _ = e.Data.(*events.SheetReprintedData)
		if r.step, err = calledfor.StepOf(snap, r.p, *e); err != nil {
			return err
		}
		if _, r.box, err = calledfor.PaperAt(snap, r.s); err != nil {
			return err
		}
	}
	if r.dev, r.developer, r.devS, err = LastStay(snap, r.p, r.s.Developed); err != nil {
		return err
	}
	if r.rinse, _, _, err = LastStay(snap, r.p, r.s.Rinsed); err != nil {
		return err
	}
	if r.fix, r.fixer, r.fixS, err = LastStay(snap, r.p, r.s.Fixed); err != nil {
		return err
	}
	if n := len(r.s.Washed); n > 0 {
		r.washed = true
		if r.wash, err = calledfor.StepOf(snap, r.p, r.s.Washed[n-1]); err != nil {
			return err
		}
		report, known, err := calledfor.WashOf(snap, r.s)
		if err != nil {
			return err
		}
		if known && len(r.s.WashedSince()) > 0 {
			r.residual = calculated(report.GPerM2)
		}
	}
	r.judged = r.s.Verdict()
	if n := len(r.s.Judged); n > 0 {
		r.judgedAt = r.s.Judged[n-1].At
	}
	return nil
}

// LastStay is what the last stay in a bath of one sort called for, with the seconds of all of them together.
func LastStay(snap *snapshot.Snapshot, p *snapshot.Picture, stays []events.Entry) (calledfor.Step, string, float64, error) {
	if len(stays) == 0 {
		return calledfor.Step{}, "", 0, nil
	}
	last := stays[len(stays)-1]
	step, err := calledfor.StepOf(snap, p, last)
	total := 0.0
	for _, e := range stays {
		s, _ := valueOf(e.Data, "time_s").(float64)
		total += s
	}
	return step, events.PlacesOf(last.Data).Bath, total, err
}

// OfSession is true of work on a sheet that was done in the session of the selection.
func (s *Selection) OfSession(e events.Entry) bool {
	c := events.CarriedOf(e.Data)
	return c != nil && c.Session == s.Scope.Session && workOn(e.Kind)
}
