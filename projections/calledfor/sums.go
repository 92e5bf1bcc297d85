package calledfor

import (
	"errors"
	"fmt"
	"sort"

	"traybook/calc"
	"traybook/events"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// placeIn is how many of some entries, in their order, come before another, and whether it is one of them.
func placeIn(list []events.Entry, e events.Entry) (n int, is bool) {
	n = sort.Search(len(list), func(i int) bool { return list[i].ID == e.ID || events.Compare(list[i], e) > 0 })
	return n, n < len(list) && list[n].ID == e.ID
}

// before is the last of some sums up to a place, 0 where there is none.
func before(sums []float64, n int) float64 {
	if n == 0 {
		return 0
	}
	return sums[n-1]
}

// fixedBefore is what the fixings of a sheet before this one gave, as a share of what they called for: a second fixing
// adds to the first.
func fixedBefore(snap *snapshot.Snapshot, p *snapshot.Picture, e events.Entry, sheet string) (float64, error) {
	_, part, _ := events.SplitSheet(sheet)
	sh := p.Sheet(part)
	if sh == nil {
		return 0, nil
	}
	n, _ := placeIn(sh.Fixed, e)
	for i := len(sh.Sums.FixedShare); i < n; i++ {
		f := sh.Fixed[i]
		x := f.Data.(*events.SheetFixedData)
		s := Step{Entry: f}
		var off *calc.RangeError
		err := bathStep(snap, p, x.Sheet, x.Bath, x.TempC, x.TimeS, "fixer", &s)
		if err != nil && !wording.Refused(err) && !errors.As(err, &off) {
			return 0, err
		}
		share := before(sh.Sums.FixedShare, i)
		if s.CalledForS != nil && *s.CalledForS > 0 {
			share += x.TimeS / *s.CalledForS
		}
		sh.Sums.FixedShare = append(sh.Sums.FixedShare, share)
	}
	return before(sh.Sums.FixedShare, n), nil
}

// FixedInAll says what the fixings of a sheet up to this one add up to.
func FixedInAll(s *snapshot.Sheet, e events.Entry) string {
	n, is := placeIn(s.Fixed, e)
	if is {
		n++
	}
	if n < 2 {
		return ""
	}
	for i := len(s.Sums.FixedS); i < n; i++ {
		s.Sums.FixedS = append(s.Sums.FixedS, before(s.Sums.FixedS, i)+s.Fixed[i].Data.(*events.SheetFixedData).TimeS)
	}
	return fmt.Sprintf("; %d fixings add: %s in all", n, wording.Seconds(before(s.Sums.FixedS, n)))
}

// washedBefore is what the washes of a sheet before this one, and after the last fixing before it, gave as a share of
// what they called for.
func washedBefore(snap *snapshot.Snapshot, sh *snapshot.Sheet, e events.Entry, base calc.Base) (float64, error) {
	if n, is := placeIn(sh.Washed, e); is {
		sums, err := washSums(snap, sh)
		if err != nil {
			return 0, err
		}
		return sums[n].Before, nil
	}
	var share float64 // it is only planned
	for _, w := range sh.UpTo(e).WashedSince() {
		share += washShare(w, base)
	}
	return share, nil
}

// washShare is a wash as a share of what its base calls for, 0 where nothing says how long it was.
func washShare(w events.Entry, base calc.Base) float64 {
	if called, done := WashTime(base, w.Data.(*events.SheetWashedData)); called != nil && *called > 0 {
		return *done / *called
	}
	return 0
}

// WashOf calculates what the washes of a sheet left in it, one after another. Those before a later fixing count no more.
// known is false where nothing can be said: the paper is not known, or the figures are beyond the model.
func WashOf(snap *snapshot.Snapshot, sh *snapshot.Sheet) (r calc.WashReport, known bool, err error) {
	if len(sh.WashedSince()) == 0 {
		return calc.Unwashed(), true, nil
	}
	sums, err := washSums(snap, sh)
	if err != nil {
		return r, false, err
	}
	last := sums[len(sums)-1]
	return last.Left, last.Known, nil
}

// washSums adds up the washes of a sheet.
func washSums(snap *snapshot.Snapshot, sh *snapshot.Sheet) ([]snapshot.WashSum, error) {
	if sh.Sums.Washes != nil {
		return sh.Sums.Washes, nil
	}
	paper, box, err := PaperAt(snap, sh)
	if err != nil && !wording.Refused(err) { // a box that is gone leaves the paper unknown
		return nil, err
	}
	base, area := paper.WashBase(), 0.0
	if paper != nil {
		area = box.Area() * PartOfSheet(sh)
	}
	sums := make([]snapshot.WashSum, len(sh.Washed))
	share, left, known, fixed := 0.0, calc.Unwashed(), paper != nil, 0
	for i, e := range sh.Washed {
		if n, _ := placeIn(sh.Fixed, e); n > fixed { // a fixing came between
			share, left, known, fixed = 0, calc.Unwashed(), paper != nil, n
		}
		sums[i].Before = share
		share += washShare(e, base)
		if known {
			var off *calc.RangeError
			if left, err = left.After(washDone(e, base, area)); errors.As(err, &off) {
				left, known, err = calc.WashReport{}, false, nil
			}
			if err != nil {
				return nil, err
			}
		}
		sums[i].Left, sums[i].Known = left, known
	}
	sh.Sums.Washes = sums
	return sums, nil
}

// washDone is a wash as the arithmetic takes it.
func washDone(e events.Entry, base calc.Base, area float64) calc.WashDone {
	x := e.Data.(*events.SheetWashedData)
	done := calc.WashDone{Base: base, Aid: x.Aid != "", VolumeML: snapshot.ValueOr(x.VolumeML, 0), SoakS: snapshot.ValueOr(x.SoakS, 0),
		RunningS: snapshot.ValueOr(x.RunningS, 0), TempC: snapshot.ValueOr(x.TempC, calc.BathTempC), AreaM2: area}
	if x.Changes != nil {
		done.Changes = float64(*x.Changes)
	}
	if x.Together != nil {
		done.Together = float64(*x.Together)
	}
	return done
}

// WashLeaves says what is left in a sheet after this wash and the ones before it, and what the figure is worth.
func WashLeaves(snap *snapshot.Snapshot, s *snapshot.Sheet, e events.Entry) (string, error) {
	n, is := placeIn(s.Washed, e)
	if !is {
		return "", nil
	}
	sums, err := washSums(snap, s)
	if err != nil || !sums[n].Known {
		return "", err
	}
	r := sums[n].Left
	text := "; estimated less than 0.01 % of the hypo is left"
	if r.Residual >= 1e-4 {
		text = fmt.Sprintf("; estimated %s %% of the hypo is left, %s g/m²", wording.Number(r.Residual*100), wording.Number(r.GPerM2))
	}
	if r.Short {
		text += ", short"
	}
	return text + " (a model, no test; the limit of " + wording.Number(calc.WashLimit) + " g/m² was set for film)", nil
}
