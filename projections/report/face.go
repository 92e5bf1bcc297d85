package report

import (
	"traybook/events"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
)

// Face is how a sheet is shown: by the scan attached to it last, else by the tones that its log predicts.
type Face struct {
	Sheet   string
	Scan    string    // the digest of the scan, "" where there is none
	Media   string    // of the scan
	Width   int       // of the scan, 0 where it is not known
	Height  int       //
	Tones   []float64 // predicted densities from the darkest subject to the lightest, nil where the log does not say enough
	Dmin    float64   // of the paper, to which the densities count
	Printed bool      // a positive
}

// Faces are those of every sheet of a picture, by the sheet's name.
func Faces(snap *snapshot.Snapshot, p *snapshot.Picture) (map[string]Face, error) {
	out := map[string]Face{}
	bare := false
	for _, s := range p.Sheets {
		f := Face{Sheet: s.Name, Printed: s.Generation == snapshot.Positive}
		for _, e := range s.Entries {
			if x, ok := e.Data.(*events.SheetAttachedData); ok {
				f.Scan, f.Media, f.Width, f.Height = x.SHA256, x.Media, 0, 0
				if x.WidthPX != nil && x.HeightPX != nil {
					f.Width, f.Height = *x.WidthPX, *x.HeightPX
				}
			}
		}
		bare = bare || f.Scan == ""
		out[s.Name] = f
	}
	if !bare {
		return out, nil
	}
	tones, err := calledfor.TonesOf(snap, p)
	if err != nil {
		return nil, err
	}
	for name, t := range tones {
		f := out[name]
		_, f.Tones, _ = t.Densities()
		f.Printed = t.Positive
		f.Dmin = t.Made.Neg.Curve.Dmin
		if t.Positive {
			f.Dmin = t.Made.Print.Curve.Dmin
		}
		out[name] = f
	}
	return out, nil
}

// FaceOf is what stands for a picture among others: its last print that was kept, else its last print, else its negative; one
// that can be shown before one that cannot.
func FaceOf(snap *snapshot.Snapshot, p *snapshot.Picture) (Face, error) {
	all, err := Faces(snap, p)
	if err != nil {
		return Face{}, err
	}
	var best Face
	most := -1
	for i, s := range p.Sheets {
		f, worth := all[s.Name], i
		if f.Scan != "" {
			worth += 4000
		} else if f.Tones != nil {
			worth += 2000
		}
		if v := s.Verdict(); v != nil && v.Verdict == "keep" && s.Part != "n" {
			worth += 1000
		}
		if worth > most {
			best, most = f, worth
		}
	}
	return best, nil
}
