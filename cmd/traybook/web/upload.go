package web

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"time"

	"traybook/events/atomicfile"
)

func isMultipart(r *http.Request) bool {
	return strings.HasPrefix(r.Header.Get("Content-Type"), "multipart/form-data")
}

// takesFiles says whether a form may bring scans; any other may hold no more than a text.
func takesFiles(r *http.Request) bool {
	return isMultipart(r) && (strings.HasPrefix(r.URL.Path, "/evening/") || strings.HasSuffix(r.URL.Path, "/attach"))
}

// uploads are the files that came with a form. They lie beside the book until the form is dealt with; those of a run that was
// killed are cleared by the next that lets something grow there.
type uploads struct {
	grown *atomicfile.Growing // nil while none came
	files []uploaded
}

type uploaded struct{ field, path string }

func (u *uploads) drop() {
	if u.grown != nil {
		u.grown.Drop()
	}
}

// plain takes the place where the files lay out of an answer: it means nothing to the reader.
func (u *uploads) plain(a *Answer) {
	if u.grown != nil {
		a.each(func(text string) string {
			return strings.ReplaceAll(text, u.grown.Dir+string(filepath.Separator), "")
		})
	}
}

// mediumError is what the disk said when a file that came was to be kept.
type mediumError struct{ err error }

func (e *mediumError) Error() string {
	var path *os.PathError
	if errors.As(e.err, &path) {
		return "the scan cannot be kept: " + path.Err.Error()
	}
	return "the scan cannot be kept: " + e.err.Error()
}

func (e *mediumError) Unwrap() error { return e.err }

// slowest is the least speed, in bytes a second, at which a scan may come.
const slowest = 128 << 10

// drained bounds what is still read of a form that was refused, in forms of the largest size: a browser shows the answer only
// when it has sent everything.
const drained = 4

// formWithFiles is form for one that may bring scans. The files stream to the disk; the caller drops them.
func (s *Server) formWithFiles(w http.ResponseWriter, r *http.Request) (*uploads, bool) {
	u := &uploads{}
	if !isMultipart(r) {
		return u, s.form(w, r)
	}
	until := time.Duration(min(r.ContentLength, s.limits.upload)/slowest) * time.Second
	control := http.NewResponseController(w)
	control.SetReadDeadline(time.Now().Add(s.limits.body + until)) // the server would have it as long as any other form
	control.SetWriteDeadline(time.Now().Add(3*s.limits.body + until))
	body := r.Body
	r.Body = http.MaxBytesReader(w, body, s.limits.upload)
	err := s.readParts(r, u)
	if !s.formTaken(w, r, err) {
		u.drop()
		io.Copy(io.Discard, io.LimitReader(body, drained*s.limits.upload))
		return nil, false
	}
	return u, true
}

// readParts reads the fields of a form and streams its files to the disk. Its first field says which program drew it.
func (s *Server) readParts(r *http.Request, u *uploads) error {
	parts, err := r.MultipartReader()
	if err != nil {
		return err
	}
	r.PostForm = url.Values{}
	left := s.limits.form
	for {
		p, err := parts.NextPart()
		if err == io.EOF {
			break
		}
		if err != nil {
			return err
		}
		if p.FileName() != "" {
			if r.PostForm.Get("build") != s.build {
				return errStale
			}
			sum, err := u.take(s.Book.Folder(), p)
			if err != nil {
				return err
			}
			r.PostForm.Add(p.FormName(), sum) // another file makes another form
			continue
		}
		text, err := io.ReadAll(io.LimitReader(p, left+1))
		if err != nil {
			return err
		}
		if left -= int64(len(text)); left < 0 {
			return &http.MaxBytesError{Limit: s.limits.form}
		}
		r.PostForm.Add(p.FormName(), string(text))
	}
	if r.PostForm.Get("build") != s.build {
		return errStale
	}
	return nil
}

// mostFiles is how many scans one form may bring.
const mostFiles = 8

// take streams one file to the disk and gives its sum.
func (u *uploads) take(folder string, p *multipart.Part) (sum string, err error) {
	if len(u.files) == mostFiles {
		return "", &http.MaxBytesError{}
	}
	if u.grown == nil {
		if u.grown, err = atomicfile.Grow(folder); err != nil {
			return "", &mediumError{err}
		}
	}
	name := "the scan"
	if n := len(u.files); n > 0 {
		name = fmt.Sprintf("scan %d", n+1)
	}
	x := uploaded{p.FormName(), filepath.Join(u.grown.Dir, name+endingOf(p.FileName()))}
	f, err := os.OpenFile(x.path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, atomicfile.Private)
	if err != nil {
		return "", &mediumError{err}
	}
	h := sha256.New()
	_, err = io.Copy(io.MultiWriter(f, h), p)
	if shut := f.Close(); err == nil && shut != nil {
		err = shut
	}
	var path *os.PathError
	var number syscall.Errno
	if errors.As(err, &path) && errors.As(err, &number) {
		return "", &mediumError{err}
	}
	u.files = append(u.files, x)
	return hex.EncodeToString(h.Sum(nil)), err
}

// endingOf is what attach keeps of the name of a file whose bytes do not tell its sort: its ending, with the dot. Those of the
// usual pictures are told by their bytes.
func endingOf(name string) string {
	ending := strings.ToLower(filepath.Ext(filepath.Base(name)))
	if slices.Contains([]string{".jpg", ".jpeg", ".png", ".tif", ".tiff"}, ending) || strings.ContainsAny(ending, `/\`) || len(ending) > 9 {
		return ""
	}
	return ending
}

// lines are those that attach the files, each to the sheet that its field names behind "scan-" or "photo-".
func (u *uploads) lines(evenSo bool) [][]string {
	var out [][]string
	for _, x := range u.files {
		_, sheet, _ := strings.Cut(x.field, "-")
		words := []string{"attach", "--sheet=" + sheet}
		if evenSo {
			words = append(words, "--even-so")
		}
		out = append(out, append(words, "--", x.path))
	}
	return out
}

// attach keeps scans that a page sends.
func (s *Server) attach(w http.ResponseWriter, r *http.Request) {
	u, ok := s.formWithFiles(w, r)
	if !ok {
		return
	}
	defer u.drop()
	name := r.PathValue("name")
	again := func(a *Answer) {
		u.plain(a)
		s.drawPicture(w, r, name, http.StatusUnprocessableEntity, a)
	}
	lines := u.lines(r.PostForm.Get("even-so") != "")
	if len(lines) == 0 {
		again(&Answer{Problem: "no scan was chosen", Hint: "take a picture of it, or choose a file"})
		return
	}
	s.write(w, r, "/picture/"+url.PathEscape(name), again, lines...)
}
