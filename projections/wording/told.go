package wording

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"time"

	"traybook/calc"
	"traybook/events"
)

// Sentence is the one wording of a warning or a refusal. What differs from case to case stands in braces by its name:
// {bath} was discarded at {at}. Who asks what was told compares sentences, never texts.
type Sentence struct {
	Code   string // names it
	EvenSo bool   // of a refusal: who insists may have it written all the same
	says   string // what and why
	hint   string // what to do; "" where the other says it
}

// Warns makes the sentence of a warning.
func Warns(code, says string) *Sentence { return &Sentence{Code: code, says: says} }

// Refuses makes the sentence of a refusal, and of what to do.
func Refuses(code, says, hint string) *Sentence { return &Sentence{Code: code, says: says, hint: hint} }

// RefusesUnlessEvenSo makes the sentence of a refusal that does not hold for who insists.
func RefusesUnlessEvenSo(code, says, hint string) *Sentence {
	return &Sentence{Code: code, says: says, hint: hint, EvenSo: true}
}

// Names lists the fields of a sentence in the order in which they first stand in it.
func (s *Sentence) Names() []string {
	var out []string
	for rest, more := s.says+s.hint, true; more; {
		if _, rest, more = strings.Cut(rest, "{"); more {
			slot, _, _ := strings.Cut(rest, "}")
			if name, _, _ := strings.Cut(slot, ":"); !slices.Contains(out, name) {
				out = append(out, name)
			}
		}
	}
	return out
}

// Warn is the warning with its fields, in the order of their names.
func (s *Sentence) Warn(fields ...any) Warning { return Warning{s, fields} }

// Refuse is the refusal with its fields, in the order of their names.
func (s *Sentence) Refuse(fields ...any) *Refusal { return &Refusal{Of: s, Fields: fields} }

// tell writes one of the texts of a sentence.
func (s *Sentence) tell(text string, fields []any) string {
	names := s.Names()
	var b strings.Builder
	for {
		before, rest, more := strings.Cut(text, "{")
		b.WriteString(before)
		if !more {
			return b.String()
		}
		var slot string
		slot, text, _ = strings.Cut(rest, "}")
		name, as, _ := strings.Cut(slot, ":")
		if at := slices.Index(names, name); at < len(fields) {
			b.WriteString(fieldText(fields[at], as))
		} else {
			b.WriteString(Dash)
		}
	}
}

// fieldText writes a field by what it is. as says how, where that is not enough: seconds, stops, or a verb of fmt.
func fieldText(v any, as string) string {
	if strings.HasPrefix(as, "%") {
		return fmt.Sprintf(as, v)
	}
	switch v := v.(type) {
	case float64:
		switch as {
		case "seconds":
			return Seconds(v)
		case "stops":
			return StopsText(v)
		}
		return Number(v)
	case time.Time:
		return ClockOf(v)
	case time.Duration:
		return Roughly(v)
	case []string:
		return strings.Join(v, ", ")
	case []int:
		return numbers(v)
	case []float64: // the least and the most
		if len(v) == 2 {
			return Number(v[0]) + " to " + Number(v[1])
		}
		return Number(v[0])
	}
	return fmt.Sprint(v)
}

// numbers writes rising numbers: 1 to 4, or 1, 3 and 4.
func numbers(v []int) string {
	last := len(v) - 1
	switch {
	case last < 1:
		return strings.Trim(fmt.Sprint(v), "[]")
	case last > 1 && v[last]-v[0] == last:
		return fmt.Sprintf("%d to %d", v[0], v[last])
	}
	var first []string
	for _, n := range v[:last] {
		first = append(first, strconv.Itoa(n))
	}
	return fmt.Sprintf("%s and %d", strings.Join(first, ", "), v[last])
}

// Warning is what a careful hand would want to know beside an answer. Nothing is stopped by it.
type Warning struct {
	Of     *Sentence
	Fields []any
}

// Text is the warning's sentence.
func (w Warning) Text() string { return w.Of.tell(w.Of.says, w.Fields) }

// Field is the field that bears a name in the sentence, nil for none.
func (w Warning) Field(name string) any {
	if at := slices.Index(w.Of.Names(), name); at >= 0 && at < len(w.Fields) {
		return w.Fields[at]
	}
	return nil
}

// Same says whether another warning tells the same of the same.
func (w Warning) Same(o Warning) bool { return w.Of == o.Of && reflect.DeepEqual(w.Fields, o.Fields) }

// MarshalJSON writes the sentence.
func (w Warning) MarshalJSON() ([]byte, error) { return json.Marshal(w.Text()) }

// Texts are the sentences of warnings.
func Texts(warnings []Warning) []string {
	var out []string
	for _, w := range warnings {
		out = append(out, w.Text())
	}
	return out
}

var remark = Warns("remark", "{text}")

// Remark is what the door itself has to say beside an answer.
func Remark(text string) Warning { return remark.Warn(text) }

var notCalculated = Warns("not-calculated", "{why}")

// NotCalculated warns that something lies beyond a formula, as the error of calc says.
func NotCalculated(err error) Warning { return notCalculated.Warn(err) }

// OfCalc takes over what a calculation warns of.
func OfCalc(warnings []calc.Warning) []Warning {
	var out []Warning
	for _, w := range warnings {
		out = append(out, ofCalc[w.Code].Warn(w.Fields...))
	}
	return out
}

// ofCalc are the sentences of calc's warnings.
var ofCalc = map[calc.WarningCode]*Sentence{
	calc.WarnDeveloperSlow:       Warns("developer-slow", "under 16 °C hydroquinone hardly works; warm the bath if you can"),
	calc.WarnHydroquinoneStopped: Warns("hydroquinone-stopped", "under 13 °C hydroquinone has stopped: this is the time of a developer without it; warm the bath"),
	calc.WarnBathWarm:            Warns("bath-warm", "over 26 °C the sheet may fog and its gelatine soften; cool the bath"),
	calc.WarnBathExhausted:       Warns("bath-used-up", "this bath has seen its whole capacity; mix fresh"),
	calc.WarnTooBright: Warns("too-bright", "the light is too strong for a cap: {time} s is called for, too short to time by hand (about {least} s at least); "+
		"stop down to f/{f}, put a filter of factor {factor} before the lens, move into shade, or come back later in the day"),
	calc.WarnTooBrightStoppedDown: Warns("too-bright-stopped-down", "the light is too strong for a cap: {time} s is called for, too short to time by hand (about {least} s at least); "+
		"put a filter of factor {factor} before the lens, move into shade, or come back later in the day"),
	calc.WarnCapCoarse:            Warns("cap-coarse", "at {time} s a cap is off by up to {stops:%.1f} stop in either direction; a smaller aperture gives the hand more time"),
	calc.WarnCapCoarseStoppedDown: Warns("cap-coarse-stopped-down", "at {time} s a cap is off by up to {stops:%.1f} stop in either direction; a filter or less light gives the hand more time"),
	calc.WarnSitterMovesOpen:      Warns("sitter-moves-open", "a sitter does not hold still so long; give the head a rest, or look for more light"),
	calc.WarnNoReciprocity:        Warns("no-reciprocity", "no reciprocity exponent is known for this paper; with 0.86, the figure of 1900, it would ask {time} s"),
	calc.WarnLightDrifts:          Warns("light-drifts", "the light changes within so long a time; read it again halfway and stop when the sum is reached"),
	calc.WarnSitterMoves:          Warns("sitter-moves", "a sitter does not hold still so long; give the head a rest or open the aperture"),
	calc.WarnTooDark:              Warns("too-dark", "so little light is under what meters read reliably; make a strip first"),
	calc.WarnStepShort:            Warns("step-short", "step {step} adds {time} s, less than the {scatter} s by which a hand scatters; take wider steps or a smaller aperture"),
	calc.WarnStepsShort:           Warns("steps-short", "steps {steps} add {time} s, less than the {scatter} s by which a hand scatters; take wider steps or a smaller aperture"),
}

// Refusal tells the person who asked what is refused, why, and what to do instead. Nothing was written.
type Refusal struct {
	Of     *Sentence
	Fields []any
	Line   bool // the line that was typed is wrong, and not what it asks for
}

// Text is what is refused, and why.
func (r *Refusal) Text() string { return r.Of.tell(r.Of.says, r.Fields) }

// Hint is what to do, "" where the text says it.
func (r *Refusal) Hint() string { return r.Of.tell(r.Of.hint, r.Fields) }

// ByName is what the refusal is filled with, by the names that stand in its sentence: numbers as they are, moments as
// entries hold them, times in seconds, all else in words.
func (r *Refusal) ByName() map[string]any {
	out := map[string]any{}
	for i, name := range r.Of.Names() {
		if i < len(r.Fields) {
			out[name] = plainField(r.Fields[i])
		}
	}
	return out
}

func plainField(v any) any {
	switch v := v.(type) {
	case bool, int, int64, []string, []int, []float64:
		return v
	case float64:
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return Dash
		}
		return v
	case time.Time:
		return events.FormatTime(v)
	case time.Duration:
		return v.Seconds()
	}
	return fmt.Sprint(v)
}

// Error joins both into one line.
func (r *Refusal) Error() string {
	if hint := r.Hint(); hint != "" {
		return r.Text() + "; " + hint
	}
	return r.Text()
}

// Same says whether another refusal refuses the same for the same.
func (r *Refusal) Same(o *Refusal) bool {
	return r != nil && o != nil && r.Of == o.Of && reflect.DeepEqual(r.Fields, o.Fields)
}

// RefusalIn is the refusal that an error is or wraps, nil for none.
func RefusalIn(err error) *Refusal {
	var no *Refusal
	errors.As(err, &no)
	return no
}

// Refused says whether an error is a refusal.
func Refused(err error) bool { return RefusalIn(err) != nil }

// IgnoreMissing gives nothing, and no error, where a look-up was refused: what is named is gone, and whoever looks back goes on
// without it.
func IgnoreMissing[T any](v T, err error) (T, error) {
	if Refused(err) {
		var nothing T
		return nothing, nil
	}
	return v, err
}
