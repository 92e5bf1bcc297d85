package report_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/projections/booktest"
)

// eyeAsks is what a sheet asks for in a simulation of its own: light that falls on a paper whose speed is off by so many
// stops, judged by an eye that scatters by 0.3 stop.
func eyeAsks(rng *rand.Rand, offset, calledS, reachedS float64) float64 {
	return math.Log2(calledS) - offset - math.Log2(reachedS) + 0.3*rng.NormFloat64()
}

// holds counts in how many books of a habit of work the stated interval holds the truth.
func holds(t *testing.T, books int, book func(rng *rand.Rand, s *booktest.Story, box string, offset float64)) (held int) {
	rng := rand.New(rand.NewPCG(uint64(books), 11))
	s := booktest.NewStory()
	s.Tell("camera.described", `"camera":"pier-camera","focal_mm":180,"f_widest":5.6,"f_smallest":45,"cap_bias_s":0.3`)
	s.Tell("session.opened", `"session":"pier","camera":"pier-camera"`)
	var truths []float64
	for i := range books {
		truths = append(truths, 0.6*rng.NormFloat64())
		box := fmt.Sprintf("lot-%d", i+1)
		s.Box(box)
		book(rng, s, box, truths[i])
	}
	b := s.Book(t)
	for i, offset := range truths {
		c := indexSaid(t, calibrated(t, b, fmt.Sprintf("lot-%d", i+1)), negatives)
		require.NotNil(t, c.OffsetStops, c.Text)
		assert.Equal(t, 0.95, c.Confidence)
		if c.OffsetStops.Low <= offset && offset <= c.OffsetStops.High {
			held++
		}
	}
	return held
}

// One number runs through the pictures of all boxes.
type counter int

func (c *counter) next() int { *c++; return int(*c) }

// In each habit of work that calibrate sees through its 95 % interval must hold the truth in 95 of 100 books: fewer than 52
// of 60 come by chance with a probability of 0.003 (binomial).
func TestTheIntervalHoldsInEachHabit(t *testing.T) {
	const books, atLeast = 60, 52
	n := counter(0)
	expose := func(s *booktest.Story, box string, calledS, typedS float64) int {
		k := n.next()
		s.Tell("light.metered", `"on":"scene","mode":"reflected","index":3,"f":8,"time_s":%v,"picture":"2026-%03d","session":"pier"`, calledS, k)
		s.Tell("sheet.exposed", `"picture":"2026-%03d","box":%q,"f":8,"time_s":%v,"session":"pier"`, k, box, typedS)
		return k
	}
	for name, habit := range map[string]func(rng *rand.Rand, s *booktest.Story, box string, offset float64){
		"every sheet judged, the cap's bias described": func(rng *rand.Rand, s *booktest.Story, box string, offset float64) {
			for range 12 {
				called := 0.4 + 0.5*rng.Float64()
				k := expose(s, box, called, called)
				s.Tell("sheet.judged", `"sheet":"2026-%03dn","verdict":"keep","stops":%v`, k, eyeAsks(rng, offset, called, called+0.3+0.1*rng.NormFloat64()))
			}
		},
		"what passes is kept without a word": func(rng *rand.Rand, s *booktest.Story, box string, offset float64) {
			for range 12 {
				called := 0.5 + 0.2*rng.Float64()
				k := expose(s, box, called, called-0.3)
				if asks := eyeAsks(rng, offset, called, called); math.Abs(asks) < 0.5 {
					s.Tell("sheet.judged", `"sheet":"2026-%03dn","verdict":"keep"`, k)
				} else {
					s.Tell("sheet.judged", `"sheet":"2026-%03dn","verdict":"redo","stops":%v`, k, asks)
				}
			}
		},
	} {
		n = 0
		t.Run(name, func(t *testing.T) {
			held := holds(t, books, habit)
			t.Logf("held in %d of %d", held, books)
			assert.GreaterOrEqual(t, held, atLeast)
		})
	}
}

// Sheets that want more and more as the bath ages are told as such; sheets that only scatter are not, but for chance.
func TestADriftWithTheBathIsTold(t *testing.T) {
	const books, sheets = 40, 16
	rng := rand.New(rand.NewPCG(40, 16))
	told := map[float64]int{}
	for _, drift := range []float64{0, 1.5} {
		s := booktest.NewStory()
		n := 0
		for i := range books {
			box, bath := fmt.Sprintf("lot-%d", i+1), fmt.Sprintf("dev-%d", i+1)
			s.Box(box)
			s.Tell("bath.mixed", `"bath":%q,"role":"developer","name":"print developer","volume_ml":1000,"time_s":60,"capacity_m2":0.2`, bath)
			for j := range sheets {
				n++
				used := float64(j) * 0.0108 / 0.2
				s.Tell("light.metered", `"on":"scene","mode":"reflected","index":3,"f":8,"time_s":1,"picture":"2026-%03d"`, n)
				s.Tell("sheet.exposed", `"picture":"2026-%03d","box":%q,"f":8,"time_s":1,"planned_s":1.01`, n, box)
				s.Tell("sheet.developed", `"sheet":"2026-%03dn","bath":%q,"time_s":%v`, n, bath, math.Round(60*(1+0.5*used)))
				s.Tell("sheet.judged", `"sheet":"2026-%03dn","verdict":"redo","stops":%v`, n, eyeAsks(rng, 0, 1, 1)+drift*used)
			}
		}
		b := s.Book(t)
		for i := range books {
			c := indexSaid(t, calibrated(t, b, fmt.Sprintf("lot-%d", i+1)), negatives)
			for _, l := range c.Leans {
				if l.With == "area in the bath" && l.Stops > 0 {
					told[drift]++
					assert.Regexp(t, `from the least to the most area in the bath they ask for \+[\d.]+ stops?: that is not the paper's`, c.Text)
				}
			}
		}
	}
	t.Logf("told %v", told)
	assert.GreaterOrEqual(t, told[1.5], 36, "of 40")
	assert.LessOrEqual(t, told[0], 2, "of 40")
}

// Short times that were counted tell a late cap and a fast paper alike, and the strip of long times is named that parts them.
func TestALongCapAndAFastPaperAreNotParted(t *testing.T) {
	s := booktest.NewStory()
	s.Box("box-1")
	s.Box("box-2")
	s.Box("box-3")
	for i := range 8 {
		s.Judged(i+1, "box-1", 0.8, 0.8, -0.5)
		s.Judged(i+11, "box-2", 8, 8, -0.5)
		s.Judged(i+21, "box-3", 0.2+0.1*float64(i), 0.2+0.1*float64(i), -0.5)
	}
	b := s.Book(t)
	short := indexSaid(t, calibrated(t, b, "box-1"), negatives)
	assert.True(t, short.CapOrPaper)
	assert.Contains(t, short.Text, "a cap that stays off longer than it is counted would show alike: make the strip of long times first")
	require.NotNil(t, short.NextStrip)
	assert.GreaterOrEqual(t, short.NextStrip.TimesS[2], 8.0)
	assert.False(t, indexSaid(t, calibrated(t, b, "box-2"), negatives).CapOrPaper, "no hand is seconds late")
	assert.False(t, indexSaid(t, calibrated(t, b, "box-3"), negatives).CapOrPaper, "times that lie apart part them")
}
