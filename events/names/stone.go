package names

import (
	"crypto/pbkdf2"
	"crypto/sha256"

	"traybook/events"
)

// stoneRounds makes a guess at a name dear, some hundredths of a second to a tenth, and leaves a merge of a hundred names
// bearable. The count is our own choice. It can never change: stones are kept for ever.
const stoneRounds = 100_000

// Stone is the digest by which the name of a sitter who was erased is known again: PBKDF2 with HMAC-SHA-256 over the name
// as Key gives it, with the salt that stands beside it. It does not give the name away, but who guesses a name can have the
// guess confirmed.
func Stone(name string, salt events.ID) events.Hash {
	var out events.Hash
	key, err := pbkdf2.Key(sha256.New, Key(name), append([]byte("traybook-stone-1\n"), salt[:]...), stoneRounds, len(out))
	if err != nil { // only for a length that is too long
		panic(err)
	}
	copy(out[:], key)
	return out
}
