package sqlite

import (
	"database/sql"
	"errors"

	"traybook/events"
)

var _ events.Thumbnails = (*Tx)(nil)

// Thumbnail gives the small picture that is kept of a scan.
func (tx *Tx) Thumbnail(sha256 events.Hash) (events.Thumbnail, bool, error) {
	t := events.Thumbnail{SHA256: sha256}
	err := tx.tx.QueryRow("SELECT jpeg, width, height, path FROM thumbnail WHERE sha256=?", sha256[:]).
		Scan(&t.JPEG, &t.Width, &t.Height, &t.Path)
	if errors.Is(err, sql.ErrNoRows) {
		return events.Thumbnail{}, false, nil
	}
	return t, err == nil, translate(err)
}

// PutThumbnail keeps a small picture. One that is there already stays as it is, since it is made once and never made
// again; only the path of its original is brought up to date.
func (tx *Tx) PutThumbnail(t events.Thumbnail) error {
	_, err := tx.tx.Exec(`INSERT INTO thumbnail (sha256, jpeg, width, height, path) VALUES (?,?,?,?,?)
		ON CONFLICT (sha256) DO UPDATE SET path=excluded.path`, t.SHA256[:], t.JPEG, t.Width, t.Height, t.Path)
	return translate(err)
}

// EachThumbnail calls f with every small picture, by the digest of its original. f must not use the transaction.
func (tx *Tx) EachThumbnail(f func(events.Thumbnail) error) error {
	rows, err := tx.tx.Query("SELECT sha256, jpeg, width, height, path FROM thumbnail ORDER BY sha256")
	return each(rows, err, func(row scanner) error {
		var t events.Thumbnail
		var digest []byte
		if err := row.Scan(&digest, &t.JPEG, &t.Width, &t.Height, &t.Path); err != nil {
			return err
		}
		copy(t.SHA256[:], digest)
		return f(t)
	})
}
