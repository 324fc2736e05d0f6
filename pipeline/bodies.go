package pipeline

import (
	"math"

	"inkchannel/geom/parts"
	"inkchannel/geom/solid"
)

// A Body is one part where it is on the finished sign.
type Body struct {
	Name, Colour string // the colour as #rrggbb
	Mesh         *solid.Mesh
	// Apart is how far the part is pulled off the sign to be seen by itself.
	Apart   solid.Vertex
	channel bool
}

// Bodies lists the parts of a sign as they go together, in mm: x to the right, y
// up, z towards the viewer. Extras, such as the test piece, lie beside the sign.
func Bodies(r *Result) []Body {
	var out, extras []Body
	hi := math.Inf(-1)
	for i, p := range r.Sign.Parts {
		b := Body{Name: p.Name, Colour: p.Colour, Mesh: posed(r.Poses[i], p.Pose, solid.Vertex{}), Apart: apart(p), channel: p.Channel && !p.Pose.Flip}
		if p.Extra {
			b.Mesh = r.Poses[i]
			extras = append(extras, b)
			continue
		}
		_, to := b.Mesh.Bounds()
		hi = max(hi, to.X)
		out = append(out, b)
	}
	for _, b := range extras {
		from, _ := b.Mesh.Bounds()
		b.Mesh, b.Apart = posed(b.Mesh, parts.Pose{Move: solid.Vertex{X: hi + 20 - from.X, Y: -from.Y}}, solid.Vertex{}), solid.Vertex{}
		out = append(out, b)
	}
	return out
}

// apart is how far a part is pulled off the sign to be seen.
func apart(p parts.Part) solid.Vertex {
	switch {
	case p.Pose.Stand && p.Pose.Flip:
		return solid.Vertex{Y: -14}
	case p.Pose.Stand:
		return solid.Vertex{Y: -34}
	case p.Pose.Flip:
		return solid.Vertex{Z: 30}
	case !p.Channel:
		return solid.Vertex{Z: -45}
	}
	return solid.Vertex{}
}

func posed(m *solid.Mesh, p parts.Pose, shift solid.Vertex) *solid.Mesh {
	out := &solid.Mesh{Triangles: m.Triangles, Vertices: make([]solid.Vertex, len(m.Vertices))}
	for i, v := range m.Vertices {
		v = p.Apply(v)
		out.Vertices[i] = solid.Vertex{X: v.X + shift.X, Y: v.Y + shift.Y, Z: v.Z + shift.Z}
	}
	return out
}
