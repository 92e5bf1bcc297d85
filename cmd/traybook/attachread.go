package main

import (
	"context"
	"errors"
	"iter"
	"runtime"
	"sync"

	"traybook/cmd/traybook/refusal"
	"traybook/events"
	"traybook/events/atomicfile"
	"traybook/export/scan"
)

// readScan is one file that was read, made small and kept.
type readScan struct {
	job attachJob
	scan.Stored
	thumb         events.Thumbnail
	measured      *scan.Measures
	measureFailed error
	large         *scan.MemoryError // it is kept as it is, for it is too large to be decoded
	err           error
}

// held bounds the bytes of the pictures decoded at one time: together they take no more than one may.
const held = scan.MaxMemory

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

// readOne decodes a picture, makes it small, and only then, since it is whole, keeps the original. One too large to be
// decoded is kept as it is, unseen.
func readOne(dir string, byReference bool, job attachJob, room *budget) readScan {
	r := readScan{job: job}
	thumb, err := r.decode(room)
	if errors.As(err, &r.large) && byReference { // where it was left stands beside the small picture
		err = refusal.New("attach it without --by-reference, and it is kept without a small picture", "%s", r.large)
	}
	if err != nil && (r.large == nil || byReference) {
		r.err = fileError{job.file, err}
		return r
	}
	if r.Stored, r.err = scan.Store(dir, job.file, byReference); r.err != nil {
		return r
	}
	if r.large != nil {
		return r
	}
	r.thumb = events.Thumbnail{JPEG: thumb.JPEG, Width: thumb.Width, Height: thumb.Height}
	if r.thumb.SHA256, r.err = events.ParseHash(r.Digest); r.ByReference {
		r.thumb.Path = r.Path
	}
	return r
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
	defer room.give(head.Memory)
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

// fileError says which file is meant.
type fileError struct {
	file string
	err  error
}

func (e fileError) Error() string { return e.file + ": " + e.err.Error() }
func (e fileError) Unwrap() error { return e.err }

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
