package report

import (
	"math"
	"strconv"
	"strings"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// DayAsk is what a day is planned by.
type DayAsk struct {
	Sitters int
	Prints  int     // for each of them
	Hours   float64 // from the first tray to the last
	Box     string  // of which size and base the sheets are; "" for the box used last
}

// DayPlan is what a day takes along.
type DayPlan struct {
	Sitters   int       `json:"sitters"`
	Hours     float64   `json:"hours"` // from the first tray to the last
	Sheets    int       `json:"sheets"`
	Negatives int       `json:"negatives"` // to be exposed
	Prints    int       `json:"prints"`
	Spare     int       `json:"spare"`      // for those that fail
	FailShare float64   `json:"fail_share"` // of the sheets judged lately that failed
	Judged    int       `json:"judged"`     // how many these were; 0 where the share is common practice
	AreaM2    float64   `json:"area_m2"`    // of all sheets
	Box       *string   `json:"box"`        // by which their size goes; null where there is none
	InStock   float64   `json:"in_stock"`   // sheets of that size and base at hand
	Short     float64   `json:"short"`      // what is lacking of them
	Baths     []DayBath `json:"baths"`      // in the order of the tray
	WashML    float64   `json:"wash_ml"`    // for the wash of all sheets, on the way or at home
	RinseML   float64   `json:"rinse_ml"`   // to rinse between, and for hands and eyes
	WaterML   float64   `json:"water_ml"`   // to carry: what the baths are mixed with, and the rinse
	SpentML   float64   `json:"spent_ml"`   // exhausted baths to carry home
	Pack      []string  `json:"pack"`       // what to take along, a line each
}

// DayBath is a bath of the day.
type DayBath struct {
	Role          string   `json:"role"`
	Name          string   `json:"name"`
	Dilution      *string  `json:"dilution"`
	Mixings       int      `json:"mixings"`         // one after the other
	VolumeML      float64  `json:"volume_ml"`       // of each
	ConcentrateML *float64 `json:"concentrate_ml"`  // of each mixing; null where no dilution is known
	WaterML       *float64 `json:"water_ml"`        // each: of each mixing; null where no dilution is known
	Sheets        int      `json:"sheets"`          // that each mixing treats
	Why           string   `json:"why"`             // why there are several: capacity or life; "" for one
	UsedByEvening *float64 `json:"used_by_evening"` // share of its capacity that is used by then, 1 for all; null where no limit is known
	AgeH          float64  `json:"age_h"`           // of each when it is done with
	LifeH         *float64 `json:"life_h"`          // in the open tray; null where none is written
	NominalS      *float64 `json:"nominal_s"`       // fresh, at its nominal temperature; null where none is written
	EveningS      *float64 `json:"evening_s"`       // what it calls for by then, at its nominal temperature
}

var (
	planNobody  = wording.Refuses("plan-nobody", "a day for {sitters} sitters cannot be planned", "from 1 to 200: traybook plan day --sitters 12")
	planTooLong = wording.Refuses("plan-hours", "a day of {hours} hours cannot be planned", "from half an hour to 24: --hours 6h")
	planPrints  = wording.Refuses("plan-prints", "{prints} prints for each cannot be planned", "from 0 to 20: --prints 1")
)

// What a day is planned by where the book does not tell it. Common practice without a source.
const (
	usualFails    = 0.25   // share of sheets made in vain
	leastJudged   = 8      // sheets by which the book's own share counts
	dayBathML     = 1000.0 // of a tray
	handsML       = 2000.0 // for hands, and for an eye
	rinseSheetML  = 100.0  // between developer and fixer
	washSheets    = 6.0    // sheets that share the water of a change
	daysOfHistory = 90
)

// Day plans a day from the sheets that failed lately, the paper in stock and the baths as they were mixed last.
//
// Errors: a refusal of numbers that no day has, and of a box that is not there.
func Day(snap *snapshot.Snapshot, ask DayAsk) (DayPlan, error) {
	switch {
	case ask.Sitters < 1 || ask.Sitters > 200:
		return DayPlan{}, planNobody.Refuse(ask.Sitters)
	case ask.Hours < 0.5 || ask.Hours > 24:
		return DayPlan{}, planTooLong.Refuse(ask.Hours)
	case ask.Prints < 0 || ask.Prints > 20:
		return DayPlan{}, planPrints.Refuse(ask.Prints)
	}
	p := DayPlan{Sitters: ask.Sitters, Hours: ask.Hours, Negatives: ask.Sitters, Prints: ask.Sitters * ask.Prints, Baths: []DayBath{}}
	if err := p.failing(snap); err != nil {
		return p, err
	}
	made := p.Negatives + p.Prints
	p.Sheets = int(math.Ceil(float64(made)/(1-p.FailShare) - 1e-9))
	p.Spare = p.Sheets - made
	box, err := p.paper(snap, ask.Box)
	if err != nil {
		return p, err
	}
	for _, role := range []string{"developer", "stop", "fixer"} {
		if err := p.bath(snap, role); err != nil {
			return p, err
		}
	}
	p.water(box)
	p.pack()
	return p, nil
}

// failing finds the share of the sheets judged lately that failed.
func (p *DayPlan) failing(snap *snapshot.Snapshot) error {
	now, err := snap.Moment()
	if err != nil {
		return err
	}
	judged, err := snap.Entries(events.Query{Kinds: []events.Kind{events.SheetJudged}, From: now.AddDate(0, 0, -daysOfHistory), To: now})
	if err != nil {
		return err
	}
	last := map[string]string{}
	for _, e := range judged {
		x := e.Data.(*events.SheetJudgedData)
		last[x.Sheet] = x.Verdict
	}
	failures := 0
	for _, v := range last {
		if failed(v) {
			failures++
		}
	}
	p.FailShare = usualFails
	if len(last) >= leastJudged {
		p.Judged, p.FailShare = len(last), min(0.8, float64(failures)/float64(len(last)))
	}
	return nil
}

// paper takes the size of the sheets from a box, and counts what is at hand of it.
func (p *DayPlan) paper(snap *snapshot.Snapshot, name string) (*snapshot.Box, error) {
	stock, err := Stock(snap, false)
	if err != nil {
		return nil, err
	}
	if name == "" {
		var line *BoxLine
		for i, b := range stock.Boxes {
			if line == nil || usedAt(b).After(usedAt(*line)) {
				line = &stock.Boxes[i]
			}
		}
		if line == nil {
			area, err := calc.SheetArea(90, 120)
			p.AreaM2, p.Short = area*float64(p.Sheets), float64(p.Sheets)
			return nil, err
		}
		name = line.Box
	}
	box, err := snap.Box(name)
	if err != nil {
		return nil, err
	}
	if box.Received == nil {
		return nil, snap.NothingOf(box.Entity)
	}
	p.Box, p.AreaM2 = &name, box.Area()*float64(p.Sheets)
	for _, b := range stock.Boxes {
		if b.WidthMM != nil && b.HeightMM != nil && *b.WidthMM == box.Received.WidthMM && *b.HeightMM == box.Received.HeightMM && b.SheetsLeft > 0 {
			p.InStock += b.SheetsLeft
		}
	}
	p.InStock = math.Floor(p.InStock)
	p.Short = max(0, float64(p.Sheets)-p.InStock)
	return box, nil
}

// bath plans a bath as the last of its role was mixed. A stop that was never mixed is not used here.
func (p *DayPlan) bath(snap *snapshot.Snapshot, role string) error {
	last, err := lastMixed(snap, role)
	if err != nil || last == nil && role == "stop" {
		return err
	}
	if last == nil {
		last = &events.BathMixedData{Role: role, Name: role, VolumeML: dayBathML}
	}
	b := DayBath{Role: role, Name: last.Name, Dilution: orNil(last.Dilution), VolumeML: last.VolumeML, NominalS: last.TimeS, Mixings: 1}
	capacity, life, err := calc.BathDefaults(role, b.VolumeML)
	if err != nil {
		return err
	}
	capacity, life = snapshot.ValueOr(last.CapacityM2, capacity), snapshot.ValueOr(last.LifeH, life)
	if capacity > 0 {
		if n := int(math.Ceil(p.AreaM2/capacity - 1e-9)); n > b.Mixings {
			b.Mixings, b.Why = n, "its capacity"
		}
	}
	if life > 0 {
		b.LifeH = &life
		if n := int(math.Ceil(p.Hours/life - 1e-9)); n > b.Mixings {
			b.Mixings, b.Why = n, "its life in the tray"
		}
	}
	b.AgeH, b.Sheets = p.Hours/float64(b.Mixings), int(math.Ceil(float64(p.Sheets)/float64(b.Mixings)))
	if capacity > 0 {
		b.UsedByEvening = new(round(p.AreaM2/float64(b.Mixings)/capacity, 1e9))
	}
	if b.NominalS != nil && role != "stop" {
		c := snapshot.ValueOr(last.TempC, calc.BathTempC)
		call := calc.BathCall{Fixer: role == "fixer", NominalS: *b.NominalS, NominalC: c, TempC: c, Q10: snapshot.ValueOr(last.Q10, 2), Used: snapshot.ValueOr(b.UsedByEvening, 0)}
		if s, _, err := call.Time(); err == nil {
			b.EveningS = &s
		}
	}
	if concentrate, water, ok := partsOf(last.Dilution); ok {
		a, w, err := calc.Dilute(concentrate, water, b.VolumeML)
		if err != nil {
			return err
		}
		b.ConcentrateML, b.WaterML = &a, &w
	}
	p.Baths = append(p.Baths, b)
	return nil
}

// lastMixed is the last mixing of a role within a year, nil for none.
func lastMixed(snap *snapshot.Snapshot, role string) (*events.BathMixedData, error) {
	now, err := snap.Moment()
	if err != nil {
		return nil, err
	}
	mixed, err := snap.Entries(events.Query{Kinds: []events.Kind{events.BathMixed}, From: now.AddDate(-1, 0, 0), To: now})
	if err != nil {
		return nil, err
	}
	var last *events.BathMixedData
	for _, e := range mixed {
		if x := e.Data.(*events.BathMixedData); x.Role == role {
			last = x
		}
	}
	return last, nil
}

// partsOf reads a dilution as it is stored: of 1+1+8 the last part is the water. ok is false where none is written.
func partsOf(dilution string) (concentrate, water float64, ok bool) {
	if dilution == "stock" {
		return 1, 0, true
	}
	parts := strings.Split(dilution, "+")
	if len(parts) < 2 {
		return 0, 0, false
	}
	for i, p := range parts {
		v, err := strconv.ParseFloat(p, 64)
		if err != nil {
			return 0, 0, false
		}
		if i == len(parts)-1 {
			water = v
		} else {
			concentrate += v
		}
	}
	return concentrate, water, true
}

// water adds up the water of the day: what the baths are mixed with, rinses and hands to carry, and the wash.
func (p *DayPlan) water(box *snapshot.Box) {
	p.RinseML = handsML + rinseSheetML*float64(p.Sheets)
	p.WaterML = p.RinseML
	for _, b := range p.Baths {
		p.WaterML += snapshot.ValueOr(b.WaterML, b.VolumeML) * float64(b.Mixings)
		p.SpentML += b.VolumeML * float64(b.Mixings)
	}
	base := calc.ResinCoated
	if box != nil && box.Received.Base == "fb" {
		base = calc.FibreBase
	}
	p.WashML = math.Ceil(float64(p.Sheets)/washSheets) * float64(calc.WashCalledFor(base, false).Changes) * dayBathML
}

// pack lists what goes along. Common practice.
func (p *DayPlan) pack() {
	litres := func(ml float64) string { return wording.Number(math.Ceil(ml/500)/2) + " l" }
	sheets := wording.CountOf(p.Sheets, "sheet") + " of paper"
	if p.Box != nil {
		sheets += " (" + *p.Box + ")"
	}
	p.Pack = []string{sheets}
	for _, b := range p.Baths {
		text := b.Role + ": " + b.Name
		if b.ConcentrateML != nil {
			text += ", " + wording.Number(math.Ceil(*b.ConcentrateML*float64(b.Mixings))) + " ml of concentrate"
		}
		p.Pack = append(p.Pack, text)
	}
	p.Pack = append(p.Pack, litres(p.WaterML)+" of water, "+litres(handsML)+" of it for hands and an eye",
		"a labelled can of "+litres(p.SpentML)+" for what is exhausted", "a tray and tongs for each bath, thermometer, clock, cloths",
		"gloves, goggles, a spill kit", wording.CountOf(p.Prints, "sleeve")+" for prints that go home, cards, the order list")
}
