package demo

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"image/jpeg"
	"os"
	"path/filepath"
	"sync"
	"time"

	"traybook/cmd/traybook/demo/scene"
	"traybook/events"
	"traybook/events/atomicfile"
	"traybook/events/sqlite"
	"traybook/export/scan"
	"traybook/projections/acts"
	"traybook/projections/snapshot"
)

// scanQuality is the JPEG quality of the drawn scans.
const scanQuality = 88

// drawn is one scan before it is attached.
type drawn struct {
	sheet, of string
	facts     scene.Facts
	jpeg      []byte
	thumb     scan.Thumb
	w, h      int
	err       error
}

// AttachScans draws a scan of every sheet of the season that was developed, as its log says it must look, and attaches
// it: the file beside the book first, then the entry. It gives how many there are.
func AttachScans(path string, o sqlite.Options) (n int, err error) {
	b, err := sqlite.Open(path, o)
	if err != nil {
		return 0, err
	}
	defer func() {
		if shut := b.Close(); err == nil {
			err = shut
		}
	}()
	var list []*drawn
	if err := b.Read(func(tx *sqlite.Tx) (err error) { list, err = sheetsToDraw(tx); return err }); err != nil {
		return 0, err
	}
	drawAll(list)
	work, err := atomicfile.Grow(filepath.Dir(b.Path()))
	if err != nil {
		return 0, err
	}
	defer work.Drop()
	return len(list), b.Write(func(tx *sqlite.Tx) error {
		for _, d := range list {
			if d.err != nil {
				return d.err
			}
			if err := attach(tx, filepath.Dir(b.Path()), work.Dir, d); err != nil {
				return err
			}
		}
		return nil
	})
}

func sheetsToDraw(tx *sqlite.Tx) ([]*drawn, error) {
	things, err := tx.Entities(events.Picture)
	if err != nil {
		return nil, err
	}
	snap := snapshot.New(tx, time.Time{})
	var out []*drawn
	for _, t := range things {
		p, err := snap.Picture(t.Name)
		if err != nil {
			return nil, err
		}
		for _, s := range p.Sheets {
			facts, ok, err := scene.FactsOf(snap, p, s)
			if err != nil {
				return nil, err
			}
			if !ok {
				continue
			}
			of := "negative"
			if facts.Print {
				of = "print"
			}
			out = append(out, &drawn{sheet: s.Name, of: of, facts: facts})
		}
	}
	return out, nil
}

func drawAll(list []*drawn) {
	next := make(chan *drawn)
	var running sync.WaitGroup
	for range 2 {
		running.Go(func() {
			for d := range next {
				d.draw()
			}
		})
	}
	for _, d := range list {
		next <- d
	}
	close(next)
	running.Wait()
}

func (d *drawn) draw() {
	img := scene.Render(d.facts)
	var b bytes.Buffer
	if d.err = jpeg.Encode(&b, img, &jpeg.Options{Quality: scanQuality}); d.err != nil {
		return
	}
	d.jpeg, d.w, d.h = b.Bytes(), img.Bounds().Dx(), img.Bounds().Dy()
	d.thumb, d.err = scan.Thumbnail(img, 1)
}

func attach(tx *sqlite.Tx, folder, work string, d *drawn) error {
	file := filepath.Join(work, d.sheet+".jpg")
	if err := os.WriteFile(file, d.jpeg, 0o600); err != nil {
		return err
	}
	kept, err := scan.Store(folder, file, false)
	if err != nil {
		return err
	}
	digest, err := events.ParseHash(kept.Digest)
	if err != nil {
		return err
	}
	if err := tx.PutThumbnail(events.Thumbnail{SHA256: digest, JPEG: d.thumb.JPEG, Width: d.thumb.Width, Height: d.thumb.Height}); err != nil {
		return err
	}
	e := events.Entry{Kind: events.SheetAttached, At: Now(), RecordedAt: Now(), Zone: Now().Location().String(), Batch: batch, Data: &events.SheetAttachedData{
		Sheet: d.sheet, SHA256: kept.Digest, Media: kept.MediaType, Bytes: kept.Size, Of: d.of, WidthPX: &d.w, HeightPX: &d.h}}
	id := sha256.Sum256([]byte("scan of " + d.sheet))
	copy(e.ID[:], id[:])
	if _, err := acts.Write(tx, &e, acts.WriteOptions{}); err != nil {
		return fmt.Errorf("%s: %w", d.sheet, err)
	}
	return nil
}
