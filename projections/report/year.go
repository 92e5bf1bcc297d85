package report

import (
	"slices"
	"strings"
	"time"

	"traybook/events"
	"traybook/projections/snapshot"
	"traybook/projections/why"
	"traybook/projections/wording"
)

// CauseShare is one cause found for a picture: on which sheet, and which share of what was judged it explains, 0 to 1.
type CauseShare struct {
	Cause    string
	Sheet    string
	Explains float64
}

// YearFigures are the sums of one year. Pictures are those numbered in it, with every sheet made from them whenever;
// strips, spoiled paper and baths are those of its days.
type YearFigures struct {
	Year               int                `json:"year"`
	Pictures           int                `json:"pictures"`
	Sheets             int                `json:"sheets"`                  // negatives and prints
	PaperSheets        float64            `json:"paper_sheets"`            // what they took of whole sheets
	StripSheets        float64            `json:"strip_sheets"`            // and the strips
	SpoiledSheets      float64            `json:"spoiled_sheets"`          // and what was spoiled
	MissingSheets      float64            `json:"missing_sheets"`          // fewer when counted than by the book
	UnexposedSheets    int                `json:"unexposed_sheets"`        // in a bath, and never exposed by the book: of no box that is known
	LoadedSheets       int                `json:"loaded_sheets"`           // loaded in it, and not exposed at its end; the boxes still count them
	Boxes              snapshot.Movements `json:"boxes"`                   // of its days: what the boxes say that were used in it
	FailedSheets       int                `json:"failed_sheets"`           // judged redo or reject in the end
	FirstPrintsJudged  int                `json:"first_prints_judged"`     // first prints of their negatives that were judged
	FirstPrintsKept    int                `json:"first_prints_kept"`       // of them kept
	FirstKeptShare     *float64           `json:"first_prints_kept_share"` // 0 to 1; null where none was judged
	KeptPrints         int                `json:"kept_prints"`             // how many were judged keep
	DeliveredPrints    int                `json:"delivered_prints"`        // how many went to somebody
	SheetsPerDelivered *float64           `json:"sheets_per_delivered"`    // all paper: strips, spoiled and missing included
	Costs              []YearCost         `json:"costs"`                   // by currency
	Takings            []Money            `json:"takings"`                 // that came in on its days
	SilverG            float64            `json:"silver_g"`                // recovered in it
	UnpricedSheets     float64            `json:"unpriced_sheets"`         // from boxes of which no cost is written
	UnpricedBaths      int                `json:"unpriced_baths"`          // of which no cost is written
}

// YearCost is what a year cost in one currency: the paper used, and the baths mixed.
type YearCost struct {
	Currency string   `json:"currency"` // "" where none was written
	Paper    float64  `json:"paper"`    // of sheets, strips and what was spoiled
	Baths    float64  `json:"baths"`
	Total    float64  `json:"total"`          // paper and baths
	PerKept  *float64 `json:"per_kept_print"` // total ÷ prints kept; null where none was
}

// Money is an amount in a currency.
type Money struct {
	Currency string  `json:"currency"`
	Amount   float64 `json:"amount"`
}

// CauseLine is one cause of failed sheets.
type CauseLine struct {
	Cause    string  `json:"cause"`    // "unexplained" where the log holds none
	Sheets   int     `json:"sheets"`   // of which it is the foremost cause
	Explains float64 `json:"explains"` // its shares added up, in sheets
	Money    []Money `json:"money"`    // of the paper of those sheets
}

// Unexplained is the cause of what no entry accounts for.
const Unexplained = "unexplained"

// Minutes are minutes from the reading of the scene to the first kept or delivered print out of the water.
type Minutes struct {
	Median   float64 `json:"median"`   // half of the prints took less
	Quickest float64 `json:"quickest"` // of the quickest print
	Slowest  float64 `json:"slowest"`  // of the slowest print
	Prints   int     `json:"prints"`   // within a day of the reading
	Later    int     `json:"later"`    // printed later than that, and left out
}

// Split is one part of the year: one paper, light, or hour of the day.
type Split struct {
	Key       string   `json:"key"` // the paper, the light or the hour
	Pictures  int      `json:"pictures"`
	Sheets    int      `json:"sheets"`
	Kept      int      `json:"kept"`
	Failed    int      `json:"failed"`
	KeptShare *float64 `json:"kept_share"` // of those judged
	Minutes   *float64 `json:"minutes"`    // median
	minutes   []float64
	last      string // picture counted last
}

// DiscardedBath is a bath that was discarded in the year.
type DiscardedBath struct {
	Bath     string   `json:"bath"`
	Role     string   `json:"role"`
	At       string   `json:"at"`
	Used     *float64 `json:"used"`      // share of its capacity, null where it has none
	VolumeML float64  `json:"volume_ml"` // when it was discarded
	To       *string  `json:"to"`        // where it went; null where it was not written
}

// RoleShare is at what share of their capacity the baths of a role were discarded.
type RoleShare struct {
	Role  string   `json:"role"`
	Baths int      `json:"baths"`
	Used  *float64 `json:"used"` // mean
}

// FixerGone is where exhausted fixer went.
type FixerGone struct {
	To       *string `json:"to"` // null where it was not written
	Baths    int     `json:"baths"`
	VolumeML float64 `json:"volume_ml"` // of all of them
}

// MayNotLast is a sheet that was kept or delivered and is fixed or washed short, with no test that cleared it.
type MayNotLast struct {
	Sheet     string   `json:"sheet"`
	Delivered bool     `json:"delivered"`
	Why       []string `json:"why"`
}

// Undelivered is a picture of which prints were kept and none delivered.
type Undelivered struct {
	Picture string   `json:"picture"`
	Sheets  []string `json:"sheets"`
	Sitter  *string  `json:"sitter"`
}

// ConsentMissing is a picture that was kept or delivered though its sitter has not consented to all of it.
type ConsentMissing struct {
	Picture string   `json:"picture"`
	Sitter  string   `json:"sitter"`
	Missing []string `json:"missing"` // keep, show, publish
	Erased  bool     `json:"erased"`  // the sitter asked to be forgotten
}

// YearChange is one figure beside that of the year before.
type YearChange struct {
	What string   `json:"what"` // which figure, in words
	Was  *float64 `json:"was"`  // in the year before; null where it cannot be told
	Is   *float64 `json:"is"`   // in this year; null where it cannot be told
}

// Texts are the two figures as a person reads them, a dash where there is none.
func (c YearChange) Texts() (was, is string) { return c.text(c.Was), c.text(c.Is) }

func (c YearChange) text(v *float64) string {
	switch {
	case v == nil:
		return wording.Dash
	case strings.HasPrefix(c.What, "share"):
		return wording.Percent(*v)
	case strings.HasPrefix(c.What, "cost"), strings.HasPrefix(c.What, "takings"):
		return wording.Money(*v, "")
	}
	return wording.Number(*v)
}

// YearReport is one year of the book.
type YearReport struct {
	YearFigures
	AsOf           string           `json:"as_of"`
	Causes         []CauseLine      `json:"causes"`
	Symptoms       []SymptomLine    `json:"symptoms"`
	Minutes        *Minutes         `json:"minutes"`         // null where no print can be timed
	ByPaper        []Split          `json:"by_paper"`        // by the paper
	ByLight        []Split          `json:"by_light"`        // by the light on the negative
	ByHour         []Split          `json:"by_hour"`         // by the hour of the exposure
	Baths          []DiscardedBath  `json:"baths_discarded"` // in its days
	BathRoles      []RoleShare      `json:"bath_roles"`      // how far the baths of each role were used
	SpentFixer     []FixerGone      `json:"spent_fixer"`     // where exhausted fixer went
	MayNotLast     []MayNotLast     `json:"may_not_last"`    // fixed or washed short, and not tested clear
	Undelivered    []Undelivered    `json:"undelivered"`     // kept, and nobody has it
	ConsentMissing []ConsentMissing `json:"consent_missing"` // pictures whose sitters did not agree to what was done with them
	Before         *YearFigures     `json:"before"`          // the year before; null where the book has none
	TakingsByDay   []DayTakings     `json:"takings_by_day"`  // what came in, day by day
	Changes        []YearChange     `json:"changes"`         // beside the year before
}

// SymptomLine counts a symptom on failed sheets.
type SymptomLine struct {
	Symptom string `json:"symptom"`
	Sheets  int    `json:"sheets"`
}

var noYear = wording.Refuses("no-year-of-photography", "{year} is no year of photography", "write it in full: 2026")

// Year tells one year of the book as of the snapshot's moment. why finds the causes for one picture, the strongest first;
// nil leaves the causes out. It looks at the year's own pictures, days and boxes, and of the year before at its kept views,
// so that it costs the same in a book of any length.
func Year(snap *snapshot.Snapshot, year int, why func(picture string) ([]CauseShare, error)) (YearReport, error) {
	w, err := newYearWork(snap, year)
	if err == nil {
		err = w.sum(snap)
	}
	for i := 0; err == nil && i < len(w.views); i++ {
		w.seen[i], err = lookAt(snap, w.views[i].Entity, why)
	}
	if err != nil {
		return YearReport{}, err
	}
	return w.tell()
}

// YearByTwo is Year with its causes by two snapshots of one moment and one state of the book, each for a goroutine. The other
// begins with the sums, so that pictures which lie open on the first need hardly be read again.
func YearByTwo(snap, other *snapshot.Snapshot, year int) (YearReport, error) {
	w, err := newYearWork(snap, year)
	if err != nil {
		return YearReport{}, err
	}
	look := func(snap *snapshot.Snapshot) func(int) error {
		causes := Causes(snap)
		return func(i int) (err error) {
			if i == len(w.views) {
				return w.sum(snap)
			}
			w.seen[i], err = lookAt(snap, w.views[i].Entity, causes)
			return err
		}
	}
	if err := events.ByTwo(1+len(w.views), look(snap), look(other)); err != nil {
		return YearReport{}, err
	}
	return w.tell()
}

// Causes replays failed pictures for their causes, the strongest first: the why of a Year.
func Causes(snap *snapshot.Snapshot) func(picture string) ([]CauseShare, error) {
	replays := why.Over(snap)
	return func(picture string) ([]CauseShare, error) {
		found, err := replays.Why(picture)
		if err != nil {
			return nil, err
		}
		out := make([]CauseShare, 0, len(found.Findings))
		for _, f := range found.Findings {
			out = append(out, CauseShare{Cause: f.Cause, Sheet: f.Sheet, Explains: f.Explains})
		}
		return out, nil
	}
}

// yearEnd is the moment as of which a year's consents count: its end, or now where that is earlier.
func yearEnd(year int, now time.Time) time.Time {
	end := time.Date(year+1, 1, 1, 0, 0, 0, 0, now.Location()).Add(-1)
	if !now.IsZero() && now.Before(end) {
		return now
	}
	return end
}

// yearActs are the acts of a year's days that its sums need beside the pictures: a range of the index by time.
func yearActs(snap *snapshot.Snapshot, year int) ([]events.Entry, error) {
	q := events.Query{ // a local year somewhere on earth
		From: time.Date(year, 1, 1, 0, 0, 0, 0, time.UTC).Add(-14 * time.Hour),
		To:   time.Date(year+1, 1, 1, 0, 0, 0, 0, time.UTC).Add(12 * time.Hour),
		Kinds: append([]events.Kind{events.PaperSpoiled, events.StripExposed, events.BathMixed, events.BathDiscarded, events.PaperReceived, events.PaperCounted, events.PaperCut,
			events.HolderLoaded, events.SheetExposed, events.SheetReprinted}, bringMoney...),
	}
	found, err := snap.Entries(q)
	if err != nil {
		return nil, err
	}
	return slices.DeleteFunc(found, func(e events.Entry) bool { return e.At.Year() != year }), nil
}

// yearPictures are the kept views of the pictures numbered in a year, in their order.
func yearPictures(snap *snapshot.Snapshot, year int) ([]events.View, error) {
	first := int64(year) * 1_000_000_000
	views, err := snap.R.Views(events.ViewQuery{Kind: events.Picture, RankFrom: first, To: first + 999_999_999})
	if err != nil {
		return nil, err
	}
	slices.Reverse(views)
	return views, nil
}

// compare sets the year before beside this one.
func compare(snap *snapshot.Snapshot, year int, r *YearReport) error {
	views, err := yearPictures(snap, year)
	if err != nil || len(views) == 0 {
		return err
	}
	acts, err := yearActs(snap, year)
	if err != nil {
		return err
	}
	before, err := figures(snap, year, views, acts)
	if err != nil || before.Pictures == 0 {
		return err
	}
	r.Before = &before
	change := func(what string, was, is *float64) {
		if was != nil || is != nil {
			r.Changes = append(r.Changes, YearChange{what, was, is})
		}
	}
	count := func(n int) *float64 { return new(float64(n)) }
	change("pictures", count(before.Pictures), count(r.Pictures))
	change("sheets", count(before.Sheets), count(r.Sheets))
	change("share of first prints kept", before.FirstKeptShare, r.FirstKeptShare)
	change("failed sheets", count(before.FailedSheets), count(r.FailedSheets))
	change("kept prints", count(before.KeptPrints), count(r.KeptPrints))
	change("delivered prints", count(before.DeliveredPrints), count(r.DeliveredPrints))
	change("sheets of paper per delivered print", before.SheetsPerDelivered, r.SheetsPerDelivered)
	for _, was := range before.Costs {
		for _, is := range r.Costs {
			if was.Currency == is.Currency {
				change(joinWords("cost per kept print", was.Currency), was.PerKept, is.PerKept)
			}
		}
	}
	for _, was := range before.Takings {
		for _, is := range r.Takings {
			if was.Currency == is.Currency {
				change(joinWords("takings", was.Currency), &was.Amount, &is.Amount)
			}
		}
	}
	return nil
}

func joinWords(a, b string) string {
	if b == "" {
		return a
	}
	return a + ", " + b
}
