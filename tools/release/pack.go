package main

import (
	"archive/tar"
	"archive/zip"
	"bytes"
	"cmp"
	"compress/gzip"
	"crypto/sha256"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// pack puts files into one archive below one folder, in the order of their names, all of one time and of nobody's, so that
// the same files make the same bytes: a zip, or a tar that is compressed.
func pack(folder string, zipped bool, at time.Time, files []file) ([]byte, error) {
	files = slices.Clone(files)
	slices.SortFunc(files, func(a, b file) int { return cmp.Compare(a.name, b.name) })
	var out bytes.Buffer
	var err error
	if zipped {
		err = zipTo(&out, folder, at, files)
	} else {
		err = tarTo(&out, folder, at, files)
	}
	return out.Bytes(), err
}

func zipTo(out io.Writer, folder string, at time.Time, files []file) error {
	z := zip.NewWriter(out)
	for _, f := range files {
		h := &zip.FileHeader{Name: folder + "/" + f.name, Method: zip.Deflate, Modified: at}
		h.SetMode(os.FileMode(f.mode))
		w, err := z.CreateHeader(h)
		if err == nil {
			_, err = w.Write(f.content)
		}
		if err != nil {
			return err
		}
	}
	return z.Close()
}

func tarTo(out io.Writer, folder string, at time.Time, files []file) error {
	squeezed, err := gzip.NewWriterLevel(out, gzip.BestCompression)
	if err != nil {
		return err
	}
	w := tar.NewWriter(squeezed)
	for _, f := range files {
		h := &tar.Header{Name: folder + "/" + f.name, Mode: f.mode, Size: int64(len(f.content)), ModTime: at, Format: tar.FormatUSTAR}
		if err := w.WriteHeader(h); err != nil {
			return err
		}
		if _, err := w.Write(f.content); err != nil {
			return err
		}
	}
	if err := w.Close(); err != nil {
		return err
	}
	return squeezed.Close()
}

// sums writes the SHA-256 sums of what was made, as sha256sum checks them.
func (r *release) sums() error {
	var out strings.Builder
	slices.Sort(r.made)
	for _, name := range r.made {
		content, err := os.ReadFile(filepath.Join(r.out, name))
		if err != nil {
			return err
		}
		fmt.Fprintf(&out, "%x  %s\n", sha256.Sum256(content), name)
	}
	return os.WriteFile(filepath.Join(r.out, "SHA256SUMS"), []byte(out.String()), 0o644)
}
