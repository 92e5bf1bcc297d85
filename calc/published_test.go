package calc

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// row is one published check value with its source.
type row struct {
	topic, id, quantity, unit, source, status string
	in                                        map[string]string // "a=1;b=x" taken apart; a text without "=" stands under itself, empty
	inputs, expected, tol                     string            // as written
	value                                     float64           // expected as a number; NaN where it is a range or words
	lo, hi                                    float64           // what passes; NaN where it is words
	tolerance                                 float64           // NaN where it is a word
}

// statuses say how a value was come by: read in the source that is named; second-hand, from one that quotes or reproduces
// it; from memory; common practice, a rule of thumb that a source repeats; derived, our own arithmetic upon published ones.
var statuses = []string{"read", "second-hand", "from memory", "common practice", "derived"}

// published reads testdata/published/<file>: columns topic, case_id, inputs,
// quantity, expected, unit, tolerance, source, status. An expected value is a
// number, a range "3..6" or words; words are for the test to compare.
func published(t *testing.T, file string) []row {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "testdata", "published", file))
	require.NoError(t, err)
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.Equal(t, []string{"topic", "case_id", "inputs", "quantity", "expected", "unit", "tolerance", "source", "status"}, lines[0])
	require.Greater(t, len(lines), 1, "no check values in %s", file)
	var rows []row
	for _, l := range lines[1:] {
		r := row{topic: l[0], id: l[1], inputs: l[2], quantity: l[3], expected: l[4], unit: l[5], tol: l[6], source: l[7], status: l[8],
			in: map[string]string{}, value: math.NaN(), lo: math.NaN(), hi: math.NaN()}
		require.NotEmpty(t, r.source, "%s names no source", r.id)
		require.Contains(t, statuses, r.status, "%s", r.id)
		for _, kv := range strings.Split(r.inputs, ";") {
			k, v, _ := strings.Cut(kv, "=")
			r.in[k] = v
		}
		if r.tolerance, err = strconv.ParseFloat(r.tol, 64); err != nil {
			r.tolerance = math.NaN()
		}
		slack := r.tolerance
		if math.IsNaN(slack) {
			slack = 0
		}
		if lo, hi, ok := strings.Cut(r.expected, ".."); ok {
			r.lo, r.hi = parseNumber(lo)-slack, parseNumber(hi)+slack
		} else {
			r.value = parseNumber(r.expected)
			r.lo, r.hi = r.value-slack, r.value+slack
		}
		rows = append(rows, r)
	}
	return rows
}

// parseNumber reads "0.5", "1/250", "+1/2"; anything else is NaN.
func parseNumber(s string) float64 {
	a, b, frac := strings.Cut(strings.TrimSpace(s), "/")
	x, err := strconv.ParseFloat(a, 64)
	if err != nil {
		return math.NaN()
	}
	if frac {
		y, err := strconv.ParseFloat(b, 64)
		if err != nil {
			return math.NaN()
		}
		x /= y
	}
	return x
}

// num is an input as a number.
func (r row) num(t *testing.T, key string) float64 {
	t.Helper()
	s, ok := r.in[key]
	require.True(t, ok, "%s has no input %q", r.id, key)
	v := parseNumber(s)
	require.False(t, math.IsNaN(v), "%s: input %s=%q is no number", r.id, key, s)
	return v
}

// check holds a computed number against the published one and, with -v, prints
// both with tolerance and source. A last binary digit is forgiven where the
// tolerance is 0.
func (r row) check(t *testing.T, got float64) {
	t.Helper()
	require.False(t, math.IsNaN(r.lo), "%s: %q is no number to check against", r.id, r.expected)
	t.Logf("%s: %s computed %.9g, published %s %s ± %s [%s]", r.id, r.quantity, got, r.expected, r.unit, r.tol, r.source)
	ulp := 1e-12 * math.Max(1, math.Abs(r.hi))
	if !(got >= r.lo-ulp && got <= r.hi+ulp) {
		t.Errorf("%s: %s with %s: computed %.9g, published %s %s ± %s [%s]", r.id, r.quantity, r.inputs, got, r.expected, r.unit, r.tol, r.source)
	}
}

// question is a row without its answer, so that what computes it cannot be fed what it is to find.
func (r row) question() row {
	r.expected, r.value, r.lo, r.hi = "", math.NaN(), math.NaN(), math.NaN()
	return r
}

// solve is the x between lo and hi at which a rising f is want: the inverse by which a row is held to the code that answers
// the opposite question.
func solve(t *testing.T, want, lo, hi float64, f func(x float64) (float64, error)) float64 {
	t.Helper()
	for range 200 {
		mid := lo + (hi-lo)/2
		if v, err := f(mid); err != nil {
			require.NoError(t, err)
		} else if v < want {
			lo = mid
		} else {
			hi = mid
		}
	}
	return hi
}

// eachPublished runs compute for every row of a file as a sub-test named by the
// row's id and checks what it answers; compute sees the row without its answer.
func eachPublished(t *testing.T, file string, compute func(t *testing.T, r row) float64) {
	t.Helper()
	for _, r := range published(t, file) {
		t.Run(r.id, func(t *testing.T) { r.check(t, compute(t, r.question())) })
	}
}

// The rows of published/spare are kept with their sources for formulas that the program does without today: they are
// whole, and none of them is held to the code under another file's name as well.
func TestSpareRowsAreWholeAndHeldNowhere(t *testing.T) {
	dir := filepath.Join("..", "testdata", "published")
	spare, err := os.ReadDir(filepath.Join(dir, "spare"))
	require.NoError(t, err)
	require.NotEmpty(t, spare)
	held := map[string]string{}
	files, err := filepath.Glob(filepath.Join(dir, "*.csv"))
	require.NoError(t, err)
	for _, f := range files {
		for _, r := range published(t, filepath.Base(f)) {
			held[r.id] = filepath.Base(f)
		}
	}
	for _, f := range spare {
		for _, r := range published(t, filepath.Join("spare", f.Name())) {
			require.Empty(t, held[r.id], "%s stands in spare/%s too", r.id, f.Name())
		}
	}
}
