package report

import (
	"slices"
	"time"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/snapshot"
)

// CalibrateOptions say of what to calibrate.
type CalibrateOptions struct {
	Box string // one box; "" = every box that holds paper
}

// Range is a figure with the bounds between which the truth lies in 95 of 100 cases.
type Range struct {
	Mean float64 `json:"mean"` // most likely
	Low  float64 `json:"low"`  // lower bound
	High float64 `json:"high"` // upper bound
}

func rangeOf(i calc.Interval) Range { return Range{i.Mean, i.Low, i.High} }

// Calibration is what the book tells of papers, hand and baths by what came out.
type Calibration struct {
	AsOf    string           `json:"as_of"`
	Boxes   []BoxCalibration `json:"boxes"`
	Caps    []CapCalibration `json:"caps"`    // the hand, camera by camera
	Applied []string         `json:"applied"` // ids of the ratings that were written
}

// BoxCalibration is what the sheets and strips of one box tell.
type BoxCalibration struct {
	Box         string                   `json:"box"`
	Name        string                   `json:"name"`
	Index       []IndexCalibration       `json:"index"`
	Filters     []FilterCalibration      `json:"filters"`     // factor of each filter in each light
	Development []DevelopmentCalibration `json:"development"` // of each developer that its sheets went through
	PreFlash    *PreFlashCalibration     `json:"pre_flash"`   // null without strips of pre-flashes
	LeftOut     []LeftOut                `json:"left_out"`    // judged sheets and strips that do not count
	Proposals   []Proposal               `json:"proposals"`   // ratings to write
}

// Kept is one sort of sheet of a box: the generation, and the filter and light, "" where none was written.
type Kept struct {
	Generation string `json:"generation"`
	Filter     string `json:"filter"`
	Light      string `json:"light"`
}

// IndexCalibration is what judged sheets and strips of one sort tell of the index. Of prints (generation positive) it
// is the copy's own offset, from prints metered on their negatives; it is never pooled with the negatives'.
type IndexCalibration struct {
	Kept
	InForce     float64    `json:"in_force"`             // the index in force, through the filter where there is one
	Sheets      int        `json:"sheets"`               // strips included
	KeptSheets  int        `json:"kept_sheets"`          // of them kept without anything asked of them
	Need        int        `json:"need"`                 // how many it takes
	Confidence  float64    `json:"confidence"`           // share of cases in which the bounds hold the truth
	Index       *Range     `json:"index"`                // null with too few sheets
	MeterAt     *float64   `json:"meter_at"`             // the index as a mark on a meter
	OffsetStops *Range     `json:"offset_stops"`         // of the index against the one in force: + = less exposure; null with too few
	P           *Range     `json:"reciprocity_p"`        // null where the times do not spread enough
	PInForce    float64    `json:"reciprocity_in_force"` // Schwarzschild's p that is taken now
	SDStops     *float64   `json:"sd_stops"`             // scatter of a sheet about the fit; null with too few
	LeaveIt     bool       `json:"leave_it"`             // the one in force is off by too little to change it
	Evidence    []string   `json:"evidence"`             // ids of the judgements and readings of strips
	NextStrip   *NextStrip `json:"next_strip"`           // the strip that would tell most; null for none
	Leans       []Lean     `json:"leans"`                // what the sheets drift with that is not the paper's
	CapOrPaper  bool       `json:"cap_or_paper"`         // a long cap and a fast paper cannot be told apart
	Text        string     `json:"text"`

	factor       float64 // of the filter in force, in InForce
	through      bool    // the index in force was measured through the filter
	proposeIndex bool
	proposeP     bool
}

// NextStrip is the strip that would tell most.
type NextStrip struct {
	On     string    `json:"on"`      // scene or negative
	TimesS []float64 `json:"times_s"` // each step's total, seconds
	Why    string    `json:"why"`
}

// FilterCalibration is the factor of a filter in one light.
type FilterCalibration struct {
	Kept
	Factor  Range   `json:"factor"`   // times the exposure
	InForce float64 `json:"in_force"` // the factor that is taken now
	Sheets  int     `json:"sheets"`
	LeaveIt bool    `json:"leave_it"` // the one in force is off by too little to change it
	Text    string  `json:"text"`
}

// DevelopmentCalibration is how a developer slows with the paper it has seen.
type DevelopmentCalibration struct {
	Developer string   `json:"developer"`
	From      string   `json:"from"`          // maximum black: strips; time of appearance: sheets and tests
	Times     int      `json:"times"`         // how many developments it is told by
	FreshS    *float64 `json:"fresh_s"`       // at 20 °C in a fresh bath, null with too few
	Growth    *Range   `json:"growth"`        // what the whole capacity adds, as a share
	InUse     float64  `json:"growth_in_use"` // what is taken for growth now
	Evidence  []string `json:"evidence"`      // ids of the judgements, tests and readings of strips
	Text      string   `json:"text"`
}

// PreFlashCalibration is the pre-flash that alone gives the threshold.
type PreFlashCalibration struct {
	Strips     int      `json:"strips"`
	ThresholdS float64  `json:"threshold_s"` // pre-flash that just gives a tone
	LowS       float64  `json:"low_s"`       // lower bound
	HighS      float64  `json:"high_s"`      // upper bound
	InForceS   *float64 `json:"in_force_s"`  // what is taken for it now; null for none
	LeaveIt    bool     `json:"leave_it"`    // the one in force is off by too little to change it
	Evidence   []string `json:"evidence"`    // ids of the readings of strips
	Text       string   `json:"text"`
}

// CapCalibration is the hand at one camera's cap.
type CapCalibration struct {
	Camera       string                  `json:"camera"`
	Presses      int                     `json:"presses"`         // planned and measured both, and not the same to the last digit
	Same         int                     `json:"same"`            // written just as planned, so perhaps not measured: left out
	Slips        int                     `json:"slips"`           // off by so much that it was no scatter: left out
	BiasS        *Range                  `json:"bias_s"`          // by how much longer the cap stays off than intended
	SDS          *Range                  `json:"sd_s"`            // the constant part of its scatter
	Share        *Range                  `json:"share"`           // and the part that grows with the time
	InForceS     float64                 `json:"bias_in_force_s"` // what is taken for bias_s now
	InForceSD    float64                 `json:"sd_in_force_s"`   // what is taken for sd_s now
	InForceShare float64                 `json:"share_in_force"`  // what is taken for share now, 0 to 1
	Text         string                  `json:"text"`
	Note         *events.NoteWrittenData `json:"note"`    // to keep, null where there is nothing to say
	Command      string                  `json:"command"` // that would put it in force, "" for none
}

// LeftOut is a judged sheet or a strip that does not count, and why.
type LeftOut struct {
	Sheet string `json:"sheet"`
	Why   string `json:"why"`
}

// Proposal is a rating to write, with its evidence.
type Proposal struct {
	Text string                 `json:"text"`
	Data *events.PaperRatedData `json:"data"` // as it would be written
}

// Calibrate fits, for each sort of sheet of a box, the index and, where the times spread enough, the reciprocity
// exponent; the factors of filters; the developer's growth, the pre-flash and the cap. It writes nothing: a
// proposal is a rating for Write; acts dated before it keep the index they were made with. Errors: a *Refusal where there is no such box.
func Calibrate(snap *snapshot.Snapshot, o CalibrateOptions) (Calibration, error) {
	out := Calibration{Boxes: []BoxCalibration{}, Caps: []CapCalibration{}, Applied: []string{}}
	now, err := snap.Moment()
	if err != nil {
		return out, err
	}
	out.AsOf = events.FormatTime(now)
	boxes, err := boxesToCalibrate(snap, o.Box)
	if err != nil {
		return out, err
	}
	hands := map[string]*hand{}
	for _, b := range boxes {
		c, err := calibrateBox(snap, b, now, hands)
		if err != nil {
			return out, err
		}
		out.Boxes = append(out.Boxes, c)
	}
	out.Caps, err = calibrateCaps(snap, hands, now)
	return out, err
}

// boxesToCalibrate is the box asked for, or those that hold paper, the oldest first.
func boxesToCalibrate(snap *snapshot.Snapshot, name string) ([]*snapshot.Box, error) {
	if name != "" {
		b, err := snap.Box(name)
		if err != nil {
			return nil, err
		}
		return []*snapshot.Box{b}, nil
	}
	entities, err := snap.OpenEntities(events.Box)
	if err != nil {
		return nil, err
	}
	var out []*snapshot.Box
	for _, t := range slices.Backward(entities) {
		b, err := snapshot.Listed(snap.Box(t.Name))
		if err != nil {
			return nil, err
		}
		if b.Received != nil {
			out = append(out, b)
		}
	}
	return out, nil
}

func calibrateBox(snap *snapshot.Snapshot, b *snapshot.Box, now time.Time, hands map[string]*hand) (BoxCalibration, error) {
	out := BoxCalibration{Box: b.Entity.Name, Index: []IndexCalibration{}, Filters: []FilterCalibration{},
		Development: []DevelopmentCalibration{}, LeftOut: []LeftOut{}, Proposals: []Proposal{}}
	if b.Received != nil {
		out.Name = b.Received.Name
	}
	g, err := gather(snap, b, hands)
	if err != nil {
		return out, err
	}
	out.LeftOut = append(out.LeftOut, g.leftOut...)
	for _, k := range g.sorts() {
		c, err := fitIndex(b, now, k, g.told[k])
		if err != nil {
			return out, err
		}
		out.Index = append(out.Index, c)
	}
	if out.Development, err = fitDevelopment(g); err != nil {
		return out, err
	}
	out.PreFlash = fitPreFlash(b, now, g.flashes)
	propose(b, now, &out)
	return out, nil
}
