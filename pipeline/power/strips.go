package power

import (
	_ "embed"
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/goccy/go-yaml/ast"

	"inkchannel/pipeline/yaml"
)

//go:embed strips.yaml
var builtIn []byte

// A Strip is one kind of LED strip.
type Strip struct {
	Name  string
	Width float64 // mm
	Cut   float64 // mm between cut marks
	Volts float64
	Watts float64 // for each metre
	LEDs  float64 // for each metre
	Bend  float64 // mm, tightest bend sideways
	Run   float64 // m, longest piece that may be fed from one end
	Ohms  float64 // for each metre, both tracks together
	Kind  Kind
}

// A Kind tells how a strip is driven.
type Kind string

// The kinds of strip.
const (
	Plain       Kind = "plain"
	Addressable Kind = "addressable"
)

// Amps returns the current that each metre of strip draws.
func (s Strip) Amps() float64 { return s.Watts / s.Volts }

// BuiltIn returns the built-in library as it is written.
func BuiltIn() []byte { return slices.Clone(builtIn) }

// Library returns the built-in strips.
func Library() ([]Strip, error) { return ReadStrips(builtIn) }

// DefaultStrip returns the first of the built-in strips, 5 mm wide.
func DefaultStrip() Strip {
	list, err := Library()
	if err != nil {
		panic("power: built-in strips: " + err.Error()) // a test reads them
	}
	return list[0]
}

// ReadStrips reads a library of strips from YAML, as the built-in one is
// written. Errors name the line and say what it takes.
func ReadStrips(data []byte) ([]Strip, error) {
	bodies, err := yaml.Parse(data)
	if err != nil {
		return nil, err
	}
	var out []Strip
	for _, body := range bodies {
		list, ok := body.(*ast.SequenceNode)
		if !ok {
			return nil, fmt.Errorf("line %d: expected a list of strips", yaml.Line(body))
		}
		for _, v := range list.Values {
			s, err := readStrip(v)
			if err != nil {
				return nil, err
			}
			for _, o := range out {
				if o.Name == s.Name {
					return nil, fmt.Errorf("line %d: strip %q appears twice", yaml.Line(v), s.Name)
				}
			}
			out = append(out, s)
		}
	}
	if len(out) == 0 {
		return nil, fmt.Errorf("there is no strip in it")
	}
	return out, nil
}

// A field is one number of a strip with what it may be.
type field struct {
	key         string
	at          *float64
	least, most float64
	unit        string
}

func (s *Strip) fields() []field {
	return []field{
		{"width", &s.Width, 1, 60, "mm"},
		{"cut", &s.Cut, 1, 1000, "mm"},
		{"volts", &s.Volts, 1, 60, "V"},
		{"watts", &s.Watts, 0.1, 60, "W for each metre"},
		{"leds", &s.LEDs, 1, 5000, "for each metre"},
		{"bend", &s.Bend, 0.5, 500, "mm"},
		{"run", &s.Run, 0.1, 100, "m"},
		{"ohms", &s.Ohms, 0, 10, "ohms for each metre"},
	}
}

func readStrip(n ast.Node) (Strip, error) {
	m, ok := n.(*ast.MappingNode)
	if !ok {
		return Strip{}, fmt.Errorf("line %d: expected a strip's name and values", yaml.Line(n))
	}
	var s Strip
	seen := map[string]bool{}
	fields := s.fields()
	for _, v := range m.Values {
		key := v.Key.GetToken().Value
		text := v.Value.GetToken().Value
		line := yaml.Line(v.Key)
		if seen[key] {
			return s, fmt.Errorf("line %d: %s appears twice", line, key)
		}
		seen[key] = true
		switch key {
		case "name":
			s.Name = text
			continue
		case "height": // libraries of earlier versions have it
			continue
		case "kind":
			s.Kind = Kind(text)
			if s.Kind != Plain && s.Kind != Addressable {
				return s, fmt.Errorf("line %d: kind %q is neither %s nor %s", line, text, Plain, Addressable)
			}
			continue
		}
		if err := setField(fields, key, text, line); err != nil {
			return s, err
		}
	}
	if s.Name == "" {
		return s, fmt.Errorf("line %d: the strip has no name", yaml.Line(n))
	}
	for _, k := range append([]string{"kind"}, keys(fields)...) {
		if !seen[k] {
			return s, fmt.Errorf("line %d: strip %q has no %s", yaml.Line(n), s.Name, k)
		}
	}
	return s, nil
}

func keys(fields []field) []string {
	var out []string
	for _, f := range fields {
		out = append(out, f.key)
	}
	return out
}

func setField(fields []field, key, text string, line int) error {
	for _, f := range fields {
		if f.key != key {
			continue
		}
		var v float64
		if _, err := fmt.Sscanf(text, "%g", &v); err != nil || math.IsNaN(v) || v < f.least || v > f.most {
			return fmt.Errorf("line %d: %s %q is not a number from %g to %g "+
				"(%s)", line, key, text, f.least, f.most, f.unit)
		}
		*f.at = v
		return nil
	}
	return fmt.Errorf("line %d: a strip has no %q; it has name, kind, %s", line, key, strings.Join(keys(fields), ", "))
}
