package main

import (
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"traybook/events"
	"traybook/events/eventstest"
	"traybook/events/sqlite"
)

// BenchmarkYearsPages draws a year of pictures, each with a scan of its print, and beside it lays the same small
// pictures on pages with ImageMagick's montage, where that is at hand.
func BenchmarkYearsPages(b *testing.B) {
	dir := b.TempDir()
	program, small := filepath.Join(dir, "traybook"), filepath.Join(dir, "small")
	done := func(name string, args ...string) {
		c := command(b, name, filepath.Join(dir, "book.db"), args...)
		c.Dir = dir
		said, err := c.CombinedOutput()
		require.NoError(b, err, "%s", said)
	}
	build(b, program, ".")
	f, err := os.Create(filepath.Join(dir, "life.ndjson"))
	require.NoError(b, err)
	_, err = eventstest.WriteLife(f, 365*12, 7)
	require.NoError(b, err)
	require.NoError(b, f.Close())
	done(program, "import", f.Name())
	require.NoError(b, os.Mkdir(small, 0o700))
	attachEach(b, dir, done)
	pictures := 0
	book, err := sqlite.Open(filepath.Join(dir, "book.db"), bookOptions(true))
	require.NoError(b, err)
	require.NoError(b, book.Read(func(tx *sqlite.Tx) error {
		attached, err := tx.Entries(events.Query{Kinds: []events.Kind{events.SheetAttached}})
		for _, e := range attached {
			data, ok := thumbsOf(tx)(e.Data.(*events.SheetAttachedData).SHA256)
			require.True(b, ok)
			require.NoError(b, os.WriteFile(filepath.Join(small, fmt.Sprintf("%04d.jpg", pictures)), data, 0o600))
			pictures++
		}
		return err
	}))
	require.NoError(b, book.Close())
	_ = eventstest.Command(b, "sync").Run() // where there is one: else the first pages wait for the scans to reach the disk

	b.Run("traybook", func(b *testing.B) {
		for b.Loop() {
			done(program, "export", "pdf", "--year", "2001", "--out", "year.pdf", "--force")
		}
		b.ReportMetric(float64(pictures), "pictures")
	})
	montage, err := exec.LookPath("montage")
	if err != nil {
		return
	}
	b.Run("montage", func(b *testing.B) {
		for b.Loop() {
			done("sh", "-c", montage+" small/*.jpg -tile 5x7 -geometry 300x400+4+4 page-%d.jpg")
		}
		b.ReportMetric(float64(pictures), "pictures")
	})
}

// attachEach gives each first print of the book a scan of its own.
func attachEach(b *testing.B, dir string, done func(string, ...string)) {
	book, err := sqlite.Open(filepath.Join(dir, "book.db"), bookOptions(true))
	require.NoError(b, err)
	var scans []string
	random := rand.New(rand.NewPCG(7, 7))
	require.NoError(b, book.Read(func(tx *sqlite.Tx) error {
		pictures, err := tx.Entities(events.Picture)
		for _, p := range pictures {
			name := filepath.Join(dir, p.Name+"p1.jpg")
			f, err := os.Create(name)
			require.NoError(b, err)
			require.NoError(b, jpeg.Encode(f, clouds(random, 900, 1200), nil))
			require.NoError(b, f.Close())
			scans = append(scans, name)
		}
		return err
	}))
	require.NoError(b, book.Close())
	done(filepath.Join(dir, "traybook"), append([]string{"attach"}, scans...)...)
}

// clouds is a picture of soft tones with some grain.
func clouds(random *rand.Rand, w, h int) image.Image {
	g := image.NewGray(image.Rect(0, 0, w, h))
	a, c := 20+random.Float64()*60, 20+random.Float64()*60
	for y := range h {
		for x := range w {
			v := 128 + 70*math.Sin(float64(x)/a)*math.Cos(float64(y)/c) + 24*random.Float64()
			g.SetGray(x, y, color.Gray{Y: uint8(v)})
		}
	}
	return g
}
