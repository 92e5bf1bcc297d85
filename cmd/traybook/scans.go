package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"iter"
	"os"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"sync"

	"traybook/cmd/traybook/line"
	"traybook/events"
	"traybook/events/atomicfile"
	"traybook/events/sqlite"
	"traybook/export"
	"traybook/export/scan"
	"traybook/projections/wording"
)

// readScan is one file that was read, made small and kept.
type readScan struct {
	job attachJob
	scan.Stored
	thumb         events.Thumbnail
	measured      *scan.Measures
	measureFailed error
	unseen        error // why it is kept as it is, without a small picture
	err           error
}

// held bounds the bytes of the pictures decoded at one time: together they take no more than one may.
const held = scan.MaxMemory

// heldLong is from where on a decoded picture is collected before its room is given to another.
const heldLong = 64 << 20

// readScans reads the files on all cores and gives them in the order of the jobs. A caller who stops early leaves
// nothing running.
func readScans(ctx context.Context, dir string, byReference bool, jobs []attachJob) iter.Seq[readScan] {
	return func(yield func(readScan) bool) {
		ctx, cancel := context.WithCancel(ctx)
		var running sync.WaitGroup
		defer running.Wait()
		defer cancel()
		results := make([]chan readScan, len(jobs))
		for i := range results {
			results[i] = make(chan readScan, 1)
		}
		room := newBudget(held)
		next := make(chan int)
		running.Go(func() {
			defer close(next)
			for i := range jobs {
				select {
				case next <- i:
				case <-ctx.Done():
					return
				}
			}
		})
		for range min(runtime.GOMAXPROCS(0), len(jobs)) {
			running.Go(func() {
				for i := range next {
					results[i] <- readOne(dir, byReference, jobs[i], room)
				}
			})
		}
		for _, r := range results {
			select {
			case got := <-r:
				if !yield(got) {
					return
				}
			case <-ctx.Done():
				yield(readScan{err: ctx.Err()})
				return
			}
		}
	}
}

// readOne decodes a picture, makes it small, and only then keeps the original. One of a sort that is not read, or too large, is
// kept as it is, unseen; so is one that looks like a slip, a broken copy or a text, if that is asked for.
func readOne(dir string, byReference bool, job attachJob, room *budget) readScan {
	r := readScan{job: job}
	thumb, err := r.decode(room)
	if r.err = r.keptUnseen(err, byReference); r.err != nil {
		r.err = &about{job.file + ": ", r.err}
		return r
	}
	if r.Stored, r.err = scan.Store(dir, job.file, byReference); r.err != nil || r.unseen != nil {
		return r
	}
	r.thumb = events.Thumbnail{JPEG: thumb.JPEG, Width: thumb.Width, Height: thumb.Height}
	if r.thumb.SHA256, r.err = events.ParseHash(r.Digest); r.ByReference {
		r.thumb.Path = r.Path
	}
	return r
}

var notAPicture = wording.RefusesUnlessEvenSo("no-picture", "{what}", "{do}, or keep it as it is with --even-so")

// keptUnseen judges what decoding failed with: it gives the error by which the file is refused, nil where it is kept.
func (r *readScan) keptUnseen(err error, byReference bool) error {
	var unseen *scan.UnseenError
	var slip *scan.SlipError
	switch {
	case errors.As(err, &unseen), errors.As(err, &slip) && r.job.evenSo:
		r.unseen = err
		if byReference { // where it was left stands beside the small picture
			return line.Refuse("attach it without --by-reference, and it is kept without a small picture", "%s", err)
		}
		return nil
	case slip != nil:
		return notAPicture.Refuse(slip.What, slip.Do)
	}
	return err
}

func (r *readScan) decode(room *budget) (scan.Thumb, error) {
	f, err := atomicfile.OpenPlain(r.job.file)
	if errors.Is(err, atomicfile.ErrNotPlain) {
		return scan.Thumb{}, errNoFile
	}
	if err != nil {
		return scan.Thumb{}, root(err)
	}
	defer f.Close()
	fi, err := f.Stat()
	if err != nil {
		return scan.Thumb{}, root(err)
	}
	head, err := scan.Inspect(f, fi.Size())
	if err != nil {
		return scan.Thumb{}, err
	}
	room.take(head.Memory)
	defer func() {
		if head.Memory > heldLong { // on a busy machine the collector falls behind, and the next would stand beside this one
			debug.FreeOSMemory()
		}
		room.give(head.Memory)
	}()
	img, info, err := scan.Decode(f, fi.Size())
	if err != nil {
		return scan.Thumb{}, err
	}
	if r.job.measure {
		m, err := scan.Measure(img)
		if r.measureFailed = err; err == nil {
			r.measured = &m
		}
	}
	return scan.Thumbnail(img, info.Orientation)
}

// budget shares out a number of bytes. What is larger than all of it waits until it is alone.
type budget struct {
	mu         sync.Mutex
	freed      *sync.Cond
	whole, out int
}

func newBudget(whole int) *budget {
	b := &budget{whole: whole}
	b.freed = sync.NewCond(&b.mu)
	return b
}

func (b *budget) take(n int) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for b.out > 0 && b.out+n > b.whole {
		b.freed.Wait()
	}
	b.out += n
}

func (b *budget) give(n int) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.out -= n
	b.freed.Broadcast()
}

// keptScans counts the scans whose originals stand beside the book. dir is the book's folder.
func keptScans(tx *sqlite.Tx, dir string) (int64, error) {
	scans, err := export.Scans(tx, dir)
	seen := map[string]bool{} // one file may be the scan of two sheets
	for i := range scans {
		if !scans[i].ByReference {
			seen[scans[i].Kept] = true
		}
	}
	return int64(len(seen)), err
}

// bringScans copies the originals that the book names and lacks from beside another book, and counts those copied and
// those that stand beside neither.
func bringScans(book *sqlite.Book, from string) (brought, absent int, err error) {
	dir := filepath.Dir(book.Path())
	var scans []export.Scan
	if err := book.Read(func(tx *sqlite.Tx) (err error) {
		scans, err = export.Scans(tx, dir)
		return err
	}); err != nil {
		return 0, 0, err
	}
	others := export.OriginalsIn(from)
	for i := range scans {
		s := &scans[i]
		if s.ByReference || there(filepath.Join(dir, filepath.FromSlash(s.Kept))) {
			continue
		}
		other := others.Path(s)
		if !there(other) {
			absent++
			continue
		}
		if _, err := scan.Store(dir, other, false); err != nil {
			return brought, absent, err
		}
		brought++
	}
	return brought, absent, nil
}

func there(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}

// placeOf tells of which file a finding is: where one was left, else the short name under which it is kept.
func placeOf(s *export.Scan) string {
	if s.ByReference {
		return s.Path
	}
	return shortPath(s.Kept)
}

// scanFindings looks at the original of every scan that counts. dir is the book's folder. Missing and altered is damage.
// An original that was left in its own place may be on a disk that is not plugged in, and a book that was copied or saved
// to another folder stands away from all of them: that is only noted.
func scanFindings(tx *sqlite.Tx, dir string) (problems, notes []export.Finding, err error) {
	scans, err := export.Scans(tx, dir)
	if err != nil {
		return nil, nil, err
	}
	_, err = os.Stat(filepath.Join(dir, scan.Folder))
	away := errors.Is(err, fs.ErrNotExist)
	apart := map[string]bool{} // files that would stand in the folder that is not there
	for i := range scans {
		s := &scans[i]
		id := s.Entry.ID.String()
		if away && !s.ByReference {
			apart[s.Kept] = true
			continue
		}
		if err := s.Look(); err != nil {
			problems = append(problems, export.Finding{Kind: "scan", Entry: id, Text: fmt.Sprintf("the scan of %s: %s", s.Sheet, err)})
			continue
		}
		switch {
		case s.Path == events.PathForgotten:
			notes = append(notes, export.Finding{Kind: "scan", Entry: id,
				Text: fmt.Sprintf("where the scan of %s was left is forgotten, for its path held the name of an erased sitter; attach it again from a place without", s.Sheet)})
		case s.State == export.ScanMissing && s.ByReference:
			notes = append(notes, export.Finding{Kind: "scan", Entry: id, Text: fmt.Sprintf("the scan of %s is not where it was left, at %s", s.Sheet, s.Path)})
		case s.State == export.ScanMissing:
			problems = append(problems, export.Finding{Kind: "scan", Entry: id,
				Text: fmt.Sprintf("the scan of %s, %s, is missing; attach it again from another copy", s.Sheet, placeOf(s))})
		case s.State == export.ScanAltered:
			problems = append(problems, export.Finding{Kind: "scan", Entry: id,
				Text: fmt.Sprintf("the scan of %s, %s, was altered; attach it again from another copy", s.Sheet, placeOf(s))})
		case !s.Thumb:
			notes = append(notes, export.Finding{Kind: "scan", Entry: id,
				Text: fmt.Sprintf("no small picture of the scan of %s, %s, is kept; it is too large, or of a sort that is not read; else attaching the scan again makes it", s.Sheet, placeOf(s))})
		}
	}
	if n := len(apart); n > 0 {
		are := "are"
		if n == 1 {
			are = "is"
		}
		notes = append(notes, export.Finding{Kind: "scan", Text: fmt.Sprintf("%s %s not beside this book, for there is no folder %s in %s; copy it from beside the book that this one was made from, or attach them again",
			wording.CountOf(n, "scan"), are, scan.Folder, dir)})
	}
	strays, err := export.StrayScans(tx, dir)
	if err != nil {
		return nil, nil, err
	}
	for _, name := range strays {
		notes = append(notes, export.Finding{Kind: "scan", Text: name + " belongs to no entry: a run was stopped before it wrote one; attach it again, or take it away"})
	}
	return problems, notes, nil
}
