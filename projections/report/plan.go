package report

import (
	"math"
	"slices"
	"time"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/acts"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// What a plan is refused for, and what is told beside one.
var (
	planNoRange      = wording.Refuses("plan-no-range", "no reading tells how far the scene goes", "read it: traybook meter darkest f/8 30s, then lightest f/8 1/2s; or type it: traybook plan f/8 --darkest 30s --lightest 1/2s")
	planContradicts  = wording.Refuses("plan-contradicts", "the readings contradict one another: {tone} is {by} than {than}", "read them again, or type them: traybook plan f/8 --darkest 30s --mid 4s --lightest 1/2s")
	planApart        = wording.Refuses("plan-apart", "the tones of the scene were read {apart} apart, and the light may have changed between them", "read them again, one after the other")
	planOneTone      = wording.Refuses("plan-one-tone", "darkest and lightest lie {stops} stops apart: that is one tone, and no range to plan by", "read what shall just show in the shadows, and the lightest that shall not be bare paper")
	planBeyondAll    = wording.Refuses("plan-beyond-all", "darkest and lightest lie {stops} stops apart: no scene goes so far", "read them again; the sun itself is no tone")
	planNoAperture   = wording.Refuses("plan-no-aperture", "no aperture is named, and none was read at", "name it: traybook plan f/8")
	planNoIndex      = wording.Refuses("plan-no-index", "nothing tells how fast {box} is: it has no index, no ISO P, and no strip", "make a strip: traybook strip expose scene; or rate it: traybook paper rate {box} --index 3")
	planReverses     = wording.Refuses("plan-reverses", "{box} is direct-positive paper: there is no negative to plan a print from", "expose f/8 without a time tells what it calls for")
	noStripTells     = wording.Warns("no-strip-tells", "no strip tells how {box} takes light: its index and R{r:%.0f} are taken as given, and the tones known less closely; traybook strip makes one")
	highlightsBlock  = wording.Warns("highlights-block", "beyond this paper: the highlights will block, all that is lighter than {stops:stops}")
	shadowsBlock     = wording.Warns("shadows-block", "beyond this paper: the shadows will block, all that is darker than {stops:stops}")
	sceneFlat        = wording.Warns("scene-flat", "a flat scene for this paper: the print uses {share} of its range, and wants a harder filter or paper, or less pre-flash")
	lightNotSaid     = wording.Warns("light-not-said", "{box} is of variable contrast, and nobody said the light: under a blue sky it is one to two grades harder; say --light sun")
	noDeveloperMixed = wording.Warns("no-developer-mixed", "no developer is mixed, so no time is called for in it")
)

const (
	planApartAfter = 30 * time.Minute // within which readings are of one scene
	planOneStop    = 0.5              // stops under which two readings are of one tone
	planMostStops  = 16.0             // no scene without the sun in it goes further
	flashMost      = 0.8              // share of the threshold: a third of a stop more is not yet a veil
	flashSome      = 0.4
	shortDevelop   = 0.7   // of the called-for time, where a negative is made softer by it
	softerStops    = 1.5   // by which a scene is shorter in soft light: common practice
	softPaper      = 160.0 // ISO range of a soft paper, where no box holds one: grade 0
	fitsStops      = 0.3   // of a scene that may be lost, which nobody misses
	flatStops      = 2.0   // that a print counts as unused where it uses flatShare of its paper's range: from there on it is flat
	flatShare      = 0.75
	meansCost      = 0.2  // stops that a filter or a pre-flash must earn, for it costs work
	shapeKnown     = 0.05 // density to which the shape of a curve is known. Our own model.
	unratedKnown   = 0.6  // stops to which an index is known that nobody measured. Common practice.
)

// PlanAsk is what a plan is asked for; what is left out the book fills in or the plan chooses.
type PlanAsk struct {
	F                            float64 // aperture of the negative; 0 for that of the reading of the mid-tone
	Box, PrintBox                string
	Filter, PrintFilter          *string // nil lets the plan choose
	DistanceMM                   *float64
	Light                        string
	DarkestS, MidS, LightestS    *float64 // seconds that the meter gives at F and the box's index; nil takes the book's readings
	at                           time.Time
	data                         *events.SheetExposedData
	box, printBox                *snapshot.Box
	midEV, zDark, zLight, offset float64
}

// PlanScene is how far the scene goes, in stops from its mid-tone; MidRead is false where nobody read that, and it is taken
// halfway.
type PlanScene struct {
	DarkestStops  float64 `json:"darkest_stops"`  // of the darkest tone, from the mid-tone
	LightestStops float64 `json:"lightest_stops"` // of the lightest tone, from the mid-tone
	RangeStops    float64 `json:"range_stops"`    // from the darkest tone to the lightest
	MidRead       bool    `json:"mid_read"`       // somebody read the mid-tone; else it is taken halfway
	Light         string  `json:"light"`
}

// PlanTime is a time in seconds with the bounds between which it is known.
type PlanTime struct {
	TimeS float64 `json:"time_s"` // most likely
	LowS  float64 `json:"low_s"`  // lower bound
	HighS float64 `json:"high_s"` // upper bound
}

// PlanSheet is one sheet of a plan.
type PlanSheet struct {
	Box       string    `json:"box"`
	ISOR      float64   `json:"iso_r"` // in this light, behind this filter
	Filter    string    `json:"filter"`
	F         float64   `json:"f"`
	Exposure  *PlanTime `json:"exposure"`        // null where nothing tells it
	SetTimeS  *float64  `json:"set_time_s"`      // the nearest time that a hand with a watch aims at; null where nothing tells it
	PreFlash  float64   `json:"pre_flash"`       // share of the threshold
	FlashGive float64   `json:"pre_flash_stops"` // by which the exposure is shortened for the pre-flash, 0 or less; counted in
	Flash     *PlanTime `json:"pre_flash_time"`  // nil for none
	FlashF    float64   `json:"pre_flash_f"`     // aperture before an even card in this light; 0 as the strip of pre-flashes was made
	Developer string    `json:"developer"`
	Develop   *PlanTime `json:"develop"` // null where nothing tells it
	made      *calledfor.SheetLog
}

// PlanTone is one tone of the scene, and its densities as they will be: of the print with the bounds that hold it in 19 of 20
// prints that a hand makes as planned.
type PlanTone struct {
	Zone     float64 `json:"zone_stops"` // of the scene, from the mid-tone
	Negative float64 `json:"negative"`   // density of the negative
	Print    float64 `json:"print"`      // density of the print
	Low      float64 `json:"low"`        // lower bound of the print's density
	High     float64 `json:"high"`       // upper bound of the print's density
}

// PlanChange is one change, and by how many stops more of the scene the print would hold with it.
type PlanChange struct {
	Change    string  `json:"change"` // filter, pre-flash, development, paper, light
	Text      string  `json:"text"`
	GainStops float64 `json:"gain_stops"` // by how much more of the scene the print would hold
}

// Plan is a print planned before a sheet is spent.
type Plan struct {
	At        time.Time         `json:"at"`
	Session   string            `json:"session"`
	Scene     PlanScene         `json:"scene"`            // what is to be photographed
	Negative  PlanSheet         `json:"negative"`         // the sheet to expose
	Print     PlanSheet         `json:"print"`            // the sheet to copy it onto
	Tones     []PlanTone        `json:"tones"`            // of the print, from the darkest to the lightest
	Dmin      float64           `json:"dmin"`             // of the print's paper
	HoldsFrom float64           `json:"holds_from_stops"` // the darkest tone that the print holds, from the mid-tone
	HoldsTo   float64           `json:"holds_to_stops"`   // the lightest tone that the print holds, from the mid-tone
	Fits      bool              `json:"fits"`             // the print holds the scene
	Changes   []PlanChange      `json:"changes"`          // where no filter and no pre-flash does: what helps, most first
	Further   []PlanChange      `json:"further"`          // what would help beyond the plan, where that does not hold the scene
	Kept      *string           `json:"kept"`             // the negative that was kept in this light, from which the exposure starts
	KeptStops float64           `json:"kept_stops"`       // by how much the kept negative was exposed more (+) or less (-) than its reading called for
	Strips    []string          `json:"strips"`           // that tell of the papers
	Warnings  []wording.Warning `json:"warnings"`
}

// means is what a picture is made by, beside its exposure.
type means struct {
	box, printBox       string
	filter, printFilter string
	flash, printFlash   float64
	develop             float64 // of the called-for time
	softer              float64 // stops by which the scene is shorter
	r                   float64 // ISO range of another paper for both; 0 for that of the boxes
}

// planner works out one plan.
type planner struct {
	snap  *snapshot.Snapshot
	ask   PlanAsk
	known map[sheetUse]*calledfor.SheetLog
	tells map[sheetUse]calledfor.StripsTell
	bath  *snapshot.Bath
}

type sheetUse struct {
	positive    bool
	box, filter string
}

// PlanOf plans a negative and its print as of the snapshot's moment: by the range of the scene, what the box's strips and
// ratings tell of its paper, and the baths as they are. The tones come from the one model of a sheet; the negative's tones
// are the print's scene. Where the paper does not hold the scene as it is, the plan chooses among the filters and
// pre-flashes that it can be given. Errors: a *wording.Refusal where something is missing or contradicts itself.
func PlanOf(snap *snapshot.Snapshot, ask PlanAsk) (Plan, error) {
	p := &planner{snap: snap, ask: ask, known: map[sheetUse]*calledfor.SheetLog{}, tells: map[sheetUse]calledfor.StripsTell{}}
	p.ask.at = snap.AsOf
	out := Plan{At: snap.AsOf, Changes: []PlanChange{}, Further: []PlanChange{}, Strips: []string{}, Warnings: []wording.Warning{}}
	if err := p.open(&out); err != nil {
		return out, err
	}
	plain := means{box: p.ask.data.Box, printBox: p.ask.PrintBox, develop: 1}
	if f := p.ask.Filter; f != nil {
		plain.filter = *f
	}
	if f := p.ask.PrintFilter; f != nil {
		plain.printFilter = *f
	}
	best, err := p.choose(plain)
	if err != nil {
		return out, err
	}
	g, err := p.generations(best)
	if err != nil {
		return out, err
	}
	out.HoldsFrom, out.HoldsTo = g.Holds()
	lost, _, err := p.lost(plain)
	if err == nil && lost > fitsStops {
		out.Changes, err = p.changes(plain)
	}
	if err != nil {
		return out, err
	}
	if lost, _, err = p.lost(best); err != nil {
		return out, err
	}
	if out.Fits = lost <= fitsStops; !out.Fits && best != plain {
		if out.Further, err = p.changes(best); err != nil {
			return out, err
		}
	}
	if err := p.make(&out, best); err != nil {
		return out, err
	}
	return out, p.tell(&out, best)
}

// open reads scene, boxes, camera and baths.
func (p *planner) open(out *Plan) error {
	x := &events.SheetExposedData{Box: p.ask.Box, F: p.ask.F, SubjectMM: p.ask.DistanceMM, Light: p.ask.Light}
	if x.F == 0 {
		x.F = 8 // until the reading tells it
	}
	e, _, err := acts.Plan(p.snap, events.Entry{Kind: events.SheetExposed, At: p.snap.AsOf, RecordedAt: p.snap.AsOf, Data: x})
	if err != nil {
		return err
	}
	p.ask.data = e.Data.(*events.SheetExposedData)
	p.ask.data.Reading = ""
	x = p.ask.data
	out.Session = x.Session
	if p.ask.box, err = p.snap.Box(x.Box); err != nil {
		return err
	}
	if p.ask.PrintBox == "" {
		p.ask.PrintBox = x.Box
	}
	if p.ask.printBox, err = p.snap.Box(p.ask.PrintBox); err != nil {
		return err
	}
	for _, b := range []*snapshot.Box{p.ask.box, p.ask.printBox} {
		if b.DirectPositive() {
			return planReverses.Refuse(b.Entity.Name)
		}
	}
	if p.bath, err = acts.BathInUse(p.snap, "developer"); err != nil {
		return err
	}
	scene, err := p.scene(e)
	if err != nil {
		return err
	}
	out.Scene = scene
	bath := ""
	if p.bath != nil {
		bath = p.bath.Entity.Name
	}
	kept, err := calledfor.KeptNegative(p.snap, e, x, bath)
	if err != nil {
		return err
	}
	if kept != nil {
		out.Kept, out.KeptStops, p.ask.offset = &kept.Sheet, kept.Stops, kept.Stops
	}
	return nil
}

// scene reads how far the scene goes, from what was typed or from the book.
func (p *planner) scene(e events.Entry) (PlanScene, error) {
	x := p.ask.data
	out := PlanScene{Light: p.ask.Light}
	read := calledfor.Scene{}
	if p.ask.DarkestS != nil || p.ask.MidS != nil || p.ask.LightestS != nil {
		if p.ask.F == 0 {
			return out, planNoAperture.Refuse()
		}
		index := p.ask.box.PaperFor(e.At, snapshot.Negative, "", p.ask.Light).Index
		if index == 0 {
			return out, planNoIndex.Refuse(x.Box)
		}
		for _, t := range []struct {
			s  *float64
			ev **float64
		}{{p.ask.DarkestS, &read.Darkest}, {p.ask.MidS, &read.Mid}, {p.ask.LightestS, &read.Lightest}} {
			if t.s != nil {
				ev, err := calc.EV100FromExposure(p.ask.F, *t.s, index)
				if err != nil {
					return out, err
				}
				*t.ev = &ev
			}
		}
	} else {
		var err error
		if read, err = calledfor.SceneAt(p.snap, nil, e, x.Session); err != nil {
			return out, err
		}
		if err := p.together(read, &out); err != nil {
			return out, err
		}
	}
	if out.Light == "" {
		light, err := calledfor.LightOf(p.snap, x)
		if err != nil {
			return out, err
		}
		out.Light = light
	}
	p.ask.Light, x.Light = out.Light, out.Light
	if read.Darkest == nil || read.Lightest == nil {
		return out, planNoRange.Refuse()
	}
	dark, light := *read.Darkest, *read.Lightest
	out.RangeStops, out.MidRead = light-dark, read.Mid != nil
	switch mid := read.Mid; {
	case dark >= light:
		return out, planContradicts.Refuse("the darkest", brighterBy(dark-light), "the lightest")
	case mid != nil && *mid <= dark:
		return out, planContradicts.Refuse("the darkest", brighterBy(dark-*mid), "the mid-tone")
	case mid != nil && *mid >= light:
		return out, planContradicts.Refuse("the mid-tone", brighterBy(*mid-light), "the lightest")
	case light-dark < planOneStop:
		return out, planOneTone.Refuse(math.Round((light-dark)*10) / 10)
	case light-dark > planMostStops:
		return out, planBeyondAll.Refuse(math.Round((light-dark)*10) / 10)
	case mid != nil:
		p.ask.midEV = *mid
	default:
		p.ask.midEV = (dark + light) / 2
	}
	p.ask.zDark, p.ask.zLight = dark-p.ask.midEV, light-p.ask.midEV
	out.DarkestStops, out.LightestStops = p.ask.zDark, p.ask.zLight
	return out, nil
}

func brighterBy(stops float64) string {
	if stops < 0.05 {
		return "no darker"
	}
	return wording.Brighter(math.Round(stops*10) / 10)
}

// together holds the readings of a scene against each other's time, and takes aperture and light from them.
func (p *planner) together(read calledfor.Scene, out *PlanScene) error {
	var first, last time.Time
	for _, e := range read.Entries {
		if first.IsZero() || e.At.Before(first) {
			first = e.At
		}
		if e.At.After(last) {
			last = e.At
		}
		r := snapshot.Metered(&e)
		if out.Light == "" {
			out.Light = r.Light
		}
		if p.ask.F == 0 {
			p.ask.F = snapshot.ValueOr(r.F, 0)
		}
	}
	switch {
	case last.Sub(first) > planApartAfter:
		return planApart.Refuse(wording.Roughly(last.Sub(first)))
	case p.ask.F == 0 && len(read.Entries) > 0:
		return planNoAperture.Refuse()
	case p.ask.F > 0:
		p.ask.data.F = p.ask.F
	}
	return nil
}

// sheet is one sheet as it would be made with a pre-flash and developed as called for, by a reading of its mid-tone; f is its
// aperture, 0 for that of the plan.
func (p *planner) sheet(u sheetUse, ev, f, flash float64) (*calledfor.SheetLog, error) {
	generation := snapshot.Negative
	if u.positive {
		generation = snapshot.Positive
	}
	tells, asked := p.tells[u]
	if !asked {
		box, err := p.snap.Box(u.box)
		if err != nil {
			return nil, err
		}
		if tells, err = calledfor.ToldByStrips(p.snap, box, p.ask.at, generation, u.filter, p.ask.Light); err != nil {
			return nil, err
		}
		p.tells[u] = tells
	}
	offset := tells.OffsetStops
	if !u.positive && p.ask.offset != 0 {
		offset = -p.ask.offset // what was kept goes before
	}
	x := p.ask.data
	e := events.Entry{Kind: events.SheetExposed, At: p.ask.at, RecordedAt: p.ask.at}
	if u.positive {
		print := &events.SheetReprintedData{Box: u.box, Filter: u.filter, Way: "camera"}
		print.Session, print.Camera = x.Session, x.Camera
		if f > 0 {
			print.F = &f
		}
		print.PreFlash = &flash
		e.Kind, e.Data = events.SheetReprinted, print
	} else {
		data := *x
		data.Box, data.Filter, data.PreFlash = u.box, u.filter, &flash
		if f > 0 {
			data.F = f
		}
		e.Data = &data
	}
	l, err := calledfor.PlannedSheet(p.snap, e, &events.LightMeteredData{On: "scene", EV: new(ev + offset), Index: new(100.0), Light: p.ask.Light}, func(paper *snapshot.Paper) {
		if tells.ISOR > 0 {
			paper.ISOR, paper.ISORKnown = tells.ISOR, tells.ISORKnown
		}
	})
	if err == nil && l.Paper.Index == 0 {
		err = planNoIndex.Refuse(u.box)
	}
	return l, err
}

// model is the model of a sheet, worked out once.
func (p *planner) model(u sheetUse) (*calledfor.SheetLog, error) {
	if l, ok := p.known[u]; ok {
		return l, nil
	}
	l, err := p.sheet(u, p.ask.midEV, 0, 0)
	if err == nil {
		p.known[u] = l
	}
	return l, err
}

// generations are negative and print by some means. Their stray light is that of this scene's lightest tone; a shorter
// development is made up for by exposure; the copy is read on its negative's mid-tone.
func (p *planner) generations(m means) (calc.TwoGenerations, error) {
	neg, err := p.model(sheetUse{false, m.box, m.filter})
	if err != nil {
		return calc.TwoGenerations{}, err
	}
	pos, err := p.model(sheetUse{true, m.printBox, m.printFilter})
	if err != nil {
		return calc.TwoGenerations{}, err
	}
	g := calc.TwoGenerations{Neg: neg.Made, Print: pos.Made, CopyMeteredMid: true}
	g.Neg.Flare = min(1, g.Neg.IndexFlare*math.Exp2(p.ask.zLight-m.softer/2-calc.SceneLightest))
	if m.r > 0 {
		for _, c := range []*calc.Curve{&g.Neg.Curve, &g.Print.Curve} {
			if *c, err = calc.NewCurve(c.Hm, m.r, c.Dmin, c.Dmax); err != nil {
				return g, err
			}
		}
	}
	for _, of := range []struct {
		sheet *calc.SheetModel
		flash float64
	}{{&g.Neg, m.flash}, {&g.Print, m.printFlash}} { // what the flash gives to the mid-tone, the exposure leaves out
		of.sheet.PreFlashShare = of.flash
		of.sheet.ExposureStops += of.sheet.Curve.PreFlashStops(of.flash)
	}
	g.Neg.DevRatio = m.develop
	g.Neg.ExposureStops -= calc.DevelopmentEffect(m.develop).SpeedStops
	return g, nil
}

// lost is how many stops of the scene a print by some means does not hold, and how much of its paper's range it leaves unused,
// in stops as flatStops counts them.
func (p *planner) lost(m means) (lost, spare float64, err error) {
	g, err := p.generations(m)
	if err != nil {
		return 0, 0, err
	}
	from, to := g.Holds()
	dark, light := p.ask.zDark+m.softer/2, p.ask.zLight-m.softer/2
	paper := g.Print.Curve
	uses := (g.Tone(dark).Print - g.Tone(light).Print) / (calc.MaximumBlackShare*paper.Dmax - paper.Dmin - calc.ThresholdAboveBase)
	return max(0, from-dark) + max(0, light-to), flatStops * max(0, 1-uses) / (1 - flatShare), nil
}

// make works out the sheets of a plan and its tones.
func (p *planner) make(out *Plan, m means) error {
	g, err := p.generations(m)
	if err != nil {
		return err
	}
	negUse, posUse := sheetUse{false, m.box, m.filter}, sheetUse{true, m.printBox, m.printFilter}
	tones := p.tones(g)
	if out.Negative, err = p.planned(negUse, p.ask.midEV, m.flash, 0); err != nil {
		return err
	}
	// The negative lies where the card was: a mid-tone reflects 18 %, the negative's 10^−D. Known as closely as that density is.
	k := p.knownOf(m, out.Negative.made, nil)
	_, low, high := k.bounds(g, 0)
	ev := p.ask.midEV + math.Log2(math.Pow(10, -g.Tone(0).Negative)/midReflects)
	if out.Print, err = p.planned(posUse, ev, m.printFlash, (high-low)/2/math.Log10(2)); err != nil {
		return err
	}
	k = p.knownOf(m, out.Negative.made, out.Print.made)
	for i := range tones {
		b, _, _ := k.bounds(g, tones[i].Zone)
		tones[i].Low, tones[i].High = b[0], b[1]
	}
	out.Tones, out.Dmin = tones, g.Print.Curve.Dmin
	for _, u := range []sheetUse{negUse, posUse} {
		for _, name := range p.tells[u].Names {
			if !slices.Contains(out.Strips, name) {
				out.Strips = append(out.Strips, name)
			}
		}
	}
	return nil
}

// midReflects is what a mid-tone reflects. Common practice.
const midReflects = 0.18

// tones are those of the scene from its darkest to its lightest: both, and each whole stop between them.
func (p *planner) tones(g calc.TwoGenerations) []PlanTone {
	var out []PlanTone
	add := func(z float64) {
		t := g.Tone(z)
		out = append(out, PlanTone{Zone: z, Negative: t.Negative, Print: t.Print})
	}
	add(p.ask.zDark)
	for z := math.Ceil(p.ask.zDark+0.3) + 0; z < p.ask.zLight-0.3; z++ { // + 0 turns −0 into 0
		add(z)
	}
	add(p.ask.zLight)
	return out
}
