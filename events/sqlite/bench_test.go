package sqlite

import (
	"bytes"
	"crypto/sha256"
	"database/sql"
	"testing"

	"github.com/stretchr/testify/require"

	"traybook/events"
)

// BenchmarkVerifyChain goes through the chains of a book; its floor is one SHA-256 over the same bytes, read from the
// same table row by row.
func BenchmarkVerifyChain(b *testing.B) {
	const n = 100000
	book := create(b)
	_, err := book.ImportWhole(events.ReadLines(bytes.NewReader(lifeLines(n))), nil)
	require.NoError(b, err)
	b.Run("chain", func(b *testing.B) {
		for b.Loop() {
			r, err := book.Verify(VerifyOptions{Chain: true})
			require.NoError(b, err)
			require.True(b, r.OK)
		}
	})
	b.Run("floor", func(b *testing.B) {
		for b.Loop() {
			rows, err := book.db.Query("SELECT body, prev, hash FROM entry ORDER BY seq")
			require.NoError(b, err)
			h := sha256.New()
			var body, prev, hash sql.RawBytes
			for rows.Next() {
				require.NoError(b, rows.Scan(&body, &prev, &hash))
				h.Write(prev)
				h.Write(body)
			}
			require.NoError(b, rows.Close())
		}
	})
	b.Run("whole", func(b *testing.B) {
		for b.Loop() {
			r, err := book.Verify(VerifyOptions{})
			require.NoError(b, err)
			require.True(b, r.OK)
		}
	})
}
