package page

import (
	"bufio"
	"bytes"
	"compress/zlib"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"regexp"
	"runtime"
	"slices"
	"strconv"
	"sync"
	"sync/atomic"
)

// A document as the library leaves it lacks what ISO 32000-1 offers a reader, and ISO 19005-2 asks for: its structure, counts
// in its outline, a description that the catalog refers to, an /ID. So it is taken apart into its objects, and they are written anew.

// parts is a document taken apart.
type parts struct {
	objects    [][]byte          // what stands between "obj" and "endobj", by number; none has the number 0
	pictures   map[int]laidAside // whose streams follow what stands of their objects
	root, info int               // the catalog's and the document information's number
}

// errForm is told where the library writes otherwise than is known here.
var errForm = errors.New("the document is not built as it is wanted: the PDF library writes a form not known here")

// The tail of a file as the library writes it: trailer with the catalog's and the information's number, place of the
// cross-reference.
var tail = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`trailer\n<<\n/Size (\d+)\n/Root (\d+) 0 R\n/Info (\d+) 0 R\n>>\nstartxref\n(\d+)\n%%EOF\n$`)
})

// apart reads the objects by the cross-reference: after its own two lines a line of twenty bytes for each number from 0.
// An object ends where the next begins, for a title may hold any byte.
func apart(doc []byte) (parts, error) {
	const shortTail = 200 // the expression would be tried from every byte of the pictures before it
	from := max(0, len(doc)-shortTail)
	m := tail().FindSubmatch(doc[from:])
	if m == nil {
		return parts{}, errForm
	}
	number := func(i int) int {
		n, _ := strconv.Atoi(string(m[i]))
		return n
	}
	size, cross := number(1), number(4)
	p := parts{objects: make([][]byte, size), root: number(2), info: number(3)}
	head := fmt.Appendf(nil, "xref\n0 %d\n", size)
	const line = 20
	if size < 3 || p.root >= size || p.info >= size || cross > len(doc) || len(doc)-cross < len(head)+line*size || !bytes.HasPrefix(doc[cross:], head) {
		return p, errForm
	}
	offsets := make([]int, size, size+1)
	for i := 1; i < size; i++ {
		text := doc[cross+len(head)+line*i:]
		n, err := strconv.Atoi(string(text[:10]))
		if err != nil || n > cross {
			return p, errForm
		}
		offsets[i] = n
	}
	ends := append(slices.Clone(offsets), cross)
	slices.Sort(ends)
	for i := 1; i < size; i++ {
		at, _ := slices.BinarySearch(ends, offsets[i]+1)
		body, begins := bytes.CutPrefix(doc[offsets[i]:ends[at]], fmt.Appendf(nil, "%d 0 obj\n", i))
		body, ended := bytes.CutSuffix(body, []byte("endobj\n"))
		if !begins || !ended {
			return p, errForm
		}
		p.objects[i] = body
	}
	return p, nil
}

// stream adds a stream with the entries of its dictionary, and returns its number.
func (p *parts) stream(entries string, content []byte) int {
	p.objects = append(p.objects, fmt.Appendf(nil, "<< %s /Length %d >>\nstream\n%s\nendstream\n", entries, len(content), content))
	return len(p.objects) - 1
}

// write writes the objects in the order of their numbers. The /ID follows from them, with the digests of pictures for these.
func (p parts) write(w io.Writer) error {
	if memory, ok := w.(*bytes.Buffer); ok {
		memory.Grow(p.size())
	}
	sum := sha256.New()
	whole := bufio.NewWriterSize(w, 1<<16) // most objects are small
	b := &counted{w: io.MultiWriter(sum, whole)}
	io.WriteString(b, "%PDF-1.7\n%\xE2\xE3\xCF\xD3\n") // the version of ISO 32000-1, and bytes by which it is known for no text
	var cross bytes.Buffer
	fmt.Fprintf(&cross, "xref\n0 %d\n0000000000 65535 f \n", len(p.objects))
	for i, body := range p.objects {
		if i == 0 {
			continue
		}
		fmt.Fprintf(&cross, "%010d 00000 n \n", b.n)
		fmt.Fprintf(b, "%d 0 obj\n", i)
		b.Write(body)
		if at, ok := p.pictures[i]; ok {
			at.data.Seek(0, io.SeekStart)
			n, err := io.Copy(whole, at.data)
			if err != nil {
				return err
			}
			b.n += n
			sum.Write(at.sum[:])
			io.WriteString(b, "\nendstream\n")
		}
		io.WriteString(b, "endobj\n")
	}
	id := hex.EncodeToString(sum.Sum(nil)[:16])
	xref := b.n
	b.Write(cross.Bytes())
	fmt.Fprintf(b, "trailer\n<< /Size %d /Root %d 0 R /Info %d 0 R /ID [<%s> <%s>] >>\nstartxref\n%d\n%%%%EOF\n", len(p.objects), p.root, p.info, id, id, xref)
	if b.err != nil {
		return b.err
	}
	return whole.Flush()
}

// size is about how many bytes the document has, and hardly less.
func (p parts) size() int {
	const around = 64 // an object's number, its ends, its line of the cross-reference
	n := 1 << 10
	for _, body := range p.objects {
		n += len(body) + around
	}
	for _, at := range p.pictures {
		n += int(at.data.Size())
	}
	return n
}

// counted counts what is written, and writes nothing more after an error.
type counted struct {
	w   io.Writer
	n   int64
	err error
}

func (c *counted) Write(b []byte) (int, error) {
	if c.err != nil {
		return 0, c.err
	}
	n, err := c.w.Write(b)
	c.n, c.err = c.n+int64(n), err
	return n, err
}

// standIn is a picture's dictionary with the stream that stands in for it.
var standIn = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`(?s)^(<</Type /XObject\n/Subtype /Image\n)/Width \d+\n([^>]*/Length )\d+>>\nstream\n(.*)\nendstream\n$`)
})

// putIn puts each picture in the place of its stand-in.
func (p *parts) putIn(pictures map[string]laidAside) error {
	p.pictures = make(map[int]laidAside, len(pictures))
	for i, body := range p.objects {
		if !bytes.HasPrefix(body, []byte("<</Type /XObject")) {
			continue
		}
		m := standIn().FindSubmatch(body)
		if m == nil {
			return errForm
		}
		at, ok := pictures[string(m[3])]
		if !ok {
			return errForm
		}
		p.objects[i] = fmt.Appendf(nil, "%s/Width %d\n%s%d>>\nstream\n", m[1], at.width, m[2], at.data.Size())
		p.pictures[i] = at
	}
	if len(p.pictures) != len(pictures) {
		return errForm
	}
	return nil
}

// plainStream is a stream that nothing has compressed.
var plainStream = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^<<(/Length1 \d+ )?/Length \d+>>\nstream\n`) })

// compress packs every plain stream, on all cores, each with one compressor: the library would make a new one for each stream.
func (p parts) compress() error {
	var packing sync.WaitGroup
	var last atomic.Int64 // object that was taken
	errs := make([]error, runtime.GOMAXPROCS(0))
	for n := range errs {
		packing.Go(func() { errs[n] = p.compressEach(func() int { return int(last.Add(1)) }) })
	}
	packing.Wait()
	return errors.Join(errs...)
}

// compressEach packs the plain streams among the objects whose numbers next gives.
func (p parts) compressEach(next func() int) error {
	var packed bytes.Buffer
	z, err := zlib.NewWriterLevel(&packed, zlib.BestSpeed)
	if err != nil {
		return err
	}
	for i := next(); i < len(p.objects); i = next() {
		body := p.objects[i]
		head := plainStream().FindSubmatch(body)
		if head == nil {
			continue
		}
		content, whole := bytes.CutSuffix(body[len(head[0]):], []byte("\nendstream\n"))
		if !whole {
			return errForm
		}
		packed.Reset()
		z.Reset(&packed)
		_, wrote := z.Write(content)
		if err := errors.Join(wrote, z.Close()); err != nil {
			return err
		}
		p.objects[i] = slices.Concat(fmt.Appendf(nil, "<<%s/Filter /FlateDecode /Length %d>>\nstream\n", head[1], packed.Len()), packed.Bytes(), []byte("\nendstream\n"))
	}
	return nil
}
