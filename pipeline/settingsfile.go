package pipeline

import (
	"bytes"
	"fmt"
	"strings"

	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
)

// WriteSettings returns all settings as YAML, stage by stage, each with its
// unit.
func WriteSettings(s Settings) []byte {
	var b bytes.Buffer
	b.WriteString("# All settings of a run. Repeat it by: inkchannel make PHOTO -o DIR --settings THIS\n")
	stage := ""
	for _, k := range Knobs() {
		if k.Stage != stage {
			stage = k.Stage
			fmt.Fprintf(&b, "%s:\n", stage)
		}
		v := k.Get(&s)
		if strings.ContainsAny(v, ", ") {
			v = `"` + v + `"`
		}
		fmt.Fprintf(&b, "  %s: %s", k.Flag, v)
		if k.Unit != "" {
			fmt.Fprintf(&b, " # %s", k.Unit)
		}
		b.WriteByte('\n')
	}
	return b.Bytes()
}

// ReadSettings changes s by a YAML file of the form that WriteSettings gives;
// what the file leaves out stays as it is. Errors name the line.
func ReadSettings(s *Settings, data []byte) error {
	file, err := parser.ParseBytes(data, 0)
	if err != nil {
		return fmt.Errorf("not valid YAML: %s", firstLine(err.Error()))
	}
	knobs := map[string]map[string]Knob{}
	for _, k := range Knobs() {
		if knobs[k.Stage] == nil {
			knobs[k.Stage] = map[string]Knob{}
		}
		knobs[k.Stage][k.Flag] = k
	}
	for _, doc := range file.Docs {
		if doc.Body == nil {
			continue
		}
		stages, err := entries(doc.Body)
		if err != nil {
			return err
		}
		for _, st := range stages {
			known, ok := knobs[st.Key.String()]
			if !ok {
				return fmt.Errorf("line %d: there is no stage %q with settings; see inkchannel steps", line(st), st.Key)
			}
			values, err := entries(st.Value)
			if err != nil {
				return err
			}
			for _, v := range values {
				k, ok := known[v.Key.String()]
				if !ok {
					return fmt.Errorf("line %d: stage %s has no setting %q; see inkchannel steps", line(v), st.Key, v.Key)
				}
				text, ok := v.Value.(ast.ScalarNode)
				if !ok {
					return fmt.Errorf("line %d: %s takes one value", line(v), k.Flag)
				}
				if err := k.Set(s, fmt.Sprint(text.GetValue())); err != nil {
					return fmt.Errorf("line %d: %w", line(v), err)
				}
			}
		}
	}
	return nil
}

// entries lists the pairs of a mapping.
func entries(n ast.Node) ([]*ast.MappingValueNode, error) {
	switch m := n.(type) {
	case *ast.MappingNode:
		return m.Values, nil
	case *ast.MappingValueNode:
		return []*ast.MappingValueNode{m}, nil
	case *ast.NullNode, *ast.CommentGroupNode:
		return nil, nil
	}
	return nil, fmt.Errorf("line %d: want settings as name: value", n.GetToken().Position.Line)
}

func line(n *ast.MappingValueNode) int { return n.Key.GetToken().Position.Line }

func firstLine(s string) string {
	s, _, _ = strings.Cut(strings.TrimSpace(s), "\n")
	return s
}
