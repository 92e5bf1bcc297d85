package web

import (
	"fmt"
	"html/template"
	"net/http"
	"strings"

	"github.com/boombuler/barcode/qr"
)

// dots are the dark squares of a QR code of a text.
func dots(text string) ([][]bool, error) {
	code, err := qr.Encode(text, qr.M, qr.Auto)
	if err != nil {
		return nil, err
	}
	n := code.Bounds().Dx()
	out := make([][]bool, n)
	for y := range out {
		out[y] = make([]bool, n)
		for x := range out[y] {
			r, _, _, _ := code.At(x, y).RGBA()
			out[y][x] = r == 0
		}
	}
	return out, nil
}

// quiet is the white that a reader of codes needs around one, in squares.
const quiet = 4

// Blocks draws a QR code of a text for a terminal, two rows of squares a line. The light squares are drawn and the dark ones
// left, as on a dark screen.
func Blocks(text string) ([]string, error) {
	d, err := dots(text)
	if err != nil {
		return nil, err
	}
	n := len(d)
	light := func(x, y int) bool { return x < 0 || y < 0 || x >= n || y >= n || !d[y][x] }
	var out []string
	for y := -quiet; y < n+quiet; y += 2 {
		var row strings.Builder
		for x := -quiet; x < n+quiet; x++ {
			switch up, down := light(x, y), light(x, y+1); {
			case up && down:
				row.WriteRune('█')
			case up:
				row.WriteRune('▀')
			case down:
				row.WriteRune('▄')
			default:
				row.WriteRune(' ')
			}
		}
		out = append(out, row.String())
	}
	return out, nil
}

// codeSVG draws a QR code of a text for a page.
func codeSVG(text string) (template.HTML, error) {
	d, err := dots(text)
	if err != nil {
		return "", err
	}
	n := len(d) + 2*quiet
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="code" viewBox="0 0 %d %d" role="img" aria-label="the address as a QR code" shape-rendering="crispEdges"><rect class="bright" width="%d" height="%d"/><path class="dark" d="`, n, n, n, n)
	for y, row := range d {
		for x, dark := range row {
			if dark {
				fmt.Fprintf(&b, "M%d %dh1v1h-1z", x+quiet, y+quiet)
			}
		}
	}
	b.WriteString(`"/></svg>`)
	return template.HTML(b.String()), nil
}

// devicePage is how another device comes in.
type devicePage struct {
	Address string
	Code    template.HTML
}

func (s *Server) device(w http.ResponseWriter, r *http.Request) {
	var p devicePage
	if s.LAN {
		s.door.mu.Lock()
		p.Address = s.address(s.door.code)
		s.door.mu.Unlock()
		var err error
		if p.Code, err = codeSVG(p.Address); err != nil {
			s.fail(w, r, err)
			return
		}
	}
	s.page(w, r, http.StatusOK, "page_device.html", "Another device", p)
}
