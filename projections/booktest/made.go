package booktest

import (
	"fmt"
	"testing"
	"time"

	"traybook/events"
)

// TwoYears are the lines of a short book that spans two years.
const TwoYears = `{"kind":"book.opened","at":"2025-12-30T10:00:00+01:00","data":{"zone":"Europe/Oslo"}}
{"kind":"camera.described","at":"2025-12-30T10:01:00+01:00","data":{"camera":"box-cam","focal_mm":180,"f_widest":5.6,"f_smallest":32}}
{"kind":"paper.received","at":"2025-12-30T10:02:00+01:00","data":{"box":"box-2","name":"a","base":"rc","width_mm":90,"height_mm":120,"sheets":100,"index":3}}
{"kind":"paper.received","at":"2025-12-30T10:02:00+01:00","data":{"box":"box-10","name":"b","base":"rc","width_mm":90,"height_mm":120,"sheets":100,"index":3}}
{"kind":"session.opened","at":"2025-12-31T10:00:00+01:00","data":{"session":"old-year"}}
{"kind":"sheet.exposed","at":"2025-12-31T11:00:00+01:00","data":{"session":"old-year","camera":"box-cam","picture":"2025-001","box":"box-2","f":8,"time_s":4}}
{"kind":"sheet.exposed","at":"2025-12-31T12:00:00+01:00","data":{"session":"old-year","camera":"box-cam","picture":"2025-002","box":"box-2","f":8,"time_s":4}}
{"kind":"session.closed","at":"2025-12-31T23:00:00+01:00","data":{"session":"old-year"}}
{"kind":"session.opened","at":"2026-01-01T00:30:00+01:00","data":{"session":"new-year"}}
{"kind":"sheet.exposed","at":"2026-01-01T00:40:00+01:00","data":{"session":"new-year","camera":"box-cam","picture":"2026-001","box":"box-10","f":8,"time_s":4}}
{"kind":"sheet.reprinted","at":"2026-01-01T11:00:00+01:00","data":{"session":"new-year","camera":"box-cam","picture":"2025-001","box":"box-2","time_s":9,"f":11}}
{"kind":"session.closed","at":"2026-01-01T12:00:00+01:00","data":{"session":"new-year"}}
`

// Harbour is a camera, a box of a hundred sheets of 100 × 125 mm (80 to the square metre), a litre of developer and
// one of fixer, and a session.
const Harbour = `
book.opened 2026-05-01T08:00:00 "zone":"Europe/Oslo"
camera.described 2026-05-01T08:01:00 "camera":"quay-box","focal_mm":135,"f_widest":5.6,"f_smallest":32,"copy_f":11
paper.received 2026-05-01T08:02:00 "box":"box-1","name":"quay paper","base":"rc","width_mm":100,"height_mm":125,"sheets":100,"index":3
session.opened 2026-05-02T09:00:00 "session":"mole","camera":"quay-box","place":"the mole","lat":59.9,"lon":10.7
bath.mixed 2026-05-02T09:01:00 "bath":"dev-1","role":"developer","name":"print developer","volume_ml":1000,"time_s":60,"capacity_m2":1,"life_h":8,"session":"mole"
bath.mixed 2026-05-02T09:02:00 "bath":"fix-1","role":"fixer","name":"plain fixer","volume_ml":1000,"time_s":60,"capacity_m2":1,"life_h":24,"session":"mole"`

// Picture is one negative, exposed at minute m after ten and finished.
func Picture(n, m int, subject string) string {
	return fmt.Sprintf(`
sheet.exposed 2026-05-02T10:%02d:00 "picture":"2026-%03d","box":"box-1","f":8,"time_s":4,"subject":%q,"session":"mole","camera":"quay-box"
sheet.developed 2026-05-02T10:%02d:10 "sheet":"2026-%03dn","bath":"dev-1","time_s":60,"session":"mole"
sheet.fixed 2026-05-02T10:%02d:20 "sheet":"2026-%03dn","bath":"fix-1","time_s":60,"session":"mole"
sheet.washed 2026-05-02T10:%02d:30 "sheet":"2026-%03dn","changes":4,"volume_ml":1000,"session":"mole"`, m, n, subject, m, n, m, n, m, n)
}

// A whole outing with most of what a book can hold: two boxes, one cut from the other, a holder, strips on all that a
// strip can be made on, a sitter, prints by a reading and by an earlier print, a voided note and an amended exposure.
const Outing = Harbour + `
camera.checked 2026-05-02T09:03:00 "camera":"quay-box","what":"light","result":"good","session":"mole"
paper.rated 2026-05-02T09:04:00 "box":"box-1","iso_r":110,"reciprocity_p":0.95,"threshold_s":2
paper.cut 2026-05-02T09:05:00 "box":"box-1","sheets":5,"into":"small","parts":4,"width_mm":50,"height_mm":62
paper.received 2026-05-02T09:05:30 "box":"box-2","name":"slow paper","base":"fb","width_mm":100,"height_mm":125,"sheets":50,"index":1.5,"iso_r":60
holder.loaded 2026-05-02T09:06:00 "holder":"left","box":"box-1"
bath.mixed 2026-05-02T09:07:00 "bath":"toner-1","role":"toner","name":"brown toner","volume_ml":1000,"time_s":120,"session":"mole"
bath.tested 2026-05-02T09:08:00 "bath":"dev-1","test":"temperature","value":19
light.metered 2026-05-02T09:10:00 "on":"scene","mode":"reflected","index":3,"f":8,"time_s":4,"session":"mole"
strip.exposed 2026-05-02T09:11:00 "strip":"s1","box":"box-1","on":"scene","f":8,"times_s":[2,4,8],"session":"mole"
strip.read 2026-05-02T09:15:00 "strip":"s1","best":2,"threshold":1,"maximum_black":3,"bath":"dev-1","time_s":60
strip.exposed 2026-05-02T09:16:00 "strip":"s2","box":"box-1","on":"pre-flash","times_s":[1,2,4],"session":"mole"
strip.read 2026-05-02T09:18:00 "strip":"s2","threshold":2
sheet.exposed 2026-05-02T10:00:00 "picture":"2026-001","holder":"left","box":"box-1","f":8,"time_s":9,"subject":"ferry mate","sitter":"sitter-1","session":"mole","camera":"quay-box"
sheet.developed 2026-05-02T10:01:00 "sheet":"2026-001n","bath":"dev-1","time_s":60,"session":"mole"
sheet.rinsed 2026-05-02T10:02:00 "sheet":"2026-001n","time_s":15
sheet.fixed 2026-05-02T10:03:00 "sheet":"2026-001n","bath":"fix-1","time_s":20,"session":"mole"
sheet.washed 2026-05-02T10:04:00 "sheet":"2026-001n","changes":1,"volume_ml":1000,"session":"mole"
sheet.judged 2026-05-02T10:05:00 "sheet":"2026-001n","verdict":"redo","symptoms":["too-dark"]
strip.exposed 2026-05-02T10:10:00 "strip":"s3","box":"box-1","on":"negative","picture":"2026-001","f":11,"times_s":[10,20,40],"session":"mole"
strip.read 2026-05-02T10:12:00 "strip":"s3","best":2
light.metered 2026-05-02T10:13:00 "on":"negative","mode":"reflected","index":3,"f":11,"time_s":5,"of":"mid","session":"mole"
sheet.reprinted 2026-05-02T10:14:00 "picture":"2026-001","box":"box-1","f":11,"time_s":20,"session":"mole","camera":"quay-box"
sheet.developed 2026-05-02T10:15:00 "sheet":"2026-001p1","bath":"dev-1","time_s":60,"session":"mole"
sheet.fixed 2026-05-02T10:16:00 "sheet":"2026-001p1","bath":"fix-1","time_s":60,"session":"mole"
sheet.washed 2026-05-02T10:17:00 "sheet":"2026-001p1","changes":4,"volume_ml":1000,"session":"mole"
sheet.judged 2026-05-02T10:18:00 "sheet":"2026-001p1","verdict":"redo","symptoms":["too-light"],"stops":1
sheet.reprinted 2026-05-02T10:20:00 "picture":"2026-001","box":"box-1","f":11,"time_s":40,"session":"mole","camera":"quay-box"
sheet.developed 2026-05-02T10:21:00 "sheet":"2026-001p2","bath":"dev-1","time_s":60,"session":"mole"
sheet.fixed 2026-05-02T10:22:00 "sheet":"2026-001p2","bath":"fix-1","time_s":60,"session":"mole"
sheet.washed 2026-05-02T10:23:00 "sheet":"2026-001p2","changes":4,"volume_ml":1000,"session":"mole"
sheet.toned 2026-05-02T10:24:00 "sheet":"2026-001p2","bath":"toner-1","time_s":120
sheet.dried 2026-05-02T10:25:00 "sheet":"2026-001p2"
sheet.judged 2026-05-02T10:26:00 "sheet":"2026-001p2","verdict":"keep"
sheet.delivered 2026-05-02T10:27:00 "sheet":"2026-001p2","to":"sitter-1"
sitter.consented 2026-05-02T10:28:00 "sitter":"sitter-1","to":"keep"
sitter.consented 2026-05-02T10:28:30 "sitter":"sitter-1","to":"show","until":"2026-06"
note.written 2026-05-02T10:29:00 "about":"mole","text":"haze over the sound"
sheet.exposed 2026-05-02T10:30:00 "picture":"2026-002","box":"box-1","f":8,"time_s":9,"planned_s":9,"planned_box":"box-2","session":"mole","camera":"quay-box"
sheet.developed 2026-05-02T10:31:00 "sheet":"2026-002n","bath":"dev-1","time_s":60,"session":"mole"
sheet.fixed 2026-05-02T10:32:00 "sheet":"2026-002n","bath":"fix-1","time_s":60,"session":"mole"
sheet.judged 2026-05-02T10:33:00 "sheet":"2026-002n","verdict":"redo","symptoms":["too-dark"]
sheet.reprinted 2026-05-02T10:34:00 "picture":"2026-002","box":"box-1","f":11,"time_s":20,"session":"mole","camera":"quay-box"
sheet.exposed 2026-05-02T10:40:00 "picture":"2026-003","box":"small","f":8,"time_s":5,"sitter":"sitter-2","session":"mole","camera":"quay-box"
sheet.delivered 2026-05-02T10:40:30 "sheet":"2026-001p1","to":"sitter-2"
sitter.consented 2026-05-02T10:40:40 "sitter":"sitter-2","to":"keep"
moment.marked 2026-05-02T10:41:00 "session":"mole"
bath.discarded 2026-05-02T11:00:00 "bath":"toner-1"
session.closed 2026-05-02T12:00:00 "session":"mole"
session.opened 2026-05-03T09:00:00 "session":"lighthouse","camera":"quay-box"
light.metered 2026-05-03T09:10:00 "on":"scene","mode":"reflected","index":3,"f":8,"time_s":5,"session":"lighthouse"
sheet.exposed 2026-05-03T09:12:00 "picture":"2026-004","box":"box-1","f":8,"time_s":6,"session":"lighthouse","camera":"quay-box"`

// RareDay has what an outing seldom has: clocks that run, sheets tested, fixed again after their wash, fixed in an exhausted
// bath and washed in too little water, a print in a bath of another day, sitters who withdrew and one who was erased, a direct
// positive, a box without an index, scans of several sheets, prints by contact and in an enlarger.
const RareDay = Harbour + `
paper.received 2026-05-02T09:30:00 "box":"box-2","name":"a find","base":"fb","width_mm":100,"height_mm":125,"sheets":10
paper.received 2026-05-02T09:31:00 "box":"box-3","name":"reversal paper","base":"fb","works":"direct-positive","width_mm":100,"height_mm":125,"sheets":10,"index":1.5,"cost":12,"currency":"NOK"
bath.mixed 2026-05-02T09:32:00 "bath":"fix-2","role":"fixer","name":"weak fixer","volume_ml":100,"time_s":60,"capacity_m2":0.0125,"session":"mole"
sheet.exposed 2026-05-02T10:00:00 "picture":"2026-001","box":"box-2","f":8,"time_s":9,"subject":"ferry mate","sitter":"sitter-1","session":"mole","camera":"quay-box"
sheet.developed 2026-05-02T10:01:00 "sheet":"2026-001n","bath":"dev-1","time_s":60,"session":"mole"
sheet.fixed 2026-05-02T10:03:00 "sheet":"2026-001n","bath":"fix-1","time_s":20,"session":"mole"
sheet.washed 2026-05-02T10:04:00 "sheet":"2026-001n","changes":1,"volume_ml":1000,"session":"mole"
sheet.fixed 2026-05-02T10:05:00 "sheet":"2026-001n","bath":"fix-1","time_s":60,"session":"mole"
sheet.judged 2026-05-02T10:06:00 "sheet":"2026-001n","verdict":"keep"
sheet.attached 2026-05-02T10:07:00 "sheet":"2026-001n","sha256":"aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa","media":"image/jpeg","bytes":1000,"of":"negative","width_px":1200,"height_px":900
sheet.exposed 2026-05-02T10:10:00 "picture":"2026-002","box":"box-3","f":8,"time_s":9,"subject":"coal steps","sitter":"sitter-2","session":"mole","camera":"quay-box"
sheet.developed 2026-05-02T10:11:00 "sheet":"2026-002n","bath":"dev-1","time_s":60,"session":"mole"
sheet.fixed 2026-05-02T10:12:00 "sheet":"2026-002n","bath":"fix-2","time_s":600,"session":"mole"
sheet.fixed 2026-05-02T10:13:00 "sheet":"2026-002n","bath":"fix-2","time_s":600,"session":"mole"
sheet.washed 2026-05-02T10:14:00 "sheet":"2026-002n","changes":40,"soak_s":600,"volume_ml":20,"session":"mole"
sheet.judged 2026-05-02T10:15:00 "sheet":"2026-002n","verdict":"keep"
sheet.exposed 2026-05-02T10:20:00 "picture":"2026-003","box":"box-1","f":8,"time_s":4,"subject":"harbour master","session":"mole","camera":"quay-box"
sheet.developed 2026-05-02T10:21:00 "sheet":"2026-003n","bath":"dev-1","time_s":60,"session":"mole"
sheet.fixed 2026-05-02T10:22:00 "sheet":"2026-003n","bath":"fix-2","time_s":6000,"session":"mole"
sheet.washed 2026-05-02T10:23:00 "sheet":"2026-003n","changes":6,"volume_ml":1000,"session":"mole"
sheet.tested 2026-05-02T10:24:00 "sheet":"2026-003n","test":"silver","result":"trace"
sheet.tested 2026-05-02T10:25:00 "sheet":"2026-003n","test":"hypo","result":"bad"
sheet.judged 2026-05-02T10:26:00 "sheet":"2026-003n","verdict":"keep"
sheet.reprinted 2026-05-02T10:30:00 "picture":"2026-003","box":"box-1","time_s":12,"way":"contact","planned_s":10,"session":"mole"
sheet.developed 2026-05-02T10:31:00 "sheet":"2026-003p1","bath":"dev-1","time_s":60,"session":"mole"
sheet.fixed 2026-05-02T10:32:00 "sheet":"2026-003p1","bath":"fix-1","time_s":60,"session":"mole"
sheet.washed 2026-05-02T10:33:00 "sheet":"2026-003p1","changes":4,"volume_ml":1000,"session":"mole"
sheet.reprinted 2026-05-02T10:40:00 "picture":"2026-003","box":"box-1","f":11,"time_s":21,"planned_s":20,"session":"mole","camera":"quay-box"
sheet.developed 2026-05-02T10:41:00 "sheet":"2026-003p2","bath":"dev-1","time_s":60,"session":"mole"
sheet.fixed 2026-05-02T10:42:00 "sheet":"2026-003p2","bath":"fix-1","time_s":60,"session":"mole"
sheet.washed 2026-05-02T10:43:00 "sheet":"2026-003p2","changes":4,"volume_ml":1000,"session":"mole"
sheet.tested 2026-05-02T10:44:00 "sheet":"2026-003p2","test":"hypo","result":"clear"
sheet.washed 2026-05-02T10:45:00 "sheet":"2026-003p2","changes":1,"volume_ml":1000,"session":"mole"
sheet.judged 2026-05-02T10:46:00 "sheet":"2026-003p2","verdict":"keep"
sheet.attached 2026-05-02T10:47:00 "sheet":"2026-003p2","sha256":"bbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbb","media":"image/png","bytes":1000,"of":"print"
sheet.exposed 2026-05-02T10:50:00 "picture":"2026-004","box":"box-1","f":8,"time_s":4,"session":"mole","camera":"quay-box"
sheet.developed 2026-05-02T10:51:00 "sheet":"2026-004n","bath":"dev-1","time_s":60,"session":"mole"
sheet.judged 2026-05-02T10:52:00 "sheet":"2026-004n","verdict":"reject","symptoms":["blank"]
sheet.exposed 2026-05-02T10:53:00 "picture":"2026-006","box":"box-1","f":8,"time_s":4,"planned_s":4,"session":"mole"
sheet.exposed 2026-05-02T10:54:00 "picture":"2026-007","box":"box-1","f":8,"time_s":4,"planned_s":4,"session":"mole"
sheet.exposed 2026-05-02T10:55:00 "picture":"2026-008","box":"box-1","f":8,"time_s":4.5,"planned_s":4,"session":"mole"
sheet.exposed 2026-05-02T10:56:00 "picture":"2026-009","box":"box-1","f":8,"time_s":9,"planned_s":4,"session":"mole"
sheet.exposed 2026-05-02T10:57:00 "picture":"2026-010","box":"box-1","f":8,"time_s":4.5,"planned_s":4
sitter.consented 2026-05-02T11:00:00 "sitter":"sitter-1","to":"keep"
sitter.consented 2026-05-02T11:01:00 "sitter":"sitter-1","to":"show"
sitter.consented 2026-05-02T11:02:00 "sitter":"sitter-1","to":"publish","until":"2026-12-31"
sitter.consented 2026-05-02T11:03:00 "sitter":"sitter-1","to":"show","withdrawn":true
sitter.consented 2026-05-02T11:04:00 "sitter":"sitter-2","to":"publish","until":"2026-12-30"
clock.started 2026-05-02T11:30:00 "act":"expose","box":"box-1","f":8,"planned_s":40,"count_in_s":3,"session":"mole","camera":"quay-box"
clock.started 2026-05-02T11:50:00 "act":"fix","sheet":"2026-004n","bath":"fix-1","planned_s":120,"session":"mole"
sheet.fixed 2026-05-02T12:30:00 "sheet":"2026-004n","bath":"fix-1","time_s":60,"session":"mole"
sheet.delivered 2026-05-02T12:31:00 "sheet":"2026-003p1","to":"sitter-1"
paper.received 2026-05-02T12:38:00 "box":"box-4","name":"by its speed","base":"rc","width_mm":100,"height_mm":125,"sheets":10,"iso_p":200
light.metered 2026-05-02T12:39:00 "on":"scene","mode":"reflected","index":3,"f":8,"time_s":4,"of":"card","filter":"yellow","session":"mole"
sheet.exposed 2026-05-02T12:40:00 "picture":"2026-021","box":"box-4","f":8,"time_s":9,"filter":"yellow","filter_factor":2,"motion":"child","session":"mole","camera":"quay-box","text":"wind from the sea"
sheet.developed 2026-05-02T12:41:00 "sheet":"2026-021n","bath":"dev-1","time_s":75,"temp_c":18,"by":"inspection"
sheet.fixed 2026-05-02T12:42:00 "sheet":"2026-021n","bath":"fix-1","time_s":60
sheet.washed 2026-05-02T12:43:00 "sheet":"2026-021n","running_s":300,"aid":"soda"
sheet.judged 2026-05-02T12:44:00 "sheet":"2026-021n","verdict":"redo","stops":-0.5,"density":{"min":0.12,"mid":0.6,"max":1.2}
sheet.attached 2026-05-02T12:45:00 "sheet":"2026-021n","sha256":"cccccccccccccccccccccccccccccccccccccccccccccccccccccccccccccccc","media":"image/jpeg","bytes":1000,"of":"inverted","width_px":900,"height_px":1200
sheet.reprinted 2026-05-02T12:50:00 "picture":"2026-021","box":"box-1","f":11,"time_s":21,"session":"mole","camera":"quay-box"
sheet.judged 2026-05-02T12:51:00 "sheet":"2026-021p1","verdict":"redo","density":{"mid":0.9}
sheet.developed 2026-05-02T12:52:00 "sheet":"2026-021p2","bath":"dev-1","time_s":60,"session":"mole"
session.closed 2026-05-02T17:00:00 "session":"mole"
note.written 2026-05-10T09:00:00 "about":"box-1","text":"the lid was loose"
sheet.exposed 2026-05-10T10:00:00 "picture":"2026-022","box":"box-1","f":8,"time_s":4,"subject":"from the window","camera":"quay-box"
session.opened 2026-05-20T09:00:00 "session":"steps","camera":"quay-box","light":"overcast"
light.metered 2026-05-20T09:10:00 "on":"scene","mode":"reflected","index":3,"f":8,"time_s":5,"session":"steps"
sheet.exposed 2026-05-20T09:12:00 "picture":"2026-005","box":"box-1","f":11,"time_s":8,"session":"steps","camera":"quay-box"
moment.marked 2026-05-20T09:13:00 "session":"steps"
moment.marked 2026-05-20T09:14:00 "session":"steps"
note.written 2026-05-20T09:14:00 "about":"steps","text":"a gull"
strip.exposed 2026-05-20T09:15:00 "strip":"s7","box":"box-1","on":"scene","f":8,"times_s":[2,4,8],"session":"steps"`

// ByHand is an act on the morning of the second outing.
func ByHand(t testing.TB, n int, data events.Data) events.Entry {
	at := Oslo(t, "2026-05-03T10:00:00").Add(time.Duration(n) * time.Second)
	return events.Entry{ID: events.ID{0xee, byte(n)}, Kind: data.Kind(), At: at, RecordedAt: at, Zone: "Europe/Oslo", Data: events.Clone(data)}
}
