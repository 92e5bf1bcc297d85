package main

import (
	"slices"
	"strings"

	"traybook/cmd/traybook/argv"
	"traybook/cmd/traybook/pattern"
	"traybook/cmd/traybook/refusal"
	"traybook/events"
)

// say sorts the words of an act into its fields.
func (a *act) say(words []string) error {
	switch a.kind {
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

func (a *act) remark(words []string) error {
	if len(words) == 0 {
		return nil
	}
	text := strings.Join(words, " ")
	return a.set("text", text, text)
}

// take reads the first of the words, with those behind it that belong to it, and says how many it took.
func (a *act) take(words []string) (int, error) {
	word := strings.TrimSpace(words[0])
	if bare, listed := strings.CutSuffix(word, ","); listed && a.withChoice(strings.ToLower(bare)) != nil { // too-dark, flat
		word = bare
	}
	if len(words) > 2 && (words[1] == "x" || words[1] == "×") && likeNumber.MatchString(word) { // 9 x 12cm
		n := 3
		if len(words) > 3 && likeUnit.MatchString(words[3]) {
			n = 4
		}
		if s := a.looks(strings.Join(words[:n], "")); s != nil && s.size {
			return n, a.fill(s, strings.Join(words[:n], " "))
		}
	}
	for n := min(len(words), 4); n > 1; n-- {
		joined := strings.Join(words[:n], " ")
		if likeNumber.MatchString(word) && likeUnit.MatchString(words[n-1]) && a.looks(joined) != nil {
			return n, a.fill(a.looks(joined), joined)
		}
		if f := a.withChoice(strings.ToLower(strings.Join(words[:n], "-"))); f != nil && n == 2 {
			return n, a.fill(&sense{field: *f, value: strings.ToLower(strings.Join(words[:n], "-"))}, joined)
		}
	}
	if len(words) > 1 {
		if s := a.counted(word, words[1]); s != nil {
			return 2, a.fill(s, word+" "+words[1])
		}
	}
	if s := a.looks(word); s != nil {
		return 1, a.fill(s, word)
	}
	if f, ok := a.option(strings.ToLower(word)); ok && len(words) > 1 {
		return 2, a.read(f, words[1:2], word)
	}
	return 1, a.last(word, words[1:])
}

// sense is what a word was taken for: a text for a field, or a refusal.
type sense struct {
	field events.Field
	value string
	size  bool
	err   error
}

func (a *act) fill(s *sense, from string) error {
	switch {
	case s.err != nil:
		return wrongLine(s.err)
	case s.size:
		return a.putSize(s.value, from)
	case s.field.Type == "flag":
		return a.put(s.field, true, from)
	case s.field.Type == "symptoms" || s.field.Type == "many" || s.field.Type == "nums":
		return a.more(s.field, s.value, from)
	}
	return a.read(s.field, []string{s.value}, from)
}

// more adds one value to a list.
func (a *act) more(f events.Field, text, from string) error {
	delete(a.from, f.Name)
	texts := []string{text}
	if old, ok := f.Value(a.data); ok {
		switch old := old.(type) {
		case []string:
			texts = append(slices.Clone(old), text)
		case []float64:
			v, err := parseField(a.kind, f, []string{text})
			if err != nil {
				return wrongLine(err)
			}
			return a.put(f, append(slices.Clone(old), v.([]float64)...), from)
		}
	}
	return a.read(f, texts, from)
}

func (a *act) set(field, text, from string) error {
	f, ok := events.FieldOf(a.kind, field)
	if !ok {
		return wrongLinef("leave it out", "%s is not understood here", refusal.Quote(text))
	}
	return a.read(f, []string{text}, from)
}

// field finds the first of the names that this kind has.
func (a *act) field(names ...string) *events.Field {
	for _, n := range names {
		if f, ok := events.FieldOf(a.kind, n); ok {
			return &f
		}
	}
	return nil
}

func (a *act) has(names ...string) bool { return a.field(names...) != nil }

// withChoice finds the field that has the word among its choices.
func (a *act) withChoice(word string) *events.Field {
	for _, f := range events.Fields(a.kind) {
		if slices.Contains(f.Choices, word) && (a.from[f.Name] == "" || f.Type != "one") {
			return &f
		}
	}
	return nil
}

// counted reads "4 changes" and "25 sheets".
func (a *act) counted(number, noun string) *sense {
	if !likeNumber.MatchString(number) {
		return nil
	}
	noun = strings.ToLower(noun)
	for _, f := range events.Fields(a.kind) {
		if f.Type == "count" && strings.TrimSuffix(f.Option(), "s") == strings.TrimSuffix(noun, "s") {
			return &sense{field: f, value: number}
		}
	}
	if f := a.field("running_s"); f != nil && noun == "running" {
		return &sense{err: refusal.New("write "+number+"min running, or --running "+number+"min", "%s is a time without its unit", refusal.Quote(number))}
	}
	return nil
}

// option finds the field whose option is a word, where the word says nothing else: "index 3", "distance 2m".
func (a *act) option(word string) (events.Field, bool) {
	if word == "ei" || word == "iso" {
		word = "index"
	}
	for _, f := range events.Fields(a.kind) {
		if f.Option() == word && f.Type != "flag" && f.Type != "text" {
			return f, true
		}
	}
	return events.Field{}, false
}

// last is for words that look like nothing: a bare number, a new name, a phrase; all others are refused. rest
// are the words behind it.
func (a *act) last(word string, rest []string) error {
	lower := strings.ToLower(word)
	if a.kind == events.SheetWashed && lower == "running" {
		return a.running()
	}
	if likeNumber.MatchString(word) {
		return a.bare(word)
	}
	if near := argv.Nearest(lower, a.vocabulary()); near != "" {
		return wrongLinef("did you mean "+near+"?", "%s is not understood", refusal.Quote(word))
	}
	if bare := strings.TrimPrefix(word, "-"); bare != word && a.looks(bare) != nil {
		return wrongLinef("leave the minus out", "%s cannot be negative", refusal.Quote(word))
	}
	if f := startsLikeF.FindString(lower); f != "" && a.has("f") {
		return wrongLinef("did you mean "+f+"?", "%s is not understood", refusal.Quote(word))
	}
	if strings.ContainsAny(word, " \t") {
		if f := a.field("subject", "name", "place", "text"); f != nil && f.Type == "text" && a.from[f.Name] == "" {
			return a.read(*f, []string{word}, word)
		}
		return a.set("text", word, word)
	}
	for _, f := range events.Fields(a.kind) {
		if f.Type == "name" && f.Of != "picture" && a.from[f.Name] == "" && events.IsName(lower) && !startsWithDigit(lower) {
			return a.read(f, []string{lower}, word)
		}
	}
	if a.kind == events.SessionClosed {
		return wrongLinef("`traybook sessions` lists them", "there is no session %s", refusal.Quote(word))
	}
	if m := withColon.FindStringSubmatch(word); m != nil {
		if advice := a.insteadOfColon(m[1], m[2]); advice != "" {
			return wrongLinef(advice, "%s is not understood", refusal.Quote(word))
		}
	}
	advice := "give it by its option; "
	if f := a.field("subject", "place", "text"); f != nil && f.Type == "text" && a.from[f.Name] == "" && wordOnly.MatchString(word) {
		what, phrase := map[string]string{"subject": "subject", "place": "place", "text": "remark"}[f.Name], word
		for len(rest) > 0 && wordOnly.MatchString(rest[0]) && a.looks(rest[0]) == nil {
			phrase, rest = phrase+" "+rest[0], rest[1:]
		}
		// No thing is called by a capital, so it begins a subject though it is one word.
		if f.Name == "subject" && phrase == word && capital.MatchString(word) {
			return a.read(*f, []string{word}, word)
		}
		if advice = "a " + what + " of one word: --" + f.Option() + " " + word + "; "; phrase != word {
			advice = "a " + what + " of several words goes in quotes: " + refusal.Quote(phrase) + "; "
		}
	}
	return wrongLinef(advice+a.takes(), "%s is not understood", refusal.Quote(word))
}

// insteadOfColon says how a time or a dilution is written that was typed with a colon; a colon alone is an hour of the day.
func (a *act) insteadOfColon(before, behind string) string {
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
	withColon   = pattern.New(`^(\d{1,3}):(\d{1,3})$`)
	startsLikeF = pattern.New(`^f/?\d+([.,]\d+)?`)
	wordOnly    = pattern.New(`^\pL+$`)
	capital     = pattern.New(`^\p{Lu}\p{Ll}{2,}$`)
)

// running turns the time of a wash into one in running water.
func (a *act) running() error {
	soak, run := a.field("soak_s"), a.field("running_s")
	v, ok := soak.Value(a.data)
	if !ok {
		return wrongLinef("write 30min running, or --running 30min", "running needs its time before it")
	}
	from := a.from["soak_s"] + " running"
	delete(a.from, "soak_s")
	if err := soak.Put(a.data, nil); err != nil {
		return err
	}
	return a.put(*run, v, from)
}

// bare takes a number without unit where only one count can be meant.
func (a *act) bare(word string) error {
	if a.kind == events.PaperRated { // a count of sheets says how well it was measured; nobody says that alone
		return wrongLinef("write index "+word+", or --index "+word, "%s could be an index, a filter's factor or a range", refusal.Quote(word))
	}
	var counts []events.Field
	for _, f := range events.Fields(a.kind) {
		if f.Name == "parts" || f.Name == "together" { // said beside a count of sheets or changes, never alone
			continue
		}
		if f.Type == "count" && a.from[f.Name] == "" {
			counts = append(counts, f)
		}
	}
	if len(counts) == 1 && !a.has("time_s", "f") {
		return a.read(counts[0], []string{word}, word)
	}
	var ways []string
	for _, w := range []struct{ field, as string }{{"f", "f/" + word}, {"time_s", word + "s"}, {"temp_c", word + "C"}, {"volume_ml", word + "ml"}, {"stops", "+" + word}} {
		if a.has(w.field) {
			ways = append(ways, w.as)
		}
	}
	if len(ways) == 0 || a.kind == events.StripRead {
		way := "it by its option"
		if a.example != "" {
			way += ", as in " + a.example
		}
		ways = append(ways, way)
	}
	return wrongLinef("write "+strings.Join(ways, " or "), "%s is a number without a unit", refusal.Quote(word))
}

// vocabulary are all words that this act knows.
func (a *act) vocabulary() []string {
	var out []string
	for _, f := range events.Fields(a.kind) {
		out = append(out, f.Choices...)
		if f.Type == "flag" {
			out = append(out, f.Option())
		}
	}
	return out
}

// takes says in short what words the act takes.
func (a *act) takes() string {
	var out, wanted []string
	for _, f := range events.Fields(a.kind) {
		if f.Type == "one" && f.Required && a.from[f.Name] == "" {
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
