package report_test

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/calc"
	"traybook/events"
	"traybook/events/sqlite"
	"traybook/projections/acts"
	"traybook/projections/booktest"
	"traybook/projections/report"
	"traybook/projections/snapshot"
)

func calibrate(t testing.TB, snap *snapshot.Snapshot, o report.CalibrateOptions) (report.Calibration, error) {
	t.Helper()
	return beside(t, snap, func(snap *snapshot.Snapshot) (report.Calibration, error) { return report.Calibrate(snap, o) })
}

func calibrated(t testing.TB, b *sqlite.Book, box string) report.BoxCalibration {
	t.Helper()
	var out report.BoxCalibration
	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		c, err := calibrate(t, snap, report.CalibrateOptions{Box: box})
		require.NoError(t, err)
		require.Len(t, c.Boxes, 1)
		out = c.Boxes[0]
	})
	return out
}

// indexSaid finds what was said of one sort of sheet.
func indexSaid(t testing.TB, c report.BoxCalibration, k report.Kept) report.IndexCalibration {
	t.Helper()
	for _, i := range c.Index {
		if i.Kept == k {
			return i
		}
	}
	require.Failf(t, "nothing said", "of %v", k)
	return report.IndexCalibration{}
}

var negatives = report.Kept{Generation: snapshot.Negative}

// A hundred boxes, each with an offset and an exponent drawn from the priors that the fit states and sheets that scatter
// as it states: then its 95 % interval must hold the truth in 95 of 100. Fewer than 87 of 100 come by chance with a
// probability of 0.0005 (binomial, P(X ≤ 86)).
func TestCalibrateRecoversKnownOffsetAndExponentThroughTheBook(t *testing.T) {
	const boxes, sheets, atLeast = 100, 12, 87
	rng := rand.New(rand.NewPCG(20260502, 5))
	s := booktest.NewStory()
	type truth struct{ offset, p float64 }
	truths := make([]truth, boxes)
	n := 0
	for i := range truths {
		v := truth{rng.NormFloat64() * calc.OffsetPriorSD, 0}
		for v.p < calc.ReciprocityLeast || v.p > 1 {
			v.p = calc.ReciprocityPrior + rng.NormFloat64()*calc.ReciprocityPriorSD
		}
		truths[i] = v
		box := fmt.Sprintf("lot-%d", i+1)
		s.Box(box)
		for range sheets {
			n++
			meteredS := math.Round(1000*math.Exp2(rng.Float64()*6)) / 1000
			doneS := math.Round(1000*meteredS*math.Exp2(rng.Float64()-0.5)) / 1000
			long := max(0, math.Log2(doneS))
			asks := math.Log2(meteredS) - v.offset - v.p*long - (math.Log2(doneS) - long) + rng.NormFloat64()*calc.SheetScatter
			s.Judged(n, box, meteredS, doneS, asks)
		}
	}
	b := s.Book(t)
	inOffset, inP, measured := 0, 0, 0
	for i, v := range truths {
		c := indexSaid(t, calibrated(t, b, fmt.Sprintf("lot-%d", i+1)), negatives)
		require.Equal(t, sheets, c.Sheets)
		if c.P == nil {
			continue
		}
		measured++
		if c.OffsetStops.Low <= v.offset && v.offset <= c.OffsetStops.High {
			inOffset++
		}
		if c.P.Low <= v.p && v.p <= c.P.High {
			inP++
		}
	}
	t.Logf("of %d boxes %d tell the exponent; the offset lies inside its interval in %d, the exponent in %d", boxes, measured, inOffset, inP)
	require.Equal(t, boxes, measured, "times from 1 to 64 s spread enough in every box")
	assert.GreaterOrEqual(t, inOffset, atLeast)
	assert.GreaterOrEqual(t, inP, atLeast)
}

// Where the times lie together the exponent is not said, and the offset in use must still hold at its rate.
func TestCalibrateSaysTheOffsetInUseWhereTimesLieTogether(t *testing.T) {
	const boxes, atLeast = 60, 50 // binomial at 95 %: P(X ≤ 49) = 0.0002
	rng := rand.New(rand.NewPCG(7, 20260502))
	s := booktest.NewStory()
	offsets := make([]float64, boxes)
	n := 0
	for i := range offsets {
		offsets[i] = rng.NormFloat64() * calc.OffsetPriorSD
		box := fmt.Sprintf("lot-%d", i+1)
		s.Box(box)
		for range 5 {
			n++
			s.Judged(n, box, 1, 1, -offsets[i]+rng.NormFloat64()*calc.SheetScatter)
		}
	}
	b := s.Book(t)
	in := 0
	for i, v := range offsets {
		c := indexSaid(t, calibrated(t, b, fmt.Sprintf("lot-%d", i+1)), negatives)
		require.Nil(t, c.P)
		require.NotNil(t, c.NextStrip, "a strip of long times is asked for")
		if c.OffsetStops.Low <= v && v <= c.OffsetStops.High {
			in++
		}
	}
	assert.GreaterOrEqual(t, in, atLeast)
}

func TestCalibrateSaysItAsAWorkerWould(t *testing.T) {
	s := booktest.NewStory()
	s.Box("box-1")
	for i := range 11 {
		s.Judged(i+1, "box-1", 4, 4, []float64{-0.5, -0.4, -0.3}[i%3]) // 0.4 stop too much at index 3: 3·2^0.4 = 4
	}
	c := calibrated(t, s.Book(t), "box-1")
	got := indexSaid(t, c, negatives)
	assert.InDelta(t, 3*math.Exp2(0.4), got.Index.Mean, 0.1)
	assert.Equal(t, 4.0, *got.MeterAt)
	assert.Regexp(t, `^meter at 4 \(3\.\d to 4\.\d in 95 of 100 cases, 11 sheets\); you gave 3$`, got.Text)
	require.Len(t, c.Proposals, 1)
	p := c.Proposals[0].Data
	assert.Equal(t, 4.0, *p.Index)
	assert.Equal(t, "negative", p.Generation)
	assert.Equal(t, 11, *p.Sheets)
	assert.InDelta(t, calc.SheetScatter, *p.SDStops, 0.001)
	assert.Len(t, strings.Fields(p.Evidence), 11)
	assert.Equal(t, got.Evidence, strings.Fields(p.Evidence))
}

func TestCalibrateLeavesASmallOffsetAndRefusesTwoSheets(t *testing.T) {
	s := booktest.NewStory()
	s.Box("box-1")
	s.Box("box-2")
	for i := range 6 {
		s.Judged(i+1, "box-1", 4, 4, -0.2)
	}
	s.Judged(7, "box-2", 8, 8, -1)
	s.Judged(8, "box-2", 8, 8, -1)
	b := s.Book(t)

	small := calibrated(t, b, "box-1")
	got := indexSaid(t, small, negatives)
	assert.True(t, got.LeaveIt)
	assert.Contains(t, got.Text, "leave it at 3")
	assert.Empty(t, small.Proposals)

	few := calibrated(t, b, "box-2")
	got = indexSaid(t, few, negatives)
	assert.Nil(t, got.Index)
	assert.Nil(t, got.OffsetStops)
	assert.Contains(t, got.Text, "too few sheets to say: 2 sheets; at least 3 are needed")
	require.NotNil(t, got.NextStrip)
	assert.Equal(t, []float64{4, 5.5, 8, 11.5, 16}, got.NextStrip.TimesS, "half stops about the 8 s that were called for, as a hand can time them")
	assert.Empty(t, few.Proposals)
}

func TestCalibrateLeavesOutWhatDoesNotCount(t *testing.T) {
	s := booktest.NewStory()
	s.Box("box-1")
	s.Tell("bath.mixed", `"bath":"dev-1","role":"developer","name":"print developer","volume_ml":1000,"time_s":60,"capacity_m2":2`)
	for i := range 3 {
		s.Judged(i+1, "box-1", 4, 4, -1)
	}
	s.Judged(4, "box-1", 4, 4, 3)
	s.Tell("sheet.developed", `"sheet":"2026-004n","bath":"dev-1","time_s":25,"by":"inspection"`)
	s.Judged(5, "box-1", 4, 4, 3)
	s.Tell("sheet.developed", `"sheet":"2026-005n","bath":"dev-1","time_s":30`)
	s.Tell("sheet.exposed", `"picture":"2026-006","box":"box-1","f":8,"time_s":4`)
	s.Tell("sheet.judged", `"sheet":"2026-006n","verdict":"redo","stops":2`)
	// A copy metered on its negative: its offset stands apart.
	for i := range 3 {
		s.Tell("light.metered", `"on":"negative","mode":"reflected","index":3,"f":11,"time_s":5,"of":"mid","picture":"2026-%03d"`, i+1)
		s.Tell("sheet.reprinted", `"picture":"2026-%03d","box":"box-1","f":11,"time_s":20`, i+1)
		s.Tell("sheet.judged", `"sheet":"2026-%03dp1","verdict":"redo","stops":1`, i+1)
	}
	// The next print of the first is served by the correction, not by a reading.
	s.Tell("sheet.reprinted", `"picture":"2026-001","box":"box-1","f":11,"time_s":40`)
	s.Tell("sheet.judged", `"sheet":"2026-001p2","verdict":"keep","stops":0.2`)
	c := calibrated(t, s.Book(t), "box-1")

	require.Len(t, c.Index, 2)
	neg := indexSaid(t, c, negatives)
	assert.Equal(t, 3, neg.Sheets)
	assert.InDelta(t, 1, neg.OffsetStops.Mean, 0.15)
	pos := indexSaid(t, c, report.Kept{Generation: snapshot.Positive})
	assert.Equal(t, 3, pos.Sheets)
	assert.InDelta(t, -1, pos.OffsetStops.Mean, 0.15, "never pooled with the negatives' +1")
	assert.Contains(t, pos.Text, "stop more than metered")
	why := map[string]string{}
	for _, l := range c.LeftOut {
		why[l.Sheet] = l.Why
	}
	assert.Equal(t, map[string]string{
		"2026-004n":  "pulled by inspection",
		"2026-005n":  "developed 0.5 × its called-for time",
		"2026-006n":  "no reading serves it, so nothing was called for",
		"2026-001p2": "its time came from an earlier print, not from a reading",
	}, why)
}

func TestCalibrateReadsDensities(t *testing.T) {
	s := booktest.NewStory()
	s.Box("box-1")
	paper := snapshot.Paper{Index: 3, ISOR: 110, Dmin: calc.DefaultDmin, Dmax: calc.DefaultDmaxGlossy}
	curve, err := paper.Curve()
	require.NoError(t, err)
	for i := range 4 { // each 0.5 stop over: the tone that was read is too dense
		s.Judged(i+1, "box-1", 4, 4, 0)
		s.Lines[len(s.Lines)-1] = strings.Replace(s.Lines[len(s.Lines)-1], `"stops":0`,
			fmt.Sprintf(`"density":{"mid":%.4f}`, curve.Density(math.Log10(curve.Hm)+0.5*math.Log10(2))), 1)
	}
	got := indexSaid(t, calibrated(t, s.Book(t), "box-1"), negatives)
	assert.Equal(t, 4, got.Sheets)
	assert.InDelta(t, 0.5, got.OffsetStops.Mean, 0.05)
}

func TestCalibrateReadsStrips(t *testing.T) {
	s := booktest.NewStory()
	s.Box("box-1")
	s.Tell("session.opened", `"session":"pier","camera":"pier-camera","light":"sun"`)
	for i := range 3 {
		s.Tell("light.metered", `"on":"scene","mode":"reflected","index":3,"f":16,"time_s":8,"session":"pier"`)
		s.Tell("strip.exposed", `"strip":"strip-%d","box":"box-1","on":"scene","f":16,"times_s":[2,4,8,16],"session":"pier"`, i+1)
		s.Tell("strip.read", `"strip":"strip-%d","best":2`, i+1)
	}
	s.Tell("strip.exposed", `"strip":"flash-1","box":"box-1","on":"pre-flash","times_s":[1,2,4,8]`)
	s.Tell("strip.read", `"strip":"flash-1","threshold":3`)
	c := calibrated(t, s.Book(t), "box-1")
	got := indexSaid(t, c, report.Kept{Generation: snapshot.Negative, Light: "sun"})
	assert.Equal(t, 3, got.Sheets)
	assert.InDelta(t, 1, got.OffsetStops.Mean, 0.2, "4 s instead of 8 s: twice as fast")
	require.NotNil(t, c.PreFlash)
	assert.InDelta(t, math.Sqrt(8), c.PreFlash.ThresholdS, 1e-9)
	assert.Equal(t, [2]float64{2, 4}, [2]float64{c.PreFlash.LowS, c.PreFlash.HighS})
	require.Len(t, c.Proposals, 2)
	assert.Equal(t, "sun", c.Proposals[0].Data.Light)
	assert.InDelta(t, 2.83, *c.Proposals[1].Data.ThresholdS, 1e-9)
	for inForce, leave := range map[float64]bool{2.7: true, 1.4: false} {
		s.Lines = append(s.Lines[:len(s.Lines):len(s.Lines)], fmt.Sprintf(`{"kind":"paper.rated","at":"2026-05-02T10:01:30+02:00","data":{"box":"box-1","threshold_s":%v}}`, inForce))
		c := calibrated(t, s.Book(t), "box-1")
		assert.Equal(t, inForce, *c.PreFlash.InForceS)
		assert.Equal(t, leave, c.PreFlash.LeaveIt, "%v", inForce)
		s.Lines = s.Lines[:len(s.Lines)-1]
	}
}

// A factor that brings the exposure right stays.
func TestCalibrateLeavesAFilterFactorThatIsRight(t *testing.T) {
	s := booktest.NewStory()
	s.Box("box-1")
	for n := range 12 {
		s.Judged(n+1, "box-1", 4, 4*float64(1+3*(n%2)), 0)
		if i := len(s.Lines) - 2; n%2 == 1 {
			s.Lines[i] = strings.Replace(s.Lines[i], `"f":8`, `"f":8,"filter":"yellow","filter_factor":4`, 1)
		}
	}
	c := calibrated(t, s.Book(t), "box-1")
	require.Len(t, c.Filters, 1)
	assert.True(t, c.Filters[0].LeaveIt)
	assert.Contains(t, c.Filters[0].Text, "leave the factor at 4")
	assert.Empty(t, c.Proposals)
}

func TestCalibrateFindsAFilterFactorInItsLight(t *testing.T) {
	s := booktest.NewStory()
	s.Box("box-1")
	n := 0
	for range 6 {
		n++
		s.Judged(n, "box-1", 4, 4, 0)
	}
	for range 6 { // given a factor of 2, they ask for one stop more: the factor is 4
		n++
		s.Judged(n, "box-1", 4, 8, 1)
		i := len(s.Lines) - 2
		s.Lines[i] = strings.Replace(s.Lines[i], `"f":8`, `"f":8,"filter":"yellow","filter_factor":2`, 1)
	}
	c := calibrated(t, s.Book(t), "box-1")
	require.Len(t, c.Filters, 1)
	f := c.Filters[0]
	assert.Equal(t, "yellow", f.Filter)
	assert.Equal(t, 2.0, f.InForce)
	assert.InDelta(t, 4, f.Factor.Mean, 0.4)
	assert.False(t, f.LeaveIt)
	assert.Contains(t, f.Text, "you gave 2")
	require.Len(t, c.Proposals, 1)
	assert.InDelta(t, 4, *c.Proposals[0].Data.FilterFactor, 0.4)
	assert.Nil(t, c.Proposals[0].Data.Index)
}

func TestCalibrateReadsTheHandAtTheCap(t *testing.T) {
	s := booktest.NewStory()
	s.Box("box-1")
	s.Tell("session.opened", `"session":"pier","camera":"pier-camera"`)
	for i, off := range []float64{0.1, 0.2, 0.3, 0.2, 0.2, 0.1, 0.3, 0.2} {
		s.Tell("sheet.exposed", `"picture":"2026-%03d","box":"box-1","f":8,"time_s":%v,"planned_s":4`, i+1, 4+off)
	}
	s.Tell("sheet.exposed", `"picture":"2026-020","box":"box-1","f":8,"time_s":4,"planned_s":4`)
	s.Tell("sheet.exposed", `"picture":"2026-021","box":"box-1","f":8,"time_s":9,"planned_s":4`)
	s.Tell("sheet.exposed", `"picture":"2026-022","box":"box-1","f":8,"time_s":4.6,"planned_s":4,"timed":"planned"`)
	s.Tell("sheet.reprinted", `"picture":"2026-001","box":"box-1","f":11,"time_s":19.5,"planned_s":20,"timed":"planned"`)
	booktest.Look(t, s.Book(t), func(snap *snapshot.Snapshot) {
		c, err := calibrate(t, snap, report.CalibrateOptions{})
		require.NoError(t, err)
		require.Len(t, c.Caps, 1)
		h := c.Caps[0]
		assert.Equal(t, "pier-camera", h.Camera)
		assert.Equal(t, 8, h.Presses, "those as planned and the one forgotten are not the cap's")
		assert.Equal(t, 3, h.Same)
		assert.Equal(t, 1, h.Slips)
		assert.InDelta(t, 0.2, h.BiasS.Mean, 1e-3)
		assert.InDelta(t, 0.0756, math.Hypot(h.SDS.Mean, 4*h.Share.Mean), 0.035, "all at one time: the two are hardly parted")
		assert.Contains(t, h.Text, "8 exposures timed, 1 slip left out")
		require.NotNil(t, h.Note)
		assert.Equal(t, "pier-camera", h.Note.About)
		assert.Contains(t, h.Command, "--cap-bias 0.20s")
	})
}

// A hand that scatters otherwise than is said of the camera is told, though on the average it is right.
func TestCalibrateReadsAHandThatOnlyScatters(t *testing.T) {
	s := booktest.NewStory()
	s.Box("box-1")
	planned := []float64{1.5, 3, 6}
	for i := range 24 {
		s.Tell("sheet.exposed", `"picture":"2026-%03d","box":"box-1","f":8,"time_s":%v,"planned_s":%v,"camera":"pier-camera"`, i+1, planned[i%3]+0.6*float64(1-2*(i%2)), planned[i%3])
	}
	booktest.Look(t, s.Book(t), func(snap *snapshot.Snapshot) {
		out, err := calibrate(t, snap, report.CalibrateOptions{})
		require.NoError(t, err)
		require.Len(t, out.Caps, 1)
		assert.InDelta(t, 0, (out.Caps[0].BiasS.Low+out.Caps[0].BiasS.High)/2, 0.01)
		assert.Regexp(t, `^traybook camera describe pier-camera --cap-sd 0\.[56]\ds --cap-bias`, out.Caps[0].Command, out.Caps[0].Text)
	})
}

func TestCalibrateFindsTheDevelopersGrowth(t *testing.T) {
	s := booktest.NewStory()
	s.Box("box-1")
	// 0.0108 m² a sheet, a capacity of 0.108 m²: a tenth a sheet.
	s.Tell("bath.mixed", `"bath":"dev-1","role":"developer","name":"print developer","dilution":"1+9","volume_ml":200,"time_s":60,"capacity_m2":0.108`)
	for i := range 8 {
		s.Judged(i+1, "box-1", 4, 4, 0)
		s.Tell("sheet.developed", `"sheet":"2026-%03dn","bath":"dev-1","time_s":90,"time_of_appearance_s":%v`, i+1, 10*(1+0.4*float64(i)/10))
	}
	c := calibrated(t, s.Book(t), "box-1")
	require.Len(t, c.Development, 1)
	g := c.Development[0]
	assert.Equal(t, "print developer 1+9", g.Developer)
	assert.Equal(t, 8, g.Times)
	assert.InDelta(t, 10, *g.FreshS, 0.01)
	assert.InDelta(t, 0.4, g.Growth.Mean, 0.01)
	assert.Equal(t, 0.5, g.InUse)
}

// What was made stays as it was made: a rating that is applied holds from its day.
func TestApplyingARatingLeavesEarlierPicturesAsTheyWere(t *testing.T) {
	s := booktest.NewStory()
	s.Box("box-1")
	for i := range 8 {
		s.Judged(i+1, "box-1", 4, 4, -1)
		s.Lines[len(s.Lines)-2] = strings.Replace(s.Lines[len(s.Lines)-2], `"f":8`, `"f":8,"light":"sun"`, 1)
	}
	b := s.Book(t)
	histories := func() (out []report.History) {
		booktest.Look(t, b, func(snap *snapshot.Snapshot) {
			for i := range 8 {
				h, err := report.HistoryOf(snap, fmt.Sprintf("2026-%03d", i+1), false)
				require.NoError(t, err)
				out = append(out, h)
			}
		})
		return out
	}
	before := histories()
	require.InDelta(t, 4, *before[0].Picture.Sheets[0].CalledForS, 1e-9)

	at := s.At.Add(time.Hour)
	require.NoError(t, b.Write(func(tx *sqlite.Tx) error {
		c, err := report.Calibrate(snapshot.New(tx, at), report.CalibrateOptions{Box: "box-1"})
		require.NoError(t, err)
		require.Len(t, c.Boxes[0].Proposals, 1)
		_, err = acts.Write(tx, &events.Entry{Kind: events.PaperRated, At: at, Data: c.Boxes[0].Proposals[0].Data, ID: events.ID{7}, RecordedAt: booktest.Recorded}, acts.WriteOptions{})
		return err
	}))
	assert.Equal(t, before, histories(), "earlier acts keep the index they were made with")

	booktest.Look(t, b, func(snap *snapshot.Snapshot) {
		box, err := snap.Box("box-1")
		require.NoError(t, err)
		assert.Equal(t, 6.4, box.PaperFor(at, snapshot.Negative, "", "sun").Index)
		assert.Equal(t, 3.0, box.PaperFor(s.At, snapshot.Negative, "", "sun").Index)
		assert.Equal(t, 3.0, box.PaperFor(at, snapshot.Negative, "", "dusk").Index, "another light was not measured")
		assert.Equal(t, 3.0, box.PaperFor(at, snapshot.Positive, "", "").Index, "the copy was not measured")
		// Once applied there is nothing left to propose: the same sheets now say so of the new index.
		c, err := calibrate(t, snap, report.CalibrateOptions{Box: "box-1"})
		require.NoError(t, err)
		assert.Empty(t, c.Boxes[0].Proposals)
		assert.Contains(t, c.Boxes[0].Index[0].Text, "leave it at 6.4")
	})
}

// A rating for all lights, written later, would cover one that was measured for a light: it is written again behind it.
func TestCalibrateKeepsALightsOwnRating(t *testing.T) {
	s := booktest.NewStory()
	s.Box("box-1")
	own := []string{`,"light":"dusk"`, `,"light":"sun"`, `,"filter":"orange"`, `,"filter":"red"`, `,"filter":"yellow"`} // as they are proposed again
	for i := range own {
		s.Tell("paper.rated", `"box":"box-1","generation":"negative","index":%d%s`, 9-i, own[len(own)-1-i])
	}
	for i := range 8 {
		s.Judged(i+1, "box-1", 4, 4, 1) // no light written: 3 is a stop too fast
	}
	c := calibrated(t, s.Book(t), "box-1")
	require.Len(t, c.Proposals, 1+len(own))
	assert.Equal(t, "", c.Proposals[0].Data.Light)
	assert.InDelta(t, 1.6, *c.Proposals[0].Data.Index, 1e-9)
	for i, p := range c.Proposals[1:] {
		raw, err := json.Marshal(p.Data)
		require.NoError(t, err)
		assert.Contains(t, string(raw), own[i])
		assert.Equal(t, 5.0+float64(i), *p.Data.Index, own[i])
	}
}

// A sheet that cannot tell of the index is left out, and it is said why.
func TestCalibrateSaysWhyASheetIsLeftOut(t *testing.T) {
	const meter = `"on":"scene","mode":"reflected","index":3,"f":8,"time_s":4,"picture":"2026-001"`
	for _, c := range []struct {
		name, why string
		tell      func(s *booktest.Story)
	}{
		{"nothing amiss", "", func(s *booktest.Story) { s.Judged(1, "box-1", 4, 4, 0.5) }},
		{"exposed twice", "exposed more than once", func(s *booktest.Story) {
			s.Tell("light.metered", meter)
			s.Tell("sheet.exposed", `"picture":"2026-001","box":"box-1","f":8,"time_s":4`)
			s.Tell("sheet.exposed", `"picture":"2026-001","sheet":"2026-001n","box":"box-1","f":8,"time_s":4`)
			s.Tell("sheet.judged", `"sheet":"2026-001n","verdict":"keep","stops":0.5`)
		}},
		{"through the filter", "metered through the filter", func(s *booktest.Story) {
			s.Tell("light.metered", meter+`,"filter":"yellow"`)
			s.Tell("sheet.exposed", `"picture":"2026-001","box":"box-1","f":8,"time_s":4,"filter":"yellow"`)
			s.Tell("sheet.judged", `"sheet":"2026-001n","verdict":"keep","stops":0.5`)
		}},
		{"a print of the average", "metered on the whole negative, which leans with the subject", func(s *booktest.Story) {
			s.Tell("sheet.exposed", `"picture":"2026-001","box":"box-2","f":8,"time_s":4`)
			s.Tell("sheet.developed", `"sheet":"2026-001n","bath":"dev-1","time_s":60`)
			s.Tell("light.metered", `"on":"negative","mode":"reflected","index":3,"f":11,"time_s":5,"of":"average","picture":"2026-001"`)
			s.Tell("sheet.reprinted", `"picture":"2026-001","box":"box-1","f":11,"time_s":20`)
			s.Tell("sheet.judged", `"sheet":"2026-001p1","verdict":"redo","symptoms":["too-light"],"stops":1`)
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := booktest.NewStory()
			s.Box("box-1")
			s.Box("box-2")
			s.Tell("bath.mixed", `"bath":"dev-1","role":"developer","name":"Amber","volume_ml":1000,"time_s":60`)
			c.tell(s)
			got := calibrated(t, s.Book(t), "box-1")
			var why []string
			for _, l := range got.LeftOut {
				why = append(why, l.Why)
			}
			if c.why == "" {
				assert.Empty(t, why)
				assert.Equal(t, 1, indexSaid(t, got, negatives).Sheets)
				return
			}
			assert.Contains(t, why, c.why)
		})
	}
}
