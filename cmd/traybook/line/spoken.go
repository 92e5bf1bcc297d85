package line

import (
	"slices"
	"strconv"
	"strings"

	"traybook/events"
	"traybook/projections/wording"
)

// Say sorts the words of an act into its fields.
func (a *Act) Say(words []string) error {
	switch a.Kind {
	case events.MomentMarked:
		return a.remark(words)
	case events.NoteWritten:
		if len(words) > 0 {
			if err := a.set("about", words[0], words[0]); err != nil {
				return err
			}
			return a.remark(words[1:])
		}
	}
	for i := 0; i < len(words); {
		took, err := a.take(words[i:])
		if err != nil {
			return err
		}
		i += took
	}
	return nil
}

func (a *Act) remark(words []string) error {
	if len(words) == 0 {
		return nil
	}
	text := strings.Join(words, " ")
	return a.set("text", text, text)
}

// take reads the first of the words, with those behind it that belong to it, and says how many it took.
func (a *Act) take(words []string) (int, error) {
	word := strings.TrimSpace(words[0])
	if bare, listed := strings.CutSuffix(word, ","); listed && a.withChoice(strings.ToLower(bare)) != nil { // too-dark, flat
		word = bare
	}
	if len(words) > 2 && (words[1] == "x" || words[1] == "×") && likeNumber.MatchString(word) { // 9 x 12cm
		n := 3
		if len(words) > 3 && likeUnit.MatchString(words[3]) {
			n = 4
		}
		if s := a.classify(strings.Join(words[:n], "")); s != nil && s.size {
			return n, a.Fill(s, strings.Join(words[:n], " "))
		}
	}
	for n := min(len(words), 4); n > 1; n-- {
		joined := strings.Join(words[:n], " ")
		if likeNumber.MatchString(word) && likeUnit.MatchString(words[n-1]) && a.classify(joined) != nil {
			return n, a.Fill(a.classify(joined), joined)
		}
		if f := a.withChoice(strings.ToLower(strings.Join(words[:n], "-"))); f != nil && n == 2 {
			return n, a.Fill(&match{field: *f, value: strings.ToLower(strings.Join(words[:n], "-"))}, joined)
		}
	}
	if f := a.field("price", "cost"); f != nil && len(words) > 1 && likeNumber.MatchString(word) && likeMoney.MatchString(words[1]) {
		if err := a.set("currency", words[1], words[1]); err != nil {
			return 0, err
		}
		return 2, a.Read(*f, []string{word}, word+" "+words[1])
	}
	if len(words) > 1 {
		if s := a.counted(word, words[1]); s != nil {
			return 2, a.Fill(s, word+" "+words[1])
		}
	}
	if s := a.classify(word); s != nil {
		return 1, a.Fill(s, word)
	}
	if f, ok := a.option(strings.ToLower(word)); ok && len(words) > 1 && (f.Name != "running_s" || !LikeSheet.MatchString(words[1])) { // 30min running 14n
		return 2, a.Read(f, words[1:2], word)
	}
	return 1, a.last(word, words[1:])
}

// match is what a word was taken for: a text for a field, or a refusal.
type match struct {
	field events.Field
	value string
	size  bool
	err   error
}

// Fill sets the fields that a word of the line was found to mean, or refuses it.
func (a *Act) Fill(s *match, from string) error {
	switch {
	case s.err != nil:
		return WrongLine(s.err)
	case s.size:
		return a.PutSize(s.value, from)
	case s.field.Type == "flag":
		return a.Put(s.field, true, from)
	case s.field.Type == "symptoms" || s.field.Type == "many" || s.field.Type == "nums":
		return a.more(s.field, s.value, from)
	}
	return a.Read(s.field, []string{s.value}, from)
}

// more adds one value to a list.
func (a *Act) more(f events.Field, text, from string) error {
	delete(a.From, f.Name)
	texts := []string{text}
	if old, ok := f.Value(a.Data); ok {
		switch old := old.(type) {
		case []string:
			texts = append(slices.Clone(old), text)
		case []float64:
			v, err := ParseField(a.Kind, f, []string{text})
			if err != nil {
				return WrongLine(err)
			}
			return a.Put(f, append(slices.Clone(old), v.([]float64)...), from)
		}
	}
	return a.Read(f, texts, from)
}

func (a *Act) set(field, text, from string) error {
	f, ok := events.FieldOf(a.Kind, field)
	if !ok {
		return WrongLinef("leave it out", "%s is not understood here", Quote(text))
	}
	return a.Read(f, []string{text}, from)
}

// field finds the first of the names that this kind has.
func (a *Act) field(names ...string) *events.Field {
	for _, n := range names {
		if f, ok := events.FieldOf(a.Kind, n); ok {
			return &f
		}
	}
	return nil
}

func (a *Act) has(names ...string) bool { return a.field(names...) != nil }

// withChoice finds the field that has the word among its choices.
func (a *Act) withChoice(word string) *events.Field {
	for _, f := range events.Fields(a.Kind) {
		known := slices.Contains(f.Choices, word) || f.Type == "symptoms" && events.SymptomsCalled(word) != nil
		if known && (a.From[f.Name] == "" || f.Type != "one") {
			return &f
		}
	}
	return nil
}

// counted reads "4 changes" and "25 sheets".
func (a *Act) counted(number, noun string) *match {
	if !likeNumber.MatchString(number) {
		return nil
	}
	noun = strings.ToLower(noun)
	for _, f := range events.Fields(a.Kind) {
		if f.Type == "count" && strings.TrimSuffix(f.Option(), "s") == strings.TrimSuffix(noun, "s") {
			return &match{field: f, value: number}
		}
	}
	if f := a.field("running_s"); f != nil && noun == "running" {
		return &match{err: Refuse("write "+number+"min running, or --running "+number+"min", "%s is a time without its unit", Quote(number))}
	}
	return nil
}

// option finds the field whose option is a word, where the word says nothing else: "index 3", "distance 2m".
func (a *Act) option(word string) (events.Field, bool) {
	if word == "ei" || word == "iso" {
		word = "index"
	}
	for _, f := range events.Fields(a.Kind) {
		if f.Option() == word && f.Type != "flag" && f.Type != "text" {
			return f, true
		}
	}
	return events.Field{}, false
}

// last is for words that look like nothing: a bare number, a new name, a phrase; all others are refused. rest
// are the words behind it.
func (a *Act) last(word string, rest []string) error {
	lower := strings.ToLower(word)
	if a.Kind == events.SheetWashed && lower == "running" {
		return a.running()
	}
	if likeNumber.MatchString(word) {
		return a.bare(word)
	}
	if near := Nearest(lower, a.vocabulary()); near != "" {
		return WrongLinef("did you mean "+near+"?", "%s is not understood", Quote(word))
	}
	if bare := strings.TrimPrefix(word, "-"); bare != word && a.classify(bare) != nil {
		return WrongLinef("leave the minus out", "%s cannot be negative", Quote(word))
	}
	if f := startsLikeF.FindString(lower); f != "" && a.has("f") {
		return WrongLinef("did you mean "+f+"?", "%s is not understood", Quote(word))
	}
	if strings.ContainsAny(word, " \t") {
		if f := a.field("subject", "name", "place", "where", "text"); f != nil && f.Type == "text" && a.From[f.Name] == "" {
			return a.Read(*f, []string{word}, word)
		}
		return a.set("text", word, word)
	}
	if f := a.field("where"); f != nil && a.From[f.Name] == "" {
		return a.Read(*f, []string{word}, word)
	}
	if f := a.labelField(word); f != nil {
		return a.Read(*f, []string{word}, word)
	}
	for _, f := range events.Fields(a.Kind) {
		if f.Type == "name" && f.Of != "picture" && a.From[f.Name] == "" && events.IsName(lower) && !StartsWithDigit(lower) {
			return a.Read(f, []string{lower}, word)
		}
	}
	if a.Kind == events.SessionClosed {
		return WrongLinef("`traybook sessions` lists them", "there is no session %s", Quote(word))
	}
	if m := withColon.FindStringSubmatch(word); m != nil {
		if advice := a.insteadOfColon(m[1], m[2]); advice != "" {
			return WrongLinef(advice, "%s is not understood", Quote(word))
		}
	}
	advice := "give it by its option; "
	if f := a.field("subject", "place", "text"); f != nil && f.Type == "text" && a.From[f.Name] == "" && wordOnly.MatchString(word) {
		what, phrase := map[string]string{"subject": "subject", "place": "place", "text": "remark"}[f.Name], word
		for len(rest) > 0 && wordOnly.MatchString(rest[0]) && a.classify(rest[0]) == nil {
			phrase, rest = phrase+" "+rest[0], rest[1:]
		}
		// No thing is called by a capital, so it begins a subject though it is one word.
		if f.Name == "subject" && phrase == word && capital.MatchString(word) {
			return a.Read(*f, []string{word}, word)
		}
		if advice = "a " + what + " of one word: --" + f.Option() + " " + word + "; "; phrase != word {
			advice = "a " + what + " of several words goes in quotes: " + Quote(phrase) + "; "
		}
	}
	return WrongLinef(advice+a.takes(), "%s is not understood", Quote(word))
}

// labelField is the field of what stands on a label, where a word is that and not what the book calls the thing: it holds a
// capital, which no name of the book does, or it is of a box, whose label has to be given, and no option gives it.
func (a *Act) labelField(word string) *events.Field {
	f := a.field("name")
	if f == nil || f.Type != "text" || a.NameGiven || a.From[f.Name] != "" || !hasLetter.MatchString(word) || word == strings.ToLower(word) && a.Kind != events.PaperReceived {
		return nil
	}
	return f
}

// insteadOfColon says how a time or a dilution is written that was typed with a colon; a colon alone is an hour of the day.
func (a *Act) insteadOfColon(before, behind string) string {
	var ways []string
	if a.has("time_s", "time") && len(behind) == 2 {
		ways = append(ways, before+"m"+behind+"s for a time")
	}
	if a.has("dilution") {
		ways = append(ways, before+"+"+behind+" for a dilution")
	}
	if len(ways) == 0 {
		return ""
	}
	return "write " + strings.Join(ways, ", ") + "; an hour of the day goes with --at"
}

var (
	withColon   = NewPattern(`^(\d{1,3}):(\d{1,3})$`)
	startsLikeF = NewPattern(`^f/?\d+([.,]\d+)?`)
	wordOnly    = NewPattern(`^\pL+$`)
	hasLetter   = NewPattern(`\pL`)
	capital     = NewPattern(`^\p{Lu}\p{Ll}{2,}$`)
)

// running turns the time of a wash into one in running water.
func (a *Act) running() error {
	soak, run := a.field("soak_s"), a.field("running_s")
	v, ok := soak.Value(a.Data)
	if !ok {
		return WrongLinef("write 30min running, or --running 30min", "running needs its time before it")
	}
	from := a.From["soak_s"] + " running"
	delete(a.From, "soak_s")
	if err := soak.Put(a.Data, nil); err != nil {
		return err
	}
	return a.Put(*run, v, from)
}

// bare takes a number without unit where only one count can be meant.
func (a *Act) bare(word string) error {
	if a.Kind == events.PaperRated { // a count of sheets says how well it was measured; nobody says that alone
		return WrongLinef("write index "+word+", or --index "+word, "%s could be an index, a filter's factor or a range", Quote(word))
	}
	if a.Kind == events.SheetJudged {
		return a.bareJudged(word)
	}
	var counts []events.Field
	for _, f := range events.Fields(a.Kind) {
		if f.Name == "parts" || f.Name == "together" { // said beside a count of sheets or changes, never alone
			continue
		}
		if f.Type == "count" && a.From[f.Name] == "" {
			counts = append(counts, f)
		}
	}
	if len(counts) == 1 && !a.has("time_s", "f") {
		return a.Read(counts[0], []string{word}, word)
	}
	if f := a.field("price"); f != nil && f.Required {
		return a.Read(*f, []string{word}, word)
	}
	var ways []string
	for _, w := range []struct{ field, as string }{{"f", "f/" + word}, {"time_s", word + "s"}, {"temp_c", word + "C"}, {"volume_ml", word + "ml"}, {"stops", "+" + word}} {
		if a.has(w.field) {
			ways = append(ways, w.as)
		}
	}
	if len(ways) == 0 || a.Kind == events.StripRead {
		way := "it by its option"
		if a.Example != "" {
			way += ", as in " + a.Example
		}
		ways = append(ways, way)
	}
	return WrongLinef("write "+strings.Join(ways, " or "), "%s is a number without a unit", Quote(word))
}

// vocabulary are all words that this act knows.
func (a *Act) vocabulary() []string {
	var out []string
	for _, f := range events.Fields(a.Kind) {
		if f.Type == "symptoms" {
			out = append(out, events.SymptomVocabulary()...)
		} else {
			out = append(out, f.Choices...)
		}
		if f.Type == "flag" {
			out = append(out, f.Option())
		}
	}
	return out
}

// takes says in short what words the act takes.
func (a *Act) takes() string {
	var out, wanted []string
	for _, f := range events.Fields(a.Kind) {
		if f.Type == "one" && f.Required && a.From[f.Name] == "" {
			wanted = append(wanted, f.Choices...)
		}
	}
	if len(wanted) > 0 {
		more := ""
		if a.has("symptoms") {
			more = "; traybook why --symptoms lists the symptoms"
		}
		return "it takes " + strings.Join(wanted, ", ") + more
	}
	if a.has("symptoms") {
		return "traybook why --symptoms lists the symptoms; it takes -0.5, wet and 2026-014n besides"
	}
	for _, s := range []struct{ field, word string }{
		{"f", "f/8"}, {"time_s", "4s"}, {"temp_c", "20C"}, {"verdict", "keep"}, {"symptoms", "too-dark"}, {"stops", "-0.5"},
		{"volume_ml", "1l"}, {"changes", "4 changes"}, {"box", "box-3"}, {"bath", "dev-2"}, {"sheet", "2026-014n"},
		{"strip", "strip-2"}, {"best", "best 3"},
	} {
		if a.has(s.field) {
			out = append(out, s.word)
		}
	}
	if len(out) == 0 {
		return "--help lists them"
	}
	return "it takes words such as " + strings.Join(out, ", ")
}

// Meaning is one thing that a word can mean: a text for a field.
type Meaning struct {
	Key   rune // by which it is chosen
	Word  string
	Field string // where it belongs
	Value string
	Says  string // what it means
}

// Unclear is the refusal of a word that can mean several things. A person at a terminal can be asked which.
type Unclear struct {
	*wording.Refusal
	Word  string
	Means []Meaning
}

// Unwrap gives the refusal, for whoever cannot ask.
func (u *Unclear) Unwrap() error { return u.Refusal }

const (
	mostStops     = 20 // that judge takes
	longestNumber = 3  // digits of what names a picture alone
)

// bareJudged says what a number alone can mean to judge: the picture, a change in stops, or the step of the scale. None
// is taken unasked, for each is usual somewhere.
func (a *Act) bareJudged(word string) error {
	u := &Unclear{Word: word}
	var could, ways []string
	n, err := strconv.Atoi(word)
	whole, padded := err == nil && n >= 0, len(word) > 1 && word[0] == '0' && err == nil // 009 is a picture
	if whole && n > 0 && len(word) <= longestNumber && a.From["sheet"] == "" {
		number := strconv.Itoa(n)
		could, ways = append(could, "a picture"), append(ways, number+"n or "+number+"p1 for a sheet of picture "+number)
		u.Means = append(u.Means, Meaning{'p', word, "sheet", number, "picture " + number + " of this year: its sheet exposed last"})
	}
	if stops, err := Parse(Stops, word); err == nil && !padded && stops > 0 && stops <= mostStops && a.From["stops"] == "" {
		could, ways = append(could, "stops"), append(ways, "+"+word+" or -"+word+" for stops")
		u.Means = append(u.Means, Meaning{'+', word, "stops", "+" + word, wording.StopsText(stops) + ": it wants more exposure"},
			Meaning{'-', word, "stops", "-" + word, wording.StopsText(-stops) + ": it wants less exposure"})
	}
	if whole && !padded && n <= 1000 && a.From["step"] == "" {
		could, ways = append(could, "a step"), append(ways, "--step "+word+" for a step of the scale")
		u.Means = append(u.Means, Meaning{'s', word, "step", word, "step " + word + " of the scale"})
	}
	if len(ways) == 0 {
		return WrongLinef(a.takes(), "%s is a number alone, and nothing here that is not said yet can be that number", Quote(word))
	}
	u.Refusal = Refuse("write "+strings.Join(ways, ", or "), "%s is a number alone: it can be %s", Quote(word), orList(could))
	u.Line = true
	return u
}

// orList joins words by commas and an or.
func orList(words []string) string {
	last := len(words) - 1
	if last < 1 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:last], ", ") + " or " + words[last]
}

// Put puts what a person said that a word means into an act.
func (m Meaning) Put(data events.Data) error {
	f, _ := events.FieldOf(data.Kind(), m.Field)
	if _, there := f.Value(data); there {
		return WrongLinef("give it once", "%s stands twice", f.Option())
	}
	v, err := ParseField(data.Kind(), f, []string{m.Value})
	if err != nil {
		return err
	}
	return f.Put(data, v)
}
