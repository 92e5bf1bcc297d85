package eventstest

import (
	"bufio"
	"fmt"
	"io"
	"math/rand/v2"
	"regexp"
	"strings"
	"time"
	_ "time/tzdata" // the same zones on every machine

	"traybook/events"
)

const (
	picturesADay = 12
	boxSheets    = 100
	daysAWeek    = 5
)

var (
	zones    = []string{"Europe/Oslo", "Europe/Lisbon", "America/Halifax"}
	subjects = []string{"ferry mate", "ticket girl", "the lamp room", "net mender", "rope store", "pilot's wife", "boy with oar", "crane driver"}
	places   = []string{"the mole", "north quay", "fish market steps", "lamp yard", "slipway"}
	verdicts = []string{"keep", "keep", "keep", "redo", "keep", "reject"}
)

type writer struct {
	w       *bufio.Writer
	r       *rand.Rand
	n       int
	most    int
	loc     *time.Location
	at      time.Time
	box     int
	left    int
	year    int
	picture int
	dev     int
	fix     int
	id      uint64
	late    []byte
	amended map[string]bool // the ids that amendments name
	leaves  *leftOut        // nil where all is written
	err     error
}

// WriteLife writes a working life as plain lines from 2001 on, about so many as asked for (it ends with the picture in
// hand), and gives how many it wrote: about twelve entries a picture, a session of twelve pictures a day, boxes of a
// hundred sheets, a developer a day, a fixer a week, baths discarded, one entry in a hundred written down late and one
// amended, in zones whose clocks change. The same seed gives the same bytes. Every line says all that an entry can say.
func WriteLife(w io.Writer, entries int, seed uint64) (int, error) {
	return newWriter(w, entries, seed).write()
}

// WriteSparseLife writes the same life as people and scripts write theirs: without what the book fills in.
func WriteSparseLife(w io.Writer, entries int, seed uint64) (int, error) {
	whole := newWriter(io.Discard, entries, seed)
	if n, err := whole.write(); err != nil {
		return n, err
	}
	x := newWriter(w, entries, seed)
	x.leaves = &leftOut{named: whole.amended, box: map[string]string{}}
	return x.write()
}

func newWriter(w io.Writer, entries int, seed uint64) *writer {
	return &writer{w: bufio.NewWriterSize(w, 1<<20), r: rand.New(rand.NewPCG(seed, 1)), most: entries, amended: map[string]bool{}}
}

func (x *writer) write() (int, error) {
	x.zone(0)
	x.at = time.Date(2001, 3, 5, 8, 0, 0, 0, x.loc)
	x.line("book.opened", fmt.Sprintf(`"zone":"%s","owner":"keeper of the harbour studio"`, zones[0]))
	x.line("camera.described", `"camera":"quay-box","focal_mm":135,"f_widest":5.6,"f_smallest":32,"copy_f":11`)
	for day := 0; x.n < x.most && x.err == nil; day++ {
		x.day(day)
	}
	if x.err != nil {
		return x.n, x.err
	}
	return x.n, x.w.Flush()
}

// leftOut is what a sparse life leaves out: the fields that the book fills in, and the ids that no line names.
type leftOut struct {
	named map[string]bool
	box   map[string]string // that an act of each kind took paper from last: another one has to be named
}

var textField = regexp.MustCompile(`,?"(\w+)":"([^"]*)"`)

// of gives the data of a line without what the book fills in.
func (o *leftOut) of(kind, data string) string {
	data = textField.ReplaceAllStringFunc(data, func(field string) string {
		m := textField.FindStringSubmatch(field)
		f, _ := events.FieldOf(events.Kind(kind), m[1])
		another := m[1] == "box" && o.box[kind] != m[2]
		if m[1] == "box" {
			o.box[kind] = m[2]
		}
		if f.Default == "" || another {
			return field
		}
		return ""
	})
	return strings.TrimPrefix(data, ",")
}

func (x *writer) zone(day int) {
	loc, err := time.LoadLocation(zones[day/200%len(zones)])
	if err != nil {
		x.err = err
		return
	}
	x.loc = loc
}

// line writes one entry a few moments after the last, and gives its id.
func (x *writer) line(kind, data string) string { return x.lineAt(kind, data, x.tick()) }

func (x *writer) tick() time.Time {
	x.at = x.at.Add(time.Duration(20+x.r.IntN(60)) * time.Second)
	return x.at
}

func (x *writer) lineAt(kind, data string, at time.Time) string {
	x.id++
	id := fmt.Sprintf("%016x%016x", x.r.Uint64(), x.id)
	end := fmt.Sprintf(`,"id":"%s"`, id)
	if x.leaves != nil {
		data = x.leaves.of(kind, data)
		if !x.leaves.named[id] {
			end = ""
		}
	}
	text := fmt.Sprintf(`{"kind":"%s","at":"%s","zone":"%s","data":{%s}%s}`+"\n", kind, at.In(x.loc).Format(time.RFC3339), x.loc, data, end)
	x.n++
	if x.r.IntN(100) == 0 && kind == "sheet.washed" { // written down late: after the next few
		x.late = append(x.late, text...)
		return id
	}
	if _, err := x.w.WriteString(text); err != nil {
		x.err = err
	}
	if len(x.late) > 0 && x.r.IntN(4) == 0 {
		x.flushLate()
	}
	return id
}

func (x *writer) flushLate() {
	if _, err := x.w.Write(x.late); err != nil {
		x.err = err
	}
	x.late = x.late[:0]
}

func (x *writer) day(day int) {
	x.zone(day)
	week := day / daysAWeek
	x.at = time.Date(2001, 3, 5+week*7+day%daysAWeek, 9, 0, 0, 0, x.loc)
	if y := x.at.Year(); y != x.year {
		x.year, x.picture = y, 0
	}
	session := fmt.Sprintf("day-%05d", day+1)
	in := fmt.Sprintf(`,"session":"%s"`, session)
	cam := in + `,"camera":"quay-box"`
	x.line("session.opened", fmt.Sprintf(`"session":"%s","camera":"quay-box","place":"%s","lat":59.1,"lon":10.4,"sky":"thin"`,
		session, places[x.r.IntN(len(places))]))
	if day%daysAWeek == 0 {
		if x.fix > 0 {
			x.line("bath.discarded", fmt.Sprintf(`"bath":"fix-%d","to":"carried home"%s`, x.fix, in))
		}
		x.fix++
		x.line("bath.mixed", fmt.Sprintf(`"bath":"fix-%d","role":"fixer","name":"rapid fixer","volume_ml":1000,"dilution":"1+4","time_s":60,"temp_c":20,"capacity_m2":2,"life_h":60%s`, x.fix, in))
	}
	x.dev++
	x.line("bath.mixed", fmt.Sprintf(`"bath":"dev-%d","role":"developer","name":"print developer","volume_ml":1000,"dilution":"1+9","time_s":60,"temp_c":20,"capacity_m2":1,"life_h":10%s`, x.dev, in))
	for range picturesADay {
		if x.n >= x.most {
			break
		}
		x.takePicture(in, cam)
	}
	x.line("bath.discarded", fmt.Sprintf(`"bath":"dev-%d"%s`, x.dev, in))
	if len(x.late) > 0 {
		x.flushLate()
	}
	x.line("session.closed", fmt.Sprintf(`"session":"%s"`, session))
}

func (x *writer) sheet() int {
	if x.left == 0 {
		x.box++
		x.left = boxSheets
		x.line("paper.received", fmt.Sprintf(`"box":"box-%d","name":"quay paper","base":"rc","width_mm":90,"height_mm":120,"sheets":%d,"index":%d,"iso_r":110,"cost":%d,"currency":"NOK"`,
			x.box, boxSheets, 3+x.r.IntN(3), 400+x.r.IntN(90)))
	}
	x.left--
	return x.box
}

func (x *writer) takePicture(in, cam string) {
	x.picture++
	name := fmt.Sprintf("%04d-%03d", x.year, x.picture)
	t := []float64{2, 3, 4, 5, 6, 8}[x.r.IntN(6)]
	reading := x.line("light.metered", fmt.Sprintf(`"on":"scene","mode":"reflected","f":8,"time_s":%g,"index":4%s`, t, cam))
	box := x.sheet()
	exposed := x.line("sheet.exposed", fmt.Sprintf(`"picture":"%s","box":"box-%d","f":8,"time_s":%g,"sheet":"%sn","reading":"%s","subject_mm":%d,"subject":"%s"%s`,
		name, box, t, name, reading, 1800+x.r.IntN(2000), subjects[x.r.IntN(len(subjects))], cam))
	x.bathe(name+"n", in, true)
	onNeg := x.line("light.metered", fmt.Sprintf(`"on":"negative","mode":"reflected","f":11,"time_s":%g,"index":4,"picture":"%s","of":"mid"%s`, t/2, name, cam))
	box = x.sheet()
	x.line("sheet.reprinted", fmt.Sprintf(`"picture":"%s","box":"box-%d","time_s":%g,"f":11,"sheet":"%sp1","reading":"%s","magnification":1%s`,
		name, box, t*2, name, onNeg, cam))
	x.bathe(name+"p1", in, false)
	x.line("sheet.judged", fmt.Sprintf(`"sheet":"%sp1","verdict":"%s"%s`, name, verdicts[x.r.IntN(len(verdicts))], in))
	if x.r.IntN(8) == 0 { // one entry in a hundred
		x.amended[exposed] = true
		x.line("entry.amended", fmt.Sprintf(`"entry":"%s","set":{"time_s":%g},"why":"counted again"`, exposed, t+0.5))
	}
}

func (x *writer) bathe(sheet, in string, rinse bool) {
	x.line("sheet.developed", fmt.Sprintf(`"sheet":"%s","bath":"dev-%d","time_s":%d,"temp_c":%d%s`, sheet, x.dev, 55+x.r.IntN(20), 18+x.r.IntN(5), in))
	if rinse {
		x.line("sheet.rinsed", fmt.Sprintf(`"sheet":"%s","time_s":15%s`, sheet, in))
	}
	x.line("sheet.fixed", fmt.Sprintf(`"sheet":"%s","bath":"fix-%d","time_s":60,"temp_c":20%s`, sheet, x.fix, in))
	x.line("sheet.washed", fmt.Sprintf(`"sheet":"%s","changes":4,"volume_ml":1000%s`, sheet, in))
}
