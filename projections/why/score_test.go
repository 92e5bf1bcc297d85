package why_test

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"traybook/projections/why"
)

// whyCase is one line of testdata/why/cases.txt: a name, what was varied and judged, and what why must say.
type whyCase struct {
	name, changes string
	causes        []wanted // any of them first, all among the first three
	unexplained   float64  // at least; below 0 = not asked
	none, clean   bool     // nobody accused; nothing to explain
}

type wanted struct{ cause, sheet string }

func readCases(t testing.TB) []whyCase {
	t.Helper()
	raw, err := os.ReadFile("../../testdata/why/cases.txt")
	require.NoError(t, err)
	var out []whyCase
	for i, line := range strings.Split(string(raw), "\n") {
		if line = strings.TrimSpace(line); line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		parts := strings.Split(line, "|")
		require.Len(t, parts, 3, "line %d", i+1)
		c := whyCase{name: strings.TrimSpace(parts[0]), changes: strings.TrimSpace(parts[1]), unexplained: -1}
		for _, w := range strings.Split(parts[2], "+") {
			words := strings.Fields(w)
			switch words[0] {
			case "clean":
				c.clean, c.none = true, true
			case "none":
				c.none, c.unexplained = true, 0.8
				if len(words) > 1 {
					_, err := fmt.Sscan(words[1], &c.unexplained)
					require.NoError(t, err)
				}
			default:
				require.Len(t, words, 2, "line %d", i+1)
				c.causes = append(c.causes, wanted{words[0], "2026-" + words[1]})
				if !strings.Contains(words[1], "-") && len(words[1]) < 4 {
					c.causes[len(c.causes)-1].sheet = "2026-001" + words[1]
				}
			}
		}
		out = append(out, c)
	}
	return out
}

// The score of why on its cases: the right cause first in nine of ten, among the first three always, nobody accused
// where there is nothing.
func TestWhyScore(t *testing.T) {
	cases := readCases(t)
	require.GreaterOrEqual(t, len(cases), 60)
	var table strings.Builder
	asked, first, missed, falsely, silent := 0, 0, 0, 0, 0
	answers, texts := make([]why.Diagnosis, len(cases)), make([]string, len(cases))
	t.Run("cases", func(t *testing.T) {
		seen := map[string]bool{}
		for i, c := range cases {
			require.False(t, seen[c.name], "two cases are called %q", c.name)
			seen[c.name] = true
			t.Run(c.name, func(t *testing.T) {
				t.Parallel()
				b := bookOf(t, caseLines(t, c.changes))
				answers[i] = whyOf(t, b, "2026-001")
				texts[i] = answerText(answers[i], entryNames(t, b))
			})
		}
	})
	if t.Failed() {
		return
	}
	for i, c := range cases {
		got := answers[i]
		verdict := "ok"
		switch {
		case c.none:
			if len(got.Findings) > 0 {
				falsely++
				verdict = "FALSE ACCUSATION"
			} else if c.clean && got.Unexplained != nil && *got.Unexplained > 0.01 || c.unexplained > 0 && (got.Unexplained == nil || *got.Unexplained < c.unexplained) {
				silent++
				verdict = "UNEXPLAINED"
			}
		default:
			asked++
			isFirst := false
			for _, w := range c.causes {
				at := place(got, w)
				isFirst = isFirst || at == 0
				if at < 0 || at > 2 {
					missed++
					verdict = "MISSED " + w.cause
				}
			}
			if isFirst {
				first++
			} else if verdict == "ok" {
				verdict = "not first"
			}
		}
		fmt.Fprintf(&table, "%-52s %-30s %-88s %5s  %s\n", c.name, namesOf(c), gotten(got), share(got.Unexplained), verdict)
	}
	t.Logf("%d cases, of %d with a cause %d told first; missed %d, falsely accused %d, unexplained said wrong %d\n%s", len(cases), asked, first, missed, falsely, silent, table.String())
	require.GreaterOrEqual(t, float64(first), 0.9*float64(asked), "the right cause first in nine of ten")
	require.Zero(t, missed, "among the first three always")
	require.Zero(t, falsely, "nobody accused where there is no cause")
	require.Zero(t, silent, "what is not in the log is said to be unexplained")
	told := map[string]bool{}
	for i := range cases {
		for _, f := range answers[i].Findings {
			told[f.Cause] = true
			require.Contains(t, why.Causes, f.Cause, "a cause stands in the list of projections/why/rules.go")
			require.NotEmpty(t, f.Text, "%s says nothing: give it words, for a bath in bathWords (projections/why/stains.go)", f.Cause)
			require.NotEmpty(t, f.Next, "%s advises nothing: give it a next step, for a bath in bathWords (projections/why/stains.go)", f.Cause)
		}
	}
	for _, c := range why.Causes {
		require.True(t, told[c], "no case of testdata/why/cases.txt is told %s", c)
	}
	holdAnswers(t, cases, texts)
}

func place(d why.Diagnosis, w wanted) int {
	for i, f := range d.Findings {
		if f.Cause == w.cause && f.Sheet == w.sheet {
			return i
		}
	}
	return -1
}

func namesOf(c whyCase) string {
	if c.none {
		return "nobody"
	}
	var out []string
	for _, w := range c.causes {
		out = append(out, w.cause+" "+w.sheet[8:])
	}
	return strings.Join(out, " + ")
}

func gotten(d why.Diagnosis) string {
	var out []string
	for i, f := range d.Findings {
		if i < 3 {
			out = append(out, fmt.Sprintf("%s %s %.2f", f.Cause, f.Sheet[8:], f.Explains))
		}
	}
	if len(out) == 0 {
		return "-"
	}
	return strings.Join(out, ", ")
}

func share(v *float64) string {
	if v == nil {
		return "null"
	}
	return fmt.Sprintf("%.2f", *v)
}
