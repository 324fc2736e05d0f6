package vision

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A stain that a drawing runs over was once taken for a thing that lies there, in silence.
func TestFindThing(t *testing.T) {
	for _, c := range []struct {
		name  string
		disc  float64 // how dark a disc of 40 mm is
		drawn bool    // whether lines run over it
		thing bool
	}{
		{"a dark thing beside dots", 0.8, false, true},
		{"a pale thing beside dots", 0.35, false, true},
		{"a stain under a drawing", 0.3, true, false},
		{"a drawing alone", 0, true, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := newPage(0)
			p.line(200, 1120, 201, 1120, 20, 0.8)
			p.line(700, 1120, 701, 1120, 20, 0.8)
			if c.disc > 0 {
				p.line(450, 500, 451, 500, 200, c.disc)
			}
			if c.drawn {
				for _, y := range []float64{300, 400, 500, 600, 700} {
					p.line(150, y, 750, y+60, 18, 0.8)
				}
			}
			_, ok, err := FindThing(p.Colour, 5, DefaultInk())
			require.NoError(t, err)
			assert.Equal(t, c.thing, ok)
		})
	}
}
