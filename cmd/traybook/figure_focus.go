package main

import (
	"math"
	"slices"

	"github.com/urfave/cli/v2"

	"traybook/calc"
	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/screen"
)

type angleJSON struct {
	Width    *float64 `json:"width"`    // degrees; null where no sheet is given
	Height   *float64 `json:"height"`   // degrees; null where no sheet is given
	Diagonal *float64 `json:"diagonal"` // degrees; null where no sheet is given
}

type focusJSON struct {
	ImageDistanceMM *float64  `json:"image_distance_mm"` // from the lens to the paper
	ExtensionMM     *float64  `json:"extension_mm"`      // from the infinity mark
	Magnification   *float64  `json:"magnification"`
	ExposureFactor  *float64  `json:"exposure_factor"`
	Stops           *float64  `json:"stops"`             // by which the bellows lengthens the exposure
	NearMM          *float64  `json:"near_mm"`           // the nearest that is sharp, from the lens; null where no aperture is given
	FarMM           *float64  `json:"far_mm"`            // the farthest that is sharp, from the lens; null = infinity, or not told
	HyperfocalMM    *float64  `json:"hyperfocal_mm"`     // from the lens; null where no aperture is given
	RailToleranceMM *float64  `json:"rail_tolerance_mm"` // by which the rail may be off either way
	FieldWidthMM    *float64  `json:"field_width_mm"`    // that the sheet sees
	FieldHeightMM   *float64  `json:"field_height_mm"`   // that the sheet sees
	Angle           angleJSON `json:"angle_deg"`         // that the sheet sees
	AiryUM          *float64  `json:"airy_um"`           // diameter of the disc of diffraction, micrometres; null where no aperture is given
	SubjectMM       *float64  `json:"subject_mm"`        // from the lens to the subject; null = infinity
	Copy            *copyJSON `json:"copy"`              // how a negative is copied at this distance; null where no draw is given
	LeastBlurF      *float64  `json:"least_blur_f"`      // aperture at which that depth is sharpest; null where it was not asked for
	FocusOnMM       *float64  `json:"focus_on_mm"`       // distance to focus on for a depth from --near to --far; null where it was not asked for
}

type copyJSON struct {
	NegativeToPaperMM float64  `json:"negative_to_paper_mm"`  // from the negative to the paper behind the lens
	PrintWidthMM      *float64 `json:"print_width_mm"`        // null where no sheet is given
	PrintHeightMM     *float64 `json:"print_height_mm"`       // null where no sheet is given
	LargestM          float64  `json:"largest_magnification"` // that the draw allows
	Fits              bool     `json:"draw_reaches"`          // the camera can be drawn out so far
}

func figureFocus(env *Env) *cli.Command {
	return &cli.Command{
		Name: "focus", Usage: "extension, rail, field and depth of a lens set on a subject",
		UsageText: "traybook figure focus --focal 135mm --distance 2m --f f/8 --sheet 9x12cm\n" +
			"traybook figure focus --focal 135mm --magnification 1 --f f/11 --draw 300mm --sheet 9x12cm\n" +
			"traybook figure focus --focal 135mm --near 1.8m --far 2.5m\n" +
			"traybook figure focus --focal 135mm --f f/8 --table",
		Description: "Without a distance the lens stands on infinity. Distances are from the lens; the extension is from its infinity mark. " +
			"The circle of confusion is 0.2 mm, as for a print seen at reading distance, unless another is given.",
		Flags: slices.Concat(under("the lens",
			number("focal", "`135mm` focal length"), number("f", "`f/8` aperture as engraved"), number("pupil", "`1` exit pupil over entrance pupil (1)"),
			number("coc", "`0.2mm` circle of confusion (0.2 mm)"), number("draw", "`300mm` greatest distance from lens to paper"),
		), under("the subject",
			number("distance", "`2m` from lens to subject"), number("extension", "`9mm` rail position from the infinity mark"),
			number("magnification", "`1` image over subject"), number("near", "`1.8m` nearest thing that shall be sharp, with --far"),
			number("far", "`2.5m` farthest thing that shall be sharp"),
		), under("the paper", number("sheet", "`9x12cm` width by height, as the sheet stands in the camera")),
			under("the answer", &cli.BoolFlag{Name: "table", Usage: "a table for the rail instead"})),
		Action: func(c *cli.Context) error {
			o := optionsOf(c)
			fo := calc.Focus{
				FocalMM: o.need("focal", line.Millimetres), F: o.or("f", line.FNumber, 0),
				COCMM: o.or("coc", line.Millimetres, calc.COC), Pupil: o.or("pupil", line.Plain, 1),
			}
			if o.has("sheet") {
				var err error
				if fo.SheetWidthMM, fo.SheetHeightMM, err = line.ParseSize(c.String("sheet")); err != nil {
					o.fail(line.WrongLine(err))
				}
			}
			o.focusOn(&fo)
			if o.err != nil {
				return o.err
			}
			if c.Bool("table") {
				return railTable(env, c, o, fo)
			}
			fig, err := focusFigure(o, fo)
			if err != nil {
				return err
			}
			if c.Bool("json") {
				return writeJSON(env.Out, fig)
			}
			return printFocus(screenOf(env, c), fo, fig)
		},
	}
}

// focusOn reads what the lens is set on: a distance, a ratio, a rail position, or the middle between near and far.
func (o *options) focusOn(fo *calc.Focus) {
	way := o.oneOf(false, "distance", "magnification", "extension", "near")
	if o.has("far") && way != "near" && way != "" {
		o.fail(line.WrongLinef("give --near 1.8m with --far, or --"+way+" alone", "--far and --%s contradict each other", way))
	}
	if way == "" && o.has("far") {
		o.missing("", "near")
	}
	var err error
	switch way {
	case "distance":
		fo.SubjectMM = o.need("distance", line.Millimetres)
	case "magnification":
		fo.Magnification = o.need("magnification", line.Plain)
	case "extension":
		if x := o.need("extension", line.Millimetres); o.err == nil {
			fo.Magnification, err = calc.MagnificationFromExtension(fo.FocalMM, x)
		}
	case "near":
		near, far := o.need("near", line.Millimetres), o.need("far", line.Millimetres)
		switch {
		case o.err != nil:
		case far < near:
			o.fail(line.WrongLinef("write the nearer one as --near", "--far %s is nearer than --near %s", inLength(far), inLength(near)))
		default:
			fo.SubjectMM, err = calc.FocusBetween(near, far)
		}
	}
	if err != nil {
		o.fail(err)
	}
}

func focusFigure(o *options, fo calc.Focus) (focusJSON, error) {
	fd, err := fo.Figure()
	if err != nil {
		return focusJSON{}, err
	}
	out := focusJSON{
		ImageDistanceMM: finite(fd.ImageDistanceMM), ExtensionMM: finite(fd.ExtensionMM), Magnification: finite(fd.Magnification),
		ExposureFactor: finite(fd.ExposureFactor), Stops: finite(fd.Stops), SubjectMM: finite(fd.SubjectMM),
		NearMM: where(fd.HasAperture, fd.NearMM), FarMM: where(fd.HasAperture, fd.FarMM), HyperfocalMM: where(fd.HasAperture, fd.HyperfocalMM),
		RailToleranceMM: where(fd.HasAperture, fd.RailToleranceMM), AiryUM: where(fd.HasAperture, fd.AiryUM),
		FieldWidthMM: where(fd.HasSheet, fd.FieldWidthMM), FieldHeightMM: where(fd.HasSheet, fd.FieldHeightMM),
		Angle: angleJSON{where(fd.HasSheet, fd.AngleWidthDeg), where(fd.HasSheet, fd.AngleHeightDeg), where(fd.HasSheet, fd.AngleDiagonalDeg)},
	}
	if o.has("near") {
		out.FocusOnMM = finite(fd.SubjectMM)
		near, err1 := calc.ImageDistance(fo.FocalMM, o.need("near", line.Millimetres))
		far, err2 := calc.ImageDistance(fo.FocalMM, o.need("far", line.Millimetres))
		if err := either(err1, err2); err != nil {
			return out, err
		}
		if miss := (near - far) / 2; miss > 0 {
			best, err := calc.ApertureOfLeastBlur(miss, fd.Magnification)
			if err != nil {
				return out, err
			}
			out.LeastBlurF = finite(best)
		}
	}
	if o.has("draw") {
		w, h := fo.SheetWidthMM, fo.SheetHeightMM
		if !fd.HasSheet {
			w, h = 1, 1 // only the ratio is asked for
		}
		setup, err := calc.CopyGeometry(fo.FocalMM, o.need("draw", line.Millimetres), max(fd.Magnification, 1e-6), w, h, fo.Pupil)
		if err != nil {
			return out, err
		}
		out.Copy = &copyJSON{
			NegativeToPaperMM: setup.TotalMM, PrintWidthMM: where(fd.HasSheet, setup.PrintWidthMM), PrintHeightMM: where(fd.HasSheet, setup.PrintHeightMM),
			LargestM: setup.LargestM, Fits: setup.Fits,
		}
	}
	return out, o.err
}

func printFocus(s *screen.Screen, fo calc.Focus, fig focusJSON) error {
	at := "infinity"
	if fig.SubjectMM != nil {
		at = inLength(*fig.SubjectMM)
	}
	s.Headline(inLength(fo.FocalMM) + " lens on " + at + ": " + decimals(*fig.ExtensionMM, 1) + " mm from the infinity mark")
	show := func(v *float64, f func(float64) string) string {
		if v == nil {
			return ""
		}
		return f(*v)
	}
	pair := func(label, value string) screen.Pair { return screen.Pair{Label: label, Value: value} }
	depth := ""
	if fig.NearMM != nil {
		depth = inLength(*fig.NearMM) + " to infinity"
		if fig.FarMM != nil {
			depth = inLength(*fig.NearMM) + " to " + inLength(*fig.FarMM)
		}
		depth += ", within a circle of " + inLength(fo.COCMM)
	}
	field, angle := "", ""
	if fig.FieldWidthMM != nil {
		field = inLength(*fig.FieldWidthMM) + " wide, " + inLength(*fig.FieldHeightMM) + " high"
	}
	if fig.Angle.Width != nil {
		angle = decimals(*fig.Angle.Width, 1) + "° wide, " + decimals(*fig.Angle.Height, 1) + "° high, " + decimals(*fig.Angle.Diagonal, 1) + "° across"
	}
	pairs := []screen.Pair{
		pair("lens to paper", show(fig.ImageDistanceMM, inLength)),
		pair("magnification", show(fig.Magnification, func(v float64) string { return decimals(v, 4) })),
		pair("exposure", show(fig.Stops, func(v float64) string { return "× " + decimals(*fig.ExposureFactor, 2) + " (" + inStops(v) + ")" })),
		pair("rail", show(fig.RailToleranceMM, func(v float64) string { return "may be off by " + decimals(v, 1) + " mm to either side" })),
		pair("sharp from", depth),
		pair("hyperfocal", show(fig.HyperfocalMM, inLength)),
		pair("diffraction", show(fig.AiryUM, func(v float64) string { return "a disc of " + decimals(v, 0) + " µm" })),
		pair("field", field),
		pair("angle", angle),
		pair("least blur at", show(fig.LeastBlurF, func(v float64) string {
			return "f/" + decimals(v, 1) + ", where depth and diffraction blur alike"
		})),
	}
	if cp := fig.Copy; cp != nil {
		print := ""
		if cp.PrintWidthMM != nil {
			print = line.FormatSize(*cp.PrintWidthMM, *cp.PrintHeightMM) + " from this negative"
		}
		reach := "reaches; it goes to " + decimals(cp.LargestM, 2) + ":1"
		if !cp.Fits {
			reach = "does not reach; the most is " + decimals(cp.LargestM, 2) + ":1"
		}
		pairs = append(pairs, pair("copy", inLength(cp.NegativeToPaperMM)+" from negative to paper"), pair("print", print), pair("the draw", reach))
	}
	s.Pairs(pairs...)
	return s.Err()
}

type railJSON struct {
	SubjectMM     *float64 `json:"subject_mm"`        // from the lens to the subject; null = infinity
	ExtensionMM   float64  `json:"extension_mm"`      // from the infinity mark
	ToleranceMM   float64  `json:"rail_tolerance_mm"` // by which the rail may be off either way
	Magnification float64  `json:"magnification"`
	Factor        float64  `json:"exposure_factor"`
	Stops         float64  `json:"stops"` // by which the bellows lengthens the exposure
}

type railsJSON struct {
	Rows []railJSON `json:"rows"` // a subject each, the farthest first
}

// railTable tells where the lens stands on the rail for the distances at which people are photographed.
func railTable(env *Env, c *cli.Context, o *options, fo calc.Focus) error {
	if fo.F == 0 {
		o.missing("the table needs an aperture for the tolerance", "f")
		return o.err
	}
	if way := o.oneOf(false, "distance", "magnification", "extension", "near"); way != "" {
		return line.WrongLine(line.Refuse("leave --"+way+" out, or leave --table out", "the table has its own distances, --%s contradicts it", way))
	}
	rows, err := calc.RailTable(fo.FocalMM, fo.F, fo.COCMM, fo.Pupil, calc.RailDistances(fo.FocalMM))
	if err != nil {
		return err
	}
	if c.Bool("json") {
		out := []railJSON{}
		for _, r := range rows {
			out = append(out, railJSON{finite(r.SubjectMM), r.ExtensionMM, r.ToleranceMM, r.Magnification, r.Factor, r.Stops})
		}
		return writeJSON(env.Out, railsJSON{out})
	}
	s := screenOf(env, c)
	s.Headline("rail of a " + inLength(fo.FocalMM) + " lens at " + line.Format(line.FNumber, fo.F))
	t := screen.Table{Columns: []screen.Column{
		{Title: "lens to subject", Right: true}, {Title: "extension", Right: true}, {Title: "off by at most", Right: true},
		{Title: "time ×", Right: true}, {Title: "stops", Right: true},
	}}
	for _, r := range rows {
		at := "infinity"
		if !math.IsInf(r.SubjectMM, 0) {
			at = inLength(r.SubjectMM)
		}
		t.Add(at, decimals(r.ExtensionMM, 1)+" mm", decimals(r.ToleranceMM, 1)+" mm", decimals(r.Factor, 2), signed(r.Stops))
	}
	s.Table(t)
	s.Say(screen.Faint, "The extension is from the infinity mark; focus is kept while the lens is no further off, within a circle of "+inLength(fo.COCMM)+".")
	return s.Err()
}
