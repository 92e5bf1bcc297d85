package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/screen"
	"traybook/events"
	"traybook/projections/acts"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

func amendCommand(env *Env) *cli.Command {
	return &cli.Command{
		Name: "amend", Usage: "put fields of an entry right", ArgsUsage: "ENTRY|last|PICTURE|SHEET FIELD=VALUE…", Category: forMend,
		UsageText: lines("traybook amend last time=5s", "traybook amend 2026-014 subject=\"Ferry at dusk\"", "traybook amend 2026-014 sitter=\"Ferry mate\"", "traybook amend 80a3 distance=2.5m at=14:03 --why \"tape read wrong\"",
			"traybook amend 80a3 filter=              takes the field out"),
		Description: "ENTRY is the beginning of its id, four digits or more, or last: the act that this book wrote last. Of a picture or a sheet\n" +
			"(2026-014, 14, 14n, p1) it is the entry that has the field: subject is the exposure's. The entry itself stays as it was\n" +
			"written; the amendment stands beside it, and can be voided. What names a thing (picture, sheet, box, bath, session)\n" +
			"cannot be amended: void the entry and write it anew. The sitter of an exposure, the camera of an act and the reading that\n" +
			"served it can.",
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "why", Usage: "`TEXT` the reason"},
			&cli.StringFlag{Name: "at", Usage: "`14:05` when it was amended (now)"},
			&cli.BoolFlag{Name: "even-so", Usage: "keep a text that holds a sitter's name"},
		},
		Action: func(c *cli.Context) error {
			words := c.Args().Slice()
			if len(words) < 2 {
				return line.WrongLinef("traybook amend last time=5s", "amend takes an entry and what shall stand in it")
			}
			var done amended
			if err := inContext(env, c, func(ac *actContext) (err error) {
				done, err = ac.amend(words[0], words[1:])
				return err
			}); err != nil {
				return err
			}
			return done.print(env, c)
		},
	}
}

// amended is what an amendment did.
type amended struct {
	answer        wording.Answer
	before, after wording.Answer
	fields        []fieldChange
	standing      []string
}

type fieldChange struct {
	Field  string `json:"field"`  // its name
	Before any    `json:"before"` // as it counted before, null for nothing
	After  any    `json:"after"`  // as it counts now, null for nothing
	text   string
}

// target finds the entry to be mended, as it stands.
func (ac *actContext) target(word string, actsOnly bool) (events.Entry, error) {
	var id events.ID
	if strings.EqualFold(word, lastWord) {
		e, err := ac.last(actsOnly)
		if err != nil {
			return e, err
		}
		id = e.ID
	} else {
		e, err := acts.Entry(snapshot.New(ac.tx, ac.now), word)
		if err != nil {
			return events.Entry{}, err
		}
		id = e.ID
	}
	return ac.everything().AsItCounts(id)
}

// everything is the book with acts dated ahead.
func (ac *actContext) everything() *snapshot.Snapshot { return snapshot.New(ac.tx, noMoment) }

// toAmend finds the entry that is named by its id or as the last, or that the fields belong to where a picture or a sheet
// is named.
func (ac *actContext) toAmend(word string, settings []string) (events.Entry, error) {
	picture, part, ok, err := ac.pictureOf(word)
	if err != nil {
		return events.Entry{}, err
	}
	if !ok {
		return ac.target(word, true)
	}
	e, err := ac.entryOf(picture, part, settings)
	if err != nil {
		return e, err
	}
	return ac.everything().AsItCounts(e.ID)
}

func (ac *actContext) amend(word string, settings []string) (amended, error) {
	var out amended
	e, err := ac.toAmend(word, settings)
	if err != nil {
		return out, err
	}
	if !e.Voided.IsZero() {
		return out, line.Refuse(fmt.Sprintf("void the void first: traybook void %s", short(e.Voided)), "the entry %s was taken back", short(e.ID))
	}
	if out.before, err = acts.AnswerTo(ac.tx, e); err != nil {
		return out, err
	}
	data := &events.EntryAmendedData{Entry: e.ID.String(), Why: ac.c.String("why")}
	for _, s := range settings {
		f, err := ac.setting(e, s)
		if err != nil {
			return out, err
		}
		if slices.ContainsFunc(data.Set, func(o events.SetField) bool { return o.Name == f.Name }) {
			return out, line.WrongLinef("give it once", "%s stands twice", spokenName(e.Kind, f.Name))
		}
		data.Set = append(data.Set, f)
	}
	after, err := events.Apply(e, data.Set)
	if err != nil {
		var field *events.FieldError
		if !errors.As(err, &field) {
			return out, err
		}
		problem, may, hint := explainField(field, "")
		return out, line.Refuse(hint, "%s", inOne(problem, may))
	}
	if out.fields = changes(e, after, data.Set); len(out.fields) == 0 {
		return out, line.Refuse("nothing was written", "the entry %s says so already", short(e.ID))
	}
	if err := ac.keepNamesOut(after.Data); err != nil {
		return out, err
	}
	for _, f := range data.Set {
		if f.Name == "at" || f.Name == "reading" {
			odd, err := acts.TimeWarnings(ac.everything(), withRecord(after, ac))
			if err != nil {
				return out, err
			}
			ac.notes = append(ac.notes, odd...)
		}
	}
	standing, err := ac.everything().Dependents(e)
	if err != nil {
		return out, err
	}
	for _, s := range standing {
		out.standing = append(out.standing, ac.inShort(s))
	}
	if out.answer, err = ac.write(data); err != nil {
		return out, err
	}
	now, err := ac.everything().AsItCounts(e.ID)
	if err != nil {
		return out, err
	}
	if out.after, err = acts.AnswerTo(ac.tx, now); err != nil {
		return out, err
	}
	if err := ac.newlyOdd(&out, e, now); err != nil {
		return out, err
	}
	if e.Kind == events.BookOpened {
		err = keepZone(ac.tx)
	}
	return out, err
}

// newlyOdd puts what surprises about the entry as it stands now, and did not before, into the answer.
func (ac *actContext) newlyOdd(out *amended, before, now events.Entry) error {
	old, err := acts.ValueWarnings(ac.everything(), before)
	if err != nil {
		return err
	}
	odd, err := acts.ValueWarnings(ac.everything(), now)
	if err != nil {
		return err
	}
	old = append(old, out.before.Warnings...)
	for _, w := range append(odd, out.after.Warnings...) {
		if !slices.ContainsFunc(old, w.Same) {
			out.answer.Warnings = append(out.answer.Warnings, w)
		}
	}
	return nil
}

func withRecord(e events.Entry, ac *actContext) events.Entry {
	e.RecordedAt = ac.now
	return e
}

func (ac *actContext) keepNamesOut(data events.Data) error {
	if ac.c.Bool("even-so") {
		return nil
	}
	return acts.KeepNamesOut(ac.tx, data, acts.SittersOf(ac.tx))
}

// setting reads FIELD=VALUE for an entry.
func (ac *actContext) setting(e events.Entry, text string) (events.SetField, error) {
	name, value, ok := strings.Cut(text, "=")
	name, value = strings.ToLower(strings.TrimSpace(name)), strings.TrimSpace(value)
	if !ok {
		return events.SetField{}, setsNothing(text)
	}
	switch name {
	case "at":
		at, err := line.ParseAt(value, ac.now, ac.zone)
		if err != nil {
			return events.SetField{}, line.WrongLine(err)
		}
		return events.SetValue("at", events.FormatTime(moment(at)))
	case "zone":
		_, own := events.FieldOf(e.Kind, "zone")
		_, reading := events.FieldOf(e.Kind, "zone_stops")
		if _, notStops := line.Parse(line.Stops, value); !own && !(reading && notStops == nil) { // no time zone is a number
			if _, err := line.Zone(value); err != nil {
				return events.SetField{}, line.WrongLine(err)
			}
			return events.SetValue("zone", value)
		}
	}
	f, err := fieldCalled(e.Kind, name, value)
	if err != nil {
		return events.SetField{}, err
	}
	if value == "" || value == "null" {
		return events.SetField{Name: f.Name, Value: json.RawMessage("null")}, nil
	}
	if !f.Amendable() { // refused with its reason
		return events.SetValue(f.Name, value)
	}
	v, err := ac.fieldValue(e.Kind, f, value)
	if err != nil {
		problem, hint := problemOf(err)
		var field *events.FieldError
		if errors.As(err, &field) {
			problem = field.Why()
		}
		return events.SetField{}, line.WrongLinef(hint, "%s: %s", name, problem)
	}
	return events.SetValue(f.Name, v)
}

func (ac *actContext) fieldValue(k events.Kind, f events.Field, value string) (any, error) {
	switch f.Type {
	case "entry":
		return ac.entryID(value)
	case "sitter":
		return ac.sitter(value)
	case "flag":
		switch strings.ToLower(value) {
		case "yes", "true", "1":
			return true, nil
		case "no", "false", "0":
			return false, nil
		}
		return nil, line.Refuse("write yes or no", "%s is neither", line.Quote(value))
	}
	return line.ParseField(k, f, []string{value})
}

// fieldCalled finds a field by its name in the entry or by its option. Of two that share an option the value tells.
func fieldCalled(k events.Kind, name, value string) (events.Field, error) {
	if f, ok := events.FieldOf(k, name); ok {
		if twin, shared := events.FieldOf(k, map[string]string{"pre_flash": "pre_flash_s", "motion": "motion_mm_s"}[name]); shared {
			_, notShare := line.Parse(line.Share, value)
			if name == "pre_flash" && notShare != nil && value != "" || name == "motion" && line.StartsWithDigit(value) {
				return twin, nil
			}
		}
		return f, nil
	}
	var names []string
	for _, f := range events.Fields(k) {
		if f.Option() == name {
			return f, nil
		}
		if f.Amendable() && f.Option() != "zone" {
			names = append(names, f.Option())
		}
	}
	names = append(names, "at", "zone")
	hint := "it has " + strings.Join(names, ", ")
	if near := line.Nearest(name, names); near != "" {
		hint = "did you mean " + near + "?"
	}
	return events.Field{}, line.WrongLinef(hint, "an entry of the kind %s has no field %s", k, line.Quote(name))
}

// changes lists the fields that an amendment changes.
func changes(before, after events.Entry, set events.Set) []fieldChange {
	var out []fieldChange
	for _, s := range set {
		c := fieldChange{Field: s.Name}
		var was, is string
		switch _, own := events.FieldOf(before.Kind, s.Name); {
		case s.Name == "at":
			c.Before, c.After = events.FormatTime(before.At), events.FormatTime(after.At)
			was, is = fmt.Sprint(c.Before), fmt.Sprint(c.After)
		case s.Name == "zone" && !own:
			c.Before, c.After = before.Zone, after.Zone
			was, is = before.Zone, after.Zone
		default:
			f, _ := events.FieldOf(before.Kind, s.Name)
			c.Before, c.After = plainValue(f, before.Data), plainValue(f, after.Data)
			was, is = line.ShowField(f, c.Before), line.ShowField(f, c.After)
		}
		x, _ := json.Marshal(c.Before)
		y, _ := json.Marshal(c.After)
		if string(x) != string(y) {
			c.text = spokenName(before.Kind, s.Name) + ": " + was + " → " + is
			out = append(out, c)
		}
	}
	return out
}

// spokenName is a field as the acts speak of it: the name of its option.
func spokenName(k events.Kind, name string) string {
	if f, ok := events.FieldOf(k, name); ok {
		return f.Option()
	}
	return name
}

func plainValue(f events.Field, data events.Data) any {
	v, there := f.Value(data)
	if !there {
		return nil
	}
	return v
}

func short(id events.ID) string { return wording.ShortID(id.String()) }

// inShort names an entry in a list: the beginning of its id and what it says.
func (ac *actContext) inShort(e events.Entry) string {
	return short(e.ID) + " " + ac.everything().Sentence(e)
}

type amendedJSON struct {
	answerJSON
	Entry    string        `json:"entry"`
	Fields   []fieldChange `json:"fields"`   // what was set anew
	Standing []string      `json:"standing"` // later acts that depend on it, each in short
}

func (a *amended) print(env *Env, c *cli.Context) error {
	if c.Bool("json") {
		out := answerOf(a.answer)
		out.LowS, out.HighS = a.after.LowS, a.after.HighS
		out.CalledForS, out.DoneS, out.DeviationStops = a.after.CalledForS, a.after.DoneS, a.after.DeviationStops
		return writeJSON(env.Out, amendedJSON{out, a.before.Entry.ID.String(), a.fields, orEmpty(a.standing)})
	}
	s := screenOf(env, c)
	a.before.Unserved = false // how to name a reading is said of what stands now
	flow(s, []string{"was: " + a.before.Understood, calledFor(a.before)})
	flow(s, []string{"now: " + a.after.Understood, calledFor(a.after)})
	for _, f := range a.fields {
		s.Hang(screen.Plain, "  ", f.text)
	}
	printStanding(s, "later act depends on it and counts with what it says now", "later acts depend on it and count with what it says now", a.standing)
	flow(s, []string{env.takeBack("to take it back", "void ", short(a.answer.Entry.ID))})
	warn(s, "  ", a.answer.Warnings)
	return s.Err()
}

const showStanding = 6 // entries listed before "and more"

func printStanding(s *screen.Screen, one, many string, standing []string) {
	words := many
	switch len(standing) {
	case 0:
		return
	case 1:
		words = one
	}
	s.Say(screen.Plain, fmt.Sprintf("%d %s:", len(standing), words))
	for i, text := range standing {
		if i == showStanding {
			s.Hang(screen.Plain, "  ", fmt.Sprintf("and %d more", len(standing)-i))
			break
		}
		s.Hang(screen.Plain, "  ", text)
	}
}

// pictureOf takes a word for a picture or a sheet of one: 2026-014, 14, 2026-014n, 14p1, n. part is "" for the whole
// picture; ok is false for any other word. Digits alone name a picture only up to three of them, as elsewhere: four and
// more are the beginning of an id.
func (ac *actContext) pictureOf(word string) (picture, part string, ok bool, err error) {
	word = strings.ToLower(word)
	if whole, ok := wholePicture(word, ac.now.Year()); ok {
		return whole, "", true, nil
	}
	if events.IsPicture(word) {
		return word, "", true, nil
	}
	if shortSheet.MatchString(word) {
		if word, err = ac.sheet(word); err != nil {
			return "", "", false, err
		}
	}
	picture, part, ok = events.SplitSheet(word)
	return picture, part, ok, nil
}

// entryOf finds the entry of a picture or a sheet that fields to be set belong to: the newest of the one sheet whose
// entries of one kind have them. Where entries of several kinds or sheets have them, none is guessed.
func (ac *actContext) entryOf(picture, part string, settings []string) (events.Entry, error) {
	word := picture
	if part != "" {
		word = events.Sheet(picture, part)
	}
	p, err := ac.everything().Picture(picture)
	if err != nil {
		return events.Entry{}, err
	}
	var found []events.Entry
	for _, e := range p.All {
		if of := snapshot.PartOf(e.Data); part != "" && of != part {
			continue
		}
		has, err := hasFields(e.Kind, settings)
		if err != nil {
			return e, err
		}
		if has {
			found = append(found, e)
		}
	}
	one := func(a, b events.Entry) bool {
		return a.Kind == b.Kind && snapshot.PartOf(a.Data) == snapshot.PartOf(b.Data)
	}
	switch {
	case len(found) == 0:
		return events.Entry{}, ac.noEntryOf(word, p, part, settings)
	case slices.ContainsFunc(found, func(e events.Entry) bool { return !one(e, found[0]) }):
		return events.Entry{}, line.Refuse("name the entry by its id, such as traybook amend "+short(found[0].ID)+" "+typedAgain(settings),
			"several entries of %s have %s: %s", word, namesSet(settings), wording.FirstOf(ac.listed(found), showStanding, "; "))
	}
	e := slices.MaxFunc(found, events.Compare)
	if n := len(found); n > 1 {
		ac.note("taken for the newest of %d; traybook history %s shows the ids of all", n, picture)
	}
	return e, nil
}

// noEntryOf refuses fields that no entry of a picture has.
func (ac *actContext) noEntryOf(word string, p *snapshot.Picture, part string, settings []string) error {
	if len(p.All) == 0 {
		return ac.everything().NothingOf(p.Entity)
	}
	var names []string
	for _, e := range p.All {
		if of := snapshot.PartOf(e.Data); part == "" || of == part {
			for _, f := range events.Fields(e.Kind) {
				if f.Amendable() {
					names = append(names, f.Option())
				}
			}
		}
	}
	if len(names) == 0 {
		return snapshot.NoSuchSheet.Refuse(events.Sheet(p.Entity.Name, part), p.Entity.Name)
	}
	hint := "traybook history " + p.Entity.Name + " shows its entries"
	for _, s := range settings {
		name, _, _ := strings.Cut(s, "=")
		if near := line.Nearest(strings.ToLower(name), names); near != "" && near != strings.ToLower(name) {
			hint = "did you mean " + near + "?"
		}
	}
	return line.WrongLinef(hint, "no entry of %s has %s", word, namesSet(settings))
}

// namesSet lists the fields that an amendment sets, as they were typed.
func namesSet(settings []string) string {
	var names []string
	for _, s := range settings {
		name, _, _ := strings.Cut(s, "=")
		names = append(names, strings.TrimSpace(name))
	}
	return strings.Join(names, " and ")
}

// typedAgain writes settings as a shell takes them.
func typedAgain(settings []string) string {
	var out []string
	for _, s := range settings {
		if name, value, _ := strings.Cut(s, "="); strings.ContainsAny(value, " \t\"'$") {
			s = name + "=" + fmt.Sprintf("%q", value)
		}
		out = append(out, s)
	}
	return strings.Join(out, " ")
}

// hasFields says whether an entry of a kind has every field that is set.
func hasFields(k events.Kind, settings []string) (bool, error) {
	for _, s := range settings {
		name, value, ok := strings.Cut(s, "=")
		if !ok {
			return false, setsNothing(s)
		}
		name = strings.ToLower(strings.TrimSpace(name))
		if name == "at" || name == "zone" {
			continue
		}
		if f, err := fieldCalled(k, name, strings.TrimSpace(value)); err != nil || !f.Amendable() {
			return false, nil
		}
	}
	return true, nil
}

func setsNothing(text string) error {
	return line.WrongLinef("write FIELD=VALUE, such as time=5s", "%s sets nothing", line.Quote(text))
}
