package stage

import (
	"bytes"
	"fmt"
	"strings"

	"github.com/goccy/go-yaml/ast"

	"inkchannel/pipeline/yaml"
)

// WriteSettings returns all settings as YAML, stage by stage, each with its unit,
// below lines of comment that say what the file is.
func (t Table) WriteSettings(s Settings, comment string) []byte {
	var b bytes.Buffer
	fmt.Fprintf(&b, "# %s\n", strings.ReplaceAll(comment, "\n", "\n# "))
	stage := ""
	for _, k := range t.Settings() {
		if k.Stage != stage {
			stage = k.Stage
			fmt.Fprintf(&b, "%s:\n", stage)
		}
		v := k.Get(s)
		if k.text {
			v = `"` + v + `"` // texts hold no quotes or backslashes
		}
		fmt.Fprintf(&b, "  %s: %s", k.Flag, v)
		if k.Unit != "" {
			fmt.Fprintf(&b, " # %s", k.Unit)
		}
		b.WriteByte('\n')
	}
	return b.Bytes()
}

// ReadSettings returns s changed by a YAML file of the form that WriteSettings
// gives; what the file leaves out stays as it is. Errors name the line.
func (t Table) ReadSettings(s Settings, data []byte) (Settings, error) {
	bodies, err := yaml.Parse(data)
	if err != nil {
		return s, err
	}
	next := s
	for _, body := range bodies {
		stages, err := entries(body)
		if err != nil {
			return s, err
		}
		for _, st := range stages {
			if next, err = t.readStage(next, st); err != nil {
				return s, err
			}
		}
	}
	return next, nil
}

// readStage changes s by the settings that a file has under a stage's name.
func (t Table) readStage(s Settings, st *ast.MappingValueNode) (Settings, error) {
	stage := st.Key.String()
	known := map[string]Setting{} // by the names that files have for them
	for _, k := range t.Settings() {
		for _, was := range k.Was {
			if of, flag, _ := strings.Cut(was, "/"); of == stage {
				known[flag] = k
			}
		}
		if k.Stage == stage {
			known[k.Flag] = k
		}
	}
	if len(known) == 0 {
		return s, fmt.Errorf("line %d: there is no step %q with settings; see inkchannel steps", yaml.Line(st.Key), stage)
	}
	values, err := entries(st.Value)
	if err != nil {
		return s, err
	}
	for _, v := range values {
		k, ok := known[v.Key.String()]
		if !ok {
			return s, fmt.Errorf("line %d: step %s has no setting %q; see inkchannel steps", yaml.Line(v.Key), stage, v.Key)
		}
		text, ok := v.Value.(ast.ScalarNode)
		if !ok {
			return s, fmt.Errorf("line %d: %s takes one value", yaml.Line(v.Key), k.Flag)
		}
		// As it is written: 007 is a name, not seven.
		if s, err = k.Set(s, text.GetToken().Value); err != nil {
			return s, fmt.Errorf("line %d: %w", yaml.Line(v.Key), err)
		}
	}
	return s, nil
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
	return nil, fmt.Errorf("line %d: expected settings written as name: value", yaml.Line(n))
}
