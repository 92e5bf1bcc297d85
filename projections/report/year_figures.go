package report

import (
	"cmp"
	"maps"
	"slices"

	"traybook/events"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// purse adds up amounts by currency.
type purse map[string]float64

func (p purse) lines() []Money {
	out := []Money{}
	for _, c := range slices.Sorted(maps.Keys(p)) {
		out = append(out, Money{c, round2(p[c])})
	}
	return out
}

// paperCost is what a part of a sheet of a box cost; ok is false where no cost is written.
func paperCost(b *snapshot.Box, share float64) (currency string, cost float64, ok bool) {
	if b == nil || b.Received == nil || b.Received.Cost == nil || b.Received.Sheets == 0 {
		return "", 0, false
	}
	return b.Received.Currency, *b.Received.Cost / float64(b.Received.Sheets) * share, true
}

// isPrint says whether a sheet is one to hand over: a print, or a positive from the camera.
func isPrint(part string, reversed bool, b *snapshot.Box) bool {
	return part != "n" || reversed || b.DirectPositive()
}

// figures adds up a year from the kept views of its pictures and the acts of its days.
func figures(snap *snapshot.Snapshot, year int, views []events.View, acts []events.Entry) (YearFigures, error) {
	y := yearSum{d: snap, f: YearFigures{Year: year, Costs: []YearCost{}, Takings: []Money{}}, paper: purse{}, baths: purse{}}
	for _, v := range views {
		st, ok, err := snap.PictureState(v)
		if err != nil {
			return y.f, err
		}
		if !ok || len(st.Sheets) == 0 {
			continue
		}
		if err := y.picture(st); err != nil {
			return y.f, err
		}
	}
	for _, e := range acts {
		if err := y.act(e); err != nil {
			return y.f, err
		}
	}
	if err := y.boxes(acts); err != nil {
		return y.f, err
	}
	f := &y.f
	f.Takings, _ = takings(acts)
	for _, v := range []*float64{&f.PaperSheets, &f.StripSheets, &f.UnpricedSheets, &f.MissingSheets, &f.Boxes.Start, &f.Boxes.Pictures, &f.Boxes.Strips, &f.Boxes.Missing, &f.Boxes.Left} {
		*v = tidySheets(*v)
	}
	f.FirstKeptShare = shareOf(f.FirstPrintsKept, f.FirstPrintsJudged)
	if f.DeliveredPrints > 0 {
		f.SheetsPerDelivered = new((f.PaperSheets + f.StripSheets + f.SpoiledSheets + max(0, f.MissingSheets)) / float64(f.DeliveredPrints))
	}
	y.costs()
	return y.f, nil
}

// yearSum is a year's figures while they are added up, with what was paid in each currency.
type yearSum struct {
	d            *snapshot.Snapshot
	f            YearFigures
	paper, baths purse
}

// use counts what a part of a sheet, or some sheets, of a box cost.
func (y *yearSum) use(box string, sheets float64) (*snapshot.Box, error) {
	b, err := wording.IgnoreMissing(y.d.Box(box))
	if err != nil {
		return nil, err
	}
	if currency, cost, ok := paperCost(b, sheets); ok {
		y.paper[currency] += cost
	} else {
		y.f.UnpricedSheets += sheets
	}
	return b, nil
}

// picture counts the sheets of a picture and what became of them.
func (y *yearSum) picture(st snapshot.PictureState) error {
	f := &y.f
	f.Pictures++
	firstPrint := true
	for _, s := range st.Sheets {
		if s.Box == "" { // never exposed as far as is written
			f.UnexposedSheets++
			f.UnpricedSheets++
			continue
		}
		f.Sheets++
		f.PaperSheets += cmp.Or(s.Share, 1)
		b, err := y.use(s.Box, cmp.Or(s.Share, 1))
		if err != nil {
			return err
		}
		if failed(s.Verdict) {
			f.FailedSheets++
		}
		if !isPrint(s.Part, s.Reversed, b) {
			continue
		}
		if s.Verdict == "keep" {
			f.KeptPrints++
		}
		if s.State == snapshot.Delivered {
			f.DeliveredPrints++
		}
		if firstPrint && s.Verdict != "" {
			f.FirstPrintsJudged++
			if s.Verdict == "keep" {
				f.FirstPrintsKept++
			}
		}
		firstPrint = false
	}
	return nil
}

// act counts what an act took beside the pictures.
func (y *yearSum) act(e events.Entry) (err error) {
	switch x := e.Data.(type) {
	case *events.StripExposedData:
		share := snapshot.ValueOr(x.Part, 1)
		y.f.StripSheets += share
		_, err = y.use(x.Box, share)
	case *events.PaperSpoiledData:
		y.f.SpoiledSheets += float64(x.Sheets)
		_, err = y.use(x.Box, float64(x.Sheets))
	case *events.SilverRecoveredData:
		y.f.SilverG += x.Grams
	case *events.BathMixedData:
		if x.Cost == nil {
			y.f.UnpricedBaths++
		} else {
			y.baths[x.Currency] += *x.Cost
		}
	}
	return err
}

// boxes adds up what the boxes say that were used on the year's days, and what was left in holders.
func (y *yearSum) boxes(acts []events.Entry) error {
	seen := map[string]bool{}
	loads := map[string]events.Entry{}
	for _, e := range acts {
		places := events.PlacesOf(e.Data)
		names := []string{places.Box}
		if places.Stream.Kind == events.Box {
			names = append(names, places.Stream.Name)
		}
		switch x := e.Data.(type) {
		case *events.PaperCutData:
			names = append(names, x.Into)
		case *events.HolderLoadedData:
			loads[x.Holder], names = e, nil
		}
		for _, name := range names {
			if name == "" || seen[name] {
				continue
			}
			seen[name] = true
			b, err := wording.IgnoreMissing(y.d.Box(name))
			if err != nil {
				return err
			}
			if b == nil {
				continue
			}
			m, err := y.d.MovedIn(b, y.f.Year)
			if err != nil {
				return err
			}
			y.f.Boxes.Add(m)
			if m.Missing > 0 {
				if _, err := y.use(name, m.Missing); err != nil {
					return err
				}
			}
		}
	}
	y.f.MissingSheets = y.f.Boxes.Missing
	for _, load := range loads {
		left, err := y.leftIn(load)
		if err != nil {
			return err
		}
		y.f.LoadedSheets += left
	}
	return nil
}

// leftIn is how many sheets of a year's last loading of a holder were not exposed in it.
func (y *yearSum) leftIn(load events.Entry) (int, error) {
	x := load.Data.(*events.HolderLoadedData)
	t, ok, err := y.d.R.Entity(x.Holder)
	if err != nil || !ok {
		return 0, err
	}
	uses, err := y.d.Entries(events.Query{Cites: t.ID, Kinds: []events.Kind{events.SheetExposed, events.SheetReprinted}, From: load.At})
	if err != nil {
		return 0, err
	}
	exposed := map[string]bool{}
	for _, e := range uses {
		if e.At.Year() == y.f.Year {
			exposed[events.SheetOf(e.Data)] = true
		}
	}
	held := 1
	if x.Sheets != nil {
		held = *x.Sheets
	}
	return max(0, held-len(exposed)), nil
}

func (y *yearSum) costs() {
	currencies := maps.Clone(y.paper)
	maps.Copy(currencies, y.baths)
	for _, c := range slices.Sorted(maps.Keys(currencies)) {
		total := y.paper[c] + y.baths[c]
		cost := YearCost{Currency: c, Paper: round2(y.paper[c]), Baths: round2(y.baths[c]), Total: round2(total)}
		if y.f.KeptPrints > 0 {
			cost.PerKept = new(total / float64(y.f.KeptPrints))
		}
		y.f.Costs = append(y.f.Costs, cost)
	}
}

// failed says whether a verdict means that the sheet was made in vain.
func failed(verdict string) bool { return verdict == "redo" || verdict == "reject" }

func shareOf(n, of int) *float64 {
	if of == 0 {
		return nil
	}
	return new(float64(n) / float64(of))
}

// discarded tells of the baths that were discarded, and where the exhausted fixer went.
func discarded(snap *snapshot.Snapshot, acts []events.Entry, r *YearReport) error {
	type sum struct {
		baths, known int
		used         float64
	}
	roles := map[string]*sum{}
	gone := map[string]*FixerGone{}
	for _, e := range acts {
		x, ok := e.Data.(*events.BathDiscardedData)
		if !ok {
			continue
		}
		b, err := wording.IgnoreMissing(snap.Bath(x.Bath))
		if err != nil {
			return err
		}
		if b == nil || b.Mixed == nil {
			continue
		}
		age, err := snap.AgeOf(b, e.At, true, "")
		if err != nil {
			return err
		}
		line := DiscardedBath{Bath: x.Bath, Role: b.Mixed.Role, At: events.FormatTime(e.At), VolumeML: b.VolumeAt(e.At), To: orNil(x.To)}
		if roles[line.Role] == nil {
			roles[line.Role] = &sum{}
		}
		s := roles[line.Role]
		s.baths++
		if age.CapacityM2 > 0 {
			line.Used = new(round(age.Used, 1e9))
			s.known++
			s.used += age.Used
		}
		r.Baths = append(r.Baths, line)
		if line.Role != "fixer" {
			continue
		}
		if gone[x.To] == nil {
			gone[x.To] = &FixerGone{To: orNil(x.To)}
		}
		gone[x.To].Baths++
		gone[x.To].VolumeML += line.VolumeML
	}
	for _, role := range slices.Sorted(maps.Keys(roles)) {
		s := roles[role]
		line := RoleShare{Role: role, Baths: s.baths}
		if s.known > 0 {
			line.Used = new(s.used / float64(s.known))
		}
		r.BathRoles = append(r.BathRoles, line)
	}
	for _, to := range slices.Sorted(maps.Keys(gone)) {
		r.SpentFixer = append(r.SpentFixer, *gone[to])
	}
	return nil
}
