package export

import (
	"bufio"
	"cmp"
	"fmt"
	"io"
	"slices"
	"sync"
	"sync/atomic"

	"traybook/events"
	"traybook/projections/snapshot"
)

// WriteAll writes every table, each into what create gives for its file name, and says how many records each has, in the order
// of TableNames. beside is for another goroutine: see Beside.
//
// Those tables that come of pictures are written in one walk through the pictures, so that what a picture is folded from, and the
// sessions, boxes and baths that it was made with, are read once for all of them. One goroutine begins with the pictures, the other with the
// other tables; who has done with those goes on with what is left.
func (t *Tables) WriteAll(beside *Tables, create func(name string) (io.WriteCloser, error)) (records []int, err error) {
	w := walk{create: create, pictures: t.chosen.pictures, run: cmp.Or(t.o.Run, picturesARun), done: map[int][][][]string{}, records: make([]int, len(tables))}
	defer func() {
		for _, g := range w.growing {
			err = cmp.Or(err, g.end())
		}
	}()
	for i, x := range tables {
		if !x.byPicture() {
			w.others.waiting = append(w.others.waiting, i)
			continue
		}
		g, err := w.begin(t, i)
		if err != nil {
			return nil, err
		}
		w.growing = append(w.growing, g)
	}
	for from := 0; from < len(w.pictures); from += w.run {
		w.runs.waiting = append(w.runs.waiting, from)
	}
	jobs := len(w.runs.waiting) + len(w.others.waiting)
	one, other := w.walker(t), w.walker(beside)
	err = events.ByTwo(jobs, func(int) error { return w.job(one, true) }, func(int) error { return w.job(other, false) })
	return w.records, err
}

// picturesARun is how many pictures one goroutine goes through before their records are written: some weeks of work, so that
// little of what pictures share is read by both.
const picturesARun = 256

// walk writes all tables.
type walk struct {
	create       func(name string) (io.WriteCloser, error)
	pictures     []events.Entity
	run          int   // so many of them at once
	runs, others queue // first pictures of the runs; places of the tables that come of other things
	growing      []*growingTable
	records      []int

	turn sync.Mutex
	done map[int][][][]string // records that wait for their turn: by the first picture of their run, for each growing table
	next int                  // the first picture whose records are not written
}

// queue is what several goroutines take from.
type queue struct {
	waiting []int
	taken   atomic.Int64
}

func (q *queue) take() (int, bool) {
	if i := int(q.taken.Add(1)) - 1; i < len(q.waiting) {
		return q.waiting[i], true
	}
	return 0, false
}

// job does one thing that waits.
func (w *walk) job(k *walker, picturesFirst bool) error {
	if picturesFirst {
		if from, ok := w.runs.take(); ok {
			return w.through(k, from)
		}
	}
	if i, ok := w.others.take(); ok {
		return w.table(k.t, i)
	}
	from, _ := w.runs.take()
	return w.through(k, from)
}

// table writes a table that does not come of pictures.
func (w *walk) table(t *Tables, i int) (err error) {
	f, err := w.create(tables[i].file())
	if err != nil {
		return err
	}
	defer func() { err = cmp.Or(err, f.Close()) }()
	w.records[i], err = t.Write(tables[i].file(), f)
	return err
}

// walker goes through pictures by one look at the book.
type walker struct {
	t       *Tables
	records [][][]string // of the run, for each growing table
	each    []func(*snapshot.Picture) error
}

func (w *walk) walker(t *Tables) *walker {
	k := &walker{t: t}
	for j, g := range w.growing {
		k.each = append(k.each, g.table.ofPictures(t, func(record []string) error {
			k.records[j] = append(k.records[j], slices.Clone(record))
			return nil
		}))
	}
	return k
}

// through makes the records of a run of pictures.
func (w *walk) through(k *walker, from int) error {
	k.records = make([][][]string, len(w.growing))
	err := k.t.chosen.eachOf(w.pictures[from:min(from+w.run, len(w.pictures))], func(p *snapshot.Picture) error {
		for j, each := range k.each {
			if err := each(p); err != nil {
				return w.growing[j].failed(err)
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	return w.write(from, k.records)
}

// write writes the records of a run when its turn comes.
func (w *walk) write(from int, records [][][]string) error {
	w.turn.Lock()
	defer w.turn.Unlock()
	for w.done[from] = records; w.done[w.next] != nil; w.next += w.run {
		for j, g := range w.growing {
			for _, record := range w.done[w.next][j] {
				if err := g.w.Write(record); err != nil {
					return g.failed(err)
				}
			}
			w.records[g.at] = g.w.Rows()
		}
		delete(w.done, w.next)
	}
	return nil
}

// growingTable is a table that grows as pictures go by.
type growingTable struct {
	table anyTable
	at    int // its place among the tables
	file  io.Closer
	b     *bufio.Writer
	w     recordWriter
}

func (w *walk) begin(t *Tables, at int) (*growingTable, error) {
	g := &growingTable{table: tables[at], at: at}
	f, err := w.create(g.table.file())
	if err != nil {
		return nil, err
	}
	g.file, g.b = f, bufio.NewWriterSize(f, 1<<16)
	if g.w, err = t.asCSV(g.b)(g.table.describe()); err != nil {
		f.Close()
		return nil, g.failed(err)
	}
	return g, nil
}

func (g *growingTable) failed(err error) error {
	return fmt.Errorf("%s cannot be written: %w", g.table.file(), err)
}

func (g *growingTable) end() error { return cmp.Or(g.b.Flush(), g.file.Close()) }
