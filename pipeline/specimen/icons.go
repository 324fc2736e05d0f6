package specimen

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"

	"inkchannel/geom"
	"inkchannel/pipeline/lines"
)

// IconSide is the side of the square that icons are drawn in, in their own
// units.
const IconSide = 24

// pxMm is how many mm an icon's unit is as its file says it: a px (CSS).
const pxMm = 25.4 / 96

// Icons returns the file names of npm's feather-icons (stroke art with known
// centrelines), which make test-deps installs under folder npm.
func Icons(npm string) ([]string, error) {
	names, err := filepath.Glob(filepath.Join(npm, "node_modules/feather-icons/dist/icons/*.svg"))
	if err == nil && len(names) == 0 {
		err = fmt.Errorf("no icons under %s: run make test-deps", npm)
	}
	return names, err
}

// Icon reads the strokes of an SVG drawing that is made of paths, lines,
// polylines, polygons, circles, ellipses and rectangles without transforms, as
// feather-icons are, and scales it so that one unit is unit mm. Dots are left
// out.
func Icon(name string, unit float64) (geom.Centreline, error) {
	data, err := os.ReadFile(name)
	if err != nil {
		return geom.Centreline{}, err
	}
	d, err := lines.Read(data)
	if err != nil {
		return geom.Centreline{}, fmt.Errorf("%s: %w", filepath.Base(name), err)
	}
	// Dots drawn as lines of no length hold no strip.
	curves := slices.DeleteFunc(d.Curves, func(c geom.Curve) bool { return c.Length() < 0.2*pxMm })
	k := unit / pxMm
	for i, c := range curves {
		for n, p := range c.Pieces {
			for j, q := range p {
				curves[i].Pieces[n][j] = q.Mul(k)
			}
		}
	}
	return geom.Join(curves, 0.02*unit), nil
}
