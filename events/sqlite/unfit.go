package sqlite

import (
	"errors"
	"fmt"

	"traybook/events"
)

// unfitRows gathers the entries that are what their hashes say and that the reader of lines would not take. They are no
// damage: an older version kept them before there was the rule.
type unfitRows struct {
	told []string
	more int
}

// mostUnfit bounds how many are named.
const mostUnfit = 100

func (u *unfitRows) look(row *keptRow) {
	var unfit *events.UnfitError
	if !errors.As(row.unfit, &unfit) {
		return // a row whose hash does not fit is told as such
	}
	if len(u.told) == mostUnfit {
		u.more++
		return
	}
	u.told = append(u.told, unfitText(&row.entry, unfit))
}

func unfitText(e *events.Entry, unfit error) string {
	return fmt.Sprintf("entry number %d (%s…), a %s, breaks a rule: %s", e.Seq, e.ID.String()[:8], e.Kind, unfit)
}

func (u *unfitRows) notes(r *Report) {
	for _, text := range u.told {
		r.note("%s; it stays and goes into exports and archives, but into no other book: `traybook salvage` makes a book without it", text)
	}
	if u.more > 0 {
		r.note("%d more entries break a rule", u.more)
	}
}
