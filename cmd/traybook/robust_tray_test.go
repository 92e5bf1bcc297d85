package main

import (
	"database/sql"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A tray is not drawn past a stop bath that cannot be read: the rinse would be written as one in no bath.
func TestATrayDoesNotPassOverABathThatCannotBeRead(t *testing.T) {
	t.Parallel()
	book := caseBook(t, "good-picture")
	for _, args := range [][]string{{"bath", "mix", "stop", "1l", "30s"}, {"expose", "f/8", "4s"}} {
		code, _, errs := obeyed(t, book, args...)
		require.Zero(t, code, "%v: %s", args, errs)
	}
	rows := func() (n int) {
		db, err := sql.Open("sqlite3", "file:"+book+"?mode=ro")
		require.NoError(t, err)
		defer db.Close()
		require.NoError(t, db.QueryRow("SELECT count(*) FROM entry").Scan(&n))
		return n
	}
	before := rows()
	behindItsBack(t, book, `UPDATE entry SET body='{' WHERE kind='bath.mixed' AND body LIKE '%"role":"stop"%'`)
	code, _, errs := obeyed(t, book, "tray", "60s")
	assert.NotZero(t, code)
	assert.Contains(t, errs, "damaged")
	assert.Equal(t, before, rows(), "nothing was written")
}
