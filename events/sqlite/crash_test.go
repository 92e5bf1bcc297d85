package sqlite

import (
	"bufio"
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/eventstest"
	"traybook/events/sqlite/rawfile"
)

// The test binary, started again, is the process that is killed and one of the crowd.
const (
	childRole = "TRAYBOOK_TEST_CHILD" // what to do
	childBook = "TRAYBOOK_TEST_BOOK"  // to which book
	childSeed = "TRAYBOOK_TEST_SEED"
	longRun   = "TRAYBOOK_LONG" // 1: the long forms of the tests
)

func TestMain(m *testing.M) {
	if role := os.Getenv(childRole); role != "" {
		child(role, os.Getenv(childBook), os.Getenv(childSeed))
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// pick gives the long or the short number of rounds.
func rounds(short, long int) int {
	if os.Getenv(longRun) == "1" {
		return long
	}
	return short
}

func must(err error) {
	if err != nil {
		fmt.Println("error", err)
		os.Exit(1)
	}
}

// child does one thing over and over and says so after each time it is safe.
func child(role, path, seed string) {
	b, err := Open(path, options)
	must(err)
	h := newHand(panicking{}, b, seed)
	h.at = morning.AddDate(0, 1, 0)
	switch role {
	case "append":
		for i := 0; ; i++ {
			e := h.entry(&events.SheetDriedData{Sheet: "2026-001n"})
			must(b.Write(func(tx *Tx) error { return tx.Append(&e) }))
			fmt.Println("safe", e.ID)
		}
	case "batch": // three acts or none
		for i := 0; ; i++ {
			batch := h.batch(&events.SheetDevelopedData{Sheet: "2026-001n", Bath: "dev-1", TimeS: 60},
				&events.SheetFixedData{Sheet: "2026-001n", Bath: "fix-1", TimeS: 60}, &events.SheetDriedData{Sheet: "2026-001n"})
			fmt.Println("safe", batch)
		}
	case "crowd":
		n, err := strconv.Atoi(os.Getenv("TRAYBOOK_TEST_ACTS"))
		must(err)
		for range n {
			var e events.Entry
			must(b.Write(func(tx *Tx) error {
				last, err := tx.LargestNumber("2026-")
				if err != nil {
					return err
				}
				number := fmt.Sprintf("2026-%03d", last+1)
				e = h.entry(&events.SheetExposedData{Picture: number, Box: "box-1", F: 8, TimeS: 5, Sheet: number + "n"})
				return tx.Append(&e)
			}))
			fmt.Println("safe", e.Data.(*events.SheetExposedData).Picture)
		}
		must(b.Close())
	case "import":
		fmt.Println("safe begin")
		_, err := importWhole(b, events.ReadLines(bytes.NewReader(lifeLines(600))), nil)
		must(err)
		fmt.Println("safe end")
	case "rebuild":
		for {
			fmt.Println("safe begin")
			must(b.Rebuild())
		}
	case "backup":
		for i := 0; ; i++ {
			fmt.Println("safe begin")
			must(b.Backup(filepath.Join(filepath.Dir(path), "copy.db")))
			os.Remove(filepath.Join(filepath.Dir(path), "copy.db"))
		}
	case "merge":
		other, err := Open(path+".other", Options{Folder: tally{}, ReadOnly: true})
		must(err)
		fmt.Println("safe begin")
		_, err = b.Merge(other, nil)
		must(err)
		fmt.Println("safe end")
	}
}

// lifeLines is a chain of n entries, whole.
func lifeLines(n int) []byte {
	var out []byte
	var prev events.Hash
	book := seeded("book of life")
	for i := range n {
		e := events.Entry{Kind: events.SheetDried, At: morning, Data: &events.SheetDriedData{Sheet: fmt.Sprintf("2026-%03dn", i/12+1)}, ID: seeded(fmt.Sprint("life", i)),
			Book: book, BookSeq: int64(i) + 1, RecordedAt: morning.Add(time.Duration(i) * time.Second), V: 1}
		if i == 0 {
			e.Kind, e.Data = events.BookOpened, &events.BookOpenedData{Zone: "UTC"}
		}
		must(e.Seal(prev))
		prev = e.Hash
		out = append(e.AppendLine(out), '\n')
	}
	return out
}

// run starts a child and kills it at a random moment after its first word; it gives what the child said was safe.
func run(t *testing.T, rng *rand.Rand, role, path, seed string, within time.Duration) (said []string) {
	t.Helper()
	cmd := eventstest.Command(t, os.Args[0], "-test.run=^$")
	cmd.Env = append(cmd.Env, childRole+"="+role, childBook+"="+path, childSeed+"="+seed)
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	first := make(chan struct{})
	done := make(chan struct{})
	go func() {
		defer close(done)
		lines := bufio.NewScanner(out)
		for lines.Scan() {
			word, what, _ := strings.Cut(lines.Text(), " ")
			if word != "safe" {
				t.Errorf("%s: %s", role, lines.Text())
			}
			if said = append(said, what); len(said) == 1 {
				close(first)
			}
		}
	}()
	select {
	case <-first:
		time.Sleep(time.Duration(rng.Int64N(int64(within))))
	case <-done:
	}
	cmd.Process.Kill()
	<-done
	cmd.Wait()
	return said
}

// sound opens the book after a kill and looks at everything.
func sound(t *testing.T, path string) Report {
	t.Helper()
	b, err := Open(path, options)
	require.NoError(t, err)
	defer b.Close()
	return verified(t, b)
}

func litter(t *testing.T, path string) (out []string) {
	t.Helper()
	names, err := os.ReadDir(filepath.Dir(path))
	require.NoError(t, err)
	for _, n := range names {
		if strings.Contains(n.Name(), "-part-") {
			out = append(out, n.Name())
		}
	}
	return out
}

// What was acknowledged is there; at most the one act under way is there beyond it.
func TestKilledWhileAppending(t *testing.T) {
	for role, acts := range map[string]int64{"append": 1, "batch": 3} {
		t.Run(role, func(t *testing.T) {
			path := seasonFile(t)
			rng := rand.New(rand.NewPCG(20, 26))
			before := sound(t, path).Events
			for i := range rounds(10, 250) {
				said := run(t, rng, role, path, fmt.Sprintf("round %d.", i), 60*time.Millisecond)
				now := sound(t, path).Events
				acked := before + acts*int64(len(said))
				assert.Contains(t, []int64{acked, acked + acts}, now, "round %d", i)
				b := open(t, path)
				require.NoError(t, b.Read(func(tx *Tx) error {
					for _, id := range said {
						var es []events.Entry
						var err error
						if role == "append" {
							es, err = tx.Find(id)
						} else {
							es, err = tx.Batch(id)
						}
						require.NoError(t, err)
						assert.Len(t, es, int(acts), "acknowledged, and gone")
					}
					return nil
				}))
				require.NoError(t, b.Close())
				before = now
			}
		})
	}
}

// A long write is whole or absent, and leaves nothing that the next run does not clear.
func TestKilledInTheMiddleOfMuch(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 3))
	t.Run("import", func(t *testing.T) {
		for range rounds(4, 60) {
			b := create(t)
			require.NoError(t, b.Close())
			said := run(t, rng, "import", b.Path(), "x", 120*time.Millisecond)
			n := sound(t, b.Path()).Events
			assert.Contains(t, []int64{0, 600}, n)
			if len(said) == 2 {
				assert.EqualValues(t, 600, n)
			}
		}
	})
	t.Run("rebuild", func(t *testing.T) {
		path := seasonFile(t)
		want := told(t, open(t, path))
		for range rounds(4, 60) {
			run(t, rng, "rebuild", path, "x", 60*time.Millisecond)
			sound(t, path)
			assert.Equal(t, want, told(t, open(t, path)))
		}
	})
	t.Run("merge", func(t *testing.T) {
		for range rounds(4, 60) {
			path := seasonFile(t)
			other := createAt(t, path+".other")
			newHand(t, other, "studio").season()
			require.NoError(t, other.Close())
			run(t, rng, "merge", path, "x", 80*time.Millisecond)
			assert.Contains(t, []int64{27, 54}, sound(t, path).Events)
			assert.EqualValues(t, 27, sound(t, path+".other").Events)
		}
	})
	t.Run("backup", func(t *testing.T) {
		path := seasonFile(t)
		copied := filepath.Join(filepath.Dir(path), "copy.db")
		for range rounds(4, 60) {
			run(t, rng, "backup", path, "x", 60*time.Millisecond)
			sound(t, path)
			if _, err := os.Stat(copied); err == nil {
				assert.EqualValues(t, 27, sound(t, copied).Events)
				require.NoError(t, os.Remove(copied))
			}
			assert.LessOrEqual(t, len(litter(t, path)), 4)
		}
		b := open(t, path)
		require.NoError(t, b.Backup(copied))
		assert.Empty(t, litter(t, path), "the next run clears what dead ones left")
	})
}

// A crowd writes at once: all gets in, nothing is counted twice, nobody is turned away.
func TestCrowd(t *testing.T) {
	const people = 8
	acts := rounds(25, 500)
	path := seasonFile(t)
	before := sound(t, path)
	var cmds []*exec.Cmd
	outs := make([]bytes.Buffer, people)
	for i := range people {
		cmd := eventstest.Command(t, os.Args[0], "-test.run=^$")
		cmd.Env = append(cmd.Env, childRole+"=crowd", childBook+"="+path, childSeed+"="+fmt.Sprintf("person %d.", i), "TRAYBOOK_TEST_ACTS="+fmt.Sprint(acts))
		cmd.Stdout, cmd.Stderr = &outs[i], &outs[i]
		require.NoError(t, cmd.Start())
		cmds = append(cmds, cmd)
	}
	// Meanwhile others read and back up.
	b := open(t, path)
	stop := make(chan struct{})
	read := make(chan struct{})
	copies := 0
	go func() {
		defer close(read)
		for {
			select {
			case <-stop:
				return
			default:
			}
			ro, err := Open(path, Options{Folder: tally{}, ReadOnly: true})
			if !assert.NoError(t, err) {
				return
			}
			_, err = ro.Verify(VerifyOptions{})
			assert.NoError(t, err)
			copied := filepath.Join(filepath.Dir(path), fmt.Sprint("copy", copies))
			assert.NoError(t, ro.Backup(copied))
			copies++
			assert.NoError(t, ro.Close())
			os.Remove(copied)
		}
	}()
	numbers := map[string]int{}
	for i, cmd := range cmds {
		assert.NoError(t, cmd.Wait(), outs[i].String())
		for _, line := range strings.Split(strings.TrimSpace(outs[i].String()), "\n") {
			numbers[line]++
		}
	}
	close(stop)
	<-read
	assert.Positive(t, copies)
	assert.Len(t, numbers, people*acts, "no number is given twice")
	r := verified(t, b)
	assert.Equal(t, before.Events+int64(people*acts), r.Events)
	assert.Equal(t, r.Events, r.Head.BookSeq, "one chain, counted without gaps")
	steady(t, b)
}

// Any bit flipped in a row of an entry, the columns beside the bytes included, is found: of each byte two are tried, with
// TRAYBOOK_LONG all.
func TestAnyFlippedBitIsFound(t *testing.T) {
	whole := season()
	path := seasonFile(t)
	spoilt.Store(path, true)
	q, err := rawfile.OpenQuarry(path)
	require.NoError(t, err)
	type span struct{ at, n int64 }
	rows := map[int64]span{} // the bytes of each entry's row in the file
	require.NoError(t, q.Each(false, func(r rawfile.CarvedRow) error {
		if len(r.Values) != 14 {
			return nil
		}
		p := q.Page(r.Where.Page)
		size, n := rawfile.Varint(p, r.Where.At)
		_, m := rawfile.Varint(p, r.Where.At+n)
		rows[r.Rowid] = span{(r.Where.Page-1)*4096 + int64(r.Where.At), size + int64(n+m)}
		return nil
	}))
	q.Close()
	require.Len(t, rows, 27)
	lines := exported(t, seasonBook(t))
	sample, long := []int64{10}, os.Getenv(longRun) == "1"
	if long {
		sample = []int64{1, 9, 10, 17, 20, 23, 27}
	}
	for _, seq := range sample {
		s := rows[seq]
		require.Less(t, s.n, int64(1500), "the row lies on one page")
		raw := bytes.Clone(whole)
		for bit := range s.n * 8 {
			if byteAt := bit / 8; seq != 10 && bit%7 != 0 || !long && bit%8 != byteAt%8 && bit%8 != 3 {
				continue
			}
			raw[s.at+bit/8] ^= 1 << (bit % 8)
			require.NoError(t, os.WriteFile(path, raw, 0o600))
			raw[s.at+bit/8] ^= 1 << (bit % 8)
			r, err := VerifyFile(path, options, VerifyOptions{})
			if err == nil && r.OK {
				// In the row's own head stands a place holder for its number. SQLite never reads it: a bit there that
				// makes "none" into "nought" changes nothing that anyone can read.
				if bit == 4*8+3 && assert.Equal(t, lines, exported(t, open(t, path))) {
					continue
				}
				t.Errorf("bit %d of entry %d (byte %d of %d) was not found", bit, seq, bit/8, s.n)
			}
		}
	}
}
