package eventstest

import (
	"bufio"
	"fmt"
	"io"
	"strings"
	"time"
)

// Shape is a book that leans to one side: a working life spreads its entries over many things, a shape hangs them all on
// one, or gives every thing one. What goes through all of a thing's entries for each of them shows in a shape alone.
type Shape struct {
	Name   string
	Entity string // what the entries hang on, as history finds it; "" for none
	write  func(*shaper)
	then   func(*shaper) // what a second file brings into the book that holds the first; nil for none
}

// Shapes are the shapes, by name.
var Shapes = []Shape{
	{"amendments", "2001-001", amendments, nil},
	{"amended", "2001-001", amended, nil},
	{"bath", "dev-1", bath, nil},
	{"batch-voided", "2001-001", exposures, batchVoided},
	{"batch-restored", "2001-001", exposures, batchRestored},
	{"bath-backfilled", "dev-1", bathLater, bathEarlier},
	{"baths", "dev-1", baths, nil},
	{"boxes", "box-2", boxes, nil},
	{"cameras", "quay-box", cameras, nil},
	{"checks", "quay-box", checks, nil},
	{"counts", "box-1", counts, nil},
	{"cuts", "box-1", cuts, nil},
	{"cut-down", "box-2", cutDown, nil},
	{"deliveries", "sitter-1", deliveries, nil},
	{"developments", "2001-001", developments, nil},
	{"fixings", "2001-001", fixings, nil},
	{"fixings-of-each", "fix-1", fixingsOfEach, nil},
	{"holder", "holder-1", holder, nil},
	{"judgements", "2001-001", judgements, nil},
	{"marks", "", marks, nil},
	{"notes", "2001-001", notes, nil},
	{"nameless", "day-1", nameless, nil},
	{"nameless-backfilled", "day-1", namelessLater, namelessEarlier},
	{"nameless-prints", "day-1", namelessPrints, nil},
	{"nameless-prints-voided", "day-1", namelessPrintsVoided, nil},
	{"nameless-voided", "day-1", namelessVoided, nil},
	{"prints", "2001-001", prints, nil},
	{"prints-developed", "2001-001", printsDeveloped, nil},
	{"ratings-filtered", "2001-001", ratingsFiltered, nil},
	{"ratings", "box-1", ratings, nil},
	{"readings", "", readings, nil},
	{"readings-of-one", "2001-001", readingsOfOne, nil},
	{"retakes", "2001-002", retakes, nil},
	{"scans", "2001-001", scans, nil},
	{"served", "2001-001", served, nil},
	{"session", "day-1", session, nil},
	{"session-backfilled", "day-1", sessionLater, sessionEarlier},
	{"session-held", "day-1", sessionEarlier, sessionLater},
	{"sessions", "day-1", sessions, nil},
	{"sitters", "sitter-1", sitters, nil},
	{"sitters-named", "sitter-1", sittersNamed, nil},
	{"strips", "strip-1", strips, nil},
	{"strips-of-one", "2001-001", stripsOfOne, nil},
	{"tests", "dev-1", tests, nil},
	{"unserved", "day-1", unserved, nil},
	{"voids-chained", "2001-001", voidsChained, nil},
	{"voids-paired", "2001-001", voidsPaired, nil},
	{"voids-of-one", "2001-001", voidsOfOne, nil},
	{"voided", "2001-001", voided, nil},
	{"washings", "2001-001", washings, nil},
}

// shapesBegin is the moment of the first entry of every shape.
var shapesBegin = time.Date(2001, 3, 5, 9, 0, 0, 0, time.UTC)

// Write writes about n lines, and gives how many it wrote. A shape of two files writes half of them.
func (s Shape) Write(w io.Writer, n int) (int, error) {
	if s.then != nil {
		n /= 2
	}
	x := &shaper{w: bufio.NewWriterSize(w, 1<<20), most: n, at: shapesBegin}
	x.line("book.opened", `"zone":"UTC"`)
	x.line("camera.described", `"camera":"quay-box","focal_mm":135,"f_widest":5.6,"f_smallest":32,"copy_f":11`)
	x.line("paper.received", `"box":"box-1","name":"quay paper","base":"rc","width_mm":90,"height_mm":120,"sheets":100000,"index":4`)
	s.write(x)
	return x.end()
}

// Then writes the second file of a shape, about n/2 lines; it writes none where the shape has one file.
func (s Shape) Then(w io.Writer, n int) (int, error) {
	if s.then == nil {
		return 0, nil
	}
	x := &shaper{w: bufio.NewWriterSize(w, 1<<20), most: n / 2, at: shapesBegin, file: 1}
	s.then(x)
	return x.end()
}

func (x *shaper) end() (int, error) {
	if x.err != nil {
		return x.n, x.err
	}
	return x.n, x.w.Flush()
}

type shaper struct {
	w       *bufio.Writer
	n, most int
	at      time.Time
	file    int // 1 for the second of two
	err     error
}

// more says whether lines are wanted still.
func (x *shaper) more() bool { return x.n < x.most && x.err == nil }

// line writes one entry half a minute after the last, and gives its id.
func (x *shaper) line(kind, data string, args ...any) string {
	x.n++
	x.at = x.at.Add(30 * time.Second)
	id := fmt.Sprintf("%02x%030x", x.file, x.n)
	_, err := fmt.Fprintf(x.w, `{"kind":"%s","at":"%s","zone":"UTC","data":{%s},"id":"%s"}`+"\n", kind, x.at.Format(time.RFC3339), fmt.Sprintf(data, args...), id)
	if err != nil {
		x.err = err
	}
	return id
}

// expose exposes a negative of the picture with a number.
func (x *shaper) expose(picture int, more string) string {
	return x.line("sheet.exposed", `"picture":"2001-%03d","sheet":"2001-%03dn","box":"box-1","camera":"quay-box","f":8,"time_s":4%s`, picture, picture, more)
}

func (x *shaper) mix(role string, n int) {
	x.line("bath.mixed", `"bath":"%.3s-%d","role":"%s","name":"quay bath","volume_ml":1000,"time_s":60,"capacity_m2":100,"life_h":10000`, role, n, role)
}

func (x *shaper) note() string { return x.line("note.written", `"about":"2001-001","text":"wind"`) }

func (x *shaper) void(id string) string { return x.line("entry.voided", `"entry":"%s"`, id) }

func amendments(x *shaper) {
	e := x.expose(1, "")
	for x.more() {
		x.line("entry.amended", `"entry":"%s","set":{"time_s":%d}`, e, 1+x.n%9)
	}
}

func amended(x *shaper) {
	x.expose(1, "")
	for x.more() {
		x.line("entry.amended", `"entry":"%s","set":{"text":"fog"}`, x.note())
	}
}

func bath(x *shaper) {
	x.mix("developer", 1)
	for i := 1; x.more(); i++ {
		x.expose(i, "")
		x.line("sheet.developed", `"sheet":"2001-%03dn","bath":"dev-1","time_s":60,"temp_c":20`, i)
	}
}

// bathLater develops in a bath on a later day than bathEarlier, which is written down after it.
func bathLater(x *shaper) {
	x.mix("developer", 1)
	x.at = x.at.AddDate(0, 0, 7)
	x.developEach(10_001)
}

func bathEarlier(x *shaper) { x.developEach(1) }

func (x *shaper) developEach(first int) {
	x.at = x.at.AddDate(0, 0, 1)
	for i := first; x.more(); i++ {
		x.expose(i, "")
		x.line("sheet.developed", `"sheet":"2001-%03dn","bath":"dev-1","time_s":60,"temp_c":20`, i)
	}
}

func baths(x *shaper) {
	for i := 1; x.more(); i++ {
		x.mix("developer", i)
	}
}

func exposures(x *shaper) {
	for i := 1; x.more(); i++ {
		x.expose(i, "")
	}
}

// FirstBatch is the batch under which the first file of a shape is to be taken in, since its second may name it.
const FirstBatch = "01000000000000000000000000000000"

func (x *shaper) voidFirst() string { return x.line("entry.voided", `"batch":"%s"`, FirstBatch) }

// batchVoided takes all that was written at once back again and again.
func batchVoided(x *shaper) {
	for x.more() {
		x.voidFirst()
	}
}

// batchRestored takes it back and brings it back, again and again.
func batchRestored(x *shaper) {
	for x.more() {
		x.void(x.voidFirst())
	}
}

func boxes(x *shaper) {
	for i := 2; x.more(); i++ {
		x.line("paper.received", `"box":"box-%d","name":"quay paper","base":"rc","width_mm":90,"height_mm":120,"sheets":100,"index":4`, i)
	}
}

func cameras(x *shaper) {
	for x.more() {
		x.line("camera.described", `"camera":"quay-box","focal_mm":%d,"f_widest":5.6,"f_smallest":32`, 100+x.n%50)
	}
}

func checks(x *shaper) {
	for x.more() {
		x.line("camera.checked", `"camera":"quay-box","what":"light","result":"good","minutes":5`)
	}
}

func counts(x *shaper) {
	for x.more() {
		x.line("paper.spoiled", `"box":"box-1","sheets":1`)
		x.line("paper.counted", `"box":"box-1","sheets":%d`, 100000-x.n)
	}
}

func cuts(x *shaper) {
	for i := 2; x.more(); i++ {
		x.line("paper.cut", `"box":"box-1","sheets":1,"into":"box-%d","parts":4,"width_mm":45,"height_mm":60`, i)
	}
}

// cutDown cuts every box into the next.
func cutDown(x *shaper) {
	for i := 1; x.more(); i++ {
		x.line("paper.cut", `"box":"box-%d","sheets":1,"into":"box-%d","parts":2,"width_mm":45,"height_mm":60`, i, i+1)
	}
}

func deliveries(x *shaper) {
	x.line("sitter.consented", `"sitter":"sitter-1","to":"show"`)
	for i := 1; x.more(); i++ {
		x.expose(i, `,"sitter":"sitter-1"`)
		x.line("sheet.delivered", `"sheet":"2001-%03dn","to":"sitter-1"`, i)
	}
}

func developments(x *shaper) {
	x.mix("developer", 1)
	x.expose(1, "")
	for x.more() {
		x.line("sheet.developed", `"sheet":"2001-001n","bath":"dev-1","time_s":60,"temp_c":20`)
	}
}

func fixings(x *shaper) {
	x.mix("fixer", 1)
	x.expose(1, "")
	for x.more() {
		x.line("sheet.fixed", `"sheet":"2001-001n","bath":"fix-1","time_s":60`)
	}
}

// fixingsOfEach fixes every sheet three times in one bath.
func fixingsOfEach(x *shaper) {
	x.mix("fixer", 1)
	for i := 1; x.more(); i++ {
		x.expose(i, "")
		for range 3 {
			x.line("sheet.fixed", `"sheet":"2001-%03dn","bath":"fix-1","time_s":60`, i)
		}
	}
}

func holder(x *shaper) {
	for i := 1; x.more(); i++ {
		x.line("holder.loaded", `"holder":"holder-1","box":"box-1"`)
		x.expose(i, `,"holder":"holder-1"`)
	}
}

func judgements(x *shaper) {
	x.expose(1, "")
	for x.more() {
		x.line("sheet.judged", `"sheet":"2001-001n","verdict":"keep"`)
	}
}

func marks(x *shaper) {
	for x.more() {
		x.line("moment.marked", ``)
	}
}

// nameless leaves out, in one session, all that the book can fill in.
func nameless(x *shaper) {
	x.mix("developer", 1)
	x.mix("fixer", 1)
	x.line("session.opened", `"session":"day-1","camera":"quay-box"`)
	for x.more() {
		x.line("light.metered", `"on":"scene","mode":"reflected","f":8,"time_s":4,"index":4`)
		x.line("sheet.exposed", `"f":8,"time_s":4`)
		x.line("sheet.developed", `"time_s":60,"temp_c":20`)
		x.line("sheet.fixed", `"time_s":60`)
		x.line("sheet.washed", `"changes":4`)
		x.line("sheet.judged", `"verdict":"keep"`)
	}
}

// namelessVoided takes one act in each round back, and writes another in its place.
func namelessVoided(x *shaper) {
	x.mix("developer", 1)
	x.mix("fixer", 1)
	x.line("session.opened", `"session":"day-1","camera":"quay-box"`)
	for x.more() {
		x.void(x.line("light.metered", `"on":"scene","mode":"reflected","f":8,"time_s":4,"index":4`))
		x.line("light.metered", `"on":"scene","mode":"reflected","f":8,"time_s":2,"index":4`)
		x.void(x.line("sheet.exposed", `"f":8,"time_s":4`))
		x.line("sheet.exposed", `"f":8,"time_s":2`)
		x.void(x.line("sheet.developed", `"time_s":60,"temp_c":20`))
		x.line("sheet.developed", `"time_s":70,"temp_c":20`)
		x.void(x.line("sheet.fixed", `"time_s":60`))
		x.line("sheet.fixed", `"time_s":70`)
		x.void(x.line("sheet.judged", `"verdict":"keep"`))
	}
}

// namelessPrintsVoided prints one negative again and again by readings, and takes each second print back.
func namelessPrintsVoided(x *shaper) {
	x.mix("developer", 1)
	x.line("session.opened", `"session":"day-1","camera":"quay-box"`)
	x.line("sheet.exposed", `"f":8,"time_s":4`)
	x.line("sheet.developed", `"time_s":60,"temp_c":20`)
	for x.more() {
		x.line("light.metered", `"on":"negative","mode":"reflected","f":11,"time_s":4,"index":4,"of":"mid"`)
		x.void(x.line("sheet.reprinted", `"time_s":4`))
		x.line("sheet.reprinted", `"time_s":5`)
		x.line("sheet.developed", `"time_s":60,"temp_c":20`)
	}
}

// namelessEarlier leaves out what the book can fill in, in a session that goes on in what namelessLater wrote before.
func namelessLater(x *shaper) { x.namelessOn(7) }

func namelessEarlier(x *shaper) { x.namelessOn(0) }

func (x *shaper) namelessOn(days int) {
	if x.file == 0 {
		x.mix("developer", 1)
		x.mix("fixer", 1)
		x.line("session.opened", `"session":"day-1","camera":"quay-box"`)
	}
	x.at = x.at.AddDate(0, 0, 1+days)
	for x.more() {
		x.line("light.metered", `"on":"scene","mode":"reflected","f":8,"time_s":4,"index":4`)
		x.line("sheet.exposed", `"f":8,"time_s":4`)
		x.line("sheet.developed", `"time_s":60,"temp_c":20`)
		x.line("sheet.fixed", `"time_s":60`)
	}
}

// namelessPrints prints one negative again and again, and leaves out all that the book can fill in.
func namelessPrints(x *shaper) {
	x.mix("developer", 1)
	x.line("session.opened", `"session":"day-1","camera":"quay-box"`)
	x.line("sheet.exposed", `"f":8,"time_s":4`)
	x.line("sheet.developed", `"time_s":60,"temp_c":20`)
	for x.more() {
		x.line("sheet.reprinted", `"time_s":4`)
		x.line("sheet.developed", `"time_s":60,"temp_c":20`)
	}
}

func notes(x *shaper) {
	x.expose(1, "")
	for x.more() {
		x.note()
	}
}

// unserved prints each of many negatives by one reading that serves the first alone.
func unserved(x *shaper) {
	x.mix("developer", 1)
	x.line("session.opened", `"session":"day-1","camera":"quay-box"`)
	n := 0
	for ; x.n < x.most/2; n++ {
		x.expose(n+1, `,"session":"day-1"`)
	}
	for i := range n / 2 {
		x.line("sheet.developed", `"sheet":"2001-%03dn","bath":"dev-1","time_s":60,"session":"day-1"`, i+1)
	}
	x.line("light.metered", `"on":"negative","mode":"reflected","f":11,"time_s":4,"index":4,"of":"mid","session":"day-1"`)
	for i := range n / 2 {
		x.line("sheet.reprinted", `"picture":"2001-%03d","sheet":"2001-%03dp1","box":"box-1","camera":"quay-box","f":11,"time_s":8,"magnification":1,"session":"day-1"`, i+1, i+1)
	}
}

func (x *shaper) reprint(n int) {
	x.line("sheet.reprinted", `"picture":"2001-001","sheet":"2001-001p%d","box":"box-1","camera":"quay-box","f":11,"time_s":8,"magnification":1`, n)
}

func prints(x *shaper) {
	x.expose(1, "")
	for i := 1; x.more(); i++ {
		x.reprint(i)
	}
}

func printsDeveloped(x *shaper) {
	x.mix("developer", 1)
	x.mix("fixer", 1)
	x.line("session.opened", `"session":"day-1","camera":"quay-box"`)
	x.expose(1, "")
	for i := 1; x.more(); i++ {
		x.line("light.metered", `"on":"negative","mode":"reflected","f":11,"time_s":4,"index":4,"picture":"2001-001","of":"mid","camera":"quay-box"`)
		x.reprint(i)
		x.line("sheet.developed", `"sheet":"2001-001p%d","bath":"dev-1","time_s":60,"temp_c":20,"session":"day-1"`, i)
		x.line("sheet.fixed", `"sheet":"2001-001p%d","bath":"fix-1","time_s":60,"temp_c":20,"session":"day-1"`, i)
		x.line("sheet.washed", `"sheet":"2001-001p%d","changes":4,"volume_ml":1000,"session":"day-1"`, i)
		x.line("sheet.judged", `"sheet":"2001-001p%d","verdict":"redo","symptoms":["too-dark"]`, i)
	}
}

func ratings(x *shaper) {
	for x.more() {
		x.line("paper.rated", `"box":"box-1","index":%d`, 3+x.n%3)
	}
}

// ratingsFiltered rates a box through a new filter factor each time, and exposes without a filter.
func ratingsFiltered(x *shaper) {
	x.line("light.metered", `"on":"scene","mode":"reflected","f":8,"time_s":4,"index":4,"picture":"2001-001"`)
	for x.n < x.most/2 {
		x.line("paper.rated", `"box":"box-1","index":4,"filter":"yellow","filter_factor":%d.%03d`, 2+x.n/1000, x.n%1000)
	}
	x.expose(1, `,"planned_s":9,"planned_f":8`)
	x.line("sheet.judged", `"sheet":"2001-001n","verdict":"redo","symptoms":["too-dark"]`)
	for i := 2; x.more(); i++ {
		x.expose(i, "")
	}
}

// readings meters without a session, and exposes by what was read.
func readings(x *shaper) {
	for i := 1; x.more(); i++ {
		r := x.line("light.metered", `"on":"scene","mode":"reflected","f":8,"time_s":4,"index":4`)
		x.expose(i, fmt.Sprintf(`,"reading":"%s"`, r))
	}
}

func readingsOfOne(x *shaper) {
	x.expose(1, "")
	for x.more() {
		x.line("light.metered", `"on":"negative","mode":"reflected","f":11,"time_s":4,"index":4,"picture":"2001-001","of":"mid"`)
	}
}

// retakes makes every picture the one before again.
func retakes(x *shaper) {
	x.expose(1, "")
	for i := 2; x.more(); i++ {
		x.expose(i, fmt.Sprintf(`,"again":"2001-%03d"`, i-1))
	}
}

func scans(x *shaper) {
	x.expose(1, "")
	for x.more() {
		x.line("sheet.attached", `"sheet":"2001-001n","sha256":"%064x","media":"image/jpeg","bytes":1000`, x.n)
	}
}

// served exposes everything by one reading.
func served(x *shaper) {
	r := x.line("light.metered", `"on":"scene","mode":"reflected","f":8,"time_s":4,"index":4`)
	for i := 1; x.more(); i++ {
		x.expose(i, fmt.Sprintf(`,"reading":"%s"`, r))
	}
}

func session(x *shaper) {
	x.mix("developer", 1)
	x.mix("fixer", 1)
	x.line("session.opened", `"session":"day-1","camera":"quay-box"`)
	for i := 1; x.more(); i++ {
		r := x.line("light.metered", `"on":"scene","mode":"reflected","f":8,"time_s":4,"index":4,"session":"day-1"`)
		x.expose(i, fmt.Sprintf(`,"session":"day-1","reading":"%s"`, r))
		x.line("sheet.developed", `"sheet":"2001-%03dn","bath":"dev-1","time_s":60,"temp_c":20,"session":"day-1"`, i)
		x.line("sheet.fixed", `"sheet":"2001-%03dn","bath":"fix-1","time_s":60,"session":"day-1"`, i)
		x.line("sheet.judged", `"sheet":"2001-%03dn","verdict":"keep","session":"day-1"`, i)
	}
}

// sessionEarlier and sessionLater write into one session on two days.
func sessionEarlier(x *shaper) { x.inOneSession(1, 0) }

func sessionLater(x *shaper) { x.inOneSession(10_001, 7) }

func (x *shaper) inOneSession(first, days int) {
	if x.file == 0 {
		x.mix("developer", 1)
		x.line("session.opened", `"session":"day-1","camera":"quay-box"`)
	}
	x.at = x.at.AddDate(0, 0, 1+days)
	for i := first; x.more(); i++ {
		r := x.line("light.metered", `"on":"scene","mode":"reflected","f":8,"time_s":4,"index":4,"session":"day-1"`)
		x.expose(i, fmt.Sprintf(`,"session":"day-1","reading":"%s"`, r))
		x.line("sheet.developed", `"sheet":"2001-%03dn","bath":"dev-1","time_s":60,"temp_c":20,"session":"day-1"`, i)
	}
}

func sessions(x *shaper) {
	for i := 1; x.more(); i++ {
		x.line("session.opened", `"session":"day-%d","camera":"quay-box"`, i)
		x.line("session.closed", `"session":"day-%d"`, i)
	}
}

func sitters(x *shaper) {
	for i := 1; x.more(); i++ {
		x.line("sitter.consented", `"sitter":"sitter-%d","to":"show"`, i)
	}
}

// sittersNamed writes names in the place of references, each of one person.
func sittersNamed(x *shaper) {
	for i := 1; x.more(); i++ {
		x.line("sitter.consented", `"sitter":"%s Ferryhand","to":"show"`, strings.Map(func(r rune) rune { return r - '0' + 'a' }, fmt.Sprintf("%06d", i)))
	}
}

func (x *shaper) strip(n int, more string) {
	x.line("strip.exposed", `"strip":"strip-%d","box":"box-1","on":"scene","times_s":[2,4,8],"f":8,"part":0.25%s`, n, more)
	x.line("strip.read", `"strip":"strip-%d","best":2`, n)
}

func strips(x *shaper) {
	for i := 1; x.more(); i++ {
		x.strip(i, "")
	}
}

func stripsOfOne(x *shaper) {
	x.expose(1, "")
	for i := 1; x.more(); i++ {
		x.strip(i, `,"picture":"2001-001"`)
	}
}

func tests(x *shaper) {
	x.mix("developer", 1)
	for i := 1; x.more(); i++ {
		x.expose(i, "")
		x.line("bath.tested", `"bath":"dev-1","test":"temperature","value":%d`, 18+i%5)
		x.line("bath.replenished", `"bath":"dev-1","volume_ml":10,"with":"fresh"`)
		x.line("bath.moved", `"bath":"dev-1","to":"%s"`, []string{"bottle", "tray"}[i%2])
		x.line("sheet.developed", `"sheet":"2001-%03dn","bath":"dev-1","time_s":60,"temp_c":20`, i)
	}
}

// voidsChained takes a note back, and the taking back, and that.
func voidsChained(x *shaper) {
	x.expose(1, "")
	for last := x.note(); x.more(); {
		last = x.void(last)
	}
}

// voidsPaired takes one note back again and again, and each taking back as well.
func voidsPaired(x *shaper) {
	x.expose(1, "")
	for n := x.note(); x.more(); {
		x.void(x.void(n))
	}
}

func voidsOfOne(x *shaper) {
	x.expose(1, "")
	for n := x.note(); x.more(); {
		x.void(n)
	}
}

func voided(x *shaper) {
	x.expose(1, "")
	for x.more() {
		x.void(x.note())
	}
}

func washings(x *shaper) {
	x.expose(1, "")
	for x.more() {
		x.line("sheet.washed", `"sheet":"2001-001n","changes":1`)
	}
}
