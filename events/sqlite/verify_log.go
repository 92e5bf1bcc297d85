package sqlite

import "fmt"

// verifyLog looks at the log that a dead program left beside a book, before SQLite does. Where something that was
// acknowledged is not taken in, it is all that is looked at: an opened book would begin a new log over it.
func verifyLog(path string) (r Report, lost bool) {
	path = ownPlace(path)
	if plainFiles(path) != nil || openHere.has(path) {
		return r, false
	}
	if l, err := logOf(path); err != nil || l == nil || !l.lost() {
		return r, false // Open says what is wrong
	}
	q, err := openQuarry(path)
	if err != nil {
		return r, false
	}
	defer q.close()
	r.problem(ProblemLog, "", "%s", q.log.says(path))
	s, err := carve(q)
	if err != nil {
		return r, true
	}
	for _, f := range s.finds {
		if f.behind {
			r.problem(ProblemLog, f.id.String(), "entry number %d, a %s, can be read behind the damage in the log; `traybook salvage` brings it back", f.rowid, f.kind)
		} else {
			r.Events++
		}
	}
	for _, p := range s.out.Problems {
		r.problem(p.Kind, p.Entry, "%s", p.Text)
	}
	if n := s.out.Missing; n > 0 {
		r.problem(ProblemMissing, "", "%s cannot be read anywhere", countOf(n))
	}
	r.note("the rest of the book was not looked at, since opening it would write over the log: save it by `traybook salvage` first")
	return r, true
}

func countOf(n int64) string {
	if n == 1 {
		return "one entry"
	}
	return fmt.Sprintf("%d entries", n)
}
