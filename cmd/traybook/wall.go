package main

import (
	"slices"
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"traybook/calc"
	"traybook/cmd/traybook/line"
	"traybook/events"
	"traybook/events/sqlite"
	"traybook/export/page"
	"traybook/export/pages"
	"traybook/projections/calledfor"
	"traybook/projections/report"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// pdfFlags are the options of a figure that can be put on paper.
func pdfFlags() []cli.Flag {
	return under("on paper",
		&cli.StringFlag{Name: "pdf", Usage: "`FILE` a sheet for the wall instead; - is standard output"},
		&cli.StringFlag{Name: "size", Usage: "`A4` or Letter (A4)"},
		&cli.BoolFlag{Name: "force", Usage: "replace what is there"},
	)
}

// onPaper lets a figure be drawn as a sheet for the wall.
func onPaper(env *Env, cmd *cli.Command, draw func(o *options, size string, now time.Time) ([]byte, error)) *cli.Command {
	figure := cmd.Action
	cmd.Flags = append(cmd.Flags, pdfFlags()...)
	cmd.Action = func(c *cli.Context) error {
		if !c.IsSet("pdf") {
			for _, other := range []string{"size", "force"} {
				if c.IsSet(other) {
					return line.WrongLinef("give --pdf FILE with it", "--%s is about a sheet of paper, and none was asked for", other)
				}
			}
			return figure(c)
		}
		if c.String("pdf") == "" {
			return line.WrongLinef("write --pdf FILE", "--pdf names no file")
		}
		size, err := sizeWanted(c)
		if err != nil {
			return err
		}
		o := optionsOf(c)
		pdf, err := draw(o, size, env.Now())
		if o.err != nil || err != nil {
			return either(o.err, err)
		}
		return placePagesAt(env, c, c.String("pdf"), pdf, "")
	}
	return cmd
}

func developSheet(o *options, size string, now time.Time) ([]byte, error) {
	return bathSheet(o, "developer", size, now)
}

func fixSheet(o *options, size string, now time.Time) ([]byte, error) {
	return bathSheet(o, "fixer", size, now)
}

func bathSheet(o *options, role, size string, now time.Time) ([]byte, error) {
	b := o.bath(o.need("nominal", line.Seconds))
	if o.err != nil {
		return nil, o.err
	}
	return pages.Wall{Size: size, Created: now, Baths: []pages.WallBath{onWall(role, b)}, Cautions: wallCautions()}.PDF()
}

func onWall(role string, b calc.BathCall) pages.WallBath {
	b.Fixer = role == "fixer"
	return pages.WallBath{Name: role, BathCall: b}
}

// wallCautions are the cautions, with those that are about the camera.
func wallCautions() []string {
	last := len(cautions) - 1
	return append(slices.Clone(cautions[:last]), "Cap on while you wait: a lens left uncapped towards the sun burns. Do not look at the sun on the ground glass.",
		"A screen is daylight to paper: dim it, keep it from an open sleeve or holder.", cautions[last])
}

func railSheet(o *options, size string, now time.Time) ([]byte, error) {
	rail := o.rail(o.need("focal", line.Millimetres))
	if o.err != nil {
		return nil, o.err
	}
	return pages.Wall{Size: size, Created: now, Rail: &rail}.PDF()
}

func (o *options) rail(focal float64) pages.WallRail {
	return pages.WallRail{FocalMM: focal, F: o.or("f", line.FNumber, 8), COCMM: o.or("coc", line.Millimetres, calc.COC), Pupil: o.or("pupil", line.Plain, 1)}
}

func exposureSheet(o *options, size string, now time.Time) ([]byte, error) {
	w := pages.Wall{Size: size, Created: now}
	w.Papers = []pages.WallPaper{{Index: o.need("index", line.Plain), P: o.or("reciprocity", line.Plain, 0)}}
	for _, f := range o.list("filter-factor", line.Plain) {
		w.Filters = append(w.Filters, pages.WallFilter{Name: "× " + wording.Number(f), Factor: f})
	}
	if len(w.Filters) == 0 {
		w.Filters = usualFilters()
	}
	if o.err != nil {
		return nil, o.err
	}
	return w.PDF()
}

// usualFilters are factors without names, where none was measured: half a stop to three stops.
func usualFilters() []pages.WallFilter {
	var out []pages.WallFilter
	for _, f := range []float64{1.4, 2, 2.8, 4, 5.6, 8} {
		out = append(out, pages.WallFilter{Name: "× " + wording.Number(f), Factor: f})
	}
	return out
}

func quadrantSheet(o *options, size string, now time.Time) ([]byte, error) {
	g, err := generations(o)
	if o.err != nil || err != nil {
		return nil, either(o.err, err)
	}
	words := "negative on paper of R " + wording.Number(o.or("iso-r", line.Plain, calc.DefaultISORange)) +
		", print on R " + wording.Number(o.or("print-iso-r", line.Plain, o.or("iso-r", line.Plain, calc.DefaultISORange)))
	for _, x := range []struct {
		name string
		dim  line.Dimension
		what string
	}{{"error", line.Stops, "the negative "}, {"copy-error", line.Stops, "the copy "}, {"pre-flash", line.Share, "pre-flash on the negative "}, {"copy-pre-flash", line.Share, "pre-flash on the print "}} {
		if v := o.number(x.name, x.dim); v != nil && *v != 0 {
			words += "; " + x.what + line.Amount(x.dim, *v)
		}
	}
	return pages.Quadrants{Size: size, Created: now, Tones: g, Words: words + ". Dashed: a shadow, the mid-tone and a light on their way."}.PDF()
}

func figureWall(env *Env) *cli.Command {
	cmd := &cli.Command{
		Name: "wall", Usage: "sheets for the wall outside the camera: times by temperature, rail, index, filters, cautions",
		UsageText: lines("traybook figure wall --pdf wall.pdf --nominal 60s --fix 2min --focal 135mm --index 3",
			"traybook figure wall --pdf wall.pdf --index 3 --index 4 --filter yellow=4"),
		Description: "What is given is drawn, one sheet each, and the cautions always. traybook export wall does it for the open baths, the camera and the paper of a book.",
		Flags: slices.Concat(under("the developer", number("nominal", "`60s` time on the label, in a fresh bath"), number("nominal-temp", "`20C` temperature it holds for (20 °C)"),
			number("used", "`40%` share of its capacity that it has seen (0)"), number("q10", "`2` how much faster it works when 10 °C warmer (2)")),
			under("the fixer", number("fix", "`2min` time on the label, in a fresh bath, at the same temperature")),
			under("the lens", number("focal", "`135mm` focal length"), number("f", "`f/8` aperture of the rail's tolerance (f/8)"),
				number("coc", "`0.2mm` circle of confusion (0.2 mm)"), number("pupil", "`1` exit pupil over entrance pupil (1)")),
			under("the paper", factors("index", "`3` exposure index; several make several sheets"), factors("filter", "`yellow=4` a filter and its factor; may stand several times")),
			under("on paper", typefaceFlag())),
	}
	cmd.Action = func(*cli.Context) error {
		return line.WrongLinef("give --pdf wall.pdf", "sheets for the wall are for paper, and no file was named")
	}
	return onPaper(env, cmd, func(o *options, size string, now time.Time) ([]byte, error) {
		faces, err := facesWanted(o.c)
		if err != nil {
			return nil, err
		}
		pdf, err := wallSheets(o, size, now, faces)
		if err != nil {
			return nil, err
		}
		return pdf, tellUndrawn(env, nil, faces, false)
	})
}

func wallSheets(o *options, size string, now time.Time, faces *page.Faces) ([]byte, error) {
	w := pages.Wall{Size: size, Created: now, Cautions: wallCautions(), Faces: faces}
	if s := o.number("nominal", line.Seconds); s != nil {
		w.Baths = append(w.Baths, onWall("developer", o.bath(*s)))
	}
	if s := o.number("fix", line.Seconds); s != nil {
		b := o.bath(*s)
		b.Used = 0
		w.Baths = append(w.Baths, onWall("fixer", b))
	}
	if focal := o.number("focal", line.Millimetres); focal != nil {
		rail := o.rail(*focal)
		w.Rail = &rail
	}
	for _, i := range o.list("index", line.Plain) {
		w.Papers = append(w.Papers, pages.WallPaper{Index: i})
	}
	for _, text := range o.c.StringSlice("filter") {
		f, err := namedFilter(text)
		if err != nil {
			return nil, err
		}
		w.Filters = append(w.Filters, f)
	}
	if len(w.Filters) == 0 && len(w.Papers) > 0 {
		w.Filters = usualFilters()
	}
	if o.err != nil {
		return nil, o.err
	}
	return w.PDF()
}

func namedFilter(text string) (pages.WallFilter, error) {
	name, factor, ok := strings.Cut(text, "=")
	v, err := line.Parse(line.Plain, factor)
	if !ok || strings.TrimSpace(name) == "" || err != nil {
		return pages.WallFilter{}, line.WrongLine(line.Refuse("write --filter yellow=4", "--filter: %s is no filter with its factor", line.Quote(text)))
	}
	return pages.WallFilter{Name: strings.TrimSpace(name), Factor: v}, nil
}

func exportWallCommand(env *Env) *cli.Command {
	return &cli.Command{
		Name: "wall", Usage: "sheets for the wall outside the camera: times of the open baths, rail, index, filters, cautions",
		UsageText:   lines("traybook export wall --out wall.pdf", "traybook export wall --out wall.pdf --f f/11 --force"),
		Description: "Of the baths that are open now, as used as they are now; of the camera described last; of every box that holds paper and has\nan index; of the filters that were rated. Print them anew when a bath is mixed.",
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "out", Usage: "`FILE` where to; - is standard output"},
			&cli.StringFlag{Name: "size", Usage: "`A4` or Letter (A4)"},
			typefaceFlag(),
			number("f", "`f/8` aperture of the rail's tolerance (f/8)"),
			&cli.StringFlag{Name: "as-of", Usage: "`2026-12-31` as of a moment; else of the newest entry"},
			&cli.BoolFlag{Name: "force", Usage: "replace what is there"},
		},
		Action: func(c *cli.Context) error {
			o := optionsOf(c)
			if c.String("out") == "" {
				return line.WrongLinef("--out FILE, or --out - for standard output", "the sheets need a place")
			}
			size, err := sizeWanted(c)
			if err != nil {
				return err
			}
			f := o.or("f", line.FNumber, 8)
			if o.err != nil {
				return o.err
			}
			pdf, err := pagesOf(env, c, func(tx, _ *sqlite.Tx, at time.Time, faces *page.Faces) ([]byte, error) {
				w, err := bookWall(snapshot.New(tx, at), tx, at, f)
				if err != nil {
					return nil, err
				}
				w.Size, w.Faces = size, faces
				return w.PDF()
			})
			if err != nil {
				return err
			}
			return placePages(env, c, pdf, "")
		},
	}
}

// bookWall gathers what a book has for the wall.
func bookWall(snap *snapshot.Snapshot, tx *sqlite.Tx, at time.Time, f float64) (pages.Wall, error) {
	w := pages.Wall{Created: at, Cautions: wallCautions()}
	baths, err := report.Baths(snap, false)
	if err != nil {
		return w, err
	}
	for _, b := range baths.Baths {
		if b.NominalS == nil || b.Role != "developer" && b.Role != "fixer" {
			continue
		}
		bath, err := snap.Bath(b.Bath)
		if err != nil {
			return w, err
		}
		need, err := calledfor.NeedNow(snap, bath, nil, at)
		if err != nil {
			return w, err
		}
		w.Baths = append(w.Baths, pages.WallBath{Name: b.Bath, BathCall: need.BathCall})
	}
	slices.SortStableFunc(w.Baths, func(a, b pages.WallBath) int { // developers first, as a sheet goes through them
		switch {
		case a.Fixer == b.Fixer:
			return 0
		case b.Fixer:
			return -1
		}
		return 1
	})
	lens, err := bookLens(snap, tx, at)
	if err != nil {
		return w, err
	}
	if lens != nil {
		w.Rail, w.Apertures = railOf(lens, f), pages.WallApertures(lens.FWidest, lens.FSmallest)
	}
	stock, err := report.Stock(snap, false)
	if err != nil {
		return w, err
	}
	for _, line := range stock.Boxes {
		if line.Index == nil {
			continue
		}
		box, err := snap.Box(line.Box)
		if err != nil {
			return w, err
		}
		name := line.Box
		if line.Name != nil {
			name += " " + *line.Name
		}
		w.Papers = append(w.Papers, pages.WallPaper{Name: name, Index: *line.Index, P: box.PaperFor(at, snapshot.Negative, "", "").P})
		w.Filters = append(w.Filters, ratedFilters(box, at)...)
	}
	if len(w.Filters) == 0 && len(w.Papers) > 0 {
		w.Filters = usualFilters()
	}
	return w, nil
}

// bookLens is the lens of the camera described last, nil where none is described.
func bookLens(snap *snapshot.Snapshot, tx *sqlite.Tx, at time.Time) (*events.CameraDescribedData, error) {
	cameras, err := tx.Entities(events.Camera)
	if err != nil || len(cameras) == 0 {
		return nil, err
	}
	cam, err := snap.Camera(cameras[len(cameras)-1].Name)
	if err != nil {
		return nil, err
	}
	return cam.At(at), nil
}

func railOf(x *events.CameraDescribedData, f float64) *pages.WallRail {
	rail := pages.WallRail{FocalMM: x.FocalMM, F: f, COCMM: calc.COC, Pupil: 1}
	if x.CocMM != nil {
		rail.COCMM = *x.CocMM
	}
	if x.PupilRatio != nil {
		rail.Pupil = *x.PupilRatio
	}
	return &rail
}

// ratedFilters are the filters that were rated for a box, each as it was last.
func ratedFilters(box *snapshot.Box, at time.Time) []pages.WallFilter {
	var out []pages.WallFilter
	for _, e := range box.Ratings {
		x, ok := e.Data.(*events.PaperRatedData)
		if !ok || x.Filter == "" || x.FilterFactor == nil || e.At.After(at) {
			continue
		}
		name := x.Filter + ", " + box.Entity.Name
		if x.Light != "" {
			name += ", " + x.Light
		}
		out = slices.DeleteFunc(out, func(f pages.WallFilter) bool { return f.Name == name })
		out = append(out, pages.WallFilter{Name: name, Factor: *x.FilterFactor})
	}
	return out
}
