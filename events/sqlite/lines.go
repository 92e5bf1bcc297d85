package sqlite

import (
	"bufio"
	"database/sql"
	"encoding/hex"
	"errors"
	"io"
	"iter"

	"traybook/events"
)

// EachLine calls f with the whole line of every entry, in the order of arrival, so that each chain comes whole and in
// its own order and a chain that grew from another comes after what it grew from. line is f's until it returns; f must
// not use the transaction.
func (tx *Tx) EachLine(f func(line []byte) error) error {
	var body, prev, hash sql.RawBytes
	var line []byte
	var order inOrder
	var seq int64
	rows, err := tx.tx.Query("SELECT seq, body, prev, hash FROM entry ORDER BY seq")
	return each(rows, err, func(row scanner) error {
		if err := row.Scan(&seq, &body, &prev, &hash); err != nil {
			return err
		}
		if err := order.next(seq); err != nil {
			return err
		}
		if len(body) == 0 {
			return events.ErrDamaged
		}
		line = append(line[:0], body[:len(body)-1]...)
		line = append(line, `,"prev":"`...)
		line = hex.AppendEncode(line, prev)
		line = append(line, `","hash":"`...)
		line = hex.AppendEncode(line, hash)
		line = append(line, `"}`...)
		return f(line)
	})
}

// ExportLines writes every chain whole as NDJSON.
func (tx *Tx) ExportLines(w io.Writer) error {
	out := bufio.NewWriterSize(w, 1<<16)
	err := tx.EachLine(func(line []byte) error {
		out.Write(line)
		return out.WriteByte('\n')
	})
	if err != nil {
		return err
	}
	return out.Flush()
}

// Imported says what an import or a joining brought.
type Imported struct {
	Added int64 // entries written
	Known int64 // entries passed over, since the book held them
}

// progressEvery is how many entries go by between two calls of a progress function.
const progressEvery = 1000

// ImportWhole takes whole lines, kept byte for byte, in one transaction: all or none. Each line must continue a chain
// that the book holds or grow from one; chains may begin only in an empty book. A line that the book holds already is
// passed over; the same line twice among those given is refused. Lines must come from events.ReadLines, which has held
// them against the rules. The error of a line is an *events.LineError. progress,
// which may be nil, hears now and then how many lines went by.
func (b *Book) ImportWhole(lines iter.Seq2[events.Line, error], progress func(n int64)) (Imported, error) {
	var got Imported
	err := b.Write(func(tx *Tx) error {
		var err error
		got, err = tx.ImportWhole(lines, progress)
		return err
	})
	if err != nil {
		return Imported{}, err
	}
	return got, nil
}

// ImportWhole is Book.ImportWhole inside a write.
func (tx *Tx) ImportWhole(lines iter.Seq2[events.Line, error], progress func(n int64)) (Imported, error) {
	var got Imported
	if err := tx.loadChains(); err != nil {
		return got, err
	}
	before := tx.chains.tail
	tx.bulk = true
	for l, err := range lines {
		if err != nil {
			return got, err
		}
		if err := tx.importOne(&l.Entry, before, &got); err != nil {
			return got, &events.LineError{N: l.N, Err: err}
		}
		if n := got.Added + got.Known; progress != nil && n%progressEvery == 0 {
			progress(n)
		}
	}
	return got, nil
}

func (tx *Tx) importOne(e *events.Entry, before int64, got *Imported) error {
	if e.Stored == nil {
		return errors.New("the line has no hash; lines without one are taken in as acts")
	}
	seq, err := tx.hasUnless(e)
	switch {
	case err != nil:
		return err
	case seq > before:
		return errors.New("the same line stands twice")
	case seq > 0:
		got.Known++
		return nil
	}
	if err := tx.place(e, before == 0); err != nil {
		return err
	}
	got.Added++
	return tx.insert(e, byChain)
}

// hasUnless is has, without the look where e plainly continues the end of its chain.
func (tx *Tx) hasUnless(e *events.Entry) (int64, error) {
	if id, ok := tx.chains.byHash[e.Prev]; ok && tx.chains.heads[id].Book == e.Book {
		return 0, nil
	}
	return tx.has(e)
}
