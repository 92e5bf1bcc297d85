// Package season writes the demo's season: an invented photographer in an invented harbour town, at work among its
// ferry people from April to August. It lays each act down as a plain event line, with the called-for numbers from the
// arithmetic of the trade and the hand's scatter from a fixed seed. What goes wrong goes wrong in the numbers.
//
// The lines it gives stand in the demo as a file; a test makes them anew and compares.
package season

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"time"

	"traybook/calc"
	"traybook/events"
)

// Zone is the time zone of the town.
const Zone = "Europe/Oslo"

// bench is the photographer's afternoon while it is written down.
type bench struct {
	lines   []string
	now     time.Time
	zone    *time.Location
	hand    *rand.Rand
	err     error
	session string
	year    int
	next    int
	prints  map[string]int
	done    map[string]float64 // seconds that each print was exposed

	papers map[string]*paper
	baths  map[string]*bath
	// In use until another is named.
	box, printBox, developer, fixer string
	rinse                           string
	tempC                           map[string]float64
	sizes                           map[string]float64 // area of each sheet, m²
	reading                         calc.Reading
	light                           string
}

type paper struct {
	base              string
	widthMM, heightMM float64
	index, printIndex float64
	isoR              float64
	developS, fixS, p float64
	dmax              float64
	filter            map[string]float64
	sheetArea         float64
}

type bath struct {
	role                                   string
	timeS, tempC, q10, capacity, treatedM2 float64
	seen                                   map[string]bool
}

func newBench() *bench {
	zone, err := time.LoadLocation(Zone)
	b := &bench{zone: zone, err: err, hand: rand.New(rand.NewPCG(1867, 4)), year: 2026, next: 1, prints: map[string]int{}, done: map[string]float64{},
		papers: map[string]*paper{}, baths: map[string]*bath{}, tempC: map[string]float64{}, sizes: map[string]float64{}}
	return b
}

// on sets the clock to a day and minute.
func (b *bench) on(stamp string) {
	t, err := time.ParseInLocation("2006-01-02 15:04", stamp, b.zone)
	b.fail(err)
	b.now = t
}

// after lets minutes pass, and some seconds, so that no two acts fall together.
func (b *bench) after(minutes float64) {
	b.now = b.now.Add(time.Duration(minutes*60)*time.Second + time.Duration(b.hand.IntN(20))*time.Second)
}

func (b *bench) fail(err error) {
	if b.err == nil && err != nil {
		b.err = fmt.Errorf("line %d: %w", len(b.lines)+1, err)
	}
}

// write puts one act down and gives the id that the book will make for the line.
func (b *bench) write(d events.Data) string {
	id, err := events.MadeID(d.Kind(), b.now, d)
	b.fail(err)
	b.fail(events.Validate(d))
	var data bytes.Buffer
	enc := json.NewEncoder(&data)
	enc.SetEscapeHTML(false)
	b.fail(enc.Encode(d))
	b.lines = append(b.lines, fmt.Sprintf(`{"kind":%q,"at":%q,"zone":%q,"data":%s}`,
		string(d.Kind()), events.FormatTime(b.now), Zone, bytes.TrimSpace(data.Bytes())))
	return id.String()
}

func (b *bench) carried() events.Carried {
	return events.Carried{Session: b.session, Camera: camera}
}

func num(v float64) *float64 { return &v }

func count(n int) *int { return &n }

// digits rounds to as many digits that count as a person writes.
func digits(v float64, n int) float64 {
	r, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'g', n, 64), 64)
	return r
}

// scatter is the hand at the cap: seconds off, one standard deviation a tenth of a second, written to a tenth.
func (b *bench) scatter(t float64) float64 {
	return max(0.1, math.Round((t+b.hand.NormFloat64()*0.07)*10)/10)
}

// uses notes a sheet in a bath and gives the share of its capacity used before it.
func (b *bench) uses(name, sheet string) float64 {
	x := b.baths[name]
	used := 0.0
	if x.capacity > 0 {
		used = x.treatedM2 / x.capacity
	}
	if !x.seen[sheet] {
		x.seen[sheet] = true
		x.treatedM2 += b.sizes[sheet]
	}
	return used
}

// calledFor is the time that a bath calls for, for a paper's own time or the bath's.
func (b *bench) calledFor(name, sheet string, own float64) float64 {
	x := b.baths[name]
	nominal, at := x.timeS, x.tempC
	if own > 0 {
		nominal, at = own, 20
	}
	temp, tested := b.tempC[name]
	if !tested {
		temp = x.tempC
	}
	call := calc.BathCall{Fixer: x.role == "fixer", NominalS: nominal, NominalC: at, TempC: temp, Q10: x.q10, Used: b.uses(name, sheet)}
	t, _, err := call.Time()
	b.fail(err)
	return t
}
