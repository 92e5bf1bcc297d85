package snapshot

import (
	"cmp"
	"slices"
	"strconv"
	"time"

	"traybook/events"
)

// Follower takes acts into a book one after another, in the order of their time, and keeps what lies open on a snapshot
// for an act in step with them. Without it each act of a file would read its picture and its session again from their
// beginning. What the book holds of later than an act waits until an act comes to its time.
type Follower struct {
	r   events.Reader
	act *Snapshot
}

// NewFollower follows a book that is being written.
func NewFollower(r events.Reader) *Follower {
	f := &Follower{r: r}
	f.clear()
	return f
}

// following is what a follower keeps in step on its snapshot.
type following struct {
	sessions openSessions
	later    map[int64][]events.Entry  // of each stream that lies open: what comes after the snapshot's moment
	laid     map[int64]bool            // streams whose readings were laid
	readings map[int64][]string        // their ids, by their streams
	boxes    time.Time                 // the first that was left out of a box as later; zero for none
	ever     map[int64]map[string]Ever // of pictures: what was ever done to their sheets
	prints   map[int64]int             // of pictures that were read or are written to: the largest number that a print has borne
	newest   map[string]string
	waits    waitingSheets
}

// clear begins again with nothing read.
func (f *Follower) clear() {
	var sitters map[string]bool
	if f.act != nil {
		sitters = f.act.Sitters
	}
	f.act = NewForAct(f.r, time.Time{})
	f.act.Sitters = sitters
	f.act.follows = &following{prints: map[int64]int{}, later: map[int64][]events.Entry{}, laid: map[int64]bool{}, readings: map[int64][]string{}, ever: map[int64]map[string]Ever{}, newest: map[string]string{}}
}

// Follows says whether the snapshot is a follower's, and keeps what is asked of it for the acts that come.
func (snap *Snapshot) Follows() bool { return snap.follows != nil }

// SnapshotAt is the snapshot for an act of a moment. Where an act is earlier than the one before it, what lies open is
// read anew: a void comes after what it names, whenever it is dated.
func (f *Follower) SnapshotAt(at time.Time) *Snapshot {
	switch {
	case at.Before(f.act.AsOf):
		f.clear()
	case !f.act.crowded():
	case len(f.act.pictures) > f.act.Room/2:
		f.shed()
	default:
		f.clear()
	}
	f.act.AsOf = at
	if f.act.ahead != nil && *f.act.ahead { // where nothing lies ahead nothing will
		f.act.ahead = nil
	}
	return f.act
}

// shed lets go of the pictures: where there are many, most are done with, and a session or a bath that they belong to may
// be long.
func (f *Follower) shed() {
	snap := f.act
	for id := range snap.pictures {
		for _, reading := range snap.follows.readings[id] {
			delete(snap.readings, reading)
		}
		delete(snap.follows.readings, id)
		delete(snap.follows.laid, id)
		delete(snap.follows.later, id)
		delete(snap.follows.ever, id)
		delete(snap.cuts, id)
	}
	clear(snap.pictures)
}

// keepLater keeps what of a stream comes after the snapshot's moment.
func (f *following) keepLater(stream int64, later []events.Entry) {
	delete(f.later, stream)
	if len(later) > 0 {
		f.later[stream] = later
	}
}

// timeCame gives what of a stream was kept as later and is so no more, in its order.
func (f *following) timeCame(stream int64, now time.Time) []events.Entry {
	later := f.later[stream]
	n := upTo(later, now)
	f.keepLater(stream, later[n:])
	return later[:n]
}

// catchUp takes in, by add, what of a stream that lies open has come to its time.
func (snap *Snapshot) catchUp(stream int64, add func(events.Entry)) {
	if snap.follows == nil || len(snap.follows.later[stream]) == 0 {
		return
	}
	for _, e := range snap.follows.timeCame(stream, snap.AsOf) {
		add(e)
		snap.layReading(stream, &e)
	}
}

// comesToMore says whether something of a stream that was kept as later is so no more.
func (snap *Snapshot) comesToMore(stream int64) bool {
	f := snap.follows
	return f != nil && len(f.later[stream]) > 0 && !f.later[stream][0].At.After(snap.AsOf)
}

// Append has an act written, and takes it in.
func (f *Follower) Append(w events.Writer, e *events.Entry) error {
	begins := false
	if stream := events.PlacesOf(e.Data).Stream; stream.Kind == events.Picture {
		_, there, err := f.r.Entity(stream.Name)
		if err != nil {
			return err
		}
		begins = !there
	}
	if err := w.Append(e); err != nil {
		return err
	}
	return f.follow(*e, begins)
}

// follow takes in an act that was just appended. begins says that it is the first of its picture.
func (f *Follower) follow(e events.Entry, begins bool) error {
	p := events.PlacesOf(e.Data)
	if e.Kind == events.EntryVoided || e.Kind == events.EntryAmended {
		if e.Kind == events.EntryVoided {
			if out, err := f.act.takeOut(p.Entry); out || err != nil {
				return err
			}
		}
		return f.mended(p, movesNothing(e))
	}
	stream := p.Stream.Name
	if p.Entry != "" || p.Stream.Kind == "" {
		t, err := f.r.StreamOf(e.ID)
		if err != nil {
			return err
		}
		stream = t.Name
	}
	t, ok, err := f.r.Entity(stream)
	if err != nil || !ok {
		return err
	}
	if begins {
		f.act.begin(t)
	}
	f.act.follow(t, e)
	if b := f.act.baths[p.Bath]; p.Bath != "" && b != nil {
		if c := f.act.courses[b.Entity.ID]; c != nil {
			c.follow(f.act.AsOf, e)
		}
	}
	if s := f.act.sessions[p.Session]; p.Session != "" && s != nil && e.Kind == events.SheetReprinted {
		s.prints.follow(f.act.AsOf, e)
	}
	return nil
}

// movesNothing says whether an amendment leaves every act at its time and every verdict as it was, so that what the newest acts
// said and what waits stand.
func movesNothing(e events.Entry) bool {
	x, ok := e.Data.(*events.EntryAmendedData)
	return ok && !slices.ContainsFunc(x.Set, func(s events.SetField) bool { return s.Name == "at" || s.Name == "verdict" })
}

// mended lets go of what an amendment or a void may change.
func (f *Follower) mended(p events.Places, stand bool) error {
	id, err := events.ParseID(p.Entry)
	if err != nil { // a batch
		f.clear()
		return nil
	}
	stream, err := f.r.StreamOf(id)
	if err != nil {
		return err
	}
	snap, following := f.act, f.act.follows
	snap.letGo(stream)
	clear(snap.courses)
	for _, id := range following.readings[stream.ID] {
		delete(snap.readings, id)
	}
	delete(following.readings, stream.ID)
	delete(following.laid, stream.ID)
	delete(following.later, stream.ID)
	delete(following.ever, stream.ID)
	delete(snap.cuts, stream.ID)
	for _, s := range snap.sessions {
		s.prints, s.Served, s.SeenPrints = inSession{}, nil, 0
	}
	if !stand {
		clear(following.newest)
		following.waits = waitingSheets{}
	}
	if stream.Kind == events.Session {
		following.sessions = openSessions{later: following.sessions.later}
	}
	return nil
}

// begin lays a picture open of which the book holds nothing yet.
func (snap *Snapshot) begin(t events.Entity) {
	snap.pictures[t.ID], snap.cuts[t.ID] = foldPicture(t, nil), map[string]cut{}
	snap.follows.ever[t.ID], snap.follows.laid[t.ID] = map[string]Ever{}, true
}

// follow puts an act into what lies open of its stream.
func (snap *Snapshot) follow(t events.Entity, e events.Entry) {
	f := snap.follows
	if e.Kind == events.SessionOpened {
		opened := openSession{e.At.UnixMicro(), t.Name}
		if s := snap.sessions[t.Name]; s != nil && s.Opened != nil {
			opened.first = s.At.UnixMicro()
		}
		f.sessions.add(opened)
	}
	f.prints[t.ID] = max(f.prints[t.ID], PrintNumber(e.Data))
	snap.followCut(t, e)
	f.noteNewest(e)
	fits := false
	switch t.Kind {
	case events.Picture:
		f.noteEver(t, e)
		p := snap.pictures[t.ID]
		if p != nil {
			snap.catchUp(t.ID, p.append)
		}
		if fits = p != nil && follows(p.All, e); fits {
			p.append(e)
		}
		f.waits.follow(snap, t, e)
	case events.Session:
		s := snap.sessions[t.Name]
		if s != nil {
			snap.catchUp(t.ID, func(e events.Entry) { snap.appendTo(s, e) })
		}
		if fits = s != nil && follows(s.Entries, e); fits {
			snap.appendTo(s, e)
		}
	case events.Camera:
		c := snap.cameras[t.Name]
		if c != nil {
			snap.catchUp(t.ID, c.append)
		}
		if fits = c != nil && follows(c.Entries, e); fits {
			c.append(e)
		}
	}
	if !fits {
		snap.letGo(t)
	}
	if f.laid[t.ID] {
		snap.layReading(t.ID, &e)
	}
}

// follows says whether an entry comes after all those given.
func follows(entries []events.Entry, e events.Entry) bool {
	return len(entries) == 0 || events.Compare(entries[len(entries)-1], e) < 0
}

// followCut keeps in step what sheets and strips were made of. A sheet that is exposed again was made of what its first
// exposure says, which may be this one.
func (snap *Snapshot) followCut(t events.Entity, e events.Entry) {
	parts, read := snap.cuts[t.ID]
	if sheet := exposedOn(e); sheet != "" && parts[PartOf(e.Data)].box == "" {
		for id, c := range snap.courses { // where it lay in a bath before, it had no size there
			if _, lay := c.first[sheet]; lay {
				delete(snap.courses, id)
			}
		}
	}
	if !read {
		return
	}
	c, part, exposed := cut{}, "", true
	switch x := e.Data.(type) {
	case *events.SheetExposedData:
		c, part = cut{x.Box, ValueOr(x.Part, 1)}, PartOf(x)
	case *events.SheetReprintedData:
		c, part = cut{x.Box, ValueOr(x.Part, 1)}, PartOf(x)
	default:
		exposed = t.Kind != events.Picture
	}
	_, known := parts[part]
	switch {
	case !exposed:
	case part == "" || known || parts == nil || c.box == "":
		delete(snap.cuts, t.ID)
	default:
		parts[part] = c
	}
}

// exposedOn is the sheet or strip that an act exposes, "" for none.
func exposedOn(e events.Entry) string {
	switch x := e.Data.(type) {
	case *events.SheetExposedData, *events.SheetReprintedData:
		return events.SheetOf(e.Data)
	case *events.StripExposedData:
		return x.Strip
	}
	return ""
}

// letGo has a thing read anew when it is asked for again.
func (snap *Snapshot) letGo(t events.Entity) {
	delete(snap.pictures, t.ID)
	delete(snap.cameras, t.Name)
	switch t.Kind {
	case events.Session:
		if snap.sessions[t.Name] != nil { // when it was closed may be another moment
			clear(snap.courses)
		}
		delete(snap.sessions, t.Name)
	case events.Bath:
		delete(snap.baths, t.Name)
		delete(snap.courses, t.ID)
	case events.Box: // those that were cut from it as well
		clear(snap.boxes)
	}
}

// Ever is what was ever done to a sheet, before the snapshot's moment or after it.
type Ever struct{ Exposed, Developed bool }

// EverOf says what was ever done to a sheet, by its part; ok is false where nothing ever was. A back-dated act may stand
// before its cause, so the whole history counts.
func (snap *Snapshot) EverOf(t events.Entity, part string) (e Ever, ok bool, err error) {
	if snap.follows != nil {
		if parts, known := snap.follows.ever[t.ID]; known {
			e, ok = parts[part]
			return e, ok, nil
		}
	}
	whole, err := snap.OfWhole()
	if err != nil {
		return e, false, err
	}
	p, err := whole.PictureOf(t)
	if err != nil {
		return e, false, err
	}
	parts := map[string]Ever{}
	for _, s := range p.Sheets {
		parts[s.Part] = Ever{len(s.Exposures) > 0, len(s.Developed) > 0}
	}
	if snap.follows != nil {
		snap.follows.ever[t.ID] = parts
	}
	e, ok = parts[part]
	return e, ok, nil
}

// noteEver keeps in step what was ever done to a sheet.
func (f *following) noteEver(t events.Entity, e events.Entry) {
	parts, known := f.ever[t.ID]
	part := PartOf(e.Data)
	if !known || part == "" {
		return
	}
	was := parts[part]
	switch e.Kind {
	case events.SheetExposed, events.SheetReprinted:
		was.Exposed = true
	case events.SheetDeveloped:
		was.Developed = true
	}
	parts[part] = was
}

// Newest is what the newest act of some sort said, under its key, "" for none: what find finds. A follower asks find once,
// where nothing in the book lies ahead, and then keeps it in step with the acts that come.
func (snap *Snapshot) Newest(key string, find func() (string, error)) (string, error) {
	if snap.follows == nil {
		return find()
	}
	if said, known := snap.follows.newest[key]; known {
		return said, nil
	}
	said, err := find()
	if err != nil {
		return "", err
	}
	ahead, err := snap.Ahead()
	if err == nil && !ahead && said != "" {
		snap.follows.newest[key] = said
	}
	return said, err
}

// newestKeys gives, for an act, the keys under which a follower keeps what the newest of its sort said, and what this one
// says: the box of an exposure, in its session and at all, that of a holder, the picture of a negative that was developed, and
// when a bath was used.
func newestKeys(e events.Entry) map[string]string {
	p, keys := events.PlacesOf(e.Data), map[string]string{}
	switch e.Kind {
	case events.SheetExposed, events.SheetReprinted:
		keys[BoxKey(e.Kind, "")], keys[BoxKey(e.Kind, p.Session)] = p.Box, p.Box
	case events.HolderLoaded:
		x := e.Data.(*events.HolderLoadedData)
		keys[HolderKey(x.Holder)] = x.Box
	case events.SheetDeveloped:
		if picture, part, ok := events.SplitSheet(events.SheetOf(e.Data)); ok && part == "n" {
			keys[NegativeKey] = picture
		}
	}
	if p.Bath != "" {
		keys[UseKey(p.Bath)] = UseAt(e.At)
	}
	return keys
}

// NegativeKey is the key of the picture whose negative was developed last.
const NegativeKey = "negative"

// UseKey is the key of when a bath was used last, or else mixed, as UseAt writes it.
func UseKey(bath string) string { return "use " + bath }

// UseAt writes a moment in microseconds.
func UseAt(at time.Time) string { return strconv.FormatInt(at.UnixMicro(), 10) }

// HolderKey is the key of the box that a holder was loaded from last.
func HolderKey(holder string) string { return "holder " + holder }

// BoxKey is the key of the box that an act of a kind took paper from last, in a session or, for "", at all.
func BoxKey(kind events.Kind, session string) string { return string(kind) + " " + session }

func (f *following) noteNewest(e events.Entry) {
	for key, said := range newestKeys(e) {
		if _, known := f.newest[key]; known {
			f.newest[key] = said
		}
	}
}

// waitingSheets are the sheets that wait for the developer, those exposed first before the others, as far as that was
// asked once; those that wait no more are found out when they come to the front.
type waitingSheets struct {
	asked  bool
	until  time.Time // what the book held before is among them up to this moment
	ahead  bool      // it holds more after it
	sheets []waitingSheet
}

type waitingSheet struct {
	picture events.Entity
	part    string
	exposed events.Entry // first
}

// FirstWaiting is the sheet that waits for the developer and was exposed first; nil for none. all lists all that wait, in
// that order; a follower asks it once, and then takes in what is exposed by the acts that come, and what of the book comes to
// its time.
func (snap *Snapshot) FirstWaiting(all func() ([]*Sheet, error)) (*Sheet, error) {
	if snap.follows == nil {
		sheets, err := all()
		if err != nil || len(sheets) == 0 {
			return nil, err
		}
		return sheets[0], nil
	}
	w := &snap.follows.waits
	if err := w.catchUp(snap, all); err != nil {
		return nil, err
	}
	for i := 0; i < len(w.sheets); {
		p, err := snap.PictureOf(w.sheets[i].picture)
		if err != nil {
			return nil, err
		}
		s := p.Sheet(w.sheets[i].part)
		if s == nil || !s.Waits() {
			w.sheets = slices.Delete(w.sheets, i, i+1)
			continue
		}
		looked := true
		if w.ahead {
			if looked, err = snap.looksForWaiting(p); err != nil {
				return nil, err
			}
		}
		if looked {
			return s, nil
		}
		i++
	}
	return nil, nil
}

// looksForWaiting says whether a picture is one of those among which a sheet that waited at an earlier moment is looked for:
// one that waits still, or was exposed in a session that was open.
func (snap *Snapshot) looksForWaiting(p *Picture) (bool, error) {
	for _, e := range p.All {
		session := events.SessionOf(e.Data)
		if exposedOn(e) == "" || session == "" {
			continue
		}
		s, err := snap.Session(session)
		if err != nil || s.OpenAt(snap.AsOf) {
			return err == nil, err
		}
	}
	v, ok, err := snap.R.View(p.Entity)
	return ok && v.Open, err
}

// catchUp takes in what of the book has come to its time since it was asked.
func (w *waitingSheets) catchUp(snap *Snapshot, all func() ([]*Sheet, error)) (err error) {
	switch {
	case !w.asked:
		sheets, err := all()
		if err != nil {
			return err
		}
		wait := make([]waitingSheet, len(sheets))
		for i, x := range sheets {
			picture, _, _ := events.SplitSheet(x.Name)
			t, err := snap.Entity(events.Picture, picture)
			if err != nil {
				return err
			}
			wait[i] = waitingSheet{t, x.Part, x.Exposures[0]}
		}
		w.asked, w.sheets = true, wait
	case !w.ahead:
		return nil
	default:
		came, err := snap.Entries(events.Query{From: w.until, To: snap.AsOf, Kinds: []events.Kind{events.SheetExposed, events.SheetReprinted, events.SheetJudged}})
		if err != nil {
			return err
		}
		for _, e := range came { // one that was thrown away and is judged anew may wait again
			picture, part, _ := events.SplitSheet(events.SheetOf(e.Data))
			t, err := snap.Entity(events.Picture, picture)
			if err != nil {
				return err
			}
			p, err := snap.PictureOf(t)
			if err != nil {
				return err
			}
			if s := p.Sheet(part); s != nil && s.Waits() {
				w.add(waitingSheet{t, part, s.Exposures[0]})
			}
		}
	}
	w.until = snap.AsOf
	w.ahead, err = snap.Ahead()
	return err
}

// add puts a sheet in its place, unless it is there.
func (w *waitingSheets) add(s waitingSheet) {
	i, there := slices.BinarySearchFunc(w.sheets, s.exposed, func(x waitingSheet, e events.Entry) int { return events.Compare(x.exposed, e) })
	if !there {
		w.sheets = slices.Insert(w.sheets, i, s)
	}
}

// follow takes in an act on a sheet. A sheet that was thrown away and is judged anew may wait again in its place.
func (w *waitingSheets) follow(snap *Snapshot, t events.Entity, e events.Entry) {
	part := PartOf(e.Data)
	if !w.asked || part == "" {
		return
	}
	switch e.Kind {
	case events.SheetExposed, events.SheetReprinted:
		if p := snap.pictures[t.ID]; p == nil || p.Sheet(part) == nil || len(p.Sheet(part).Exposures) == 1 {
			w.add(waitingSheet{t, part, e})
		}
	case events.SheetJudged:
		if p := snap.pictures[t.ID]; p == nil || p.Sheet(part) == nil || len(p.Sheet(part).Developed) == 0 {
			*w = waitingSheets{}
		}
	}
}

// inSession is what was done of one sort in a session, in its order, as far as it was asked for.
type inSession struct {
	read        bool
	done, later []events.Entry
}

// take takes in what has come to its time.
func (l *inSession) take(now time.Time) {
	n := upTo(l.later, now)
	l.done, l.later = append(l.done, l.later[:n]...), l.later[n:]
}

func (l *inSession) follow(now time.Time, e events.Entry) {
	if l.read {
		l.take(now)
		l.done = append(l.done, e)
	}
}

// PrintsIn are the prints that were made in a session, in their order.
func (snap *Snapshot) PrintsIn(s *Session) ([]events.Entry, error) {
	if !s.prints.read {
		raw, err := snap.R.Entries(snap.counted(events.Query{Session: s.Entity.ID, Kinds: []events.Kind{events.SheetReprinted}}))
		if err != nil {
			return nil, err
		}
		s.prints.done, s.prints.later = snap.foldUntil(raw, events.Fold)
		s.prints.read, s.Served = true, nil
	}
	if snap.follows != nil {
		s.prints.take(snap.AsOf)
	}
	return s.prints.done, nil
}

// openSessions are the sessions that may be open, in the order in which they were first opened, and those that a later act
// of the book opens.
type openSessions struct {
	asked bool
	open  []openSession
	later []laterSession
}

type openSession struct {
	first int64 // when it was first opened, microseconds
	name  string
}

type laterSession struct {
	at int64
	openSession
}

// add takes in a session that is opened, anew or again.
func (o *openSessions) add(s openSession) {
	if !o.asked {
		return
	}
	i := len(o.open)
	for i > 0 && o.open[i-1].first > s.first {
		i--
	}
	o.open = slices.Insert(o.open, i, s)
}

// opensLater notes when a session is opened, or opened again, by later entries.
func (o *openSessions) opensLater(s *Session, later []events.Entry) {
	first := s.At
	for _, e := range later {
		if e.Kind == events.SessionOpened {
			if first.IsZero() {
				first = e.At
			}
			o.later = append(o.later, laterSession{e.At.UnixMicro(), openSession{first.UnixMicro(), s.Entity.Name}})
		}
	}
	o.inOrder()
}

func (o *openSessions) inOrder() {
	slices.SortStableFunc(o.later, func(a, b laterSession) int { return cmp.Compare(a.at, b.at) })
}

// LastOpened is, of the sessions open at a moment, the one opened last; nil for none.
func (snap *Snapshot) LastOpened(at time.Time) (*Session, error) {
	if snap.follows == nil {
		open, err := snap.SessionsAt(at)
		if err != nil || len(open) == 0 {
			return nil, err
		}
		return open[0], nil
	}
	o := &snap.follows.sessions
	if !o.asked {
		if err := snap.askSessions(at); err != nil {
			return nil, err
		}
	}
	for ; len(o.later) > 0 && o.later[0].at <= at.UnixMicro(); o.later = o.later[1:] {
		o.add(o.later[0].openSession)
	}
	for n := len(o.open); n > 0; n = len(o.open) {
		s, err := snap.Session(o.open[n-1].name)
		if err != nil {
			return nil, err
		}
		if s.OpenAt(at) {
			return s, nil
		}
		o.open = o.open[:n-1] // closed, and no later act finds it open but by opening it again
	}
	return nil, nil
}

// askSessions asks what sessions are open, and which are opened later.
func (snap *Snapshot) askSessions(at time.Time) error {
	o := &snap.follows.sessions
	open, err := snap.SessionsAt(at)
	if err != nil {
		return err
	}
	for _, s := range slices.Backward(open) {
		o.open = append(o.open, openSession{s.At.UnixMicro(), s.Entity.Name})
	}
	later, err := snap.R.Views(events.ViewQuery{Kind: events.Session, RankFrom: at.UnixMicro() + 1})
	if err != nil {
		return err
	}
	for _, v := range later {
		o.later = append(o.later, laterSession{v.Rank, openSession{v.Rank, v.Entity.Name}})
	}
	o.inOrder()
	o.asked = true
	return nil
}
