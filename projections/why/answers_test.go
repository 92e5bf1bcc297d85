package why_test

import (
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/eventstest"
	"traybook/events/sqlite"
	"traybook/projections/why"
)

const heldAnswers = "../../testdata/why/answers.txt"

// answerText is all that why says to a case, with each entry named by what it is and when it was, in place of its id.
func answerText(d why.Diagnosis, entries map[string]string) string {
	var b strings.Builder
	list := func(ids []string) string {
		var out []string
		for _, id := range ids {
			out = append(out, entries[id])
		}
		return strings.Join(out, ", ")
	}
	finding := func(how string, f why.Finding) {
		fmt.Fprintf(&b, "%s %s %s, done %s, called for %s %s, stops %s, explains %.3f\n", how, f.Cause, f.Sheet[8:], figure(f.Done), figure(f.CalledFor), f.Unit, figure(f.Stops), f.Explains)
		fmt.Fprintf(&b, "    %s\n    next: %s\n    by: %s\n", f.Text, f.Next, list(f.Entries))
		if len(f.Together) > 0 || f.With != "" {
			fmt.Fprintf(&b, "    with: %s by %s\n", strings.Join(f.Together, ", "), f.With)
		}
	}
	for _, f := range d.Findings {
		finding("cause", f)
	}
	for _, f := range d.Deviations {
		finding("deviation", f)
	}
	fmt.Fprintf(&b, "unexplained %s, stops %s\n", figure(d.Unexplained), figure(d.UnexplainedStops))
	if s := d.Strips; s != nil {
		fmt.Fprintf(&b, "strips of %s from %.3f:", s.Sheet[8:], s.Dmin)
		for i := range s.Was {
			fmt.Fprintf(&b, " %.3f>%.3f", s.Was[i], s.WouldBe[i])
		}
		b.WriteString("\n")
	}
	for _, l := range d.Lines {
		for id, name := range entries {
			l = strings.ReplaceAll(l, id[:8], name)
		}
		fmt.Fprintf(&b, "- %s\n", l)
	}
	return b.String()
}

func figure(v *float64) string {
	if v == nil {
		return "–"
	}
	return fmt.Sprintf("%.4g", *v+0)
}

// entryNames are the entries of a book by their ids, each by its kind, its day and its minute.
func entryNames(t testing.TB, b *sqlite.Book) map[string]string {
	t.Helper()
	out := map[string]string{}
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		return tx.Each(func(e events.Entry) error {
			out[e.ID.String()] = string(e.Kind) + " " + e.At.In(time.FixedZone("", 2*3600)).Format("2 15:04")
			return nil
		})
	}))
	return out
}

// What why says to each case is held word by word and figure by figure, so that no strength, floor or sentence moves unseen.
// Whether it is right the score says.
func holdAnswers(t *testing.T, cases []whyCase, texts []string) {
	t.Helper()
	got := map[string]string{}
	var all strings.Builder
	for i, c := range cases {
		got[c.name] = texts[i]
		fmt.Fprintf(&all, "# %s\n%s\n", c.name, texts[i])
	}
	if *eventstest.Update {
		require.NoError(t, os.WriteFile(heldAnswers, []byte(all.String()), 0o644))
		return
	}
	raw, err := os.ReadFile(heldAnswers)
	require.NoError(t, err)
	held := map[string]string{}
	for _, part := range strings.Split("\n"+string(raw), "\n# ")[1:] {
		name, text, _ := strings.Cut(part, "\n")
		held[name] = strings.TrimSuffix(text, "\n") + "\n"
	}
	var moved []string
	for _, c := range cases {
		if want := strings.TrimRight(held[c.name], "\n"); want != strings.TrimRight(got[c.name], "\n") {
			moved = append(moved, c.name)
			if len(moved) == 1 {
				t.Errorf("%s:\n%s\nand was:\n%s", c.name, got[c.name], held[c.name])
			}
		}
		delete(held, c.name)
	}
	slices.Sort(moved)
	require.Empty(t, moved, "what why says to these cases is not what %s holds; where it is meant, -update writes it", heldAnswers)
	require.Empty(t, held, "no such cases")
}
