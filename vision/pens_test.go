package vision

import (
	"encoding/json"
	"fmt"
	"os/exec"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/testdata/outside"
)

// Outside check: scikit-image's rgb2lab on a lattice of colours.
func TestLabAgainstSkimage(t *testing.T) {
	script := `
import json, numpy as np
from skimage.color import rgb2lab
v = np.linspace(0, 1, 6)
rgb = np.array([[r, g, b] for r in v for g in v for b in v])
print(json.dumps({"rgb": rgb.tolist(), "lab": rgb2lab(rgb[None])[0].tolist()}))`
	out, err := exec.Command(outside.Python(t, "skimage"), "-c", script).Output()
	require.NoError(t, err, "make test installs python3-skimage")
	var want struct{ RGB, Lab [][3]float64 }
	require.NoError(t, json.Unmarshal(out, &want))
	require.Len(t, want.RGB, 216)
	for i, c := range want.RGB {
		got := labOf(linear(c[0]), linear(c[1]), linear(c[2]))
		w := want.Lab[i]
		assert.Less(t, got.Dist(Lab{w[0], w[1], w[2]}), 0.1, fmt.Sprint(c))
	}
}

func TestGatherPens(t *testing.T) {
	black, red, blue := Lab{14, 1, -2}, Lab{41, 58, 33}, Lab{31, 22, -54}
	for _, c := range []struct {
		name    string
		colours []Lab
		lengths []float64
		apart   float64
		of      []int
		names   []string
	}{
		{"one pen", []Lab{black, {18, 0, 0}, {11, -2, 1}}, []float64{10, 20, 30}, 25, []int{0, 0, 0}, []string{"black"}},
		{"three pens, the longest first", []Lab{red, black, blue, black}, []float64{30, 40, 10, 50}, 25, []int{1, 0, 2, 0}, []string{"black", "red", "blue"}},
		{"all one by choice", []Lab{red, black}, []float64{30, 40}, 0, []int{0, 0}, nil},
		{"none", nil, nil, 25, []int{}, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := gatherPens(c.colours, c.lengths, c.apart)
			assert.Equal(t, c.of, p.Of)
			for i, n := range c.names {
				assert.Equal(t, n, p.All[i].Name)
			}
		})
	}
}
