package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"

	"inkchannel/geom"
	"inkchannel/pipeline/specimen"
)

// leastPen is how broad, px, a pen's line is at least for a photograph to show it.
const leastPen = 3.5

// What counts as wrong on a real sheet, which lies less flat than the homography of its
// corners says.
const (
	bentMedian = 4.0  // mm
	bentScale  = 0.04 // share
)

// onReal is the condition of drawings put onto real photographs.
var onReal = specimen.Condition{Name: "on real photographs", Hard: true}

// A backdropFile is a real photograph of a whole sheet of plain paper.
type backdropFile struct {
	path    string
	corners [4]geom.Point // px
}

// backdropFiles are the photographs of a whole sheet of plain paper in a folder:
// truth/NAME.json names the file in photos, its paper and its corners. None is no error.
func backdropFiles(dir string) ([]backdropFile, error) {
	names, err := filepath.Glob(filepath.Join(dir, "truth", "*.json"))
	if err != nil {
		return nil, err
	}
	var out []backdropFile
	for _, n := range names {
		data, err := os.ReadFile(n)
		if err != nil {
			return nil, err
		}
		var t struct {
			File, Paper string
			Corners     [][2]float64
		}
		if err := json.Unmarshal(data, &t); err != nil {
			return nil, fmt.Errorf("%s: %w", n, err)
		}
		if t.Paper != "plain" || len(t.Corners) != 4 {
			continue
		}
		f := backdropFile{path: filepath.Join(dir, "photos", t.File)}
		for i, c := range t.Corners {
			f.corners[i] = geom.Pt(c[0], c[1])
		}
		out = append(out, f)
	}
	return out, nil
}

// take draws d onto a photograph; ok is false where its lines would be too fine to see.
func (f backdropFile) take(d specimen.Drawing, seed int64) (p specimen.Photo, ok bool, err error) {
	data, err := os.ReadFile(f.path)
	if err != nil {
		return p, false, err
	}
	b, err := specimen.NewBackdrop(filepath.Base(f.path), data, f.corners)
	if err != nil || d.PenWidth*b.Scale < leastPen {
		return p, false, err
	}
	p, err = b.Draw(d.Onto(b.Sheet), seed)
	return p, true, err
}
