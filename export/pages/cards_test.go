package pages_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events/sqlite"
	"traybook/export"
	"traybook/export/pages"
	"traybook/projections/booktest"
	"traybook/projections/wording"
)

// The words of a card are read line by line, and what no card can bear is refused before anything is drawn.
func TestTheWordsOfACard(t *testing.T) {
	for text, says := range map[string]string{
		"{nmuber}, {date}":               "line 1 of the words: {nmuber} is no field of a card",
		"one\n[unwashed] - {who} {for}":  "line 2 of the words: {for} is no field of a card",
		"# 𓀀 your picture":               "the words hold letters that no typeface at hand has: 𓀀",
		strings.Repeat("-\n", 250) + "x": "the words have 251 lines; a card holds some thirty",
	} {
		_, err := pages.ReadCardWords(text, nil)
		require.ErrorContains(t, err, says)
		assert.True(t, wording.Refused(err))
	}
	b := booktest.FromActs(t, booktest.Outing)
	require.NoError(t, b.Read(func(tx *sqlite.Tx) error {
		words, err := pages.ReadCardWords(strings.Repeat("Word for word, one under the other.\n", 60), nil)
		require.NoError(t, err)
		_, _, err = pages.Cards(tx, booktest.Recorded, export.Scope{}, pages.CardOptions{Created: booktest.Recorded, Words: words})
		require.Error(t, err)
		assert.Regexp(t, `^the words are longer than a card of A6: 2026-\d+p\d would need \d+ mm more`, err.Error())
		words, err = pages.ReadCardWords("\uFEFF# Ditt bilde\r\n{number} · {date} {æ\r\n{who}\r\nfor {who}, holdt tørt\r\n[unwashed] må skylles", nil)
		require.NoError(t, err, "a brace that is no field is a brace")
		pdf, n, err := pages.Cards(tx, booktest.Recorded, export.Scope{Picture: "2026-001"}, pages.CardOptions{Created: booktest.Recorded, Words: words, Uncompressed: true})
		require.NoError(t, err)
		assert.Positive(t, n)
		assert.Contains(t, string(pdf), "/MediaBox [0 0 297.64 419.53]")
		_, _, err = pages.Cards(tx, booktest.Recorded, export.Scope{Year: 1999}, pages.CardOptions{Created: booktest.Recorded})
		assert.ErrorContains(t, err, "there is no print in this scope to give a card to")
		return nil
	}))
}
