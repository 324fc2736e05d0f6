package lines

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"image/color"
	"io"
	"strings"
)

// How much a file may hold, so that none overflows what reads it.
const (
	deepest    = 1000  // elements within each other
	mostUsing  = 20    // uses within uses
	mostCopies = 20000 // elements that uses draw
)

// A node is an element with those in it.
type node struct {
	xml.StartElement
	line int
	in   []*node
}

func (r *reader) read(data []byte) error {
	root, err := r.parse(data)
	if err != nil {
		return err
	}
	return r.walk(root.in, scope{to: matrix{1, 0, 0, 1, 0, 0}, ink: color.RGBA{A: 255}, fill: color.RGBA{A: 255}})
}

// parse reads the elements of a file, and the rules of its style sheets, within one that stands for the file.
func (r *reader) parse(data []byte) (*node, error) {
	d := xml.NewDecoder(bytes.NewReader(data))
	d.Entity = xml.HTMLEntity
	d.CharsetReader = func(_ string, in io.Reader) (io.Reader, error) { return in, nil }
	var sheet strings.Builder // of the style element that is read
	open := []*node{{}}
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			return open[0], nil
		}
		if err != nil {
			return nil, fmt.Errorf("it is no SVG drawing: %w; export it anew", err)
		}
		now := open[len(open)-1]
		switch e := tok.(type) {
		case xml.CharData:
			if now.Name.Local == "style" {
				sheet.Write(e)
			}
		case xml.StartElement:
			n := &node{StartElement: e.Copy()}
			if n.line, _ = d.InputPos(); len(open) > deepest {
				return nil, fmt.Errorf("line %d: elements lie within each other over %d deep; draw with fewer groups", n.line, deepest)
			}
			for _, a := range e.Attr {
				if a.Name.Local == "id" && r.byID[a.Value] == nil {
					r.byID[a.Value] = n
				}
			}
			now.in = append(now.in, n)
			open = append(open, n)
		case xml.EndElement:
			if now.Name.Local == "style" {
				r.sheetRules(sheet.String())
				sheet.Reset()
			}
			open = open[:len(open)-1]
		}
	}
}

// walk reads elements that lie in something.
func (r *reader) walk(all []*node, in scope) error {
	for _, n := range all {
		next, err := r.element(n.StartElement, in)
		if err == nil && n.Name.Local == "use" && !next.hidden {
			err = r.use(n, next)
		}
		if err != nil {
			return fmt.Errorf("line %d: %s: %w", n.line, n.Name.Local, err)
		}
		if err := r.walk(n.in, next); err != nil {
			return err
		}
	}
	return nil
}

// use draws what a use copies (SVG 1.1, 5.6), moved by its x and y.
func (r *reader) use(n *node, in scope) error {
	a := r.attrs(n.StartElement)
	of := r.byID[strings.TrimPrefix(a["href"], "#")]
	if of == nil || r.using >= mostUsing {
		r.unused[fmt.Sprintf("use of %.30q", a["href"])]++
		return nil
	}
	x, err := inUnits(a, "x")
	if err != nil {
		return err
	}
	y, err := inUnits(a, "y")
	if err != nil {
		return err
	}
	in.to = in.to.then(matrix{1, 0, 0, 1, x, y})
	if r.copies += of.size(); r.copies > mostCopies {
		return fmt.Errorf("uses draw over %d elements; draw fewer", mostCopies)
	}
	r.using++
	defer func() { r.using-- }()
	if of.Name.Local != "symbol" {
		return r.walk([]*node{of}, in)
	}
	if r.attrs(of.StartElement)["viewBox"] != "" {
		r.unused["symbol with a view box"]++
		return nil
	}
	return r.walk(of.in, in)
}

// size is how many elements there are in one, itself among them.
func (n *node) size() int {
	sum := 1
	for _, k := range n.in {
		sum += k.size()
	}
	return sum
}
