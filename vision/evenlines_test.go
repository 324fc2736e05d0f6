package vision

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Rules that are taken for ink, in silence, were once told by nothing.
func TestEvenLines(t *testing.T) {
	for _, c := range []struct {
		name  string
		rules float64 // how dark
		few   bool    // six lines evenly apart are drawn
		least int
		most  int
	}{
		{"rules as dark as the pen", 0.85, false, 18, 28},
		{"rules that are left out", 0.3, false, 0, 0},
		{"no rules", 0, false, 0, 0},
		{"a staircase", 0, true, 0, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := newPage(0)
			if c.rules > 0 {
				p.rules(c.rules)
			}
			for y := 200.0; c.few && y < 800; y += 100 {
				p.line(100, y, 800, y, 6, 0.85)
			}
			p.line(200, 200, 700, 500, 6, 0.85)
			p.line(700, 500, 300, 900, 6, 0.85)
			ink, err := FindInk(p.Colour, 5, DefaultInk())
			require.NoError(t, err)
			lines, err := ThinInk(ink, 5)
			require.NoError(t, err)
			n, err := lines.Skeleton.EvenLines()
			require.NoError(t, err)
			assert.GreaterOrEqual(t, n, c.least)
			assert.LessOrEqual(t, n, c.most)
		})
	}
}
