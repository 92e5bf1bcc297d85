package snapshot

import (
	"slices"
	"strings"

	"traybook/events"
)

// PicturesOf lists the pictures that show a sitter or of which a sheet went to one, by number.
func (snap *Snapshot) PicturesOf(ref string) ([]string, error) {
	t, ok, err := snap.R.Entity(ref)
	if err != nil || !ok {
		return nil, err
	}
	found, err := snap.Entries(events.Query{Cites: t.ID})
	if err != nil {
		return nil, err
	}
	var out []string
	for _, e := range found {
		if !StillShows(e, ref) {
			continue
		}
		if h := events.PlacesOf(e.Data).Stream; h.Kind == events.Picture && !slices.Contains(out, h.Name) {
			out = append(out, h.Name)
		}
	}
	slices.SortFunc(out, func(a, b string) int {
		ya, na, _ := events.PictureNumber(a)
		yb, nb, _ := events.PictureNumber(b)
		if ya != yb {
			return ya - yb
		}
		if na != nb {
			return na - nb
		}
		return strings.Compare(a, b)
	})
	return out, nil
}

// StillShows says of an entry that names a sitter, or named one before it was amended, that it counts for the sitter: an
// exposure may show another one by now, or nobody.
func StillShows(e events.Entry, ref string) bool {
	x, ok := e.Data.(*events.SheetExposedData)
	return !ok || x.Sitter == ref
}

// AllowedBy lists what a sitter allows as of the snapshot's moment: the latest word on each use, where it was not withdrawn
// and has not run out.
func (snap *Snapshot) AllowedBy(ref string) ([]string, error) {
	t, ok, err := snap.R.Entity(ref)
	if err != nil || !ok {
		return nil, err
	}
	entries, err := snap.Stream(t)
	if err != nil {
		return nil, err
	}
	var out []string
	for _, use := range []string{"keep", "show", "publish"} {
		allowed := ""
		for _, e := range entries {
			x, ok := e.Data.(*events.SitterConsentedData)
			switch {
			case !ok || x.To != use:
			case x.Withdrawn != nil && *x.Withdrawn, x.Until != "" && !snap.AsOf.IsZero() && runOut(x.Until, snap.AsOf.Format("2006-01-02")):
				allowed = ""
			case x.Until != "":
				allowed = use + " until " + x.Until
			default:
				allowed = use
			}
		}
		if allowed != "" {
			out = append(out, allowed)
		}
	}
	return out, nil
}

// runOut says whether a date, which may be a year or a month, lies wholly before a day.
func runOut(date, day string) bool { return date < day[:min(len(date), len(day))] }
