package main

import (
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/screen"
	"traybook/events"
	"traybook/events/sqlite"
	"traybook/export/scan"
	"traybook/projections/calledfor"
	"traybook/projections/report"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// measureFew is up to how many scans are measured without being asked: measuring takes as long as decoding.
const measureFew = 4

func attachCommand(env *Env) *cli.Command {
	flags := []cli.Flag{
		&cli.BoolFlag{Name: "by-reference", Usage: "leave the file where it is; the book keeps its digest and a small picture"},
		&cli.BoolFlag{Name: "measure", Usage: "measure each scan of a print, also where many are attached"},
	}
	for _, f := range actFlags(events.SheetAttached) {
		if slices.Contains([]string{"sheet", "of", "session", "camera", "at"}, f.Names()[0]) {
			flags = append(flags, f)
		}
	}
	flags = append(flags, &cli.StringFlag{Name: "text", Usage: "`TEXT` a remark, kept as a note on the sheet"},
		&cli.BoolFlag{Name: "even-so", Usage: "keep a file that breaks off, is damaged or is no picture, and a remark that holds a sitter's name"})
	return &cli.Command{
		Name: "attach", Category: forActs, Usage: "keep scans of a sheet beside the book", ArgsUsage: "[SHEET] FILE…", Flags: flags,
		UsageText: lines("traybook attach 2026-014p1 print.tif", "traybook attach 14n plate.jpg --of inverted",
			"traybook attach scans/2026-014n.jpg scans/2026-014p1-back.jpg"),
		Description: "Without SHEET each file is named after its sheet. The original is copied as it is to scans/, beside the book, under the SHA-256 of its bytes; a small upright picture goes into " +
			"the book. JPEG, PNG and TIFF are read; what is of another sort, a raw file or one beyond the limits, is kept without a small picture. Attaching the same file again adds nothing, and mends a copy that was lost. Of a print " +
			"scanned with its white border the measured tones are offered to judge; nothing of them is written.",
		Action: func(c *cli.Context) error { return attach(env, c) },
	}
}

// attachJob is one file on its way into the book.
type attachJob struct {
	file, sheet, of string
	measure, evenSo bool
	known           map[string]bool // digests that the sheet has already
}

func attach(env *Env, c *cli.Context) error {
	if !c.Args().Present() {
		return line.WrongLinef("traybook attach 2026-014p1 print.jpg", "no scan is named")
	}
	return withBook(env, c, false, func(book *sqlite.Book) error {
		var jobs []attachJob
		err := book.Read(func(tx *sqlite.Tx) (err error) {
			jobs, err = attachJobs(env, c, tx)
			return err
		})
		if err != nil {
			return err
		}
		return attachAll(env, c, book, jobs)
	})
}

// attachJobs finds the sheet of each file before anything is read or copied.
func attachJobs(env *Env, c *cli.Context, tx *sqlite.Tx) ([]attachJob, error) {
	zone, err := zoneOf(env, tx)
	if err != nil {
		return nil, err
	}
	now := moment(env.Now()).In(zone)
	ac := &actContext{env: env, c: c, tx: tx, zone: zone, now: now, at: now}
	files, sheet := c.Args().Slice(), c.String("sheet")
	if sheet == "" && len(files) > 1 && !looksLikeFile(files[0]) {
		sheet, files = files[0], files[1:]
	} else if n := len(files) - 1; sheet == "" && n > 0 && (line.LikeSheet.MatchString(strings.ToLower(files[n])) || line.LikePicture.MatchString(files[n])) {
		sheet, files = files[n], files[:n]
	}
	of := c.String("of")
	if f, ok := events.FieldOf(events.SheetAttached, "of"); ok && of != "" {
		if _, err := line.ParseField(events.SheetAttached, f, []string{of}); err != nil {
			return nil, line.WrongLine(err)
		}
	}
	many := len(files) > measureFew && !c.Bool("measure")
	out := make([]attachJob, 0, len(files))
	for _, file := range files {
		named := sheet
		if named == "" {
			if named = sheetInName(file); named == "" {
				return nil, line.WrongLinef("name the sheet: traybook attach 2026-014n "+file+"; or name the file after it: 2026-014n.jpg",
					"%s does not tell its sheet", file)
			}
		}
		whole, err := ac.sheet(strings.ToLower(named))
		if err != nil {
			return nil, err
		}
		_, s, err := ac.as().SheetByName(whole)
		if err != nil {
			return nil, err
		}
		j := attachJob{file: file, sheet: s.Name, of: strings.ToLower(of), evenSo: c.Bool("even-so"), known: map[string]bool{}}
		if j.of == "" {
			j.of = map[string]string{snapshot.Negative: "negative", snapshot.Positive: "print"}[s.Generation]
		}
		for _, e := range s.Entries {
			if a, ok := e.Data.(*events.SheetAttachedData); ok {
				j.known[a.SHA256] = true
			}
		}
		j.measure = j.of == "print" && !many
		out = append(out, j)
	}
	return out, nil
}

// looksLikeFile tells a file from the name of a sheet.
func looksLikeFile(word string) bool {
	return strings.ContainsAny(word, `/\`) || filepath.Ext(word) != ""
}

// sheetInName is the sheet that a file is named after: 2026-014p1 of 2026-014p1-back.jpg.
func sheetInName(file string) string {
	stem := strings.ToLower(filepath.Base(file))
	for i := len(stem); i > 0; i-- {
		if i < len(stem) && !strings.ContainsRune("-_. ", rune(stem[i])) {
			continue
		}
		if _, _, ok := events.SplitSheet(stem[:i]); ok {
			return stem[:i]
		}
	}
	return ""
}

// attachAll takes the files into the book in the order given. A file is safe on the disk before the entry that names it
// is written: a crash leaves at most files that no entry names yet, which the same command takes up again.
func attachAll(env *Env, c *cli.Context, book *sqlite.Book, jobs []attachJob) error {
	var batch events.ID
	switch {
	case env.together():
		batch = env.page.batch
	case len(jobs) > 1 || c.IsSet("text"):
		batch = newID()
	}
	dir := filepath.Dir(book.Path())
	progress := newProgress(env, len(jobs), "attached")
	var failed []error
	done, until := 0, env.Until()
	for r := range readScans(until, dir, c.Bool("by-reference"), jobs) {
		progress.clear()
		err := r.err
		if err == nil {
			err = attachOne(env, c, book, batch, r)
		}
		if errors.Is(err, until.Err()) && until.Err() != nil {
			return err
		}
		if err != nil {
			failed = append(failed, err)
			if len(jobs) > 1 {
				problem, _ := problemOf(err)
				fmt.Fprintf(env.Err, "traybook: %s\n", problem)
			}
		} else {
			done++
		}
		progress.step(filepath.Base(r.job.file))
	}
	progress.clear()
	switch {
	case len(failed) == 0:
		return nil
	case len(jobs) == 1:
		return failed[0]
	case done == 0:
		return line.Refuse("name them again when they are mended", "none of the %d files could be attached", len(jobs))
	}
	return line.Refuse("the others are attached; name these again when they are mended", "%d of %d files could not be attached", len(failed), len(jobs))
}

// attachOne writes the entry of a scan that is safe on the disk, and answers it.
func attachOne(env *Env, c *cli.Context, book *sqlite.Book, batch events.ID, r readScan) error {
	var answer wording.Answer
	var offer *suggestion
	text := c.String("text")
	err := book.Write(func(tx *sqlite.Tx) error {
		ac, err := newActContext(env, c, tx)
		if err != nil {
			return err
		}
		ac.batch = batch
		if r.unseen != nil {
			ac.note("kept without a small picture, and not looked through, for %s", r.unseen)
		} else if err := tx.PutThumbnail(r.thumb); err != nil {
			return err
		}
		if r.measured != nil {
			if offer, err = suggest(ac, r); err != nil {
				return err
			}
		}
		if r.job.known[r.Digest] {
			return nil // the copy and the small picture are whole again, the entry is there
		}
		r.job.known[r.Digest] = true
		data := &events.SheetAttachedData{Sheet: r.job.sheet, SHA256: r.Digest, Media: r.MediaType, Ending: r.Ending, Bytes: r.Size, Of: r.job.of}
		if w, h := r.Upright(); w > 0 && h > 0 {
			data.WidthPX, data.HeightPX = &w, &h
		}
		data.Session, data.Camera = c.String("session"), c.String("camera")
		if answer, err = ac.write(data); err != nil || text == "" {
			return err
		}
		_, err = ac.write(&events.NoteWrittenData{About: r.job.sheet, Text: text}) // a scan's entry has no room for words
		return err
	})
	if err != nil {
		return err
	}
	return tellAttached(env, c, r, answer, offer)
}

// attachedJSON is the answer to attach as scripts read it.
type attachedJSON struct {
	answerJSON
	File     string      `json:"file"` // as it was named
	SHA256   string      `json:"sha256"`
	Path     string      `json:"path"`     // where the original stands, from the book's folder
	Taken    *string     `json:"taken"`    // by the clock of the scanner or camera
	Measured *suggestion `json:"measured"` // null where nothing was measured
	Known    bool        `json:"known"`    // it was attached before, and nothing was written
}

func tellAttached(env *Env, c *cli.Context, r readScan, a wording.Answer, offer *suggestion) error {
	known := a.Entry.ID.IsZero()
	if c.Bool("json") {
		told := attachedJSON{File: r.job.file, SHA256: r.Digest, Path: r.Path, Taken: orNull(r.Taken), Measured: offer, Known: known}
		if told.answerJSON = answerOf(a); known {
			told.ID, told.Kind, told.At, told.Sheet = "", string(events.SheetAttached), "", orNull(r.job.sheet)
		}
		return writeJSON(env.Out, told)
	}
	s := screenOf(env, c)
	if known {
		copied := "its copy is whole"
		switch {
		case r.ByReference:
			copied = "and left where it is; without --by-reference a copy is laid beside the book"
		case r.Laid:
			copied = "its copy was lost or altered and is laid beside the book again"
		}
		s.Say(screen.Plain, fmt.Sprintf("%s: %s is attached already, %s", r.job.sheet, filepath.Base(r.job.file), copied))
		if c.IsSet("text") {
			s.Hang(screen.Warn, "  ! ", "the remark was not written; traybook note "+r.job.sheet+" writes one")
		}
		return s.Err()
	}
	size := fmt.Sprintf("%s, %d bytes", r.MediaType, r.Size)
	if w, h := r.Upright(); w > 0 && h > 0 {
		size = fmt.Sprintf("%d × %d pixels", w, h)
	}
	facts := []string{r.job.sheet + ": " + filepath.Base(r.job.file), size, "kept as " + shortPath(r.Path)}
	if r.ByReference {
		facts[2] = "left where it is"
	}
	if r.Taken != "" {
		facts = append(facts, "taken "+strings.Replace(r.Taken, "T", " ", 1)+" by the clock of its maker")
	}
	back := env.takeBack("to take it back", "void ", short(a.Entry.ID))
	if text := c.String("text"); text != "" {
		facts, back = append(facts, "noted: "+text), env.takeBack("to take it back", "void --batch ", short(a.Entry.Batch))
	}
	flow(s, append(facts, back))
	warn(s, "  ", a.Warnings)
	offer.tell(s)
	if r.measureFailed != nil && !errors.Is(r.measureFailed, scan.ErrNoBorder) {
		s.Hang(screen.Faint, "  ", "not measured: "+r.measureFailed.Error())
	}
	return s.Err()
}

// shortPath cuts the digest in the name of a kept original to what tells it apart.
func shortPath(path string) string {
	ext := filepath.Ext(path)
	if stem := strings.TrimSuffix(path, ext); len(stem) > 21 {
		return stem[:21] + "…" + ext
	}
	return path
}

var errNoFile = errors.New("is not a file; name a picture")

// suggestion is what the scan of a print with its white border offers to judge. Nothing of it is written unasked.
type suggestion struct {
	Sheet          string         `json:"sheet"`
	Density        events.Density `json:"density"`               // absolute: over the scan's border, with the paper's own density added
	Evenness       float64        `json:"evenness_stops"`        // how far the four quarters of the picture lie apart
	BorderEvenness float64        `json:"border_evenness_stops"` // how far the four sides of the border lie apart
	EdgeVeil       float64        `json:"edge_veil"`             // density of the outer half of the border on its darkest side
	Sharpness      *float64       `json:"sharpness"`             // 0 … 1
	Clipped        bool           `json:"clipped"`               // the border is as white as the scanner can tell
	Symptoms       []string       `json:"symptoms"`
	Command        string         `json:"command"` // what is typed to take it
}

// suggest turns measures into what judge could be told.
func suggest(ac *actContext, r readScan) (*suggestion, error) {
	m := r.measured
	_, sheet, err := ac.as().SheetByName(r.job.sheet)
	if err != nil {
		return nil, err
	}
	paper, _, err := calledfor.PaperAt(ac.as(), sheet)
	if err != nil {
		return nil, err
	}
	if paper == nil {
		paper = &snapshot.Paper{}
	}
	s := &suggestion{Sheet: r.job.sheet, Evenness: hundredths(m.Evenness), BorderEvenness: hundredths(m.BorderEvenness),
		EdgeVeil: hundredths(m.EdgeVeil), Clipped: m.Border >= 0.995, Symptoms: report.SymptomsOfTones(report.Tones{White: m.White, Mid: m.Mid, Black: m.Black, EdgeVeil: m.EdgeVeil, Sharpness: m.Sharpness}, paper.Dmax-paper.Dmin)}
	at := func(net float64) *float64 { v := hundredths(paper.Dmin + net); return &v }
	s.Density = events.Density{Min: at(m.White), Mid: at(m.Mid), Max: at(m.Black)}
	if m.Sharpness > 0 {
		v := hundredths(m.Sharpness)
		s.Sharpness = &v
	}
	verdict := "keep"
	if len(s.Symptoms) > 0 {
		verdict = "redo " + strings.Join(s.Symptoms, " ")
	}
	s.Command = fmt.Sprintf("traybook judge %s %s --density %g,%g,%g", s.Sheet, verdict, *s.Density.Min, *s.Density.Mid, *s.Density.Max)
	return s, nil
}

func hundredths(v float64) float64 { return math.Round(v*100) / 100 }

// tell offers it to a person.
func (s *suggestion) tell(out *screen.Screen) {
	if s == nil {
		return
	}
	parts := []string{fmt.Sprintf("measured: white %.2f, middle %.2f, black %.2f", *s.Density.Min, *s.Density.Mid, *s.Density.Max),
		fmt.Sprintf("quarters within %.2f stop", s.Evenness), fmt.Sprintf("veil at the edge %.2f", s.EdgeVeil)}
	if s.Sharpness != nil {
		parts = append(parts, fmt.Sprintf("sharpness %.2f", *s.Sharpness))
	}
	flow(out, parts)
	if s.Clipped {
		out.Hang(screen.Warn, "  ! ", "the border is as white as the scanner can tell: the densities may be too low")
	}
	out.Hang(screen.Plain, "  ", "your eye decides; to write it down: "+s.Command)
	out.Hang(screen.Faint, "  ", "the middle is the median of the picture; put the density of the tone that you metered in its place")
}
