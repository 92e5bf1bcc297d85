package export

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
)

// many is a book of so many kept views that they are read by the page.
type many struct {
	events.Reader
	views []events.View // by falling rank
	asked int
}

func (m *many) Views(q events.ViewQuery) (out []events.View, err error) {
	m.asked++
	for _, v := range m.views {
		if (q.To == 0 || v.Rank <= q.To) && len(out) < q.Limit {
			out = append(out, v)
		}
	}
	return out, nil
}

// Every view is given once, whatever stands where two pages meet: more of one rank than a page holds, the last page full, or
// ranks of nothing.
func TestEveryViewIsGivenOnceByThePage(t *testing.T) {
	for name, ranks := range map[string]func(i int) int64{
		"each its own": func(i int) int64 { return int64(9000 - i) },
		"by twos":      func(i int) int64 { return int64(9000 - i/2) },
		"many of one":  func(i int) int64 { return max(7500, int64(9000-i)) },
		"all of one":   func(int) int64 { return 7 },
		"of nothing":   func(int) int64 { return 0 },
	} {
		for _, n := range []int{0, 1, viewPage - 1, viewPage, viewPage + 1, 2 * viewPage, 3*viewPage + 7} {
			m := &many{}
			for i := range n {
				m.views = append(m.views, events.View{Entity: events.Entity{ID: int64(i + 1)}, Rank: ranks(i)})
			}
			var got []int64
			require.NoError(t, eachView(m, events.ViewQuery{}, func(v events.View) error { got = append(got, v.Entity.ID); return nil }))
			require.Len(t, got, n, "%s, %d", name, n)
			seen := map[int64]bool{}
			for _, id := range got {
				assert.False(t, seen[id], "%s, %d: %d twice", name, n, id)
				seen[id] = true
			}
			assert.LessOrEqual(t, m.asked, 12, "%s, %d", name, n)
		}
	}
}
