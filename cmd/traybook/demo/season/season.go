package season

import (
	"traybook/calc"
	"traybook/events"
)

// Sitters are the names behind the references in the lines, by their order: sitter-1, sitter-2 … Nobody of that name
// is meant.
var Sitters = []struct{ Name, Contact string }{
	{"Ingrid Vallö", "the ticket hatch, ferry steps"},
	{"Tor-Håkon Bremsund-Ekelien", "mate's cabin, the Skerrow Maid"},
	{"Ελένη Παπαδοπούλου", "the bakery above the quay"},
	{"Ярослав Ёлкин", "engine room, the Skerrow Maid"},
	{"Aud Lysholmen", "harbour office"},
	{"Mattis and Ylva, the pilot's children", "pilot house"},
	{"Old Berntine", "net loft, second stair"},
}

// Place is the town's place on the chart: open water, for there is no such town.
const (
	lat = 58.8412
	lon = 10.1275
)

// Lines writes the whole season: plain event lines, in the order of the acts.
func Lines() ([]string, error) {
	b := newBench()
	b.start()
	b.firstLight()
	b.moleDay()
	b.netLoft()
	b.slipway()
	b.midsummer()
	b.engineRoom()
	b.regatta()
	b.lastFerry()
	return b.lines, b.err
}

func (b *bench) start() {
	b.on("2026-04-10 09:00")
	b.write(&events.BookOpenedData{Zone: Zone, Owner: "Signe Tarn, photographer at the ferry steps, Skerrow"})
	b.after(5)
	b.write(&events.CameraDescribedData{Camera: camera, FocalMM: focal, FWidest: 5.6, FSmallest: 45, Lens: "four elements in a brass barrel",
		DrawMaxMM: num(420), CapSDS: num(0.1), CocMM: num(0.2), CircleMM: num(230), CopyM: num(1), CopyF: num(copyF),
		Routine: []string{"developer", "stop", "fixer", "water"}, Text: "pine box with a sleeve, trays under the back"})
	b.receive(events.PaperReceivedData{Box: "box-1", Name: "Harbour glossy", Base: "rc", WidthMM: 90, HeightMM: 120, Sheets: 100, Index: num(4),
		Surface: "glossy", ISOP: num(400), ISOR: num(110), ReciprocityP: num(1), DevelopS: num(60), FixS: num(60), Expires: "2028-03", Cost: num(420), Currency: "NOK"})
	b.receive(events.PaperReceivedData{Box: "box-2", Name: "Harbour pearl", Base: "rc", WidthMM: 127, HeightMM: 178, Sheets: 25, Index: num(3),
		Surface: "pearl", ISOR: num(100), ReciprocityP: num(1), DevelopS: num(60), FixS: num(60), Expires: "2027-11", Cost: num(310), Currency: "NOK"})
	b.receive(events.PaperReceivedData{Box: "box-3", Name: "Chandler's baryta", Base: "fb", WidthMM: 90, HeightMM: 120, Sheets: 25, Index: num(3),
		Surface: "glossy", ISOR: num(115), ReciprocityP: num(1), DevelopS: num(100), FixS: num(120), Expires: "2027-06", Cost: num(260), Currency: "NOK"})
	b.box, b.printBox = "box-1", "box-1"
}

// developer, fixer and stop are mixed small: the trays in the box hold half a litre.
func (b *bench) mixDeveloper(name string, capacity, lifeH float64) {
	b.mix(events.BathMixedData{Bath: name, Role: "developer", Name: "hydroquinone print developer", VolumeML: 500, Dilution: "1+9", TimeS: num(60), TempC: num(20),
		Q10: num(2), CapacityM2: num(capacity), LifeH: num(lifeH), BottleDays: num(21), Cost: num(18), Currency: "NOK"})
}

func (b *bench) mixFixer(name string, capacity float64) {
	b.mix(events.BathMixedData{Bath: name, Role: "fixer", Name: "rapid fixer", VolumeML: 500, Dilution: "1+4", TimeS: num(60), TempC: num(20), Q10: num(2),
		CapacityM2: num(capacity), LifeH: num(48), BottleDays: num(60), Cost: num(24), Currency: "NOK"})
}

func (b *bench) mixStop(name string) {
	b.mix(events.BathMixedData{Bath: name, Role: "stop", Name: "vinegar and rain water", VolumeML: 500, TimeS: num(15)})
}

// firstLight: the paper is tried by a strip and rated; the first sheets of the year.
func (b *bench) firstLight() {
	b.on("2026-04-18 10:00")
	b.open(events.SessionOpenedData{Session: "first-light", Place: "Skerrow, the ferry steps", Lat: num(lat), Lon: num(lon), Sky: "cloud", Light: "overcast",
		Helper: "the ticket hatch", Text: "first day out, the box smells of winter"})
	b.mixDeveloper("dev-1", 0.40, 10)
	b.mixStop("stop-1")
	b.mixFixer("fix-1", 0.34)
	b.check("light", "good", "twenty minutes in the open, sheet stays white", 20)
	b.temp("dev-1", 19)
	b.temp("fix-1", 19)
	b.meter(16, 2.1, 4, "overcast")
	b.strip()
	b.note("box-1", "the strip says 5, not the 4 on the lid")
	b.rate(events.PaperRatedData{Box: "box-1", Index: num(5), Generation: "negative", Evidence: "strip-1, best step 3 of 6"})

	p := b.expose(negative{subject: "The Skerrow Maid at the steps", f: 16, distance: 14000})
	b.deliverLater(b.reprint(p, print{}), "")
	b.meter(16, 2.4, 5, "overcast")
	p = b.expose(negative{subject: "Ticket hatch with its keeper", sitter: "sitter-1", f: 11, distance: 3200, motion: "standing"})
	b.consent("sitter-1", "publish")
	first := b.reprint(p, print{treatment: treatment{verdict: "redo", symptoms: []string{"too-dark"}, stops: num(-0.5), said: "her face is a tone too deep"}})
	second := b.reprint(p, print{after: first, asked: -0.5, treatment: treatment{said: "as asked"}})
	b.dry(first, second)
	b.deliver(second, "sitter-1", 150)
	p = b.expose(negative{subject: "Coal steps at low water", f: 22, distance: 9000})
	b.reprint(p, print{})
	p = b.expose(negative{subject: "Mooring ropes", f: 16, distance: 2400, motion: "rest", treatment: treatment{mid: 0.66}})
	b.reprint(p, print{})
	b.close()
}

// strip exposes and reads a test strip on the scene, and is where the index of box-1 comes from.
func (b *bench) strip() {
	b.after(4)
	times, err := calc.StripTimes(0.8, 0.5, 6)
	b.fail(err)
	for i := range times {
		times[i] = digits(times[i], 2)
	}
	b.sizes["strip-1"] = b.papers["box-1"].sheetArea / 2
	b.write(&events.StripExposedData{Strip: "strip-1", Box: "box-1", On: "scene", TimesS: times, F: num(16), Part: num(0.5), Carried: b.carried()})
	b.after(5)
	done := digits(b.calledFor("dev-1", "strip-1", b.papers["box-1"].developS), 2)
	b.write(&events.StripReadData{Strip: "strip-1", Bath: "dev-1", TimeS: num(done), Threshold: count(1), Best: count(3), MaximumBlack: count(6), Carried: b.carried()})
}

// deliverLater dries a sheet, and hands it over where somebody asked for it.
func (b *bench) deliverLater(sheet, to string) {
	b.dry(sheet)
	if to != "" {
		b.deliver(sheet, to, 120)
	}
}

// moleDay: people up close; the bellows' extension is left out once, the meter's index is not converted once.
func (b *bench) moleDay() {
	b.on("2026-05-03 09:30")
	b.open(events.SessionOpenedData{Session: "mole-day", Place: "Skerrow, the outer mole", Lat: num(lat + 0.006), Lon: num(lon + 0.011), Sky: "thin", Light: "sun",
		Text: "ferry people off watch"})
	b.tray("dev-1", "stop-1", "fix-1")
	b.temp("dev-1", 20)
	b.temp("fix-1", 20)
	b.meter(32, 1.6, 5, "sun")
	p := b.expose(negative{subject: "The mate, full length", sitter: "sitter-2", f: 32, distance: 4200, motion: "standing"})
	b.consent("sitter-2", "show")
	b.deliverLater(b.reprint(p, print{}), "sitter-2")
	p = b.expose(negative{subject: "The mate's hands and the bell rope", sitter: "sitter-2", f: 22, distance: 620, motion: "rest", noExtension: true,
		treatment: treatment{verdict: "redo", symptoms: []string{"thin"}, said: "pale all over"}})
	b.reprint(p, print{thin: -0.98, treatment: treatment{verdict: "reject", symptoms: []string{"weak-blacks", "flat"}, said: "coal-grey where it should be black"}})
	again := b.expose(negative{subject: "The mate's hands and the bell rope, again", sitter: "sitter-2", f: 22, distance: 620, motion: "rest"})
	b.deliverLater(b.reprint(again, print{}), "sitter-2")
	b.meter(32, 0.7, 12, "sun")
	b.expose(negative{subject: "Gulls over the mole", f: 32, distance: 20000, noIndex: true,
		treatment: treatment{verdict: "reject", symptoms: []string{"thin"}, said: "the meter stood at 12"}})
	b.meter(32, 1.5, 5, "sun")
	p = b.expose(negative{subject: "Harbour clerk with the tide table", sitter: "sitter-5", f: 32, distance: 2300, motion: "seated", text: "the tide table lay on her knee"})
	b.consent("sitter-5", "keep")
	b.deliverLater(b.reprint(p, print{}), "sitter-5")
	p = b.expose(negative{subject: "Nets drying, Ярослав's bicycle, and the whole of the inner harbour with the Skerrow Maid, two pilots and a dredger", f: 32, distance: 11000})
	b.reprint(p, print{})
	p = b.expose(negative{subject: "Mole light, looking out", f: 45, distance: 30000, treatment: treatment{mid: 0.71}})
	b.reprint(p, print{})
	b.discard("dev-1", "the waste can", "")
	b.discard("fix-1", "the silver can", "")
	b.close()
}

// netLoft: a cold loft. The developer stands at 14.5 °C and gets its twenty-degree time; later it is warmed.
func (b *bench) netLoft() {
	b.on("2026-05-16 13:00")
	b.open(events.SessionOpenedData{Session: "net-loft", Place: "Skerrow, the net loft, second stair", Sky: "cloud", Light: "shade", Helper: "a cat"})
	b.mixDeveloper("dev-2", 0.30, 2)
	b.mixFixer("fix-2", 0.30)
	b.temp("dev-2", 14.5)
	b.temp("fix-2", 15)
	b.meter(8, 9, 5, "shade")
	b.expose(negative{subject: "The old net mender", sitter: "sitter-7", f: 8, distance: 2100, motion: "seated",
		treatment: treatment{developS: 60, verdict: "redo", symptoms: []string{"thin", "flat"}, said: "tones came slowly and stopped"}})
	b.consent("sitter-7", "publish")
	b.temp("dev-2", 19.5)
	b.temp("fix-2", 18)
	p := b.expose(negative{subject: "The old net mender, the bath warmed", sitter: "sitter-7", f: 8, distance: 2100, motion: "seated"})
	b.deliverLater(b.reprint(p, print{}), "sitter-7")
	p = b.expose(negative{subject: "Floats and corks on a rafter", f: 11, distance: 1500, motion: "rest"})
	b.reprint(p, print{treatment: treatment{developStops: -0.9, verdict: "redo", symptoms: []string{"weak-blacks"}, said: "pulled too soon, someone at the door"}})
	b.meter(8, 14, 5, "shade")
	b.expose(negative{subject: "The cat, in so far as it sat", f: 5.6, distance: 1700, motion: "child",
		treatment: treatment{verdict: "reject", symptoms: []string{"subject-moved"}, said: "two heads"}})
	b.after(70)
	b.meter(8, 16, 5, "shade")
	b.expose(negative{subject: "Stair down to the quay", f: 11, distance: 5200,
		treatment: treatment{verdict: "keep", said: "developer brown by now, kept all the same"}})
	b.discard("dev-2", "the waste can", "brown")
	b.discard("stop-1", "the waste can", "")
	b.close()
}

// slipway: the yellow filter is put on and left out of the calculation; short times and a cold hand at the cap.
func (b *bench) slipway() {
	b.on("2026-05-31 11:00")
	b.open(events.SessionOpenedData{Session: "slipway", Place: "Skerrow, the pilot's slipway", Lat: num(lat - 0.002), Lon: num(lon - 0.004), Sky: "thin", Light: "sun", Helper: "the pilot's wife"})
	b.mixDeveloper("dev-3", 0.45, 10)
	b.mixStop("stop-2")
	b.tray("fix-2")
	b.temp("dev-3", 20)
	b.temp("fix-2", 20)
	b.rate(events.PaperRatedData{Box: "box-1", Filter: "yellow", FilterFactor: num(2.5), Generation: "negative", Evidence: "grey card, two sheets"})
	b.meter(32, 1.8, 5, "sun")
	b.expose(negative{subject: "Boat on the slip, clouds wanted", f: 32, distance: 8000, filter: "yellow", noFilter: true,
		treatment: treatment{verdict: "redo", symptoms: []string{"thin"}, said: "forgot what the glass eats"}})
	p := b.expose(negative{subject: "Boat on the slip, with its clouds", f: 32, distance: 8000, filter: "yellow"})
	b.reprint(p, print{})
	p = b.expose(negative{subject: "The pilot's children on the rail", sitter: "sitter-6", f: 22, distance: 3000, motion: "child", doneStops: 1.1,
		treatment: treatment{verdict: "redo", symptoms: []string{"dense"}, said: "hand at the cap was talking"}})
	b.consent("sitter-6", "keep")
	b.reprint(p, print{thin: 1.1, treatment: treatment{verdict: "redo", symptoms: []string{"fogged-highlights"}}})
	p = b.expose(negative{subject: "The pilot's children, counted out loud", sitter: "sitter-6", f: 22, distance: 3000, motion: "child"})
	one := b.reprint(p, print{})
	two := b.reprint(p, print{box: "box-3"})
	b.dry(one, two)
	b.deliver(one, "sitter-6", 120)
	b.deliver(two, "sitter-6", 220)
	b.expose(negative{subject: "Keel blocks", f: 22, distance: 1400, focused: 2600, motion: "rest",
		treatment: treatment{verdict: "reject", symptoms: []string{"out-of-focus"}, said: "the far wall is sharp"}})
	b.close()
}

// midsummer: the sleeve lets light in, an aperture is read wrong in the copy, a sheet goes into the camera twice.
func (b *bench) midsummer() {
	b.on("2026-06-20 15:00")
	b.open(events.SessionOpenedData{Session: "midsummer-ferry", Place: "Skerrow, on board at the long quay", Lat: num(lat + 0.001), Lon: num(lon), Sky: "clear", Light: "shade"})
	b.tray("dev-3", "stop-2", "fix-2")
	b.temp("dev-3", 21)
	b.temp("fix-2", 21)
	b.meter(16, 2.6, 5, "shade")
	p := b.expose(negative{subject: "Engineer at the hatch", sitter: "sitter-4", f: 16, distance: 2600, motion: "standing"})
	b.consent("sitter-4", "publish")
	bad := b.reprint(p, print{doneF: 8, treatment: treatment{verdict: "redo", symptoms: []string{"too-dark"}, said: "black as the bunker"}})
	good := b.reprint(p, print{})
	b.dry(bad, good)
	b.deliver(good, "sitter-4", 150)
	b.expose(negative{subject: "Bridge wing, Tor-H. at the wheel", sitter: "sitter-2", f: 16, distance: 2200, motion: "standing", twice: 4,
		treatment: treatment{verdict: "reject", symptoms: []string{"double-image", "dense"}, said: "two bridges"}})
	b.meter(22, 3.1, 5, "shade")
	b.expose(negative{subject: "Saloon through the door", f: 16, distance: 4300, treatment: treatment{verdict: "redo", symptoms: []string{"edge-fog", "fogged-highlights"}, said: "grey down one side"}})
	b.check("sleeve", "bad", "a seam has opened at the cuff; light on the sheet after five minutes", 5)
	b.check("light", "bad", "grey within five minutes", 5)
	b.note(camera, "sleeve sewn and waxed")
	b.after(30)
	b.check("light", "good", "white after half an hour", 30)
	p = b.expose(negative{subject: "Saloon through the door, sleeve sewn", f: 16, distance: 4300})
	b.reprint(p, print{treatment: treatment{noRinse: true, verdict: "keep", said: "straight from developer to fixer, in a hurry"}})
	p = b.expose(negative{subject: "Baker's boat alongside", sitter: "sitter-3", f: 16, distance: 5200, motion: "afloat", treatment: treatment{rock: 10}})
	b.consent("sitter-3", "show")
	b.deliverLater(b.reprint(p, print{}), "sitter-3")
	b.discard("dev-3", "the waste can", "")
	b.discard("stop-2", "the waste can", "")
	b.close()
}

// engineRoom: long times by lamp; the fixer has seen all it can, and nobody counts.
func (b *bench) engineRoom() {
	b.on("2026-07-04 18:30")
	b.open(events.SessionOpenedData{Session: "engine-room", Place: "the Skerrow Maid, engine room", Light: "lamp", Helper: "the engineer"})
	b.mixDeveloper("dev-4", 0.45, 10)
	b.mixStop("stop-3")
	b.tray("fix-2")
	b.temp("dev-4", 22)
	b.temp("fix-2", 22)
	b.meter(8, 24, 5, "lamp")
	p := b.expose(negative{subject: "Engineer among the pipes", sitter: "sitter-4", f: 8, distance: 1900, motion: "seated"})
	b.reprint(p, print{})
	b.expose(negative{subject: "Gauge glass", f: 8, distance: 700, motion: "rest", box: "box-2", plannedBox: "box-1",
		treatment: treatment{verdict: "redo", symptoms: []string{"thin"}, said: "the pearl was in the holder, and it is slower"}})
	p = b.expose(negative{subject: "Gauge glass, once more", f: 8, distance: 700, motion: "rest", box: "box-2"})
	b.reprint(p, print{box: "box-2"})
	p = b.expose(negative{subject: "Crankcase and lamp", f: 11, distance: 1600, motion: "rest"})
	b.reprint(p, print{treatment: treatment{fixStops: -0.5, verdict: "redo", symptoms: []string{"milky"}, said: "milky in the corners, the fixer must be done for"}})
	b.after(2)
	b.write(&events.BathTestedData{Bath: "fix-2", Test: "silver-strip", Value: 8, Unit: "g/l", Text: "the strip goes dark", Carried: b.carried()})
	b.discard("fix-2", "the silver can", "exhausted, and found out late")
	b.mixFixer("fix-3", 0.40)
	b.temp("fix-3", 21)
	b.reprint(p, print{treatment: treatment{said: "fresh fixer"}})
	p = b.expose(negative{subject: "Engineer's shelf: tin, bread, almanac", f: 11, distance: 1100, motion: "rest"})
	b.deliverLater(b.reprint(p, print{}), "sitter-4")
	b.close()
}

// regatta: a pre-flash that veils, a fibre print washed in one change; a slip of the pen mended and an entry taken back.
func (b *bench) regatta() {
	b.on("2026-07-19 10:30")
	b.open(events.SessionOpenedData{Session: "regatta", Place: "Skerrow, the long quay", Lat: num(lat), Lon: num(lon + 0.002), Sky: "clear", Light: "sun",
		Text: "ferry crews rowing against the pilots"})
	b.tray("dev-4", "stop-3", "fix-3")
	b.mix(events.BathMixedData{Bath: "washing-aid-1", Role: "washing-aid", Name: "soda washing aid", VolumeML: 500, Dilution: "1+49", TimeS: num(120)})
	b.temp("dev-4", 20)
	b.temp("fix-3", 20)
	b.meter(45, 1.7, 5, "sun")
	p := b.expose(negative{subject: "Ferry crew, six oars and a cox", f: 45, distance: 9000, motion: "standing"})
	one := b.reprint(p, print{box: "box-3", treatment: treatment{changes: 1, washML: 200, verdict: "keep"}})
	two := b.reprint(p, print{box: "box-3", treatment: treatment{aid: "soda"}})
	b.dry(one, two)
	b.deliver(two, "sitter-2", 240)
	b.expose(negative{subject: "Start gun smoke", f: 45, distance: 15000, flash: 3,
		treatment: treatment{verdict: "reject", symptoms: []string{"grey-fog"}, said: "pre-flashed by guess"}})
	p = b.expose(negative{subject: "Winners' cup on the bollard", f: 32, distance: 1200, motion: "rest", flash: 0.6})
	b.reprint(p, print{})
	taken := b.note(p, "second boat: the customs")
	b.after(4)
	b.write(&events.EntryVoidedData{Entry: taken, Why: "that was another year"})
	p = b.expose(negative{subject: "Pilots, second by a length", f: 45, distance: 8000, motion: "standing", treatment: treatment{developStops: 1.25, verdict: "redo", symptoms: []string{"dense"}, said: "watched the race, not the tray"}})
	b.reprint(p, print{way: "contact", contactS: 6})
	p = b.expose(negative{subject: "Quay after the race", f: 45, distance: 16000, typed: 17})
	b.deliverLater(b.reprint(p, print{}), "")
	b.discard("dev-4", "the waste can", "")
	b.discard("stop-3", "the waste can", "")
	b.discard("washing-aid-1", "the waste can", "")
	b.close()
	b.on("2026-08-05 20:10")
	b.write(&events.SheetJudgedData{Sheet: one, Verdict: "redo", Symptoms: []string{"yellow-stain"}, Text: "stained within three weeks"})
}

// lastFerry: the newest session, still open: two sheets wait for the developer.
func (b *bench) lastFerry() {
	b.on("2026-08-09 14:00")
	b.open(events.SessionOpenedData{Session: "last-ferry", Place: "Skerrow, the ferry steps", Lat: num(lat), Lon: num(lon), Sky: "thin", Light: "overcast", Helper: "the ticket hatch"})
	b.mixDeveloper("dev-5", 0.45, 10)
	b.mixStop("stop-4")
	b.tray("fix-3")
	b.temp("dev-5", 20)
	b.temp("fix-3", 20)
	b.meter(16, 1.9, 5, "overcast")
	p := b.expose(negative{subject: "The Skerrow Maid casts off", f: 22, distance: 18000, motion: "afloat"})
	b.deliverLater(b.reprint(p, print{}), "")
	p = b.expose(negative{subject: "Ingrid closing the hatch", sitter: "sitter-1", f: 16, distance: 2700, motion: "standing"})
	b.reprint(p, print{treatment: treatment{verdict: "redo", symptoms: []string{"too-light"}, stops: num(0.33), said: "a breath more"}})
	b.meter(16, 2.3, 5, "overcast")
	b.expose(negative{subject: "Empty steps", f: 22, distance: 12000, treatment: treatment{waits: true}})
	b.expose(negative{subject: "Wake", f: 22, distance: 25000, treatment: treatment{waits: true}})
}
