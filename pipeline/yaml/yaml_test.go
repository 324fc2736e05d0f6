package yaml

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestParse(t *testing.T) {
	for _, c := range []struct {
		name, text, err string
		bodies, line    int
	}{
		{name: "empty"},
		{name: "a comment alone", text: "# strips\n"},
		{name: "a byte order mark", text: "\ufeffa: 1\n", bodies: 1, line: 1},
		{name: "two documents", text: "\na: 1\n---\nb: 2\n", bodies: 2, line: 2},
		{name: "a list that does not end", text: "a: 1\nb: [1,\n", err: "line 2 is not valid YAML: sequence end token ']' not found"},
		{name: "a tab", text: "a:\n\tb: 1\n", err: "line 2 is not valid YAML: found character '\t' that cannot start any token"},
	} {
		t.Run(c.name, func(t *testing.T) {
			bodies, err := Parse([]byte(c.text))
			if c.err != "" {
				assert.EqualError(t, err, c.err)
				return
			}
			require.NoError(t, err)
			require.Len(t, bodies, c.bodies)
			if c.bodies > 0 {
				assert.Equal(t, c.line, Line(bodies[0]))
			}
		})
	}
}
