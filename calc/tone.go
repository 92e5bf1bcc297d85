package calc

import "math"

// Light and tones of an ordinary scene.
const (
	// CameraFlare is the stray light in the camera as a share of the brightest
	// tone: it turns 160:1 into 63:1, 0.40 in log10. Published: the 0.40 is the
	// standard flare of a public sensitometry review; the share is derived.
	CameraFlare = 0.0098
	// CopyFlare is the same for the copy of a negative. Common practice.
	CopyFlare = 0.01
	// SceneLightest is the brightest tone of a scene, in stops from the
	// mid-tone: white against a card that reflects 18 %. Common practice.
	SceneLightest = 2.5
	// LightZone and BlackZone are the tones, in stops from the mid-tone, by which
	// the highlights and the shadows of a print are judged. Our own model.
	LightZone = 2.0
	BlackZone = -3.0
	// FirstZone and LastZone bound the tones that a replay calculates.
	FirstZone, LastZone = -4, 4
)

// zoneCount is the number of whole tones from FirstZone to LastZone.
const zoneCount = LastZone - FirstZone + 1

// SheetModel is one sheet as the replay sees it: a paper, what was done to it,
// and what happened to it. It is a plain value; NewSheet gives one to which
// everything was done as called for.
type SheetModel struct {
	// Curve is the paper under its filter and light, its mid-tone at the index in
	// force.
	Curve Curve
	// ExposureStops is the exposure against that which puts the mid-tone 0.60 above
	// base without a pre-flash: log2(done ÷ called-for) at the aperture used, + too
	// much, and PreFlashStops of what a called-for one is shortened by for its pre-flash.
	ExposureStops float64
	// Flare is the stray light as a share of the brightest tone; IndexFlare the
	// flare the index was found with, which the called-for exposure counts in.
	Flare, IndexFlare float64
	// PreFlashShare is a pre-flash over the whole sheet, FogShare light that reached all
	// of it by accident, LeakShare light that reached the picture but not the
	// border under the holder's lip; each as a share of the threshold exposure Ht.
	PreFlashShare, FogShare, LeakShare float64
	// FogDensity is density that came without light (age, heat, chemicals).
	FogDensity float64
	// DevRatio is the development given ÷ called for; 1 is as called for.
	DevRatio float64
}

// NewSheet is a sheet of a paper to which everything was done as called for.
// flare is the stray light its index was found with: CameraFlare, CopyFlare.
func NewSheet(c Curve, flare float64) SheetModel {
	return SheetModel{Curve: c, Flare: flare, IndexFlare: flare, DevRatio: 1}
}

// AsCalledFor is the same sheet with every slip undone. A pre-flash below the
// threshold is taken as meant and stays; its exposure is shortened for it.
func (s SheetModel) AsCalledFor() SheetModel {
	s.Flare = s.IndexFlare
	s.FogShare, s.LeakShare, s.FogDensity = 0, 0, 0
	s.DevRatio = 1
	if s.PreFlashShare >= 1 {
		s.PreFlashShare = 0
	}
	s.ExposureStops = s.Curve.PreFlashStops(s.PreFlashShare)
	return s
}

// Check says what of a sheet lies outside what the model can calculate with:
// exposures over 20 stops off, flare over 1, light or fog below nothing, a
// development ratio below 0 or over 20. Always a *RangeError.
func (s SheetModel) Check() error {
	return firstError(
		above("exposure for the mid-tone", s.Curve.Hm, 0, 1e6, "lux s"),
		within("deviation of the exposure", s.ExposureStops, -20, 20, "stops"),
		within("flare", s.Flare, 0, 1, ""),
		within("flare of the index", s.IndexFlare, 0, 1, ""),
		within("share of the threshold pre-flash", s.PreFlashShare, 0, 1000, ""),
		within("fog light", s.FogShare, 0, 1e6, "thresholds"),
		within("leaked light", s.LeakShare, 0, 1e6, "thresholds"),
		within("fog density", s.FogDensity, 0, 4, ""),
		within("development ratio", s.DevRatio, 0, 20, ""),
	)
}

// sheetTones is what of a sheet stays the same for all its tones.
type sheetTones struct {
	curve      Curve
	everywhere float64 // light on the whole picture besides the image, ÷ Hm
	image      float64 // light of the mid-tone, ÷ Hm
	stray      float64 // flare, ÷ Hm
	speed      float64 // shift of log10 H from development, logM included
	black      float64 // share of the net density developed
	fog        float64 // density without light
}

// tones prepares a sheet whose image light, relative to the mid-tone at called
// for, gets a flare of stray times brightest.
func (s *SheetModel) tones(brightest, indexBrightest, gain float64) sheetTones {
	dev := DevelopmentEffect(s.DevRatio)
	image := gain * math.Exp2(s.ExposureStops) / (1 + s.IndexFlare*indexBrightest)
	return sheetTones{
		curve:      s.Curve,
		everywhere: (s.PreFlashShare + s.FogShare + s.LeakShare) * s.Curve.htHm,
		image:      image,
		stray:      image * s.Flare * brightest,
		speed:      s.Curve.logM + dev.SpeedStops*log10of2,
		black:      dev.BlackShare,
		fog:        math.Min(s.FogDensity+dev.Fog, s.Curve.Dmax-s.Curve.Dmin),
	}
}

// density is the density where the image has the relative light x.
func (t *sheetTones) density(x float64) float64 {
	h := x*t.image + t.stray + t.everywhere
	return t.curve.Dmin + t.net(h)
}

// net is the density above bare paper for a total exposure h ÷ Hm.
func (t *sheetTones) net(h float64) float64 {
	span := t.curve.Dmax - t.curve.Dmin
	if span <= 0 {
		return 0
	}
	net := t.black * span * t.curve.share(math.Log10(h)+t.speed)
	return net + t.fog*(1-net/span)
}

// Negative is the density on this sheet, exposed in the camera, of a tone z
// stops from the mid-tone:
//
//	H1 = Hm·2^(deviation)·(2^z + flare·2^2.5) ÷ (1 + index flare·2^2.5) + (φ + fog + leak)·Ht
//
// so that a called-for exposure without pre-flash puts the mid-tone 0.60 above base.
// Derived, upon CameraFlare, Curve and DevelopmentEffect.
func (s SheetModel) Negative(z float64) float64 {
	lightest := math.Exp2(SceneLightest)
	t := s.tones(lightest, lightest, 1)
	return t.density(math.Exp2(z))
}

// Border is the density of the margin that no image light reached: bare paper,
// pre-flash, fog and over-development, but no leak into the camera.
func (s SheetModel) Border() float64 {
	s.LeakShare = 0
	t := s.tones(0, 0, 0)
	return t.density(0)
}

// TwoGenerations is a picture as the replay sees it: a negative from the scene
// and a print from the negative. A plain value.
type TwoGenerations struct {
	// Neg is the negative; Print the copy, its ExposureStops log2(done ÷
	// called-for).
	Neg, Print SheetModel
	// CopyMeteredMid is true where the copy was served by a reading of the
	// mid-tone on this very negative: its exposure then moves with the negative.
	// Otherwise the exposure stays what suits a negative whose mid-tone has the
	// density Planned, or, where Planned is 0, this negative as called for.
	CopyMeteredMid bool
	Planned        float64
}

// ZoneTone is one tone of the scene, Zone stops from the mid-tone, and its
// densities on negative and print, base included.
type ZoneTone struct {
	Zone, Negative, Print float64
}

// TonesOf is what a replay looks at on one sheet. Densities include the base
// unless said otherwise.
type TonesOf struct {
	// Mid is the mid-tone; Min and Max the lightest and darkest of the tones from
	// FirstZone to LastZone; Range is Max − Min.
	Mid, Min, Max, Range float64
	// Light and Black are the tones LightZone and BlackZone as they came out.
	Light, Black float64
	// Veil is the density above bare paper of the lightest of the tones: on a
	// print of its highlights, on a negative of its clear end.
	Veil float64
	// BorderFog is the density above bare paper of the margin.
	BorderFog float64
}

// Tones is the outcome of a replay. A plain value.
type Tones struct {
	Zones      [zoneCount]ZoneTone
	Neg, Print TonesOf
	// Gradient is the slope of the print against log10 of the scene's light at the
	// mid-tone, the product of both papers' slopes there; negative, for a lighter
	// subject prints lighter.
	Gradient float64
	// CopyStops is the copy's exposure in stops against that for a negative with
	// its mid-tone 0.60 above base.
	CopyStops float64
}

// Tones replays a picture: scene, negative, copy, print.
//
// The copy sees 10^−D1 by reflected light and a flare of Flare times its clear
// base. Its called-for exposure is Hm·10^D1(mid), less what the usual flare
// gives anyway, so that the print's mid-tone lands 0.60 above base; times
// 2^deviation. Derived, upon Negative. The inputs are not checked here (see
// SheetModel.Check), for a replay runs once per deviation; nothing is allocated.
func (g TwoGenerations) Tones() Tones {
	var out Tones
	c := g.chain()
	out.CopyStops = math.Log2(c.gain) + g.Print.ExposureStops
	for i := range out.Zones {
		out.Zones[i] = c.at(float64(FirstZone + i))
	}
	mid := &out.Zones[-FirstZone]
	out.Neg = TonesOf{Mid: mid.Negative, Min: math.Inf(1), Max: math.Inf(-1), BorderFog: g.Neg.Border() - g.Neg.Curve.Dmin}
	out.Print = TonesOf{Mid: mid.Print, Min: math.Inf(1), Max: math.Inf(-1), BorderFog: g.Print.Border() - g.Print.Curve.Dmin}
	for i := range out.Zones {
		z := &out.Zones[i]
		out.Neg.Min, out.Neg.Max = math.Min(out.Neg.Min, z.Negative), math.Max(out.Neg.Max, z.Negative)
		out.Print.Min, out.Print.Max = math.Min(out.Print.Min, z.Print), math.Max(out.Print.Max, z.Print)
	}
	light, black := &out.Zones[LightZone-FirstZone], &out.Zones[BlackZone-FirstZone]
	out.Neg.Light, out.Neg.Black = light.Negative, black.Negative
	out.Print.Light, out.Print.Black = light.Print, black.Print
	out.Neg.Range, out.Print.Range = out.Neg.Max-out.Neg.Min, out.Print.Max-out.Print.Min
	out.Neg.Veil, out.Print.Veil = out.Neg.Min-g.Neg.Curve.Dmin, out.Print.Min-g.Print.Curve.Dmin

	const step = 1e-4 // of log10 H, either side
	up, down := math.Pow(10, step), math.Pow(10, -step)
	dUp := c.copied.density(math.Pow(10, c.usual-c.neg.density(up)))
	dDown := c.copied.density(math.Pow(10, c.usual-c.neg.density(down)))
	out.Gradient = (dUp - dDown) / (2 * step)
	return out
}

// chain is what of a picture stays the same for all its tones.
type chain struct {
	neg, copied sheetTones
	usual, gain float64
}

func (g *TwoGenerations) chain() chain {
	lightest := math.Exp2(SceneLightest)
	neg := g.Neg.tones(lightest, lightest, 1)
	negMid := neg.density(1)

	served := negMid
	if !g.CopyMeteredMid {
		served = g.Planned
		if served == 0 {
			called := g.Neg.AsCalledFor()
			t := called.tones(lightest, lightest, 1)
			served = t.density(1)
		}
	}
	// Light is calculated in units of what a mid-tone 0.60 above this negative's
	// base sends back; clear base then sends back 10^0.60.
	usual := g.Neg.Curve.Dmin + MidAboveBase
	base := math.Pow(10, MidAboveBase)
	counted := g.Print.IndexFlare * base
	gain := (1 + counted) / (math.Pow(10, usual-served) + counted)
	return chain{neg: neg, copied: g.Print.tones(base, base, gain), usual: usual, gain: gain}
}

// at is one tone, z stops from the mid-tone.
func (c *chain) at(z float64) ZoneTone {
	d := c.neg.density(math.Exp2(z))
	return ZoneTone{Zone: z, Negative: d, Print: c.copied.density(math.Pow(10, c.usual-d))}
}

// Tone is one tone of the scene, z stops from the mid-tone, replayed as by Tones.
func (g TwoGenerations) Tone(z float64) ZoneTone {
	c := g.chain()
	return c.at(z)
}

const (
	// HoldsApart is by how much density a stop of the scene must differ on a print
	// for its tones to be held: as much as ThresholdAboveBase, which an eye can part
	// from bare paper. Our own model.
	HoldsApart  = 0.04
	holdsWithin = 10.0 // stops from the mid-tone
	holdsStep   = 0.1
)

// Holds are the darkest and the lightest tone of a scene, in stops from the
// mid-tone, up to which the print parts its tones: from MaximumBlackShare of its
// greatest density to ThresholdAboveBase over its base, and by HoldsApart a stop.
// Beyond them shadows and highlights block, on negative or print. Both are 0 where
// not even the mid-tone is parted; none lies further than 10 stops. Derived, upon
// Tones.
func (g TwoGenerations) Holds() (darkest, lightest float64) {
	c := g.chain()
	black := MaximumBlackShare * g.Print.Curve.Dmax
	white := g.Print.Curve.Dmin + ThresholdAboveBase
	mid := c.at(0).Print
	for last := mid; lightest < holdsWithin; {
		d := c.at(lightest + holdsStep).Print
		if d < white || last-d < HoldsApart*holdsStep {
			break
		}
		last, lightest = d, lightest+holdsStep
	}
	for last := mid; darkest > -holdsWithin; {
		d := c.at(darkest - holdsStep).Print
		if d > black || d-last < HoldsApart*holdsStep {
			break
		}
		last, darkest = d, darkest-holdsStep
	}
	return darkest, lightest
}
