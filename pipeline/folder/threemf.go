package folder

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"math"
	"slices"

	"github.com/hpinc/go3mf"

	"inkchannel/geom"
	"inkchannel/geom/solid"
	"inkchannel/pipeline"
	"inkchannel/pipeline/picture"
)

// bedsApart is the room between beds that lie side by side in one file, mm.
const bedsApart = 20

// ThreeMF writes all prints as one 3MF file (3MF core specification 1.x): an
// object each, in mm, with its name and colour, placed on the beds, which lie
// side by side.
func ThreeMF(beds pipeline.BedsFound) ([]byte, error) {
	m := &go3mf.Model{Units: go3mf.UnitMillimeter, Language: "en"}
	colours := &go3mf.BaseMaterials{ID: 1}
	index := map[string]uint32{}
	for _, p := range beds.Prints {
		if _, ok := index[p.Colour]; ok {
			continue
		}
		c, err := picture.ParseColour(p.Colour)
		if err != nil {
			return nil, err
		}
		index[p.Colour] = uint32(len(colours.Materials))
		colours.Materials = append(colours.Materials, go3mf.Base{Name: fmt.Sprintf("plastic %d", len(index)), Color: c})
	}
	m.Resources.Assets = append(m.Resources.Assets, colours)
	for i, p := range beds.Prints {
		id, pl := uint32(i+2), beds.Layout.Places[i]
		m.Resources.Objects = append(
			m.Resources.Objects,
			&go3mf.Object{ID: id, Name: p.Name, PID: 1, PIndex: index[p.Colour], Mesh: mesh3(p.Mesh, pl.Turn)},
		)
		m.Build.Items = append(
			m.Build.Items,
			&go3mf.Item{
				ObjectID:  id,
				Transform: placed(pl.Move.Add(geom.Pt(float64(pl.Bed)*(beds.Bed.Width+bedsApart), 0)), p.Mesh),
			},
		)
	}
	if err := m.Validate(); err != nil {
		return nil, fmt.Errorf("3MF: %w", err)
	}
	var b bytes.Buffer
	e := go3mf.NewEncoder(&b)
	if err := e.Encode(m); err != nil {
		return nil, fmt.Errorf("3MF: %w", err)
	}
	return undated(b.Bytes())
}

// undated rewrites a zip archive without the times of its files and with the
// lines of its list of content types, which the library leaves in any order,
// sorted: so equal runs write equal bytes.
func undated(data []byte) ([]byte, error) {
	in, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, fmt.Errorf("3MF: %w", err)
	}
	var b bytes.Buffer
	out := zip.NewWriter(&b)
	for _, f := range in.File {
		if f.Name != contentTypes { // packed as it is
			if err := copyRaw(out, f); err != nil {
				return nil, fmt.Errorf("3MF: %w", err)
			}
			continue
		}
		r, err := f.Open()
		if err != nil {
			return nil, fmt.Errorf("3MF: %w", err)
		}
		text, err := io.ReadAll(r)
		if err != nil {
			return nil, fmt.Errorf("3MF: %w", err)
		}
		w, err := out.Create(f.Name)
		if err != nil {
			return nil, fmt.Errorf("3MF: %w", err)
		}
		if _, err := w.Write(sortedDefaults(text)); err != nil {
			return nil, fmt.Errorf("3MF: %w", err)
		}
	}
	err = out.Close()
	return b.Bytes(), err
}

// copyRaw copies a file of an archive, packed as it is, without its date.
func copyRaw(out *zip.Writer, f *zip.File) error {
	r, err := f.OpenRaw()
	if err != nil {
		return err
	}
	w, err := out.CreateRaw(&zip.FileHeader{
		Name: f.Name, Method: f.Method, CRC32: f.CRC32,
		CompressedSize64: f.CompressedSize64, UncompressedSize64: f.UncompressedSize64,
	})
	if err != nil {
		return err
	}
	_, err = io.Copy(w, r)
	return err
}

// contentTypes is the archive's list of content types (Open Packaging
// Conventions, ISO/IEC 29500-2).
const contentTypes = "[Content_Types].xml"

// sortedDefaults sorts the lines of defaults in a list of content types.
func sortedDefaults(text []byte) []byte {
	lines := bytes.SplitAfter(text, []byte("\n"))
	isDefault := func(l []byte) bool { return bytes.Contains(l, []byte("<Default ")) }
	first := slices.IndexFunc(lines, isDefault)
	if first < 0 {
		return text
	}
	n := first
	for n < len(lines) && isDefault(lines[n]) {
		n++
	}
	slices.SortFunc(lines[first:n], bytes.Compare)
	return bytes.Join(lines, nil)
}

// mesh3 is a mesh turned about z by an angle, degrees. The turn is in the corners,
// not in the item's transform, whose three decimals would scale the part by up to
// 0.06 %.
func mesh3(m *solid.Mesh, turn float64) *go3mf.Mesh {
	sin, cos := math.Sincos(geom.Radians(turn))
	out := &go3mf.Mesh{}
	out.Vertices.Vertex = make([]go3mf.Point3D, len(m.Vertices))
	for i, v := range m.Vertices {
		out.Vertices.Vertex[i] = go3mf.Point3D{
			float32(cos*v.X - sin*v.Y), float32(sin*v.X + cos*v.Y), float32(v.Z),
		}
	}
	out.Triangles.Triangle = make([]go3mf.Triangle, len(m.Triangles))
	for i, t := range m.Triangles {
		out.Triangles.Triangle[i] = go3mf.Triangle{V1: uint32(t[0]), V2: uint32(t[1]), V3: uint32(t[2])}
	}
	return out
}

// placed is the transform that moves a mesh onto z = 0. 3MF multiplies a row vector
// from the left.
func placed(move geom.Point, m *solid.Mesh) go3mf.Matrix {
	lo, _ := m.Bounds()
	return go3mf.Matrix{
		1, 0, 0, 0,
		0, 1, 0, 0,
		0, 0, 1, 0,
		float32(move.X), float32(move.Y), float32(-lo.Z), 1,
	}
}
