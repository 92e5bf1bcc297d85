package why_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/eventstest"
	"traybook/events/sqlite"
	"traybook/projections/snapshot"
)

const heldShows = "../../testdata/why/shows.txt"

// rejudged is a book in which every judgement is of one sheet and says one symptom.
type rejudged struct {
	events.Reader
	sheet, symptom string
}

func (r rejudged) Entries(q events.Query) ([]events.Entry, error) {
	all, err := r.Reader.Entries(q)
	for i, e := range all {
		if _, ok := e.Data.(*events.SheetJudgedData); ok {
			all[i].Data = &events.SheetJudgedData{Sheet: r.sheet, Verdict: "redo", Symptoms: []string{r.symptom}}
		}
	}
	return all, err
}

// How strongly each cause shows as each symptom, on the negative and on its print, is held figure by figure: of each cause
// one case, and what has tables of its own, is judged anew by every symptom. Symptoms of which the same is said share a line.
func TestHowEachCauseShows(t *testing.T) {
	seen := map[wanted]bool{}
	var ofCause []whyCase
	for _, c := range readCases(t) {
		if len(c.causes) == 1 && (!seen[c.causes[0]] || strings.Contains(c.name, "safelight") || strings.Contains(c.name, "holder") || strings.Contains(c.name, "exhausted")) {
			seen[c.causes[0]] = true
			ofCause = append(ofCause, c)
		}
	}
	texts := make([]string, len(ofCause))
	t.Run("cases", func(t *testing.T) {
		for i, c := range ofCause {
			t.Run(c.name, func(t *testing.T) {
				t.Parallel()
				var out strings.Builder
				fmt.Fprintf(&out, "# %s %s: %s\n", c.causes[0].cause, c.causes[0].sheet[8:], c.name)
				require.NoError(t, bookOf(t, caseLines(t, c.changes)).Read(func(tx *sqlite.Tx) error {
					for _, sheet := range []string{"2026-001n", "2026-001p1"} {
						if _, _, err := snapshot.New(tx, time.Time{}).SheetByName(sheet); err != nil {
							continue
						}
						var said []string
						symptoms := map[string][]string{}
						for _, symptom := range events.Symptoms {
							d, err := whyBeside(t, tx, "2026-001", func(r events.Reader) events.Reader { return rejudged{r, sheet, symptom} })
							require.NoError(t, err, symptom)
							var found []string
							for _, f := range d.Findings {
								found = append(found, fmt.Sprintf("%s %s %.3f", f.Cause, f.Sheet[8:], f.Explains))
							}
							text := strings.Join(found, ", ")
							if symptoms[text] == nil {
								said = append(said, text)
							}
							symptoms[text] = append(symptoms[text], symptom)
						}
						for _, text := range said {
							if text != "" {
								fmt.Fprintf(&out, "%s %s: %s\n", sheet[8:], strings.Join(symptoms[text], " "), text)
							}
						}
					}
					return nil
				}))
				texts[i] = out.String()
			})
		}
	})
	got := strings.Join(texts, "")
	eventstest.Hold(t, heldShows, got)
}
