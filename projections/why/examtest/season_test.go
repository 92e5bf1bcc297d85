package examtest

import (
	"cmp"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"time"
)

// box is a box of paper: what is written of it, and by how much its speed truly differs.
type box struct {
	name   string
	index  float64
	paper  stock
	off    float64 // stops, + = faster than its index says
	base   string
	factor map[string]float64 // of its filters, as measured

	expires string // its date; "" = years ahead
}

// fault is one thing done otherwise, on the negative or the print, with a size in the unit of its kind.
type fault struct {
	kind  string
	sheet byte
	size  float64
}

// shot is one picture: what is true of it, what goes wrong with it, what is left unwritten, and every throw of the dice, so
// that it can be made again without one of its faults.
type shot struct {
	name   string
	at     time.Time
	box    *box
	other  *box // the one it was planned for
	ev     float64
	f      float64
	mm     float64
	filter string
	factor float64
	stray  float64 // a factor written though no filter was fitted
	faults []fault
	unseen float64 // stops of light that nobody wrote down
	shared lasting // what it shares with others
	print  bool
	read   bool // the negative was read for its print

	meter, cap, capS, plan, devN, batch, eye map[byte]float64
	tempC                                    map[byte]float64
	hide                                     map[string]bool
	judgeN                                   bool
}

func (s *shot) has(kind string, sheet byte) *fault {
	for i := range s.faults {
		if s.faults[i].kind == kind && (s.faults[i].sheet == sheet || sheet == 0) {
			return &s.faults[i]
		}
	}
	return nil
}

// photographer is one hand: by what share of a time and by how many seconds it is off, its meter, its eye.
type photographer struct {
	share, constS, meter, paper, bath, eye float64
}

// made is one sheet as it came out.
type made struct {
	f, t, planF, planT    float64
	readF, readT, readIdx float64
	zone                  float64
	calledT               float64 // of the whole recipe, by the book's index
	devT, devC, fixT      float64
	washes                int
	x                     float64 // stops over what the paper wanted
	veil, fog, r          float64
	mid, dark, light      float64
	off                   float64 // stops darker than it should be, to the eye
	stains                []string
	used                  float64
}

const nominal = 60.0

func two(v float64) float64 {
	if v <= 0 {
		return v
	}
	g := math.Pow(10, math.Floor(math.Log10(v))-1)
	return math.Round(v/g) * g
}

// make runs a picture without the faults that skip names.
func (ph *photographer) make(s *shot, skip func(fault) bool) (neg, pos made) {
	fired := func(kind string, sheet byte) *fault {
		if f := s.has(kind, sheet); f != nil && (skip == nil || !skip(*f)) {
			return f
		}
		return nil
	}
	neg = ph.sheet(s, 'n', s.ev, s.ev, fired)
	if !s.print {
		return neg, pos
	}
	light := 7.6
	if s.read {
		light -= (neg.mid - 0.68) * math.Log2(10)
	}
	patch := light
	if s.has("average-misread", 'p') != nil { // the clear base of this negative, which no mid-tone moves
		patch = 7.6 - (neg.dark-0.68)*math.Log2(10)
	}
	pos = ph.sheet(s, 'p', light, patch, fired)
	mid := neg.mid
	if !s.read {
		mid = 0.68 // what the copy is usually timed for
	}
	tone := func(d float64) float64 { return s.box.paper.print(d, mid, pos.x, pos.veil, pos.r, pos.fog) }
	pos.mid, pos.dark, pos.light = tone(neg.mid), tone(neg.dark), tone(neg.light)
	pos.off = s.box.paper.off(pos.mid)
	return neg, pos
}

func (ph *photographer) sheet(s *shot, sheet byte, light, patch float64, fired func(string, byte) *fault) made {
	m := made{readF: 8, planF: s.f}
	mag := 0.0
	if s.mm > 0 {
		mag = 180 / (s.mm - 180)
	}
	filter, trueFilter := 1.0, 1.0
	if sheet == 'p' {
		m.readF, m.planF, mag = 11, 11, 1
	} else if s.filter != "" {
		filter, trueFilter = s.factor, s.factor
	}
	ext := (1 + mag) * (1 + mag)

	index := s.box.index
	m.readIdx = index
	if f := fired("meter-at-wrong-index", sheet); f != nil {
		m.readIdx = index * f.size
	}
	if s.has("average-misread", sheet) != nil {
		m.zone = s.box.paper.black()
	}
	read := patch + ph.meter*s.meter[sheet]
	m.readT = m.readF * m.readF
	m.readT = exact(m.readF) * exact(m.readF) / (math.Exp2(read) * m.readIdx / 100)
	aperture := math.Pow(exact(m.planF)/exact(m.readF), 2)
	recipe := func(index, ext, filter, zone, p float64) float64 {
		t := m.readT * m.readIdx / index * aperture * ext * filter * math.Exp2(zone)
		if t > 1 {
			t = math.Pow(t, 1/p)
		}
		return t
	}
	m.calledT = recipe(index, ext, filter, m.zone, s.box.paper.p)
	pIndex, pExt, pFilter, pZone, pP := index, ext, filter, m.zone, s.box.paper.p
	if fired("meter-at-wrong-index", sheet) != nil {
		pIndex = m.readIdx
	}
	if fired("average-misread", sheet) != nil {
		pZone = 0
	}
	if fired("bellows-factor-forgotten", sheet) != nil {
		pExt = 1
	}
	if fired("bellows-factor-twice", sheet) != nil {
		pExt = ext * ext
	}
	if fired("filter-factor-forgotten", sheet) != nil {
		pFilter = 1
	}
	if fired("filter-factor-without-filter", sheet) != nil {
		pFilter = s.stray
	}
	if fired("reciprocity-forgotten", sheet) != nil {
		pP = 1
	}
	if fired("wrong-paper", sheet) != nil {
		pIndex = s.other.index
	}
	m.planT = two(recipe(pIndex, pExt, pFilter, pZone, pP) * math.Exp2(0.04*s.plan[sheet]))
	m.f = m.planF
	if f := fired("wrong-aperture", sheet); f != nil {
		m.f = mark(m.planF, f.size)
	}
	t := m.planT
	if f := fired("cap-mistimed", sheet); f != nil {
		t *= math.Exp2(f.size)
	}
	m.t = math.Max(0.2, math.Round(10*(t*(1+ph.share*s.cap[sheet])+ph.constS*s.capS[sheet]))/10)

	now := light
	if f := fired("light-changed", sheet); f != nil {
		now += f.size
	}
	if sheet == 'n' {
		now += s.unseen
	}
	given := m.t
	if given > 1 {
		given = math.Pow(given, s.box.paper.p)
	}
	m.x = math.Log2(given) + now + math.Log2(index/100) + s.box.off + ph.paper*s.batch[sheet] -
		2*math.Log2(exact(m.f)) - math.Log2(ext*trueFilter) - s.shared.slow

	// development
	m.devC = s.tempC[sheet]
	age := 1.0
	if f := fired("developer-cold", sheet); f != nil {
		m.devC = f.size
	}
	if f := fired("developer-warm", sheet); f != nil {
		m.devC = f.size
	}
	if fired("developer-exhausted", sheet) != nil {
		m.used = 1.4
	}
	if f := fired("developer-old", sheet); f != nil {
		age = 1 + f.size
	}
	planC := m.devC
	if fired("developer-cold", sheet) != nil || fired("developer-warm", sheet) != nil {
		planC = 20
	}
	m.devT = math.Round(nominal * math.Exp2((20-planC)/10) * (1 + 0.05*s.devN[sheet]))
	if f := fired("under-developed", sheet); f != nil {
		m.devT = math.Round(m.devT * f.size)
	}
	if f := fired("over-developed", sheet); f != nil {
		m.devT = math.Round(m.devT * f.size)
	}
	m.r = ratio(m.devT, nominal, m.devC, m.used, age) * math.Exp2(ph.bath*s.batch[sheet])
	if f := fired("over-flashed", sheet); f != nil {
		m.veil = f.size
	}
	if f := fired("light-leak", sheet); f != nil {
		m.fog = f.size
	}
	m.fog += s.shared.fog[sheet]
	m.mid, m.dark, m.light = s.box.paper.negative(m.x, m.veil, m.r, m.fog)
	m.off = s.box.paper.off(m.mid)

	m.fixT, m.washes = 60, 12
	if s.box.base == "rc" {
		m.washes = 5
	}
	if f := fired("under-fixed", sheet); f != nil {
		m.fixT = math.Round(60 * f.size)
		m.stains = append(m.stains, pick(f.size, "milky", "yellow-stain"))
	}
	if fired("under-washed", sheet) != nil {
		m.washes = 1
		m.stains = append(m.stains, "faded")
	}
	if m.fog > 0.05 || m.veil >= 1 {
		m.stains = append(m.stains, "grey-fog")
	}
	m.stains = append(m.stains, s.shared.contrast(s, sheet, m)...)
	if m.used > 1 || age > 1.5 && m.r < 0.6 {
		m.stains = append(m.stains, "yellow-stain")
	}
	return m
}

func pick(v float64, a, b string) string {
	if math.Mod(v*1000, 2) < 1 {
		return a
	}
	return b
}

// mark is the engraved f-number so many stops wider (+) or narrower (−).
func mark(f, stops float64) float64 {
	marks := []float64{4, 5.6, 8, 11, 16, 22, 32, 45}
	at := slices.Index(marks, f) - int(math.Round(stops))
	return marks[min(len(marks)-1, max(0, at))]
}

// judged is what the eye says of one sheet.
type judged struct {
	verdict  string
	symptoms []string
	stops    *float64
	off      float64
}

// look is the eye: what it asks for scatters, what is less than it minds is kept.
func (ph *photographer) look(s *shot, sheet byte, m made) judged {
	asked := -m.off + ph.eye*s.eye[sheet]
	j := judged{verdict: "keep", off: m.off}
	if math.Abs(asked) > 0.4 {
		j.verdict = "redo"
		word := "too-light"
		if asked < 0 {
			word = "too-dark"
		}
		if sheet == 'n' && s.hide["thin"] {
			word = map[string]string{"too-light": "thin", "too-dark": "dense"}[word]
		}
		j.symptoms = append(j.symptoms, word)
		if !s.hide["size"] {
			v := math.Round(asked*10) / 10
			j.stops = &v
		}
	}
	for _, x := range m.stains {
		j.verdict = "redo"
		if !slices.Contains(j.symptoms, x) {
			j.symptoms = append(j.symptoms, x)
		}
	}
	return j
}

// season is a book in lines, and what is true of its pictures.
type season struct {
	ph    photographer
	boxes []*box
	shots []*shot
	dayC  float64
	lines []string
	late  []string
	tempC map[string]float64 // that was last written of a bath
}

func (se *season) line(at time.Time, kind string, data map[string]any) {
	for k, v := range data {
		if v == nil {
			delete(data, k)
		}
	}
	raw, _ := json.Marshal(data)
	se.lines = append(se.lines, fmt.Sprintf(`{"kind":%q,"at":%q,"data":%s}`, kind, at.Format("2006-01-02T15:04:05-07:00"), raw))
}

// The kinds of fault that a log can show.
var kinds = []string{
	"wrong-aperture", "cap-mistimed", "bellows-factor-forgotten", "bellows-factor-twice", "meter-at-wrong-index", "filter-factor-forgotten",
	"filter-factor-without-filter", "reciprocity-forgotten", "wrong-paper", "average-misread", "light-changed",
	"under-developed", "over-developed", "developer-cold", "developer-warm", "developer-exhausted", "developer-old",
	"over-flashed", "light-leak", "under-fixed", "under-washed",
}

// dice throws for a season.
type dice struct{ *rand.Rand }

func (d dice) between(a, b float64) float64 { return a + (b-a)*d.Float64() }
func (d dice) chance(p float64) bool        { return d.Float64() < p }
func (d dice) sign() float64 {
	if d.chance(0.5) {
		return 1
	}
	return -1
}

// size throws a fault's size where the picture allows it; ok is false where it does not.
func (d dice) fault(s *shot, kind string) (f fault, ok bool) {
	f = fault{kind: kind, sheet: 'n'}
	if s.print && d.chance(0.45) {
		f.sheet = 'p'
	}
	neg := f.sheet == 'n'
	switch kind {
	case "wrong-aperture":
		f.size = float64(1+d.IntN(3)) * d.sign()
		if d.chance(0.5) {
			f.size = d.sign()
		}
		from := 11.0
		if neg {
			from = s.f
		}
		return f, mark(from, f.size) != from
	case "cap-mistimed":
		f.size = d.between(0.4, 2) * d.sign()
	case "bellows-factor-forgotten", "bellows-factor-twice":
		return f, !neg && s.read || neg && s.mm < 1100
	case "meter-at-wrong-index":
		f.size = []float64{0.5, 2, 4, 8, 1.6, 100 / s.box.index}[d.IntN(6)]
		return f, neg || s.read
	case "filter-factor-forgotten":
		f.sheet = 'n'
		return f, s.filter != ""
	case "filter-factor-without-filter":
		f.sheet = 'n'
		s.stray = []float64{2, 2.5, 4}[d.IntN(3)]
		return f, s.filter == ""
	case "reciprocity-forgotten":
		f.sheet = 'n'
		return f, s.box.paper.p < 0.95 && s.ev < 9
	case "wrong-paper":
		f.sheet = 'n'
		return f, s.other != nil && math.Abs(math.Log2(s.other.index/s.box.index)) > 0.3
	case "average-misread":
		f.sheet = 'p'
		return f, s.print && s.read
	case "light-changed":
		f.sheet, f.size = 'n', d.between(0.5, 2.2)*d.sign()
	case "under-developed":
		f.size = d.between(0.3, 0.75)
	case "over-developed":
		f.size = d.between(1.7, 3)
	case "developer-cold":
		f.size = d.between(11, 16)
	case "developer-warm":
		f.size = d.between(27, 32)
	case "developer-exhausted":
		f.sheet = 'p'
		return f, s.print
	case "developer-old":
		f.size = d.between(0.5, 1.5)
	case "over-flashed":
		f.size = d.between(1.2, 2.5)
	case "light-leak":
		f.size = d.between(0.1, 0.4)
	case "under-fixed":
		f.size = d.between(0.2, 0.45)
	}
	return f, true
}

// newSeason makes a season of so many pictures from a seed.
func newSeason(seed uint64, pictures int) *season {
	d := dice{rand.New(rand.NewPCG(seed, 0x5ea5))}
	se := &season{ph: photographer{share: d.between(0.04, 0.08), constS: d.between(0.1, 0.3), meter: d.between(0.1, 0.2), paper: d.between(0.05, 0.1), bath: d.between(0.02, 0.06), eye: 0.2}}
	off := 0.0
	if d.chance(0.7) {
		off = d.between(0.6, 1.3) * d.sign()
	}
	se.boxes = []*box{
		{"quay-3", 3, stock{110, 1, 0.08, 2.0}, 0.1 * d.NormFloat64(), "rc", map[string]float64{"yellow": 8, "pale": 2.5}, ""},
		{"mole-6", 6, stock{130, 0.88, 0.08, 1.9}, 0.1 * d.NormFloat64(), "fb", map[string]float64{"yellow": 4, "pale": 2}, ""},
		{"pier-4", 4, stock{110, 1, 0.08, 2.0}, off, "rc", map[string]float64{"yellow": 4}, ""},
	}
	for i := range pictures {
		se.shots = append(se.shots, se.throw(d, i))
	}
	se.write(d)
	return se
}

var begin = time.Date(2026, 5, 4, 9, 0, 0, 0, time.FixedZone("", 2*3600))

const perDay = 6

func (se *season) throw(d dice, i int) *shot {
	s := &shot{name: fmt.Sprintf("2026-%03d", i+1), at: begin.AddDate(0, 0, i/perDay).Add(time.Duration(i%perDay)*70*time.Minute + time.Hour),
		ev: d.between(8, 11.5), f: []float64{5.6, 8, 8, 11}[d.IntN(4)], hide: map[string]bool{}, print: d.chance(0.85), read: d.chance(0.85), judgeN: d.chance(0.55)}
	s.box = se.boxes[[]int{0, 0, 1, 1, 2}[d.IntN(5)]]
	s.other = se.boxes[d.IntN(2)]
	if s.other == s.box {
		s.other = nil
	}
	s.mm = d.between(450, 1600)
	if d.chance(0.4) {
		s.mm = d.between(1500, 6000)
	}
	if d.chance(0.3) {
		s.filter = []string{"yellow", "pale"}[d.IntN(2)]
		if s.box.factor[s.filter] == 0 {
			s.filter = "yellow"
		}
		s.factor = s.box.factor[s.filter]
	}
	for _, m := range []*map[byte]float64{&s.meter, &s.cap, &s.capS, &s.plan, &s.devN, &s.batch, &s.eye} {
		*m = map[byte]float64{'n': d.NormFloat64(), 'p': d.NormFloat64()}
	}
	if i%perDay == 0 {
		se.dayC = 20 + 1.2*d.NormFloat64()
	}
	s.tempC = map[byte]float64{'n': se.dayC + 0.3*d.NormFloat64(), 'p': se.dayC + 0.3*d.NormFloat64()}
	for _, h := range []struct {
		what string
		p    float64
	}{{"plan", 0.35}, {"planF", 0.2}, {"reading", 0.06}, {"temp", 0.3}, {"size", 0.35}, {"thin", 0.3}, {"late", 0.1}} {
		s.hide[h.what] = d.chance(h.p)
	}
	n := []int{0, 0, 0, 0, 1, 1, 1, 1, 2, 2, -1}[d.IntN(11)]
	if s.box.off != 0 && s.box.name == "pier-4" {
		n = []int{0, 0, 0, 1}[d.IntN(4)]
	}
	if n < 0 {
		s.unseen = d.between(0.7, 2) * d.sign()
	}
	for tries := 0; len(s.faults) < n && tries < 60; tries++ {
		f, ok := d.fault(s, kinds[d.IntN(len(kinds))])
		if !ok || s.has(f.kind, 0) != nil {
			continue
		}
		if s.hide["reading"] && f.sheet == 'n' && !slices.Contains([]string{"wrong-aperture", "cap-mistimed", "under-fixed", "under-washed", "light-leak", "over-flashed", "under-developed", "over-developed"}, f.kind) {
			s.hide["reading"] = false
		}
		if strings.HasPrefix(f.kind, "developer") {
			s.hide["temp"] = false
		}
		if f.kind == "wrong-aperture" || f.kind == "cap-mistimed" { // the log shows them by a reading, or by their plan
			if f.sheet == 'n' && s.hide["reading"] || f.sheet == 'p' && !s.read {
				s.hide["plan"], s.hide["planF"] = false, false
			}
		}
		if s.has("bellows-factor-forgotten", f.sheet) != nil && f.kind == "bellows-factor-twice" || s.has("bellows-factor-twice", f.sheet) != nil && f.kind == "bellows-factor-forgotten" {
			continue
		}
		development := func(k string) bool { return strings.Contains(k, "develop") }
		if len(s.faults) == 1 && development(f.kind) && development(s.faults[0].kind) {
			continue
		}
		s.faults = append(s.faults, f)
	}
	if d.chance(0.04) && s.mm < 1100 && s.box.name != "pier-4" { // two factors of one size, one of them left out, with a plan
		mag := 180 / (s.mm - 180)
		s.filter, s.factor = "grey", math.Round(10*(1+mag)*(1+mag))/10
		s.faults, s.unseen = []fault{{[]string{"bellows-factor-forgotten", "filter-factor-forgotten"}[d.IntN(2)], 'n', 0}}, 0
		s.hide["plan"], s.hide["planF"], s.hide["reading"], s.hide["equal"] = false, false, false, true
	}
	return s
}

// write writes the season's book.
func (se *season) write(d dice) {
	day := func(n int, h float64) time.Time {
		return begin.AddDate(0, 0, n).Add(time.Duration(h * float64(time.Hour)))
	}
	se.line(day(-3, 0), "book.opened", map[string]any{"owner": "harbour ferry", "zone": "Europe/Oslo"})
	se.line(day(-3, 0.1), "camera.described", map[string]any{"camera": "ferry-box", "focal_mm": 180, "f_widest": 4, "f_smallest": 45})
	se.line(day(-3, 0.2), "camera.checked", map[string]any{"camera": "ferry-box", "what": "light", "result": "good"})
	for _, b := range se.boxes {
		se.line(day(-3, 0.3), "paper.received", map[string]any{"box": b.name, "name": b.name, "base": b.base, "width_mm": 130, "height_mm": 180, "sheets": 200,
			"index": b.index, "iso_r": b.paper.isoR, "dmax": b.paper.dmax, "reciprocity_p": b.paper.p, "expires": cmp.Or(b.expires, "2029-01-01")})
	}
	days := (len(se.shots) + perDay - 1) / perDay
	for n := range days {
		se.line(day(n, 0), "bath.mixed", map[string]any{"bath": fmt.Sprintf("dev-%d", n), "role": "developer", "name": "print developer", "volume_ml": 1000, "dilution": "1+9", "time_s": nominal, "temp_c": 20, "q10": 2, "capacity_m2": 20, "life_h": 20})
		se.line(day(n, 0.01), "bath.mixed", map[string]any{"bath": fmt.Sprintf("fix-%d", n), "role": "fixer", "name": "rapid fixer", "volume_ml": 1000, "dilution": "1+4", "time_s": 60, "temp_c": 20, "q10": 2, "capacity_m2": 20, "life_h": 48})
		se.line(day(n, 0.5), "session.opened", map[string]any{"session": fmt.Sprintf("day-%d", n), "camera": "ferry-box", "place": "the ferry quay"})
		for _, s := range se.shots[n*perDay : min(len(se.shots), (n+1)*perDay)] {
			se.shoot(d, s, n)
		}
	}
	se.lines = append(se.lines, se.late...)
}

// untold says whether a bath's temperature is left out: never of one that was warmed or cooled since it was last written.
func (se *season) untold(dev string, s *shot, c float64) bool {
	was, written := se.tempC[dev]
	if s.hide["temp"] && math.Abs(c-20) < 3 && (!written || math.Abs(c-was) < 3) {
		return true
	}
	if se.tempC == nil {
		se.tempC = map[string]float64{}
	}
	se.tempC[dev] = c
	return false
}

func opt(hidden bool, v any) any {
	if hidden {
		return nil
	}
	return v
}

func round(v float64, places int) float64 {
	g := math.Pow(10, float64(places))
	return math.Round(v*g) / g
}

// shoot writes what was done to one picture, and judges it.
func (se *season) shoot(d dice, s *shot, day int) {
	from := len(se.lines)
	neg, pos := se.ph.make(s, nil)
	minute := func(m float64) time.Time { return s.at.Add(time.Duration(m * float64(time.Minute))) }
	session := fmt.Sprintf("day-%d", day)
	for _, sheet := range []byte{'n', 'p'} {
		m, name, start := neg, s.name+"n", 0.0
		if sheet == 'p' {
			if !s.print {
				break
			}
			m, name, start = pos, s.name+"p1", 30
		}
		reading := map[string]any{"on": "scene", "mode": "reflected", "index": round(m.readIdx, 2), "f": m.readF, "time_s": round(m.readT, 3), "session": session, "of": "card"}
		if sheet == 'p' {
			reading["on"], reading["of"], reading["picture"] = "negative", "mid", s.name
		}
		if m.zone != 0 {
			reading["of"], reading["zone_stops"] = "lightest", round(m.zone, 1)
		}
		if sheet == 'n' && !s.hide["reading"] || sheet == 'p' && s.read {
			se.line(minute(start), "light.metered", reading)
		}
		noPlan := s.hide["plan"]
		x := map[string]any{"picture": s.name, "box": s.box.name, "f": m.f, "time_s": round(m.t, 2), "session": session,
			"planned_s": opt(noPlan, round(m.planT, 2)), "planned_f": opt(noPlan || s.hide["planF"], m.planF)}
		if s.has("light-leak", sheet) != nil {
			x["holder"] = name
		}
		if m.veil > 0 {
			x["pre_flash"] = round(m.veil, 2)
		}
		if sheet == 'n' {
			x["subject_mm"] = math.Round(s.mm)
			if s.filter != "" {
				x["filter"], x["filter_factor"] = s.filter, s.factor
			}
			if s.has("filter-factor-without-filter", 'n') != nil {
				x["filter_factor"] = s.stray
			}
			if s.has("wrong-paper", 'n') != nil {
				x["planned_box"] = s.other.name
			}
			se.line(minute(start+2), "sheet.exposed", x)
			if f := s.has("light-changed", 'n'); f != nil && !s.hide["reading"] {
				again := map[string]any{"on": "scene", "mode": "reflected", "index": round(m.readIdx, 2), "f": m.readF, "time_s": round(m.readT*math.Exp2(-f.size), 3), "session": session, "of": "card", "picture": s.name}
				se.line(minute(start+4), "light.metered", again)
			}
		} else {
			x["magnification"] = 1
			se.line(minute(start+2), "sheet.reprinted", x)
		}
		dev, fix := fmt.Sprintf("dev-%d", day), fmt.Sprintf("fix-%d", day)
		if m.used > 0 || s.has("developer-old", sheet) != nil {
			dev = fmt.Sprintf("dev-%s%c", s.name, sheet)
			mixed, capacity := minute(start-20), 20.0
			if f := s.has("developer-old", sheet); f != nil {
				mixed = minute(start).Add(-time.Duration((1 + f.size) * 1.6 * 10 * float64(time.Hour)))
			}
			se.line(mixed, "bath.mixed", map[string]any{"bath": dev, "role": "developer", "name": "print developer", "volume_ml": 1000, "dilution": "1+9", "time_s": nominal, "temp_c": 20, "q10": 2, "capacity_m2": pickF(m.used > 0, 0.0234/1.4, capacity), "life_h": 10})
			if m.used > 0 { // the negative of the same picture went through it once more
				se.line(minute(start+1), "sheet.developed", map[string]any{"sheet": s.name + "n", "bath": dev, "time_s": 1})
			}
		}
		se.line(minute(start+4), "sheet.developed", map[string]any{"sheet": name, "bath": dev, "time_s": m.devT, "temp_c": opt(se.untold(dev, s, m.devC), round(m.devC, 1))})
		se.line(minute(start+6), "sheet.rinsed", map[string]any{"sheet": name, "time_s": 15})
		se.line(minute(start+7), "sheet.fixed", map[string]any{"sheet": name, "bath": fix, "time_s": m.fixT})
		wash := map[string]any{"sheet": name, "changes": m.washes, "volume_ml": 1000.0}
		if s.has("under-washed", sheet) != nil {
			wash["volume_ml"], wash["soak_s"] = 200.0, 15.0
		}
		se.line(minute(start+9), "sheet.washed", wash)
		if s.has("light-leak", sheet) != nil {
			se.line(minute(start+12), "camera.checked", map[string]any{"camera": "ferry-box", "what": "holder", "holder": name, "result": "bad"})
		}
		if sheet == 'n' && !s.judgeN {
			continue
		}
		j := se.ph.look(s, sheet, m)
		judgement := map[string]any{"sheet": name, "verdict": j.verdict}
		if len(j.symptoms) > 0 {
			judgement["symptoms"] = j.symptoms
		}
		if j.stops != nil {
			judgement["stops"] = *j.stops
		}
		at := minute(start + 15)
		if slices.Contains(j.symptoms, "faded") {
			at = minute(start).AddDate(0, 0, 90)
		}
		se.line(at, "sheet.judged", judgement)
	}
	if s.hide["late"] {
		se.late = append(se.late, se.lines[from:]...)
		se.lines = se.lines[:from]
	}
}

func pickF(c bool, a, b float64) float64 {
	if c {
		return a
	}
	return b
}
