// Package yaml reads the files that users write in YAML: settings, strips and prices.
package yaml

import (
	"bytes"
	"errors"
	"fmt"
	"regexp"

	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
)

// place is where the parser's messages say that something is wrong, and the rest of their first line.
var place = regexp.MustCompile(`^\[(\d+):\d+\] (.*)`)

// byteOrderMark is what some editors begin a file of UTF-8 with.
const byteOrderMark = "\ufeff"

// Parse returns what the documents of a file hold, none for an empty one. An error says in which line the
// file is no YAML.
func Parse(data []byte) (bodies []ast.Node, err error) {
	file, err := parser.ParseBytes(bytes.TrimPrefix(data, []byte(byteOrderMark)), 0)
	if err != nil {
		if m := place.FindStringSubmatch(err.Error()); m != nil {
			return nil, fmt.Errorf("line %s is not valid YAML: %s", m[1], m[2])
		}
		return nil, errors.New("it is not valid YAML")
	}
	for _, doc := range file.Docs {
		if doc.Body != nil {
			bodies = append(bodies, doc.Body)
		}
	}
	return bodies, nil
}

// Line is the line, from 1, that a node begins in.
func Line(n ast.Node) int { return n.GetToken().Position.Line }
