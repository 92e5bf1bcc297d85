package why_test

import (
	"encoding/json"
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/sqlite"
	"traybook/projections/acts"
	"traybook/projections/booktest"
)

// An afternoon on the mole, done as called for: each case in testdata/why/cases.txt changes some of it.
//
// A case changes a step by its name and fields, takes one out with -step, adds one with +kind @time. Times of exposure
// may be written as products of what they are called for: called, called/ext, called*filter, called*0.7; light is
// called before reciprocity.
type step struct {
	name, kind, at string
	data           map[string]any
}

func benchSteps() []*step {
	d := func(pairs ...any) map[string]any {
		m := map[string]any{}
		for i := 0; i < len(pairs); i += 2 {
			m[pairs[i].(string)] = pairs[i+1]
		}
		return m
	}
	return []*step{
		{"book", "book.opened", "06-05T10:00", d("owner", "case", "zone", "Europe/Oslo")},
		{"camera", "camera.described", "06-05T10:01", d("camera", "mole-camera", "focal_mm", 180.0, "f_widest", 5.6, "f_smallest", 45.0)},
		{"paper", "paper.received", "06-05T10:02", d("box", "box-1", "name", "quay paper", "base", "rc", "width_mm", 130.0, "height_mm", 180.0, "sheets", 100.0,
			"index", 3.0, "iso_p", 500.0, "iso_r", 110.0, "reciprocity_p", 1.0, "expires", "2028-12-31")},
		{"dev", "bath.mixed", "06-06T09:21", d("bath", "dev-1", "role", "developer", "name", "print developer", "volume_ml", 1000.0, "dilution", "1+9",
			"time_s", 60.0, "temp_c", 20.0, "q10", 2.0, "capacity_m2", 2.0, "life_h", 10.0)},
		{"fix", "bath.mixed", "06-06T09:22", d("bath", "fix-1", "role", "fixer", "name", "rapid fixer", "volume_ml", 1000.0, "dilution", "1+4",
			"time_s", 60.0, "temp_c", 20.0, "q10", 2.0, "capacity_m2", 1.2, "life_h", 48.0)},
		{"session", "session.opened", "06-06T10:01", d("session", "mole-day", "camera", "mole-camera", "place", "the mole")},
		{"meter", "light.metered", "06-06T10:03", d("on", "scene", "mode", "reflected", "index", 3.0, "f", 8.0, "time_s", 5.0)},
		{"expose", "sheet.exposed", "06-06T10:04", d("picture", "2026-001", "box", "box-1", "f", 8.0, "time_s", "called", "planned_f", 8.0, "planned_s", "called",
			"subject_mm", 2500.0, "subject", "ferry mate")},
		{"develop", "sheet.developed", "06-06T10:05", d("sheet", "2026-001n", "bath", "dev-1", "time_s", 60.0, "temp_c", 20.0)},
		{"rinse", "sheet.rinsed", "06-06T10:06", d("sheet", "2026-001n", "time_s", 15.0)},
		{"hypo", "sheet.fixed", "06-06T10:07", d("sheet", "2026-001n", "bath", "fix-1", "time_s", 60.0, "temp_c", 20.0)},
		{"wash", "sheet.washed", "06-06T10:08", d("sheet", "2026-001n", "changes", 5.0, "volume_ml", 1000.0)},
		{"read", "light.metered", "06-06T10:10", d("on", "negative", "mode", "reflected", "index", 3.0, "f", 11.0, "time_s", 5.0, "of", "mid", "picture", "2026-001")},
		{"reprint", "sheet.reprinted", "06-06T10:11", d("picture", "2026-001", "box", "box-1", "f", 11.0, "time_s", "called", "planned_f", 11.0, "planned_s", "called", "magnification", 1.0)},
		{"pdevelop", "sheet.developed", "06-06T10:12", d("sheet", "2026-001p1", "bath", "dev-1", "time_s", 60.0, "temp_c", 20.0)},
		{"prinse", "sheet.rinsed", "06-06T10:13", d("sheet", "2026-001p1", "time_s", 15.0)},
		{"phypo", "sheet.fixed", "06-06T10:14", d("sheet", "2026-001p1", "bath", "fix-1", "time_s", 60.0, "temp_c", 20.0)},
		{"pwash", "sheet.washed", "06-06T10:15", d("sheet", "2026-001p1", "changes", 5.0, "volume_ml", 1000.0)},
	}
}

// bench is one case being made ready.
type bench struct {
	t     testing.TB
	steps []*step
}

func (b *bench) step(name string) *step {
	for _, s := range b.steps {
		if s.name == name {
			return s
		}
	}
	b.t.Fatalf("no step %q", name)
	return nil
}

func (b *bench) drop(names ...string) {
	var left []*step
	for _, s := range b.steps {
		keep := true
		for _, n := range names {
			keep = keep && s.name != n
		}
		if keep {
			left = append(left, s)
		}
	}
	b.steps = left
}

// change obeys one clause of a case.
func (b *bench) change(clause string) {
	words := strings.Fields(clause)
	require.NotEmpty(b.t, words)
	name, words := words[0], words[1:]
	switch {
	case strings.HasPrefix(name, "-"):
		b.drop(name[1:])
		return
	case name == "judge": // judge n too-light,flat [stops=…]
		s := &step{name: "judge", kind: "sheet.judged", at: "06-06T10:45", data: map[string]any{"sheet": "2026-001" + words[0], "verdict": "redo", "symptoms": []string{}}}
		words = words[1:]
		if len(words) > 0 && !strings.Contains(words[0], "=") && !strings.HasPrefix(words[0], "@") {
			if words[0] == "keep" {
				s.data["verdict"] = "keep"
			} else {
				s.data["symptoms"] = strings.Split(words[0], ",")
			}
			words = words[1:]
		}
		b.steps = append(b.steps, s)
		b.fill(s, words)
	case strings.HasPrefix(name, "+"):
		s := &step{name: name, kind: name[1:], at: "06-06T10:30", data: map[string]any{}}
		b.steps = append(b.steps, s)
		b.fill(s, words)
	default:
		b.fill(b.step(name), words)
	}
}

func (b *bench) fill(s *step, words []string) {
	for _, w := range words {
		if at, ok := strings.CutPrefix(w, "@"); ok {
			if len(at) == 5 {
				at = "06-06T" + at
			}
			s.at = at
			continue
		}
		key, value, ok := strings.Cut(w, "=")
		require.True(b.t, ok, "%q", w)
		switch n, err := strconv.ParseFloat(value, 64); {
		case value == "null":
			delete(s.data, key)
		case strings.HasPrefix(value, "{"), strings.HasPrefix(value, "["):
			s.data[key] = json.RawMessage(value)
		case err == nil && key != "picture" && key != "expires":
			s.data[key] = n
		default:
			s.data[key] = value
		}
	}
}

func num(m map[string]any, key string, def float64) float64 {
	if v, ok := m[key].(float64); ok {
		return v
	}
	return def
}

// exact is the number behind an engraved whole stop.
func exact(f float64) float64 { return math.Exp2(math.Round(4*math.Log2(f)) / 4) }

// calculate works out the times written as products, from the formulas of the trade written out once more.
func (b *bench) calculate() {
	paper, camera := b.step("paper").data, b.step("camera").data
	for _, s := range b.steps {
		if s.kind != "sheet.exposed" && s.kind != "sheet.reprinted" {
			continue
		}
		reading, m := "meter", 0.0
		focal, u := num(camera, "focal_mm", 0), num(s.data, "subject_mm", 0)
		switch {
		case s.kind == "sheet.reprinted":
			reading, m = "read", num(s.data, "magnification", 1)
		case u > focal:
			m = focal / (u - focal)
		}
		if e := num(s.data, "extension_mm", 0); e > 0 {
			m = e / focal
		}
		var r map[string]any
		for _, x := range b.steps {
			if x.name == reading {
				r = x.data
			}
		}
		index := num(paper, "index", 3)
		for _, x := range b.steps {
			if x.kind == "paper.received" && x.data["box"] == s.data["box"] {
				index = num(x.data, "index", index)
			}
		}
		ext := (1 + m) * (1 + m)
		filter := 1.0
		if s.data["filter"] != nil {
			filter = num(s.data, "filter_factor", 1)
		}
		f := num(s.data, "planned_f", num(s.data, "f", 8))
		ratio, light := 1.0, 20.0
		if r != nil {
			ratio = num(r, "index", 100) / index
			light = num(r, "time_s", 5) * math.Pow(exact(f)/exact(num(r, "f", 8)), 2) * ratio * ext * filter * math.Exp2(num(r, "zone_stops", 0))
		}
		p := num(paper, "reciprocity_p", 1)
		known := map[string]float64{"ext": ext, "filter": filter, "index": ratio, "light": light, "called": light}
		if light > 1 {
			known["called"] = math.Pow(light, 1/p)
		}
		for _, key := range []string{"time_s", "planned_s"} {
			if text, ok := s.data[key].(string); ok {
				known["planned"], _ = s.data["planned_s"].(float64)
				s.data[key] = math.Round(product(b.t, text, known)*100) / 100
			}
		}
	}
}

func product(t testing.TB, text string, known map[string]float64) float64 {
	out, op := 1.0, byte('*')
	for text != "" {
		n := strings.IndexAny(text, "*/")
		if n < 0 {
			n = len(text)
		}
		word := text[:n]
		v, ok := known[word]
		if !ok {
			var err error
			v, err = strconv.ParseFloat(word, 64)
			require.NoError(t, err, "%q", word)
		}
		if op == '*' {
			out *= v
		} else {
			out /= v
		}
		if n == len(text) {
			break
		}
		op, text = text[n], text[n+1:]
	}
	return out
}

// ndjson writes the case as lines.
func (b *bench) ndjson() []string {
	var out []string
	for _, s := range b.steps {
		at := s.at
		if len(at) == len("06-06T10:00") {
			at = "2026-" + at
		}
		raw, err := json.Marshal(s.data)
		require.NoError(b.t, err)
		out = append(out, fmt.Sprintf(`{"kind":%q,"at":"%s:00+02:00","data":%s}`, s.kind, at, raw))
	}
	return out
}

var printSteps = []string{"read", "reprint", "pdevelop", "prinse", "phypo", "pwash"}

// caseLines makes the lines of one case from its changes.
func caseLines(t testing.TB, changes string) []string {
	b := &bench{t: t, steps: benchSteps()}
	for _, c := range strings.Split(changes, ";") {
		if c = strings.TrimSpace(c); c != "" {
			b.change(c)
		}
	}
	if !strings.Contains(changes, "judge p1") && !strings.Contains(changes, "reprint") {
		b.drop(printSteps...)
	}
	b.calculate()
	return b.ndjson()
}

// bookOf imports lines into a new book.
func bookOf(t testing.TB, lines []string) *sqlite.Book {
	t.Helper()
	var plain []acts.ImportLine
	for i, text := range lines {
		l, err := events.ParseLine([]byte(text))
		require.NoError(t, err, "line %d: %s", i+1, text)
		plain = append(plain, acts.ImportLine{Line: l, Number: i + 1})
	}
	b := booktest.NewBook(t)
	require.NoError(t, b.Write(func(tx *sqlite.Tx) error {
		_, err := acts.ImportPlain(tx, plain, time.Date(2027, 12, 31, 12, 0, 0, 0, time.UTC), events.ID{1}, events.ID{2}, nil)
		return err
	}), "%s", strings.Join(lines, "\n"))
	return b
}
