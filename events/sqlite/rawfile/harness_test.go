package rawfile

import (
	"database/sql"
	"encoding/binary"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	_ "github.com/mattn/go-sqlite3"
	"github.com/stretchr/testify/require"
)

// childBook names the file that the test binary, started again, holds open until it is killed.
const childBook = "RAWFILE_TEST_BOOK"

func TestMain(m *testing.M) {
	path := os.Getenv(childBook)
	if path == "" {
		os.Exit(m.Run())
	}
	db, err := sql.Open("sqlite3", path)
	if err == nil {
		_, err = db.Exec("INSERT INTO t VALUES ('child')")
	}
	if err != nil {
		fmt.Println(err)
		os.Exit(1)
	}
	fmt.Println("open")
	os.Stdin.Read(make([]byte, 1))
}

// database is a file of SQLite's own making, open.
func database(t testing.TB, path string, statements ...string) *sql.DB {
	t.Helper()
	db, err := sql.Open("sqlite3", path)
	require.NoError(t, err)
	db.SetMaxOpenConns(1) // what is set lasts as long as the connection
	t.Cleanup(func() { db.Close() })
	do(t, db, append([]string{"PRAGMA synchronous=OFF"}, statements...)...)
	return db
}

func do(t testing.TB, db *sql.DB, statements ...string) {
	t.Helper()
	for _, s := range statements {
		_, err := db.Exec(s)
		require.NoError(t, err, s)
	}
}

// number is what one question answers.
func number(t testing.TB, db *sql.DB, question string) (n int64) {
	t.Helper()
	require.NoError(t, db.QueryRow(question).Scan(&n))
	return n
}

func fileOf(t testing.TB) string {
	t.Helper()
	return filepath.Join(t.TempDir(), "book.db")
}

// closed is a file of SQLite's own making that nobody has open.
func closed(t testing.TB, statements ...string) string {
	t.Helper()
	path := fileOf(t)
	require.NoError(t, database(t, path, statements...).Close())
	return path
}

func contents(t testing.TB, path string) []byte {
	t.Helper()
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	return b
}

func put(t testing.TB, path string, b []byte) {
	t.Helper()
	require.NoError(t, os.WriteFile(path, b, 0o600))
}

var besideToo = []string{"", "-wal", "-shm"}

// died is what a program that has path open would leave if it died now: the file, its log and its index, in another folder.
func died(t testing.TB, path string) string {
	t.Helper()
	left := fileOf(t)
	for _, suffix := range besideToo {
		put(t, left+suffix, contents(t, path+suffix))
	}
	return left
}

func quarry(t testing.TB, path string) *Quarry {
	t.Helper()
	q, err := OpenQuarry(path)
	require.NoError(t, err)
	t.Cleanup(q.Close)
	return q
}

const small = 512 // bytes of the smallest page

// laid is a quarry of pages laid by hand, of the smallest size, behind a first page with the head of a file.
func laid(t testing.TB, pages ...[]byte) *Quarry {
	t.Helper()
	return quarry(t, written(t, pages...))
}

// written is the file of such pages.
func written(t testing.TB, pages ...[]byte) string {
	t.Helper()
	path := fileOf(t)
	put(t, path, joined(pages...))
	return path
}

func joined(pages ...[]byte) []byte {
	b := firstPage()
	for _, p := range pages {
		b = append(b, p...)
		b = append(b, make([]byte, small-len(p))...)
	}
	return b
}

func firstPage() []byte {
	b := make([]byte, small)
	copy(b, Magic)
	binary.BigEndian.PutUint16(b[16:], small)
	return b
}

type placed struct {
	at   int
	cell []byte
}

// leaf is a page of a table with cells at places of it.
func leaf(cells ...placed) []byte {
	p := make([]byte, small)
	p[0] = leafTable
	binary.BigEndian.PutUint16(p[3:], uint16(len(cells)))
	for i, c := range cells {
		binary.BigEndian.PutUint16(p[8+2*i:], uint16(c.at))
		copy(p[c.at:], c.cell)
	}
	return p
}

// varint writes SQLite's integer of one to nine bytes (sqlite.org/fileformat2.html, "Record Format").
func varint(v uint64) []byte {
	if v >= 1<<56 {
		b := []byte{8: byte(v)}
		for v, i := v>>8, 7; i >= 0; v, i = v>>7, i-1 {
			b[i] = byte(v) | 0x80
		}
		return b
	}
	b := []byte{byte(v & 0x7f)}
	for v >>= 7; v > 0; v >>= 7 {
		b = append([]byte{byte(v) | 0x80}, b...)
	}
	return b
}

// record writes a row of one text.
func record(text string) []byte {
	serial := varint(uint64(2*len(text) + 13))
	return append(append(varint(uint64(len(serial)+1)), serial...), text...)
}

// cell writes a row of one text as it stands on a leaf, where it does not overflow.
func cell(rowid int64, text string) []byte {
	r := record(text)
	return append(append(varint(uint64(len(r))), varint(uint64(rowid))...), r...)
}

// carved are the rows of so many values, in the order in which they were found.
func carved(t testing.TB, q *Quarry, late bool, values int) (rows []CarvedRow) {
	t.Helper()
	require.NoError(t, q.Each(late, func(r CarvedRow) error {
		if len(r.Values) == values {
			rows = append(rows, r)
		}
		return nil
	}))
	return rows
}

// texts are the rows that are one text.
func texts(t testing.TB, q *Quarry, late bool) (all []string) {
	t.Helper()
	for _, r := range carved(t, q, late, 1) {
		if s, ok := r.Values[0].(string); ok {
			all = append(all, s)
		}
	}
	return all
}

// dots is a text of a length that can be told from its like.
func dots(n int) string {
	return strings.Repeat(fmt.Sprintf("%d.", n), n)[:n]
}

// logged is a frame to be written into a log.
type logged struct {
	page, commit int
	bytes        []byte
}

// logOf writes a log (sqlite.org/fileformat2.html#walformat), its sums over words of the given order.
func logOf(order binary.ByteOrder, pageSize int, salts string, frames ...logged) []byte {
	word := func(b []byte, n uint32) []byte { return binary.BigEndian.AppendUint32(b, n) }
	var s [2]uint32
	sum := func(b []byte) {
		for ; len(b) >= 8; b = b[8:] {
			s[0] += order.Uint32(b) + s[1]
			s[1] += order.Uint32(b[4:]) + s[0]
		}
	}
	magic := uint32(0x377f0682)
	if order == binary.BigEndian {
		magic = 0x377f0683
	}
	b := word(word(word(word(nil, magic), 3007000), uint32(pageSize)), 0)
	b = append(b, salts...)
	sum(b)
	b = word(word(b, s[0]), s[1])
	for _, f := range frames {
		head := word(word(nil, uint32(f.page)), uint32(f.commit))
		page := append(append([]byte{}, f.bytes...), make([]byte, pageSize-len(f.bytes))...)
		sum(head)
		sum(page)
		b = append(append(b, head...), salts...)
		b = append(word(word(b, s[0]), s[1]), page...)
	}
	return b
}
