package main

import (
	"html"
	"net/http"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

// A page weighs little in any book: what a book has many of is told in pages. This one has a hundred baths, 1,300 pictures
// and 48 sheets a day.
func TestPagesWeighLittle(t *testing.T) {
	t.Parallel()
	book, now, pictures, bath := bookOfALife(t, 16_000)
	s := serveBookAt(t, book, now.Format(time.RFC3339))
	asked := pagesAsked(now, pictures[0], bath)
	for _, p := range pictures {
		asked = append(asked, [2]string{p, "/picture/" + p})
	}
	for _, page := range asked {
		status, text := s.get(page[1])
		assert.Equal(t, http.StatusOK, status, page[1])
		assert.Less(t, len(text), 80_000, page[1])
		assert.Greater(t, len(text), 1000, page[1])
	}
	older := regexp.MustCompile(`href="(/supplies[^"]*before=[^"]*)"`)
	at, baths := "/supplies?all=1", 0
	for n := 0; at != ""; n++ {
		assert.Less(t, n, 30)
		_, text := s.get(at)
		assert.Less(t, len(text), 80_000, at)
		baths += strings.Count(text, "(developer)")
		next := older.FindStringSubmatch(text)
		span := map[bool]string{true: "since ", false: "from "}[n == 0]
		if at = ""; next != nil {
			at = html.UnescapeString(next[1])
		} else {
			span = "until "
		}
		assert.Contains(t, plainly(text), "what came in and was mixed "+span)
	}
	assert.Equal(t, strings.Count(does(t, book, "baths", "--all"), "(developer)"), baths, "every bath stands on one page")
	assert.Greater(t, baths, 50)
}
