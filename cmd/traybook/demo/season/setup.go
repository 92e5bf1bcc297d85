package season

import (
	"traybook/calc"
	"traybook/events"
)

func (b *bench) receive(r events.PaperReceivedData) {
	b.after(2)
	p := &paper{base: r.Base, widthMM: r.WidthMM, heightMM: r.HeightMM, index: *r.Index, printIndex: *r.Index, isoR: calc.DefaultISORange, p: 1,
		dmax: calc.DefaultDmaxGlossy, filter: map[string]float64{}, sheetArea: r.WidthMM * r.HeightMM / 1e6}
	set := func(to *float64, v *float64) {
		if v != nil {
			*to = *v
		}
	}
	set(&p.isoR, r.ISOR)
	set(&p.p, r.ReciprocityP)
	set(&p.developS, r.DevelopS)
	set(&p.fixS, r.FixS)
	set(&p.dmax, r.Dmax)
	b.papers[r.Box] = p
	b.write(&r)
}

func (b *bench) rate(r events.PaperRatedData) {
	b.after(2)
	p := b.papers[r.Box]
	if r.Filter != "" && r.FilterFactor != nil {
		p.filter[r.Filter] = *r.FilterFactor
	} else if r.Index != nil {
		p.index = *r.Index
	}
	r.Carried = b.carried()
	b.write(&r)
}

// mix makes a bath and puts it to use.
func (b *bench) mix(m events.BathMixedData) {
	b.after(4)
	x := &bath{role: m.Role, q10: 2, tempC: 20, seen: map[string]bool{}}
	if m.TimeS != nil {
		x.timeS = *m.TimeS
	}
	if m.Q10 != nil {
		x.q10 = *m.Q10
	}
	if m.CapacityM2 != nil {
		x.capacity = *m.CapacityM2
	} else {
		capacity, _, err := calc.BathDefaults(m.Role, m.VolumeML)
		b.fail(err)
		x.capacity = capacity
	}
	b.baths[m.Bath] = x
	switch m.Role {
	case "developer":
		b.developer = m.Bath
	case "fixer":
		b.fixer = m.Bath
	case "stop":
		b.rinse = m.Bath
	}
	m.Carried = b.carried()
	b.write(&m)
}

// temp tests the temperature of a bath; it serves every sheet until the next test.
func (b *bench) temp(name string, tempC float64) {
	b.after(1)
	b.tempC[name] = tempC
	b.write(&events.BathTestedData{Bath: name, Test: "temperature", Value: tempC, Carried: b.carried()})
}

// tray pours a bath back from its bottle.
func (b *bench) tray(names ...string) {
	for _, name := range names {
		b.after(1)
		b.write(&events.BathMovedData{Bath: name, To: "tray", Carried: b.carried()})
	}
}

func (b *bench) discard(name, to, text string) {
	b.after(1)
	b.write(&events.BathDiscardedData{Bath: name, To: to, Text: text, Carried: b.carried()})
	if b.rinse == name {
		b.rinse = ""
	}
}

func (b *bench) open(o events.SessionOpenedData) {
	b.session, o.Camera = o.Session, camera
	b.write(&o)
}

func (b *bench) close() {
	b.after(10)
	b.write(&events.SessionClosedData{Session: b.session})
	b.session = ""
}

func (b *bench) note(about, text string) string {
	b.after(1)
	return b.write(&events.NoteWrittenData{About: about, Text: text, Carried: b.carried()})
}

// check is the camera looked over.
func (b *bench) check(what, result, text string, minutes float64) {
	b.after(3)
	c := &events.CameraCheckedData{Camera: camera, What: what, Result: result, Text: text, Session: b.session}
	if minutes > 0 {
		c.Minutes = num(minutes)
	}
	b.write(c)
}

func (b *bench) consent(sitter, to string) {
	b.after(1)
	b.write(&events.SitterConsentedData{Sitter: sitter, To: to})
}

func (b *bench) deliver(sheet, to string, price float64) {
	b.after(2)
	d := &events.SheetDeliveredData{Sheet: sheet, To: to, Carried: b.carried()}
	if price > 0 {
		d.Price, d.Currency = num(price), "NOK"
	}
	b.write(d)
}

func (b *bench) dry(sheets ...string) {
	for _, s := range sheets {
		b.after(0.5)
		b.write(&events.SheetDriedData{Sheet: s, Carried: b.carried()})
	}
}
