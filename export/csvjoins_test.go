package export

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// Of a table that is written only names by which others join are kept: of a million entries none.
func TestOnlyNamesOfTablesAreKept(t *testing.T) {
	var kept joins
	var columns []string
	for _, x := range tables {
		d := x.describe()
		kept.mind(d, nil)
		for _, c := range d.Columns {
			if kept.written[d.Name][c.Name] != nil {
				columns = append(columns, d.Name+"."+c.Name)
			}
		}
	}
	assert.Equal(t, []string{"pictures.picture", "pictures.session", "pictures.box", "sheets.session", "sheets.box", "sheets.developer", "sheets.stop_bath",
		"sheets.fixer", "sheets.for_order", "causes.bath", "readings.session", "readings.picture", "strips.session", "strips.box", "strips.picture", "strips.bath",
		"deliveries.order", "orders.order", "orders.picture", "stock.box", "stock.cut_from", "baths.bath", "sessions.session"}, columns)
}
