package timer

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

var noon = time.Date(2026, 5, 3, 12, 0, 0, 0, time.UTC)

// after is a moment so long after noon by both clocks.
func after(d time.Duration) Moment { return Moment{Run: time.Hour + d, Wall: noon.Add(d)} }

const sec = time.Second

// beatsOf asks a timer at every beat that it announces up to an end, and gives when which beat came.
func beatsOf(t *testing.T, x interface {
	Beats(Moment) []Beat
	Next(Moment) (time.Duration, bool)
}, from, to time.Duration) (at []time.Duration, kinds []Beat) {
	t.Helper()
	now := from
	for range 500 {
		for _, b := range x.Beats(after(now)) {
			at, kinds = append(at, now), append(kinds, b)
		}
		wait, ok := x.Next(after(now))
		if !ok || now+wait > to {
			return at, kinds
		}
		now += wait
	}
	require.Fail(t, "the beats have no end")
	return nil, nil
}

func TestCapCountsInAndBeats(t *testing.T) {
	c := NewCap(2.5)
	assert.Equal(t, Face{Big: "2.5", Word: "ready", Line: "planned 2.5"}, c.Face(after(0)))
	c.Press(Go, after(0))
	at, kinds := beatsOf(t, c, 0, 8*sec)
	assert.Equal(t, []time.Duration{0, sec, 2 * sec, 3 * sec, 4 * sec, 5 * sec, 5500 * time.Millisecond, 6 * sec, 7 * sec, 8 * sec}, at)
	assert.Equal(t, []Beat{Count, Count, Count, Start, Second, Second, End, Over, Over, Over}, kinds)
	assert.Equal(t, "CAP ON", c.Face(after(6*sec)).Word)
	c.Press(Go, after(8*sec))
	assert.Equal(t, &Taken{S: 2.5, How: Planned, Began: noon.Add(3 * sec), PlannedS: 2.5}, c.Taken())
}

func TestCapBeatsWhereThePlanIsAWholeSecond(t *testing.T) {
	c := NewCap(2)
	c.Press(Go, after(0))
	_, kinds := beatsOf(t, c, 0, 6*sec)
	assert.Equal(t, []Beat{Count, Count, Count, Start, Second, End, Over}, kinds)
}

func TestCapIsCorrectedByTheTenth(t *testing.T) {
	for _, c := range []struct {
		name    string
		presses []Press
		want    float64
	}{
		{"as planned", nil, 4}, {"more", []Press{More, More, More}, 4.3}, {"less", []Press{Less}, 3.9}, {"there and back", []Press{More, Less}, 4},
	} {
		t.Run(c.name, func(t *testing.T) {
			x := NewCap(4)
			x.Press(Go, after(0))
			for _, p := range c.presses {
				x.Press(p, after(7*sec))
			}
			x.Press(Go, after(9*sec))
			require.NotNil(t, x.Taken())
			assert.Equal(t, c.want, x.Taken().S)
			assert.Equal(t, Planned, x.Taken().How)
		})
	}
}

func TestCapIsNotCorrectedBelowNothing(t *testing.T) {
	c := NewCap(0.2)
	c.Press(Go, after(0))
	for range 5 {
		c.Press(Less, after(4*sec))
	}
	c.Press(Go, after(5*sec))
	assert.Equal(t, 0.1, c.Taken().S)
}

func TestCapEndedBeforeItsTimeIsAsked(t *testing.T) {
	c := NewCap(4)
	c.Press(Go, after(0))
	c.Press(Go, after(5620*time.Millisecond))
	require.Nil(t, c.Taken(), "a press too early is not taken for the plan")
	assert.True(t, c.Asked())
	assert.Equal(t, "is that what was done?", c.Face(after(6*sec)).Word)
	c.Press(More, after(6*sec))
	c.Press(Done, after(7*sec))
	assert.Equal(t, 2.7, c.Taken().S)
	assert.Equal(t, Measured, c.Taken().How, "what was cut short was not done as planned")
}

// A wet key that is pressed twice ends nothing: it is asked about, and the clock goes on from the first press.
func TestAnOddTimeIsAskedAbout(t *testing.T) {
	for _, c := range []struct {
		name  string
		timer interface {
			Press(Press, Moment)
			Taken() *Taken
			Asked() bool
			Running() bool
		}
		end time.Duration
		odd bool
	}{
		{"a double press in a tray", NewBath(111, 10), 785 * time.Millisecond, true},
		{"just under a third", NewBath(90, 10), 30*sec - 1, true},
		{"a third", NewBath(90, 10), 30 * sec, false},
		{"three times", NewBath(90, 10), 270 * sec, false},
		{"over three times", NewBath(90, 10), 270*sec + 1, true},
		{"nothing called for", NewBath(0, 10), 2 * sec, false},
		{"nothing called for, and no hand is so quick", NewBath(0, 10), 300 * time.Millisecond, true},
		{"a double press at the cap", NewCap(0), 300 * time.Millisecond, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.timer.Press(Go, after(0))
			c.timer.Press(Go, after(c.end))
			require.Equal(t, c.odd, c.timer.Asked())
			if !c.odd {
				assert.InDelta(t, c.end.Seconds(), c.timer.Taken().S, 0.001)
				return
			}
			require.Nil(t, c.timer.Taken())
			assert.True(t, c.timer.Running(), "it counts on")
			c.timer.Press(Go, after(c.end+sec))
			assert.False(t, c.timer.Asked())
			c.timer.Press(Go, after(100*sec))
			assert.Equal(t, 100.0, taken(c.timer), "from the first press")
		})
	}
	b := NewBath(111, 10)
	b.Press(Go, after(0))
	b.Press(Go, after(785*time.Millisecond))
	b.Press(Done, after(9*sec))
	assert.Equal(t, 0.785, b.Taken().S, "as it was when the key was pressed")
	for _, long := range []time.Duration{sec, 13 * sec} {
		m := NewCap(4)
		m.Press(Measure, after(0))
		m.Press(Measure, after(long))
		require.True(t, m.Asked(), long)
		m.Press(Go, after(long+sec))
		at, kinds := beatsOf(t, m, long+sec, long+2*sec)
		assert.Equal(t, []time.Duration{long + 2*sec}, at, "what fell due while it was asked is over: %v", kinds)
		m.Press(Measure, after(4*sec+long/2))
		if m.Asked() {
			m.Press(Done, after(20*sec))
		}
		assert.Equal(t, (4*sec + long/2).Seconds(), m.Taken().S)
	}
}

// taken ends a timer that may ask again, and gives its time.
func taken(x interface {
	Press(Press, Moment)
	Taken() *Taken
	Asked() bool
}) float64 {
	if x.Asked() {
		x.Press(Done, after(0))
	}
	return x.Taken().S
}

// A clock that began in another process goes on from its first press, and what fell due before is over.
func TestAClockIsTakenUp(t *testing.T) {
	b := ResumeBath(60, 10, noon, after(25*sec))
	assert.True(t, b.Running())
	at, kinds := beatsOf(t, b, 25*sec, 62*sec)
	assert.Equal(t, []time.Duration{30 * sec, 40 * sec, 50 * sec, 55 * sec, 56 * sec, 57 * sec, 58 * sec, 59 * sec, 60 * sec}, at)
	assert.Equal(t, []Beat{Rock, Rock, Rock, Near, Near, Near, Near, Near, End}, kinds)
	b.Press(Go, after(61500*time.Millisecond))
	assert.Equal(t, &Taken{S: 61.5, How: Measured, Began: noon, PlannedS: 60}, b.Taken())

	c := ResumeCap(4, true, noon, after(2500*time.Millisecond))
	assert.True(t, c.CountsIn())
	at, kinds = beatsOf(t, c, 2500*time.Millisecond, 8*sec)
	assert.Equal(t, []time.Duration{3 * sec, 4 * sec, 5 * sec, 6 * sec, 7 * sec, 8 * sec}, at)
	assert.Equal(t, []Beat{Start, Second, Second, Second, End, Over}, kinds)
	c = ResumeCap(4, true, noon, after(65*sec))
	assert.Equal(t, "CAP ON", c.Face(after(65*sec)).Word)
	assert.Equal(t, "1:02", c.Face(after(65*sec)).Big)
	at, _ = beatsOf(t, c, 65*sec, 66*sec)
	assert.Equal(t, []time.Duration{66 * sec}, at)
	c.Press(Go, after(66*sec))
	assert.Equal(t, &Taken{S: 4, How: Planned, Began: noon.Add(3 * sec), PlannedS: 4}, c.Taken())
	c = ResumeCap(4, false, noon, after(5*sec))
	assert.True(t, c.Measuring())
	c.End(noon.Add(4500 * time.Millisecond))
	assert.Equal(t, 4.5, c.Taken().S)

	behind := ResumeBath(60, 0, noon.Add(time.Hour), after(0))
	behind.Press(Go, after(30*sec))
	assert.Equal(t, 30.0, behind.Taken().S, "where this clock is behind the one that was pressed by, it begins now")
}

func TestTwoPressesMeasure(t *testing.T) {
	for _, plan := range []float64{0, 4} { // no odd time of it
		c := NewCap(plan)
		c.Press(Measure, after(sec))
		c.Press(Measure, after(5*sec+137*time.Millisecond))
		assert.Equal(t, &Taken{S: 4.137, How: Measured, Began: noon.Add(sec), PlannedS: plan}, c.Taken())
	}
	c := NewCap(0)
	c.Press(Go, after(0))
	c.Press(Go, after(1500*time.Millisecond))
	assert.Equal(t, 1.5, c.Taken().S, "without a plan there is no count-in")
}

func TestMeasuringIsExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		start := time.Duration(rapid.Int64Range(0, 1e12).Draw(t, "start"))
		long := time.Duration(rapid.Int64Range(1e6, 1e12).Draw(t, "long"))
		c := NewCap(0)
		c.Press(Measure, after(start))
		for _, look := range rapid.SliceOfN(rapid.Int64Range(0, int64(long)), 0, 20).Draw(t, "looks") {
			c.Beats(after(start + time.Duration(look)))
			c.Face(after(start + time.Duration(look)))
		}
		c.Press(Go, after(start+long))
		if got := c.Taken().S; got != milli(long.Seconds()) {
			t.Fatalf("%v measured as %v", long, got)
		}
	})
}

func TestBathCountsDownRocksAndRunsOver(t *testing.T) {
	b := NewBath(32, 10)
	b.Press(Go, after(0))
	at, kinds := beatsOf(t, b, 0, 45*sec)
	assert.Equal(t, []Beat{Start, Rock, Rock, Near, Near, Near, Near, Near, End, Over}, kinds)
	assert.Equal(t, []time.Duration{0, 10 * sec, 20 * sec, 27 * sec, 28 * sec, 29 * sec, 30 * sec, 31 * sec, 32 * sec, 42 * sec}, at)
	assert.Equal(t, "12.0", b.Face(after(20*sec)).Big)
	over := b.Face(after(45 * sec))
	assert.Equal(t, "+13.0", over.Big)
	assert.Contains(t, over.Line, "over it by 13.0")
	b.Press(Go, after(45*sec+250*time.Millisecond))
	assert.Equal(t, &Taken{S: 45.25, How: Measured, Began: noon, PlannedS: 32}, b.Taken())
	assert.Equal(t, 13.25, b.Taken().OverS())
}

func TestBathWithoutATimeCountsUp(t *testing.T) {
	b := NewBath(0, 10)
	b.Press(Go, after(0))
	_, kinds := beatsOf(t, b, 0, 25*sec)
	assert.Equal(t, []Beat{Start, Rock, Rock}, kinds)
	assert.Equal(t, "25.0", b.Face(after(25*sec)).Big)
}

// A sheet goes on lying in the bath while the machine sleeps; the running clock stands still then.
func TestASleepIsNoticed(t *testing.T) {
	b := NewBath(60, 0)
	b.Press(Go, after(0))
	b.Beats(after(20 * sec))
	woke := Moment{Run: time.Hour + 21*sec, Wall: noon.Add(91 * sec)}
	assert.Contains(t, b.Face(woke).Line, "slept 1:10")
	assert.Equal(t, "+31.0", b.Face(woke).Big)
	b.Press(Go, woke)
	assert.Equal(t, 70*sec, b.Taken().Slept)
	assert.Equal(t, 91.0, b.Taken().S)

	c := NewCap(0)
	c.Press(Measure, after(0))
	c.Press(Measure, Moment{Run: time.Hour + 4*sec, Wall: noon.Add(4*sec + 900*time.Millisecond)})
	assert.Zero(t, c.Taken().Slept, "clocks drift a little")
	assert.Equal(t, 4.0, c.Taken().S)

	c = NewCap(0)
	c.Press(Measure, after(0))
	c.Press(Measure, Moment{Run: time.Hour + 4*sec, Wall: noon.Add(-56 * sec)})
	assert.Equal(t, 60*sec, c.Taken().SetBack)
	assert.Equal(t, 4.0, c.Taken().S, "a clock that is set back shortens nothing")
}

func TestFigures(t *testing.T) {
	assert.Len(t, Big("12:34.5", 60, 0), 5)
	assert.Equal(t, []string{"12:34.5"}, Big("12:34.5", 20, 0), "what has no room stands as it is")
	assert.Equal(t, []string{"x"}, Big("x", 60, 0))
	assert.Equal(t, "#####     #   #", Big("4.0", 60, '#')[2])
	for _, d := range []struct {
		d    time.Duration
		want string
	}{{0, "0.0"}, {3990 * time.Millisecond, "3.9"}, {59*sec + 990*time.Millisecond, "59.9"}, {90 * sec, "1:30"}, {-90 * sec, "-1:30"}, {3725 * sec, "1:02:05"}} {
		assert.Equal(t, d.want, Show(d.d))
	}
}
