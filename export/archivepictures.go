package export

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"path"
	"strings"

	"traybook/events"
	"traybook/events/atomicfile"
	"traybook/export/bag"
	"traybook/export/scan"
	"traybook/export/sheetcsv"
	"traybook/export/sidecar"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// addPictures puts originals, small pictures and their sidecars into the bag, each by the name of its sheet.
func (a *archive) addPictures() error {
	seen := map[string]bool{}
	snap := snapshot.New(a.src, a.o.AsOf)
	for i := range a.scans {
		s := &a.scans[i]
		snap.Tidy()
		a.step()
		if seen[s.Name] {
			continue
		}
		seen[s.Name] = true
		d, err := a.describe(snap, s)
		if err != nil {
			return err
		}
		a.sign(&d)
		if s.State == ScanWhole {
			d.CreateDate = takenOf(s.Path)
			a.payload = append(a.payload, checked(s.named(), s.Path, s.Data.SHA256))
			if err := a.addSidecar(s.named(), d); err != nil {
				return err
			}
		}
		if err := a.addThumbnail(s, d); err != nil {
			return err
		}
	}
	return nil
}

func (a *archive) addThumbnail(s *Scan, d sidecar.Description) error {
	digest, err := events.ParseHash(s.Data.SHA256)
	if err != nil {
		return err
	}
	t, ok, err := a.src.Thumbnail(digest)
	if err != nil || !ok {
		return err
	}
	name := thumbName(s)
	d.Format, d.Title = scan.JPEG, d.Title+" (small)"
	described, err := sidecar.Embed(t.JPEG, d)
	if errors.Is(err, sidecar.ErrTooLong) {
		a.payload = append(a.payload, bag.Bytes(name, t.JPEG))
		return a.addSidecar(name, d)
	}
	if err != nil {
		return fmt.Errorf("the description of %s: %w", name, err)
	}
	a.payload = append(a.payload, bag.Bytes(name, described))
	return nil
}

// sign says whose picture it is.
func (a *archive) sign(d *sidecar.Description) {
	if a.owner.Owner != "" {
		d.Creator = []string{a.owner.Owner}
	}
	d.Rights = a.owner.Rights
	switch reachedBy(a.owner.Contact) {
	case byMail:
		d.Contact.Mail = a.owner.Contact
	case byPhone:
		d.Contact.Phone = a.owner.Contact
	case byAddress:
		d.Contact.Address = a.owner.Contact
	}
}

func (a *archive) addSidecar(name string, d sidecar.Description) error {
	var b bytes.Buffer
	if err := sidecar.Write(&b, d); err != nil {
		return fmt.Errorf("the description of %s: %w", name, err)
	}
	a.payload = append(a.payload, bag.Bytes(a.o.Sidecars.Name(name), b.Bytes()))
	return nil
}

// named is where an original stands in the bag, below data/.
func (s *Scan) named() string { return path.Join(scan.Folder, s.Name) }

func thumbName(s *Scan) string {
	return path.Join(thumbFolder, strings.TrimSuffix(s.Name, path.Ext(s.Name))+".jpg")
}

// takenOf is when a scanner or camera says that it made the file, "" where it does not.
func takenOf(file string) string {
	f, err := atomicfile.OpenPlain(file)
	if err != nil {
		return ""
	}
	defer f.Close()
	fi, err := f.Stat()
	if err != nil {
		return ""
	}
	info, _ := scan.Inspect(f, fi.Size()) // of one too large to be decoded, too
	return info.Taken
}

// describe says in the terms of Dublin Core and IPTC what a scan shows. A sitter stands by the reference alone.
func (a *archive) describe(snap *snapshot.Snapshot, s *Scan) (sidecar.Description, error) {
	d := sidecar.Description{Identifier: s.Sheet, Format: s.Data.Media, CreatorTool: a.o.Program}
	p, err := snap.Picture(s.Picture.Name)
	if err != nil {
		return d, err
	}
	_, part, _ := events.SplitSheet(s.Data.Sheet)
	sheet := p.Sheet(part)
	d.Title = s.Sheet
	if p.Subject != "" {
		d.Title += " · " + p.Subject
		d.Headline = p.Subject
	}
	what := "paper negative"
	if part != "n" {
		what = "print from a paper negative"
		d.Source = events.Sheet(p.Entity.Name, "n")
	} else if sheet != nil {
		if box, err := wording.IgnoreMissing(snap.Box(sheet.Box)); err != nil {
			return d, err
		} else if sheet.Positive(box) {
			what = "positive made in the camera"
		}
	}
	d.Description = "Scan of a " + what
	d.Subject = []string{what}
	if s.Data.Of == "inverted" {
		d.Description += ", tones inverted"
	}
	if neg := p.NegativeSheet(); neg != nil && neg.Exposure() != nil {
		if err := takenBy(snap, p, *neg.Exposure(), &d); err != nil {
			return d, err
		}
	}
	newest := s.Entry.RecordedAt
	for _, e := range p.All {
		if e.RecordedAt.After(newest) {
			newest = e.RecordedAt
		}
	}
	d.MetadataDate = newest.Format(xmpTime)
	if p.Session != "" {
		session, err := wording.IgnoreMissing(snap.Session(p.Session))
		if err != nil {
			return d, err
		}
		if session != nil && session.Opened != nil {
			d.Place = sidecar.Place{Name: session.Opened.Place, Lat: session.Opened.Lat, Lon: session.Opened.Lon}
		}
	}
	if sheet != nil && sheet.Exposure() != nil && part != "n" {
		d.Dates = append(d.Dates, sheet.Exposure().At.Format(xmpTime))
		d.Numbers = append(d.Numbers, sidecar.Number{Name: "print_exposed_at", Value: sheet.Exposure().At.Format(xmpTime)})
	}
	if sheet != nil {
		if err := numbersOf(snap, p, sheet, &d); err != nil {
			return d, err
		}
	}
	d.Description += "."
	if p.Sitter != "" {
		d.Numbers = append(d.Numbers, sidecar.Number{Name: "sitter", Value: p.Sitter})
	}
	d.Numbers = append(d.Numbers, sidecar.Number{Name: "entry", Value: s.Entry.ID.String()}, sidecar.Number{Name: "sha256", Value: s.Data.SHA256})
	return d, nil
}

const xmpTime = "2006-01-02T15:04:05-07:00"

// takenBy says when and by which exposure the photograph was made: by that of its negative, also where the scan shows a print.
func takenBy(snap *snapshot.Snapshot, p *snapshot.Picture, e events.Entry, d *sidecar.Description) error {
	d.DateCreated = e.At.Format(xmpTime)
	d.Dates = append(d.Dates, d.DateCreated)
	d.Numbers = append(d.Numbers, sidecar.Number{Name: "negative_exposed_at", Value: d.DateCreated})
	step, err := calledfor.StepOf(snap, p, e)
	if err != nil {
		return err
	}
	d.F, _ = valueOf(e.Data, "f").(float64)
	if step.DoneS != nil {
		d.ExposureS = *step.DoneS
	}
	if step.Paper != nil {
		d.Index = math.Round(step.Paper.Index*100) / 100
	}
	return nil
}

// numbersOf adds what was done to the sheet.
func numbersOf(snap *snapshot.Snapshot, p *snapshot.Picture, sheet *snapshot.Sheet, d *sidecar.Description) error {
	add := func(name, value string) {
		if value != "" {
			d.Numbers = append(d.Numbers, sidecar.Number{Name: name, Value: value})
		}
	}
	if e := sheet.Exposure(); e != nil {
		step, err := calledfor.StepOf(snap, p, *e)
		if err != nil {
			return err
		}
		add("f", FieldText(e.Data, "f"))
		add("exposure_s", exactOf(step.DoneS))
		add("called_for_s", calculatedOf(step.CalledForS))
		add("deviation_stops", stopsOf(step.DeviationStops))
		add("index", indexOf(step.Paper))
		d.Description += ", " + snap.Sentence(*e)
	}
	add("box", sheet.Box)
	if v := sheet.Verdict(); v != nil {
		d.Label = v.Verdict
		add("verdict", v.Verdict)
		d.Subject = append(d.Subject, v.Symptoms...)
		if v.Density != nil {
			add("density_min", exactOf(v.Density.Min))
			add("density_mid", exactOf(v.Density.Mid))
			add("density_max", exactOf(v.Density.Max))
		}
	}
	return nil
}

var scansTable = table[Scan]{
	name: "scans", key: []string{"sheet", "entry"}, says: "One record for each scan that was attached.", columns: []column[Scan]{
		{"sheet", sheetcsv.Text, "the sheet it shows", func(s *Scan) string { return s.Sheet }},
		{"of", sheetcsv.Text, "negative, inverted (a negative with its tones turned round) or print", func(s *Scan) string { return s.Data.Of }},
		{"file", sheetcsv.Text, "the original, below data/; empty where it is not in the bag", func(s *Scan) string {
			if s.State != ScanWhole {
				return ""
			}
			return s.named()
		}},
		{"state", sheetcsv.Text, "whole, missing or altered when the bag was made", func(s *Scan) string { return s.State }},
		{"thumbnail", sheetcsv.Text, "the small picture, below data/", func(s *Scan) string {
			if !s.Thumb {
				return ""
			}
			return thumbName(s)
		}},
		{"sha256", sheetcsv.Text, "digest of the original", func(s *Scan) string { return s.Data.SHA256 }},
		{"media", sheetcsv.Text, "media type of the original", func(s *Scan) string { return s.Data.Media }},
		{"bytes", sheetcsv.Integer, "size of the original", func(s *Scan) string { return fmt.Sprint(s.Data.Bytes) }},
		{"width_px", sheetcsv.Integer, "width, upright", func(s *Scan) string { return FieldText(s.Data, "width_px") }},
		{"height_px", sheetcsv.Integer, "height, upright", func(s *Scan) string { return FieldText(s.Data, "height_px") }},
		{"attached_at", sheetcsv.Time, "when it was attached", func(s *Scan) string { return moment(s.Entry.At) }},
		{"entry", sheetcsv.Text, "id of its entry", func(s *Scan) string { return s.Entry.ID.String() }},
	},
}

var sittersTable = table[events.SitterRow]{
	name: "sitters", key: []string{"sitter"}, says: "Who stands behind a reference: the only names of sitters, beside the copy of the book.", columns: []column[events.SitterRow]{
		{"sitter", sheetcsv.Text, "the reference that entries hold", func(r *events.SitterRow) string { return r.Ref }},
		{"name", sheetcsv.Text, "the name", func(r *events.SitterRow) string { return r.Name }},
		{"contact", sheetcsv.Text, "how to reach them", func(r *events.SitterRow) string { return r.Contact }},
	},
}

// eachRow gives rows that are at hand already.
func eachRow[R any](rows []R) func(give func(*R) error) error {
	return func(give func(*R) error) error {
		for i := range rows {
			if err := give(&rows[i]); err != nil {
				return err
			}
		}
		return nil
	}
}
